package parcel

import (
	"math"

	"leadline/internal/constants"
)

// FreezingLevel returns the ln p at which the temperature first falls through 0 °C going
// up: the first level itself where it is at 0 °C, NaN where it never falls through.
func FreezingLevel(lnp, t []float64) float64 {
	return firstFall(lnp, func(i int) float64 { return t[i] - constants.ZeroCelsius })
}

// WetBulbZero is the same of the isobaric wet-bulb temperature: where
// (cpd + r cpv)(T − 0 °C) = L (rs(0 °C) − r), the wet bulb is at 0 °C; e in hPa. Between
// levels the difference of the two sides is linear in ln p.
func (s *Saturation) WetBulbZero(lnp, p, t, e []float64) float64 {
	es := s.At(constants.ZeroCelsius)
	return firstFall(lnp, func(i int) float64 {
		r, rs := constants.Epsilon*e[i]/(p[i]-e[i]), constants.Epsilon*es/(p[i]-es)
		return (constants.Cpd+r*SpecificHeatVapour)*(t[i]-constants.ZeroCelsius) - constants.LatentHeat*(rs-r)
	})
}

func firstFall(lnp []float64, value func(i int) float64) float64 {
	last := math.NaN()
	for i := range lnp {
		x := value(i)
		if x == 0 && i == 0 {
			return lnp[i]
		}
		if last > 0 && x <= 0 {
			return lnp[i-1] + (lnp[i]-lnp[i-1])*last/(last-x)
		}
		last = x
	}
	return math.NaN()
}
