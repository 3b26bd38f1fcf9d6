package suggest

import (
	"fmt"
	"math"

	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// radiationPairs compares temperatures on the way up with those on the way down at the
// same heights below the burst, by day. Down the sensor is ventilated several times as
// well, so that the sun warms it less: a raw difference that the correction explains
// shows that the correction is due, one that only appears through it that the source
// had made it already.
type radiationPairs struct {
	raw, corrected float64 // K, up minus down
	expected       float64 // K, difference of the corrections
	usual          float64 // K
	n              int
}

const usualPair = 0.08 // K

func (f *facts) radiationPairs() {
	n := math.NaN()
	f.up = radiationPairs{raw: n, corrected: n, expected: n, usual: n}
	ev := &f.final.Events
	if !ev.Burst.Found {
		return
	}
	var before, after []float64
	previous := f.raw.Values(sounding.Temperature)
	for _, s := range f.final.Steps {
		if s.Variable != sounding.Temperature {
			continue
		}
		if s.Method == "radiation" {
			before, after = previous, s.Values
		}
		previous = s.Values
	}
	z := f.raw.Usable(sounding.HeightMSL)
	raw := f.raw.Usable(sounding.Temperature)
	down := ev.Descent()
	if before == nil || z == nil || raw == nil || down.Len() < 60 {
		return
	}
	top := ev.Burst.Height.Value()
	// 250 m layers from 1 km below the burst down to 7 km below it.
	const layer = 250.0
	layers := 24
	type mean struct{ t, c, n float64 }
	gather := func(s sounding.Span, from int) []mean {
		out := make([]mean, layers)
		for i := max(s.From, from); i < s.To; i++ {
			if math.IsNaN(raw[i] + z[i] + before[i] + after[i]) {
				continue
			}
			k := int(math.Floor((top - 1000 - z[i]) / layer))
			if k >= 0 && k < layers {
				out[k].t, out[k].c, out[k].n = out[k].t+before[i], out[k].c+after[i]-before[i], out[k].n+1
			}
		}
		return out
	}
	a, b := gather(f.ascent, 0), gather(down, 0)
	var dr, dc []float64
	for k := range a {
		if a[k].n < 3 || b[k].n < 3 {
			continue
		}
		r := a[k].t/a[k].n - b[k].t/b[k].n
		c := a[k].c/a[k].n - b[k].c/b[k].n
		dr, dc = append(dr, r), append(dc, -c)
	}
	if len(dr) < 8 {
		return
	}
	f.up.n = len(dr)
	f.up.raw, f.up.expected = smooth.Median(dr, nil), smooth.Median(dc, nil)
	f.up.corrected = f.up.raw - f.up.expected
	_, spread := smooth.MedianDeviation(dr, nil)
	f.up.usual = math.Hypot(usualPair, 1.4826*spread/math.Sqrt(float64(len(dr))/3))
}

// radiationTwice: the source's temperatures already contain a radiation correction that
// the instrument sheet does not declare.
func (f *facts) radiationTwice() []Suggestion {
	u := f.up
	if !(u.expected > 0.25) || !(u.usual > 0) {
		return nil
	}
	gain := loss(u.corrected/u.usual) - loss(u.raw/u.usual) - priceUnit
	if gain < leastGain || math.Abs(u.raw) > fits*u.usual {
		return nil
	}
	p := f.final.Values(sounding.Pressure)
	from := f.ascent.To
	for i := f.ascent.From; i < f.ascent.To; i++ {
		if p != nil && p[i] < 100 {
			from = i
			break
		}
	}
	reason := "radiation corrected twice: by the source and here"
	s := Suggestion{Name: RadiationTwice, Strength: Likely, Gain: round(gain, 1), Margin: sounding.NotSet,
		Sentence: fmt.Sprintf("near the top the temperatures of the source are the same on the way up and down (%+.2f K) although the sun should warm the slower way up by %.2f K more: the source seems to have corrected for the sun already; declare it in the instrument sheet (applied = [\"radiation\"]) and flag temperatures above 100 hPa until then",
			u.raw, u.expected),
		Decisions: []sounding.Decision{f.spanned(sounding.ActFlag, "questionable", reason, sounding.Span{From: from, To: f.ascent.To}, sounding.Temperature)},
		Evidence: []Evidence{{Residual: "temperature on the way up minus on the way down at the same heights, corrected here (before) and as the source gives it (after)",
			Before: sounding.Number(round(u.corrected, 2)), After: sounding.Number(round(u.raw, 2)), Usual: sounding.Number(round(u.usual, 2)), Unit: "K"}}}
	return []Suggestion{s}
}
