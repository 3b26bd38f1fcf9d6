package parcel

// Span is a layer by the indices of its lowest and highest level.
type Span struct{ Bottom, Top int }

// Rises returns the layers through which x rises from a lowest to a highest value by at
// least strength, going up. A fall of less than ripple inside a layer does not end it.
// Of equal values the bottom is the highest and the top the lowest level. Inversions are
// the rises of temperature; ducts the rises of −M.
func Rises(dst []Span, x []float64, strength, ripple float64) []Span {
	if len(x) == 0 {
		return dst
	}
	low, high := 0, 0 // lowest value so far, and the highest after it
	keep := func() {
		if x[high]-x[low] >= strength && high > low {
			dst = append(dst, Span{low, high})
		}
	}
	for i := 1; i < len(x); i++ {
		switch {
		case x[i] > x[high]:
			high = i
		case x[high]-x[i] >= ripple && high > low:
			keep()
			low, high = i, i
		case x[i] <= x[low]:
			// Lower than the bottom: what rose between was smaller than a ripple.
			low, high = i, i
		}
	}
	keep()
	return dst
}
