package check

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// rest is the median of a variable at rest before release, or in the first seconds
// of flight where there are no rows before it.
type rest struct {
	value  float64
	span   sounding.Span
	before bool // from rows before release
}

// restOf returns the resting value of v; ok is false where there is too little.
func (in *input) restOf(v sounding.Variable) (r rest, ok bool) {
	set := &in.set.Baseline
	x := in.cols.Values(v)
	if x == nil || !in.ctx.Events.Release.Found {
		return rest{}, false
	}
	release := in.ctx.Events.Release.Time.Value()
	var values []float64
	usable := func(i int) bool { return !math.IsNaN(x[i]) }
	if v == sounding.HumidityA || v == sounding.HumidityB {
		measuring, why := in.measures(v)
		if why != "" {
			return rest{}, false
		}
		if measuring != nil {
			usable = func(i int) bool { return measuring[i] && !math.IsNaN(x[i]) }
		}
	}
	x = in.atAir(v, x)
	from := in.flight.From
	for from > 0 && release-in.time[from-1] <= set.Before {
		from--
		if usable(from) {
			values = append(values, x[from])
		}
	}
	if len(values) >= set.LeastSamples {
		return rest{smooth.Median(values, nil), sounding.Span{From: from, To: in.flight.From}, true}, true
	}
	values = values[:0]
	to := in.flight.From
	for to < in.flight.To && in.time[to]-release <= set.After {
		if usable(to) {
			values = append(values, x[to])
		}
		to++
	}
	if len(values) == 0 {
		return rest{}, false
	}
	// The first of them is nearest to the ground.
	return rest{values[0], sounding.Span{From: in.flight.From, To: to}, false}, true
}

// atAir returns what an element of v with a thermometer of its own says about the air:
// one that is still warm from its heating, as it is for minutes where nothing ventilates
// it, shows the vapour of the air at its own temperature. x itself where there is no
// such thermometer.
func (in *input) atAir(v sounding.Variable, x []float64) []float64 {
	own := sounding.HumiditySensorTempA
	switch v {
	case sounding.HumidityA:
	case sounding.HumidityB:
		own = sounding.HumiditySensorTempB
	default:
		return x
	}
	element, air := in.cols.Values(own), in.cols.Values(sounding.Temperature)
	if element == nil || air == nil {
		return x
	}
	const warmest = 30.0 // K above the air: hotter, it is being heated
	formula := in.formula()
	out := append([]float64(nil), x[:in.flight.From]...)
	for i, e := range out {
		if d := element[i] - air[i]; d > 0.2 && d < warmest {
			out[i] = e * formula.OverWater(element[i]) / formula.OverWater(air[i])
		}
	}
	return append(out, x[in.flight.From:]...)
}

// baseline compares the radiosonde at rest, or its first samples, with the surface
// observation and the site of the launch record. It doubts no sample: it says which
// item of the record to look at.
func baseline(in *input) sounding.Report {
	b := in.begin(quality.Baseline)
	r := in.ctx.Record
	if r == nil {
		b.skipped(sounding.NoVariable, "there is no launch record")
		return b.rep
	}
	set := &in.set.Baseline
	b.baselineHeight(r)
	b.baselinePressure(r)

	limit, first := set.Day, set.First
	if !in.daylight() {
		limit, first = set.Night, set.First
	}
	b.compare(sounding.Temperature, "temperature", "surface.temperature_k", r.Surface.Temperature, limit, first, false, func(d, surface float64) string {
		switch sonde := surface + d; {
		case math.Abs(d) > 10 && math.Abs((surface-zeroCelsius-32)/1.8-(sonde-zeroCelsius)) < 3:
			return ": the observation looks like °F typed as °C"
		case math.Abs(d) > 10 && math.Abs(zeroCelsius-(surface-zeroCelsius)-sonde) < 3:
			return ": the observation looks like a lost minus sign"
		}
		return ""
	})
	mean := in.humidityOffTogether()
	for _, v := range humidities {
		limit, off := set.Humidity, in.humidityOff(v)
		if s := in.ctx.Sheet; off && v != sounding.Humidity && s != nil && s.Humidity.Calibration > 0 {
			// The mean of two sensors is worth more than one.
			if both := set.K * math.Hypot(s.Humidity.Calibration/math.Sqrt2, set.SurfaceHumidity); math.Abs(mean) > both {
				limit = min(limit, both/2) // then each of them that is off
			}
		}
		b.compare(v, name(v), "surface.humidity_pct", r.Surface.Humidity, limit, set.FirstHumidity, off, func(d, surface float64) string { return "" })
	}
	b.baselineWind(r)
	return b.rep
}

// humidityOff tells whether everything that could measure humidity at rest stood off the
// surface observation on the same side: then the ascent is in doubt with it. With one
// of two sensors right, the comparison of the two decides.
func (in *input) humidityOff(v sounding.Variable) bool {
	r := in.ctx.Record
	if !r.Surface.Humidity.Set() {
		return false
	}
	base, ok := in.restOf(v)
	if !ok || !base.before {
		return false
	}
	side := base.value - r.Surface.Humidity.Value()
	for _, w := range humidities[1:] {
		if other, ok := in.restOf(w); ok && (other.value-r.Surface.Humidity.Value())*side < 0.5*side*side {
			return false
		}
	}
	return true
}

// humidityOffTogether is the mean of the differences of both heated sensors at rest from
// the surface observation, each taken as compare does; NaN without both.
func (in *input) humidityOffTogether() float64 {
	sum := 0.0
	for _, v := range humidities[1:] {
		base, ok := in.restOf(v)
		if !ok || !base.before || !in.ctx.Record.Surface.Humidity.Set() {
			return math.NaN()
		}
		value, _ := in.carried(base.value)
		sum += value - in.ctx.Record.Surface.Humidity.Value()
	}
	return sum / 2
}

// carried returns a humidity at rest at the temperature of the surface observation,
// with the same vapour: a radiosonde that comes out of a warm vehicle is not dry. Where
// it fits better as it is, nothing is wrong with humidity and it stays.
func (in *input) carried(value float64) (at float64, moved bool) {
	surface := in.ctx.Record.Surface
	t, ok := in.restOf(sounding.Temperature)
	if !ok || !surface.Temperature.Set() {
		return value, false
	}
	formula := in.formula()
	x := formula.ToRelative(formula.FromRelative(value, t.value), surface.Temperature.Value())
	if math.Abs(x-surface.Humidity.Value()) < math.Abs(value-surface.Humidity.Value()) {
		return x, true
	}
	return value, false
}

// compare is the plain case: radiosonde minus surface against a limit, wider for the
// first samples aloft than for rows at rest; throughout carries the doubt of rows at
// rest over the ascent.
func (b *builder) compare(v sounding.Variable, what, field string, surface sounding.Number, atRest, aloft float64, throughout bool, hint func(d, surface float64) string) {
	in := b.in
	if in.cols.Get(v) == nil {
		return
	}
	if !surface.Set() {
		b.skipped(v, "the launch record gives no "+fieldLabel(field))
		return
	}
	base, ok := in.restOf(v)
	if !ok {
		b.skipped(v, "there is no value at rest or in the first seconds")
		return
	}
	b.covered(v, nil) // it says nothing of the samples in flight
	limit, where := atRest, "at rest before release"
	if !base.before {
		limit, where = aloft, "in its first samples"
	}
	value := base.value
	if v.Info().Dimension == "humidity" {
		var moved bool
		if value, moved = in.carried(value); moved {
			where += ", carried to the temperature of the observation,"
		}
	}
	d := value - surface.Value()
	if !(math.Abs(d) > limit) {
		return
	}
	base.value = value
	f := fact{variable: v, severity: sounding.Questionable, spans: []sounding.Span{base.span}, unflagged: true, measured: d, limit: limit, unit: unitOf(v), field: field,
		sentence: fmt.Sprintf("%s %s is %s, %+.1f %s from the surface observation of %s%s", what, where, show(v, base.value), d, unitOf(v), show(v, surface.Value()), hint(d, surface.Value()))}
	if throughout && base.before {
		f.spans = []sounding.Span{{From: base.span.From, To: max(base.span.To, in.ascent.To)}}
		f.unflagged = false
		f.sentence += ": the sensor is off or the observation is, and until that is known the ascent is in doubt"
	}
	b.find(f)
}

func fieldLabel(path string) string {
	if f, ok := sounding.FieldByPath(path); ok {
		return f.Label
	}
	return path
}

// baselineHeight compares the satellite height at rest with the height of the site.
func (b *builder) baselineHeight(r *sounding.LaunchRecord) {
	in := b.in
	if in.cols.Get(sounding.HeightMSL) == nil {
		return
	}
	if !r.Site.Height.Set() {
		b.skipped(sounding.HeightMSL, "the launch record gives no height of the release point")
		return
	}
	base, ok := in.restOf(sounding.HeightMSL)
	if !ok {
		b.skipped(sounding.HeightMSL, "there is no height at rest or in the first seconds")
		return
	}
	b.covered(sounding.HeightMSL, nil)
	d := base.value - r.Site.Height.Value()
	limit := in.set.Baseline.Height
	if in.ctx.Sheet != nil {
		limit = max(limit, in.set.Baseline.K*math.Hypot(in.ctx.Sheet.Position.HeightBias, in.ctx.Sheet.Position.Height))
	}
	if !base.before { // it may have climbed that far already
		limit += 6 * max(0, in.time[base.span.From]-in.ctx.Events.Release.Time.Value())
	}
	if math.Abs(d) <= limit {
		return
	}
	sentence := fmt.Sprintf("satellite height before release is %.0f m, %+.0f m from the height of the release point, %.0f m", base.value, d, r.Site.Height.Value())
	if !base.before {
		sentence = fmt.Sprintf("the first height is %.0f m, %+.0f m from the height of the release point, %.0f m", base.value, d, r.Site.Height.Value())
	}
	if n := r.Site.Undulation.Value(); math.Abs(d-n) < 8 && math.Abs(n) > 10 {
		sentence += fmt.Sprintf(": that is the geoid's undulation of %.0f m, so the heights stand above the ellipsoid", n)
	}
	b.find(fact{variable: sounding.NoVariable, severity: sounding.Questionable, spans: []sounding.Span{base.span}, unflagged: true, measured: d, limit: limit, unit: "m",
		field: "site.height_m_msl", sentence: sentence})
}

// baselinePressure compares the barometer at rest with the surface pressure carried
// to the release point, and says what a difference looks like.
func (b *builder) baselinePressure(r *sounding.LaunchRecord) {
	in := b.in
	if in.cols.Get(sounding.Pressure) == nil {
		return
	}
	if !r.Surface.Pressure.Set() {
		b.skipped(sounding.Pressure, "the launch record gives no surface pressure")
		return
	}
	base, ok := in.restOf(sounding.Pressure)
	if !ok || !(base.value > 0) {
		b.skipped(sounding.Pressure, "there is no pressure at rest or in the first seconds")
		return
	}
	b.covered(sounding.Pressure, nil)
	temperature := r.Surface.Temperature.Or(288)
	scale := constants.Rd * max(temperature, 200) / constants.G0 // m
	up := 0.0
	if r.Site.Height.Set() && r.Site.Barometer.Set() {
		up = r.Site.Height.Value() - r.Site.Barometer.Value()
	}
	surface := r.Surface.Pressure.Value() * math.Exp(-up/scale)
	d := base.value - surface
	limit := in.set.Baseline.Pressure
	if u := in.sheetBarometer(); u > 0 {
		limit = max(limit, in.set.Baseline.K*math.Hypot(u, in.set.Baseline.SurfacePressure))
	}
	if !base.before {
		limit += 0.6 * max(0, in.time[base.span.From]-in.ctx.Events.Release.Time.Value())
	}
	if math.Abs(d) <= limit {
		return
	}
	sentence := fmt.Sprintf("the barometer before release reads %.1f hPa, %+.1f hPa from the surface pressure at the release point, %.1f hPa", base.value, d, surface)
	if !base.before {
		sentence = fmt.Sprintf("the first pressure is %.1f hPa, %+.1f hPa from the surface pressure at the release point, %.1f hPa", base.value, d, surface)
	}
	site := r.Site.Height.Value()
	reduced := -surface * (1 - math.Exp(-site/scale)) // sonde minus a pressure reduced to sea level
	switch ratio := base.value / surface; {
	case math.Abs(ratio-33.8639) < 1:
		sentence += ": the observation looks like inches of mercury"
	case math.Abs(ratio-1.3332) < 0.03:
		sentence += ": the observation looks like millimetres of mercury"
	case math.Abs(ratio-10) < 0.3 || math.Abs(ratio-0.1) < 0.003 || math.Abs(ratio-0.01) < 0.0003:
		sentence += ": the observation looks like another power of ten of its unit"
	case math.Abs(site) > 25 && math.Abs(d-reduced) < max(1.5, 0.05*math.Abs(reduced)):
		sentence += ": the observation looks reduced to sea level"
	case math.Abs(math.Abs(d)-10) < 1 || math.Abs(math.Abs(d)-100) < 2:
		sentence += ": look for a mistyped figure"
	default:
		sentence += fmt.Sprintf(": the observation, the barometer, or a height wrong by %.0f m", math.Abs(d/surface*scale))
	}
	b.find(fact{variable: sounding.NoVariable, severity: sounding.Questionable, spans: []sounding.Span{base.span}, unflagged: true, measured: d, limit: limit, unit: "hPa",
		field: "surface.pressure_hpa", sentence: sentence})
}

// sheetBarometer is the common standard uncertainty of the barometer, 0 where not known.
func (in *input) sheetBarometer() float64 {
	if in.ctx.Sheet == nil {
		return 0
	}
	return in.ctx.Sheet.Pressure.Calibration
}

// baselineWind compares the surface wind with the mean wind of the first minute.
func (b *builder) baselineWind(r *sounding.LaunchRecord) {
	in, set := b.in, &b.in.set.Baseline
	u, v, from := in.wind()
	if from == nil {
		return
	}
	speed, direction := r.Surface.WindSpeed, r.Surface.WindDirection
	if !speed.Set() || !direction.Set() {
		b.skipped(from[0], "the launch record gives no surface wind")
		return
	}
	const start, end = 15.0, 60.0 // s after release: unwound, and still low
	release := in.ctx.Events.Release.Time.Value()
	var su, sv, n float64
	first, last := -1, -1
	for i := in.ascent.From; i < in.ascent.To && in.time[i]-release <= end; i++ {
		if in.time[i]-release >= start && !math.IsNaN(u[i]) && !math.IsNaN(v[i]) {
			su, sv, n = su+u[i], sv+v[i], n+1
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if n < 3 {
		b.skipped(from[0], "there is no wind in the first minute")
		return
	}
	b.covered(from[0], nil)
	su, sv = su/n, sv/n
	sin, cos := math.Sincos(direction.Value() * math.Pi / 180)
	d := math.Hypot(su+speed.Value()*sin, sv+speed.Value()*cos)
	aloft := math.Hypot(su, sv)
	limit := set.Wind + set.WindFraction*aloft
	if d <= limit {
		return
	}
	hint := ""
	const knot = 1852.0 / 3600
	if k := speed.Value() * knot; k > 0 && math.Hypot(su+k*sin, sv+k*cos) < d/2 {
		hint = ": the observation looks like knots"
	}
	where := sounding.Span{From: first, To: last + 1}
	b.find(fact{variable: from[0], severity: sounding.Note, spans: []sounding.Span{where}, unflagged: true, measured: d, limit: limit, unit: "m/s", field: "surface.wind_speed_m_s",
		sentence: fmt.Sprintf("wind in the first minute (%.0f m/s) differs by %.0f m/s, as a vector, from the surface wind of %.0f m/s%s", aloft, d, speed.Value(), hint)})
}
