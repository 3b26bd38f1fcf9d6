package sounding

import (
	"fmt"
	"math"

	"leadline/internal/quality"
)

// Series is one variable along the flight. All slices that are not nil have the
// length of the columns they belong to.
type Series struct {
	Variable Variable
	Values   []float64      // in the variable's unit, NaN where missing
	Flags    []quality.Flag // nil in the raw stage
	Tests    []quality.Bits // checks that fired on each sample; nil in the raw stage

	// Standard uncertainty (k = 1) in the unit of Values: the part that is
	// independent from sample to sample, and the part common to the whole flight.
	// nil where it is not known.
	Independent []float64
	Common      []float64
}

// Total returns the combined standard uncertainty of sample i, NaN where neither part is known.
func (s *Series) Total(i int) float64 {
	independent, common := math.NaN(), math.NaN()
	if s.Independent != nil {
		independent = s.Independent[i]
	}
	if s.Common != nil {
		common = s.Common[i]
	}
	return Quadrature(independent, common)
}

// Extra is a column of the source that is none of the known variables: kept as it is.
type Extra struct {
	Name   string // as the source calls it
	Unit   string // as the source gives it, "" where it does not
	Values []float64
	Text   []string // set instead of Values where the column is not numbers
}

// Columns are the rows of a flight, one slice a column.
type Columns struct {
	// Time of each row in s: since Raw.Epoch in the raw stage, since release in every
	// later one. Finite; in the order of the flight. It may repeat or step back in the
	// raw stage (a finding says so); from the checked stage on it never decreases and
	// the rows that broke the order are bad.
	Time []float64
	// Line is the source line of each row, counted from 1 (record number in netCDF and BUFR).
	Line []int32
	// Source is the index into Raw.Sources of each row.
	Source []uint8
	Series []Series // any order, a variable at most once
	Extra  []Extra
}

// Len returns the number of rows.
func (c *Columns) Len() int { return len(c.Time) }

// Get returns the series of v, or nil where the flight has none.
func (c *Columns) Get(v Variable) *Series {
	for i := range c.Series {
		if c.Series[i].Variable == v {
			return &c.Series[i]
		}
	}
	return nil
}

// Values returns the values of v, or nil where the flight has none.
func (c *Columns) Values(v Variable) []float64 {
	if s := c.Get(v); s != nil {
		return s.Values
	}
	return nil
}

// With returns columns that share everything with c but hold s in place of c's
// series of the same variable (or in addition). c is not changed.
func (c *Columns) With(s ...Series) Columns {
	out := *c
	out.Series = append(make([]Series, 0, len(c.Series)+len(s)), c.Series...)
next:
	for _, n := range s {
		for i := range out.Series {
			if out.Series[i].Variable == n.Variable {
				out.Series[i] = n
				continue next
			}
		}
		out.Series = append(out.Series, n)
	}
	return out
}

// Without returns columns that hold no value on the rows of spans: NaN, and the flag
// missing where there are flags. c is not changed; without spans it is returned as it is.
func (c *Columns) Without(spans []Span) Columns {
	out := *c
	if len(spans) == 0 {
		return out
	}
	out.Series = append([]Series(nil), c.Series...)
	for k := range out.Series {
		s := &out.Series[k]
		s.Values = append([]float64(nil), s.Values...)
		s.Flags = append([]quality.Flag(nil), s.Flags...)
		for _, span := range spans {
			span = span.Clip(Span{0, c.Len()})
			for i := span.From; i < span.To; i++ {
				s.Values[i] = math.NaN()
				if s.Flags != nil {
					s.Flags[i] = quality.Missing
				}
			}
		}
	}
	return out
}

// Validate returns an error where the columns break their own rules: lengths,
// a variable twice, a flag outside the table, a value present with flag missing or
// missing with another flag.
func (c *Columns) Validate() error {
	n := len(c.Time)
	if len(c.Line) != n || len(c.Source) != n {
		return fmt.Errorf("columns: %d times, %d lines, %d sources", n, len(c.Line), len(c.Source))
	}
	seen := [NumVariables]bool{}
	for i := range c.Series {
		s := &c.Series[i]
		if s.Variable == NoVariable || s.Variable >= NumVariables || seen[s.Variable] {
			return fmt.Errorf("columns: %v stands twice or is unknown", s.Variable)
		}
		seen[s.Variable] = true
		if len(s.Values) != n {
			return fmt.Errorf("columns: %v has %d values for %d rows", s.Variable, len(s.Values), n)
		}
		for _, c := range [...]struct {
			name   string
			length int
		}{{"flags", len(s.Flags)}, {"tests", len(s.Tests)}, {"independent uncertainties", len(s.Independent)}, {"common uncertainties", len(s.Common)}} {
			if c.length != 0 && c.length != n {
				return fmt.Errorf("columns: %v has %d %s for %d rows", s.Variable, c.length, c.name, n)
			}
		}
		for j, f := range s.Flags {
			switch f {
			case quality.Good, quality.NotEvaluated, quality.Questionable, quality.Bad:
				if math.IsNaN(s.Values[j]) {
					return fmt.Errorf("columns: %v row %d is %v without a value", s.Variable, j, f)
				}
			case quality.Missing:
				if !math.IsNaN(s.Values[j]) {
					return fmt.Errorf("columns: %v row %d is missing but holds %g", s.Variable, j, s.Values[j])
				}
			default:
				return fmt.Errorf("columns: %v row %d has flag %d", s.Variable, j, f)
			}
		}
	}
	return nil
}

// Usable returns a copy of the values of v with NaN wherever the flag is bad or
// missing; nil where the flight has no such variable. Without flags it is a plain copy.
func (c *Columns) Usable(v Variable) []float64 {
	s := c.Get(v)
	if s == nil {
		return nil
	}
	out := append([]float64(nil), s.Values...)
	for i, f := range s.Flags {
		if f == quality.Bad || f == quality.Missing {
			out[i] = math.NaN()
		}
	}
	return out
}
