package levels

import (
	"math"

	"leadline/internal/earth"
	"leadline/internal/sounding"
)

// AltitudeSet is the wind levels of a flight with altitude as the vertical coordinate, as
// FM 32 PILOT reports them. Altitudes are geopotential heights, gpm; where a flight has
// none, heights above mean sea level, m, stand for them.
type AltitudeSet struct {
	// Levels are the surface, the significant winds and the maximum winds, rising.
	Levels []Level
	// Fixed are the winds at the altitudes asked for that lie inside the wind sounding.
	Fixed []Level
	// Standard are the winds at the altitudes that the standard isobaric levels down to
	// 10 hPa have in the standard atmosphere; for flights without a pressure.
	Standard []Level
}

// Altitude looks like ln p to the rules: so many gpm are a unit of it. With this scale
// 500 hPa, where maximum winds begin, is at its altitude in the standard atmosphere,
// 5574 gpm, and the gap limit in hPa keeps its meaning.
const (
	altitudeScale = 7892 // gpm, 5574 / ln(1013.25/500)
	surfaceLnP    = 6.920918
)

func altitudeCoordinate(z float64) float64 { return surfaceLnP - z/altitudeScale }

// ByAltitude finds the wind levels by altitude: significant winds between which direction
// and speed, interpolated linearly in altitude, stay within the tolerances (regulation
// 32.3.1, as in Find), and maximum winds from among them. A flight needs heights and
// winds, and no pressure.
func ByAltitude(f *sounding.Final, set *Settings, fixed []float64) AltitudeSet {
	p := altitudeProfile(f, set)
	var out AltitudeSet
	if p.Len() == 0 {
		return out
	}
	kinds := map[int]Kind{0: Surface}
	winds := p.significantWind()
	for _, k := range winds {
		kinds[k] |= SignificantWind
	}
	p.ends(kinds, p.with(qU), SignificantWind, MissingWindBegins, MissingWindEnds)
	for _, k := range p.maximumWinds(winds) {
		kinds[k] |= MaximumWind
	}
	if n := len(winds); n > 0 {
		kinds[winds[n-1]] |= TopOfWind
	}
	kinds[p.Len()-1] |= Top
	for k := range p.Rows {
		kind, ok := kinds[k]
		if !ok {
			continue
		}
		l := p.level(0, k, kind, f.Line)
		if kind.Has(MaximumWind) {
			l.ShearBelow, l.ShearAbove = p.shear(k, -set.ShearLayer), p.shear(k, set.ShearLayer)
		}
		l.Words = kind.Words()
		out.Levels = append(out.Levels, l)
	}
	at := func(z float64, kind Kind) (Level, bool) {
		c := altitudeCoordinate(z)
		if c > p.LnP[0] || c < p.LnP[p.Len()-1] {
			return Level{}, false
		}
		l := p.level(c, -1, kind, f.Line)
		pressure, _, _ := p.at(qP, c)
		l.Pressure, l.Geopotential = sounding.Number(pressure), sounding.Number(z)
		l.Words = kind.Words()
		return l, l.U.Set()
	}
	for _, z := range fixed {
		if l, ok := at(z, 0); ok {
			out.Fixed = append(out.Fixed, l)
		}
	}
	for _, hpa := range StandardPressures {
		if hpa < 10 {
			break
		}
		if l, ok := at(earth.StandardAltitude(hpa), Standard); ok {
			l.Pressure = sounding.Number(hpa)
			out.Standard = append(out.Standard, l)
		}
	}
	return out
}

// altitudeProfile picks the first passage of the ascent by altitude.
func altitudeProfile(f *sounding.Final, set *Settings) *Profile {
	p := &Profile{set: set}
	height := f.Get(sounding.GeopotentialHeight)
	if height == nil {
		height = f.Get(sounding.HeightMSL)
	}
	if height == nil {
		return p
	}
	span := f.Events.Ascent()
	highest := math.Inf(-1)
	for i := span.From; i < span.To; i++ {
		if z := height.Values[i]; usable(height, i) && z > highest {
			highest = z
			p.Rows = append(p.Rows, i)
			p.Time = append(p.Time, f.Time[i])
			p.LnP = append(p.LnP, altitudeCoordinate(z))
		}
	}
	for q, v := range quantities {
		s := f.Get(v)
		if q == qGPH {
			s = height
		}
		values := make([]float64, len(p.Rows))
		for k, i := range p.Rows {
			values[k] = math.NaN()
			if s != nil && usable(s, i) {
				values[k] = s.Values[i]
			}
		}
		p.series[q], p.Value[q] = s, values
	}
	return p
}
