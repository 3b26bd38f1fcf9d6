package parcel

import (
	"math"

	"leadline/internal/constants"
)

// Condensate says what becomes of the water a rising parcel condenses.
type Condensate uint8

// The two limits.
const (
	FallsOut Condensate = iota // pseudo-adiabatic: it leaves at once
	Stays                      // reversible: all of it stays, as liquid, and weighs
)

// Start is a parcel before it is lifted.
type Start struct {
	Pressure    float64 // hPa
	Temperature float64 // K
	Vapour      float64 // vapour pressure, hPa
}

// Ascent is the path of a parcel lifted from its start: dry-adiabatic to its
// condensation level, along a saturated adiabat above. The zero value is ready for
// Lift, which may be called again and again without allocating.
type Ascent struct {
	s              *Saturation
	Start          Start
	Pressure       float64 // of the lifted condensation level, hPa
	Temperature    float64 // there, K
	MixingRatio    float64 // of the parcel below it, kg kg⁻¹
	Condensate     Condensate
	lnStart, lnLCL float64
	lnTheta        float64
	moist          curve
}

// Lift follows the parcel from start up to top hPa. It reports whether that can be
// done: a parcel without vapour, or one that is NaN, cannot. A parcel that does not
// condense below top stays on its dry adiabat, and Pressure is then above top.
func (a *Ascent) Lift(s *Saturation, start Start, top float64, c Condensate) bool {
	a.s, a.Start, a.Condensate = s, start, c
	a.Pressure, a.Temperature = math.NaN(), math.NaN()
	p, t, e := start.Pressure, start.Temperature, start.Vapour
	if !(e > 0 && e < p && t > 0 && top > 0) || math.IsInf(p, 0) || math.IsInf(t, 0) {
		return false
	}
	a.MixingRatio = constants.Epsilon * e / (p - e)
	a.Pressure, a.Temperature = s.condensation(p, t, e)
	if !(a.Pressure > 0) {
		return false
	}
	a.lnStart, a.lnLCL = math.Log(p), math.Log(a.Pressure)
	a.lnTheta = math.Log(t) - constants.Kappa*a.lnStart
	f := pseudoSlope
	if c == Stays {
		f = reversibleSlope
	}
	a.moist.integrate(s, f, a.lnLCL, a.Temperature, math.Min(math.Log(top), a.lnLCL)-1e-9, a.MixingRatio, adiabatStep)
	return true
}

// At returns the parcel's temperature in K and its virtual temperature (with the weight
// of the condensate, where that stays) at ln p, at or above its start.
func (a *Ascent) At(lnp float64) (t, tv float64) {
	if lnp >= a.lnLCL {
		t = math.Exp(a.lnTheta + constants.Kappa*lnp)
		return t, virtual(t, a.MixingRatio)
	}
	t = a.moist.at(lnp)
	es := a.s.At(t)
	rs := constants.Epsilon * es / (math.Exp(lnp) - es)
	if a.Condensate == Stays {
		return t, t * (1 + rs/constants.Epsilon) / (1 + a.MixingRatio)
	}
	return t, virtual(t, rs)
}

// at is At with p, the pressure that belongs to lnp, already known.
func (a *Ascent) at(lnp, p float64) (t, tv float64) {
	if lnp >= a.lnLCL || a.Condensate == Stays {
		return a.At(lnp)
	}
	t = a.moist.at(lnp)
	es := a.s.At(t)
	return t, virtual(t, constants.Epsilon*es/(p-es))
}

// MixedStart returns the parcel that the lowest depth hPa make when mixed: means over
// pressure (trapezium) of potential temperature and mixing ratio, put at the lowest
// pressure. ok is false where the column does not reach through the layer.
func MixedStart(p, t, e []float64, depth float64) (start Start, ok bool) {
	if len(p) < 2 || !(depth > 0) {
		return Start{}, false
	}
	top := p[0] - depth
	if p[len(p)-1] > top || top <= 0 {
		return Start{}, false
	}
	var theta, ratio float64
	lastTheta, lastRatio := PotentialTemperature(t[0], p[0]), constants.Epsilon*e[0]/(p[0]-e[0])
	for i := 1; i < len(p); i++ {
		th, r := PotentialTemperature(t[i], p[i]), constants.Epsilon*e[i]/(p[i]-e[i])
		upper := p[i]
		if upper < top {
			w := math.Log(p[i-1]/top) / math.Log(p[i-1]/p[i])
			th, r, upper = lastTheta+w*(th-lastTheta), lastRatio+w*(r-lastRatio), top
		}
		dp := p[i-1] - upper
		theta, ratio = theta+0.5*(th+lastTheta)*dp, ratio+0.5*(r+lastRatio)*dp
		lastTheta, lastRatio = th, r
		if p[i] <= top {
			break
		}
	}
	theta, ratio = theta/depth, ratio/depth
	return Start{p[0], theta * Exner(p[0]), ratio * p[0] / (constants.Epsilon + ratio)}, true
}

// MostUnstable returns the level of the largest equivalent potential temperature
// (Bolton 1980, eq. 43) in the lowest depth hPa, the lower of equals; -1 where the
// columns are empty.
func MostUnstable(p, t, e []float64, depth float64) int {
	best, most := -1, math.Inf(-1)
	for i := range p {
		if p[i] < p[0]-depth {
			break
		}
		if v := equivalent(t[i], p[i], e[i]); v > most {
			best, most = i, v
		}
	}
	return best
}
