package levels

import "math"

const freezingPoint = 273.15 // K

// freezing returns the ln p where the temperature first falls to 0 °C going up, NaN
// where it does not. If the surface is exactly at 0 °C it is the surface; if it is
// below, there is none at the start and the first fall from above to 0 °C counts
// (FM 94 code and flag table note to 0 08 042).
func (p *Profile) freezing() float64 {
	last := -1
	for k := range p.Rows {
		t := p.Value[qT][k]
		if math.IsNaN(t) {
			continue
		}
		if t == freezingPoint {
			return p.LnP[k]
		}
		if last >= 0 && p.Value[qT][last] > freezingPoint && t < freezingPoint {
			if p.gap(last, k) {
				return math.NaN()
			}
			w := (p.Value[qT][last] - freezingPoint) / (p.Value[qT][last] - t)
			return p.LnP[last]*(1-w) + p.LnP[k]*w
		}
		last = k
	}
	return math.NaN()
}
