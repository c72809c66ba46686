package signal

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Encoding is how a file writes a sample.
type Encoding int

// The encodings, all of little-endian bytes.
const (
	Int16 Encoding = iota
	Int24
	Int32
	Float32
	Float64
)

// String names the encoding.
func (e Encoding) String() string {
	switch e {
	case Int16:
		return "16-bit integer"
	case Int24:
		return "24-bit integer"
	case Int32:
		return "32-bit integer"
	case Float32:
		return "32-bit float"
	case Float64:
		return "64-bit float"
	}
	return fmt.Sprintf("Encoding(%d)", int(e))
}

// size returns the bytes of a sample, 0 for an encoding that is none.
func (e Encoding) size() int {
	switch e {
	case Int16:
		return 2
	case Int24:
		return 3
	case Int32, Float32:
		return 4
	case Float64:
		return 8
	}
	return 0
}

func (e Encoding) float() bool { return e == Float32 || e == Float64 }

// The default limits of a file.
const (
	DefaultMaxBytes   = 256 << 20
	DefaultMaxSamples = 1 << 24 // of all channels: 128 MB
)

// Limits bound what is read.
type Limits struct {
	MaxBytes   int64 // of the file; 0: DefaultMaxBytes
	MaxSamples int   // of all channels together; 0: DefaultMaxSamples
}

func (l Limits) filled() (Limits, error) {
	if l.MaxBytes < 0 || l.MaxSamples < 0 {
		return l, fmt.Errorf("signal: Limits.MaxBytes and MaxSamples are %d and %d, want ≥ 0", l.MaxBytes, l.MaxSamples)
	}
	if l.MaxBytes == 0 {
		l.MaxBytes = DefaultMaxBytes
	}
	if l.MaxSamples == 0 {
		l.MaxSamples = DefaultMaxSamples
	}
	return l, nil
}

// FormatError points at what cannot be read in a binary file.
type FormatError struct {
	File   string // as given to the reader
	Offset int64  // of the first byte that is wrong, from 0
	Had    string // what is there
	Want   string // what should be
}

// Error tells the place, what was had and what was wanted.
func (e *FormatError) Error() string {
	return fmt.Sprintf("signal: %s at byte %d: had %s, want %s", e.File, e.Offset, e.Had, e.Want)
}

// WAV is what a WAV file holds.
type WAV struct {
	Clip        *Clip
	Encoding    Encoding
	ValidBits   int    // of an integer sample; the bits of the encoding unless the file says less
	Extensible  bool   // the header was a WAVE_FORMAT_EXTENSIBLE
	ChannelMask uint32 // which loudspeaker a channel is for, 0 if the file does not say
	// AtFullScale tells by channel how many samples are at or beyond full scale
	// (the largest or smallest code of the valid bits, or ±1): more than a few in
	// a recording are an input that was driven too hard.
	AtFullScale []int
	Findings    []string // what is odd in the file and was read over
}

// Tags of the format chunk (mmreg.h).
const (
	tagPCM        = 1
	tagFloat      = 3
	tagExtensible = 0xfffe
)

// subFormat is the end of the GUIDs of KSDATAFORMAT_SUBTYPE_PCM and …_IEEE_FLOAT;
// the tag comes before it.
var subFormat = [14]byte{0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71}

// source counts the bytes that it has given.
type source struct {
	r    io.Reader
	name string
	at   int64
	max  int64
}

func (s *source) fail(at int64, had, want string) error {
	return &FormatError{File: s.name, Offset: at, Had: had, Want: want}
}

// read fills b, or says what was wanted.
func (s *source) read(b []byte, want string) error {
	if s.at+int64(len(b)) > s.max {
		return s.fail(s.max, fmt.Sprintf("more than %d bytes", s.max), "at most that (Limits.MaxBytes)")
	}
	n, err := io.ReadFull(s.r, b)
	s.at += int64(n)
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return s.fail(s.at, "the end of the file", want)
	case err != nil:
		return fmt.Errorf("signal: %s at byte %d: %w", s.name, s.at, err)
	}
	return nil
}

// skip reads over n bytes through b.
func (s *source) skip(n int64, b []byte, want string) error {
	for n > 0 {
		k := min(n, int64(len(b)))
		if err := s.read(b[:k], want); err != nil {
			return err
		}
		n -= k
	}
	return nil
}

// format is what a format chunk says.
type format struct {
	encoding   Encoding
	validBits  int
	extensible bool
	mask       uint32
	channels   int
	sampleRate uint32
}

// ReadWAV reads a RIFF/WAVE file: integers of 16, 24 and 32 bits and floating point
// numbers of 32 and 64 bits (IEEE 754), 1 … [MaxChannels] channels, with the plain
// and the extensible header (Microsoft and IBM, "Multimedia Programming Interface
// and Data Specifications 1.0", 1991; Microsoft, "Multiple Channel Audio Data and
// WAVE Files", 2001). Chunks that are not needed are skipped. In the extensible
// format the valid bits are the upper ones, so the scale is that of the container.
// The name is that of the file, for errors.
//
// Refused with a [FormatError]: other formats (8-bit, companded, RF64, RIFX), a file
// that ends before what its headers promise, a data chunk that is empty or no whole
// number of frames, contradictions within the format chunk, NaN and infinities,
// and more than the limits. A file that was cut off is not mended. Reported as a
// finding: a RIFF size that ends before the data, and a wrong number of bytes per
// second.
func ReadWAV(r io.Reader, name string, limits Limits) (*WAV, error) {
	limits, err := limits.filled()
	if err != nil {
		return nil, err
	}
	s := &source{r: r, name: name, max: limits.MaxBytes}
	buffer := make([]byte, 32<<10)
	head := buffer[:12]
	if err := s.read(head, "the 12 bytes RIFF, size, WAVE"); err != nil {
		return nil, err
	}
	if string(head[:4]) != "RIFF" {
		return nil, s.fail(0, fmt.Sprintf("%q", head[:4]), `"RIFF" (neither RF64 nor RIFX are read)`)
	}
	if string(head[8:]) != "WAVE" {
		return nil, s.fail(8, fmt.Sprintf("%q", head[8:]), `"WAVE"`)
	}
	riffEnd := int64(binary.LittleEndian.Uint32(head[4:])) + 8
	var f format
	var findings []string
	haveFormat := false
	for {
		start := s.at
		if err := s.read(buffer[:8], "a chunk, the data chunk among them"); err != nil {
			return nil, err
		}
		id, size := string(buffer[:4]), int64(binary.LittleEndian.Uint32(buffer[4:]))
		switch id {
		case "fmt ":
			if haveFormat {
				return nil, s.fail(start, "a second format chunk", "one")
			}
			if f, findings, err = readFormat(s, size, buffer); err != nil {
				return nil, err
			}
			haveFormat = true
		case "data":
			if !haveFormat {
				return nil, s.fail(start, "the data chunk", "the format chunk before it")
			}
			if end := s.at + size; riffEnd < end {
				findings = append(findings, fmt.Sprintf("the RIFF header says that the file ends at byte %d, the data end at %d", riffEnd, end))
			}
			w, err := readData(s, size, f, limits, buffer)
			if err != nil {
				return nil, err
			}
			w.Findings = findings
			return w, nil
		default:
			if err := s.skip(size, buffer, fmt.Sprintf("the %d bytes of the chunk %q", size, id)); err != nil {
				return nil, err
			}
		}
		if size%2 == 1 {
			if err := s.read(buffer[:1], "the byte that pads an odd chunk"); err != nil {
				return nil, err
			}
		}
	}
}

func readFormat(s *source, size int64, buffer []byte) (f format, findings []string, err error) {
	at := s.at
	if size < 16 || size > 1<<16 {
		return f, nil, s.fail(at-4, fmt.Sprintf("a format chunk of %d bytes", size), "16, 18 or 40")
	}
	b := buffer[:min(size, 40)]
	if err := s.read(b, fmt.Sprintf("the %d bytes of the format chunk", size)); err != nil {
		return f, nil, err
	}
	if err := s.skip(size-int64(len(b)), buffer[40:], "the rest of the format chunk"); err != nil {
		return f, nil, err
	}
	le := binary.LittleEndian
	tag, align, bits := le.Uint16(b), int(le.Uint16(b[12:])), int(le.Uint16(b[14:]))
	f.channels, f.sampleRate, f.validBits = int(le.Uint16(b[2:])), le.Uint32(b[4:]), bits
	tagAt := at
	if tag == tagExtensible {
		if len(b) < 40 || le.Uint16(b[16:]) < 22 {
			return f, nil, s.fail(at+16, fmt.Sprintf("an extensible format chunk of %d bytes", size), "40, with an extension of 22")
		}
		f.extensible, f.mask = true, le.Uint32(b[20:])
		if v := int(le.Uint16(b[18:])); v != 0 {
			f.validBits = v
		}
		if [14]byte(b[26:40]) != subFormat {
			return f, nil, s.fail(at+26, fmt.Sprintf("the subformat % x", b[24:40]), "that of integers or floating point numbers")
		}
		tag, tagAt = le.Uint16(b[24:]), at+24
	}
	switch {
	case tag == tagPCM && bits == 16:
		f.encoding = Int16
	case tag == tagPCM && bits == 24:
		f.encoding = Int24
	case tag == tagPCM && bits == 32:
		f.encoding = Int32
	case tag == tagFloat && bits == 32:
		f.encoding = Float32
	case tag == tagFloat && bits == 64:
		f.encoding = Float64
	default:
		return f, nil, s.fail(tagAt, fmt.Sprintf("format %d of %d bits", tag, bits), "integers (1) of 16, 24 or 32 bits, or floating point numbers (3) of 32 or 64")
	}
	switch {
	case f.channels == 0 || f.channels > MaxChannels:
		return f, nil, s.fail(at+2, fmt.Sprintf("%d channels", f.channels), fmt.Sprintf("1 … %d", MaxChannels))
	case f.sampleRate == 0:
		return f, nil, s.fail(at+4, "a sample rate of 0 Hz", "more")
	case align != f.channels*f.encoding.size():
		return f, nil, s.fail(at+12, fmt.Sprintf("frames of %d bytes", align), fmt.Sprintf("%d for %d channels of %v", f.channels*f.encoding.size(), f.channels, f.encoding))
	case f.validBits > bits || f.validBits < 2 || f.encoding.float() && f.validBits != bits:
		return f, nil, s.fail(at+18, fmt.Sprintf("%d valid bits", f.validBits), fmt.Sprintf("at most the %d of the container, all of them of a float", bits))
	}
	if have, want := le.Uint32(b[8:]), uint64(f.sampleRate)*uint64(align); uint64(have) != want {
		findings = append(findings, fmt.Sprintf("the format chunk says %d bytes per second, its sample rate and frames make %d", have, want))
	}
	return f, findings, nil
}

func readData(s *source, size int64, f format, limits Limits, buffer []byte) (*WAV, error) {
	at, width := s.at, f.encoding.size()
	frame := width * f.channels
	switch {
	case size == 0:
		return nil, s.fail(at-4, "a data chunk of 0 bytes", "samples (a recording that was not closed has 0 here)")
	case size%int64(frame) != 0:
		return nil, s.fail(at-4, fmt.Sprintf("a data chunk of %d bytes", size), fmt.Sprintf("whole frames of %d bytes", frame))
	case size/int64(width) > int64(limits.MaxSamples):
		return nil, s.fail(at-4, fmt.Sprintf("%d samples of all channels", size/int64(width)), fmt.Sprintf("at most %d (Limits.MaxSamples)", limits.MaxSamples))
	}
	c := &Clip{sampleRate: float64(f.sampleRate), channels: make([][]float64, f.channels)}
	full := make([]int, f.channels)
	top := 1.0
	if !f.encoding.float() {
		top = 1 - math.Ldexp(1, 1-f.validBits)
	}
	frames := size / int64(frame)
	block := int64(len(buffer) / frame) // at least 16: 256 channels of 8 bytes are 2 KiB
	for done := int64(0); done < frames; {
		n := min(block, frames-done)
		b := buffer[:n*int64(frame)]
		if err := s.read(b, fmt.Sprintf("the %d bytes of data that the chunk promises from byte %d", size, at)); err != nil {
			return nil, err
		}
		for i := 0; i < len(b); i += frame {
			for k := range c.channels {
				x := f.encoding.decode(b[i+k*width:])
				if math.IsNaN(x) || math.IsInf(x, 0) {
					return nil, s.fail(at+done*int64(frame)+int64(i+k*width), fmt.Sprint(x), "a finite sample")
				}
				if x >= top || x <= -1 {
					full[k]++
				}
				c.channels[k] = append(c.channels[k], x)
			}
		}
		done += n
	}
	return &WAV{Clip: c, Encoding: f.encoding, ValidBits: f.validBits, Extensible: f.extensible,
		ChannelMask: f.mask, AtFullScale: full}, nil
}

// decode returns the sample at the start of b.
func (e Encoding) decode(b []byte) float64 {
	switch e {
	case Int16:
		return float64(int16(binary.LittleEndian.Uint16(b))) / (1 << 15)
	case Int24:
		return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)) / (1 << 31)
	case Int32:
		return float64(int32(binary.LittleEndian.Uint32(b))) / (1 << 31)
	case Float32:
		return float64(math.Float32frombits(binary.LittleEndian.Uint32(b)))
	default:
		return math.Float64frombits(binary.LittleEndian.Uint64(b))
	}
}

// WriteWAV writes a clip as a WAV file. Integers are rounded to the nearest code
// without dither; a sample beyond their full scale is refused, not clipped, and so
// is one that overflows a 32-bit float. The sample rate must be a whole number of
// hertz. The header is the extensible one for more than two channels and for
// integers of more than 16 bits, as its specification asks, with channel mask 0.
func WriteWAV(w io.Writer, c *Clip, e Encoding) error {
	if c == nil {
		return fmt.Errorf("signal: no clip to write")
	}
	width := e.size()
	if width == 0 {
		return fmt.Errorf("signal: encoding of a WAV file is %v, want one of the encodings", e)
	}
	rate := uint32(min(c.sampleRate, math.MaxUint32))
	if float64(rate) != c.sampleRate || rate == 0 {
		return fmt.Errorf("signal: sample rate of a WAV file is %g Hz, want a whole number of 1 … %d", c.sampleRate, uint32(math.MaxUint32))
	}
	frame := width * c.Channels()
	size := int64(c.Len()) * int64(frame)
	const largest = math.MaxUint32 - 128
	if size > largest || int64(rate)*int64(frame) > math.MaxUint32 {
		return fmt.Errorf("signal: WAV file of %d bytes and %d bytes a second, want at most %d and %d", size, int64(rate)*int64(frame), int64(largest), int64(math.MaxUint32))
	}
	le := binary.LittleEndian
	tag := uint16(tagPCM)
	if e.float() {
		tag = tagFloat
	}
	f := le.AppendUint16(nil, tag)
	f = le.AppendUint16(f, uint16(c.Channels()))
	f = le.AppendUint32(f, rate)
	f = le.AppendUint32(f, rate*uint32(frame))
	f = le.AppendUint16(f, uint16(frame))
	f = le.AppendUint16(f, uint16(8*width))
	switch {
	case c.Channels() > 2 || e == Int24 || e == Int32:
		le.PutUint16(f, tagExtensible)
		f = le.AppendUint16(f, 22)
		f = le.AppendUint16(f, uint16(8*width))
		f = le.AppendUint32(f, 0)
		f = le.AppendUint16(f, tag)
		f = append(f, subFormat[:]...)
	case e.float():
		f = le.AppendUint16(f, 0)
	}
	var h []byte
	h = append(h, "WAVEfmt "...)
	h = le.AppendUint32(h, uint32(len(f)))
	h = append(h, f...)
	if len(f) > 16 { // "fact" is for all but plain integers
		h = append(h, "fact"...)
		h = le.AppendUint32(h, 4)
		h = le.AppendUint32(h, uint32(c.Len()))
	}
	h = append(h, "data"...)
	h = le.AppendUint32(h, uint32(size))
	out := append([]byte("RIFF"), le.AppendUint32(nil, uint32(int64(len(h))+size+size%2))...)
	out = append(out, h...)
	for n := range c.Len() {
		for k, s := range c.channels {
			var ok bool
			if out, ok = e.append(out, s[n]); !ok {
				return fmt.Errorf("signal: sample %d of channel %d is %g, want one that a %v holds (full scale is 1): scale the clip", n, k+1, s[n], e)
			}
		}
		if len(out) >= 32<<10 {
			if _, err := w.Write(out); err != nil {
				return fmt.Errorf("signal: writing a WAV file: %w", err)
			}
			out = out[:0]
		}
	}
	if size%2 == 1 {
		out = append(out, 0)
	}
	if _, err := w.Write(out); err != nil {
		return fmt.Errorf("signal: writing a WAV file: %w", err)
	}
	return nil
}

// append writes the sample to the end of b, and reports whether it fits.
func (e Encoding) append(b []byte, x float64) ([]byte, bool) {
	le := binary.LittleEndian
	switch e {
	case Float32:
		v := float32(x)
		return le.AppendUint32(b, math.Float32bits(v)), !math.IsInf(float64(v), 0)
	case Float64:
		return le.AppendUint64(b, math.Float64bits(x)), true
	}
	full := math.Ldexp(1, 8*e.size()-1)
	v := math.RoundToEven(x * full)
	if v < -full || v >= full {
		return b, false
	}
	k := uint32(int32(v))
	for i := range e.size() {
		b = append(b, byte(k>>(8*i)))
	}
	return b, true
}
