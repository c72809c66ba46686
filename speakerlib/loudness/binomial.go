package loudness

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Chance returns the probability of at least k correct answers in n trials, each of
// which is right with the probability rate, independently:
//
//	P(X ≥ k) = Σ C(n,i)·rateⁱ·(1 − rate)ⁿ⁻ⁱ = I_rate(k, n − k + 1),  i = k … n
//
// (NIST Digital Library of Mathematical Functions, 8.17.5). With the rate 1/2 it is
// how often guessing does as well; with that of a listener who hears the difference
// in a part of the trials it is how often the test finds out.
func Chance(n, k int, rate float64) (float64, error) {
	if n < 1 || n > maxTrials || k < 0 || k > n {
		return 0, fmt.Errorf("loudness: at least %d correct of %d trials, want 1 to %d trials and 0 to as many correct", k, n, maxTrials)
	}
	if !(rate >= 0) || rate > 1 {
		return 0, fmt.Errorf("loudness: rate of correct answers is %g, want 0 to 1", rate)
	}
	switch {
	case k == 0:
		return 1, nil
	case rate == 0 || rate == 1:
		return rate, nil
	}
	return mathext.RegIncBeta(float64(k), float64(n-k+1), rate), nil
}

// Needed returns the smallest number of correct answers in n trials that guessing
// reaches with a probability below alpha, one-sided and exact. It is an error if not
// even n correct do: 4 trials prove nothing at 0.05.
func Needed(n int, alpha float64) (int, error) {
	if !(alpha > 0) || alpha >= 0.5 || math.IsNaN(alpha) {
		return 0, fmt.Errorf("loudness: level of significance is %g, want above 0 and below 0.5", alpha)
	}
	for k := n/2 + 1; k <= n; k++ {
		p, err := Chance(n, k, 0.5)
		if err != nil {
			return 0, err
		}
		if p < alpha {
			return k, nil
		}
	}
	if _, err := Chance(n, n, 0.5); err != nil {
		return 0, err
	}
	return 0, fmt.Errorf("loudness: %d of %d correct happen by guessing with a probability of %.3g, want below %g: more trials", n, n, math.Pow(0.5, float64(n)), alpha)
}
