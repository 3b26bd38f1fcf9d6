package suggest

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
)

// surfaceWind: the surface wind is in knots or km/h, or points where it blows to.
func (f *facts) surfaceWind(w *world) []hypothesis {
	s, d := w.record.Surface.WindSpeed.Value(), w.record.Surface.WindDirection.Value()
	if math.IsNaN(s + d + f.windU) {
		return nil
	}
	aloft := math.Hypot(f.windU, f.windV)
	var out []hypothesis
	for _, u := range []struct {
		factor float64
		words  string
		price  float64
	}{{1852.0 / 3600, "it looks written in knots", priceWind}, {1 / 3.6, "it looks written in km/h", priceWind}} {
		v := round(s*u.factor, 1)
		out = append(out, hypothesis{name: SurfaceWindUnit, price: u.price, kind: "surface.wind_speed_m_s", value: v, near: 0.1 * v,
			sentence:  fmt.Sprintf("the surface wind is given as %s m/s where the radiosonde drifted with %.1f m/s in the first minute; %s: %s m/s fits", decimal(s, 1), aloft, u.words, decimal(v, 1)),
			change:    func(w *world) { w.record.Surface.WindSpeed = sounding.Number(v) },
			decisions: []sounding.Decision{correct("surface.wind_speed_m_s", decimal(v, 1), u.words)}})
	}
	return out
}
