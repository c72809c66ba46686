package driver_test

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/level"
)

// fields names the values that tell the lumped parameters, for tests that leave
// some out.
func fields(s *driver.Sheet) map[string]*float64 {
	return map[string]*float64{"Re": &s.Re, "Fs": &s.Fs, "Qms": &s.Qms, "Qes": &s.Qes, "Qts": &s.Qts, "Vas": &s.Vas, "Bl": &s.Bl,
		"Mms": &s.Mms, "Cms": &s.Cms, "Rms": &s.Rms, "Sd": &s.Sd, "eta0": &s.Eta0, "SPL1W": &s.SPL1W, "SPL2V83": &s.SPL2V83}
}

var room = air.Room()

func near(t interface{ Errorf(string, ...any) }, what string, got, want driver.Params, tol float64) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"Re", got.Re, want.Re}, {"Bl", got.Bl, want.Bl}, {"Mms", got.Mms, want.Mms}, {"Cms", got.Cms, want.Cms}, {"Rms", got.Rms, want.Rms}, {"Sd", got.Sd, want.Sd}} {
		if !(math.Abs(c.got/c.want-1) <= tol) {
			t.Errorf("%s: %s is %v, want %v", what, c.name, c.got, c.want)
		}
	}
	if got.Coil != want.Coil || got.Limits != want.Limits {
		t.Errorf("%s: coil %#v, limits %v, want %#v, %v", what, got.Coil, got.Limits, want.Coil, want.Limits)
	}
}

// Parameters to a full sheet and back: all redundant values agree.
func TestFullSheetGivesTheParametersBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := anyParams(rt)
		p.Limits = driver.Limits{Linear: 0.004, Damage: 0.009}
		got, found, err := p.Sheet(room).Params(room, 1e-9)
		if err != nil {
			rt.Fatal(err)
		}
		near(rt, "full", got, p, 1e-12)
		if len(found) != 14-6 {
			rt.Fatalf("%d discrepancies, want one for each of the 8 redundant values", len(found))
		}
		for _, d := range found {
			if math.Abs(d.Relative) > 1e-11 {
				rt.Fatalf("%v", d)
			}
		}
	})
}

// Any choice of values that tells the parameters gives the same ones; any other
// is refused, and one of the values that the error names mends it or brings it
// nearer.
func TestAnySubsetGivesTheParametersOrSaysWhatIsMissing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := anyParams(rt)
		full := p.Sheet(room)
		s := full
		from := fields(&full)
		drawn := fields(&s)
		for _, name := range slices.Sorted(maps.Keys(drawn)) {
			if !rapid.Bool().Draw(rt, name) {
				*drawn[name] = 0
			}
		}
		for range 8 {
			got, _, err := s.Params(room, 1e-8)
			if err == nil {
				near(rt, fmt.Sprintf("%+v", s), got, p, 1e-8)
				return
			}
			if !errors.Is(err, driver.ErrIncomplete) {
				rt.Fatal(err)
			}
			_, list, _ := strings.Cut(err.Error(), "more value")
			_, list, _ = strings.Cut(list, " of ")
			name, _, _ := strings.Cut(list, ", ")
			v, known := fields(&s)[name]
			if !known || *v != 0 {
				rt.Fatalf("the error names %q: %v", name, err)
			}
			*v = *from[name]
		}
		rt.Fatalf("still incomplete: %+v", s)
	})
}

// The usual sheets, worked by the formulas of Thiele and Small by hand:
// Mms = 1/((2πFs)²Cms), Cms = Vas/(ρc²Sd²), Bl = √(2πFs·Mms·Re/Qes).
func TestThieleSmallSheet(t *testing.T) {
	m := air.Medium{Density: 1.18, SpeedOfSound: 345}
	s := driver.Sheet{Re: 6.3, Fs: 35, Qms: 5, Qes: 0.4, Vas: 0.025, Sd: 0.0214}
	cms := 0.025 / (1.18 * 345 * 345 * 0.0214 * 0.0214)
	w := 2 * math.Pi * 35
	mms := 1 / (w * w * cms)
	want := driver.Params{Re: 6.3, Sd: 0.0214, Cms: cms, Mms: mms, Rms: w * mms / 5, Bl: math.Sqrt(w * mms * 6.3 / 0.4), Coil: driver.NoCoil{}}
	p, found, err := s.Params(m, 0)
	if err != nil || found != nil {
		t.Fatal(found, err)
	}
	near(t, "with Qes", p, want, 1e-14)
	// Qts = Qms·Qes/(Qms+Qes) in place of either.
	s.Qts = 5 * 0.4 / 5.4
	s.Qes = 0
	if p, _, err = s.Params(m, 0); err != nil {
		t.Fatal(err)
	}
	near(t, "without Qes", p, want, 1e-13)
	s.Qes, s.Qms = 0.4, 0
	if p, _, err = s.Params(m, 0); err != nil {
		t.Fatal(err)
	}
	near(t, "without Qms", p, want, 1e-13)
	// Qts alone, with what gives the ratio Qms/Qes = Bl²/(Re·Rms), which comes later.
	s.Qes, s.Bl, s.Rms = 0, want.Bl, want.Rms
	s.Vas, s.Sd = 0, 0.0214
	if p, _, err = s.Params(m, 0); err != nil {
		t.Fatal(err)
	}
	near(t, "without both", p, want, 1e-13)
	// Or with what gives the ratio and is taken after Qts.
	s = driver.Sheet{Re: want.Re, Sd: want.Sd, Mms: want.Mms, Rms: want.Rms, Qts: s.Qts, SPL1W: want.SPL1W(m)}
	if p, _, err = s.Params(m, 0); err != nil {
		t.Fatal(err)
	}
	near(t, "Qts last", p, want, 1e-12)
}

func TestDiscrepancies(t *testing.T) {
	base := driver.Sheet{Re: 5.5, Fs: 41.5, Qms: 4.7, Qes: 0.39, Mms: 0.0152, Sd: 0.0138}
	p, _, err := base.Params(room, 0)
	if err != nil {
		t.Fatal(err)
	}
	full := p.Sheet(room)
	for _, c := range []struct {
		key  string
		from []string
	}{
		{"Bl", []string{"Re", "Fs", "Qes", "Mms"}},
		{"Cms", []string{"Fs", "Mms"}},
		{"Rms", []string{"Fs", "Qms", "Mms"}},
		{"Vas", []string{"Sd", "Fs", "Mms"}},
		{"Qts", []string{"Qms", "Qes"}},
		{"eta0", []string{"Sd", "Fs", "Qes", "Mms"}},
		{"SPL1W", []string{"Sd", "Fs", "Qes", "Mms"}},
		{"SPL2V83", []string{"Re", "Sd", "Fs", "Qes", "Mms"}},
	} {
		s := base
		value := *fields(&full)[c.key]
		said := value * 1.1
		relative := 0.1
		if strings.HasPrefix(c.key, "SPL") {
			said = value + level.DB(1.1) // 10 % more pressure
		}
		*fields(&s)[c.key] = said
		got, found, err := s.Params(room, 0.11)
		if err != nil || len(found) != 1 {
			t.Errorf("%s: %v %v", c.key, found, err)
			continue
		}
		d := found[0]
		if d.Key != c.key || d.Sheet != said || math.Abs(d.Follows/value-1) > 1e-12 || math.Abs(d.Relative-relative) > 1e-11 {
			t.Errorf("%s: %+v, want %v and %v", c.key, d, said, value)
		}
		slices.Sort(d.From)
		slices.Sort(c.from)
		if !slices.Equal(d.From, c.from) {
			t.Errorf("%s follows from %v, want %v", c.key, d.From, c.from)
		}
		near(t, c.key+" is not used", got, p, 0)
		got, found, err = s.Params(room, 0.09)
		if !errors.Is(err, driver.ErrInconsistent) || len(found) != 1 || got != (driver.Params{}) {
			t.Errorf("%s beyond the tolerance: %v %v %v", c.key, got, found, err)
			continue
		}
		if text := err.Error(); !strings.Contains(text, c.key+" is ") || !strings.Contains(text, "follows from") || !strings.Contains(text, "want at most 9 %") {
			t.Errorf("%s: error %q", c.key, text)
		}
	}
}

func TestSheetRefuses(t *testing.T) {
	base := driver.Sheet{Re: 5.5, Fs: 41.5, Qms: 4.7, Qes: 0.39, Mms: 0.0152, Sd: 0.0138}
	for _, c := range []struct {
		change func(*driver.Sheet)
		want   string
		fault  error
	}{
		{func(s *driver.Sheet) { s.Sd = 0 }, "leaves Sd open; want 1 more value of Sd, Vas, eta0, SPL1W, SPL2V83", driver.ErrIncomplete},
		{func(s *driver.Sheet) { s.Mms = 0 }, "it has Re, Sd, Fs, Qms, Qes, which leaves Mms, Bl, Cms, Rms open; want 1 more value of Mms, Vas, Bl, Cms, Rms, eta0", driver.ErrIncomplete},
		{func(s *driver.Sheet) { s.Qms = 0 }, "leaves Rms open; want 1 more value of Qms, Rms, Qts", driver.ErrIncomplete},
		{func(s *driver.Sheet) { s.Fs, s.Mms = 0, 0 }, "want 2 more values that do not follow from one another of Fs, Mms, ", driver.ErrIncomplete},
		{func(s *driver.Sheet) { *s = driver.Sheet{Le: 1e-3} }, "it has none of them, which leaves Re, Sd, Mms, Bl, Cms, Rms open; want 6 more", driver.ErrIncomplete},
		{func(s *driver.Sheet) { *s = driver.Sheet{Re: 5.5, Sd: 0.0138, Qts: 0.36} }, "it has Re, Sd, Qts, which leaves Mms, Bl, Cms, Rms open; want 3 more values that do not follow from one another of Fs, Qms, Qes, ", driver.ErrIncomplete},
		{func(s *driver.Sheet) { s.Qes, s.Qts = 0, 4.7 }, "Qts is 4.7 and Qms 4.7, want Qts below it", driver.ErrInconsistent},
		{func(s *driver.Sheet) { s.Re = -1 }, "Re of the sheet is -1 Ω, want", nil},
		{func(s *driver.Sheet) { s.Qms = math.NaN() }, "Qms of the sheet is NaN, want", nil},
		{func(s *driver.Sheet) { s.SPL1W = math.Inf(1) }, "SPL1W of the sheet is +Inf dB, want", nil},
		{func(s *driver.Sheet) { s.Mms, s.SPL1W = 0, 140 }, "efficiency that follows from the sheet is 610, want a ratio < 1", nil},
		{func(s *driver.Sheet) { s.Sd = 138 }, "want a ratio < 1: is a unit wrong?", nil}, // cm² for m²
		{func(s *driver.Sheet) { s.L2 = 1e-3 }, "L2 and no R2", nil},
		{func(s *driver.Sheet) { s.Linear, s.Damage = 0.01, 0.001 }, "linear excursion limit", nil},
	} {
		s := base
		c.change(&s)
		p, _, err := s.Params(room, 0.05)
		if err == nil || !strings.HasPrefix(err.Error(), "driver: ") || !strings.Contains(err.Error(), c.want) || p != (driver.Params{}) {
			t.Errorf("%+v: error %v, want %q", s, err, c.want)
		}
		if c.fault != nil && !errors.Is(err, c.fault) {
			t.Errorf("error %v is not %v", err, c.fault)
		}
	}
	for _, tol := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, _, err := base.Params(room, tol); err == nil || !strings.Contains(err.Error(), "tolerance") {
			t.Errorf("tolerance %g: error %v", tol, err)
		}
	}
	if _, _, err := base.Params(air.Medium{}, 0.05); err == nil {
		t.Error("no error for no air")
	}
}

func TestCoilOfTheSheet(t *testing.T) {
	for _, c := range []struct {
		sheet driver.Sheet
		want  driver.Coil
	}{
		{driver.Sheet{}, driver.NoCoil{}},
		{driver.Sheet{Le: 1e-3}, driver.Inductor{Le: 1e-3}},
		{driver.Sheet{Le: 1e-3, L2: 2e-3, R2: 3}, driver.Ladder{Le: 1e-3, L2: 2e-3, R2: 3}},
		{driver.Sheet{L2: 2e-3, R2: 3}, driver.Ladder{L2: 2e-3, R2: 3}},
	} {
		if got := c.sheet.Coil(); got != c.want {
			t.Errorf("%+v: coil %#v, want %#v", c.sheet, got, c.want)
		}
	}
}
