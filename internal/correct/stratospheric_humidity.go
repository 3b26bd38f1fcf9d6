package correct

import (
	"math"

	"leadline/internal/sounding"
)

// stratosphericHumidity widens the uncertainty of humidity where the air is colder
// than the sensor is of use in (docs/methods/stratospheric-humidity-limit.md): the
// value stays, is judged by the check of that name, and is stated to be good to a
// large share of itself. No value is changed.
func (f *flight) stratosphericHumidity() {
	if f.sheet == nil || !(f.sheet.Humidity.Coldest > 0) || !f.has(sounding.Temperature) || !f.has(sounding.Humidity) {
		return
	}
	t := f.usable(sounding.Temperature)
	st := f.now[sounding.Humidity]
	if st.common == nil {
		return
	}
	common := clone(st.common)
	beyond := 0
	for _, l := range f.legs {
		for _, i := range l.rows {
			if x := st.values[i]; t[i] < f.sheet.Humidity.Coldest && present(x) {
				common[i] = hypot(common[i], f.set.StratosphericHumidity.BeyondU*math.Abs(x))
				beyond++
			}
		}
	}
	if beyond == 0 {
		return
	}
	f.budget(sounding.Humidity, st.independent, common)
	for i := len(f.steps) - 1; i >= 0; i-- {
		if s := &f.steps[i]; s.Variable == sounding.Humidity {
			s.Common = common
			break
		}
	}
}
