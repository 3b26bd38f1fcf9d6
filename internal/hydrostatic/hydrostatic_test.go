package hydrostatic

import (
	"math"
	"testing"

	"leadline/internal/authority"
	"leadline/internal/constants"
	"leadline/internal/earth"

	"pgregory.net/rapid"
)

// standardProfile is the US Standard Atmosphere 1976 from 0 to top gpm. The
// standard was computed with R*/M of 1976, 0.001 % above Rd here; only the product
// Rd·Tv enters, so the temperatures carry the ratio.
func standardProfile(top, step float64) (gpm, tv, p []float64) {
	const ratio = constants.GasConstant1976 / constants.MolarMassDryAir / constants.Rd
	for h := 0.0; h <= top+1e-9; h += step {
		temperature, pressure, _ := earth.StandardAtmosphere(h)
		gpm, tv, p = append(gpm, h), append(tv, ratio*temperature), append(p, pressure)
	}
	return gpm, tv, p
}

// Computed check values; the source of each stands in its row.
func TestAuthority(t *testing.T) {
	answers := map[string]func(t *testing.T, row authority.Row) float64{
		"HGT-17": func(t *testing.T, r authority.Row) float64 {
			return Thickness(1000, 500, r.Input(t, "Tv"), r.Input(t, "Tv"))
		},
		"HGT-18": func(t *testing.T, r authority.Row) float64 {
			gpm, tv, _ := standardProfile(11000, 10)
			p := make([]float64, len(gpm))
			PressureFromHeights(p, gpm, tv, r.Input(t, "p0"))
			return p[len(p)-1]
		},
		"HGT-20": func(t *testing.T, r authority.Row) float64 {
			return HeightPerPressure(r.Input(t, "p"), r.Input(t, "T"))
		},
		"HGT-21": func(t *testing.T, r authority.Row) float64 {
			return PressureUncertainty(r.Input(t, "p"), r.Input(t, "T"), 30, 250, 0, 1000, 0)
		},
		"HGT-22": func(t *testing.T, r authority.Row) float64 {
			return HeightPerPressure(r.Input(t, "p"), r.Input(t, "Tv"))
		},
		"HGT-23": func(t *testing.T, r authority.Row) float64 {
			return Thickness(1000, 10, 251, 251) - Thickness(1000, 10, 250, 250)
		},
	}
	authority.Run(t, "hydrostatic", func(t *testing.T, row authority.Row) {
		answer, ok := answers[row.ID]
		if !ok {
			t.Fatalf("no answer for %s", row.ID)
		}
		row.Check(t, answer(t, row))
	})
}

// Both integrations against the standard atmosphere they do not know, at the
// density of a sounding (10 m) and of a coarse one. The claim of the methods
// sheet, section 2.1, is 0.5 m for data at 10 s or closer.
func TestColumnsAgainstStandardAtmosphere(t *testing.T) {
	for _, c := range []struct{ step, heightTolerance, relative float64 }{{10, 0.01, 1e-6}, {50, 0.05, 1e-5}} {
		gpm, tv, p := standardProfile(40000, c.step)
		heights, pressure := make([]float64, len(p)), make([]float64, len(p))
		HeightsFromPressure(heights, p, tv, 0)
		PressureFromHeights(pressure, gpm, tv, p[0])
		for i := range p {
			if !(math.Abs(heights[i]-gpm[i]) <= c.heightTolerance) {
				t.Fatalf("step %g m: %g hPa at %.4f gpm, want %g", c.step, p[i], heights[i], gpm[i])
			}
			if !(math.Abs(pressure[i]/p[i]-1) <= c.relative) {
				t.Fatalf("step %g m: %.8g hPa at %g gpm, want %.8g", c.step, pressure[i], gpm[i], p[i])
			}
		}
	}
}

// Holes of every kind: what the comments promise, row by row.
func TestMissingRows(t *testing.T) {
	nan := math.NaN()
	_, tv, p := standardProfile(1000, 100)
	want := make([]float64, len(p))
	HeightsFromPressure(want, p, tv, 250)

	p[0], tv[1] = nan, nan // the column starts at row 2
	p[5] = nan             // no pressure: stepped over
	tv[7] = nan            // no temperature: bridged
	p[8] = -3              // impossible: stepped over
	tv[10] = nan           // the last one: no height
	heights := make([]float64, len(p))
	filled := HeightsFromPressure(heights, p, tv, want[2])
	if filled != 1 {
		t.Errorf("%d rows filled, want 1", filled)
	}
	for i, h := range heights {
		missing := i < 2 || i == 5 || i == 8 || i == 10
		if math.IsNaN(h) != missing {
			t.Errorf("row %d: %g gpm, missing should be %v", i, h, missing)
		}
		if !missing && math.Abs(h-want[i]) > 0.02 {
			t.Errorf("row %d: %.4f gpm, want %.4f", i, h, want[i])
		}
	}

	back := make([]float64, len(p))
	filled = PressureFromHeights(back, heights, tv, p[2])
	if filled != 1 {
		t.Errorf("%d pressures filled, want 1", filled)
	}
	for i := range back {
		if missing := math.IsNaN(heights[i]); math.IsNaN(back[i]) != missing {
			t.Errorf("row %d: %g hPa, missing should be %v", i, back[i], missing)
		} else if !missing && math.Abs(back[i]-p[i]) > 1e-9 {
			t.Errorf("row %d: %.12g hPa, want %.12g", i, back[i], p[i])
		}
	}
}

func TestNothingToIntegrate(t *testing.T) {
	nan := math.NaN()
	for _, column := range [][]float64{{}, {nan}, {nan, nan}, {0, -1}} {
		tv := make([]float64, len(column))
		for i := range tv {
			tv[i] = 280
		}
		out := make([]float64, len(column))
		if filled := HeightsFromPressure(out, column, tv, 0); filled != 0 {
			t.Errorf("%v: %d filled", column, filled)
		}
		for _, h := range out {
			if !math.IsNaN(h) {
				t.Errorf("%v: height %g without a pressure", column, h)
			}
		}
	}
	out := make([]float64, 2)
	for _, base := range []float64{0, -5, nan} {
		PressureFromHeights(out, []float64{0, 100}, []float64{280, 280}, base)
		if !math.IsNaN(out[0]) || !math.IsNaN(out[1]) {
			t.Errorf("base pressure %g gives %v", base, out)
		}
	}
	if h := Thickness(1000, 0, 280, 280); !math.IsNaN(h) {
		t.Errorf("thickness up to 0 hPa is %g", h)
	}
}

// The two integrations undo each other, whatever the profile.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(t, "rows")
		p, tv := make([]float64, n), make([]float64, n)
		pressure := 1020.0
		for i := range p {
			pressure *= rapid.Float64Range(0.8, 1.01).Draw(t, "ratio")
			p[i] = pressure
			tv[i] = rapid.Float64Range(180, 320).Draw(t, "tv")
			if rapid.IntRange(0, 4).Draw(t, "missing") == 0 {
				tv[i] = math.NaN()
			}
		}
		heights, back := make([]float64, n), make([]float64, n)
		HeightsFromPressure(heights, p, tv, 100)
		first := 0
		for first < n && math.IsNaN(heights[first]) {
			first++
		}
		if first == n {
			return
		}
		PressureFromHeights(back, heights, tv, p[first])
		for i := range p {
			if math.IsNaN(heights[i]) != math.IsNaN(back[i]) || math.Abs(back[i]-p[i]) > 1e-9*p[i] {
				t.Fatalf("row %d: %g hPa became %g gpm became %g hPa", i, p[i], heights[i], back[i])
			}
		}
	})
}

// The stated uncertainties against the change of the computed values when an
// input is moved by its uncertainty.
func TestUncertaintyAgainstPerturbation(t *testing.T) {
	gpm, tv, p := standardProfile(30000, 50)
	n := len(p) - 1
	integral := 0.0
	for i := 1; i <= n; i++ {
		integral += 0.5 * (tv[i] + tv[i-1]) * math.Log(p[i-1]/p[i])
	}
	mean := integral / math.Log(p[0]/p[n])

	run := func(dH, dTv, dP float64) float64 {
		h, v, out := make([]float64, n+1), make([]float64, n+1), make([]float64, n+1)
		for i := range h {
			h[i], v[i] = gpm[i]+dH, tv[i]+dTv
		}
		h[0] -= dH
		PressureFromHeights(out, h, v, p[0]+dP)
		return out[n]
	}
	base := run(0, 0, 0)
	for _, c := range []struct {
		name       string
		got, moved float64
		tolerance  float64
	}{
		// A shift of all heights above the ground falls into the lowest layer, so
		// the relative change follows the temperature there.
		{"height", PressureUncertainty(base, tv[0], 10, mean, 0, p[0], 0), run(-10, 0, 0) - base, 0.01},
		// The same warming shifts the column's harmonic mean a little differently.
		{"temperature", PressureUncertainty(base, tv[n], 0, mean, 0.5, p[0], 0), run(0, 0.5, 0) - base, 0.02},
		{"surface pressure", PressureUncertainty(base, tv[n], 0, mean, 0, p[0], 0.5), run(0, 0, 0.5) - base, 1e-9},
	} {
		if math.Abs(c.got/c.moved-1) > c.tolerance {
			t.Errorf("%s: u(p) = %.6g hPa, moved by %.6g", c.name, c.got, c.moved)
		}
	}

	heights := make([]float64, n+1)
	v := make([]float64, n+1)
	for i := range v {
		v[i] = tv[i] + 0.5
	}
	HeightsFromPressure(heights, p, v, 0)
	if got, moved := HeightUncertainty(p[n], tv[n], 0, 0.5, p[0], 0), heights[n]-gpm[n]; math.Abs(got/moved-1) > 1e-3 {
		t.Errorf("temperature: u(H) = %g gpm, moved by %g", got, moved)
	}
	// The methods sheet, section 2.4: 1 hPa at 10 hPa is about 660 gpm.
	if got := HeightUncertainty(10, 227, 1, 0, 1000, 0); math.Abs(got-664) > 1 {
		t.Errorf("1 hPa at 10 hPa is %g gpm", got)
	}
}

func BenchmarkHeightsFromPressure(b *testing.B) {
	_, tv, p := standardProfile(36000, 5)
	heights := make([]float64, len(p))
	b.ReportAllocs()
	for b.Loop() {
		HeightsFromPressure(heights, p, tv, 0)
	}
}

func BenchmarkPressureFromHeights(b *testing.B) {
	gpm, tv, p := standardProfile(36000, 5)
	out := make([]float64, len(p))
	b.ReportAllocs()
	for b.Loop() {
		PressureFromHeights(out, gpm, tv, p[0])
	}
}
