package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

// forDriver returns the t of the member for a driver's Qt.
func (f family) forDriver(s SmallSignal) (float64, error) {
	if err := s.validate(); err != nil {
		return 0, err
	}
	if f.kind.single() {
		if want := 1 / f.at(0).invQt; !(math.Abs(s.Qt/want-1) <= QtTolerance) {
			return 0, fmt.Errorf("enclosure: Qt is %.4g, want %.4g within %g %% for %v at %s", s.Qt, want, 100*QtTolerance, f.kind, leak(f.ql))
		}
		return 0, nil
	}
	t, ok := f.find(1 / s.Qt)
	if !ok {
		lo, hi := f.qtRange()
		return 0, fmt.Errorf("enclosure: Qt is %.4g, want %.4g to %.4g for %v at %s", s.Qt, lo, hi, f.kind, leak(f.ql))
	}
	return t, nil
}

// forVolume returns the t nearest the beginning whose α is Vas/vb.
func (f family) forVolume(s SmallSignal, vb float64) (float64, error) {
	s.Qt = 1 // not looked at
	if err := s.validate(); err != nil {
		return 0, err
	}
	alpha := s.Vas / vb
	if !positive(vb, alpha) {
		return 0, fmt.Errorf("enclosure: net volume is %g m³, want a finite value > 0", vb)
	}
	first := f.at(0).alpha
	if f.kind.single() {
		if !(math.Abs(first/alpha-1) <= QtTolerance) {
			return 0, fmt.Errorf("enclosure: net volume is %.4g m³, want %.4g within %g %% for %v at %s", vb, s.Vas/first, 100*QtTolerance, f.kind, leak(f.ql))
		}
		return 0, nil
	}
	var t float64
	var ok bool
	lo, hi := first, first
	f.walk(func(t0, t1 float64, m0, m1 member) bool {
		lo, hi = math.Min(lo, m1.alpha), math.Max(hi, m1.alpha)
		if (m0.alpha-alpha)*(m1.alpha-alpha) > 0 {
			return false
		}
		t, ok = bisect(func(t float64) float64 { return f.at(t).alpha - alpha }, t0, t1)
		return ok
	})
	if !ok {
		return 0, fmt.Errorf("enclosure: net volume is %.4g m³, want %.4g to %.4g for %v at %s", vb, s.Vas/hi, s.Vas/lo, f.kind, leak(f.ql))
	}
	return t, nil
}

// AlignVolume solves the alignment of a kind for a given net volume, m³, instead of a
// given Qt, which is not looked at: what is found is the Qt that a driver of this
// Fs and Vas would have to have (Alignment.Driver), and the tuning. For a Qt above
// the driver's own there is a resistance in front of it, [Mounted.SourceFor]. B4
// and Bessel take a volume within [QtTolerance] of theirs. Exact as [Align].
func AlignVolume(kind Kind, s SmallSignal, vb, ql float64) (Alignment, error) {
	f, err := newFamily(kind, ql)
	if err != nil {
		return Alignment{}, err
	}
	t, err := f.forVolume(s, vb)
	if err != nil {
		return Alignment{}, err
	}
	return f.alignment(f.at(t), s)
}

// AlignAssistedVolume is [AlignVolume] of an assisted kind.
func AlignAssistedVolume(kind AssistedKind, s SmallSignal, vb, ql float64) (AssistedAlignment, error) {
	f, err := newAssisted(kind, ql)
	if err != nil {
		return AssistedAlignment{}, err
	}
	t, err := f.forVolume(s, vb)
	if err != nil {
		return AssistedAlignment{}, err
	}
	return f.assistedAlignment(kind, t, s)
}

// SourceFor returns the resistance in front of the driver, Ω, with which it has the
// total Q: from 1/Qt = 1/Qms + 1/Qes' and Qes' = Qes·(Re+R)/Re. The box and
// Mounted.Source are not looked at. It is an error if the driver's own Qt is higher
// already (only a source of negative resistance would do it), or if the Q is not
// below Qms.
func (m Mounted) SourceFor(qt float64) (float64, error) {
	m.Source = 0
	s, err := m.SmallSignal()
	if err != nil {
		return 0, err
	}
	d := m.Driver
	if d.Suspension != nil {
		if d, err = d.At(d.Fs()); err != nil {
			return 0, err
		}
	}
	if !(qt >= s.Qt*(1-1e-12)) || !(qt < d.Qms()) {
		return 0, fmt.Errorf("enclosure: Qt is to be %.4g, want from %.4g (no resistance in front) to below Qms %.4g", qt, s.Qt, d.Qms())
	}
	qes := 1 / (1/qt - 1/d.Qms())
	return math.Max(0, d.Re*(qes/d.Qes()-1)), nil
}

// Align solves the alignment of a kind for the cabinet as it is: net volume, vent
// length and tuning together, with the Qt that the driver would have to have, as
// [AlignVolume]. A longer tube takes volume, which asks for another member of the
// family, which asks for another tube; it is repeated until the volume stands to
// 10⁻¹². A kind of one Qt has one volume, which the cabinet must have within
// [QtTolerance].
func (b Book) Align(kind Kind, s SmallSignal, ql float64, v Vent, m air.Medium) (Alignment, Account, error) {
	var a Alignment
	account, err := b.settle(v, m, func(vb float64) (fb float64, err error) {
		a, err = AlignVolume(kind, s, vb, ql)
		return a.Fb, err
	})
	return a, account, err
}

// AlignAssisted is Book.Align of an assisted kind.
func (b Book) AlignAssisted(kind AssistedKind, s SmallSignal, ql float64, v Vent, m air.Medium) (AssistedAlignment, Account, error) {
	var a AssistedAlignment
	account, err := b.settle(v, m, func(vb float64) (fb float64, err error) {
		a, err = AlignAssistedVolume(kind, s, vb, ql)
		return a.Fb, err
	})
	return a, account, err
}

// settle finds the net volume whose tuning, as told by fb, leaves that volume.
func (b Book) settle(v Vent, m air.Medium, fb func(vb float64) (float64, error)) (Account, error) {
	if err := b.Validate(); err != nil {
		return Account{}, err
	}
	vb := b.Gross - b.Driver - b.Bracing - b.Electronics
	const most = 100 // the tube is a small part of the volume: each round brings a digit or so
	for range most {
		hz, err := fb(vb)
		if err != nil {
			return Account{}, err
		}
		account, err := b.Tune(hz, v, m)
		if err != nil {
			return Account{}, err
		}
		if math.Abs(account.Box.Vb-vb) <= 1e-12*vb {
			return account, nil
		}
		vb = account.Box.Vb
	}
	return Account{}, fmt.Errorf("enclosure: volume and tuning of the cabinet do not settle in %d rounds, the last at %g m³: the tube takes too much of it", most, vb)
}
