//go:build unix

package kernel

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// process is the kernel's process, the leader of a process group of its own,
// so that a Ctrl-C at the terminal does not reach it before us and a kill
// reaches all that it started.
type process struct {
	pid   int
	mark  string // the private folder: stands in the environment of all descendants
	ended chan struct{}
	err   error // of Wait; read after ended
	log   tail

	dismiss func() // ends the watchdog; nil if there is none
}

func startProcess(argv, env []string, dir, mark string) (*process, error) {
	cmd := exec.Command(argv[0], argv[1:]...)
	cmd.Env = env
	cmd.Dir = dir
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	// A grandchild that keeps the kernel's log open must not keep us.
	cmd.WaitDelay = time.Second
	p := &process{mark: mark, ended: make(chan struct{})}
	cmd.Stdout = &p.log
	cmd.Stderr = &p.log
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	p.pid = cmd.Process.Pid
	go func() {
		p.err = cmd.Wait()
		close(p.ended)
	}()
	if err := p.watch(); err != nil {
		p.killAll()
		return nil, fmt.Errorf("watchdog: %w", err)
	}
	return p, nil
}

// watchdog is what a shell does for us if we are killed ourselves: its input
// ends, and it kills the kernel's group ($1) and removes the folder ($2).
const watchdog = `read done && exit
kill -9 "-$1"
for attempt in 1 2 3 4 5; do rm -rf "$2" && exit; sleep 0.2; done`

// watch starts the watchdog.
func (p *process) watch() error {
	cmd := exec.Command("/bin/sh", "-c", watchdog, "sh", strconv.Itoa(p.pid), p.mark)
	cmd.Env = []string{"PATH=/usr/bin:/bin"}
	cmd.Dir = "/"
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	input, err := cmd.StdinPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	p.dismiss = func() {
		io.WriteString(input, "done\n")
		input.Close()
		cmd.Wait()
	}
	return nil
}

func (p *process) hasEnded() bool {
	select {
	case <-p.ended:
		return true
	default:
		return false
	}
}

// state says how the process ended.
func (p *process) state() string {
	if !p.hasEnded() {
		return "running"
	}
	if p.err == nil {
		return "exit status 0"
	}
	return p.err.Error()
}

func (p *process) said() string { return p.log.String() }

// killAll kills the process, its group and, where the system shows
// environments, every process that carries our mark, and waits for them.
func (p *process) killAll() {
	syscall.Kill(-p.pid, syscall.SIGKILL)
	<-p.ended
	for attempt := 0; attempt < 40; attempt++ {
		left := marked(p.mark)
		if len(left) == 0 {
			return
		}
		for _, pid := range left {
			if pid != os.Getpid() {
				syscall.Kill(pid, syscall.SIGKILL)
			}
		}
		time.Sleep(25 * time.Millisecond)
	}
}

// tail keeps the end of what is written to it.
type tail struct {
	mu  sync.Mutex
	buf []byte
}

const tailSize = 16 << 10

func (t *tail) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.buf = append(t.buf, b...)
	if over := len(t.buf) - tailSize; over > 0 {
		t.buf = append(t.buf[:0], t.buf[over:]...)
	}
	return len(b), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return strings.TrimSpace(string(t.buf))
}
