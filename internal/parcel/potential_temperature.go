package parcel

import (
	"math"

	"leadline/internal/constants"
)

// Exner returns (p/1000 hPa)^κ.
func Exner(p float64) float64 { return math.Pow(p/1000, constants.Kappa) }

// PotentialTemperature returns θ in K of air at t in K and p in hPa: T (1000/p)^κ
// (Poisson's equation, κ = 2/7).
func PotentialTemperature(t, p float64) float64 { return t / Exner(p) }

// DryAdiabat writes into t the temperatures in K along the dry adiabat of potential
// temperature theta at the pressures p in hPa.
func DryAdiabat(t, p []float64, theta float64) {
	for i, v := range p {
		t[i] = theta * Exner(v)
	}
}

// EquivalentBolton43 returns the equivalent potential temperature in K of air at t and
// p with vapour pressure e, whose condensation temperature is tL (Bolton 1980, eq. 43
// with the potential temperature of the dry air at tL; θ by p − e).
func EquivalentBolton43(t, p, e, tL float64) float64 {
	r := constants.Epsilon * e / (p - e)
	dry := t * math.Exp(constants.Kappa*math.Log(1000/(p-e))+0.28*r*math.Log(t/tL))
	return dry * math.Exp((3036/tL-1.78)*r*(1+0.448*r))
}

// EquivalentBolton38 returns the equivalent potential temperature in K by Bolton 1980,
// eq. 38 (from memory): the simpler form, within 0.1 K of eq. 43 below 350 K.
func EquivalentBolton38(t, p, e, tL float64) float64 {
	r := constants.Epsilon * e / (p - e)
	return t * math.Exp(0.2854*(1-0.28*r)*math.Log(1000/p)+(3.376/tL-0.00254)*1000*r*(1+0.81*r))
}

// equivalent is EquivalentBolton43 with the condensation temperature of eq. 21, which
// needs no dew point: for whole columns.
func equivalent(t, p, e float64) float64 {
	if e <= 0 {
		return PotentialTemperature(t, p)
	}
	return EquivalentBolton43(t, p, e, CondensationBoltonVapour(t, e))
}

// EquivalentColumn writes the equivalent potential temperature in K of each level
// (Bolton 1980, eq. 43 with the condensation temperature of eq. 21).
func EquivalentColumn(dst, t, p, e []float64) {
	for i := range dst {
		dst[i] = equivalent(t[i], p[i], e[i])
	}
}

// SquaredBuoyancyFrequency returns N² in s⁻² of a layer with potential (or virtual
// potential) temperatures theta1 at height z1 and theta2 at z2, in K and m:
// g d ln θ/dz.
func SquaredBuoyancyFrequency(theta1, z1, theta2, z2 float64) float64 {
	return constants.G0 * math.Log(theta2/theta1) / (z2 - z1)
}
