package suggest

import (
	"math"
	"testing"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

func TestDepartures(t *testing.T) {
	var at, z []float64
	add := func(seconds int, rate float64) {
		for range seconds {
			h := 100.0
			if len(z) > 0 {
				h = z[len(z)-1] + rate
			}
			at, z = append(at, float64(len(at))), append(z, math.Max(h, 100))
		}
	}
	add(300, 0)
	add(400, 5)   // up to 2,100 m
	add(300, -10) // and down again
	add(500, 0)
	add(5000, 5)
	add(600, -30)
	got := departures(at, z)
	if len(got) != 2 {
		t.Fatalf("%d departures, want 2: %+v", len(got), got)
	}
	for i, want := range []struct{ at, top float64 }{{302, 2000}, {1502, 25000}} {
		if math.Abs(got[i].at-want.at) > 3 || math.Abs(got[i].top-want.top) > 20 {
			t.Errorf("departure %d at %.0f s to %.0f m, want %.0f s and %.0f m", i, got[i].at, got[i].top, want.at, want.top)
		}
	}
	if departures(nil, nil) != nil || departures([]float64{0}, []float64{math.NaN()}) != nil {
		t.Error("departures in nothing")
	}
}

// with returns an outcome whose events are others than the path found; the original
// keeps its own.
func with(o *workbench.Outcome, change func(*sounding.Events)) *workbench.Outcome {
	out, final := *o, *o.Final
	change(&final.Events)
	out.Final = &final
	return &out
}

func TestBurstMoved(t *testing.T) {
	_, o := flightWith(t, truth.Marine, true, "")
	wrong := with(o, func(e *sounding.Events) {
		e.Burst.Time -= 90
		e.Burst.UTC = e.Burst.UTC.Add(-90 * time.Second)
		e.Burst.Height -= 450
	})
	list := factsOf(wrong).burstMoved()
	if len(list) != 1 {
		t.Fatalf("got %v", brief(list))
	}
	valid(t, list[0])
	at, err := time.Parse(time.RFC3339Nano, list[0].Decisions[0].Value)
	if err != nil || math.Abs(at.Sub(o.Final.Events.Burst.UTC).Seconds()) > 5 {
		t.Errorf("burst proposed at %v, want %v", at, o.Final.Events.Burst.UTC)
	}
	if again := factsOf(o).burstMoved(); again != nil {
		t.Errorf("a right burst is moved: %v", brief(again))
	}
}

// The file of a receiver that ran through an aborted flight, read as one.
func TestReleaseMoved(t *testing.T) {
	_, o := flightWith(t, truth.Marine, true, "")
	declared := o.Record.Release.Declared
	// As if the path had taken a climb of 2 km three quarters of an hour before it.
	aborted := *o
	checked := *o.Checked
	checked.Columns = earlierClimb(o.Checked.Columns)
	aborted.Checked = &checked
	wrong := with(&aborted, func(e *sounding.Events) {
		e.Release.Time = sounding.Number(checked.Time[100])
		e.Release.UTC = o.Final.UTC(checked.Time[100])
	})
	list := factsOf(wrong).releaseMoved()
	if len(list) != 1 {
		t.Fatalf("got %v", brief(list))
	}
	valid(t, list[0])
	at, err := time.Parse(time.RFC3339Nano, list[0].Decisions[0].Value)
	if err != nil || math.Abs(at.Sub(declared).Seconds()) > 10 {
		t.Errorf("release proposed at %v, declared %v", at, declared)
	}
	if again := factsOf(o).releaseMoved(); again != nil {
		t.Errorf("a right release is moved: %v", brief(again))
	}
}

// earlierClimb lets the heights of the rows before release climb 1,000 m and come down.
func earlierClimb(c sounding.Columns) sounding.Columns {
	s := *c.Get(sounding.HeightMSL)
	s.Values = append([]float64(nil), s.Values...)
	for i := range s.Values {
		if c.Time[i] > -150 {
			break
		}
		k := float64(i - 100)
		s.Values[i] += math.Max(0, math.Min(5*k, 1000-5*(k-200)))
	}
	return c.With(s)
}

// Heights above the ellipsoid in the column called above mean sea level, where the geoid
// lies 48 m above the ellipsoid: off by exactly that.
func TestHeightDatum(t *testing.T) {
	_, o := flightWith(t, truth.Marine, true, "")
	in := o.Inputs
	raw := *in.Raw
	s := *raw.Get(sounding.HeightMSL)
	s.Values = append([]float64(nil), s.Values...)
	const n = 48
	in.Record = o.Record.Clone()
	in.Record.Site.Undulation = n
	for i := range s.Values {
		s.Values[i] += n
	}
	raw.Columns = raw.With(s)
	in.Raw = &raw
	wrong, err := workbench.Run(in)
	if err != nil {
		t.Fatal(err)
	}
	list := ForQuick(wrong)
	if len(list) == 0 || list[0].Name != SatelliteHeightDatum {
		t.Fatalf("got %v", brief(list))
	}
	valid(t, list[0])
}
