package gas

import (
	"fmt"
	"math"

	"leadline/internal/constants"
)

// Compressibility returns Z = p/(ρ R T) of a pure gas at an absolute pressure in hPa and a
// temperature in K. NaN outside 220–330 K and 0–400 bar: no gas store is outside.
//
// Hydrogen: the standard equation for gas densities of Lemmon, Huber and Leachman 2008
// (J. Res. NIST 113, 341), 0.01 % in this range. Helium: a virial series in density,
// B + C ρ + D ρ² with B and C depending on temperature, fitted here to the equation of
// state of Ortiz Vega et al. 2023 (NIST IR 8474; coefficients read in the open library
// CoolProp), within 0.03 % of it from 213 to 353 K up to 300 bar and 0.05 % up to 400 bar.
func Compressibility(kind Kind, pressure, temperature float64) float64 {
	if !(temperature >= 220 && temperature <= 330 && pressure >= 0 && pressure <= 400e3) {
		return nan
	}
	switch kind {
	case Hydrogen:
		return hydrogenZ(pressure/1e4, temperature)
	case Helium:
		return heliumZ(pressure, temperature)
	}
	return nan
}

// Coefficients of Lemmon, Huber and Leachman 2008, table 1: Z = 1 + Σ a (100 K/T)^b (p/MPa)^c.
var hydrogenTerms = [9][3]float64{
	{0.05888460, 1.325, 1}, {-0.06136111, 1.87, 1}, {-0.002650473, 2.5, 2}, {0.002731125, 2.8, 2}, {0.001802374, 2.938, 2.42},
	{-0.001150707, 3.14, 2.63}, {0.9588528e-4, 3.37, 3}, {-0.1109040e-6, 3.75, 4}, {0.1264403e-9, 4, 5},
}

func hydrogenZ(megapascal, temperature float64) float64 {
	z := 1.0
	for _, t := range hydrogenTerms {
		z += t[0] * math.Pow(100/temperature, t[1]) * math.Pow(megapascal, t[2])
	}
	return z
}

func heliumZ(pressure, temperature float64) float64 {
	s := (temperature - 288.15) / 100
	b := 0.0118851 + s*(-3.8737e-4+s*-2.3626e-5) // dm³ mol⁻¹
	c := 1.05838e-4 - 2.0670e-5*s
	const d = 9.653e-7
	ideal := 100 * pressure / (constants.GasConstant * temperature) / 1000 // mol dm⁻³
	z := 1.0
	for range 100 {
		rho := ideal / z
		next := 1 + rho*(b+rho*(c+rho*d))
		if math.Abs(next-z) < 1e-10 {
			return next
		}
		z = next
	}
	return z
}

// Cylinder is one gas bottle, or several alike.
type Cylinder struct {
	Name        string  `json:"name"`
	Kind        Kind    `json:"gas"`
	WaterVolume float64 `json:"water_volume_m3"` // of one bottle
	Pressure    float64 `json:"pressure_hpa"`    // absolute
	Temperature float64 `json:"temperature_k"`   // of the gas, which is that of the bottle after an hour at rest
	Count       int     `json:"count"`
}

// Validate names the first item that cannot be.
func (c *Cylinder) Validate() error {
	switch {
	case c.Kind != Helium && c.Kind != Hydrogen:
		return fmt.Errorf("cylinder %q: no gas: want hydrogen or helium", c.Name)
	case !(c.WaterVolume > 0.0001 && c.WaterVolume < 5):
		return fmt.Errorf("cylinder %q: water volume of %g m³: want 0.0001 to 5 m³ (50 litres are 0.05 m³)", c.Name, c.WaterVolume)
	case !(c.Pressure >= 0 && c.Pressure <= 400e3):
		return fmt.Errorf("cylinder %q: pressure of %g bar: want 0 to 400 bar", c.Name, c.Pressure/1000)
	case !(c.Temperature >= 220 && c.Temperature <= 330):
		return fmt.Errorf("cylinder %q: temperature of %.1f °C: want −53 to 57 °C", c.Name, c.Temperature-constants.ZeroCelsius)
	case c.Count < 0 || c.Count > 100000:
		return fmt.Errorf("cylinder %q: count of %d: want 0 to 100,000", c.Name, c.Count)
	}
	return nil
}

// Amount returns the gas in one bottle in mol: n = p V/(Z R T).
func (c *Cylinder) Amount() float64 { return c.amountAt(c.Pressure) }

func (c *Cylinder) amountAt(pressure float64) float64 {
	return 100 * pressure * c.WaterVolume / (Compressibility(c.Kind, pressure, c.Temperature) * constants.GasConstant * c.Temperature)
}

// Usable returns the gas in mol that one bottle gives until its pressure has fallen to an
// absolute pressure in hPa at its present temperature; 0 where it already has.
func (c *Cylinder) Usable(left float64) float64 {
	return math.Max(0, c.Amount()-c.amountAt(math.Min(left, c.Pressure)))
}

// PressureAfter returns the absolute pressure in hPa of one bottle after an amount in mol
// has been drawn and it has come back to its temperature; NaN where it does not hold that
// much.
func (c *Cylinder) PressureAfter(drawn float64) float64 {
	rest := c.Amount() - drawn
	if !(rest >= 0) {
		return nan
	}
	low, high := 0.0, c.Pressure
	for range 50 {
		middle := (low + high) / 2
		if c.amountAt(middle) < rest {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}

// Store is what the cylinders at a site still give.
type Store struct {
	Kind      Kind    `json:"gas"`
	Bottles   int     `json:"cylinders"`
	Amount    float64 `json:"usable_mol"`
	Fills     int     `json:"fills_left"`
	Needed    int     `json:"fills_needed"`
	FreeGas   float64 `json:"usable_m3"` // at 15 °C and 1013.25 hPa
	Uncertain float64 `json:"fills_u"`   // standard uncertainty of the fills left, before rounding down
}

// NewStore adds up the cylinders of a kind for fills of an amount in mol each, leaving a
// pressure in hPa absolute in every bottle. A bottle's gas that is less than one fill
// still counts: two bottles can fill one balloon. uPressure and uTemperature are the
// standard uncertainties of a gauge's reading in hPa and of the gas temperature in K.
func NewStore(kind Kind, cylinders []Cylinder, fill, left float64, needed int, uPressure, uTemperature float64) (Store, error) {
	s := Store{Kind: kind, Needed: needed}
	if !(fill > 0) {
		return s, fmt.Errorf("fill of %g mol: want more than 0", fill)
	}
	var variance float64
	for i := range cylinders {
		c := &cylinders[i]
		if err := c.Validate(); err != nil {
			return s, err
		}
		if c.Kind != kind {
			continue
		}
		s.Bottles += c.Count
		usable := c.Usable(left)
		s.Amount += float64(c.Count) * usable
		if c.Pressure > 0 {
			// The gauge is one for all bottles, so its error is common to them.
			relative := math.Hypot(uPressure/c.Pressure, uTemperature/c.Temperature)
			variance += relative * float64(c.Count) * usable
		}
	}
	s.Uncertain = variance / fill
	return s.counted(fill), nil
}

// After returns the store when so many fills of an amount in mol each have been taken
// from it; never less than empty.
func (s Store) After(fills int, fill float64) Store {
	s.Amount = math.Max(0, s.Amount-float64(fills)*fill)
	return s.counted(fill)
}

func (s Store) counted(fill float64) Store {
	s.Fills = int(math.Floor(s.Amount/fill + 1e-9))
	s.FreeGas = s.Amount * constants.GasConstant * 288.15 / 101325
	return s
}
