package levels

import (
	"math"
	"math/rand/v2"
	"testing"

	"leadline/internal/authority"
	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

func standardColumn() (gpm, p, t []float64) {
	for z := 0.0; z <= 30000; z += 100 {
		temperature, pressure, _ := earth.StandardAtmosphere(z)
		gpm, p, t = append(gpm, z), append(p, pressure), append(t, temperature)
	}
	return gpm, p, t
}

// Rows TRP-01 to TRP-03 of authorities/wmo-tropopause: profiles whose tropopauses follow
// from the WMO definition.
func TestTropopauseAgainstAuthorities(t *testing.T) {
	const oneSample = 100.0 // gpm
	authority.Run(t, "levels", func(t *testing.T, row authority.Row) {
		var f *sounding.Final
		var want []float64
		switch row.ID {
		case "TRP-01":
			gpm, p, temperature := standardColumn()
			f, want = flightOf(gpm, p, temperature, nil, nil, nil), []float64{11000}
		case "TRP-02":
			gpm, p, temperature := column(30000, 100, func(z float64) float64 {
				switch {
				case z < 12000:
					return 288.15 - 0.0065*z
				case z < 15000:
					return 210.15
				case z < 17000:
					return 210.15 - 0.004*(z-15000)
				}
				return 202.15
			})
			f, want = flightOf(gpm, p, temperature, nil, nil, nil), []float64{12000, 17000}
		case "TRP-03":
			gpm, p, temperature := column(30000, 100, func(z float64) float64 {
				switch {
				case z < 2000:
					return 288.15 - 0.0065*z
				case z < 2500:
					return 275.15 + 3*(z-2000)/500
				case z < 11000:
					return 278.15 - 0.0065*(z-2500)
				}
				return 278.15 - 0.0065*8500
			})
			f, want = flightOf(gpm, p, temperature, nil, nil, nil), []float64{11000}
		default:
			t.Fatalf("row %s is claimed for levels but not run", row.ID)
		}
		set, _ := Find(f, Default())
		got := set.Of(Tropopause)
		if len(got) != len(want) {
			t.Fatalf("%d tropopauses, want %d (%s)", len(got), len(want), set.Tropopauses)
		}
		for i := range want {
			if math.Abs(got[i].Geopotential.Value()-want[i]) > oneSample {
				t.Errorf("tropopause %d at %.0f gpm, want %.0f within one sample", i+1, got[i].Geopotential, want[i])
			}
		}
		if row.ID == "TRP-01" {
			if math.Abs(got[0].Pressure.Value()-226.32) > 4 || math.Abs(got[0].Temperature.Value()-216.65) > 0.65 {
				t.Errorf("%.2f hPa %.2f K, want 226.32 hPa 216.65 K within one sample", got[0].Pressure, got[0].Temperature)
			}
		}
	})
}

func TestTropopauseUndetermined(t *testing.T) {
	gpm, p, temperature := column(12000, 100, func(z float64) float64 { return math.Max(288.15-0.0065*z, 216.65) })
	set, _ := Find(flightOf(gpm, p, temperature, nil, nil, nil), Default())
	if len(set.Of(Tropopause)) != 0 || set.Tropopauses != "no tropopause could be determined: the profile ends less than 2 km above the only candidate" {
		t.Errorf("%d tropopauses: %s", len(set.Of(Tropopause)), set.Tropopauses)
	}
}

// Heights of standard levels in the US Standard Atmosphere 1976 as the standard_levels
// table of FM 35 practice gives them (500 hPa 5574 gpm, 100 hPa 16180 gpm).
func TestStandardLevels(t *testing.T) {
	gpm, p, temperature := standardColumn()
	set, _ := Find(flightOf(gpm, p, temperature, nil, nil, nil), Default())
	want := map[float64]float64{1000: 111, 925: 762, 850: 1457, 700: 3012, 500: 5574, 400: 7185, 300: 9164, 250: 10363, 200: 11784,
		150: 13608, 100: 16180, 70: 18442, 50: 20576, 30: 23849, 20: 26481}
	const oneGpm = 1.0
	got := map[float64]float64{}
	for _, l := range set.Of(Standard) {
		got[l.Pressure.Value()] = l.Geopotential.Value()
	}
	for hpa, z := range want {
		if g, ok := got[hpa]; !ok || math.Abs(g-z) > oneGpm {
			t.Errorf("%g hPa at %.1f gpm, want %.0f", hpa, g, z)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d standard levels, want %d: 10 hPa lies above the top", len(got), len(want))
	}
}

func TestStandardLevelInsideAGapIsLeftOut(t *testing.T) {
	gpm, p, temperature := standardColumn()
	for i := range p {
		if p[i] < 720 && p[i] > 680 {
			temperature[i] = math.NaN()
		}
	}
	set, _ := Find(flightOf(gpm, p, temperature, nil, nil, nil), Default())
	for _, l := range set.Of(Standard) {
		if l.Pressure == 700 && l.Temperature.Set() {
			t.Errorf("700 hPa has %.2f K across a missing layer of 40 hPa", l.Temperature)
		}
	}
	begins, ends := set.Of(MissingTemperatureBegins), set.Of(MissingTemperatureEnds)
	if len(begins) != 1 || len(ends) != 1 || begins[0].Pressure < 720 || ends[0].Pressure > 680 {
		t.Errorf("missing layer begins %v ends %v", begins, ends)
	}
}

func TestFreezingLevel(t *testing.T) {
	gpm, p, temperature := column(8000, 100, func(z float64) float64 { return 288.15 - 0.0065*z })
	set, _ := Find(flightOf(gpm, p, temperature, nil, nil, nil), Default())
	got := set.Of(Freezing)
	want := 15 / 0.0065
	if len(got) != 1 || math.Abs(got[0].Geopotential.Value()-want) > 1 || math.Abs(got[0].Temperature.Value()-273.15) > 1e-9 {
		t.Fatalf("freezing level %+v, want one at %.1f gpm", got, want)
	}
	gpm, p, temperature = column(8000, 100, func(z float64) float64 { return 260 - 0.0065*z })
	set, _ = Find(flightOf(gpm, p, temperature, nil, nil, nil), Default())
	if n := len(set.Of(Freezing)); n != 0 {
		t.Errorf("%d freezing levels in air that is below 0 °C everywhere", n)
	}
}

// wavy makes a sounding with inversions, dry layers and a turning wind, with gaps.
func wavy(seed uint64) *sounding.Final {
	r := rand.New(rand.NewPCG(seed, 1))
	phase, amplitude := r.Float64()*6, 2+4*r.Float64()
	gpm, p, temperature := column(28000, 10, func(z float64) float64 {
		return math.Max(290-0.0065*z, 205) + amplitude*math.Sin(z/700+phase)*math.Exp(-z/9000)
	})
	n := len(p)
	rh, u, v := make([]float64, n), make([]float64, n), make([]float64, n)
	for i, z := range gpm {
		rh[i] = math.Max(1, math.Min(100, 55+40*math.Sin(z/900+phase)*math.Exp(-z/15000)+2*r.NormFloat64()))
		speed, turn := 5+40*math.Exp(-math.Pow((z-11000)/3000, 2))+r.NormFloat64()*0.3, z/2500+phase
		u[i], v[i] = speed*math.Cos(turn), speed*math.Sin(turn)
		temperature[i] += 0.05 * r.NormFloat64()
	}
	for k := 0; k < 4; k++ {
		from := r.IntN(n - 200)
		for i := from; i < from+r.IntN(200); i++ {
			switch k % 3 {
			case 0:
				temperature[i] = math.NaN()
			case 1:
				rh[i] = math.NaN()
			case 2:
				u[i], v[i] = math.NaN(), math.NaN()
			}
		}
	}
	return flightOf(gpm, p, temperature, rh, u, v)
}

// The reconstruction test of regulation 35.3.1: between neighbouring levels temperature
// and humidity follow from linear interpolation in ln p to within the tolerances.
func TestSignificantLevelsRebuildTheProfile(t *testing.T) {
	for seed := uint64(1); seed <= 40; seed++ {
		f := wavy(seed)
		set := Default()
		p := NewProfile(f, set)
		tropopauses, _ := p.tropopauses()
		chosen := p.significantTH(tropopauses)
		split := math.Log(set.SignificantSplit)
		if len(tropopauses) > 0 {
			split = math.Max(split, tropopauses[0])
		}
		for _, c := range []struct {
			q   int
			tol func(float64) float64
		}{{qT, func(l float64) float64 { return p.tolerance(l, split) }}, {qRH, func(float64) float64 { return set.SignificantRH }}} {
			a, covered := -1, 0
			for b := 0; b < p.Len(); b++ {
				if _, ok := chosen[b]; !ok || math.IsNaN(p.Value[c.q][b]) {
					continue
				}
				if a >= 0 && !p.gap(lastWith(p.Value[c.q], a, b), b) {
					for k := a + 1; k < b; k++ {
						w := (p.LnP[k] - p.LnP[a]) / (p.LnP[b] - p.LnP[a])
						off := math.Abs(p.Value[c.q][k] - p.Value[c.q][a]*(1-w) - p.Value[c.q][b]*w)
						if off > c.tol(p.LnP[k])*(1+1e-12) {
							t.Fatalf("seed %d, quantity %d: %.3f off at %.1f hPa", seed, c.q, off, p.Value[qP][k])
						}
						covered++
					}
				}
				a = b
			}
			if covered < p.Len()/2 {
				t.Errorf("seed %d: the test reached %d of %d samples only", seed, covered, p.Len())
			}
		}
		if n := len(chosen); n > p.Len()/8 {
			t.Errorf("seed %d: %d levels for %d samples: the choice does not thin", seed, n, p.Len())
		}
	}
}

// Regulation 32.3.1: speed and direction rebuilt to 5 m/s and 10°.
func TestSignificantWindsRebuildTheWind(t *testing.T) {
	for seed := uint64(1); seed <= 40; seed++ {
		f := wavy(seed)
		set := Default()
		p := NewProfile(f, set)
		list := p.significantWind()
		covered := 0
		for i := 1; i < len(list); i++ {
			a, b := list[i-1], list[i]
			if p.gap(lastWith(p.Value[qU], a, b), b) {
				continue
			}
			_, da := earth.WindFromUV(p.Value[qU][a], p.Value[qV][a])
			_, db := earth.WindFromUV(p.Value[qU][b], p.Value[qV][b])
			for k := a + 1; k < b; k++ {
				if math.IsNaN(p.Value[qU][k]) {
					continue
				}
				w := (p.LnP[k] - p.LnP[a]) / (p.LnP[b] - p.LnP[a])
				speed, d := earth.WindFromUV(p.Value[qU][k], p.Value[qV][k])
				if off := math.Abs(speed - p.speed(a)*(1-w) - p.speed(b)*w); off > set.Speed+1e-9 {
					t.Fatalf("seed %d: speed %.2f m/s off", seed, off)
				}
				if off := math.Abs(arc(da+arc(da, db)*w, d)); off > set.Direction+1e-9 {
					t.Fatalf("seed %d: direction %.2f° off at %.1f hPa", seed, off, p.Value[qP][k])
				}
				covered++
			}
		}
		if covered < p.Len()/2 {
			t.Errorf("seed %d: the test reached %d of %d samples only", seed, covered, p.Len())
		}
	}
}

func TestMaximumWind(t *testing.T) {
	gpm, p, temperature := column(20000, 50, func(z float64) float64 { return math.Max(288-0.0065*z, 210) })
	u, v := make([]float64, len(p)), make([]float64, len(p))
	for i, z := range gpm {
		u[i] = math.Max(0, 5+50*(1-math.Abs(z-11000)/4000))
	}
	set, _ := Find(flightOf(gpm, p, temperature, nil, u, v), Default())
	got := set.Of(MaximumWind)
	if len(got) != 1 {
		t.Fatalf("%d maximum winds, want 1", len(got))
	}
	l := got[0]
	if math.Abs(l.Geopotential.Value()-11000) > 50 || math.Abs(l.Speed.Value()-55) > 0.5 || l.Direction != 270 {
		t.Errorf("maximum %.1f m/s from %.0f° at %.0f gpm, want 55 from 270 at 11000", l.Speed, l.Direction, l.Geopotential)
	}
	// 50 m/s over 4 km: 12.5 m/s to 1 km on either side.
	if math.Abs(l.ShearBelow.Value()-12.5) > 0.1 || math.Abs(l.ShearAbove.Value()-12.5) > 0.1 {
		t.Errorf("shear %.2f below, %.2f above, want 12.5 each", l.ShearBelow, l.ShearAbove)
	}
}

func TestMaximumWindAtTheTopOnlyWhereStrongest(t *testing.T) {
	gpm, p, temperature := column(12000, 50, func(z float64) float64 { return 288 - 0.0065*z })
	u, v := make([]float64, len(p)), make([]float64, len(p))
	for i, z := range gpm {
		u[i] = z / 300
	}
	set, _ := Find(flightOf(gpm, p, temperature, nil, u, v), Default())
	got := set.Of(MaximumWind)
	if len(got) != 1 || !got[0].Kind.Has(TopOfWind) {
		t.Errorf("%+v, want the top of the wind sounding", got)
	}
}

func TestFirstPassageOnly(t *testing.T) {
	p := []float64{1000, 950, 900, 920, 930, 890, 850}
	n := len(p)
	temperature := make([]float64, n)
	for i := range temperature {
		temperature[i] = 280 + float64(i)
	}
	f := flightOf(nil, p, temperature, nil, nil, nil)
	got := NewProfile(f, Default())
	want := []int{0, 1, 2, 5, 6}
	if len(got.Rows) != len(want) {
		t.Fatalf("rows %v, want %v", got.Rows, want)
	}
	for i := range want {
		if got.Rows[i] != want[i] {
			t.Errorf("rows %v, want %v", got.Rows, want)
		}
	}
}

func TestEdgesGiveNoPanicAndHonestSets(t *testing.T) {
	nan := math.NaN()
	for name, f := range map[string]*sounding.Final{
		"nothing":         {},
		"one row":         flightOf([]float64{0}, []float64{1000}, []float64{280}, []float64{50}, []float64{1}, []float64{1}),
		"no temperature":  flightOf([]float64{0, 100}, []float64{1000, 990}, nil, nil, nil, nil),
		"all missing":     flightOf([]float64{nan, nan}, []float64{nan, nan}, []float64{nan, nan}, nil, nil, nil),
		"pressure only":   flightOf(nil, []float64{1000, 500, 100}, nil, nil, nil, nil),
		"constant":        flightOf([]float64{0, 0}, []float64{1000, 1000}, []float64{280, 280}, nil, nil, nil),
		"descending":      flightOf([]float64{100, 0}, []float64{990, 1000}, []float64{280, 281}, nil, nil, nil),
		"zero pressure":   flightOf([]float64{0, 100}, []float64{0, -5}, []float64{280, 281}, nil, nil, nil),
		"humidity absent": flightOf([]float64{0, 100}, []float64{1000, 990}, []float64{280, 281}, []float64{nan, nan}, nil, nil),
	} {
		set, _ := Find(f, Default())
		for i := 1; i < len(set.Levels); i++ {
			if set.Levels[i].Pressure >= set.Levels[i-1].Pressure {
				t.Errorf("%s: pressures do not fall", name)
			}
		}
		HeightGrid(f, Default(), 10)
		PressureGrid(f, Default(), 1)
	}
}

func TestBadSamplesAreNotUsed(t *testing.T) {
	gpm, p, temperature := standardColumn()
	f := flightOf(gpm, p, temperature, nil, nil, nil)
	s := f.Get(sounding.Temperature)
	for i, z := range gpm {
		if z > 5400 && z < 5700 {
			s.Values[i], s.Flags[i] = 400, quality.Bad
		}
	}
	set, _ := Find(f, Default())
	for _, l := range set.Levels {
		if l.Temperature.Value() > 300 {
			t.Errorf("level at %.1f hPa carries a bad temperature of %.0f K", l.Pressure, l.Temperature)
		}
	}
}

func TestHeightGridAveragesAndDoesNotCrossGaps(t *testing.T) {
	gpm, p, temperature := column(3000, 2, func(z float64) float64 { return 288.15 - 0.0065*z })
	for i, z := range gpm {
		if z > 1000 && z < 1800 {
			temperature[i] = math.NaN()
		}
	}
	g := HeightGrid(flightOf(gpm, p, temperature, nil, nil, nil), Default(), 10)
	if g.Coordinate[0] != 0 || g.Coordinate[len(g.Coordinate)-1] != 3000 || len(g.Coordinate) != 301 {
		t.Fatalf("grid from %g to %g in %d steps", g.Coordinate[0], g.Coordinate[len(g.Coordinate)-1], len(g.Coordinate))
	}
	for _, v := range g.Variables {
		if v.Variable != sounding.Temperature {
			continue
		}
		for c, z := range g.Coordinate {
			inGap := z > 1010 && z < 1790
			if inGap != math.IsNaN(v.Values[c]) && (inGap || z < 995 || z > 1805) {
				t.Errorf("%.0f m: %.2f K, in the gap %v", z, v.Values[c], inGap)
			}
			// Cells at the ends hold samples on one side only.
			if !math.IsNaN(v.Values[c]) && z > 10 && z < 2990 && (z < 990 || z > 1810) && math.Abs(v.Values[c]-(288.15-0.0065*z)) > 0.0066 {
				t.Errorf("%.0f m: %.4f K, want %.4f", z, v.Values[c], 288.15-0.0065*z)
			}
			// Five samples of 0.1 independent and 0.1 common: √(0.1²/5 + 0.1²).
			if want := math.Sqrt(0.01/5 + 0.01); g.Samples[c] == 5 && !math.IsNaN(v.Values[c]) && (z < 990 || z > 1810) && math.Abs(v.Uncertainty[c]-want) > 1e-9 {
				t.Errorf("%.0f m: uncertainty %.5f, want %.5f", z, v.Uncertainty[c], want)
			}
		}
	}
}

func TestPressureGridFallsAndKeepsItsCoordinate(t *testing.T) {
	gpm, p, temperature := standardColumn()
	g := PressureGrid(flightOf(gpm, p, temperature, nil, nil, nil), Default(), 1)
	if g.Coordinate[0] != 1013 {
		t.Errorf("starts at %g hPa, want 1013", g.Coordinate[0])
	}
	for c, hpa := range g.Coordinate {
		if c > 0 && hpa != g.Coordinate[c-1]-1 {
			t.Fatalf("step from %g to %g", g.Coordinate[c-1], hpa)
		}
		if g.Variables[0].Values[c] != hpa {
			t.Fatalf("pressure %g on coordinate %g", g.Variables[0].Values[c], hpa)
		}
	}
}

func TestDefaultsAreReadable(t *testing.T) {
	s := Default()
	if s.GapS <= 0 || s.TropopauseLapse != 2 || s.SignificantRH != 15 || !s.GridAverage {
		t.Errorf("%+v", s)
	}
}

func BenchmarkFind(b *testing.B) {
	f := wavy(3)
	b.ReportAllocs()
	for b.Loop() {
		Find(f, Default())
	}
}

func BenchmarkHeightGrid(b *testing.B) {
	f := wavy(3)
	set := Default()
	b.ReportAllocs()
	for b.Loop() {
		HeightGrid(f, set, 10)
	}
}
