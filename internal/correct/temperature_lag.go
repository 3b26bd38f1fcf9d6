package correct

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// temperatureTau returns the thermometer's time constant on a leg in s:
// τ = τ0 (ρv/ρ0v0)^−n with the ascent rate that was flown.
func (f *scratch) temperatureTau(sheet *sounding.TemperatureSheet, l *leg) []float64 {
	tau := f.column(l.len())
	reference := sheet.Density * sheet.Ventilation
	half := sheet.Exponent == 0.5
	for i := range tau {
		x := reference / (l.density[i] * l.ventilation[i])
		switch {
		case half:
			tau[i] = sheet.TimeConstant * math.Sqrt(x)
		default:
			tau[i] = sheet.TimeConstant * math.Pow(x, sheet.Exponent)
		}
		if !present(tau[i]) {
			tau[i] = sheet.TimeConstant
		}
	}
	return tau
}

// temperatureLag undoes the thermometer's time lag on each leg (docs/methods/temperature-lag.md).
func (f *flight) temperatureLag() {
	if !f.has(sounding.Temperature) {
		return
	}
	switch {
	case f.sheet == nil:
		f.notRun(quality.Lag, sounding.Temperature, "no instrument sheet: time constant not known")
		return
	case !(f.sheet.Temperature.TimeConstant > 0) || !(f.sheet.Temperature.Density*f.sheet.Temperature.Ventilation > 0):
		f.notRun(quality.Lag, sounding.Temperature, "the instrument sheet gives no time constant with its density and ventilation")
		return
	case f.sheet.Contains("temperature-lag"):
		f.notRun(quality.Lag, sounding.Temperature, "the source's values already contain it")
		return
	}
	sheet := &f.sheet.Temperature
	set := &f.set.TemperatureLag
	old := f.now[sounding.Temperature].values
	values, independent, common := clone(old), constant(f.n, sheet.Noise), constant(f.n, 0)
	resolution := make([]float64, f.n)
	// Most flights are smooth enough for the upper bound: start there.
	inversion := lagInversion{scratch: f.scratch, last: set.High}
	largest, squares, count := 0.0, 0.0, 0
	var coefficients []sounding.Coefficient
	for _, l := range f.legs {
		y := f.usableIn(sounding.Temperature, l)
		tau := f.temperatureTau(sheet, l)
		noise := noiseOf(y, sheet.Noise, sheet.Resolution)
		s := inversion.solve(l.time, y, tau, nil, breaksIn(l.time, f.set.General.LongestBreak), noise, set.Low, set.High, inversion.last, 0)
		spread := f.localSpread(s.air, s.reading, y, 5)
		for k, i := range l.rows {
			if !present(y[k]) || tau[k] < set.Smallest || !present(s.air[k]) || !present(s.noiseOut[k]) {
				continue
			}
			change := s.air[k] - y[k]
			values[i] = s.air[k]
			independent[i] = s.noiseOut[k]
			common[i] = sheet.LagRelative * spread[k]
			resolution[i] = s.resolution[k]
			squares += change * change
			count++
			if math.Abs(s.air[k]-s.reading[k]) > math.Abs(largest) {
				largest = s.air[k] - s.reading[k]
			}
		}
		name := legName(l)
		coefficients = append(coefficients,
			numberOf("smoothing_"+name, s.smoothing, "s4", "fitted"),
			numberOf("noise_"+name, noise, "K", "fitted"))
	}
	if count == 0 {
		f.notRun(quality.Lag, sounding.Temperature, "no usable temperature between release and landing")
		return
	}
	coefficients = append([]sounding.Coefficient{
		numberOf("time_constant", sheet.TimeConstant, "s", f.sheetName()),
		numberOf("ventilation_exponent", sheet.Exponent, "1", f.sheetName()),
		numberOf("time_constant_u", sheet.LagRelative, "1", f.sheetName()),
	}, coefficients...)
	f.step(sounding.Step{
		Method: "temperature-lag", Kind: sounding.StepCorrect, Variable: sounding.Temperature,
		Values: values, Independent: independent, Common: common, Resolution: resolution, Coefficients: coefficients,
		Note: fmt.Sprintf("time lag of the thermometer undone: %.2f K rms, largest %+.2f K", math.Sqrt(squares/float64(count)), largest),
	})
	f.ran(quality.Lag, sounding.Temperature)
}

func legName(l *leg) string {
	if l.descent {
		return "descent"
	}
	return "ascent"
}

// localSpread is the rms of a − b over half rows to either side of each row, where
// there is a reading.
func (f *scratch) localSpread(a, b, reading []float64, half int) []float64 {
	n := len(a)
	out := f.filled(n, 0)
	sum, count := 0.0, 0
	square := func(i int) (float64, int) {
		d := a[i] - b[i]
		if !present(d) || !present(reading[i]) {
			return 0, 0
		}
		return d * d, 1
	}
	for i := -half; i < n; i++ {
		if j := i + half; j < n {
			q, c := square(j)
			sum += q
			count += c
		}
		if j := i - half - 1; j >= 0 {
			q, c := square(j)
			sum -= q
			count -= c
		}
		if i >= 0 && count > 0 {
			out[i] = math.Sqrt(max(0, sum) / float64(count))
		}
	}
	return out
}
