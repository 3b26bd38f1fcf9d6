package correct

import "sync"

// scratch hands out columns for what lives no longer than one run. They come from
// slabs that are used again by later runs, because clearing and collecting fresh
// memory costs more than the arithmetic. Nothing that goes into a step or a series
// may come from here.
type scratch struct {
	slabs [][]float64
	slab  int // the one in use
	used  int // of it
}

const slabLength = 1 << 17

var scratches = sync.Pool{New: func() any { return new(scratch) }}

// column returns n numbers that hold anything.
func (s *scratch) column(n int) []float64 {
	for {
		if s.slab == len(s.slabs) {
			s.slabs = append(s.slabs, make([]float64, max(slabLength, n)))
		}
		if room := s.slabs[s.slab]; s.used+n <= len(room) {
			out := room[s.used : s.used+n : s.used+n]
			s.used += n
			return out
		}
		s.slab, s.used = s.slab+1, 0
	}
}

// release gives the slabs back. One flight of unusual length does not keep its
// memory for good: more than 32 MiB are dropped.
func (s *scratch) release() {
	total := 0
	for _, slab := range s.slabs {
		total += len(slab)
	}
	s.slab, s.used = 0, 0
	if total > 4<<20 {
		s.slabs = nil
	}
	scratches.Put(s)
}

// filled is a column of v.
func (s *scratch) filled(n int, v float64) []float64 {
	x := s.column(n)
	fill(x, v)
	return x
}

// copied is a copy of x.
func (s *scratch) copied(x []float64) []float64 {
	y := s.column(len(x))
	copy(y, x)
	return y
}

// gather returns x at rows.
func (s *scratch) gather(x []float64, rows []int32) []float64 {
	out := s.column(len(rows))
	for k, i := range rows {
		out[k] = x[i]
	}
	return out
}

// interpolated returns x with its gaps of any length filled by straight lines over
// t, and the ends continued with the nearest value; all NaN where x holds nothing.
func (s *scratch) interpolated(t, x []float64) []float64 {
	out := s.copied(x)
	last := -1
	for i, v := range x {
		if !present(v) {
			continue
		}
		if last < 0 {
			fill(out[:i], v)
		}
		for j := last + 1; j < i && last >= 0; j++ {
			out[j] = x[last] + (v-x[last])*(t[j]-t[last])/(t[i]-t[last])
		}
		last = i
	}
	if last >= 0 {
		fill(out[last+1:], x[last])
	}
	return out
}
