package truth

import (
	"bytes"
	"math"
	"testing"

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
