package profile

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// ErrNoDescent is returned for a flight whose data hold no way down.
var ErrNoDescent = errors.New("the flight has no descent: its data end before or at the burst")

// Of returns the profile of that kind. The ascent is the flight itself. Nothing given is
// changed. An error wraps ErrNoDescent where a way down is needed and there is none.
func Of(f *sounding.Final, kind sounding.ProfileKind, set *Settings) (*sounding.Final, error) {
	if set == nil {
		set = Default()
	}
	if err := set.Validate(); err != nil {
		return nil, fmt.Errorf("profile settings: %w", err)
	}
	switch kind {
	case sounding.AscentProfile, "":
		return f, nil
	case sounding.DescentProfile:
		return Descent(f, set)
	case sounding.NominalProfile:
		return Nominal(f, set)
	case sounding.MergedProfile:
		return Merged(f, set)
	}
	_, err := sounding.ParseProfileKind(string(kind))
	return nil, err
}

// Descent returns the way down, last row first: pressure falls from row to row as on the
// way up, times run backwards and stay those of the flight. Its values are those of the
// flight, corrected with the signs and rates of a descent; what lies within AfterBurst of
// the burst becomes questionable.
func Descent(f *sounding.Final, set *Settings) (*sounding.Final, error) {
	span := f.Events.Descent().Clip(sounding.Span{From: 0, To: f.Len()})
	if span.Len() < 2 {
		return nil, ErrNoDescent
	}
	rows := make([]int, span.Len())
	for k := range rows {
		rows[k] = span.To - 1 - k
	}
	out := pick(f, rows)
	doubted := 0
	if burst := f.Events.Burst.Height.Value(); !math.IsNaN(burst) {
		doubted = doubt(out, burst-set.AfterBurst)
	}
	o := &out.Origin
	*o = sounding.ProfileOrigin{Kind: sounding.DescentProfile}
	o.GroundPressure, o.GroundHeight, o.GroundGeopotential = ground(f)
	o.Note = fmt.Sprintf("the way down, corrected as a descent, from %.0f to %.0f s after release", out.Time[out.Len()-1], out.Time[0])
	if doubted > 0 {
		o.Note += fmt.Sprintf("; within %.0f m of the burst it is questionable", set.AfterBurst)
	}
	return out, nil
}

// pick returns the flight made of some of its rows, in their order, as one ascent.
func pick(f *sounding.Final, rows []int) *sounding.Final {
	n := len(rows)
	out := *f
	numbers := func(x []float64) []float64 {
		if x == nil {
			return nil
		}
		y := make([]float64, n)
		for k, i := range rows {
			y[k] = x[i]
		}
		return y
	}
	out.Time = numbers(f.Time)
	out.Line, out.Source = make([]int32, n), make([]uint8, n)
	for k, i := range rows {
		out.Line[k], out.Source[k] = f.Line[i], f.Source[i]
	}
	out.Series, out.Extra = make([]sounding.Series, 0, len(f.Series)), nil
	for _, s := range f.Series {
		x := sounding.Series{Variable: s.Variable, Values: numbers(s.Values), Independent: numbers(s.Independent), Common: numbers(s.Common)}
		if s.Flags != nil {
			x.Flags = make([]quality.Flag, n)
			for k, i := range rows {
				x.Flags[k] = s.Flags[i]
			}
		}
		if s.Tests != nil {
			x.Tests = make([]quality.Bits, n)
			for k, i := range rows {
				x.Tests[k] = s.Tests[i]
			}
		}
		out.Series = append(out.Series, x)
	}
	out.Before = nil
	whole := sounding.Span{From: 0, To: n}
	out.Events.Release.Found, out.Events.Release.Row = true, 0
	out.Events.Phases = []sounding.PhaseSpan{{Phase: sounding.Ascending, Span: whole}}
	return &out
}

// doubt makes what is good above a height questionable and returns how many rows it met.
func doubt(f *sounding.Final, above float64) int {
	z := f.Get(sounding.HeightMSL)
	if z == nil {
		z = f.Get(sounding.GeopotentialHeight)
	}
	if z == nil {
		return 0
	}
	n := 0
	for i, h := range z.Values {
		if !(h > above) {
			continue
		}
		n++
		for _, v := range []sounding.Variable{sounding.Temperature, sounding.Humidity, sounding.DewPoint, sounding.WindU, sounding.WindV, sounding.WindSpeed, sounding.WindDirection} {
			if s := f.Get(v); s != nil && s.Flags != nil && (s.Flags[i] == quality.Good || s.Flags[i] == quality.NotEvaluated) {
				s.Flags[i] = quality.Questionable
			}
		}
	}
	return n
}

// ground returns pressure and heights of the release point: those of the ascent's first
// usable samples near it, else what the launch record says of the site.
func ground(f *sounding.Final) (pressure, height, geopotential sounding.Number) {
	span := f.Events.Ascent().Clip(sounding.Span{From: 0, To: f.Len()})
	const near = 60 // rows
	first := func(v sounding.Variable) sounding.Number {
		s := f.Get(v)
		for i := span.From; s != nil && i < min(span.To, span.From+near); i++ {
			if usable(s, i) {
				return sounding.Number(s.Values[i])
			}
		}
		return sounding.NotSet
	}
	pressure, height, geopotential = first(sounding.Pressure), first(sounding.HeightMSL), first(sounding.GeopotentialHeight)
	if r := f.Record; r != nil {
		if !pressure.Set() {
			pressure = r.Surface.Pressure
		}
		if !height.Set() {
			height = r.Site.Height
		}
	}
	return pressure, height, geopotential
}

func usable(s *sounding.Series, i int) bool {
	if math.IsNaN(s.Values[i]) || math.IsInf(s.Values[i], 0) {
		return false
	}
	return s.Flags == nil || s.Flags[i] != quality.Bad && s.Flags[i] != quality.Missing
}

// firstPassage returns the rows of the ascent whose usable pressure is below that of every
// row before.
func firstPassage(f *sounding.Final) []int {
	p := f.Get(sounding.Pressure)
	if p == nil {
		return nil
	}
	span := f.Events.Ascent().Clip(sounding.Span{From: 0, To: f.Len()})
	var rows []int
	lowest := math.Inf(1)
	for i := span.From; i < span.To; i++ {
		if v := p.Values[i]; usable(p, i) && v > 0 && v < lowest {
			lowest = v
			rows = append(rows, i)
		}
	}
	return slices.Clip(rows)
}
