package gas

import (
	"math"

	"leadline/internal/constants"
	"leadline/internal/earth"
	"leadline/internal/humidity"
)

var nan = math.NaN()

// Air is the air around a balloon.
type Air struct {
	Pressure    float64 // hPa
	Temperature float64 // K
	Vapour      float64 // vapour pressure, hPa; 0 is dry air
}

// MoistAir returns air with a relative humidity in % over liquid water (Murphy and Koop
// 2005 vapour pressure). A humidity of NaN is taken as dry: moisture makes air lighter by
// at most 1.6 % at 30 °C and saturation, and is unknown in forecasts more often than not.
func MoistAir(pressure, temperature, relative float64) Air {
	a := Air{Pressure: pressure, Temperature: temperature}
	if !math.IsNaN(relative) {
		a.Vapour = relative / 100 * humidity.MurphyKoop.OverWater(temperature)
	}
	return a
}

// Density returns that of the air in kg m⁻³: dry air and vapour as ideal gases
// (WMO-No. 8, volume I, annex on density; from memory).
func (a Air) Density() float64 {
	dry := a.Pressure - a.Vapour*(1-constants.Epsilon)
	return 100 * dry * constants.MolarMassDryAir / (constants.GasConstant * a.Temperature)
}

// Atmosphere returns the air at a geopotential height in gpm; NaN where it does not know.
type Atmosphere func(gpm float64) Air

// Standard is the US Standard Atmosphere 1976.
func Standard(gpm float64) Air {
	t, p, _ := earth.StandardAtmosphere(gpm)
	return Air{Pressure: p, Temperature: t}
}
