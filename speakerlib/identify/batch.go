package identify

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"
)

// Sample is one of several drivers of a kind.
type Sample struct {
	Name         string
	Measurements []Measurement
}

// Row is a sample of a batch, for a table of package report. Nil is not measured.
type Row struct {
	Name     string   `col:"sample"`
	Outliers string   `col:"outlier in"` // parameters, by their symbols
	Re       *float64 `col:"Re" unit:"Ω" fmt:"%.3f"`
	Fs       *float64 `col:"Fs" unit:"Hz" fmt:"%.2f"`
	Qms      *float64 `col:"Qms" fmt:"%.3f"`
	Qes      *float64 `col:"Qes" fmt:"%.4f"`
	Qts      *float64 `col:"Qts" fmt:"%.4f"`
	Mms      *float64 `col:"Mms" unit:"g" fmt:"%.3f"`
	Bl       *float64 `col:"Bl" unit:"N/A" fmt:"%.3f"`
	Cms      *float64 `col:"Cms" unit:"mm/N" fmt:"%.4f"`
	Vas      *float64 `col:"Vas" unit:"L" fmt:"%.2f"`
	Misfit   *float64 `col:"misfit" unit:"%" fmt:"%.2f"`

	// Long words, for a table of their own: they are no columns of this one.
	Coil   string  // the model that was chosen
	Remark string  // warnings by name, or why there is no result
	Result *Result // nil if the fit failed
}

// symbols are the columns that have a spread, and where they are in a row.
func (r *Row) symbols() ([]Symbol, []**float64) {
	return []Symbol{Re, Fs, Qms, Qes, Qts, Mms, Bl, Cms, Vas},
		[]**float64{&r.Re, &r.Fs, &r.Qms, &r.Qes, &r.Qts, &r.Mms, &r.Bl, &r.Cms, &r.Vas}
}

// Spread is a parameter over the samples of a batch, all of them: an outlier is
// told, not left out.
type Spread struct {
	Symbol    Symbol  `col:"parameter"`
	Unit      string  `col:"in"`
	Samples   int     `col:"samples"`
	Mean      float64 `col:"mean"`
	Median    float64 `col:"median"`
	Deviation float64 `col:"deviation"`                    // standard deviation of the samples (n − 1)
	Relative  float64 `col:"relative" unit:"%" fmt:"%.2f"` // Deviation/Mean
	Fit       float64 `col:"of the fit"`                   // rms of the standard errors: the part that is not the samples', with what all share (added mass, area), which does not spread
	Outliers  string  `col:"outliers"`                     // names of samples
}

// outlying is the modified z-score from which on a sample is an outlier, and
// outlierDeviation what its least spread is, relative: below it a difference means
// nothing for a loudspeaker (common practice, no source).
const (
	outlying         = 3.5
	outlierDeviation = 0.001
)

// Batch fits every sample with the same settings and puts the results together. A
// sample that cannot be fitted has a row that says why, and is in no mean. It fails
// only for no samples, or two of one name.
//
// An outlier is a sample whose modified z-score 0.6745·|x − median|/MAD is above
// 3.5, MAD being the median of |x − median| (B. Iglewicz and D. C. Hoaglin, How to
// Detect and Handle Outliers, 1993; from memory). It is looked for from five samples
// on. The MAD is taken as at least 0.1 % of the median.
func Batch(samples []Sample, set *Settings) ([]Row, []Spread, error) {
	if len(samples) == 0 {
		return nil, nil, fmt.Errorf("identify: no samples, want at least one")
	}
	var rows []Row
	seen := map[string]bool{}
	for _, s := range samples {
		if seen[s.Name] {
			return nil, nil, fmt.Errorf("identify: two samples have the name %q, want different ones", s.Name)
		}
		seen[s.Name] = true
		row := Row{Name: s.Name}
		r, err := Fit(s.Measurements, set)
		if err != nil {
			row.Remark = strings.TrimPrefix(err.Error(), "identify: ")
			rows = append(rows, row)
			continue
		}
		row.Result, row.Coil = r, CoilName(r.Coil)
		row.Misfit = &r.RMS
		symbols, at := row.symbols()
		for i, sym := range symbols {
			if p, ok := r.Value(sym); ok {
				*at[i] = &p.Value
			}
		}
		var kinds []string
		for _, w := range r.Warnings {
			if k := w.Kind.String(); !slices.Contains(kinds, k) {
				kinds = append(kinds, k)
			}
		}
		row.Remark = strings.Join(kinds, ", ")
		rows = append(rows, row)
	}
	var spreads []Spread
	symbols, _ := rows[0].symbols()
	for k, sym := range symbols {
		s := Spread{Symbol: sym}
		var x []float64
		var from []int
		var variance float64
		for i := range rows {
			_, at := rows[i].symbols()
			if *at[k] == nil {
				continue
			}
			p, _ := rows[i].Result.Value(sym) // a row with a value has a result that tells it
			x, from = append(x, p.Value), append(from, i)
			variance += p.Error * p.Error
			s.Unit = p.Unit
		}
		if len(x) == 0 {
			continue
		}
		s.Samples, s.Mean, s.Median = len(x), stat.Mean(x, nil), median(x)
		if len(x) > 1 {
			s.Deviation = stat.StdDev(x, nil)
		}
		s.Relative, s.Fit = s.Deviation/s.Mean, math.Sqrt(variance/float64(len(x)))
		if len(x) >= 5 {
			away := make([]float64, len(x))
			for i, v := range x {
				away[i] = math.Abs(v - s.Median)
			}
			mad := max(median(away), outlierDeviation*math.Abs(s.Median))
			var names []string
			for i, d := range away {
				if 0.6745*d/mad > outlying {
					row := &rows[from[i]]
					names = append(names, row.Name)
					if row.Outliers != "" {
						row.Outliers += ", "
					}
					row.Outliers += string(sym)
				}
			}
			s.Outliers = strings.Join(names, ", ")
		}
		spreads = append(spreads, s)
	}
	return rows, spreads, nil
}

// median is the middle value, or the mean of the two in the middle.
func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}
