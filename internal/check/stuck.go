package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// runs calls visit for every run of at least least equal values that follow each
// other without a gap.
func (s *samples) runs(interval float64, least int, visit func(i, j int)) {
	n := len(s.x)
	for i := 0; i < n; {
		j := i + 1
		for j < n && s.x[j] == s.x[i] && s.t[j]-s.t[j-1] <= 5*max(1, interval) {
			j++
		}
		if j-i >= least {
			visit(i, j)
		}
		i = j
	}
}

// resolution is the smallest step between following values, 0 where none differ.
func (s *samples) resolution() float64 {
	least := math.Inf(1)
	for i := 1; i < len(s.x); i++ {
		if d := math.Abs(s.x[i] - s.x[i-1]); d > 1e-9*math.Abs(s.x[i])+1e-12 && d < least {
			least = d
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

// stuck finds the same value again and again while the balloon moves on.
func stuck(in *input) sounding.Report {
	b := in.begin(quality.Stuck)
	set := &in.set.Stuck
	p, z := in.pressureOf(), in.riseOf()
	if z == nil {
		for _, v := range list(thermodynamic, humidities, heightsOf[:1]) {
			if in.cols.Get(v) != nil {
				b.skipped(v, "neither pressure nor height says that the balloon moves")
			}
		}
		return b.rep
	}
	t := in.cols.Values(sounding.Temperature)
	moving := in.moving()
	for _, v := range list(thermodynamic, humidities, heightsOf[:1]) {
		b.each([]sounding.Variable{v}, func(s *samples) {
			resolution := s.resolution()
			var spans []sounding.Span
			longest, value := 0.0, 0.0
			severity := sounding.Questionable // a slow sensor in cold air may do it
			s.runs(in.interval, 4, func(i, j int) {
				a, c := int(s.row[i]), int(s.row[j-1])
				dt := s.t[j-1] - s.t[i]
				rise, fall := math.Abs(z[c]-z[a]), math.Abs(p[a]-p[c])
				same := false
				switch s.v {
				case sounding.Temperature:
					least := set.Temperature
					if resolution >= 0.09 { // tenths of a kelvin stand still in an isothermal layer
						least *= 4
					}
					same = dt > least && (fall > set.TemperatureFall || rise > set.TemperatureRise)
				case sounding.Pressure:
					// What pressure should have done, from the height that moved meanwhile.
					same = dt > set.Pressure && moving != sounding.Pressure
					if same {
						if s.v.Info().Dimension != "humidity" || t[a] > zeroCelsius-40 {
							severity = sounding.Bad
						}
						expected := s.x[i] * rise / 7000
						if moving == sounding.NoVariable { // nothing else tells: a usual climb
							expected = s.x[i] * 4 * dt / 7000
						}
						same = expected > set.PressureFall && expected > set.PressureSteps*resolution
					}
				case sounding.HeightMSL:
					same = dt > set.Height && in.cols.Get(sounding.Pressure) != nil && fall/max(p[a], 0.1)*7000 > set.HeightRise
				default:
					// Coarse steps and cold air rest near zero; a warm sensor that resolves tenths does not.
					dry := s.x[i] <= set.Dry && (resolution >= 0.45 || s.x[i] <= 0 || t != nil && t[a] < zeroCelsius-40)
					same = dt > set.Humidity && !dry && s.x[i] < 99.5 && t != nil && math.Abs(t[c]-t[a]) > set.HumidityChange
				}
				if same {
					if s.v.Info().Dimension != "humidity" || t[a] > zeroCelsius-40 {
						severity = sounding.Bad
					}
					spans = append(spans, s.span(i, j))
					if dt > longest {
						longest, value = dt, s.x[i]
					}
				}
			})
			if len(spans) == 0 {
				return
			}
			sentence := fmt.Sprintf("%s stays at %s for %.0f s %s while the balloon moves on: stuck", name(v), show(v, value), longest, in.place(spans...))
			if len(spans) > 1 {
				sentence = fmt.Sprintf("%s is stuck %d times %s, the longest time at %s for %.0f s", name(v), len(spans), in.place(spans...), show(v, value), longest)
			}
			b.find(fact{variable: v, severity: severity, spans: spans, measured: longest, limit: set.Humidity, unit: "s", sentence: sentence})
		})
	}
	return b.rep
}

// moving returns the variable riseOf is taken from: a height, pressure, or none.
func (in *input) moving() sounding.Variable {
	for _, v := range list(heightsOf, thermodynamic[:1]) {
		if in.present(v) != nil {
			return v
		}
	}
	return sounding.NoVariable
}
