package gas

import (
	"fmt"
	"strings"

	"leadline/internal/constants"
)

// Kind is a lifting gas.
type Kind uint8

// The lifting gases.
const (
	Helium Kind = iota + 1
	Hydrogen
)

// Molar masses in kg mol⁻¹ (IUPAC standard atomic weights, abridged; from memory).
const (
	MolarMassHelium   = 4.0026e-3
	MolarMassHydrogen = 2.01588e-3
)

// ParseKind reads "helium" or "hydrogen".
func ParseKind(s string) (Kind, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "helium", "he":
		return Helium, nil
	case "hydrogen", "h2":
		return Hydrogen, nil
	case "":
		return 0, fmt.Errorf("no gas is given: write hydrogen or helium")
	}
	return 0, fmt.Errorf("gas %q: want hydrogen or helium", s)
}

func (k Kind) String() string {
	switch k {
	case Helium:
		return "helium"
	case Hydrogen:
		return "hydrogen"
	}
	return "no gas"
}

// MarshalText writes the gas's name.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// UnmarshalText reads the gas's name.
func (k *Kind) UnmarshalText(b []byte) (err error) {
	*k, err = ParseKind(string(b))
	return err
}

// molarMass of the pure gas in kg mol⁻¹, NaN for no gas.
func (k Kind) molarMass() float64 {
	switch k {
	case Helium:
		return MolarMassHelium
	case Hydrogen:
		return MolarMassHydrogen
	}
	return nan
}

// Mixture is a lifting gas as it comes: the rest to 1 is taken for air, which is what
// leaks in and costs the most lift among the usual impurities of its size.
type Mixture struct {
	Kind   Kind
	Purity float64 // share of the amount that is the lifting gas, 0–1
}

// MolarMass returns that of the mixture in kg mol⁻¹.
func (m Mixture) MolarMass() float64 {
	return m.Purity*m.Kind.molarMass() + (1-m.Purity)*constants.MolarMassDryAir
}

// Density returns that of the mixture in kg m⁻³ at a pressure in hPa and a temperature
// in K as an ideal gas: near the ground helium and hydrogen depart from it by 0.05 % and
// 0.06 % (see Compressibility), far less than a balance can weigh.
func (m Mixture) Density(pressure, temperature float64) float64 {
	return 100 * pressure * m.MolarMass() / (constants.GasConstant * temperature)
}
