// Package constants is the one place that holds the physical constants every
// other package computes with. Version names the set; it is written into every
// product, because two sets shift thickness by 0.002 % and equivalent potential
// temperature by 0.03 K, which a reader must be able to tell from a real change.
package constants

// Version names this set of values. Change it whenever a value below changes.
const Version = "leadline-constants-1"

const (
	// G0 is standard gravity in m s⁻², exact by convention
	// (3rd CGPM 1901; US Standard Atmosphere 1976).
	G0 = 9.80665

	// MolarMassDryAir is in kg mol⁻¹ (US Standard Atmosphere 1976, table 3).
	MolarMassDryAir = 28.9644e-3

	// MolarMassWater is in kg mol⁻¹ (IAPWS value, from memory).
	MolarMassWater = 18.01528e-3

	// Epsilon is the ratio of the molar masses of water and dry air, 0.62198.
	Epsilon = MolarMassWater / MolarMassDryAir

	// Rd is the gas constant of dry air in J kg⁻¹ K⁻¹, the rounded value in
	// common use for hypsometry. R* / Md with the constants of 1976 is 287.0531:
	// the two differ by 0.001 %, or 0.3 m in 30 km.
	Rd = 287.05

	// Rv is the gas constant of water vapour in J kg⁻¹ K⁻¹.
	Rv = Rd / Epsilon

	// Kappa is Rd/cp of dry air taken as a diatomic gas.
	Kappa = 2.0 / 7.0

	// Cpd is the specific heat of dry air at constant pressure in J kg⁻¹ K⁻¹.
	Cpd = Rd / Kappa

	// LatentHeat is the latent heat of vaporisation at 0 °C in J kg⁻¹.
	LatentHeat = 2.5008e6

	// ZeroCelsius is 0 °C in K, exact.
	ZeroCelsius = 273.15

	// TriplePoint is the temperature of the triple point of water in K.
	TriplePoint = 273.16

	// TriplePointPressure is the vapour pressure at the triple point in hPa
	// (IAPWS R14-08).
	TriplePointPressure = 6.11657

	// GasConstant is the molar gas constant in J mol⁻¹ K⁻¹ (SI 2019).
	GasConstant = 8.314462618

	// GasConstant1976 is the value the US Standard Atmosphere 1976 was computed
	// with; only the standard atmosphere uses it.
	GasConstant1976 = 8.31432
)
