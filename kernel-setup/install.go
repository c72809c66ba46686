//go:build unix

package main

import (
	"context"
	"fmt"
	"os"

	"example.org/loudspeaker/kernel-setup/internal/setup"
)

type nameFlags struct {
	Name  string `default:"${kernelName}" help:"Name of the kernel in Jupyter (default ${default}, which the notebooks ask for)."`
	Force bool   `help:"Take the name even if another checkout registered it."`
}

type installCmd struct{ nameFlags }

// Help is shown by install --help.
func (installCmd) Help() string {
	return `Builds the pinned kernel into the checkout's own folder .kernel, compiles the library once so that the
first cell is fast, and registers the kernel for your user. Jupyter itself is not needed for that.
Needs the network the first time. Repeating it is harmless.

Examples:
  go run ./kernel-setup install
  go run ./kernel-setup install --name loudspeaker-b    (a second checkout beside the first)`
}

// Run installs.
func (i *installCmd) Run(s *session) error {
	c, err := s.find()
	if err != nil {
		return err
	}
	// Before minutes of building.
	if r, err := setup.Registered(c, i.Name); err != nil {
		return fail(exitSetup, err)
	} else if (r.Owner == setup.Another || r.Owner == setup.Stranger) && !i.Force {
		return fail(exitSetup, &setup.TakenError{Name: i.Name, Registration: r})
	}
	c, lib, err := s.ready(true)
	if err != nil {
		return err
	}
	r, err := setup.Register(c, i.Name, i.Force)
	if err != nil {
		return fail(exitSetup, err)
	}
	version, err := c.KernelVersion()
	if err != nil {
		return fail(exitSetup, err)
	}
	fmt.Fprintf(s.stdout, "kernel      gonb %s in %s\n", version, c.Bin())
	fmt.Fprintf(s.stdout, "library     compiled with %s\n", lib.GoVersion)
	fmt.Fprintf(s.stdout, "registered  %q in %s\n", i.Name, r.File)
	if r.Owner == setup.Gone || r.Owner == setup.Another {
		fmt.Fprintf(s.stdout, "            (taken over from %s)\n", r.Root)
	}
	fmt.Fprintln(s.stdout)
	if setup.Jupyter() == "" {
		fmt.Fprintln(s.stdout, setup.NoJupyter)
		fmt.Fprintln(s.stdout, "\nNext without Jupyter:  go run ./kernel-setup report notebooks/active-conversion.ipynb")
		return nil
	}
	fmt.Fprintf(s.stdout, "Next: start Jupyter in this folder, open a notebook below notebooks/ and choose the kernel \"Go (%s)\".\n", i.Name)
	fmt.Fprintln(s.stdout, "      In Jupyter, trust a notebook (File > Trust Notebook) to see all its committed figures before you run it.")
	fmt.Fprintln(s.stdout, "      go run ./kernel-setup check   verifies the installation.")
	return nil
}

type checkCmd struct {
	Name string `default:"${kernelName}" help:"Name of the kernel in Jupyter (default ${default})."`
}

// Help is shown by check --help.
func (checkCmd) Help() string {
	return `One line for each prerequisite: "ok", "note" (nothing is broken) or "missing", with the mend. It starts the
kernel and runs a cell with the library. It changes nothing but the build cache.

Examples:
  go run ./kernel-setup check
  go tool kernel-setup check && echo ready`
}

// Run checks.
func (k *checkCmd) Run(s *session) error {
	c, err := s.find()
	if err != nil {
		return err
	}
	missing := 0
	setup.Check(s.ctx, c, k.Name, func(f setup.Finding) {
		fmt.Fprintln(s.stdout, f)
		if f.Verdict == setup.Missing {
			missing++
		}
	})
	if s.ctx.Err() != nil {
		return context.Cause(s.ctx)
	}
	if missing > 0 {
		return fail(exitSetup, fmt.Errorf("%d missing; see above", missing))
	}
	return nil
}

type uninstallCmd struct{ nameFlags }

// Help is shown by uninstall --help.
func (uninstallCmd) Help() string {
	return `Removes the registration with Jupyter and the checkout's folder .kernel. Go's build and module caches,
which other projects share, stay.

Example:
  go run ./kernel-setup uninstall`
}

// Run uninstalls.
func (u *uninstallCmd) Run(s *session) error {
	c, err := s.find()
	if err != nil {
		return err
	}
	r, err := setup.Unregister(c, u.Name, u.Force)
	if err != nil {
		return fail(exitSetup, err)
	}
	if r.Owner == setup.Nobody {
		fmt.Fprintf(s.stdout, "kernel %q was not registered\n", u.Name)
	} else {
		fmt.Fprintf(s.stdout, "removed %s\n", r.File)
	}
	unlock, err := c.Lock(s.ctx, func() { s.log("waiting for another process that builds in %s", c.Kernel()) })
	if err != nil {
		return fail(exitSetup, err)
	}
	defer unlock()
	if err := os.RemoveAll(c.Kernel()); err != nil {
		return fail(exitFile, err)
	}
	fmt.Fprintf(s.stdout, "removed %s\n", c.Kernel())
	return nil
}
