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
	spans, worst, at := in.exceeding(d)
	if len(spans) == 0 {
		return b.rep
	}
	shape := d.diagnose()
	f := fact{variable: sounding.Pressure, severity: sounding.Questionable, spans: spans, measured: worst, limit: d.limit[at], unit: "m"}
	size := fmt.Sprintf("hydrostatic height differs from satellite height by %+.0f m at %.1f km (%.3g hPa)", worst, d.z[at]/1000, d.p[at])
	switch {
	case stepped:
		f.sentence = size + ", after a step"
	case shape.name == "geopotential":
		f.variable, f.severity, f.unflagged = sounding.HeightMSL, sounding.Note, true
		f.sentence = fmt.Sprintf("the heights agree with hydrostatic ones as they stand, %+.0f m too low for geometric heights at %.1f km: the source gives geopotential height", -worst, d.z[at]/1000)
	case shape.name == "offset":
		f.measured, f.limit, f.unit = shape.size, math.NaN(), "hPa"
		word := "high"
		if shape.size < 0 {
			word = "low"
		}
		f.sentence = fmt.Sprintf("%s and grows as 1/p: the barometer reads %.2f ± %.2f hPa too %s throughout", size, math.Abs(shape.size), shape.u, word)
		if sheet := in.ctx.Sheet; sheet != nil && sheet.Pressure.Calibration > 0 {
			f.limit = in.set.BarometerHeight.K * sheet.Pressure.Calibration
			if math.Abs(shape.size) <= f.limit {
				f.severity = sounding.Note
				f.sentence += fmt.Sprintf(", within %g times its stated uncertainty of %.2g hPa", in.set.BarometerHeight.K, sheet.Pressure.Calibration)
			}
		}
	case shape.name == "temperature":
		f.measured, f.limit, f.unit = shape.size, math.NaN(), "K"
		f.variable = sounding.Temperature
		f.sentence = fmt.Sprintf("%s and grows as ln p: temperature is %+.1f ± %.1f K off on average (radiation?)", size, shape.size, shape.u)
	case shape.name == "constant":
		f.measured, f.limit = shape.size, d.limit[0]
		f.variable, f.unflagged = sounding.NoVariable, true
		f.sentence = fmt.Sprintf("hydrostatic height differs from satellite height by a constant %+.0f m from release on: the height datum, the site's height or the surface pressure (1 hPa is 8.4 m there)", shape.size)
	default:
		f.sentence = size + "; the difference follows no simple shape"
	}
	b.find(f)
	return b.rep
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
	rh := in.cols.Values(sounding.Humidity)
	if in.present(sounding.Humidity) == nil {
		rh = in.present(sounding.HumidityA)
	}
	stride := max(1, in.ascent.Len()/1500)
	d = &difference{}
	var press, virtual, height []float64
	next, lastRH := in.ascent.From, 0.0
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
			lastRH = min(max(rh[row], 0), 100)
		}
		tv := t[row]
		if x > 200 && lastRH > 0 {
			tv = humidity.VirtualTemperature(tv, formula.FromRelative(lastRH, tv), x)
		}
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
	d.absolute = !math.IsNaN(base)
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
	for i, x := range press {
		d.perPressure[i] = hydrostatic.HeightPerPressure(x, virtual[i])
		d.offset[i] = -d.perPressure[i]
		if !d.absolute {
			d.offset[i] += hydrostatic.HeightPerPressure(press[0], virtual[0])
		}
		d.warm[i] = perKelvin * math.Log(press[0]/x)
		d.limit[i] = in.set.BarometerHeight.K * in.differenceU(height[i])
	}
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

// exceeding returns where the difference stays beyond its limit long enough, and
// the row of d with the largest one there.
func (in *input) exceeding(d *difference) (spans []sounding.Span, worst float64, at int) {
	const join = 3
	best := 0.0
	for i := 0; i < len(d.d); {
		if math.Abs(d.d[i]) <= d.limit[i] {
			i++
			continue
		}
		j, last := i, i
		for j < len(d.d) && j-last <= join {
			if math.Abs(d.d[j]) > d.limit[j] {
				last = j
			}
			j++
		}
		if d.t[last]-d.t[i] >= in.set.BarometerHeight.Least {
			spans = append(spans, sounding.Span{From: int(d.row[i]), To: int(d.row[last]) + 1})
			for k := i; k <= last; k++ {
				if r := math.Abs(d.d[k]) / d.limit[k]; r > best {
					best, worst, at = r, d.d[k], k
				}
			}
		}
		i = last + 1
	}
	return spans, worst, at
}

// shape is the simple cause that explains a difference best.
type shape struct {
	name    string // "", constant, offset, temperature
	size, u float64
}

// diagnose fits each simple cause by weighted least squares and takes the one that
// leaves least, where it leaves less than half of the whole.
func (d *difference) diagnose() shape {
	one := make([]float64, len(d.d))
	for i := range one {
		one[i] = 1
	}
	left := func(basis []float64) (size, u, share float64) {
		var sxx, sxy, syy float64
		for i, y := range d.d {
			w := 1 / (d.limit[i] * d.limit[i])
			sxx, sxy, syy = sxx+w*basis[i]*basis[i], sxy+w*basis[i]*y, syy+w*y*y
		}
		if sxx == 0 || syy == 0 {
			return 0, 0, 1
		}
		size = sxy / sxx
		rest := max(0, syy-size*sxy)
		// Differences hold together over minutes: count one in thirty as independent.
		independent := max(2, float64(len(d.d))/30)
		u = math.Sqrt(rest / (sxx * independent))
		return size, u, math.Sqrt(rest / syy)
	}
	if size, u, share := left(d.gravity); share < 0.4 && size > 0.75 && size < 1.25 {
		return shape{"geopotential", size, u}
	}
	best, share := shape{}, 0.5
	try := func(name string, basis []float64) {
		size, u, s := left(basis)
		if s < share {
			best, share = shape{name, size, u}, s
		}
	}
	try("offset", d.offset)
	if d.absolute {
		try("constant", one)
	}
	try("temperature", d.warm)
	return best
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
		if noise <= set.Noise || to-from < 10 || !in.ascent.Contains(int(s.row[from])) {
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
