package export

import (
	"strings"
	"time"

	"leadline/internal/constants"
	"leadline/internal/levels"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Flight is what is exported: a final flight with its products.
type Flight struct {
	Final  *sounding.Final
	Levels levels.Set
	Grids  []levels.Grid
	// Settings are those the flight was processed with, for the JSON report; nil leaves them out.
	Settings any
	// Formulas name the house formulas, such as the saturation vapour pressure. Empty:
	// the constants and what the instrument sheet names.
	Formulas []string
	// Created is written as the instant of creation; zero leaves it out.
	Created time.Time
	// Attributes are global attributes that only the user knows: institution, creator_name,
	// license, project, … They go into netCDF files and replace leadline's own of that name.
	Attributes []Attribute
}

// Attribute is a named text.
type Attribute struct{ Name, Text string }

// formulas returns the names of constants and formulas.
func (f *Flight) formulas() []string {
	if len(f.Formulas) > 0 {
		return f.Formulas
	}
	out := []string{constants.Version}
	if s := f.Final.Sheet; s != nil && s.Humidity.Formula != "" {
		out = append(out, "humidity calibration over liquid water: "+s.Humidity.Formula)
	}
	return out
}

// name returns the flight's name as a part of file names and identifiers: letters,
// digits, '.', '-' and '_', never empty and never beginning with a dot.
func (f *Flight) name() string {
	s := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_', r == '.':
			return r
		}
		return '-'
	}, f.Final.FlightName)
	s = strings.TrimLeft(s, ".-")
	if len(s) > 100 {
		s = s[:100]
	}
	if s == "" {
		return "flight"
	}
	return s
}

// series returns the flight's series in the fixed order of the variables.
func series(c *sounding.Columns) []*sounding.Series {
	var at [sounding.NumVariables]*sounding.Series
	n := 0
	for i := range c.Series {
		if v := c.Series[i].Variable; v > sounding.NoVariable && v < sounding.NumVariables && at[v] == nil {
			at[v] = &c.Series[i]
			n++
		}
	}
	out := make([]*sounding.Series, 0, n)
	for _, s := range at {
		if s != nil {
			out = append(out, s)
		}
	}
	return out
}

// before returns the raw series of v, nil where there is none.
func (f *Flight) before(v sounding.Variable) *sounding.Series {
	if f.Final.Before == nil {
		return nil
	}
	return f.Final.Before.Get(v)
}

// flagAt returns the flag of row i; a series without flags has not been evaluated.
func flagAt(s *sounding.Series, i int) quality.Flag {
	switch {
	case s == nil || s.Values[i] != s.Values[i]:
		return quality.Missing
	case s.Flags == nil || s.Flags[i] == 0:
		return quality.NotEvaluated
	}
	return s.Flags[i]
}

// phases returns the phase of each row.
func phases(f *sounding.Final) []uint8 {
	out := make([]uint8, f.Len())
	for _, p := range f.Events.Phases {
		s := p.Span.Clip(sounding.Span{From: 0, To: len(out)})
		for i := s.From; i < s.To; i++ {
			out[i] = uint8(p.Phase)
			if f.ProfileKind() == sounding.DescentProfile {
				out[i] = uint8(sounding.Descending)
			}
		}
	}
	return out
}
