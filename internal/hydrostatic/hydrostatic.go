// Package hydrostatic relates pressure, virtual temperature and geopotential
// height of a column of air: thickness, heights from pressure, and pressure from
// heights, with the uncertainty of each.
//
// Pressure is hPa, virtual temperature K, height geopotential metres (gpm). NaN
// is a missing value; each column function states what it does with one.
package hydrostatic

import (
	"math"

	"leadline/internal/constants"
)

// perKelvin is Rd/g0 in gpm per K.
const perKelvin = constants.Rd / constants.G0

// Thickness returns the geopotential thickness in gpm between pressures p1 (below)
// and p2 (above) with virtual temperatures tv1 and tv2: Rd/g0 times their mean
// times ln(p1/p2) (hypsometric equation, trapezium in ln p; WMO-No. 8, volume I,
// chapter 12). Negative where p2 > p1; NaN where a pressure is not positive.
func Thickness(p1, p2, tv1, tv2 float64) float64 {
	if !(p1 > 0 && p2 > 0) {
		return math.NaN()
	}
	return perKelvin * 0.5 * (tv1 + tv2) * math.Log(p1/p2)
}

// HeightsFromPressure writes the geopotential height in gpm of each sample into
// heights, integrating from the first sample whose pressure and virtual
// temperature are both present, which is given the height base in gpm.
//
// A sample with a missing pressure, or one that is not positive, gets NaN and is
// stepped over: the layer is taken between its neighbours. A sample with a
// pressure but no virtual temperature gets a height from the virtual temperature
// interpolated in ln p between the nearest samples that have one; before the
// first and after the last such sample it is NaN. filled counts the latter kind
// of sample that did get a height, for the caller to flag. The slices must have
// one length; heights may not overlap the inputs.
func HeightsFromPressure(heights, pressure, virtual []float64, base float64) (filled int) {
	last := -1
	for i := range heights {
		heights[i] = math.NaN()
		if !(pressure[i] > 0) || math.IsNaN(virtual[i]) {
			continue
		}
		if last < 0 {
			heights[i] = base
			last = i
			continue
		}
		logLayer := math.Log(pressure[last] / pressure[i])
		heights[i] = heights[last] + perKelvin*0.5*(virtual[last]+virtual[i])*logLayer
		for j := last + 1; j < i; j++ {
			if !(pressure[j] > 0) {
				continue
			}
			// With Tv linear in ln p across the layer the height is a parabola.
			part := math.Log(pressure[last] / pressure[j])
			tv := virtual[last]
			if logLayer != 0 {
				tv += 0.5 * (virtual[i] - virtual[last]) * part / logLayer
			}
			heights[j] = heights[last] + perKelvin*tv*part
			filled++
		}
		last = i
	}
	return filled
}

// PressureFromHeights writes the pressure in hPa of each sample into pressure,
// integrating from the first sample whose geopotential height in gpm and virtual
// temperature are both present, which is given the pressure base in hPa:
// p2 = p1 exp(−g0 ΔH/(Rd T̄v)) with the mean of the two virtual temperatures. It is
// the exact inverse of HeightsFromPressure.
//
// A sample without height gets NaN and is stepped over. A sample with a height
// but no virtual temperature gets a pressure from the virtual temperature that is
// interpolated in ln p between the nearest samples that have one; before the
// first and after the last such sample it is NaN. filled counts the latter kind
// of sample that did get a pressure. A base that is not positive gives NaN
// throughout. The slices must have one length.
func PressureFromHeights(pressure, heights, virtual []float64, base float64) (filled int) {
	last := -1
	if !(base > 0) {
		base = math.NaN()
	}
	for i := range pressure {
		pressure[i] = math.NaN()
		if math.IsNaN(heights[i]) || !(virtual[i] > 0) {
			continue
		}
		if last < 0 {
			pressure[i] = base
			last = i
			continue
		}
		rise := heights[i] - heights[last]
		logLayer := rise / (perKelvin * 0.5 * (virtual[last] + virtual[i]))
		pressure[i] = pressure[last] * math.Exp(-logLayer)
		for j := last + 1; j < i; j++ {
			if math.IsNaN(heights[j]) || math.IsNaN(pressure[last]) {
				continue
			}
			// Solve h = k (tv x + ½ g x²) for x = ln(p_last/p), the stable root.
			h := (heights[j] - heights[last]) / perKelvin
			g := 0.0
			if logLayer != 0 {
				g = (virtual[i] - virtual[last]) / logLayer
			}
			tv := virtual[last]
			x := 2 * h / (tv + math.Sqrt(tv*tv+2*g*h))
			if math.IsNaN(x) {
				continue
			}
			pressure[j] = pressure[last] * math.Exp(-x)
			filled++
		}
		last = i
	}
	return filled
}
