package gas

import (
	"fmt"
	"math"

	"leadline/internal/constants"
)

// Load is what the gas must lift, in kg.
type Load struct {
	Balloon float64 // the empty balloon
	Payload float64 // everything tied below it: radiosonde, unwinder, string, parachute, light
}

// Fill is an amount of gas in a balloon, at the air it was filled in.
type Fill struct {
	Gas    Mixture
	Load   Load
	Air    Air     // at the release point; the gas has its pressure and temperature
	Amount float64 // mol
}

// FillForNozzleLift returns the fill whose pull at the nozzle is a weight in kg: what the
// balloon with its neck on the filling tube lifts besides itself. Lift in kg is force
// divided by standard gravity, as balances and filling weights show it.
func FillForNozzleLift(gas Mixture, load Load, air Air, nozzle float64) (Fill, error) {
	f := Fill{Gas: gas, Load: load, Air: air}
	buoyancy := air.Density() - gas.Density(air.Pressure, air.Temperature)
	switch {
	case !(load.Balloon > 0):
		return f, fmt.Errorf("balloon mass of %g kg: want more than 0", load.Balloon)
	case !(load.Payload >= 0):
		return f, fmt.Errorf("payload of %g kg: want 0 or more", load.Payload)
	case !(gas.Purity > 0 && gas.Purity <= 1):
		return f, fmt.Errorf("purity of %g %%: want above 0 and at most 100 %%", 100*gas.Purity)
	case !(buoyancy > 0):
		return f, fmt.Errorf("%s of %g %% purity does not lift in air of %g hPa and %g K", gas.Kind, 100*gas.Purity, air.Pressure, air.Temperature)
	case !(nozzle > 0):
		return f, fmt.Errorf("nozzle lift of %g kg: want more than 0", nozzle)
	}
	volume := (nozzle + load.Balloon) / buoyancy
	f.Amount = 100 * air.Pressure * volume / (constants.GasConstant * air.Temperature)
	return f, nil
}

// FillForFreeLift returns the fill with a free lift in kg: what is left when balloon and
// payload hang in the air.
func FillForFreeLift(gas Mixture, load Load, air Air, free float64) (Fill, error) {
	return FillForNozzleLift(gas, load, air, free+load.Payload)
}

// Volume returns that of the gas in m³ in air around it: pressure and temperature of the
// gas are those of the air. The skin holds a few hPa more, which is neglected.
func (f Fill) Volume(air Air) float64 {
	return f.Amount * constants.GasConstant * air.Temperature / (100 * air.Pressure)
}

// Diameter returns that of the sphere in m.
func (f Fill) Diameter(air Air) float64 { return SphereDiameter(f.Volume(air)) }

// SphereDiameter returns the diameter in m of a sphere of a volume in m³.
func SphereDiameter(volume float64) float64 { return math.Cbrt(6 * volume / math.Pi) }

// SphereVolume returns the volume in m³ of a sphere of a diameter in m.
func SphereVolume(diameter float64) float64 { return math.Pi / 6 * diameter * diameter * diameter }

// GasMass returns the mass of the gas in kg.
func (f Fill) GasMass() float64 { return f.Amount * f.Gas.MolarMass() }

// GrossLift returns the lift of the gas alone in kg at the release point.
func (f Fill) GrossLift() float64 { return f.Volume(f.Air)*f.Air.Density() - f.GasMass() }

// NozzleLift returns the lift at the nozzle in kg at the release point.
func (f Fill) NozzleLift() float64 { return f.GrossLift() - f.Load.Balloon }

// FreeLift returns the lift that drives the ascent in kg, in air around the balloon. It
// hardly changes with height: the volume grows as the density falls.
func (f Fill) FreeLift(air Air) float64 {
	return f.Volume(air)*air.Density() - f.GasMass() - f.Load.Balloon - f.Load.Payload
}

// Allowance is the extra free lift in kg for rain and ice.
type Allowance struct {
	Word string  // none, light-rain, rain, icing
	Lift float64 // kg
	Note string
}

// Allowances lists the extra free lift for weather (a navy's training manual, read in
// stored text; the figure for icing is the upper end it gives, since more can do harm).
func Allowances() []Allowance {
	return []Allowance{
		{"none", 0, ""},
		{"light-rain", 0.1, "water on the skin"},
		{"rain", 0.25, "moderate rain or more: 0.2 to 0.3 kg"},
		{"icing", 0.3, "more than 0.3 kg may do harm: the larger balloon collects more ice"},
	}
}

// AllowanceFor finds an allowance by its word; "" is none.
func AllowanceFor(word string) (Allowance, error) {
	if word == "" {
		word = "none"
	}
	for _, a := range Allowances() {
		if a.Word == word {
			return a, nil
		}
	}
	return Allowance{}, fmt.Errorf("weather %q: want none, light-rain, rain or icing", word)
}
