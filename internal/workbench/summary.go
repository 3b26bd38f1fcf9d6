package workbench

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"leadline/internal/levels"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// topPressure returns the lowest usable pressure of the ascent in hPa, NaN where there is none.
func topPressure(f *sounding.Final) float64 {
	top, _ := lowestPressure(f)
	return top
}

// lowestPressure returns the lowest usable pressure of the ascent and its time, NaN where
// there is none.
func lowestPressure(f *sounding.Final) (top, at float64) {
	top, at = math.NaN(), math.NaN()
	s := f.Get(sounding.Pressure)
	if s == nil {
		return top, at
	}
	span := f.Events.Ascent()
	for i := span.From; i < span.To; i++ {
		if s.Flags[i] != quality.Bad && !math.IsNaN(s.Values[i]) && !(s.Values[i] >= top) {
			top, at = s.Values[i], f.Time[i]
		}
	}
	return top, at
}

// summary says in two to four plain sentences what happened on the flight and what
// was done to it, from its findings, steps and events.
func summary(f *sounding.Final, table *levels.Set) []string {
	var out []string
	ev := &f.Events
	if !ev.Release.Found {
		return []string{"No release was found in the data, so there is no profile.", capital(f.Verdict.Word) + "."}
	}
	out = append(out, releaseSentence(f), endSentence(f))
	out = append(out, doneSentences(f)...)
	last := capital(f.Verdict.Word)
	if len(f.Verdict.Reasons) > 0 && !slices.Contains(out, sentence(f.Verdict.Reasons[0])) {
		last += ": " + f.Verdict.Line
	}
	return append(out, strings.TrimRight(last, ".")+".")
}

func releaseSentence(f *sounding.Final) string {
	ev := &f.Events
	s := "Released " + clock(ev.Release.UTC) + " UTC"
	if d := f.Record.Release.Declared; !d.IsZero() {
		gap := ev.Release.UTC.Sub(d).Seconds()
		switch {
		case math.Abs(gap) < 5:
			s += ", as declared"
		case gap > 0:
			s += ", " + duration(gap) + " after the declared time"
		default:
			s += ", " + duration(-gap) + " before the declared time"
		}
	}
	return s + "."
}

// duration writes seconds as people say them: "131 s", "25 min", "3 h 0 min".
func duration(seconds float64) string {
	switch {
	case seconds < 600:
		return fmt.Sprintf("%.0f s", seconds)
	case seconds < 2*3600:
		return fmt.Sprintf("%.0f min", seconds/60)
	}
	minutes := int(math.Round(seconds / 60))
	return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
}

// pressureEnds is how many seconds before the top the last pressure still belongs to it.
const pressureEnds = 120.0

func endSentence(f *sounding.Final) string {
	ev := &f.Events
	s := "Reached"
	switch {
	case ev.Top.Height.Set():
		s += fmt.Sprintf(" %.1f km", ev.Top.Height.Value()/1000)
		if p, at := lowestPressure(f); at > ev.Top.Time.Value()-pressureEnds {
			s += fmt.Sprintf(" (%s hPa)", hectopascal(p))
		}
	case !math.IsNaN(topPressure(f)):
		s += fmt.Sprintf(" %s hPa", hectopascal(topPressure(f)))
	default:
		s += " an unknown height"
	}
	switch ev.End {
	case sounding.EndBurst:
		s += "; burst " + clock(ev.Burst.UTC)
	case sounding.EndFloat:
		s += "; the balloon was floating or sinking when the data end"
	case sounding.EndDataLost:
		s += "; the data end while it still climbs"
	}
	return s + "."
}

// doneSentences picks the findings that took something from the reader and the steps
// that changed most, at most three sentences.
func doneSentences(f *sounding.Final) []string {
	type item struct {
		weight float64
		text   string
	}
	var items []item
	seen := map[string]bool{}
	for _, finding := range f.Findings {
		if finding.Severity == sounding.Note || finding.State == "dismissed" || finding.Check == quality.ReleaseTime {
			continue
		}
		rows := 0
		for _, s := range finding.Spans {
			rows += s.Len()
		}
		w := float64(rows)
		if len(finding.Spans) == 0 {
			w = 1e4 // about the flight or its record
		}
		if finding.Severity == sounding.Bad {
			w *= 3
		}
		text := sentence(finding.Sentence)
		if !seen[text] {
			seen[text] = true
			items = append(items, item{w, text})
		}
	}
	sort.SliceStable(items, func(i, j int) bool { return items[i].weight > items[j].weight })
	var out []string
	for i, it := range items {
		if i == 3 {
			if len(items) == 4 {
				out = append(out, "1 more finding.")
			} else {
				out = append(out, fmt.Sprintf("%d more findings.", len(items)-3))
			}
			break
		}
		out = append(out, it.text)
	}
	return out
}

// sentence returns s with a capital and a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return s
	}
	if last := s[len(s)-1]; last != '.' && last != '!' && last != '?' {
		s += "."
	}
	return capital(s)
}

func capital(s string) string {
	if s == "" || s[0] < 'a' || s[0] > 'z' {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}

func clock(t time.Time) string { return t.UTC().Round(time.Second).Format("15:04:05") }

func hectopascal(p float64) string {
	if p < 100 {
		return fmt.Sprintf("%.1f", p)
	}
	return fmt.Sprintf("%.0f", p)
}
