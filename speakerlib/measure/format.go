package measure

import (
	"fmt"
	"math"
	"strings"

	"example.org/loudspeaker/speakerlib/internal/text"
)

// Column is what a column of a table holds.
type Column int

// The columns. The names in a "# columns:" line are in the comments.
const (
	Ignored      Column = iota // ignored
	Frequency                  // frequency_Hz
	Kilohertz                  // frequency_kHz
	LevelDB                    // level_dB, re Format.Reference or the setting reference_Pa
	Magnitude                  // magnitude, magnitude_ohm, magnitude_Pa
	PhaseDegrees               // phase_deg, wrapped or not
	PhaseRadians               // phase_rad, wrapped or not
	Real                       // real, real_ohm, real_Pa
	Imaginary                  // imaginary, imaginary_ohm, imaginary_Pa
)

var columnNames = []struct {
	name   string
	column Column
}{
	{"ignored", Ignored},
	{"frequency_Hz", Frequency}, {"frequency_kHz", Kilohertz},
	{"level_dB", LevelDB},
	{"magnitude", Magnitude}, {"magnitude_ohm", Magnitude}, {"magnitude_Pa", Magnitude},
	{"phase_deg", PhaseDegrees}, {"phase_rad", PhaseRadians},
	{"real", Real}, {"real_ohm", Real}, {"real_Pa", Real},
	{"imaginary", Imaginary}, {"imaginary_ohm", Imaginary}, {"imaginary_Pa", Imaginary},
}

// String returns the name in a "# columns:" line.
func (c Column) String() string {
	for _, k := range columnNames {
		if k.column == c {
			return k.name
		}
	}
	return fmt.Sprintf("Column(%d)", int(c))
}

// Decimal is the decimal mark of a file.
type Decimal int

// The decimal marks.
const (
	DecimalFound Decimal = iota // found by the rule in the package's comment
	DecimalPoint
	DecimalComma
)

// The default limits of a file, and the longest line.
const (
	DefaultMaxBytes = text.DefaultMaxBytes
	DefaultMaxRows  = 1 << 20
	MaxLine         = text.MaxLine
)

// Format says what a file holds and how much of it is read. The zero value takes
// the columns from the file and has the default limits.
type Format struct {
	Columns   []Column // nil: from the "# columns:" line
	Decimal   Decimal
	Skip      int     // lines at the start that are neither comment nor data, such as a title
	Reference float64 // what 0 dB is, in the unit of the quantity; 0: the setting reference_Pa
	Drive     float64 // V rms that were applied; 0: the setting drive_V
	TimeZero  string  // the name of the set whose time zero the file has; "": the setting set
	MaxBytes  int64   // 0: DefaultMaxBytes
	MaxRows   int     // 0: DefaultMaxRows
}

func (f Format) validate() error {
	for _, c := range []struct {
		what  string
		value float64
	}{{"Reference", f.Reference}, {"Drive", f.Drive}} {
		if !(c.value >= 0) || math.IsInf(c.value, 0) {
			return fmt.Errorf("measure: Format.%s is %g, want a finite value > 0, or 0 for the setting of the file", c.what, c.value)
		}
	}
	if f.Decimal < DecimalFound || f.Decimal > DecimalComma {
		return fmt.Errorf("measure: Format.Decimal is %d, want one of the decimal marks", int(f.Decimal))
	}
	if f.Skip < 0 || f.MaxBytes < 0 || f.MaxRows < 0 {
		return fmt.Errorf("measure: Format.Skip, MaxBytes and MaxRows are %d, %d and %d, want ≥ 0", f.Skip, f.MaxBytes, f.MaxRows)
	}
	if f.Columns != nil {
		if _, err := newLayout(f.Columns); err != nil {
			return fmt.Errorf("measure: Format.Columns: %w", err)
		}
	}
	return nil
}

// layout is where the columns are.
type layout struct {
	columns []Column
	hertz   int // index of the frequency
	scale   float64
	first   int    // index of level, magnitude or real part
	kind    Column // LevelDB, Magnitude or Real
	second  int    // index of phase or imaginary part, −1: none
	radian  float64
}

func newLayout(columns []Column) (layout, error) {
	l := layout{columns: columns, hertz: -1, first: -1, second: -1}
	var names []string
	for i, c := range columns {
		names = append(names, c.String())
		at := &l.first
		switch c {
		case Ignored:
			continue
		case Frequency, Kilohertz:
			at = &l.hertz
			l.scale = 1
			if c == Kilohertz {
				l.scale = 1000
			}
		case LevelDB, Magnitude, Real:
			l.kind = c
		case PhaseDegrees:
			at, l.radian = &l.second, math.Pi/180
		case PhaseRadians, Imaginary:
			at, l.radian = &l.second, 1
		default:
			return l, fmt.Errorf("column %d is %v, want one of the columns of the package", i+1, c)
		}
		if *at >= 0 {
			return l, fmt.Errorf("columns are %s, want one of a kind", strings.Join(names, " "))
		}
		*at = i
	}
	switch complete := l.hertz >= 0 && l.first >= 0; {
	case !complete:
		return l, fmt.Errorf("columns are %q, want a frequency and a level, magnitude or real part", strings.Join(names, " "))
	case l.kind == Real && (l.second < 0 || columns[l.second] != Imaginary),
		l.kind != Real && l.second >= 0 && columns[l.second] == Imaginary:
		return l, fmt.Errorf("columns are %s, want real with imaginary part, or level or magnitude with phase", strings.Join(names, " "))
	}
	return l, nil
}

// parseColumns reads the names of a "# columns:" line.
func parseColumns(names []string) (layout, error) {
	var columns []Column
	for _, name := range names {
		found := false
		for _, k := range columnNames {
			if k.name == name {
				columns, found = append(columns, k.column), true
				break
			}
		}
		if !found {
			var known []string
			for _, k := range columnNames {
				known = append(known, k.name)
			}
			return layout{}, fmt.Errorf("column %q, want one of %s", name, strings.Join(known, " "))
		}
	}
	return newLayout(columns)
}
