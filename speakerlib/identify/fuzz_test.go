package identify_test

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
)

// hostile is a curve of n points over a band: that of a driver, bent by the bytes, each
// four of which put a factor, a turn of the phase, an offset and a value of their own on
// a point. ok is false if the numbers are none that a response takes.
func hostile(n uint8, first, octaves, fs, q, bad float64, seed uint64, data []byte) (r freq.Response, ok bool) {
	points := 8 + int(n)
	if !(first > 1e-6 && first < 1e7) || !(octaves > 0.01 && octaves < 40) {
		return r, false
	}
	random := rand.New(rand.NewPCG(seed, 1))
	hz, z := make([]float64, points), make([]complex128, points)
	for i := range hz {
		hz[i] = first * math.Exp2(octaves*float64(i)/float64(points-1))
		x := complex(0, hz[i]/fs)
		z[i] = 6 + complex(0, hz[i]*4e-4) + 40*x/complex(q, 0)/(1+x/complex(q, 0)+x*x)
		z[i] *= 1 + complex(bad*random.NormFloat64(), bad*random.NormFloat64())
	}
	for len(data) >= 4 {
		i := int(binary.LittleEndian.Uint16(data)) % points
		a := float64(int8(data[2]))
		switch data[3] % 4 {
		case 0:
			z[i] *= complex(math.Exp(a/8), 0)
		case 1:
			z[i] *= complex(math.Cos(a), math.Sin(a))
		case 2:
			z[i] += complex(a, -a)
		case 3:
			z[i] = complex(a*math.Exp2(float64(data[3])-128), 0)
		}
		data = data[4:]
	}
	g, err := freq.NewGrid(hz)
	if err != nil {
		return r, false
	}
	r, err = freq.NewResponse(g, z, "hostile", freq.Basis{Quantity: freq.Impedance})
	return r, err == nil
}

func FuzzPlausible(f *testing.F) {
	f.Add(uint8(200), 8.0, 11.0, 41.0, 5.0, 0.003, uint64(1), []byte{})
	f.Add(uint8(200), 8000.0, 11.0, 41000.0, 5.0, 0.003, uint64(1), []byte{1, 0, 3, 4})
	f.Add(uint8(0), 0.02, 20.0, 1.0, 0.1, 3.0, uint64(2), []byte{9, 0, 0, 3, 9, 0, 0, 255})
	f.Fuzz(func(t *testing.T, n uint8, first, octaves, fs, q, bad float64, seed uint64, data []byte) {
		r, ok := hostile(n, first, octaves, fs, q, bad, seed, data)
		if !ok {
			return
		}
		err := identify.Plausible(r)
		var e *identify.ImplausibleError
		if errors.As(err, &e) && strings.Contains(e.Error(), "Cause(") {
			t.Errorf("a cause without words: %v", err)
		}
	})
}

// Whatever two curves are, the fit ends within its limit of iterations and says a
// result of finite numbers, or an error in words.
func FuzzFit(f *testing.F) {
	f.Add(uint8(120), uint8(0), 8.0, 11.0, 41.0, 30.0, 5.0, 0.003, 0.006, 0.0138, 0.0, uint64(1), []byte{})
	f.Add(uint8(120), uint8(1), 8.0, 11.0, 41.0, 60.0, 5.0, 0.01, 0.012, 0.0138, 5.0, uint64(1), []byte{1, 0, 3, 4})
	f.Add(uint8(90), uint8(2), 8.0, 11.0, 41.0, 30.0, 0.5, 0.3, 0.015, 0.0001, 6.0, uint64(2), []byte{9, 0, 0, 3, 9, 0, 0, 255})
	f.Fuzz(func(t *testing.T, n, setup uint8, first, octaves, fs, other, q, bad, stated, sd, re float64, seed uint64, data []byte) {
		a, ok := hostile(n, first, octaves, fs, q, bad, seed, data)
		b, ok2 := hostile(n, first, octaves, other, q, bad, seed+1, nil)
		if !ok || !ok2 {
			return
		}
		second := []identify.Setup{identify.FreeAir{}, identify.AddedMass{Mass: stated, Accuracy: 0.01}, identify.ClosedBox{Volume: stated}, identify.VentedBox{Volume: stated}}[setup%4]
		r, err := identify.Fit([]identify.Measurement{{Impedance: a, Setup: identify.FreeAir{}, RunIn: 0.01}, {Impedance: b, Setup: second}},
			&identify.Settings{Sd: sd, SdAccuracy: 0.01, Air: air.Room(), Re: re, ReError: math.Abs(re) / 1000})
		if err != nil {
			if !strings.HasPrefix(err.Error(), "identify: ") {
				t.Errorf("error without the package's name: %v", err)
			}
			return
		}
		for _, p := range r.Parameters {
			if v := p.Value + p.Error; math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%v", p)
			}
		}
		for _, w := range r.Warnings {
			if strings.Contains(w.Text, "NaN") || strings.Contains(w.Text, "%!") {
				t.Errorf("warning says %q", w.Text)
			}
		}
		_, _, err = r.Propagate(func(p driver.Params) (float64, error) { return p.Qts(), nil })
		if err != nil && !strings.HasPrefix(err.Error(), "identify: ") && !strings.HasPrefix(err.Error(), "driver: ") {
			t.Errorf("error without a package's name: %v", err)
		}
	})
}
