package parcel

import (
	"math"

	"leadline/internal/constants"
)

// BoundaryLayerRichardson returns the height in m above ground at which the bulk
// Richardson number between the ground and it first exceeds critical (0.25 is usual):
// Ri(z) = (g/θv,s)(θv(z) − θv,s) z/(u² + v²), the wind at the ground taken as 0
// (Vogelezang and Holtslag 1996; Seidel et al. 2012), linear between levels. Heights z
// start at the ground with 0 and rise; thetaV in K. NaN where it is not exceeded.
func BoundaryLayerRichardson(z, thetaV, u, v []float64, critical float64) float64 {
	last, lastZ := 0.0, 0.0
	for i := 1; i < len(z); i++ {
		speed := u[i]*u[i] + v[i]*v[i]
		d := thetaV[i] - thetaV[0]
		ri := constants.G0 / thetaV[0] * d * z[i] / speed
		if speed == 0 {
			switch {
			case d > 0:
				ri = math.Inf(1)
			case d == 0:
				ri = 0
			}
		}
		if ri > critical {
			if math.IsInf(ri, 1) {
				return z[i]
			}
			return lastZ + (z[i]-lastZ)*(critical-last)/(ri-last)
		}
		last, lastZ = ri, z[i]
	}
	return math.NaN()
}

// BoundaryLayerParcel returns the height in m above ground at which the virtual potential
// temperature first exceeds that at the ground by more than excess K (parcel method,
// Holzworth 1964, from memory), linear between levels; NaN where it does not.
func BoundaryLayerParcel(z, thetaV []float64, excess float64) float64 {
	for i := 1; i < len(z); i++ {
		limit := thetaV[0] + excess
		if thetaV[i] > limit {
			a, b := thetaV[i-1], thetaV[i]
			if a >= limit {
				return z[i-1]
			}
			return z[i-1] + (z[i]-z[i-1])*(limit-a)/(b-a)
		}
	}
	return math.NaN()
}
