// Package smooth holds the filters and robust statistics the checks and
// corrections are built from: running median, spread and mean, residuals from a
// local line, a zero-phase low-pass, gaps, interpolation, and robust fits.
//
// Columns are []float64 of one length; NaN is a missing value and is skipped, never
// treated as a number. Times are seconds, finite and never falling (CheckTimes
// says where they are not); they need not be evenly spaced. A window is a time on
// either side of a sample, both ends included. Results go into the caller's dst,
// which may not overlap the inputs unless a function says so. Scratch memory is
// held in a Workspace that a caller keeps between calls; a nil *Workspace is
// allowed and allocates.
package smooth

import (
	"fmt"
	"math"
	"sort"
)

// NormalConsistency turns a median absolute deviation into the standard deviation
// of a normal distribution: 1/Φ⁻¹(3/4).
const NormalConsistency = 1.4826022185056018

// Workspace is scratch memory; the zero value is ready.
type Workspace struct {
	window  []float64
	columns [4][]float64
	line    localLine
	spans   []Span
}

func (w *Workspace) orNew() *Workspace {
	if w == nil {
		return new(Workspace)
	}
	return w
}

func (w *Workspace) column(i, n int) []float64 {
	if cap(w.columns[i]) < n {
		w.columns[i] = make([]float64, n)
	}
	w.columns[i] = w.columns[i][:n]
	return w.columns[i]
}

// CheckTimes returns an error naming the first row (counted from 0) whose time is
// not finite or falls.
func CheckTimes(t []float64) error {
	for i, v := range t {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("time in row %d is not a number: leave rows without a time out", i)
		}
		if i > 0 && v < t[i-1] {
			return fmt.Errorf("time falls from %g s to %g s in row %d: sort the rows by time first", t[i-1], v, i)
		}
	}
	return nil
}

// Median returns the median of the values that are not NaN, NaN for none. It
// reorders scratch, which must be at least as long as x (nil allocates).
func Median(x, scratch []float64) float64 {
	s := present(x, scratch)
	return medianOf(s)
}

// MedianDeviation returns the median of the values that are present and the
// median absolute deviation from it, not scaled (multiply by NormalConsistency
// for a standard deviation). NaN for no values.
func MedianDeviation(x, scratch []float64) (median, deviation float64) {
	s := present(x, scratch)
	median = medianOf(s)
	for i, v := range s {
		s[i] = math.Abs(v - median)
	}
	return median, medianOf(s)
}

func present(x, scratch []float64) []float64 {
	if cap(scratch) < len(x) {
		scratch = make([]float64, 0, len(x))
	}
	s := scratch[:0]
	for _, v := range x {
		if !math.IsNaN(v) {
			s = append(s, v)
		}
	}
	return s
}

// medianOf reorders s.
func medianOf(s []float64) float64 {
	n := len(s)
	switch n {
	case 0:
		return math.NaN()
	case 1:
		return s[0]
	}
	upper := selectKth(s, n/2)
	if n%2 == 1 {
		return upper
	}
	lower := math.Inf(-1)
	for _, v := range s[:n/2] {
		lower = math.Max(lower, v)
	}
	return mid(lower, upper)
}

// mid avoids the overflow of a sum and keeps equal values exact.
func mid(a, b float64) float64 { return a + 0.5*(b-a) }

// selectKth puts the k-th smallest value at index k, smaller ones before it
// (quickselect with a median-of-three pivot; sorts what is left when it does not
// get smaller quickly, so it stays n log n on the worst input).
func selectKth(s []float64, k int) float64 {
	low, high := 0, len(s)-1
	for rounds := 0; low < high; rounds++ {
		if high-low < 12 || rounds > 40 {
			sort.Float64s(s[low : high+1])
			break
		}
		m := low + (high-low)/2
		if s[m] < s[low] {
			s[m], s[low] = s[low], s[m]
		}
		if s[high] < s[low] {
			s[high], s[low] = s[low], s[high]
		}
		if s[high] < s[m] {
			s[high], s[m] = s[m], s[high]
		}
		pivot := s[m]
		i, j := low, high
		for i <= j {
			for s[i] < pivot {
				i++
			}
			for s[j] > pivot {
				j--
			}
			if i <= j {
				s[i], s[j] = s[j], s[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return s[k]
		}
	}
	return s[k]
}
