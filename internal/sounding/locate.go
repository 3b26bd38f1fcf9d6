package sounding

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/quality"
)

// stamp is how instants stand in findings: UTC to the millisecond.
const stamp = "2006-01-02T15:04:05.000Z"

// Locate returns f with its lines, times, heights and identity filled in from its
// spans. heights may be nil; epoch is the instant of Time == 0. Spans outside the
// columns are cut; a finding without spans keeps what it has.
func Locate(f Finding, c *Columns, heights []float64, epoch time.Time) Finding {
	f.FirstTime, f.LastTime, f.Bottom, f.Top = NotSet, NotSet, NotSet, NotSet
	whole := Span{0, c.Len()}
	spans := make([]Span, 0, len(f.Spans))
	for _, s := range f.Spans {
		if s = s.Clip(whole); s.Len() > 0 {
			spans = append(spans, s)
		}
	}
	f.Spans = spans
	if len(spans) > 0 {
		first, last := spans[0].From, spans[0].To-1
		for _, s := range spans {
			first, last = min(first, s.From), max(last, s.To-1)
			if heights == nil {
				continue
			}
			for _, h := range heights[s.From:s.To] {
				if math.IsNaN(h) {
					continue
				}
				if !f.Bottom.Set() || h < f.Bottom.Value() {
					f.Bottom = Number(h)
				}
				if !f.Top.Set() || h > f.Top.Value() {
					f.Top = Number(h)
				}
			}
		}
		f.FirstLine, f.LastLine = int(c.Line[first]), int(c.Line[last])
		f.FirstTime, f.LastTime = Number(c.Time[first]), Number(c.Time[last])
		f.FirstUTC, f.LastUTC = utc(epoch, c.Time[first]), utc(epoch, c.Time[last])
	}
	at := f.FirstUTC
	switch {
	case at == "" && f.Field != "":
		at = f.Field
	case at == "":
		at = "flight"
	}
	f.ID = fmt.Sprintf("%s.%s.%s", f.Check, f.Variable, at)
	return f
}

func utc(epoch time.Time, t float64) string {
	if math.IsNaN(t) || math.Abs(t) > 1e9 {
		return ""
	}
	return epoch.Add(time.Duration(math.Round(t*1000)) * time.Millisecond).UTC().Format(stamp)
}

// NumberIDs makes the identities of findings unique by appending "-2", "-3", … to
// repeats, in the order given. It changes the slice's elements in place and is
// meant for the list a run has just made.
func NumberIDs(list []Finding) {
	seen := map[string]int{}
	for i := range list {
		seen[list[i].ID]++
		if n := seen[list[i].ID]; n > 1 {
			list[i].ID = fmt.Sprintf("%s-%d", list[i].ID, n)
		}
	}
}

// markedBy tells which variables a report's findings are going to mark; NoVariable
// stands for all.
func markedBy(reports []Report) (marked [NumVariables]bool) {
	for r := range reports {
		for k := range reports[r].Findings {
			f := &reports[r].Findings[k]
			if f.State != "dismissed" && f.Severity != Note && len(f.Spans) > 0 && f.Variable < NumVariables {
				marked[f.Variable] = true
			}
		}
	}
	return marked
}

// Flagged returns columns whose flags and tests are rolled up from reports: a sample
// is missing where it has no value, else bad or questionable where a finding on its
// variable says so, else good where a check that ran covers it, else what it was
// before, else not evaluated. Dismissed findings set nothing. A finding whose
// variable is NoVariable and that has spans counts for every variable of the rows
// (a row that broke the time order, say). Flags that c already holds only get worse,
// except not evaluated, which becomes good where a check ran.
// c is not changed; values and uncertainties are shared.
func (c *Columns) Flagged(reports ...Report) Columns {
	out := *c
	out.Series = append([]Series(nil), c.Series...)
	n := c.Len()
	flags := make([]quality.Flag, n*len(out.Series))
	// Tests are copied only where a finding is going to mark some; the others share
	// what they had, or one slice of none.
	marked := markedBy(reports)
	var none []quality.Bits
	index := [NumVariables]int{}
	for i := range out.Series {
		s := &out.Series[i]
		f := flags[i*n : (i+1)*n : (i+1)*n]
		copy(f, s.Flags)
		s.Flags = f
		switch {
		case marked[NoVariable] || marked[s.Variable]:
			b := make([]quality.Bits, n)
			copy(b, s.Tests)
			s.Tests = b
		case s.Tests == nil:
			if none == nil {
				none = make([]quality.Bits, n)
			}
			s.Tests = none
		}
		index[s.Variable] = i + 1
	}
	whole := [NumVariables]bool{}
	worsen := func(s *Series, f *Finding) {
		flag, bit := f.Severity.Flag(), f.Check.Bit()
		for _, span := range f.Spans {
			span = span.Clip(Span{0, n})
			for j := span.From; j < span.To; j++ {
				if math.IsNaN(s.Values[j]) {
					continue
				}
				s.Flags[j] = quality.Worst(s.Flags[j], flag)
				if flag != 0 {
					s.Tests[j] |= bit
				}
			}
		}
	}
	for r := range reports {
		for k := range reports[r].Runs {
			run := &reports[r].Runs[k]
			if !run.Ran || run.Variable == NoVariable || index[run.Variable] == 0 || whole[run.Variable] {
				continue
			}
			s := &out.Series[index[run.Variable]-1]
			covered := run.Covered
			if covered == nil {
				covered = []Span{{0, n}}
				whole[run.Variable] = true // nothing is left for the runs that follow
			}
			for _, span := range covered {
				span = span.Clip(Span{0, n})
				for j := span.From; j < span.To; j++ {
					if s.Flags[j] <= quality.NotEvaluated {
						s.Flags[j] = quality.Good
					}
				}
			}
		}
		for k := range reports[r].Findings {
			f := &reports[r].Findings[k]
			if f.State == "dismissed" || f.Severity == Note {
				continue
			}
			if f.Variable == NoVariable {
				for i := range out.Series {
					worsen(&out.Series[i], f)
				}
			} else if i := index[f.Variable]; i > 0 {
				worsen(&out.Series[i-1], f)
			}
		}
	}
	for i := range out.Series {
		s := &out.Series[i]
		for j, v := range s.Values {
			switch {
			case math.IsNaN(v):
				s.Flags[j] = quality.Missing
			case s.Flags[j] == 0 || s.Flags[j] == quality.Missing:
				s.Flags[j] = quality.NotEvaluated
			}
		}
	}
	return out
}
