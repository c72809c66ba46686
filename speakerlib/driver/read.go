package driver

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/quantity"
)

// Read reads a sheet from lines
//
//	key = value unit   # note
//
// as [quantity.Read] does. The keys, each at most once and with a unit of its
// kind, are
//
//	Re Fs Qms Qes Qts Vas Bl Mms Cms Rms Sd   eta0 (a ratio) SPL1W SPL2V83 (dB)
//	Le L2 R2   linear damage (excursions, peak)
//
// and every value is > 0. Anything else is a [quantity.ParseError] with the line, and
// so is a value that no loudspeaker has, of which a wrong unit is the usual cause:
// Mms of 15 kg or 15 µg, an excursion of 6 m. A mistake that stays among loudspeakers is
// left to [Sheet.Params], if the sheet says more than it needs. The name is that of the
// file in errors.
func Read(r io.Reader, name string) (Sheet, error) {
	q, err := quantity.Read(r, name)
	if err != nil {
		return Sheet{}, err
	}
	var s Sheet
	list := s.entries()
	for _, v := range q.All() {
		k := slices.IndexFunc(list[:], func(e entry) bool { return e.key == v.Key })
		if k < 0 {
			return Sheet{}, &quantity.ParseError{Package: "driver", File: name, Line: v.Line, Column: 0,
				Had: fmt.Sprintf("the key %q", v.Key), Want: "one of " + keys(list[:])}
		}
		value, err := q.In(v.Key, list[k].unit)
		if err != nil {
			return Sheet{}, err
		}
		if !(value > 0) {
			return Sheet{}, &quantity.ParseError{Package: "driver", File: name, Line: v.Line,
				Had: v.Key + " = " + valueOf(value, v.Unit), Want: "a value > 0, or no line"}
		}
		if e := list[k]; !(e.least <= value && value <= e.most) {
			return Sheet{}, &quantity.ParseError{Package: "driver", File: name, Line: v.Line,
				Had: v.Key + " = " + valueOf(value, v.Unit), Want: fmt.Sprintf("%s to %s: is the unit right?", valueOf(e.least, e.unit), valueOf(e.most, e.unit))}
		}
		*list[k].value = value
	}
	if err := s.Validate(); err != nil {
		return Sheet{}, fmt.Errorf("%w (%s)", err, name)
	}
	return s, nil
}

func keys(list []entry) string {
	var names []string
	for _, e := range list {
		names = append(names, e.key)
	}
	return strings.Join(names, " ")
}
