package hydrostatic

import "math"

// PressureUncertainty returns u(p) in hPa at k = 1 of a pressure computed from
// height: u(p)/p = √{(u(H)/(k Tv))² + (ln(p0/p) u(Tm)/Tm)² + (u(p0)/p0)²} with
// k = Rd/g0, where uHeight in gpm is the uncertainty of the height above the
// base, uMean in K that of the mean virtual temperature Tm of the column between
// (the part common to the flight; noise averages out), p0 and uBase the base
// pressure and its uncertainty. The middle term follows from d ln p = −dH/(k Tv):
// ln(p0/p) = H/(k Tm).
func PressureUncertainty(p, tv, uHeight, mean, uMean, p0, uBase float64) float64 {
	a := uHeight / (perKelvin * tv)
	b := math.Log(p0/p) * uMean / mean
	c := uBase / p0
	return p * math.Sqrt(a*a+b*b+c*c)
}

// HeightUncertainty returns u(H) in gpm at k = 1 of a height computed from
// pressure: the sum in quadrature of k Tv u(p)/p at the level, of
// k ln(p0/p) u(Tm) of the column, and of the uncertainty of the base height. Give
// uPressure as the uncertainty of the level's pressure relative to the base: what
// the two share cancels.
func HeightUncertainty(p, tv, uPressure, uMean, p0, uBase float64) float64 {
	a := perKelvin * tv * uPressure / p
	b := perKelvin * math.Log(p0/p) * uMean
	return math.Sqrt(a*a + b*b + uBase*uBase)
}

// HeightPerPressure returns the height in gpm equivalent to a pressure
// difference of 1 hPa at p hPa and tv K: Rd Tv/(g0 p).
func HeightPerPressure(p, tv float64) float64 { return perKelvin * tv / p }
