package truth

import (
	"math"
	"sort"
)

// Constants of the simulated air. Gravity is the older handbook form, not the one the
// corrections use; gas constant and molar masses are nature's own.
const (
	gasConstant = 8.314462618 // J mol⁻¹ K⁻¹, SI 2019
	molarAir    = 28.9647e-3  // kg mol⁻¹
	molarWater  = 18.01528e-3 // kg mol⁻¹
	standardG   = 9.80665     // m s⁻²
	zeroCelsius = 273.15      // K
	adiabat     = 9.7e-3      // K m⁻¹, steepest lapse the air keeps for long
	ventGas     = molarAir / gasConstant
	moistening  = 1 - molarWater/molarAir
	gridStep    = 10.0  // m
	gridTop     = 43000 // m above sea level
)

// gravity returns the acceleration of gravity in m s⁻² at a latitude in degrees and
// a height in m above sea level, by the form of the older handbooks (International
// Meteorological Tables; from memory): normal gravity at sea level with a linear and
// quadratic free-air gradient.
func gravity(latitude, z float64) float64 {
	c := math.Cos(2 * latitude * radian)
	sea := 9.80616 * (1 - 0.0026373*c + 0.0000059*c*c)
	return sea - (3.085462e-6+2.27e-9*c)*z + (7.254e-13+1.0e-15*c)*z*z
}

// level is the air at one height of the grid.
type level struct {
	t, e, lnp  float64 // K, hPa, ln hPa
	u, v, w    float64 // m s⁻¹; w is the air's own rising
	geopot     float64 // gpm
	overcast   float64 // share of the direct sun that arrives here past clouds above
	supersat   float64 // % over ice, for tests
	cloudy     bool
	turbulence float64 // kept for the fine structure of the balloon's path, m s⁻¹
}

// air is the level interpolated to one height.
type air struct {
	t, e, p, u, v, w, geopot, overcast float64
	cloudy                             bool
}

// density returns the density of moist air in kg m⁻³.
func (a *air) density() float64 {
	return 100 * (a.p - a.e*moistening) * ventGas / a.t
}

// layer is a cloud or a dry intrusion between two heights in m.
type layer struct {
	bottom, top float64
	kind        string // "warm", "mixed", "cold" or "dry"
}

type atmosphere struct {
	bottom     float64
	ground     float64
	levels     []level
	layers     []layer
	tropopause float64 // m, where the climate put it
	second     float64 // m, 0 where there is none
}

// at returns the air at a height in m above sea level.
func (a *atmosphere) at(z float64) air {
	x := (z - a.bottom) / gridStep
	i := max(0, min(int(x), len(a.levels)-2))
	f := x - float64(i)
	l, h := &a.levels[i], &a.levels[i+1]
	return air{
		t: l.t + f*(h.t-l.t), e: l.e + f*(h.e-l.e), p: math.Exp(l.lnp + f*(h.lnp-l.lnp)),
		u: l.u + f*(h.u-l.u), v: l.v + f*(h.v-l.v), w: l.w + f*(h.w-l.w),
		geopot: l.geopot + f*(h.geopot-l.geopot), overcast: l.overcast, cloudy: l.cloudy,
	}
}

// newAtmosphere draws one column of air over a site: ground in m above sea level,
// latitude in degrees, sunny where the sun heats the ground.
func newAtmosphere(c *climateSheet, seed uint64, ground, latitude float64, sunny bool) *atmosphere {
	s := newStream(seed, "atmosphere")
	bottom := math.Floor(ground/gridStep)*gridStep - 300
	n := int((gridTop-bottom)/gridStep) + 1
	a := &atmosphere{bottom: bottom, ground: ground, levels: make([]level, n)}
	z := func(i int) float64 { return bottom + float64(i)*gridStep }

	points, boundary := a.temperaturePoints(c, s, sunny)
	sea := 1013.2 + s.near(0, 6)

	// Temperature on the grid, rounded at its corners, with thin stable layers.
	t := make([]float64, n)
	k := 0
	for i := range t {
		for k < len(points)-2 && z(i) > points[k+1].z {
			k++
		}
		p, q := points[k], points[k+1]
		t[i] = zeroCelsius + p.celsius + (q.celsius-p.celsius)*(z(i)-p.z)/(q.z-p.z)
	}
	t = smoothed(t, 3)
	for range 2 + int(3*s.uniform()) {
		at, depth, strength := s.between(boundary+600, a.tropopause-500), s.between(60, 250), s.between(0.4, 2.2)
		for i := range t {
			if d := (z(i) - at) / depth; d > 0 {
				t[i] += strength * math.Min(d, 1) * math.Exp(-math.Max(0, d-1)*depth/900)
			}
		}
	}

	a.wind(c, s, n, z, t, sunny, boundary)
	a.turbulence(s, n, z, t, sunny, boundary)

	// Overturned air mixes: no lapse stays steeper than the dry adiabat above the
	// sunlit ground layer.
	for i := 1; i < n; i++ {
		limit := adiabat
		if sunny && z(i) < ground+60 {
			limit = 22e-3
		}
		t[i] = math.Max(t[i], t[i-1]-limit*gridStep)
	}

	wet, within := a.moisture(c, s, n, z, t, sunny, boundary)

	// Pressure and geopotential by hydrostatics from the surface, both ways.
	at0 := int((ground - bottom) / gridStep)
	f0 := (ground - z(at0)) / gridStep
	tGround := t[at0] + f0*(t[at0+1]-t[at0])
	// The air below a high site is not there: its mean temperature is that of the free
	// air around the mountains, cooler than the heated ground would say.
	below := math.Min(tGround+0.00325*ground, 287+26*math.Exp(-ground/1500))
	surface := sea * math.Exp(-standardG*ventGas*ground/below)
	virtual := func(i int, lnp float64) float64 {
		l := &a.levels[i]
		p := math.Exp(lnp)
		l.t = t[i]
		l.e = a.vapour(z(i), t[i], p, wet[i], within[i])
		l.cloudy = within[i] != ""
		l.supersat = 100 * l.e / overIce.pressure(t[i])
		return t[i] / (1 - l.e/p*moistening)
	}
	start := math.Log(surface) + gravity(latitude, ground)*ventGas*(ground-z(at0))/tGround
	lnp, tv := start, virtual(at0, start)
	a.levels[at0].lnp = lnp
	for i := at0 + 1; i < n; i++ {
		g := gravity(latitude, z(i)-gridStep/2)
		guess := lnp - g*ventGas*gridStep/tv
		above := virtual(i, guess)
		lnp -= g * ventGas * gridStep * 0.5 * (1/tv + 1/above)
		tv = above
		a.levels[i].lnp = lnp
	}
	lnp, tv = start, virtual(at0, start)
	for i := at0 - 1; i >= 0; i-- {
		g := gravity(latitude, z(i)+gridStep/2)
		below := virtual(i, lnp+g*ventGas*gridStep/tv)
		lnp += g * ventGas * gridStep * 0.5 * (1/tv + 1/below)
		tv = below
		a.levels[i].lnp = lnp
	}
	// Geopotential is the integral from sea level: closed below the grid, where g is
	// linear in height, then summed along it.
	geopot := bottom * gravity(latitude, bottom/2) / standardG
	for i := range a.levels {
		if i > 0 {
			geopot += gravity(latitude, z(i)-gridStep/2) * gridStep / standardG
		}
		a.levels[i].geopot = geopot
	}

	// Direct sun that is left below the clouds.
	left := 1.0
	for i := n - 1; i >= 0; i-- {
		switch within[i] {
		case "warm", "mixed":
			left *= math.Exp(-gridStep / 150)
		case "cold":
			left *= math.Exp(-gridStep / 2500)
		}
		a.levels[i].overcast = math.Max(left, 0.03)
	}
	return a
}

// corner is a height in m above sea level with its temperature in °C.
type corner struct{ z, celsius float64 }

// temperaturePoints returns the corners of the temperature profile and the height of
// the top of the boundary layer in m.
func (a *atmosphere) temperaturePoints(c *climateSheet, s *stream, sunny bool) (points []corner, boundary float64) {
	g := a.ground
	var t, z float64
	add := func(height, celsius float64) {
		points = append(points, corner{height, celsius})
		z, t = height, celsius
	}
	if sunny {
		add(g-400, c.day.draw(s)+0.0095*400)
		surface := t - 0.0095*400
		add(g, surface)
		add(g+30, surface-0.6)
		mixed := math.Max(250, c.mixed.draw(s))
		add(g+mixed, t-0.0096*(mixed-30))
		boundary = g + mixed
	} else {
		surface := c.night.draw(s)
		strength := math.Max(0.2, c.ground.draw(s))
		depth := c.groundDepth * s.factor(0.3)
		add(g-400, surface-0.5)
		add(g, surface)
		add(g+depth*0.4, surface+strength*0.7)
		add(g+depth, surface+strength)
		top := math.Max(depth+200, c.capNight.draw(s))
		add(g+top, t-c.residual.draw(s)/1000*(top-depth))
		boundary = g + top
	}
	strength := math.Max(0, c.cap.draw(s))
	depth := s.between(80, 220)
	add(boundary+depth, t+strength)

	a.tropopause = c.tropopause.draw(s)
	cold := c.tropopauseT.draw(s)
	z0, t0, curve := z, t, s.between(0.08, 0.2)
	jitter := newWander(s, 1, 2)
	for x := 0.08; x < 0.93; x += 0.07 {
		add(z0+(a.tropopause-z0)*x, t0+(cold-t0)*(x*(1-curve)+curve*x*x)+0.5*jitter.next())
	}
	add(a.tropopause, cold)
	rise := s.between(1, 4)
	if c.dark {
		rise = s.between(0.2, 1.2)
	}
	add(a.tropopause+s.between(600, 1300), cold+rise)
	if s.chance(c.second) {
		// A second tropopause: a stable layer, then a lapse above 3 K km⁻¹ again.
		add(a.tropopause+s.between(2200, 2800), cold+rise-s.between(0, 0.8))
		deep := s.between(1500, 2300)
		add(z+deep, t-deep*s.between(4.2e-3, 5.5e-3))
		a.second = z
		add(z+s.between(700, 1200), t+s.between(1, 2.5))
	}
	warm := s.near(0, 1.8)
	for _, p := range c.above {
		if p.km*1000 > z+1200 {
			add(p.km*1000, p.celsius+warm+s.near(0, 1.2))
		}
	}
	add(gridTop+500, t+1)
	return points, boundary
}

// wind fills u, v, w with the climate's shear, a jet, slow variations and gravity
// waves, which also disturb the temperature.
func (a *atmosphere) wind(c *climateSheet, s *stream, n int, z func(int) float64, t []float64, sunny bool, boundary float64) {
	surface := math.Max(0.8, c.surfaceWind.draw(s))
	surfaceFrom := c.jetFrom.mean + s.near(-25, 35)
	jet := math.Max(5, c.jet.draw(s))
	jetFrom := c.jetFrom.draw(s)
	jetAt := a.tropopause - s.between(300, 1500)
	jetDepth := s.between(3200, 4800)
	strato := c.stratosphereWind.draw(s)
	lowJet := 0.0
	if !sunny && s.chance(0.5) {
		lowJet = s.between(4, 9)
	}
	toU, toV := -math.Sin(jetFrom*radian), -math.Cos(jetFrom*radian)
	surfU, surfV := -math.Sin(surfaceFrom*radian), -math.Cos(surfaceFrom*radian)
	slowU, slowV := newWander(s, gridStep, 1500), newWander(s, gridStep, 1500)
	// slow variations are differentiable: an autoregression smoothed once more
	var su, sv float64
	type wave struct{ length, phase, amplitude, cosine, sine, rise float64 }
	waves := make([]wave, 3+int(3*s.uniform()))
	for i := range waves {
		d := s.between(0, 2*math.Pi)
		waves[i] = wave{s.between(1300, 7000), s.between(0, 2*math.Pi), s.between(0.25, 0.9), math.Cos(d), math.Sin(d), s.between(0.1, 0.3)}
	}
	for i := range n {
		h := z(i)
		agl := math.Max(h-a.ground, 0)
		profile := math.Log(math.Max(agl, 0.5)/0.05) / math.Log(10/0.05)
		near := surface * math.Min(math.Max(profile, 0.2), 1.8) * math.Exp(-agl/2500)
		if lowJet > 0 {
			near += lowJet * math.Exp(-sq((agl-350)/180))
		}
		d := (h - jetAt) / jetDepth
		if d > 0 {
			d *= 1.25
		}
		up := jet * math.Exp(-d*d) * (1 - math.Exp(-agl/1200))
		st := strato * math.Min(math.Max((h-a.tropopause-2500)/(33000-a.tropopause), 0), 1.25)
		su += (slowU.next() - su) * gridStep / 250
		sv += (slowV.next() - sv) * gridStep / 250
		large := 1.6 * (1 - math.Exp(-agl/800))
		l := &a.levels[i]
		l.u = near*surfU + up*toU + st + large*su
		l.v = near*surfV + up*toV + large*sv

		growth := math.Min(math.Exp((h-8000)/14000), 4.5) * (1 - math.Exp(-agl/1500))
		stable := 0.011
		if h > a.tropopause {
			stable = 0.021
		}
		for k := range waves {
			w := &waves[k]
			sin, cos := math.Sincos(2*math.Pi*h/w.length + w.phase)
			l.u += w.amplitude * growth * w.cosine * sin
			l.v += w.amplitude * growth * w.sine * sin
			l.w += w.amplitude * w.rise * math.Min(growth, 2) * cos
			t[i] += w.amplitude * growth * stable / standardG * t[i] * cos
		}
	}
}

// turbulence adds fine structure in three octaves whose strength falls with the cube
// root of their length, as in the inertial range (Kolmogorov 1941).
func (a *atmosphere) turbulence(s *stream, n int, z func(int) float64, t []float64, sunny bool, boundary float64) {
	lengths := [3]float64{30, 120, 480}
	var fields [4][3]*wander
	for f := range fields {
		for o, length := range lengths {
			fields[f][o] = newWander(s, gridStep, length)
		}
	}
	patch := newWander(s, gridStep, 900)
	for i := range n {
		strength := 0.16 * math.Exp(0.5*patch.next())
		heat := 0.03
		if z(i) < boundary {
			if sunny {
				strength = 0.45
			}
		} else if z(i) > a.tropopause {
			heat = 0.06
		}
		var x [4]float64
		for f := range fields {
			for o := range lengths {
				x[f] += fields[f][o].next() * []float64{0.40, 0.63, 1}[o] / 1.25
			}
		}
		t[i] += heat * x[0]
		a.levels[i].u += strength * x[1]
		a.levels[i].v += strength * x[2]
		updraught := 0.5 * strength
		if sunny && z(i) > a.ground+20 && z(i) < boundary {
			updraught = 0.7
		}
		a.levels[i].w += updraught * x[3]
		a.levels[i].turbulence = strength
	}
}

// moisture returns for every level the share of saturation (0–1, over the phase that
// vapour chooses at that temperature) and the kind of layer it is within.
func (a *atmosphere) moisture(c *climateSheet, s *stream, n int, z func(int) float64, t []float64, sunny bool, boundary float64) (wet []float64, within []string) {
	surface := c.surfaceHumidity.draw(s) / 100
	top := math.Min(surface+0.35, 0.93)
	if !sunny {
		surface = math.Min(surface*1.25+0.03, 0.96)
		top = math.Min(surface*0.8+0.1, 0.9)
	}
	if c.dark {
		top = surface
	}
	wet, within = make([]float64, n), make([]string, n)
	// free troposphere: slabs of air of different origin
	next, value := boundary, 0.0
	for i := range wet {
		h := z(i)
		switch {
		case h < boundary:
			wet[i] = surface + (top-surface)*math.Max(0, h-a.ground)/(boundary-a.ground)
		default:
			for h >= next {
				part := math.Min((h-boundary)/(a.tropopause-boundary), 1)
				mean := c.lowerWet.mean + (c.upperWet.mean-c.lowerWet.mean)*part
				value = math.Max(0.02, math.Min(0.97, mean+s.near(0, 0.2)))
				next += s.between(250, 1600)
			}
			wet[i] = value
		}
	}
	add := func(kind string, chance, lowest, highest, thin, thick, share float64) {
		if !s.chance(chance) || highest <= lowest {
			return
		}
		bottom := s.between(lowest, highest)
		l := layer{bottom, bottom + s.between(thin, thick), kind}
		for _, other := range a.layers {
			if l.bottom < other.top+150 && other.bottom < l.top+150 {
				return
			}
		}
		a.layers = append(a.layers, l)
		for i := range wet {
			if z(i) >= l.bottom && z(i) < l.top {
				wet[i] = share
				if kind != "dry" {
					within[i] = kind
				}
			}
		}
	}
	height := func(celsius, from float64) float64 { // lowest height above from that is colder
		for i := range t {
			if z(i) > from && t[i] < zeroCelsius+celsius {
				return z(i)
			}
		}
		return gridTop
	}
	freezing, homogeneous := height(-6, a.ground+500), height(-40, a.ground+500)
	warmLow := math.Max(a.ground+350, boundary-450)
	warmHigh := math.Min(math.Max(warmLow+50, boundary-150), freezing-700)
	add("warm", c.warm, warmLow, warmHigh, 250, math.Max(260, boundary-warmLow), 1)
	add("mixed", c.mixedCloud, math.Max(freezing, boundary+300), math.Min(homogeneous, a.tropopause)-2000, 400, 1700, 1)
	add("cold", c.cold, math.Max(homogeneous, a.ground+2500), a.tropopause-1100, 500, 1900, s.between(1.0, 1.18))
	add("dry", c.intrusion, boundary+800, a.tropopause-2500, 400, 1500, s.between(0.02, 0.08))
	add("dry", c.intrusion/2, boundary+800, a.tropopause-2500, 300, 900, s.between(0.02, 0.1))
	sort.Slice(a.layers, func(i, j int) bool { return a.layers[i].bottom < a.layers[j].bottom })
	// edges are 30–60 m, except where cloud keeps its own
	soft := smoothed(wet, 2)
	fine := newWander(s, gridStep, 60)
	coarse := newWander(s, gridStep, 300)
	for i := range soft {
		x := 0.6*fine.next() + 0.8*coarse.next()
		if within[i] == "" {
			soft[i] = math.Max(0.01, soft[i]*(1+0.05*x*(1-math.Min(soft[i], 1))+0.004*x))
		} else {
			soft[i] = wet[i] * (1 + 0.001*x)
			if within[i] != "warm" {
				soft[i] = wet[i] * (1 + 0.012*x)
			}
		}
	}
	return soft, within
}

// vapour returns the vapour pressure in hPa for a share of saturation. The share is
// over liquid above 0 °C, over ice below −25 °C, and in between over a blend; in a
// cloud that holds liquid it leans to the liquid. It never exceeds saturation over
// liquid, nor the limit of homogeneous freezing (Koop et al. 2000; linear form from memory).
func (a *atmosphere) vapour(z, t, p, wet float64, within string) float64 {
	liquid := overWater.pressure(t)
	e := wet * liquid
	if t < zeroCelsius {
		ice := overIce.pressure(t)
		share := math.Min((zeroCelsius-t)/25, 1)
		switch within {
		case "warm":
			share = 0
		case "mixed":
			share = math.Max(0, math.Min((zeroCelsius-12-t)/26, 1))
		}
		reference := liquid + (ice-liquid)*share
		e = math.Min(wet*reference, math.Min(liquid, (2.583-t/207.83)*ice))
	} else if e > liquid {
		e = liquid
	}
	if d := z - a.tropopause; d > -300 {
		// The stratosphere holds 3–5 parts per million by volume; the way there is about a kilometre.
		s := 1 / (1 + math.Exp((d-350)/160))
		dry := 4.2e-6 * (1 + math.Max(0, d-8000)/8e4) * p
		e = math.Exp(s*math.Log(e) + (1-s)*math.Log(math.Min(dry, e*1e3)))
		e = math.Min(e, math.Min(liquid, 1.5*overIce.pressure(t)))
	}
	return e
}

// smoothed returns two running means over 2h+1 samples, shortened at the ends.
func smoothed(x []float64, h int) []float64 {
	for range 2 {
		out := make([]float64, len(x))
		for i := range x {
			from, to := max(0, i-h), min(len(x), i+h+1)
			sum := 0.0
			for _, v := range x[from:to] {
				sum += v
			}
			out[i] = sum / float64(to-from)
		}
		x = out
	}
	return x
}

func sq(x float64) float64 { return x * x }
