package diffraction_test

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/level"
)

func TestExplore(t *testing.T) {
	if os.Getenv("EXPLORE") == "" {
		t.Skip()
	}
	n, _ := strconv.Atoi(os.Getenv("EXPLORE"))
	order := diffraction.Order(1)
	if os.Getenv("ORDER") == "2" {
		order = 2
	}
	out, _ := diffraction.NewRound(0.1, n)
	cyl, err := diffraction.NewPrism(out, 0.3, diffraction.Rounding{}, diffraction.Rounding{})
	if err != nil {
		t.Fatal(err)
	}
	plate, err := diffraction.NewPlate(out)
	if err != nil {
		t.Fatal(err)
	}
	for name, body := range map[string]*diffraction.Cabinet{"cyl_sharp_D0.2_L0.3": cyl, "thin_disc_a0.1": plate} {
		var hz []float64
		for _, r := range reference(t, "round_baffle.csv") {
			if f := r.number(t, "f_hz"); r["case"] == name && (len(hz) == 0 || f > hz[len(hz)-1]) {
				hz = append(hz, f)
			}
		}
		var rec []diffraction.Receiver
		for k := range 7 {
			rec = append(rec, diffraction.Angles(rad(float64(30*k)), 0))
		}
		h := solve(t, diffraction.Setup{Cabinet: body, Air: still, Grid: grid(t, hz...), Receivers: rec, Order: order}, diffraction.Source{Elements: point(0, 0, 0)})
		fmt.Println(name)
		i := 0
		for _, r := range reference(t, "round_baffle.csv") {
			if r["case"] != name {
				continue
			}
			if i%7 == 0 {
				fmt.Printf("\n%7.0f ", r.number(t, "f_hz"))
			}
			v := h[(i%7)*len(hz)+i/7]
			fmt.Printf(" %7.2f(%6.2f)", level.DB(2*math.Hypot(real(v), imag(v)))-r.number(t, "mag_db_re_freefield_point"), math.Remainder(math.Atan2(imag(v), real(v))*180/math.Pi-r.number(t, "phase_deg_re_freefield_point_at_source"), 360))
			i++
		}
		fmt.Println()
	}
}
