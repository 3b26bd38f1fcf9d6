package wind

import (
	"fmt"
	"math"
	"sync"

	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// declaredString is the string's length by the launch record, else by the sheet.
func (b *blow) declaredString() (length float64, source, field string) {
	if r := b.ctx.Record; r != nil && r.Balloon.String.Set() {
		return r.Balloon.String.Value(), "launch record", "balloon.string_m"
	}
	if s := b.ctx.Sheet; s != nil && s.String > 0 {
		return s.String, "sheet " + s.Name, ""
	}
	return math.NaN(), "", ""
}

// cutoff decides the filter of a leg: the cut-off and the period that must be gone.
func (b *blow) cutoff(s swing, length float64) (cut, stop float64, why string) {
	set := &b.set.Filter
	switch {
	case s.found:
		stop, why = s.period, "pendulum found in the spectrum"
	case length > 0:
		stop, why = PendulumPeriod(length), "declared string"
	default:
		return set.DefaultCutoff, set.DefaultCutoff / set.PeriodFactor, "settings"
	}
	stop = math.Round(10*stop) / 10 // nothing is known better, and equal filters are made once
	cut = min(set.LongestCutoff, max(set.ShortestCutoff, set.PeriodFactor*stop))
	return cut, min(stop, cut/1.5), why
}

// filter finds the pendulum and takes it out with a zero-phase low-pass whose
// cut-off follows it (docs/methods/pendulum.md).
func (b *blow) filter() {
	if s := b.ctx.Sheet; s != nil && s.Contains("wind-filter") {
		b.notRun(quality.Pendulum, sounding.WindU, "the source's values are already filtered")
		return
	}
	length, origin, field := b.declaredString()
	u, v := constant(b.n, math.NaN()), constant(b.n, math.NaN())
	independent, common := append([]float64(nil), b.independent...), append([]float64(nil), b.commonU...)
	resolution := make([]float64, b.n)
	var coefficients []sounding.Coefficient
	var note string
	var work smooth.Workspace
	ascent := swing{}
	for k, l := range b.legs {
		lu, lv := gather(b.u, l.rows), gather(b.v, l.rows)
		s := findSwing(l.time, lu, lv, &b.set.Pendulum)
		if k == 0 && !l.descent {
			ascent = s
			b.stringFinding(s, length, origin, field)
		}
		if l.descent && !s.found && !ascent.found && !(length > 0) {
			s = ascent
		}
		cut, stop, why := b.cutoff(s, length)
		made, err := designed(cut, stop, b.set.Filter.Attenuation)
		if err != nil {
			b.notRun(quality.Pendulum, sounding.WindU, "no filter could be made: %v", err)
			return
		}
		low, half := made.low, made.half
		fu, fv := make([]float64, len(lu)), make([]float64, len(lu))
		gain := make([]float64, len(lu))
		grid := newGrid(l.time)
		gt, gu, gv := grid.times(l.time), grid.spread(lu), grid.spread(lv)
		ggain := make([]float64, len(gt))
		out := make([]float64, len(gt))
		low.Apply(out, ggain, gt, gu, 0.5*cut, &work)
		grid.collect(fu, out)
		low.Apply(out, nil, gt, gv, 0.5*cut, &work)
		grid.collect(fv, out)
		grid.collect(gain, ggain)
		spread := residualSpread(l.time, lu, lv, fu, fv, cut)
		if above := hung(s, length); above > 0 {
			late := b.later(l, above)
			lowered(fu, l.time, late)
			lowered(fv, l.time, late)
			coefficients = append(coefficients, numberOf("string_"+legName(l), above, "m", why))
		}
		step := usualStep(l.time)
		for j, i := range l.rows {
			u[i], v[i] = fu[j], fv[j]
			if fu[j] != fu[j] {
				continue
			}
			// Full leak at the ends, where the kernel is short and the swing passes.
			leak := max(b.set.Filter.Representativeness, math.Sqrt(max(0, gain[j])))
			if gain[j] < 0.3 {
				leak = b.set.Filter.Representativeness
			}
			independent[i] = hypot(b.independent[i]*math.Sqrt(gain[j]), leak*spread[j])
			resolution[i] = half
			if gain[j] > 0.5 {
				resolution[i] = 2 * step
			}
		}
		name := legName(l)
		coefficients = append(coefficients,
			numberOf("cut_off_"+name, cut, "s", why), numberOf("resolution_"+name, half, "s", "computed"),
			numberOf("noise_gain_"+name, math.Sqrt(gain[len(gain)/2]), "1", "computed"))
		if s.found {
			coefficients = append(coefficients, numberOf("pendulum_period_"+name, s.period, "s", "fitted"),
				numberOf("pendulum_amplitude_"+name, s.amplitude, "m s-1", "fitted"))
		}
		if note == "" {
			note = fmt.Sprintf("low-pass with a cut-off of %.0f s (%s); half power at %.0f s", cut, why, half)
			if s.found {
				note = fmt.Sprintf("pendulum of %.1f s and %.1f m/s removed; %s", s.period, s.amplitude, note)
			}
		}
	}
	b.pair("pendulum", sounding.StepFilter, u, v, independent, common, resolution, coefficients, note)
	b.ran(quality.Pendulum, sounding.WindU)
	b.ran(quality.Pendulum, sounding.WindV)
}

// stringFinding compares the swing found with the declared string.
func (b *blow) stringFinding(s swing, length float64, origin, field string) {
	if !s.found || !(length > 0) {
		return
	}
	expected := PendulumPeriod(length)
	off := s.period/expected - 1
	if math.Abs(off) <= b.set.Pendulum.DeclaredFraction {
		return
	}
	b.finding(sounding.Finding{Check: quality.Pendulum, Variable: sounding.NoVariable, Severity: sounding.Note, Field: field,
		Measured: sounding.Number(s.period), Limit: sounding.Number(expected), Unit: "s",
		Sentence: fmt.Sprintf("the radiosonde swings with %.1f s, as on a string of %.0f m; the %s gives %.0f m (%.1f s)",
			s.period, StringLength(s.period), origin, length, expected)})
}

// residualSpread is the rms, over both components, of what the filter took away in a
// window of ±cut around each sample.
func residualSpread(t, u, v, fu, fv []float64, cut float64) []float64 {
	n := len(t)
	out := make([]float64, n)
	sum, count := 0.0, 0.0
	low, high := 0, 0
	square := func(i int) (float64, float64) {
		a, c := u[i]-fu[i], v[i]-fv[i]
		if a != a || c != c {
			return 0, 0
		}
		return a*a + c*c, 2
	}
	for i := range n {
		for high < n && t[high] <= t[i]+cut {
			s, c := square(high)
			sum, count = sum+s, count+c
			high++
		}
		for low < n && t[low] < t[i]-cut {
			s, c := square(low)
			sum, count = sum-s, count-c
			low++
		}
		if count > 0 {
			out[i] = math.Sqrt(max(0, sum) / count)
		}
	}
	return out
}

// design is a filter with the period at which half the power passes.
type design struct {
	low  *smooth.LowPass
	half float64
}

var (
	designs     = map[[3]float64]design{}
	designsLock sync.Mutex
)

// designed makes a filter, or hands out the one made before for the same numbers.
func designed(cut, stop, attenuation float64) (design, error) {
	key := [3]float64{cut, stop, attenuation}
	designsLock.Lock()
	defer designsLock.Unlock()
	if d, ok := designs[key]; ok {
		return d, nil
	}
	low, err := smooth.NewKaiser(cut, stop, attenuation)
	if err != nil {
		return design{}, err
	}
	d := design{low, halfPower(low, cut)}
	if len(designs) < 2000 {
		designs[key] = d
	}
	return d, nil
}

// halfPower is the period at which half the power passes: like the filter's own
// HalfPowerPeriod to 0.01 s, with a few evaluations of the response.
func halfPower(low *smooth.LowPass, cut float64) float64 {
	a, b := cut, 2*cut
	fa, fb := low.Response(a)-math.Sqrt2/2, low.Response(b)-math.Sqrt2/2
	for range 12 {
		if fb == fa {
			break
		}
		c := min(max(b-fb*(b-a)/(fb-fa), 0.5*cut), 4*cut)
		if math.Abs(c-b) < 1e-3 {
			return c
		}
		a, fa = b, fb
		b, fb = c, low.Response(c)-math.Sqrt2/2
	}
	return b
}

// grid lays rows on an even grid of times where they fit one, so that lost frames do
// not make a filter treat the whole flight as unevenly spaced.
type grid struct {
	place []int32 // index of each row on the grid; nil where the rows fit none
	n     int
	start float64
	step  float64
}

func newGrid(t []float64) grid {
	step := usualStep(t)
	g := grid{n: len(t)}
	if !(step > 0) {
		return g
	}
	place := make([]int32, len(t))
	for i, x := range t {
		k := math.Round((x - t[0]) / step)
		if math.Abs((x-t[0])-k*step) > 0.01*step || k > float64(2*len(t)) || i > 0 && int32(k) <= place[i-1] {
			return g
		}
		place[i] = int32(k)
	}
	return grid{place: place, n: int(place[len(t)-1]) + 1, start: t[0], step: step}
}

// spread lays values on the grid, NaN where no row is.
func (g grid) spread(x []float64) []float64 {
	if g.place == nil {
		return x
	}
	out := constant(g.n, math.NaN())
	for i, k := range g.place {
		out[k] = x[i]
	}
	return out
}

// times are those of the grid, or t where there is none.
func (g grid) times(t []float64) []float64 {
	if g.place == nil {
		return t
	}
	out := make([]float64, g.n)
	for k := range out {
		out[k] = g.start + float64(k)*g.step
	}
	return out
}

// collect takes the rows back off the grid.
func (g grid) collect(dst, x []float64) {
	if g.place == nil {
		copy(dst, x)
		return
	}
	for i, k := range g.place {
		dst[i] = x[k]
	}
}
