package smooth

import "math"

// Hampel writes, for each sample, how far it lies from a straight line through
// its neighbours and the robust spread of such residuals around it, so that
// |residual| > k·scale picks spikes (Hampel 1974's identifier applied to local
// residuals; k of 3 to 5 is common practice). A steady gradient, such as an
// inversion, has residual zero.
//
// The line is the least-squares line through the present samples within
// halfWindow seconds on either side, without the sample itself, so a spike does
// not pull its own line. The scale is NormalConsistency times the median of the
// absolute residuals in the same window, but at least floor, which stands for the
// instrument's resolution and noise: quiet stretches then do not trigger. Spikes
// would still pull their neighbours' lines; so samples beyond reject·scale are
// left out of the lines, the largest of each window first, and the residuals are
// computed anew, four rounds at most. The residual of a sample that was left out
// is still its distance from the line. reject ≤ 0 means no rounds.
//
// NaN samples get a NaN residual; an infinite one is left out of the lines, and its
// residual is infinite. Fewer than 4 other samples in the window, or
// samples at one time only, give NaN for both: the test could not run there.
func Hampel(residual, scale, t, x []float64, halfWindow, floor, reject float64, w *Workspace) {
	w = w.orNew()
	n := len(t)
	if n == 0 {
		return
	}
	used := w.column(0, n) // x with rejected samples as NaN
	for i, v := range x {
		if math.IsInf(v, 0) {
			v = math.NaN()
		}
		used[i] = v
	}
	size := w.column(1, n)
	setScale := func(i int, sorted []float64) {
		scale[i] = math.NaN()
		if len(sorted) > 0 {
			scale[i] = math.Max(floor, NormalConsistency*sortedMedian(sorted))
		}
	}
	rows := append(w.spans[:0], Span{0, n})
	for round := 0; ; round++ {
		for _, r := range rows {
			// The lines reach halfWindow, the scales as far again.
			inner := widen(r, t, halfWindow)
			w.line.residuals(inner, residual, t, x, used, halfWindow)
			for i := inner.First; i < inner.End; i++ {
				size[i] = math.Abs(residual[i])
			}
			slideRows(widen(inner, t, halfWindow), t, size, halfWindow, w, setScale)
		}
		if reject <= 0 || round == 4 {
			break
		}
		rows = rejectLargest(rows, used, t, size, scale, halfWindow, reject)
		if len(rows) == 0 {
			break
		}
	}
	w.spans = rows
}

// widen extends a span by the rows within halfWindow of its ends.
func widen(s Span, t []float64, halfWindow float64) Span {
	s.First = windowStart(t, s.First, halfWindow)
	last := t[s.End-1] + halfWindow
	for s.End < len(t) && t[s.End] <= last {
		s.End++
	}
	return s
}

// rejectLargest removes from used the sample of largest |residual|/scale within
// halfWindow of itself, wherever that exceeds reject, and returns the removed rows
// in rows, those close to each other as one span.
func rejectLargest(rows []Span, used, t, size, scale []float64, halfWindow, reject float64) []Span {
	rows = rows[:0]
	for i := range used {
		if !(size[i] > reject*scale[i]) || math.IsNaN(used[i]) {
			continue
		}
		largest := true
		for j := i - 1; largest && j >= 0 && t[j] >= t[i]-halfWindow; j-- {
			largest = !(size[j] >= size[i]) || math.IsNaN(used[j])
		}
		for j := i + 1; largest && j < len(t) && t[j] <= t[i]+halfWindow; j++ {
			largest = !(size[j] > size[i]) || math.IsNaN(used[j])
		}
		if !largest {
			continue
		}
		used[i] = math.NaN()
		if k := len(rows) - 1; k >= 0 && t[rows[k].End-1] >= t[i]-4*halfWindow {
			rows[k].End = i + 1
		} else {
			rows = append(rows, Span{i, i + 1})
		}
	}
	return rows
}

// localLine keeps the running sums of the window.
type localLine struct {
	n                float64
	t, tt, x, tx     float64
	originT, originX float64
}

func (l *localLine) add(t, x, sign float64) {
	t -= l.originT
	x -= l.originX
	l.n += sign
	l.t += sign * t
	l.tt += sign * t * t
	l.x += sign * x
	l.tx += sign * t * x
}

// wild is the size of a value that, taken out of a running sum, may leave its
// rounding behind: the sum is formed anew.
const wild = 1e6

// residuals writes x minus the line through used around each sample of rows.
func (l *localLine) residuals(rows Span, dst, t, x, used []float64, halfWindow float64) {
	const refresh = 64 // rows after which the sums are formed anew, against drift
	first := windowStart(t, rows.First, halfWindow)
	next := first
	for i := rows.First; i < rows.End; i++ {
		now := t[i]
		fresh := (i-rows.First)%refresh == 0
		for next < len(t) && t[next] <= now+halfWindow {
			if v := used[next]; !fresh && !math.IsNaN(v) {
				l.add(t[next], v, 1)
			}
			next++
		}
		for first < next && t[first] < now-halfWindow {
			if v := used[first]; !fresh && !math.IsNaN(v) {
				l.add(t[first], v, -1)
				fresh = math.Abs(v-l.originX) > wild
			}
			first++
		}
		if fresh {
			*l = localLine{originT: now, originX: l.originX}
			if !math.IsNaN(x[i]) {
				l.originX = x[i]
			}
			for j := first; j < next; j++ {
				if v := used[j]; !math.IsNaN(v) {
					l.add(t[j], v, 1)
				}
			}
		}
		dst[i] = l.residual(now, x[i], !math.IsNaN(used[i]))
	}
}

// residual is that of a sample from the line through the others.
func (l *localLine) residual(t, x float64, inside bool) float64 {
	t -= l.originT
	x -= l.originX
	n, st, stt, sx, stx := l.n, l.t, l.tt, l.x, l.tx
	if inside {
		n--
		st -= t
		stt -= t * t
		sx -= x
		stx -= t * x
	}
	if n < 4 {
		return math.NaN()
	}
	spread := n*stt - st*st
	if !(spread > 1e-9*n*stt) {
		return math.NaN()
	}
	slope := (n*stx - st*sx) / spread
	return x - (sx+slope*(n*t-st))/n
}
