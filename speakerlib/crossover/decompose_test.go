package crossover_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// A whole that was made of two points and known chains: where the wavelength is short
// enough to tell the ways apart the chains come back; everywhere the whole elsewhere
// does (both by the closed form of two points).
func TestDecomposeFindsTheNetwork(t *testing.T) {
	g := logGrid(t, 100, 16e3, 12)
	low, high := lr4(2300)
	chains := []freq.Transfer{freq.Series{low, freq.Gain(0.7)}, freq.Series{high, freq.Gain(-0.4), freq.Delay(40e-6)}}
	sources := []source{{-0.145, point}, {0, point}}
	var ways []crossover.Vertical
	var all [][]freq.Response
	for _, s := range sources {
		v := s.measured(t, "way", g, arc, nil)
		ways, all = append(ways, v), append(all, v.Responses)
	}
	h := [][]complex128{chains[0].ResponseTo(nil, g), chains[1].ResponseTo(nil, g)}
	var whole []freq.Response
	for d := range arc {
		v := make([]complex128, g.Len())
		for i := range v {
			v[i] = h[0][i]*all[0][d].At(i) + h[1][i]*all[1][d].At(i)
		}
		b := all[0][d].Basis()
		b.Per = freq.PerInput
		r, err := freq.NewResponse(g, v, "whole", b)
		if err != nil {
			t.Fatal(err)
		}
		whole = append(whole, r)
	}
	found, err := crossover.Decompose(all, whole)
	if err != nil {
		t.Fatal(err)
	}
	for i := range g.Len() {
		for k, c := range found.Chains {
			if g.At(i) > 800 && cmplx.Abs(c.At(i)-h[k][i]) > 1e-4 {
				t.Errorf("chain %d at %g Hz: %v, want %v", k, g.At(i), c.At(i), h[k][i])
			}
		}
		if found.Residual.At(i) > -80 {
			t.Errorf("%g dB left at %g Hz", found.Residual.At(i), g.At(i))
		}
	}
	s, err := stackOf(t, ways...).With(found.Chains[0], found.Chains[1])
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []crossover.Place{{2.6, 0}, {2.6, 0.3}} {
		r, err := s.At(p)
		if err != nil {
			t.Fatal(err)
		}
		for i := range g.Len() {
			want := h[0][i]*sources[0].pressure(g.At(i), p) + h[1][i]*sources[1].pressure(g.At(i), p)
			if e := cmplx.Abs(r.At(i)/want - 1); e > 1e-4 {
				t.Fatalf("%+v at %g Hz: off by %g", p, g.At(i), e)
			}
		}
	}
	// A whole that is not made of the ways leaves what does not belong: here of a part
	// of 10 % in one of nine directions.
	v := whole[3].Values()
	for i := range v {
		v[i] *= 1.1
	}
	if whole[3], err = freq.NewResponse(g, v, "moved", whole[3].Basis()); err != nil {
		t.Fatal(err)
	}
	if found, err = crossover.Decompose(all, whole); err != nil {
		t.Fatal(err)
	}
	if most, err := found.Residual.Max(300, 1000); err != nil || math.Abs(most.Value+30) > 3 {
		t.Errorf("left %+v, want about 10 %% over √9, −30 dB", most)
	}
	for want, f := range map[string]func() ([][]freq.Response, []freq.Response){
		"at least one way": func() ([][]freq.Response, []freq.Response) { return all, whole[:1] },
		"as the whole":     func() ([][]freq.Response, []freq.Response) { return [][]freq.Response{all[0][:8], all[1]}, whole },
		"one kind": func() ([][]freq.Response, []freq.Response) {
			return all, append([]freq.Response{whole[0].Stated(freq.Basis{})}, whole[1:]...)
		},
	} {
		if _, err := crossover.Decompose(f()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q: %v", want, err)
		}
	}
}
