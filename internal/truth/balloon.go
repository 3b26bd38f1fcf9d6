package truth

import "math"

const (
	molarHelium   = 4.0026e-3
	molarHydrogen = 2.01588e-3
)

// burstTable is burst diameter in m by balloon mass in kg: a public ballooning guide's
// table for latex balloons, as the methods sheet gives it (8.3).
var burstTable = [][2]float64{
	{0.1, 1.9}, {0.2, 3.00}, {0.3, 3.78}, {0.35, 4.12}, {0.5, 4.99}, {0.6, 6.02}, {0.8, 7.00},
	{1.0, 7.86}, {1.2, 8.63}, {1.5, 9.44}, {2.0, 10.54}, {3.0, 13.00},
}

func burstDiameter(mass float64) float64 {
	t := burstTable
	i := 0
	for i < len(t)-2 && mass > t[i+1][0] {
		i++
	}
	return t[i][1] + (t[i+1][1]-t[i][1])*(mass-t[i][0])/(t[i+1][0]-t[i][0])
}

// viscosity of air in Pa s (Sutherland's law, US Standard Atmosphere 1976, eq. 51).
func viscosity(t float64) float64 { return 1.458e-6 * t * math.Sqrt(t) / (t + 110.4) }

// balloon is the state of the balloon: gas in mol, gas temperature in K.
type balloon struct {
	moles, molar, gasT float64
	mass               float64 // kg, skin and payload
	drag               float64 // factor of this balloon on the sphere's drag
	burst              float64 // m
	sunGain            float64 // K, gas above air in full sun at low density
}

// newBalloon fills to the nozzle lift at the ground: V (ρa − ρg) = nozzle lift + balloon mass.
func newBalloon(b *Balloon, a air, s *stream) *balloon {
	out := &balloon{molar: molarHelium, gasT: a.t, mass: b.Mass + b.Payload}
	if b.Gas == "hydrogen" {
		out.molar = molarHydrogen
	}
	gas := 100 * a.p * out.molar / (gasConstant * a.t)
	volume := (b.NozzleLift + b.Mass) / (a.density() - gas)
	out.moles = volume * gas / out.molar
	out.drag = s.factor(0.08)
	out.burst = b.Burst
	scatter := s.near(1, 0.03)
	if out.burst == 0 {
		out.burst = burstDiameter(b.Mass) * scatter
	}
	out.sunGain = s.between(5, 14)
	return out
}

func (b *balloon) volume(p float64) float64 { return b.moles * gasConstant * b.gasT / (100 * p) }

func diameter(volume float64) float64 { return math.Cbrt(6 * volume / math.Pi) }

// sphereDrag is the drag coefficient of a loaded, slightly pear-shaped sphere against
// Reynolds number: 0.50 below the drag crisis, falling smoothly to 0.35 above it (shape
// from memory; upper ends of the ranges in METHODS 8.2, which bring the mean rate of the
// published balloon tables within 15 %).
func sphereDrag(re float64) float64 {
	x := (math.Log(re) - math.Log(2.6e5)) / 0.38
	return 0.35 + 0.15/(1+math.Exp(x))
}

// rate returns the rate of climb relative to the air in m s⁻¹ at which drag holds the
// net lift, and the diameter in m.
func (b *balloon) rate(a air, speed float64) (rate, d float64) {
	rho := a.density()
	v := b.volume(a.p)
	d = diameter(v)
	force := standardG * (rho*v - b.moles*b.molar - b.mass)
	area := math.Pi * d * d / 4
	speed = math.Max(math.Abs(speed), 0.3)
	cd := b.drag * sphereDrag(rho*speed*d/viscosity(a.t))
	rate = math.Sqrt(2 * math.Abs(force) / (rho * cd * area))
	return math.Copysign(rate, force), d
}

// warm moves the gas temperature on by dt: cooling by expansion, exchange with the
// air, and the sun (share 0–1).
func (b *balloon) warm(a air, w, sun, dt float64) {
	rho := a.density()
	exchange := 80 + 140*(1-math.Min(rho, 1.2)/1.2)
	target := a.t + b.sunGain*sun*(1-0.6*math.Min(rho, 1.2)/1.2)
	b.gasT -= 0.4 * standardG * ventGas * b.gasT / a.t * w * dt * 0.72
	b.gasT += (target - b.gasT) * dt / exchange
}
