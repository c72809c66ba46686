package driver

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/level"
)

// The entries of a sheet that tell the six lumped parameters, in the order in
// which they are believed.
const (
	re = iota
	sd
	fs
	qms
	qes
	mms
	vas
	bl
	cms
	rms
	qts
	eta0
	spl1W
	spl2V83
	lumped // how many they are
)

// Fault is what can be wrong with a sheet as a whole, for [errors.Is].
type Fault string

// The faults of a sheet that says things twice and differently, and of one that
// says too little.
const (
	ErrInconsistent Fault = "the sheet contradicts itself"
	ErrIncomplete   Fault = "the sheet says too little"
)

// Error implements error.
func (f Fault) Error() string { return string(f) }

// Params returns the lumped parameters that the sheet tells, and a discrepancy
// for each value that it says although it follows from others.
//
// Values are taken in this order:
//
//	Re Sd Fs Qms Qes Mms Vas Bl Cms Rms Qts eta0 SPL1W SPL2V83
//
// One that follows from those before it is compared with what follows, and not
// used. So the directly measured come before what makers compute from them. What
// follows is exact, not fitted: the formulas are those of the methods of
// [Params]. Qts tells something only with Qms or Qes, or with what gives one of
// them or their ratio; if these come later, it is taken after them.
//
// A relative difference of more than tol (0.05 is 5 %; of a level, of the sound
// pressure: 0.05 is 0.42 dB) is an error that wraps [ErrInconsistent]; the
// discrepancies are returned with it. Sheets are rounded: two digits alone are up
// to 5 %. A sheet that does not tell all six parameters is an error that wraps
// [ErrIncomplete] and says what would complete it.
//
// The air m is that for which Vas, eta0 and the levels hold.
func (s Sheet) Params(m air.Medium, tol float64) (Params, []Discrepancy, error) {
	if err := m.Validate(); err != nil {
		return Params{}, nil, err
	}
	if !(tol >= 0) || math.IsInf(tol, 0) {
		return Params{}, nil, fmt.Errorf("driver: tolerance of a sheet is %g, want a finite ratio ≥ 0 (5 %% is 0.05)", tol)
	}
	if err := s.Validate(); err != nil {
		return Params{}, nil, err
	}
	k := newKnown(m)
	list := s.entries()
	var later bool
	var found []Discrepancy
	for f, e := range list[:lumped] {
		v := *e.value
		if v == 0 {
			continue
		}
		if f == qts && !k.usesQts() {
			later = true
			continue
		}
		d, err := k.take(f, v, list[:])
		if err != nil {
			return Params{}, found, err
		}
		found = append(found, d...)
	}
	if later && k.usesQts() {
		d, err := k.take(qts, s.Qts, list[:])
		if err != nil {
			return Params{}, found, err
		}
		found, later = append(found, d...), false
	}
	var beyond []string
	for _, d := range found {
		if !(math.Abs(d.Relative) <= tol+rounding) { // also NaN, of values that overflow
			beyond = append(beyond, d.String())
		}
	}
	if beyond != nil {
		return Params{}, found, fmt.Errorf("driver: %w: %s; want at most %g %%", ErrInconsistent, strings.Join(beyond, "; "), 100*tol)
	}
	if len(k.rows) < 6 {
		return Params{}, found, k.incomplete(list[:], later)
	}
	p := Params{Coil: s.Coil(), Limits: Limits{Linear: s.Linear, Damage: s.Damage}}
	for _, t := range []struct {
		f  int
		to *float64
	}{{re, &p.Re}, {bl, &p.Bl}, {mms, &p.Mms}, {cms, &p.Cms}, {rms, &p.Rms}, {sd, &p.Sd}} {
		*t.to, _, _ = k.follows(k.monomials[t.f])
	}
	if err := p.Validate(); err != nil {
		return Params{}, found, err
	}
	if eta := p.Eta0(m); !(eta < 1) {
		return Params{}, found, fmt.Errorf("driver: the reference efficiency that follows from the sheet is %.3g, want a ratio < 1: is a unit wrong?", eta)
	}
	return p, found, nil
}

// rounding is the relative difference that arithmetic makes.
const rounding = 1e-12

// monomial is constant·Re^e₀·Bl^e₁·Mms^e₂·Cms^e₃·Rms^e₄·Sd^e₅. Every entry but
// Qts is one; a level counts as the efficiency that it is.
type monomial struct {
	constant float64
	exponent [6]float64
}

func (a monomial) over(b monomial) monomial {
	a.constant /= b.constant
	for i := range a.exponent {
		a.exponent[i] -= b.exponent[i]
	}
	return a
}

// known is what is known of the six parameters: values of independent monomials.
type known struct {
	m         air.Medium
	monomials [lumped]monomial
	rows      []row
}

type row struct {
	monomial
	value float64
	from  []int // the entries that gave it
}

func newKnown(m air.Medium) *known {
	c := m.SpeedOfSound
	efficiency := monomial{m.Density / (2 * math.Pi * c), [6]float64{-1, 2, -2, 0, 0, 2}}
	k := &known{m: m, monomials: [lumped]monomial{
		re:    {1, [6]float64{0: 1}},
		bl:    {1, [6]float64{1: 1}},
		mms:   {1, [6]float64{2: 1}},
		cms:   {1, [6]float64{3: 1}},
		rms:   {1, [6]float64{4: 1}},
		sd:    {1, [6]float64{5: 1}},
		fs:    {1 / (2 * math.Pi), [6]float64{2: -0.5, 3: -0.5}},
		qms:   {1, [6]float64{2: 0.5, 3: -0.5, 4: -1}},
		qes:   {1, [6]float64{0: 1, 1: -2, 2: 0.5, 3: -0.5}},
		vas:   {m.Stiffness(), [6]float64{3: 1, 5: 2}},
		eta0:  efficiency,
		spl1W: efficiency,
	}}
	efficiency.constant *= 8
	efficiency.exponent[0]--
	k.monomials[spl2V83] = efficiency
	return k
}

// follows returns the value of a monomial that is a product of powers of those
// that are known, and the entries that gave them.
func (k *known) follows(a monomial) (v float64, from []int, ok bool) {
	n := len(k.rows)
	if n == 0 {
		return 0, nil, false
	}
	lhs := mat.NewDense(6, n, nil)
	for j, r := range k.rows {
		lhs.SetCol(j, r.exponent[:])
	}
	var power mat.VecDense
	if err := power.SolveVec(lhs, mat.NewVecDense(6, a.exponent[:])); err != nil {
		return 0, nil, false
	}
	rest := a
	v = a.constant
	for j, r := range k.rows {
		e := power.AtVec(j)
		if exact := math.Round(e*24) / 24; math.Abs(e-exact) < 1e-9 {
			e = exact
		}
		if e == 0 {
			continue
		}
		v *= math.Pow(r.value/r.constant, e)
		for i := range rest.exponent {
			rest.exponent[i] -= e * r.exponent[i]
		}
		from = append(from, r.from...)
	}
	for _, e := range rest.exponent {
		if math.Abs(e) > 1e-9 {
			return 0, nil, false
		}
	}
	slices.Sort(from)
	return v, slices.Compact(from), true
}

// usesQts reports whether a value of Qts would tell or check something.
func (k *known) usesQts() bool {
	_, _, m := k.follows(k.monomials[qms])
	_, _, e := k.follows(k.monomials[qes])
	_, _, both := k.follows(k.monomials[qms].over(k.monomials[qes]))
	return m || e || both
}

// take takes a value of the sheet, or returns the discrepancy from what follows.
func (k *known) take(f int, v float64, list []entry) ([]Discrepancy, error) {
	if f == qts {
		return k.takeQts(v, list)
	}
	a := k.monomials[f]
	value := v
	if f == spl1W || f == spl2V83 {
		value = etaOf(v, k.m)
	}
	want, from, ok := k.follows(a)
	if !ok {
		k.rows = append(k.rows, row{a, value, []int{f}})
		return nil, nil
	}
	d := discrepancy(f, v, want, from, list)
	if f == spl1W || f == spl2V83 {
		d.Follows = splOf(want, k.m)
		d.Relative = level.Ratio(d.Sheet-d.Follows) - 1
	}
	return []Discrepancy{d}, nil
}

// takeQts is take for Qts, with Qms or Qes or their ratio known.
func (k *known) takeQts(v float64, list []entry) ([]Discrepancy, error) {
	m, fromM, okM := k.follows(k.monomials[qms])
	e, fromE, okE := k.follows(k.monomials[qes])
	add := func(f int, value float64, from []int) {
		from = append(slices.Clone(from), qts)
		slices.Sort(from)
		k.rows = append(k.rows, row{k.monomials[f], value, slices.Compact(from)})
	}
	switch {
	case okM && okE:
		from := append(slices.Clone(fromM), fromE...)
		slices.Sort(from)
		return []Discrepancy{discrepancy(qts, v, m*e/(m+e), slices.Compact(from), list)}, nil
	case okM || okE:
		f, other, from, name := qes, m, fromM, "Qms"
		if okE {
			f, other, from, name = qms, e, fromE, "Qes"
		}
		if !(v < other) {
			return nil, fmt.Errorf("driver: %w: Qts is %g and %s %g, want Qts below it", ErrInconsistent, v, name, other)
		}
		add(f, v*other/(other-v), from)
	default:
		ratio, from, _ := k.follows(k.monomials[qms].over(k.monomials[qes]))
		add(qms, v*(1+ratio), from)
	}
	return nil, nil
}

func discrepancy(f int, v, follows float64, from []int, list []entry) Discrepancy {
	d := Discrepancy{Key: list[f].key, Unit: symbol(list[f].unit), Sheet: v, Follows: follows, Relative: v/follows - 1}
	for _, g := range from {
		d.From = append(d.From, list[g].key)
	}
	return d
}

// incomplete says what the sheet lacks.
func (k *known) incomplete(list []entry, qtsWaits bool) error {
	var has, open, would []string
	for f, e := range list[:lumped] {
		if *e.value != 0 {
			has = append(has, e.key)
			continue
		}
		if f == qts {
			if k.usesQts() {
				_, _, m := k.follows(k.monomials[qms])
				_, _, e := k.follows(k.monomials[qes])
				if !(m && e) {
					would = append(would, list[qts].key)
				}
			}
			continue
		}
		if _, _, ok := k.follows(k.monomials[f]); ok {
			continue
		}
		would = append(would, e.key)
		switch f {
		case re, bl, mms, cms, rms, sd:
			open = append(open, e.key)
		}
	}
	n := 6 - len(k.rows)
	if qtsWaits {
		n--
	}
	said := strings.Join(has, ", ")
	if has == nil {
		said = "none of them"
	}
	also := "value"
	if n > 1 {
		also = "values that do not follow from one another"
	}
	return fmt.Errorf("driver: %w: it has %s, which leaves %s open; want %d more %s of %s",
		ErrIncomplete, said, strings.Join(open, ", "), n, also, strings.Join(would, ", "))
}
