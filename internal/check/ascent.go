package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// ascent looks at the rate of climb: floats and temporary descents, a slow balloon,
// and rates or changes of rate that no balloon makes, which doubt the heights.
func ascent(in *input) sounding.Report {
	b := in.begin(quality.Ascent)
	z := in.riseOf()
	if z == nil || in.ascent.Len() < 2 || !in.ctx.Events.Release.Found {
		for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.AscentRate} {
			if in.cols.Get(v) != nil {
				b.skipped(v, "there is no ascent to follow")
			}
		}
		return b.rep
	}
	b.floats(z)
	b.slow(z)
	b.implausible(z)
	for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.AscentRate} {
		if in.cols.Get(v) != nil {
			b.covered(v, []sounding.Span{in.ascent})
		}
	}
	return b.rep
}

// floats reports the floats and temporary descents the events found within the climb.
func (b *builder) floats(z []float64) {
	in := b.in
	for _, p := range in.ctx.Events.Phases {
		if p.Phase != sounding.Floating || p.Len() < 2 {
			continue
		}
		if p.To >= in.ascent.To && in.ctx.Events.End == sounding.EndFloat {
			continue // the end of the flight, said with the burst
		}
		first, last := p.From, min(p.To, in.n)-1
		seconds := in.time[last] - in.time[first]
		change := z[last] - z[first]
		lowest := z[first]
		for _, h := range z[first : last+1] {
			lowest = min(lowest, h)
		}
		f := fact{variable: sounding.NoVariable, severity: sounding.Questionable, spans: []sounding.Span{p.Span}, unflagged: true, measured: change / max(seconds, 1), limit: 1, unit: "m/s"}
		if fall := z[first] - lowest; fall > 20 {
			f.sentence = fmt.Sprintf("the balloon sinks by %.0f m in %.0f s %s and rises again", fall, seconds, in.place(p.Span))
		} else {
			f.sentence = fmt.Sprintf("the balloon floats for %.0f s %s, changing height by %+.0f m", seconds, in.place(p.Span), change)
		}
		b.find(f)
	}
}

// slow reports a troposphere climbed through too slowly.
func (b *builder) slow(z []float64) {
	in, set := b.in, &b.in.set.Ascent
	p := in.pressureOf()
	bottom := z[in.ascent.From]
	from := in.ascent.From
	var spans []sounding.Span
	slowest := math.Inf(1)
	// Layer by layer, so that one slow layer is not hidden by fast ones.
	for i := in.ascent.From; i < in.ascent.To; i++ {
		if p != nil && p[i] < 200 {
			break
		}
		if z[i]-bottom < set.SlowDepth {
			continue
		}
		if w := (z[i] - bottom) / max(in.time[i]-in.time[from], 1e-9); w < set.Slow {
			slowest = min(slowest, w)
			spans = append(spans, sounding.Span{From: from, To: i + 1})
		}
		bottom, from = z[i], i
	}
	if len(spans) == 0 {
		return
	}
	b.find(fact{variable: sounding.AscentRate, severity: sounding.Note, spans: spans, unflagged: true, measured: slowest, limit: set.Slow, unit: "m/s",
		sentence: fmt.Sprintf("the balloon climbs slowly, down to %.1f m/s over 1 km, %s: corrections that assume ventilation use the real rate", slowest, in.place(spans...))})
}

// implausible reports rates over 10 s that no balloon reaches, and changes between
// successive ones.
func (b *builder) implausible(z []float64) {
	in, set := b.in, &b.in.set.Ascent
	s := in.of(sounding.HeightMSL)
	if s.len() < 3 {
		return
	}
	var fast, fastest, changes []sounding.Span
	top, most := 0.0, 0.0
	last := math.NaN()
	lastSpan := sounding.Span{}
	for i := 0; i < s.len(); {
		j := i + 1
		for j < s.len() && s.t[j]-s.t[i] < set.Smooth-in.interval/2 {
			j++
		}
		// The last ten seconds hold the turn to the fall.
		if j >= s.len() || int(s.row[j]) >= in.ascent.To-in.rows(10)-1 && in.ctx.Events.Burst.Found || !in.ascent.Contains(int(s.row[j])) {
			break
		}
		if !in.ascent.Contains(int(s.row[i])) || s.t[j]-s.t[i] > 3*max(set.Smooth, in.interval) {
			last = math.NaN()
			i = j
			continue
		}
		w := (s.x[j] - s.x[i]) / (s.t[j] - s.t[i])
		span := s.span(i, j+1)
		switch {
		case math.Abs(w) > set.Fastest:
			fastest = append(fastest, span)
			top = math.Max(top, math.Abs(w))
		case math.Abs(w) > set.Fast:
			fast = append(fast, span)
			top = math.Max(top, math.Abs(w))
		case math.Abs(w-last) > set.Change && !in.restless(sounding.Span{From: lastSpan.From, To: span.To}):
			changes = append(changes, sounding.Span{From: lastSpan.From, To: span.To})
			most = max(most, math.Abs(w-last))
		}
		last, lastSpan = w, span
		i = j
	}
	report := func(severity sounding.Severity, spans []sounding.Span, measured, limit float64, text string) {
		if len(spans) > 0 {
			spans = joined(spans)
			b.find(fact{variable: sounding.HeightMSL, severity: severity, spans: spans, measured: measured, limit: limit, unit: "m/s",
				sentence: fmt.Sprintf("%s %s: no balloon does that, so look at the heights", text, in.place(spans...))})
		}
	}
	report(sounding.Questionable, fast, top, set.Fast, fmt.Sprintf("height changes at up to %.0f m/s over 10 s", top))
	report(sounding.Bad, fastest, top, set.Fastest, fmt.Sprintf("height changes at up to %.0f m/s over 10 s", top))
	report(sounding.Questionable, changes, most, set.Change, fmt.Sprintf("the rate of climb changes by up to %.0f m/s within 20 s", most))
}

// restless is whether the balloon is known to come to rest, to sink or to rise again
// within a stretch: there the rate of climb changes with the balloon, not with the
// heights, and the float is a finding of its own.
func (in *input) restless(stretch sounding.Span) bool {
	for _, p := range in.ctx.Events.Phases {
		if p.Phase != sounding.Floating || p.Len() < 2 {
			continue
		}
		// Its ends are known to as much as one mean of the rate.
		margin := in.rows(in.set.Ascent.Smooth)
		if stretch.From < p.To+margin && stretch.To > p.From-margin {
			return true
		}
	}
	return false
}
