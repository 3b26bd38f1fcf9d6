package truth

import (
	"math"

	"leadline/internal/sounding"
)

var forever = math.Inf(1)

// Faults of the radiosonde: values that are not what its sheet says they should be.
func init() {
	register(
		&FaultInfo{Name: "pressure-offset", Kind: "values", Title: "the barometer is off by a constant", Unit: "hPa", Size: 2, needs: needsBarometer, apply: func(j *injection) {
			j.change(sounding.Pressure, -forever, forever, func(_ int, x float64) float64 { return j.add(sounding.Pressure, x, j.fault.Size) })
			j.say("barometer reads %+.1f hPa off during the whole flight", j.fault.Size)
		}},
		&FaultInfo{Name: "pressure-drift", Kind: "values", Title: "the barometer drifts", Unit: "hPa per hour", Size: 3, needs: needsBarometer, apply: func(j *injection) {
			t := &j.f.Truth
			j.change(sounding.Pressure, t.Release, forever, func(k int, x float64) float64 {
				return j.add(sounding.Pressure, x, j.fault.Size*(t.Time[k]-t.Release)/3600)
			})
			j.say("barometer drifts by %+.1f hPa an hour from release", j.fault.Size)
		}},
		&FaultInfo{Name: "pressure-spikes", Kind: "values", Title: "single pressures jump", Unit: "hPa", Size: 6, needs: needsBarometer, apply: func(j *injection) {
			j.spikes(sounding.Pressure, 10, 0.6, "hPa")
		}},
		&FaultInfo{Name: "pressure-stuck", Kind: "values", Title: "the pressure repeats one value", Unit: "s", Size: 60, needs: needsBarometer, apply: func(j *injection) {
			from := j.moment(0.1, 0.7)
			j.repeat(sounding.Pressure, from, from+j.fault.Size)
			j.say("pressure repeats one value for %.0f s, %.0f s after release", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "temperature-spikes", Kind: "values", Title: "single temperatures jump", Unit: "K", Size: 3, apply: func(j *injection) {
			j.spikes(sounding.Temperature, 12, 0.95, "K")
		}},
		&FaultInfo{Name: "temperature-step", Kind: "values", Title: "the temperature steps to another calibration", Unit: "K", Size: 2.5, apply: func(j *injection) {
			from := j.moment(0.15, 0.8)
			j.change(sounding.Temperature, from, forever, func(_ int, x float64) float64 { return j.add(sounding.Temperature, x, j.fault.Size) })
			j.say("temperature steps by %+.1f K %.0f s after release and stays there", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "temperature-offset", Kind: "values", Title: "the thermometer is off by a constant", Unit: "K", Size: 2, apply: func(j *injection) {
			j.change(sounding.Temperature, -forever, forever, func(_ int, x float64) float64 { return j.add(sounding.Temperature, x, j.fault.Size) })
			j.say("thermometer reads %+.1f K off during the whole flight", j.fault.Size)
		}},
		&FaultInfo{Name: "temperature-stuck", Kind: "values", Title: "the temperature repeats one value", Unit: "s", Size: 90, apply: func(j *injection) {
			from := j.moment(0.1, 0.5)
			j.repeat(sounding.Temperature, from, from+j.fault.Size)
			j.say("temperature repeats one value for %.0f s, %.0f s after release", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "evaporative-cooling", Kind: "values", Title: "a thermometer wet from cloud reads towards the wet bulb", Unit: "K", Size: 2, apply: func(j *injection) {
			exit := j.cloudTop()
			t := &j.f.Truth
			deepest := 0.0
			j.change(sounding.Temperature, exit, exit+150, func(k int, x float64) float64 {
				s := t.Time[k] - exit
				wet := math.Min(s/6, 1) * math.Exp(-s/35)
				d := wet * math.Min(j.fault.Size, wetBulbDepression(t.Temperature[k], t.VapourPressure[k], t.Pressure[k]))
				deepest = math.Max(deepest, d)
				return j.add(sounding.Temperature, x, -d)
			})
			j.fault.Size = math.Round(deepest*100) / 100
			j.say("wet thermometer reads up to %.1f K too cold above cloud, %.0f s after release", deepest, j.fault.At)
		}},
		&FaultInfo{Name: "superadiabatic", Kind: "values", Title: "the temperature falls faster than air can", Unit: "K", Size: 3, apply: func(j *injection) {
			from := j.moment(0.1, 0.4)
			t := &j.f.Truth
			j.change(sounding.Temperature, from, from+120, func(k int, x float64) float64 {
				s := t.Time[k] - from
				return j.add(sounding.Temperature, x, -j.fault.Size*math.Min(math.Min(s/15, 1), (120-s)/60))
			})
			j.say("temperature falls by %.1f K within 15 s, %.0f s after release, and comes back after 60 s", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "radiation-corrected-twice", Kind: "values", Title: "the source has taken off the radiation error already, the sheet does not say so", Unit: "times", Size: 1, apply: func(j *injection) {
			warmth := j.f.warmth
			j.change(sounding.Temperature, -forever, forever, func(k int, x float64) float64 {
				return j.add(sounding.Temperature, x, -j.fault.Size*warmth[k])
			})
			j.say("the source's temperatures already contain a radiation correction that the sheet does not declare")
		}},
		&FaultInfo{Name: "wake-spikes", Kind: "values", Title: "the balloon's wake reaches the thermometer at every swing", Unit: "K", Size: 0.8, apply: func(j *injection) {
			t := &j.f.Truth
			period := 2 * math.Pi * math.Sqrt(j.f.Scenario.Balloon.String/standardG)
			pulse := make([]float64, t.Len())
			warm := newStream(j.f.mixed, "wake")
			phase := warm.between(0, period)
			for k := range pulse {
				if t.HeightMSL[k] < 20000 || !(t.Time[k] > t.Release && !(t.Time[k] > t.Burst)) {
					continue
				}
				n := math.Floor((t.Time[k] + phase) / period)
				at := t.Time[k] + phase - n*period
				own := newStream(j.f.mixed+uint64(n), "pulse")
				size := j.fault.Size * own.between(0.3, 1.4)
				if !own.chance(0.7) || at > 4 {
					continue
				}
				if t.SolarElevation[k] < -horizonDip(t.HeightMSL[k]) {
					size = -size
				}
				pulse[k] = size * math.Sin(math.Pi*at/4)
			}
			j.change(sounding.Temperature, -forever, forever, func(k int, x float64) float64 {
				if math.Abs(pulse[k]) < 0.05 {
					return x
				}
				return j.add(sounding.Temperature, x, pulse[k])
			})
			j.say("wake pulses of about %.1f K above 20 km, every %.1f s", j.fault.Size, period)
		}},
		&FaultInfo{Name: "humidity-icing", Kind: "values", Title: "a humidity sensor ices", Unit: "% of ice saturation", Size: 106, needs: needsHumidity, apply: func(j *injection) {
			t := &j.f.Truth
			from := j.colderThan(-8, 0.25, 0.4)
			v := j.one()
			table := sheetVapour(j.f.Scenario.Sheet)
			slow := newWander(newStream(j.f.mixed, "ice"), j.f.Scenario.Interval, 200)
			level := make([]float64, t.Len())
			for k := range level {
				level[k] = j.fault.Size + 1.2*slow.next()
			}
			end, heated := j.descentStart(), j.heatedShare(v)
			j.change(v, from, end, func(k int, x float64) float64 {
				iced := heated(k) * level[k] * math.Exp(overIce.ln(math.Min(t.Temperature[k], zeroCelsius))-table.ln(t.Temperature[k]))
				grown := math.Min((t.Time[k]-from)/40, 1)
				return j.to(v, x+(iced-x)*grown)
			})
			j.say("%s iced from %.0f s after release to the top: reads about %.0f %% of saturation over ice", word(v), j.fault.At, j.fault.Size)
		}},
		&FaultInfo{Name: "humidity-wet-after-cloud", Kind: "values", Title: "humidity sensors stay wet after cloud", Unit: "s, time to dry", Size: 120, needs: needsHumidity, apply: func(j *injection) {
			t := &j.f.Truth
			exit := j.cloudTop()
			for _, v := range j.humiditySensors() {
				heated := j.heatedShare(v)
				j.change(v, exit, exit+4*j.fault.Size, func(k int, x float64) float64 {
					w := math.Exp(-(t.Time[k] - exit) / j.fault.Size)
					return j.to(v, math.Max(x, x+(98*heated(k)-x)*w))
				})
			}
			j.say("humidity sensors wet above cloud from %.0f s after release, drying with a time constant of %.0f s", j.fault.At, j.fault.Size)
		}},
		&FaultInfo{Name: "humidity-sensor-failed", Kind: "values", Title: "a humidity sensor fails", Unit: "%, what it then shows", Size: 1.5, needs: needsHumidity, apply: func(j *injection) {
			from, v := j.moment(0.05, 0.3), j.one()
			j.change(v, from, forever, func(_ int, x float64) float64 { return j.to(v, j.fault.Size) })
			j.say("%s failed %.0f s after release and shows %.1f %% from then on", word(v), j.fault.At, j.fault.Size)
		}},
		&FaultInfo{Name: "humidity-clamped", Kind: "values", Title: "humidity never exceeds a limit", Unit: "%", Size: 55, needs: needsHumidity, apply: func(j *injection) {
			for _, v := range j.humiditySensors() {
				j.change(v, -forever, forever, func(_ int, x float64) float64 { return math.Min(x, j.to(v, j.fault.Size)) })
			}
			j.say("humidity never exceeds %.1f %%", j.fault.Size)
		}},
		&FaultInfo{Name: "humidity-dry-bias", Kind: "values", Title: "humidity reads dry by a share of its value", Unit: "share", Size: 0.2, needs: needsHumidity, apply: func(j *injection) {
			for _, v := range j.humiditySensors() {
				j.change(v, -forever, forever, func(_ int, x float64) float64 { return j.to(v, x*(1-j.fault.Size)) })
			}
			j.say("humidity reads %.0f %% of its value too dry", 100*j.fault.Size)
		}},
		&FaultInfo{Name: "humidity-sensors-disagree", Kind: "values", Title: "one of two humidity sensors is off by a constant", Unit: "%", Size: 8,
			needs: func(s *sounding.InstrumentSheet) string {
				if s.Humidity.Sensors != 2 {
					return "two humidity sensors"
				}
				return ""
			},
			apply: func(j *injection) {
				v := j.one()
				j.change(v, -forever, forever, func(_ int, x float64) float64 { return j.add(v, x, j.fault.Size) })
				j.say("%s reads %+.1f %% off during the whole flight", word(v), j.fault.Size)
			}},
		&FaultInfo{Name: "gps-loss", Kind: "values", Title: "satellites are lost", Unit: "s", Size: 120, apply: func(j *injection) {
			from := j.moment(0.1, 0.8)
			for _, v := range fix {
				j.change(v, from, from+j.fault.Size, func(int, float64) float64 { return math.NaN() })
			}
			j.change(sounding.Satellites, from, from+j.fault.Size, func(k int, x float64) float64 { return math.Mod(float64(k*7), 4) })
			j.say("no position and no velocity for %.0f s, %.0f s after release", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "gps-jump", Kind: "values", Title: "the position jumps", Unit: "m", Size: 250, apply: func(j *injection) {
			from := j.moment(0.1, 0.8)
			metre := 1 / 111300.0
			east := metre / math.Cos(j.f.Scenario.Site.Latitude*radian)
			for v, d := range map[sounding.Variable]float64{sounding.Latitude: 0.6 * metre * j.fault.Size, sounding.Longitude: 0.8 * east * j.fault.Size, sounding.HeightMSL: j.fault.Size, sounding.HeightEllipsoid: j.fault.Size} {
				j.change(v, from, from+45, func(_ int, x float64) float64 { return j.add(v, x, d) })
			}
			j.out.Variables = sorted(j.out.Variables)
			j.say("position jumps by %.0f m sideways and up for 45 s, %.0f s after release", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "height-offset", Kind: "values", Title: "satellite height is off by a constant", Unit: "m", Size: 60, apply: func(j *injection) {
			for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.HeightEllipsoid} {
				j.change(v, -forever, forever, func(_ int, x float64) float64 { return j.add(v, x, j.fault.Size) })
			}
			j.say("satellite height reads %+.0f m off during the whole flight", j.fault.Size)
		}},
		&FaultInfo{Name: "wind-repeated", Kind: "values", Title: "velocities repeat", Unit: "s", Size: 60, apply: func(j *injection) {
			from := j.moment(0.1, 0.85)
			for _, v := range []sounding.Variable{sounding.VelocityEast, sounding.VelocityNorth} {
				j.repeat(v, from, from+j.fault.Size)
			}
			j.say("horizontal velocity repeats one value for %.0f s, %.0f s after release", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "wind-spike", Kind: "values", Title: "velocities jump", Unit: "m/s", Size: 20, apply: func(j *injection) {
			from := j.moment(0.1, 0.85)
			for _, v := range []sounding.Variable{sounding.VelocityEast, sounding.VelocityNorth} {
				j.change(v, from, from+3*j.f.Scenario.Interval, func(_ int, x float64) float64 { return j.add(v, x, j.fault.Size/math.Sqrt2) })
			}
			j.say("velocity jumps by %.0f m/s for three frames, %.0f s after release", j.fault.Size, j.fault.At)
		}},
		&FaultInfo{Name: "false-start", Kind: "values", Title: "the radiosonde is carried up and down before release", Unit: "m", Size: 12, apply: func(j *injection) {
			t := &j.f.Truth
			from := t.Release - 200
			shape := func(k int) float64 {
				s := t.Time[k] - from
				return j.fault.Size * math.Max(0, math.Min(math.Min(s/20, 1), (90-s)/20))
			}
			for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.HeightEllipsoid} {
				j.change(v, from, from+90, func(k int, x float64) float64 { return j.add(v, x, shape(k)) })
			}
			j.change(sounding.Pressure, from, from+90, func(k int, x float64) float64 {
				return j.add(sounding.Pressure, x, -shape(k)*t.Pressure[k]*ventGas*standardG/t.Temperature[k])
			})
			j.say("radiosonde carried up %.0f m and down again before release", j.fault.Size)
		}},
		&FaultInfo{Name: "battery-fade", Kind: "values", Title: "the cold battery fades", Unit: "s", Size: 900, apply: func(j *injection) {
			t := &j.f.Truth
			from := j.moment(0.5, 0.75)
			noise := newStream(j.f.mixed, "fading")
			shake, dip, dead := make([]float64, t.Len()), make([]float64, t.Len()), make([]bool, t.Len())
			for k := range shake {
				s := (t.Time[k] - from) / j.fault.Size
				if s < 0 || s > 1 {
					continue
				}
				dip[k] = -1.9 * math.Min(s*4, 1)
				shake[k] = noise.normal()*1.5*s + 4*s*s
				dead[k] = noise.chance(0.25 * s)
			}
			j.change(sounding.Battery, from, from+j.fault.Size, func(k int, x float64) float64 { return j.add(sounding.Battery, x, dip[k]) })
			if j.f.Scenario.Sheet.Pressure.Sensor {
				j.change(sounding.Pressure, from, from+j.fault.Size, func(k int, x float64) float64 { return j.add(sounding.Pressure, x, shake[k]) })
			}
			r := &j.f.Receptions[0]
			lost := make([]bool, t.Len())
			var index []int
			for i, k := range r.Sample {
				if k >= 0 && dead[k] {
					lost[k] = true
					continue
				}
				index = append(index, i)
			}
			r.gather(index)
			j.out.Lost = sounding.Spans(lost, 0)
			j.say("battery fades from %.0f s after release for %.0f s: pressure noisy and drifting, frames lost", j.fault.At, j.fault.Size)
		}},
	)
}

// fix are the variables of a satellite fix.
var fix = []sounding.Variable{
	sounding.Latitude, sounding.Longitude, sounding.HeightMSL, sounding.HeightEllipsoid,
	sounding.VelocityEast, sounding.VelocityNorth, sounding.VelocityUp,
}

func sorted(v []sounding.Variable) []sounding.Variable {
	out := append([]sounding.Variable(nil), v...)
	for i := range out {
		for k := i; k > 0 && out[k] < out[k-1]; k-- {
			out[k], out[k-1] = out[k-1], out[k]
		}
	}
	return out
}

// spikes moves count single frames of the ascent by ±size.
func (j *injection) spikes(v sounding.Variable, count int, highest float64, unit string) {
	t := &j.f.Truth
	jump := make([]float64, t.Len())
	end := t.Burst
	if math.IsNaN(end) {
		end = t.Time[t.Len()-1]
	}
	for range count {
		k := j.frame(t.Release + (end-t.Release)*j.rnd.between(0.03, highest))
		if k < len(jump) {
			jump[k] = math.Copysign(j.fault.Size*j.rnd.between(0.8, 1.5), j.rnd.uniform()-0.5)
		}
	}
	j.change(v, -forever, forever, func(k int, x float64) float64 {
		if jump[k] == 0 {
			return x
		}
		return j.add(v, x, jump[k])
	})
	j.say("%d single values of %s jump by %.1f %s or somewhat more", count, word(v), j.fault.Size, unit)
}

// descentStart returns the burst, or the end of the data where there was none.
func (j *injection) descentStart() float64 {
	if t := &j.f.Truth; !math.IsNaN(t.Burst) {
		return t.Burst
	}
	return forever
}

// heatedShare returns a function of the frame: the relative humidity of an element of
// v over that at the air's temperature, below 1 while it is heated. A film of water or
// ice shows that drop as the air does.
func (j *injection) heatedShare(v sounding.Variable) func(frame int) float64 {
	which := sounding.HumiditySensorTempA
	if v == sounding.HumidityB {
		which = sounding.HumiditySensorTempB
	}
	clean := &j.f.Clean
	element := clean.Columns.Values(which)
	share := make([]float64, j.f.Truth.Len())
	for k := range share {
		share[k] = 1
	}
	if element != nil && v != sounding.Humidity {
		table := sheetVapour(j.f.Scenario.Sheet)
		for i, k := range clean.Sample {
			if air := j.f.Truth.Temperature[k]; element[i] > air+2 {
				share[k] = math.Exp(table.ln(air) - table.ln(element[i]))
			}
		}
	}
	return func(frame int) float64 { return share[frame] }
}

// cloudTop returns the instant below 9 km and above −20 °C, on the way up, from which
// the air dries most within 40 s: where a wet sensor shows most. It is the top of a
// cloud that holds liquid if the air dries by 15 % or more there.
func (j *injection) cloudTop() float64 {
	t := &j.f.Truth
	if j.fault.At > 0 {
		return t.Release + j.fault.At
	}
	best, fall := -1, 0.0
	ahead := max(1, int(40/j.f.Scenario.Interval))
	for k := 1; k+ahead < t.Len(); k++ {
		if t.Phase[k] != sounding.Ascending || t.Time[k] < t.Release+60 || t.HeightMSL[k] > 9000 || t.Temperature[k] < zeroCelsius-20 {
			continue
		}
		d := t.Humidity[k] - t.Humidity[k+ahead]
		if t.Cloudy[k-1] && !t.Cloudy[k] && d >= 15 {
			d += 100 // a real cloud top goes before any dry layer
		}
		if d > fall {
			best, fall = k, d
		}
	}
	if best < 0 {
		return j.moment(0.1, 0.2)
	}
	j.fault.At = math.Round(t.Time[best] - t.Release)
	return t.Release + j.fault.At
}

// wetBulbDepression returns T − Tw in K by the psychrometer equation of WMO-No. 8 over
// water (coefficient from memory), vapour by Murphy and Koop.
func wetBulbDepression(t, e, p float64) float64 {
	low, high := 0.0, 30.0
	for range 30 {
		d := (low + high) / 2
		if overWater.pressure(t-d)-6.53e-4*(1+0.000944*(t-d-zeroCelsius))*p*d > e {
			low = d
		} else {
			high = d
		}
	}
	return (low + high) / 2
}

// colderThan returns a moment between two shares of the ascent, but not before the air
// is colder than that.
func (j *injection) colderThan(celsius, low, high float64) float64 {
	t := &j.f.Truth
	if j.fault.At > 0 {
		return t.Release + j.fault.At
	}
	at := j.moment(low, high)
	for k := range t.Time {
		if t.Phase[k] == sounding.Ascending && t.Time[k] > t.Release && t.Temperature[k] < zeroCelsius+celsius {
			at = math.Max(at, t.Time[k]+1)
			break
		}
	}
	j.fault.At = math.Round(at - t.Release)
	return t.Release + j.fault.At
}
