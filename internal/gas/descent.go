package gas

import (
	"math"

	"leadline/internal/constants"
)

// FallRate returns the terminal rate of fall in m s⁻¹, positive downwards, of a mass in
// kg with a drag area (coefficient times area) in m² in air of a density in kg m⁻³:
// v = √(2 m g0/(ρ Cd A)).
func FallRate(mass, dragArea, density float64) float64 {
	return math.Sqrt(2 * mass * constants.G0 / (density * dragArea))
}

// DragArea returns the drag area in m² with which a mass in kg falls at a rate in m s⁻¹
// in air of a density in kg m⁻³.
func DragArea(mass, rate, density float64) float64 {
	return 2 * mass * constants.G0 / (density * rate * rate)
}

// Reference is the density in kg m⁻³ that fall rates of parachutes are stated for: the
// standard atmosphere at sea level, rounded.
const Reference = 1.225

// Fall is how the rest comes down after the burst, by its rate in air of Reference density.
type Fall struct {
	Rate     float64 // m s⁻¹
	Relative float64 // standard uncertainty, share of it
	Words    string
}

// WithParachute returns the usual fall under a parachute: 5 m s⁻¹ near sea level (common
// practice, no source; METHODS 5 computes with 4), ±15 %: remains of the balloon on the
// lines, a parachute that opens late.
func WithParachute() Fall { return Fall{5, 0.15, "under a parachute"} }

// WithoutParachute returns the fall of a light radiosonde with the remains of the
// balloon: 9 m s⁻¹ ± 30 % (ours; 50 m s⁻¹ and more high up have been reported, METHODS 5).
func WithoutParachute() Fall { return Fall{9, 0.30, "without a parachute"} }

// At returns the rate of fall in m s⁻¹ in air of a density in kg m⁻³.
func (f Fall) At(density float64) float64 { return f.Rate * math.Sqrt(Reference/density) }
