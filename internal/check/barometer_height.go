package check

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/hydrostatic"
	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// difference is hydrostatic height minus satellite height along the ascent, at up to
// some 1,500 rows, with what each simple cause of it would look like.
type difference struct {
	row     []int32
	t, d    []float64 // s, gpm
	p, z    []float64 // hPa, m
	limit   []float64 // k times the default standard uncertainty, m
	offset  []float64 // m per hPa of constant pressure offset
	warm    []float64 // m per K of mean temperature error
	gravity []float64 // m, geometric minus geopotential height

	perPressure []float64 // m per hPa
	moist       float64   // m, standard uncertainty of the whole thickness for want of humidity
	absolute    bool      // starts at the surface pressure, so that a constant means something
}

// barometerHeight compares the height that pressure, temperature and humidity give
// with the satellite height and, where they part, says what the difference looks
// like: a constant (datum, site height or surface pressure), growth as 1/p (offset
// of the pressure sensor) or as ln p (temperature), steps; and how much it is.
func barometerHeight(in *input) sounding.Report {
	b := in.begin(quality.BarometerHeight)
	b.heightNoise()
	d, why := in.heightDifference()
	if d == nil {
		if in.cols.Get(sounding.Pressure) != nil {
			b.skipped(sounding.Pressure, why)
		}
		return b.rep
	}
	b.covered(sounding.Pressure, []sounding.Span{in.ascent})
	stepped := b.differenceSteps(d)
	b.pressureNoise()
	// An instrument sheet says what its heights are; where there is none the data do.
	b.explain(d, d.decompose(in.ctx.Sheet == nil), stepped)
	return b.rep
}

// explain reports each part of the difference that is beyond the limit for long
// enough: the constant, what grows as 1/p, what grows as ln p, and the rest.
func (b *builder) explain(d *difference, parts parts, stepped bool) {
	in := b.in
	curve := func(size float64, basis []float64) []float64 {
		x := make([]float64, len(basis))
		for i := range x {
			x[i] = size * basis[i]
		}
		return x
	}
	at := func(k int) string { return fmt.Sprintf("%.1f km (%.3g hPa)", d.z[k]/1000, d.p[k]) }

	if parts.geopotential {
		k := len(d.z) - 1
		b.find(fact{variable: sounding.HeightMSL, severity: sounding.Note, spans: []sounding.Span{in.ascent}, unflagged: true, measured: -d.gravity[k], limit: d.limit[k], unit: "m",
			sentence: fmt.Sprintf("the heights agree with hydrostatic ones as they stand, which makes them %.0f m too low for geometric heights at %.1f km: the source gives geopotential height", d.gravity[k], d.z[k]/1000)})
	}
	if math.Abs(parts.constant) > d.limit[0] {
		b.find(fact{variable: sounding.NoVariable, severity: sounding.Questionable, spans: []sounding.Span{in.ascent}, unflagged: true, measured: parts.constant, limit: d.limit[0], unit: "m",
			sentence: fmt.Sprintf("hydrostatic height differs from satellite height by a constant %+.0f m from release on: the height datum, the site's height or the surface pressure (1 hPa is 8.4 m there)", parts.constant)})
	}
	offset, warm := curve(parts.offset, d.offset), curve(parts.warm, d.warm)
	if spans, worst, k := in.exceeding(d, offset); len(spans) > 0 {
		word := "high"
		if parts.offset < 0 {
			word = "low"
		}
		f := fact{variable: sounding.Pressure, severity: sounding.Questionable, spans: spans, measured: parts.offset, limit: math.NaN(), unit: "hPa"}
		f.sentence = fmt.Sprintf("hydrostatic height differs from satellite height by %+.0f m at %s and grows as 1/p: the barometer reads %.2f ± %.2f hPa too %s throughout", worst, at(k), math.Abs(parts.offset), parts.uOffset, word)
		if u := in.sheetBarometer(); u > 0 {
			f.limit = in.set.BarometerHeight.K * u
			if math.Abs(parts.offset) <= f.limit {
				f.severity = sounding.Note
				f.sentence += fmt.Sprintf(", within %g times its stated uncertainty of %.2g hPa", in.set.BarometerHeight.K, u)
			}
		}
		b.find(f)
	}
	if spans, worst, k := in.exceeding(d, warm); len(spans) > 0 {
		word := "high"
		if parts.warm < 0 {
			word = "low"
		}
		severity := sounding.Questionable
		if d.most(offset) > 3*d.most(warm) {
			severity = sounding.Note // an ailing barometer may be behind this as well
		}
		if d.moist >= tellsNothing {
			b.find(fact{variable: sounding.Temperature, severity: sounding.Note, spans: spans, unflagged: true, measured: worst, limit: d.limit[k], unit: "m",
				sentence: fmt.Sprintf("hydrostatic height differs from height by %+.0f m at %s: without humidity the thickness of the air is open by ±%.0f m, so this says nothing of temperature", worst, at(k), d.moist)})
			spans = nil
		}
		if len(spans) > 0 && severity > sounding.Note && math.Abs(parts.warm) > 3*parts.uWarm {
			// A mean over the whole column that stands this far out is of the whole column.
			spans = []sounding.Span{in.ascent}
		}
		if len(spans) > 0 {
			b.find(fact{variable: sounding.Temperature, severity: severity, spans: spans, measured: parts.warm, limit: math.NaN(), unit: "K",
				sentence: fmt.Sprintf("hydrostatic height differs from satellite height by %+.0f m at %s and grows as ln p: temperature is %.1f ± %.1f K too %s on average", worst, at(k), math.Abs(parts.warm), parts.uWarm, word)})
		}
	}
	if spans, worst, k := in.exceeding(d, parts.rest); len(spans) > 0 {
		sentence := fmt.Sprintf("hydrostatic height differs from satellite height by %+.0f m at %s", worst, at(k))
		if stepped {
			sentence += ", after a step"
		} else {
			sentence += " in a way that follows no simple shape"
		}
		b.find(fact{variable: sounding.Pressure, severity: sounding.Questionable, spans: spans, measured: worst, limit: d.limit[k], unit: "m", sentence: sentence})
	}
}

// tellsNothing is the thickness in m left open for want of humidity beyond which no
// difference of heights is laid on temperature (our choice: 10 m is 0.3 K at 100 hPa).
const tellsNothing = 10.0

// most is the largest of a curve in units of the limit.
func (d *difference) most(y []float64) float64 {
	m := 0.0
	for i, x := range y {
		m = max(m, math.Abs(x)/d.limit[i])
	}
	return m
}

// pressureNoise reports stretches in which the barometer scatters.
func (b *builder) pressureNoise() {
	in := b.in
	s := in.of(sounding.Pressure)
	limit := in.set.BarometerHeight.PressureNoise
	if in.ctx.Sheet != nil {
		limit = max(limit, 5*in.ctx.Sheet.Pressure.Noise)
	}
	size := max(20, in.rows(60))
	var spans []sounding.Span
	worst := 0.0
	for k, noise := range chunkNoise(s.x, size) {
		from, to := k*size, min((k+1)*size, s.len())
		if to-from < 10 || noise <= limit || !in.ascent.Contains(int(s.row[from])) || !in.ascent.Contains(int(s.row[to-1])) {
			continue
		}
		worst = max(worst, noise)
		span := s.span(from, to)
		if n := len(spans) - 1; n >= 0 && span.From-spans[n].To <= 2 {
			spans[n].To = span.To
		} else {
			spans = append(spans, span)
		}
	}
	if len(spans) > 0 {
		b.find(fact{variable: sounding.Pressure, severity: sounding.Questionable, spans: spans, measured: worst, limit: limit, unit: "hPa",
			sentence: fmt.Sprintf("pressure scatters by %.2f hPa %s", worst, in.place(spans...))})
	}
}

// heightDifference computes the difference; why says why it could not.
func (in *input) heightDifference() (d *difference, why string) {
	sheet := in.ctx.Sheet
	if sheet != nil && !sheet.Pressure.Sensor {
		return nil, "the radiosonde has no barometer: its pressure comes from height"
	}
	p, t, z := in.of(sounding.Pressure), in.cols.Values(sounding.Temperature), in.present(sounding.HeightMSL)
	switch {
	case p.len() == 0:
		return nil, "it has no value in flight"
	case z == nil:
		return nil, "there is no satellite height"
	case t == nil:
		return nil, "there is no temperature"
	case !in.ctx.Events.Release.Found || in.ascent.Len() < 20:
		return nil, "there is no ascent to follow"
	}
	formula := in.formula()
	rh, _ := in.humid()
	stride := max(1, in.ascent.Len()/1500)
	d = &difference{}
	var press, virtual, height []float64
	// Without humidity the air is taken as half saturated, and what that leaves open of
	// the thickness widens the limit.
	const unknownRH, fresh = 50.0, 120.0 // %, s
	next, lastRH, lastAt := in.ascent.From, unknownRH, math.Inf(-1)
	var open []float64 // K of virtual temperature, half width
	for i, x := range p.x {
		row := int(p.row[i])
		if row < next || row >= in.ascent.To {
			continue
		}
		if !(x > 0) || math.IsNaN(t[row]) || math.IsNaN(z[row]) {
			continue
		}
		next = row + stride
		if rh != nil && !math.IsNaN(rh[row]) {
			lastRH, lastAt = min(max(rh[row], 0), 100), p.t[i]
		}
		tv, half := t[row], 0.0
		if x > 200 {
			used := lastRH
			if p.t[i]-lastAt > fresh {
				used = unknownRH
				half = (humidity.VirtualTemperature(tv, formula.FromRelative(100, tv), x) - tv) / 2
			}
			if used > 0 {
				tv = humidity.VirtualTemperature(tv, formula.FromRelative(used, tv), x)
			}
		}
		open = append(open, half)
		press, virtual, height = append(press, x), append(virtual, tv), append(height, z[row])
		d.row, d.t = append(d.row, p.row[i]), append(d.t, p.t[i])
	}
	if len(press) < 20 {
		return nil, "pressure, temperature and satellite height are hardly ever there together"
	}
	scale := earth.HeightScaleAt(in.latitude())
	satellite := make([]float64, len(press))
	for i, h := range height {
		satellite[i] = scale.Geopotential(h)
	}
	base := in.surfaceBase(scale, press[0], virtual[0])
	// A surface pressure far from the barometer's is a matter of the launch record.
	d.absolute = math.Abs(base-satellite[0]) < 500
	if !d.absolute {
		base = satellite[0]
	}
	d.d, d.p, d.z = make([]float64, len(press)), press, height
	hydrostatic.HeightsFromPressure(d.d, press, virtual, base)
	for i := range d.d {
		d.d[i] -= satellite[i]
	}
	if !d.absolute { // the first ten seconds are zero by definition
		n := min(len(d.d), max(5, in.rows(10)/stride))
		zero := smooth.Median(d.d[:n], nil)
		for i := range d.d {
			d.d[i] -= zero
		}
	}
	d.gravity = make([]float64, len(press))
	for i, h := range height {
		d.gravity[i] = h - satellite[i] - (height[0] - satellite[0])
	}
	d.offset, d.warm, d.limit = make([]float64, len(press)), make([]float64, len(press)), make([]float64, len(press))
	const perKelvin = constants.Rd / constants.G0
	d.perPressure = make([]float64, len(press))
	moist := 0.0 // m, of thickness
	for i, x := range press {
		if i > 0 {
			moist += perKelvin * 0.5 * (open[i-1] + open[i]) * math.Abs(math.Log(press[i-1]/x)) / math.Sqrt(3)
		}
		d.perPressure[i] = hydrostatic.HeightPerPressure(x, virtual[i])
		d.offset[i] = -d.perPressure[i]
		if !d.absolute {
			d.offset[i] += hydrostatic.HeightPerPressure(press[0], virtual[0])
		}
		d.warm[i] = perKelvin * math.Log(press[0]/x)
		u := in.differenceU(height[i])
		d.limit[i] = in.set.BarometerHeight.K * math.Hypot(u, moist)
	}
	d.moist = moist
	return d, ""
}

// surfaceBase is the geopotential height of the first sample by the surface pressure
// of the launch record, NaN where that or the site's height is not there.
func (in *input) surfaceBase(scale earth.HeightScale, p, virtual float64) float64 {
	r := in.ctx.Record
	if r == nil || !r.Surface.Pressure.Set() || !r.Site.Height.Set() {
		return math.NaN()
	}
	at := r.Site.Barometer.Or(r.Site.Height.Value())
	return scale.Geopotential(at) + hydrostatic.Thickness(r.Surface.Pressure.Value(), p, virtual, virtual)
}

// differenceU is the default standard uncertainty of the difference at a height, m.
func (in *input) differenceU(z float64) float64 {
	set := &in.set.BarometerHeight
	switch {
	case z < 10000:
		return set.Low
	case z < 20000:
		return set.Low + (set.At20-set.Low)*(z-10000)/10000
	}
	return set.At20 + (set.At30-set.At20)*(z-20000)/10000
}

// exceeding returns where a curve along d stays beyond the limit long enough, and the
// row of d with the largest of it there.
func (in *input) exceeding(d *difference, y []float64) (spans []sounding.Span, worst float64, at int) {
	const join = 3
	best := 0.0
	for i := 0; i < len(y); {
		if math.Abs(y[i]) <= d.limit[i] {
			i++
			continue
		}
		j, last := i, i
		for j < len(y) && j-last <= join {
			if math.Abs(y[j]) > d.limit[j] {
				last = j
			}
			j++
		}
		if d.t[last]-d.t[i] >= in.set.BarometerHeight.Least {
			spans = append(spans, sounding.Span{From: int(d.row[i]), To: int(d.row[last]) + 1})
			for k := i; k <= last; k++ {
				if r := math.Abs(y[k]) / d.limit[k]; r > best {
					best, worst, at = r, y[k], k
				}
			}
		}
		i = last + 1
	}
	return spans, worst, at
}

// parts are what a difference is made of.
type parts struct {
	constant, offset, warm float64 // m, hPa, K
	uOffset, uWarm         float64
	rest                   []float64 // m
	geopotential           bool      // the heights are geopotential already
}

// What the parts may usually be, k = 1, so that one does not grow only to make up for
// another: m, hPa, K (our proposal).
const usualConstant, usualOffset, usualWarm = 30.0, 1.0, 0.7

// decompose fits constant, pressure offset and mean temperature error together by
// weighted least squares with their usual sizes as weak knowledge, one row in thirty
// counted as independent. Where nobody knows what the heights are, those that fit far
// better as geopotential are taken so.
func (d *difference) decompose(unknown bool) parts {
	p, cost := d.fit(d.d)
	if last := len(d.d) - 1; unknown && d.gravity[last] > d.limit[last]/3 {
		moved := make([]float64, len(d.d))
		for i := range moved {
			moved[i] = d.d[i] - d.gravity[i]
		}
		if q, other := d.fit(moved); other < 0.5*cost && cost > 1 {
			q.geopotential = true
			return q
		}
	}
	return p
}

func (d *difference) fit(y []float64) (parts, float64) {
	const correlated = 30
	var a [3][3]float64
	var r [3]float64
	constant := 0.0
	if d.absolute {
		constant = 1
	}
	weight := make([]float64, len(y))
	for i := range y {
		weight[i] = 9 / (d.limit[i] * d.limit[i] * correlated) // the limit is three standard uncertainties
	}
	// Twice: the second time without rows far off the first fit (steps, spikes).
	var x [3]float64
	var uOffset, uWarm float64
	rest := make([]float64, len(y))
	for pass := range 2 {
		a, r = [3][3]float64{}, [3]float64{}
		a[0][0] = 1 / (usualConstant * usualConstant)
		a[1][1] = 1 / (usualOffset * usualOffset)
		a[2][2] = 1 / (usualWarm * usualWarm)
		cut := math.Inf(1)
		if pass == 1 {
			size := make([]float64, len(y))
			for i := range y {
				size[i] = math.Abs(rest[i]) / d.limit[i]
			}
			cut = max(1, 5*smooth.Median(size, nil))
		}
		for i, v := range y {
			if pass == 1 && math.Abs(rest[i])/d.limit[i] > cut {
				continue
			}
			b := [3]float64{constant, d.offset[i], d.warm[i]}
			for m := range b {
				for n := range b {
					a[m][n] += weight[i] * b[m] * b[n]
				}
				r[m] += weight[i] * b[m] * v
			}
		}
		x, uOffset, uWarm = solve(a, r)
		for i := range y {
			rest[i] = y[i] - x[0]*constant - x[1]*d.offset[i] - x[2]*d.warm[i]
		}
	}
	cost := x[0]*x[0]/(usualConstant*usualConstant) + x[1]*x[1]/(usualOffset*usualOffset) + x[2]*x[2]/(usualWarm*usualWarm)
	for i := range y {
		cost += weight[i] * rest[i] * rest[i]
	}
	return parts{constant: x[0], offset: x[1], warm: x[2], uOffset: uOffset, uWarm: uWarm, rest: rest}, cost
}

// solve solves the symmetric positive system by Cramer's rule and returns the
// standard uncertainties of the second and third unknown.
func solve(a [3][3]float64, r [3]float64) (x [3]float64, u1, u2 float64) {
	minor := func(i, j int) float64 {
		m := func(k, skip int) int {
			if k >= skip {
				return k + 1
			}
			return k
		}
		v := a[m(0, i)][m(0, j)]*a[m(1, i)][m(1, j)] - a[m(0, i)][m(1, j)]*a[m(1, i)][m(0, j)]
		if (i+j)%2 == 1 {
			return -v
		}
		return v
	}
	det := a[0][0]*minor(0, 0) + a[0][1]*minor(0, 1) + a[0][2]*minor(0, 2)
	if !(det > 0) {
		return x, math.NaN(), math.NaN()
	}
	for i := range x {
		for j := range r {
			x[i] += minor(j, i) * r[j] / det
		}
	}
	return x, math.Sqrt(max(0, minor(1, 1)/det)), math.Sqrt(max(0, minor(2, 2)/det))
}

// differenceSteps reports steps of the difference and tells whether there were any.
func (b *builder) differenceSteps(d *difference) bool {
	in, set := b.in, &b.in.set.BarometerHeight
	s := &samples{v: sounding.HeightMSL, t: d.t, x: d.d, row: d.row}
	stride := 1.0
	if len(d.row) > 1 {
		stride = (d.t[len(d.t)-1] - d.t[0]) / float64(len(d.t)-1)
	}
	jumps := s.steps(max(in.interval, stride), func(sounding.Variable, float64) float64 { return set.Step })
	any := false
	for _, j := range jumps {
		k := 0
		for k < len(d.row)-1 && int(d.row[k]) < j.row {
			k++
		}
		near := d.d[max(0, k-20):min(len(d.d), k+20)]
		// A step must be one of pressure, too: near the top 0.1 hPa is 60 m.
		sure := (in.set.Step.Pressure + in.set.Step.PressureFraction*d.p[k]) * d.perPressure[k]
		if k < 1 || math.Abs(j.size) < max(6*chunkNoise(near, len(near))[0], sure) {
			continue
		}
		// Which of the two stepped? The one whose own step is far from a usual climb.
		climb := (d.z[min(k+5, len(d.z)-1)] - d.z[max(k-6, 0)] - (d.z[k] - d.z[k-1])) / max(d.t[min(k+5, len(d.t)-1)]-d.t[max(k-6, 0)]-(d.t[k]-d.t[k-1]), 1e-9)
		own := d.z[k] - d.z[k-1] - climb*(d.t[k]-d.t[k-1])
		v, word := sounding.Pressure, "pressure"
		if math.Abs(own) > math.Abs(j.size)/2 {
			v, word = sounding.HeightMSL, "satellite height"
		}
		any = true
		span := sounding.Span{From: int(d.row[k-1]), To: int(d.row[k]) + 1}
		b.find(fact{variable: v, severity: sounding.Questionable, spans: []sounding.Span{span}, measured: j.size, limit: set.Step, unit: "m",
			sentence: fmt.Sprintf("hydrostatic minus satellite height steps by %+.0f m %s: %s stepped", j.size, in.place(span), word)})
	}
	return any
}

// heightNoise reports stretches in which satellite height scatters.
func (b *builder) heightNoise() {
	in, set := b.in, &b.in.set.BarometerHeight
	s := in.of(sounding.HeightMSL)
	if s.len() < 60 {
		return
	}
	size := max(20, in.rows(60))
	var spans []sounding.Span
	worst := 0.0
	for k, noise := range chunkNoise(s.x, size) {
		from, to := k*size, min((k+1)*size, s.len())
		if noise <= set.Noise || to-from < 10 || !in.ascent.Contains(int(s.row[from])) || !in.ascent.Contains(int(s.row[to-1])) {
			continue
		}
		worst = max(worst, noise)
		span := s.span(from, to)
		if n := len(spans) - 1; n >= 0 && span.From-spans[n].To <= 2 {
			spans[n].To = span.To
		} else {
			spans = append(spans, span)
		}
	}
	b.ran(sounding.HeightMSL)
	if len(spans) > 0 {
		b.find(fact{variable: sounding.HeightMSL, severity: sounding.Questionable, spans: spans, measured: worst, limit: set.Noise, unit: "m",
			sentence: fmt.Sprintf("satellite height scatters by %.0f m %s: poor satellite geometry", worst, in.place(spans...))})
	}
}

// formula is the saturation formula of the sheet's humidity, Hyland and Wexler where
// there is none.
func (in *input) formula() humidity.Formula {
	if in.ctx.Sheet != nil {
		if f, err := humidity.ParseFormula(in.ctx.Sheet.Humidity.Formula); err == nil && f != humidity.NoFormula {
			return f
		}
	}
	return humidity.HylandWexler
}
