package correct

import (
	"fmt"
	"math"

	"leadline/internal/hydrostatic"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// barometerBudget returns the barometer's noise and common uncertainty in hPa.
func (f *flight) barometerBudget() (noise, common float64) {
	if f.sheet != nil && f.sheet.Pressure.Calibration > 0 {
		return f.sheet.Pressure.Noise, f.sheet.Pressure.Calibration
	}
	return f.set.Generic.PressureNoise, f.set.Generic.PressureU
}

// hasBarometer tells whether the flight's pressure comes from a sensor.
func (f *flight) hasBarometer() bool {
	return f.in.Get(sounding.Pressure) != nil && (f.sheet == nil || f.sheet.Pressure.Sensor)
}

// satellitePressure integrates the pressure from satellite heights upwards from the
// surface (all rows; NaN outside the legs); nil where it cannot. The start is the
// surface pressure, or the barometer's first where there is none.
func (f *flight) satellitePressure(p []float64) ([]float64, *column) {
	if !f.satellite {
		return nil, nil
	}
	c := f.airColumn()
	if c == nil {
		return nil, nil
	}
	heights := f.withSurface(c, c.base, f.geopotentialOf(f.usable(sounding.HeightMSL)))
	base := c.p0
	if !c.surface {
		// The barometer over the first half minute with the height there.
		for k, i := range c.rows {
			if present(heights[k]) && present(c.virtual[k]) && present(p[i]) {
				base = p[i]
				break
			}
			if present(heights[k]) && present(c.virtual[k]) {
				heights[k] = math.NaN()
			}
		}
	}
	if !present(base) {
		return nil, nil
	}
	out := f.column(len(heights))
	hydrostatic.PressureFromHeights(out, heights, c.virtual, base)
	all := f.filled(f.n, math.NaN())
	scatter(all, c.without(out), c.rows)
	return all, c
}

// satellitePressureU is the common uncertainty of a satellite pressure of p hPa, as
// a share of it.
func (f *flight) satellitePressureU(c *column, p, base, height float64) float64 {
	uBase := f.set.Surface.PressureU
	if !c.surface {
		_, uBase = f.barometerBudget()
	}
	return hydrostatic.PressureUncertainty(p, 250, height, 250, c.meanU, base, uBase) / p
}

// barometer fits a constant offset of the barometer against satellite height above
// 100 hPa and takes it away where it is significant (docs/methods/barometer-offset.md).
func (f *flight) barometer() {
	if !f.has(sounding.Pressure) {
		return
	}
	noise, common := f.barometerBudget()
	f.budget(sounding.Pressure, f.level(noise), f.level(common))
	set := &f.set.Barometer
	switch {
	case !f.hasBarometer():
		f.notRun(quality.BarometerHeight, sounding.Pressure, "the radiosonde has no barometer")
		return
	case !f.satellite:
		f.notRun(quality.BarometerHeight, sounding.Pressure, "no satellite height to compare with")
		return
	}
	p := f.usable(sounding.Pressure)
	reference, c := f.satellitePressure(p)
	if reference == nil {
		f.notRun(quality.BarometerHeight, sounding.Pressure, "no temperature or no surface pressure to integrate satellite heights from")
		return
	}
	fit := f.fitBarometer(p, reference, c, noise)
	if fit.lasted < set.Fewest || fit.high.count < 30 {
		f.notRun(quality.BarometerHeight, sounding.Pressure, "only %.0f s of pressure and satellite height above %g hPa", fit.lasted, set.FitAbove)
		return
	}
	if f.blamesBarometer(fit.high.mean(), fit.high.uncertainty(noise)) {
		// The surface observation is not at fault: everything starts from it again.
		f.air = nil
		if again, column := f.satellitePressure(p); again != nil {
			reference, c = again, column
			fit = f.fitBarometer(p, reference, c, noise)
		}
	}
	base, low, high := fit.base, fit.low, fit.high
	f.ran(quality.BarometerHeight, sounding.Pressure)
	offset, u := high.mean(), high.uncertainty(noise)
	ground, uGround := low.mean(), low.uncertainty(noise)
	// A constant offset is the same at the ground. Where it is not, the barometer
	// drifts, and the line through both ends is taken off instead.
	drift := low.count >= 30 && c.surface && math.Abs(offset-ground) > set.Significant*hypot(u, uGround)
	// What a line or a constant does not describe.
	rest := set.DriftShare * common
	if math.Abs(offset) <= set.Significant*u && !drift {
		// Nothing to take off; but the comparison bounds what there may be.
		f.budget(sounding.Pressure, f.level(noise), f.level(min(common, rootSum(u, offset, rest))))
		return
	}
	if low.count >= 30 && c.surface {
		rest = min(uGround, max(rest, math.Abs(offset-ground)))
	}
	what := fmt.Sprintf("barometer reads %+.2f ± %.2f hPa against satellite height above %g hPa (%.0f m at 10 hPa)", offset, u, set.FitAbove, math.Abs(metresPerKelvin*225*offset/10))
	if drift {
		what += fmt.Sprintf(" and %+.2f ± %.2f hPa near the ground: it drifts", ground, uGround)
	}
	x := sounding.Finding{Check: quality.BarometerHeight, Variable: sounding.Pressure, Severity: sounding.Note,
		Measured: sounding.Number(offset), Limit: sounding.Number(set.Significant * u), Unit: "hPa"}
	if !set.CorrectOffset || math.Abs(offset) > set.Largest {
		x.Sentence = what + "; not taken off"
		if math.Abs(offset) > set.Largest {
			x.Severity, x.Limit = sounding.Questionable, sounding.Number(set.Largest)
			x.Sentence = what + "; too much for an offset, not taken off"
		}
		f.finding(x)
		return
	}
	x.Sentence = what + "; taken off"
	f.finding(x)
	slope, at := 0.0, high.time()
	if drift {
		slope = (offset - ground) / (at - low.time())
	}
	values := clone(f.now[sounding.Pressure].values)
	uncertain := constant(f.n, common)
	for _, l := range f.legs {
		for _, i := range l.rows {
			off := offset + slope*(min(f.time[i], at+600)-at)
			if !present(p[i]) || !(p[i]-off > 0) {
				continue
			}
			values[i] -= off
			// What is left out grows towards the ground, where the fit does not reach.
			uncertain[i] = hypot(u, rest*min(1, p[i]/base))
		}
	}
	coefficients := []sounding.Coefficient{
		numberOf("offset", offset, "hPa", "fitted"), numberOf("offset_u", u, "hPa", "fitted"), numberOf("fit_above", set.FitAbove, "hPa", "settings"),
	}
	note := fmt.Sprintf("constant barometer offset of %+.2f ± %.2f hPa taken off", offset, u)
	if drift {
		coefficients = append(coefficients, numberOf("ground_offset", ground, "hPa", "fitted"), numberOf("ground_offset_u", uGround, "hPa", "fitted"),
			numberOf("drift", 3600*slope, "hPa h-1", "fitted"))
		note = fmt.Sprintf("barometer offset of %+.2f hPa near the ground and %+.2f hPa above %g hPa taken off, %+.2f hPa per hour between", ground, offset, set.FitAbove, 3600*slope)
	}
	f.step(sounding.Step{Method: "barometer-offset", Kind: sounding.StepCorrect, Variable: sounding.Pressure, Values: values,
		Independent: f.level(noise), Common: uncertain, Coefficients: coefficients, Note: note})
	if !drift {
		f.checkBarometerAgain(reference, c, base, noise, offset)
	}
}

// barometerFit is the barometer's offset against satellite height near the ground and
// high up.
type barometerFit struct {
	base      float64 // hPa at the release point
	low, high offsetFit
	lasted    float64 // s of samples high up
}

func (f *flight) fitBarometer(p, reference []float64, c *column, noise float64) barometerFit {
	set := &f.set.Barometer
	fit := barometerFit{base: c.p0}
	if !present(fit.base) {
		fit.base = 1000
	}
	uHeight := f.now[sounding.HeightMSL].common
	last := math.NaN()
	for _, l := range f.legs {
		if l.descent {
			continue
		}
		for _, i := range l.rows {
			if !present(p[i]) || !present(reference[i]) {
				last = math.NaN()
				continue
			}
			if p[i] >= set.FitAbove && p[i] <= set.GroundShare*fit.base {
				continue
			}
			u := reference[i] * f.satellitePressureU(c, reference[i], fit.base, uHeight[i])
			switch {
			case p[i] < set.FitAbove:
				if present(last) {
					fit.lasted += f.time[i] - last
				}
				last = f.time[i]
				fit.high.add(f.time[i], p[i]-reference[i], noise, u)
			case p[i] > set.GroundShare*fit.base:
				fit.low.add(f.time[i], p[i]-reference[i], noise, u)
			}
		}
	}
	return fit
}

// offsetFit is a weighted mean of differences whose errors have a part that all share.
type offsetFit struct {
	count                       int
	weight, sum, systematic, at float64
}

func (o *offsetFit) add(t, difference, noise, u float64) {
	w := 1 / (noise*noise + u*u)
	o.count++
	o.weight += w
	o.sum += w * difference
	o.systematic += w * u
	o.at += w * t
}

func (o *offsetFit) mean() float64 { return o.sum / o.weight }
func (o *offsetFit) time() float64 { return o.at / o.weight }

// uncertainty takes the parts the samples share as fully common, the noise as not.
func (o *offsetFit) uncertainty(noise float64) float64 {
	return hypot(o.systematic/o.weight, noise/math.Sqrt(float64(o.count)))
}
