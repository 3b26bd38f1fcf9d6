package suggest

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Limits of a bad element (our proposal).
const (
	elementJoin    = 75.0  // s between findings of one element
	elementLongest = 600.0 // s
	elementChecks  = 2     // different checks that must speak against it
)

// elements are variables that go wrong together.
var elements = []struct {
	name      string
	variables []sounding.Variable // findings on these count
	withhold  []sounding.Variable
}{
	{"temperature", []sounding.Variable{sounding.Temperature}, []sounding.Variable{sounding.Temperature}},
	{"pressure", []sounding.Variable{sounding.Pressure}, []sounding.Variable{sounding.Pressure}},
	{"satellite position", []sounding.Variable{sounding.HeightMSL, sounding.HeightEllipsoid, sounding.Latitude, sounding.Longitude},
		[]sounding.Variable{sounding.HeightMSL, sounding.HeightEllipsoid, sounding.Latitude, sounding.Longitude}},
	{"wind", []sounding.Variable{sounding.VelocityEast, sounding.VelocityNorth, sounding.WindU, sounding.WindV, sounding.WindSpeed},
		[]sounding.Variable{sounding.VelocityEast, sounding.VelocityNorth, sounding.WindU, sounding.WindV, sounding.WindSpeed, sounding.WindDirection}},
}

// elements: several checks speak against one element over a short span, and it is not
// withheld there yet.
func (f *facts) elements(known []Suggestion) []Suggestion {
	for _, s := range known {
		if s.Name == ThermometerStep || s.Name == BarometerDrift {
			return nil // it would be named twice
		}
	}
	var out []Suggestion
	for _, e := range elements {
		type piece struct {
			from, to int
			check    quality.Check
			ratio    float64
		}
		var pieces []piece
		for _, x := range f.o.Checked.Findings {
			if x.Severity == sounding.Note || x.State != "" {
				continue
			}
			mine := false
			for _, v := range e.variables {
				mine = mine || x.Variable == v
			}
			switch x.Check {
			case quality.Spike, quality.Step, quality.Superadiabatic, quality.Position, quality.Ascent, quality.BarometerHeight,
				quality.WindShear, quality.WindRepeat, quality.Stuck, quality.Gross:
			default:
				mine = false
			}
			if !mine {
				continue
			}
			ratio := 1.0
			if x.Measured.Set() && x.Limit.Set() && x.Limit != 0 {
				ratio = math.Abs(x.Measured.Value() / x.Limit.Value())
			}
			for _, s := range x.Spans {
				if s = s.Clip(f.ascent); s.Len() > 0 && !f.withheld([]sounding.Variable{x.Variable}, s) {
					pieces = append(pieces, piece{s.From, s.To, x.Check, ratio})
				}
			}
		}
		sort.Slice(pieces, func(i, j int) bool { return pieces[i].from < pieces[j].from })
		for k := 0; k < len(pieces); {
			span := sounding.Span{From: pieces[k].from, To: pieces[k].to}
			checks := map[quality.Check]bool{}
			largest, repeat, convective := 0.0, false, false
			j := k
			for ; j < len(pieces) && f.raw.Time[pieces[j].from]-f.raw.Time[span.To-1] <= elementJoin; j++ {
				span.To = max(span.To, pieces[j].to)
				checks[pieces[j].check] = true
				largest = math.Max(largest, pieces[j].ratio)
				convective = convective || pieces[j].check == quality.Superadiabatic && pieces[j].ratio >= 2
				repeat = repeat || pieces[j].check == quality.WindRepeat && pieces[j].ratio >= 2
			}
			k = j
			if checks[quality.Superadiabatic] {
				span.To = f.untilBack(span)
			}
			length := f.raw.Time[span.To-1] - f.raw.Time[span.From]
			if length > elementLongest || len(checks) < elementChecks && !repeat && !convective && largest < 4 || largest < 1.5 || f.withheld(e.withhold, span) {
				continue
			}
			words := make([]string, 0, len(checks))
			for c := range checks {
				words = append(words, c.String())
			}
			sort.Strings(words)
			reason := fmt.Sprintf("bad %s: %s", e.name, strings.Join(words, ", "))
			s := Suggestion{Name: BadElement, Strength: Likely, Margin: sounding.NotSet,
				Gain: round(math.Min(12, 4*float64(len(checks)))+loss(math.Min(largest, 5))-priceOther, 1)}
			where := "at " + f.height(span.From)
			if length > 3 {
				where = fmt.Sprintf("from %s to %s (%.0f s)", f.height(span.From), f.height(span.To-1), length)
			}
			s.Sentence = fmt.Sprintf("%s is bad %s: %s speak against it, up to %.1f times their limit; withhold it there", e.name, where, strings.Join(words, ", "), largest)
			s.Decisions = []sounding.Decision{f.spanned(sounding.ActExclude, "", reason, span, e.withhold...)}
			s.Evidence = []Evidence{{Residual: "largest of " + strings.Join(words, ", ") + " over its limit", Before: sounding.Number(round(largest, 1)), After: 0, Usual: 1, Unit: "1"}}
			if len(s.Decisions[0].Variables) > 0 && s.Gain > 0 {
				out = append(out, s)
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Gain > out[j].Gain })
	return out[:min(3, len(out))]
}

// untilBack returns the row at which a temperature that fell faster than air can has
// come back to the line from before, within 200 s; the end of the span where it does not.
func (f *facts) untilBack(span sounding.Span) int {
	t, time := f.raw.Values(sounding.Temperature), f.raw.Time
	from := span.From
	for from > f.ascent.From && time[span.From]-time[from] < 60 {
		from--
	}
	far := span.To
	for far < f.ascent.To-1 && time[far]-time[span.From] < 260 {
		far++
	}
	before, after := middle(t, sounding.Span{From: from, To: max(from+1, span.From-5)}), middle(t, sounding.Span{From: max(from, far-40), To: far})
	slope := (after - before) / (time[far-1] - time[from])
	lowest := 0.0
	for i := span.From; i < far && time[i]-time[span.From] < 200; i++ {
		d := t[i] - before - slope*(time[i]-time[from])
		if math.IsNaN(d) {
			continue
		}
		lowest = math.Min(lowest, d)
		if lowest < -1 && d > 0.15*lowest && i >= span.To {
			return i
		}
	}
	return span.To
}

// withheld tells whether the checks have dealt with the span already: most of it is bad
// or missing in one of the variables, or it is no more than the edge of a bad row.
func (f *facts) withheld(list []sounding.Variable, span sounding.Span) bool {
	for _, v := range list {
		s := f.raw.Get(v)
		if s == nil || s.Flags == nil {
			continue
		}
		n := 0
		for i := max(0, span.From-3); i < min(span.To+3, len(s.Flags)); i++ {
			if s.Flags[i] == quality.Bad || s.Flags[i] == quality.Missing {
				n++
			}
		}
		if 2*n > span.Len() || n > 0 && span.Len() <= 6 {
			return true
		}
	}
	return false
}
