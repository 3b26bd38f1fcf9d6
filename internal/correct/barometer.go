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
	return f.has(sounding.Pressure) && (f.sheet == nil || f.sheet.Pressure.Sensor)
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
	base := c.p0
	if !present(base) {
		base = 1000
	}
	uHeight := f.now[sounding.HeightMSL].common
	var weights, sum, systematic, lasted float64
	var residuals []float64
	last := math.NaN()
	for _, l := range f.legs {
		if l.descent {
			continue
		}
		for _, i := range l.rows {
			if !(p[i] < set.FitAbove) || !present(reference[i]) {
				last = math.NaN()
				continue
			}
			if present(last) {
				lasted += f.time[i] - last
			}
			last = f.time[i]
			u := reference[i] * f.satellitePressureU(c, reference[i], base, uHeight[i])
			w := 1 / (noise*noise + u*u)
			weights += w
			sum += w * (p[i] - reference[i])
			systematic += w * u
			residuals = append(residuals, p[i]-reference[i])
		}
	}
	if lasted < set.Fewest || len(residuals) < 30 {
		f.notRun(quality.BarometerHeight, sounding.Pressure, "only %.0f s of pressure and satellite height above %g hPa", lasted, set.FitAbove)
		return
	}
	offset := sum / weights
	uncertainty := math.Hypot(systematic/weights, noise/math.Sqrt(float64(len(residuals))))
	_, deviation := medianDeviation(residuals)
	f.ran(quality.BarometerHeight, sounding.Pressure)
	if math.Abs(offset) <= set.Significant*uncertainty {
		return
	}
	equivalent := metresPerKelvin * 225 * offset / 10
	sentence := fmt.Sprintf("barometer reads %+.2f ± %.2f hPa against satellite height above %g hPa (%.0f m at 10 hPa)", offset, uncertainty, set.FitAbove, math.Abs(equivalent))
	x := sounding.Finding{Check: quality.BarometerHeight, Variable: sounding.Pressure, Severity: sounding.Note,
		Measured: sounding.Number(offset), Limit: sounding.Number(set.Significant * uncertainty), Unit: "hPa"}
	if !set.CorrectOffset || math.Abs(offset) > set.Largest {
		x.Sentence = sentence + ": not taken off"
		if math.Abs(offset) > set.Largest {
			x.Severity, x.Limit = sounding.Questionable, sounding.Number(set.Largest)
			x.Sentence = sentence + ": too much for an offset, not taken off"
		}
		f.finding(x)
		return
	}
	x.Sentence = sentence + ": taken off"
	f.finding(x)
	values := clone(f.now[sounding.Pressure].values)
	u := constant(f.n, common)
	for _, l := range f.legs {
		for _, i := range l.rows {
			if present(p[i]) && p[i]-offset > 0 {
				values[i] -= offset
				// What a constant offset does not describe grows towards the ground,
				// where the fit does not reach.
				u[i] = math.Hypot(uncertainty, 0.3*math.Abs(offset)*math.Min(1, p[i]/base))
			}
		}
	}
	f.step(sounding.Step{Method: "barometer-offset", Kind: sounding.StepCorrect, Variable: sounding.Pressure, Values: values,
		Independent: f.level(noise), Common: u,
		Coefficients: []sounding.Coefficient{
			numberOf("offset", offset, "hPa", "fitted"), numberOf("offset_u", uncertainty, "hPa", "fitted"),
			numberOf("scatter", deviation, "hPa", "fitted"), numberOf("fit_above", set.FitAbove, "hPa", "settings"),
		},
		Note: fmt.Sprintf("constant barometer offset of %+.2f ± %.2f hPa taken off", offset, uncertainty)})
}
