package suggest

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
	"leadline/internal/units"
)

// surfacePressure: the surface pressure was mistyped, is in another unit, or reduced to
// sea level; and the same for the reference pressure of the ground check.
func (f *facts) surfacePressure(w *world) []hypothesis {
	var out []hypothesis
	const field = "surface.pressure_hpa"
	r := &w.record
	if p := r.Surface.Pressure.Value(); !math.IsNaN(p) {
		add := func(name string, value, price float64, decimals int, words string) {
			text := decimal(value, decimals)
			sentence := fmt.Sprintf("the surface pressure is given as %s hPa; %s: %s hPa fits", decimal(p, 2), words, text)
			out = append(out, hypothesis{name: name, price: price, sentence: sentence, kind: field, value: value, near: 1,
				change:    func(w *world) { w.record.Surface.Pressure = sounding.Number(round(value, decimals)) },
				decisions: []sounding.Decision{correct(field, text, words)}})
		}
		for _, u := range pressureUnits(p) {
			add(SurfacePressureUnit, u.value, u.price, 1, u.words)
		}
		for _, t := range mistyped(p) {
			if t.value > 400 && t.value < 1100 {
				add(SurfacePressureMistyped, t.value, t.price, 2, t.words)
			}
		}
		if z := r.Site.Barometer.Or(r.Site.Height.Value()); math.Abs(z) > 15 {
			t := r.Surface.Temperature.Or(288) + 0.00325*z
			if t > 200 && t < 330 {
				add(SurfacePressureReduced, p*math.Exp(-z/(29.27*t)), priceUnit, 1, "it looks reduced to sea level")
			}
		}
		if want := f.wantedPressure(w); !math.IsNaN(want) {
			out = append(out, hypothesis{name: SurfacePressureWrong, price: priceUnknown + 2, kind: field, value: want, near: 3,
				sentence: fmt.Sprintf("the surface pressure of %s hPa cannot be right where barometer or ground check give %.1f hPa, and no slip of the hand explains it: withhold it", decimal(p, 2), want),
				change:   func(w *world) { w.record.Surface.Pressure = sounding.Number(want) },
				decisions: []sounding.Decision{correct(field, "none",
					fmt.Sprintf("%s hPa cannot be right where %.1f hPa is measured", decimal(p, 2), want))}})
		}
	}
	g := r.GroundCheck.ReferencePressure.Value()
	if p := r.Surface.Pressure.Value(); !math.IsNaN(g + p) {
		const field = "ground_check.reference_pressure_hpa"
		add := func(value, price float64, words string) {
			text := decimal(value, 2)
			out = append(out, hypothesis{name: ReferencePressureWrong, price: price + 1,
				sentence:  fmt.Sprintf("the reference pressure of the ground check is given as %s hPa; %s: %s hPa fits", decimal(g, 2), words, text),
				change:    func(w *world) { w.record.GroundCheck.ReferencePressure = sounding.Number(value) },
				decisions: []sounding.Decision{correct(field, text, words)}})
		}
		for _, u := range pressureUnits(g) {
			add(round(u.value, 1), u.price, u.words)
		}
		for _, t := range mistyped(g) {
			if t.value > 400 && t.value < 1100 {
				add(t.value, t.price, t.words)
			}
		}
	}
	// The station barometer stands elsewhere than the record says.
	if z, p := r.Site.Barometer.Value(), r.Surface.Pressure.Value(); !math.IsNaN(z+p) && !math.IsNaN(f.offset) {
		for _, t := range mistyped(z) {
			if math.Abs(t.value-r.Site.Height.Value()) > 60 {
				continue
			}
			out = append(out, hypothesis{name: BarometerHeightWrong, price: t.price + 1,
				sentence:  fmt.Sprintf("the height of the station barometer is given as %s m; %s: %s m fits", decimal(z, 2), t.words, decimal(t.value, 2)),
				change:    func(w *world) { w.record.Site.Barometer = sounding.Number(t.value) },
				decisions: []sounding.Decision{correct("site.barometer_height_m_msl", decimal(t.value, 2), t.words)}})
		}
	}
	return out
}

// wantedPressure is what the surface pressure should be by the radiosonde or, where
// that has no barometer, by the ground check.
func (f *facts) wantedPressure(w *world) float64 {
	r := &w.record
	up := r.Site.Barometer.Or(r.Site.Height.Value()) - r.Site.Height.Value()
	if math.IsNaN(up) || math.Abs(up) > 200 {
		up = 0
	}
	p := f.pressure
	if math.IsNaN(p) {
		return r.GroundCheck.ReferencePressure.Value()
	}
	if !math.IsNaN(f.offset) {
		p -= f.offset - w.pressure + w.pressureGround
	}
	return round(p*math.Exp(-up/(29.27*288)), 1)
}

// pressureUnits lists what p may mean in another unit of pressure.
func pressureUnits(p float64) []typed {
	var out []typed
	for _, name := range []string{"inHg", "mmHg", "kPa", "Pa", "bar"} {
		u, err := units.Lookup(name, units.Pressure)
		if err != nil {
			continue
		}
		if v := u.Inside(p); v > 400 && v < 1100 {
			out = append(out, typed{v, "it looks written in " + name, priceUnit})
		}
	}
	return out
}
