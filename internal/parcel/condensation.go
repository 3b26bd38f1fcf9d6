package parcel

import (
	"math"

	"leadline/internal/constants"
	"leadline/internal/humidity"
)

// CondensationBolton returns the temperature in K at which air at t with dew point td
// condenses when lifted (Bolton 1980, eq. 15).
func CondensationBolton(t, td float64) float64 {
	return 1/(1/(td-56)+math.Log(t/td)/800) + 56
}

// CondensationBoltonVapour is the same from the vapour pressure e in hPa (eq. 21, from
// memory): 2840/(3.5 ln T − ln e − 4.805) + 55.
func CondensationBoltonVapour(t, e float64) float64 {
	return 2840/(3.5*math.Log(t)-math.Log(e)-4.805) + 55
}

// Condensation returns pressure (hPa) and temperature (K) of the lifted condensation
// level of air at p, t with vapour pressure e: where the dry adiabat (κ = 2/7) meets
// saturation with the mixing ratio unchanged, by s's formula, to 1e-9 K. Air that is
// saturated or more condenses where it is. NaN for air without vapour.
func (s *Saturation) Condensation(p, t, e float64) (pL, tL float64) {
	if !(e > 0 && e < p && t > 0) {
		return math.NaN(), math.NaN()
	}
	if e >= s.At(t) {
		return p, t
	}
	// With r constant the vapour pressure falls as the pressure: e/p is constant.
	// Newton in ln T on ln es(T) = ln e + ln(T/t)/κ, from Bolton's level.
	tL = CondensationBoltonVapour(t, e)
	for range 30 {
		ln := math.Log(s.formula.OverWater(tL)) - math.Log(e) - math.Log(tL/t)/constants.Kappa
		move := ln / (s.formula.SlopeOverWater(tL) - 1/(constants.Kappa*tL))
		tL -= move
		if !(math.Abs(move) > 1e-10) {
			break
		}
	}
	return p * math.Exp(math.Log(tL/t)/constants.Kappa), tL
}

// condensation is Condensation by the table, with as many steps as a quick ascent needs.
func (s *Saturation) condensation(p, t, e float64) (pL, tL float64) {
	es := s.At(t)
	if e >= es {
		return p, t
	}
	tL = CondensationBoltonVapour(t, e)
	lnE := math.Log(e)
	for range 3 {
		eL, slope, ok := s.withSlope(tL)
		if !ok {
			return s.Condensation(p, t, e)
		}
		move := (math.Log(eL) - lnE - math.Log(tL/t)*(1/constants.Kappa)) / (slope/eL - 1/(constants.Kappa*tL))
		tL -= move
		if math.Abs(move) < 1e-4 {
			break // the next step would be 1e-10: Newton
		}
	}
	return p * math.Exp(math.Log(tL/t)*(1/constants.Kappa)), tL
}

// The constants Romps 2017 fitted his saturation curves with; they belong to his
// formula and differ a little from this project's.
const (
	rompsTriple         = 273.16 // K
	rompsTriplePressure = 6.1165 // hPa
	rompsVapourEnergy   = 2.3740e6
	rompsFusionEnergy   = 0.3337e6
	rompsGravity        = 9.81
	rompsRd             = 287.04
	rompsRv             = 461.0
	rompsCvd            = 719.0
	rompsCvv            = 1418.0
	rompsCvl            = 4119.0
	rompsCvs            = 1861.0
	rompsCpd            = rompsCvd + rompsRd
	rompsCpv            = rompsCvv + rompsRv
)

// RompsLevel is a condensation level in closed form.
type RompsLevel struct {
	Height      float64 // m above the parcel
	Pressure    float64 // hPa
	Temperature float64 // K
}

// RompsVapourPressure returns saturation in hPa at t in K by the curves of Romps 2017
// (eq. 3 and 4: constant specific heats), over liquid water or over ice.
func RompsVapourPressure(t float64, ice bool) float64 {
	c, energy := rompsCvl, rompsVapourEnergy-(rompsCvv-rompsCvl)*rompsTriple
	if ice {
		c, energy = rompsCvs, rompsVapourEnergy+rompsFusionEnergy-(rompsCvv-rompsCvs)*rompsTriple
	}
	return rompsTriplePressure * math.Exp((rompsCpv-c)/rompsRv*math.Log(t/rompsTriple)+energy/rompsRv*(1/rompsTriple-1/t))
}

// CondensationRomps returns the lifted condensation level of air at p hPa and t K with
// vapour pressure e hPa in closed form (Romps 2017, J. Atmos. Sci. 74, 3891, eq. 22;
// Lambert's W, lower branch), or with ice the lifting deposition level (eq. 23). The
// saturation curves are his (RompsVapourPressure). Height 0 and below means saturated
// where it is. NaN where e is not below p or not positive.
func CondensationRomps(p, t, e float64, ice bool) RompsLevel {
	if !(e > 0 && e < p && t > 0) {
		return RompsLevel{math.NaN(), math.NaN(), math.NaN()}
	}
	q := rompsRd * e / (rompsRv*p + (rompsRd-rompsRv)*e)
	rm, cpm := (1-q)*rompsRd+q*rompsRv, (1-q)*rompsCpd+q*rompsCpv
	c, energy := rompsCvl, rompsVapourEnergy-(rompsCvv-rompsCvl)*rompsTriple
	if ice {
		c, energy = rompsCvs, rompsVapourEnergy+rompsFusionEnergy-(rompsCvv-rompsCvs)*rompsTriple
	}
	a := cpm/rm + (c-rompsCpv)/rompsRv
	b := -energy / (rompsRv * t)
	relative := e / RompsVapourPressure(t, ice)
	// W(x) with x = (b/a) (RH)^(1/a) e^(b/a), by its logarithm: x is as small as e^-60.
	w := lambertLower(math.Log(-b/a) + math.Log(relative)/a + b/a)
	tL := t * b / (a * w)
	return RompsLevel{Height: cpm / rompsGravity * (t - tL), Pressure: p * math.Exp(cpm/rm*math.Log(tL/t)), Temperature: tL}
}

// lambertLower returns W₋₁(−e^ln), the solution w ≤ −1 of w e^w = −e^ln, for ln ≤ −1:
// Newton on w + ... written as −w − ln(−w) = −ln, which is smooth for all of them.
func lambertLower(ln float64) float64 {
	if ln > -1 {
		return math.NaN()
	}
	u := -ln // u = y − ln y with y = −w ≥ 1
	y := u + math.Log(u)
	if s := u - 1; s < 0.5 {
		y = 1 + math.Sqrt(2*s) + 2*s/3 // series at the branch point
	}
	for range 60 {
		f := y - math.Log(y) - u
		d := 1 - 1/y
		if d <= 0 {
			break
		}
		move := f / d
		y = math.Max(1, y-move)
		if math.Abs(move) <= 1e-15*y {
			break
		}
	}
	return -y
}

// WetBulb returns the (isobaric, thermodynamic) wet-bulb temperature in K of air at p, t
// with vapour pressure e: the temperature to which it cools at constant pressure by
// evaporating water until it is saturated,
// (cpd + r cpv)(T − Tw) = L(Tw) (rs(Tw) − r). Supersaturated air gives T. Within 1e-7 K.
func (s *Saturation) WetBulb(p, t, e float64) float64 {
	if !(e >= 0 && e < p && t > 0) {
		return math.NaN()
	}
	if e >= s.At(t) {
		return t
	}
	low, high := t-80, t
	if e > 0 {
		low = math.Max(low, s.DewPoint(e))
	}
	tw := CondensationBoltonVapour(t, math.Max(e, 1e-6))
	for range 60 {
		if !(tw > low && tw < high) {
			tw = 0.5 * (low + high)
		}
		f := s.wetBulbExcess(p, t, e, tw)
		if f > 0 {
			high = tw
		} else {
			low = tw
		}
		slope := s.wetBulbExcess(p, t, e, tw+0.01) - f
		move := 0.01 * f / slope
		tw -= move
		if math.Abs(move) < 1e-8 {
			return tw
		}
	}
	return tw
}

// wetBulbExcess is positive where tw is above the wet bulb, in J kg⁻¹.
func (s *Saturation) wetBulbExcess(p, t, e, tw float64) float64 {
	r := constants.Epsilon * e / (p - e)
	rs := humidity.MixingRatio(s.At(tw), p)
	return latentAt(tw)*(rs-r) - (constants.Cpd+r*SpecificHeatVapour)*(t-tw)
}
