package examine

import (
	"math"

	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// Moments gathers differences: number, mean, root mean square, and how many lie within
// twice their stated uncertainty.
type Moments struct {
	N, Stated, Within int
	Sum, Square       float64
}

func (m *Moments) add(d float64) {
	m.N++
	m.Sum += d
	m.Square += d * d
}

func (m *Moments) state(d, u float64) {
	if math.IsNaN(u) {
		return
	}
	m.Stated++
	if math.Abs(d) < 2*u {
		m.Within++
	}
}

func (m *Moments) merge(o Moments) {
	m.N, m.Stated, m.Within = m.N+o.N, m.Stated+o.Stated, m.Within+o.Within
	m.Sum, m.Square = m.Sum+o.Sum, m.Square+o.Square
}

// Bias returns the mean difference, NaN where there is none.
func (m Moments) Bias() float64 {
	if m.N == 0 {
		return math.NaN()
	}
	return m.Sum / float64(m.N)
}

// RMS returns the root mean square difference, NaN where there is none.
func (m Moments) RMS() float64 {
	if m.N == 0 {
		return math.NaN()
	}
	return math.Sqrt(m.Square / float64(m.N))
}

// Coverage returns the share of samples within twice the stated uncertainty, NaN where
// none is stated.
func (m Moments) Coverage() float64 {
	if m.Stated == 0 {
		return math.NaN()
	}
	return float64(m.Within) / float64(m.Stated)
}

// band is a part of the atmosphere that errors are gathered over: frame n of the truth
// lies in it or not.
type band struct {
	name string
	in   func(t *truth.Truth, n int) bool
}

// bands by variable: the ones the goals speak of, then layers of height.
var (
	byPressure = []band{
		{"below 100 hPa", func(t *truth.Truth, n int) bool { return t.Pressure[n] >= 100 }},
		{"above 100 hPa", func(t *truth.Truth, n int) bool { return t.Pressure[n] < 100 }},
	}
	byCold = []band{
		{"warmer than −40 °C", func(t *truth.Truth, n int) bool { return t.Temperature[n] > 233.15 }},
		{"−40 to −70 °C", func(t *truth.Truth, n int) bool { return t.Temperature[n] <= 233.15 && t.Temperature[n] > 203.15 }},
		{"strong gradients", steep},
	}
	byHeight = []band{layer("0–5 km", 0, 5e3), layer("5–10 km", 5e3, 10e3), layer("10–16 km", 10e3, 16e3), layer("16–25 km", 16e3, 25e3), layer("above 25 km", 25e3, 99e3)}
)

func layer(name string, low, high float64) band {
	return band{name, func(t *truth.Truth, n int) bool { return t.HeightMSL[n] >= low && t.HeightMSL[n] < high }}
}

// steep tells whether true humidity changes by 10 % or more within 20 s around a frame,
// some 100 m, in air warmer than −70 °C.
func steep(t *truth.Truth, n int) bool {
	const reach, least = 10, 10.0
	return n >= reach && n+reach < t.Len() && t.Temperature[n] > 203.15 && math.Abs(t.Humidity[n+reach]-t.Humidity[n-reach]) >= least
}

// measured lists what is compared with the truth and over which bands.
var measured = []struct {
	variable sounding.Variable
	bands    []band
}{
	{sounding.Pressure, append(byPressure[:2:2], byHeight...)},
	{sounding.Temperature, append(byPressure[:2:2], byHeight...)},
	{sounding.Humidity, append(byCold[:3:3], byHeight...)},
	{sounding.WindU, append(byPressure[:2:2], byHeight...)},
	{sounding.WindV, append(byPressure[:2:2], byHeight...)},
	{sounding.GeopotentialHeight, append(byPressure[:2:2], byHeight...)},
}

// Errors are the moments of one variable in one band, raw and final.
type Errors struct {
	Variable sounding.Variable
	Band     string
	Raw      Moments
	Final    Moments
}

// newErrors returns empty moments for everything that is measured.
func newErrors() []Errors {
	var out []Errors
	for _, m := range measured {
		for _, b := range m.bands {
			out = append(out, Errors{Variable: m.variable, Band: b.name})
		}
	}
	return out
}
