//go:build unix && !linux

package kernel

// marked finds nothing here: the process group has to do.
func marked(string) []int { return nil }
