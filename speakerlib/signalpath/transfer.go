package signalpath

import "example.org/loudspeaker/speakerlib/freq"

// Transfer returns the voltage at the terminals per unit of the input as a transfer: a stage of
// the chain of the way. It can be evaluated wherever all elements and the driver's impedance can,
// which CheckGrid finds out. The path must not change after.
func (p Path) Transfer() freq.Transfer { return &whole{p} }

// whole is a path as a transfer.
type whole struct{ path Path }

// CheckGrid implements [freq.Sampled].
func (w *whole) CheckGrid(g *freq.Grid) error {
	_, err := w.path.respond(g)
	return err
}

// ResponseTo implements [freq.Transfer].
func (w *whole) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	s, err := w.path.respond(g)
	if err != nil {
		panic("signalpath: response of a path on a grid that CheckGrid refuses")
	}
	dst = freq.Dst(dst, g.Len())
	copy(dst, s.product(len(s.stages)))
	return dst
}
