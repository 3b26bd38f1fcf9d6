package correct

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// surfacePressure returns the record's surface pressure reduced from the barometer
// to the release point, and the release point's height in m above mean sea level;
// NaN where the record does not give them.
func (f *flight) surfacePressure() (pressure, height float64) {
	r := f.in.Record
	if r == nil {
		return math.NaN(), math.NaN()
	}
	height = r.Site.Height.Value()
	pressure = r.Surface.Pressure.Value()
	if difference := height - r.Site.Barometer.Value(); present(difference) {
		// Hydrostatic reduction over the few metres between the two.
		t := r.Surface.Temperature.Or(288.15)
		pressure *= math.Exp(-constants.G0 * difference / (constants.Rd * t))
	}
	return pressure, height
}

// surfaceTrusted tells whether no finding doubts an item of the surface observation.
func (f *flight) surfaceTrusted(field string) bool {
	for i := range f.in.Findings {
		x := &f.in.Findings[i]
		if x.Field == field && x.Severity != sounding.Note && x.State != "dismissed" && !f.settledAt[i] {
			return false
		}
	}
	return true
}

// trustedSurfacePressure is surfacePressure with each part NaN where a finding
// doubts it.
func (f *flight) trustedSurfacePressure() (pressure, height float64) {
	pressure, height = f.surfacePressure()
	if !f.surfaceTrusted("site.height_m_msl") {
		height = math.NaN()
	}
	if !f.surfaceTrusted("surface.pressure_hpa") || !f.surfaceTrusted("site.barometer_height_m_msl") {
		pressure = math.NaN()
	}
	if first := f.earlyPressure(); present(first) && math.Abs(first-pressure) > f.set.Surface.PressureLimit {
		pressure = math.NaN()
	}
	return pressure, height
}

// earlyPressure is the barometer's pressure brought back to the release point from
// the first ten seconds after release; NaN where there is no barometer.
func (f *flight) earlyPressure() float64 {
	if !f.hasBarometer() {
		return math.NaN()
	}
	st := f.in.Get(sounding.Pressure)
	for _, l := range f.legs {
		if l.descent {
			continue
		}
		var t, p []float64
		for _, i := range l.rows {
			if f.time[i] > f.time[l.rows[0]]+20 {
				break
			}
			if v := st.Values[i]; present(v) && (st.Flags == nil || st.Flags[i] != quality.Bad) {
				t, p = append(t, f.time[i]), append(p, v)
			}
		}
		if len(t) >= 5 {
			level, slope := line(t, p)
			return level + slope*f.in.Events.Release.Time.Or(f.time[l.rows[0]])
		}
		if len(p) > 0 {
			return p[0]
		}
	}
	return math.NaN()
}

// surface puts the surface observation on the row of release: the first level of the
// profile (docs/methods/surface-value.md).
func (f *flight) surface() {
	if !f.set.Surface.Splice {
		return
	}
	r := f.in.Record
	if r == nil || !f.in.Events.Release.Found || f.in.Events.Release.Row >= f.n || f.in.Events.Release.Row < 0 {
		f.notRun(quality.Baseline, sounding.NoVariable, "no launch record or no release: no surface value")
		return
	}
	row := f.in.Events.Release.Row
	p0, z0 := f.trustedSurfacePressure()
	g0 := math.NaN()
	if present(z0) {
		g0 = f.geopotentialOf([]float64{z0})[0]
	}
	rh := r.Surface.Humidity.Value()
	if !present(rh) && r.Surface.DewPoint.Set() && r.Surface.Temperature.Set() {
		rh = f.set.General.Formula.RelativeFromDewPoint(r.Surface.DewPoint.Value(), r.Surface.Temperature.Value())
	}
	set := &f.set.Surface
	limited := func(v sounding.Variable, value, limit float64, field string) float64 {
		if !f.surfaceTrusted(field) {
			return math.NaN()
		}
		near := f.earlyMedian(v)
		if present(near) && math.Abs(near-value) > limit {
			f.notRun(quality.Baseline, v, "the surface value is %.1f %s from the first samples: it is not put on the row of release", value-near, v.Info().Unit)
			return math.NaN()
		}
		return value
	}
	items := []struct {
		v     sounding.Variable
		value float64
		u     float64
	}{
		{sounding.Pressure, p0, set.PressureU},
		{sounding.Temperature, limited(sounding.Temperature, r.Surface.Temperature.Value(), set.TemperatureLimit, "surface.temperature_k"), set.TemperatureU},
		{sounding.Humidity, limited(sounding.Humidity, rh, set.HumidityLimit, "surface.humidity_pct"), set.HumidityU},
		{sounding.HeightMSL, z0, set.HeightU},
		{sounding.GeopotentialHeight, g0, set.HeightU},
	}
	for _, x := range items {
		st := f.now[x.v]
		if st == nil || !present(x.value) {
			continue
		}
		values, independent, common := clone(st.values), clone(st.independent), clone(st.common)
		if len(independent) != f.n {
			independent = constant(f.n, math.NaN())
		}
		if len(common) != f.n {
			common = constant(f.n, math.NaN())
		}
		before := values[row]
		values[row], independent[row], common[row] = x.value, 0, x.u
		f.step(sounding.Step{Method: "surface-value", Kind: sounding.StepChoose, Variable: x.v, Values: values, Independent: independent, Common: common,
			Coefficients: []sounding.Coefficient{numberOf("surface", x.value, x.v.Info().Unit, "launch record"), numberOf("sample", before, x.v.Info().Unit, "series")},
			Note:         fmt.Sprintf("surface observation on the row of release in place of the sample (%s)", difference(x.value, before, x.v.Info().Unit))})
		if st.flags != nil && st.flags[row] != quality.Good {
			flags, tests := append([]quality.Flag(nil), st.flags...), append([]quality.Bits(nil), st.tests...)
			flags[row] = quality.NotEvaluated
			if tests != nil {
				tests[row] = 0
			}
			f.flagged(x.v, flags, tests)
		}
	}
}

func difference(value, before float64, unit string) string {
	if !present(before) {
		return "which is missing"
	}
	return fmt.Sprintf("%+.2f %s", value-before, unit)
}

// earlyMedian is the median of the corrected samples of the first twenty seconds.
func (f *flight) earlyMedian(v sounding.Variable) float64 {
	x := f.usable(v)
	if x == nil {
		return math.NaN()
	}
	for _, l := range f.legs {
		if l.descent {
			continue
		}
		var early []float64
		for _, i := range l.rows {
			if f.time[i] > f.time[l.rows[0]]+20 {
				break
			}
			early = append(early, x[i])
		}
		return medianOf(early)
	}
	return math.NaN()
}
