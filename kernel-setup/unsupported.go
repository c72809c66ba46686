//go:build !unix

// Command kernel-setup needs a Unix: the notebook kernel talks to its cells
// through named pipes.
package main

import (
	"fmt"
	"os"
)

func main() {
	fmt.Fprintln(os.Stderr, "kernel-setup: the notebook kernel runs on Linux and macOS; on Windows, work in the Windows Subsystem for Linux. The library itself (go test ./speakerlib/...) builds everywhere.")
	os.Exit(5)
}
