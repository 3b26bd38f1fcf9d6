package comparison

import (
	"math"

	"leadline/internal/sounding"
)

// running sums differences up (Welford 1962, Technometrics 4, 419, from memory), so that a
// small spread about a large mean keeps its digits.
type running struct {
	n, inA, inB         int
	mean, about, square float64
	largest             float64
	row                 int
}

func (r *running) add(d float64, row int) {
	r.n++
	step := d - r.mean
	r.mean += step / float64(r.n)
	r.about += step * (d - r.mean)
	r.square += d * d
	if r.n == 1 || math.Abs(d) > math.Abs(r.largest) {
		r.largest, r.row = d, row
	}
}

// summed makes the statistics of one variable: over the profile and by layer.
func summed(v sounding.Variable, d, va, vb []float64, a, b *profile, o Options) Variable {
	layers := make([]running, len(o.Bounds)-1)
	var whole running
	for i := a.side.Ascent.From; i < a.side.Ascent.To; i++ {
		k := layerOf(pressureAt(a, b, i, o.SameRows), o.Bounds)
		if !math.IsNaN(va[i]) {
			whole.inA++
			if k >= 0 {
				layers[k].inA++
			}
		}
		if math.IsNaN(d[i]) {
			continue
		}
		whole.add(d[i], i)
		if k >= 0 {
			layers[k].add(d[i], i)
		}
	}
	for i := b.side.Ascent.From; i < b.side.Ascent.To; i++ {
		if math.IsNaN(vb[i]) {
			continue
		}
		whole.inB++
		p := math.NaN()
		if o.SameRows {
			p = pressureAt(a, b, i, true)
		} else if b.pressure != nil {
			p = b.pressure[i]
		}
		if k := layerOf(p, o.Bounds); k >= 0 {
			layers[k].inB++
		}
	}
	info := v.Info()
	out := Variable{Variable: v, Label: info.Label, Unit: info.Unit, Differences: d, Layers: make([]Statistics, len(layers))}
	out.Whole = whole.statistics(a, b, o.SameRows)
	out.Whole.Bottom, out.Whole.Top = sounding.NotSet, sounding.NotSet
	for k := range layers {
		out.Layers[k] = layers[k].statistics(a, b, o.SameRows)
		out.Layers[k].Bottom, out.Layers[k].Top = sounding.Number(o.Bounds[k]), sounding.Number(o.Bounds[k+1])
	}
	return out
}

func (r *running) statistics(a, b *profile, same bool) Statistics {
	s := Statistics{N: r.n, InA: r.inA, InB: r.inB, Mean: sounding.NotSet, Deviation: sounding.NotSet, RMS: sounding.NotSet,
		Largest: sounding.NotSet, LargestHPa: sounding.NotSet, LargestTime: sounding.NotSet}
	if r.n == 0 {
		return s
	}
	s.Mean, s.RMS = sounding.Number(r.mean), sounding.Number(math.Sqrt(r.square/float64(r.n)))
	if r.n > 1 {
		s.Deviation = sounding.Number(math.Sqrt(r.about / float64(r.n-1)))
	}
	s.Largest, s.LargestRow = sounding.Number(r.largest), r.row
	s.LargestHPa, s.LargestTime = sounding.Number(pressureAt(a, b, r.row, same)), sounding.Number(a.side.Values.Time[r.row])
	return s
}

// pressureAt is the pressure that puts row i of A into a layer, NaN where it is not known.
func pressureAt(a, b *profile, i int, same bool) float64 {
	if a.pressure != nil && !math.IsNaN(a.pressure[i]) {
		return a.pressure[i]
	}
	if same && b.pressure != nil {
		return b.pressure[i]
	}
	return math.NaN()
}

// layerOf returns the layer a pressure lies in, −1 for none. The lower bound, of higher
// pressure, belongs to the layer; the last layer has its top as well.
func layerOf(p float64, bounds []float64) int {
	for k := 0; k+1 < len(bounds); k++ {
		if p <= bounds[k] && (p > bounds[k+1] || k+2 == len(bounds) && p == bounds[k+1]) {
			return k
		}
	}
	return -1
}
