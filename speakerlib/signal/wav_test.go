package signal_test

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/signal"
)

func read(t testing.TB, b []byte) *signal.WAV {
	t.Helper()
	w, err := signal.ReadWAV(bytes.NewReader(b), "test", signal.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func file(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func frames(c *signal.Clip) []float64 {
	var all []float64
	for n := range c.Len() {
		for k := range c.Channels() {
			s, _ := c.Channel(k)
			all = append(all, s[n])
		}
	}
	return all
}

// Files written by SciPy 1.10.1 and SoX 14.4.2, against the values that SciPy
// reads from them (testdata/make.py).
func TestReadsWhatOthersWrite(t *testing.T) {
	r := csv.NewReader(bytes.NewReader(file(t, "samples.csv")))
	r.Comment, r.FieldsPerRecord = '#', -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 8 {
		t.Fatalf("%d files, want 8", len(rows))
	}
	kinds := map[string]signal.WAV{
		"int16": {Encoding: signal.Int16, ValidBits: 16}, "mono": {Encoding: signal.Int16, ValidBits: 16},
		"int24":      {Encoding: signal.Int24, ValidBits: 24, Extensible: true, ChannelMask: 3},
		"int24three": {Encoding: signal.Int24, ValidBits: 24, Extensible: true},
		"int32":      {Encoding: signal.Int32, ValidBits: 32}, "float32": {Encoding: signal.Float32, ValidBits: 32},
		"float32three": {Encoding: signal.Float32, ValidBits: 32}, "float64": {Encoding: signal.Float64, ValidBits: 64},
	}
	for _, row := range rows {
		w := read(t, file(t, row[0]+".wav"))
		var want []float64
		for _, s := range row[3:] {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			want = append(want, v)
		}
		if got := frames(w.Clip); !slices.Equal(got, want) {
			t.Errorf("%s: samples\n%v, want\n%v", row[0], got, want)
		}
		if rate := fmt.Sprint(w.Clip.SampleRate()); rate != row[1] || fmt.Sprint(w.Clip.Channels()) != row[2] || w.Findings != nil {
			t.Errorf("%s: %s Hz, %d channels, %v; want %s, %s and no finding", row[0], rate, w.Clip.Channels(), w.Findings, row[1], row[2])
		}
		if k := kinds[row[0]]; w.Encoding != k.Encoding || w.ValidBits != k.ValidBits || w.Extensible != k.Extensible || w.ChannelMask != k.ChannelMask {
			t.Errorf("%s: %v, %d valid bits, extensible %v, mask %d; want %v", row[0], w.Encoding, w.ValidBits, w.Extensible, w.ChannelMask, k)
		}
	}
	// The generator's second frame is the largest and the smallest code; its floats exceed ±1.
	for name, want := range map[string][]int{"int16": {1, 1}, "float64": {2, 1}} {
		if got := read(t, file(t, name+".wav")).AtFullScale; !slices.Equal(got, want) {
			t.Errorf("%s: %v samples at full scale, want %v", name, got, want)
		}
	}
}

// The bytes are those that SciPy and SoX write of the same samples.
func TestWritesAsOthersDo(t *testing.T) {
	for _, name := range []string{"int16", "mono", "float32", "float64", "int24three"} {
		b := file(t, name+".wav")
		w := read(t, b)
		var out bytes.Buffer
		if err := signal.WriteWAV(&out, w.Clip, w.Encoding); err != nil {
			t.Error(err)
		} else if !bytes.Equal(out.Bytes(), b) {
			t.Errorf("%s:\n% x, want\n% x", name, out.Bytes(), b)
		}
	}
}

func TestWriteReadsBack(t *testing.T) {
	c, err := signal.NewClip(88200, []float64{-1, 0.25, 1 - 0x1p-15}, []float64{0, -0.5, 0x1p-15}, []float64{0.125, 0, 0})
	if err != nil {
		t.Fatal(err)
	}
	for e := signal.Int16; e <= signal.Float64; e++ {
		var out bytes.Buffer
		if err := signal.WriteWAV(&out, c, e); err != nil {
			t.Fatal(err)
		}
		w := read(t, out.Bytes())
		if !slices.Equal(frames(w.Clip), frames(c)) || w.Encoding != e || !w.Extensible || w.Clip.SampleRate() != 88200 {
			t.Errorf("%v: read back as %v, %v", e, w.Encoding, frames(w.Clip))
		}
	}
	// Rounding to the nearest code, halves to even (IEEE 754).
	c, err = signal.NewClip(48000, []float64{0.6 * 0x1p-15, -0.6 * 0x1p-15, 1.5 * 0x1p-15, 2.5 * 0x1p-15, 0.4 * 0x1p-15})
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := signal.WriteWAV(&out, c, signal.Int16); err != nil {
		t.Fatal(err)
	}
	if got, want := frames(read(t, out.Bytes()).Clip), []float64{0x1p-15, -0x1p-15, 0x1p-14, 0x1p-14, 0}; !slices.Equal(got, want) {
		t.Errorf("rounded to %v, want %v", got, want)
	}
	for _, x := range []struct {
		rate, v float64
		e       signal.Encoding
		want    string
	}{
		{48000, 1, signal.Int24, "full scale is 1"}, {48000, -1.01, signal.Int16, "full scale is 1"},
		{48000, 1e39, signal.Float32, "32-bit float holds"}, {44100.5, 0, signal.Int16, "whole number"},
		{48000, 0, signal.Encoding(9), "one of the encodings"}, {5e9, 0, signal.Int16, "whole number"},
	} {
		c, err := signal.NewClip(x.rate, []float64{x.v})
		if err != nil {
			t.Fatal(err)
		}
		if err := signal.WriteWAV(io.Discard, c, x.e); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%v: error %v, want one with %q", x, err, x.want)
		}
	}
}

// edit returns the file with bytes replaced from an offset.
func edit(b []byte, at int, with ...byte) []byte {
	b = slices.Clone(b)
	copy(b[at:], with)
	return b
}

// Offsets are those of the headers' layout: fmt chunk from 12, its fields from 20.
func TestRefusesWithThePlace(t *testing.T) {
	i16, i24, f64 := file(t, "int16.wav"), file(t, "int24.wav"), file(t, "float64.wav")
	for _, c := range []struct {
		name      string
		b         []byte
		offset    int64
		had, want string
	}{
		{"empty", nil, 0, "end of the file", "RIFF"},
		{"RF64", edit(i16, 0, 'R', 'F', '6', '4'), 0, "RF64", "RIFF"},
		{"AVI", edit(i16, 8, 'A', 'V', 'I', ' '), 8, "AVI", "WAVE"},
		{"companded", edit(i16, 20, 6), 20, "format 6 of 16 bits", "integers"},
		{"8 bits", edit(i16, 34, 8), 20, "format 1 of 8 bits", "16, 24 or 32"},
		{"channels", edit(i16, 22, 0), 22, "0 channels", "1 …"},
		{"rate", edit(i16, 24, 0, 0, 0), 24, "0 Hz", "more"},
		{"align", edit(i16, 32, 3), 32, "frames of 3", "4 for 2 channels"},
		{"subformat", edit(i24, 50, 1), 46, "subformat", "integers"},
		{"companded extensible", edit(i24, 44, 6), 44, "format 6", "integers"},
		{"valid bits", edit(i24, 38, 25), 38, "25 valid bits", "at most the 24"},
		{"short extensible", edit(i24, 36, 0), 36, "extensible", "22"},
		{"cut", i16[:len(i16)-2], int64(len(i16) - 2), "end of the file", "44 bytes of data"},
		{"cut header", i16[:30], 30, "end of the file", "16 bytes of the format"},
		{"no data", i16[:36], 36, "end of the file", "the data chunk among"},
		{"not closed", edit(i16, 40, 0), 40, "0 bytes", "was not closed"},
		{"half a frame", edit(i16, 40, 0x2a), 40, "42 bytes", "whole frames of 4"},
		{"huge promise", edit(i16, 40, 0xfc, 0xff, 0xff, 0xff), 40, "2147483646 samples", "Limits.MaxSamples"},
		{"NaN", edit(f64, 58+8+6, 0xf8, 0x7f), 58 + 8, "NaN", "finite"},
	} {
		w, err := signal.ReadWAV(bytes.NewReader(c.b), c.name, signal.Limits{})
		var e *signal.FormatError
		if w != nil || !errors.As(err, &e) || e.Offset != c.offset || !strings.Contains(e.Had, c.had) || !strings.Contains(e.Want, c.want) {
			t.Errorf("%s: %v, want byte %d, %q, %q", c.name, err, c.offset, c.had, c.want)
		}
	}
	if _, err := signal.ReadWAV(bytes.NewReader(i16), "x", signal.Limits{MaxBytes: 50}); err == nil || !strings.Contains(err.Error(), "MaxBytes") {
		t.Errorf("limit of bytes: %v", err)
	}
	for at, want := range map[int]string{4: "RIFF header says", 28: "bytes per second"} {
		w := read(t, edit(i16, at, 1))
		if len(w.Findings) != 1 || !strings.Contains(w.Findings[0], want) {
			t.Errorf("findings %q, want one with %q", w.Findings, want)
		}
	}
	// A chunk between, of odd length, is skipped together with its padding.
	odd := slices.Concat(i16[:36], []byte("note\x03\x00\x00\x00abc\x00"), i16[36:])
	if got := frames(read(t, odd).Clip); !slices.Equal(got, frames(read(t, i16).Clip)) {
		t.Errorf("with a chunk between: %v", got)
	}
}

// A file promises much and holds little: memory follows what is there.
func TestMemoryFollowsTheFile(t *testing.T) {
	b := edit(file(t, "int16.wav"), 40, 0, 0, 0, 0x7f)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := signal.ReadWAV(bytes.NewReader(b), "x", signal.Limits{MaxBytes: math.MaxInt64, MaxSamples: math.MaxInt})
	runtime.ReadMemStats(&after)
	if got := after.TotalAlloc - before.TotalAlloc; err == nil || got > 1<<20 {
		t.Errorf("%d bytes allocated (%v), want less than a megabyte and an error", got, err)
	}
	// And 2.3 times 8 bytes a sample plus 1 MB at the peak of what is live, watched from the reader.
	const n = 4 << 20
	head := edit(file(t, "mono.wav")[:44], 40, binary.LittleEndian.AppendUint32(nil, 2*n)...)
	runtime.GC()
	runtime.ReadMemStats(&before)
	peak := &watch{r: io.MultiReader(bytes.NewReader(head), io.LimitReader(zeros{}, 2*n))}
	w, err := signal.ReadWAV(peak, "long", signal.Limits{})
	if err != nil || w.Clip.Len() != n {
		t.Fatal(err)
	}
	if used := float64(peak.heap) - float64(before.HeapAlloc); used > 2.3*8*n+1e6 {
		t.Errorf("%.1f MB at the peak, want at most %.1f", used/1e6, 2.3*8*n/1e6+1)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

type watch struct {
	r     io.Reader
	calls int
	heap  uint64
}

func (w *watch) Read(p []byte) (int, error) {
	if w.calls++; w.calls%8 == 0 {
		runtime.GC() // what is live counts, not when the collector comes
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		w.heap = max(w.heap, m.HeapAlloc)
	}
	return w.r.Read(p)
}

func TestNewClip(t *testing.T) {
	for _, c := range []struct {
		rate     float64
		channels [][]float64
	}{
		{0, [][]float64{{1}}}, {math.Inf(1), [][]float64{{1}}}, {1, nil}, {1, [][]float64{{}}},
		{1, [][]float64{{1}, {1, 2}}}, {1, [][]float64{{math.NaN()}}}, {1, make([][]float64, 300)},
	} {
		if _, err := signal.NewClip(c.rate, c.channels...); err == nil {
			t.Errorf("clip of %v at %g Hz was taken", c.channels, c.rate)
		}
	}
	c, err := signal.NewClip(4, []float64{1, -3})
	if err != nil || c.Duration() != 0.5 || c.Peak() != 3 {
		t.Errorf("%v, %v", c, err)
	}
	if _, err := c.Channel(1); err == nil {
		t.Error("channel 1 of one")
	}
}

func FuzzReadWAV(f *testing.F) {
	for _, name := range []string{"int16", "int24", "int24three", "int32", "float32", "float64"} {
		f.Add(file(f, name+".wav"))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		w, err := signal.ReadWAV(bytes.NewReader(b), "fuzz", signal.Limits{})
		if err != nil {
			return
		}
		if 2*w.Clip.Len()*w.Clip.Channels() > len(b) {
			t.Fatalf("%d frames of %d channels in %d bytes", w.Clip.Len(), w.Clip.Channels(), len(b))
		}
		var out bytes.Buffer
		if err := signal.WriteWAV(&out, w.Clip, w.Encoding); err != nil {
			return // a rate whose bytes per second do not fit
		}
		again := read(t, out.Bytes())
		if !slices.Equal(frames(again.Clip), frames(w.Clip)) {
			t.Fatal("not read back equal")
		}
	})
}
