package suggest

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
)

const zeroCelsius = 273.15

// surfaceTemperature: the surface temperature is in another unit, lost its sign or was
// mistyped.
func (f *facts) surfaceTemperature(w *world) []hypothesis {
	k := w.record.Surface.Temperature.Value()
	if math.IsNaN(k) {
		return nil
	}
	sonde := k + nearest(k, f.temperature, f.temperatureAloft)
	var out []hypothesis
	add := func(name string, value, price float64, words string) {
		if !(value > 180 && value < 335) {
			return
		}
		out = append(out, hypothesis{name: name, price: price, kind: "surface.temperature_k", value: value, near: f.usualTemperature,
			sentence:  fmt.Sprintf("the surface temperature is given as %s where the radiosonde had %s; %s: %s fits", celsius(k), celsius(sonde), words, celsius(value)),
			change:    func(w *world) { w.record.Surface.Temperature = sounding.Number(value) },
			decisions: []sounding.Decision{correct("surface.temperature_k", decimal(value, 2), words)}})
	}
	c := k - zeroCelsius
	add(SurfaceTemperatureUnit, round((c-32)/1.8, 1)+zeroCelsius, priceUnit, "it looks like °F written as °C")
	add(SurfaceTemperatureUnit, round((k-32)/1.8, 1)+zeroCelsius, priceUnit, "it looks like °F written as K")
	add(SurfaceTemperatureUnit, k+zeroCelsius, priceUnit, "it looks like °C written as K")
	add(SurfaceTemperatureUnit, k-zeroCelsius, priceUnit, "it looks like K written as °C")
	for _, t := range mistyped(round(c, 2)) {
		add(SurfaceTemperatureTyped, t.value+zeroCelsius, t.price, t.words)
	}
	return out
}

// thermometer: the radiosonde's thermometer is off by a constant.
func (f *facts) thermometer(w *world) []hypothesis {
	d := f.warm
	if math.IsNaN(d) || w.warm != 0 {
		return nil
	}
	word := "warm"
	if d < 0 {
		word = "cold"
	}
	reason := fmt.Sprintf("thermometer reads about %.1f K too %s throughout", math.Abs(d), word)
	return []hypothesis{{name: ThermometerOffset, price: priceThermal,
		sentence: fmt.Sprintf("the thermometer reads %.1f ± %.1f K too %s on average: hydrostatic and satellite height part as ln p: flag its temperatures, and what follows from them, as questionable",
			math.Abs(d), math.Hypot(usualWarm, f.uWarm), word),
		change:    func(w *world) { w.warm = d },
		decisions: []sounding.Decision{f.over(sounding.ActFlag, "questionable", reason, sounding.Temperature)}}}
}
