//go:build unix

package checkout

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

// Lock waits until no other process builds in the checkout's kernel folder
// and keeps the others out until the returned function is called. waiting is
// called once if there is something to wait for.
func (c *Checkout) Lock(ctx context.Context, waiting func()) (unlock func(), err error) {
	if err := os.MkdirAll(c.Kernel(), 0o755); err != nil {
		return nil, fmt.Errorf("checkout: %w", err)
	}
	f, err := os.OpenFile(filepath.Join(c.Kernel(), "lock"), os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return nil, fmt.Errorf("checkout: %w", err)
	}
	for first := true; ; first = false {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		if err == nil {
			return func() { f.Close() }, nil
		}
		if err != syscall.EWOULDBLOCK && err != syscall.EINTR {
			f.Close()
			return nil, fmt.Errorf("checkout: lock %s: %w", f.Name(), err)
		}
		if first && waiting != nil {
			waiting()
		}
		select {
		case <-ctx.Done():
			f.Close()
			return nil, context.Cause(ctx)
		case <-time.After(100 * time.Millisecond):
		}
	}
}
