package export_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/signal"
)

// arithmetics are one of each kind: 32 bits with a wide accumulator and shifted
// coefficients, 24 bits, words beyond 2^53, and the two floating points.
func arithmetics() []dsp.Arithmetic {
	return []dsp.Arithmetic{
		{Signal: dsp.Fixed(4, 27), Coefficient: dsp.Fixed(1, 30), Accumulator: 80, Rounding: dsp.HalfEven, Exponent: 3},
		{Signal: dsp.Fixed(3, 28), Coefficient: dsp.Fixed(1, 22), Accumulator: 64, Rounding: dsp.Floor, Overflow: dsp.Wrap},
		{Signal: dsp.Fixed(3, 36), Coefficient: dsp.Fixed(2, 57), Accumulator: 128, Rounding: dsp.TowardZero},
		{Signal: dsp.Float32(), Coefficient: dsp.Float32()},
		{Signal: dsp.Float64(), Coefficient: dsp.Float64()},
	}
}

// possible reports whether an arithmetic has the chains in a structure: a state variable
// has coefficients of some 10, say.
func possible(t testing.TB, a dsp.Arithmetic, o dsp.Options) bool {
	t.Helper()
	for _, c := range chains(t) {
		if _, err := dsp.Realise(dsp.Chain{Sections: c.Cascade}, a, o); err != nil {
			return false
		}
	}
	return true
}

func realise(t testing.TB, c dsp.Chain, a dsp.Arithmetic, o dsp.Options) *dsp.Program {
	t.Helper()
	r, err := dsp.Realise(c, a, o)
	if err != nil {
		t.Fatal(err)
	}
	return r.Program
}

func linearPhase(t testing.TB) *fir.Filter {
	t.Helper()
	f, err := fir.Windowed(96000, 31, analog.Lowpass{Fc: 20000}, fir.Hann{})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// full returns a document of everything, committed to an arithmetic.
func full(t testing.TB, a dsp.Arithmetic, o dsp.Options) *export.Document {
	t.Helper()
	d := document(t)
	d.Unit = export.Unit{Side: export.Left, Serial: "0007", Board: "input board, revision 3"}
	f := linearPhase(t)
	for i, c := range chains(t) {
		w := &d.Ways[i]
		chain := dsp.Chain{Sections: c.Cascade}
		if i == 1 {
			chain.FIR = []*fir.Filter{f}
			w.FIR = []export.FIR{export.FIROf(f)}
		}
		w.Program = realise(t, chain, a, o)
	}
	for _, set := range []struct {
		setting, name string
		s             digital.Section
	}{{"placement", "wall", digital.LowShelf{F0: 190, Gain: 0.7, Q: 0.6}}, {"placement", "corner", digital.LowShelf{F0: 160, Gain: 0.5, Q: 0.6}}, {"tone", "warm", digital.HighShelf{F0: 3000, Gain: 0.9, Q: 0.6}}} {
		c, err := digital.NewCascade(96000, set.s)
		if err != nil {
			t.Fatal(err)
		}
		d.Ways[0].Sets = append(d.Ways[0].Sets, export.Set{
			Setting: set.setting, Name: set.name, Gain: 1, Sections: export.SectionsOf(c), Program: realise(t, dsp.Chain{Sections: c}, a, o),
		})
	}
	if err := d.Validate(); err != nil {
		t.Fatal(err)
	}
	return d
}

// noise is deterministic, and loud enough for saturation.
func noise(n int, amplitude float64) []float64 {
	r := rand.New(rand.NewPCG(7, 1))
	x := make([]float64, n)
	for i := range x {
		x[i] = amplitude * (2*r.Float64() - 1)
	}
	return x
}

// Whatever is committed reads back to an equal program, that gives the same
// samples to the bit.
func TestProgramReadsBackEqual(t *testing.T) {
	accepts := schemaOf(t, 2)
	for _, a := range arithmetics() {
		options := []dsp.Options{{}}
		for _, s := range dsp.Structures() {
			if o := (dsp.Options{Structure: s, KeepOrder: true}); possible(t, a, o) {
				options = append(options, o)
			}
		}
		if len(options) < 5 {
			t.Errorf("%v: only %d ways to commit", a, len(options))
		}
		if a.Coefficient.Word() <= 32 && a.Signal.Number == dsp.FixedPoint {
			options = append(options, dsp.Options{Structure: dsp.DirectI, Split: dsp.SplitAlways, Feedback: 2})
		}
		for _, o := range options {
			d := full(t, a, o)
			text := write(t, d)
			if err := accepts(string(text)); err != nil {
				t.Errorf("%v, %+v: schema refuses: %v", a, o, err)
			}
			got, err := export.ReadJSON(bytes.NewReader(text))
			if err != nil {
				t.Fatalf("%v, %+v: %v", a, o, err)
			}
			if !reflect.DeepEqual(got, d) {
				t.Errorf("%v, %+v: document read back differs", a, o)
			}
			if again := write(t, got); !bytes.Equal(again, text) {
				t.Errorf("%v, %+v: written again it has other bytes", a, o)
			}
			x := noise(2000, 3)
			for i := range d.Ways {
				one, two := d.Ways[i].Program.NewRunner().Process(nil, x), got.Ways[i].Program.NewRunner().Process(nil, x)
				for k := range one {
					if math.Float64bits(one[k]) != math.Float64bits(two[k]) {
						t.Errorf("%v, %+v, way %s: sample %d is %g, and %g read back", a, o, d.Ways[i].Name, k, one[k], two[k])
						break
					}
				}
			}
		}
	}
}

// What a program consists of is what goes through the document: a field that is added
// there has to be added here.
func TestNothingOfAProgramIsLeftOut(t *testing.T) {
	for _, c := range []struct {
		v    any
		want []string
	}{
		{dsp.Program{}, []string{"SampleRate", "Arithmetic", "Sections", "Gain", "FIR", "Delay"}},
		{dsp.Arithmetic{}, []string{"Signal", "Coefficient", "Accumulator", "Rounding", "Overflow", "Exponent"}},
		{dsp.Format{}, []string{"Number", "M", "N"}},
		{dsp.Section{}, []string{"Design", "Structure", "Coefficients", "InputShift", "Scale", "Feedback"}},
		{dsp.Coefficient{}, []string{"Value", "Word", "Shift", "Low", "LowBits"}},
		{dsp.Gain{}, []string{"Coefficient", "Shift"}},
		{dsp.FIR{}, []string{"Design", "Taps", "Delay"}},
	} {
		var names []string
		for _, f := range reflect.VisibleFields(reflect.TypeOf(c.v)) {
			names = append(names, f.Name)
		}
		if !slices.Equal(names, c.want) {
			t.Errorf("%T has the fields %v, the document those of %v", c.v, names, c.want)
		}
	}
}

// Each thing that a version does not have makes a document one of the next, by itself, and
// comes back.
func TestEachThingMakesItsVersion(t *testing.T) {
	whole := full(t, arithmetics()[0], dsp.Options{})
	for name, add := range map[string]func(d *export.Document){
		"nothing": func(*export.Document) {},
		"side":    func(d *export.Document) { d.Unit.Side = export.Right },
		"serial":  func(d *export.Document) { d.Unit.Serial = "1" },
		"FIR":     func(d *export.Document) { d.Ways[1].FIR = whole.Ways[1].FIR },
		"program": func(d *export.Document) { d.Ways[0].Program = whole.Ways[0].Program },
		"sets":    func(d *export.Document) { d.Ways[1].Sets = whole.Ways[0].Sets[:1] },
		"default": func(d *export.Document) {
			d.Ways[1].Sets = slices.Clone(whole.Ways[0].Sets[:2])
			d.Ways[1].Sets[1].Default = true
		},
	} {
		d := document(t)
		add(d)
		text := write(t, d)
		want := `"version": 2`
		switch name {
		case "nothing":
			want = `"version": 1`
		case "default":
			want = `"version": 3`
		}
		if !bytes.Contains(text, []byte(want)) {
			t.Errorf("%s: no %s", name, want)
		}
		if got, err := export.ReadJSON(bytes.NewReader(text)); err != nil || !reflect.DeepEqual(got, d) {
			t.Errorf("%s: reads back otherwise, %v", name, err)
		}
	}
}

// The names of the document are what their constants say.
func TestNamesOfChoices(t *testing.T) {
	contains := func(d *export.Document, want string) {
		t.Helper()
		if text := write(t, d); !bytes.Contains(text, []byte(want)) {
			t.Errorf("%s does not occur", want)
		}
	}
	d := document(t)
	p := &dsp.Program{SampleRate: 96000, Arithmetic: dsp.Arithmetic{Signal: dsp.Fixed(0, 23), Coefficient: dsp.Fixed(1, 30), Accumulator: 64}}
	d.Ways[0].Program = p
	for r, want := range map[dsp.Rounding]string{dsp.HalfUp: "nearest_half_up", dsp.HalfEven: "nearest_half_even", dsp.Floor: "floor", dsp.TowardZero: "toward_zero"} {
		p.Arithmetic.Rounding = r
		contains(d, `"rounding": "`+want+`"`)
	}
	for o, want := range map[dsp.Overflow]string{dsp.Saturate: "saturate", dsp.Wrap: "wrap"} {
		p.Arithmetic.Overflow = o
		contains(d, `"overflow": "`+want+`"`)
	}
	p.Arithmetic = dsp.Arithmetic{Signal: dsp.Float64(), Coefficient: dsp.Float64()}
	for s, want := range map[dsp.Structure]string{
		dsp.DirectI: "direct_form_1", dsp.DirectII: "direct_form_2", dsp.TransposedI: "transposed_form_1", dsp.TransposedII: "transposed_form_2",
		dsp.Coupled: "coupled", dsp.StateVariable: "state_variable", dsp.Lattice: "lattice",
	} {
		p.Sections = []dsp.Section{{Structure: s}}
		for range s.Names() {
			p.Sections[0].Coefficients = append(p.Sections[0].Coefficients, dsp.Coefficient{Value: 0.25})
		}
		contains(d, `"structure": "`+want+`"`)
	}
	for side, want := range map[export.Side]string{export.NoSide: "none", export.Left: "left", export.Right: "right"} {
		d.Unit.Side = side
		contains(d, `"cabinet_side": "`+want+`"`)
	}
}

// Integers beyond 2^53 are strings, since many readers of JSON know float64 only
// (RFC 8259, section 6); those up to it are numbers.
func TestLongWordsAreStrings(t *testing.T) {
	a := dsp.Arithmetic{Signal: dsp.Fixed(0, 23), Coefficient: dsp.Fixed(1, 60), Accumulator: 128}
	const edge = 1 << 53
	p := &dsp.Program{SampleRate: 96000, Arithmetic: a, FIR: []dsp.FIR{{Taps: []dsp.Coefficient{
		{Word: edge, Shift: 60}, {Word: edge + 1, Shift: 60}, {Word: -edge, Shift: 60}, {Word: -edge - 1, Shift: 60}, {Word: 1<<61 - 1, Shift: 60}, {Word: -1 << 61, Shift: 60},
	}}}}
	d := document(t)
	d.Ways[0].FIR, d.Ways[0].Program = []export.FIR{{Taps: []float64{1}}}, p
	text := write(t, d)
	for _, want := range []string{"\n              9007199254740992,", `"9007199254740993"`, "\n              -9007199254740992,", `"-9007199254740993"`, `"2305843009213693951"`, `"-2305843009213693952"`} {
		if !strings.Contains(string(text), want) {
			t.Errorf("%s does not occur", want)
		}
	}
	if err := schemaOf(t, 2)(string(text)); err != nil {
		t.Error(err)
	}
	got, err := export.ReadJSON(bytes.NewReader(text))
	if err != nil || !reflect.DeepEqual(got, d) {
		t.Errorf("read back %v", err)
	}
	for _, c := range []struct{ old, new string }{
		{`9007199254740992,`, `"9007199254740992",`},
		{`"9007199254740993"`, `9007199254740993`},
		{`"9007199254740993"`, `"09007199254740993"`},
		{`"9007199254740993"`, `"+9007199254740993"`},
		{`"9007199254740993"`, `"9007199254740993.0"`},
		{`"9007199254740993"`, `"99999999999999999999"`},
		{`9007199254740992,`, `9007199254740992.0,`},
		{`9007199254740992,`, `9e15,`},
		{`9007199254740992,`, `true,`},
	} {
		if bad := strings.Replace(string(text), c.old, c.new, 1); bad == string(text) {
			t.Errorf("%s does not occur", c.old)
		} else if _, err := export.ReadJSON(strings.NewReader(bad)); err == nil || !strings.Contains(err.Error(), "want decimal digits") {
			t.Errorf("%s instead of %s: %v", c.new, c.old, err)
		}
	}
}

func TestVersion2Refuses(t *testing.T) {
	fixed, float := arithmetics()[0], arithmetics()[3]
	accepts := schemaOf(t, 2)
	documents := map[dsp.Number]string{
		dsp.FixedPoint: string(write(t, full(t, fixed, dsp.Options{Structure: dsp.DirectI, Split: dsp.SplitAlways}))),
		dsp.Binary32:   string(write(t, full(t, float, dsp.Options{Structure: dsp.TransposedII}))),
	}
	for _, c := range []struct {
		of            dsp.Number
		old, new      string
		want          string
		schemaAccepts bool // where the rule is not one of a schema
	}{
		{0, `"cabinet_side": "left"`, `"cabinet_side": "top"`, `cabinet_side is "top"`, false},
		{0, `"cabinet_side": "left",`, ``, "unit has no field cabinet_side", false},
		{0, `"serial": "0007"`, `"serial": "00\n07"`, "control characters", true},
		{0, `"serial": "0007",`, `"serial": null,`, "null, want a value", false},
		{0, `"inputs_sha256": "`, `"inputs_sha256": "0`, "the list was changed", false},
		{0, `"path": "datasets/a.txt"`, `"path": "datasets/b.txt"`, "the list was changed", true},
		{0, `"setting": "placement"`, `"setting": ""`, "setting is empty", false},
		{0, `"name": "corner"`, `"name": "wall"`, `set "placement: wall" is there twice`, true},
		{0, `"setting": "tone"`, `"knob": "tone"`, `unknown field "knob"`, false},
		{0, `"structure": "direct_form_1"`, `"structure": "direct"`, `structure is "direct"`, false},
		{0, `"rounding": "nearest_half_even"`, `"rounding": "up"`, `rounding is "up"`, false},
		{0, `"overflow": "saturate"`, `"overflow": "clip"`, `overflow is "clip"`, false},
		{0, `"signal": "Q4.27"`, `"signal": "Q04.27"`, `format is "Q04.27"`, false},
		{0, `"signal": "Q4.27"`, `"signal": "Q4.27 "`, `format is "Q4.27 "`, false},
		{0, `"signal": "Q4.27"`, `"signal": "Q40.40"`, "81 bits", true},
		{0, `"signal": "Q4.27"`, `"signal": "float32"`, "belongs to fixed point", false},
		{0, `"accumulator_bits": 80,`, ``, "no field accumulator_bits", false},
		{0, `"accumulator_bits": 80`, `"accumulator_bits": 40`, "accumulator", true},
		{0, `"exponent_bits": 3`, `"exponent_bits": 31`, "exponent", false},
		{0, `"name": "b0"`, `"name": "b1"`, `has not the name "b0"`, true},
		{0, `"low_bits": 31`, `"low_bits": 30`, "is split at 30 bits", true},
		{0, `"low_bits": 31`, `"low_bits": 0`, "low_bits is 0", false},
		{0, `"lows": [`, `"lows": [1,`, "lows, as many", true},
		{0, "\"gain\": {\n          \"coefficient\": {", `"gain": { "coefficient": { "name": "g",`, "gain has a name", false},
		{0, `"input_shift": 0`, `"input_shift": 1`, "input shift", true},
		{0, `"input_shift": 0`, `"input_shift": 0.5`, "0.5", false},
		{0, `"feedback_order": 0`, `"feedback_order": 3`, "feedback", false},
		{0, `"scale_bits": 0`, `"scale_bits": 4000`, "scaled by 4000 bits", false},
		{0, `"latency_samples": 15`, `"latency_samples": -15`, "-15 samples", false},
		{0, `"delay_samples": 7,`, `"delay_samples": 8,`, "want the same", true},
		{0, `"taps": [`, `"taps": [1e999,`, "1e999", false},
		{0, `"fir": [],`, ``, "no field fir", false},
		{1, `"signal": "float32"`, `"signal": "float64"`, "want both fixed point or both the same", true},
		{1, `"coefficient": "float32"`, `"coefficient": "float32", "rounding": "floor"`, "belongs to fixed point", false},
		{1, `"value": `, `"value": 1e-9, "b0": `, "", false},
		{1, `"value": `, `"word": 1, "value": `, "want value alone", false},
		{1, `"values": [`, `"values": [0.1,`, "float32 does not have", true},
		{1, `"values": [`, `"shift": 3, "values": [`, "want values alone", false},
	} {
		good := documents[c.of]
		refuses(t, good, c.old, c.new, c.want, accepts, c.schemaAccepts)
	}
}

// Faults of a program that a document in memory may have.
func TestProgramsAreExamined(t *testing.T) {
	for want, spoil := range map[string]func(d *export.Document){
		"want one sample rate": func(d *export.Document) { d.Ways[0].Program.SampleRate = 48000 },
		"is the word":          func(d *export.Document) { d.Ways[0].Program.Sections[0].Coefficients[0].Word = 1 << 31 },
		"unstable": func(d *export.Document) {
			d.Ways[0].Program.Sections[0].Coefficients[4].Word = 1<<31 - 1
			d.Ways[0].Program.Sections[0].Coefficients[4].Shift = 30
		},
		"gain is 0":             func(d *export.Document) { d.Ways[0].Program.Gain = &dsp.Gain{Coefficient: dsp.Coefficient{Shift: 30}} },
		"1 FIR filters, the":    func(d *export.Document) { d.Ways[1].FIR = nil },
		"want none in a set":    func(d *export.Document) { d.Ways[0].Sets[0].Program.Delay = 1 },
		"set \"tone: warm\"":    func(d *export.Document) { d.Ways[0].Sets[2].Sections[0].Coefficients.A2 = 1.1 },
		"gain is the ratio 0":   func(d *export.Document) { d.Ways[0].Sets[0].Gain = 0 },
		"tap 3 of 31 is NaN":    func(d *export.Document) { d.Ways[1].FIR[0].Taps[3] = math.NaN() },
		"has 0 taps":            func(d *export.Document) { d.Ways[1].FIR[0].Taps = nil },
		"cabinet side is":       func(d *export.Document) { d.Unit.Side = 3 },
		"side is Side(-1)":      func(d *export.Document) { d.Unit.Side = -1 },
		"control characters":    func(d *export.Document) { d.Ways[0].Program.Sections[0].Design = "a\tb" },
		"board":                 func(d *export.Document) { d.Unit.Board = "\n" },
		"scaled by -1101 bits":  func(d *export.Document) { d.Ways[0].Program.Sections[0].Scale = -1101 },
		"delay is -1 samples":   func(d *export.Document) { d.Ways[1].FIR[0].Delay = -1 },
		"name of a set is empt": func(d *export.Document) { d.Ways[0].Sets[1].Name = "" },
	} {
		d := full(t, arithmetics()[0], dsp.Options{Structure: dsp.DirectI})
		spoil(d)
		var b bytes.Buffer
		if err := d.WriteJSON(&b); err == nil || !strings.HasPrefix(err.Error(), "export: ") || !strings.Contains(err.Error(), want) || b.Len() > 0 {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// A second published document, of version 2, as long as that is supported. The inputs'
// sum is that of sha256sum: see the command in testdata/README.md.
func TestPublishedDocumentOfVersion2(t *testing.T) {
	d, text := published(t, 2)
	if err := schemaOf(t, 2)(string(text)); err != nil {
		t.Error(err)
	}
	if got := d.InputsSHA256(); got != "d59a9804857ac90c123c495882c2e8674345a1a80dcc73e74c5d00cef5f1f30a" {
		t.Errorf("inputs have %s", got)
	}
	w, err := d.Way("woofer")
	if err != nil {
		t.Fatal(err)
	}
	c := w.Program.Sections[0].Coefficients[3]
	if c.Word != -2123456789 || c.Shift != 30 || w.Program.Arithmetic.Accumulator != 72 || w.Program.Sections[0].Structure != dsp.DirectI {
		t.Errorf("a1 is %+v of %+v", c, w.Program.Arithmetic)
	}
	if d.Unit != (export.Unit{Side: export.Right, Serial: "000123", Board: "B2"}) {
		t.Errorf("unit %+v", d.Unit)
	}
	s, err := d.SetCascade("woofer", "placement", "wall")
	if err != nil || s.Gain() != 0.5 || s.Len() != 0 {
		t.Errorf("set %+v, %v", s, err)
	}
	if _, err := d.SetCascade("woofer", "placement", "desk"); err == nil || !strings.Contains(err.Error(), `["placement: wall"]`) {
		t.Errorf("set that is not there: %v", err)
	}
}

func TestTurned(t *testing.T) {
	d := full(t, arithmetics()[0], dsp.Options{})
	before := write(t, d)
	got, err := d.Turned(0.25)
	if err != nil {
		t.Fatal(err)
	}
	for i, w := range got.Ways {
		if w.Gain != d.Ways[i].Gain/4 || w.Program != nil || len(w.Sets) != len(d.Ways[i].Sets) || w.Delay != d.Ways[i].Delay {
			t.Errorf("way %q: %+v", w.Name, w)
		}
	}
	if !bytes.Equal(write(t, d), before) {
		t.Error("the document itself was turned")
	}
	d.Ways[0].Gain = 0.25
	for _, k := range []float64{0, -1, math.NaN(), math.Inf(1), 5e-324} { // the last leaves no gain
		if got, err := d.Turned(k); err == nil || got != nil {
			t.Errorf("turned by %g", k)
		}
	}
}

func TestFIRAsFiles(t *testing.T) {
	f := export.FIROf(linearPhase(t))
	var b bytes.Buffer
	if err := f.WriteWAV(&b, 96000, signal.Float64); err != nil {
		t.Fatal(err)
	}
	w, err := signal.ReadWAV(&b, "taps.wav", signal.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := w.Clip.Channel(0)
	if err != nil || !slices.Equal(got, f.Taps) || w.Clip.SampleRate() != 96000 || w.Encoding != signal.Float64 {
		t.Errorf("WAV has %d samples at %g Hz, %v", w.Clip.Len(), w.Clip.SampleRate(), err)
	}
	b.Reset()
	if err := f.WriteCSV(&b, 96000); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 32 || strings.Join(rows[0], ",") != "sample,time_s,amplitude" {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i, row := range rows[1:] {
		at, err1 := strconv.ParseFloat(row[1], 64)
		v, err2 := strconv.ParseFloat(row[2], 64)
		if err1 != nil || err2 != nil || row[0] != strconv.Itoa(i) || at != float64(i)/96000 || v != f.Taps[i] {
			t.Errorf("row %d: %v", i, row)
		}
	}
	g, err := f.Filter(96000)
	if err != nil || g.Samples() != 15 || !slices.Equal(g.Taps(), f.Taps) {
		t.Errorf("filter %v, %v", g, err)
	}
	f.Taps[0] = 1.5
	if err := f.WriteWAV(&b, 96000, signal.Int24); err == nil {
		t.Error("tap of 1.5 written as an integer")
	}
	if err := f.WriteWAV(&b, 44100.5, signal.Float64); err == nil {
		t.Error("half a hertz written into a WAV file")
	}
	f.Taps[0] = math.Inf(1)
	if f.WriteCSV(&b, 96000) == nil || f.WriteWAV(&b, 96000, signal.Float64) == nil {
		t.Error("infinite tap written")
	}
}

// The integers of a program, read from the table, are the coefficients.
func TestProgramCSV(t *testing.T) {
	for _, a := range arithmetics() {
		o := dsp.Options{}
		if a.Signal.Number == dsp.FixedPoint && a.Coefficient.Word() <= 32 {
			o = dsp.Options{Structure: dsp.DirectI, Split: dsp.SplitAlways, Feedback: 1}
		}
		d := full(t, a, o)
		var b bytes.Buffer
		if err := d.WriteProgramCSV(&b); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		rows = rows[1:]
		next := func(way, set, part string, want float64) {
			t.Helper()
			r := rows[0]
			rows = rows[1:]
			var v [5]float64
			for i, s := range r[6:11] {
				if s != "" {
					if v[i], err = strconv.ParseFloat(s, 64); err != nil {
						t.Fatal(err)
					}
				}
			}
			got := v[0]*math.Pow(2, -v[1]) + v[2]*math.Pow(2, -v[1]-v[3]) + v[4]
			if r[0] != way || r[2] != set || r[3] != part || math.Abs(got-want) > 1e-15*math.Abs(want) {
				t.Errorf("%v: row %v is %g of %s, %s, %s; want %g of %s, %s, %s", a, r, got, r[0], r[2], r[3], want, way, set, part)
			}
		}
		all := func(way, set string, p *dsp.Program) {
			for i, s := range p.Sections {
				for _, c := range s.Coefficients {
					next(way, set, "section "+strconv.Itoa(i+1), c.Float())
				}
			}
			if p.Gain != nil {
				next(way, set, "gain", p.Gain.Float())
			}
			for _, f := range p.FIR {
				for _, c := range f.Taps {
					next(way, set, "fir 1", c.Float())
				}
			}
		}
		for _, w := range d.Ways {
			all(w.Name, "", w.Program)
			for _, s := range w.Sets {
				all(w.Name, s.Name, s.Program)
			}
		}
		if len(rows) != 0 {
			t.Errorf("%v: %d rows are left", a, len(rows))
		}
	}
	if err := document(t).WriteProgramCSV(&bytes.Buffer{}); err == nil {
		t.Error("programs written of a document without")
	}
}

// Sets are in the table of the design, in two columns more.
func TestSetsInCSV(t *testing.T) {
	d := full(t, arithmetics()[4], dsp.Options{})
	d.Ways[1].Sets = d.Ways[0].Sets[:1] // of the way that is inverted, and late
	var b bytes.Buffer
	if err := d.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if n := len(rows[0]); n != 14 || rows[0][12] != "setting" || rows[0][13] != "set" || len(rows) != 1+5+3+2+1 {
		t.Fatalf("%d rows of %d columns, %v", len(rows), n, rows[0])
	}
	r := rows[7]
	c := d.Ways[0].Sets[1].Sections[0].Coefficients
	if r[0] != "woofer" || r[12] != "placement" || r[13] != "corner" || r[6] != strconv.FormatFloat(c.B0, 'g', -1, 64) || rows[1][12] != "" {
		t.Errorf("row %v", r)
	}
	if r = rows[11]; r[0] != "tweeter" || r[2] != "normal" || r[3] != "1" || r[4] != "0" || r[13] != "wall" || rows[10][2] != "inverted" || rows[10][4] != "7" {
		t.Errorf("rows %v, %v", rows[10], r)
	}
}
