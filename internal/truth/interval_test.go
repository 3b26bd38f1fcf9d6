package truth

import (
	"math"
	"testing"

	"leadline/internal/sounding"
)

// A flight stays a flight at every interval between frames: all values finite, and the
// swing, by the same kicks, about as strong as at 1 s.
func TestEveryIntervalFlies(t *testing.T) {
	spread := func(f *Flight) float64 {
		sum, n := 0.0, 0
		r := &f.Receptions[0]
		east := r.Columns.Values(sounding.VelocityEast)
		for i, k := range r.Sample {
			if s := f.Truth.Time[k] - f.Truth.Release; s > 300 && s < 3000 {
				sum += sq(east[i] - f.Truth.WindU[k])
				n++
			}
		}
		return math.Sqrt(sum / float64(n))
	}
	s := preset(t, MidLatitudeWinter, true)
	usual := spread(fly1(t, s, 5))
	for _, interval := range []float64{0.5, 2, 5, 10} {
		s.Interval = interval
		f := fly1(t, s, 5)
		for _, series := range f.Receptions[0].Columns.Series {
			for i, x := range series.Values {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("interval %g s: %v is %v in row %d", interval, series.Variable, x, i)
				}
			}
		}
		if got := spread(f); !(got > usual/2 && got < 2*usual) {
			t.Errorf("interval %g s: velocity swings by %.2f m/s, at 1 s by %.2f", interval, got, usual)
		}
		if !(f.Truth.Burst > f.Truth.Release+1800) {
			t.Errorf("interval %g s: burst %.0f s after release", interval, f.Truth.Burst-f.Truth.Release)
		}
	}
}

// The air a sensor carries out of a cooled vehicle is gone when the radiosonde has the
// temperature outside: nothing of it is left at release.
func TestVehiclesAirIsLeftBehind(t *testing.T) {
	s := preset(t, Tropical, true)
	s.Exact = true
	for seed := range uint64(4) {
		f := fly1(t, s, seed)
		r := &f.Receptions[0]
		sensor, heating, second, other := r.Columns.Values(sounding.HumidityA), r.Columns.Values(sounding.HeatingA), r.Columns.Values(sounding.HumidityB), r.Columns.Values(sounding.HeatingB)
		best := 0.0
		for i, k := range r.Sample {
			if s := f.Truth.Time[k] - f.Truth.Release; s < -60 || s > 0 {
				continue
			}
			for _, x := range []struct{ rh, heated float64 }{{sensor[i], heating[i]}, {second[i], other[i]}} {
				if x.heated == 0 {
					best = math.Max(best, x.rh/f.Truth.Humidity[k])
				}
			}
		}
		if best < 0.93 {
			t.Errorf("seed %d: in the last minute before release the wettest unheated reading is %.2f of the air's humidity", seed, best)
		}
	}
}
