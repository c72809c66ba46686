package directivity

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
)

// Folder says how a folder of files is a set.
type Folder struct {
	Names  []Names
	Format measure.Format
	// Phases are those of the files. Common (the zero value) wants one time zero that all
	// name; of Separate ones only the levels are used, and Unknown is for files of levels
	// alone, of which Format.Columns must state the columns.
	Phases Phases
	// Want are directions that must be there; nil: whatever there is.
	Want []Direction
	// On is a grid to which every response is resampled (measure.Resample); nil: all files
	// must have the same frequencies. Only a set with phases is resampled.
	On *freq.Grid
	// From and To are the band that is kept of every file (measure.Table.Between), Hz; both 0:
	// all of it. To may be +Inf.
	From, To float64
}

// File is what a file of a folder was taken for.
type File struct {
	Name      string
	Direction Direction
	Findings  []measure.Finding // what is odd in it
}

// Skipped is a file of a folder that was not read, and why.
type Skipped struct{ Name, Why string }

// FolderSet is a set that was read from a folder. Every entry of the folder is either in
// Files or in Skipped.
type FolderSet struct {
	Set     *Set
	Files   []File
	Skipped []Skipped
	// Measured is the same as a set by the labels of the files, for times of flight and
	// for the check of the sum; nil if the phases have no common time zero.
	Measured *measure.Set
}

// ReadFolder reads all files of a folder whose names a pattern matches. What no pattern
// matches is skipped and listed. A file that is matched must be read: one that cannot, two
// patterns that match one name and two files of one direction are errors, and all of them
// are reported together. Folder.Want names angles that must be there; Set.Gaps tells which are
// missing in a raster.
func ReadFolder(fsys fs.FS, dir string, f Folder) (*FolderSet, error) {
	if len(f.Names) == 0 {
		return nil, fmt.Errorf("directivity: folder %s without patterns, want at least one to tell which file is which direction", dir)
	}
	for _, n := range f.Names {
		if err := n.validate(); err != nil {
			return nil, err
		}
	}
	if f.Phases < Common || f.Phases > Unknown {
		return nil, fmt.Errorf("directivity: phases of folder %s are %d, want Common, Separate or Unknown", dir, int(f.Phases))
	}
	if f.Phases == Unknown && !slices.Contains(f.Format.Columns, measure.LevelDB) {
		return nil, fmt.Errorf("directivity: files of %s with %v and Format.Columns %v: want the columns stated, with %v among them (of a file of magnitudes nobody knows whether a reference is meant)", dir, f.Phases, f.Format.Columns, measure.LevelDB)
	}
	if f.On != nil && f.Phases == Unknown {
		return nil, fmt.Errorf("directivity: resampling the files of %s with %v: want phases, or the grid of the files", dir, f.Phases)
	}
	if (f.From != 0 || f.To != 0) && !(f.From >= 0 && f.To > f.From) {
		return nil, fmt.Errorf("directivity: files of %s from %g to %g Hz, want 0 ≤ from < to, or both 0 for all", dir, f.From, f.To)
	}
	entries, err := fs.ReadDir(fsys, dir)
	if err != nil {
		return nil, fmt.Errorf("directivity: %w", err)
	}
	out := &FolderSet{}
	var faults []error
	for _, e := range entries {
		file, why, err := f.identify(e)
		switch {
		case err != nil:
			faults = append(faults, fmt.Errorf("directivity: %s: %w", path.Join(dir, e.Name()), err))
		case why != "":
			out.Skipped = append(out.Skipped, Skipped{e.Name(), why})
		default:
			out.Files = append(out.Files, file)
		}
	}
	faults = append(faults, doubled(out.Files)...)
	if missing := f.absent(out.Files); missing != "" {
		faults = append(faults, fmt.Errorf("directivity: folder %s has no file for %s", dir, missing))
	}
	if len(out.Files) == 0 && faults == nil {
		return nil, fmt.Errorf("directivity: none of the %d entries of %s is matched by a pattern, want at least 1", len(entries), dir)
	}
	if faults != nil {
		return nil, errors.Join(faults...)
	}
	if err := out.read(fsys, dir, f); err != nil {
		return nil, err
	}
	return out, nil
}

// identify says which direction an entry is, or why it is skipped.
func (f Folder) identify(e fs.DirEntry) (file File, why string, err error) {
	if e.IsDir() {
		return File{}, "a folder", nil
	}
	by := ""
	for _, n := range f.Names {
		degrees, ok := n.match(e.Name())
		if !ok {
			continue
		}
		d := n.Sense.direction(degrees)
		if by != "" && d != file.Direction {
			return File{}, "", fmt.Errorf("%v by the pattern %q and %v by %q, want one meaning", file.Direction, by, d, n.Pattern)
		}
		file, by = File{Name: e.Name(), Direction: d}, n.Pattern
	}
	if by == "" {
		return File{}, "no pattern matches its name", nil
	}
	return file, "", nil
}

// doubled reports files of one direction.
func doubled(files []File) (faults []error) {
	first := map[Direction]string{}
	for _, f := range files {
		if before, twice := first[f.Direction]; twice {
			faults = append(faults, fmt.Errorf("directivity: %s and %s are both %v (%v), want one file a direction", before, f.Name, f.Direction, f.Direction.Orbit))
			continue
		}
		first[f.Direction] = f.Name
	}
	return faults
}

// absent names the wanted directions that no file has.
func (f Folder) absent(files []File) string {
	var missing []string
	for _, d := range f.Want {
		if !slices.ContainsFunc(files, func(f File) bool {
			return f.Direction == d || d.shared() && f.Direction == d.other()
		}) {
			missing = append(missing, fmt.Sprintf("%v (%v)", d, d.Orbit))
		}
	}
	return strings.Join(missing, ", ")
}

func (out *FolderSet) read(fsys fs.FS, dir string, f Folder) error {
	var points []Point
	var tables []*measure.Table
	var faults []error
	usable := 0.0
	for i := range out.Files {
		file := &out.Files[i]
		t, err := readTable(fsys, path.Join(dir, file.Name), f.Format)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		file.Findings = t.Findings()
		if f.From != 0 || f.To != 0 {
			if t, err = t.Between(f.From, f.To); err != nil {
				faults = append(faults, err)
				continue
			}
		}
		from, err := t.UsableFrom()
		if err != nil {
			faults = append(faults, err)
			continue
		}
		usable = max(usable, from)
		r, err := f.response(t)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		tables = append(tables, t)
		points = append(points, Point{Direction: file.Direction, Response: r})
	}
	if faults != nil {
		return errors.Join(faults...)
	}
	clock := Clock{Phases: f.Phases}
	if f.Phases == Common {
		var err error
		if clock.TimeZero, err = commonZero(tables, f.Format); err != nil {
			return err
		}
		if f.On == nil {
			if out.Measured, err = measure.NewSet(tables...); err != nil {
				return err
			}
		}
	}
	set, err := NewSet(clock, points...)
	if err != nil {
		return err
	}
	set.usable = usable
	out.Set = set
	return nil
}

func readTable(fsys fs.FS, name string, f measure.Format) (*measure.Table, error) {
	r, err := fsys.Open(name)
	if err != nil {
		return nil, fmt.Errorf("directivity: %w", err)
	}
	defer r.Close()
	return measure.ReadResponse(r, name, f)
}

// commonZero returns the time zero that all tables name.
func commonZero(tables []*measure.Table, f measure.Format) (string, error) {
	if f.TimeZero != "" {
		var said, by string
		for _, t := range tables { // one name may stand for another, but not for two
			name, _ := t.Setting("set")
			if name != "" && said != "" && name != said {
				return "", fmt.Errorf("directivity: %s has the time zero of %q and %s of %q, which Format.TimeZero calls %q both: want one, or Folder.Phases of Separate", by, said, t.Name(), name, f.TimeZero)
			}
			if name != "" {
				said, by = name, t.Name()
			}
		}
		return f.TimeZero, nil
	}
	var zero string
	for i, t := range tables {
		name, ok := t.Setting("set")
		if !ok || name == "" {
			return "", fmt.Errorf("directivity: %s does not say whose time zero it has, want the setting set or Format.TimeZero, or Folder.Phases of Separate if there is none", t.Name())
		}
		if i > 0 && name != zero {
			return "", fmt.Errorf("directivity: %s has the time zero of %q, want %q as %s, or Folder.Phases of Separate", t.Name(), name, zero, tables[0].Name())
		}
		zero = name
	}
	return zero, nil
}

// response returns what a table holds, as a magnitude from its levels if phases are unknown.
func (f Folder) response(t *measure.Table) (freq.Response, error) {
	if f.Phases != Unknown {
		r, err := t.Stated()
		if err != nil || f.On == nil {
			return r, err
		}
		return measure.Resample(r, f.On)
	}
	b, err := t.Basis()
	if err != nil {
		return freq.Response{}, err
	}
	levels, err := t.Level()
	if err != nil {
		return freq.Response{}, err
	}
	scale, err := f.scale(t, b)
	if err != nil {
		return freq.Response{}, err
	}
	v := make([]complex128, levels.Len())
	for i := range v {
		v[i] = complex(level.Ratio(levels.At(i))*scale, 0)
	}
	return freq.NewResponse(levels.Grid(), v, t.Label(), b)
}

// scale returns what a magnitude without phase has to be multiplied by: the reference of the
// levels over the drive.
func (f Folder) scale(t *measure.Table, b freq.Basis) (float64, error) {
	number := func(given float64, key, what string) (float64, error) {
		if given != 0 {
			return given, nil
		}
		s, ok := t.Setting(key)
		if !ok {
			return 0, fmt.Errorf("directivity: %s: levels that are %v and no %s, want the setting %s or Folder.Format", t.Name(), b, what, key)
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || !(v > 0) {
			return 0, fmt.Errorf("directivity: %s: %s is %q, want a number > 0", t.Name(), key, s)
		}
		return v, nil
	}
	reference, err := number(f.Format.Reference, "reference_Pa", "reference")
	if err != nil {
		return 0, err
	}
	if b.Per == freq.PerTerminals || b.Per == freq.PerInput {
		drive, err := number(f.Format.Drive, "drive_V", "drive")
		return reference / drive, err
	}
	return reference, nil
}
