package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/go-gota/gota/dataframe"
	"github.com/go-gota/gota/series"
)

// Frame returns the table as a gota data frame: columns named like those of the
// CSV file, with the SI unit; numbers in SI units; NaN where a value is missing.
//
// Do not let gota write numbers: it prints six decimals, and 1.23e-7 becomes
// 0.000000. Bring the frame back by [FromFrame] and use [Table.WriteCSV].
func (t Table) Frame() (dataframe.DataFrame, error) {
	all := make([]series.Series, len(t.columns))
	for i, c := range t.columns {
		switch c.kind {
		case words:
			all[i] = series.New(c.words, series.String, c.header())
		case flags:
			all[i] = series.New(c.flags, series.Bool, c.header())
		case wholes:
			texts := make([]string, len(c.wholes))
			for n, v := range c.wholes {
				texts[n] = strconv.FormatInt(v, 10)
				if c.missing[n] {
					texts[n] = "NaN"
				}
			}
			all[i] = series.New(texts, series.Int, c.header())
		case numbers:
			values := make([]float64, len(c.numbers))
			for n, v := range c.numbers {
				values[n] = v
				if c.missing[n] {
					values[n] = math.NaN()
				}
			}
			all[i] = series.New(values, series.Float, c.header())
		}
	}
	df := dataframe.New(all...)
	if df.Err != nil {
		return df, fmt.Errorf("report: table %q as a data frame: %w", t.caption, df.Err)
	}
	return df, nil
}

// Column says how a column of a data frame is shown.
type Column struct {
	Unit   Unit   // of the same SI unit as in the name of the frame's column
	Format string // of package fmt
}

// FromFrame returns the table of a gota data frame whose numbers are in SI
// units; a unit in parentheses at the end of a column's name is taken as its
// unit. as tells, by the name without its unit, how to show a column; nil shows
// all in SI units with four significant digits. NaN is a missing value.
func FromFrame(caption string, df dataframe.DataFrame, as map[string]Column) (Table, error) {
	if df.Err != nil {
		return Table{}, fmt.Errorf("report: data frame: %w", df.Err)
	}
	t := Table{caption: caption, rows: df.Nrow()}
	used := 0
	for _, header := range df.Names() {
		s := df.Col(header)
		c := column{}
		c.name, c.unit = splitHeader(header)
		if how, ok := as[c.name]; ok {
			used++
			if how.Unit != "" {
				had, _ := c.unit.SI() // read by splitHeader
				want, err := how.Unit.SI()
				if err != nil {
					return Table{}, fmt.Errorf("report: column %q: %w", c.name, err)
				}
				if had != want {
					return Table{}, fmt.Errorf("report: column %q is in %q and is to be shown in %q, want a multiple of the same unit", c.name, had, how.Unit)
				}
				c.unit = how.Unit
			}
			c.format = how.Format
		}
		if p, err := c.unit.parse(); err == nil && string(c.unit) != p.si && as[c.name].Unit == "" {
			return Table{}, fmt.Errorf("report: column %q of a data frame is in %q, want its numbers and its name in SI units: %q", c.name, c.unit, p.si)
		}
		switch s.Type() {
		case series.Float:
			c.kind = numbers
			for _, v := range s.Float() {
				gone := math.IsNaN(v)
				if gone {
					v = 0
				}
				c.numbers, c.missing = append(c.numbers, v), append(c.missing, gone)
			}
		case series.Int:
			c.kind = wholes
			for n := range s.Len() {
				e := s.Elem(n)
				v := 0
				if !e.IsNA() {
					var err error
					if v, err = e.Int(); err != nil {
						return Table{}, fmt.Errorf("report: row %d of column %q: %w", n+1, c.name, err)
					}
				}
				c.wholes, c.missing = append(c.wholes, int64(v)), append(c.missing, e.IsNA())
			}
		case series.Bool:
			c.kind = flags
			var err error
			if c.flags, err = s.Bool(); err != nil {
				return Table{}, fmt.Errorf("report: column %q: %w", c.name, err)
			}
		default:
			c.words = s.Records()
			for n, w := range c.words {
				if strings.Contains(w, "\r") {
					return Table{}, fmt.Errorf("report: row %d of column %q: %q has a carriage return, which a CSV file does not keep", n+1, c.name, w)
				}
			}
		}
		if err := c.check(); err != nil {
			return Table{}, err
		}
		t.columns = append(t.columns, c)
	}
	if used != len(as) {
		return Table{}, fmt.Errorf("report: %d columns are told how to be shown and %d of them are in the data frame %q", len(as), used, df.Names())
	}
	return t, nil
}
