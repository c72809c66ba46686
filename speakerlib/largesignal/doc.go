// Package largesignal runs a driver in a box through time at any level.
package largesignal
