package humidity

import "math"

// The column functions write one result per sample into dst, which must be as
// long as the inputs and may be one of them. They do what the function of one
// value does, including NaN, without a branch on the formula in the loop.

// OverWaterColumn writes OverWater of each temperature.
func (f Formula) OverWaterColumn(dst, t []float64) { f.water().column(dst, t) }

// OverIceColumn writes OverIce of each temperature.
func (f Formula) OverIceColumn(dst, t []float64) { f.ice().column(dst, t) }

func (s *source) column(dst, t []float64) {
	if s == nil {
		fillMissing(dst)
		return
	}
	log, low, high := s.log, s.hardLowest, s.hardHighest
	for i, v := range t {
		if !(v >= low && v <= high) {
			dst[i] = math.NaN()
			continue
		}
		ln, _ := log(v)
		dst[i] = math.Exp(ln)
	}
}

// DewPointColumn writes DewPoint of each vapour pressure.
func (f Formula) DewPointColumn(dst, e []float64) {
	if f.water() == nil {
		fillMissing(dst)
		return
	}
	waterInverses[f]().column(dst, e)
}

// FrostPointColumn writes FrostPoint of each vapour pressure.
func (f Formula) FrostPointColumn(dst, e []float64) {
	if f.ice() == nil {
		fillMissing(dst)
		return
	}
	iceInverses[f]().column(dst, e)
}

func (v *inverse) column(dst, e []float64) {
	for i, x := range e {
		dst[i] = v.at(math.Log(x))
	}
}

// FromRelativeColumn writes the vapour pressure of each relative humidity and temperature.
func (f Formula) FromRelativeColumn(dst, rh, t []float64) {
	s := f.water()
	if s == nil {
		fillMissing(dst)
		return
	}
	for i, v := range t {
		dst[i] = 0.01 * rh[i] * s.at(v)
	}
}

// VirtualTemperatureColumn writes VirtualTemperature of each sample.
func VirtualTemperatureColumn(dst, t, e, p []float64) {
	for i := range t {
		dst[i] = VirtualTemperature(t[i], e[i], p[i])
	}
}

func fillMissing(dst []float64) {
	for i := range dst {
		dst[i] = math.NaN()
	}
}
