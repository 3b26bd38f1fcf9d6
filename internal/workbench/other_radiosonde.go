package workbench

import (
	"slices"
	"strings"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// others returns the rows that the source's findings give to another radiosonde, in
// order, but for findings a person has dismissed: those rows count as the flight's own.
func others(raw *sounding.Raw, decisions []sounding.Decision) []sounding.Span {
	var mask []bool
	for i := range raw.Findings {
		f := &raw.Findings[i]
		if f.Check != quality.Sources || f.Severity != sounding.Bad || f.Variable != sounding.NoVariable || len(f.Spans) == 0 {
			continue
		}
		if slices.ContainsFunc(decisions, func(d sounding.Decision) bool {
			return d.Action == sounding.ActDismiss && sameFinding(d.Field, f.ID)
		}) {
			continue
		}
		if mask == nil {
			mask = make([]bool, raw.Len())
		}
		for _, s := range f.Spans {
			s = s.Clip(sounding.Span{From: 0, To: raw.Len()})
			for k := s.From; k < s.To; k++ {
				mask[k] = true
			}
		}
	}
	return sounding.Spans(mask, 0)
}

// sameFinding tells whether two identities differ at most by the millisecond that
// counting time from the release may move the instant they end in.
func sameFinding(a, b string) bool {
	if a == b {
		return true
	}
	const form = "2006-01-02T15:04:05.000Z" // as identities end
	cut := len(b) - len(form)
	if cut < 0 || len(a) != len(b) || !strings.HasPrefix(a, b[:cut]) {
		return false
	}
	x, errX := time.Parse(form, a[cut:])
	y, errY := time.Parse(form, b[cut:])
	return errX == nil && errY == nil && x.Sub(y).Abs() <= time.Millisecond
}
