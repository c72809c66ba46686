package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Turn is to which side angles are positive. It decides from where a polar plot is seen.
type Turn int

// The turns.
const (
	ToTheRight Turn = iota // of someone who looks at the front; drawn as seen from above
	Upward                 // drawn as seen from the side
)

// Arc is a level over the angle, in a [Polar] figure.
type Arc struct {
	Label   string
	Degrees []float64 // ascending, over at most a turn
	DB      []float64 // −∞ is allowed
	Filled  []bool    // of each angle: interpolated or mirrored, drawn pale; nil: none
}

// PolarOptions are the settings of a [Polar] figure.
type PolarOptions struct {
	Title string
	Level string // what is drawn, without unit; empty: "Level"
	Note  string // added to the caption
	Turn  Turn
	// Floor and Top are the levels at the centre and at the rim; both zero: from the
	// arcs. A level below the floor is drawn at the centre, one above the top is an error.
	Floor, Top float64 // dB
	// Gap is the widest distance of two angles that are joined, in degrees; zero: 15.
	Gap float64
}

// Polar draws levels over the angle. The front of the loudspeaker, 0°, is towards the
// right of the page and positive angles run upward, so that right is right of the
// listener in a plan seen from above, up is up in one seen from the side, and both lie as
// on the axis of angles of a field drawn by [Shades]. Decibels are linear along the
// radius, from the floor at the centre to the rim.
//
// Between two angles the level is drawn straight over the angle. An arc is closed only
// where the angles go round without a gap. If all angles are within a half (±90°, 0 … 180°
// or −180 … 0°), the half is drawn alone.
func Polar(o PolarOptions, arcs ...Arc) *Figure {
	if o.Gap == 0 {
		o.Gap = 15
	}
	if o.Level == "" {
		o.Level = "Level"
	}
	if !(o.Gap > 0 && o.Gap <= 180) || o.Turn != ToTheRight && o.Turn != Upward {
		return failed(fmt.Errorf("figure: gap of %g° and turn %d of a polar plot, want a gap from 0 to 180° and a turn that there is", o.Gap, o.Turn))
	}
	if all := pens(); len(arcs) == 0 || len(arcs) > len(all) {
		return failed(fmt.Errorf("figure: %d arcs in a polar plot, want 1 to %d", len(arcs), len(all)))
	}
	d := &disc{title: o.Level + " (dB)", turn: o.Turn}
	if err := fits(d.title, newFaces()); err != nil {
		return failed(err)
	}
	f := &Figure{title: o.Title, body: d}
	var seen []string
	for i, a := range arcs {
		if err := a.check(); err != nil {
			return failed(err)
		}
		if slices.Contains(seen, a.Label) {
			return failed(fmt.Errorf("figure: two arcs are named %q", a.Label))
		}
		seen = append(seen, a.Label)
		f.legend = append(f.legend, entry{label: a.Label, pen: pens()[i]})
	}
	if err := short(f.legend, newFaces()); err != nil {
		return failed(err)
	}
	var err error
	if d.floor, d.top, err = depth(o, arcs); err != nil {
		return failed(err)
	}
	d.half = halfOf(arcs, o.Gap)
	var low, pale, broken []string
	for i, a := range arcs {
		t := a.trace(d.floor, o.Gap)
		t.pen = pens()[i]
		d.traces = append(d.traces, t)
		if t.low {
			low = append(low, a.Label)
		}
		if slices.Contains(a.Filled, true) {
			pale = append(pale, a.Label)
		}
		if t.gaps > 0 {
			broken = append(broken, a.Label)
		}
	}
	// Names of all of them say no more than none.
	of := func(names []string) string {
		if len(names) == len(arcs) {
			return ""
		}
		return " (" + list(names) + ")"
	}
	parts := []string{o.Turn.view(), fmt.Sprintf("Rim %s dB, centre %s dB", number(d.top), number(d.floor))}
	if len(low) > 0 {
		parts = append(parts, fmt.Sprintf("What is below %s dB ends at the centre%s", number(d.floor), of(low)))
	}
	if len(pale) > 0 {
		parts = append(parts, fmt.Sprintf("Pale and dotted: filled in from other angles%s", of(pale)))
	}
	if len(broken) > 0 {
		parts = append(parts, fmt.Sprintf("Angles more than %s° apart are not joined%s", number(o.Gap), of(broken)))
	}
	if o.Note != "" {
		parts = append(parts, strings.TrimSuffix(o.Note, "."))
	}
	f.caption = strings.Join(parts, ". ") + "."
	f.alt = describePolar(o, arcs, f.caption)
	return f
}

// view says how the plot lies.
func (t Turn) view() string {
	if t == Upward {
		return "Seen from the side, front towards 0°; positive angles are up"
	}
	return "Seen from above, front towards 0°; positive angles are to the right of someone who looks at the front"
}

// sides are the names of what is at 0°, 90°, 180° and −90°.
func (t Turn) sides() map[int]string {
	if t == Upward {
		return map[int]string{0: "front", 90: "up", 180: "rear", -90: "down"}
	}
	return map[int]string{0: "front", 90: "right", 180: "rear", -90: "left"}
}

func (a Arc) check() error {
	if a.Label == "" {
		return fmt.Errorf("figure: an arc has no name")
	}
	n := len(a.Degrees)
	if n < 2 || len(a.DB) != n || a.Filled != nil && len(a.Filled) != n {
		return fmt.Errorf("figure: arc %q has %d angles, %d levels and %d marks, want at least 2 angles, as many levels, and as many marks or none", a.Label, n, len(a.DB), len(a.Filled))
	}
	for i, v := range a.Degrees {
		if !(math.Abs(v) <= 360) || i > 0 && !(v > a.Degrees[i-1]) {
			return fmt.Errorf("figure: angle %d of arc %q is %g°, want ascending ones within ±360°", i+1, a.Label, v)
		}
		if math.IsNaN(a.DB[i]) || math.IsInf(a.DB[i], 1) {
			return fmt.Errorf("figure: level of arc %q at %g° is %g dB, want a number", a.Label, v, a.DB[i])
		}
	}
	if turn := a.Degrees[n-1] - a.Degrees[0]; turn > 360 {
		return fmt.Errorf("figure: arc %q runs over %g°, want at most a turn", a.Label, turn)
	}
	return nil
}

// Range of a polar plot in dB, unless it is asked for.
const (
	deepestDisc    = 40
	shallowestDisc = 20
)

// depth returns the levels at the centre and at the rim.
func depth(o PolarOptions, arcs []Arc) (floor, top float64, err error) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, a := range arcs {
		for _, v := range a.DB {
			if !math.IsInf(v, -1) {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	if lo > hi {
		return 0, 0, fmt.Errorf("figure: all arcs of a polar plot are silent, want a level")
	}
	if err := drawable(lo, hi); err != nil {
		return 0, 0, err
	}
	floor, top = o.Floor, o.Top
	if floor == 0 && top == 0 {
		top = 5 * math.Ceil(hi/5-1e-9)
		floor = min(max(5*math.Floor(lo/5), top-deepestDisc), top-shallowestDisc)
	}
	if drawable(floor, top) != nil || !(top-floor >= 1 && top-floor <= 400) {
		return 0, 0, fmt.Errorf("figure: polar plot from %g to %g dB, want floor < top, 1 to 400 dB apart", floor, top)
	}
	if hi > top+1e-9 {
		return 0, 0, fmt.Errorf("figure: a level of %g dB in a polar plot up to %g dB, want a top that it does not exceed", hi, top)
	}
	return floor, top, nil
}

// halfOf returns the part of the circle in which all angles are, and what joins them.
func halfOf(arcs []Arc, gap float64) half {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, a := range arcs {
		if a.closed(gap) {
			return half{-180, 180}
		}
		lo, hi = min(lo, a.Degrees[0]), max(hi, a.Degrees[len(a.Degrees)-1])
	}
	switch {
	case lo >= -90 && hi <= 90:
		return half{-90, 90}
	case lo >= 0 && hi <= 180:
		return half{0, 180}
	case lo >= -180 && hi <= 0:
		return half{-180, 0}
	}
	return half{-180, 180}
}

// trace is an arc made ready: runs of points that are joined.
type trace struct {
	pen  pen
	runs []arcRun
	low  bool // something is below the floor
	gaps int
}

// arcRun is a part of an arc that is drawn in one go; one point stands alone.
type arcRun struct {
	degrees, db []float64
	pale        bool
}

// joined tells whether angles that far apart are.
func joined(wide, gap float64) bool { return wide <= gap*(1+1e-9) }

// closed tells whether the last angle is joined to the first one.
func (a Arc) closed(gap float64) bool {
	wide := a.Degrees[0] + 360 - a.Degrees[len(a.Degrees)-1]
	return wide > 0 && joined(wide, gap)
}

// trace cuts an arc where its angles are too far apart and where what was filled in
// begins and ends. A stretch between two angles is pale if one of them was filled in.
func (a Arc) trace(floor, gap float64) trace {
	var t trace
	n := len(a.Degrees)
	filled := func(i int) bool { return a.Filled != nil && a.Filled[i%n] }
	level := func(i int) float64 { return max(a.DB[i%n], floor) }
	for _, v := range a.DB {
		t.low = t.low || v < floor
	}
	// The points in order, the first one again at the end if the arc is closed.
	degrees := slices.Clone(a.Degrees)
	if a.closed(gap) {
		degrees = append(degrees, a.Degrees[0]+360)
	}
	alone := true
	for i := range degrees {
		if i+1 < len(degrees) && joined(degrees[i+1]-degrees[i], gap) {
			pale := filled(i) || filled(i+1)
			if last := len(t.runs) - 1; alone || t.runs[last].pale != pale {
				t.runs = append(t.runs, arcRun{[]float64{degrees[i]}, []float64{level(i)}, pale})
			}
			r := &t.runs[len(t.runs)-1]
			r.degrees, r.db = append(r.degrees, degrees[i+1]), append(r.db, level(i+1))
			alone = false
			continue
		}
		if alone {
			t.runs = append(t.runs, arcRun{[]float64{degrees[i]}, []float64{level(i)}, filled(i)})
		}
		if i+1 < len(degrees) {
			t.gaps++
		}
		alone = true
	}
	return t
}

// half is the part of a circle that is drawn.
type half struct{ from, to float64 }

// reach is how far the part goes from the centre to the left, right, bottom and top of
// the page, in radii.
func (h half) reach() (left, right, down, up vg.Length) {
	return vg.Length(h.has(180)), vg.Length(h.has(0)), vg.Length(h.has(-90)), vg.Length(h.has(90))
}

// has returns 1 if more than the edge of the part is on that side, else 0.
func (h half) has(side float64) float64 {
	if h.to-h.from == 360 {
		return 1
	}
	middle := (h.from + h.to) / 2
	if math.Abs(math.Remainder(side-middle, 360)) <= 90 {
		return 1
	}
	return 0
}

// describePolar puts the plot into words.
func describePolar(o PolarOptions, arcs []Arc, caption string) string {
	var parts []string
	if o.Title != "" {
		parts = append(parts, o.Title)
	}
	parts = append(parts, "Polar plot. "+o.Level+" (dB) over the angle")
	for _, a := range arcs {
		hi, lo := extremes(a.DB)
		size := max(math.Abs(a.DB[hi[0]]), 1)
		at := func(i int) string {
			if math.IsInf(a.DB[i], -1) {
				return fmt.Sprintf("silent at %s°", number(a.Degrees[i]))
			}
			return fmt.Sprintf("%s at %s°", rough(a.DB[i], size), number(a.Degrees[i]))
		}
		parts = append(parts, fmt.Sprintf("%s from %s to %s°: highest %s, lowest %s", a.Label, number(a.Degrees[0]), number(a.Degrees[len(a.Degrees)-1]), at(hi[0]), at(lo[0])))
	}
	return strings.Join(parts, ". ") + ". " + caption
}
