package levels

import (
	"math"
	"slices"
	"testing"

	"leadline/internal/earth"
	"leadline/internal/sounding"
)

// The significant winds rebuild every sample of the wind, interpolated in altitude, to 10°
// and 5 m/s (regulation 32.3.1), with and without a pressure.
func TestWindsByAltitudeRebuildTheWind(t *testing.T) {
	for seed := uint64(1); seed <= 40; seed++ {
		f := wavy(seed)
		if seed%2 == 0 {
			f.Series = slices.DeleteFunc(f.Series, func(s sounding.Series) bool { return s.Variable == sounding.Pressure })
		}
		set := Default()
		var list []Level
		for _, l := range ByAltitude(f, set, nil).Levels {
			if l.Kind.Has(SignificantWind) {
				list = append(list, l)
			}
		}
		z, u, v := f.Get(sounding.GeopotentialHeight).Values, f.Get(sounding.WindU).Values, f.Get(sounding.WindV).Values
		covered, highest := 0, math.Inf(-1)
		for i := range z {
			if z[i] <= highest || math.IsNaN(u[i]) || math.IsNaN(v[i]) {
				continue
			}
			highest = z[i]
			k := slices.IndexFunc(list, func(l Level) bool { return l.Geopotential.Value() >= z[i] })
			if k < 1 || list[k-1].Kind.Has(MissingWindBegins) {
				continue
			}
			a, b := list[k-1], list[k]
			w := (z[i] - a.Geopotential.Value()) / (b.Geopotential.Value() - a.Geopotential.Value())
			speed, direction := earth.WindFromUV(u[i], v[i])
			if off := math.Abs(speed - a.Speed.Value()*(1-w) - b.Speed.Value()*w); off > set.Speed+1e-9 {
				t.Fatalf("seed %d: speed %.2f m/s off at %.0f gpm", seed, off, z[i])
			}
			if off := math.Abs(arc(a.Direction.Value()+arc(a.Direction.Value(), b.Direction.Value())*w, direction)); off > set.Direction+1e-9 {
				t.Fatalf("seed %d: direction %.2f° off at %.0f gpm", seed, off, z[i])
			}
			covered++
		}
		if covered < len(z)/2 {
			t.Errorf("seed %d: the test reached %d of %d samples only", seed, covered, len(z))
		}
	}
}

// A wind that grows by 1 m/s each 1,000 gpm has its value at every altitude asked for, no
// level outside the sounding, and no other significant level than its ends.
func TestFixedAltitudes(t *testing.T) {
	var z, u, v []float64
	for h := 120.0; h <= 21000; h += 30 {
		z, u, v = append(z, h), append(u, h/1000), append(v, 0)
	}
	f := flightOf(z, make([]float64, len(z)), nil, nil, u, v)
	f.Series = slices.DeleteFunc(f.Series, func(s sounding.Series) bool { return s.Variable == sounding.Pressure })
	got := ByAltitude(f, Default(), []float64{100, 1000, 5000, 21000, 21001})
	if len(got.Fixed) != 3 {
		t.Fatalf("%d levels at fixed altitudes, want those of 1000, 5000 and 21000 gpm", len(got.Fixed))
	}
	for i, want := range []float64{1000, 5000, 21000} {
		l := got.Fixed[i]
		if l.Geopotential.Value() != want || math.Abs(l.Speed.Value()-want/1000) > 1e-9 || l.Direction.Value() != 270 || l.Pressure.Set() {
			t.Errorf("at %v gpm: %+v", want, l)
		}
	}
	if len(got.Levels) != 2 || !got.Levels[0].Kind.Has(Surface|SignificantWind) || !got.Levels[1].Kind.Has(SignificantWind|TopOfWind|Top) {
		t.Errorf("levels %+v", got.Levels)
	}
	// 500 hPa is at 5574.4 gpm and 50 hPa at 20576 gpm in the US Standard Atmosphere 1976.
	for _, l := range got.Standard {
		if l.Pressure.Value() == 500 && math.Abs(l.Speed.Value()-5.5744) > 0.001 {
			t.Errorf("500 hPa: %v", l.Speed)
		}
	}
	if n := len(got.Standard); n != 12 || got.Standard[0].Pressure.Value() != 925 || got.Standard[n-1].Pressure.Value() != 50 {
		t.Errorf("%d standard levels %v", n, got.Standard)
	}
}

func TestByAltitudeWithoutHeights(t *testing.T) {
	f := flightOf(nil, []float64{1000, 900, 800}, nil, nil, []float64{1, 2, 3}, []float64{1, 2, 3})
	if got := ByAltitude(f, Default(), []float64{1000}); len(got.Levels)+len(got.Fixed)+len(got.Standard) != 0 {
		t.Errorf("%+v", got)
	}
}
