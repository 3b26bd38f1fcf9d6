package truth

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"math"
	"testing"
	"time"

	"leadline/internal/sounding"
)

func fly1(t testing.TB, s Scenario, seed uint64) *Flight {
	t.Helper()
	f, err := Simulate(s, seed)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func preset(t testing.TB, c Climate, day bool) Scenario {
	t.Helper()
	s, err := Preset(c, day)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestSameSeedSameBytes(t *testing.T) {
	for _, s := range Presets() {
		a, b, c := fly1(t, s, 7), fly1(t, s, 7), fly1(t, s, 8)
		if !bytes.Equal(a.Text(0), b.Text(0)) || !bytes.Equal(a.RecordText(), b.RecordText()) {
			t.Errorf("%s: one seed gave two different flights", s.Name)
		}
		if bytes.Equal(a.Text(0), c.Text(0)) {
			t.Errorf("%s: two seeds gave one flight", s.Name)
		}
	}
}

func TestColumnsKeepTheirRules(t *testing.T) {
	for _, name := range sounding.ShippedSheets() {
		s := preset(t, MidLatitudeSummer, true)
		sheet, _, err := sounding.ShippedSheet(name)
		if err != nil {
			t.Fatal(err)
		}
		s.Sheet = sheet
		f := fly1(t, s, 3)
		raw := f.Raw()
		if err := raw.Columns.Validate(); err != nil {
			t.Error(err)
		}
		if got := raw.Columns.Get(sounding.Pressure) != nil; got != sheet.Pressure.Sensor {
			t.Errorf("%s: a pressure column: %v", name, got)
		}
		if got := raw.Columns.Get(sounding.HumidityB) != nil; got != (sheet.Humidity.Sensors == 2) {
			t.Errorf("%s: a second humidity column: %v", name, got)
		}
		for v := range sounding.NumVariables {
			if x := f.TruthOf(v); x != nil && len(x) != raw.Columns.Len() {
				t.Errorf("%s: truth of %v has %d rows for %d", name, v, len(x), raw.Columns.Len())
			}
		}
	}
}

// The grid's pressure must obey dp = −ρ g dz with the air it holds, and its
// geopotential ∫ g dz / g0: both are definitions. Gravity is checked against normal
// gravity of WGS-84 at 45° (9.80620 m/s², METHODS 2.2 constants) and its free-air gradient.
func TestHydrostatics(t *testing.T) {
	const handbook = 5e-4 // m/s², the older formula against WGS-84 (METHODS 2.2)
	if g := gravity(45, 0); math.Abs(g-9.80620) > handbook {
		t.Errorf("gravity at 45°: %g m/s²", g)
	}
	if g := gravity(45, 30000) - gravity(45, 0); math.Abs(g+0.0919) > 3e-4 {
		t.Errorf("gravity falls by %g m/s² over 30 km, want 0.0919 by inverse squares of 6,356,766 m", -g)
	}
	for _, s := range Presets() {
		c, err := s.Climate.sheet()
		if err != nil {
			t.Fatal(err)
		}
		a := newAtmosphere(c, 11, s.Site.Height, s.Site.Latitude, !c.dark)
		z := a.bottom
		for i := 1; i < len(a.levels); i++ {
			z += gridStep
			low, high := &a.levels[i-1], &a.levels[i]
			mid := a.at(z - gridStep/2)
			want := -mid.density() * gravity(s.Site.Latitude, z-gridStep/2) * gridStep / 100
			got := math.Exp(high.lnp) - math.Exp(low.lnp)
			if math.Abs(got-want) > 0.001*math.Abs(want) {
				t.Fatalf("%s at %.0f m: pressure changes by %g hPa over 10 m, hydrostatics says %g", s.Name, z, got, want)
			}
		}
	}
}

func BenchmarkSimulate(b *testing.B) {
	s := preset(b, MidLatitudeSummer, true)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		fly1(b, s, uint64(i))
	}
}

func BenchmarkText(b *testing.B) {
	f := fly1(b, preset(b, MidLatitudeSummer, true), 1)
	b.SetBytes(int64(len(f.Text(0))))
	b.ReportAllocs()
	for b.Loop() {
		f.Text(0)
	}
}

func TestEndsOfAFlight(t *testing.T) {
	s := preset(t, Marine, false)
	s.Until, s.Rest = UntilLanding, 300
	f := fly1(t, s, 1)
	tr := &f.Truth
	last := tr.Len() - 1
	if tr.Phase[last] != sounding.AfterLanding || tr.Time[last]-tr.Landing < 298 || math.Abs(tr.HeightMSL[last]-s.Site.Height) > 1 {
		t.Errorf("landed at %g s, ends at %g s %v at %.1f m", tr.Landing, tr.Time[last], tr.Phase[last], tr.HeightMSL[last])
	}
	s.Until = UntilBurst
	f = fly1(t, s, 1)
	tr = &f.Truth
	if end := tr.Time[tr.Len()-1] - tr.Burst; end < 25 || end > 35 {
		t.Errorf("data end %.1f s after the burst", end)
	}
	// The highest frame is within a second of the burst, and the balloon rises before it.
	top := 0
	for k, z := range tr.HeightMSL {
		if z > tr.HeightMSL[top] {
			top = k
		}
	}
	if d := tr.Time[top] - tr.Burst; d < -1 || d > 1.5 {
		t.Errorf("top %.1f s from the burst", d)
	}
	s.Until, s.Interval = UntilLost, 2
	f = fly1(t, s, 1)
	if d := f.Truth.Time[5] - f.Truth.Time[4]; d != 2 {
		t.Errorf("frames %g s apart", d)
	}
	for k, phase := range f.Truth.Phase {
		if before := f.Truth.Time[k] < f.Truth.Release; before != (phase == sounding.BeforeRelease) {
			t.Fatalf("%v at %g s, release %g s", phase, f.Truth.Time[k], f.Truth.Release)
		}
	}
}

// The surface moves up at release and not before: a metre within a second and a half.
func TestReleaseIsWhereTheClimbBegins(t *testing.T) {
	for _, s := range Presets() {
		f := fly1(t, s, 31)
		tr := &f.Truth
		for k, at := range tr.Time {
			above := tr.HeightMSL[k] - s.Site.Height - 1.5
			switch {
			case at <= tr.Release && math.Abs(above) > 0.2:
				t.Fatalf("%s: %.2f m up %.2f s before release", s.Name, above, tr.Release-at)
			case at > tr.Release+3 && at < tr.Release+10 && above < 2:
				t.Fatalf("%s: only %.2f m up %.2f s after release", s.Name, above, at-tr.Release)
			}
		}
	}
}

func TestScenariosThatCannotBeFlownAreRefused(t *testing.T) {
	for name, spoil := range map[string]func(*Scenario){
		"no sheet":         func(s *Scenario) { s.Sheet = nil },
		"no release":       func(s *Scenario) { s.Release = time.Time{} },
		"unknown climate":  func(s *Scenario) { s.Climate = "lunar" },
		"too heavy":        func(s *Scenario) { s.Balloon.NozzleLift = s.Balloon.Payload },
		"unknown gas":      func(s *Scenario) { s.Balloon.Gas = "air" },
		"NaN latitude":     func(s *Scenario) { s.Site.Latitude = math.NaN() },
		"zero interval":    func(s *Scenario) { s.Interval = 0 },
		"unknown fault":    func(s *Scenario) { s.Faults = []Fault{{Name: "gremlins"}} },
		"unsuitable fault": func(s *Scenario) { s.Sheet.Pressure.Sensor = false; s.Faults = []Fault{{Name: "pressure-drift"}} },
		"unknown end":      func(s *Scenario) { s.Until = "noon" },
	} {
		s := preset(t, Marine, true)
		spoil(&s)
		if f, err := Simulate(s, 1); err == nil || f != nil {
			t.Errorf("%s: flown all the same", name)
		}
	}
}

// The bytes of one seed are part of what the project promises: a machine that gives
// others breaks reports that others must be able to repeat. Update the sum only with a
// change of the simulator that the changelog names.
func TestBytesAreTheSameOnEveryMachine(t *testing.T) {
	const want = "4368389f7ab0a06ed96bb32b166b7530125b24c435983038c98818c760d15733"
	s := preset(t, MidLatitudeSummer, true)
	s.Faults = []Fault{{Name: "early-burst"}}
	sum := sha256.New()
	f := fly1(t, s, 1)
	sum.Write(f.Text(0))
	sum.Write(f.RecordText())
	if got := hex.EncodeToString(sum.Sum(nil)); got != want {
		t.Errorf("SHA-256 %s, want %s", got, want)
	}
}
