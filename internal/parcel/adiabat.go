package parcel

import (
	"math"

	"leadline/internal/constants"
)

const (
	// SpecificHeatVapour is that of water vapour at constant pressure in J kg⁻¹ K⁻¹
	// (near 0 °C; from memory).
	SpecificHeatVapour = 1870.0
	// SpecificHeatLiquid is that of liquid water in J kg⁻¹ K⁻¹ (0 to 20 °C; from memory).
	SpecificHeatLiquid = 4190.0
)

// adiabatStep is the step in ln p of the integration: with it pseudo-adiabats are
// within 2e-5 K of the converged solution (a test measures it).
const adiabatStep = 0.05

// slopes of curves of saturated air: dT/d ln p in K.
type slope func(s *Saturation, t, lnp, total float64) float64

// pseudoSlope is that of air whose condensate falls out at once, with one latent heat:
// (Rd T + L rs)/(cpd + L² rs ε/(Rd T²)).
func pseudoSlope(s *Saturation, t, lnp, _ float64) float64 {
	const latent = constants.LatentHeat
	rs := s.mixingRatio(t, math.Exp(lnp))
	return (constants.Rd*t + latent*rs) / (constants.Cpd + latent*latent*constants.Epsilon*rs/(constants.Rd*t*t))
}

// latentAt is the latent heat of vaporisation at t by Kirchhoff's law.
func latentAt(t float64) float64 {
	return constants.LatentHeat - (SpecificHeatLiquid-SpecificHeatVapour)*(t-constants.ZeroCelsius)
}

// reversibleSlope is that of air that keeps all condensate as liquid; total is the
// mixing ratio of all its water. (Reversible moist-adiabatic lapse rate, Glossary of
// Meteorology of the American Meteorological Society, from memory, turned to d ln p.)
func reversibleSlope(s *Saturation, t, lnp, total float64) float64 {
	rs := s.mixingRatio(t, math.Exp(lnp))
	latent := latentAt(t)
	heat := constants.Cpd + rs*SpecificHeatVapour + (total-rs)*SpecificHeatLiquid + latent*latent*rs*(constants.Epsilon+rs)/(constants.Rd*t*t)
	return constants.Rd * t * (1 + rs/constants.Epsilon) * (1 + latent*rs/(constants.Rd*t)) / heat
}

// curve is T along ln p, from nodes with slopes: cubic between them.
type curve struct {
	first, step float64 // ln p of the first node, and from node to node
	t, d        []float64
}

// integrate fills the curve from ln p = from, where it is t K, to ln p = to in equal
// steps of at most adiabatStep (classical Runge-Kutta, fourth order).
func (c *curve) integrate(s *Saturation, f slope, from, t, to, total, step float64) {
	n := max(1, int(math.Ceil(math.Abs(to-from)/step)))
	h := (to - from) / float64(n)
	c.first, c.step = from, h
	c.t, c.d = c.t[:0], c.d[:0]
	for i := 0; ; i++ {
		x := from + float64(i)*h
		k1 := f(s, t, x, total)
		c.t, c.d = append(c.t, t), append(c.d, h*k1)
		if i == n {
			return
		}
		k2 := f(s, t+0.5*h*k1, x+0.5*h, total)
		k3 := f(s, t+0.5*h*k2, x+0.5*h, total)
		k4 := f(s, t+h*k3, x+h, total)
		t += h / 6 * (k1 + 2*(k2+k3) + k4)
	}
}

func (c *curve) at(lnp float64) float64 {
	x := (lnp - c.first) / c.step
	i := min(max(int(x), 0), len(c.t)-2)
	x -= float64(i)
	a, b := c.t[i], c.t[i+1]
	da, db := c.d[i], c.d[i+1]
	d := b - a
	return a + x*(da+x*(3*d-2*da-db+x*(da+db-2*d)))
}

// PseudoAdiabat writes into t the temperatures in K at the pressures p in hPa along
// the pseudo-adiabat through start K at from hPa, above and below it: saturated air
// whose condensate falls out at once. Any order of pressures; NaN where a pressure is
// not positive. Within 2e-5 K of the solution of its differential equation between 1100
// and 100 hPa.
func (s *Saturation) PseudoAdiabat(t, p []float64, from, start float64) {
	low, high := from, from
	for _, v := range p {
		if v > 0 {
			low, high = math.Max(low, v), math.Min(high, v)
		}
	}
	var up, down curve
	up.integrate(s, pseudoSlope, math.Log(from), start, math.Log(high)-1e-9, 0, adiabatStep)
	down.integrate(s, pseudoSlope, math.Log(from), start, math.Log(low)+1e-9, 0, adiabatStep)
	for i, v := range p {
		switch {
		case !(v > 0):
			t[i] = math.NaN()
		case v <= from:
			t[i] = up.at(math.Log(v))
		default:
			t[i] = down.at(math.Log(v))
		}
	}
}

// WetBulbPotential returns θw in K of air at p, t with vapour pressure e: the
// temperature at 1000 hPa of the pseudo-adiabat through its condensation level.
func (s *Saturation) WetBulbPotential(p, t, e float64) float64 {
	return s.alongPseudo(p, t, e, 1000)
}

// WetBulbPseudo returns the pseudo-adiabatic wet-bulb temperature in K (Normand's
// rule): the pseudo-adiabat through the condensation level, followed down to p. It is
// a few hundredths to 0.3 K below WetBulb.
func (s *Saturation) WetBulbPseudo(p, t, e float64) float64 { return s.alongPseudo(p, t, e, p) }

func (s *Saturation) alongPseudo(p, t, e, to float64) float64 {
	pL, tL := s.Condensation(p, t, e)
	if math.IsNaN(pL) {
		return math.NaN()
	}
	var c curve
	c.integrate(s, pseudoSlope, math.Log(pL), tL, math.Log(to)+1e-12, 0, adiabatStep)
	return c.t[len(c.t)-1]
}
