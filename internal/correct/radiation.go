package correct

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// radiationTable looks an instrument sheet's table up, bilinear in elevation and ln p.
type radiationTable struct {
	sheet *sounding.RadiationSheet
	logP  []float64 // ln of the pressures, falling
}

func newRadiationTable(sheet *sounding.RadiationSheet) *radiationTable {
	t := &radiationTable{sheet: sheet, logP: make([]float64, len(sheet.Pressure))}
	for i, p := range sheet.Pressure {
		t.logP[i] = math.Log(p)
	}
	return t
}

// at returns the error by day and by night at the reference ventilation, in K; the
// ends of the table are continued.
func (t *radiationTable) at(elevation, logP float64) (day, night float64) {
	n := len(t.logP)
	j, x := 0, 0.0
	if n > 1 {
		for j < n-2 && logP < t.logP[j+1] {
			j++
		}
		x = min(1, max(0, (t.logP[j]-logP)/(t.logP[j]-t.logP[j+1])))
	}
	across := func(row []float64) float64 {
		if n == 1 {
			return row[0]
		}
		return row[j] + x*(row[j+1]-row[j])
	}
	if len(t.sheet.Night) > 0 {
		night = across(t.sheet.Night)
	}
	e := t.sheet.Elevation
	i := 0
	for i < len(e)-2 && elevation > e[i+1] {
		i++
	}
	day = across(t.sheet.Error[i])
	if len(e) > 1 {
		y := min(1, max(0, (elevation-e[i])/(e[i+1]-e[i])))
		day += y * (across(t.sheet.Error[i+1]) - day)
	}
	return day, night
}

// radiationError fills in each leg's radiation error of the thermometer at the Sun,
// pressure and ventilation of each sample, and returns false with a reason where it
// cannot.
func (f *flight) radiationError() (bool, string) {
	switch {
	case f.sheet == nil:
		return false, "no instrument sheet: radiation error not known"
	case len(f.sheet.Temperature.Radiation.Error) == 0 || len(f.sheet.Temperature.Radiation.Pressure) == 0:
		return false, "the instrument sheet has no radiation table"
	}
	sheet := &f.sheet.Temperature.Radiation
	table := newRadiationTable(sheet)
	any := false
	top := f.cloudTop()
	for _, l := range f.legs {
		for i := range l.excess {
			e, p := l.elevation[i], l.pressure[i]
			if !present(e) || !(p > 0) {
				l.excess[i] = math.NaN()
				continue
			}
			any = true
			day, night := table.at(e, math.Log(p))
			if !math.IsInf(top, -1) && l.height[i] < top {
				day *= f.set.Radiation.CloudShare
			}
			x := l.sunlit[i]*day + (1-l.sunlit[i])*night
			if sheet.Ventilation > 0 {
				r := sheet.Ventilation / l.ventilation[i]
				if sheet.Exponent == 0.5 {
					x *= math.Sqrt(r)
				} else {
					x *= math.Pow(r, sheet.Exponent)
				}
			}
			l.excess[i] = x
		}
	}
	if !any {
		return false, "position, time or pressure are not known: no solar elevation"
	}
	return true, ""
}

// radiation takes the radiation error off the temperature (docs/methods/radiation.md)
// and stores the solar elevation it used.
func (f *flight) radiation() {
	if len(f.legs) > 0 {
		sun := constant(f.n, math.NaN())
		for _, l := range f.legs {
			scatter(sun, l.elevation, l.rows)
		}
		if !none(sun) {
			f.step(sounding.Step{Method: "radiation", Kind: sounding.StepDerive, Variable: sounding.SolarElevation, Values: sun,
				Note: "geometric elevation of the Sun at the balloon"})
		}
	}
	ok, why := f.radiationError()
	if !f.has(sounding.Temperature) {
		return
	}
	if !ok {
		f.notRun(quality.Radiation, sounding.Temperature, "%s", why)
		return
	}
	sheet := &f.sheet.Temperature.Radiation
	if f.sheet.Contains("radiation") {
		f.notRun(quality.Radiation, sounding.Temperature, "the source's values already contain it")
		return
	}
	old := f.now[sounding.Temperature]
	values := clone(old.values)
	smallest, largest, sum, count := math.Inf(1), math.Inf(-1), 0.0, 0
	for _, l := range f.legs {
		y := f.usableIn(sounding.Temperature, l)
		for k, i := range l.rows {
			x := l.excess[k]
			if !present(y[k]) || !present(x) {
				continue
			}
			values[i] -= x
			smallest, largest, sum, count = min(smallest, x), max(largest, x), sum+x, count+1
		}
	}
	if count == 0 {
		f.notRun(quality.Radiation, sounding.Temperature, "no usable temperature between release and landing")
		return
	}
	f.step(sounding.Step{
		Method: "radiation", Kind: sounding.StepCorrect, Variable: sounding.Temperature,
		Values: values, Independent: old.independent, Common: f.temperatureCommon(),
		Coefficients: []sounding.Coefficient{
			numberOf("reference_ventilation", sheet.Ventilation, "m s-1", f.sheetName()),
			numberOf("ventilation_exponent", sheet.Exponent, "1", f.sheetName()),
			numberOf("u_share", sheet.Relative, "1", f.sheetName()),
			numberOf("mean_error", sum/float64(count), "K", "computed"),
		},
		Note: fmt.Sprintf("radiation error taken off: mean %+.2f K, between %+.2f and %+.2f K", -sum/float64(count), -largest, -smallest),
	})
	f.ran(quality.Radiation, sounding.Temperature)
}

// temperatureCommon is the part of the temperature's uncertainty that all samples of
// the flight share: calibration, radiation model (a share of it and a floor), and
// what the lag step left.
func (f *flight) temperatureCommon() []float64 {
	top := f.cloudTop()
	calibration := f.set.Generic.TemperatureU
	var relative, floor float64
	if f.sheet != nil {
		calibration = f.sheet.Temperature.Calibration
		relative, floor = f.sheet.Temperature.Radiation.Relative, f.sheet.Temperature.Radiation.Floor
	}
	lag := f.now[sounding.Temperature].common
	out := constant(f.n, calibration)
	for _, l := range f.legs {
		for k, i := range l.rows {
			x := l.excess[k]
			if !present(x) {
				x = 0
			}
			part := 0.0
			if lag != nil {
				part = lag[i]
			}
			share := relative * relative
			if l.height[k] < top && l.sunlitOr(k) > 0 {
				u := f.set.Radiation.CloudU / max(f.set.Radiation.CloudShare, 0.1) // of the error in clear sky
				share += u * u
			}
			out[i] = math.Sqrt(calibration*calibration + x*x*share + floor*floor*l.sunlitOr(k) + part*part)
		}
	}
	return out
}

// cloudTop is the height in m below which the flight went through or under cloud: the
// highest place of the ascent where the raw humidity stands at saturation, over water
// or, below 0 °C, over ice, for three samples on end; −Inf for none.
func (f *flight) cloudTop() float64 {
	top := math.Inf(-1)
	for _, l := range f.legs {
		if l.descent {
			continue
		}
		t := f.usableIn(sounding.Temperature, l)
		rh := f.usableIn(sounding.Humidity, l)
		if none(rh) {
			rh = f.usableIn(sounding.HumidityA, l)
			b := f.usableIn(sounding.HumidityB, l)
			for i := range rh {
				if !present(rh[i]) || b[i] > rh[i] {
					rh[i] = b[i] // the other may be heated
				}
			}
		}
		run := 0
		for i := l.len() - 1; i >= 0; i-- {
			limit := f.set.Radiation.CloudHumidity
			if !(rh[i] > 0.4*limit) {
				run = 0
				continue
			}
			if t[i] < constants.ZeroCelsius {
				if s := f.vapour.IceSaturation(t[i]); present(s) {
					limit *= 0.01 * s
				}
			}
			if !(rh[i] >= limit) {
				run = 0
				continue
			}
			if run++; run == 3 {
				return l.height[i+2]
			}
		}
	}
	return top
}

// sunlitOr is the sunlit share, 1 where it is not known.
func (l *leg) sunlitOr(k int) float64 {
	if s := l.sunlit[k]; present(s) {
		return s
	}
	return 1
}

// temperatureBudget states the uncertainty of a temperature that no correction was
// applied to, and adds what the corrections that could not run would have removed.
func (f *flight) temperatureBudget() {
	st := f.now[sounding.Temperature]
	if st == nil {
		return
	}
	applied := false
	for i := range f.steps {
		applied = applied || f.steps[i].Variable == sounding.Temperature && f.steps[i].Method == "radiation"
	}
	if applied {
		return
	}
	independent := st.independent
	if independent == nil {
		noise := f.set.Generic.TemperatureNoise
		if f.sheet != nil {
			noise = f.sheet.Temperature.Noise
		}
		independent = f.level(noise)
	}
	f.budget(sounding.Temperature, independent, f.temperatureCommon())
	// A step that stands must carry the uncertainty after it.
	for i := len(f.steps) - 1; i >= 0; i-- {
		if s := &f.steps[i]; s.Variable == sounding.Temperature {
			s.Independent, s.Common = f.now[sounding.Temperature].independent, f.now[sounding.Temperature].common
			break
		}
	}
}
