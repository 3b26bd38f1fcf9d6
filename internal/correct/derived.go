package correct

import (
	"math"

	"leadline/internal/constants"
	"leadline/internal/humidity"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// rolled returns the flags of something computed from variables: questionable where
// one of them is, good where all are, else not evaluated. A bad or missing input
// gives no value, so its flag is brought in line with that later.
func (f *flight) rolled(inputs ...sounding.Variable) ([]quality.Flag, []quality.Bits) {
	flags, tests := make([]quality.Flag, f.n), make([]quality.Bits, f.n)
	for i := range flags {
		worst, good := quality.Flag(0), true
		for _, v := range inputs {
			st := f.now[v]
			if st == nil || st.flags == nil {
				good = false
				continue
			}
			good = good && st.flags[i] == quality.Good
			worst = quality.Worst(worst, st.flags[i])
		}
		switch {
		case worst == quality.Questionable:
			flags[i], tests[i] = quality.Questionable, quality.Derived.Bit()
		case good:
			flags[i] = quality.Good
		default:
			flags[i] = quality.NotEvaluated
		}
	}
	return flags, tests
}

// rollInto gives v the flags rolled from its inputs.
func (f *flight) rollInto(v sounding.Variable, inputs ...sounding.Variable) {
	flags, tests := f.rolled(inputs...)
	f.flagged(v, flags, tests)
}

// derived computes dew point, virtual and potential temperature and mixing ratio
// with their uncertainties (docs/methods/derived.md).
func (f *flight) derived() {
	t := f.usable(sounding.Temperature)
	if t == nil {
		f.notRun(quality.Derived, sounding.NoVariable, "no temperature: no humidity quantities")
		return
	}
	temperature := f.now[sounding.Temperature]
	p := f.usable(sounding.Pressure)
	if p != nil {
		f.potentialTemperature(t, p)
	}
	rh := f.usable(sounding.Humidity)
	if rh == nil {
		return
	}
	moisture := f.now[sounding.Humidity]
	house := f.set.General.Formula
	n := f.n
	blank := func() []float64 { return constant(n, math.NaN()) }
	td, tdI, tdC := blank(), blank(), blank()
	tv, tvI, tvC := blank(), blank(), blank()
	mr, mrI, mrC := blank(), blank(), blank()
	for i, x := range t {
		h := rh[i]
		if !present(x) || !present(h) {
			continue
		}
		saturation := 0.01 * f.saturationAt(i, x)
		e := h * saturation
		slope := slopeOverWater(x)
		// Shares of e: from humidity and from temperature, whose errors are independent.
		shareI, shareC := math.NaN(), math.NaN()
		if h > 0 {
			shareI = hypot(at(moisture.independent, i)/h, slope*at(temperature.independent, i))
			shareC = hypot(at(moisture.common, i)/h, slope*at(temperature.common, i))
			td[i] = house.DewPoint(e)
			s := slopeOverWater(td[i])
			tdI[i], tdC[i] = shareI/s, shareC/s
		}
		if p == nil || !(p[i] > e) {
			continue
		}
		tv[i] = humidity.VirtualTemperature(x, max(0, e), p[i])
		wet := (1 - constants.Epsilon) * x / p[i] // dTv/de
		uE := func(u []float64) float64 { return wet * saturation * at(u, i) }
		tvI[i] = hypot(at(temperature.independent, i)*tv[i]/x, uE(moisture.independent))
		tvC[i] = hypot(at(temperature.common, i)*tv[i]/x, uE(moisture.common))
		if h >= 0 {
			mr[i] = 1000 * humidity.MixingRatio(e, p[i])
			wetter := p[i] / (p[i] - e)
			if h > 0 {
				mrI[i], mrC[i] = mr[i]*shareI*wetter, mr[i]*shareC*wetter
			}
		}
	}
	add := func(v sounding.Variable, values, i, c []float64, note string, inputs ...sounding.Variable) {
		f.step(sounding.Step{Method: "derived", Kind: sounding.StepDerive, Variable: v, Values: values, Independent: i, Common: c,
			Coefficients: []sounding.Coefficient{{Name: "calibration_formula", Value: sounding.NotSet, Unit: "1", Source: f.vapour.String()},
				{Name: "house_formula", Value: sounding.NotSet, Unit: "1", Source: house.String()}}, Note: note})
		f.rollInto(v, inputs...)
	}
	add(sounding.DewPoint, td, tdI, tdC, "dew point over water from relative humidity and temperature", sounding.Temperature, sounding.Humidity)
	if p != nil {
		add(sounding.VirtualTemperature, tv, tvI, tvC, "virtual temperature", sounding.Temperature, sounding.Humidity, sounding.Pressure)
		add(sounding.MixingRatio, mr, mrI, mrC, "mixing ratio of vapour to dry air", sounding.Temperature, sounding.Humidity, sounding.Pressure)
	}
	f.ran(quality.Derived, sounding.DewPoint)
}

// slopeOverWater is d ln ew/dT in K⁻¹ by the Magnus form of WMO-No. 8, annex 4.B: good
// to 2 % from −80 to 40 °C, which is plenty for an uncertainty.
func slopeOverWater(t float64) float64 {
	d := 243.12 + t - constants.ZeroCelsius
	return 17.62 * 243.12 / (d * d)
}

// at is u[i], 0 where nothing is known.
func at(u []float64, i int) float64 {
	if u == nil || !present(u[i]) {
		return 0
	}
	return u[i]
}

func (f *flight) potentialTemperature(t, p []float64) {
	temperature, pressure := f.now[sounding.Temperature], f.now[sounding.Pressure]
	values, independent, common := constant(f.n, math.NaN()), constant(f.n, math.NaN()), constant(f.n, math.NaN())
	for i, x := range t {
		if !present(x) || !(p[i] > 0) {
			continue
		}
		values[i] = x * math.Exp(constants.Kappa*math.Log(1000/p[i]))
		part := func(uT, uP []float64) float64 {
			return values[i] * hypot(at(uT, i)/x, constants.Kappa*at(uP, i)/p[i])
		}
		independent[i], common[i] = part(temperature.independent, pressure.independent), part(temperature.common, pressure.common)
	}
	f.step(sounding.Step{Method: "derived", Kind: sounding.StepDerive, Variable: sounding.PotentialTemperature, Values: values,
		Independent: independent, Common: common, Note: "potential temperature to 1000 hPa"})
	f.rollInto(sounding.PotentialTemperature, sounding.Temperature, sounding.Pressure)
}
