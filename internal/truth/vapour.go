package truth

import (
	"math"

	"leadline/internal/humidity"
)

// The simulated air knows vapour by Murphy and Koop (2005, Q. J. R. Meteorol. Soc.
// 131, 1539–1565, eq. 10 over water, eq. 7 over ice), written out here again on
// purpose: a slip in the corrections' own formulas must not cancel.

// waterVapour returns ln(e/hPa) at saturation over liquid water, 123–332 K.
func waterVapour(t float64) float64 {
	l := math.Log(t)
	a := 54.842763 - 6763.22/t - 4.210*l + 0.000367*t
	b := 53.878 - 1331.22/t - 9.44523*l + 0.014025*t
	return a + math.Tanh(0.0415*(t-218.8))*b - math.Log(100)
}

// iceVapour returns ln(e/hPa) at saturation over ice, above 110 K.
func iceVapour(t float64) float64 {
	return 9.550426 - 5723.265/t + 3.53068*math.Log(t) - 0.00728332*t - math.Log(100)
}

// vapourTable holds ln e every quarter kelvin from 160 to 400 K, read linearly: the
// error is below 2e-5 of the pressure.
type vapourTable [961]float64

const vapourBottom, vapourSteps = 160.0, 4.0

func newVapourTable(ln func(t float64) float64) *vapourTable {
	t := &vapourTable{}
	for i := range t {
		t[i] = ln(vapourBottom + float64(i)/vapourSteps)
	}
	return t
}

func (v *vapourTable) ln(t float64) float64 {
	x := (t - vapourBottom) * vapourSteps
	i := max(0, min(int(x), len(v)-2))
	return v[i] + (v[i+1]-v[i])*(x-float64(i))
}

func (v *vapourTable) pressure(t float64) float64 { return math.Exp(v.ln(t)) }

var overWater, overIce = newVapourTable(waterVapour), newVapourTable(iceVapour)

// calibrationVapour is the formula the sensor's maker calibrated with. A sensor
// reports the ratio to that formula whatever the air thinks of it, so this one table
// is shared with the corrections.
func calibrationVapour(f humidity.Formula) *vapourTable {
	return newVapourTable(func(t float64) float64 { return math.Log(f.OverWater(t)) })
}
