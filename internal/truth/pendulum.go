package truth

import "math"

// pendulum is the radiosonde swinging under the balloon: two small-angle modes, the
// string's and a short one of the body below it, each in two directions, kept going by
// random kicks and slowly damped. Small angles keep it free of chaos, so that the same
// seed swings the same way on every machine.
type pendulum struct {
	s           *stream
	east, north float64 // m off the point of suspension
	velU, velV  float64 // m s⁻¹
	mode        [2][2]struct{ x, v float64 }
}

func newPendulum(s *stream) *pendulum { return &pendulum{s: s} }

const pendulumDamping = 0.04 // share of critical

// step moves on by dt on a string of that length in m; level is the mean square angle
// the kicks sustain, rad, as its root.
//
// Steps longer than the short mode bears (its period is 1.5 s) are taken in parts.
func (p *pendulum) step(length, level, dt float64) {
	parts := max(1, int(math.Ceil(dt/longestSwingStep-1e-9)))
	for range parts {
		p.swing(length, level, dt/float64(parts))
	}
}

const longestSwingStep = 0.25 // s

func (p *pendulum) swing(length, level, dt float64) {
	p.east, p.north, p.velU, p.velV = 0, 0, 0, 0
	for m := range p.mode {
		l, a := length, level*length
		if m == 1 {
			l = math.Max(0.12*length, 0.6)
			a = 0.12 * level * l
		}
		square := standardG / l
		omega := math.Sqrt(square)
		kick := a * math.Sqrt(4*pendulumDamping*omega*square*dt*12)
		keep := 1 - 2*pendulumDamping*omega*dt
		for d := range p.mode[m] {
			q := &p.mode[m][d]
			q.v = q.v*keep - square*q.x*dt + kick*(p.s.uniform()-0.5)
			q.x += q.v * dt
		}
		p.east += p.mode[m][0].x
		p.north += p.mode[m][1].x
		p.velU += p.mode[m][0].v
		p.velV += p.mode[m][1].v
	}
}
