package nb

import (
	"fmt"
	"os"
	"runtime"
	"strings"
)

// Must returns v, or ends the cell with the error:
//
//	response := nb.Must(driver.Response(grid))
func Must[T any](v T, err error) T {
	if err != nil {
		fail(err)
	}
	return v
}

// MustOK ends the cell if there is an error.
func MustOK(err error) {
	if err != nil {
		fail(err)
	}
}

// fail writes the error and where in the notebook it arose, and ends the
// program. The kernel translates the file and line of its generated program to
// the cell and its line.
func fail(err error) {
	fmt.Fprintln(os.Stderr, strings.TrimRight(err.Error(), "\n")+places())
	os.Exit(1)
}

// places lists the calls in the main package that led here, the nearest first.
func places() string {
	pc := make([]uintptr, 64)
	frames := runtime.CallersFrames(pc[:runtime.Callers(2, pc)])
	var b strings.Builder
	for {
		f, more := frames.Next()
		if strings.HasPrefix(f.Function, "main.") {
			fmt.Fprintf(&b, "\n  at %s:%d", f.File, f.Line)
		}
		if !more {
			return b.String()
		}
	}
}
