package correct

import (
	"math"
	"strings"
	"testing"
	"time"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

func mustRun(t *testing.T, in *sounding.Checked, set *Settings) Result {
	t.Helper()
	if set == nil {
		set = Default()
	}
	r, err := Run(in, set)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Columns.Validate(); err != nil {
		t.Fatal(err)
	}
	if r.Columns.Len() != in.Len() {
		t.Fatalf("%d rows became %d", in.Len(), r.Columns.Len())
	}
	return r
}

func values(in *sounding.Checked, v sounding.Variable) []float64 { return in.Columns.Values(v) }

// withApplied is the fixture with an instrument whose values need no correction.
func withApplied(c *sounding.Checked, corrections ...string) {
	s := *c.Sheet
	s.Applied = corrections
	c.Sheet = &s
}

var everything = []string{"radiation", "temperature-lag", "humidity-lag", "humidity-radiation"}

func stepOf(r Result, method string, v sounding.Variable) *sounding.Step {
	for i := range r.Steps {
		if r.Steps[i].Method == method && r.Steps[i].Variable == v {
			return &r.Steps[i]
		}
	}
	return nil
}

func coefficient(s *sounding.Step, name string) float64 {
	if s != nil {
		for _, c := range s.Coefficients {
			if c.Name == name {
				return c.Value.Value()
			}
		}
	}
	return math.NaN()
}

// What the source already contains is not done again, but its uncertainty is stated.
func TestAppliedCorrectionsAreNotRepeated(t *testing.T) {
	in := made(t, "single-humidity", 3000, func(c *sounding.Checked) { withApplied(c, everything...) })
	set := Default()
	set.Surface.Splice = false
	r := mustRun(t, in, set)
	for _, v := range []sounding.Variable{sounding.Temperature, sounding.Humidity} {
		a, b := r.Columns.Get(v), in.Columns.Get(v)
		for i := range a.Values {
			if a.Values[i] != b.Values[i] {
				t.Fatalf("%v row %d changed from %g to %g", v, i, b.Values[i], a.Values[i])
			}
		}
		if u := a.Total(2900); !(u > 0.1) {
			t.Errorf("%v: uncertainty %g", v, u)
		}
		for _, s := range r.Steps {
			if s.Variable == v {
				t.Errorf("%v has a step: %s", v, s.Note)
			}
		}
	}
	if u0, u := r.Columns.Get(sounding.Temperature).Common[100], r.Columns.Get(sounding.Temperature).Common[2900]; !(u > u0) {
		t.Errorf("the radiation part of the uncertainty does not grow with height: %g, %g", u0, u)
	}
}

// Radiation: at the nodes of the table and its reference ventilation the correction is
// the table; it goes with v^−n; the Sun is gone below the dipped horizon and seen at
// −4° from 30 km, whose dip is 5.5° (METHODS 9).
func TestRadiationTable(t *testing.T) {
	sheet, _, err := sounding.ShippedSheet("single-humidity")
	if err != nil {
		t.Fatal(err)
	}
	table := newRadiationTable(&sheet.Temperature.Radiation)
	r := &sheet.Temperature.Radiation
	for i, e := range r.Elevation {
		for j, p := range r.Pressure {
			day, night := table.at(e, math.Log(p))
			if math.Abs(day-r.Error[i][j]) > 1e-12 || math.Abs(night-r.Night[j]) > 1e-12 {
				t.Errorf("%g°, %g hPa: %g and %g K, the table says %g and %g K", e, p, day, night, r.Error[i][j], r.Night[j])
			}
		}
	}
	if day, _ := table.at(120, math.Log(2000)); day != r.Error[len(r.Error)-1][0] {
		t.Errorf("beyond the table: %g K, want its corner", day)
	}
	f := &flight{set: Default(), in: &sounding.Checked{Context: sounding.Context{Sheet: sheet}}, sheet: sheet, scratch: new(scratch)}
	l := &leg{rows: make([]int32, 4), pressure: []float64{10, 10, 10, 1000}, elevation: []float64{45, 45, -4, -4},
		sunlit: []float64{1, 1, 1, 0}, ventilation: []float64{5, 20, 5, 5}, excess: make([]float64, 4)}
	f.legs = []*leg{l}
	if ok, why := f.radiationError(); !ok {
		t.Fatal(why)
	}
	if got := l.excess[1] / l.excess[0]; math.Abs(got-0.5) > 1e-12 {
		t.Errorf("four times the ventilation: %g of the error, want 0.5 for n = 0.5", got)
	}
	if !(l.excess[2] > 0.1) {
		t.Errorf("Sun at −4° seen from 30 km: %g K, want clearly above 0", l.excess[2])
	}
	if l.excess[3] != r.Night[0] {
		t.Errorf("Sun below the horizon at the ground: %g K, want the night's %g K", l.excess[3], r.Night[0])
	}
}

func TestSunlitShareFollowsTheDip(t *testing.T) {
	in := made(t, "single-humidity", 6000, func(c *sounding.Checked) {
		// Before sunrise at this place, and after it when the balloon is at 30 km.
		c.Epoch = c.Epoch.Add(-8*time.Hour - 40*time.Minute)
	})
	f := newFlight(in, Default())
	f.provisional()
	l := f.legs[0]
	if l.elevation[0] > -1.5 || l.elevation[3000] < -5 || l.elevation[3000] > -0.5 {
		t.Fatalf("the fixture's Sun stands at %.1f° at release and %.1f° at 15 km", l.elevation[0], l.elevation[3000])
	}
	if l.sunlit[3000] != 1 {
		t.Errorf("Sun at %.1f° seen from %.0f m (dip 3.9°): sunlit share %g, want 1", l.elevation[3000], l.height[3000], l.sunlit[3000])
	}
	if l.sunlit[0] != 0 || l.sunlit[l.len()-1] != 1 {
		t.Errorf("sunlit share %g at the ground, %g at %.0f m: want 0 and 1", l.sunlit[0], l.sunlit[l.len()-1], l.height[l.len()-1])
	}
}

// A thermometer with the sheet's time constant, flown through the standard
// atmosphere with waves, gives the air back.
func TestTemperatureLagOnAFlight(t *testing.T) {
	var air []float64
	in := made(t, "single-humidity", 5000, func(c *sounding.Checked) {
		withApplied(c, "radiation", "humidity-lag", "humidity-radiation")
		x := c.Columns.Values(sounding.Temperature)
		p := c.Columns.Values(sounding.Pressure)
		for i := range x {
			x[i] += 1.5 * math.Sin(float64(i)/15)
		}
		air = append([]float64(nil), x...)
		tau := make([]float64, len(x))
		for i := range tau {
			rho := 100 * p[i] / (287.05 * air[i])
			tau[i] = c.Sheet.Temperature.TimeConstant * math.Sqrt(6/(rho*math.Hypot(5, 1)))
		}
		copy(x, respond(c.Time, air, tau))
	})
	r := mustRun(t, in, nil)
	got, raw := r.Columns.Values(sounding.Temperature), values(in, sounding.Temperature)
	before, after := 0.0, 0.0
	for i := 200; i < 4950; i++ {
		before = math.Max(before, math.Abs(raw[i]-air[i]))
		after = math.Max(after, math.Abs(got[i]-air[i]))
	}
	t.Logf("largest error %.3f → %.3f K", before, after)
	if !(before > 0.2) || !(after < 0.03) {
		t.Errorf("largest error %.3f → %.3f K: want above 0.2 before and below 0.03 after", before, after)
	}
}

// Pressure from satellite height reproduces the US Standard Atmosphere 1976 (row
// HGT-18 asks 0.001 hPa at 11 km for temperatures on a fine grid; heights here go
// through the gravity of 47° and back).
func TestPressureFromHeightInTheStandardAtmosphere(t *testing.T) {
	var want []float64
	in := made(t, "no-barometer", 6000, func(c *sounding.Checked) {
		withApplied(c, everything...)
		want = append([]float64(nil), c.Columns.Values(sounding.Pressure)...)
		c.Columns.Series = c.Columns.Series[1:] // no barometer
		for i := range c.Columns.Values(sounding.Humidity) {
			c.Columns.Values(sounding.Humidity)[i] = 0
		}
		c.Record.Surface.Humidity = 0
	})
	r := mustRun(t, in, nil)
	p, h := r.Columns.Values(sounding.Pressure), r.Columns.Values(sounding.GeopotentialHeight)
	for i := 60; i < 6000; i++ {
		// Rd is rounded to 287.05, a hundred-thousandth below that of the standard.
		if math.Abs(p[i]/want[i]-1) > 5e-6+1.2e-5*math.Log(1013.25/want[i]) {
			t.Fatalf("row %d: %.4f hPa, the standard atmosphere has %.4f", i, p[i], want[i])
		}
		z := 400 + 5*float64(i-60)
		if g := earth.GeopotentialHeight(z, 47); math.Abs(h[i]-g) > 0.05 {
			t.Fatalf("row %d: %.3f gpm, want %.3f", i, h[i], g)
		}
	}
}

// Hydrostatic heights close on the standard atmosphere without any satellite.
func TestHypsometricClosure(t *testing.T) {
	in := made(t, "single-humidity", 6000, func(c *sounding.Checked) {
		withApplied(c, everything...)
		s := c.Columns.Series
		c.Columns.Series = append(append([]sounding.Series(nil), s[:3]...), s[4:]...) // no height
		for i := range c.Columns.Values(sounding.Humidity) {
			c.Columns.Values(sounding.Humidity)[i] = 0
		}
		c.Record.Surface.Humidity = 0
	})
	r := mustRun(t, in, nil)
	h, z := r.Columns.Values(sounding.GeopotentialHeight), r.Columns.Values(sounding.HeightMSL)
	for i := 60; i < 6000; i++ {
		want := 400 + 5*float64(i-60)
		if g := earth.GeopotentialHeight(want, 47); math.Abs(h[i]-g) > 0.5 || math.Abs(z[i]-want) > 0.5 {
			t.Fatalf("row %d: %.2f gpm and %.2f m, want %.2f and %.2f", i, h[i], z[i], g, want)
		}
	}
	u := r.Columns.Get(sounding.GeopotentialHeight)
	if !(u.Common[5500] > 2*u.Common[1000]) {
		t.Errorf("the uncertainty of hydrostatic heights must grow upwards: %.1f at 5 km, %.1f gpm at 27 km", u.Common[1000], u.Common[5500])
	}
}

func TestBarometerOffsetAndDrift(t *testing.T) {
	for _, c := range []struct {
		name           string
		ground, slope  float64 // hPa, hPa per s
		wantDrift      bool
		wantCorrection bool
	}{
		{"none", 0, 0, false, false},
		{"offset", 1.2, 0, false, true},
		{"negative offset", -0.9, 0, false, true},
		{"drift", 0.1, 2.5 / 6000, true, true},
		{"fault", 8, 0, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			var want []float64
			in := made(t, "single-humidity", 6000, func(k *sounding.Checked) {
				withApplied(k, everything...)
				fill(k.Columns.Values(sounding.Humidity), 0) // the standard atmosphere is dry
				k.Record.Surface.Humidity = 0
				p := k.Columns.Values(sounding.Pressure)
				want = append([]float64(nil), p...)
				for i := range p {
					p[i] += c.ground + c.slope*k.Time[i]
				}
			})
			r := mustRun(t, in, nil)
			s := stepOf(r, "barometer-offset", sounding.Pressure)
			if (s != nil) != c.wantCorrection {
				t.Fatalf("corrected: %v, want %v; findings %v", s != nil, c.wantCorrection, r.Findings)
			}
			if s == nil {
				if c.name == "fault" && (len(r.Findings) == 0 || r.Findings[0].Severity != sounding.Questionable) {
					t.Errorf("an offset of 8 hPa must be reported: %v", r.Findings)
				}
				return
			}
			if drift := coefficient(s, "drift"); (drift == drift) != c.wantDrift {
				t.Errorf("drift found: %v, want %v (%s)", drift == drift, c.wantDrift, s.Note)
			}
			truth := c.ground + c.slope*5000
			if got := coefficient(s, "offset"); math.Abs(got-truth) > 0.12 {
				t.Errorf("offset %.3f hPa, want %.3f", got, truth)
			}
			p := r.Columns.Values(sounding.Pressure)
			for i := 100; i < 6000; i++ {
				if math.Abs(p[i]-want[i]) > 0.12 {
					t.Fatalf("row %d: %.3f hPa, want %.3f within 0.12 (%s)", i, p[i], want[i], s.Note)
				}
			}
			if len(r.Findings) == 0 || !strings.Contains(r.Findings[0].Sentence, "hPa") {
				t.Errorf("no finding with the amount: %v", r.Findings)
			}
		})
	}
}

func TestSatelliteDatum(t *testing.T) {
	shifted := func(by float64) func(*sounding.Checked) {
		return func(c *sounding.Checked) {
			s := *c.Sheet
			s.Position.Datum = "ellipsoid"
			c.Sheet = &s
			z := c.Columns.Values(sounding.HeightMSL)
			for i := range z {
				z[i] += by
			}
		}
	}
	height := func(r Result) float64 { return r.Columns.Values(sounding.HeightMSL)[4000] }
	want := 400 + 5*float64(4000-60)
	t.Run("undulation known", func(t *testing.T) {
		r := mustRun(t, made(t, "no-barometer", 5000, func(c *sounding.Checked) { shifted(48)(c); c.Record.Site.Undulation = 48 }), nil)
		if math.Abs(height(r)-want) > 0.1 {
			t.Errorf("%.2f m, want %.2f", height(r), want)
		}
	})
	t.Run("undulation from the release point", func(t *testing.T) {
		r := mustRun(t, made(t, "no-barometer", 5000, shifted(48)), nil)
		if math.Abs(height(r)-want) > 0.1 {
			t.Errorf("%.2f m, want %.2f", height(r), want)
		}
		s := stepOf(r, "satellite-height", sounding.HeightMSL)
		if got := coefficient(s, "offset_at_release"); math.Abs(got-48) > 0.1 {
			t.Errorf("stated offset %g m, want 48", got)
		}
	})
	t.Run("nothing known", func(t *testing.T) {
		r := mustRun(t, made(t, "no-barometer", 5000, func(c *sounding.Checked) { shifted(48)(c); c.Record.Site.Height = sounding.NotSet }), nil)
		said := false
		for _, x := range r.Runs {
			said = said || !x.Ran && strings.Contains(x.Why, "ellipsoid")
		}
		if !said {
			t.Error("heights of unknown datum are used without a word")
		}
	})
	t.Run("station height wrong by 60 m", func(t *testing.T) {
		r := mustRun(t, made(t, "single-humidity", 5000, func(c *sounding.Checked) { c.Record.Site.Height = 460 }), nil)
		if math.Abs(height(r)-want) > 0.1 {
			t.Errorf("heights were shifted to a wrong station height: %.2f m, want %.2f", height(r), want)
		}
		found := false
		for _, x := range r.Findings {
			found = found || x.Field == "site.height_m_msl"
		}
		if !found {
			t.Errorf("no finding about the station height: %v", r.Findings)
		}
	})
}

// The surface observation stands on the row of release, and not where it is doubted
// or far from the first samples.
func TestSurfaceValue(t *testing.T) {
	in := made(t, "single-humidity", 3000, func(c *sounding.Checked) { c.Record.Surface.Temperature += 0.7 })
	r := mustRun(t, in, nil)
	row := in.Events.Release.Row
	if got, want := r.Columns.Values(sounding.Temperature)[row], in.Record.Surface.Temperature.Value(); got != want {
		t.Errorf("temperature on the row of release %g K, want the surface observation, %g K", got, want)
	}
	if got, want := r.Columns.Values(sounding.GeopotentialHeight)[row], earth.GeopotentialHeight(400, 47); math.Abs(got-want) > 1e-9 {
		t.Errorf("geopotential height on the row of release %g, want %g", got, want)
	}
	in = made(t, "single-humidity", 3000, func(c *sounding.Checked) { c.Record.Surface.Pressure += 10 })
	r = mustRun(t, in, nil)
	if got, want := r.Columns.Values(sounding.Pressure)[row], values(in, sounding.Pressure)[row]; math.Abs(got-want) > 0.5 {
		t.Errorf("a surface pressure 10 hPa off was put into the profile: %g hPa, the barometer says %g", got, want)
	}
	in = made(t, "single-humidity", 3000, nil)
	in.Findings = []sounding.Finding{{Check: quality.LaunchRecord, Field: "surface.temperature_k", Severity: sounding.Questionable}}
	r = mustRun(t, in, nil)
	if stepOf(r, "surface-value", sounding.Temperature) != nil {
		t.Error("a doubted surface temperature was put into the profile")
	}
	// A release point 12 m above the barometer: 0.12 hPa per metre at sea level (METHODS 2.1).
	in = made(t, "single-humidity", 3000, func(c *sounding.Checked) { c.Record.Site.Barometer = 390 })
	f := newFlight(in, Default())
	p, _ := f.surfacePressure()
	if d := in.Record.Surface.Pressure.Value() - p; d < 1.0 || d > 1.3 {
		t.Errorf("10 m from barometer to release point are %.2f hPa, want 1.0 to 1.3 at 966 hPa", d)
	}
}

// Bad samples keep their value and change nothing else.
func TestBadSamplesAreNeverUsed(t *testing.T) {
	clean := mustRun(t, made(t, "single-humidity", 3000, nil), nil)
	in := made(t, "single-humidity", 3000, nil)
	for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.HeightMSL} {
		s := in.Columns.Get(v)
		for i := 1000; i < 1010; i++ {
			s.Values[i], s.Flags[i] = s.Values[i]+500, quality.Bad
		}
	}
	r := mustRun(t, in, nil)
	for _, v := range []sounding.Variable{sounding.Temperature, sounding.Humidity, sounding.HeightMSL, sounding.Pressure} {
		s := r.Columns.Get(v)
		for i := 1000; i < 1010; i++ {
			if s.Values[i] != values(in, v)[i] || s.Flags[i] != quality.Bad {
				t.Errorf("%v row %d: bad %g became %g, flag %v", v, i, values(in, v)[i], s.Values[i], s.Flags[i])
			}
		}
		limit := map[sounding.Variable]float64{sounding.Temperature: 0.05, sounding.Humidity: 0.2, sounding.HeightMSL: 0.5, sounding.Pressure: 0.05}[v]
		for i := 61; i < 2990; i++ {
			if i >= 1000 && i < 1010 {
				continue
			}
			if d := math.Abs(s.Values[i] - clean.Columns.Values(v)[i]); d > limit {
				t.Fatalf("%v row %d moved by %g through bad samples elsewhere", v, i, d)
			}
		}
	}
	for _, v := range []sounding.Variable{sounding.DewPoint, sounding.VirtualTemperature, sounding.PotentialTemperature, sounding.MixingRatio} {
		s := r.Columns.Get(v)
		if !math.IsNaN(s.Values[1005]) || s.Flags[1005] != quality.Missing {
			t.Errorf("%v was computed from bad samples", v)
		}
	}
}

// Whatever is missing, the run ends with valid columns of the same rows, says what
// could not be done, and does not panic.
func TestEdges(t *testing.T) {
	drop := func(vs ...sounding.Variable) func(*sounding.Checked) {
		return func(c *sounding.Checked) {
			var keep []sounding.Series
		next:
			for _, s := range c.Columns.Series {
				for _, v := range vs {
					if s.Variable == v {
						continue next
					}
				}
				keep = append(keep, s)
			}
			c.Columns.Series = keep
		}
	}
	cases := map[string]func(*sounding.Checked){
		"nothing special":         nil,
		"no pressure":             drop(sounding.Pressure),
		"no heights":              drop(sounding.HeightMSL),
		"no pressure, no heights": drop(sounding.Pressure, sounding.HeightMSL),
		"no temperature":          drop(sounding.Temperature),
		"no humidity":             drop(sounding.Humidity),
		"no positions":            drop(sounding.Latitude, sounding.Longitude),
		"nothing at all":          func(c *sounding.Checked) { c.Columns.Series = nil },
		"no record":               func(c *sounding.Checked) { c.Record = nil },
		"empty record":            func(c *sounding.Checked) { c.Record = sounding.NewLaunchRecord() },
		"no release":              func(c *sounding.Checked) { c.Events = sounding.Events{End: sounding.EndNotAFlight} },
		"no epoch":                func(c *sounding.Checked) { c.Epoch = c.Epoch.AddDate(-3000, 0, 0) },
		"descent only": func(c *sounding.Checked) {
			n := c.Columns.Len()
			for _, s := range c.Columns.Series {
				for i, j := 0, n-1; i < j; i, j = i+1, j-1 {
					s.Values[i], s.Values[j] = s.Values[j], s.Values[i]
				}
			}
			c.Events = sounding.Events{Phases: []sounding.PhaseSpan{{Phase: sounding.Descending, Span: sounding.Span{From: 0, To: n}}}}
		},
		"times that repeat and run backwards": func(c *sounding.Checked) {
			for i := 500; i < 520; i++ {
				c.Columns.Time[i] = c.Columns.Time[499]
			}
			for i := 700; i < 710; i++ {
				c.Columns.Time[i] -= 300
			}
			c.Columns.Time[800] = math.NaN()
			c.Columns.Time[801] = math.Inf(1)
		},
		"long gap": func(c *sounding.Checked) {
			for i := 900; i < len(c.Columns.Time); i++ {
				c.Columns.Time[i] += 400
			}
		},
		"every other value missing": func(c *sounding.Checked) {
			for _, s := range c.Columns.Series {
				for i := range s.Values {
					if i%2 == 1 {
						s.Values[i] = math.NaN()
					}
				}
			}
		},
		"all missing": func(c *sounding.Checked) {
			for _, s := range c.Columns.Series {
				fill(s.Values, math.NaN())
			}
		},
		"impossible values": func(c *sounding.Checked) {
			for _, s := range c.Columns.Series {
				for i := range s.Values {
					s.Values[i] = []float64{0, -1, 1e9, -1e9, 1e-9}[i%5]
				}
			}
		},
		"humidity of zero and below": func(c *sounding.Checked) {
			x := c.Columns.Values(sounding.Humidity)
			for i := range x {
				x[i] = float64(i%3) - 1
			}
		},
	}
	for name, edit := range cases {
		for _, sheet := range append(sounding.ShippedSheets(), "") {
			for _, n := range []int{61, 62, 64, 1500} {
				in := made(t, sheet, n, nil)
				if edit != nil && (n > 1000 || !strings.Contains(name, "times") && name != "long gap") {
					edit(in)
					in.Columns = in.Columns.Flagged(sounding.Report{Runs: runsFor(in)})
				}
				r, err := Run(in, Default())
				if err != nil {
					t.Fatalf("%s, sheet %q, %d rows: %v", name, sheet, n, err)
				}
				if err := r.Columns.Validate(); err != nil {
					t.Errorf("%s, sheet %q, %d rows: %v", name, sheet, n, err)
				}
				for _, s := range r.Steps {
					if len(s.Values) != in.Len() {
						t.Errorf("%s: step %s has %d values", name, s.Method, len(s.Values))
					}
				}
				for _, s := range r.Columns.Series {
					for i, u := range s.Independent {
						if u < 0 || math.IsInf(u, 0) || len(s.Common) == len(s.Independent) && (s.Common[i] < 0 || math.IsInf(s.Common[i], 0)) {
							t.Errorf("%s, sheet %q: uncertainty of %v row %d is %g and %g", name, sheet, s.Variable, i, u, s.Common[i])
							break
						}
					}
				}
			}
		}
	}
	// Zero rows.
	in := made(t, "single-humidity", 100, nil)
	in.Columns = sounding.Columns{}
	if _, err := Run(in, Default()); err != nil {
		t.Errorf("no rows: %v", err)
	}
	in = made(t, "single-humidity", 100, nil)
	in.Columns.Series[0].Values = in.Columns.Series[0].Values[:50]
	if _, err := Run(in, Default()); err == nil {
		t.Error("columns of different lengths are accepted")
	}
}

// Without a sheet nothing is corrected, and each thing that could not be done is said.
func TestNoSheetIsConservative(t *testing.T) {
	in := made(t, "", 3000, nil)
	set := Default()
	set.Surface.Splice = false
	r := mustRun(t, in, set)
	for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.HeightMSL} {
		for i, x := range r.Columns.Values(v) {
			if x != values(in, v)[i] {
				t.Fatalf("%v row %d changed without an instrument sheet", v, i)
			}
		}
		if u := r.Columns.Get(v).Total(2000); !(u > 0) {
			t.Errorf("%v has no uncertainty", v)
		}
	}
	said := map[quality.Check]bool{}
	for _, x := range r.Runs {
		if !x.Ran && strings.Contains(x.Why, "sheet") {
			said[x.Check] = true
		}
	}
	if !said[quality.Lag] || !said[quality.Radiation] {
		t.Errorf("not said what could not be done: %v", said)
	}
}

// Dew point: u(Td) is about 3 K at 10 % and u(RH) 3 % (METHODS 7.2).
func TestDewPointUncertainty(t *testing.T) {
	in := made(t, "", 400, func(c *sounding.Checked) {
		fill(c.Columns.Values(sounding.Humidity), 10)
		fill(c.Columns.Values(sounding.Temperature), 293.15)
	})
	set := Default()
	set.Surface.Splice = false
	set.Generic.HumidityU, set.Generic.HumidityNoise, set.Generic.TemperatureU, set.Generic.TemperatureNoise = 3, 0, 0.1, 0
	r := mustRun(t, in, set)
	if u := r.Columns.Get(sounding.DewPoint).Total(200); math.Abs(u-3.5) > 0.7 {
		t.Errorf("u(Td) = %.2f K at 10 %% and 3 %%, want about 3 K", u)
	}
}

func TestSettings(t *testing.T) {
	if err := Default().Validate(); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadSettings("user.toml", []byte("[general]\nformule = \"sonntag\"\n")); err == nil || !strings.Contains(err.Error(), "user.toml") || !strings.Contains(err.Error(), "formule") {
		t.Errorf("unknown key: %v", err)
	}
	for _, text := range []string{
		strings.Replace(DefaultText, "hand_over_to_hpa = 100.0", "hand_over_to_hpa = 400.0", 1),
		strings.Replace(DefaultText, "window_s = 60.0", "window_s = 0.0", 1),
		strings.Replace(DefaultText, "taper_fraction = 0.7", "taper_fraction = 1.7", 1),
		strings.Replace(DefaultText, "edge_passes = 1", "edge_passes = -1", 1),
		strings.Replace(DefaultText, "smoothing_high = 30.0", "smoothing_high = 0.001", 1),
		strings.Replace(DefaultText, "\"hyland-wexler\"", "\"nobody\"", 1),
	} {
		if text == DefaultText {
			t.Fatal("the setting to be broken is not there")
		}
		if _, err := ReadSettings("user.toml", []byte(text)); err == nil {
			t.Error("a setting that cannot be right is accepted")
		}
	}
}
