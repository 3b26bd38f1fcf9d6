package humidity

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"leadline/internal/constants"

	"pgregory.net/rapid"
)

func TestNamesRoundTrip(t *testing.T) {
	for _, f := range Formulas() {
		got, err := ParseFormula(" " + strings.ToUpper(f.String()) + " ")
		if err != nil || got != f {
			t.Errorf("%s: %v, %v", f, got, err)
		}
		text, err := json.Marshal(map[string]Formula{"formula": f})
		if err != nil {
			t.Fatal(err)
		}
		var back map[string]Formula
		if err := json.Unmarshal(text, &back); err != nil || back["formula"] != f {
			t.Errorf("%s came back as %v from %s (%v)", f, back, text, err)
		}
	}
	for _, name := range []string{"", "magnus", "no formula"} {
		if f, err := ParseFormula(name); err == nil || f != NoFormula || !strings.Contains(err.Error(), "hyland-wexler") {
			t.Errorf("%q: %v, %v; want an error that lists the names", name, f, err)
		}
	}
	if _, err := NoFormula.MarshalText(); err == nil {
		t.Error("a formula that was not set was written as text")
	}
}

// The slope is checked against central differences of the formula itself.
func TestSlopes(t *testing.T) {
	for _, f := range Formulas() {
		for _, phase := range []struct {
			name       string
			at, slope  func(float64) float64
			cold, warm float64
		}{
			{"water", f.OverWater, f.SlopeOverWater, 180, 330},
			{"ice", f.OverIce, f.SlopeOverIce, 130, 273},
		} {
			for k := phase.cold; k <= phase.warm; k += 3 {
				const h = 1e-3
				want := math.Log(phase.at(k+h)/phase.at(k-h)) / (2 * h)
				got := phase.slope(k)
				if math.IsNaN(want) && math.IsNaN(got) {
					continue
				}
				if math.IsNaN(want) != math.IsNaN(got) || math.Abs(got/want-1) > 1e-6 {
					t.Errorf("%s over %s at %g K: slope %.9g, by differences %.9g", f, phase.name, k, got, want)
				}
			}
		}
	}
}

func TestInversesReturn(t *testing.T) {
	for _, f := range Formulas() {
		low, high := 110.0, 390.0
		if f == IAPWS {
			low = 273.16
		}
		worst := 0.0
		for k := low; k <= high; k += 0.37 {
			got := f.DewPoint(f.OverWater(k))
			if !(math.Abs(got-k) <= 1e-9) {
				t.Fatalf("%s: dew point of saturation at %.2f K is %.12f", f, k, got)
			}
			worst = math.Max(worst, math.Abs(got-k))
		}
		if f.HasIce() {
			for k := 110.0; k <= 273.16; k += 0.37 {
				if got := f.FrostPoint(f.OverIce(k)); !(math.Abs(got-k) <= 1e-9) {
					t.Fatalf("%s: frost point of saturation at %.2f K is %.12f", f, k, got)
				}
			}
		}
		t.Logf("%s: dew point returns within %.1g K", f, worst)
	}
}

func TestWhatDoesNotExistIsMissing(t *testing.T) {
	nan := math.NaN()
	for name, got := range map[string]float64{
		"dew point of no vapour":            HylandWexler.DewPoint(0),
		"dew point of negative vapour":      HylandWexler.DewPoint(-1),
		"dew point of missing":              HylandWexler.DewPoint(nan),
		"dew point of infinite":             HylandWexler.DewPoint(math.Inf(1)),
		"dew point of 0 %":                  Sonntag.DewPointFromRelative(0, 280),
		"frost point above triple point":    Sonntag.FrostPoint(7),
		"frost point without ice formula":   Bolton.FrostPoint(1),
		"over ice above triple point":       MurphyKoop.OverIce(280),
		"over ice without ice formula":      Bolton.OverIce(250),
		"relative over ice above 0 °C":      MurphyKoop.RelativeOverIce(50, 280),
		"iapws water below 0 °C":            IAPWS.OverWater(270),
		"iapws dew point below 0 °C":        IAPWS.DewPoint(3),
		"no formula":                        NoFormula.OverWater(280),
		"no formula over ice":               NoFormula.OverIce(250),
		"no formula dew point":              NoFormula.DewPoint(5),
		"formula out of the list":           Formula(99).DewPoint(5) + Formula(99).OverWater(280) + Formula(99).FrostPoint(1),
		"temperature in °C by mistake":      HylandWexler.OverWater(20),
		"missing temperature":               HylandWexler.OverWater(nan),
		"mixing ratio of vapour alone":      MixingRatio(10, 10),
		"virtual temperature of the same":   VirtualTemperature(280, 10, 5),
		"virtual temperature at p = 0":      VirtualTemperature(280, 0, 0),
		"enhancement aloft":                 Enhancement(10),
		"wet bulb warmer than dry":          AspiratedWMO8.VapourPressure(MagnusWMO8, 290, 291, 1000, false),
		"wet bulb far too cold":             AspiratedWMO8.VapourPressure(MagnusWMO8, 300, 270, 1000, false),
		"relative humidity of missing rh":   HylandWexler.FromRelative(nan, 280),
		"water range of no formula":         func() float64 { a, b := NoFormula.WaterRange(); return a + b }(),
		"ice range of a formula without it": func() float64 { a, b := Bolton.IceRange(); return a + b }(),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s is %g, want missing", name, got)
		}
	}
}

// Definitions that must hold between the conversions, whatever the values.
func TestConversionsAreConsistent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.SampledFrom([]Formula{HylandWexler, Sonntag, MurphyKoop, GoffGratch, Goff1957, MagnusWMO8, Bolton}).Draw(t, "formula")
		k := rapid.Float64Range(183, 313).Draw(t, "K")
		rh := rapid.Float64Range(0.5, 100).Draw(t, "rh")
		p := rapid.Float64Range(100, 1050).Draw(t, "hPa")
		e := f.FromRelative(rh, k)
		near := func(name string, got, want, relative float64) {
			if !(math.Abs(got-want) <= relative*math.Abs(want)) {
				t.Fatalf("%s: %.12g, want %.12g", name, got, want)
			}
		}
		near("relative humidity back", f.ToRelative(e, k), rh, 1e-12)
		near("relative humidity by dew point", f.RelativeFromDewPoint(f.DewPoint(e), k), rh, 1e-9)
		near("vapour pressure by mixing ratio", PressureFromMixingRatio(MixingRatio(e, p), p), e, 1e-12)
		near("mixing ratio by specific humidity", MixingRatioFromSpecific(SpecificHumidity(MixingRatio(e, p))), MixingRatio(e, p), 1e-12)
		r := MixingRatio(e, p)
		near("virtual temperature by mixing ratio", VirtualTemperature(k, e, p), k*(1+r/constants.Epsilon)/(1+r), 1e-12)
		if f.DewPoint(e) > k+1e-9 {
			t.Fatalf("dew point %g above %g K at %g %%", f.DewPoint(e), k, rh)
		}
		if frost := f.FrostPoint(e); f.HasIce() && frost < 273.15 && frost < f.DewPoint(e)-1e-9 {
			t.Fatalf("frost point %g K below dew point %g K", frost, f.DewPoint(e))
		}
		if f.HasIce() && k < 273 {
			near("over ice", f.RelativeOverIce(f.IceSaturation(k), k), 100, 1e-12)
		}
	})
}

// The methods sheet, section 7.2, gives about 3 K for u(RH) = 3 % at 10 %.
func TestDewPointUncertainty(t *testing.T) {
	const rh, k = 10, 273.15
	td := HylandWexler.DewPointFromRelative(rh, k)
	if u := HylandWexler.DewPointUncertainty(rh, k, td, 3, 0); u < 2.5 || u > 3.5 {
		t.Errorf("u(Td) = %.2f K, want about 3 K", u)
	}
	// Against the spread of the function itself.
	const uRH, uT = 0.01, 0.002
	byRH := (HylandWexler.DewPointFromRelative(rh+uRH, k) - HylandWexler.DewPointFromRelative(rh-uRH, k)) / 2
	byT := (HylandWexler.DewPointFromRelative(rh, k+uT) - HylandWexler.DewPointFromRelative(rh, k-uT)) / 2
	if got, want := HylandWexler.DewPointUncertainty(rh, k, td, uRH, uT), math.Hypot(byRH, byT); math.Abs(got/want-1) > 1e-4 {
		t.Errorf("u(Td) = %g K, by differences %g K", got, want)
	}
	byRH = uRH * HylandWexler.OverWater(k) / 100
	byT = (HylandWexler.FromRelative(rh, k+uT) - HylandWexler.FromRelative(rh, k-uT)) / 2
	if got, want := HylandWexler.VapourPressureUncertainty(rh, k, uRH, uT), math.Hypot(byRH, byT); math.Abs(got/want-1) > 1e-4 {
		t.Errorf("u(e) = %g hPa, by differences %g hPa", got, want)
	}
}

func TestColumnsDoWhatTheFunctionsDo(t *testing.T) {
	temperatures := []float64{math.NaN(), 90, 183, 233.15, 273.15, 273.16, 273.17, 300, 401}
	vapour := []float64{math.NaN(), -1, 0, 1e-9, 0.01, 6.1, 7, 40, 1e9}
	rh := []float64{0, 1, math.NaN(), 50, 60, 70, 80, 100, 105}
	same := func(name string, got, want float64) {
		t.Helper()
		if math.Float64bits(got) != math.Float64bits(want) && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("%s: column %g, function %g", name, got, want)
		}
	}
	dst := make([]float64, len(temperatures))
	for _, f := range append(Formulas(), NoFormula) {
		for _, c := range []struct {
			name string
			run  func()
			want func(i int) float64
		}{
			{"over water", func() { f.OverWaterColumn(dst, temperatures) }, func(i int) float64 { return f.OverWater(temperatures[i]) }},
			{"over ice", func() { f.OverIceColumn(dst, temperatures) }, func(i int) float64 { return f.OverIce(temperatures[i]) }},
			{"dew point", func() { f.DewPointColumn(dst, vapour) }, func(i int) float64 { return f.DewPoint(vapour[i]) }},
			{"frost point", func() { f.FrostPointColumn(dst, vapour) }, func(i int) float64 { return f.FrostPoint(vapour[i]) }},
			{"from relative", func() { f.FromRelativeColumn(dst, rh, temperatures) }, func(i int) float64 { return f.FromRelative(rh[i], temperatures[i]) }},
		} {
			c.run()
			for i := range dst {
				same(f.String()+" "+c.name, dst[i], c.want(i))
			}
		}
	}
}

func flight(n int) (t, e []float64) {
	t, e = make([]float64, n), make([]float64, n)
	for i := range t {
		t[i] = 210 + 80*math.Cos(float64(i)/2000)*math.Cos(float64(i)/2000)
		e[i] = 0.4 * HylandWexler.OverWater(t[i])
	}
	return t, e
}

func BenchmarkOverWaterColumn(b *testing.B) {
	t, e := flight(7200)
	for _, f := range []Formula{HylandWexler, Sonntag, MurphyKoop, Goff1957} {
		b.Run(f.String(), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				f.OverWaterColumn(e, t)
			}
		})
	}
}

func BenchmarkDewPointColumn(b *testing.B) {
	t, e := flight(7200)
	for _, f := range []Formula{HylandWexler, MurphyKoop} {
		b.Run(f.String(), func(b *testing.B) {
			f.DewPointColumn(t, e)
			b.ReportAllocs()
			for b.Loop() {
				f.DewPointColumn(t, e)
			}
		})
	}
}
