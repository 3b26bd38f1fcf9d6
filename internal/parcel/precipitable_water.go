package parcel

import (
	"math"

	"leadline/internal/constants"
)

// PrecipitableWater returns the vapour between the first level and top hPa as a depth of
// liquid water in mm: the integral of specific humidity over p by trapezium, over g0 and
// 1000 kg m⁻³. At top, between two levels, the specific humidity is linear in ln p. A
// column that ends below top gives what it holds.
func PrecipitableWater(p, e []float64, top float64) float64 {
	sum, last := 0.0, 0.0
	for i := range p {
		q := specific(p[i], e[i])
		if i > 0 {
			if p[i] < top {
				if p[i-1] > top {
					at := last + (q-last)*math.Log(p[i-1]/top)/math.Log(p[i-1]/p[i])
					sum += 0.5 * (last + at) * (p[i-1] - top)
				}
				break
			}
			sum += 0.5 * (last + q) * (p[i-1] - p[i])
		}
		last = q
	}
	return waterDepth(sum)
}

// PrecipitableWaterByMixingRatio is the same with the mixing ratio in place of the
// specific humidity, as some programs have it: 1 to 2 % more in the tropics.
func PrecipitableWaterByMixingRatio(p, e []float64, top float64) float64 {
	sum := 0.0
	for i := 1; i < len(p) && p[i] >= top; i++ {
		a, b := constants.Epsilon*e[i-1]/(p[i-1]-e[i-1]), constants.Epsilon*e[i]/(p[i]-e[i])
		sum += 0.5 * (a + b) * (p[i-1] - p[i])
	}
	return waterDepth(sum)
}

// specific is the specific humidity in kg kg⁻¹: ε e/(p − (1−ε) e).
func specific(p, e float64) float64 {
	return constants.Epsilon * e / (p - (1-constants.Epsilon)*e)
}

// waterDepth turns an integral of specific humidity over hPa into mm of water.
func waterDepth(kgPerKgHPa float64) float64 {
	const density = 1000.0 // kg m⁻³
	return kgPerKgHPa * 100 / (constants.G0 * density) * 1000
}
