package wind

import "math"

// A radiosonde goes where its balloon goes: its mean motion is the wind at the
// balloon, one string above it, or at the parachute on the way down. It comes through
// that air a little later, or came a little before (docs/methods/wind.md).

const (
	leastRate = 1.0  // m s⁻¹; slower, nobody knows when it will be there
	longest   = 15.0 // s, of a string's length
)

// hung is the length of the string in m: by the swing, which tells what was really
// unwound, else as declared; 0 where neither is known.
func hung(s swing, declared float64) float64 {
	switch {
	case s.found && StringLength(s.period) < 100:
		return StringLength(s.period)
	case declared > 0:
		return declared
	}
	return 0
}

// later returns, for each row of a leg, by how many seconds the radiosonde comes later
// through the air that moves it: negative on the way down, 0 where its rate is not known.
func (b *blow) later(l leg, above float64) []float64 {
	const around = 10.0 // s on either side
	out := make([]float64, len(l.rows))
	if b.heights == nil {
		return out
	}
	z := gather(b.heights, l.rows)
	from, to := 0, 0
	for k, t := range l.time {
		for l.time[from] < t-around {
			from++
		}
		for to < len(z)-1 && l.time[to+1] <= t+around {
			to++
		}
		rate := (z[to] - z[from]) / (l.time[to] - l.time[from])
		switch {
		case math.Abs(rate) >= leastRate && (rate > 0) != l.descent:
			out[k] = max(-longest, min(longest, above/rate))
		case k > 0 && rate != rate: // a height is missing at one of the ends
			out[k] = out[k-1]
		}
	}
	return out
}

// lowered replaces x, the wind at the balloon by time, by the wind at the radiosonde:
// what the balloon met so much earlier, on a straight line between samples. Where that
// lies outside the leg or in a gap, the value stays; a gap stays where it is.
func lowered(x, t, late []float64) {
	was := append([]float64(nil), x...)
	j := 0
	for k := range x {
		at := t[k] - late[k]
		if x[k] != x[k] || late[k] == 0 || at < t[0] || at > t[len(t)-1] {
			continue
		}
		for j > 0 && t[j] > at {
			j--
		}
		for j < len(t)-2 && t[j+1] < at {
			j++
		}
		if y := was[j] + (was[j+1]-was[j])*(at-t[j])/(t[j+1]-t[j]); y == y && t[j+1]-t[j] < longest {
			x[k] = y
		}
	}
}

func legName(l leg) string {
	if l.descent {
		return "descent"
	}
	return "ascent"
}
