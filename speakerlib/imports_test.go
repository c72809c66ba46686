package speakerlib_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// allowed lists, room by room, which other rooms of the library a room may
// import (its tests may import more). A room that is not
// listed fails the test: add it here together with the reason in DEVELOPERS.md.
var allowed = map[string][]string{
	// floor 0
	"si":                 {},
	"level":              {},
	"air":                {"si"},
	"lsq":                {},
	"signal":             {"internal/text", "level"},
	"internal/text":      {},
	"internal/gauss":     {},
	"internal/search":    {},
	"internal/testtable": {},
	"quantity":           {"internal/text", "si"},
	"twoport":            {},
	// floor 1
	"freq":   {"level"},
	"driver": {"air", "freq", "internal/text", "level", "quantity", "si"},
	// floor 2
	"analog":    {"freq", "level"},
	"measure":   {"air", "freq", "internal/search", "internal/text", "level", "quantity", "si", "signal"},
	"enclosure": {"air", "driver", "freq", "level", "si", "twoport"},
	"identify":  {"air", "driver", "enclosure", "freq", "level", "lsq", "si"},
	"network":   {"analog", "freq", "level", "signal"},
	"radiation": {"air", "freq", "internal/gauss"},
	// floor 3
	"activerc":    {"analog", "freq", "level"},
	"digital":     {"analog", "freq", "level", "lsq"},
	"fir":         {"analog", "freq", "level"},
	"crossover":   {"air", "driver", "freq", "internal/search", "level", "network"},
	"diffraction": {"air", "freq", "internal/gauss", "level", "radiation"},
	"directivity": {"air", "crossover", "freq", "internal/search", "level", "measure"},
	"room":        {"air", "freq", "internal/gauss", "level"},
	// floor 4
	"system": {"air", "crossover", "driver", "enclosure", "freq", "level"},
	// loudness filters with digital, and interpolates peaks with fir
	"loudness":   {"digital", "fir", "freq", "level", "signal"},
	"signalpath": {"air", "digital", "freq", "level", "network", "signal"},
	// floor 5
	"dsp":             {"digital", "fir", "freq", "signal"},
	"dsp/ccode":       {"dsp"},
	"dsp/ccode/proof": {"dsp", "dsp/ccode"},
	"dsp/export":      {"digital", "dsp", "fir", "freq", "signal"},
	"limits":          {"air", "driver", "enclosure", "freq", "internal/search", "level", "signal", "system"},
	// largesignal stands above limits, whose thermal network it uses
	"largesignal": {"driver", "enclosure", "freq", "level", "limits", "lsq", "signal"},
	// floor 6
	"tune": {"analog", "digital", "enclosure", "freq", "level", "lsq", "system"},
	// divide stands above tune, whose fits it strings together
	"divide":   {"air", "analog", "crossover", "digital", "driver", "enclosure", "freq", "level", "limits", "signal", "tune"},
	"tradeoff": {"air", "analog", "driver", "enclosure", "freq", "level", "limits"},
	// placement judges controls by what is committed and by the ceilings of limits, and turns them
	// down by the maximum between poles
	"placement": {"digital", "dsp", "dsp/export", "freq", "internal/search", "level", "limits", "lsq", "room"},
	// floor 7
	"figure": {"freq", "level"},
	// floor 8
	"report": {},
	// release stands above report, whose requirements and decisions it carries
	"release": {"crossover", "digital", "dsp", "dsp/export", "freq", "level", "report", "tune"},
	// floor 9
	"nb": {"figure", "report"},
}

// thirdParty lists the modules that speakerlib may import, and where.
var thirdParty = map[string]func(room string) bool{
	"gonum.org/v1/gonum/":         func(string) bool { return true },
	"gonum.org/v1/plot":           func(room string) bool { return room == "figure" },
	"github.com/go-gota/gota/":    func(room string) bool { return room == "report" },
	"github.com/janpfeifer/gonb/": func(room string) bool { return room == "nb" },
	"github.com/janpfeifer/gonb":  func(room string) bool { return room == "nb" },
	"codeberg.org/go-fonts/":      func(room string) bool { return room == "figure" },
	"golang.org/x/image/":         func(room string) bool { return room == "figure" },
	"gonum.org/v1/plot/cmpimg":    func(string) bool { return false },
}

const module = "example.org/loudspeaker/"

func TestImportsFollowTheFloors(t *testing.T) {
	for room, imports := range imports(t, false) {
		if room == "." {
			continue
		}
		may, known := allowed[room]
		if !known {
			t.Errorf("room %s is not in the list of allowed imports", room)
			continue
		}
		for imp, file := range imports {
			if reason := judge(room, imp, may); reason != "" {
				t.Errorf("%s: %s", file, reason)
			}
		}
	}
}

// judge says why room may not import imp, or "" if it may.
func judge(room, imp string, may []string) string {
	if other, ok := strings.CutPrefix(imp, module+"speakerlib/"); ok {
		if slices.Contains(may, other) {
			return ""
		}
		return room + " imports " + other + ", which its floor does not allow"
	}
	if strings.HasPrefix(imp, module) {
		return room + " imports " + imp + ", which is outside the library"
	}
	if first, _, _ := strings.Cut(imp, "/"); !strings.Contains(first, ".") {
		return "" // standard library
	}
	for prefix, in := range thirdParty {
		if strings.HasPrefix(imp, prefix) && in(room) {
			return ""
		}
	}
	return room + " imports " + imp + ", which is not for it"
}

// The list must be a ladder: no two rooms may allow each other, directly or
// through others.
func TestAllowedImportsHaveNoCircle(t *testing.T) {
	var visit func(room string, trail []string)
	visit = func(room string, trail []string) {
		if slices.Contains(trail, room) {
			t.Fatalf("circle: %s", strings.Join(append(trail, room), " → "))
		}
		for _, next := range allowed[room] {
			if _, ok := allowed[next]; !ok {
				t.Errorf("%s allows %s, which is not listed", room, next)
			}
			visit(next, append(slices.Clone(trail), room))
		}
	}
	for room := range allowed {
		visit(room, nil)
	}
}

// The guard itself: an upward import and a foreign module must be found.
func TestJudgeFindsFaults(t *testing.T) {
	for _, c := range []struct {
		room, imp string
		ok        bool
	}{
		{"freq", "math", true},
		{"freq", module + "speakerlib/level", true},
		{"freq", module + "speakerlib/driver", false},
		{"freq", module + "kernel-setup", false},
		{"freq", "gonum.org/v1/gonum/mat", true},
		{"freq", "gonum.org/v1/plot", false},
		{"figure", "gonum.org/v1/plot/vg", true},
		{"report", "github.com/janpfeifer/gonb/gonbui", false},
		{"nb", "github.com/janpfeifer/gonb/gonbui", true},
		{"measure", "github.com/go-gota/gota/dataframe", false},
		{"level", "example.com/other", false},
	} {
		if reason := judge(c.room, c.imp, allowed[c.room]); (reason == "") != c.ok {
			t.Errorf("%s imports %s: judged %q, want allowed = %v", c.room, c.imp, reason, c.ok)
		}
	}
}

// Decibels are made in level and nowhere else. A test may take the logarithm of something
// else, but not make a level of its own.
func TestNoSecondPlaceOfDecibels(t *testing.T) {
	for tests, bad := range map[bool]*regexp.Regexp{
		false: regexp.MustCompile(`math\.(Log10\(|Pow\(10,|Pow10\().*`),
		true:  regexp.MustCompile(`\b[12]0 ?\* ?math\.Log10\(.*|math\.Pow\(10, ?[^()]*/ ?[12]0\).*`),
	} {
		for _, file := range goFiles(t, tests) {
			if strings.HasPrefix(file, "level/") {
				continue
			}
			src, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			for _, found := range bad.FindAll(src, -1) {
				t.Errorf("%s has %s: decibels belong in package level", file, found)
			}
		}
	}
}

// imports returns, by room, the imports and a file that has each.
func imports(t *testing.T, tests bool) map[string]map[string]string {
	t.Helper()
	found := map[string]map[string]string{}
	for _, file := range goFiles(t, tests) {
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		room := path.Dir(file)
		if found[room] == nil {
			found[room] = map[string]string{}
		}
		for _, s := range f.Imports {
			p, err := strconv.Unquote(s.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			found[room][p] = file
		}
	}
	return found
}

func goFiles(t *testing.T, tests bool) []string {
	t.Helper()
	var files []string
	err := filepath.WalkDir(".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && d.Name() == "testdata" {
			return filepath.SkipDir
		}
		if strings.HasSuffix(p, ".go") && strings.HasSuffix(p, "_test.go") == tests {
			files = append(files, filepath.ToSlash(p))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}
