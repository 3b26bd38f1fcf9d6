package correct

import (
	"fmt"
	"math"

	"leadline/internal/earth"
	"leadline/internal/hydrostatic"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// geopotential integrates the geopotential height from the final pressure and
// virtual temperature (docs/methods/geopotential-height.md), and the height above
// mean sea level from it where there are no satellites.
func (f *flight) geopotential() {
	if !f.has(sounding.Pressure) || !f.has(sounding.Temperature) {
		f.notRun(quality.Hydrostatic, sounding.GeopotentialHeight, "pressure or temperature are missing")
		f.geopotentialFromHeight()
		return
	}
	p := f.usable(sounding.Pressure)
	c := f.airColumn()
	if c == nil || none(f.gather(p, c.rows)) {
		f.notRun(quality.Hydrostatic, sounding.GeopotentialHeight, "no usable pressure and temperature between release and landing")
		f.geopotentialFromHeight()
		return
	}
	pressures := f.withSurface(c, c.p0, p)
	var fromSatellite []float64
	if f.has(sounding.HeightMSL) {
		fromSatellite = f.gather(f.geopotentialOf(f.usable(sounding.HeightMSL)), c.rows)
	}
	base, origin, uBase := c.base, "launch record", f.set.Surface.HeightU
	if !c.surface {
		first := -1
		for k := range c.rows {
			if pressures[k] > 0 && present(c.virtual[k]) {
				first = k
				break
			}
		}
		switch {
		case first < 0:
			f.notRun(quality.Hydrostatic, sounding.GeopotentialHeight, "no sample with pressure and temperature")
			f.geopotentialFromHeight()
			return
		case fromSatellite != nil && present(nearest(fromSatellite, first)) && (f.sheet == nil || f.satellite):
			base, origin, uBase = nearest(fromSatellite, first), "height of the first sample", f.set.Generic.HeightU
		case present(base) && f.time[c.rows[first]]-f.time[c.rows[0]] < 60:
		default:
			f.notRun(quality.Hydrostatic, sounding.GeopotentialHeight, "no height to start from: neither the launch record nor the first samples give one")
			f.geopotentialFromHeight()
			return
		}
	}
	heights := f.column(len(pressures))
	hydrostatic.HeightsFromPressure(heights, pressures, c.virtual, base)
	heights = c.without(heights)
	virtual := c.without(c.virtual)

	st := f.now[sounding.Pressure]
	values, independent, common := constant(f.n, math.NaN()), constant(f.n, f.set.Generic.HeightNoise), constant(f.n, f.set.Generic.HeightU)
	var lift []float64 // hydrostatic minus satellite height
	if f.satellite {
		lift = f.column(len(heights))
		for k := range lift {
			lift[k] = heights[k] - fromSatellite[k]
		}
		if none(lift) {
			lift = nil
		} else {
			lift = f.interpolated(f.gather(f.time, c.rows), lift)
		}
	}
	descending := make([]bool, f.n)
	for _, l := range f.legs {
		for _, i := range l.rows {
			descending[i] = l.descent
		}
	}
	p0 := c.p0Or(firstPresent(f.gather(p, c.rows)))
	satellite := f.now[sounding.HeightMSL]
	for k, i := range c.rows {
		v := heights[k]
		switch {
		case lift == nil || !present(fromSatellite[k]):
		case descending[i]:
			// Down another column of air, far from where the way up was: only the
			// satellite height knows where the radiosonde is.
			v = fromSatellite[k]
		case !present(v):
			v = fromSatellite[k] + lift[k]
		}
		if !present(v) {
			continue
		}
		values[i] = v
		w := 0.0
		if f.share != nil {
			w = f.share[i]
		}
		tv := virtual[k]
		if !present(tv) {
			tv = 250
		}
		x := p[i]
		if !(x > 0) {
			x = p0 * math.Exp(-(v-base)/(metresPerKelvin*250))
		}
		alone := hydrostatic.HeightUncertainty(x, tv, st.common[i], c.meanU, max(p0, x), uBase)
		if descending[i] && lift != nil {
			w = 1
		}
		if satellite != nil && satellite.common != nil && w > 0 {
			common[i] = hypot((1-w)*alone, w*satellite.common[i])
			independent[i] = hypot((1-w)*metresPerKelvin*tv*st.independent[i]/x, w*satellite.independent[i])
		} else {
			common[i] = alone
			independent[i] = metresPerKelvin * tv * st.independent[i] / x
		}
	}
	note := "geopotential height integrated from pressure and virtual temperature"
	if c.assumed > 0 {
		note += fmt.Sprintf("; humidity taken as %g %% in %d rows without any", assumedHumidity, c.assumed)
	}
	fresh := !f.has(sounding.GeopotentialHeight)
	f.step(sounding.Step{Method: "geopotential-height", Kind: sounding.StepDerive, Variable: sounding.GeopotentialHeight, Values: values,
		Independent: independent, Common: common,
		Coefficients: []sounding.Coefficient{numberOf("base", base, "gpm", origin), numberOf("base_u", uBase, "m", "settings"), numberOf("mean_temperature_u", c.meanU, "K", "computed")},
		Note:         note})
	if fresh {
		f.rollInto(sounding.GeopotentialHeight, sounding.Pressure, sounding.Temperature)
	}
	f.ran(quality.Hydrostatic, sounding.GeopotentialHeight)
	if !f.has(sounding.HeightMSL) {
		f.heightFromGeopotential()
	}
}

// nearest is the first present value at or after k, within ten rows.
func nearest(x []float64, k int) float64 {
	for j := k; j < len(x) && j < k+10; j++ {
		if present(x[j]) {
			return x[j]
		}
	}
	return math.NaN()
}

// geopotentialFromHeight is the geopotential of satellite heights, for flights
// without pressure or temperature.
func (f *flight) geopotentialFromHeight() {
	if !f.satellite {
		return
	}
	st := f.now[sounding.HeightMSL]
	f.step(sounding.Step{Method: "geopotential-height", Kind: sounding.StepDerive, Variable: sounding.GeopotentialHeight,
		Values: clone(f.geopotentialOf(f.usable(sounding.HeightMSL))), Independent: st.independent, Common: st.common,
		Note: "geopotential of the satellite height"})
	f.rollInto(sounding.GeopotentialHeight, sounding.HeightMSL)
}

// heightFromGeopotential is the geometric height above mean sea level.
func (f *flight) heightFromGeopotential() {
	st := f.now[sounding.GeopotentialHeight]
	latitude := 45.0
	lat := f.usable(sounding.Latitude)
	if r := f.in.Record; r != nil && r.Site.Latitude.Set() {
		latitude = r.Site.Latitude.Value()
	} else if x := firstPresent(lat); lat != nil && present(x) {
		latitude = x
	}
	scale, at := earth.HeightScaleAt(latitude), latitude
	values := make([]float64, f.n)
	for i, h := range st.values {
		if lat != nil && math.Abs(lat[i]-at) > 0.02 {
			at = lat[i]
			scale = earth.HeightScaleAt(at)
		}
		values[i] = scale.Geometric(h)
	}
	f.step(sounding.Step{Method: "geopotential-height", Kind: sounding.StepDerive, Variable: sounding.HeightMSL, Values: values,
		Independent: st.independent, Common: st.common, Note: "geometric height of the geopotential height"})
	f.flagged(sounding.HeightMSL, st.flags, st.tests)
}
