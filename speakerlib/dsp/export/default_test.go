package export_test

import (
	"bytes"
	"encoding/csv"
	"reflect"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
)

// shipped is a document of everything in which two ways have the sets, and "wall" is the
// default of the placement.
func shipped(t testing.TB) *export.Document {
	t.Helper()
	d := full(t, arithmetics()[0], dsp.Options{})
	d.Ways[0].Sets[0].Default = true
	d.Ways[1].Sets = append([]export.Set(nil), d.Ways[0].Sets...)
	if err := d.Validate(); err != nil {
		t.Fatal(err)
	}
	return d
}

// defaults are the positions that the ways are shipped with.
func defaults(d *export.Document) (out []string) {
	for _, w := range d.Ways {
		for _, s := range w.Sets {
			if s.Default {
				out = append(out, w.Name+", "+s.Setting+": "+s.Name)
			}
		}
	}
	return out
}

func TestDefaultReadsBack(t *testing.T) {
	d := shipped(t)
	text := write(t, d)
	if err := schemaOf(t, 3)(string(text)); err != nil {
		t.Errorf("schema refuses what is written: %v", err)
	}
	// Two ways of three sets each, and of a set it is said whether or not.
	if yes, no := bytes.Count(text, []byte(`"default": true`)), bytes.Count(text, []byte(`"default": false`)); yes != 2 || no != 4 {
		t.Errorf("%d sets are a default and %d are not, want 2 and 4", yes, no)
	}
	got, err := export.ReadJSON(bytes.NewReader(text))
	if err != nil || !reflect.DeepEqual(got, d) {
		t.Fatalf("reads back otherwise, %v", err)
	}
	if again := write(t, got); !bytes.Equal(again, text) {
		t.Error("written again it has other bytes")
	}
	turned, err := d.Turned(0.5)
	if err != nil || !reflect.DeepEqual(defaults(turned), defaults(d)) {
		t.Errorf("turned down it is shipped with %q, %v", defaults(turned), err)
	}
}

// A published document of version 3, written by hand, as long as that is supported. A way that
// has no set of the default's name has a wire there.
func TestPublishedDocumentOfVersion3(t *testing.T) {
	d, text := published(t, 3)
	if err := schemaOf(t, 3)(string(text)); err != nil {
		t.Error(err)
	}
	if got, want := defaults(d), []string{"woofer, placement: wall", "tweeter, placement: wall"}; !reflect.DeepEqual(got, want) {
		t.Errorf("shipped with %q, want %q", got, want)
	}
}

// The document of version 2 says of no set whether a unit is shipped with it; it is read as
// such, and written the same. Nor may it say so.
func TestVersion2HasNoDefault(t *testing.T) {
	d, text := published(t, 2)
	if len(d.Ways[0].Sets) != 1 || len(defaults(d)) != 0 {
		t.Errorf("sets %+v, want one that is no default", d.Ways[0].Sets)
	}
	says := strings.Replace(string(text), `"gain_ratio": 0.5,`, `"gain_ratio": 0.5, "default": false,`, 1)
	if _, err := export.ReadJSON(strings.NewReader(says)); err == nil || !strings.Contains(err.Error(), `unknown field "default"`) {
		t.Errorf("version 2 with a default: %v", err)
	}
	if schemaOf(t, 2)(says) == nil {
		t.Error("the schema of version 2 takes a default")
	}
	// A document of version 3 in which all say no is one of version 2.
	no, err := export.ReadJSON(strings.NewReader(strings.Replace(says, `"version": 2`, `"version": 3`, 1)))
	if err != nil {
		t.Fatal(err)
	}
	if again := write(t, no); !bytes.Equal(again, text) {
		t.Errorf("without a default:\n%s", again)
	}
}

func TestVersion3Refuses(t *testing.T) {
	good, accepts := string(write(t, shipped(t))), schemaOf(t, 3)
	for _, c := range []struct {
		old, new, want string
		schemaAccepts  bool // where the rule is not one of a schema
	}{
		{`"default": true`, `"default": "wall"`, "cannot unmarshal string", false},
		{`"default": true`, `"default": 1`, "cannot unmarshal number", false},
		{`"default": true`, `"default": null`, "null, want a value", false},
		{`"default": true`, `"default": true, "default": true`, `field "default" is there twice`, true},
		{`"default": true`, `"Default": true`, `unknown field "Default"`, false},
		{`"default": true`, `"design": ""`, "", false},
		{`"default": false`, `"default": true`, `way "woofer": setting "placement" has the defaults "wall" and "corner", want at most 1`, true},
		{`"default": true`, `"default": false`, `setting "placement" has the default "wall" in way "tweeter", way "woofer" has that set and not as its default`, true},
		{`"version": 3`, `"version": 2`, `unknown field "default"`, false},
		{`"version": 3`, `"version": 4`, "version is 4, want 1 to 3", false},
	} {
		refuses(t, good, c.old, c.new, c.want, accepts, c.schemaAccepts)
	}
	_, text := published(t, 3)
	without := strings.Replace(string(text), ",\n          \"default\": true", "", 1)
	if _, err := export.ReadJSON(strings.NewReader(without)); err == nil || !strings.Contains(err.Error(), `way "woofer", set 2 has no field default`) {
		t.Errorf("set that does not say: %v", err)
	}
	if accepts(without) == nil {
		t.Error("the schema takes a set that does not say")
	}
}

// Faults that a document in memory may have are not written, in no form.
func TestDefaultsAreExamined(t *testing.T) {
	for name, c := range map[string]struct {
		change func(d *export.Document)
		want   string // empty: it is right
	}{
		"two in the first way": {func(d *export.Document) { d.Ways[0].Sets[1].Default = true }, `way "woofer": setting "placement" has the defaults "wall" and "corner", want at most 1`},
		"two in the last way":  {func(d *export.Document) { d.Ways[1].Sets[1].Default = true }, `way "tweeter": setting "placement" has the defaults "wall" and "corner", want at most 1`},
		"another in another way": {func(d *export.Document) { d.Ways[1].Sets[0].Default, d.Ways[1].Sets[1].Default = false, true },
			`setting "placement" has the default "wall" in way "woofer" and "corner" in way "tweeter", want the same in all ways`},
		"another, without that set": {func(d *export.Document) {
			d.Ways[1].Sets = d.Ways[1].Sets[1:]
			d.Ways[1].Sets[0].Default = true
		}, `"wall" in way "woofer" and "corner" in way "tweeter"`},
		"none in the last way":             {func(d *export.Document) { d.Ways[1].Sets[0].Default = false }, `way "tweeter" has that set and not as its default, want the same in all ways`},
		"none in the first way":            {func(d *export.Document) { d.Ways[0].Sets[0].Default = false }, `way "woofer" has that set and not as its default, want the same in all ways`},
		"a wire in the last way":           {func(d *export.Document) { d.Ways[1].Sets = d.Ways[1].Sets[1:] }, ""},
		"a wire in the first way":          {func(d *export.Document) { d.Ways[0].Sets = d.Ways[0].Sets[1:] }, ""},
		"a second setting in all ways":     {func(d *export.Document) { d.Ways[0].Sets[2].Default, d.Ways[1].Sets[2].Default = true, true }, ""},
		"a second setting in the last way": {func(d *export.Document) { d.Ways[1].Sets[2].Default = true }, `setting "tone" has the default "warm" in way "tweeter"`},
	} {
		d := shipped(t)
		c.change(d)
		var b bytes.Buffer
		for _, write := range []func() error{func() error { return d.WriteJSON(&b) }, func() error { return d.WriteCSV(&b) }, func() error { return d.WriteProgramCSV(&b) }} {
			err := write()
			if c.want == "" {
				if err != nil {
					t.Errorf("%s: %v", name, err)
				}
				continue
			}
			if err == nil || !strings.HasPrefix(err.Error(), "export: ") || !strings.Contains(err.Error(), c.want) || b.Len() > 0 {
				t.Errorf("%s: %d bytes, error %v, want %q", name, b.Len(), err, c.want)
			}
		}
	}
}

// Both tables say what a unit is shipped with, if the document does, and else have the columns
// that they had.
func TestDefaultInCSV(t *testing.T) {
	for _, states := range []bool{true, false} {
		d := shipped(t)
		if !states {
			d.Ways[0].Sets[0].Default, d.Ways[1].Sets[0].Default = false, false
		}
		var chains, programs bytes.Buffer
		if err := d.WriteCSV(&chains); err != nil {
			t.Fatal(err)
		}
		if err := d.WriteProgramCSV(&programs); err != nil {
			t.Fatal(err)
		}
		for name, b := range map[string]*bytes.Buffer{"sections": &chains, "programs": &programs} {
			rows, err := csv.NewReader(b).ReadAll() // refuses rows of different lengths
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			column := map[string]int{}
			for k, head := range rows[0] {
				column[head] = k
			}
			at, has := column["default"]
			if has != states || has && at != len(rows[0])-1 {
				t.Errorf("%s: columns %q of a document that states a default: %v", name, rows[0], states)
			}
			if !has {
				continue
			}
			seen := map[string]bool{}
			for _, r := range rows[1:] {
				setting, set := r[column["setting"]], r[column["set"]]
				want := ""
				if setting != "" {
					want = "false"
				}
				if setting == "placement" && set == "wall" {
					want = "true"
				}
				if r[at] != want {
					t.Errorf("%s: %q, %q has default %q, want %q", name, setting, set, r[at], want)
				}
				seen[want] = true
			}
			if len(seen) != 3 {
				t.Errorf("%s: %v, want rows of all three kinds", name, seen)
			}
		}
	}
}
