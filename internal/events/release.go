package events

import (
	"math"
	"sort"

	"leadline/internal/smooth"
)

// instant is a release found in one signal.
type instant struct {
	found       bool
	time        float64 // s
	uncertainty float64 // s, k = 1
	index       int     // of the signal: first sample at or after the instant
	rested      bool    // rows at rest were seen before it
	inAir       bool    // the data start after the release
	unknown     bool    // nothing says when before the first row it was
	method      string
}

// release finds where the climb that leads to the highest point begins.
func (s *signal) release(set *Settings) instant {
	n := s.len()
	if n < 3 {
		return instant{}
	}
	top := s.top(0, n)
	low := math.Inf(1)
	for _, z := range s.z[:top+1] {
		low = min(low, z)
	}
	if s.z[top]-low < set.SmallestFlight {
		return instant{}
	}
	// lowestAfter[i] is the lowest sample from i to the top.
	from := 0
	for from < top {
		i, j, ok := s.climb(from, top, set)
		if !ok {
			break
		}
		if k := s.lastBelow(j+1, top, s.z[i]+set.FalseStart); k >= 0 {
			from = max(k, i+1) // it came back: a false start
			continue
		}
		if end := s.carried(i, top, set); end > i {
			from = end
			continue
		}
		later := s.at(s.t[j]+60, j)
		if later <= top && s.z[later]-s.z[j] < set.ClimbLater {
			from = j // lifted, not released
			continue
		}
		return s.refine(from, i, j, top)
	}
	if from == 0 || s.z[top]-s.z[from] >= set.SmallestFlight {
		// Too slow, or too thinly sampled, for the rule above: the climb begins where
		// the height last stood near its lowest.
		from = max(0, s.lastBelow(0, top, low+set.FalseStart))
		j := min(top, s.at(s.t[from]+set.ClimbTime, from))
		return s.refine(0, from, max(j, from+1), top)
	}
	return instant{}
}

// climb returns the first samples i < j in [from, top] that are a release's first
// seconds apart and climb as one.
func (s *signal) climb(from, top int, set *Settings) (i, j int, ok bool) {
	j = from
	for i = from; i < top; i++ {
		for j <= top && (j <= i || s.t[j]-s.t[i] < set.ClimbTime) {
			j++
		}
		if j > top {
			return 0, 0, false
		}
		rise := s.z[j] - s.z[i]
		if rise >= set.ClimbRise && rise >= set.ClimbRate*(s.t[j]-s.t[i]) {
			return i, j, true
		}
	}
	return 0, 0, false
}

// lastBelow returns the last index in [from, to) with a height at or below z, -1 for none.
func (s *signal) lastBelow(from, to int, z float64) int {
	for i := to - 1; i >= from; i-- {
		if s.z[i] <= z {
			return i
		}
	}
	return -1
}

// carried returns the end of the last rest that lies between the start of a climb
// and the top: of a minute where it is little above the start (a radiosonde that was
// carried up and put down), of three minutes anywhere in the lowest kilometre (no
// balloon floats as still as that; heights that had to settle do). -1 for none.
func (s *signal) carried(i, top int, set *Settings) int {
	const short, long, ceiling, slope = 60.0, 180.0, 1000.0, 0.05 // s, s, m, m/s
	spread := 5 + 6*s.noise()
	end := -1
	for k := i; k < top && s.z[k] <= s.z[i]+ceiling; k++ {
		low, high, m := s.z[k], s.z[k], k
		for m < top && s.t[m]-s.t[k] < long {
			z := s.z[m+1]
			if max(high, z)-min(low, z) > spread {
				break
			}
			low, high = min(low, z), max(high, z)
			m++
		}
		dt := s.t[m] - s.t[k]
		least := long
		if s.z[k] <= s.z[i]+set.Carried {
			least = short
		}
		if m-k >= 3 && dt >= least && math.Abs(s.z[m]-s.z[k]) < slope*dt+spread/3 {
			end = m
			// What follows within this rest need not be looked at sample by sample.
			if m > k+8 {
				k = m - 8
			}
		}
	}
	return end
}

// noise returns the robust spread of single samples about the line through their
// neighbours, m.
func (s *signal) noise() float64 {
	const most = 600 // samples are enough
	n := min(s.len(), most)
	if n < 5 {
		return 0
	}
	second := make([]float64, 0, n)
	for i := 1; i < n-1; i++ {
		second = append(second, math.Abs(s.z[i]-(s.z[i-1]+s.z[i+1])/2))
	}
	// The variance of such a difference is 1.5 times that of a sample.
	return smooth.NormalConsistency * smooth.Median(second, nil) / math.Sqrt(1.5)
}

// line is a least-squares line z = a + b (t − t̄) with its residual.
type line struct {
	n                   int
	mean, slope, centre float64
	sxx, residual       float64 // residual: standard deviation about the line
}

func fitLine(t, z []float64) line {
	n := float64(len(t))
	l := line{n: len(t)}
	for i := range t {
		l.centre += t[i] / n
		l.mean += z[i] / n
	}
	sxy, szz := 0.0, 0.0
	for i := range t {
		dt, dz := t[i]-l.centre, z[i]-l.mean
		l.sxx += dt * dt
		sxy += dt * dz
		szz += dz * dz
	}
	if l.sxx > 0 {
		l.slope = sxy / l.sxx
	}
	if len(t) > 2 {
		l.residual = math.Sqrt(max(0, szz-l.slope*sxy) / (n - 2))
	}
	return l
}

// crosses returns when the line stands at z, and the standard uncertainty of that
// for a resting value known to uz.
func (l line) crosses(z, uz float64) (t, u float64) {
	t = l.centre + (z-l.mean)/l.slope
	v := uz * uz
	if l.sxx > 0 && l.n > 2 {
		d := t - l.centre
		v += l.residual * l.residual * (1/float64(l.n) + d*d/l.sxx)
	}
	return t, math.Sqrt(v) / math.Abs(l.slope)
}

// Windows of the fit, s.
const (
	restWindow  = 60.0 // of rest before the climb
	climbWindow = 60.0 // of climb after it
	unsettled   = 2.0  // left out at the start: the balloon accelerates, the string unwinds
	model       = 0.4  // s, what a straight climb gets wrong about the first seconds; our proposal
	restUnknown = 3.0  // m, standard uncertainty of a resting height taken from the launch record
)

// refine finds the instant near a climb that begins between samples i and j: a
// change-point between rest and climb by least squares, then the climb's line
// extrapolated back to the resting height.
func (s *signal) refine(from, i, j, top int) instant {
	a := i
	for a > from && s.t[i]-s.t[a-1] <= restWindow {
		a--
	}
	b := j
	for b < top && (s.t[b+1]-s.t[i] <= climbWindow+15 || b < j+3) {
		b++
	}
	t, z := s.t[a:b+1], s.z[a:b+1]
	k := changePoint(t, z, max(1, j-a))
	// Rest is what lies clearly before the change.
	rested := z[:k]
	if k < 3 || t[k-1]-t[0] < 2 {
		rested = nil
	}
	level, uLevel := s.rest, restUnknown
	if rested != nil {
		level, uLevel = middle(rested)
	}
	out := instant{found: true, rested: rested != nil}
	var candidates []float64
	for _, window := range []float64{20, 40, 60} {
		lo := k
		for lo < len(t)-3 && t[lo] < t[k]+unsettled-1 {
			lo++
		}
		hi := lo
		for hi < len(t) && (t[hi]-t[lo] <= window || hi-lo < 3) {
			hi++
		}
		l := fitLine(t[lo:hi], z[lo:hi])
		if hi-lo < 2 || l.slope <= 0.3 {
			continue
		}
		x, u := l.crosses(level, uLevel)
		if math.IsNaN(x) {
			continue
		}
		candidates = append(candidates, x)
		if window == 40 || len(candidates) == 1 {
			out.time, out.uncertainty = x, u
		}
	}
	if len(candidates) > 0 {
		sort.Float64s(candidates)
		half := (candidates[len(candidates)-1] - candidates[0]) / 2
		out.uncertainty = math.Sqrt(out.uncertainty*out.uncertainty + half*half/3 + model*model)
	}
	first := s.t[0]
	switch {
	case rested != nil && len(candidates) > 0:
		// Back-extrapolation must stay near the change it refines.
		before, after := t[max(0, k-1)], t[min(k+1, len(t)-1)]
		if slack := 5 + 2*(after-before); out.time < before-slack || out.time > after+slack {
			out.time = (t[k-1] + t[k]) / 2
			out.uncertainty = max(out.uncertainty, (after-before)/2)
		}
	case len(candidates) > 0:
		// No rows at rest: the launch record's height says how far back to go.
		out.inAir = first-out.time > 10
		if out.time > t[min(k+2, len(t)-1)]+10 {
			out.time, out.uncertainty = t[0], 10
		}
	default:
		out.time, out.uncertainty, out.unknown = t[max(0, k-1)], 10, true
		if k > 0 {
			out.uncertainty = max(model, (t[k]-t[k-1])/2)
		}
	}
	out.index = s.at(out.time, 0)
	out.method = s.name
	return out
}

// middle returns the median of z and the standard uncertainty of it as a resting level.
func middle(z []float64) (m, u float64) {
	m, deviation := smooth.MedianDeviation(z, nil)
	// Height noise is correlated over some ten samples, so the mean of many is no
	// better than that of a tenth of them.
	return m, smooth.NormalConsistency * deviation / math.Sqrt(max(1, float64(len(z))/10))
}

// changePoint returns the index k that splits z best into a constant before it and a
// line from it on, by least squares; 0 where nothing stands before. k is at most last.
func changePoint(t, z []float64, last int) int {
	n := len(t)
	last = min(last, n-2)
	t0, z0 := t[0], z[0]
	var st, sz, stt, stz, szz float64
	for i := range t {
		x, y := t[i]-t0, z[i]-z0
		st, sz, stt, stz, szz = st+x, sz+y, stt+x*x, stz+x*y, szz+y*y
	}
	best, at := math.Inf(1), 0
	var lz, lzz float64 // of the left part
	for k := 0; k <= last; k++ {
		if k > 0 {
			x, y := t[k-1]-t0, z[k-1]-z0
			lz, lzz = lz+y, lzz+y*y
			st, sz, stt, stz, szz = st-x, sz-y, stt-x*x, stz-x*y, szz-y*y
		}
		left := 0.0
		if k > 0 {
			left = lzz - lz*lz/float64(k)
		}
		m := float64(n - k)
		sxx, sxy, syy := stt-st*st/m, stz-st*sz/m, szz-sz*sz/m
		right := syy
		if sxx > 0 {
			right -= sxy * sxy / sxx
		}
		if sum := max(0, left) + max(0, right); sum < best*(1-1e-12)-1e-9 {
			best, at = sum, k
		}
	}
	return at
}
