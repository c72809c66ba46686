package placement_test

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
	"example.org/loudspeaker/speakerlib/placement"
)

// The shipped positions, and no others, are the defaults of the document in every way, committed
// or not, and come back.
func TestShippedPositionsAreTheDefaults(t *testing.T) {
	c := panel(t)
	for _, s := range must[[]export.Set](t)(c.Sets()) {
		if s.Default {
			t.Errorf("%s %s is a default, want none where nothing is stated", s.Setting, s.Name)
		}
	}
	c.Shipped = placement.Choice{2, 0, 1}
	committed := must[*placement.Controls](t)(c.Committed(words, dsp.Options{}))
	for _, c := range []*placement.Controls{c, committed} {
		doc := must[*export.Document](t)(export.New("study", "2026-01-31", []export.Chain{{Name: "woofer", Cascade: cascade(t, 0)}, {Name: "tweeter", Cascade: cascade(t, 0)}}, nil))
		for i := range doc.Ways {
			doc.Ways[i].Sets = must[[]export.Set](t)(c.Sets())
		}
		var b bytes.Buffer
		if err := doc.WriteJSON(&b); err != nil {
			t.Fatal(err)
		}
		for _, w := range must[*export.Document](t)(export.ReadJSON(&b)).Ways {
			var got []string
			for _, s := range w.Sets {
				if s.Default {
					got = append(got, s.Setting+" "+s.Name)
				}
			}
			if want := []string{"placement corner", "treble soft", "level −6 dB"}; !slices.Equal(got, want) {
				t.Errorf("way %s is shipped with %q, want %q", w.Name, got, want)
			}
		}
	}
	// The committed controls are others.
	committed.Shipped[0] = 0
	if c.Shipped[0] != 2 {
		t.Error("what is shipped was changed through the committed controls")
	}
}

// By hand: the woofer's chain has +2 dB, so −12 and −6 dB of level leave 10 and 4 dB to full
// scale, 0 dB exceeds it by 2 dB, and a place in a corner changes nothing at its top, which the
// shelf leaves alone.
func TestShippedCombinationKeepsItsLimits(t *testing.T) {
	g := grid(t, 20, 20e3, 24)
	ways := []placement.Way{{Name: "woofer", Chain: cascade(t, 2)}, {Name: "tweeter", Chain: cascade(t, -8, digital.Highpass{F0: 2000, Q: 0.5})}}
	c := panel(t)
	h := must[*placement.Headroom](t)(c.Headroom(g, ways...))
	if h.Shipped != nil || h.ShippedSafe() {
		t.Errorf("nothing is stated, and %+v is safe: %v", h.Shipped, h.ShippedSafe())
	}
	for _, x := range []struct {
		shipped placement.Choice
		left    float64
		safe    bool
	}{
		{placement.Choice{0, 1, 0}, 10, true},
		{placement.Choice{2, 1, 1}, 4, true},
		{placement.Choice{0, 1, 2}, -2, false},
		{placement.Choice{2, 1, 3}, -8, false},
	} {
		c.Shipped = x.shipped
		h := must[*placement.Headroom](t)(c.Headroom(g, ways...))
		if len(h.Shipped) != 2 || h.Shipped[0].Way != "woofer" || h.Shipped[1].Way != "tweeter" {
			t.Fatalf("%s: needs %+v, want those of two ways", c.Words(x.shipped), h.Shipped)
		}
		for _, q := range h.Shipped {
			if !slices.Equal(q.Choice, x.shipped) {
				t.Errorf("needs of %s, want those of %s", c.Words(q.Choice), c.Words(x.shipped))
			}
		}
		if m := h.Shipped[0].Margin; math.Abs(m.DB-x.left) > 0.01 || m.Limit != "digital full scale" {
			t.Errorf("%s: %+.3f dB left to %s, want %g dB to full scale", c.Words(x.shipped), m.DB, m.Limit, x.left)
		}
		if h.ShippedSafe() != x.safe {
			t.Errorf("%s is safe: %v, want %v", c.Words(x.shipped), h.ShippedSafe(), x.safe)
		}
		// What is shipped changes nothing of what is fallen back to.
		if c.Words(h.Safe) != "placement free, treble neutral, level −12 dB" {
			t.Errorf("safe: %s", c.Words(h.Safe))
		}
	}
	// It is enough that one way exceeds a limit, whichever.
	c.Shipped = placement.Choice{0, 1, 1}
	loud := []placement.Way{{Name: "tweeter", Chain: cascade(t, -8)}, {Name: "woofer", Chain: cascade(t, 7)}}
	if h = must[*placement.Headroom](t)(c.Headroom(g, loud...)); h.ShippedSafe() || math.Abs(h.Shipped[0].Margin.DB-14) > 1e-9 || math.Abs(h.Shipped[1].Margin.DB+1) > 1e-9 {
		t.Errorf("second way 1 dB beyond full scale: safe %v, %+v", h.ShippedSafe(), h.Shipped)
	}
}

func TestShippedRefuses(t *testing.T) {
	for _, x := range []struct {
		shipped placement.Choice
		want    string
	}{
		{placement.Choice{}, "shipped are positions of 0 controls, want one of each of 3"},
		{placement.Choice{0, 1}, "shipped are positions of 2 controls"},
		{placement.Choice{0, 1, 0, 0}, "shipped are positions of 4 controls"},
		{placement.Choice{0, 1, 4}, `shipped position of "level" is 4, want one of its 4 positions`},
		{placement.Choice{0, -1, 0}, `shipped position of "treble" is -1, want one of its 3 positions`},
		{placement.Choice{2, 2, 0}, "shipped combination placement corner, treble bright, level −12 dB cannot be reached"},
	} {
		c := panel(t)
		c.Reachable = func(at placement.Choice) bool { return !(at[0] == 2 && at[1] == 2) }
		c.Shipped = x.shipped
		_, sets := c.Sets()
		_, committed := c.Committed(words, dsp.Options{})
		_, headroom := c.Headroom(grid(t, 20, 20e3, 24), placement.Way{Name: "w"})
		for _, err := range []error{c.Validate(), sets, committed, headroom} {
			if err == nil || !strings.HasPrefix(err.Error(), "placement: ") || !strings.Contains(err.Error(), x.want) {
				t.Errorf("shipped %v: %v, want %q", x.shipped, err, x.want)
			}
		}
	}
}
