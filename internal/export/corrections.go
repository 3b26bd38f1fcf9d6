package export

import (
	"math"

	"leadline/internal/sounding"
)

// Correction is one step of a flight with the statistics of what it changed along the
// ascent (the whole flight where no ascent was found).
type Correction struct {
	sounding.Step
	Unit    string          `json:"unit"`    // of the amounts
	Changed int             `json:"changed"` // samples whose value is another one afterwards
	Filled  int             `json:"filled"`  // samples that had no value before
	Removed int             `json:"removed"` // samples that have none afterwards
	Min     sounding.Number `json:"min"`     // of after minus before, over the samples with both
	Max     sounding.Number `json:"max"`
	Mean    sounding.Number `json:"mean"`
	RMS     sounding.Number `json:"rms"`
}

// Corrections returns every step of a flight with the statistics of its amount against
// the step before it, or against the raw value where it is the variable's first.
// Differences of wind direction are the shorter way round.
func Corrections(f *sounding.Final) []Correction {
	out := make([]Correction, 0, len(f.Steps))
	var last [sounding.NumVariables][]float64
	if f.Before != nil {
		for i := range f.Before.Series {
			if v := f.Before.Series[i].Variable; v < sounding.NumVariables {
				last[v] = f.Before.Series[i].Values
			}
		}
	}
	whole := sounding.Span{From: 0, To: f.Len()}
	span := f.Events.Ascent().Clip(whole)
	if span.Len() == 0 {
		span = whole
	}
	for i := range f.Steps {
		s := &f.Steps[i]
		c := Correction{Step: *s, Unit: s.Variable.Info().Unit, Min: sounding.NotSet, Max: sounding.NotSet, Mean: sounding.NotSet, RMS: sounding.NotSet}
		before := last[s.Variable%sounding.NumVariables]
		var sum, squares, n float64
		for k := span.From; k < span.To && k < len(s.Values); k++ {
			b := math.NaN()
			if k < len(before) {
				b = before[k]
			}
			a := s.Values[k]
			switch d := a - b; {
			case a != a && b == b:
				c.Removed++
			case b != b && a == a:
				c.Filled++
			case d == d:
				if s.Variable == sounding.WindDirection {
					d = math.Remainder(d, 360)
				}
				if d != 0 {
					c.Changed++
				}
				sum, squares, n = sum+d, squares+d*d, n+1
				if !(c.Min.Value() <= d) {
					c.Min = sounding.Number(d)
				}
				if !(c.Max.Value() >= d) {
					c.Max = sounding.Number(d)
				}
			}
		}
		if n > 0 {
			c.Mean, c.RMS = sounding.Number(sum/n), sounding.Number(math.Sqrt(squares/n))
		}
		out = append(out, c)
		if s.Values != nil {
			last[s.Variable%sounding.NumVariables] = s.Values
		}
	}
	return out
}
