//go:build unix

// Command kernel-setup installs the notebook kernel into this checkout, runs
// notebooks without Jupyter, compares their outputs with the committed ones,
// and writes reports.
//
//	go run ./kernel-setup --help
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"github.com/alecthomas/kong"

	"example.org/loudspeaker/kernel-setup/internal/setup"
)

// Exit codes. "go run" answers 1 for all but 0; "go tool kernel-setup" and
// the built program give the real ones.
const (
	exitOK      = 0
	exitCell    = 1 // a cell failed, took too long, or the kernel died in it
	exitUsage   = 2 // the command line is wrong
	exitDiffers = 3 // run --check: outputs are not the committed ones
	exitStrict  = 4 // report --strict: a requirement is not met
	exitSetup   = 5 // the kernel cannot be built or started; check: something is missing
	exitFile    = 6 // a notebook cannot be read, or a result cannot be written
	exitSignal  = 128
)

const description = `Installs the notebook kernel into this checkout, runs notebooks without Jupyter, and writes reports.

Examples:
  go run ./kernel-setup report notebooks/active-conversion.ipynb
  go run ./kernel-setup run notebooks/first-steps.ipynb
  go run ./kernel-setup run --check notebooks/*.ipynb
  go run ./kernel-setup install

Exit codes (of "go tool kernel-setup" or the built program; "go run" answers 1 for all but 0):
  0    done
  1    a cell failed, took too long, or the kernel died in it
  2    the command line is wrong
  3    run --check: outputs are not the committed ones
  4    report --strict: a requirement is not met
  5    the kernel cannot be built or started; check: something is missing
  6    a notebook cannot be read, or a result cannot be written
  129, 130, 131, 143  ended by SIGHUP, Ctrl-C, SIGQUIT, SIGTERM; nothing is left behind

Your own GOFLAGS, GOWORK and GO111MODULE do not reach the kernel. Cells need no network.`

type commandLine struct {
	Install   installCmd   `cmd:"" help:"Build the kernel and register it with Jupyter."`
	Check     checkCmd     `cmd:"" help:"Verify the installation and what it needs."`
	Uninstall uninstallCmd `cmd:"" help:"Remove the kernel and its registration."`
	Run       runCmd       `cmd:"" help:"Execute notebooks and write their outputs back."`
	Report    reportCmd    `cmd:"" help:"Execute notebooks and write a page of each to reports/."`
}

// failure is an error with the exit code that it leads to.
type failure struct {
	code int
	err  error
}

func (f *failure) Error() string { return f.err.Error() }
func (f *failure) Unwrap() error { return f.err }

// fail gives an error its exit code; nil and an error with a code stay.
func fail(code int, err error) error {
	var have *failure
	if err == nil || errors.As(err, &have) {
		return err
	}
	return &failure{code, err}
}

// signaled is the cause of a context that a signal ended.
type signaled struct{ sig syscall.Signal }

func (s signaled) Error() string { return "stopped by signal: " + s.sig.String() }

func main() { os.Exit(command(os.Args[1:], os.Stdout, os.Stderr)) }

// command runs one command line and returns its exit code.
func command(args []string, stdout, stderr io.Writer) int {
	var line commandLine
	exited := -1
	parser, err := kong.New(&line,
		kong.Name("kernel-setup"),
		kong.Description(description),
		kong.Vars{"kernelName": setup.DefaultName},
		kong.Writers(stdout, stderr),
		kong.Exit(func(code int) { exited = code; panic(helpShown{}) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 100}),
	)
	if err != nil {
		fmt.Fprintln(stderr, "kernel-setup:", err)
		return exitUsage
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	parsed, err := parse(parser, args)
	if exited >= 0 {
		return exited
	}
	if err != nil {
		fmt.Fprintf(stderr, "kernel-setup: %v\nTry: kernel-setup --help\n", err)
		return exitUsage
	}
	ctx, cancel := watchSignals(stderr)
	defer cancel()
	err = parsed.Run(&session{ctx: ctx, stdout: stdout, stderr: stderr})
	return exitCode(err, stderr)
}

type helpShown struct{}

// parse is Parse that returns when help was shown.
func parse(p *kong.Kong, args []string) (c *kong.Context, err error) {
	defer func() {
		if r := recover(); r != nil {
			if _, ok := r.(helpShown); !ok {
				panic(r)
			}
		}
	}()
	return p.Parse(args)
}

// exitCode prints an error and returns the code for it.
func exitCode(err error, stderr io.Writer) int {
	if err == nil {
		return exitOK
	}
	var s signaled
	if errors.As(err, &s) {
		fmt.Fprintln(stderr, "kernel-setup:", s)
		return exitSignal + int(s.sig)
	}
	fmt.Fprintln(stderr, "kernel-setup:", err)
	var f *failure
	if errors.As(err, &f) {
		return f.code
	}
	return exitSetup
}

// watchSignals returns a context that ends with the first signal to stop.
func watchSignals(stderr io.Writer) (context.Context, func()) {
	ctx, cancel := context.WithCancelCause(context.Background())
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
	// Who reads our output may stop ("| head"): then writing fails, but we
	// live on to clean up. Taken and dropped, not ignored: the cells would
	// inherit that.
	broken := make(chan os.Signal, 1)
	signal.Notify(broken, syscall.SIGPIPE)
	go func() {
		for sig := range signals {
			if ctx.Err() == nil {
				cancel(signaled{sig.(syscall.Signal)})
				time.AfterFunc(time.Second, func() { fmt.Fprintln(stderr, "stopping the kernel, a few seconds at most …") })
			}
		}
	}()
	return ctx, func() {
		signal.Stop(signals)
		signal.Stop(broken)
		cancel(nil)
	}
}
