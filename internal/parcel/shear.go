package parcel

import "math"

// Vector is a wind or a motion in m s⁻¹, towards east and north.
type Vector struct{ U, V float64 }

// Minus returns a − b.
func (a Vector) Minus(b Vector) Vector { return Vector{a.U - b.U, a.V - b.V} }

// Length returns the speed.
func (a Vector) Length() float64 { return math.Hypot(a.U, a.V) }

// WindAt returns the wind at height h in m: components linear in height between the
// levels around it; NaN outside them.
func WindAt(z, u, v []float64, h float64) Vector {
	k := levelBelow(z, h)
	if k < 0 {
		return Vector{math.NaN(), math.NaN()}
	}
	if k == len(z)-1 || z[k] == h {
		return Vector{u[k], v[k]}
	}
	w := (h - z[k]) / (z[k+1] - z[k])
	return Vector{u[k] + w*(u[k+1]-u[k]), v[k] + w*(v[k+1]-v[k])}
}

// levelBelow returns the last level at or below h, -1 where h is outside the column.
func levelBelow(z []float64, h float64) int {
	n := len(z)
	if n == 0 || !(h >= z[0] && h <= z[n-1]) {
		return -1
	}
	low, high := 0, n-1
	for high-low > 1 {
		if mid := (low + high) / 2; z[mid] <= h {
			low = mid
		} else {
			high = mid
		}
	}
	if z[high] <= h {
		return high
	}
	return low
}

// MeanWind returns the mean of the wind over height from bottom to top (trapezium,
// every metre with the same weight); NaN where the column does not reach through the layer.
func MeanWind(z, u, v []float64, bottom, top float64) Vector {
	sum, ok := overLayer(z, u, v, bottom, top, func(lower, upper Vector, depth float64) Vector {
		return Vector{0.5 * depth * (lower.U + upper.U), 0.5 * depth * (lower.V + upper.V)}
	})
	if !ok {
		return Vector{math.NaN(), math.NaN()}
	}
	return Vector{sum.U / (top - bottom), sum.V / (top - bottom)}
}

// overLayer adds up what part returns for each piece of the layer.
func overLayer(z, u, v []float64, bottom, top float64, part func(lower, upper Vector, depth float64) Vector) (sum Vector, ok bool) {
	first, last := levelBelow(z, bottom), levelBelow(z, top)
	if first < 0 || last < 0 || !(top > bottom) {
		return sum, false
	}
	below, h := WindAt(z, u, v, bottom), bottom
	for i := first + 1; ; i++ {
		next, at := Vector{}, top
		if i <= last && z[i] < top {
			next, at = Vector{u[i], v[i]}, z[i]
		} else {
			next = WindAt(z, u, v, top)
		}
		piece := part(below, next, at-h)
		sum.U, sum.V = sum.U+piece.U, sum.V+piece.V
		if at >= top {
			return sum, true
		}
		below, h = next, at
	}
}

// StormMotion returns the motions of a right-moving and a left-moving supercell and the
// mean wind they start from (Bunkers et al. 2000, Weather and Forecasting 15, 61, from
// memory): the mean wind of the lowest 6 km, and 7.5 m s⁻¹ across the shear between the
// means of 0 to 0.5 km and 5.5 to 6 km, to its right and left. Heights z in m above
// ground. Not-a-number where the column does not reach 6 km; without shear there is no
// side to deviate to, and all three are the mean wind.
func StormMotion(z, u, v []float64) (right, left, mean Vector) {
	mean = MeanWind(z, u, v, 0, 6000)
	shear := MeanWind(z, u, v, 5500, 6000).Minus(MeanWind(z, u, v, 0, 500))
	size := shear.Length()
	if size == 0 {
		return mean, mean, mean
	}
	const deviation = 7.5
	across := Vector{shear.V / size * deviation, -shear.U / size * deviation}
	return Vector{mean.U + across.U, mean.V + across.V}, mean.Minus(across), mean
}

// StormRelativeHelicity returns Σ (u₂−cx)(v₁−cy) − (u₁−cx)(v₂−cy) over the layer from
// bottom to top in m above ground, m² s⁻²: twice the area the storm-relative wind sweeps
// on the hodograph, positive for veering (Davies-Jones et al. 1990, from memory).
func StormRelativeHelicity(z, u, v []float64, bottom, top float64, storm Vector) float64 {
	sum, ok := overLayer(z, u, v, bottom, top, func(lower, upper Vector, _ float64) Vector {
		a, b := lower.Minus(storm), upper.Minus(storm)
		return Vector{U: b.U*a.V - a.U*b.V}
	})
	if !ok {
		return math.NaN()
	}
	return sum.U
}

// BulkRichardsonShear returns ½ |mean wind 0–6 km − mean wind 0–0.5 km|² in m² s⁻²
// (Weisman and Klemp 1982, from memory; means over height, not weighted by density).
// CAPE divided by it is the bulk Richardson number of a convective environment.
func BulkRichardsonShear(z, u, v []float64) float64 {
	d := MeanWind(z, u, v, 0, 6000).Minus(MeanWind(z, u, v, 0, 500))
	return 0.5 * (d.U*d.U + d.V*d.V)
}
