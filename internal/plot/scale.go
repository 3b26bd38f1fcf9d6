package plot

import (
	"math"
	"strconv"
)

// Frame is a rectangle of the picture.
type Frame struct{ X, Y, W, H float64 }

// Scale maps values to coordinates on a straight line: Min to From, Max to To.
type Scale struct{ Min, Max, From, To float64 }

// At returns the coordinate of a value, NaN for NaN.
func (s Scale) At(v float64) float64 {
	return s.From + (v-s.Min)/(s.Max-s.Min)*(s.To-s.From)
}

// Inside returns the coordinate of a value, held within two units outside the scale, so
// that what runs off a panel is seen to do so.
func (s Scale) Inside(v float64) float64 {
	x := s.At(v)
	lo, hi := math.Min(s.From, s.To)-2, math.Max(s.From, s.To)+2
	switch {
	case x < lo:
		return lo
	case x > hi:
		return hi
	}
	return x
}

// Nice returns a scale that holds min to max with round ends and a step of 1, 2, 2.5 or 5
// times a power of ten, of which about parts lie between the ends.
func Nice(min, max float64, parts int, from, to float64) (s Scale, step float64) {
	if !(min <= max) || math.IsInf(min, 0) || math.IsInf(max, 0) {
		min, max = 0, 1
	}
	if max-min < 1e-9*math.Max(1, math.Abs(max)) {
		d := math.Max(1e-3, math.Abs(max)*0.05)
		min, max = min-d, max+d
	}
	step = niceStep((max - min) / float64(parts))
	return Scale{math.Floor(min/step+1e-9) * step, math.Ceil(max/step-1e-9) * step, from, to}, step
}

func niceStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 2.5, 5} {
		if x <= m*p*1.0001 {
			return m * p
		}
	}
	return 10 * p
}

// Ticks returns the multiples of step on the scale.
func (s Scale) Ticks(step float64) []float64 {
	var out []float64
	lo, hi := math.Min(s.Min, s.Max), math.Max(s.Min, s.Max)
	if !(step > 0) || (hi-lo)/step > 1000 {
		return nil
	}
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+1e-9*math.Abs(step); k++ {
		out = append(out, k*step)
	}
	return out
}

// Number writes a value with as many decimals as a step needs, with a true minus sign.
func Number(v, step float64) string {
	decimals := 0
	for s := step; decimals < 6 && math.Abs(s-math.Round(s)) > 1e-6; s *= 10 {
		decimals++
	}
	v = math.Round(v*math.Pow10(decimals)) / math.Pow10(decimals)
	if v < 0 {
		return "−" + strconv.FormatFloat(-v, 'f', decimals, 64)
	}
	return strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
}

// Range is the span of values seen so far. The zero value has seen nothing.
type Range struct {
	Min, Max float64
	Seen     bool
}

// Add widens the range to hold v; NaN and infinities are passed over.
func (r *Range) Add(v float64) {
	if v != v || math.IsInf(v, 0) {
		return
	}
	if !r.Seen {
		r.Min, r.Max, r.Seen = v, v, true
		return
	}
	r.Min, r.Max = math.Min(r.Min, v), math.Max(r.Max, v)
}
