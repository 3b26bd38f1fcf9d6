package workbench

import (
	"fmt"
	"math"
	"slices"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// profileVariables are the variables a verdict looks at, in the order it speaks of them.
var profileVariables = []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.WindSpeed}

// Tally counts the flags of one variable over the ascent.
type Tally struct {
	Variable     sounding.Variable `json:"variable"`
	Rows         int               `json:"rows"` // rows of the ascent on which it is expected
	Good         int               `json:"good"`
	NotEvaluated int               `json:"not_evaluated"`
	Questionable int               `json:"questionable"`
	Bad          int               `json:"bad"`
	Missing      int               `json:"missing"`
}

// pct returns n as a share of the rows in per cent.
func (t Tally) pct(n int) float64 {
	if t.Rows == 0 {
		return 0
	}
	return 100 * float64(n) / float64(t.Rows)
}

// tally counts the flags of v over the ascent, leaving out rows where expected says no.
func tally(f *sounding.Final, v sounding.Variable, expected func(row int) bool) Tally {
	t := Tally{Variable: v}
	s := f.Get(v)
	span := f.Events.Ascent()
	for i := span.From; i < span.To; i++ {
		if expected != nil && !expected(i) || again(f, i) {
			continue
		}
		t.Rows++
		flag := quality.Missing
		if s != nil {
			flag = s.Flags[i]
		}
		switch flag {
		case quality.Good:
			t.Good++
		case quality.NotEvaluated:
			t.NotEvaluated++
		case quality.Questionable:
			t.Questionable++
		case quality.Bad:
			t.Bad++
		default:
			t.Missing++
		}
	}
	return t
}

// again tells whether row i is bad for repeating the time of the row before it: nothing
// is lost with it.
func again(f *sounding.Final, i int) bool {
	if i == 0 || f.Time[i] != f.Time[i-1] || f.Before == nil {
		return false
	}
	for k := range f.Before.Series {
		if s := &f.Before.Series[k]; s.Flags != nil && s.Flags[i] != quality.Missing {
			return s.Flags[i] == quality.Bad && s.Tests != nil && s.Tests[i].Has(quality.TimeOrder)
		}
	}
	return false
}

// Tallies counts flags over the ascent for the profile's variables.
func (set *Settings) Tallies(f *sounding.Final) []Tally {
	var out []Tally
	for _, v := range profileVariables {
		var expected func(int) bool
		switch {
		case set.Check.ChosenLevels(f.Time[f.Events.Ascent().From:f.Events.Ascent().To]):
			expected = levelsWith(f, v)
		case v == sounding.Humidity:
			expected = set.humidityExpected(f)
		}
		out = append(out, tally(f, v, expected))
	}
	return out
}

// levelsWith tells which levels of a report give the variable; all of them where none does.
func levelsWith(f *sounding.Final, v sounding.Variable) func(int) bool {
	s := f.Get(v)
	span := f.Events.Ascent()
	given := func(i int) bool { return s.Flags[i] != quality.Missing }
	if s == nil || !slices.ContainsFunc(s.Flags[span.From:span.To], func(q quality.Flag) bool { return q != quality.Missing }) {
		return nil
	}
	return given
}

// humidityExpected tells on which rows of the ascent a humidity is expected: up to
// where the air first gets too cold for the sensor. Warm air above that, in the
// stratosphere, is too dry to be measured.
func (set *Settings) humidityExpected(f *sounding.Final) func(int) bool {
	span := f.Events.Ascent()
	end := span.To
	if t := f.Values(sounding.Temperature); t != nil {
		for i := span.From; i < span.To; i++ {
			if t[i] <= set.Verdict.HumidityCountsAbove {
				end = i
				break
			}
		}
	}
	return func(i int) bool { return i < end }
}

// judge writes the verdict into f.
func (set *Settings) judge(f *sounding.Final) {
	var refuse, look []string
	v := &set.Verdict
	ev := &f.Events
	if !ev.Release.Found {
		if v.RefuseWithoutRelease {
			refuse = append(refuse, "no release was found in the data")
		}
		f.Verdict = verdictOf(refuse, look)
		return
	}
	top := topPressure(f)
	switch {
	case math.IsNaN(top):
		refuse = append(refuse, "there is no pressure, measured or derived")
	case top > v.RefuseTop:
		refuse = append(refuse, fmt.Sprintf("the profile ends at %.0f hPa", top))
	case top > v.LookTop:
		look = append(look, fmt.Sprintf("the profile ends at %.0f hPa", top))
	}
	for _, t := range set.Tallies(f) {
		name := t.Variable.Info().Label
		if t.Variable == sounding.WindSpeed {
			name = "Wind"
		}
		lost := t.pct(t.Missing + t.Bad)
		limit := v.LookMissing
		if t.Variable == sounding.Humidity {
			limit = v.LookMissingHumidity
		}
		switch {
		case t.Rows == 0:
		case t.Variable == sounding.Temperature && lost > v.RefuseMissing:
			refuse = append(refuse, fmt.Sprintf("%s has no usable value on %.0f %% of the ascent", lower(name), lost))
		case lost > limit:
			look = append(look, fmt.Sprintf("%s has no usable value on %.0f %% of the ascent", lower(name), lost))
		case t.pct(t.Bad) > v.LookBad:
			look = append(look, fmt.Sprintf("%s is bad on %.1f %% of the ascent", lower(name), t.pct(t.Bad)))
		}
		if q := t.pct(t.Questionable); q > v.LookQuestionable {
			look = append(look, fmt.Sprintf("%s is questionable on %.1f %% of the ascent", lower(name), q))
		}
	}
	// Findings about the flight or its record, rather than about samples, ask for a
	// look as long as nobody has accepted or dismissed them.
	for _, finding := range f.Findings {
		if finding.Severity == sounding.Note || finding.State != "" || len(finding.Spans) > 0 && finding.Variable != sounding.NoVariable {
			continue
		}
		switch finding.Check {
		case quality.ReleaseTime:
			if finding.Measured.Set() && math.Abs(finding.Measured.Value()) <= v.LookRelease {
				continue
			}
		case quality.Syntax, quality.TimeOrder, quality.Sources, quality.Telemetry, quality.Gap, quality.Position:
			// Rows: their share of the ascent is judged above, variable by variable.
			if finding.Severity < sounding.Bad || len(finding.Spans) > 0 {
				continue
			}
		}
		look = append(look, finding.Sentence)
	}
	for _, finding := range f.Findings {
		// An offset over the whole profile is worth a look however few samples it flags.
		if finding.State == "" && finding.Severity > sounding.Note && finding.Variable != sounding.NoVariable &&
			(finding.Check == quality.BarometerHeight || finding.Check == quality.Baseline || finding.Check == quality.GroundCheck) {
			look = append(look, finding.Sentence)
		}
	}
	f.Verdict = verdictOf(refuse, look)
}

func verdictOf(refuse, look []string) sounding.Verdict {
	refuse, look = once(refuse), once(look)
	v := sounding.Verdict{Word: sounding.Accept, Line: "nothing that needs a person", Reasons: []string{}}
	switch {
	case len(refuse) > 0:
		v = sounding.Verdict{Word: sounding.Refuse, Reasons: append(refuse, look...)}
	case len(look) > 0:
		v = sounding.Verdict{Word: sounding.Look, Reasons: look}
	}
	if len(v.Reasons) > 0 {
		v.Line = v.Reasons[0]
		if n := len(v.Reasons) - 1; n > 0 {
			v.Line += fmt.Sprintf(" (and %d more)", n)
		}
	}
	return v
}

// once returns the texts without repeats, in their order.
func once(list []string) []string {
	var out []string
	for _, s := range list {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// lower puts the first letter of a label into lower case for use within a sentence.
func lower(s string) string {
	if s == "" || s[0] < 'A' || s[0] > 'Z' {
		return s
	}
	return string(s[0]-'A'+'a') + s[1:]
}
