package profile

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"leadline/internal/flighttest"
	"leadline/internal/humidity"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// made is a flight up at 5 m/s and down at 10 m/s through air whose temperature, humidity
// and wind are functions of ln p and time, with equal uncertainties up and down.
type made struct {
	t, rh, u, v func(lnp, time float64) float64
	ti, tc      float64 // uncertainty of temperature
	downTi      float64 // independent one on the way down; 0 is ti
}

const top = 1500 // s of ascent

func (m made) flight() *sounding.Final {
	f := &sounding.Final{FlightName: "made"}
	f.Epoch = time.Date(2031, 6, 4, 11, 10, 0, 0, time.UTC)
	const n = top + 1 + 700
	columns := map[sounding.Variable][]float64{}
	add := func(v sounding.Variable, x float64) { columns[v] = append(columns[v], x) }
	for i := range n {
		z := 5 * float64(i)
		if i > top {
			z = 5*top - 10*float64(i-top)
		}
		f.Time = append(f.Time, float64(i))
		f.Line, f.Source = append(f.Line, int32(i+1)), append(f.Source, 0)
		lnp := math.Log(1000) - z/8000
		add(sounding.Pressure, math.Exp(lnp))
		add(sounding.HeightMSL, z+100)
		add(sounding.GeopotentialHeight, z+100)
		add(sounding.Latitude, 46+1e-6*float64(i))
		add(sounding.Longitude, math.Remainder(179.999+1e-5*float64(i), 360))
		add(sounding.Temperature, m.t(lnp, f.Time[i]))
		add(sounding.Humidity, m.rh(lnp, f.Time[i]))
		add(sounding.WindU, m.u(lnp, f.Time[i]))
		add(sounding.WindV, m.v(lnp, f.Time[i]))
	}
	for _, v := range append([]sounding.Variable{sounding.Pressure}, combined...) {
		s := sounding.Series{Variable: v, Values: columns[v], Flags: make([]quality.Flag, n), Independent: make([]float64, n), Common: make([]float64, n)}
		for i := range s.Flags {
			s.Flags[i] = quality.Good
			if v == sounding.Temperature {
				s.Independent[i], s.Common[i] = m.ti, m.tc
				if i > top && m.downTi > 0 {
					s.Independent[i] = m.downTi
				}
			}
		}
		f.Series = append(f.Series, s)
	}
	f.Events = sounding.Events{
		Release: sounding.Event{Found: true, UTC: f.Epoch},
		Burst:   sounding.Event{Found: true, Row: top, Height: 5*top + 100},
		Phases: []sounding.PhaseSpan{{Phase: sounding.Ascending, Span: sounding.Span{From: 0, To: top + 1}},
			{Phase: sounding.Descending, Span: sounding.Span{From: top + 1, To: n}}},
	}
	f.Record = sounding.NewLaunchRecord()
	f.Record.Release.Nominal = time.Date(2031, 6, 4, 11, 45, 0, 0, time.UTC)
	return f
}

func still(value float64) func(float64, float64) float64 {
	return func(float64, float64) float64 { return value }
}

func profileOf(t *testing.T, f *sounding.Final, kind sounding.ProfileKind) *sounding.Final {
	t.Helper()
	out, err := Of(f, kind, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := out.Validate(); err != nil {
		t.Fatalf("%s: %v", kind, err)
	}
	if out.ProfileKind() != kind || kind != sounding.AscentProfile && out.Origin.Note == "" {
		t.Fatalf("%s says it is %s: %q", kind, out.ProfileKind(), out.Origin.Note)
	}
	if span := out.Events.Ascent(); kind != sounding.AscentProfile && span != (sounding.Span{From: 0, To: out.Len()}) {
		t.Fatalf("%s spans %v of %d rows", kind, span, out.Len())
	}
	return out
}

func at(f *sounding.Final, v sounding.Variable, hpa float64) (value, independent, common float64, flag quality.Flag) {
	best := 0
	p := f.Values(sounding.Pressure)
	for i := range p {
		if math.Abs(p[i]-hpa) < math.Abs(p[best]-hpa) {
			best = i
		}
	}
	s := f.Get(v)
	return s.Values[best], s.Independent[best], s.Common[best], s.Flags[best]
}

// The way down, turned: rows of the descent, pressure falling, values and lines as in the
// flight, times running back.
func TestDescentIsTheWayDown(t *testing.T) {
	f := made{t: func(lnp, _ float64) float64 { return 100 + 28*lnp }, rh: still(50), u: still(3), v: still(4), ti: 0.1, tc: 0.2}.flight()
	d := profileOf(t, f, sounding.DescentProfile)
	if d.Len() != 700 {
		t.Fatalf("%d rows", d.Len())
	}
	p, temperature := d.Values(sounding.Pressure), d.Values(sounding.Temperature)
	for k := range p {
		row := f.Len() - 1 - k
		if k > 0 && !(p[k] < p[k-1]) || d.Time[k] != f.Time[row] || d.Line[k] != f.Line[row] || temperature[k] != f.Values(sounding.Temperature)[row] {
			t.Fatalf("row %d: %g hPa at %g s, line %d", k, p[k], d.Time[k], d.Line[k])
		}
	}
	// 1500 m below the burst at 7600 m is questionable.
	flags, z := d.Get(sounding.Temperature).Flags, d.Values(sounding.HeightMSL)
	for k := range flags {
		if want := z[k] > 6100; (flags[k] == quality.Questionable) != want {
			t.Fatalf("%g m: %v", z[k], flags[k])
		}
	}
	if f.Get(sounding.Temperature).Flags[top+1] != quality.Good {
		t.Error("the flight's own flags changed")
	}
	if d.Origin.GroundHeight != 100 || math.Abs(d.Origin.GroundPressure.Value()-1000) > 1e-9 || d.Origin.OnTheGround() {
		t.Errorf("%+v", d.Origin)
	}
}

// Two results of equal uncertainty that differ by d: their mean, and d/2 as its standard
// uncertainty (JCGM 100:2008, 4.2.3: s/√2 with s = d/√2, for n = 2).
func TestMergedIsTheMeanOfTwo(t *testing.T) {
	const d = 2.0
	f := made{t: func(_, time float64) float64 {
		if time > top {
			return 270 + d
		}
		return 270
	}, rh: still(50), u: still(3), v: still(4), ti: 0.01, tc: 0}.flight()
	m := profileOf(t, f, sounding.MergedProfile)
	value, i, c, flag := at(m, sounding.Temperature, 700)
	if math.Abs(value-271) > 1e-6 || math.Abs(math.Hypot(i, c)-d/2) > 0.001 || flag != quality.Good {
		t.Errorf("%.4f K, independent %.4f, common %.4f, %v", value, i, c, flag)
	}
	// Below the last sample of the way down, and near the burst, it is the ascent.
	if value, i, c, _ := at(m, sounding.Temperature, 990); value != 270 || i != 0.01 || c != 0 {
		t.Errorf("below the descent %.4f ± %.3f, %.3f", value, i, c)
	}
	if value, _, _, flag := at(m, sounding.Temperature, 410); value != 270 || flag != quality.Good {
		t.Errorf("near the burst %.4f, %v", value, flag)
	}
}

// Passages that agree within their noise are weighted by it (JCGM 100:2008, and any
// textbook: 1/u² = Σ 1/uᵢ²), and their common error stays whole.
func TestMergedWeighsByUncertainty(t *testing.T) {
	f := made{t: still(270), rh: still(50), u: still(3), v: still(4), ti: 0.3, tc: 0.2, downTi: 0.1}.flight()
	m := profileOf(t, f, sounding.MergedProfile)
	value, i, c, _ := at(m, sounding.Temperature, 700)
	want := 1 / math.Sqrt(1/0.09+1/0.01)
	if value != 270 || math.Abs(i-want) > 1e-6 || math.Abs(c-0.2) > 1e-9 {
		t.Errorf("%.4f ± %.5f (want %.5f), common %.4f", value, i, want, c)
	}
}

// Air that changes steadily in time is given at the nominal hour exactly.
func TestNominalIsLinearInTime(t *testing.T) {
	f := made{t: func(lnp, time float64) float64 { return 100 + 25*lnp + 0.001*time }, rh: func(_, time float64) float64 { return 40 + 0.01*time },
		u: func(_, time float64) float64 { return 0.002 * time }, v: still(1), ti: 0.1, tc: 0.2}.flight()
	f.Record.Release.Nominal = f.Epoch.Add(1600 * time.Second)
	n := profileOf(t, f, sounding.NominalProfile)
	for _, hpa := range []float64{500, 600} { // passed down at 1650 s and later
		value, _, c, _ := at(n, sounding.Temperature, hpa)
		if want := 100 + 25*math.Log(hpa) + 1.6; math.Abs(value-want) > 0.02 {
			t.Errorf("%g hPa: %.4f K, want %.4f", hpa, value, want)
		}
		if c < 0.2 {
			t.Errorf("%g hPa: common uncertainty %.3f", hpa, c)
		}
		if rh, _, _, _ := at(n, sounding.Humidity, hpa); math.Abs(rh-56) > 0.05 {
			t.Errorf("%g hPa: %.3f %%, want 56", hpa, rh)
		}
		if s, _, _, _ := at(n, sounding.WindSpeed, hpa); math.Abs(s-math.Hypot(3.2, 1)) > 0.01 {
			t.Errorf("%g hPa: %.3f m/s", hpa, s)
		}
		rh, _, _, _ := at(n, sounding.Humidity, hpa)
		if td, _, _, _ := at(n, sounding.DewPoint, hpa); math.Abs(td-humidity.HylandWexler.DewPointFromRelative(rh, value)) > 1e-6 {
			t.Errorf("%g hPa: dew point %.3f K does not belong to %.2f K and %.1f %%", hpa, td, value, rh)
		}
		// Over the line of dates.
		if lon, _, _, _ := at(n, sounding.Longitude, hpa); math.Abs(math.Remainder(lon-180.015, 360)) > 0.001 {
			t.Errorf("%g hPa: longitude %.4f", hpa, lon)
		}
	}
	if !strings.Contains(n.Origin.Note, "2031-06-04 11:36") || !strings.Contains(n.Origin.Note, "not moved in space") {
		t.Error(n.Origin.Note)
	}
}

// An hour before the release, or after the landing, is nobody's: the nearer passage stands
// for it as it is, with an uncertainty that grows with the time.
func TestNominalDoesNotExtrapolate(t *testing.T) {
	f := made{t: func(lnp, time float64) float64 { return 100 + 25*lnp + 0.001*time }, rh: still(50), u: still(3), v: still(4), ti: 0.1, tc: 0.2}.flight()
	up, _, _, _ := at(f, sounding.Temperature, 600)
	last := 0.0
	for _, before := range []time.Duration{10 * time.Minute, time.Hour} {
		f.Record.Release.Nominal = f.Epoch.Add(-before)
		n := profileOf(t, f, sounding.NominalProfile)
		value, _, c, _ := at(n, sounding.Temperature, 600)
		if value != up || !(c > last) {
			t.Errorf("%v before: %.4f K (ascent %.4f), common %.3f after %.3f", before, value, up, c, last)
		}
		last = c
	}
	f.Record.Release.Nominal = f.Epoch.Add(3 * time.Hour)
	n := profileOf(t, f, sounding.NominalProfile)
	d := profileOf(t, f, sounding.DescentProfile)
	want, _, _, _ := at(d, sounding.Temperature, 600)
	if value, _, _, _ := at(n, sounding.Temperature, 600); math.Abs(value-want) > 0.05 {
		t.Errorf("after: %.4f K, the descent has %.4f", value, want)
	}
}

// Without a way down there is no descent and nothing to merge; the nominal profile is the
// ascent and says so, and by how much it misses the hour.
func TestWithoutDescent(t *testing.T) {
	f := flighttest.New(2000)
	for i, p := range f.Events.Phases {
		if p.Phase == sounding.Descending {
			f.Events.Phases = f.Events.Phases[:i]
			break
		}
	}
	for _, kind := range []sounding.ProfileKind{sounding.DescentProfile, sounding.MergedProfile} {
		if _, err := Of(f, kind, nil); !errors.Is(err, ErrNoDescent) {
			t.Errorf("%s: %v", kind, err)
		}
	}
	n := profileOf(t, f, sounding.NominalProfile)
	if !strings.Contains(n.Origin.Note, "has no descent, so every value is the ascent's as it is, from 56 min before") {
		t.Error(n.Origin.Note)
	}
	p, own := n.Values(sounding.Temperature), f.Values(sounding.Temperature)
	for k, row := range firstPassage(f) {
		if p[k] != own[row] && !(math.IsNaN(p[k])) {
			t.Fatalf("row %d: %g, ascent %g", k, p[k], own[row])
		}
	}
	f.Record.Release.Nominal = time.Time{}
	if n = profileOf(t, f, sounding.NominalProfile); !strings.Contains(n.Origin.Note, "2031-06-04 00:00 UTC, the synoptic hour nearest") {
		t.Error(n.Origin.Note)
	}
}

// A good value is not mixed with a questionable one, nor anything read across a gap.
func TestFlagsAndGaps(t *testing.T) {
	base := made{t: func(_, time float64) float64 {
		if time > top {
			return 272
		}
		return 270
	}, rh: still(50), u: still(3), v: still(4), ti: 0.1}
	f := base.flight()
	s, p := f.Get(sounding.Temperature), f.Values(sounding.Pressure)
	for i := range s.Values {
		switch {
		case i <= top && p[i] < 700 && p[i] > 650:
			s.Flags[i] = quality.Questionable
		case i > top && p[i] < 850 && p[i] > 800:
			s.Flags[i], s.Values[i] = quality.Missing, math.NaN()
		case i <= top && p[i] < 600 && p[i] > 550:
			s.Flags[i] = quality.Bad
		}
	}
	m := profileOf(t, f, sounding.MergedProfile)
	for hpa, want := range map[float64]float64{675: 272, 825: 270, 575: 272, 760: 271} {
		if v, _, _, flag := at(m, sounding.Temperature, hpa); math.Abs(v-want) > 1e-6 || flag != quality.Good {
			t.Errorf("%g hPa: %.3f K, %v; want %g", hpa, v, flag, want)
		}
	}
}

// Whatever the flight, there is a valid profile or a reason, and the flight stays as it was.
func TestAnyFlight(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		f := flighttest.New(200 + r.IntN(600))
		for i := range f.Series {
			s := &f.Series[i]
			for k := range s.Values {
				switch x := r.Float64(); {
				case x < 0.05:
					s.Flags[k] = quality.Bad
					if math.IsNaN(s.Values[k]) {
						s.Flags[k] = quality.Missing
					}
				case x < 0.1:
					s.Values[k], s.Flags[k] = math.NaN(), quality.Missing
				}
			}
			if r.Float64() < 0.1 {
				s.Independent, s.Common = nil, nil
			}
		}
		if r.Float64() < 0.2 {
			f = flighttest.Without(f, sounding.Variable(1+r.IntN(int(sounding.NumVariables)-1)))
		}
		if r.Float64() < 0.2 {
			f.Events.Phases = f.Events.Phases[:r.IntN(len(f.Events.Phases)+1)]
		}
		if r.Float64() < 0.2 {
			f.Record = nil
		}
		before := make([][]float64, len(f.Series))
		for i := range f.Series {
			before[i] = append([]float64(nil), f.Series[i].Values...)
		}
		for _, kind := range sounding.ProfileKinds() {
			out, err := Of(f, kind, nil)
			if err != nil {
				continue
			}
			if err := out.Validate(); err != nil {
				t.Fatalf("%s: %v", kind, err)
			}
		}
		for i := range f.Series {
			for k, v := range f.Series[i].Values {
				if v != before[i][k] && !(math.IsNaN(v) && math.IsNaN(before[i][k])) {
					t.Fatalf("%v changed at row %d", f.Series[i].Variable, k)
				}
			}
		}
	}
	for _, f := range []*sounding.Final{{}, flighttest.AllBad(flighttest.New(400))} {
		for _, kind := range sounding.ProfileKinds() {
			if out, err := Of(f, kind, nil); err == nil && out.Validate() != nil {
				t.Errorf("%s: %v", kind, out.Validate())
			}
		}
	}
	if _, err := Of(flighttest.New(400), "sideways", nil); err == nil || !strings.Contains(err.Error(), "want one of ascent, descent, nominal, merged") {
		t.Error(err)
	}
	bad := Default()
	bad.WindowLnP = 0
	if _, err := Of(flighttest.New(400), sounding.MergedProfile, bad); err == nil || !strings.Contains(err.Error(), "window_ln_p") {
		t.Error(err)
	}
}

func BenchmarkMerged(b *testing.B) {
	f := flighttest.New(8750)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Merged(f, Default()); err != nil {
			b.Fatal(err)
		}
	}
}
