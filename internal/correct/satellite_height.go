package correct

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// satelliteHeight brings the satellite height to metres above mean sea level,
// anchors it at the release point, smooths it, and makes geopotential of it
// (docs/methods/satellite-height.md).
func (f *flight) satelliteHeight() {
	f.ascentRate()
	source, datum := sounding.HeightMSL, "msl"
	if f.sheet != nil && f.sheet.Position.Datum == "ellipsoid" && !f.has(sounding.HeightEllipsoid) {
		datum = "ellipsoid" // what the source calls height is above the ellipsoid
	}
	if !f.has(sounding.HeightMSL) && f.has(sounding.HeightEllipsoid) {
		source, datum = sounding.HeightEllipsoid, "ellipsoid"
	}
	if !f.has(source) {
		f.notRun(quality.Hydrostatic, sounding.HeightMSL, "the flight has no satellite height")
		return
	}
	noise, bias := f.set.Generic.HeightNoise, f.set.Generic.HeightU
	if f.sheet != nil && f.sheet.Position.HeightBias > 0 {
		noise, bias = f.sheet.Position.Height, f.sheet.Position.HeightBias
	}
	undulation := math.NaN()
	site := math.NaN()
	if r := f.in.Record; r != nil {
		undulation, site = r.Site.Undulation.Value(), r.Site.Height.Value()
	}
	if source == sounding.HeightEllipsoid && f.has(sounding.HeightEllipsoid) {
		f.budget(sounding.HeightEllipsoid, f.level(noise), f.level(bias))
	}
	values := f.usable(source)
	kept := f.now[source]
	if datum == "ellipsoid" && present(undulation) {
		for i := range values {
			values[i] = earth.HeightAboveSeaLevel(values[i], undulation)
		}
		f.heightStep("satellite-height", sounding.StepCorrect, values, kept, noise, bias,
			[]sounding.Coefficient{numberOf("undulation", undulation, "m", "launch record")},
			fmt.Sprintf("height above the ellipsoid brought to mean sea level by the undulation, %.1f m", undulation))
		datum = "msl"
	}
	offset, duration, known := f.heightOffset(values, site)
	// The receiver's error persists for a minute or so: that many independent looks.
	anchorU := noise * math.Sqrt(min(1, 2*f.set.Height.Persistence/max(duration, 1)))
	anchored := false
	limit := f.set.Height.AnchorLimit
	if datum == "ellipsoid" {
		limit = f.set.Height.UnknownDatumLimit
	}
	switch {
	case !known:
		if datum == "ellipsoid" {
			f.notRun(quality.Hydrostatic, sounding.HeightMSL, "heights are above the ellipsoid and neither the geoid undulation nor samples at rest at a surveyed height are known: they are left out")
			return
		}
	case math.Abs(offset) > limit:
		f.finding(sounding.Finding{Check: quality.BarometerHeight, Variable: sounding.HeightMSL, Severity: sounding.Questionable,
			Measured: sounding.Number(offset), Limit: sounding.Number(limit), Unit: "m", Field: "site.height_m_msl", Spans: f.covered(),
			Sentence: fmt.Sprintf("at rest before release the satellite height stood %.0f m from the station height, too far to be taken off: check the station height and what the satellite height is above", offset)})
	case f.set.Height.Anchor && f.sheet != nil || datum == "ellipsoid":
		for i := range values {
			values[i] -= offset
		}
		anchored = true
		f.heightStep("satellite-height", sounding.StepCorrect, values, kept, noise, bias,
			[]sounding.Coefficient{numberOf("offset_at_release", offset, "m", "fitted")},
			fmt.Sprintf("satellite heights shifted by %+.1f m to start at the surveyed release point", -offset))
	}
	if f.sheet == nil {
		// Without a sheet nobody knows that these heights come from satellites at
		// all: they keep their values.
		f.budget(sounding.HeightMSL, f.level(noise), f.level(bias))
		return
	}
	f.smoothHeight(kept, noise, bias, anchored, anchorU)
}

// heightStep records heights above mean sea level; rows that are not usable keep
// what they had, where they had something of the kind.
func (f *flight) heightStep(method string, kind sounding.StepKind, values []float64, kept *state, noise, bias float64, c []sounding.Coefficient, note string) {
	out := clone(values)
	if old := f.now[sounding.HeightMSL]; old != nil {
		for i, v := range out {
			if !present(v) {
				out[i] = old.values[i]
			}
		}
	}
	fresh := !f.has(sounding.HeightMSL)
	f.step(sounding.Step{Method: method, Kind: kind, Variable: sounding.HeightMSL, Values: out,
		Independent: f.level(noise), Common: f.level(bias), Coefficients: c, Note: note})
	if fresh {
		f.flagged(sounding.HeightMSL, kept.flags, kept.tests)
	}
}

// heightOffset is the satellite height at rest before release minus the surveyed
// height of the release point.
func (f *flight) heightOffset(values []float64, site float64) (offset, duration float64, known bool) {
	if !present(site) || !f.in.Events.Release.Found {
		return math.NaN(), 0, false
	}
	var before []float64
	release := min(f.in.Events.Release.Row, f.n-1)
	for i := release - 1; i >= 0 && i > release-600; i-- {
		if present(values[i]) {
			before = append(before, values[i])
			duration = f.time[release] - f.time[i]
		}
	}
	if len(before) >= f.set.Height.AnchorRows {
		return medianOf(before) - site, duration, true
	}
	// No samples at rest: the straight line through the first half minute, taken back
	// to the instant of release.
	for _, l := range f.legs {
		if l.descent {
			continue
		}
		var t, h []float64
		for _, i := range l.rows {
			if f.time[i] > f.time[l.rows[0]]+30 {
				break
			}
			if present(values[i]) {
				t, h = append(t, f.time[i]), append(h, values[i])
			}
		}
		if len(t) >= 10 {
			level, slope := line(t, h)
			at := f.in.Events.Release.Time.Or(f.time[l.rows[0]])
			return level + slope*at - site, 30, true
		}
	}
	return math.NaN(), 0, false
}

// line is the least-squares straight line of x over t: x = level + slope t.
func line(t, x []float64) (level, slope float64) {
	n := float64(len(t))
	var st, sx, stt, stx float64
	t0 := t[0]
	for i := range t {
		d := t[i] - t0
		st += d
		sx += x[i]
		stt += d * d
		stx += d * x[i]
	}
	slope = (stx - st*sx/n) / (stt - st*st/n)
	return sx/n - slope*(st/n) - slope*t0, slope
}

// smoothHeight runs a straight line through the satellite heights of each leg.
func (f *flight) smoothHeight(kept *state, noise, bias float64, anchored bool, anchorU float64) {
	values := clone(f.usable(sounding.HeightMSL))
	// The receiver's error lasts for a minute and more, so that a line over seconds
	// takes little of it away: the noise is stated whole.
	independent, common := f.level(noise), constant(f.n, bias)
	resolution := make([]float64, f.n)
	for _, l := range f.legs {
		y := f.gather(values, l.rows)
		smoothed, _ := f.localLine(l.time, y, f.set.Height.Smooth, f.set.General.LongestBreak)
		for k, i := range l.rows {
			if present(y[k]) && present(smoothed[k]) {
				values[i] = smoothed[k]
				resolution[i] = 2 * f.set.Height.Smooth / 0.443 * 0.5
			}
		}
	}
	if anchored {
		for _, l := range f.legs {
			for _, i := range l.rows {
				// At the ground the anchor holds; within half an hour the receiver's
				// error has drifted to a share of its usual size.
				aged := min(1, max(0, f.time[i]-f.time[l.rows[0]])/1800)
				if l.descent {
					aged = 1
				}
				common[i] = rootSum(f.set.Surface.HeightU, anchorU, f.set.Height.DriftShare*bias*aged)
			}
		}
	}
	for i, v := range values {
		if !present(v) {
			values[i] = f.now[sounding.HeightMSL].values[i]
		}
	}
	f.step(sounding.Step{Method: "satellite-height", Kind: sounding.StepFilter, Variable: sounding.HeightMSL, Values: values,
		Independent: independent, Common: common, Resolution: resolution,
		Coefficients: []sounding.Coefficient{numberOf("half_width", f.set.Height.Smooth, "s", "settings")},
		Note:         fmt.Sprintf("satellite heights smoothed by a straight line over ±%g s", f.set.Height.Smooth)})
	f.satellite = true
	f.ran(quality.Hydrostatic, sounding.HeightMSL)
}

// ascentRate is the slope of the height, found with the provisional heights.
func (f *flight) ascentRate() {
	if len(f.legs) == 0 {
		return
	}
	values := constant(f.n, math.NaN())
	for _, l := range f.legs {
		scatter(values, l.rate, l.rows)
	}
	if none(values) {
		f.notRun(quality.Ascent, sounding.AscentRate, "neither height nor pressure are known")
		return
	}
	noise := f.set.Generic.HeightNoise
	if f.sheet != nil && f.sheet.Position.Height > 0 {
		noise = f.sheet.Position.Height
	}
	half := f.set.General.AscentWindow
	step := medianStep(f.legs[0].time)
	// Variance of the slope of a straight line through independent noise.
	u := noise * math.Sqrt(12*step/math.Pow(2*half, 3))
	f.step(sounding.Step{Method: "ascent-rate", Kind: sounding.StepDerive, Variable: sounding.AscentRate, Values: values,
		Independent: f.level(u), Common: f.level(0.02), Resolution: f.level(2 * half),
		Note: fmt.Sprintf("slope of height over ±%g s", half)})
}

// geopotentialOf is the geopotential height of heights above mean sea level, at the
// latitude of the balloon.
func (f *flight) geopotentialOf(heights []float64) []float64 {
	latitude := math.NaN()
	lat := f.usable(sounding.Latitude)
	if r := f.in.Record; r != nil {
		latitude = r.Site.Latitude.Value()
	}
	if !present(latitude) {
		latitude = firstPresent(lat)
	}
	if !present(latitude) {
		latitude = 45 // gravity there is within 0.3 % of that everywhere
	}
	out := f.column(len(heights))
	scale, at := earth.HeightScaleAt(latitude), latitude
	for i, z := range heights {
		if lat != nil && math.Abs(lat[i]-at) > 0.02 {
			at = lat[i]
			scale = earth.HeightScaleAt(at)
		}
		out[i] = scale.Geopotential(z)
	}
	return out
}

// metresPerKelvin is Rd/g0.
const metresPerKelvin = constants.Rd / constants.G0
