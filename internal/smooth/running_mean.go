package smooth

import "math"

// RunningMean writes the mean of the present values within halfWindow seconds
// either side of each sample, NaN where there are none. The window is cut off at
// the ends of the column, so on a slope the mean there leans inward.
func RunningMean(dst, t, x []float64, halfWindow float64) {
	const refresh = 64
	first, next := 0, 0
	var sum, origin float64
	var count int
	for i, now := range t {
		fresh := i%refresh == 0
		for next < len(t) && t[next] <= now+halfWindow {
			if v := x[next]; !math.IsNaN(v) {
				sum += v - origin
				count++
			}
			next++
		}
		for first < next && t[first] < now-halfWindow {
			if v := x[first]; !math.IsNaN(v) {
				sum -= v - origin
				count--
				fresh = fresh || !(math.Abs(v-origin) < wild)
			}
			first++
		}
		if fresh {
			sum, count = 0, 0
			if !math.IsNaN(x[i]) {
				origin = x[i]
			}
			for _, v := range x[first:next] {
				if !math.IsNaN(v) {
					sum += v - origin
					count++
				}
			}
		}
		if count == 0 {
			dst[i] = math.NaN()
		} else {
			dst[i] = origin + sum/float64(count)
		}
	}
}
