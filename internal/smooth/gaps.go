package smooth

import (
	"iter"
	"math"
	"slices"
	"sort"
)

// Span is a run of rows, First ≤ row < End.
type Span struct{ First, End int }

// Segments returns the runs of rows within which present values (of x, not NaN)
// follow each other by at most maxGap seconds. Each run starts and ends with a
// present value; missing rows inside short gaps belong to it, those in long gaps
// to none.
func Segments(t, x []float64, maxGap float64) []Span {
	return slices.Collect(segments(t, x, maxGap))
}

func segments(t, x []float64, maxGap float64) iter.Seq[Span] {
	return func(yield func(Span) bool) {
		first, last := -1, -1
		for i, v := range x {
			if math.IsNaN(v) {
				continue
			}
			if last < 0 {
				first = i
			} else if t[i]-t[last] > maxGap {
				if !yield(Span{first, last + 1}) {
					return
				}
				first = i
			}
			last = i
		}
		if last >= 0 {
			yield(Span{first, last + 1})
		}
	}
}

// Gaps returns the holes between the Segments: Span.First is the last row present
// before the hole and Span.End−1 the first present after it, so t[End−1] − t[First]
// is its length in seconds.
func Gaps(t, x []float64, maxGap float64) []Span {
	segments := Segments(t, x, maxGap)
	var all []Span
	for i := 1; i < len(segments); i++ {
		all = append(all, Span{segments[i-1].End - 1, segments[i].First + 1})
	}
	return all
}

// Interpolate returns x at a time, linear between the nearest present values
// before and after. It returns NaN, never an end value, outside the range of the
// present values, for a NaN time, and where the two values are more than maxGap
// seconds apart. Several values at one time: the last is used after, the first
// before it, and the last at that time itself.
func Interpolate(t, x []float64, at, maxGap float64) float64 {
	if math.IsNaN(at) {
		return math.NaN()
	}
	// The first row later than at.
	after := sort.Search(len(t), func(i int) bool { return t[i] > at })
	before := after - 1
	for before >= 0 && math.IsNaN(x[before]) {
		before--
	}
	if before < 0 {
		return math.NaN()
	}
	if t[before] == at {
		return x[before]
	}
	for after < len(t) && math.IsNaN(x[after]) {
		after++
	}
	if after == len(t) || t[after]-t[before] > maxGap {
		return math.NaN()
	}
	return x[before] + (x[after]-x[before])*((at-t[before])/(t[after]-t[before]))
}

// InterpolateColumn writes Interpolate for each time of at, which must not fall;
// one pass over both columns. dst is as long as at.
func InterpolateColumn(dst, at, t, x []float64, maxGap float64) {
	before, after := -1, 0 // present rows around the time
	next := 0
	for i, now := range at {
		if math.IsNaN(now) {
			dst[i] = math.NaN()
			continue
		}
		for next < len(t) && t[next] <= now {
			if !math.IsNaN(x[next]) {
				before = next
			}
			next++
		}
		after = max(after, next)
		for after < len(t) && math.IsNaN(x[after]) {
			after++
		}
		switch {
		case before < 0:
			dst[i] = math.NaN()
		case t[before] == now:
			dst[i] = x[before]
		case after >= len(t) || t[after]-t[before] > maxGap:
			dst[i] = math.NaN()
		default:
			dst[i] = x[before] + (x[after]-x[before])*((now-t[before])/(t[after]-t[before]))
		}
	}
}
