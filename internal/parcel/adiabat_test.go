package parcel

import (
	"math"
	"testing"

	"leadline/internal/constants"
	"leadline/internal/humidity"
)

var wexler = SaturationBy(humidity.HylandWexler)

func TestTableIsTheFormula(t *testing.T) {
	for _, f := range humidity.Formulas() {
		s := SaturationBy(f)
		worst, cold := 0.0, 0.0
		if f == humidity.IAPWS {
			continue // refuses supercooled water, and so does its table
		}
		for k := 150.013; k < 349.9; k += 0.171 {
			want := f.OverWater(k)
			if off := math.Abs(s.At(k)/want - 1); k < 200 {
				cold = math.Max(cold, off)
			} else {
				worst = math.Max(worst, off)
			}
		}
		t.Logf("%v: within %.1e, below 200 K %.1e", f, worst, cold)
		if worst > 2e-7 || cold > 2.5e-6 {
			t.Errorf("%v: table off by %.2g, below 200 K by %.2g", f, worst, cold)
		}
		if got, want := s.At(140.0), f.OverWater(140); got != want && !math.IsNaN(want) {
			t.Errorf("%v at 140 K: %g, formula %g", f, got, want)
		}
	}
	if SaturationBy(humidity.NoFormula) != nil {
		t.Error("no formula has a table")
	}
}

// The step against one 50 times finer: what the method's accuracy is.
func TestAdiabatsConverge(t *testing.T) {
	for name, f := range map[string]slope{"pseudo-adiabat": pseudoSlope, "reversible": reversibleSlope} {
		worst := 0.0
		for _, start := range []float64{233, 253, 273, 283, 293, 303, 308} {
			total := wexler.mixingRatio(start, 1000)
			var coarse, fine curve
			coarse.integrate(wexler, f, math.Log(1000), start, math.Log(100), total, adiabatStep)
			fine.integrate(wexler, f, math.Log(1000), start, math.Log(100), total, adiabatStep/50)
			for p := 1000.0; p >= 100; p -= 3.7 {
				worst = math.Max(worst, math.Abs(coarse.at(math.Log(p))-fine.at(math.Log(p))))
			}
		}
		t.Logf("%s: step %g in ln p is within %.1e K of a step of %g", name, adiabatStep, worst, adiabatStep/50)
		if worst > 2e-5 {
			t.Errorf("%s: off by %.2g K, stated 2e-5", name, worst)
		}
	}
}

// PseudoAdiabat goes both ways along one curve.
func TestPseudoAdiabatGoesBothWays(t *testing.T) {
	p := []float64{1050, 1000, 700, 500, 250, math.NaN(), 0}
	got := make([]float64, len(p))
	wexler.PseudoAdiabat(got, p, 700, 280)
	if got[2] != 280 && math.Abs(got[2]-280) > 1e-7 {
		t.Errorf("at its start: %g", got[2])
	}
	back := make([]float64, 1)
	for i, v := range p[:5] {
		wexler.PseudoAdiabat(back, []float64{700}, v, got[i])
		if math.Abs(back[0]-280) > 3e-5 {
			t.Errorf("from %g hPa back to 700: %.7f", v, back[0])
		}
	}
	if !math.IsNaN(got[5]) || !math.IsNaN(got[6]) {
		t.Error("a pressure that is none has a temperature")
	}
}

// Entropy of saturated air with all its water, per kg of dry air:
// (cpd + rt cl) ln T − Rd ln(p − es) + L rs/T (Emanuel 1994, eq. 4.5.9, from memory).
// A reversible ascent keeps it; the lapse rate integrated here comes from another source.
func TestReversibleAscentKeepsEntropy(t *testing.T) {
	entropy := func(k, p, total float64) float64 {
		es := wexler.At(k)
		rs := constants.Epsilon * es / (p - es)
		return (constants.Cpd+total*SpecificHeatLiquid)*math.Log(k) - constants.Rd*math.Log(p-es) + latentAt(k)*rs/k
	}
	for _, start := range []float64{273, 288, 300} {
		e := wexler.At(start) * 0.9999999
		var a Ascent
		if !a.Lift(wexler, Start{1000, start, e}, 150, Stays) {
			t.Fatal("cannot be lifted")
		}
		want := entropy(a.Temperature, a.Pressure, a.MixingRatio)
		for p := 900.0; p >= 150; p -= 50 {
			k, _ := a.At(math.Log(p))
			// 1 J kg⁻¹ K⁻¹ is 0.3 K. What remains is the formula of saturation not
			// obeying Clausius and Clapeyron with this latent heat exactly.
			drift := (entropy(k, p, a.MixingRatio) - want) * k / constants.Cpd
			if math.Abs(drift) > 0.1 {
				t.Errorf("from %g K, at %g hPa: %.3f K off the adiabat of constant entropy", start, p, drift)
			}
		}
	}
}

// In a reversible ascent the water stays: the parcel is warmer than the
// pseudo-adiabatic one, yet low down less buoyant, by the weight of the water.
func TestReversibleAgainstPseudo(t *testing.T) {
	var fall, stay Ascent
	start := Start{1000, 301, 0.8 * wexler.At(301)}
	if !fall.Lift(wexler, start, 100, FallsOut) || !stay.Lift(wexler, start, 100, Stays) {
		t.Fatal("cannot be lifted")
	}
	x := math.Log(300)
	a, _ := fall.At(x)
	b, _ := stay.At(x)
	if !(b > a && b < a+6) {
		t.Errorf("at 300 hPa %.2f K reversible, %.2f K pseudo-adiabatic", b, a)
	}
	x = math.Log(700)
	_, av := fall.At(x)
	_, bv := stay.At(x)
	if !(bv < av) {
		t.Errorf("virtual temperature at 700 hPa: %.2f K with the water, %.2f K without", bv, av)
	}
}

// Equal condensation levels by three ways. Bolton's claim for eq. 15 is 0.1 K; Romps
// has specific heats of moist air, which move the level by 1 %.
func TestCondensationLevelsAgree(t *testing.T) {
	worstBolton, worstRomps := 0.0, 0.0
	for _, k := range []float64{243, 263, 283, 303, 313} {
		for _, rh := range []float64{10, 30, 60, 90, 99.9} {
			e := 0.01 * rh * wexler.At(k)
			p, exact := wexler.Condensation(1000, k, e)
			quickP, quick := wexler.condensation(1000, k, e)
			if math.Abs(quick-exact) > 1e-6 || math.Abs(quickP-p) > 1e-4 {
				t.Errorf("%g K, %g %%: quick way %.8f K, exact %.8f K", k, rh, quick, exact)
			}
			worstBolton = math.Max(worstBolton, math.Abs(CondensationBoltonVapour(k, e)-exact))
			worstBolton = math.Max(worstBolton, math.Abs(CondensationBolton(k, wexler.DewPoint(e))-exact))
			r := CondensationRomps(1000, k, e, false)
			worstRomps = math.Max(worstRomps, math.Abs(r.Temperature-exact))
		}
	}
	t.Logf("largest difference from the exact level: Bolton 1980 %.3f K, Romps 2017 %.3f K", worstBolton, worstRomps)
	if worstBolton > 0.6 || worstRomps > 0.6 {
		t.Errorf("Bolton %.2f K, Romps %.2f K", worstBolton, worstRomps)
	}
	if p, k := wexler.Condensation(900, 280, wexler.At(280)*1.02); p != 900 || k != 280 {
		t.Errorf("supersaturated air condenses at %g hPa, %g K", p, k)
	}
	if p, _ := wexler.Condensation(900, 280, 0); !math.IsNaN(p) {
		t.Error("air without vapour condenses")
	}
}

// Against the psychrometer formula of WMO-No. 8, whose coefficient is an independent
// measurement: 6.53e-4 (1 + 0.000944 tw) p per kelvin (the case of HUM-08: 1013.25 hPa, 20 °C,
// wet bulb 18 °C).
func TestWetBulb(t *testing.T) {
	for _, c := range []struct{ p, k, tw float64 }{{1013.25, 293.15, 291.15}, {1000, 303.15, 293.15}, {850, 283.15, 278.15}, {700, 278.15, 274.15}} {
		e := (humidity.Psychrometer{OverWater: 6.53e-4, Warming: 0.000944}).VapourPressure(humidity.HylandWexler, c.k, c.tw, c.p, false)
		got := wexler.WetBulb(c.p, c.k, e)
		// The coefficients in use (6.21e-4 and 6.53e-4) differ by 5 % of the depression.
		if math.Abs(got-c.tw) > 0.02*(c.k-c.tw) {
			t.Errorf("%g hPa, %g K: wet bulb %.3f, psychrometer %.3f", c.p, c.k, got, c.tw)
		}
		// By definition.
		if x := wexler.wetBulbExcess(c.p, c.k, e, got); math.Abs(x) > 1e-2 {
			t.Errorf("out of balance by %g J/kg", x)
		}
		if by := wexler.WetBulbPseudo(c.p, c.k, e); !(by < got+0.02 && by > got-0.4) {
			t.Errorf("Normand's wet bulb %.3f, isobaric %.3f", by, got)
		}
	}
	if got := wexler.WetBulb(900, 280, 1.1*wexler.At(280)); got != 280 {
		t.Errorf("supersaturated: %g", got)
	}
	if got := wexler.WetBulb(900, 280, 0); !(got > 264 && got < 275) {
		t.Errorf("dry air: %g", got)
	}
	if got := wexler.WetBulb(900, 280, 901); !math.IsNaN(got) {
		t.Errorf("vapour alone: %g", got)
	}
}

// θw of air saturated at 1000 hPa is its temperature.
func TestWetBulbPotential(t *testing.T) {
	if got := wexler.WetBulbPotential(1000, 290, wexler.At(290)); math.Abs(got-290) > 1e-6 {
		t.Errorf("%g", got)
	}
	// Air moved along its adiabats keeps it.
	e := 0.5 * wexler.At(295)
	want := wexler.WetBulbPotential(1000, 295, e)
	k := 295 * math.Pow(0.95, constants.Kappa)
	if got := wexler.WetBulbPotential(950, k, 0.95*e); math.Abs(got-want) > 1e-6 {
		t.Errorf("%.8f after lifting, %.8f before", got, want)
	}
}

func TestMixingRatioLine(t *testing.T) {
	p := []float64{1000, 700, 0}
	got := make([]float64, 3)
	wexler.MixingRatioLine(got, p, 0.008)
	for i := range 2 {
		if r := wexler.mixingRatio(got[i], p[i]); math.Abs(r-0.008) > 1e-9 {
			t.Errorf("%g hPa: %g", p[i], r)
		}
	}
	if !math.IsNaN(got[2]) {
		t.Error("no pressure, yet a temperature")
	}
}
