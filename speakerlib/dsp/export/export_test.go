package export_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
	"example.org/loudspeaker/speakerlib/level"
)

const emptyFile = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855" // SHA-256 of nothing, FIPS 180-4 test value

func chains(t testing.TB) []export.Chain {
	t.Helper()
	woofer, err := digital.NewCascade(96000,
		digital.Relocate{From: digital.Resonance{F: 62.1, Q: 0.93}, To: digital.Resonance{F: 35.7, Q: 0.71}},
		digital.Highpass{F0: 22.3, Q: 0.7}, digital.Peak{F0: 331.7, Gain: level.Ratio(-2.345), Q: 1.23},
		digital.FirstLowShelf{F0: 190, Gain: level.Ratio(1.7)}, digital.Lowpass{F0: 2300, Q: 0.54})
	if err != nil {
		t.Fatal(err)
	}
	if woofer, err = woofer.WithGain(level.Ratio(-3.21)); err != nil {
		t.Fatal(err)
	}
	tweeter, err := digital.NewCascade(96000, digital.Highpass{F0: 2300, Q: 1.31}, digital.Notch{F0: 980, Q: 2})
	if err != nil {
		t.Fatal(err)
	}
	if tweeter, err = tweeter.WithDelay(7); err != nil {
		t.Fatal(err)
	}
	return []export.Chain{{"woofer", woofer}, {"tweeter", tweeter.WithPolarity(true)}}
}

func document(t testing.TB) *export.Document {
	t.Helper()
	d, err := export.New("a study", "2031-02-03", chains(t), []export.Input{{"datasets/a.txt", emptyFile}})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func write(t testing.TB, d *export.Document) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := d.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestReadsBackToTheSameBits(t *testing.T) {
	text := write(t, document(t))
	d, err := export.ReadJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(d, document(t)) {
		t.Error("document read back differs")
	}
	if again := write(t, d); !bytes.Equal(again, text) {
		t.Error("written again it has other bytes")
	}
	for _, c := range chains(t) {
		got, err := d.Cascade(c.Name)
		if err != nil {
			t.Fatal(err)
		}
		if !got.Equal(c.Cascade) {
			t.Errorf("chain %s read back differs", c.Name)
		}
		for i := range got.Len() {
			a, b := reflect.ValueOf(got.At(i)), reflect.ValueOf(c.Cascade.At(i))
			for k := range a.NumField() {
				if math.Float64bits(a.Field(k).Float()) != math.Float64bits(b.Field(k).Float()) {
					t.Errorf("chain %s, section %d, %s: bits differ", c.Name, i, a.Type().Field(k).Name)
				}
			}
		}
	}
	if _, err := d.Cascade("midrange"); err == nil || !strings.Contains(err.Error(), `["woofer" "tweeter"]`) {
		t.Errorf("way that is not there: error %v", err)
	}
}

// published reads the document of a version as it was published, which is written the same.
func published(t *testing.T, version int) (*export.Document, []byte) {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("testdata/release-%d.json", version))
	if err != nil {
		t.Fatal(err)
	}
	d, err := export.ReadJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if got := write(t, d); !bytes.Equal(got, text) {
		t.Errorf("written again:\n%s", got)
	}
	return d, text
}

// A document of version 1 as it was first published, written by hand: it must
// be read, and written the same, as long as version 1 is supported. It holds the
// extremes of float64 and of stability.
func TestFirstPublishedDocument(t *testing.T) {
	d, _ := published(t, 1)
	w, err := d.Way("woofer")
	if err != nil {
		t.Fatal(err)
	}
	want := digital.Biquad{B0: 1, B1: math.Copysign(0, -1), B2: 5e-324, A1: -1.9999999999999998, A2: 0.9999999999999999}
	if got := w.Sections[1].Coefficients; got != want || !math.Signbit(got.B1) {
		t.Errorf("section 2 is %+v, want %+v", got, want)
	}
	if w.Gain != 0.7079457843841379 || w.Inverted || d.SampleRate != 96000 || d.Date != "2031-02-03" {
		t.Errorf("read %+v", d)
	}
	tw, err := d.Cascade(`tweeter, "hot" <2>`)
	if err != nil || !tw.Inverted() || tw.Delay() != 3 || tw.Len() != 0 {
		t.Errorf("second way %+v, %v", tw, err)
	}
	if d.Inputs[0].SHA256 != emptyFile {
		t.Errorf("inputs %+v", d.Inputs)
	}
}

// The schema, read by the part of a JSON Schema validator (draft 2020-12) that
// it needs, accepts what is written and refuses what the reader refuses.
func TestSchemaAgreesWithTheReader(t *testing.T) {
	accepts := schemaOf(t, 1)
	good := string(write(t, document(t)))
	if err := accepts(good); err != nil {
		t.Errorf("schema refuses what is written: %v", err)
	}
	_, text := published(t, 1)
	if err := accepts(string(text)); err != nil {
		t.Errorf("schema refuses the published document: %v", err)
	}
	for _, c := range []struct{ old, new, want string }{
		{`"version": 1`, `"version": 4`, "version is 4, want 1 to 3"},
		{`"version": 1`, `"version": 0`, "version is 0, want 1 to 3"},
		{`"version": 1`, `"version": 2`, "document has no field unit"},
		{`"study": "a study"`, `"study": "a study", "unit": {}`, `unknown field "unit"`},
		{`"format": "loudspeaker-coefficients"`, `"format": "x"`, `format is "x"`},
		{`"format": "loudspeaker-coefficients",`, ``, "no field format"},
		{`"version": 1,`, ``, "no field version"},
		{`"study": "a study",`, ``, "document has no field study"},
		{`"study": "a study"`, `"study": ""`, "study is empty"},
		{`"date": "2031-02-03"`, `"date": "3 Feb"`, `date is "3 Feb", want YYYY-MM-DD`},
		{`"sample_rate_hz": 96000`, `"sample_rate_hz": 0`, "sample rate is 0 Hz"},
		{`"sample_rate_hz": 96000`, `"sample_rate_hz": "96 kHz"`, "cannot unmarshal string"},
		{`"sample_rate_hz": 96000`, `"sample_rate_hz": null`, "no field sample_rate_hz, or null"},
		{`"word_format": "float64"`, `"word_format": "q31"`, `word format is "q31", want "float64"`},
		{`"study": "a study"`, `"study": "a study", "author": "x"`, `line 4, column 30: unknown field "author"`},
		{`"name": "woofer"`, `"nickname": "woofer"`, `unknown field "nickname"`},
		{`"name": "woofer",`, ``, "way 1 has no field name"},
		{`"polarity": "inverted"`, `"polarity": "180"`, `polarity is "180", want "normal" or "inverted"`},
		{`"delay_samples": 7`, `"delay_samples": -7`, "delay is -7 samples"},
		{`"delay_samples": 7`, `"delay_samples": 7.5`, "7.5"},
		{`"delay_samples": 7`, `"delay_samples": 1048577`, fmt.Sprintf("want 0 to %d", digital.MaxDelay)},
		{`"gain_ratio": 1`, `"gain_ratio": -1`, "gain is the ratio -1"},
		{`"path": "datasets/a.txt"`, `"path": ""`, "path of an input is empty"},
		{`"sha256": "e3b0`, `"sha256": "E3b0`, "want 64 lower-case hexadecimal digits"},
		{`"sha256": "e3b0`, `"sha256": "e3`, "want 64"},
		{`"a2": `, `"A2": `, `unknown field "A2"`},
		{`"a2": `, `"a2": 2, "design": `, ""},
		{`"a1": -`, `"a1": -3`, "pole radius"},
	} {
		refuses(t, good, c.old, c.new, c.want, accepts, false)
	}
}

// refuses changes a part of a good document, which the reader must refuse with an error that
// says what is wanted of it, and the schema unless the rule is not one of a schema.
func refuses(t *testing.T, good, old, changed, want string, accepts func(text string) error, schemaAccepts bool) {
	t.Helper()
	text := strings.Replace(good, old, changed, 1)
	if text == good {
		t.Errorf("%q does not occur", old)
		return
	}
	_, err := export.ReadJSON(strings.NewReader(text))
	if err == nil || !strings.HasPrefix(err.Error(), "export: ") || !strings.Contains(err.Error(), want) {
		t.Errorf("%s → %s: error %v, want one with %q", old, changed, err, want)
	}
	if got := accepts(text) == nil; got != schemaAccepts {
		t.Errorf("%s → %s: the schema accepts it: %v, want %v", old, changed, got, schemaAccepts)
	}
}

// schemaOf returns a check by the schema of a version.
func schemaOf(t testing.TB, version int) func(text string) error {
	t.Helper()
	text, err := export.Schema(version)
	if err != nil {
		t.Fatal(err)
	}
	var schema map[string]any
	if err := json.Unmarshal([]byte(text), &schema); err != nil {
		t.Fatal(err)
	}
	if schema["$schema"] != "https://json-schema.org/draft/2020-12/schema" {
		t.Errorf("$schema is %v", schema["$schema"])
	}
	return func(text string) error {
		var v any
		if err := json.Unmarshal([]byte(text), &v); err != nil {
			return err
		}
		return validate(schema, schema, v, "document")
	}
}

// validate checks v against a schema, for the keywords that ours has; another
// keyword is an error.
func validate(root, schema map[string]any, v any, at string) error {
	keys := make([]string, 0, len(schema))
	for k := range schema {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		rule := schema[k]
		bad := func() error { return fmt.Errorf("%s: %v breaks %s %v", at, v, k, rule) }
		number, isNumber := v.(float64)
		text, isText := v.(string)
		_, isTruth := v.(bool)
		object, isObject := v.(map[string]any)
		list, isList := v.([]any)
		switch k {
		case "$schema", "$id", "$defs", "title", "description":
		case "$ref":
			name := strings.TrimPrefix(rule.(string), "#/$defs/")
			if err := validate(root, root["$defs"].(map[string]any)[name].(map[string]any), v, at); err != nil {
				return err
			}
		case "type":
			ok := map[string]bool{"object": isObject, "array": isList, "string": isText, "boolean": isTruth, "number": isNumber, "integer": isNumber && number == math.Trunc(number)}
			if !ok[rule.(string)] {
				return bad()
			}
		case "oneOf":
			var met int
			for _, sub := range rule.([]any) {
				if validate(root, sub.(map[string]any), v, at) == nil {
					met++
				}
			}
			if met != 1 {
				return fmt.Errorf("%s: %v meets %d of %d alternatives, want 1", at, v, met, len(rule.([]any)))
			}
		case "const":
			if v != rule {
				return bad()
			}
		case "enum":
			if !slices.Contains(rule.([]any), v) {
				return bad()
			}
		case "minLength", "maxLength":
			if n := float64(len([]rune(text))); isText && (k == "minLength" && n < rule.(float64) || k == "maxLength" && n > rule.(float64)) {
				return bad()
			}
		case "pattern":
			if isText && !regexp.MustCompile(rule.(string)).MatchString(text) {
				return bad()
			}
		case "minimum":
			if isNumber && number < rule.(float64) {
				return bad()
			}
		case "maximum":
			if isNumber && number > rule.(float64) {
				return bad()
			}
		case "exclusiveMinimum":
			if isNumber && number <= rule.(float64) {
				return bad()
			}
		case "exclusiveMaximum":
			if isNumber && number >= rule.(float64) {
				return bad()
			}
		case "minItems":
			if isList && float64(len(list)) < rule.(float64) {
				return bad()
			}
		case "items":
			for i, e := range list {
				if err := validate(root, rule.(map[string]any), e, fmt.Sprintf("%s[%d]", at, i)); err != nil {
					return err
				}
			}
		case "required":
			for _, name := range rule.([]any) {
				if _, ok := object[name.(string)]; isObject && !ok {
					return fmt.Errorf("%s: %s is missing", at, name)
				}
			}
		case "properties":
			for name, sub := range rule.(map[string]any) {
				if e, ok := object[name]; ok {
					if err := validate(root, sub.(map[string]any), e, at+"."+name); err != nil {
						return err
					}
				}
			}
		case "additionalProperties":
			for name := range object {
				if _, ok := schema["properties"].(map[string]any)[name]; !ok {
					return fmt.Errorf("%s: %s is not allowed", at, name)
				}
			}
		default:
			return fmt.Errorf("keyword %q is unknown to the validator of this test", k)
		}
	}
	return nil
}

func TestReaderRefuses(t *testing.T) {
	good := string(write(t, document(t)))
	for name, c := range map[string]struct{ text, want string }{
		"empty":        {"", "unexpected end"},
		"null":         {"null", "no field format"},
		"list":         {"[]", "cannot unmarshal array"},
		"binary":       {"\x00\x01\xff", "line 1, column 1"},
		"truncated":    {good[:strings.Index(good, "delay_samples")], "unexpected end"},
		"trailing":     {good + "{}", "after top-level value"},
		"twice":        {strings.Replace(good, `"study": "a study"`, `"study": "a study", "study": "b"`, 1), `line 4, column 29: field "study" is there twice`},
		"out of range": {strings.Replace(good, `"gain_ratio": 1`, `"gain_ratio": 1e999`, 1), "1e999"},
		"NaN":          {strings.Replace(good, `"gain_ratio": 1`, `"gain_ratio": NaN`, 1), "invalid character 'N'"},
		"same names":   {strings.Replace(good, `"tweeter"`, `"woofer"`, 1), `two ways are called "woofer"`},
		"newline":      {strings.Replace(good, `"a study"`, `"a\nstudy"`, 1), "control characters"},
		"date":         {strings.Replace(good, `2031-02-03`, `2031-02-30`, 1), "want YYYY-MM-DD"},
		"no ways":      {strings.Replace(good, `"ways": [`, `"ways": [], "inputs": [`, 1), "is there twice"},
		"deep":         {strings.Repeat("[", 100000), "export: "},
		"long":         {`"` + strings.Repeat("x", export.MaxBytes) + `"`, "more than 16777216 bytes"},
	} {
		_, err := export.ReadJSON(strings.NewReader(c.text))
		if err == nil || !strings.HasPrefix(err.Error(), "export: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}

// A document near the limit of size takes time in proportion: 60 000 sections in
// well under ten seconds, where a quadratic reader takes minutes.
func TestLargeDocument(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 12 MB")
	}
	d := document(t)
	section := d.Ways[0].Sections[2]
	for len(d.Ways[0].Sections) < 60000 {
		d.Ways[0].Sections = append(d.Ways[0].Sections, section)
	}
	text := write(t, d)
	if len(text) < 10<<20 || len(text) > export.MaxBytes {
		t.Fatalf("%d bytes", len(text))
	}
	start := time.Now()
	got, err := export.ReadJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if took := time.Since(start); took > 10*time.Second {
		t.Errorf("reading %d bytes took %v", len(text), took)
	}
	if len(got.Ways[0].Sections) != 60000 || got.Ways[0].Sections[59999] != section {
		t.Error("sections were lost")
	}
}

func TestNewRefuses(t *testing.T) {
	at48, err := digital.NewCascade(48000)
	if err != nil {
		t.Fatal(err)
	}
	c := chains(t)
	for name, f := range map[string]func() error{
		"no chain":  func() error { _, err := export.New("s", "2031-01-01", nil, nil); return err },
		"nil chain": func() error { _, err := export.New("s", "2031-01-01", []export.Chain{{"a", nil}}, nil); return err },
		"two rates": func() error {
			_, err := export.New("s", "2031-01-01", append(c[:1:1], export.Chain{"b", at48}), nil)
			return err
		},
		"no date": func() error { _, err := export.New("s", "", c, nil); return err },
		"input twice": func() error {
			_, err := export.New("s", "2031-01-01", c, []export.Input{{"a", emptyFile}, {"a", emptyFile}})
			return err
		},
	} {
		if err := f(); err == nil || !strings.HasPrefix(err.Error(), "export: ") {
			t.Errorf("%s: error %v", name, err)
		}
	}
	d := document(t)
	d.Ways[0].Sections[2].Coefficients.A2 = 1.01
	var b bytes.Buffer
	for _, err := range []error{d.WriteJSON(&b), d.WriteCSV(&b)} {
		if err == nil || !strings.Contains(err.Error(), `way "woofer", section 3 of 5`) || b.Len() > 0 {
			t.Errorf("unstable section: error %v, %d bytes written", err, b.Len())
		}
	}
	d.Ways[0].Sections[2].Coefficients.A2 = math.NaN()
	if err := d.Validate(); err == nil || !strings.Contains(err.Error(), "coefficient a2 is NaN") {
		t.Errorf("NaN: error %v", err)
	}
}

func TestCSVReadsBackToTheSameBits(t *testing.T) {
	d := document(t)
	d.Ways = append(d.Ways, export.Way{Name: `wire, "straight"`, Gain: 0.1})
	var b bytes.Buffer
	if err := d.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+5+2+1 {
		t.Fatalf("%d rows, want 9", len(rows))
	}
	at := 1
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, w := range d.Ways {
		sections := w.Sections
		if len(sections) == 0 {
			sections = []export.Section{{Design: "wire", Coefficients: digital.Biquad{B0: 1}}}
		}
		for _, s := range sections {
			r := rows[at]
			at++
			got := digital.Biquad{B0: num(r[6]), B1: num(r[7]), B2: num(r[8]), A1: num(r[9]), A2: num(r[10])}
			if r[0] != w.Name || num(r[1]) != d.SampleRate || (r[2] == "inverted") != w.Inverted || num(r[3]) != w.Gain ||
				r[4] != strconv.Itoa(w.Delay) || got != s.Coefficients || r[11] != s.Design {
				t.Errorf("row %d is %q, want %+v of %s", at, r, s, w.Name)
			}
		}
	}
}

// Whatever is read does not panic, and what is accepted is written and read back
// to an equal document.
func FuzzReadJSON(f *testing.F) {
	f.Add(write(f, document(f)))
	for version := range export.Version {
		text, err := os.ReadFile(fmt.Sprintf("testdata/release-%d.json", version+1))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	for _, a := range arithmetics() {
		f.Add(write(f, full(f, a, dsp.Options{})))
	}
	f.Add([]byte(`{"format":"loudspeaker-coefficients","version":1,"ways":[{}],"inputs":null}`))
	accepts := map[int]func(string) error{1: schemaOf(f, 1), 2: schemaOf(f, 2), 3: schemaOf(f, 3)}
	f.Fuzz(func(t *testing.T, text []byte) {
		d, err := export.ReadJSON(bytes.NewReader(text))
		if err != nil {
			if !strings.HasPrefix(err.Error(), "export: ") {
				t.Fatalf("error %v", err)
			}
			return
		}
		once := write(t, d)
		version := 1
		for v := range accepts {
			if bytes.Contains(once[:80], fmt.Appendf(nil, `"version": %d`, v)) {
				version = v
			}
		}
		if err := accepts[version](string(once)); err != nil {
			t.Fatalf("what was read does not meet the schema: %v", err)
		}
		again, err := export.ReadJSON(bytes.NewReader(once))
		if err != nil || !reflect.DeepEqual(d, again) {
			t.Fatalf("%+v reads back as %+v, %v", d, again, err)
		}
		for _, w := range d.Ways {
			if _, err := d.Cascade(w.Name); err != nil {
				t.Fatalf("valid document, but %v", err)
			}
			programs := []*dsp.Program{w.Program}
			for _, s := range w.Sets {
				programs = append(programs, s.Program)
			}
			for _, p := range programs {
				if p != nil {
					p.NewRunner().Process(nil, []float64{1, -1, 0.5})
				}
			}
		}
	})
}
