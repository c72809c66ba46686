//go:build unix

package kernel

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Failure is what a kernel says about a cell that failed.
type Failure struct {
	Name      string   `json:"ename"`
	Value     string   `json:"evalue"`
	Traceback []string `json:"traceback"`
}

// Reply is the end of a cell: its execution count, and the failure if it
// failed.
type Reply struct {
	Count   int
	Failure *Failure
}

// Execute executes code as a cell. Each message of the cell's output
// (stream, display_data, error, clear_output …) is given to output, in
// order; messages that come late from an earlier cell go to late. When ctx
// ends, the cell is interrupted and Execute returns the cause once the cell
// has ended, at the latest after grace: then the kernel may still be busy
// and is good for nothing but Close.
func (k *Kernel) Execute(ctx context.Context, code string, output, late func(Message) error) (Reply, error) {
	id, err := k.send(k.shell, "execute_request", map[string]any{
		"code": code, "silent": false, "store_history": true,
		"user_expressions": map[string]string{}, "allow_stdin": false, "stop_on_error": true,
	})
	if err != nil {
		return Reply{}, err
	}
	var reply Reply
	replied, idle := false, false
	stop := ctx.Done()
	var give <-chan time.Time
	for !replied || !idle {
		select {
		case m := <-k.replies:
			if m.Parent.ID != id || m.Header.Type != "execute_reply" {
				continue
			}
			if reply, err = parseReply(m.Content); err != nil {
				return Reply{}, err
			}
			replied = true
		case m := <-k.events:
			done, err := event(m, id, output, late)
			if err != nil {
				return Reply{}, err
			}
			idle = idle || done
		case err := <-k.broken:
			return Reply{}, err
		case <-k.process.ended:
			return Reply{}, k.died("while it ran a cell")
		case <-stop:
			stop = nil
			if err := k.Interrupt(); err != nil {
				return Reply{}, context.Cause(ctx)
			}
			timer := time.NewTimer(grace)
			defer timer.Stop()
			give = timer.C
		case <-give:
			return Reply{}, context.Cause(ctx)
		}
	}
	if stop == nil {
		return Reply{}, context.Cause(ctx)
	}
	return reply, nil
}

// grace is how long an interrupted cell may take to end.
const grace = 1500 * time.Millisecond

// event sorts one message of the output channel; done is true for the end of
// the cell id.
func event(m Message, id string, output, late func(Message) error) (done bool, err error) {
	switch m.Header.Type {
	case "status":
		if m.Parent.ID != id {
			return false, nil
		}
		var status struct {
			State string `json:"execution_state"`
		}
		if err := json.Unmarshal(m.Content, &status); err != nil {
			return false, fmt.Errorf("kernel: status: %w", err)
		}
		return status.State == "idle", nil
	case "execute_input":
		return false, nil
	}
	if m.Parent.ID != id {
		return false, late(m)
	}
	return false, output(m)
}

func parseReply(content json.RawMessage) (Reply, error) {
	var r struct {
		Status string `json:"status"`
		Count  int    `json:"execution_count"`
		Failure
	}
	if err := json.Unmarshal(content, &r); err != nil {
		return Reply{}, fmt.Errorf("kernel: execute_reply: %w", err)
	}
	switch r.Status {
	case "ok":
		return Reply{Count: r.Count}, nil
	case "error":
		return Reply{Count: r.Count, Failure: &r.Failure}, nil
	case "aborted", "abort":
		return Reply{}, errors.New("kernel: the cell was not run because an earlier one failed")
	}
	return Reply{}, fmt.Errorf("kernel: execute_reply with status %q, want ok or error", r.Status)
}
