package ingest

import (
	"fmt"
	"math"
	"sort"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Limits of Flights (own choices; docs/methods/sources.md).
const (
	nearGround  = 150.0 // m above the lowest height: at the ground
	awayFrom    = 400.0 // m above the lowest height: in flight
	restless    = 20.0  // m around the median of a stay at the ground
	groundStay  = 120.0 // s at the ground, or a gap of that length, between two flights
	abortHeight = 1000.0
)

// heightsOf returns heights of any kind, or heights of a standard atmosphere from
// pressure; nil where there is neither. They serve coarse decisions only.
func heightsOf(c *sounding.Columns) []float64 {
	for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.HeightEllipsoid, sounding.GeopotentialHeight} {
		if h := c.Values(v); enough(h) {
			return h
		}
	}
	p := c.Values(sounding.Pressure)
	if !enough(p) {
		return nil
	}
	out := make([]float64, len(p))
	for i, x := range p {
		out[i] = math.NaN()
		if x > 0 {
			out[i] = standardHeight(x)
		}
	}
	return out
}

// enough tells whether at least every fifth value is there.
func enough(x []float64) bool {
	n := 0
	for _, v := range x {
		if !math.IsNaN(v) {
			n++
		}
	}
	return n > 0 && n*5 >= len(x)
}

// Flights returns the rows of each flight in a source: one span, unless heights (or
// pressures) come back to the ground and leave it again. The cut lies at the longest
// gap of the stay at the ground, or in its middle.
func Flights(raw *sounding.Raw) []sounding.Span {
	n := raw.Len()
	whole := []sounding.Span{{From: 0, To: n}}
	h := heightsOf(&raw.Columns)
	if h == nil {
		return whole
	}
	ground := lowest(h)
	if math.IsNaN(ground) {
		return whole
	}
	// Rows of the last sample in flight and the first back in flight around each stay.
	var cuts []int
	state := 0 // 0 not yet flown, 1 in flight, 2 back at the ground
	lastUp := 0
	away, down := 0, 0
	for i, x := range h {
		if math.IsNaN(x) {
			continue
		}
		switch {
		case x > ground+awayFrom:
			// One wild height is no flight: ten rows are asked for.
			down = 0
			if away++; away < 10 {
				continue
			}
			if state == 2 {
				if cut, ok := cutBetween(raw, h, ground, lastUp, i); ok {
					cuts = append(cuts, cut)
				}
			}
			state, lastUp = 1, i
		case x < ground+nearGround:
			away = 0
			if down++; down >= 10 && state == 1 {
				state = 2
			}
		default:
			away, down = 0, 0
		}
	}
	if len(cuts) == 0 {
		return whole
	}
	var out []sounding.Span
	from := 0
	for _, c := range append(cuts, n) {
		out = append(out, sounding.Span{From: from, To: c})
		from = c
	}
	return out
}

// lowest is the height that one row in fifty lies below: the ground, wild values aside.
func lowest(h []float64) float64 {
	sorted := make([]float64, 0, len(h))
	for _, x := range h {
		if !math.IsNaN(x) {
			sorted = append(sorted, x)
		}
	}
	if len(sorted) == 0 {
		return math.NaN()
	}
	sort.Float64s(sorted)
	return sorted[len(sorted)/200]
}

// cutBetween finds the row to cut at between the last row in flight and the first one
// of the next; ok is false where the stay at the ground is too short for two flights.
func cutBetween(raw *sounding.Raw, h []float64, ground float64, from, to int) (int, bool) {
	first, last := -1, -1
	for i := from; i <= to; i++ {
		if h[i] < ground+nearGround {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 {
		return 0, false
	}
	widest, cut := 0.0, (first+last+1)/2
	for i := max(first, 1); i <= min(last+1, to); i++ {
		if gap := raw.Time[i] - raw.Time[i-1]; gap > widest {
			widest = gap
			if gap >= groundStay {
				cut = i
			}
		}
	}
	return cut, widest >= groundStay || atRest(raw, h, ground, first, last)
}

// atRest tells whether heights between two rows stay within some metres for long
// enough: a balloon that turns round above the ground does not.
func atRest(raw *sounding.Raw, h []float64, ground float64, first, last int) bool {
	var near []float64
	for _, x := range h[first : last+1] {
		if x < ground+nearGround {
			near = append(near, x)
		}
	}
	sort.Float64s(near)
	level := near[len(near)/2]
	from := -1
	for i := first; i <= last; i++ {
		switch {
		case math.IsNaN(h[i]):
		case math.Abs(h[i]-level) > restless:
			from = -1
		case from < 0:
			from = i
		case raw.Time[i]-raw.Time[from] >= groundStay:
			return true
		}
	}
	return false
}

// Split returns each flight of a source as a flight of its own, with a finding that
// says so; a source with one flight comes back alone and unchanged.
func Split(raw *sounding.Raw) []*sounding.Raw {
	spans := Flights(raw)
	if len(spans) < 2 {
		return []*sounding.Raw{raw}
	}
	out := make([]*sounding.Raw, len(spans))
	for k, s := range spans {
		part := &sounding.Raw{Epoch: raw.Epoch, Record: raw.Record.Clone()}
		part.Columns = cutColumns(&raw.Columns, s)
		part.Sources = append([]sounding.Source(nil), raw.Sources...)
		if len(part.Sources) == 1 {
			part.Sources[0].Rows = s.Len()
			part.Sources[0].FirstUTC = instant(raw.Epoch, part.Time[0])
			part.Sources[0].LastUTC = instant(raw.Epoch, part.Time[s.Len()-1])
		}
		for _, f := range raw.Findings {
			if len(f.Spans) > 0 {
				var mine []sounding.Span
				for _, span := range f.Spans {
					if c := span.Clip(s); c.Len() > 0 {
						mine = append(mine, sounding.Span{From: c.From - s.From, To: c.To - s.From})
					}
				}
				if len(mine) == 0 {
					continue
				}
				f.Spans = mine
			}
			f.ID = ""
			part.Findings = append(part.Findings, f)
		}
		f := lineFinding(quality.Sources, sounding.Note, int(part.Line[0]), int(part.Line[s.Len()-1]))
		f.Measured, f.Unit = sounding.Number(len(spans)), "flights"
		f.Sentence = fmt.Sprintf("the source holds %d flights: this is number %d, lines %d to %d, %s to %s", len(spans), k+1, part.Line[0], part.Line[s.Len()-1],
			instant(raw.Epoch, part.Time[0]).Format("15:04:05"), instant(raw.Epoch, part.Time[s.Len()-1]).Format("15:04:05 UTC"))
		if h := heightsOf(&part.Columns); h != nil {
			top, low := math.Inf(-1), lowest(h)
			for _, x := range h {
				if x > top {
					top = x
				}
			}
			if top-low < abortHeight {
				f.Severity = sounding.Questionable
				f.Sentence += fmt.Sprintf("; it rises %.0f m only, an aborted release or a test", top-low)
			}
		}
		part.Findings = append(part.Findings, f)
		located(part, part.Findings)
		sounding.NumberIDs(part.Findings)
		out[k] = part
	}
	return out
}

// cutColumns copies the rows of a span.
func cutColumns(c *sounding.Columns, s sounding.Span) sounding.Columns {
	out := sounding.Columns{
		Time: append([]float64(nil), c.Time[s.From:s.To]...), Line: append([]int32(nil), c.Line[s.From:s.To]...),
		Source: append([]uint8(nil), c.Source[s.From:s.To]...),
	}
	for _, x := range c.Series {
		out.Series = append(out.Series, sounding.Series{Variable: x.Variable, Values: append([]float64(nil), x.Values[s.From:s.To]...)})
	}
	for _, e := range c.Extra {
		if e.Values != nil {
			e.Values = append([]float64(nil), e.Values[s.From:s.To]...)
		}
		if e.Text != nil {
			e.Text = append([]string(nil), e.Text[s.From:s.To]...)
		}
		out.Extra = append(out.Extra, e)
	}
	return out
}
