package check

import (
	"math"

	"leadline/internal/sounding"
)

// measures returns on which rows humidity sensor A or B measures: not heated and
// recovered from its last heating. why says why that cannot be known; nil and ""
// mean a sensor that is not heated.
func (in *input) measures(v sounding.Variable) (measuring []bool, why string) {
	k := 0
	if v == sounding.HumidityB {
		k = 1
	}
	if !in.measured[k] {
		in.measured[k] = true
		in.measuring[k], in.whyNot[k] = in.heatingMask(k)
	}
	return in.measuring[k], in.whyNot[k]
}

// measuredSpans are the rows of the flight on which v measures: all of them but for
// sensors that are heated at times.
func (in *input) measuredSpans(v sounding.Variable) []sounding.Span {
	if v != sounding.HumidityA && v != sounding.HumidityB {
		return []sounding.Span{in.flight}
	}
	k := int(v - sounding.HumidityA)
	if in.measureSpans[k] == nil {
		measuring, _ := in.measures(v)
		if measuring == nil {
			return []sounding.Span{in.flight}
		}
		in.measureSpans[k] = []sounding.Span{}
		for _, s := range sounding.Spans(measuring, 0) {
			if s = s.Clip(in.flight); s.Len() > 0 {
				in.measureSpans[k] = append(in.measureSpans[k], s)
			}
		}
	}
	return in.measureSpans[k]
}

// humid returns the flight's humidity on every row: the merged one, else that of
// whichever of the two sensors measures there, A first; nil where there is none.
// from is the variable most of it comes from.
func (in *input) humid() (values []float64, from sounding.Variable) {
	if x := in.present(sounding.Humidity); x != nil {
		return x, sounding.Humidity
	}
	if in.humidOf != nil {
		return in.humidOf, in.humidFrom
	}
	for _, v := range humidities[1:] {
		x := in.present(v)
		measuring, why := in.measures(v)
		if x == nil || why != "" {
			continue
		}
		if in.humidOf == nil {
			in.humidFrom = v
			in.humidOf = make([]float64, in.n)
			for i := range in.humidOf {
				in.humidOf[i] = math.NaN()
			}
		}
		for i, value := range x {
			if math.IsNaN(in.humidOf[i]) && (measuring == nil || measuring[i]) {
				in.humidOf[i] = value
			}
		}
	}
	return in.humidOf, in.humidFrom
}

func (in *input) heatingMask(k int) ([]bool, string) {
	heated := in.present([]sounding.Variable{sounding.HeatingA, sounding.HeatingB}[k])
	element := in.present([]sounding.Variable{sounding.HumiditySensorTempA, sounding.HumiditySensorTempB}[k])
	air := in.cols.Values(sounding.Temperature)
	sheet := in.ctx.Sheet
	cycles := sheet != nil && sheet.Humidity.Heating.Cycle > 0
	const warm = 5.0 // K above the air: still heated or recovering (ours)
	isHeated := func(i int) bool { return heated[i] > 0.5 }
	if heated == nil {
		if element == nil || air == nil {
			if cycles {
				return nil, "the sheet says the sensor is heated in cycles, but the source does not say when"
			}
			return nil, ""
		}
		isHeated = func(i int) bool { return element[i]-air[i] > warm }
	}
	out := make([]bool, in.n)
	free := math.Inf(-1) // time from which the sensor measures again
	last := false
	for i := range out {
		if isHeated(i) {
			last = true
			free = math.Inf(1)
			continue
		}
		if last {
			last = false
			free = in.time[i] + in.recovery(i, air)
		}
		out[i] = in.time[i] >= free
	}
	return out, ""
}

// recovery is how long a sensor needs after its heating ends, s: 4.6 time constants
// (from 50 % down to 0.5 %), but no longer than it is left to measure. It has to cool
// first and to take up water then: of two such stages in a row the time is nearly the
// root of the sum of squares of that of each (docs/methods/twin-humidity.md).
func (in *input) recovery(row int, air []float64) float64 {
	const constants, usual = 4.6, 15.0
	if in.ctx.Sheet == nil {
		return usual
	}
	h := &in.ctx.Sheet.Humidity
	thermal := h.Heating.Recovery
	lag := 0.0
	if air != nil && !math.IsNaN(air[row]) {
		t := air[row] - zeroCelsius
		ln, power := 0.0, 1.0
		for _, c := range h.LagPolynomial {
			ln += c * power
			power *= t
		}
		if len(h.LagPolynomial) > 0 {
			lag = math.Exp(min(ln, 7))
		}
		if p := in.pressureOf(); p != nil && p[row] > 0 {
			density := 100 * p[row] / (287.05 * air[row])
			thermal *= math.Pow(1.2/max(density, 1e-3), h.Heating.Exponent)
		}
	}
	longest := h.Heating.Cycle - h.Heating.Heated
	if longest <= 0 {
		longest = 60
	}
	return min(constants*math.Hypot(thermal, lag), longest)
}
