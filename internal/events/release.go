package events

import (
	"math"

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
	earlier     float64 // m an earlier climb reached before it came back, 0 for none
	earlierTime float64 // s, when it began
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
	from := 0
	earlier, earlierTime := 0.0, 0.0
	for from < top {
		i, j, ok := s.climb(from, top, set)
		if !ok {
			break
		}
		if k := s.lastBelow(j+1, top, s.z[i]+set.FalseStart); k >= 0 {
			// It came back: a false start. The search goes on from the lowest point after it.
			if up := s.z[s.top(i, k+1)] - s.z[i]; up > earlier { // carried up, lifted, or released
				earlier, earlierTime = up, s.t[i]
			}
			lowest := j + 1
			for m := lowest; m <= k; m++ {
				if s.z[m] <= s.z[lowest] {
					lowest = m
				}
			}
			from = max(lowest, i+1)
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
		out := s.refine(from, i, j, top)
		out.earlier, out.earlierTime = earlier, earlierTime
		return out
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

// Figures of the fit.
const (
	restWindow   = 60.0 // s of rest looked at before the climb; the level is that of its last half
	climbWindow  = 60.0 // s of climb looked at to find the change
	fitWindow    = 20.0 // s of climb the instant is fitted to: later the rate of climb is another
	acceleration = 1.7  // s, time constant of the start: rate over free lift by mass and the air carried along (about 4 m/s over 2.3 m/s²)
	model        = 0.55 // s, what that leaves unknown, and …
	modelShare   = 0.06 // … this share of the time between samples; our proposal, 2u holds for 95 % of 140 simulated flights
	restUnknown  = 7.0  // m, standard uncertainty of a resting height that was not seen (satellite height 5–10 m, from memory)
)

// refine finds the instant near a climb that begins between samples i and j: a
// change-point between rest and climb by least squares, then the start of an
// accelerated climb fitted to the samples around it, or, where no rest was seen, the
// climb's line carried back to the known height of the site.
func (s *signal) refine(from, i, j, top int) instant {
	// Rest goes back as far as the height stays, across the end of a false start if need be.
	level0, spread := s.z[i], 5+6*s.noise()
	if from < i {
		level0 = smooth.Median(s.z[max(from, i-5):i], nil)
	}
	a := i
	for a > 0 && s.t[i]-s.t[a-1] <= restWindow && (a > max(from, i-5) || math.Abs(s.z[a-1]-level0) <= spread) {
		a--
	}
	b := j
	for b < top && (s.t[b+1]-s.t[i] <= climbWindow+15 || b < j+3) {
		b++
	}
	t, z := s.t[a:b+1], s.z[a:b+1]
	k := changePoint(t, z, max(1, j-a))
	out := instant{found: true, method: s.name}
	if out.rested = k >= 3 && t[k-1]-t[0] >= 2; out.rested {
		first := 0
		for k-first > 3 && t[k-1]-t[first] > restWindow/2 {
			first++
		}
		level, uLevel := middle(z[first:k])
		out.time, out.uncertainty = fitStart(t, z, k, level, uLevel)
	} else {
		s.carryBack(&out, t, z, k)
	}
	out.index = s.at(out.time, 0)
	return out
}

// fitStart fits z = level + w (x − τ (1 − exp(−x/τ))), x the time since the start, to
// the samples around change-point k by least squares over the start and w. Two
// windows give what the changing rate of climb leaves open.
func fitStart(t, z []float64, k int, level, uLevel float64) (start, u float64) {
	before := t[k] - t[k-1]
	low, high := t[k-1]-3-before, t[k]+3+before
	var starts [2]float64
	for n, window := range [2]float64{fitWindow, fitWindow / 2} {
		lo, hi := k, k
		for lo > 0 && t[k]-t[lo-1] <= window/2+3 {
			lo--
		}
		for hi < len(t) && (t[hi]-t[k] <= window || hi < k+4) {
			hi++
		}
		sum := func(at float64) (left, w float64) {
			var bb, by, yy float64
			for i := lo; i < hi; i++ {
				y := z[i] - level
				yy += y * y
				if x := t[i] - at; x > 0 {
					b := x - acceleration*(1-math.Exp(-x/acceleration))
					bb, by = bb+b*b, by+b*y
				}
			}
			if bb == 0 || by <= 0 {
				return yy, 0
			}
			w = by / bb
			return yy - w*by, w
		}
		step := (high - low) / 40
		best, at := math.Inf(1), (low+high)/2
		for g := 0; g <= 40; g++ {
			if left, _ := sum(low + float64(g)*step); left < best {
				best, at = left, low+float64(g)*step
			}
		}
		// Golden section around the best of the grid.
		const golden = 0.6180339887498949
		x0, x1 := at-step, at+step
		for x1-x0 > 0.01 {
			c, d := x1-golden*(x1-x0), x0+golden*(x1-x0)
			lc, _ := sum(c)
			ld, _ := sum(d)
			if lc < ld {
				x1 = d
			} else {
				x0 = c
			}
		}
		starts[n] = (x0 + x1) / 2
		if n == 0 {
			left, w := sum(starts[0])
			free := max(1, float64(hi-lo-2))
			noise := math.Sqrt(max(0, left) / free)
			climbing := max(1, float64(hi-k))
			// A level wrong by δ moves the start by δ/w; noise of the climb as its mean's.
			u = math.Hypot(uLevel, 2*noise/math.Sqrt(climbing)) / max(w, 0.5)
		}
	}
	half := (starts[0] - starts[1]) / 2
	return starts[0], math.Sqrt(u*u + half*half + model*model + modelShare*modelShare*before*before)
}

// carryBack takes the line of the first climb down to the resting height of the
// launch record.
func (s *signal) carryBack(out *instant, t, z []float64, k int) {
	hi := k
	for hi < len(t) && (t[hi]-t[k] <= 2*fitWindow || hi-k < 3) {
		hi++
	}
	l := fitLine(t[k:hi], z[k:hi])
	if hi-k >= 2 && l.slope > 0.3 && !math.IsNaN(s.rest) {
		out.time, out.uncertainty = l.crosses(s.rest, restUnknown)
		if t[k]-out.time < 5 {
			out.time -= acceleration / 2 // some of the first samples are still slow
		}
		// The rate changes by some 10 % over the way back (our proposal).
		out.uncertainty = math.Sqrt(out.uncertainty*out.uncertainty + model*model + math.Pow(0.1*max(0, t[k]-out.time), 2))
		out.inAir = t[0]-out.time > 10
		if out.time <= t[min(k+2, len(t)-1)]+10 {
			return
		}
	}
	// Nothing says how far back: the last row that does not climb yet.
	*out = instant{found: true, method: s.name, time: t[max(0, k-1)], uncertainty: 10, unknown: true}
	if k > 0 {
		out.uncertainty = max(model, (t[k]-t[k-1])/2)
	}
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
