package truth

import "math"

// flightPlan holds what faults do to the balloon itself.
type flightPlan struct {
	burstAt    float64 // m above the ground, NaN none
	ground     float64
	leakFrom   float64 // s after release, NaN none
	leakShare  float64 // of the net lift's gas lost per 1,000 s
	floatAt    float64 // m above the ground, NaN none
	floatFor   float64 // s
	floatSince float64 // s after release when it began, NaN before
	sinking    float64 // m s⁻¹ during the float, negative for a temporary descent
}

func newFlightPlan() *flightPlan {
	n := math.NaN()
	return &flightPlan{burstAt: n, leakFrom: n, floatAt: n, floatSince: n}
}

func (f *flightPlan) leak(b *balloon, since, dt float64) {
	if since >= f.leakFrom {
		b.moles *= 1 - f.leakShare*dt/1000
	}
}

// hold replaces the rate of climb while the balloon floats.
func (f *flightPlan) hold(rate, since, z float64) float64 {
	if z >= f.ground+f.floatAt && math.IsNaN(f.floatSince) {
		f.floatSince = since
	}
	if since >= f.floatSince && since < f.floatSince+f.floatFor {
		return f.sinking
	}
	return rate
}

func (f *flightPlan) bursts(since, z float64) bool { return z >= f.ground+f.burstAt }
