package events

import "math"

// fall is the end of a climb as seen in one signal.
type fall struct {
	top         int // index of the highest sample
	seen        bool
	burst       int     // index of the last climbing sample, where seen
	uncertainty float64 // s
	gap         float64 // s between the last climbing and the first falling sample
	floating    bool    // level or slowly falling when the data end
	sinking     bool    // by more than noise and waves explain
}

// fall looks for the burst from index from on.
func (s *signal) fall(from int, set *Settings) fall {
	n := s.len()
	f := fall{top: s.top(from, n)}
	lowest := f.top
	for i := f.top; i < n; i++ {
		if s.z[i] < s.z[lowest] {
			lowest = i
		}
	}
	if s.z[f.top]-s.z[lowest] > set.Fall {
		j := f.top
		for k := f.top; k < n; k++ {
			for j < n && s.t[j]-s.t[k] < set.FallTime {
				j++
			}
			if j >= n {
				break
			}
			if s.z[k]-s.z[j] <= set.FallRate*(s.t[j]-s.t[k]) {
				continue
			}
			if s.z[f.top]-s.z[k] > set.Fall {
				f.floating, f.sinking = true, true // it sank first: a leak, not a burst
				return f
			}
			f.seen, f.burst = true, k
			for i := k; i < j; i++ { // the last sample that still climbs
				if s.z[i] >= s.z[f.burst] {
					f.burst = i
				}
			}
			f.gap = s.t[min(f.burst+1, n-1)] - s.t[f.burst]
			// Noise moves the highest sample by about its size over the rate of climb.
			if k := s.at(s.t[f.burst]-30, from); k < f.burst-1 {
				l := fitLine(s.t[k:f.burst], s.z[k:f.burst])
				f.uncertainty = l.residual / max(1, l.slope)
			}
			f.uncertainty = math.Sqrt(0.09 + f.gap*f.gap/12 + f.uncertainty*f.uncertainty)
			return f
		}
	}
	// No fall: does the balloon still climb in the last minute?
	end := n - 1
	k := end
	for k > from && s.t[end]-s.t[k] < set.FloatTime {
		k--
	}
	if dt := s.t[end] - s.t[k]; dt >= set.FloatTime/2 {
		f.floating = (s.z[end]-s.z[k])/dt < set.FloatRate
		f.sinking = f.floating && s.z[f.top]-s.z[end] > set.Fall
	}
	return f
}

// landing returns the index of the first sample of the rest that ends the data, -1
// where there is none. burst is where the fall began.
func (s *signal) landing(burst int, set *Settings) int {
	n := s.len()
	low, high := s.z[n-1], s.z[n-1]
	k := n - 1
	for k-1 > burst {
		z := s.z[k-1]
		if max(high, z)-min(low, z) > set.Landed {
			break
		}
		low, high = min(low, z), max(high, z)
		k--
	}
	if n-k < 3 || s.t[n-1]-s.t[k] < set.LandedTime || s.z[burst]-high < set.Fall {
		return -1
	}
	return k
}

// run is a run of samples [from, to) of a signal.
type run struct{ from, to int }

// floats returns the level stretches and temporary descents between two indices,
// merged and in order: slower than the float rate for the float time, or falling
// faster than the descent rate for the descent time and by something that noise
// does not explain.
func (s *signal) floats(from, to int, set *Settings) []run {
	const half = 15.0 // s, half of the span a rate is taken over
	var out []run
	level, down := -1, -1
	add := func(a, b int) {
		if k := len(out) - 1; k >= 0 && a <= out[k].to {
			out[k].to = max(out[k].to, b)
		} else {
			out = append(out, run{a, b})
		}
	}
	long := func(a, b int, least float64) bool { return a >= 0 && b > a && s.t[b-1]-s.t[a] >= least }
	lo, hi := from, from
	for i := from; i < to; i++ {
		for lo < i && s.t[i]-s.t[lo] > half {
			lo++
		}
		for hi < to-1 && s.t[hi+1]-s.t[i] <= half {
			hi++
		}
		a, b := lo, hi
		if a == b { // thinly sampled
			a, b = max(from, i-1), min(to-1, i+1)
		}
		w := math.NaN()
		if dt := s.t[b] - s.t[a]; dt > 0 {
			w = (s.z[b] - s.z[a]) / dt
		}
		if math.Abs(w) < set.FloatRate || w < -set.DescentRate {
			if level < 0 {
				level = i
			}
		} else {
			if long(level, i, set.FloatTime) {
				add(level, i)
			}
			level = -1
		}
		if w < -set.DescentRate {
			if down < 0 {
				down = i
			}
		} else {
			if long(down, i, set.DescentTime) && s.z[down]-s.z[i-1] > 2*set.DescentRate*set.DescentTime {
				add(down, i)
			}
			down = -1
		}
	}
	if long(level, to, set.FloatTime) {
		add(level, to)
	}
	if long(down, to, set.DescentTime) {
		add(down, to)
	}
	return out
}
