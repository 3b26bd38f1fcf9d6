package check

import (
	"fmt"
	"math"
	"slices"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// evaporation finds a thermometer that leaves cloud or rain wet and cools towards the
// wet bulb: humidity drops from near saturation, there temperature falls faster than a
// dry adiabat, though by no more than to the wet bulb, and comes back. Temperature and
// humidity are doubted from the drop until the return.
func evaporation(in *input) sounding.Report {
	b := in.begin(quality.Evaporation)
	set := &in.set.Evaporation
	s, z, ice := in.of(sounding.Temperature), in.riseOf(), in.iceRelative()
	humid, v := in.humid()
	if s.len() == 0 || z == nil || humid == nil {
		if in.cols.Get(sounding.Temperature) != nil {
			b.skipped(sounding.Temperature, "it needs temperature, humidity, and height or pressure")
		}
		return b.rep
	}
	var spans []sounding.Span
	worst := 0.0
	// static is temperature brought down dry-adiabatically: it does not fall with height in air.
	static := func(i int) float64 { return s.x[i] + dryLapse*z[s.row[i]] }
	share := func(row int) float64 { // of saturation, over ice below freezing
		x := humid[row]
		if ice[row] < 100 {
			x = max(x, 100*x/ice[row])
		}
		return x
	}
	for i := 1; i < s.len(); i++ {
		row := int(s.row[i])
		was := share(int(s.row[i-1]))
		if !in.ascent.Contains(row) || !(was >= set.Wet) || share(row) >= set.Wet {
			continue
		}
		// The sample before was wet, this one is not. How fast does it dry?
		dry := -1
		for j := i; j < s.len() && math.Abs(z[s.row[j]]-z[row]) <= set.Within; j++ {
			if share(int(s.row[j])) < was-set.Dries {
				dry = j
				break
			}
		}
		if dry < 0 {
			continue
		}
		// The largest fall of static temperature that begins about there. Above cloud
		// temperature often rises, so it is measured from the highest just before it.
		from := i - 1
		for from > 0 && s.t[i-1]-s.t[from-1] <= set.Begins {
			from--
		}
		peak, low := from, from
		for top, j := from, from; j < s.len() && s.t[j]-s.t[dry] <= set.Begins+set.Falls; j++ {
			if static(j) > static(top) {
				if s.t[j]-s.t[dry] > set.Begins {
					break
				}
				top = j
			}
			if static(top)-static(j) > static(peak)-static(low) {
				peak, low = top, j
			}
		}
		drop := static(peak) - static(low)
		depth := z[s.row[low]] - z[s.row[peak]]
		if drop <= set.Drop || depth <= 0 || 1000*(s.x[peak]-s.x[low])/depth <= set.Lapse || drop > in.mostCooling(s, humid, low)+set.Margin {
			continue
		}
		if z[s.row[peak]]-z[in.ascent.From] < in.set.Superadiabatic.Surface && drop <= in.set.Superadiabatic.Limit {
			continue // air over warm ground falls as fast
		}
		end, back := in.dried(s, low, static)
		if !back {
			continue // it stays there: air, or another fault
		}
		spans = append(spans, s.span(peak, end+1))
		worst = max(worst, drop)
		i = end
	}
	// A fall that no air makes needs no cloud beside it to tell: rain wets as well, and a
	// cloud may be thin. Humidity must still fall there. Medians of five: a spike is none.
	calm := make([]float64, s.len())
	for j := range calm {
		var five [5]float64
		k := 0
		for i := max(0, j-2); i <= min(s.len()-1, j+2); i++ {
			five[k] = static(i)
			for m := k; m > 0 && five[m] < five[m-1]; m-- {
				five[m], five[m-1] = five[m-1], five[m]
			}
			k++
		}
		calm[j] = five[k/2]
	}
	for j := 1; j < s.len(); j++ {
		if !in.ascent.Contains(int(s.row[j])) || z[s.row[j]]-z[in.ascent.From] < in.set.Superadiabatic.Surface {
			continue
		}
		peak := j
		for k := j - 1; k >= 0 && s.t[j]-s.t[k] <= set.Begins; k-- {
			if calm[k] > calm[peak] {
				peak = k
			}
		}
		if calm[peak]-calm[j] <= set.Surely || within(spans, int(s.row[j])) {
			continue
		}
		low := j
		for k := j; k < s.len() && s.t[k]-s.t[peak] <= set.Falls; k++ {
			if calm[k] < calm[low] {
				low = k
			}
		}
		drop := calm[peak] - calm[low]
		if atOnce(static, max(peak-2, 0), min(low+2, s.len()-1)) > drop/2 {
			continue // no thermometer cools in one step: it was stuck, or stepped
		}
		wettest, driest := 0.0, math.Inf(1)
		for k := peak; k >= 0 && s.t[peak]-s.t[k] <= set.Begins; k-- {
			wettest = max(wettest, share(int(s.row[k])))
		}
		for k := peak; k < s.len() && z[s.row[k]]-z[s.row[peak]] <= set.Within; k++ {
			driest = min(driest, share(int(s.row[k])))
		}
		if wettest-driest < set.Dries || drop > in.mostCooling(s, humid, low)+set.Margin {
			continue
		}
		if end, back := in.dried(s, low, static); back {
			spans = append(spans, s.span(peak, end+1))
			worst = max(worst, drop)
			j = end
		}
	}
	slices.SortFunc(spans, func(a, b sounding.Span) int { return a.From - b.From })
	b.covered(sounding.Temperature, []sounding.Span{in.ascent})
	if len(spans) > 0 {
		sentence := fmt.Sprintf("leaving cloud or rain the thermometer cools by %.1f K more than a dry adiabat %s and recovers: wet-bulb cooling", worst, in.place(spans[0]))
		if len(spans) > 1 {
			sentence = fmt.Sprintf("leaving cloud or rain the thermometer cools by up to %.1f K more than a dry adiabat, %d times %s: wet-bulb cooling", worst, len(spans), in.place(spans...))
		}
		b.find(fact{variable: sounding.Temperature, severity: sounding.Questionable, spans: spans, measured: worst, limit: set.Drop, unit: "K", sentence: sentence})
		b.find(fact{variable: v, severity: sounding.Questionable, spans: spans, measured: worst, limit: set.Drop, unit: "K", sentence: sentence})
	}
	return b.rep
}

// atOnce is the largest fall from one sample to the next between two of them.
func atOnce(static func(int) float64, from, to int) float64 {
	largest := 0.0
	for k := from + 1; k <= to; k++ {
		largest = max(largest, static(k-1)-static(k))
	}
	return largest
}

// within tells whether a row lies in one of the spans.
func within(spans []sounding.Span, row int) bool {
	for _, s := range spans {
		if s.Contains(row) {
			return true
		}
	}
	return false
}

// above returns the line through static temperature from one to two recovery times
// above a lowest sample, as its level there and slope, and the first sample it was made from.
func (in *input) above(s *samples, low int, static func(int) float64) (level, slope float64, first int, ok bool) {
	set := &in.set.Evaporation
	first = low
	for first < s.len() && s.t[first]-s.t[low] < set.Recovery {
		first++
	}
	var n, st, sx, stt, stx float64
	for j := first; j < s.len() && s.t[j]-s.t[low] < 2*set.Recovery; j++ {
		t, x := s.t[j]-s.t[low], static(j)
		n, st, sx, stt, stx = n+1, st+t, sx+x, stt+t*t, stx+t*x
	}
	if n < 3 || n*stt-st*st == 0 {
		return 0, 0, 0, false
	}
	slope = (n*stx - st*sx) / (n*stt - st*st)
	return (sx - slope*st) / n, slope, first, true
}

// recovered returns the sample at which static temperature is back within the margin
// of the line through what lies above, or nearest to it, and whether it comes back: by
// at least half of the drop, within the recovery time.
func (in *input) recovered(s *samples, low int, drop float64, static func(int) float64) (end int, back bool) {
	level, slope, first, ok := in.above(s, low, static)
	if !ok || level-static(low) < drop/2 { // the line above leads straight to the lowest: no recovery
		return low, false
	}
	nearest, best := math.Inf(1), low
	for j := low; j < first; j++ {
		short := level + slope*(s.t[j]-s.t[low]) - static(j)
		if short <= in.set.Evaporation.Margin {
			return j, true
		}
		if short < nearest {
			nearest, best = short, j
		}
	}
	// The air above may bend: the nearest it comes is the end, if it comes near at all.
	return best, nearest < 0.3*(level-static(low))
}

// dried returns the sample by which a wet thermometer is dry, and whether it dries: it
// lacks enough against the line above, and half of that comes back within the recovery time.
// A film dries by halves, and the line above is not the air's own further down, so
// only the half time is taken from it.
func (in *input) dried(s *samples, low int, static func(int) float64) (end int, dries bool) {
	set := &in.set.Evaporation
	level, slope, first, ok := in.above(s, low, static)
	if !ok {
		return low, false
	}
	short := func(j int) float64 { return level + slope*(s.t[j]-s.t[low]) - static(j) }
	deep := short(low)
	if deep < set.Lacks {
		return low, false
	}
	half := low
	for half < first && short(half) > deep/2 {
		half++
	}
	if half == first {
		return low, false
	}
	lasts := min(max((s.t[half]-s.t[low])*math.Log2(max(2, deep/set.Remains)), set.Shortest), set.Recovery)
	end = half
	for end+1 < first && s.t[end]-s.t[low] < lasts {
		end++
	}
	return end, true
}

// mostCooling is by how much a wet thermometer can stand below the air: T less the wet
// bulb, found from the driest humidity of the half minute around; infinity where there
// is none. The psychrometer equation is WMO-No. 8's over water.
func (in *input) mostCooling(s *samples, humid []float64, low int) float64 {
	p := in.pressureOf()
	if p == nil {
		return math.Inf(1)
	}
	driest, temperature, pressure := math.Inf(1), 0.0, 0.0
	for j := low; j >= 0 && s.t[low]-s.t[j] <= 15; j-- {
		temperature = max(temperature, s.x[j])
	}
	for j := low; j < s.len() && s.t[j]-s.t[low] <= 30; j++ {
		if h := humid[s.row[j]]; h < driest {
			driest, pressure = h, p[s.row[j]]
		}
		temperature = max(temperature, s.x[j])
	}
	if math.IsInf(driest, 1) || !(pressure > 0) {
		return math.Inf(1)
	}
	formula := in.formula()
	e := formula.FromRelative(max(driest-5, 0), temperature)
	lower, upper := 0.0, 40.0
	for range 20 {
		d := (lower + upper) / 2
		wet := temperature - d
		if formula.OverWater(wet)-psychrometer*(1+0.000944*(wet-zeroCelsius))*pressure*d > e {
			lower = d
		} else {
			upper = d
		}
	}
	return upper
}

// psychrometer is the coefficient of a ventilated psychrometer over water in 1/K
// (WMO-No. 8, from memory).
const psychrometer = 6.53e-4
