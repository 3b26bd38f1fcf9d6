package suggest

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/sounding"
)

// departure is a climb of at least 300 m from a lowest point.
type departure struct {
	at  float64 // s, last row within 15 m of it
	top float64 // m above it
	row int
}

// departures finds every climb in the heights; a fall of more than a third of it, and
// of 100 m, ends one.
func departures(t, z []float64) []departure {
	var out []departure
	low, lowAt, high, climbing := math.Inf(1), 0, 0.0, false
	for i, h := range z {
		if math.IsNaN(h) {
			continue
		}
		if !climbing {
			if h < low {
				low, lowAt = h, i
			}
			if h > low+300 {
				j := i
				for j > lowAt && !(z[j] < low+15) {
					j--
				}
				out = append(out, departure{at: t[j], row: j})
				climbing, high = true, h
			}
			continue
		}
		high = math.Max(high, h)
		out[len(out)-1].top = high - low
		if fall := high - h; fall > 100 && fall > (high-low)/3 {
			climbing, low, lowAt = false, h, i
		}
	}
	return out
}

// releaseMoved: the declared release fits another, higher climb of the file than the
// one the path took; or height and pressure both leave the ground at another instant.
func (f *facts) releaseMoved() []Suggestion {
	declared := f.o.Record.Release.Declared
	if declared.IsZero() || f.final.Events.Release.Method == "decision" {
		return nil
	}
	z := f.raw.Values(sounding.HeightMSL)
	if z == nil {
		z = f.raw.Values(sounding.HeightEllipsoid)
	}
	if z == nil {
		return nil
	}
	want := declared.Sub(f.final.Epoch).Seconds()
	zero := f.final.Events.Release.Time.Value()
	off := want - zero
	if math.Abs(off) < 60 {
		return nil
	}
	all := departures(f.raw.Time, z)
	taken := 0.0
	for _, d := range all {
		if math.Abs(d.at-zero) < 60 {
			taken = math.Max(taken, d.top)
		}
	}
	for _, d := range all {
		if miss := math.Abs(d.at - want); miss > 45 || math.Abs(d.at-zero) < 60 || d.top < 3000 || d.top < taken {
			continue
		}
		at := f.instant(d.row)
		sentence := fmt.Sprintf("the file holds more than one climb: the path took the one at %s to %.1f km, the declared release %s fits the one at %s to %.1f km", clock(f.release), taken/1000, clock(declared), clock(at), d.top/1000)
		return []Suggestion{{Name: ReleaseMoved, Strength: Strong, Gain: round(loss(off/usualPress)-loss((d.at-want)/usualPress)-priceDeclared, 1), Margin: sounding.NotSet, Sentence: sentence,
			Decisions: []sounding.Decision{{Action: sounding.ActSetRelease, Value: at.Format(time.RFC3339Nano), Reason: "an earlier climb stands in the file; the declared release fits this one"}},
			Evidence: []Evidence{{Residual: residualWords[rDeclared].words, Before: sounding.Number(round(off, 0)), After: sounding.Number(round(want-d.at, 0)), Usual: usualPress, Unit: "s"},
				{Residual: "height of the climb above its start", Before: sounding.Number(round(taken, 0)), After: sounding.Number(round(d.top, 0)), Usual: sounding.NotSet, Unit: "m"}}}}
	}
	return nil
}

// burstMoved: the highest satellite height and the lowest pressure agree on another
// instant than the burst found.
func (f *facts) burstMoved() []Suggestion {
	ev := &f.final.Events
	if !ev.Burst.Found || ev.Burst.Method == "decision" || !f.barometer {
		return nil
	}
	z, p := f.raw.Usable(sounding.HeightMSL), f.raw.Usable(sounding.Pressure)
	if z == nil || p == nil {
		return nil
	}
	top, low := -1, -1
	for i := f.row; i < len(z); i++ {
		if !math.IsNaN(z[i]) && (top < 0 || z[i] > z[top]) {
			top = i
		}
		if !math.IsNaN(p[i]) && (low < 0 || p[i] < p[low]) {
			low = i
		}
	}
	if top < 0 || low < 0 || top+20 > len(z) {
		return nil
	}
	t := f.raw.Time
	off := ev.Burst.Time.Value() - t[top]
	if math.Abs(t[top]-t[low]) > 8 || math.Abs(off) < 20 || z[top]-ev.Burst.Height.Or(z[top]) < 30 {
		return nil
	}
	at := f.instant(top)
	return []Suggestion{{Name: BurstMoved, Strength: Likely, Gain: round(loss(off/5)-loss((t[low]-t[top])/5)-priceDigit, 1), Margin: sounding.NotSet,
		Sentence:  fmt.Sprintf("height and pressure turn at %s, %.0f s from the burst found: set the burst there", clock(at), math.Abs(off)),
		Decisions: []sounding.Decision{{Action: sounding.ActSetBurst, Value: at.Format(time.RFC3339Nano), Reason: "highest satellite height and lowest pressure agree"}},
		Evidence:  []Evidence{{Residual: "burst minus the instant of the highest satellite height", Before: sounding.Number(round(off, 1)), After: 0, Usual: 5, Unit: "s"}}}}
}
