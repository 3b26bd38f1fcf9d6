package levels

import "math"

// StandardPressures are the standard isobaric levels in hPa: the sixteen of FM 35 and
// FM 94, and the five above 10 hPa that stratospheric practice adds.
var StandardPressures = []float64{1000, 925, 850, 700, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30, 20, 10, 7, 5, 3, 2, 1}

// standard returns the standard levels between the ends of the profile for which it has
// any value. A level below the ground is not made up.
func (p *Profile) standard(lines []int32) []Level {
	var out []Level
	if p.Len() == 0 {
		return nil
	}
	for _, hpa := range StandardPressures {
		lnp := math.Log(hpa)
		if lnp > p.LnP[0] || lnp < p.LnP[p.Len()-1] {
			continue
		}
		sample := -1
		if a, b, ok := p.bracket(qP, lnp); ok && a == b {
			sample = a
		} else if !ok {
			continue // inside a gap of the data
		}
		l := p.level(lnp, sample, Standard, lines)
		if sample < 0 {
			l.Pressure = pressureNumber(hpa)
		}
		if l.Temperature.Set() || l.U.Set() || l.Geopotential.Set() {
			out = append(out, l)
		}
	}
	return out
}
