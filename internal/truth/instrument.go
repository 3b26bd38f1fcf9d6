package truth

import (
	"math"

	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

// Hidden is by how much this one instrument departs from its sheet. The corrections
// never see it; the examination may. Where the sheet states a standard uncertainty the
// departure has that standard deviation: else the coverage of what is stated could
// not be judged.
type Hidden struct {
	TemperatureOffset float64 // K, calibration
	TemperatureLag    float64 // factor on the sheet's time constant
	Radiation         float64 // factor on the sheet's radiation error
	PressureOffset    float64 // hPa
	PressureDrift     float64 // hPa over 60 min
	HeightOffset      float64 // m, satellite height
	HeightDrift       float64 // m, standard deviation of what comes and goes within half an hour
	HumidityOffset    [2]float64
	HumidityCold      [2]float64 // %, grows below −40 °C
	HumidityLag       [2]float64 // factor
	HumiditySlow      [2]float64 // share of the response that is slow
	HumiditySolar     float64    // factor on the sheet's solar factor
	ThermalRecovery   float64    // factor
	HeatingPhase      float64    // s
}

func newHidden(sheet *sounding.InstrumentSheet, seed uint64, exact bool) Hidden {
	s := newStream(seed, "hidden")
	h := Hidden{
		TemperatureOffset: s.normal() * sheet.Temperature.Calibration,
		TemperatureLag:    s.departure(sheet.Temperature.LagRelative),
		Radiation:         s.departure(sheet.Temperature.Radiation.Relative),
		PressureOffset:    s.normal() * sheet.Pressure.Calibration,
		PressureDrift:     s.normal() * 0.25 * sheet.Pressure.Calibration,
		HeightOffset:      s.normal() * sheet.Position.HeightBias,
		HeightDrift:       0.2 * sheet.Position.HeightBias,
		HumiditySolar:     s.departure(sheet.Humidity.SolarRelative),
		ThermalRecovery:   s.factor(0.2),
	}
	for i := range 2 {
		h.HumidityOffset[i] = s.normal() * sheet.Humidity.Calibration
		h.HumidityCold[i] = s.normal() * sheet.Humidity.ColdExtra
		h.HumidityLag[i] = s.departure(sheet.Humidity.LagRelative)
		h.HumiditySlow[i] = s.between(0.01, 0.05)
	}
	h.HeatingPhase = s.uniform() * math.Max(sheet.Humidity.Heating.Cycle, 1)
	if exact {
		phase := h.HeatingPhase
		h = Hidden{TemperatureLag: 1, Radiation: 1, HumiditySolar: 1, ThermalRecovery: 1, HumidityLag: [2]float64{1, 1}, HeatingPhase: phase}
	}
	return h
}

// exchange returns the heat a thin cylinder of that diameter in m gives to the air
// per kelvin, relative to 1 at 1.2 kg m⁻³, 5 m s⁻¹ and 15 °C, by Kramers' law (1946,
// coefficients from memory): Nu = 0.42 Pr^0.20 + 0.57 Pr^0.33 Re^0.50.
func exchange(diameter, rho, speed, t float64) float64 {
	nusselt := func(re float64) float64 { return 0.3927 + 0.5088*math.Sqrt(re) }
	conductivity := (0.0241 + 7.3e-5*(t-zeroCelsius)) / 0.025195
	reference := nusselt(1.2 * 5 * diameter / 1.7894e-5)
	return nusselt(rho*speed*diameter/viscosity(t)) * conductivity / reference
}

// sunlight returns the power that falls on a small thermometer, relative to an open
// sun at 45° with no air above: the direct beam through the air that is left above
// (Kasten and Young 1989 air mass; 0.22 optical depth at sea level), seen by a wire
// that hangs mostly upright, and what sky, ground and cloud send back.
func sunlight(elevation, pressure, z, shade float64) float64 {
	dip := horizonDip(z)
	seen := math.Max(0, math.Min((elevation+dip+0.27)/0.53, 1))
	column := 0.0 // of air along the beam, in units of the vertical one from sea level
	if elevation > 0 {
		column = pressure / 1013.25 / (math.Sin(elevation*radian) + 0.50572*math.Pow(elevation+6.07995, -1.6364))
	} else {
		// below level the beam dips to its tangent height and rises again
		drop := (6371000 + z) * (1 - math.Cos(elevation*radian))
		column = 38 * pressure / 1013.25 * (2*math.Exp(math.Min(drop/6700, 20)) - 1)
	}
	direct := seen * math.Exp(-0.22*column) * shade * (0.72 + 0.28*math.Cos(elevation*radian))
	back := 0.0
	if elevation > -6 {
		back = 0.30 * math.Sqrt(math.Max(math.Sin((elevation+1.5)*radian), 0)) * (0.7 + 0.3*shade)
	}
	return (direct + back) / 1.17
}

// radiationScale returns the error in K at exchange 1 and sunlight 1 that makes the
// model meet the sheet's table at 45° and 100 hPa, and the night's error at exchange 1
// that meets it at 10 hPa: two numbers of the table, no more.
func radiationScale(r *sounding.RadiationSheet) (day, night float64) {
	if len(r.Elevation) == 0 || len(r.Pressure) == 0 {
		return 0, 0
	}
	nearest := func(x []float64, v float64) int {
		best := 0
		for i := range x {
			if math.Abs(x[i]-v) < math.Abs(x[best]-v) {
				best = i
			}
		}
		return best
	}
	e, p := nearest(r.Elevation, 45), nearest(r.Pressure, 100)
	speed := r.Ventilation
	if speed == 0 {
		speed = 5
	}
	t := 215.0
	rho := 100 * r.Pressure[p] * ventGas / t
	z := -7000 * math.Log(r.Pressure[p]/1013.25)
	day = r.Error[e][p] * exchange(beadDiameter, rho, speed, t) / sunlight(r.Elevation[e], r.Pressure[p], z, 1)
	if len(r.Night) > 0 {
		q := nearest(r.Pressure, 10)
		night = r.Night[q] * exchange(beadDiameter, 100*r.Pressure[q]*ventGas/228, speed, 228)
	}
	return day, night
}

const (
	beadDiameter    = 0.45e-3 // m
	elementDiameter = 1.6e-3
)

// reading is what the instrument measures on the grid of frames, before the telemetry.
type reading struct {
	warmth  []float64 // K, radiation error the sheet expects
	columns map[sounding.Variable][]float64
	order   []sounding.Variable
}

func (r *reading) set(v sounding.Variable, x []float64) {
	r.columns[v] = x
	r.order = append(r.order, v)
}

// quantise returns x on a grid of that resolution; the result is the double nearest to
// the decimal a file shows, so that reading the file gives the same number.
func quantise(x, resolution float64) float64 {
	if resolution <= 0 {
		resolution = 0.001
	}
	per := math.Round(1 / resolution)
	if per < 1 {
		return math.Round(x/resolution) * resolution
	}
	return math.Round(x*per) / per
}

// measure runs the instrument along the path.
func measure(s *Scenario, p *path, h *Hidden, seed uint64) (*reading, error) {
	sheet := s.Sheet
	frames := (p.len() + substeps - 1) / substeps
	r := &reading{columns: map[sounding.Variable][]float64{}}
	column := func() []float64 { return make([]float64, frames) }

	// Heat exchange of bead and element, used by lag, sun and recovery alike.
	bead, element := make([]float64, p.len()), make([]float64, p.len())
	for i := range bead {
		bead[i] = exchange(beadDiameter, p.rho[i], p.vent[i], p.t[i])
		element[i] = exchange(elementDiameter, p.rho[i], p.vent[i], p.t[i])
	}
	day, night := radiationScale(&sheet.Temperature.Radiation)
	warmth := make([]float64, p.len()) // K by radiation, bead
	turn := newStream(seed, "turning")
	period, phase := turn.between(8, 15), turn.between(0, 6)
	light := 0.0
	for i := range warmth {
		if i%8 == 0 {
			light = 0
			if p.sun[i] > -8 {
				light = sunlight(p.sun[i], p.p[i], p.z[i], p.shade[i])
			}
		}
		if p.warm[i] != 0 {
			continue // inside the vehicle
		}
		boom := 1 + 0.06*math.Sin(2*math.Pi*float64(i)*p.dt/period+phase)
		warmth[i] = (day*h.Radiation*light*boom + night*h.Radiation) / bead[i]
	}

	r.warmth = column()
	for k := range r.warmth {
		r.warmth[k] = warmth[k*substeps] / h.Radiation
	}

	// Temperature.
	t := column()
	noise := newStream(seed, "temperature noise")
	state := p.t[0] + p.warm[0]
	tau := sheet.Temperature.TimeConstant * h.TemperatureLag
	known := sheet.Contains("radiation")
	for i := range p.len() {
		target := p.t[i] + p.warm[i] + warmth[i]
		if tau > 0 {
			state += (target - state) * (1 - math.Exp(-p.dt*bead[i]/tau))
		} else {
			state = target
		}
		if i%substeps == 0 {
			c := state - zeroCelsius + h.TemperatureOffset + noise.normal()*sheet.Temperature.Noise
			if known { // the source has already taken off what the sheet expects
				c -= warmth[i] / h.Radiation
			}
			t[i/substeps] = quantise(c, sheet.Temperature.Resolution) + zeroCelsius
		}
	}

	if sheet.Pressure.Sensor {
		x := column()
		noise := newStream(seed, "pressure noise")
		for k := range x {
			i := k * substeps
			drift := h.PressureDrift * math.Min(float64(i)*p.dt/3600, 1.5)
			x[k] = quantise(p.p[i]+h.PressureOffset+drift+noise.normal()*sheet.Pressure.Noise, sheet.Pressure.Resolution)
		}
		r.set(sounding.Pressure, x)
	}
	r.set(sounding.Temperature, t)

	if n := sheet.Humidity.Sensors; n > 0 {
		formula, err := humidity.ParseFormula(sheet.Humidity.Formula)
		if err != nil {
			return nil, err
		}
		calibration := calibrationVapour(formula)
		for j := range n {
			humidityElement(s, p, h, r, seed, j, calibration, element, warmth)
		}
	}
	position(s, p, h, r, seed, frames)
	housekeeping(p, r, seed, frames)
	return r, nil
}

// humidityElement runs one of one or two humidity elements: heating, its own
// temperature, fast and slow uptake of water, calibration, noise.
func humidityElement(s *Scenario, p *path, h *Hidden, r *reading, seed uint64, j int, calibration *vapourTable, element, warmth []float64) {
	sheet := &s.Sheet.Humidity
	frames := (p.len() + substeps - 1) / substeps
	name := []string{"a", "b"}[j]
	noise := newStream(seed, "humidity noise "+name)
	rh, heating, temp := make([]float64, frames), make([]float64, frames), make([]float64, frames)
	twin := sheet.Sensors == 2 && sheet.Heating.Cycle > 0
	excess, fast, slow := 0.0, math.NaN(), 0.0
	stopped := false
	for i := range p.len() {
		heated := false
		if twin {
			at := math.Mod(float64(i)*p.dt+h.HeatingPhase+float64(j)*sheet.Heating.Cycle/2, sheet.Heating.Cycle)
			if cold := sheet.Heating.StopsBelowK; cold > 0 {
				if p.t[i] < cold-0.5 {
					stopped = true
				} else if p.t[i] > cold+0.5 {
					stopped = false
				}
			}
			heated = at < sheet.Heating.Heated && !stopped
			target := 0.0
			if heated {
				target = sheet.Heating.Excess * math.Min(1/math.Sqrt(element[i]), 1.5)
			}
			if heated || excess > 1e-4 {
				excess += (target - excess) * (1 - math.Exp(-p.dt*element[i]/(sheet.Heating.Recovery*h.ThermalRecovery)))
			}
		}
		sunny := math.Max(warmth[i], 0) * sheet.SolarFactor * h.HumiditySolar
		at := p.t[i] + p.warm[i] + sunny + excess
		there := 100 * p.e[i] * math.Exp(-calibration.ln(at))
		if inside := math.Min(-p.warm[i]/2, 1); inside > 0 && there > 62 {
			there += (62 - there) * inside // a cooled vehicle dries its air, the air outside takes over as it warms
		}
		c, power, ln := at-zeroCelsius, 1.0, 0.0
		for _, k := range sheet.LagPolynomial {
			ln += k * power
			power *= c
		}
		tau := math.Min(math.Exp(ln), 900) * h.HumidityLag[j]
		if math.IsNaN(fast) {
			fast, slow = there, there
		}
		fast += (there - fast) * (1 - math.Exp(-p.dt/tau))
		slow += (there - slow) * math.Min(p.dt/(20*tau+30), 1)
		if i%substeps == 0 {
			k := i / substeps
			x := fast + h.HumiditySlow[j]*(slow-fast)
			wet := 1.0
			if zero := sheet.Dry / sheet.Calibration; sheet.Dry > 0 && zero < 1 {
				wet = math.Min(zero+(1-zero)*fast/sounding.DryBelow, 1)
			}
			x += h.HumidityOffset[j] * wet
			x += h.HumidityCold[j] * math.Max(0, math.Min((-40-c)/20, 1)) * wet
			x += noise.normal() * sheet.Noise
			rh[k] = math.Max(0, math.Min(quantise(x, sheet.Resolution), 110))
			temp[k] = quantise(at-zeroCelsius+noise.normal()*0.15, 0.1) + zeroCelsius
			if heated {
				heating[k] = 1
			}
		}
	}
	if sheet.Sensors == 1 {
		r.set(sounding.Humidity, rh)
		return
	}
	if j == 0 {
		r.set(sounding.HumidityA, rh)
		r.set(sounding.HeatingA, heating)
		r.set(sounding.HumiditySensorTempA, temp)
	} else {
		r.set(sounding.HumidityB, rh)
		r.set(sounding.HeatingB, heating)
		r.set(sounding.HumiditySensorTempB, temp)
	}
}

// position runs the satellite receiver: positions with errors that persist, velocities.
func position(s *Scenario, p *path, h *Hidden, r *reading, seed uint64, frames int) {
	sheet := s.Sheet
	rnd := newStream(seed, "satellites")
	lat, lon, height := make([]float64, frames), make([]float64, frames), make([]float64, frames)
	east, north, up, count := make([]float64, frames), make([]float64, frames), make([]float64, frames), make([]float64, frames)
	long := [3]*wander{}
	for i := range long {
		long[i] = newWander(rnd, s.Interval, 80)
	}
	used := newWander(rnd, s.Interval, 300)
	drift := newWander(newStream(seed, "satellite drift"), s.Interval, 1500)
	datum := 0.0
	if sheet.Position.Datum == "ellipsoid" {
		datum = s.Site.Undulation
	}
	const white, persistent = 0.25, 0.968 // of the sheet's noise; together 1
	for k := range frames {
		i := k * substeps
		hNoise, vNoise := sheet.Position.Horizontal/math.Sqrt2, sheet.Position.Height
		e := hNoise*(persistent*long[0].next()+white*rnd.normal()) + p.offE[i]
		n := hNoise*(persistent*long[1].next()+white*rnd.normal()) + p.offN[i]
		metre := 1 / (111320 + p.z[i]/57.3)
		lat[k] = quantise(p.lat[i]+n*metre, 1e-6)
		lon[k] = quantise(p.lon[i]+e*metre/math.Cos(p.lat[i]*radian), 1e-6)
		height[k] = quantise(p.z[i]+datum+h.HeightOffset+h.HeightDrift*drift.next()+vNoise*(persistent*long[2].next()+white*rnd.normal()), 0.1)
		east[k] = quantise(p.moveU[i]+p.swingU[i]+sheet.Wind.Noise*rnd.normal(), 0.01)
		north[k] = quantise(p.moveV[i]+p.swingV[i]+sheet.Wind.Noise*rnd.normal(), 0.01)
		up[k] = quantise(p.climb[i]+1.6*sheet.Wind.Noise*rnd.normal(), 0.01)
		count[k] = math.Max(5, math.Min(math.Round(9.5+1.5*used.next()), 14))
	}
	r.set(sounding.Latitude, lat)
	r.set(sounding.Longitude, lon)
	if sheet.Position.Datum == "ellipsoid" {
		r.set(sounding.HeightEllipsoid, height)
	} else {
		r.set(sounding.HeightMSL, height)
	}
	r.set(sounding.VelocityEast, east)
	r.set(sounding.VelocityNorth, north)
	r.set(sounding.VelocityUp, up)
	r.set(sounding.Satellites, count)
}

// housekeeping: frame counter, battery, temperature inside the body.
func housekeeping(p *path, r *reading, seed uint64, frames int) {
	rnd := newStream(seed, "housekeeping")
	frame, battery, inside := make([]float64, frames), make([]float64, frames), make([]float64, frames)
	first := math.Floor(rnd.between(200, 9000))
	full := rnd.between(4.5, 4.7)
	state := p.t[0] + p.warm[0] + 5
	for k := range frames {
		i := k * substeps
		state += (p.t[i] + p.warm[i] + 14 - state) * math.Min(p.dt*substeps/500, 1)
		frame[k] = first + float64(k)
		inside[k] = quantise(state-zeroCelsius, 0.1) + zeroCelsius
		battery[k] = quantise(full-0.5*float64(i)*p.dt/10000-0.004*math.Max(0, zeroCelsius-state)+0.01*rnd.normal(), 0.01)
	}
	r.set(sounding.Frame, frame)
	r.set(sounding.Battery, battery)
	r.set(sounding.InternalTemperature, inside)
}
