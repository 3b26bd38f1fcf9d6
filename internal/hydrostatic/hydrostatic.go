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
// first and after the last such sample it is NaN. Where its pressure lies outside
// the two, the nearer one's virtual temperature is used. filled counts this kind
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
			part := math.Log(pressure[last] / pressure[j])
			heights[j] = heights[last] + perKelvin*riseWithin(virtual[last], virtual[i], logLayer, part)
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
			x := logWithin(virtual[last], virtual[i], logLayer, (heights[j]-heights[last])/perKelvin)
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

// riseWithin returns ∫ Tv d(ln p) in K from the bottom of a layer, with Tv linear
// in ln p from tv1 to tv2 over its logarithmic depth and constant beyond: a row
// with a little more pressure than the layer's bottom must not be thrown far by a
// gradient that only noise has made.
func riseWithin(tv1, tv2, depth, part float64) float64 {
	switch f := part / depth; {
	case depth == 0 || f < 0:
		return tv1 * part
	case f > 1:
		return 0.5*(tv1+tv2)*depth + tv2*(part-depth)
	default:
		return (tv1 + 0.5*(tv2-tv1)*f) * part
	}
}

// logWithin is the inverse of riseWithin: ln(p1/p) for a rise in K.
func logWithin(tv1, tv2, depth, rise float64) float64 {
	whole := 0.5 * (tv1 + tv2) * depth
	switch f := rise / whole; {
	case depth == 0 || f < 0:
		return rise / tv1
	case f > 1:
		return depth + (rise-whole)/tv2
	default:
		g := (tv2 - tv1) / depth
		return 2 * rise / (tv1 + math.Sqrt(math.Max(0, tv1*tv1+2*g*rise)))
	}
}
