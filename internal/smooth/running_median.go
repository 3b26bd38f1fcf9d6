package smooth

import "math"

// RunningMedian writes the median of the present values within halfWindow seconds
// either side of each sample, NaN where there are none. A sample that is missing
// itself still gets the median around it. The window is kept sorted, so a step
// costs O(log w) comparisons and a short move of memory.
func RunningMedian(dst, t, x []float64, halfWindow float64, w *Workspace) {
	slide(t, x, halfWindow, w.orNew(), func(i int, sorted []float64) {
		dst[i] = sortedMedian(sorted)
	})
}

// RunningMedianDeviation writes the running median and the running median
// absolute deviation from it (not scaled) into two columns.
func RunningMedianDeviation(median, deviation, t, x []float64, halfWindow float64, w *Workspace) {
	slide(t, x, halfWindow, w.orNew(), func(i int, sorted []float64) {
		m := sortedMedian(sorted)
		median[i] = m
		deviation[i] = sortedDeviation(sorted, m)
	})
}

// slide calls visit for each sample with the sorted present values around it.
func slide(t, x []float64, halfWindow float64, w *Workspace, visit func(i int, sorted []float64)) {
	if len(t) > 0 {
		slideRows(Span{0, len(t)}, t, x, halfWindow, w, visit)
	}
}

// slideRows is slide for some of the rows; the windows still reach beyond them.
func slideRows(rows Span, t, x []float64, halfWindow float64, w *Workspace, visit func(i int, sorted []float64)) {
	sorted := w.window[:0]
	first := windowStart(t, rows.First, halfWindow)
	next := first // rows in the window: first ≤ row < next
	for i := rows.First; i < rows.End; i++ {
		now := t[i]
		for next < len(t) && t[next] <= now+halfWindow {
			v := x[next]
			next++
			if math.IsNaN(v) {
				continue
			}
			// A value that leaves makes room for the one that enters; that one itself
			// may already be too old, after a jump in time, and leaves below.
			if old, leaves := leaving(t, x, &first, next-1, now-halfWindow); leaves {
				replaceSorted(sorted, old, v)
			} else {
				sorted = insertSorted(sorted, v)
			}
		}
		for {
			old, leaves := leaving(t, x, &first, next, now-halfWindow)
			if !leaves {
				break
			}
			sorted = removeSorted(sorted, old)
		}
		visit(i, sorted)
	}
	w.window = sorted
}

// leaving moves first past rows earlier than a time and returns the value of the
// first of them that was present.
func leaving(t, x []float64, first *int, next int, earliest float64) (value float64, leaves bool) {
	for *first < next && t[*first] < earliest {
		v := x[*first]
		*first++
		if !math.IsNaN(v) {
			return v, true
		}
	}
	return 0, false
}

// windowStart returns the first row within halfWindow before a row.
func windowStart(t []float64, row int, halfWindow float64) int {
	earliest := t[row] - halfWindow
	for row > 0 && t[row-1] >= earliest {
		row--
	}
	return row
}

// searchSorted returns the first index whose value is not below v.
func searchSorted(s []float64, v float64) int {
	low, n := 0, len(s)
	for n > 0 {
		half := n >> 1
		if s[low+half] < v {
			low += half + 1
			n -= half + 1
		} else {
			n = half
		}
	}
	return low
}

func insertSorted(s []float64, v float64) []float64 {
	k := searchSorted(s, v)
	s = append(s, v)
	copy(s[k+1:], s[k:])
	s[k] = v
	return s
}

func removeSorted(s []float64, v float64) []float64 {
	k := searchSorted(s, v)
	copy(s[k:], s[k+1:])
	return s[:len(s)-1]
}

// replaceSorted takes one value out and puts another in, moving only those between.
func replaceSorted(s []float64, old, v float64) {
	k := searchSorted(s, old)
	for k+1 < len(s) && s[k+1] < v {
		s[k] = s[k+1]
		k++
	}
	for k > 0 && s[k-1] > v {
		s[k] = s[k-1]
		k--
	}
	s[k] = v
}

func sortedMedian(s []float64) float64 {
	n := len(s)
	if n == 0 {
		return math.NaN()
	}
	if n%2 == 1 {
		return s[n/2]
	}
	return mid(s[n/2-1], s[n/2])
}

// sortedDeviation returns the median of |s − m| of sorted s: the distances below
// and above m are two sorted lists, whose middle is found by bisection.
func sortedDeviation(s []float64, m float64) float64 {
	n := len(s)
	if n == 0 {
		return math.NaN()
	}
	below := searchSorted(s, m) // s[:below] < m
	upper := kthDistance(s, m, below, n/2)
	if n%2 == 1 {
		return upper
	}
	return mid(kthDistance(s, m, below, n/2-1), upper)
}

// kthDistance returns the k-th smallest (from 0) of the two sorted lists
// m−s[below−1], m−s[below−2], … and s[below]−m, s[below+1]−m, …
func kthDistance(s []float64, m float64, below, k int) float64 {
	above := len(s) - below
	low, high := max(0, k+1-above), min(k+1, below) // how many of the k+1 come from below
	for low < high {
		a := (low + high) / 2
		b := k + 1 - a // from above, ≥ 1
		if m-s[below-1-a] < s[below+b-1]-m {
			low = a + 1
		} else {
			high = a
		}
	}
	a, b := low, k+1-low
	d := math.Inf(-1)
	if a > 0 {
		d = m - s[below-a]
	}
	if b > 0 {
		d = math.Max(d, s[below+b-1]-m)
	}
	return d
}
