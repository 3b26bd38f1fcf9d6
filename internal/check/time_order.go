package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// timeOrder names what is left of trouble with the clock after the sources were
// joined: rows whose time breaks the order, rows that share a time, and steps of the
// clock, in which the time runs on while the balloon does not move.
func timeOrder(in *input) sounding.Report {
	b := in.begin(quality.TimeOrder)
	if in.broken != nil {
		var spans = sounding.Spans(in.broken, 0)
		b.find(fact{variable: sounding.NoVariable, severity: sounding.Bad, spans: spans, measured: float64(total(spans)), limit: 0, unit: "rows",
			sentence: fmt.Sprintf("the time of %s breaks the order of the flight, first in line %d", plural(total(spans), "row"), in.cols.Line[spans[0].From])})
	}
	same := make([]sounding.Span, 0)
	for i := in.flight.From + 1; i < in.flight.To; i++ {
		if in.time[i] == in.time[i-1] && (in.broken == nil || !in.broken[i] && !in.broken[i-1]) {
			if k := len(same) - 1; k >= 0 && same[k].To == i {
				same[k].To++
			} else {
				same = append(same, sounding.Span{From: i, To: i + 1})
			}
		}
	}
	if len(same) > 0 {
		b.find(fact{variable: sounding.NoVariable, severity: sounding.Questionable, spans: same, measured: float64(total(same)), limit: 0, unit: "rows",
			sentence: fmt.Sprintf("%s of the flight repeat the time of the row before, first in line %d", plural(total(same), "row"), in.cols.Line[same[0].From])})
	}
	b.clockJumps()
	b.ran(sounding.NoVariable)
	return b.rep
}

// clockJumps looks for long steps of time in the ascent that the height did not take part in.
func (b *builder) clockJumps() {
	in, set := b.in, &b.in.set.TimeOrder
	z := in.riseOf()
	if z == nil || !in.ctx.Events.Release.Found {
		return
	}
	for _, p := range in.ctx.Events.Phases {
		if p.Phase != sounding.Ascending {
			continue
		}
		for i := max(p.From, 1) + 10; i+10 < p.To; i++ {
			dt := in.time[i] - in.time[i-1]
			if dt < set.Jump || dt < 10*in.interval {
				continue
			}
			w := func(a, c int) float64 { return (z[c] - z[a]) / max(in.time[c]-in.time[a], 1e-9) }
			before, after := w(i-10, i-1), w(i, i+9)
			if math.Abs(z[i]-z[i-1])/dt < set.JumpRate && min(before, after) > 4*set.JumpRate {
				jump := dt - (z[i]-z[i-1])/((before+after)/2)
				s := []sounding.Span{{From: i - 1, To: i + 1}}
				b.find(fact{variable: sounding.NoVariable, severity: sounding.Questionable, spans: s, unflagged: true, measured: jump, limit: set.Jump, unit: "s",
					sentence: fmt.Sprintf("the clock jumps by %+.0f s %s: the balloon rose %.0f m meanwhile", jump, in.place(s...), z[i]-z[i-1])})
			}
		}
	}
}
