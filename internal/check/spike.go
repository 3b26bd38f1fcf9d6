package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// spike finds lone samples, one to three in a row, that stand off the line through
// their neighbours on both sides: a Hampel test on local-linear residuals, with a
// least size that covers the instrument's resolution and real thin layers. A
// departure of temperature that humidity answers with an opposite one is a layer of
// air and is spared.
func spike(in *input) sounding.Report {
	b := in.begin(quality.Spike)
	set := &in.set.Spike
	grow := math.Sqrt(max(1, in.interval))
	floor := func(v sounding.Variable, x float64) float64 {
		switch v {
		case sounding.Temperature:
			return set.Temperature * grow
		case sounding.Pressure:
			return (set.Pressure + set.PressureFraction*math.Abs(x)) * grow
		case sounding.HeightMSL:
			return set.Height * grow
		case sounding.WindU, sounding.WindV, sounding.VelocityEast, sounding.VelocityNorth:
			return set.Wind * grow
		}
		return set.Humidity * max(1, in.interval) // layers of one sample are real where samples stand far apart
	}
	single := func(s *samples) {
		hits := in.calmed(s.v, s.spikes(set, in.interval, floor))
		if s.v == sounding.Temperature {
			hits = in.unpaired(hits, s)
		}
		b.spikesOf([]sounding.Variable{s.v}, s.v, hits)
	}
	b.each(list(thermodynamic, humidities, heightsOf[:1]), single)
	u, v, from := in.wind()
	if from == nil {
		return b.rep
	}
	first, second := sounding.WindU, sounding.WindV
	if from[0] == sounding.VelocityEast {
		first, second = from[0], from[1]
	}
	// Groups of up to three stand off a line as well, where they stand out of the swing.
	wide := func(v sounding.Variable, x float64) float64 { return 4 * floor(v, x) }
	var hits []hit
	for _, s := range []*samples{in.column(first, u), in.column(second, v)} {
		hits = mergeHits(hits, mergeHits(s.lone(set, in.interval, floor), s.spikes(set, in.interval, wide)))
	}
	b.spikesOf(from, from[0], hits)
	for _, x := range from {
		b.covered(x, []sounding.Span{in.ascent})
	}
	return b.rep
}

// turning tells whether a row lies where climb turns to fall, which bends height and
// pressure sharply.
func (in *input) turning(v sounding.Variable, row int) bool {
	at := in.ctx.Events.Burst
	return at.Found && (v == sounding.Pressure || v == sounding.HeightMSL || v == sounding.Temperature && in.interval > 3) && math.Abs(in.time[row]-at.Time.Value()) < max(10, 8*in.interval)
}

// calmed drops hits of the descent that are not twice the limit: the load falls
// through layers several times as fast as it rose.
func (in *input) calmed(v sounding.Variable, hits []hit) []hit {
	kept := hits[:0]
	series := in.cols.Get(v)
	for _, h := range hits {
		if in.turning(v, h.row) {
			continue
		}
		// Undoing a sensor's lag brings noise and real edges with it, which the
		// uncertainty of the value says.
		if series != nil && series.Independent != nil && math.Abs(h.residual) <= in.set.Spike.K*series.Independent[h.row] {
			continue
		}
		if !in.descent.Contains(h.row) || math.Abs(h.residual) > 2*h.limit {
			kept = append(kept, h)
		}
	}
	return kept
}

// column makes samples of a computed column over the ascent: on the descent a load
// tumbles, and the swing of its velocity is real.
func (in *input) column(v sounding.Variable, x []float64) *samples {
	if in.whole(&sounding.Series{Values: x}, in.ascent) {
		return &samples{v: v, t: in.time[in.ascent.From:in.ascent.To], x: x[in.ascent.From:in.ascent.To], row: in.rowNumbers(in.ascent)}
	}
	n := in.ascent.Len()
	s := &samples{v: v, t: make([]float64, 0, n), x: make([]float64, 0, n), row: make([]int32, 0, n)}
	for i := in.ascent.From; i < in.ascent.To; i++ {
		if !math.IsNaN(x[i]) && (in.broken == nil || !in.broken[i]) {
			s.t, s.x, s.row = append(s.t, in.time[i]), append(s.x, x[i]), append(s.row, int32(i))
		}
	}
	return s
}

// hit is one sample that stands off.
type hit struct {
	row             int
	residual, limit float64
}

// mergeHits joins two lists by row, keeping the larger residual.
func mergeHits(a, b []hit) []hit {
	var out []hit
	for len(a) > 0 || len(b) > 0 {
		switch {
		case len(b) == 0 || len(a) > 0 && a[0].row < b[0].row:
			out, a = append(out, a[0]), a[1:]
		case len(a) == 0 || b[0].row < a[0].row:
			out, b = append(out, b[0]), b[1:]
		default:
			h := a[0]
			if math.Abs(b[0].residual) > math.Abs(h.residual) {
				h = b[0]
			}
			out, a, b = append(out, h), a[1:], b[1:]
		}
	}
	return out
}

// spikes returns the samples that stand off, in order.
func (s *samples) spikes(set *SpikeSettings, interval float64, floor func(sounding.Variable, float64) float64) []hit {
	const width = 3 // samples a spike may be wide
	n := len(s.x)
	if n < 2*width+3 {
		return nil
	}
	// Cheap look first: most samples never come near the least size, in a noisy series
	// near several spreads of its own second differences.
	rough := 2 * s.roughness()
	var hits []hit
	fixed := s.v != sounding.Pressure
	least := floor(s.v, 0)
	gap := 2.5 * max(interval, 1)
	scratch := make([]float64, 0, 64)
	for i := range s.x {
		if !fixed {
			least = floor(s.v, s.x[i])
		}
		bar := max(0.7*least, rough)
		candidate := false
		for m := 1; m <= width && !candidate; m++ {
			a, c := i-m, i+m
			if a < 0 || c >= n || s.t[c]-s.t[a] > float64(2*width)*gap { // at an end or beside a gap
				candidate = true
				break
			}
			candidate = math.Abs(s.x[i]-0.5*(s.x[a]+s.x[c])) > bar
		}
		if !candidate {
			continue
		}
		if r, limit, ok := s.departure(i, set, least, gap, scratch); ok {
			hits = append(hits, hit{int(s.row[i]), r, limit})
		}
	}
	return hits
}

// lone returns single samples that stand off the cubic through two neighbours on
// either side. It is for velocities: a radiosonde swings on its string with periods
// of several samples, and a cubic follows the swing where a line would not.
func (s *samples) lone(set *SpikeSettings, interval float64, floor func(sounding.Variable, float64) float64) []hit {
	n := len(s.x)
	if n < 5 {
		return nil
	}
	least := floor(s.v, 0)
	gap := 4 * 2.5 * max(interval, 1)
	off := make([]float64, n)
	for i := 2; i+2 < n; i++ {
		if s.t[i+2]-s.t[i-2] < gap {
			off[i] = s.x[i] - (4*(s.x[i-1]+s.x[i+1])-s.x[i-2]-s.x[i+2])/6
		}
	}
	var hits []hit
	scratch := make([]float64, 0, 64)
	for i := 2; i+2 < n; i++ {
		size := math.Abs(off[i])
		// A spike shows in its neighbours with two thirds and one sixth of its size.
		if size <= least || size < math.Abs(off[i-1]) || size < math.Abs(off[i+1]) || size < math.Abs(off[i-2]) || size < math.Abs(off[i+2]) {
			continue
		}
		lo, hi := i, i
		for lo > 2 && s.t[i]-s.t[lo-1] <= set.Window && i-lo < 30 {
			lo--
		}
		for hi < n-3 && s.t[hi+1]-s.t[i] <= set.Window && hi-i < 30 {
			hi++
		}
		scratch = scratch[:0]
		for j := max(2, lo); j <= hi; j++ {
			scratch = append(scratch, math.Abs(off[j]))
		}
		if limit := max(least, set.K*smooth.NormalConsistency*smooth.Median(scratch, nil)); size > limit {
			hits = append(hits, hit{int(s.row[i]), off[i], limit})
		}
	}
	return hits
}

// roughness is the robust spread of second differences, over some 400 of them.
func (s *samples) roughness() float64 {
	stride := max(1, len(s.x)/400)
	d := make([]float64, 0, 500)
	for i := 1; i+1 < len(s.x); i += stride {
		d = append(d, math.Abs(s.x[i]-0.5*(s.x[i-1]+s.x[i+1])))
	}
	return smooth.NormalConsistency * smooth.Median(d, nil)
}

// side returns the medians of time and value of up to five samples after (or before)
// i, and the slope there from up to five more. Samples beyond a gap do not count; ok is
// false with fewer than three.
func (s *samples) side(i int, after bool, gap float64) (t, x, slope float64, ok bool) {
	lo, hi := i, i
	if after {
		for lo, hi = i+1, i+1; hi < len(s.x) && hi < i+11 && s.t[hi]-s.t[hi-1] <= gap; hi++ {
		}
	} else {
		for lo > 0 && lo > i-10 && s.t[lo]-s.t[lo-1] <= gap {
			lo--
		}
	}
	if hi-lo < 3 {
		return 0, 0, 0, false
	}
	near, nearEnd, far, farEnd := lo, min(lo+5, hi), min(lo+5, hi), hi
	if !after {
		near, nearEnd, far, farEnd = max(lo, hi-5), hi, lo, max(lo, hi-5)
	}
	t, x = s.t[near+(nearEnd-near)/2], median5(s.x[near:nearEnd])
	if farEnd-far >= 3 {
		if dt := s.t[far+(farEnd-far)/2] - t; dt != 0 {
			slope = (median5(s.x[far:farEnd]) - x) / dt
		}
	}
	return t, x, slope, true
}

// median5 is the median of up to five values (lower middle of an even number).
func median5(x []float64) float64 {
	var a [5]float64
	n := copy(a[:], x)
	for i := 1; i < n; i++ {
		for j := i; j > 0 && a[j] < a[j-1]; j-- {
			a[j], a[j-1] = a[j-1], a[j]
		}
	}
	return a[(n-1)/2]
}

// departure tests sample i fully: residual from the line through the medians of
// five samples on either side against k robust spreads of such residuals around it
// and the least size; and it must lie beyond both sides, or a step would count.
func (s *samples) departure(i int, set *SpikeSettings, least, gap float64, scratch []float64) (residual, limit float64, ok bool) {
	n := len(s.x)
	ta, xa, sa, before := s.side(i, false, gap)
	tb, xb, sb, after := s.side(i, true, gap)
	var expected, low, high float64
	switch {
	case before && after:
		expected = xa + (s.t[i]-ta)/(tb-ta)*(xb-xa)
		// Neither side's own trend may lead to the sample either: a sharp inversion would.
		la, lb := xa+sa*(s.t[i]-ta), xb+sb*(s.t[i]-tb)
		low, high = min(xa, xb), max(xa, xb)
		low, high = min(low, max(min(la, lb), low-least/2)), max(high, min(max(la, lb), high+least/2))
	case before && s.v == sounding.Temperature && gap < 8:
		expected = xa + sa*(s.t[i]-ta)
		low, high = min(xa, expected), max(xa, expected)
		least *= 3 // only one side speaks; of other variables that says too little
	case after && s.v == sounding.Temperature && gap < 8:
		expected = xb + sb*(s.t[i]-tb)
		low, high = min(xb, expected), max(xb, expected)
		least *= 2
	default:
		return 0, 0, false
	}
	residual = s.x[i] - expected
	if math.Abs(residual) <= least || max(s.x[i]-high, low-s.x[i]) <= least/2 {
		return 0, 0, false
	}
	// The spread of single samples about the line through their neighbours, nearby.
	lo, hi := i, i
	for lo > 1 && s.t[i]-s.t[lo-1] <= set.Window && i-lo < 30 {
		lo--
	}
	for hi < n-2 && s.t[hi+1]-s.t[i] <= set.Window && hi-i < 30 {
		hi++
	}
	lo, hi = max(1, min(lo, i-5)), min(n-2, max(hi, i+5))
	scratch = scratch[:0]
	for j := lo; j <= hi; j++ {
		scratch = append(scratch, math.Abs(s.x[j]-0.5*(s.x[j-1]+s.x[j+1])))
	}
	limit = max(least, set.K*smooth.NormalConsistency*smooth.Median(scratch, nil)/math.Sqrt(1.5))
	return residual, limit, math.Abs(residual) > limit
}

// unpaired drops departures of temperature up to a few kelvin that humidity answers
// at once with an opposite one.
func (in *input) unpaired(hits []hit, s *samples) []hit {
	set := &in.set.Spike
	rh, _ := in.humid()
	if rh == nil {
		return hits
	}
	kept := hits[:0]
	for _, h := range hits {
		if math.Abs(h.residual) <= set.PairedK && h.row >= 4 && h.row+4 < in.n {
			around := 0.5 * (rh[h.row-4] + rh[h.row+4])
			if d := rh[h.row] - around; math.Abs(d) >= set.PairedHumidity && d*h.residual < 0 {
				continue
			}
		}
		kept = append(kept, h)
	}
	return kept
}

// spikesOf reports the spikes of one variable or pair: sure ones and doubtful ones.
func (b *builder) spikesOf(vs []sounding.Variable, v sounding.Variable, hits []hit) {
	var spans [3][]sounding.Span
	var largest [3]hit
	var count [3]int
	for _, h := range hits {
		severity := sounding.Questionable
		if math.Abs(h.residual) > b.in.set.Spike.Surely*h.limit {
			severity = sounding.Bad
		}
		s := spans[severity]
		if k := len(s) - 1; k >= 0 && h.row-s[k].To <= 1 {
			s[k].To = h.row + 1
		} else {
			spans[severity] = append(s, sounding.Span{From: h.row, To: h.row + 1})
			count[severity]++
		}
		if math.Abs(h.residual) > math.Abs(largest[severity].residual) {
			largest[severity] = h
		}
	}
	for severity := sounding.Questionable; severity <= sounding.Bad; severity++ {
		if count[severity] == 0 {
			continue
		}
		h := largest[severity]
		unit := unitOf(v)
		if v == sounding.WindSpeed {
			unit = "m/s"
		}
		where := b.in.place(sounding.Span{From: h.row, To: h.row + 1})
		sentence := fmt.Sprintf("%s stands %+.3g %s off its neighbours %s: a spike", name(v), h.residual, unit, where)
		if count[severity] > 1 {
			sentence = fmt.Sprintf("%s has %d spikes, the largest %+.3g %s %s", name(v), count[severity], h.residual, unit, where)
		}
		b.both(vs, fact{severity: severity, spans: spans[severity], measured: h.residual, limit: h.limit, unit: unit, sentence: sentence})
	}
}
