package diffraction

import (
	"runtime"
	"sync"
	"sync/atomic"
	"time"
)

// crew is the goroutines that help a state. It takes some 70 µs to wake a processor, and
// a solution of the first order takes no more than 300; so a helper that is done stays
// awake for a moment, and is there at once if another solution follows. Then it ends, and
// nothing is left behind.
type crew struct {
	helpers []*helper
	busy    atomic.Int32
	wait    sync.WaitGroup
}

// helper is one of them. It is gone, waits for work or has been called to it.
type helper struct {
	standing atomic.Int32
	worker   *worker
	do       func(*worker) // what it is called to
}

const (
	gone = iota
	waiting
	called
)

// awake is how long helpers wait for work, and how long others wait for them before they
// sleep.
const awake = 100 * time.Microsecond

// each lets a worker and all helpers do something, and returns when all have done it.
func (c *crew) each(w *worker, do func(*worker)) {
	c.busy.Store(int32(len(c.helpers)))
	c.wait.Add(len(c.helpers))
	for _, h := range c.helpers {
		h.do = do
		if !h.standing.CompareAndSwap(waiting, called) {
			h.standing.Store(called)
			go c.help(h)
		}
	}
	do(w)
	for since := time.Now(); c.busy.Load() > 0 && time.Since(since) < awake; {
		runtime.Gosched()
	}
	c.wait.Wait()
}

// help does what a helper is called to until nobody calls it any more.
func (c *crew) help(h *helper) {
	for {
		h.do(h.worker)
		h.standing.Store(waiting)
		c.busy.Add(-1)
		c.wait.Done()
		for since := time.Now(); h.standing.Load() == waiting; {
			if runtime.Gosched(); time.Since(since) > awake && h.standing.CompareAndSwap(waiting, gone) {
				return
			}
		}
	}
}
