package correct

import (
	"math"
	"sort"

	"leadline/internal/sounding"
)

// How a heating state was found.
const (
	heatingColumn  = "column"
	heatingElement = "element temperature"
	heatingData    = "readings"
	heatingNone    = ""
)

// heatingState says for two sensors on a leg which rows were heated, and how that
// was found (docs/methods/twin-humidity-merge.md).
func (f *flight) heatingState(l *leg, temperature []float64) (a, b []bool, how string) {
	n := l.len()
	a, b = make([]bool, n), make([]bool, n)
	if f.has(sounding.HeatingA) && f.has(sounding.HeatingB) {
		known := 0
		for k, v := range [2]sounding.Variable{sounding.HeatingA, sounding.HeatingB} {
			state := f.usableIn(v, l)
			on := false
			for i, x := range state {
				if present(x) {
					on = x >= 0.5
					known++
				}
				[2][]bool{a, b}[k][i] = on // a lost frame keeps the state before it
			}
		}
		if known > n {
			return a, b, heatingColumn
		}
	}
	excess := 20.0
	if f.sheet != nil && f.sheet.Humidity.Heating.Excess > 0 {
		excess = 0.25 * f.sheet.Humidity.Heating.Excess
	}
	if f.has(sounding.HumiditySensorTempA) && f.has(sounding.HumiditySensorTempB) {
		found := 0
		for k, v := range [2]sounding.Variable{sounding.HumiditySensorTempA, sounding.HumiditySensorTempB} {
			own := f.usableIn(v, l)
			state := [2][]bool{a, b}[k]
			for i := 1; i < n; i++ {
				d, before := own[i]-temperature[i], own[i-1]-temperature[i-1]
				switch {
				case !present(d):
					state[i] = state[i-1]
				case d > excess && !(d < before-0.5): // hot and not cooling
					state[i] = true
					found++
				case d > 0.1*excess && d > before+1: // on its way up
					state[i] = true
				}
			}
		}
		if found > 0 {
			return a, b, heatingElement
		}
		return a, b, heatingNone
	}
	if f.heatingFromReadings(l, a, b) {
		return a, b, heatingData
	}
	return make([]bool, n), make([]bool, n), heatingNone
}

// heatingFromReadings finds the square wave that alternate heating writes into the
// difference of the two readings: a heated element reads a small part of what the
// other reads. A run counts where it is 3 to 60 s long; three runs of each sensor at
// least, and a median spacing of 20 to 180 s, make a cycle. Each run is taken back to
// where the reading began to fall and ends where it was lowest.
func (f *flight) heatingFromReadings(l *leg, a, b []bool) bool {
	ra := f.interpolated(l.time, f.usableIn(sounding.HumidityA, l))
	rb := f.interpolated(l.time, f.usableIn(sounding.HumidityB, l))
	if none(ra) || none(rb) {
		return false
	}
	swing := f.set.TwinHumidity.SquareWave
	find := func(low, high []float64, state []bool) []float64 {
		var starts []float64
		n := len(low)
		for i := 0; i < n; i++ {
			if !(high[i]-low[i] > swing && low[i] < 0.6*high[i]) {
				continue
			}
			j, lowest := i, i
			for j < n && high[j]-low[j] > swing && low[j] < 0.6*high[j] {
				if low[j] <= low[lowest] {
					lowest = j
				}
				j++
			}
			from := i
			for from > 0 && low[from-1] > low[from]+0.05 && l.time[i]-l.time[from] < 15 {
				from--
			}
			if long := l.time[lowest] - l.time[from]; long >= 3 && long <= 60 {
				for k := from; k <= lowest; k++ {
					state[k] = true
				}
				starts = append(starts, l.time[from])
			}
			i = j
		}
		return starts
	}
	regular := func(starts []float64) bool {
		if len(starts) < 3 {
			return false
		}
		var gaps []float64
		for i := 1; i < len(starts); i++ {
			gaps = append(gaps, starts[i]-starts[i-1])
		}
		sort.Float64s(gaps)
		m := gaps[len(gaps)/2]
		return m >= 20 && m <= 180
	}
	return regular(find(ra, rb, a)) && regular(find(rb, ra, b))
}

// heat fills in an element's heating: since when it is cool, and the excess
// temperature that heating left, from its own thermometer where it has one, else
// by the sheet: excess · exp(−s/τ), both scaled with the ventilation. recovery is τ at
// the reference ventilation, s.
func (f *flight) heat(e *element, heated []bool, recovery float64) {
	l, n := e.leg, e.leg.len()
	e.masked, e.since = make([]bool, n), f.column(n)
	sheet := &f.sheet.Humidity.Heating
	since := math.Inf(1)
	left := 0.0         // of the excess when heating ended, decaying
	recovering := false // still too warm from the last heating
	limit := f.set.TwinHumidity.Residual
	if e.measured {
		limit = f.set.TwinHumidity.MeasuredResidual
		f.quieten(e, heated)
	}
	for i := range n {
		if i > 0 {
			since += l.time[i] - l.time[i-1]
		}
		slower := slowing(sheet, l, i)
		if heated[i] {
			since = 0
			left = sheet.Excess * min(slower, 2)
		} else if i > 0 && recovery > 0 {
			left *= math.Exp(-(l.time[i] - l.time[i-1]) / (recovery * slower))
		}
		e.since[i] = since
		if !e.measured && !heated[i] && left > 1e-3 {
			e.excess[i] += left
			e.excessU[i] = hypot(e.excessU[i], f.set.TwinHumidity.ExcessU*left)
		}
		remains := left
		if e.measured {
			remains = e.excess[i]
		}
		// Noise of the element's thermometer must not let the sensor in and out again.
		recovering = heated[i] || recovering && remains > limit
		if recovering {
			e.reading[i], e.masked[i] = math.NaN(), true
		}
	}
}

// quieten smooths a measured excess temperature where the element is cool: there it
// changes slowly, and its noise would go into the humidity at 10 % per kelvin.
func (f *flight) quieten(e *element, heated []bool) {
	l, n := e.leg, e.leg.len()
	cool := f.column(n)
	for i := range cool {
		cool[i] = math.NaN()
		if !heated[i] && e.excess[i] < f.set.TwinHumidity.MeasuredResidual {
			cool[i] = e.excess[i]
		}
	}
	smoothed, _ := f.localLine(l.time, cool, 6, f.set.General.LongestBreak)
	for i := range cool {
		if present(cool[i]) && present(smoothed[i]) {
			e.excess[i] = smoothed[i]
		}
	}
}
