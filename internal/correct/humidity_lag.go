package correct

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// element is one humidity sensor on one leg: what it read, what it was exposed to,
// and what it says about the air.
type element struct {
	variable sounding.Variable
	leg      *leg
	reading  []float64 // usable readings, %; NaN also while heated
	masked   []bool    // heated or still warm from it; nil where the sensor is not heated
	since    []float64 // s since its last heating ended; +Inf where it was not heated
	excess   []float64 // K, element above air
	excessU  []float64 // its uncertainty
	measured bool      // excess comes from a thermometer in the element
	tau      []float64 // s
	ratio    []float64 // ew(T)/ew(T+excess)
	solution lagSolution
	fade     []float64 // share of the lag correction applied, 1 … 0
	atSensor []float64 // %, lag undone, at the element's own temperature
	air      []float64 // %, of the air
	noise    []float64 // independent uncertainty of air
	model    []float64 // uncertainty of air from lag and excess models
	alone    []bool    // too few readings in a row to undo the lag
	doubted  []bool    // the checks hold against it what the other sensor does not share
	valid    []bool    // counts in a merge
}

// humidityTau is τ(T) of the sheet's polynomial, T in K of the element.
func humidityTau(polynomial []float64, t float64) float64 {
	c := t - constants.ZeroCelsius
	sum := 0.0
	for i := len(polynomial) - 1; i >= 0; i-- {
		sum = sum*c + polynomial[i]
	}
	return math.Exp(min(sum, 20))
}

// newElement gathers a sensor on a leg. temperature is that of the air, complete.
func (f *flight) newElement(v sounding.Variable, l *leg, temperature []float64) *element {
	n := l.len()
	e := &element{variable: v, leg: l, reading: f.usableIn(v, l), excess: f.filled(n, 0), excessU: f.filled(n, 0),
		tau: f.column(n), ratio: f.filled(n, 1), fade: f.filled(n, 1), valid: make([]bool, n), alone: make([]bool, n), doubted: f.doubted(v, l)}
	own := sounding.NoVariable
	switch v {
	case sounding.HumidityA:
		own = sounding.HumiditySensorTempA
	case sounding.HumidityB:
		own = sounding.HumiditySensorTempB
	}
	if own != sounding.NoVariable && f.has(own) {
		t := f.usableIn(own, l)
		if !none(t) {
			e.measured = true
			for i, x := range t {
				if d := x - temperature[i]; present(d) && math.Abs(d) < 150 {
					e.excess[i] = d
				}
				// A thermometer in the element is good to about this; proposal.
				e.excessU[i] = 0.1
			}
		}
	}
	if f.sheet != nil && !e.measured {
		h := &f.sheet.Humidity
		for i, x := range l.excess {
			if present(x) && !f.sheet.Contains("humidity-radiation") {
				e.excess[i] = max(0, h.SolarFactor*x)
				e.excessU[i] = h.SolarRelative * e.excess[i]
			}
		}
	}
	return e
}

// sensorTests are the checks whose doubt concerns one sensor, not the air.
const sensorTests = 1<<quality.Icing | 1<<quality.IceSaturation | 1<<quality.TwinHumidity | 1<<quality.Stuck |
	1<<quality.Clamped | 1<<quality.Evaporation | 1<<quality.Spike | 1<<quality.Step | 1<<quality.HumidityRange

// doubted tells where a sensor's readings are questionable for its own sake.
func (f *flight) doubted(v sounding.Variable, l *leg) []bool {
	out := make([]bool, l.len())
	st := f.now[v]
	if st == nil || st.flags == nil || st.tests == nil {
		return out
	}
	for k, i := range l.rows {
		out[k] = st.flags[i] == quality.Questionable && st.tests[i]&sensorTests != 0
	}
	return out
}

// exposure computes the time constant and the ratio from the element's temperature.
func (f *flight) exposure(e *element, temperature, slope []float64) {
	h := &f.sheet.Humidity
	for i, t := range temperature {
		if !present(t) {
			t = 273.15
		}
		d := min(e.excess[i], 80)
		e.tau[i] = humidityTau(h.LagPolynomial, t+d)
		switch {
		case math.Abs(d) < 1e-6:
			e.ratio[i] = 1
		case math.Abs(d) < 3:
			// The slope halfway is good to δ³/24 of the third derivative: 1e-5 of RH at 3 K.
			// As 1/T² between T and halfway, which is right to 1e-4 of it.
			x := t / (t + 0.5*d)
			e.ratio[i] = math.Exp(-d * slope[i] * x * x)
		default:
			e.ratio[i] = f.vapour.OverWater(t) / f.vapour.OverWater(t+d)
		}
		if longest := h.LagLongest; longest > 0 {
			from := f.set.HumidityLag.Taper * longest
			e.fade[i] = min(1, max(0, (longest-e.tau[i])/(longest-from)))
		}
	}
}

// slopes is d ln ew/dT at temperatures, by the formula of the humidity calibration.
func (f *flight) slopes(t []float64) []float64 {
	out := f.column(len(t))
	for i, x := range t {
		if !present(x) {
			x = 273.15
		}
		out[i] = f.vapour.SlopeOverWater(x)
	}
	return out
}

// invert undoes the lag of an element and takes its own temperature out.
func (f *flight) invert(e *element, inversion *lagInversion) {
	l, n := e.leg, e.leg.len()
	h, set := &f.sheet.Humidity, &f.set.HumidityLag
	lagged := !f.sheet.Contains("humidity-lag") && len(h.LagPolynomial) > 0
	noise := noiseOf(e.reading, h.Noise, h.Resolution)
	e.noise, e.model = f.filled(n, 0), f.filled(n, 0)
	if !lagged {
		e.atSensor, e.air = f.copied(e.reading), f.column(n)
		for i := range n {
			e.air[i] = e.atSensor[i] / e.ratio[i]
			e.noise[i] = noise
		}
		e.solution = lagSolution{noise: noise, resolution: f.filled(n, 0)}
	} else {
		breaks := breaksIn(l.time, f.set.General.LongestBreak)
		if e.masked != nil {
			for i := 1; i < n; i++ {
				breaks[i] = breaks[i] || e.masked[i] != e.masked[i-1]
			}
		}
		s := inversion.solve(l.time, e.reading, e.tau, e.ratio, breaks, noise, set.Low, set.High, inversion.last, set.EdgePasses)
		e.solution = s
		e.atSensor, e.air = f.column(n), f.column(n)
		for i := range n {
			e.atSensor[i] = s.air[i] * e.ratio[i]
		}
		spread := f.localSpread(e.atSensor, s.reading, e.reading, 5)
		f.tooShort(e, breaks)
		for i := range n {
			// Where the correction is not larger than what noise makes of it (at the ends
			// of a stretch, in the cold) it is taken by the share that signal has in it
			// (Wiener 1949), and where the time constant is too long it fades out.
			u := s.noiseOut[i] * e.ratio[i]
			if !present(u) || e.alone[i] {
				// Too few readings in a row: they stay as they are, and count for nothing
				// where another sensor does.
				e.atSensor[i], e.air[i] = e.reading[i], e.reading[i]/e.ratio[i]
				e.noise[i], e.model[i] = s.noise, hypot(h.LagRelative*spread[i], min(5, e.tau[i]))
				e.alone[i] = true
				continue
			}
			share := 0.0
			if spread[i] > u {
				share = 1 - u*u/(spread[i]*spread[i])
			}
			share *= e.fade[i]
			full := e.atSensor[i] - s.reading[i]
			e.atSensor[i] = s.reading[i] + share*full
			e.air[i] = e.atSensor[i] / e.ratio[i]
			left := min(u, spread[i])
			e.noise[i] = rootSum(math.Sqrt(share)*u, (1-share)*left, 0.3*s.noise, set.Representativeness*spread[i]) / e.ratio[i]
			// What was not undone because the time constant is too long stands as
			// uncertainty, whole.
			e.model[i] = rootSum(h.LagRelative*spread[i], (1-e.fade[i])*spread[i]) / e.ratio[i]
			e.hold(i, set.Margin)
		}
	}
	for i := range n {
		if u := e.excessU[i]; u > 0 {
			slope := 0.1 // d ln ew/dT, 0.07 … 0.14 K⁻¹
			e.model[i] = hypot(e.model[i], slope*u*math.Abs(e.air[i]))
		}
	}
}

// hold keeps an undone reading within what air can hold, plus a margin for the sensor's
// calibration: at the edge of a sharp layer a time constant that is a little off throws
// the inversion beyond it. What is cut off counts as uncertainty. A reading that stood
// outside itself is left where it is.
func (e *element) hold(i int, margin float64) {
	low, high := -margin, 100+margin
	was := e.reading[i] / e.ratio[i]
	if !(was >= low && was <= high) {
		return
	}
	held := max(low, min(high, e.air[i]))
	if cut := math.Abs(e.air[i] - held); cut > 0 {
		e.air[i], e.atSensor[i] = held, held*e.ratio[i]
		e.model[i] = hypot(e.model[i], 0.5*cut)
	}
}

// tooShort marks stretches between breaks that are shorter than a share of the
// resolution the time constant allows: their ends are all there is of them.
func (f *flight) tooShort(e *element, breaks []bool) {
	t := e.leg.time
	for from := 0; from < len(t); {
		to := from + 1
		for to < len(t) && !breaks[to] {
			to++
		}
		if t[to-1]-t[from] < f.set.HumidityLag.ShortestShare*e.solution.resolution[(from+to)/2] {
			for i := from; i < to; i++ {
				e.alone[i] = true
			}
		}
		from = to
	}
}

// humidityCommon is the uncertainty of a sensor's calibration at an air temperature and
// a humidity, both NaN where not known.
func (f *flight) humidityCommon(t, rh float64) float64 {
	if f.sheet == nil {
		return f.set.Generic.HumidityU
	}
	h := &f.sheet.Humidity
	// The cold part comes in between −40 and −60 °C: no calibration has a step in it.
	cold := h.ColdExtra * min(1, max(0, (233.15-t)/20))
	if !present(t) {
		cold = 0
	}
	// A zero that was checked in a desiccant leaves less open near it.
	share := 1.0
	if h.Dry > 0 && h.Dry < h.Calibration && rh < sounding.DryBelow {
		zero := h.Dry / h.Calibration
		share = zero + (1-zero)*max(0, rh)/sounding.DryBelow
	}
	return math.Sqrt(share*share*(h.Calibration*h.Calibration+cold*cold) + f.set.HumidityLag.Hysteresis*f.set.HumidityLag.Hysteresis)
}

// humidity runs the humidity corrections: of the pair, or of the one there is.
func (f *flight) humidity() {
	a, b, one := f.has(sounding.HumidityA), f.has(sounding.HumidityB), f.has(sounding.Humidity)
	switch {
	case a && b:
		f.twinHumidity()
	case one:
		f.singleHumidity(sounding.Humidity)
	case a:
		f.singleHumidity(sounding.HumidityA)
	case b:
		f.singleHumidity(sounding.HumidityB)
	default:
		f.notRun(quality.Lag, sounding.Humidity, "the flight has no humidity")
		return
	}
	f.stratosphericHumidity()
}

// airTemperatureOn is the corrected temperature on a leg, interpolated over gaps,
// from the standard atmosphere where there is none.
func (f *flight) airTemperatureOn(l *leg) []float64 {
	t := f.interpolated(l.time, f.usableIn(sounding.Temperature, l))
	if none(t) {
		return standardTemperatures(l.height, l.pressure)
	}
	return t
}

// singleHumidity corrects the lag and dry bias of one sensor
// (docs/methods/humidity-lag.md, docs/methods/humidity-radiation.md).
func (f *flight) singleHumidity(v sounding.Variable) {
	old := f.now[v]
	if f.sheet == nil {
		f.notRun(quality.Lag, v, "no instrument sheet: time constant not known")
		f.notRun(quality.Radiation, v, "no instrument sheet: dry bias not known")
		f.budget(v, f.level(f.set.Generic.HumidityNoise), f.level(f.set.Generic.HumidityU))
	} else {
		f.correctSensor(v)
	}
	if v != sounding.Humidity {
		st := f.now[v]
		f.step(sounding.Step{Method: "twin-humidity-merge", Kind: sounding.StepChoose, Variable: sounding.Humidity,
			Values: st.values, Independent: st.independent, Common: st.common,
			Note: fmt.Sprintf("%v is the only humidity sensor", v)})
		f.flagged(sounding.Humidity, old.flags, old.tests)
	}
}

// correctSensor undoes lag and dry bias of one sensor on all legs, as two steps.
func (f *flight) correctSensor(v sounding.Variable) {
	inversion := lagInversion{scratch: f.scratch}
	var elements []*element
	for _, l := range f.legs {
		t := f.airTemperatureOn(l)
		e := f.newElement(v, l, t)
		f.exposure(e, t, f.slopes(t))
		f.invert(e, &inversion)
		elements = append(elements, e)
	}
	f.sensorSteps(v, elements)
}

// sensorSteps records what the inversions of one sensor found.
func (f *flight) sensorSteps(v sounding.Variable, elements []*element) {
	h := &f.sheet.Humidity
	old := f.now[v].values
	base := f.level(h.Noise)
	common := make([]float64, f.n)
	temperature := f.now[sounding.Temperature]
	for i := range common {
		t := math.NaN()
		if temperature != nil {
			t = temperature.values[i]
		}
		common[i] = f.humidityCommon(t, old[i])
	}
	lagValues, lagNoise, lagCommon := clone(old), clone(base), clone(common)
	airValues, airNoise, airCommon := clone(old), clone(base), clone(common)
	resolution := make([]float64, f.n)
	var squares, largest, dry float64
	count, dried := 0, 0
	var coefficients []sounding.Coefficient
	for _, e := range elements {
		for k, i := range e.leg.rows {
			if e.masked != nil && e.masked[k] {
				// What a hot element reads is not the humidity of the air: it keeps its
				// value and has no uncertainty as one.
				lagNoise[i], lagCommon[i], airNoise[i], airCommon[i] = math.NaN(), math.NaN(), math.NaN(), math.NaN()
			}
			if !present(e.reading[k]) || !present(e.air[k]) {
				continue
			}
			change := e.atSensor[k] - e.reading[k]
			squares += change * change
			count++
			if math.Abs(change) > math.Abs(largest) {
				largest = change
			}
			lagValues[i], airValues[i] = e.atSensor[k], e.air[k]
			lagNoise[i], airNoise[i] = e.noise[k]*e.ratio[k], e.noise[k]
			lagCommon[i] = hypot(common[i], e.model[k])
			airCommon[i] = lagCommon[i]
			resolution[i] = e.solution.resolution[k]
			if d := e.excess[k]; math.Abs(d) > f.set.HumidityRadiation.Smallest {
				dry += e.air[k] - e.atSensor[k]
				dried++
			}
		}
		name := legName(e.leg)
		coefficients = append(coefficients, numberOf("smoothing_"+name, e.solution.smoothing, "s4", "fitted"),
			numberOf("noise_"+name, e.solution.noise, "%", "fitted"))
	}
	if count == 0 {
		f.budget(v, base, common)
		f.notRun(quality.Lag, v, "no usable humidity between release and landing")
		return
	}
	switch {
	case f.sheet.Contains("humidity-lag"):
		f.notRun(quality.Lag, v, "the source's values already contain it")
		f.budget(v, lagNoise, lagCommon)
	case len(h.LagPolynomial) == 0:
		f.notRun(quality.Lag, v, "the instrument sheet gives no time constant")
		f.budget(v, lagNoise, lagCommon)
	default:
		for k, c := range h.LagPolynomial {
			coefficients = append(coefficients, numberOf(fmt.Sprintf("ln_time_constant_%d", k), c, fmt.Sprintf("ln s K-%d", k), f.sheetName()))
		}
		coefficients = append(coefficients, numberOf("longest_corrected", h.LagLongest, "s", f.sheetName()))
		f.step(sounding.Step{
			Method: "humidity-lag", Kind: sounding.StepCorrect, Variable: v, Values: lagValues,
			Independent: lagNoise, Common: lagCommon, Resolution: resolution, Coefficients: coefficients,
			Note: fmt.Sprintf("time lag of the humidity sensor undone: %.1f %% rms, largest %+.1f %%", math.Sqrt(squares/float64(count)), largest),
		})
		f.ran(quality.Lag, v)
	}
	if f.sheet.Contains("humidity-radiation") {
		f.notRun(quality.Radiation, v, "the source's values already contain it")
		return
	}
	if dried == 0 {
		f.ran(quality.Radiation, v)
		return
	}
	origin := f.sheetName()
	if elements[0].measured {
		origin = "measured"
	}
	f.step(sounding.Step{
		Method: "humidity-radiation", Kind: sounding.StepCorrect, Variable: v, Values: airValues,
		Independent: airNoise, Common: airCommon,
		Coefficients: []sounding.Coefficient{numberOf("solar_factor", h.SolarFactor, "1", origin)},
		Note:         fmt.Sprintf("element warmer than the air: humidity raised by %.1f %% on average where it was", dry/float64(dried)),
	})
	f.ran(quality.Radiation, v)
}

// medianOf is the median of the present values; NaN for none.
func medianOf(x []float64) float64 { return smooth.Median(x, nil) }
