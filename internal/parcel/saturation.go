package parcel

import (
	"sync"

	"leadline/internal/constants"
	"leadline/internal/humidity"
)

// Saturation is the vapour pressure over liquid water by one formula, tabulated: a
// cubic between values and slopes every half kelvin from 150 to 350 K, within 2e-7
// (relative) of the formula above 200 K and 2.5e-6 below; outside that range the
// formula itself.
type Saturation struct {
	formula humidity.Formula
	nodes   [saturationNodes]saturationNode
}

type saturationNode struct{ e, slope float64 } // hPa, and its change per node

const (
	saturationFirst  = 150.0 // K
	saturationPerK   = 2
	saturationNodes  = 200*saturationPerK + 1
	saturationInside = saturationNodes - 1
)

var saturations = func() map[humidity.Formula]func() *Saturation {
	all := map[humidity.Formula]func() *Saturation{}
	for _, f := range humidity.Formulas() {
		all[f] = sync.OnceValue(func() *Saturation { return newSaturation(f) })
	}
	return all
}()

// SaturationBy returns the table of a formula, nil for no formula. A formula that
// refuses supercooled water gives NaN there.
func SaturationBy(f humidity.Formula) *Saturation {
	if build, ok := saturations[f]; ok {
		return build()
	}
	return nil
}

func newSaturation(f humidity.Formula) *Saturation {
	s := &Saturation{formula: f}
	for i := range s.nodes {
		t := saturationFirst + float64(i)/saturationPerK
		e := f.OverWater(t)
		s.nodes[i] = saturationNode{e, e * f.SlopeOverWater(t) / saturationPerK}
	}
	return s
}

// Formula returns the formula of the table.
func (s *Saturation) Formula() humidity.Formula { return s.formula }

// At returns the saturation vapour pressure in hPa over liquid water at t in K.
func (s *Saturation) At(t float64) float64 {
	x := (t - saturationFirst) * saturationPerK
	if !(x >= 0 && x < saturationInside) {
		return s.formula.OverWater(t)
	}
	i := int(x)
	x -= float64(i)
	a, b := &s.nodes[i], &s.nodes[i+1]
	d := b.e - a.e
	return a.e + x*(a.slope+x*(3*d-2*a.slope-b.slope+x*(a.slope+b.slope-2*d)))
}

// withSlope is At together with d e/dT in hPa K⁻¹; ok is false outside the table.
func (s *Saturation) withSlope(t float64) (e, slope float64, ok bool) {
	x := (t - saturationFirst) * saturationPerK
	if !(x >= 0 && x < saturationInside) {
		return 0, 0, false
	}
	i := int(x)
	x -= float64(i)
	a, b := &s.nodes[i], &s.nodes[i+1]
	d := b.e - a.e
	c2, c3 := 3*d-2*a.slope-b.slope, a.slope+b.slope-2*d
	return a.e + x*(a.slope+x*(c2+x*c3)), saturationPerK * (a.slope + x*(2*c2+x*3*c3)), true
}

// DewPoint returns the temperature in K at which e in hPa saturates.
func (s *Saturation) DewPoint(e float64) float64 { return s.formula.DewPoint(e) }

// mixingRatio returns the saturation mixing ratio in kg kg⁻¹ at t and p; NaN where
// water boils.
func (s *Saturation) mixingRatio(t, p float64) float64 {
	return humidity.MixingRatio(s.At(t), p)
}

// MixingRatioLine writes into t the temperatures in K at which air of each pressure in
// p (hPa) is saturated with a mixing ratio of r kg kg⁻¹: a line of a thermodynamic
// diagram. NaN where there is none.
func (s *Saturation) MixingRatioLine(t, p []float64, r float64) {
	for i, v := range p {
		t[i] = s.formula.DewPoint(humidity.PressureFromMixingRatio(r, v))
	}
}

// virtual returns the virtual temperature of air at t with the mixing ratio r:
// T (1 + r/ε)/(1 + r).
func virtual(t, r float64) float64 { return t * (1 + r*(1/constants.Epsilon)) / (1 + r) }
