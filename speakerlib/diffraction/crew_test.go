package diffraction_test

import (
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/radiation"
)

// How many goroutines share the work does not show in a single bit, with them awake from
// the last solution or not, nor does what they did before: of the nine frequencies some are
// left over from jobs of four. And they are gone a moment after it.
func TestWorkersDoNotShow(t *testing.T) {
	piston, err := radiation.Piston{Radius: 0.03}.Elements(r3.Vec{Y: 0.05}, r3.Vec{Z: 1}, 2)
	if err != nil {
		t.Fatal(err)
	}
	before := runtime.NumGoroutine()
	for _, order := range []diffraction.Order{diffraction.First, diffraction.Second, diffraction.All} {
		var want [2][]complex128
		var residual [2]float64
		for _, workers := range []int{1, 2, 3, 16} {
			p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 100, 200, 300, 400, 500, 900, 1000, 1500, 2500), Order: order,
				Receivers: append(orbits()[:21], diffraction.At(r3.Vec{X: 0.3, Y: 0.2, Z: 0.4})), Workers: workers})
			if err != nil {
				t.Fatal(err)
			}
			st := p.NewState()
			for trial := range 6 {
				if trial == 4 { // time to fall asleep
					time.Sleep(2 * time.Millisecond)
				}
				source := diffraction.Source{Elements: piston}
				if trial%2 == 1 {
					source.Elements = point(0.02, -0.03, 0)
				}
				h, err := st.SolveTo(nil, source)
				if err != nil {
					t.Fatal(err)
				}
				if want[trial%2] == nil {
					want[trial%2], residual[trial%2] = h, st.Residual()
				}
				if !slices.Equal(h, want[trial%2]) || st.Residual() != residual[trial%2] {
					t.Errorf("order %d, trial %d: %d workers show", order, trial, workers)
				}
			}
		}
	}
	for range 100 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("%d goroutines are left of %d", runtime.NumGoroutine(), before)
}

// A state that two goroutines use at once says so where it can be caught: its helpers would
// lose count, and a panic of theirs ends the program. One state for each is fine, and so is
// one that goes from hand to hand.
func TestStateOfTwoGoroutines(t *testing.T) {
	p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(t), Air: still, Grid: grid(t, 100, 500, 1500, 2500), Receivers: orbits(), Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	shared := p.NewState()
	var refused atomic.Int32
	solve := func(st *diffraction.State) {
		defer func() {
			if v := recover(); v != nil {
				if s, ok := v.(string); !ok || !strings.HasPrefix(s, "diffraction: ") {
					t.Errorf("panic %v, want one that says diffraction", v)
				}
				refused.Add(1)
			}
		}()
		if _, err := st.SolveTo(nil, diffraction.Source{Elements: point(0.02, -0.03, 0)}); err != nil {
			t.Error(err)
		}
		if _, err := st.Impulse(diffraction.Source{Elements: point(0.02, -0.03, 0)}, 0, 48000); err != nil {
			t.Error(err)
		}
	}
	run := func(of func() *diffraction.State) int32 {
		refused.Store(0)
		var wait sync.WaitGroup
		for range 8 {
			wait.Go(func() {
				st := of()
				for range 50 {
					solve(st)
				}
			})
		}
		wait.Wait()
		return refused.Load()
	}
	if n := run(p.NewState); n != 0 {
		t.Errorf("%d of 400 uses are refused of states that nobody shares", n)
	}
	if n := run(func() *diffraction.State { return shared }); n == 0 {
		t.Error("8 goroutines use one state, and nothing says so")
	}
	refused.Store(0)
	if solve(shared); refused.Load() != 0 {
		t.Error("a state that is free again is refused")
	}
}
