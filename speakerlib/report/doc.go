// Package report holds what a study says about itself apart from figures:
// requirements with their status, decisions with their alternatives, tables,
// and the records of provenance (data sets and seeds).
//
// It knows no physics. Numbers come in SI units, as everywhere in the library,
// and a [Unit] says in which multiple they are shown. Everything here has three
// forms: JSON or CSV for programs, HTML for reading (inline styles only, so
// that it survives a front end that sanitises untrusted output), and text.
//
// The records are what the command that makes a report collects from the
// outputs of a notebook; [Record] and the MIME constants are that interface.
package report
