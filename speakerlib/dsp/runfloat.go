package dsp

// floatCore runs a program in floating point. Every product is converted before it
// is summed, so that the compiler may not fuse the two.
type floatCore[T float32 | float64] struct {
	runs  []floatRun[T]
	scale bool
	gain  T
	fir   []floatFIR[T]
	delay ring[T]
}

// floatRun is sections in a row of one structure. All sections take one sample
// before any takes the next: their states depend on each other only from sample to
// sample, so that sections overlap in the processor; section by section the loop
// waits for each sum (2.6 times slower).
type floatRun[T float32 | float64] struct {
	structure Structure
	sections  []floatSection[T]
}

type floatSection[T float32 | float64] struct {
	c [6]T
	s [4]T
}

func newFloatCore[T float32 | float64](p *Program) *floatCore[T] {
	f := &floatCore[T]{delay: ring[T]{line: make([]T, p.Delay)}}
	for i, s := range p.Sections {
		if i == 0 || s.Structure != p.Sections[i-1].Structure {
			f.runs = append(f.runs, floatRun[T]{structure: s.Structure})
		}
		var n floatSection[T]
		for k, c := range s.Coefficients {
			n.c[k] = T(c.Value)
		}
		r := &f.runs[len(f.runs)-1]
		r.sections = append(r.sections, n)
	}
	if p.Gain != nil {
		f.scale, f.gain = true, T(p.Gain.Float())
	}
	for _, x := range p.FIR {
		f.fir = append(f.fir, newFloatFIR[T](x))
	}
	return f
}

func (f *floatCore[T]) reset() {
	for _, r := range f.runs {
		for i := range r.sections {
			r.sections[i].s = [4]T{}
		}
	}
	for i := range f.fir {
		clear(f.fir[i].line)
		f.fir[i].at = 0
	}
	clear(f.delay.line)
	f.delay.at = 0
}

func (f *floatCore[T]) process(dst, src []float64) {
	if len(f.runs) == 1 && f.runs[0].structure == TransposedII && !f.scale && len(f.fir) == 0 && len(f.delay.line) == 0 {
		f.runs[0].transposedII(dst, src)
		return
	}
	for i, v := range src {
		x := T(v)
		for k := range f.runs {
			x = f.runs[k].step(x)
		}
		if f.scale {
			x *= f.gain
		}
		for k := range f.fir {
			x = f.fir[k].step(x)
		}
		dst[i] = float64(f.delay.step(x))
	}
}

// transposedII is the usual case without anything around it, two samples at a time: the
// second goes through a section while the first is in the next.
func (r *floatRun[T]) transposedII(dst, src []float64) {
	sections := r.sections
	dst = dst[:len(src)]
	i := 0
	for ; i+1 < len(src); i += 2 {
		x0, x1 := T(src[i]), T(src[i+1])
		for n := range sections {
			s := &sections[n]
			b0, b1, b2, a1, a2 := s.c[0], s.c[1], s.c[2], s.c[3], s.c[4]
			y0 := T(b0*x0) + s.s[0]
			t0 := s.s[1] + T(b1*x0) - T(a1*y0)
			t1 := T(b2*x0) - T(a2*y0)
			y1 := T(b0*x1) + t0
			s.s[0] = t1 + T(b1*x1) - T(a1*y1)
			s.s[1] = T(b2*x1) - T(a2*y1)
			x0, x1 = y0, y1
		}
		dst[i], dst[i+1] = float64(x0), float64(x1)
	}
	if i < len(src) {
		dst[i] = float64(r.step(T(src[i])))
	}
}

// step takes a sample through the sections. The order of sums is that of the rows.
func (r *floatRun[T]) step(x T) T {
	switch r.structure {
	case DirectI:
		for n := range r.sections {
			s := &r.sections[n]
			x1, x2, y1, y2 := s.s[0], s.s[1], s.s[2], s.s[3]
			y := T(s.c[0]*x) + T(s.c[1]*x1) + T(s.c[2]*x2) - T(s.c[3]*y1) - T(s.c[4]*y2)
			s.s = [4]T{x, x1, y, y1}
			x = y
		}
	case DirectII:
		for n := range r.sections {
			s := &r.sections[n]
			w1, w2 := s.s[0], s.s[1]
			w := x - T(s.c[3]*w1) - T(s.c[4]*w2)
			x = T(s.c[0]*w) + T(s.c[1]*w1) + T(s.c[2]*w2)
			s.s[0], s.s[1] = w, w1
		}
	case TransposedI:
		for n := range r.sections {
			s := &r.sections[n]
			v := x + s.s[0]
			s.s[0] = s.s[1] - T(s.c[3]*v)
			s.s[1] = -T(s.c[4] * v)
			x = T(s.c[0]*v) + s.s[2]
			s.s[2] = s.s[3] + T(s.c[1]*v)
			s.s[3] = T(s.c[2] * v)
		}
	case TransposedII:
		for n := range r.sections {
			s := &r.sections[n]
			y := T(s.c[0]*x) + s.s[0]
			s.s[0] = s.s[1] + T(s.c[1]*x) - T(s.c[3]*y)
			s.s[1] = T(s.c[2]*x) - T(s.c[4]*y)
			x = y
		}
	case Coupled:
		for n := range r.sections {
			s := &r.sections[n]
			s1, s2 := s.s[0], s.s[1]
			y := T(s.c[3]*x) + T(s.c[4]*s1) + T(s.c[5]*s2)
			s.s[0] = T(s.c[0]*s1) + T(s.c[1]*s2) + x
			s.s[1] = T(s.c[2]*s1) + T(s.c[0]*s2)
			x = y
		}
	case StateVariable:
		for n := range r.sections {
			s := &r.sections[n]
			s1, s2 := s.s[0], s.s[1]
			h := x - T(s.c[1]*s1) - s2
			x = T(s.c[2]*h) + T(s.c[3]*s1) + T(s.c[4]*s2)
			s1 += T(s.c[0] * h)
			s.s[0], s.s[1] = s1, s2+T(s.c[0]*s1)
		}
	case Lattice:
		for n := range r.sections {
			s := &r.sections[n]
			g1, g0 := s.s[0], s.s[1]
			f1 := x - T(s.c[1]*g1)
			n2 := T(s.c[1]*f1) + g1
			f0 := f1 - T(s.c[0]*g0)
			n1 := T(s.c[0]*f0) + g0
			x = T(s.c[2]*f0) + T(s.c[3]*n1) + T(s.c[4]*n2)
			s.s[0], s.s[1] = n1, f0
		}
	}
	return x
}

// floatFIR holds the last samples twice, so that they are always contiguous.
type floatFIR[T float32 | float64] struct {
	taps []T // the newest sample's first
	line []T
	at   int // of the newest sample
}

func newFloatFIR[T float32 | float64](f FIR) floatFIR[T] {
	out := floatFIR[T]{taps: make([]T, len(f.Taps)), line: make([]T, 2*len(f.Taps))}
	for i, c := range f.Taps {
		out.taps[i] = T(c.Value)
	}
	return out
}

func (f *floatFIR[T]) step(x T) T {
	n := len(f.taps)
	if f.at == 0 {
		f.at = n
	}
	f.at--
	f.line[f.at], f.line[f.at+n] = x, x
	line := f.line[f.at : f.at+n]
	taps := f.taps[:n]
	var s0, s1, s2, s3 T
	i := 0
	for ; i+4 <= n; i += 4 {
		s0 += T(taps[i] * line[i])
		s1 += T(taps[i+1] * line[i+1])
		s2 += T(taps[i+2] * line[i+2])
		s3 += T(taps[i+3] * line[i+3])
	}
	for k := i; k < n; k++ {
		p := T(taps[k] * line[k])
		switch k - i {
		case 0:
			s0 += p
		case 1:
			s1 += p
		case 2:
			s2 += p
		}
	}
	return (s0 + s1) + (s2 + s3)
}
