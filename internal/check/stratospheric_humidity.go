package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// stratosphericHumidity says where humidity is beyond what the sensor can measure:
// above the tropopause air holds a few parts per million, and below a temperature
// of the instrument sheet the sensor has no useful sensitivity. A reading that means
// clearly more, beyond twice its uncertainty, is doubted; the rest is a note.
func stratosphericHumidity(in *input) sounding.Report {
	b := in.begin(quality.StratosphericHumidity)
	set := &in.set.Stratosphere
	t, p, z := in.cols.Values(sounding.Temperature), in.pressureOf(), in.riseOf()
	if t == nil || p == nil {
		for _, v := range humidities {
			if in.cols.Get(v) != nil {
				b.skipped(v, "it needs temperature and pressure")
			}
		}
		return b.rep
	}
	formula := in.formula()
	tropopause := in.tropopauseRow()
	base := math.Inf(1)
	if tropopause >= 0 {
		base = z[tropopause]
	}
	coldest, doubled := 0.0, 4.0 // K, %: without a sheet no coldest temperature, and 2 % (our choice)
	if in.ctx.Sheet != nil {
		h := &in.ctx.Sheet.Humidity
		coldest = h.Coldest
		if u := math.Hypot(h.Calibration, h.ColdExtra); u > 0 {
			doubled = 2 * u
		}
	}
	b.each(humidities, func(s *samples) {
		var wet, doubtful, cold []sounding.Span
		most, mostDoubtful, lowest := 0.0, 0.0, math.Inf(1)
		add := func(list []sounding.Span, span sounding.Span) []sounding.Span {
			if k := len(list) - 1; k >= 0 && span.From-list[k].To <= in.rows(3*set.Block) {
				list[k].To = span.To
				return list
			}
			return append(list, span)
		}
		scratch := make([]float64, 0, 64)
		for i := 0; i < s.len(); {
			j := i + 1
			for j < s.len() && s.t[j]-s.t[i] < set.Block {
				j++
			}
			row := int(s.row[(i+j)/2])
			span := s.span(i, j)
			if !in.ascent.Contains(row) || math.IsNaN(t[row]) {
				i = j
				continue
			}
			if t[row] < coldest {
				cold = add(cold, span)
				lowest = min(lowest, t[row])
			}
			if p[row] < set.Above && z[row] >= base {
				rh := smooth.Median(s.x[i:j], scratch)
				saturation := formula.OverWater(t[row])
				ppmv := 1e4 * rh * saturation / p[row]
				allowed := set.PPMV * p[row] / (1e4 * saturation) // % that means the limit
				switch {
				case rh > allowed+doubled:
					doubtful = add(doubtful, span)
					mostDoubtful = max(mostDoubtful, ppmv)
				case rh > allowed:
					wet = add(wet, span)
					most = max(most, ppmv)
				}
			}
			i = j
		}
		say := func(severity sounding.Severity, spans []sounding.Span, ppmv float64, end string) {
			if len(spans) > 0 {
				b.find(fact{variable: s.v, severity: severity, spans: spans, measured: ppmv, limit: set.PPMV, unit: "ppmv",
					sentence: fmt.Sprintf("%s %s means up to %.0f ppmv of water, where the stratosphere holds a few: %s", name(s.v), in.place(spans...), ppmv, end)})
			}
		}
		say(sounding.Questionable, doubtful, mostDoubtful, "not air, but the sensor")
		say(sounding.Note, wet, most, "within the sensor's uncertainty, so take it as an upper limit")
		if len(cold) > 0 {
			b.find(fact{variable: s.v, severity: sounding.Note, spans: cold, measured: lowest - zeroCelsius, limit: coldest - zeroCelsius, unit: "°C",
				sentence: fmt.Sprintf("%s %s is taken in air colder than %.0f °C, where the sensor has no useful sensitivity", name(s.v), in.place(cold...), coldest-zeroCelsius)})
		}
	})
	return b.rep
}
