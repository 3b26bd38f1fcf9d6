package events_test

import (
	"math"
	"testing"

	"leadline/internal/events"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// thinned keeps every kth row.
func thinned(c *sounding.Columns, k int) *sounding.Columns {
	out := &sounding.Columns{}
	for _, s := range c.Series {
		out.Series = append(out.Series, sounding.Series{Variable: s.Variable})
	}
	for i := k / 2; i < c.Len(); i += k {
		out.Time, out.Line, out.Source = append(out.Time, c.Time[i]), append(out.Line, c.Line[i]), append(out.Source, c.Source[i])
		for j := range c.Series {
			out.Series[j].Values = append(out.Series[j].Values, c.Series[j].Values[i])
		}
	}
	return out
}

// Simulated flights of every climate, by day and night: the release is found to
// about half a second at 1 s, within its stated uncertainty, and so is the burst.
func TestSimulatedFlights(t *testing.T) {
	for _, k := range []int{1, 2, 10} {
		var square, count, beyond, away float64
		for _, s := range truth.Presets() {
			for seed := uint64(1); seed <= 3; seed++ {
				f, err := truth.Simulate(s, seed)
				if err != nil {
					t.Fatal(err)
				}
				raw := f.Raw()
				c := thinned(&raw.Columns, k)
				ev, list := events.Find(c, raw.Epoch, f.Record, events.Rulings{}, events.Default())
				if !ev.Release.Found || !ev.Burst.Found {
					t.Fatalf("%s, seed %d, every %d s: release %v, burst %v", s.Name, seed, k, ev.Release.Found, ev.Burst.Found)
				}
				d := ev.Release.Time.Value() - f.Truth.Release
				square, count = square+d*d, count+1
				if math.Abs(d) > 2*ev.Release.Uncertainty.Value() {
					beyond++
				}
				if math.Abs(d) > 4 {
					t.Errorf("%s, seed %d, every %d s: release off by %.1f s", s.Name, seed, k, d)
				}
				if d := ev.Burst.Time.Value() - f.Truth.Burst; math.Abs(d) > 3+float64(k) {
					away++
					t.Errorf("%s, seed %d, every %d s: burst off by %.1f s", s.Name, seed, k, d)
				}
				for _, x := range list {
					if x.Severity > sounding.Note {
						t.Errorf("%s, seed %d, every %d s: %s", s.Name, seed, k, x.Sentence)
					}
				}
			}
		}
		rms := math.Sqrt(square / count)
		t.Logf("every %d s: release rms %.2f s, beyond 2 u in %.0f of %.0f", k, rms, beyond, count)
		if rms > 1 || beyond > 0.15*count {
			t.Errorf("every %d s: release rms %.2f s, beyond 2 u in %.0f of %.0f", k, rms, beyond, count)
		}
	}
}
