package tradeoff

// column is values ≥ 0 over the band, with the largest of every block of eight
// neighbours, so that the largest of a product of two columns is found without
// looking at all of it.
type column struct{ value, block []float64 }

const blockLen = 8

// newColumn returns n values, room for which is made up to whole blocks: those
// beyond n stay 0 and never count.
func newColumn(n int) column {
	blocks := (n + blockLen - 1) / blockLen
	return column{value: make([]float64, blocks*blockLen), block: make([]float64, blocks)}
}

// summarise finds the largest of every block.
func (c column) summarise() {
	for k := range c.block {
		m := 0.0
		for _, v := range c.value[k*blockLen : (k+1)*blockLen] {
			m = max(m, v)
		}
		c.block[k] = m
	}
}

// most returns the largest product of two columns' values, and the block it is in. A
// block is looked into only if the product of the two largest values in it exceeds
// what was found so far; that begins with the block first, which only saves time.
func most(a, b column, first int) (m float64, in int) {
	m, in = inBlock(a, b, first), first
	bb := b.block[:len(a.block)]
	for k, v := range a.block {
		if v*bb[k] > m {
			if x := inBlock(a, b, k); x > m {
				m, in = x, k
			}
		}
	}
	return m, in
}

func inBlock(a, b column, k int) float64 {
	x, y := (*[blockLen]float64)(a.value[k*blockLen:]), (*[blockLen]float64)(b.value[k*blockLen:])
	m := 0.0
	for i, v := range x {
		if p := v * y[i]; p > m {
			m = p
		}
	}
	return m
}

// dot returns Σ aᵢ·bᵢ over the values of a, in four sums that do not wait for each
// other.
func dot(a, b []float64) float64 {
	b = b[:len(a)]
	var s0, s1, s2, s3 float64
	for len(a) >= 4 && len(b) >= 4 {
		s0 += a[0] * b[0]
		s1 += a[1] * b[1]
		s2 += a[2] * b[2]
		s3 += a[3] * b[3]
		a, b = a[4:], b[4:]
	}
	for i, v := range a {
		s0 += v * b[i]
	}
	return s0 + s1 + (s2 + s3)
}
