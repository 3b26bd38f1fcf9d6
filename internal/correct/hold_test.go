package correct

import (
	"math"
	"testing"
)

// What an inversion throws beyond what air holds is held at the margin, and half of what
// was cut counts as uncertainty; a reading that stands outside itself is left
// (docs/methods/humidity-lag.md).
func TestInversionIsHeldToWhatAirHolds(t *testing.T) {
	for _, x := range []struct{ reading, air, want, model float64 }{
		{20, -25, -3, 11}, {90, 111, 103, 4}, {50, 60, 60, 0}, {105, 111, 111, 0}, {-5, -8, -8, 0},
	} {
		e := element{reading: []float64{x.reading}, ratio: []float64{1}, air: []float64{x.air}, atSensor: []float64{x.air}, model: []float64{0}}
		e.hold(0, 3)
		if math.Abs(e.air[0]-x.want) > 1e-9 || math.Abs(e.model[0]-x.model) > 1e-9 || e.atSensor[0] != e.air[0] {
			t.Errorf("reading %g, undone %g: %g ± %g, want %g ± %g", x.reading, x.air, e.air[0], e.model[0], x.want, x.model)
		}
	}
}
