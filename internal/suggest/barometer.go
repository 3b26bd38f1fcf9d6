package suggest

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// usualOffsets is how many of its stated standard uncertainties a barometer may be off
// without anybody wondering: the path takes that off and says so in a note.
const usualOffsets = 3.0

// barometerOffset: the barometer is off by a constant or drifts. The path takes a
// moderate one off by itself; what is left to decide is whether to agree, or to do
// without the barometer.
func (f *facts) barometerOffset(w *world) []hypothesis {
	if !f.barometer {
		return nil
	}
	record := f.pressure - f.restCarried(w) // at the ground
	aloft := f.offset
	largest := 5.0
	if s := f.o.Settings; s != nil {
		largest = s.Correct.Barometer.Largest
	}
	decide := func(size float64, reason string) (string, []sounding.Decision) {
		if math.Abs(size) > largest && !math.IsNaN(f.msl) {
			return "withhold the pressure, so that it comes from satellite height",
				[]sounding.Decision{f.over(sounding.ActExclude, "", reason, sounding.Pressure)}
		}
		return "the path takes it off; accept what the checks say about it", f.settle(reason, quality.BarometerHeight, quality.Baseline, quality.GroundCheck)
	}
	var out []hypothesis
	size := aloft
	if math.IsNaN(size) {
		size = record
	}
	if math.Abs(size) > usualOffsets*f.calibration && w.pressure == 0 {
		reason := fmt.Sprintf("barometer reads %+.2f hPa off by a constant", size)
		what, decisions := decide(size, reason)
		where := "against satellite height aloft"
		if math.IsNaN(aloft) {
			where = "against the surface pressure"
		} else if !math.IsNaN(record) {
			where += fmt.Sprintf(" and %+.2f hPa against the surface pressure", record)
		}
		out = append(out, hypothesis{name: BarometerOffset, price: priceOffset, kind: "barometer",
			sentence: fmt.Sprintf("the barometer reads %+.2f hPa off by a constant (%+.2f hPa %s): %s", size, size, where, what),
			change:   func(w *world) { w.pressure, w.pressureGround = size, size }, decisions: decisions})
	}
	if !math.IsNaN(aloft+record) && w.pressure == 0 {
		reason := fmt.Sprintf("barometer drifts from %+.2f hPa near the ground to %+.2f hPa aloft", record, aloft)
		what, decisions := decide(math.Max(math.Abs(aloft), math.Abs(record)), reason)
		out = append(out, hypothesis{name: BarometerDrift, price: priceDrift, kind: "barometer",
			sentence: fmt.Sprintf("the barometer drifts: %+.2f hPa against the surface pressure and %+.2f hPa against satellite height aloft: %s", record, aloft, what),
			change:   func(w *world) { w.pressure, w.pressureGround = aloft, record }, decisions: decisions})
	}
	return out
}

// restCarried is the surface pressure of a world carried to the release point.
func (f *facts) restCarried(w *world) float64 {
	r := &w.record
	up := r.Site.Barometer.Or(r.Site.Height.Value()) - r.Site.Height.Value()
	if math.IsNaN(up) || math.Abs(up) > 200 {
		up = 0
	}
	return r.Surface.Pressure.Value() * math.Exp(up/(29.27*288))
}
