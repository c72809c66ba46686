package export

import (
	"fmt"
	"slices"
)

// hasDefault tells whether the document states the default of a setting.
func (d *Document) hasDefault() bool {
	return slices.ContainsFunc(d.Ways, func(w Way) bool {
		return slices.ContainsFunc(w.Sets, func(s Set) bool { return s.Default })
	})
}

// validateDefaults reports a setting that has two defaults in a way, or not the same position
// in all ways. Names are unique in a way already.
func (d *Document) validateDefaults() error {
	type stated struct{ name, way string }
	of := map[string]stated{}
	for _, w := range d.Ways {
		own := map[string]string{}
		for _, s := range w.Sets {
			if !s.Default {
				continue
			}
			if one, two := own[s.Setting]; two {
				return fmt.Errorf("export: way %q: setting %q has the defaults %q and %q, want at most 1", w.Name, s.Setting, one, s.Name)
			}
			own[s.Setting] = s.Name
			first, known := of[s.Setting]
			if !known {
				of[s.Setting] = stated{s.Name, w.Name}
			} else if first.name != s.Name {
				return fmt.Errorf("export: setting %q has the default %q in way %q and %q in way %q, want the same in all ways", s.Setting, first.name, first.way, s.Name, w.Name)
			}
		}
	}
	for _, w := range d.Ways {
		for _, s := range w.Sets {
			if first, known := of[s.Setting]; known && s.Name == first.name && !s.Default {
				return fmt.Errorf("export: setting %q has the default %q in way %q, way %q has that set and not as its default, want the same in all ways", s.Setting, first.name, first.way, w.Name)
			}
		}
	}
	return nil
}
