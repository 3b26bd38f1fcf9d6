package comparison

import (
	"math"
	"slices"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// profile is a side made ready: where each row lies, NaN where that is not known, and the
// rows that count.
type profile struct {
	side     Side
	pressure []float64 // hPa; nil where there is none on the ascent
	height   []float64
	heightIs sounding.Variable
}

func newProfile(s Side) *profile {
	place := s.Place
	if place == nil {
		place = s.Values
	}
	s.Ascent = s.Ascent.Clip(sounding.Span{From: 0, To: s.Values.Len()})
	p := &profile{side: s, pressure: onAscent(place.Usable(sounding.Pressure), s.Ascent), heightIs: sounding.HeightMSL}
	if p.height = onAscent(place.Usable(sounding.HeightMSL), s.Ascent); p.height == nil {
		if p.height = onAscent(place.Usable(sounding.GeopotentialHeight), s.Ascent); p.height != nil {
			p.heightIs = sounding.GeopotentialHeight
		}
	}
	return p
}

// onAscent returns x where the ascent holds a number, else nil.
func onAscent(x []float64, ascent sounding.Span) []float64 {
	if x == nil || !slices.ContainsFunc(x[ascent.From:ascent.To], func(v float64) bool { return !math.IsNaN(v) }) {
		return nil
	}
	return x
}

// valid returns the values of v that may be compared, NaN elsewhere; nil where the ascent
// has none. As received every number counts, whatever its flag.
func (p *profile) valid(v sounding.Variable) []float64 {
	s := p.side.Values.Get(v)
	if s == nil {
		return nil
	}
	out := make([]float64, len(s.Values))
	any := false
	for i := range out {
		out[i] = math.NaN()
		if !p.side.Ascent.Contains(i) || math.IsNaN(s.Values[i]) {
			continue
		}
		if !p.side.Raw && s.Flags != nil && (s.Flags[i] == quality.Bad || s.Flags[i] == quality.Missing) {
			continue
		}
		out[i], any = s.Values[i], true
	}
	if !any {
		return nil
	}
	return out
}

// interval is the usual time between rows of the ascent, s.
func (p *profile) interval() float64 {
	t := p.side.Values.Time[p.side.Ascent.From:p.side.Ascent.To]
	if len(t) < 2 {
		return 0
	}
	steps := make([]float64, len(t)-1)
	for i := range steps {
		steps[i] = t[i+1] - t[i]
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// rising returns the rows of the ascent that lie higher along the axis than every one
// before, with their places. A balloon that sinks and rises again counts once.
func (p *profile) rising(axis Axis) (rows []int, places []float64) {
	at := func(i int) float64 { return p.side.Values.Time[i] }
	switch axis {
	case ByPressure:
		if p.pressure == nil {
			return nil, nil
		}
		at = func(i int) float64 { return -math.Log(p.pressure[i]) }
	case ByHeight:
		if p.height == nil {
			return nil, nil
		}
		at = func(i int) float64 { return p.height[i] }
	}
	highest := math.Inf(-1)
	for i := p.side.Ascent.From; i < p.side.Ascent.To; i++ {
		if x := at(i); x > highest && !math.IsInf(x, 1) {
			highest = x
			rows, places = append(rows, i), append(places, x)
		}
	}
	return rows, places
}
