package ingest

import (
	"fmt"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// suspects counts numbers in a column that archives and receivers write for "no
// value" and that the recipe does not call missing.
type suspects struct {
	value float64 // the first of them
	lines lineSpans
}

// look takes a number as the source has it, before any conversion; the caller leaves
// out the many that cannot be one.
func (s *suspects) look(v sounding.Variable, x float64, line int) {
	if s.lines.count > 0 && x != s.value {
		return
	}
	for _, m := range sentinels {
		if x == m {
			if low, high := physical(v); x < low || x > high {
				s.value = x
				s.lines.add(line)
			}
			return
		}
	}
}

// findings says so; the values are kept, as the recipe decides what is missing.
func (s *suspects) findings(v sounding.Variable, name string) []sounding.Finding {
	if s.lines.count == 0 {
		return nil
	}
	first, last := s.lines.spans[0][0], s.lines.spans[len(s.lines.spans)-1][1]
	f := lineFinding(quality.Syntax, sounding.Note, first, last)
	f.Variable = v
	f.Measured, f.Unit = sounding.Number(s.lines.count), "values"
	f.Sentence = fmt.Sprintf("column %s holds %s in %d rows (lines %s), which cannot be a %v: if it stands for \"no value\", name it under missing in the recipe", shown(name), formatShort(s.value), s.lines.count, &s.lines, v)
	return []sounding.Finding{f}
}
