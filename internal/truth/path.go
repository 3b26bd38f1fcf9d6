package truth

import (
	"math"
	"time"

	"leadline/internal/sounding"
)

// substeps of one frame interval the motion is computed on.
const substeps = 4

// path is the flight of the radiosonde on a grid of substeps: what is around it and
// how it moves, before any instrument looks at it. Slices have one entry a substep.
type path struct {
	dt                     float64
	start                  time.Time
	release, burst, landed float64 // s since start; landed NaN where the balloon is not followed to the ground
	phase                  []sounding.Phase
	lat, lon, z            []float64
	climb                  []float64 // m s⁻¹ of the radiosonde
	t, e, p, rho, u, v, w  []float64 // the air
	geopot                 []float64
	warm                   []float64 // K that the radiosonde's surroundings are warmer than the air (vehicle)
	vent                   []float64 // m s⁻¹ past the sensors
	sun                    []float64 // degrees
	shade                  []float64 // share of the direct sun that arrives
	cloudy                 []bool
	swingU, swingV         []float64 // m s⁻¹ of the radiosonde against the balloon
	offE, offN             []float64 // m of the radiosonde off the balloon
	moveU, moveV           []float64 // m s⁻¹ of the balloon over ground
}

// newPath returns an empty path with room for n substeps of dt s.
func newPath(dt float64, n int) *path {
	p := &path{dt: dt, landed: math.NaN(), burst: math.NaN(), phase: make([]sounding.Phase, 0, n), cloudy: make([]bool, 0, n)}
	for _, x := range []*[]float64{
		&p.lat, &p.lon, &p.z, &p.climb, &p.t, &p.e, &p.p, &p.rho, &p.u, &p.v, &p.w, &p.geopot,
		&p.warm, &p.vent, &p.sun, &p.shade, &p.swingU, &p.swingV, &p.offE, &p.offN, &p.moveU, &p.moveV,
	} {
		*x = make([]float64, 0, n)
	}
	return p
}

func (p *path) len() int { return len(p.z) }

// slip is the constant speed in m s⁻¹ at which this balloon, which is no perfect sphere,
// moves sideways through the air, towards east and north: what the sheet states as the
// common uncertainty of the wind.
func slip(s *Scenario, seed uint64) (u, v float64) {
	if s.Exact {
		return 0, 0
	}
	rnd := newStream(seed, "slip")
	return rnd.normal() * s.Sheet.Wind.Floor, rnd.normal() * s.Sheet.Wind.Floor
}

// fly computes the path. Physical faults of the balloon come as plan.
func fly(s *Scenario, a *atmosphere, seed uint64, plan *flightPlan) *path {
	rnd := newStream(seed, "balloon")
	swing := newStream(seed, "pendulum")
	ground := newStream(seed, "ground")
	slipU, slipV := slip(s, seed)
	p := newPath(s.Interval/substeps, int((s.Before+8600+s.Rest)/s.Interval)*substeps)

	// Frames fall on whole intervals of the clock; the release does not.
	before := math.Ceil(s.Before/s.Interval) * s.Interval
	p.start = s.Release.Add(-time.Duration(before * 1e9)).Truncate(time.Duration(s.Interval * 1e9))
	p.release = s.Release.Sub(p.start).Seconds()

	surface := a.at(s.Site.Height + 1.5)
	b := newBalloon(&s.Balloon, surface, rnd)
	chute := s.Balloon.Parachute * rnd.factor(0.08)
	unwind := rnd.between(35, 60)
	swinging := rnd.between(0.035, 0.085) // rad, root mean square
	lost := s.Site.Height + rnd.between(1200, 4500)
	gust := newWander(rnd, p.dt, 6)
	flutter := newWander(rnd, p.dt, 25)

	walk, walkFrom := ground.between(30, 80), p.release-ground.between(60, 150)
	heading := ground.between(0, 2*math.Pi)
	out := p.release * ground.between(0.45, 0.7) // out of the vehicle
	cabin := ground.between(4, 14)
	if surface.t > zeroCelsius+27 {
		cabin = -ground.between(3, 9) // cooled
	}

	const short = 1.5
	z, rel := s.Site.Height+1.5, 0.0 // of the radiosonde; speed against the air
	pend := newPendulum(swing)
	lat, lon := s.Site.Latitude, s.Site.Longitude
	// Walk away from the point of preparation so that release happens at the site.
	north, east := math.Cos(heading), math.Sin(heading)
	lat -= north * walk / 111200
	lon -= east * walk / (111300 * math.Cos(lat*radian))

	phase := sounding.BeforeRelease
	warm, sun := cabin, 0.0
	bursting := false
	now := 0.0
	n := 0
	stop := math.Inf(1)
	var peak float64
	for ; now < 6*3600 && now < stop; n++ {
		now = float64(n) * p.dt
		if n%32 == 0 {
			sun = sunElevation(p.start.Add(time.Duration(now*1e9)), lat, lon)
		}
		at := a.at(z)
		length := short
		line := 0.0 // m s⁻¹ the string unwinds
		since := now - p.release
		if since > 0 {
			length = short + (s.Balloon.String-short)*math.Min(since/unwind, 1)
			if since < unwind {
				line = (s.Balloon.String - short) / unwind
			}
		}
		if phase == sounding.Descending {
			length = math.Min(length, 12)
		}
		above := a.at(z + length)
		moveU, moveV, climb, speed := 0.0, 0.0, 0.0, 0.0
		step := p.dt
		switch phase {
		case sounding.BeforeRelease:
			if now < out {
				warm = cabin
			} else {
				warm *= 1 - p.dt/12
			}
			if now >= walkFrom && now < p.release {
				d := walk / (p.release - walkFrom)
				moveU, moveV = d*east, d*north
			}
			z = s.Site.Height + 1.5 + 0.05*math.Sin(now)
			speed = 0.4 + math.Hypot(at.u, at.v)
			if now < out {
				speed = 0.3
			}
			climb = 0.05 * math.Cos(now)
		case sounding.Ascending, sounding.Floating:
			warm = 0
			bright := 0.0
			if sun > -horizonDip(z) {
				bright = above.overcast
			}
			b.warm(above, climbOf(p, n), bright, p.dt)
			plan.leak(b, since, p.dt)
			terminal, d := b.rate(above, rel)
			terminal = plan.hold(terminal, since, z)
			// the balloon's added mass lets it reach its rate in a second or two
			rel += (terminal - rel) * (1 - math.Exp(-math.Min(p.dt, since)/1.2))
			climb = rel + above.w + 0.35*gust.next()*above.density()/1.2
			moveU, moveV = above.u+slipU, above.v+slipV
			limit := b.burst
			if cold := 198 - b.gasT; cold > 0 {
				limit *= 1 - 0.008*math.Min(cold, 12) // brittle
			}
			if plan.bursts(since, z) || d >= limit || since > 4*3600 {
				bursting = true
			}
			climb -= line
		case sounding.Descending:
			rho := at.density()
			terminal := -chute * math.Sqrt(1.2/rho) * math.Exp(0.10*flutter.next())
			tau := math.Abs(terminal) / (2 * standardG)
			change := (terminal - rel) * (1 - math.Exp(-p.dt/tau))
			rel += math.Max(-standardG*p.dt, math.Min(standardG*p.dt, change))
			climb = rel + at.w
			moveU, moveV = above.u+slipU, above.v+slipV
		case sounding.AfterLanding:
			speed = math.Hypot(at.u, at.v)
		}
		// Swing: before release on a short string in somebody's hand.
		level := 0.0
		switch {
		case phase == sounding.AfterLanding, now < out:
		case phase == sounding.BeforeRelease:
			level = 0.05
		case phase == sounding.Descending:
			level = 0.05 + 0.3*math.Exp(-(now-p.burst)/12) // tumbling at first, then steadier than the ascent
		default:
			level = swinging + 0.08*math.Exp(-since/40)
		}
		pend.step(length, level, p.dt)
		if phase != sounding.BeforeRelease && phase != sounding.AfterLanding {
			speed = math.Hypot(climb-at.w, math.Hypot(pend.velU, pend.velV))
		}

		p.append(at, z, climb, lat, lon, moveU, moveV, warm, math.Max(speed, 0.2), sun, phase)
		p.swingU = append(p.swingU, pend.velU)
		p.swingV = append(p.swingV, pend.velV)
		p.offE = append(p.offE, pend.east)
		p.offN = append(p.offN, pend.north)

		// Move on. The first step after release and the last before the burst are parts of one.
		if phase == sounding.BeforeRelease && now+p.dt > p.release {
			phase = sounding.Ascending
			rel = 0
		}
		if bursting {
			// within the step by chance, so that the instant has no grid
			p.burst = now + p.dt*rnd.uniform()
			step = p.burst - now
			phase, bursting = sounding.Descending, false
			z += climb * step
			peak = z
			z += climb*(p.dt-step) - 0.5*standardG*sq(p.dt-step)
			rel = climb - standardG*(p.dt-step)
			if s.Until == UntilBurst {
				stop = now + 30
			}
			step = 0
		}
		z += climb * step
		if phase == sounding.Descending {
			if s.Until == UntilLost && z < lost && z < peak-200 {
				stop = now
			}
			if z <= s.Site.Height+0.5 {
				z = s.Site.Height + 0.5
				p.landed = now
				phase = sounding.AfterLanding
				stop = now + s.Rest
			}
		}
		// Metric of the ellipsoid at height: radii of curvature plus height.
		h := z + s.Site.Undulation
		sin, cos := math.Sincos(lat * radian)
		w := 1 - 6.69437999014e-3*sin*sin
		meridian := 6378137 * (1 - 6.69437999014e-3) / (w * math.Sqrt(w))
		normal := 6378137 / math.Sqrt(w)
		lat += moveV * p.dt / (meridian + h) / radian
		lon += moveU * p.dt / ((normal + h) * cos) / radian
		if lon > 180 {
			lon -= 360
		} else if lon < -180 {
			lon += 360
		}
	}
	return p
}

func (p *path) append(a air, z, climb, lat, lon, moveU, moveV, warm, vent, sun float64, phase sounding.Phase) {
	p.phase = append(p.phase, phase)
	p.z, p.climb, p.lat, p.lon = append(p.z, z), append(p.climb, climb), append(p.lat, lat), append(p.lon, lon)
	p.moveU, p.moveV = append(p.moveU, moveU), append(p.moveV, moveV)
	p.t, p.e, p.p, p.rho = append(p.t, a.t), append(p.e, a.e), append(p.p, a.p), append(p.rho, a.density())
	p.u, p.v, p.w, p.geopot = append(p.u, a.u), append(p.v, a.v), append(p.w, a.w), append(p.geopot, a.geopot)
	p.warm, p.vent, p.sun = append(p.warm, warm), append(p.vent, vent), append(p.sun, sun)
	p.shade, p.cloudy = append(p.shade, a.overcast), append(p.cloudy, a.cloudy)
}

func climbOf(p *path, n int) float64 {
	if n == 0 {
		return 0
	}
	return p.climb[n-1]
}

// horizonDip returns by how many degrees the horizon stands below level from a height in m.
func horizonDip(z float64) float64 {
	return math.Acos(6371000/(6371000+math.Max(z, 0))) / radian
}
