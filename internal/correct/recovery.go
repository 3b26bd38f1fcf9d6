package correct

import (
	"math"
	"sort"

	"leadline/internal/sounding"
)

// What a recovery must show to be used for the fit.
const (
	recoveryWarmest  = 273.15 // K; below it the element takes up water too slowly, and what is seen is not heat alone
	recoveryCalm     = 30.0   // s since the other sensor was heated
	recoverySamples  = 3      // of one recovery, at least
	recoveryCycles   = 6      // of the flight, at least
	recoveryDriest   = 15.0   // %, of the other sensor
	recoveryLongest  = 30.0   // s after the heating ended
	recoveryFraction = 3.0    // the fit is believed within this factor of the sheet
)

// recoveryOf is the time constant by which heated elements cool on a leg, s at the
// reference ventilation: fitted to the ascent where they have no thermometer, else the
// sheet's. A descent, with its few recoveries in warm air, takes what the ascent gave.
func (f *flight) recoveryOf(l *leg, temperature []float64, heated [2][]bool, how string) float64 {
	fromSheet := f.sheet.Humidity.Heating.Recovery
	switch {
	case how == heatingNone || f.has(sounding.HumiditySensorTempA) && f.has(sounding.HumiditySensorTempB):
		return fromSheet
	case f.recovery > 0:
		return f.recovery
	}
	if tau, _ := f.fitRecovery(l, temperature, heated); tau > 0 {
		f.recovery = tau
		return tau
	}
	return fromSheet
}

// fitRecovery finds how fast heated elements cool on this flight where they have no
// thermometer of their own: a warm element reads ew(T)/ew(T+d) of what the other,
// resting one reads, which gives d; the slope of ln d after each heating is one over
// the time constant there, and its median over the recoveries of warm air, taken back
// to the reference ventilation, is the flight's. Colder air follows by the same
// ventilation. It returns 0 where fewer than six recoveries can be used or where they
// contradict the sheet by more than a factor of three.
func (f *flight) fitRecovery(l *leg, temperature []float64, heated [2][]bool) (tau float64, recoveries int) {
	sheet := &f.sheet.Humidity.Heating
	if !(sheet.Recovery > 0) {
		return 0, 0
	}
	readings := [2][]float64{f.usableIn(sounding.HumidityA, l), f.usableIn(sounding.HumidityB, l)}
	if readings[0] == nil || readings[1] == nil {
		return 0, 0
	}
	var taus []float64
	for k := range 2 {
		mine, other, on, rest := readings[k], readings[1-k], heated[k], heated[1-k]
		last := math.Inf(-1) // when the other was heated last
		for i := 1; i < l.len(); i++ {
			if rest[i] {
				last = l.time[i]
			}
			if !on[i-1] || on[i] || l.time[i]-last < recoveryCalm || !(temperature[i] > recoveryWarmest) {
				continue
			}
			if slope := f.cooling(l, temperature, mine, other, on, rest, i); slope < 0 {
				taus = append(taus, -1/slope/slowing(sheet, l, i))
			}
		}
	}
	if len(taus) < recoveryCycles {
		return 0, len(taus)
	}
	sort.Float64s(taus)
	tau = taus[len(taus)/2]
	if tau > recoveryFraction*sheet.Recovery || tau < sheet.Recovery/recoveryFraction {
		return 0, len(taus)
	}
	return tau, len(taus)
}

// cooling returns the slope of ln d over time after the heating that ended at row
// from, 0 where it cannot be told.
func (f *flight) cooling(l *leg, temperature, mine, other []float64, on, rest []bool, from int) float64 {
	var n, st, sy, stt, sty float64
	for j := from; j < l.len() && !on[j] && !rest[j] && l.time[j]-l.time[from] < recoveryLongest; j++ {
		share := mine[j] / other[j]
		if !(other[j] > recoveryDriest) || !(share > 0.1 && share < 0.85) { // false for NaN
			continue
		}
		e := f.vapour.OverWater(temperature[j]) / share
		d := f.vapour.DewPoint(e) - temperature[j]
		if !(d > 0.5) {
			continue
		}
		t, y := l.time[j]-l.time[from], math.Log(d)
		n, st, sy, stt, sty = n+1, st+t, sy+y, stt+t*t, sty+t*y
	}
	if n < recoverySamples || !(n*stt-st*st > 0) {
		return 0
	}
	return (n*sty - st*sy) / (n*stt - st*st)
}

// slowing is how much slower than at the reference ventilation (1.2 kg m⁻³, 5 m s⁻¹)
// an element cools at row i.
func slowing(sheet *sounding.HeatingSheet, l *leg, i int) float64 {
	x := l.density[i] * l.ventilation[i] / 6
	switch {
	case !(x > 0):
		return 1
	case sheet.Exponent == 0.5:
		return 1 / math.Sqrt(x)
	}
	return math.Pow(x, -sheet.Exponent)
}
