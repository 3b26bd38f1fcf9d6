package examine

import (
	"math"

	"leadline/internal/sounding"
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

// band is a part of the atmosphere that errors are gathered over.
type band struct {
	name string
	in   func(pressure, temperature float64) bool
}

// bands by variable: the ones the goals speak of.
var (
	byPressure = []band{
		{"below 100 hPa", func(p, _ float64) bool { return p >= 100 }},
		{"above 100 hPa", func(p, _ float64) bool { return p < 100 }},
	}
	byCold = []band{
		{"warmer than −40 °C", func(_, t float64) bool { return t > 233.15 }},
		{"−40 to −70 °C", func(_, t float64) bool { return t <= 233.15 && t > 203.15 }},
	}
	all = []band{{"all", func(_, _ float64) bool { return true }}}
)

// measured lists what is compared with the truth and over which bands.
var measured = []struct {
	variable sounding.Variable
	bands    []band
}{
	{sounding.Pressure, byPressure},
	{sounding.Temperature, byPressure},
	{sounding.Humidity, byCold},
	{sounding.WindU, byPressure},
	{sounding.WindV, byPressure},
	{sounding.GeopotentialHeight, byPressure},
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
