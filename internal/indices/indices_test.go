package indices

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"leadline/internal/flighttest"
	"leadline/internal/humidity"
	"leadline/internal/levels"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// value returns an index's value; it fails where it is refused.
func value(t testing.TB, s *Set, name string) float64 {
	t.Helper()
	x := s.Get(name)
	if x == nil {
		t.Fatalf("no index is called %s", name)
	}
	if x.Refusal != "" || !x.Value.Set() {
		t.Errorf("%s is refused: %s", name, x.Refusal)
	}
	return x.Value.Value()
}

// refusal returns why an index has no value; it fails where it has one.
func refusal(t testing.TB, s *Set, name string) string {
	t.Helper()
	x := s.Get(name)
	if x == nil {
		t.Fatalf("no index is called %s", name)
	}
	if x.Value.Set() || x.Refusal == "" {
		t.Errorf("%s = %g, refusal %q: want a refusal", name, x.Value, x.Refusal)
	}
	return x.Refusal
}

// find reads a flight with its levels.
func find(f *sounding.Final, set *Settings) Set {
	table, _ := levels.Find(f, levels.Default())
	return Find(f, &table, set)
}

func quick() *Settings {
	s := Default()
	s.Members = 0
	return s
}

// sound checks what must hold of every set: a finite value or a reason, and JSON.
func sound(t testing.TB, what string, s *Set) {
	t.Helper()
	if len(s.Indices) != int(numIndices) {
		t.Fatalf("%s: %d indices", what, len(s.Indices))
	}
	for _, x := range s.Indices {
		v := x.Value.Value()
		if math.IsNaN(v) == (x.Refusal == "") || math.IsInf(v, 0) {
			t.Errorf("%s: %s = %g with refusal %q", what, x.Name, v, x.Refusal)
		}
		if x.Refusal == "the profile does not hold what it is computed from" {
			t.Errorf("%s: %s has no reason of its own", what, x.Name)
		}
		if u := x.Uncertainty.Value(); u < 0 || math.IsInf(u, 0) {
			t.Errorf("%s: %s has uncertainty %g", what, x.Name, u)
		}
		if x.Convention == "" || x.Profile != s.Profile {
			t.Errorf("%s: %s does not say its convention and profile", what, x.Name)
		}
	}
	b, err := json.Marshal(s)
	if err != nil || !json.Valid(b) {
		t.Errorf("%s: JSON: %v", what, err)
	}
	if s.Inversions == nil || s.Ducts == nil || s.Notes == nil {
		t.Errorf("%s: a list is nil", what)
	}
}

func TestSettings(t *testing.T) {
	if err := Default().Validate(); err != nil {
		t.Fatal(err)
	}
	for what, change := range map[string]func(*Settings){
		"layer_ln_p": func(s *Settings) { s.LayerLnP = 0 }, "surface": func(s *Settings) { s.Surface = "roof" }, "layer =": func(s *Settings) { s.Layer = "best" },
		"condensate": func(s *Settings) { s.Condensate = "half" }, "saturation": func(s *Settings) { s.Saturation = 0 }, "members": func(s *Settings) { s.Members = -1 },
		"gap_s": func(s *Settings) { s.GapS = math.NaN() }, "smallest_j_kg": func(s *Settings) { s.Smallest = -1 }, "0.0001": func(s *Settings) { s.Refine = 1e-9 },
	} {
		s := Default()
		change(s)
		err := s.Validate()
		if err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", what, err)
			continue
		}
		out := Find(flighttest.New(400), nil, s)
		sound(t, what, &out)
		if !strings.Contains(refusal(t, &out, "k_index"), what) {
			t.Errorf("%s: the refusal does not say what is wrong with the settings", what)
		}
	}
}

func TestCatalogueIsComplete(t *testing.T) {
	seen := map[string]bool{}
	for i, d := range definitions {
		if d.name == "" || d.label == "" || d.unit == "" || d.convention == "" || seen[d.name] {
			t.Errorf("index %d: %+v", i, d)
		}
		seen[d.name] = true
	}
}

// The same flight gives the same bytes, and keeps its own.
func TestSameInputSameOutput(t *testing.T) {
	f := flighttest.New(3000)
	before, err := json.Marshal(f.Series)
	if err == nil {
		t.Log("series", len(before))
	}
	copies := make([][]float64, len(f.Series))
	for i := range f.Series {
		copies[i] = append([]float64(nil), f.Series[i].Values...)
	}
	set := Default()
	set.Members = 50
	a, b := find(f, set), find(f, set)
	sound(t, "a flight", &a)
	x, _ := json.Marshal(a)
	y, _ := json.Marshal(b)
	if string(x) != string(y) {
		t.Error("two runs differ")
	}
	for i := range f.Series {
		for k, v := range f.Series[i].Values {
			if v != copies[i][k] && !(math.IsNaN(v) && math.IsNaN(copies[i][k])) {
				t.Fatalf("%v changed at row %d", f.Series[i].Variable, k)
			}
		}
	}
	set.Seed++
	c := find(f, set)
	if c.Get("k_index").Uncertainty == a.Get("k_index").Uncertainty {
		t.Error("another seed gives the same members")
	}
}

// The three conventions on real tropical flights. Which is larger is physics: moist air
// below is virtually warmer than the drier air it meets above, so energies by virtual
// temperature are larger; the crossings alone matter little where there is much energy.
func TestConventionsOnRealFlights(t *testing.T) {
	flights := 0
	for name, c := range archive(t) {
		x := Find(c.flight(usual), nil, quick())
		sound(t, name, &x)
		for _, p := range []string{"surface", "mixed_layer", "most_unstable"} {
			v, only, mixed := x.Get(p+"_cape"), x.Get(p+"_cape_temperature"), x.Get(p+"_cape_temperature_crossings")
			if v.Refusal != "" || v.Value < 500 {
				continue
			}
			flights++
			t.Logf("%s %-13s CAPE virtual %5.0f, temperature %5.0f, crossings by temperature %5.0f; CIN %6.1f %6.1f %6.1f J/kg", name, p, v.Value, only.Value, mixed.Value,
				x.Get(p+"_cin").Value, x.Get(p+"_cin_temperature").Value, x.Get(p+"_cin_temperature_crossings").Value)
			if ratio := float64(only.Value / v.Value); ratio < 0.8 || ratio > 0.99 {
				t.Errorf("%s %s: by temperature %.0f, by virtual temperature %.0f", name, p, only.Value, v.Value)
			}
			if mixed.Value > v.Value+1 || mixed.Value < only.Value {
				t.Errorf("%s %s: mixed convention %.0f is not between %.0f and %.0f", name, p, mixed.Value, only.Value, v.Value)
			}
		}
	}
	if flights < 10 {
		t.Errorf("only %d parcels compared", flights)
	}
}

// A known answer: a flight whose every sample is drawn anew 200 times, errors of pressure
// moving the samples, each time reading all indices off all samples. Their spread is what
// the members, on layer means, must give. Indices that jump (levels of free convection
// with two candidates) are left out here; see the page.
func TestMembersSpreadAsSamplesDo(t *testing.T) {
	c := simulated(t, truth.Tropical, 3)
	f := c.flight(usual)
	table, _ := levels.Find(f, levels.Default())
	members := Find(f, &table, Default())
	r := rand.New(rand.NewPCG(7, 7))
	const runs = 200
	var list [numIndices][]float64
	for range runs {
		d := c.clone()
		var k [6]float64
		for i := range k {
			k[i] = r.NormFloat64()
		}
		for i := range d.p {
			d.p[i] += usual.p[1]*k[0] + usual.p[0]*r.NormFloat64()
			d.t[i] += usual.t[1]*k[1] + usual.t[0]*r.NormFloat64()
			d.rh[i] = math.Max(0, d.rh[i]+usual.rh[1]*k[2]+usual.rh[0]*r.NormFloat64())
			d.z[i] += usual.z[1]*k[3] + usual.z[0]*r.NormFloat64()
			d.u[i] += usual.wind[1]*k[4] + usual.wind[0]*r.NormFloat64()
			d.v[i] += usual.wind[1]*k[5] + usual.wind[0]*r.NormFloat64()
		}
		x := Find(d.flight(usual), &table, quick())
		for i := range x.Indices {
			if v := x.Indices[i].Value.Value(); !math.IsNaN(v) {
				list[i] = append(list[i], difference(i, v, members.Indices[i].Value.Value()))
			}
		}
	}
	jumps := map[string]bool{"most_unstable_cin": true, "most_unstable_cin_temperature": true, "most_unstable_cin_temperature_crossings": true}
	compared, least, most := 0, math.Inf(1), 0.0
	for i, x := range members.Indices {
		if definitions[i].needs == 0 || jumps[x.Name] || x.Refusal != "" {
			continue
		}
		n, mean, sq := float64(len(list[i])), 0.0, 0.0
		for _, v := range list[i] {
			mean += v / n
		}
		for _, v := range list[i] {
			sq += (v - mean) * (v - mean)
		}
		s := math.Sqrt(sq / (n - 1))
		compared++
		// Two standard deviations of 500 and 200 draws: relative standard error 6 %.
		ratio := s / x.Uncertainty.Value()
		least, most = math.Min(least, ratio), math.Max(most, ratio)
		if !(ratio > 0.75 && ratio < 1.33) {
			t.Errorf("%s: spread of %d noisy flights %.4g, of the members %.4g", x.Name, len(list[i]), s, x.Uncertainty)
		}
	}
	if compared < 60 {
		t.Errorf("only %d indices compared", compared)
	}
	t.Logf("%d indices: spread of noisy flights over that of the members %.2f to %.2f", compared, least, most)
}

// With common errors alone an index that is nearly linear has the uncertainty that its
// linearisation gives (JCGM 100:2008, eq. 10).
func TestLinearisationAgrees(t *testing.T) {
	u := usual
	for _, p := range []*[2]float64{&u.t, &u.rh, &u.p, &u.z, &u.wind} {
		p[0] = 0
	}
	set := Default()
	set.Members = 2000
	x := find(simulated(t, truth.Tropical, 3).flight(u), set)
	for _, name := range []string{"surface_cape", "mixed_layer_cape", "surface_lcl_pressure", "mixed_layer_lifted_index", "k_index", "total_totals", "showalter_index",
		"precipitable_water", "freezing_level_height", "downdraft_cape", "surface_refractivity", "mean_wind_0_6_km_speed"} {
		i := x.Get(name)
		if ratio := float64(i.Uncertainty / i.Common); !(ratio > 0.92 && ratio < 1.08) {
			t.Errorf("%s: members %.4g, linearisation %.4g", name, i.Uncertainty, i.Common)
		}
	}
	// Common errors of temperature drop out of a difference of two temperatures.
	if i := x.Get("vertical_totals"); i.Uncertainty > 0.02 {
		t.Errorf("vertical totals: %.3f K", i.Uncertainty)
	}
}

func TestNoHumidityAloft(t *testing.T) {
	c := simulated(t, truth.Tropical, 3)
	whole := find(c.flight(usual), quick())
	for i := range c.p {
		if c.p[i] < 300 {
			c.rh[i] = math.NaN()
		}
	}
	x := find(c.flight(usual), Default())
	sound(t, "no humidity above 300 hPa", &x)
	if d := value(t, &x, "surface_cape")/value(t, &whole, "surface_cape") - 1; math.Abs(d) > 0.005 {
		t.Errorf("CAPE changes by %.2f %%", 100*d)
	}
	if len(x.Notes) == 0 || !strings.Contains(strings.Join(x.Notes, " "), "taken as dry") {
		t.Errorf("nothing says what stands for the missing humidity: %q", x.Notes)
	}
	if top, share := value(t, &x, "precipitable_water_top"), value(t, &x, "precipitable_water_measured"); top < 300 || top > 301 || share < 0.99 {
		t.Errorf("water to %.1f hPa, %.3f of the column measured", top, share)
	}
	// From 700 hPa on it matters.
	for i := range c.p {
		if c.p[i] < 680 {
			c.rh[i] = math.NaN()
		}
	}
	x = find(c.flight(usual), Default())
	sound(t, "no humidity above 680 hPa", &x)
	for _, name := range []string{"surface_cape", "mixed_layer_cape_temperature", "mixed_layer_el_pressure", "downdraft_cape", "precipitable_water"} {
		if r := refusal(t, &x, name); !strings.Contains(r, "humidity") {
			t.Errorf("%s: %s", name, r)
		}
	}
	for _, name := range []string{"k_index", "total_totals", "surface_lcl_pressure", "vertical_totals", "freezing_level_pressure"} {
		value(t, &x, name)
	}
	// None at all.
	x = find(flighttest.Without(flighttest.New(3000), sounding.Humidity), Default())
	sound(t, "no humidity", &x)
	if r := refusal(t, &x, "surface_cape"); r != "the flight has no humidity" {
		t.Error(r)
	}
	value(t, &x, "freezing_level_pressure")
	value(t, &x, "shear_0_6_km")
}

func TestGapInsideTheLayer(t *testing.T) {
	c := simulated(t, truth.Tropical, 3)
	for i := range c.p {
		if c.p[i] < 620 && c.p[i] > 560 {
			c.t[i] = math.NaN()
		}
	}
	x := find(c.flight(usual), Default())
	sound(t, "gap in temperature", &x)
	for _, name := range []string{"surface_cape", "surface_el_height", "mixed_layer_cape_reversible", "bulk_richardson_number", "freezing_level_height"} {
		r := refusal(t, &x, name)
		if !strings.Contains(r, "temperature is missing from 620 hPa to 5") && !strings.Contains(r, "CAPE it needs") {
			t.Errorf("%s: %s", name, r)
		}
	}
	value(t, &x, "surface_cin")
	value(t, &x, "k_index")
	// Wind: 2 km of it are missing.
	c = simulated(t, truth.Tropical, 3)
	for i := range c.p {
		if c.z[i] > 3500 && c.z[i] < 5500 {
			c.u[i] = math.NaN()
		}
	}
	x = find(c.flight(usual), Default())
	for _, name := range []string{"shear_0_6_km", "storm_motion_right_speed", "helicity_0_1_km_right"} {
		if r := refusal(t, &x, name); !strings.Contains(r, "wind is missing from") {
			t.Errorf("%s: %s", name, r)
		}
	}
	value(t, &x, "shear_0_3_km")
}

func TestSurfaceBelowSeaLevel(t *testing.T) {
	c := standard(-400, 20000, 5, func(float64) float64 { return 60 })
	x := find(c.flight(usual), Default())
	sound(t, "below sea level", &x)
	if p := value(t, &x, "surface_start_pressure"); p < 1062 || p > 1063 {
		t.Errorf("starts at %.1f hPa, the standard atmosphere has 1062.2 at -400 m", p)
	}
	// 19.3 °C falling 6.5 K/km.
	if h := value(t, &x, "freezing_level_height"); math.Abs(h-2308) > 5 {
		t.Errorf("freezing level %.0f m, want 15/6.5 km = 2308 m", h)
	}
	value(t, &x, "k_index")
}

func TestStartAbove700(t *testing.T) {
	c := standard(3600, 20000, 5, func(float64) float64 { return 50 })
	x := find(c.flight(usual), Default())
	sound(t, "start above 700 hPa", &x)
	for _, name := range []string{"k_index", "showalter_index", "total_totals", "vertical_totals", "lapse_rate_700_500"} {
		if r := refusal(t, &x, name); !strings.Contains(r, "lies above") {
			t.Errorf("%s: %s", name, r)
		}
	}
	value(t, &x, "surface_lcl_pressure")
	value(t, &x, "surface_lifted_index")
}

func TestPolarNightInversion(t *testing.T) {
	c := simulated(t, truth.PolarNight, 3)
	x := find(c.flight(usual), Default())
	sound(t, "polar night", &x)
	if len(x.Inversions) == 0 || !x.Inversions[0].Surface || x.Inversions[0].Strength < 3 {
		t.Fatalf("no surface inversion: %+v", x.Inversions)
	}
	// What the samples themselves say.
	top := 0
	for c.z[top] < c.z[0]+x.Inversions[0].TopHeight.Value() {
		top++
	}
	if d := math.Abs(c.t[top] - c.t[0] - x.Inversions[0].Strength.Value()); d > 0.5 {
		t.Errorf("strength %.2f K, samples %.2f K", x.Inversions[0].Strength, c.t[top]-c.t[0])
	}
	if r := refusal(t, &x, "boundary_layer_parcel"); !strings.Contains(r, "below 50 m") {
		t.Error(r)
	}
	if r := refusal(t, &x, "surface_cin"); r != noLFC {
		t.Error(r)
	}
	if v := value(t, &x, "surface_cape"); v != 0 {
		t.Errorf("CAPE %g", v)
	}
}

func TestDoubleTropopause(t *testing.T) {
	c := standard(0, 22000, 5, func(float64) float64 { return 20 })
	for i, z := range c.z {
		switch {
		case z < 12000:
			c.t[i] = 288.15 - 0.0065*z
		case z < 15000:
			c.t[i] = 210.15
		case z < 17000:
			c.t[i] = 210.15 - 0.004*(z-15000)
		default:
			c.t[i] = 202.15
		}
	}
	f := c.flight(usual)
	table, _ := levels.Find(f, levels.Default())
	if n := len(table.Of(levels.Tropopause)); n != 2 {
		t.Fatalf("%d tropopauses", n)
	}
	x := Find(f, &table, Default())
	sound(t, "double tropopause", &x)
	// Isothermal above the first: N² = g²/(cp T) as in THM-40, with the 216.65 K of the
	// atmosphere the pressures are from.
	if v := value(t, &x, "static_stability_above_tropopause"); math.Abs(v/4.418e-4-1) > 0.01 {
		t.Errorf("N² above %.4g s⁻², want g²/(cp T) = 4.418e-4", v)
	}
}

// The tropics: a first tropopause at 16 km, above it a layer that cools by more than 3 K/km
// over a kilometre, a second one higher up; the cold point is that of the second.
func TestTropicalDoubleTropopause(t *testing.T) {
	c := standard(0, 24000, 5, func(z float64) float64 { return 80 * math.Exp(-z/6000) })
	for i, z := range c.z {
		switch {
		case z < 15800:
			c.t[i] = 300.15 - 0.0066*z
		case z < 16800:
			c.t[i] = 195.87
		case z < 18300:
			c.t[i] = 195.87 - 0.0045*(z-16800)
		default:
			c.t[i] = 189.12 + 0.003*(z-18300)
		}
		if i > 0 { // hydrostatic (METHODS 2.1)
			c.p[i] = c.p[i-1] * math.Exp(-9.80665*5/(287.05*0.5*(c.t[i]+c.t[i-1])))
		}
	}
	// The layer from 15.8 km on: 2 K/km or less to all levels within 2 km fails at 17.8 km.
	f := c.flight(usual)
	table, _ := levels.Find(f, levels.Default())
	list := table.Of(levels.Tropopause)
	// The mean lapse from 15.8 km to 17.8 km is (17.8 − 16.8)·4.5/2 = 2.25 K/km > 2: by
	// WMO 1957 it is no tropopause, and the only one is where the cooling ends.
	if len(list) != 1 || math.Abs(list[0].Geopotential.Value()-18300) > 150 {
		t.Fatalf("%d tropopauses, first at %.0f gpm", len(list), list[0].Geopotential)
	}
	// With a stable layer of 2.2 km the first counts too.
	for i, z := range c.z {
		switch {
		case z < 15800:
		case z < 18000:
			c.t[i] = 195.87
		case z < 19500:
			c.t[i] = 195.87 - 0.0045*(z-18000)
		default:
			c.t[i] = 189.12 + 0.003*(z-19500)
		}
	}
	f = c.flight(usual)
	table, _ = levels.Find(f, levels.Default())
	list = table.Of(levels.Tropopause)
	if len(list) != 2 || math.Abs(list[0].Geopotential.Value()-15800) > 150 || math.Abs(list[1].Geopotential.Value()-19500) > 150 {
		t.Fatalf("%d tropopauses: %+v", len(list), list)
	}
	if cold := table.ColdPoint; cold == nil || math.Abs(cold.Geopotential.Value()-19500) > 100 {
		t.Errorf("cold point %+v", cold)
	}
	x := Find(f, &table, Default())
	sound(t, "tropical double tropopause", &x)
	// The stability above is that of the first, which the index names.
	if v := value(t, &x, "static_stability_above_tropopause"); math.Abs(v/(9.80665*9.80665/(1004.7*195.87))-1) > 0.02 {
		t.Errorf("N² above the first %.4g s⁻²", v)
	}
}

// One level alone: what belongs to it, and a reason for everything else.
func TestOneSingleLevel(t *testing.T) {
	c := columns{p: []float64{1000}, t: []float64{303.15}, rh: []float64{100 * humidity.HylandWexler.OverWater(293.15) / humidity.HylandWexler.OverWater(303.15)}, z: []float64{100}, u: []float64{1}, v: []float64{2}}
	x := find(c.flight(usual), Default())
	sound(t, "one level", &x)
	// Condensation of 30/20 °C at 1000 hPa: 864.8 hPa, THM-12 of the check values.
	if p := value(t, &x, "surface_lcl_pressure"); math.Abs(p-864.8) > 0.5 {
		t.Errorf("LCL %.2f hPa", p)
	}
	for _, name := range []string{"surface_cape", "surface_lfc_pressure", "mixed_layer_cape", "most_unstable_cape", "k_index", "shear_0_1_km", "freezing_level_pressure", "boundary_layer_parcel", "precipitable_water"} {
		if i := x.Get(name); i.Refusal == "" && name != "precipitable_water" {
			t.Errorf("%s = %g", name, i.Value)
		}
	}
	if b := new(strings.Builder); TextProfile(b, c.flight(usual), nil, &x) != nil || b.Len() == 0 {
		t.Error("no text")
	}
}

// A balloon that sinks for a while brings the same pressures twice; only the first
// passage is read.
func TestDescendingSamples(t *testing.T) {
	c := simulated(t, truth.MidLatitudeSummer, 3)
	want := find(c.flight(usual), quick())
	const at, sinks = 900, 100 // longer, up and down, than a gap may be
	var d columns
	add := func(i int, time float64) {
		d.time, d.p, d.t, d.rh, d.z, d.u, d.v = append(d.time, time), append(d.p, c.p[i]), append(d.t, c.t[i]), append(d.rh, c.rh[i]), append(d.z, c.z[i]), append(d.u, c.u[i]), append(d.v, c.v[i])
	}
	for i := range c.p {
		if i == at {
			for k := range sinks {
				add(at-1-k, c.time[at-1]+float64(k+1))
			}
			for k := range sinks {
				add(at-sinks+k, c.time[at-1]+float64(sinks+1+k))
			}
		}
		shift := 0.0
		if i >= at {
			shift = 2 * sinks
		}
		add(i, c.time[i]+shift)
	}
	got := find(d.flight(usual), quick())
	for i, x := range want.Indices {
		if a, b := x.Value.Value(), got.Indices[i].Value.Value(); a != b && !(math.IsNaN(a) && math.IsNaN(b)) {
			t.Errorf("%s: %g, with sinking %g", x.Name, a, b)
		}
	}
}

func TestLittleOrNothing(t *testing.T) {
	one := columns{p: []float64{1000}, t: []float64{290}, rh: []float64{50}, z: []float64{100}, u: []float64{1}, v: []float64{2}}
	warm := simulated(t, truth.Tropical, 3)
	cut := len(warm.p)
	for i := range warm.p {
		if warm.p[i] < 400 {
			cut = i
			break
		}
	}
	ends := columns{warm.time[:cut], warm.p[:cut], warm.t[:cut], warm.rh[:cut], warm.z[:cut], warm.u[:cut], warm.v[:cut]}
	withoutHeight := warm.clone()
	withoutHeight.z = nil
	whole := find(warm.flight(usual), quick())
	wholeFreezing := value(t, &whole, "freezing_level_height")
	late := warm.clone()
	for i := range 20 { // 100 m
		late.t[i] = math.NaN()
	}
	for what, f := range map[string]*sounding.Final{
		"late temperature":  late.flight(usual),
		"nothing":           columns{}.flight(usual),
		"zero flight":       {},
		"one level":         one.flight(usual),
		"two levels":        columns{p: []float64{1000, 999.5}, t: []float64{290, 290}, rh: []float64{50, 50}, z: []float64{100, 104}, u: []float64{1, 1}, v: []float64{2, 2}}.flight(usual),
		"all bad":           flighttest.AllBad(flighttest.New(600)),
		"no release":        flighttest.Rows(flighttest.New(600), sounding.Span{From: 0, To: 50}),
		"only pressure":     columns{p: warm.p}.flight(usual),
		"no height":         withoutHeight.flight(usual),
		"ends at 400 hPa":   ends.flight(usual),
		"no wind":           flighttest.Without(flighttest.New(3000), sounding.WindU),
		"no temperature":    flighttest.Without(flighttest.New(3000), sounding.Temperature),
		"no heights":        flighttest.Without(flighttest.New(3000), sounding.HeightMSL, sounding.GeopotentialHeight),
		"absolutely dry":    standard(0, 12000, 10, func(float64) float64 { return 0 }).flight(usual),
		"supersaturated":    standard(0, 12000, 10, func(float64) float64 { return 104 }).flight(usual),
		"shortest complete": flighttest.New(200),
	} {
		x := find(f, Default())
		sound(t, what, &x)
		if b := new(strings.Builder); TextProfile(b, f, nil, &x) != nil || b.Len() == 0 {
			t.Errorf("%s: no text", what)
		}
		switch what {
		case "nothing", "zero flight", "all bad", "no release":
			for _, i := range x.Indices {
				if i.Refusal == "" {
					t.Errorf("%s: %s = %g", what, i.Name, i.Value)
				}
			}
		case "one level":
			value(t, &x, "surface_wet_bulb_temperature")
			refusal(t, &x, "surface_cape")
			refusal(t, &x, "mixed_layer_cape")
		case "ends at 400 hPa":
			if r := refusal(t, &x, "surface_cape"); !strings.Contains(r, "still buoyant where the profile ends (400 hPa)") || !strings.Contains(r, "J/kg up to there") {
				t.Error(r)
			}
			value(t, &x, "surface_cin")
		case "no height":
			value(t, &x, "surface_cape")
			if r := refusal(t, &x, "surface_lcl_height"); !strings.Contains(r, "height") {
				t.Error(r)
			}
		case "no temperature":
			value(t, &x, "shear_0_6_km")
			value(t, &x, "helicity_0_3_km_right")
		case "late temperature":
			// Heights are above the release point, not above the first temperature.
			if d := value(t, &x, "freezing_level_height") - wholeFreezing; math.Abs(d) > 1e-6 {
				t.Errorf("freezing level moved by %g m", d)
			}
			if d := value(t, &x, "surface_lcl_height"); d < 100 {
				t.Errorf("LCL %g m", d)
			}
			refusal(t, &x, "boundary_layer_parcel")
		case "absolutely dry":
			if r := refusal(t, &x, "surface_cape"); !strings.Contains(r, "no vapour") {
				t.Error(r)
			}
			if v := value(t, &x, "precipitable_water"); v != 0 {
				t.Errorf("dry air holds %g mm", v)
			}
		}
	}
}

// Without uncertainties there are values, no made-up uncertainty, and a word about it.
func TestUnknownUncertainty(t *testing.T) {
	f := simulated(t, truth.Tropical, 3).flight(usual)
	for i := range f.Series {
		f.Series[i].Independent, f.Series[i].Common = nil, nil
	}
	x := find(f, Default())
	sound(t, "no uncertainty", &x)
	i := x.Get("surface_cape")
	if i.Uncertainty.Set() || !strings.Contains(i.Note, "temperature and humidity") {
		t.Errorf("%+v", i)
	}
}

// Surface parcel of the launch record.
func TestSurfaceFromRecord(t *testing.T) {
	f := flighttest.New(5000)
	set := quick()
	a := find(f, set)
	set.Surface = "record"
	f.Record = f.Record.Clone()
	f.Record.Surface.Temperature, f.Record.Surface.Humidity = 299, 60
	b := find(f, set)
	if x, y := value(t, &a, "surface_lcl_temperature"), value(t, &b, "surface_lcl_temperature"); x == y {
		t.Errorf("the surface observation changes nothing: %g", x)
	}
	f.Record.Surface.Humidity = sounding.NotSet
	c := find(f, set)
	if value(t, &c, "surface_lcl_temperature") != value(t, &a, "surface_lcl_temperature") || !strings.Contains(strings.Join(c.Notes, " "), "no complete surface observation") {
		t.Errorf("an incomplete observation: %q", c.Notes)
	}
}

// Whatever the samples, there is a value or a reason, and no panic.
func TestAnyFlight(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	set := Default()
	set.Members = 3
	for range 400 {
		n := r.IntN(300)
		c := columns{}
		p := 200 + 900*r.Float64()
		z := 5000 * (r.Float64() - 0.2)
		holes := r.Float64() * r.Float64()
		hole := func(v float64) float64 {
			if r.Float64() < holes {
				return math.NaN()
			}
			return v
		}
		for range n {
			p *= 1 - 0.02*r.Float64() + 0.003*r.Float64()
			z += 60 * (r.Float64() - 0.1)
			c.p, c.t, c.rh, c.z = append(c.p, hole(p)), append(c.t, hole(180+140*r.Float64())), append(c.rh, hole(120*r.Float64())), append(c.z, hole(z))
			c.u, c.v = append(c.u, hole(40*r.NormFloat64())), append(c.v, hole(40*r.NormFloat64()))
		}
		f := c.flight(usual)
		for i := range f.Series {
			for k := range f.Series[i].Flags {
				if f.Series[i].Flags[k] == quality.Good && r.Float64() < 0.02 {
					f.Series[i].Flags[k] = quality.Bad
				}
			}
		}
		x := find(f, set)
		for _, i := range x.Indices {
			if v := i.Value.Value(); math.IsNaN(v) == (i.Refusal == "") || math.IsInf(v, 0) {
				t.Fatalf("%s = %g with refusal %q", i.Name, v, i.Refusal)
			}
		}
		if b := new(strings.Builder); TextProfile(b, f, nil, &x) != nil {
			t.Fatal("no text")
		}
	}
}

// Questionable samples are used, and the number says so.
func TestQuestionableSamples(t *testing.T) {
	f := simulated(t, truth.Tropical, 3).flight(usual)
	p := f.Values(sounding.Pressure)
	rh, u := f.Get(sounding.Humidity), f.Get(sounding.WindU)
	for i := range p {
		if p[i] < 500 && p[i] > 400 {
			rh.Flags[i] = quality.Questionable
		}
		if p[i] > 990 {
			u.Flags[i] = quality.Questionable
		}
	}
	x := find(f, quick())
	sound(t, "questionable humidity", &x)
	for name, want := range map[string]string{
		"surface_cape":               "of the humidities between",
		"precipitable_water":         "of the humidities between",
		"shear_0_1_km":               "of the winds up to 1000 m",
		"helicity_0_3_km_right":      "of the winds up to 3000 m",
		"surface_lcl_pressure":       "",
		"freezing_level_height":      "",
		"wet_bulb_zero_height":       "",
		"surface_refractivity":       "",
		"vertical_totals":            "",
		"refractivity_gradient_1_km": "",
	} {
		value(t, &x, name)
		if note := x.Get(name).Note; !strings.Contains(note, want) || want == "" && note != "" {
			t.Errorf("%s: note %q, want %q", name, note, want)
		}
	}
}

// A layer of warm dry air over a moist one, the trade-wind duct: M at its ends by hand.
func TestDuct(t *testing.T) {
	c := standard(0, 12000, 5, func(z float64) float64 {
		switch {
		case z < 800:
			return 85
		case z < 1000:
			return 85 - 70*(z-800)/200
		}
		return 15
	})
	for i, z := range c.z {
		switch {
		case z >= 1000:
			c.t[i] += 4
		case z > 800:
			c.t[i] += 4 * (z - 800) / 200
		}
	}
	f := c.flight(usual)
	f.Sheet.Humidity.LagPolynomial = []float64{math.Log(0.5)}
	x := find(f, Default())
	sound(t, "duct", &x)
	if len(x.Ducts) != 1 || len(x.Inversions) != 1 {
		t.Fatalf("ducts %+v, inversions %+v", x.Ducts, x.Inversions)
	}
	at := func(h float64) float64 {
		i := int(h / 5)
		e := 0.01 * c.rh[i] * humidity.HylandWexler.OverWater(c.t[i])
		return 77.6*(c.p[i]-e)/c.t[i] + 72*e/c.t[i] + 3.75e5*e/(c.t[i]*c.t[i]) + 0.157*h
	}
	d := x.Ducts[0]
	if math.Abs(d.TrapBase.Value()-800) > 40 || math.Abs(d.Top.Value()-1000) > 40 {
		t.Errorf("trapping layer %.0f to %.0f m, want 800 to 1000 within a layer of 40 m", d.TrapBase, d.Top)
	}
	if want := at(800) - at(1000); math.Abs(d.Strength.Value()-want) > 0.15*want {
		t.Errorf("strength %.1f M, by hand %.1f", d.Strength, want)
	}
	// The duct begins where M below is that of its top.
	if m := at(5 * math.Round(d.Base.Value()/5)); d.Base <= 0 || math.Abs(m-at(1000)) > 4 {
		t.Errorf("base %.0f m, where M is %.1f; at the top %.1f", d.Base, m, at(1000))
	}
	if !(d.UStrength > 0.3 && d.UStrength < 5) || !(d.UTop > 5 && d.UTop < 20) || d.Note != "" || d.FromSurface {
		t.Errorf("%+v", d)
	}
	if i := x.Inversions[0]; math.Abs(i.Strength.Value()-(4-1.3)) > 0.4 || i.Surface || !(i.UBase > 5 && i.UBase < 20) || i.HumidityFalls > -50 {
		t.Errorf("%+v", i)
	}
	// A sensor of 100 s time constant smears 200 m at 5 m/s, and is said to.
	f.Sheet.Humidity.LagPolynomial = []float64{math.Log(100)}
	x = find(f, quick())
	if len(x.Ducts) != 1 || x.Ducts[0].Note == "" {
		t.Errorf("no word about the slow sensor: %+v", x.Ducts)
	}
}

// The freezing level is that of the levels table.
func TestFreezingLevelIsThatOfTheTable(t *testing.T) {
	for _, climate := range truth.Climates() {
		f := simulated(t, climate, 5).flight(usual)
		table, _ := levels.Find(f, levels.Default())
		list := table.Of(levels.Freezing)
		x := Find(f, &table, quick())
		i := x.Get("freezing_level_pressure")
		if len(list) == 0 {
			if i.Value.Set() {
				t.Errorf("%s: %g, the table has none", climate, i.Value)
			}
			continue
		}
		if math.Abs(float64(i.Value-list[0].Pressure)) > 1e-6 {
			t.Errorf("%s: %.6f hPa, table %.6f", climate, i.Value, list[0].Pressure)
		}
	}
}
