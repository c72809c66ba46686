package loudness

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"strings"

	"example.org/loudspeaker/speakerlib/level"
)

const maxTrials = 10000

// Test is what listeners are asked.
type Test int

// The tests.
const (
	// ABX of two variants: A and B are played, then X, which is one of them. Which?
	ABX Test = iota
	// Paired comparison of two or more: each pair is played. Which is preferred?
	Paired
)

// String names the test.
func (t Test) String() string {
	switch t {
	case ABX:
		return "ABX"
	case Paired:
		return "paired comparison"
	}
	return fmt.Sprintf("Test(%d)", int(t))
}

// PlanSetup says what is compared how often.
type PlanSetup struct {
	Test   Test
	Trials int     // of ABX: all; of a paired comparison: of each pair. Even.
	Alpha  float64 // level of significance; 0: 0.05
	Seed   uint64  // which belongs to the key, not to the sheet
}

// Presentation is a trial as the listener sees it: a number, nothing else. What is
// played is in the key.
type Presentation struct {
	Trial int    `col:"trial"`
	Ask   string `col:"answer"`
}

// Sheet is what listeners and the one who sits with them may see.
type Sheet struct {
	Test      Test
	Trials    []Presentation
	Needed    int     // of all trials of ABX, or of those of one pair: see Plan.Score
	Alpha     float64 // that it is for
	Level     float64 // of the loudest variant at the listening position, dB re 20 µPa: see Matched
	KeySHA256 string  // of the key's text, in hexadecimal
	Cautions  []string
}

// Plan is a blind comparison.
type Plan struct {
	Sheet Sheet
	key   []assignment
	names []string
	gains []float64
	setup PlanSetup
	salt  string
}

// assignment is what a trial plays: variants by index.
type assignment struct {
	first, second int
	x             int // of ABX: 0 is first, 1 is second
}

// NewPlan draws a comparison of matched variants.
//
// The order is balanced: each variant is played first in half of its trials, each
// pair of a paired comparison as often in either order, and the trials are
// shuffled. X of an ABX trial is drawn for each trial alone. Were it balanced too,
// trials would not be independent and the binomial not exact: who answers A as
// often as B would have 12 of 16 right by guessing with a probability of 0.066
// instead of 0.038.
//
// The seed makes the plan, to the last trial, on every machine. The sheet does not
// contain it, but the SHA-256 sum of the key ([Plan.Key]): once the key is opened anybody
// can check that it is the one that was drawn before the listening.
//
// It refuses variants that are not within [Tolerance].
func NewPlan(m *Matching, s PlanSetup) (*Plan, error) {
	if m == nil || len(m.Variants) < 2 {
		return nil, fmt.Errorf("loudness: no variants to compare, want at least 2")
	}
	if !m.Within() {
		return nil, fmt.Errorf("loudness: variants differ by %.2f dB, and two routes of measuring them by %.2f dB, want at most %g dB for a blind comparison", m.Residual, m.Routes, Tolerance)
	}
	n := len(m.Variants)
	if s.Test != ABX && s.Test != Paired {
		return nil, fmt.Errorf("loudness: test %v, want ABX or a paired comparison", s.Test)
	}
	if s.Test == ABX && n != 2 {
		return nil, fmt.Errorf("loudness: ABX of %d variants, want 2", n)
	}
	pairs := n * (n - 1) / 2
	if s.Trials < 2 || s.Trials%2 != 0 || s.Trials > maxTrials/pairs {
		return nil, fmt.Errorf("loudness: %d trials of %d pairs, want an even number of 2 to %d of each, half in either order", s.Trials, pairs, maxTrials/pairs)
	}
	if s.Alpha == 0 {
		s.Alpha = 0.05
	}
	p := &Plan{setup: s}
	one := s.Alpha
	if s.Test == Paired {
		one /= 2 // a preference may go either way
	}
	needed, err := Needed(s.Trials, one)
	if err != nil {
		return nil, err
	}
	p.Sheet = Sheet{Test: s.Test, Needed: needed, Alpha: s.Alpha, Level: m.Variants[0].Level, Cautions: cautions()}
	for _, v := range m.Variants {
		if strings.ContainsAny(v.Name, "\r\n\t") {
			return nil, fmt.Errorf("loudness: variant %q, want a name of one line without tabs", v.Name)
		}
		p.names, p.gains = append(p.names, v.Name), append(p.gains, v.Gain)
		p.Sheet.Level = max(p.Sheet.Level, v.Level)
	}
	r := rand.New(rand.NewChaCha8(sha256.Sum256(fmt.Appendf(nil, "loudness plan %d", s.Seed))))
	for i := range n {
		for k := range i {
			for t := range s.Trials {
				a := assignment{first: i, second: k}
				if t%2 == 1 {
					a.first, a.second = k, i
				}
				if s.Test == ABX {
					a.x = r.IntN(2)
				}
				p.key = append(p.key, a)
			}
		}
	}
	r.Shuffle(len(p.key), func(i, k int) { p.key[i], p.key[k] = p.key[k], p.key[i] })
	p.salt = fmt.Sprintf("%016x%016x", r.Uint64(), r.Uint64())
	ask := "X is A / X is B"
	if s.Test == Paired {
		ask = "first / second"
	}
	for t := range p.key {
		p.Sheet.Trials = append(p.Sheet.Trials, Presentation{t + 1, ask})
	}
	sum := sha256.Sum256([]byte(p.Key()))
	p.Sheet.KeySHA256 = hex.EncodeToString(sum[:])
	return p, nil
}

func cautions() []string {
	return []string{
		"Begin with the volume down and set it once, before the first trial, for all variants together.",
		"Keep the level at the seat at 80 dB(A) or less and a sitting under 30 minutes with pauses: above 80 dB(A) over a working day hearing needs protection (Directive 2003/10/EC, from memory), and tired ears hear nothing.",
		"Whoever may know the key stays out of the room, and nobody touches the volume between variants.",
	}
}

// Key returns the key as text: the seed, the gain of each variant, and by trial what is
// played. Keep it apart until all answers are in.
func (p *Plan) Key() string {
	var b strings.Builder
	fmt.Fprintf(&b, "key of a blind comparison, version 1\ntest\t%v\nseed\t%d\nsalt\t%s\n", p.setup.Test, p.setup.Seed, p.salt)
	for i, n := range p.names {
		fmt.Fprintf(&b, "variant\t%s\t%.3f dB\n", n, level.DB(p.gains[i]))
	}
	for t, a := range p.key {
		if p.setup.Test == ABX {
			fmt.Fprintf(&b, "%d\tA %s\tB %s\tX %s\n", t+1, p.names[a.first], p.names[a.second], p.names[a.played()])
		} else {
			fmt.Fprintf(&b, "%d\tfirst %s\tsecond %s\n", t+1, p.names[a.first], p.names[a.second])
		}
	}
	return b.String()
}

func (a assignment) played() int {
	if a.x == 0 {
		return a.first
	}
	return a.second
}

// CheckKey reports a key that is not the one that a sheet was made with.
func (s Sheet) CheckKey(key string) error {
	sum := sha256.Sum256([]byte(key))
	if got := hex.EncodeToString(sum[:]); got != s.KeySHA256 {
		return fmt.Errorf("loudness: key has the SHA-256 %s, and the sheet %s: it is not the key that was drawn, or was changed", got, s.KeySHA256)
	}
	return nil
}
