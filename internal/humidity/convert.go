package humidity

import (
	"math"

	"leadline/internal/constants"
)

// FromRelative returns the vapour pressure in hPa of a relative humidity in %
// over water at t in K.
func (f Formula) FromRelative(rh, t float64) float64 { return 0.01 * rh * f.OverWater(t) }

// ToRelative returns the relative humidity in % over water of a vapour pressure
// in hPa at t in K.
func (f Formula) ToRelative(e, t float64) float64 { return 100 * e / f.OverWater(t) }

// DewPointFromRelative returns the dew point in K of rh % over water at t in K.
// NaN at rh ≤ 0.
func (f Formula) DewPointFromRelative(rh, t float64) float64 {
	return f.DewPoint(f.FromRelative(rh, t))
}

// FrostPointFromRelative returns the frost point in K of rh % over water at t in
// K; NaN at rh ≤ 0 and where the frost point would be above the triple point.
func (f Formula) FrostPointFromRelative(rh, t float64) float64 {
	return f.FrostPoint(f.FromRelative(rh, t))
}

// RelativeFromDewPoint returns the relative humidity in % over water at t from
// the dew point, both in K.
func (f Formula) RelativeFromDewPoint(dewPoint, t float64) float64 {
	return f.ToRelative(f.OverWater(dewPoint), t)
}

// RelativeFromFrostPoint returns the relative humidity in % over water at t from
// the frost point, both in K.
func (f Formula) RelativeFromFrostPoint(frostPoint, t float64) float64 {
	return f.ToRelative(f.OverIce(frostPoint), t)
}

// RelativeOverIce returns the relative humidity in % over ice of rh % over water
// at t in K; NaN above the triple point and for a formula without ice.
func (f Formula) RelativeOverIce(rh, t float64) float64 {
	return rh * f.OverWater(t) / f.OverIce(t)
}

// IceSaturation returns the relative humidity in % over water at which air at t
// in K is saturated over ice; NaN above the triple point.
func (f Formula) IceSaturation(t float64) float64 {
	return 100 * f.OverIce(t) / f.OverWater(t)
}

// MixingRatio returns the mass mixing ratio in kg kg⁻¹ of a vapour pressure e in
// air of pressure p, both hPa. NaN where e is not below p: such air is vapour
// alone, and a pair of wrong numbers.
func MixingRatio(e, p float64) float64 {
	if !(e < p) {
		return math.NaN()
	}
	return constants.Epsilon * e / (p - e)
}

// PressureFromMixingRatio returns the vapour pressure in hPa of a mixing ratio in
// kg kg⁻¹ in air of p hPa.
func PressureFromMixingRatio(r, p float64) float64 { return r * p / (constants.Epsilon + r) }

// SpecificHumidity returns the mass of vapour per mass of moist air in kg kg⁻¹
// of a mixing ratio in kg kg⁻¹.
func SpecificHumidity(mixingRatio float64) float64 { return mixingRatio / (1 + mixingRatio) }

// MixingRatioFromSpecific is the inverse of SpecificHumidity.
func MixingRatioFromSpecific(q float64) float64 { return q / (1 - q) }

// VolumeMixingRatio returns moles of vapour per mole of dry air, e/(p−e), as a
// fraction (1e6 of it are ppmv); NaN where e is not below p.
func VolumeMixingRatio(e, p float64) float64 {
	if !(e < p) {
		return math.NaN()
	}
	return e / (p - e)
}

// VirtualTemperature returns Tv in K of air at t in K with a vapour pressure e
// at pressure p, both hPa: Tv = T / (1 − (1−ε) e/p), which is exact for ideal
// gases. NaN where e is not below p or p not positive. Where humidity is missing
// the caller decides what to put for e; nothing is assumed here.
func VirtualTemperature(t, e, p float64) float64 {
	if !(e < p) {
		return math.NaN()
	}
	return t / (1 - (1-constants.Epsilon)*e/p)
}

// Density returns the density in kg m⁻³ of moist air at pressure p hPa, vapour
// pressure e hPa and t K: 100 p/(Rd Tv).
func Density(p, e, t float64) float64 {
	return 100 * p / (constants.Rd * VirtualTemperature(t, e, p))
}

// Enhancement returns the factor by which the saturation vapour pressure in moist
// air of p hPa exceeds that of the pure phase (WMO-No. 8, 7th edition, annex 4.B):
// 1.0016 + 3.15e-6 p − 0.074/p. It is meant for surface pressure;
// NaN below 50 hPa, where the fit turns to nonsense.
func Enhancement(p float64) float64 {
	if !(p >= 50) {
		return math.NaN()
	}
	return 1.0016 + 3.15e-6*p - 0.074/p
}

// Psychrometer holds the coefficient A in K⁻¹ of e = ew(tw) − A p (T − Tw).
type Psychrometer struct {
	// OverWater applies where the wet bulb carries water, OverIce where ice.
	OverWater, OverIce float64
	// Warming is the relative growth of OverWater per °C of the wet bulb.
	Warming float64
	// Enhanced says whether ew is multiplied by Enhancement(p).
	Enhanced bool
}

// AspiratedWMO8 is the aspirated (Assmann) psychrometer of WMO-No. 8, volume I,
// annex 4.B (from memory).
var AspiratedWMO8 = Psychrometer{OverWater: 6.53e-4, OverIce: 5.75e-4, Warming: 0.000944, Enhanced: true}

// VapourPressure returns e in hPa from dry-bulb t and wet-bulb tw in K at p hPa.
// iced says that the wet bulb carries ice. A result below zero, which only wrong
// readings give, is NaN; so is a wet bulb warmer than the dry one.
func (w Psychrometer) VapourPressure(f Formula, t, tw, p float64, iced bool) float64 {
	if !(tw <= t) {
		return math.NaN()
	}
	saturation, a := f.OverWater(tw), w.OverWater*(1+w.Warming*(tw-constants.ZeroCelsius))
	if iced {
		saturation, a = f.OverIce(tw), w.OverIce
	}
	if w.Enhanced {
		saturation *= Enhancement(p)
	}
	e := saturation - a*p*(t-tw)
	if e < 0 {
		return math.NaN()
	}
	return e
}

// VapourPressureUncertainty returns u(e) in hPa at k = 1 from u(RH) in % and u(T)
// in K, taken as independent: u(e)/e = √((u(RH)/RH)² + (d ln ew/dT · u(T))²)
// (JCGM 100:2008, eq. 10).
func (f Formula) VapourPressureUncertainty(rh, t, uRH, uT float64) float64 {
	ew := f.OverWater(t)
	return math.Hypot(0.01*uRH*ew, 0.01*rh*ew*f.SlopeOverWater(t)*uT)
}

// DewPointUncertainty returns u(Td) in K at k = 1 of the dew point dewPoint of
// rh % at t, from u(RH) in % and u(T) in K: u(e)/e over the slope at the dew
// point.
func (f Formula) DewPointUncertainty(rh, t, dewPoint, uRH, uT float64) float64 {
	return math.Hypot(uRH/rh, f.SlopeOverWater(t)*uT) / f.SlopeOverWater(dewPoint)
}
