package tune

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
)

// Apart splits a fit at a frequency in hertz: the sections below it, which a joint fit is to
// leave as they are, as a cascade without gain, and those from it on as sections that are free
// again, within the bounds of the fit and starting where it ended. So what shapes the bass
// can be held while ways are fitted together where both are heard ([Sum]).
//
// free are the sections that the fit was given ([Result.Used] tells which is which).
func (r *Result) Apart(free []Free, hz float64) (below *digital.Cascade, above []Free, err error) {
	if !(hz > 0) || math.IsInf(hz, 0) {
		return nil, nil, fmt.Errorf("tune: splitting a fit at %g Hz, want a finite frequency > 0", hz)
	}
	var keep []digital.Section
	for i, s := range r.Sections {
		if k := r.Used[i]; k >= len(free) || kind(free[k].Low) != kind(s) {
			return nil, nil, fmt.Errorf("tune: splitting a fit: %v is free section %d of %d that were given, want those that the fit was given", s, k+1, len(free))
		}
		if math.Exp(s.ThetaTo(nil)[0]) < hz {
			keep = append(keep, s)
			continue
		}
		f := free[r.Used[i]]
		f.Start = s
		above = append(above, f)
	}
	below, err = digital.NewCascade(r.Cascade.SampleRate(), keep...)
	return below, above, err
}
