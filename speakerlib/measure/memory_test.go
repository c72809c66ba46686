package measure_test

import (
	"errors"
	"io"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/measure"
)

// stream makes rows, or comments, up to a size, without holding them, and looks
// at the heap as it goes.
type stream struct {
	left    int64
	comment bool
	line    []byte
	n       int
	peak    uint64
	calls   int
}

func (s *stream) Read(p []byte) (int, error) {
	if s.calls++; s.calls%64 == 0 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		s.peak = max(s.peak, m.HeapAlloc)
	}
	if s.left <= 0 {
		return 0, io.EOF
	}
	var total int
	for total < len(p) && s.left > 0 {
		if len(s.line) == 0 {
			s.n++
			if s.comment && s.n > 100 {
				s.line = append(s.line, "# point: a comment that is as long as a row\n"...)
			} else {
				s.line = strconv.AppendFloat(s.line, float64(s.n)/100, 'f', 2, 64)
				s.line = append(s.line, "\t-12.3456\t-123.456\n"...)
			}
		}
		k := copy(p[total:], s.line)
		s.line = append(s.line[:0], s.line[k:]...)
		total += k
		s.left -= int64(k)
	}
	return total, nil
}

// The memory that reading takes, at its largest, is what the package's comment
// says, for files of 100 MB and whatever is in them.
func TestMemoryCap(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 300 MB")
	}
	const (
		file = 100e6
		mb   = 1e6
	)
	for _, c := range []struct {
		name    string
		comment bool
		change  func(*measure.Format)
		refused string
		limit   float64 // bytes of heap
	}{
		{"default limits", false, func(*measure.Format) {}, "more than 1048576 rows", 64 * mb},
		{"more bytes allowed, comments", true, func(f *measure.Format) { f.MaxBytes = 1 << 30 }, "", 8 * mb},
		{"comments at the default limits", true, func(*measure.Format) {}, "more than 33554432 bytes", 8 * mb},
		{"more bytes and rows allowed", false, func(f *measure.Format) { f.MaxBytes, f.MaxRows = 1<<30, 1<<23 }, "", 2.3*24*3.75e6 + 8*mb},
	} {
		runtime.GC()
		var before runtime.MemStats
		runtime.ReadMemStats(&before)
		s := &stream{left: file, comment: c.comment}
		tb, err := measure.ReadResponse(s, c.name, with(levelPhase, c.change))
		used := float64(s.peak) - float64(before.HeapAlloc)
		rows := 0
		if err == nil {
			rows = tb.Len()
		}
		t.Logf("%s: %.1f MB read, %d rows, peak heap %.1f MB (%v)", c.name, (file-float64(s.left))/1e6, rows, used/mb, err)
		var e *measure.ParseError
		switch {
		case c.refused == "" && err != nil:
			t.Errorf("%s: %v", c.name, err)
		case c.refused != "" && (!errors.As(err, &e) || !strings.Contains(e.Had, c.refused)):
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.refused)
		}
		if used > c.limit {
			t.Errorf("%s: %.1f MB of heap, want at most %.1f", c.name, used/mb, c.limit/mb)
		}
	}
}

func BenchmarkRead(b *testing.B) {
	var text strings.Builder
	if _, err := io.Copy(&text, &stream{left: 4e6}); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := measure.ReadResponse(strings.NewReader(text.String()), "bench", levelPhase); err != nil {
			b.Fatal(err)
		}
	}
}
