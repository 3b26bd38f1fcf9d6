package check

import (
	"fmt"
	"math"
	"sort"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// jump is a sudden lasting change between two samples.
type jump struct {
	row   int // first row after it
	size  float64
	limit float64
}

// step finds sudden lasting changes: the level of five samples before, carried on
// by its trend, against five after, where most of the difference falls between two
// samples. A step of temperature with an answering one of humidity is an inversion
// and is spared.
func step(in *input) sounding.Report {
	b := in.begin(quality.Step)
	set := &in.set.Step
	grow := math.Sqrt(max(1, in.interval))
	floor := func(v sounding.Variable, x float64) float64 {
		switch v {
		case sounding.Temperature:
			// Air can change by so much a second; over many seconds it does not go on at that.
			return min(set.Temperature*max(1, in.interval), set.TemperatureCoarse*grow)
		case sounding.Pressure:
			return (set.Pressure + set.PressureFraction*math.Abs(x)) * grow
		case sounding.HeightMSL:
			return set.Height * grow
		case sounding.WindU, sounding.WindV, sounding.VelocityEast, sounding.VelocityNorth:
			return set.Wind * grow
		}
		return set.Humidity * max(1, in.interval)
	}
	b.each(list(thermodynamic, humidities, heightsOf[:1]), func(s *samples) {
		jumps := s.steps(in.interval, floor)
		kept := jumps[:0]
		for _, j := range jumps {
			// The load falls several times as fast as it rose.
			if !in.turning(s.v, j.row) && (!in.descent.Contains(j.row) || math.Abs(j.size) > 3*j.limit) {
				kept = append(kept, j)
			}
		}
		jumps = kept
		if s.v == sounding.Temperature {
			jumps = in.unpairedSteps(jumps)
		}
		jumps, away, between := in.excursions(jumps)
		b.excursionsOf([]sounding.Variable{s.v}, s.v, away, between)
		b.stepsOf([]sounding.Variable{s.v}, s.v, jumps)
	})
	u, v, from := in.wind()
	if from == nil {
		return b.rep
	}
	first, second := sounding.WindU, sounding.WindV
	if from[0] == sounding.VelocityEast {
		first, second = from[0], from[1]
	}
	// Each component on its own, then what either says of a row.
	east, eastAway, spans := in.excursions(in.column(first, u).steps(in.interval, floor))
	north, northAway, more := in.excursions(in.column(second, v).steps(in.interval, floor))
	away, spans := append(eastAway, northAway...), append(spans, more...)
	sort.Slice(spans, func(i, j int) bool { return spans[i].From < spans[j].From })
	between := joined(spans)
	var jumps []jump
	taken := map[int]bool{}
	for _, j := range append(east, north...) {
		inside := taken[j.row]
		for _, s := range between {
			inside = inside || j.row >= s.From && j.row <= s.To
		}
		if !inside {
			taken[j.row] = true
			jumps = append(jumps, j)
		}
	}
	sort.Slice(jumps, func(i, j int) bool { return jumps[i].row < jumps[j].row })
	b.excursionsOf(from, from[0], away, between)
	b.stepsOf(from, from[0], jumps)
	for _, x := range from {
		b.covered(x, []sounding.Span{in.ascent})
	}
	return b.rep
}

// steps returns the sudden lasting changes, in order.
func (s *samples) steps(interval float64, floor func(sounding.Variable, float64) float64) []jump {
	n := len(s.x)
	var out []jump
	fixed := s.v != sounding.Pressure
	limit := floor(s.v, 0)
	for i := 5; i+5 <= n; i++ {
		if !fixed {
			limit = floor(s.v, s.x[i])
		}
		d := s.x[i] - s.x[i-1]
		if math.Abs(d) <= 0.7*limit {
			continue
		}
		dt := s.t[i] - s.t[i-1]
		if dt > 2.5*interval || s.t[i+4]-s.t[i-5] > 25*max(1, interval) {
			continue // a gap, not a step
		}
		if s.x[i-1] == s.x[i-2] && s.x[i-1] == s.x[i-3] && s.x[i-1] == s.x[i-5] {
			continue // the end of a hold: the value catches up, which is the hold's affair
		}
		// Trend on either side from five samples further out, so that a spike beside the
		// change does not tilt it.
		trend, sides := 0.0, 0.0
		if dt := s.t[i-3] - s.t[max(0, i-8)]; i >= 10 && dt > 0 {
			trend, sides = trend+(median5(s.x[i-5:i])-median5(s.x[i-10:i-5]))/dt, sides+1
		}
		if dt := s.t[min(n-1, i+7)] - s.t[i+2]; i+10 <= n && dt > 0 {
			trend, sides = trend+(median5(s.x[i+5:i+10])-median5(s.x[i:i+5]))/dt, sides+1
		}
		trend /= max(1, sides)
		sudden := d - trend*dt
		lasting := median5(s.x[i:i+5]) - median5(s.x[i-5:i]) - trend*(s.t[i+2]-s.t[i-3])
		if math.Abs(lasting) <= limit || math.Abs(sudden) < 0.7*math.Abs(lasting) || sudden*lasting < 0 {
			continue
		}
		if k := len(out) - 1; k >= 0 && int(s.row[i])-out[k].row <= 5 && lasting*out[k].size > 0 {
			if math.Abs(lasting) > math.Abs(out[k].size) {
				out[k] = jump{int(s.row[i]), lasting, limit}
			}
			continue
		}
		out = append(out, jump{int(s.row[i]), lasting, limit})
	}
	return out
}

// unpairedSteps drops steps of temperature that humidity answers with an opposite change.
func (in *input) unpairedSteps(jumps []jump) []jump {
	rh, _ := in.humid()
	if rh == nil {
		return jumps
	}
	kept := jumps[:0]
	for _, j := range jumps {
		if a, c := j.row-3, j.row+3; a >= 0 && c < in.n {
			if d := rh[c] - rh[a]; math.Abs(d) >= in.set.Step.PairedHumidity && d*j.size < 0 {
				continue
			}
		}
		kept = append(kept, j)
	}
	return kept
}

// excursions takes out pairs of steps of about the same size there and back within the
// time allowed, and returns the rows between them.
func (in *input) excursions(jumps []jump) (rest []jump, away []jump, spans []sounding.Span) {
	for k := 0; k < len(jumps); k++ {
		a := jumps[k]
		if k+1 < len(jumps) {
			c := jumps[k+1]
			if a.size*c.size < 0 && math.Abs(a.size+c.size) < 0.5*math.Abs(a.size) && in.time[c.row]-in.time[a.row] <= in.set.Step.Excursion {
				away = append(away, a)
				spans = append(spans, sounding.Span{From: a.row, To: c.row})
				k++
				continue
			}
		}
		rest = append(rest, a)
	}
	return rest, away, spans
}

// excursionsOf reports excursions by the rows between their two steps: bad where all are
// short, for nothing in the air goes and comes back like that, else questionable.
func (b *builder) excursionsOf(vs []sounding.Variable, v sounding.Variable, away []jump, between []sounding.Span) {
	if len(away) == 0 {
		return
	}
	const short = 10.0 // s
	unit := unitOf(v)
	if v == sounding.WindSpeed {
		unit = "m/s"
	}
	largest := away[0]
	for _, j := range away {
		if math.Abs(j.size) > math.Abs(largest.size) {
			largest = j
		}
	}
	severity := sounding.Bad
	for _, s := range between {
		if b.in.time[s.To-1]-b.in.time[s.From] > short {
			severity = sounding.Questionable
		}
	}
	b.both(vs, fact{severity: severity, spans: between, measured: largest.size, limit: largest.limit, unit: unit,
		sentence: fmt.Sprintf("%s steps by %+.3g %s %s and steps back: what lies between is off", name(v), largest.size, unit, b.in.place(between...))})
}

// stepsOf reports lasting steps: those of temperature and height doubt all
// that follows on the ascent, up to the next step; of others only the row before and after.
func (b *builder) stepsOf(vs []sounding.Variable, v sounding.Variable, jumps []jump) {
	if len(jumps) == 0 {
		return
	}
	lasts := v == sounding.Temperature || v == sounding.HeightMSL
	unit := unitOf(v)
	if v == sounding.WindSpeed {
		unit = "m/s"
	}
	var spans []sounding.Span
	largest := jumps[0]
	for k, j := range jumps {
		span := sounding.Span{From: max(0, j.row-1), To: j.row + 1}
		if lasts && b.in.ascent.Contains(j.row) {
			span = sounding.Span{From: j.row, To: b.in.ascent.To}
			if k+1 < len(jumps) {
				span.To = min(span.To, jumps[k+1].row)
			}
		}
		spans = append(spans, span)
		if math.Abs(j.size) > math.Abs(largest.size) {
			largest = j
		}
	}
	where := b.in.place(sounding.Span{From: largest.row, To: largest.row + 1})
	sentence := fmt.Sprintf("%s steps by %+.3g %s %s and stays there", name(v), largest.size, unit, where)
	if lasts {
		sentence += ": what follows is doubtful"
	}
	if len(jumps) > 1 {
		sentence = fmt.Sprintf("%s has %d steps, the largest %+.3g %s %s", name(v), len(jumps), largest.size, unit, where)
	}
	b.both(vs, fact{severity: sounding.Questionable, spans: spans, measured: largest.size, limit: largest.limit, unit: unit, sentence: sentence})
}
