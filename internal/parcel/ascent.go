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

// Equivalent returns the equivalent potential temperature in K (Bolton 1980, eq. 43).
func (s Start) Equivalent() float64 { return equivalent(s.Temperature, s.Pressure, s.Vapour) }

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

// cellDepth is the depth in hPa of the cells that MostUnstableLayer averages over first.
const cellDepth = 2.0

// LayerSearch is room for MostUnstableLayer, to be used again.
type LayerSearch struct{ theta, ratio, weight []float64 }

// MostUnstableLayer returns the parcel that a layer mean hPa deep makes when mixed, from
// whichever layer within the lowest depth hPa has the largest equivalent potential
// temperature (Bolton 1980, eq. 43), put at the layer's middle. The air of the layer
// counts by 1 − x², x from −1 at its bottom to 1 at its top, so that an edge of cloud that
// enters it changes the mean little by little. Potential temperature and mixing ratio are
// linear in p between levels, and layers stand every 2 hPa, not at levels: the choice
// depends on the curve, not on where it was sampled. Of equals the lowest. ok is false
// where the column does not reach through depth, or depth is less than mean.
func (l *LayerSearch) MostUnstableLayer(p, t, e []float64, depth, mean float64) (start Start, ok bool) {
	n := len(p)
	if n < 2 || !(mean > 0 && depth >= mean) || p[n-1] > p[0]-depth || p[0] <= depth {
		return Start{}, false
	}
	wide := max(1, int(math.Round(mean/cellDepth)))
	cell := mean / float64(wide)
	cells := int(depth/cell + 1e-9)
	l.cells(p, t, e, cell, cells)
	l.weight = l.weight[:0]
	sum := 0.0
	for i := range wide {
		x := (2*float64(i)+1)/float64(wide) - 1
		l.weight = append(l.weight, 1-x*x)
		sum += 1 - x*x
	}
	if wide == 1 {
		l.weight[0], sum = 1, 1
	}
	best := math.Inf(-1)
	for k := 0; k+wide <= cells; k++ {
		theta, ratio := 0.0, 0.0
		for i, w := range l.weight {
			theta += w * l.theta[k+i]
			ratio += w * l.ratio[k+i]
		}
		theta, ratio = theta/sum, ratio/sum
		middle := p[0] - float64(k)*cell - 0.5*mean
		s := Start{middle, theta * Exner(middle), ratio * middle / (constants.Epsilon + ratio)}
		if v := s.Equivalent(); v > best {
			best, start, ok = v, s, true
		}
	}
	return start, ok
}

// cells fills the means of potential temperature and mixing ratio over cells of equal
// pressure depth from the first level up.
func (l *LayerSearch) cells(p, t, e []float64, cell float64, count int) {
	l.theta, l.ratio = l.theta[:0], l.ratio[:0]
	level := func(i int) (theta, ratio float64) {
		return PotentialTemperature(t[i], p[i]), constants.Epsilon * e[i] / (p[i] - e[i])
	}
	k, at := 0, p[0]
	th, r := level(0)
	nextTh, nextR := level(1)
	for c := 1; c <= count; c++ {
		end := p[0] - float64(c)*cell
		var sumTh, sumR float64
		for {
			to := math.Max(end, p[k+1])
			w := (at - to) / (at - p[k+1])
			endTh, endR := th+w*(nextTh-th), r+w*(nextR-r)
			if to == p[k+1] {
				endTh, endR = nextTh, nextR
			}
			sumTh, sumR = sumTh+0.5*(th+endTh)*(at-to), sumR+0.5*(r+endR)*(at-to)
			at, th, r = to, endTh, endR
			if to == p[k+1] && k+2 < len(p) {
				k++
				nextTh, nextR = level(k + 1)
			}
			if to <= end {
				break
			}
		}
		l.theta, l.ratio = append(l.theta, sumTh/cell), append(l.ratio, sumR/cell)
	}
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
