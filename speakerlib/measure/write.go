package measure

import (
	"bufio"
	"fmt"
	"io"
	"strconv"

	"example.org/loudspeaker/speakerlib/freq"
)

// Write writes a response as a table that [ReadResponse] or [ReadImpedance]
// reads back equal: its basis as settings, then frequency, real and imaginary
// part with all digits. A response per volt is written per volt, with 1 V as the
// drive.
func Write(w io.Writer, r freq.Response) error {
	out := bufio.NewWriter(w)
	b := r.Basis()
	fmt.Fprintf(out, "# %s: %v\n# %s: %v\n", keyQuantity, b.Quantity, keySpace, b.Space)
	if b.Per < 0 || int(b.Per) >= len(pers) {
		return fmt.Errorf("measure: writing %q, which is %v: want a known reference", r.Label(), b.Per)
	}
	fmt.Fprintf(out, "# %s: %s\n", keyPer, pers[b.Per])
	if b.Distance > 0 {
		fmt.Fprintf(out, "# %s: %s\n", keyDistance, strconv.FormatFloat(b.Distance, 'g', -1, 64))
	}
	if b.Per == freq.PerTerminals || b.Per == freq.PerInput {
		fmt.Fprintf(out, "# %s: 1\n", keyDrive)
	}
	fmt.Fprintf(out, "# columns: %v %v %v\n", Frequency, Real, Imaginary)
	var line []byte
	for i, v := range r.Values() {
		line = strconv.AppendFloat(line[:0], r.Grid().At(i), 'g', -1, 64)
		line = append(line, '\t')
		line = strconv.AppendFloat(line, real(v), 'g', -1, 64)
		line = append(line, '\t')
		line = strconv.AppendFloat(line, imag(v), 'g', -1, 64)
		line = append(line, '\n')
		if _, err := out.Write(line); err != nil {
			return fmt.Errorf("measure: writing %q: %w", r.Label(), err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("measure: writing %q: %w", r.Label(), err)
	}
	return nil
}
