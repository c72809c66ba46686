package identify

import (
	"fmt"
	"math"
	"strings"
)

// sheetFactor is the factor from a sheet, either way, from which on a value is not that of
// another sample but of another unit, mass or driver (common practice, no source: the
// resonance of samples spreads by some ten per cent, and the compliance by twice that).
const sheetFactor = 1.5

// offSheet lists what is further from the sheet than samples are; "" if nothing is. What
// the measurements or the sheet do not tell is not compared.
func (r *Result) offSheet(set *Settings) string {
	var list []string
	for _, c := range []struct {
		symbol Symbol
		said   float64
		unit   string
		factor float64
	}{
		{Re, set.Sheet.Re, "Ω", 1}, {Fs, set.Sheet.Fs, "Hz", 1}, {Qes, set.Sheet.Qes, "", 1},
		{Mms, set.Sheet.Mms, "g", 1e3}, {Bl, set.Sheet.Bl, "N/A", 1}, {Cms, set.Sheet.Cms, "mm/N", 1e3}, {Vas, set.Sheet.Vas, "L", 1e3},
	} {
		p, ok := r.Value(c.symbol)
		if !ok || c.said == 0 || math.Abs(math.Log(p.Value/c.said)) <= math.Log(sheetFactor) {
			continue
		}
		list = append(list, strings.TrimSpace(fmt.Sprintf("%s is %.3g and not %.3g %s", c.symbol, c.factor*p.Value, c.factor*c.said, c.unit)))
	}
	return strings.Join(list, ", ")
}
