package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"
	"unsafe"
)

// terminal opens a pseudo terminal of 100 columns; it returns the side of the
// person who looks at it, and the side of the program.
func terminal(t *testing.T) (person, program *os.File) {
	t.Helper()
	person, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Skipf("no pseudo terminals here: %v", err)
	}
	t.Cleanup(func() { person.Close() })
	control := func(file *os.File, request uintptr, value unsafe.Pointer) {
		if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, file.Fd(), request, uintptr(value)); errno != 0 {
			t.Fatal(errno)
		}
	}
	var number, unlocked int32
	control(person, syscall.TIOCSPTLCK, unsafe.Pointer(&unlocked))
	control(person, syscall.TIOCGPTN, unsafe.Pointer(&number))
	program, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", number), os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { program.Close() })
	size := [4]uint16{25, 100}
	control(program, syscall.TIOCSWINSZ, unsafe.Pointer(&size))
	return person, program
}

// A terminal gets a bar that counts the cells and names the one that runs, not
// a line per cell (TestNormalEnd has those).
func TestBarOnATerminal(t *testing.T) {
	path := notebook(t, t.TempDir(), "import \"fmt\"\n%%\nfmt.Println(6 * 7)")
	r := prepare(t, nil, "run", path)
	person, program := terminal(t)
	r.cmd.Stderr = program
	r.launch()
	shown := make(chan string)
	go func() {
		var all bytes.Buffer
		io.Copy(&all, person) // ends with an error when nobody writes any more
		shown <- all.String()
	}()
	r.exit(exitOK, time.Minute)
	program.Close()
	out := <-shown
	mustContain(t, out, "(1/2)", "%noautoget", "fmt.Println(6 * 7)", "2 cells in")
	if strings.Contains(out, "[2/2]") {
		t.Errorf("a line per cell on a terminal:\n%q", out)
	}
}
