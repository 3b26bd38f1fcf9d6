package report

import (
	"math"

	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/plot"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// profile is the part of a flight the charts show: the ascent, or every row where no
// ascent was found, with the vertical coordinate that is known.
type profile struct {
	f      *sounding.Final
	span   sounding.Span
	y      []float64 // vertical coordinate of each row of the span
	axis   string    // its name
	unit   string
	ascent bool
}

func newProfile(f *sounding.Final) *profile {
	p := &profile{f: f, span: f.Events.Ascent().Clip(sounding.Span{From: 0, To: f.Len()})}
	p.ascent = p.span.Len() > 0
	if !p.ascent {
		p.span = sounding.Span{From: 0, To: f.Len()}
	}
	for _, c := range []struct {
		v    sounding.Variable
		name string
	}{{sounding.HeightMSL, "height above mean sea level"}, {sounding.GeopotentialHeight, "geopotential height"}} {
		if y := p.usable(c.v); some(y) && (p.ascent || climbs(y)) {
			p.y, p.axis, p.unit = scaled(y, 1e-3), c.name, "km"
			return p
		}
	}
	if y := p.usable(sounding.Pressure); some(y) && (p.ascent || climbs(y)) {
		for i := range y {
			y[i] = earth.StandardAltitude(y[i]) / 1000
		}
		p.y, p.axis, p.unit = y, "height of the pressure in the standard atmosphere", "km"
		return p
	}
	p.y, p.axis, p.unit = scaled(append([]float64(nil), f.Time[p.span.From:p.span.To]...), 1.0/60), "time since release", "min"
	if !f.Events.Release.Found {
		p.axis = "time since the first row"
	}
	return p
}

// climbs tells whether heights in m (or pressures in hPa) span enough to serve as an axis:
// rows from before release do not.
func climbs(x []float64) bool {
	var r plot.Range
	for _, v := range x {
		r.Add(v)
	}
	return r.Max-r.Min > 100
}

func scaled(x []float64, by float64) []float64 {
	for i := range x {
		x[i] *= by
	}
	return x
}

func some(x []float64) bool {
	for _, v := range x {
		if v == v {
			return true
		}
	}
	return false
}

// usable returns a copy of the span's values of v, NaN where bad or missing; nil where the
// flight has no such variable.
func (p *profile) usable(v sounding.Variable) []float64 {
	s := p.f.Get(v)
	if s == nil {
		return nil
	}
	out := append([]float64(nil), s.Values[p.span.From:p.span.To]...)
	for i := range out {
		if flagOf(s, p.span.From+i) == quality.Bad {
			out[i] = math.NaN()
		}
	}
	return out
}

// values returns the span's values of v, flags apart; nil where there are none.
func (p *profile) values(c *sounding.Columns, v sounding.Variable) []float64 {
	if c == nil {
		return nil
	}
	s := c.Get(v)
	if s == nil || len(s.Values) < p.span.To {
		return nil
	}
	return s.Values[p.span.From:p.span.To]
}

func flagOf(s *sounding.Series, i int) quality.Flag {
	switch {
	case s.Values[i] != s.Values[i]:
		return quality.Missing
	case s.Flags == nil || s.Flags[i] == 0:
		return quality.NotEvaluated
	}
	return s.Flags[i]
}

// states returns how each sample of the span is to be drawn.
func (p *profile) states(s *sounding.Series) []plot.State {
	out := make([]plot.State, p.span.Len())
	for i := range out {
		switch flagOf(s, p.span.From+i) {
		case quality.Questionable:
			out[i] = plot.Doubtful
		case quality.Bad:
			out[i] = plot.Bad
		case quality.Missing:
			out[i] = plot.Absent
		}
	}
	return out
}

// curve makes the final curve of v with its band of two standard uncertainties; shift is
// subtracted from the values. It is nil where the flight has no value of v in the span.
func (p *profile) curve(v sounding.Variable, class string, shift float64, band bool) *plot.Curve {
	s := p.f.Get(v)
	if s == nil {
		return nil
	}
	k := &plot.Curve{Class: class, X: make([]float64, p.span.Len()), State: p.states(s)}
	if !some(s.Values[p.span.From:p.span.To]) {
		return nil
	}
	for i := range k.X {
		k.X[i] = s.Values[p.span.From+i] - shift
	}
	if band && (s.Independent != nil || s.Common != nil) {
		k.Half = make([]float64, len(k.X))
		for i := range k.Half {
			k.Half[i] = 2 * s.Total(p.span.From+i)
		}
	}
	return k
}

// received makes the thin curve of v as the source has it.
func (p *profile) received(v sounding.Variable, shift float64) *plot.Curve {
	x := p.values(p.f.Before, v)
	if x == nil || !some(x) {
		return nil
	}
	k := &plot.Curve{Class: "raw", X: make([]float64, len(x))}
	for i := range x {
		k.X[i] = x[i] - shift
	}
	return k
}

// iceSaturation returns the relative humidity over water of air saturated over ice, NaN
// above 0 °C and where the temperature is not usable.
func (p *profile) iceSaturation() []float64 {
	t := p.usable(sounding.Temperature)
	if !some(t) {
		return nil
	}
	out := make([]float64, len(t))
	for i := range t {
		out[i] = math.NaN()
		if t[i] < 273.15 {
			out[i] = humidity.HylandWexler.IceSaturation(t[i])
		}
	}
	return out
}

// rangeOf returns the span of the values that are neither bad nor missing, and of those
// as received as far as a third beyond it: one wild sample must not flatten a panel.
func rangeOf(final []*plot.Curve, received ...*plot.Curve) plot.Range {
	var r plot.Range
	for _, k := range final {
		if k == nil {
			continue
		}
		for i, x := range k.X {
			if k.State == nil || k.State[i] != plot.Bad {
				r.Add(x)
			}
		}
	}
	if !r.Seen {
		for _, k := range final {
			if k != nil {
				for _, x := range k.X {
					r.Add(x)
				}
			}
		}
	}
	low, high := r.Min, r.Max
	third := (high - low) / 3
	for _, k := range append(received, final...) {
		if k == nil {
			continue
		}
		for _, x := range k.X {
			if !r.Seen {
				r.Add(x)
			} else if x == x {
				r.Add(math.Max(low-third, math.Min(high+third, x)))
			}
		}
	}
	return r
}
