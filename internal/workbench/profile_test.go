package workbench_test

import (
	"math"
	"strings"
	"testing"

	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// Every number of a profile says which profile it is of; the descent's levels agree with
// the simulated air within their stated uncertainty, and what it did not reach is refused.
func TestProfiles(t *testing.T) {
	s, err := truth.Preset(truth.MidLatitudeSummer, true)
	if err != nil {
		t.Fatal(err)
	}
	flight, err := truth.Simulate(s, 7)
	if err != nil {
		t.Fatal(err)
	}
	o := outcome(t, nil)
	for _, kind := range sounding.ProfileKinds() {
		p, err := o.Profile(kind)
		if err != nil {
			t.Fatal(err)
		}
		if err := p.Final.Validate(); err != nil {
			t.Fatalf("%s: %v", kind, err)
		}
		set := p.Indices()
		if p.Levels.Profile != kind || set.Profile != string(kind) || len(p.Levels.Levels) == 0 {
			t.Errorf("%s: levels of %s, indices of %s", kind, p.Levels.Profile, set.Profile)
		}
		for _, l := range p.Levels.Levels {
			if l.Profile != kind {
				t.Fatalf("%s: a level of %s", kind, l.Profile)
			}
		}
		for _, x := range set.Indices {
			if x.Profile != string(kind) {
				t.Fatalf("%s: %s of %s", kind, x.Name, x.Profile)
			}
		}
		compared := 0
		for _, l := range p.Levels.Levels {
			if !l.Temperature.Set() || l.Pressure > 600 || l.Pressure < 12 {
				continue // below, the descent has none; above lie the 1.5 km below the burst
			}
			// The true air of the ascent at that pressure: the simulator has one column of air.
			x := &flight.Truth
			for i := 1; i < len(x.Pressure); i++ {
				if x.Phase[i] != sounding.Ascending || x.Phase[i-1] != sounding.Ascending || !(x.Pressure[i] <= l.Pressure.Value() && l.Pressure.Value() < x.Pressure[i-1]) {
					continue
				}
				compared++
				if d := math.Abs(l.Temperature.Value() - x.Temperature[i]); d > 0.3+3*l.UTemperature.Value() {
					t.Errorf("%s: %.1f hPa %.2f ± %.2f K, air %.2f K", kind, l.Pressure, l.Temperature, l.UTemperature, x.Temperature[i])
				}
				break
			}
		}
		if compared < 10 {
			t.Errorf("%s: only %d levels compared", kind, compared)
		}
		if kind != sounding.DescentProfile {
			continue
		}
		for _, name := range []string{"surface_cape", "mixed_layer_cape", "most_unstable_cape", "precipitable_water", "k_index", "freezing_level_height", "shear_0_6_km", "lapse_rate_0_3_km", "static_stability_0_1_km", "surface_refractivity", "downdraft_cape"} {
			x := set.Get(name)
			if x.Refusal == "" || !strings.Contains(x.Refusal, "missing") && !strings.Contains(x.Refusal, "no measured humidity") {
				t.Errorf("descent from 612 hPa up: %s = %g, %q", name, x.Value, x.Refusal)
			}
		}
		if k := p.Levels.Levels[0].Words; strings.Join(k, " ") == "" || strings.Contains(strings.Join(k, " "), "surface") {
			t.Errorf("lowest level of the descent: %q", k)
		}
	}
	if _, err := o.Profile("sideways"); err == nil {
		t.Error("no error for a profile that is none")
	}
	if p, err := o.Profile(sounding.AscentProfile); err != nil || p != o {
		t.Error("the ascent is not the outcome itself", err)
	}
}
