package suggest

import (
	"fmt"
	"math"

	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// Limits of a step of the thermometer (our proposal): air does not change by more
// within one second at 5 m/s, and an inversion is spread over several samples by the
// sensor's lag.
const (
	leastStep  = 1.2 // K
	stepShare  = 0.75
	stepBeside = 0.35
)

// thermometerStep: from one sample to the next the thermometer reads in another
// calibration and stays there.
func (f *facts) thermometerStep() []Suggestion {
	t := f.raw.Values(sounding.Temperature)
	if t == nil || f.ascent.Len() < 200 {
		return nil
	}
	var rows []int
	for i := f.ascent.From; i < f.ascent.To; i++ {
		if !math.IsNaN(t[i]) {
			rows = append(rows, i)
		}
	}
	const window = 8
	best, size := -1, 0.0
	before, after := make([]float64, window), make([]float64, window)
	for k := window; k+window <= len(rows); k++ {
		i := rows[k]
		jump := t[i] - t[rows[k-1]]
		if math.Abs(jump) < leastStep || f.raw.Time[i]-f.raw.Time[rows[k-1]] > 3 {
			continue
		}
		for n := range window {
			before[n], after[n] = t[rows[k-window+n]], t[rows[k+n]]
		}
		low, lowSpread := smooth.MedianDeviation(before, nil)
		high, highSpread := smooth.MedianDeviation(after, nil)
		step := high - low
		beside := math.Max(math.Abs(t[rows[k-1]]-t[rows[k-2]]), math.Abs(t[rows[k+1]]-t[i]))
		if lowSpread == 0 || highSpread == 0 { // stuck on one side
			continue
		}
		if math.Abs(step) < leastStep || math.Abs(jump) < stepShare*math.Abs(step) || beside > stepBeside*math.Abs(step) ||
			math.Abs(step) < 6*math.Max(lowSpread, highSpread) {
			continue
		}
		if math.Abs(step) > math.Abs(size) {
			best, size = k, step
		}
	}
	if best < 0 {
		return nil
	}
	i := rows[best]
	gain := loss(size/0.4) - priceThermal
	if gain < leastGain {
		return nil
	}
	s := Suggestion{Name: ThermometerStep, Strength: Likely, Gain: round(gain, 1), Margin: sounding.NotSet}
	word := "up"
	if size < 0 {
		word = "down"
	}
	s.Sentence = fmt.Sprintf("the thermometer steps %s by %.1f K from one sample to the next at %s (%s) and stays there: withhold its temperatures from there on", word, math.Abs(size), clock(f.instant(i)), f.height(i))
	s.Evidence = []Evidence{{Residual: "temperature after minus before, medians of eight samples", Before: sounding.Number(round(size, 2)), After: 0, Usual: 0.4, Unit: "K"}}
	if a, u := f.stepAloft(i); !math.IsNaN(a) && u < 1 {
		if math.Abs(a-size) > 3.5*math.Hypot(u, usualWarm) {
			return nil // the satellite heights say it is the air
		}
		s.Evidence = append(s.Evidence, Evidence{Residual: "mean temperature above it against satellite height", Before: sounding.Number(round(a, 2)), After: sounding.Number(round(a-size, 2)), Usual: sounding.Number(round(math.Hypot(u, usualWarm), 2)), Unit: "K"})
		if math.Abs(a) > 3*u {
			s.Strength = Strong
		}
	}
	s.Decisions = []sounding.Decision{f.spanned(sounding.ActExclude, "", fmt.Sprintf("thermometer steps by %+.1f K", size), sounding.Span{From: i, To: f.raw.Len()}, sounding.Temperature)}
	return []Suggestion{s}
}

func (f *facts) height(row int) string {
	for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.GeopotentialHeight} {
		if z := f.final.Values(v); z != nil && !math.IsNaN(z[row]) {
			return fmt.Sprintf("%.1f km", z[row]/1000)
		}
	}
	return fmt.Sprintf("%.0f s after release", f.raw.Time[row])
}
