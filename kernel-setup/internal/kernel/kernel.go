//go:build unix

package kernel

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/go-zeromq/zmq4"
)

// Spec says how to start a kernel.
type Spec struct {
	// Argv is the command line; an element "{connection_file}" is replaced
	// by the path of the connection file.
	Argv []string
	// Env is the environment, complete; TMPDIR is added.
	Env []string
	// Dir is the working directory: where the notebook's cells run.
	Dir string
	// TempParent is the folder in which the kernel's private temporary
	// folder is made; os.TempDir() if empty, /tmp if that is too long for a
	// Unix socket.
	TempParent string
	// StartTimeout is the longest time to the first answer; 60 s if zero.
	StartTimeout time.Duration
}

// Channels of the protocol that this client uses, with their number in the
// connection file. The standard-input channel and the heartbeat are left
// alone: cells get no input, and the process itself is watched.
const (
	shellPort   = 1
	iopubPort   = 2
	stdinPort   = 3
	controlPort = 4
	beatPort    = 5
)

// maxSocketPath is the longest Unix socket path that every Unix takes
// (sun_path is 104 bytes on BSD and macOS, 108 on Linux, one for the end).
const maxSocketPath = 103

// ErrDied is wrapped by the errors that say that the kernel process ended
// while it was needed.
var ErrDied = errors.New("the kernel process ended")

// Kernel is a running kernel process with its connections. Its methods are
// for one goroutine, except Interrupt and Close.
type Kernel struct {
	wire    wire
	temp    string
	process *process
	cancel  context.CancelFunc

	sockets []zmq4.Socket
	shell   zmq4.Socket
	control zmq4.Socket
	replies chan Message // from shell
	events  chan Message // from iopub
	broken  chan error   // a socket that failed, or a message that cannot be read

	controlMu sync.Mutex
	language  json.RawMessage
	closing   sync.Once
	closed    error
}

// Start starts a kernel and waits until it answers on its request channel
// and has been heard on its output channel: only then is no output lost.
// When ctx ends, starting is given up. On an error nothing is left behind.
func Start(ctx context.Context, spec Spec) (*Kernel, error) {
	temp, err := makeTemp(spec.TempParent)
	if err != nil {
		return nil, err
	}
	k := &Kernel{
		wire:    wire{key: []byte(newID()), session: newID()},
		temp:    temp,
		replies: make(chan Message, 16),
		events:  make(chan Message, 1024),
		broken:  make(chan error, 8),
	}
	limit := spec.StartTimeout
	if limit == 0 {
		limit = 60 * time.Second
	}
	ctx, stop := context.WithTimeoutCause(ctx, limit, fmt.Errorf("kernel: no answer within %v of the start", limit))
	defer stop()
	if err := k.start(ctx, spec); err != nil {
		if cause := context.Cause(ctx); cause != nil && !errors.Is(err, ErrDied) {
			err = cause
		}
		said := ""
		if k.process != nil {
			said = k.process.said()
		}
		if closing := k.Close(); closing != nil {
			err = fmt.Errorf("%w (and then: %v)", err, closing)
		}
		if said != "" {
			err = fmt.Errorf("%w\nThe kernel said:\n%s", err, said)
		}
		return nil, err
	}
	return k, nil
}

// makeTemp makes the private folder of one kernel, short enough for sockets.
func makeTemp(parent string) (string, error) {
	if parent == "" {
		parent = os.TempDir()
	}
	parent, err := filepath.Abs(parent)
	if err != nil {
		return "", err
	}
	const room = len("/loudspeaker-0123456789/k-5")
	if len(parent)+room > maxSocketPath {
		parent = "/tmp"
	}
	dir, err := os.MkdirTemp(parent, "loudspeaker-")
	if err != nil {
		return "", fmt.Errorf("kernel: no temporary folder: %w", err)
	}
	return dir, nil
}

func (k *Kernel) start(ctx context.Context, spec Spec) error {
	connection := filepath.Join(k.temp, "kernel-"+newID()+".json")
	ip := filepath.Join(k.temp, "k")
	file, err := json.Marshal(map[string]any{
		"transport": "ipc", "ip": ip, "key": string(k.wire.key), "signature_scheme": "hmac-sha256",
		"shell_port": shellPort, "iopub_port": iopubPort, "stdin_port": stdinPort,
		"control_port": controlPort, "hb_port": beatPort,
	})
	if err != nil {
		return err
	}
	if err := os.WriteFile(connection, file, 0o600); err != nil {
		return fmt.Errorf("kernel: connection file: %w", err)
	}
	argv := make([]string, len(spec.Argv))
	for i, a := range spec.Argv {
		if a == "{connection_file}" {
			a = connection
		}
		argv[i] = a
	}
	if k.process, err = startProcess(argv, append(spec.Env[:len(spec.Env):len(spec.Env)], "TMPDIR="+k.temp), spec.Dir, k.temp); err != nil {
		return fmt.Errorf("kernel: %w", err)
	}

	life, cancel := context.WithCancel(context.Background())
	k.cancel = cancel
	quiet := zmq4.WithLogger(log.New(io.Discard, "", 0))
	retry := []zmq4.Option{quiet, zmq4.WithDialerRetry(20 * time.Millisecond), zmq4.WithDialerMaxRetries(-1)}
	k.shell = zmq4.NewDealer(life, retry...)
	k.control = zmq4.NewDealer(life, retry...)
	iopub := zmq4.NewSub(life, retry...)
	k.sockets = []zmq4.Socket{k.shell, k.control, iopub}
	if err := iopub.SetOption(zmq4.OptionSubscribe, ""); err != nil {
		return fmt.Errorf("kernel: subscribe: %w", err)
	}
	dialed := make(chan error, 1)
	go func() {
		for i, port := range []int{shellPort, controlPort, iopubPort} {
			if err := k.sockets[i].Dial(fmt.Sprintf("ipc://%s-%d", ip, port)); err != nil {
				dialed <- fmt.Errorf("kernel: %w", err)
				return
			}
		}
		dialed <- nil
	}()
	select {
	case err := <-dialed:
		if err != nil {
			return err
		}
	case <-k.process.ended:
		cancel()
		<-dialed
		return k.died("while it was starting")
	case <-ctx.Done():
		cancel()
		<-dialed
		return ctx.Err()
	}
	go k.receive(k.shell, k.replies)
	go k.receive(iopub, k.events)
	go k.drain(k.control)
	return k.greet(ctx)
}

// receive passes the messages of a socket on until the socket closes.
func (k *Kernel) receive(s zmq4.Socket, to chan<- Message) {
	for {
		raw, err := s.Recv()
		if err != nil {
			return // closed, or the process ended: that is watched elsewhere
		}
		if len(raw.Frames) == 0 {
			continue
		}
		m, err := k.wire.parse(raw.Frames)
		if err != nil {
			select {
			case k.broken <- err:
			default:
			}
			continue
		}
		select {
		case to <- m:
		case <-k.process.ended:
			select { // a last message may still have its reader
			case to <- m:
			default:
			}
		}
	}
}

// drain throws the answers on a socket away.
func (k *Kernel) drain(s zmq4.Socket) {
	for {
		if _, err := s.Recv(); err != nil {
			return
		}
	}
}

// greet asks the kernel who it is, every 100 ms, until both channels have
// been heard: a subscription may come too late for the first messages.
func (k *Kernel) greet(ctx context.Context) error {
	ask := time.NewTicker(100 * time.Millisecond)
	defer ask.Stop()
	if _, err := k.send(k.shell, "kernel_info_request", struct{}{}); err != nil {
		return err
	}
	heard := false
	for k.language == nil || !heard {
		select {
		case m := <-k.replies:
			if m.Header.Type != "kernel_info_reply" {
				continue
			}
			var info struct {
				Language json.RawMessage `json:"language_info"`
			}
			if err := json.Unmarshal(m.Content, &info); err != nil {
				return fmt.Errorf("kernel: kernel_info_reply: %w", err)
			}
			if info.Language == nil {
				return errors.New("kernel: kernel_info_reply without language_info")
			}
			k.language = info.Language
		case m := <-k.events:
			heard = heard || m.Header.Type == "status"
		case <-ask.C:
			if _, err := k.send(k.shell, "kernel_info_request", struct{}{}); err != nil {
				return err
			}
		case err := <-k.broken:
			return err
		case <-k.process.ended:
			return k.died("while it was starting")
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

func (k *Kernel) send(s zmq4.Socket, kind string, content any) (id string, err error) {
	id, msg, err := k.wire.request(kind, content)
	if err != nil {
		return "", err
	}
	if err := s.SendMulti(msg); err != nil {
		return "", fmt.Errorf("kernel: sending %s: %w", kind, err)
	}
	return id, nil
}

func (k *Kernel) died(when string) error {
	return fmt.Errorf("kernel: %w %s (%v)", ErrDied, when, k.process.state())
}

// Language returns the kernel's language_info as JSON.
func (k *Kernel) Language() json.RawMessage { return k.language }

// Temp returns the kernel's private temporary folder, which Close removes.
func (k *Kernel) Temp() string { return k.temp }

// Interrupt asks the kernel to interrupt the running cell. It does not wait.
func (k *Kernel) Interrupt() error {
	k.controlMu.Lock()
	defer k.controlMu.Unlock()
	_, err := k.send(k.control, "interrupt_request", struct{}{})
	return err
}

// Close stops the kernel: it is asked to end, and if it does not within two
// seconds, it and every process that it started are killed. Its temporary
// folder is removed. Later calls return what the first did.
func (k *Kernel) Close() error {
	k.closing.Do(func() { k.closed = k.close(2 * time.Second) })
	return k.closed
}

// Kill is Close without asking first.
func (k *Kernel) Kill() error {
	k.closing.Do(func() { k.closed = k.close(0) })
	return k.closed
}

func (k *Kernel) close(patience time.Duration) error {
	if k.process != nil {
		if patience > 0 && k.language != nil && !k.process.hasEnded() {
			k.controlMu.Lock()
			_, err := k.send(k.control, "shutdown_request", map[string]bool{"restart": false})
			k.controlMu.Unlock()
			if err == nil {
				select {
				case <-k.process.ended:
				case <-time.After(patience):
				}
			}
		}
		k.process.killAll()
	}
	if k.cancel != nil {
		k.cancel()
	}
	for _, s := range k.sockets {
		s.Close()
	}
	// A killed child may still write for an instant while the folder is
	// removed; then a second attempt succeeds.
	var err error
	for attempt := 0; attempt < 20; attempt++ {
		if err = os.RemoveAll(k.temp); err == nil {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	// Last, so that whatever happens to us until here, it is on guard.
	if k.process != nil && k.process.dismiss != nil {
		k.process.dismiss()
	}
	if err != nil {
		return fmt.Errorf("kernel: temporary folder: %w", err)
	}
	return nil
}
