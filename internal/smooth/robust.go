package smooth

import (
	"math"
	"slices"
)

// Biweight returns the biweight mean and standard deviation of the present values
// and how many there were (Lanzante 1996, Int. J. Climatol. 16, 1197, with its
// censoring distance of 7.5 median absolute deviations). Values beyond that count
// nothing. Where more than half the values are equal the deviation is zero and so
// is the returned sigma. No values: NaN, NaN, 0. scratch as in Median.
func Biweight(x, scratch []float64) (mean, sigma float64, count int) {
	const censor = 7.5
	if cap(scratch) < len(x) {
		scratch = make([]float64, 0, len(x))
	}
	median, deviation := MedianDeviation(x, scratch)
	for _, v := range x {
		if !math.IsNaN(v) {
			count++
		}
	}
	if count == 0 {
		return math.NaN(), math.NaN(), 0
	}
	if deviation == 0 {
		return median, 0, count
	}
	var weight, shift, square, slope float64
	for _, v := range x {
		u := (v - median) / (censor * deviation)
		if !(math.Abs(u) < 1) {
			continue
		}
		d, a := v-median, 1-u*u
		weight += a * a
		shift += d * a * a
		square += d * d * a * a * a * a
		slope += a * (1 - 5*u*u)
	}
	return median + shift/weight, math.Sqrt(float64(count)*square) / math.Abs(slope), count
}

// Line is x = Level + Slope·(t − Centre), with uncertainties at k = 1 that hold
// for independent residuals of standard deviation Scale.
type Line struct {
	Centre, Level, Slope               float64
	Scale                              float64
	LevelUncertainty, SlopeUncertainty float64
	Used                               int // samples with a weight above zero
}

// At returns the line's value at a time.
func (l Line) At(t float64) float64 { return l.Level + l.Slope*(t-l.Centre) }

// TheilSen returns the line through the present samples with the median of the
// slopes of all pairs at different times and the median level about it; up to 29 %
// of the samples may be wild (Sen 1968, J. Am. Stat. Assoc. 63, 1379). Above 500
// samples the pairs are those half the column apart in steps, which keeps the work
// proportional to the number of samples. ok is false with fewer than two different times.
func TheilSen(t, x []float64) (line Line, ok bool) {
	var times, values []float64
	for i, v := range x {
		if !math.IsNaN(v) && !math.IsNaN(t[i]) {
			times = append(times, t[i])
			values = append(values, v)
		}
	}
	n := len(times)
	if n < 2 {
		return Line{}, false
	}
	slopes := make([]float64, 0, min(n*(n-1)/2, 250*500))
	pair := func(i, j int) {
		if dt := times[j] - times[i]; dt != 0 {
			slopes = append(slopes, (values[j]-values[i])/dt)
		}
	}
	if n <= 500 {
		for i := range n {
			for j := i + 1; j < n; j++ {
				pair(i, j)
			}
		}
	} else {
		for lag := n / 2; lag > n/2-4; lag-- {
			for i := 0; i+lag < n; i++ {
				pair(i, i+lag)
			}
		}
	}
	if len(slopes) == 0 {
		return Line{}, false
	}
	line.Slope = medianOf(slopes)
	line.Centre = times[0] + 0.5*(times[n-1]-times[0])
	residuals := make([]float64, n)
	for i := range times {
		residuals[i] = values[i] - line.Slope*(times[i]-line.Centre)
	}
	line.Level = medianOf(residuals)
	for i := range times {
		residuals[i] = math.Abs(values[i] - line.At(times[i]))
	}
	line.Scale = NormalConsistency * medianOf(residuals)
	line.Used = n
	line.LevelUncertainty, line.SlopeUncertainty = math.NaN(), math.NaN()
	return line, true
}

// RobustLine returns the least-squares line with Tukey's biweight on the residuals
// (tuning constant 4.685, 95 % efficient for normal noise), iterated from TheilSen
// with its scale held. The scale is at least floor, so that a column without noise
// does not throw away samples for rounding. ok is false with fewer than three
// present samples or no spread in time.
func RobustLine(t, x []float64, floor float64) (line Line, ok bool) {
	const tuning = 4.685
	line, ok = TheilSen(t, x)
	if !ok || line.Used < 3 {
		return Line{}, false
	}
	scale := math.Max(line.Scale, math.Max(floor, 1e-12*math.Abs(line.Level)))
	if scale == 0 {
		scale = 1e-300 // an exact line through zeros: any scale keeps all samples
	}
	var variance float64
	for range 50 {
		var sw, st, sx float64
		used := 0
		weight := func(i int) float64 {
			u := (x[i] - line.At(t[i])) / (tuning * scale)
			if !(math.Abs(u) < 1) {
				return 0
			}
			return (1 - u*u) * (1 - u*u)
		}
		for i := range x {
			if wi := weight(i); wi > 0 {
				sw += wi
				st += wi * (t[i] - line.Centre)
				sx += wi * (x[i] - line.Level)
				used++
			}
		}
		if used < 3 || sw == 0 {
			return Line{}, false
		}
		mt, mx := st/sw, sx/sw
		var stt, stx, ss float64
		for i := range x {
			if wi := weight(i); wi > 0 {
				dt, dx := t[i]-line.Centre-mt, x[i]-line.Level-mx
				stt += wi * dt * dt
				stx += wi * dt * dx
				r := x[i] - line.At(t[i])
				ss += wi * r * r
			}
		}
		if !(stt > 0) {
			return Line{}, false
		}
		next := line
		next.Slope = stx / stt
		next.Level = line.Level + mx - next.Slope*mt
		variance = ss / sw * float64(used) / math.Max(1, float64(used-2))
		next.Used = used
		next.LevelUncertainty = math.Sqrt(variance * (1/sw + mt*mt/stt))
		next.SlopeUncertainty = math.Sqrt(variance / stt)
		done := math.Abs(next.Slope-line.Slope)*math.Sqrt(stt/sw)+math.Abs(next.Level-line.Level) < 1e-10*scale
		line = next
		if done {
			break
		}
	}
	line.Scale = math.Sqrt(variance)
	return line, true
}

// BrokenLine is a line that changes slope at Break and is continuous there.
type BrokenLine struct {
	Break                   float64 // s
	Level                   float64 // value at Break
	SlopeBefore, SlopeAfter float64 // per s
	Scale                   float64 // standard deviation of the residuals
	// F compares the fit with one straight line: the drop of the sum of squares
	// for two more parameters over the variance left. Two-phase regression has no
	// exact distribution for it; above about 6 is common practice, no source.
	F float64
}

// TwoPhase returns the least-squares broken line through the present samples,
// the break tried at every sample with at least margin present samples (2 or
// more) on either side; one pass. ok is false with too few samples.
func TwoPhase(t, x []float64, margin int) (fit BrokenLine, ok bool) {
	margin = max(margin, 2)
	var times, values []float64
	for i, v := range x {
		if !math.IsNaN(v) && !math.IsNaN(t[i]) {
			times = append(times, t[i])
			values = append(values, v)
		}
	}
	n := len(times)
	if n < 2*margin+1 || times[n-1] == times[0] {
		return BrokenLine{}, false
	}
	// Work in time scaled to −1 … 1 and values less their mean.
	centre, half := mid(times[0], times[n-1]), 0.5*(times[n-1]-times[0])
	mean := 0.0
	for _, v := range values {
		mean += v / float64(n)
	}
	var st, stt, sx, stx, sxx float64
	for i := range times {
		times[i] = (times[i] - centre) / half
		values[i] -= mean
		a, v := times[i], values[i]
		st, stt, sx, stx, sxx = st+a, stt+a*a, sx+v, stx+a*v, sxx+v*v
	}
	fn := float64(n)
	det := fn*stt - st*st
	slope := (fn*stx - st*sx) / det
	straight := math.Max(0, sxx-sx*sx/fn-slope*(stx-st*sx/fn))

	best := math.Inf(1)
	var bestSlope, bestKink, bestBreak, bestLevel float64
	// Sums over the samples after the break, from the last backwards.
	var un, ut, utt, ux, utx float64
	for k := n - 1; k >= margin; k-- {
		tau := times[k]
		// z = max(0, t − τ): sums of z, z², z·t, z·x
		sz := ut - tau*un
		szz := utt - 2*tau*ut + tau*tau*un
		szt := utt - tau*ut
		szx := utx - tau*ux
		if n-1-k >= margin {
			level, b, c, solved := solve3(fn, st, sz, stt, szt, szz, sx, stx, szx)
			if left := sxx - level*sx - b*stx - c*szx; solved && left < best {
				best, bestBreak, bestSlope, bestKink, bestLevel = left, tau, b, c, level+b*tau
			}
		}
		un, ut, utt, ux, utx = un+1, ut+tau, utt+tau*tau, ux+values[k], utx+tau*values[k]
	}
	if math.IsInf(best, 1) {
		return BrokenLine{}, false
	}
	best = math.Max(0, best)
	fit = BrokenLine{
		Break:       centre + half*bestBreak,
		Level:       bestLevel + mean,
		SlopeBefore: bestSlope / half,
		SlopeAfter:  (bestSlope + bestKink) / half,
	}
	free := math.Max(1, fn-4)
	fit.Scale = math.Sqrt(best / free)
	fit.F = math.Max(0, straight-best) / 2 / math.Max(best/free, 1e-24*math.Max(sxx, 1e-300))
	return fit, true
}

// solve3 solves the symmetric system with rows (a b c), (b d e), (c e f).
func solve3(a, b, c, d, e, f, r1, r2, r3 float64) (x, y, z float64, ok bool) {
	l21 := b / a
	l31 := c / a
	d2 := d - l21*b
	e2 := e - l21*c
	if !(d2 > 1e-12*d) {
		return 0, 0, 0, false
	}
	l32 := e2 / d2
	d3 := f - l31*c - l32*e2
	if !(d3 > 1e-12*f) {
		return 0, 0, 0, false
	}
	y2 := r2 - l21*r1
	y3 := r3 - l31*r1 - l32*y2
	z = y3 / d3
	y = (y2 - e2*z) / d2
	x = (r1 - b*y - c*z) / a
	return x, y, z, true
}

// Quantile returns the q-quantile (0 to 1) of the present values by linear
// interpolation between order statistics (type 7 of Hyndman and Fan 1996), NaN for
// none. scratch as in Median.
func Quantile(x []float64, q float64, scratch []float64) float64 {
	s := present(x, scratch)
	if len(s) == 0 || !(q >= 0 && q <= 1) {
		return math.NaN()
	}
	slices.Sort(s)
	at := q * float64(len(s)-1)
	i := min(int(at), len(s)-1)
	j := min(i+1, len(s)-1)
	return s[i] + (at-float64(i))*(s[j]-s[i])
}
