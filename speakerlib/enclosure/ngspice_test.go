package enclosure_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// The circuit of vented_ngspice.cir, an invented woofer in a vented box, solved by
// ngspice 39. What the file prints has nine digits, and phases 10⁻⁶ degrees.
//
// The netlist's cone moves into the box with positive volts and ours out of it:
// the same displacement, read from the other side, so that its vent flow, outward
// when its cone goes inward, has the opposite sign of ours. Its pressure is
// stated for the cone that moves outward with positive volts, as ours.
func TestVentedAgainstNgspice(t *testing.T) {
	p := map[string]float64{}
	for _, r := range testtable.Read(t, "../../datasets/reference/vented_ngspice_params.csv") {
		p[r["name"]] = r.Number(t, "value")
	}
	m := air.Medium{Density: p["rho"], SpeedOfSound: p["c"]}
	vent, err := enclosure.Vent{Diameter: 0.05, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}.LengthFor(p["fb_hz"], p["Vb_m3"], m)
	if err != nil {
		t.Fatal(err)
	}
	mounted := enclosure.Mounted{
		Driver: driver.Params{Re: p["Re_ohm"], Bl: p["Bl_Tm"], Mms: p["Mms_kg"], Cms: p["Cms_mpN"], Rms: p["Rms_Nspm"], Sd: p["Sd_m2"],
			Coil: driver.Inductor{Le: p["Le_H"]}},
		Box: enclosure.Vented{Vb: p["Vb_m3"], Vent: vent, Losses: enclosure.Losses{QL: p["QL"]}},
		Air: m,
	}
	motion, err := mounted.Motion()
	if err != nil {
		t.Fatal(err)
	}
	rows := testtable.Read(t, "../../datasets/reference/vented_ngspice.csv")
	hz := make([]float64, len(rows))
	for i, r := range rows {
		hz[i] = r.Number(t, "f_hz")
	}
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, value, phase string
		of                 freq.Transfer
		scale              float64 // from SI to the file's unit and direction
		dB                 bool
	}{
		{"impedance", "Z_ohm", "Z_phase_deg", motion.Impedance, 1, false},
		{"cone", "x_mm_per_Vrms(same rms/peak as V)", "x_phase_deg", motion.Cone, 1e3, false},
		{"vent", "U_vent_m3ps_per_V", "U_vent_phase_deg", motion.VentFlow, -1, false},
		{"pressure", "SPL_1m_halfspace_db_per_Vrms", "p_phase_deg_excl_propagation", motion.Pressure, 1, true},
	} {
		values := c.of.ResponseTo(nil, g)
		for i, r := range rows {
			want := r.Number(t, c.value)
			if c.dB {
				want = level.Ratio(want) * level.Reference
			}
			z := cmplx.Rect(want, r.Number(t, c.phase)*math.Pi/180)
			got := values[i] * complex(c.scale, 0)
			// half a unit of the last digit: of the phase 9e-9 rad, of the level 6e-8
			tol := 1.5e-8
			if c.dB {
				tol = 7e-8
			}
			if d := cmplx.Abs(got/z - 1); d > tol {
				t.Errorf("%s at %g Hz: %v, want %v (differ by %.2g)", c.name, hz[i], got, z, d)
			}
		}
	}
}
