package earth

import (
	"math"

	"leadline/internal/constants"
)

// standardLayer is one layer of the US Standard Atmosphere 1976, table 4: base
// in gpm, base temperature in K, gradient in K per gpm. The base pressure in hPa
// is computed upwards from 1013.25 hPa.
type standardLayer struct {
	base, temperature, gradient, pressure float64
}

const (
	standardTop    = 84852.0 // gpm: 86 km, where the molecular mass starts to change
	standardBottom = -5000.0 // gpm, the lowest level the 1976 tables print
	// hydrostatic1976 is g0 M/R* in K per gpm, 0.0341632.
	hydrostatic1976 = constants.G0 * constants.MolarMassDryAir / constants.GasConstant1976
	// StandardEarthRadius is r0 in m, which the US Standard Atmosphere 1976 uses
	// for its own geopotential height, H = r0 Z/(r0 + Z).
	StandardEarthRadius = 6356766.0
)

var standardLayers = func() []standardLayer {
	layers := []standardLayer{
		{0, 288.15, -6.5e-3, 1013.25},
		{11000, 0, 0, 0},
		{20000, 0, 1.0e-3, 0},
		{32000, 0, 2.8e-3, 0},
		{47000, 0, 0, 0},
		{51000, 0, -2.8e-3, 0},
		{71000, 0, -2.0e-3, 0},
	}
	for i := 1; i < len(layers); i++ {
		layers[i].temperature, layers[i].pressure = layers[i-1].at(layers[i].base)
	}
	return layers
}()

func (l *standardLayer) at(gpm float64) (temperature, pressure float64) {
	dh := gpm - l.base
	temperature = l.temperature + l.gradient*dh
	if l.gradient == 0 {
		return temperature, l.pressure * math.Exp(-hydrostatic1976*dh/l.temperature)
	}
	return temperature, l.pressure * math.Exp(-hydrostatic1976/l.gradient*math.Log(temperature/l.temperature))
}

// StandardAtmosphere returns temperature in K, pressure in hPa and density in
// kg m⁻³ of the US Standard Atmosphere 1976 at a geopotential height in gpm,
// −5,000 to 84,852 gpm; NaN outside.
func StandardAtmosphere(gpm float64) (temperature, pressure, density float64) {
	if !(gpm >= standardBottom && gpm <= standardTop) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	i := len(standardLayers) - 1
	for i > 0 && gpm < standardLayers[i].base {
		i--
	}
	temperature, pressure = standardLayers[i].at(gpm)
	density = 100 * pressure * constants.MolarMassDryAir / (constants.GasConstant1976 * temperature)
	return temperature, pressure, density
}

// StandardAltitude returns the geopotential height in gpm at which the US
// Standard Atmosphere 1976 has a pressure in hPa (the pressure altitude); NaN
// outside the range of StandardAtmosphere.
func StandardAltitude(pressure float64) float64 {
	i := len(standardLayers) - 1
	for i > 0 && pressure > standardLayers[i].pressure {
		i--
	}
	l := &standardLayers[i]
	var gpm float64
	if l.gradient == 0 {
		gpm = l.base - l.temperature/hydrostatic1976*math.Log(pressure/l.pressure)
	} else {
		ratio := math.Exp(-l.gradient / hydrostatic1976 * math.Log(pressure/l.pressure))
		gpm = l.base + l.temperature*(ratio-1)/l.gradient
	}
	if !(gpm >= standardBottom-1e-6 && gpm <= standardTop+1e-6) {
		return math.NaN()
	}
	return gpm
}

// StandardGeopotentialHeight returns the geopotential height in gpm of a
// geometric height in m as the US Standard Atmosphere 1976 defines it (45.5°,
// r0 = 6,356,766 m). Use GeopotentialHeight for a real place.
func StandardGeopotentialHeight(heightSeaLevel float64) float64 {
	return StandardEarthRadius * heightSeaLevel / (StandardEarthRadius + heightSeaLevel)
}

// DynamicViscosity returns that of air in Pa s at t in K by Sutherland's formula
// with the constants of the US Standard Atmosphere 1976, eq. 51.
func DynamicViscosity(t float64) float64 {
	return 1.458e-6 * t * math.Sqrt(t) / (t + 110.4)
}
