package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

const metresPerSecondInKnot = 1852.0 / 3600

// doubts collects the rows of one variable that fail a test, by severity.
type doubts struct {
	spans [3][]sounding.Span // by severity
	worst [3]float64         // size of the excess
	value [3]float64
	limit [3]float64
	row   [3]int
}

// add takes a row in; excess orders which value is quoted.
func (d *doubts) add(severity sounding.Severity, row int, excess, value, limit float64) {
	s := d.spans[severity]
	if k := len(s) - 1; k >= 0 && row-s[k].To <= 2 {
		s[k].To = row + 1
	} else {
		d.spans[severity] = append(s, sounding.Span{From: row, To: row + 1})
	}
	if len(d.spans[severity]) == 1 && d.spans[severity][0].Len() == 1 || excess > d.worst[severity] {
		d.worst[severity], d.value[severity], d.limit[severity], d.row[severity] = excess, value, limit, row
	}
}

// windows are the limits at one pressure.
type window struct{ cold, warm, low, high, fast float64 }

// windowsAt interpolates the limits in ln p; below the lowest and above the highest
// level the ends hold, except for heights, which have no limit there.
type windowsAt struct {
	set                    *GrossSettings
	lnp                    []float64
	slot                   int
	polar, tropic, plateau bool
	lastP                  float64
	last                   window
}

func (in *input) windows() *windowsAt {
	set, latitude := &in.set.Gross, in.latitude()
	w := &windowsAt{set: set, lnp: make([]float64, len(set.Level))}
	for i, p := range set.Level {
		w.lnp[i] = math.Log(p)
	}
	if r := in.ctx.Record; r != nil {
		w.plateau = r.Site.Height.Value() >= set.PlateauHeight
	}
	w.polar, w.tropic = math.Abs(latitude) >= 60, math.Abs(latitude) <= 30
	return w
}

func (w *windowsAt) at(p float64) window {
	// Neighbouring rows share a window: 0.3 % of pressure is some 20 m.
	if math.Abs(p-w.lastP) <= 0.003*w.lastP {
		return w.last
	}
	w.lastP, w.last = p, w.compute(p)
	return w.last
}

func (w *windowsAt) compute(p float64) window {
	x := math.Log(p)
	last := len(w.lnp) - 1
	for w.slot > 0 && x > w.lnp[w.slot] {
		w.slot--
	}
	for w.slot < last-1 && x < w.lnp[w.slot+1] {
		w.slot++
	}
	i := w.slot
	f := (x - w.lnp[i]) / (w.lnp[i+1] - w.lnp[i])
	inside := f >= 0 && f <= 1
	f = min(max(f, 0), 1)
	mix := func(a []float64) float64 { return a[i] + f*(a[i+1]-a[i]) }
	s := w.set
	out := window{cold: mix(s.Coldest) - s.MarginK, warm: mix(s.Warmest) + s.MarginK, low: math.Inf(-1), high: math.Inf(1), fast: mix(s.Fastest) * metresPerSecondInKnot}
	if inside {
		out.low, out.high = mix(s.Lowest)-s.MarginM, mix(s.Highest)+s.MarginM
	}
	if w.plateau {
		out.warm, out.high = out.warm+s.PlateauK, out.high+s.PlateauM
	}
	if w.polar && p < 200 {
		out.cold -= s.PolarMargin
	}
	if w.tropic && p <= 150 && p >= 50 {
		out.cold = min(out.cold, s.TropicalColdest)
	}
	return out
}

// gross compares values with what the atmosphere allows at their pressure and with
// absolute limits. Beyond a window is questionable; bad only where an absolute limit
// is broken or the value also stands out from the minute around it.
func gross(in *input) sounding.Report {
	b := in.begin(quality.Gross)
	set := &in.set.Gross
	p := in.pressureOf()
	if p == nil {
		b.windowless()
	}
	b.each([]sounding.Variable{sounding.Pressure}, func(s *samples) {
		var d doubts
		for i, x := range s.x {
			switch {
			case x <= 0:
				d.add(sounding.Bad, int(s.row[i]), -x, x, 0)
			case x > set.HighestPressure:
				d.add(sounding.Bad, int(s.row[i]), x-set.HighestPressure, x, set.HighestPressure)
			}
		}
		b.limits(s.v, &d)
	})
	b.each([]sounding.Variable{sounding.Temperature}, func(s *samples) {
		var d doubts
		w := in.windows()
		for i, x := range s.x {
			t, row := x-zeroCelsius, int(s.row[i])
			cold, warm := set.ColdestAbsolute, set.WarmestAbsolute
			if t < cold || t > warm {
				d.add(sounding.Bad, row, max(cold-t, t-warm), x, nearer(t, cold, warm)+zeroCelsius)
				continue
			}
			if p == nil || t > -40 && t < -31 { // inside every window at once
				continue
			}
			win := w.at(max(p[row], 0.1))
			if t < win.cold || t > win.warm {
				severity := sounding.Questionable
				if s.standsOut(i, set.Agree, set.StandsOut) {
					severity = sounding.Bad
				}
				d.add(severity, row, max(win.cold-t, t-win.warm), x, nearer(t, win.cold, win.warm)+zeroCelsius)
			}
		}
		b.limits(s.v, &d)
	})
	b.grossWind(p)
	b.each(heightsOf, func(s *samples) {
		var d doubts
		w := in.windows()
		lowest := math.Inf(-1)
		if in.ctx.Record != nil && in.ctx.Record.Site.Height.Set() && s.v != sounding.HeightEllipsoid {
			lowest = in.ctx.Record.Site.Height.Value() - set.BelowSite
			if r, ok := in.restOf(s.v); ok { // a wrong height of the site is the record's fault, not these samples'
				lowest = min(lowest, r.value-set.BelowSite)
			}
		}
		measured := in.present(sounding.Pressure)
		for i, x := range s.x {
			row := int(s.row[i])
			switch {
			case x > set.HighestAbsolute:
				d.add(sounding.Bad, row, x-set.HighestAbsolute, x, set.HighestAbsolute)
			case x < lowest && in.ascent.Contains(row):
				d.add(sounding.Bad, row, lowest-x, x, lowest)
			case measured != nil && measured[row] > 0 && s.v != sounding.HeightEllipsoid:
				if win := w.at(measured[row]); x < win.low || x > win.high {
					d.add(sounding.Questionable, row, max(win.low-x, x-win.high), x, nearer(x, win.low, win.high))
				}
			}
		}
		b.limits(s.v, &d)
	})
	b.each(positions, func(s *samples) {
		var d doubts
		limit := 90.0
		if s.v == sounding.Longitude {
			limit = 360
		}
		for i, x := range s.x {
			if math.Abs(x) > limit {
				d.add(sounding.Bad, int(s.row[i]), math.Abs(x)-limit, x, limit)
			}
		}
		b.limits(s.v, &d)
	})
	return b.rep
}

// windowless notes that the windows could not be used.
func (b *builder) windowless() {
	b.find(fact{variable: sounding.NoVariable, severity: sounding.Note, measured: math.NaN(), limit: math.NaN(),
		sentence: "neither pressure nor height is there, so values were compared with absolute limits only"})
}

func (b *builder) grossWind(p []float64) {
	in, set := b.in, &b.in.set.Gross
	u, v, from := in.wind()
	if from == nil {
		return
	}
	var d doubts
	w := in.windows()
	wide := set.FastestAbsolute * set.FastestAbsolute
	for i := in.flight.From; i < in.flight.To; i++ {
		square := u[i]*u[i] + v[i]*v[i]
		if !(square > 900) { // below 30 m/s, or missing
			continue
		}
		speed := math.Sqrt(square)
		limit := set.FastQuestionable
		if p != nil {
			limit = w.at(max(p[i], 0.1)).fast
		}
		switch {
		case square > wide:
			d.add(sounding.Bad, i, speed-set.FastestAbsolute, speed, set.FastestAbsolute)
		case speed > limit:
			d.add(sounding.Questionable, i, speed-limit, speed, limit)
		}
	}
	for _, x := range from {
		b.ran(x)
	}
	for severity := sounding.Questionable; severity <= sounding.Bad; severity++ {
		if spans := d.spans[severity]; len(spans) > 0 {
			sentence := fmt.Sprintf("wind is %.0f m/s, above the limit of %.0f m/s there, %s", d.value[severity], d.limit[severity], in.place(spans...))
			b.both(from, fact{severity: severity, spans: spans, measured: d.value[severity], limit: d.limit[severity], unit: "m/s", sentence: sentence})
		}
	}
}

// both adds a finding for each variable of a pair, so that both are flagged.
func (b *builder) both(pair []sounding.Variable, f fact) {
	for _, v := range pair {
		f.variable = v
		b.find(f)
	}
}

// limits adds the findings of one variable, one a severity.
func (b *builder) limits(v sounding.Variable, d *doubts) {
	for severity := sounding.Questionable; severity <= sounding.Bad; severity++ {
		spans := d.spans[severity]
		if len(spans) == 0 {
			continue
		}
		side := "above"
		if d.value[severity] < d.limit[severity] {
			side = "below"
		}
		sentence := fmt.Sprintf("%s is %s, %s the limit of %s there, %s", name(v), show(v, d.value[severity]), side, show(v, d.limit[severity]),
			b.in.place(sounding.Span{From: d.row[severity], To: d.row[severity] + 1}))
		if n := total(spans); n > 1 {
			sentence += fmt.Sprintf(", and on %s in all", plural(n, "row"))
		}
		if severity == sounding.Bad && v == sounding.Temperature {
			sentence += ": cannot be air"
		}
		b.find(fact{variable: v, severity: severity, spans: spans, measured: d.value[severity], limit: d.limit[severity], unit: v.Info().Unit, sentence: sentence})
	}
}

// nearer returns the limit a value lies beyond.
func nearer(x, low, high float64) float64 {
	if x < low {
		return low
	}
	return high
}

// standsOut tells whether sample i lies further than limit from the median of the
// samples within so many seconds of it.
func (s *samples) standsOut(i int, seconds, limit float64) bool {
	lo, hi := i, i+1
	for lo > 0 && s.t[i]-s.t[lo-1] <= seconds && i-lo < 40 {
		lo--
	}
	for hi < len(s.t) && s.t[hi]-s.t[i] <= seconds && hi-i < 40 {
		hi++
	}
	return hi-lo >= 5 && math.Abs(s.x[i]-smooth.Median(s.x[lo:hi], nil)) > limit
}

// latitude returns that of the site, else of the first position, else 45.
func (in *input) latitude() float64 {
	if r := in.ctx.Record; r != nil && r.Site.Latitude.Set() {
		return r.Site.Latitude.Value()
	}
	if s := in.of(sounding.Latitude); s.len() > 0 && math.Abs(s.x[0]) <= 90 {
		return s.x[0]
	}
	return 45
}
