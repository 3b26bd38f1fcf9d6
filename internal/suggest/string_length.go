package suggest

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
	"leadline/internal/wind"
)

// stringLength: the declared string is not the one that swings.
func (f *facts) stringLength(w *world) []hypothesis {
	l := w.record.Balloon.String.Value()
	if !(l > 0) || !(f.period > 0) {
		return nil
	}
	length := math.Round(wind.StringLength(f.period))
	words := fmt.Sprintf("it swings with %.1f s, as on %.0f m", f.period, length)
	return []hypothesis{{name: StringLength, price: priceString,
		sentence:  fmt.Sprintf("the string is given as %s m (%.1f s), but the radiosonde swings with %.1f s, as on a string of %.0f m", decimal(l, 1), wind.PendulumPeriod(l), f.period, length),
		change:    func(w *world) { w.record.Balloon.String = sounding.Number(length) },
		decisions: []sounding.Decision{correct("balloon.string_m", decimal(length, 0), words)}}}
}
