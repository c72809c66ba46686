package loudness_test

import (
	"crypto/sha256"
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/loudness"
)

func matched(names ...string) *loudness.Matching {
	m := &loudness.Matching{Common: 1}
	for i, n := range names {
		m.Variants = append(m.Variants, loudness.Matched{Name: n, Gain: 1 / float64(i+1), Level: 70 + float64(i)/100})
	}
	return m
}

func plan(t testing.TB, m *loudness.Matching, s loudness.PlanSetup) *loudness.Plan {
	t.Helper()
	p, err := loudness.NewPlan(m, s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// SciPy: scipy.stats.binom.sf, see testdata/loudness_scipy.py.
func TestChanceAgainstSciPy(t *testing.T) {
	for _, row := range scipy(t, "binomial") {
		n, k, p, want := int(row.Number(t, "a")), int(row.Number(t, "b")), row.Number(t, "c"), row.Number(t, "d")
		got, err := loudness.Chance(n, k, p)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got/want-1) > 1e-11 {
			t.Errorf("P(X ≥ %d) of %d at %g: %.15g, want %.15g", k, n, p, got, want)
		}
	}
}

// The least numbers of correct answers at the 5 % level, one-sided, as the tables of
// sensory analysis print them (ISO 5495, paired comparison, one-tailed; the same in the
// duo-trio table of ISO 10399; from memory), and as SciPy has them.
func TestNeededIsThePrintedNumber(t *testing.T) {
	printed := map[int]int{5: 5, 6: 6, 7: 7, 8: 7, 9: 8, 10: 9, 11: 9, 12: 10, 13: 10, 14: 11, 15: 12, 16: 12,
		17: 13, 18: 13, 19: 14, 20: 15, 21: 15, 22: 16, 23: 16, 24: 17, 25: 18, 30: 20, 40: 26, 50: 32, 60: 37, 100: 59}
	for n, want := range printed {
		if got, err := loudness.Needed(n, 0.05); err != nil || got != want {
			t.Errorf("of %d: %d, %v; want %d", n, got, err, want)
		}
	}
	for _, row := range scipy(t, "needed") {
		n, want := int(row.Number(t, "a")), int(row.Number(t, "c"))
		if got, err := loudness.Needed(n, row.Number(t, "b")); err != nil || got != want {
			t.Errorf("of %d: %d, %v; want %d", n, got, err, want)
		}
	}
	if _, err := loudness.Needed(4, 0.05); err == nil || !strings.Contains(err.Error(), "0.0625") {
		t.Errorf("4 trials: %v", err)
	}
	for _, a := range []float64{0, -1, 0.5, 1, math.NaN()} {
		if _, err := loudness.Needed(16, a); err == nil {
			t.Errorf("alpha of %g taken", a)
		}
	}
	for _, c := range []struct {
		n, k int
		p    float64
	}{{0, 0, 0.5}, {5, 6, 0.5}, {5, -1, 0.5}, {5, 3, -0.1}, {5, 3, 1.1}, {5, 3, math.NaN()}, {1 << 40, 3, 0.5}} {
		if _, err := loudness.Chance(c.n, c.k, c.p); err == nil {
			t.Errorf("%+v taken", c)
		}
	}
}

// Lines of a key: trial, and what is played.
func played(t testing.TB, p *loudness.Plan) (rows [][]string) {
	t.Helper()
	for _, line := range strings.Split(strings.TrimSpace(p.Key()), "\n") {
		f := strings.Split(line, "\t")
		if f[0] == fmt.Sprint(len(rows)+1) {
			rows = append(rows, f[1:])
		}
	}
	if len(rows) != len(p.Sheet.Trials) {
		t.Fatalf("key has %d trials, sheet %d", len(rows), len(p.Sheet.Trials))
	}
	return rows
}

func TestABXIsBalancedInOrderAndFairInX(t *testing.T) {
	var ones, all, first int
	runs := map[string]bool{}
	for seed := range uint64(400) {
		p := plan(t, matched("active", "passive"), loudness.PlanSetup{Test: loudness.ABX, Trials: 16, Seed: seed})
		a, x := 0, 0
		var order string
		for _, row := range played(t, p) {
			if row[0] == "A active" && row[1] == "B passive" {
				a++
			}
			order += row[0] + row[2]
			if row[2][2:] == row[0][2:] {
				x++
			}
		}
		if a != 8 {
			t.Errorf("seed %d: active is A in %d of 16 trials, want 8", seed, a)
		}
		if x == 8 {
			first++
		}
		ones, all = ones+x, all+16
		runs[order] = true
	}
	// X is A in half of all: within four standard deviations.
	if d := math.Abs(float64(ones) - float64(all)/2); d > 4*math.Sqrt(float64(all)/4) {
		t.Errorf("X is A in %d of %d trials", ones, all)
	}
	// And exactly 8 of 16 as often as a fair coin: C(16,8)/2^16 = 0.196; balanced it would be 1.
	if f := float64(first) / 400; math.Abs(f-0.1964) > 4*math.Sqrt(0.1964*0.8036/400) {
		t.Errorf("X is balanced in %.3f of the plans, want 0.196", f)
	}
	if len(runs) < 395 {
		t.Errorf("400 seeds give %d orders", len(runs))
	}
}

// Guessing against a balanced X is not binomial: hypergeometric counts, by hand
// and by SciPy, are what the doc comment says.
func TestBalancedXWouldNotBeBinomial(t *testing.T) {
	c := func(n, k int) float64 {
		v := 1.0
		for i := range k {
			v = v * float64(n-i) / float64(i+1)
		}
		return v
	}
	sum := 0.0
	for h := 6; h <= 8; h++ {
		sum += c(8, h) * c(8, 8-h) / c(16, 8)
	}
	p, err := loudness.Chance(16, 12, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	if want := scipy(t, "balanced")[0].Number(t, "c"); math.Abs(sum-want) > 1e-12 || math.Abs(sum-0.066) > 5e-4 || math.Abs(p-0.038) > 5e-4 {
		t.Errorf("balanced %.5f (SciPy %.5f), binomial %.5f", sum, want, p)
	}
}

func TestPairedIsBalanced(t *testing.T) {
	p := plan(t, matched("a", "b", "c"), loudness.PlanSetup{Test: loudness.Paired, Trials: 10, Seed: 5})
	count := map[string]int{}
	for _, row := range played(t, p) {
		count[strings.Join(row, ",")]++
	}
	if len(count) != 6 || len(p.Sheet.Trials) != 30 {
		t.Errorf("%d orders, %d trials; want 6 and 30", len(count), len(p.Sheet.Trials))
	}
	for k, n := range count {
		if n != 5 {
			t.Errorf("%s %d times, want 5", k, n)
		}
	}
	// Two-sided at 5 % of 10: 9 (2·0.0107 = 0.021).
	if p.Sheet.Needed != 9 {
		t.Errorf("needed %d, want 9", p.Sheet.Needed)
	}
}

func TestKeyIsApartAndCanBeChecked(t *testing.T) {
	s := loudness.PlanSetup{Test: loudness.ABX, Trials: 16, Seed: 771144}
	p, again := plan(t, matched("active", "passive"), s), plan(t, matched("active", "passive"), s)
	if p.Key() != again.Key() {
		t.Error("one seed gives two keys")
	}
	if want := fmt.Sprintf("%x", sha256.Sum256([]byte(p.Key()))); p.Sheet.KeySHA256 != want {
		t.Errorf("sheet has %s, want %s", p.Sheet.KeySHA256, want)
	}
	if err := p.Sheet.CheckKey(p.Key()); err != nil {
		t.Error(err)
	}
	if err := p.Sheet.CheckKey(strings.Replace(p.Key(), "X active", "X passive", 1)); err == nil {
		t.Error("changed key taken")
	}
	sheet := fmt.Sprintf("%+v", p.Sheet)
	for _, secret := range []string{"active", "passive", "771144", "0.500"} {
		if strings.Contains(sheet, secret) {
			t.Errorf("sheet shows %q", secret)
		}
	}
	if !strings.Contains(p.Key(), "variant\tpassive\t-6.021 dB") {
		t.Errorf("key has no gains:\n%s", p.Key())
	}
	if p.Sheet.Needed != 12 || p.Sheet.Level != 70.01 || len(p.Sheet.Cautions) == 0 {
		t.Errorf("sheet %+v", p.Sheet)
	}
}

func TestScore(t *testing.T) {
	p := plan(t, matched("active", "passive"), loudness.PlanSetup{Test: loudness.ABX, Trials: 16, Seed: 9})
	right := make([]loudness.Answer, 16)
	for i, row := range played(t, p) {
		if row[2][2:] == row[1][2:] {
			right[i] = loudness.Second
		}
	}
	score := func(wrong int) loudness.Score {
		a := append([]loudness.Answer(nil), right...)
		for i := range wrong {
			a[i] = loudness.Second - a[i]
		}
		s, err := p.Score(a)
		if err != nil || len(s) != 1 {
			t.Fatal(s, err)
		}
		return s[0]
	}
	if s := score(4); s.Count != 12 || !s.Found || math.Abs(s.P-0.0384063720703125) > 1e-12 {
		t.Errorf("12 of 16: %+v", s)
	}
	if s := score(5); s.Count != 11 || s.Found || math.Abs(s.P-0.105) > 1e-3 {
		t.Errorf("11 of 16: %+v", s)
	}
	if s := score(16); s.Count != 0 || s.P != 1 {
		t.Errorf("none of 16: %+v", s)
	}

	p = plan(t, matched("a", "b", "c"), loudness.PlanSetup{Test: loudness.Paired, Trials: 10, Seed: 2})
	var answers []loudness.Answer
	for _, row := range played(t, p) {
		a := loudness.First
		if row[1] == "second b" { // who prefers b to all, and else takes the first
			a = loudness.Second
		}
		answers = append(answers, a)
	}
	s, err := p.Score(answers)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		one, other string
		count      int
		p          float64
	}{{"a", "b", 0, 2.0 / 1024}, {"a", "c", 5, 1}, {"b", "c", 10, 2.0 / 1024}} {
		found := false
		for _, x := range s {
			if x.One == c.one && x.Other == c.other {
				found = true
				if x.Count != c.count || math.Abs(x.P-c.p) > 1e-12 || x.Found != (c.p < 0.05) || x.Trials != 10 {
					t.Errorf("%+v, want %+v", x, c)
				}
			}
		}
		if !found {
			t.Errorf("no score of %s and %s", c.one, c.other)
		}
	}
	if _, err := p.Score(answers[1:]); err == nil {
		t.Error("29 answers to 30 trials taken")
	}
	answers[3] = 7
	if _, err := p.Score(answers); err == nil {
		t.Error("answer 7 taken")
	}
}

func TestPlanRefuses(t *testing.T) {
	far := matched("a", "b")
	far.Residual = 0.11
	for name, c := range map[string]struct {
		m *loudness.Matching
		s loudness.PlanSetup
	}{
		"nothing":     {nil, loudness.PlanSetup{Trials: 16}},
		"apart":       {far, loudness.PlanSetup{Trials: 16}},
		"three":       {matched("a", "b", "c"), loudness.PlanSetup{Test: loudness.ABX, Trials: 16}},
		"odd":         {matched("a", "b"), loudness.PlanSetup{Trials: 15}},
		"few":         {matched("a", "b"), loudness.PlanSetup{Trials: 4}},
		"none":        {matched("a", "b"), loudness.PlanSetup{}},
		"many":        {matched("a", "b"), loudness.PlanSetup{Trials: 1 << 30}},
		"test":        {matched("a", "b"), loudness.PlanSetup{Test: 2, Trials: 16}},
		"name":        {matched("a\nb", "b"), loudness.PlanSetup{Trials: 16}},
		"significant": {matched("a", "b"), loudness.PlanSetup{Trials: 16, Alpha: math.NaN()}},
	} {
		if _, err := loudness.NewPlan(c.m, c.s); err == nil || !strings.HasPrefix(err.Error(), "loudness: ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
