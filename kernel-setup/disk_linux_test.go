package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// mountSmall mounts a file system of so many KiB on a folder, which takes
// root; it reports whether it could.
func mountSmall(t *testing.T, kib int, folder string) bool {
	t.Helper()
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, fmt.Sprintf("size=%dk,mode=0755", kib)); err != nil {
		return false
	}
	t.Cleanup(func() { syscall.Unmount(folder, syscall.MNT_DETACH) })
	return true
}

// asRootOfItsOwn wraps a command so that it sees a small file system on a
// folder that only it sees, which takes no root where user namespaces are
// allowed. What it leaves there is listed after it.
func asRootOfItsOwn(cmd *exec.Cmd, kib int, folder string) error {
	script := fmt.Sprintf(`mount -t tmpfs -o size=%dk tmpfs %q || exit 99
"$@"
code=$?
ls -A %q | sed 's/^/left: /'
exit $code`, kib, folder, folder)
	wrap := []string{"unshare", "--user", "--map-root-user", "--mount", "sh", "-c", script, "sh"}
	if out, err := exec.Command(wrap[0], append(wrap[1:len(wrap):len(wrap)], "true")...).CombinedOutput(); err != nil {
		return fmt.Errorf("%w: %s", err, out)
	}
	path, err := exec.LookPath(wrap[0])
	if err != nil {
		return err
	}
	cmd.Args, cmd.Path = append(wrap, cmd.Args...), path
	return nil
}

// The disk on which a kernel works is full: no room for a cell's program.
func TestFullTemporaryDisk(t *testing.T) {
	for _, kib := range []int{4, 64, 512} { // from no connection file to no program
		t.Run(fmt.Sprintf("%d KiB", kib), func(t *testing.T) {
			path := notebook(t, t.TempDir(), "import \"fmt\"\n%%\nfmt.Println(6 * 7)")
			before := contents(t, path)
			r := prepare(t, nil, "run", path)
			if !mountSmall(t, kib, r.temp) {
				if err := asRootOfItsOwn(r.cmd, kib, r.temp); err != nil {
					t.Skipf("no small file system to fill: this is not root, and user namespaces are not to be had: %v", err)
				}
			}
			r.launch()
			select {
			case <-r.done:
			case <-time.After(time.Minute):
				t.Fatalf("still running:\n%s", r.output.String())
			}
			out := r.output.String()
			if code := r.cmd.ProcessState.ExitCode(); code != exitCell && code != exitSetup {
				t.Errorf("exit code %d, want %d or %d:\n%s", code, exitCell, exitSetup, out)
			}
			mustContain(t, out, "no space left on device")
			if strings.Contains(out, "left: ") {
				t.Errorf("left on the full disk:\n%s", out)
			}
			r.nothingLeft()
			if contents(t, path) != before {
				t.Error("the notebook was changed")
			}
		})
	}
}

// The disk of the notebook is full: its new contents have no room.
func TestFullNotebookDisk(t *testing.T) {
	needKernel(t)
	disk := filepath.Join(t.TempDir(), "disk")
	if err := os.Mkdir(disk, 0o755); err != nil {
		t.Fatal(err)
	}
	if !mountSmall(t, 64, disk) {
		t.Skip("no small file system to fill: this is not root")
	}
	path := notebook(t, disk, `import ("fmt"; "strings")
%%
fmt.Println(strings.Repeat("x", 100000))`)
	before := contents(t, path)
	for _, args := range [][]string{{"run", path}, {"report", "-o", disk, path}} {
		out := start(t, nil, args...).exit(exitFile, time.Minute)
		mustContain(t, out, "is not written", "no space left on device")
		if contents(t, path) != before {
			t.Error("the notebook was changed")
		}
		if files, _ := os.ReadDir(disk); len(files) != 1 {
			t.Errorf("left beside the notebook: %v", files)
		}
	}
}
