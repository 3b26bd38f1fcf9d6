package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// pairing is the two sensors over one heating cycle, on rows where both measure.
type pairing struct {
	from, to  int     // rows
	d, a, b   float64 // medians, %
	warm      bool
	ice       float64 // relative humidity at saturation over ice, NaN above freezing
	recentlyA bool    // sensor A was heated more recently
}

// twinHumidity compares two alternately heated humidity sensors where both measure,
// outside heating and recovery. Where they disagree it looks for evidence which of
// them is at fault: beyond the possible, near saturation over ice while the other is
// dry, not moving, noisy. Where there is none, both are doubted.
func twinHumidity(in *input) sounding.Report {
	b := in.begin(quality.TwinHumidity)
	set := &in.set.TwinHumidity
	both := humidities[1:]
	if in.cols.Get(sounding.HumidityA) == nil || in.cols.Get(sounding.HumidityB) == nil {
		return b.rep
	}
	for _, v := range both {
		why := ""
		if _, why = in.measures(v); why == "" && in.of(v).len() == 0 {
			why = "one of the sensors has no value in flight while it measures"
		}
		if why != "" {
			b.skipped(sounding.HumidityA, why)
			b.skipped(sounding.HumidityB, why)
			return b.rep
		}
	}
	cycles, covered := in.pairings()
	if len(cycles) == 0 {
		for _, v := range both {
			b.skipped(v, "the two never measure at once")
		}
		return b.rep
	}
	for _, v := range both {
		b.covered(v, covered)
	}
	// A running median over some cycles keeps one odd swap from counting.
	smoothed := make([]float64, len(cycles))
	scratch, window := make([]float64, 0, set.Swaps), make([]float64, 0, set.Swaps)
	for k := range cycles {
		window = window[:0]
		for j := max(0, k-set.Swaps/2); j <= min(len(cycles)-1, k+set.Swaps/2); j++ {
			window = append(window, cycles[j].d)
		}
		smoothed[k] = smooth.Median(window, scratch)
	}
	limit := func(k int) float64 {
		if cycles[k].warm {
			return set.Warm
		}
		return set.Cold
	}
	// Two sensors of a stated calibration may part by so much once in some hundred flights.
	apart := 0.0
	if s := in.ctx.Sheet; s != nil {
		apart = set.Sheet * math.Sqrt2 * s.Humidity.Calibration
	}
	// Runs of one class (doubtful or noteworthy) become one finding each.
	class := func(k int) int {
		switch x := math.Abs(smoothed[k]); {
		case x > max(set.Doubt*limit(k), apart):
			return 2
		case x > limit(k):
			return 1
		}
		return 0
	}
	for k := 0; k < len(cycles); {
		c := class(k)
		j := k + 1
		for j < len(cycles) && class(j) == c {
			j++
		}
		if c > 0 && in.time[cycles[j-1].to-1]-in.time[cycles[k].from] >= set.Least {
			b.disagreement(cycles[k:j], smoothed[k:j], limit(k), c == 2)
		}
		k = j
	}
	return b.rep
}

// pairings returns the cycles in which both sensors measure, and the rows where they do.
func (in *input) pairings() (cycles []pairing, covered []sounding.Span) {
	a, c := in.of(sounding.HumidityA), in.cols.Values(sounding.HumidityB)
	measuring, _ := in.measures(sounding.HumidityB)
	t, ice := in.cols.Values(sounding.Temperature), in.iceRelative()
	length := 60.0
	if in.ctx.Sheet != nil && in.ctx.Sheet.Humidity.Heating.Cycle > 0 {
		length = in.ctx.Sheet.Humidity.Heating.Cycle
	}
	heatedA, heatedB := in.cols.Values(sounding.HeatingA), in.cols.Values(sounding.HeatingB)
	lastA, lastB := math.Inf(-1), math.Inf(-1)
	watched := in.flight.From
	var d, va, vb, scratch []float64
	var p pairing
	start := math.Inf(-1)
	flush := func() {
		if len(d) >= 3 {
			p.d, p.a, p.b = smooth.Median(d, scratch), smooth.Median(va, scratch), smooth.Median(vb, scratch)
			p.recentlyA = lastA > lastB
			middle := (p.from + p.to) / 2
			p.ice = math.NaN()
			p.warm = true
			if t != nil && !math.IsNaN(t[middle]) {
				p.warm = t[middle]-zeroCelsius > in.set.TwinHumidity.WarmAbove
				p.ice = ice[middle]
			}
			cycles = append(cycles, p)
		}
		d, va, vb = d[:0], va[:0], vb[:0]
	}
	scratch = make([]float64, 0, 256)
	for i, x := range a.x {
		row := int(a.row[i])
		for ; watched < row; watched++ {
			if heatedA != nil && heatedA[watched] > 0.5 {
				lastA = in.time[watched]
			}
			if heatedB != nil && heatedB[watched] > 0.5 {
				lastB = in.time[watched]
			}
		}
		if !in.ascent.Contains(row) || math.IsNaN(c[row]) || measuring != nil && !measuring[row] {
			continue
		}
		if a.t[i]-start >= length {
			flush()
			start = a.t[i]
			p = pairing{from: row}
		}
		p.to = row + 1
		d, va, vb = append(d, x-c[row]), append(va, x), append(vb, c[row])
		if k := len(covered) - 1; k >= 0 && covered[k].To == row {
			covered[k].To = row + 1
		} else {
			covered = append(covered, sounding.Span{From: row, To: row + 1})
		}
	}
	flush()
	return cycles, covered
}

// disagreement reports one stretch of cycles in which the sensors disagree.
func (b *builder) disagreement(cycles []pairing, smoothed []float64, limit float64, doubt bool) {
	in := b.in
	span := sounding.Span{From: cycles[0].from, To: cycles[len(cycles)-1].to}
	size := smooth.Median(smoothed, nil)
	suspect, evidence := in.suspect(cycles, span, size)
	severity := sounding.Note
	if doubt {
		severity = sounding.Questionable
	}
	f := fact{severity: severity, spans: []sounding.Span{span}, measured: size, limit: limit, unit: "%"}
	f.sentence = fmt.Sprintf("humidity sensors A and B disagree %s: A minus B is %+.1f %% where both measure", in.place(span), size)
	if suspect == sounding.NoVariable {
		f.sentence += "; nothing tells which of them is right"
		if doubt {
			b.both(humidities[1:], f)
			return
		}
		f.variable = sounding.HumidityA
		f.unflagged = true
		b.find(f)
		return
	}
	letter := "A"
	if suspect == sounding.HumidityB {
		letter = "B"
	}
	f.sentence += fmt.Sprintf("; %s is suspected, for %s", letter, evidence)
	f.variable = suspect
	b.find(f)
}

// suspect weighs the evidence which sensor is at fault over a stretch of rows.
func (in *input) suspect(cycles []pairing, span sounding.Span, size float64) (sounding.Variable, string) {
	wetter, drier := sounding.HumidityA, sounding.HumidityB
	if size < 0 {
		wetter, drier = drier, wetter
	}
	a, b := in.character(sounding.HumidityA, span), in.character(sounding.HumidityB, span)
	pick := func(a, b bool) sounding.Variable { // exactly one of them
		switch {
		case a && !b:
			return sounding.HumidityA
		case b && !a:
			return sounding.HumidityB
		}
		return sounding.NoVariable
	}
	if v := pick(a.beyond > 5, b.beyond > 5); v != sounding.NoVariable {
		return v, "it reads beyond 0 to 100 %"
	}
	if v := pick(a.spread < 0.3 && b.spread > 2, b.spread < 0.3 && a.spread > 2); v != sounding.NoVariable {
		return v, "it hardly moves while the other follows the air"
	}
	noisy := in.set.TwinHumidity.Noisy
	if v := pick(a.rough > noisy*max(b.rough, 0.1), b.rough > noisy*max(a.rough, 0.1)); v != sounding.NoVariable {
		return v, "it is far noisier"
	}
	// Ice or water: near saturation over ice while the other is clearly below.
	iced, counted, recent := 0, 0, 0
	for _, c := range cycles {
		w, d := c.a, c.b
		if size < 0 {
			w, d = d, w
		}
		saturation := c.ice
		if math.IsNaN(saturation) {
			saturation = 100
		}
		counted++
		if w > 0.9*saturation && d < 0.85*saturation {
			iced++
		}
		if c.recentlyA == (drier == sounding.HumidityA) {
			recent++
		}
	}
	if 2*iced > counted {
		evidence := "it stays near saturation over ice while the other is dry"
		if 2*recent > counted {
			evidence += " and more recently heated"
		}
		return wetter, evidence
	}
	if z, k := in.riseOf(), in.tropopauseRow(); k >= 0 && z[(span.From+span.To)/2] > z[k]+500 {
		return wetter, "it is the wetter one in the stratosphere"
	}
	// At rest on the ground one of them may agree with the surface observation.
	if r := in.ctx.Record; r != nil && r.Surface.Humidity.Set() {
		ra, okA := in.restOf(sounding.HumidityA)
		rb, okB := in.restOf(sounding.HumidityB)
		if okA && okB && ra.before && rb.before {
			da, db := math.Abs(ra.value-r.Surface.Humidity.Value()), math.Abs(rb.value-r.Surface.Humidity.Value())
			near := in.set.TwinHumidity.Cold
			if v := pick(da > near && da > 2*db, db > near && db > 2*da); v != sounding.NoVariable {
				return v, "it is the one that was off from the surface observation before release"
			}
		}
	}
	return sounding.NoVariable, ""
}

// character is what one sensor's values are like over some rows.
type character struct {
	rough  float64 // spread of single samples about the line through their neighbours, %
	spread float64 // between the 20th and 80th of a hundred, %
	beyond int     // samples beyond 0 to 100 % and the sensor's margin
}

func (in *input) character(v sounding.Variable, span sounding.Span) character {
	s := in.of(v)
	lo, hi := 0, s.len()
	for lo < hi && int(s.row[lo]) < span.From {
		lo++
	}
	for hi > lo && int(s.row[hi-1]) >= span.To {
		hi--
	}
	x := s.x[lo:hi]
	if len(x) < 5 {
		return character{spread: math.NaN()}
	}
	margin := in.set.HumidityRange.Margin
	c := character{rough: chunkNoise(x, len(x))[0]}
	c.spread = smooth.Quantile(x, 0.8, nil) - smooth.Quantile(x, 0.2, nil)
	for _, value := range x {
		if value > 100+margin || value < -margin {
			c.beyond++
		}
	}
	return c
}
