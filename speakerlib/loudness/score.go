package loudness

import "fmt"

// Answer is what a listener says in a trial: the first (of ABX: X is A) or the second
// (X is B).
type Answer int

// The answers.
const (
	First Answer = iota
	Second
)

// Score is what answers say of two variants.
type Score struct {
	One, Other string  // the variants
	Trials     int     `col:"trials"`
	Count      int     `col:"count"` // ABX: correct answers; paired: how often One was preferred
	P          float64 `col:"p" fmt:"%.4f"`
	Found      bool    `col:"found"` // P is below the plan's alpha
}

// Score counts the answers, one for each trial in order: for ABX one score, for a
// paired comparison one for each pair. P is the probability that guessing (of a paired
// comparison: a listener without preference) does as well: one-sided for ABX,
// two-sided for a preference, of which several pairs are each judged alone. A difference
// that is not found may be there: see [Chance] for how often the test would have found it.
func (p *Plan) Score(answers []Answer) ([]Score, error) {
	if len(answers) != len(p.key) {
		return nil, fmt.Errorf("loudness: %d answers to %d trials, want one each", len(answers), len(p.key))
	}
	var out []Score
	for i := range p.names {
		for k := range i {
			s := Score{One: p.names[k], Other: p.names[i]}
			for t, a := range p.key {
				if min(a.first, a.second) != k || max(a.first, a.second) != i {
					continue
				}
				said := answers[t]
				if said != First && said != Second {
					return nil, fmt.Errorf("loudness: answer %d to trial %d, want first or second", int(said), t+1)
				}
				s.Trials++
				right := int(said) == a.x
				if p.setup.Test == Paired {
					right = (said == First) == (a.first == k)
				}
				if right {
					s.Count++
				}
			}
			count := s.Count
			if p.setup.Test == Paired {
				count = max(count, s.Trials-count)
			}
			var err error
			if s.P, err = Chance(s.Trials, count, 0.5); err != nil {
				return nil, err
			}
			if p.setup.Test == Paired {
				s.P = min(1, 2*s.P)
			}
			s.Found = s.P < p.setup.Alpha
			out = append(out, s)
		}
	}
	return out, nil
}
