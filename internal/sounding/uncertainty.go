package sounding

import "math"

// Quadrature combines standard uncertainties that are not correlated (JCGM 100:2008,
// eq. 10). NaN parts are not known and left out; NaN where none is known.
func Quadrature(parts ...float64) float64 {
	sum, known := 0.0, false
	for _, u := range parts {
		if !math.IsNaN(u) {
			sum, known = sum+u*u, true
		}
	}
	if !known {
		return math.NaN()
	}
	return math.Sqrt(sum)
}

// MeanUncertainty returns the standard uncertainty of a mean over samples with
// independent parts and common parts (JCGM 100:2008, eq. 13 and 16 with r = 0 and
// r = 1): the independent part falls with the square root of their number, the common
// part does not fall. Either slice may be nil; NaN where both are, or where there is
// no sample.
func MeanUncertainty(independent, common []float64) float64 {
	n := float64(max(len(independent), len(common)))
	if n == 0 {
		return math.NaN()
	}
	var squares, sum float64
	for _, u := range independent {
		squares += u * u
	}
	for _, u := range common {
		sum += u
	}
	return math.Hypot(math.Sqrt(squares)/n, sum/n)
}

// Agreement returns how far two measurements of the same thing lie apart in units of
// the standard uncertainty of their difference, their errors not being correlated:
// below 1 they are consistent, above 3 they are not (Immler et al. 2010).
func Agreement(m1, u1, m2, u2 float64) float64 {
	return math.Abs(m1-m2) / math.Hypot(u1, u2)
}
