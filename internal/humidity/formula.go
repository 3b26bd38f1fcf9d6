// Package humidity converts between relative humidity, vapour pressure, dew and
// frost point, mixing ratio and their kin, by a named saturation formula.
//
// Temperatures are K, pressures hPa, relative humidity % with respect to liquid
// water at every temperature, as radiosondes report it by convention
// (WMO-No. 8, volume I, chapter 4). The formula matters: below −60 °C the
// formulas over supercooled water differ by 5 % and at −80 °C by 13 %. Convert a
// sensor's relative humidity to vapour pressure with the formula its maker
// calibrated it with, and only then to dew points with the house formula.
//
// Missing values are NaN, and NaN in gives NaN out. A quantity that does not
// exist is NaN too, never a floor value: there is no dew point of vapour-free
// air, and no frost point or saturation over ice above the triple point.
package humidity

import (
	"fmt"
	"math"
	"strings"

	"leadline/internal/constants"
)

// Formula names a pair of saturation vapour pressure formulas, over water and,
// where its authors gave one, over ice. The zero value is no formula, so that a
// setting that was left out cannot pass for a choice.
type Formula uint8

// The formulas. Their ranges are given by WaterRange and IceRange.
const (
	NoFormula Formula = iota
	// HylandWexler is Hyland and Wexler 1983 (ASHRAE Trans. 89(2A), 500–519).
	HylandWexler
	// Sonntag is Sonntag 1990 (Z. Meteorol. 70, 340–344).
	Sonntag
	// MurphyKoop is Murphy and Koop 2005 (Q. J. R. Meteorol. Soc. 131, 1539),
	// eq. 10 over water and eq. 7 over ice; the one fitted to supercooled water.
	MurphyKoop
	// GoffGratch is Goff and Gratch 1946 in the form of the Smithsonian
	// Meteorological Tables.
	GoffGratch
	// Goff1957 is the form in the WMO Technical Regulations (WMO-No. 49).
	Goff1957
	// MagnusWMO8 is WMO-No. 8, volume I, annex 4.B, for everyday surface use.
	MagnusWMO8
	// Bolton is Bolton 1980 (Mon. Weather Rev. 108, 1046), eq. 10; no ice.
	Bolton
	// IAPWS is SR1-86 (1992) over water, above 0 °C only, and R14-08 (2011) over ice.
	IAPWS
)

var formulaNames = [...]string{
	NoFormula:    "",
	HylandWexler: "hyland-wexler",
	Sonntag:      "sonntag",
	MurphyKoop:   "murphy-koop",
	GoffGratch:   "goff-gratch",
	Goff1957:     "goff-1957",
	MagnusWMO8:   "magnus-wmo8",
	Bolton:       "bolton",
	IAPWS:        "iapws",
}

// Formulas returns every formula, in a fixed order.
func Formulas() []Formula {
	all := make([]Formula, 0, len(formulaNames)-1)
	for f := range formulaNames[1:] {
		all = append(all, Formula(f+1))
	}
	return all
}

// String returns the name used in settings, for example "hyland-wexler".
func (f Formula) String() string {
	if f == NoFormula || int(f) >= len(formulaNames) {
		return "no formula"
	}
	return formulaNames[f]
}

// ParseFormula reads a name written by String. The error lists the names there are.
func ParseFormula(name string) (Formula, error) {
	wanted := strings.ToLower(strings.TrimSpace(name))
	if wanted != "" {
		for f, n := range formulaNames {
			if n == wanted {
				return Formula(f), nil
			}
		}
	}
	return NoFormula, fmt.Errorf("vapour pressure formula %q is not known: use one of %s",
		name, strings.Join(formulaNames[1:], ", "))
}

// MarshalText writes the name, so that a Formula can stand in TOML and JSON.
func (f Formula) MarshalText() ([]byte, error) {
	if f == NoFormula || int(f) >= len(formulaNames) {
		return nil, fmt.Errorf("vapour pressure formula is not set: use one of %s", strings.Join(formulaNames[1:], ", "))
	}
	return []byte(formulaNames[f]), nil
}

// UnmarshalText reads a name.
func (f *Formula) UnmarshalText(text []byte) error {
	parsed, err := ParseFormula(string(text))
	if err != nil {
		return err
	}
	*f = parsed
	return nil
}

// logPressure returns ln(e/hPa) at a temperature and its derivative by T in K⁻¹.
type logPressure func(t float64) (ln, slope float64)

// source says how one phase of a formula is computed and where it holds.
type source struct {
	log         logPressure
	lowest      float64 // K, the range its authors or common practice give
	highest     float64
	hardLowest  float64 // K, outside hardLowest to hardHighest the result is NaN
	hardHighest float64
}

const (
	coldest = 100.0 // K; colder air is not met below the mesopause
	hottest = 400.0 // K
	// iceTop lets 273.16 K itself through.
	iceTop = constants.TriplePoint + 1e-9
)

var waterSources = [...]source{
	HylandWexler: {hylandWexlerWater, 173.15, 473.15, coldest, hottest},
	Sonntag:      {sonntagWater, 173.15, 373.15, coldest, hottest},
	MurphyKoop:   {murphyKoopWater, 123, 332, coldest, hottest},
	GoffGratch:   {goffGratchWater, 223.15, 375.15, coldest, hottest},
	Goff1957:     {goff1957Water, 223.15, 373.15, coldest, hottest},
	MagnusWMO8:   {magnusWater, 228.15, 333.15, coldest, hottest},
	Bolton:       {boltonWater, 238.15, 308.15, coldest, hottest},
	IAPWS:        {iapwsWater, constants.ZeroCelsius, 647.096, constants.ZeroCelsius, hottest},
}

var iceSources = [...]source{
	HylandWexler: {hylandWexlerIce, 173.15, constants.TriplePoint, coldest, iceTop},
	Sonntag:      {sonntagIce, 173.15, constants.TriplePoint, coldest, iceTop},
	MurphyKoop:   {murphyKoopIce, 110, constants.TriplePoint, coldest, iceTop},
	GoffGratch:   {goffGratchIce, 173.15, constants.TriplePoint, coldest, iceTop},
	Goff1957:     {goff1957Ice, 173.15, constants.TriplePoint, coldest, iceTop},
	MagnusWMO8:   {magnusIce, 208.15, constants.ZeroCelsius, coldest, iceTop},
	IAPWS:        {iapwsIce, 50, constants.TriplePoint, coldest, iceTop},
}

func (f Formula) water() *source {
	if f == NoFormula || int(f) >= len(waterSources) {
		return nil
	}
	return &waterSources[f]
}

func (f Formula) ice() *source {
	if int(f) >= len(iceSources) || iceSources[f].log == nil {
		return nil
	}
	return &iceSources[f]
}

// HasIce reports whether the formula has a form over ice.
func (f Formula) HasIce() bool { return f.ice() != nil }

// WaterRange returns the temperatures in K between which the formula over water
// is stated to hold by its authors or in common practice (from memory where the
// methods page marks it so). Outside it OverWater extrapolates within 100–400 K;
// IAPWS alone refuses.
func (f Formula) WaterRange() (lowest, highest float64) {
	if s := f.water(); s != nil {
		return s.lowest, s.highest
	}
	return math.NaN(), math.NaN()
}

// IceRange is WaterRange over ice; NaN for a formula without ice.
func (f Formula) IceRange() (lowest, highest float64) {
	if s := f.ice(); s != nil {
		return s.lowest, s.highest
	}
	return math.NaN(), math.NaN()
}

func (s *source) at(t float64) float64 {
	if s == nil || !(t >= s.hardLowest && t <= s.hardHighest) {
		return math.NaN()
	}
	ln, _ := s.log(t)
	return math.Exp(ln)
}

// OverWater returns the saturation vapour pressure in hPa of the pure phase over
// liquid water, also supercooled, at t in K; NaN outside 100–400 K (IAPWS: below
// 273.15 K too, where its release forbids it).
func (f Formula) OverWater(t float64) float64 { return f.water().at(t) }

// OverIce returns the saturation vapour pressure in hPa over ice at t in K; NaN
// above the triple point, below 100 K, and for a formula without ice.
func (f Formula) OverIce(t float64) float64 { return f.ice().at(t) }

// SlopeOverWater returns d ln e/dT in K⁻¹ over water, the sensitivity that
// carries a temperature uncertainty into vapour pressure; NaN as OverWater.
func (f Formula) SlopeOverWater(t float64) float64 { return f.water().slope(t) }

// SlopeOverIce is SlopeOverWater over ice.
func (f Formula) SlopeOverIce(t float64) float64 { return f.ice().slope(t) }

func (s *source) slope(t float64) float64 {
	if s == nil || !(t >= s.hardLowest && t <= s.hardHighest) {
		return math.NaN()
	}
	_, slope := s.log(t)
	return slope
}
