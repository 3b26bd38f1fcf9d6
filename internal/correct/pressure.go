package correct

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// pressure decides where the pressure comes from: the barometer below, satellite
// height above, and ln p blended between (docs/methods/pressure.md). Without a
// barometer all of it comes from satellite height.
func (f *flight) pressure() {
	barometer := f.hasBarometer() && !none(f.usable(sounding.Pressure))
	p := f.filled(f.n, math.NaN())
	if f.has(sounding.Pressure) {
		p = f.usable(sounding.Pressure)
	}
	start := p
	if !barometer {
		start = f.filled(f.n, math.NaN()) // a pressure that is not measured starts nothing
	}
	fromHeight, c := f.satellitePressure(start)
	if fromHeight == nil {
		switch {
		case barometer:
			f.notRun(quality.Hydrostatic, sounding.Pressure, "no satellite height: the barometer stands alone")
		case f.has(sounding.Pressure):
			f.notRun(quality.Hydrostatic, sounding.Pressure, "pressure was computed by the source and could not be computed anew")
		default:
			f.notRun(quality.Hydrostatic, sounding.Pressure, "no barometer, and no satellite height with temperature and surface pressure to compute it from")
		}
		return
	}
	if !barometer {
		f.pressureFromHeight(fromHeight, c)
		return
	}
	f.handOver(p, fromHeight, c)
}

// pressureFromHeight makes the satellite pressure the pressure.
func (f *flight) pressureFromHeight(fromHeight []float64, c *column) {
	values := clone(fromHeight)
	old := f.now[sounding.Pressure]
	if old != nil {
		for i, v := range values {
			if !present(v) {
				values[i] = old.values[i]
			}
		}
	}
	height := f.now[sounding.HeightMSL]
	independent, common := constant(f.n, f.set.Generic.PressureNoise), constant(f.n, f.set.Generic.PressureU)
	f.share = f.filled(f.n, 0)
	for _, i := range c.rows {
		if v := fromHeight[i]; present(v) {
			independent[i] = v * height.independent[i] / (metresPerKelvin * 250)
			common[i] = v * f.satellitePressureU(c, v, c.p0Or(v), height.common[i])
			f.share[i] = 1
		}
	}
	f.step(sounding.Step{Method: "pressure-from-height", Kind: sounding.StepDerive, Variable: sounding.Pressure, Values: values,
		Independent: independent, Common: common,
		Coefficients: []sounding.Coefficient{numberOf("surface_pressure", c.p0, "hPa", "launch record"), numberOf("surface_height", c.base, "gpm", "launch record")},
		Note:         "pressure integrated hydrostatically from satellite height and surface pressure"})
	if old == nil {
		f.rollInto(sounding.Pressure, sounding.HeightMSL, sounding.Temperature)
	} else {
		f.flagged(sounding.Pressure, old.flags, old.tests)
	}
	f.ran(quality.Hydrostatic, sounding.Pressure)
}

// p0Or is the surface pressure, or p where it is not known.
func (c *column) p0Or(p float64) float64 {
	if present(c.p0) {
		return c.p0
	}
	return max(p, 1000)
}

// handOver blends barometer and satellite pressure in ln p.
func (f *flight) handOver(p, fromHeight []float64, c *column) {
	set := &f.set.Pressure
	st := f.now[sounding.Pressure]
	height := f.now[sounding.HeightMSL]
	logFrom, logTo := math.Log(set.HandOverFrom), math.Log(set.HandOverTo)
	ratio := f.filled(f.n, math.NaN())
	far, compared := 0, 0
	for _, i := range c.rows {
		b, s := p[i], fromHeight[i]
		if !(b > 0) || !(s > 0) {
			continue
		}
		if x := s/b - 1; math.Abs(x) < 0.01 {
			ratio[i] = x - 0.5*x*x // the next term is below 4e-7
		} else {
			ratio[i] = math.Log(s / b)
		}
		if b < set.HandOverFrom {
			u := hypot(st.common[i], s*f.satellitePressureU(c, s, c.p0Or(s), height.common[i]))
			compared++
			if math.Abs(s-b) > set.Agree*u+3*st.independent[i] {
				far++
			}
		}
	}
	if compared == 0 {
		f.notRun(quality.Hydrostatic, sounding.Pressure, "barometer and satellite height do not meet above %g hPa", set.HandOverFrom)
		return
	}
	if far*5 > compared {
		f.finding(sounding.Finding{Check: quality.BarometerHeight, Variable: sounding.Pressure, Severity: sounding.Questionable,
			Measured: sounding.Number(100 * float64(far) / float64(compared)), Limit: 20, Unit: "%",
			Sentence: fmt.Sprintf("barometer and satellite height disagree beyond %g standard uncertainties in %.0f %% of the samples above %g hPa: no hand-over, pressure stays with the barometer",
				set.Agree, 100*float64(far)/float64(compared), set.HandOverFrom)})
		f.notRun(quality.Hydrostatic, sounding.Pressure, "barometer and satellite height disagree")
		return
	}
	values, independent, common := clone(st.values), clone(st.independent), clone(st.common)
	f.share = f.filled(f.n, 0)
	taken, filled := 0, 0
	for _, l := range f.legs {
		// The log of the ratio of the two is smoothed, so that neither's noise comes
		// in twice, and interpolated where one of them is missing.
		r := f.gather(ratio, l.rows)
		if none(r) {
			continue
		}
		r = f.interpolated(l.time, r)
		for k, i := range l.rows {
			b, s := p[i], fromHeight[i]
			reference := b
			if !(b > 0) {
				reference = s
			}
			if !(reference > 0) {
				continue
			}
			if reference >= set.HandOverFrom && b > 0 {
				continue // the barometer alone, as it stands
			}
			w := min(1, max(0, (logFrom-math.Log(reference))/(logFrom-logTo)))
			w = w * w * (3 - 2*w)
			switch {
			case b > 0 && s > 0 && w == 1:
				values[i] = s
			case b > 0 && s > 0:
				values[i] = b * math.Exp(w*r[k])
			case b > 0:
				values[i] = b * math.Exp(w*r[k])
			case present(values[i]): // bad by the checks: it keeps its value
				continue
			default:
				values[i] = s * math.Exp(-(1-w)*r[k])
				filled++
			}
			f.share[i] = w
			if w > 0 {
				taken++
			}
			v := values[i]
			uncertain := height.common[i]
			if !(s > 0) {
				uncertain *= 2
			}
			independent[i] = hypot((1-w)*st.independent[i], w*v*height.independent[i]/(metresPerKelvin*250))
			common[i] = hypot((1-w)*st.common[i], w*v*f.satellitePressureU(c, v, c.p0Or(v), uncertain))
		}
	}
	if taken == 0 && filled == 0 {
		f.share = nil
		f.notRun(quality.Hydrostatic, sounding.Pressure, "the flight does not reach %g hPa: the barometer stands alone", set.HandOverFrom)
		return
	}
	f.step(sounding.Step{Method: "pressure", Kind: sounding.StepCorrect, Variable: sounding.Pressure, Values: values,
		Independent: independent, Common: common,
		Coefficients: []sounding.Coefficient{numberOf("hand_over_from", set.HandOverFrom, "hPa", "settings"), numberOf("hand_over_to", set.HandOverTo, "hPa", "settings")},
		Note: fmt.Sprintf("barometer below %g hPa, satellite height above %g hPa, ln p blended between; %d missing values filled from satellite height",
			set.HandOverFrom, set.HandOverTo, filled)})
	f.ran(quality.Hydrostatic, sounding.Pressure)
}
