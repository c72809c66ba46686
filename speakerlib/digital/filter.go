package digital

// Filter runs a cascade over samples: each section in transposed direct form
// II, in float64. It keeps its state from call to call and belongs to one
// goroutine.
type Filter struct {
	cascade *Cascade
	state   [][2]float64
	line    []float64 // delay line, a ring
	at      int
}

// NewFilter returns a filter at rest.
func (c *Cascade) NewFilter() *Filter {
	return &Filter{cascade: c, state: make([][2]float64, len(c.sections)), line: make([]float64, c.delay)}
}

// Reset brings the filter to rest.
func (f *Filter) Reset() {
	clear(f.state)
	clear(f.line)
	f.at = 0
}

// Process filters src into dst (nil allocates, another length panics), which may
// be the same slice, and returns dst.
func (f *Filter) Process(dst, src []float64) []float64 {
	if dst == nil {
		dst = make([]float64, len(src))
	}
	if len(dst) != len(src) {
		panic("digital: dst and src differ in length")
	}
	k := f.cascade.signed()
	sections := f.cascade.sections
	for i, v := range src {
		x := k * v
		for n := range sections {
			b, s := &sections[n], &f.state[n]
			y := b.B0*x + s[0]
			s[0] = b.B1*x - b.A1*y + s[1]
			s[1] = b.B2*x - b.A2*y
			x = y
		}
		if len(f.line) > 0 {
			f.line[f.at], x = x, f.line[f.at]
			if f.at++; f.at == len(f.line) {
				f.at = 0
			}
		}
		dst[i] = x
	}
	return dst
}
