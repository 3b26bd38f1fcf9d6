package humidity

import (
	"math"
	"sync"
)

// DewPoint returns the temperature in K at which the saturation vapour pressure
// over water equals e in hPa: the dew point, over supercooled water below 0 °C.
// NaN where e is not positive (vapour-free air has no dew point) or the answer
// lies outside 100–400 K. Within 1e-9 K of the exact inverse of OverWater.
func (f Formula) DewPoint(e float64) float64 {
	if f == NoFormula || int(f) >= len(waterInverses) {
		return math.NaN()
	}
	return waterInverses[f]().at(math.Log(e))
}

// FrostPoint returns the temperature in K at which the saturation vapour pressure
// over ice equals e in hPa. NaN where e is not positive or above saturation at
// the triple point, where no frost can be, and for a formula without ice.
func (f Formula) FrostPoint(e float64) float64 {
	if int(f) >= len(iceInverses) || iceSources[f].log == nil {
		return math.NaN()
	}
	return iceInverses[f]().at(math.Log(e))
}

// inverse turns ln e into T: a cubic through values and slopes at nodes evenly
// spaced in ln e, then one Newton step with the formula itself.
type inverse struct {
	source      *source
	first, step float64
	nodes       []inverseNode
}

type inverseNode struct{ t, slope float64 } // T in K, dT/d ln e in K

const inverseNodes = 512

func buildInverse(s *source) *inverse {
	lowest, _ := s.log(s.hardLowest)
	highest, _ := s.log(s.hardHighest)
	v := &inverse{source: s, first: lowest, step: (highest - lowest) / (inverseNodes - 1)}
	v.nodes = make([]inverseNode, inverseNodes)
	t := s.hardLowest
	for i := range v.nodes {
		wanted := lowest + float64(i)*v.step
		// Newton from the node before; ln e is convex enough in T for it never
		// to leave the neighbourhood.
		for range 50 {
			ln, slope := s.log(t)
			move := (wanted - ln) / slope
			t += move
			if math.Abs(move) < 1e-12*t {
				break
			}
		}
		_, slope := s.log(t)
		v.nodes[i] = inverseNode{t, v.step / slope}
	}
	return v
}

func (v *inverse) at(ln float64) float64 {
	x := (ln - v.first) / v.step
	if !(x >= -1e-9 && x <= inverseNodes-1+1e-9) {
		return math.NaN()
	}
	i := min(max(int(x), 0), inverseNodes-2)
	x -= float64(i)
	a, b := v.nodes[i], v.nodes[i+1]
	d := b.t - a.t
	t := a.t + x*(a.slope+x*(3*d-2*a.slope-b.slope+x*(a.slope+b.slope-2*d)))
	value, slope := v.source.log(t)
	return t + (ln-value)/slope
}

var waterInverses = func() (all [len(waterSources)]func() *inverse) {
	for f := range waterSources {
		if s := &waterSources[f]; s.log != nil {
			all[f] = sync.OnceValue(func() *inverse { return buildInverse(s) })
		}
	}
	return all
}()

var iceInverses = func() (all [len(iceSources)]func() *inverse) {
	for f := range iceSources {
		if s := &iceSources[f]; s.log != nil {
			all[f] = sync.OnceValue(func() *inverse { return buildInverse(s) })
		}
	}
	return all
}()
