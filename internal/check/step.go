package check

import (
	"fmt"
	"math"

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
			return set.Temperature * grow
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
	jumps := in.column(first, u).steps(in.interval, floor)
	taken := map[int]bool{}
	for _, j := range jumps {
		taken[j.row] = true
	}
	for _, j := range in.column(second, v).steps(in.interval, floor) {
		if !taken[j.row] {
			jumps = append(jumps, j)
		}
	}
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
		if k := len(out) - 1; k >= 0 && int(s.row[i])-out[k].row <= 5 {
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

// stepsOf reports steps, each with the row before and after it.
func (b *builder) stepsOf(vs []sounding.Variable, v sounding.Variable, jumps []jump) {
	if len(jumps) == 0 {
		return
	}
	unit := unitOf(v)
	if v == sounding.WindSpeed {
		unit = "m/s"
	}
	var spans []sounding.Span
	largest := jumps[0]
	for _, j := range jumps {
		spans = append(spans, sounding.Span{From: max(0, j.row-1), To: j.row + 1})
		if math.Abs(j.size) > math.Abs(largest.size) {
			largest = j
		}
	}
	where := b.in.place(sounding.Span{From: largest.row, To: largest.row + 1})
	sentence := fmt.Sprintf("%s steps by %+.3g %s %s and stays there", name(v), largest.size, unit, where)
	if len(jumps) > 1 {
		sentence = fmt.Sprintf("%s has %d steps, the largest %+.3g %s %s", name(v), len(jumps), largest.size, unit, where)
	}
	b.both(vs, fact{severity: sounding.Questionable, spans: spans, measured: largest.size, limit: largest.limit, unit: unit, sentence: sentence})
}
