package levels

import (
	"math"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// flightOf makes a final flight of an ascent from columns; nil columns are absent and
// NaN is missing. Everything else is good with an uncertainty of 0.1 in each part.
func flightOf(gpm, p, t, rh, u, v []float64) *sounding.Final {
	n := len(p)
	f := &sounding.Final{}
	f.Time, f.Line, f.Source = make([]float64, n), make([]int32, n), make([]uint8, n)
	for i := range f.Time {
		f.Time[i], f.Line[i] = float64(i), int32(i+10)
	}
	add := func(variable sounding.Variable, values []float64) {
		if values == nil {
			return
		}
		s := sounding.Series{Variable: variable, Values: values, Flags: make([]quality.Flag, n), Tests: make([]quality.Bits, n),
			Independent: make([]float64, n), Common: make([]float64, n)}
		for i, x := range values {
			s.Flags[i], s.Independent[i], s.Common[i] = quality.Good, 0.1, 0.1
			if math.IsNaN(x) {
				s.Flags[i] = quality.Missing
			}
		}
		f.Series = append(f.Series, s)
	}
	add(sounding.GeopotentialHeight, gpm)
	add(sounding.HeightMSL, gpm)
	add(sounding.Pressure, p)
	add(sounding.Temperature, t)
	add(sounding.Humidity, rh)
	add(sounding.WindU, u)
	add(sounding.WindV, v)
	f.Events = sounding.Events{Release: sounding.Event{Found: true}, Phases: []sounding.PhaseSpan{{Phase: sounding.Ascending, Span: sounding.Span{From: 0, To: n}}}}
	return f
}

// column makes heights every step gpm up to top with temperature from a function and
// pressure integrated hydrostatically in dry air.
func column(top, step float64, temperature func(gpm float64) float64) (gpm, p, t []float64) {
	lnp := math.Log(1013.25)
	for z := 0.0; z <= top; z += step {
		if z > 0 {
			const fine = 20
			for i := 0; i < fine; i++ {
				lnp -= earth.G0 / (earth.Rd * temperature(z-step+(float64(i)+0.5)*step/fine)) * step / fine
			}
		}
		gpm, p, t = append(gpm, z), append(p, math.Exp(lnp)), append(t, temperature(z))
	}
	return gpm, p, t
}
