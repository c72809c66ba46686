package enclosure_test

import (
	"bufio"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// spice reads what ngspice's wrdata wrote with a single scale: the frequencies, and
// each vector's complex values.
func spice(t testing.TB, name string) (*freq.Grid, [][]complex128) {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var hz []float64
	var vectors [][]complex128
	for lines := bufio.NewScanner(f); lines.Scan(); {
		fields := strings.Fields(lines.Text())
		var v []float64
		for _, s := range fields {
			if x, err := strconv.ParseFloat(s, 64); err == nil {
				v = append(v, x)
			}
		}
		if len(v) != len(fields) || len(v) < 3 {
			continue // the heading
		}
		hz = append(hz, v[0])
		for k := 0; 2*k+2 < len(v); k++ {
			if len(vectors) <= k {
				vectors = append(vectors, nil)
			}
			vectors[k] = append(vectors[k], complex(v[2*k+1], v[2*k+2]))
		}
	}
	if len(hz) < 10 {
		t.Fatalf("%s has %d lines", name, len(hz))
	}
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	return g, vectors
}

func sameAsSpice(t *testing.T, what string, of freq.Transfer, g *freq.Grid, want []complex128, tol float64) {
	t.Helper()
	for i, got := range of.ResponseTo(nil, g) {
		if d := cmplx.Abs(got/want[i] - 1); !(d <= tol) {
			t.Errorf("%s at %g Hz: %v, want %v (differ by %.2g)", what, g.At(i), got, want[i], d)
		}
	}
}

// small returns a passive-radiator system of the normalised table.
func small(t *testing.T, r testtable.Row) (enclosure.Mounted, float64) {
	t.Helper()
	const fs, qms = 30.0, 4.0
	d := driver.Params{Re: 6, Mms: 0.02, Sd: 0.02}
	w := 2 * math.Pi * fs
	d.Cms, d.Rms = 1/(w*w*d.Mms), w*d.Mms/qms
	qt := r.Number(t, "QT")
	qes := 1 / (1/qt - 1/qms)
	d.Bl = math.Sqrt(w * d.Mms * d.Re / qes)
	vb := d.Vas(table) / r.Number(t, "alpha")
	finiteQ := func(column string) float64 {
		if q := r.Number(t, column); !math.IsInf(q, 0) {
			return q
		}
		return 0
	}
	pr, err := enclosure.RadiatorOf(fs*r.Number(t, "yp_fp_fs"), finiteQ("Qmp_at_fp"), vb*r.Number(t, "delta_Cap_Cab"), 0.03, table)
	if err != nil {
		t.Fatal(err)
	}
	box := enclosure.PassiveRadiator{Vb: vb, Radiator: pr, Losses: enclosure.Losses{QL: finiteQ("QL_at_fb")}}
	near(t, r["case"]+": fb/fs", box.Fb(table)/fs, r.Number(t, "fb_fs"), 6e-7)
	return enclosure.Mounted{Driver: d, Box: box, Air: table}, fs
}

// R. H. Small, "Passive-Radiator Loudspeaker Systems, Part I", J. Audio Eng. Soc. 22
// (1974): the responses of the polynomials of its circuit with and without losses,
// computed outside the library, as levels (six digits after the point) and phases.
func TestPassiveRadiatorTable(t *testing.T) {
	systems := map[string]testtable.Row{}
	for _, r := range testtable.Read(t, "testdata/passive_radiator.csv") {
		systems[r["case"]] = r
	}
	rows, nulls := 0, 0
	for _, r := range testtable.Read(t, "testdata/passive_radiator_response.csv") {
		m, fs := small(t, systems[r["case"]])
		hz := fs * r.Number(t, "f_fs")
		high := m.Air.Density * m.Driver.Bl * m.Driver.Sd / (2 * math.Pi * m.Driver.Mms * m.Driver.Re)
		p := motion(t, m).Pressure.ResponseTo(nil, grid(t, hz))[0] / complex(high, 0)
		rows++
		if want := r.Number(t, "mag_db"); math.IsInf(want, -1) {
			nulls++
			near(t, r["case"]+" in its notch", cmplx.Abs(p), 0, 1e-12)
		} else {
			near(t, r["case"]+" at "+r["f_fs"]+" fs, dB", level.DB(cmplx.Abs(p)), want, 1e-6)
			turn := cmplx.Phase(p * cmplx.Rect(1, -r.Number(t, "phase_deg")*math.Pi/180))
			near(t, r["case"]+" at "+r["f_fs"]+" fs, phase", turn, 0, 1.5e-7)
		}
	}
	if rows < 60 || nulls < 2 {
		t.Errorf("%d rows with %d notches", rows, nulls)
	}
	for name, r := range systems {
		m, fs := small(t, r)
		high := m.Air.Density * m.Driver.Bl * m.Driver.Sd / (2 * math.Pi * m.Driver.Mms * m.Driver.Re)
		p := motion(t, m).Pressure.ResponseTo(nil, grid(t, fs*r.Number(t, "f3_fs")))[0]
		// five digits of f3 after the point, at 24 dB an octave
		near(t, name+": level at f3", level.DB(cmplx.Abs(p)/high), level.DB(math.Sqrt(0.5)), 1.5e-4)
	}
}

// The circuit of passive_radiator.cir by ngspice 39, twelve digits.
func TestPassiveRadiatorAgainstNgspice(t *testing.T) {
	m := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.PassiveRadiator{
		Vb: 0.014, Radiator: enclosure.Radiator{Mmp: 0.06, Cmp: 0.8e-3, Rmp: 1.3, Sp: 0.0136, Count: 2}}}
	m.Driver.Coil = driver.Inductor{Le: 4e-4}
	box := m.Box.(enclosure.PassiveRadiator)
	cab := box.Vb / table.Stiffness()
	box.Losses.QL = 2 * math.Pi * box.Fb(table) * cab * 4e5
	m.Box = box
	g, v := spice(t, "passive_radiator_ngspice.txt")
	for name, m := range map[string]enclosure.Mounted{"by polynomials": m, "by two-ports": {
		Driver: m.Driver, Air: m.Air, Box: enclosure.Cabinet{Port: box.Radiator,
			Chamber: enclosure.Chamber{Vb: box.Vb, Losses: box.Losses, Reference: box.Fb(table)}}}} {
		mo := motion(t, m)
		sameAsSpice(t, name+": current", mo.Current, g, v[0], 1e-9)
		sameAsSpice(t, name+": flow of the radiators", mo.VentFlow, g, v[2], 1e-9)
		speed := make([]complex128, g.Len())
		for i, u := range v[1] {
			speed[i] = u * complex(m.Driver.Sd, 0)
		}
		sameAsSpice(t, name+": flow of the cone", mo.ConeFlow, g, speed, 1e-9)
		air := make([]complex128, g.Len())
		for i, u := range v[2] {
			air[i] = u / complex(2*0.0136, 0)
		}
		sameAsSpice(t, name+": speed of the radiators", mo.VentAir, g, air, 1e-9)
		press := make([]complex128, g.Len())
		for i := range press { // what goes into the box, turned, comes out of it
			press[i] = -v[3][i] * complex(0, 2*math.Pi*g.At(i)*cab) * complex(0, g.At(i)*table.Density)
		}
		sameAsSpice(t, name+": pressure", mo.Pressure, g, press, 1e-9)
	}
}

// A radiator whose compliance grows without bound is a vent with the same acoustic
// mass, and its notch goes to 0 Hz.
func TestSoftRadiatorIsAVent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := enclosure.Mounted{Driver: drawDriver(t), Air: air.Room()}
		vent := drawVent(t)
		losses := enclosure.Losses{QL: maybe(t, "QL", 3, 100), QA: maybe(t, "QA", 5, 200)}
		vb := within(t, "Vb", 1e-3, 0.2)
		m.Box = enclosure.Vented{Vb: vb, Vent: vent, Losses: losses}
		want := motion(t, m)
		m.Box = enclosure.PassiveRadiator{Vb: vb, Losses: losses,
			Radiator: enclosure.Radiator{Mmp: vent.Mass(m.Air) * vent.Area() * vent.Area(), Cmp: 1e13, Sp: vent.Area(), Count: 1}}
		got := motion(t, m)
		hz := within(t, "Hz", 5, 2000)
		for n, pair := range pairs(got, want) {
			a, b := at(t, pair[0], hz)[0], at(t, pair[1], hz)[0]
			scale := cmplx.Abs(b)
			switch vent := cmplx.Abs(at(t, want.VentFlow, hz)[0]); n {
			case 2: // the cone's null at fb is the difference of what is as large as the vent's flow
				scale += vent / (2 * math.Pi * hz * m.Driver.Sd)
			case 3:
				scale += vent
			}
			if cmplx.Abs(a-b) > 1e-8*scale {
				t.Errorf("transfer %d at %g Hz: %v, with the vent %v", n, hz, a, b)
			}
		}
	})
}

// The mass for a tuning tunes to it, and the methods are the inverse of RadiatorOf.
func TestRadiatorMass(t *testing.T) {
	r, err := enclosure.RadiatorOf(21, 6, 0.03, 0.0136, table)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "Fp", r.Fp(), 21, 1e-12)
	near(t, "Qmp", r.Qmp(), 6, 1e-12)
	r.Count = 2
	tuned, err := r.MassFor(36, 0.02, table)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "tuning", tuned.Tuning(0.02, table), 36, 1e-11)
	near(t, "area", tuned.Area(), 2*0.0136, 0)
	// by hand: k = 1/Cmp + 2·Sp²·ρc²/Vb
	stiffness := table.Stiffness() * 0.0136 * 0.0136
	near(t, "mass", tuned.Mmp, (stiffness/0.03+2*stiffness/0.02)/math.Pow(2*math.Pi*36, 2), 1e-14)
}

func TestRadiatorRefusals(t *testing.T) {
	good := enclosure.Radiator{Mmp: 0.05, Cmp: 1e-3, Rmp: 1, Sp: 0.0136, Count: 1}
	for name, c := range map[string]struct {
		change func(*enclosure.PassiveRadiator)
		want   string
	}{
		"no mass":     {func(b *enclosure.PassiveRadiator) { b.Radiator.Mmp = 0 }, "Mmp = 0 kg"},
		"NaN":         {func(b *enclosure.PassiveRadiator) { b.Radiator.Cmp = math.NaN() }, "Cmp = NaN m/N"},
		"no area":     {func(b *enclosure.PassiveRadiator) { b.Radiator.Sp = -1 }, "Sp = -1 m²"},
		"loss":        {func(b *enclosure.PassiveRadiator) { b.Radiator.Rmp = -1 }, "Rmp = -1 kg/s"},
		"none":        {func(b *enclosure.PassiveRadiator) { b.Radiator.Count = 0 }, "0 passive radiators"},
		"QP":          {func(b *enclosure.PassiveRadiator) { b.Losses.QP = 9 }, "QP = 9, want 0"},
		"fill":        {func(b *enclosure.PassiveRadiator) { b.Fill.Isothermal = 1.1 }, "isothermal share of the fill is 1.1"},
		"resistivity": {func(b *enclosure.PassiveRadiator) { b.Fill.Resistivity = math.Inf(1) }, "+Inf Pa·s/m²"},
		"volume":      {func(b *enclosure.PassiveRadiator) { b.Vb = 0 }, "net volume is 0"},
	} {
		b := enclosure.PassiveRadiator{Vb: 0.02, Radiator: good}
		c.change(&b)
		_, err := enclosure.Mounted{Driver: woofer, Air: table, Box: b}.Motion()
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "enclosure: ") {
			t.Errorf("%s: error %v, want one of enclosure with %q", name, err, c.want)
		}
	}
	if _, err := enclosure.RadiatorOf(math.NaN(), 5, 0.02, 0.01, table); err == nil || !strings.Contains(err.Error(), "Fp NaN Hz") {
		t.Errorf("error %v, want one with Fp NaN Hz", err)
	}
}
