//go:build unix

package kernel

import (
	"os"
	"os/exec"
	"runtime"
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
}

func startProcess(argv, env []string, dir, mark string) (*process, error) {
	cmd := exec.Command(argv[0], argv[1:]...)
	cmd.Env = env
	cmd.Dir = dir
	cmd.SysProcAttr = processAttributes()
	// A grandchild that keeps the kernel's log open must not keep us.
	cmd.WaitDelay = time.Second
	p := &process{mark: mark, ended: make(chan struct{})}
	cmd.Stdout = &p.log
	cmd.Stderr = &p.log
	started := make(chan error)
	go func() {
		// On Linux the kernel gets a signal when the thread that started
		// it ends, so that thread is kept for as long as the kernel lives.
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		started <- err
		if err != nil {
			return
		}
		p.err = cmd.Wait()
		close(p.ended)
	}()
	if err := <-started; err != nil {
		return nil, err
	}
	p.pid = cmd.Process.Pid
	return p, nil
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
