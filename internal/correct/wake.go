package correct

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// wake takes one-sided spikes out of the temperature high up, where the balloon's
// wake and the radiosonde's body warm or cool the air the sensor sees
// (docs/methods/wake.md). A quick look at differences decides whether there is
// anything to do; most flights have nothing.
func (f *flight) wake() {
	set := &f.set.Wake
	if !f.has(sounding.Temperature) {
		return
	}
	for _, l := range f.legs {
		if l.descent {
			continue
		}
		y := f.usableIn(sounding.Temperature, l)
		from := 0
		for from < l.len() && !(l.height[from] >= set.Above) {
			from++
		}
		if l.len()-from < 120 {
			f.notRun(quality.Wake, sounding.Temperature, "less than two minutes above %.0f m", set.Above)
			return
		}
		y, t := y[from:], l.time[from:]
		f.ran(quality.Wake, sounding.Temperature)
		if !spiky(t, y, set) {
			return
		}
		// The median is taken about a straight line: the air's own gradient across the
		// window is larger than most spikes.
		course, _ := f.localLine(t, y, 0.5*set.Window, f.set.General.LongestBreak)
		for i, x := range y {
			course[i] = x - course[i]
		}
		median, deviation := f.column(len(y)), f.column(len(y))
		smooth.RunningMedianDeviation(median, deviation, t, course, 0.5*set.Window, nil)
		for i, x := range y {
			median[i] += x - course[i]
		}
		up, down := 0, 0
		limit := f.column(len(y))
		for i, x := range y {
			limit[i] = max(set.Smallest, 3*smooth.NormalConsistency*deviation[i])
			switch d := x - median[i]; {
			case d > limit[i]:
				up++
			case d < -limit[i]:
				down++
			}
		}
		spikes := max(up, down)
		if float64(spikes) < set.SmallestShare*float64(len(y)) || spikes < 2*min(up, down) {
			return
		}
		f.removeSpikes(l, from, y, median, deviation, limit, up > down)
	}
}

// spiky tells whether a share of the samples stands away from the mean of those a
// few seconds before and after by more than the smallest spike.
func spiky(t, y []float64, set *Wake) bool {
	step := medianStep(t)
	k := max(1, int(math.Round(5/step)))
	out, count := 0, 0
	for i := k; i+k < len(y); i++ {
		d := y[i] - 0.5*(y[i-k]+y[i+k])
		if !present(d) {
			continue
		}
		count++
		if math.Abs(d) > set.Smallest {
			out++
		}
	}
	return count > 0 && float64(out) >= set.SmallestShare*float64(count)
}

// removeSpikes puts the edge of the undisturbed readings in the place of spikes. The
// samples between two spikes that touch are disturbed too: a sample counts as clean
// only where it is within the limit of the median.
func (f *flight) removeSpikes(l *leg, from int, y, median, deviation, limit []float64, warm bool) {
	old := f.now[sounding.Temperature]
	values := clone(old.values)
	noise := f.set.Generic.TemperatureNoise
	if f.sheet != nil {
		noise = f.sheet.Temperature.Noise
	}
	independent := constant(f.n, noise)
	if old.independent != nil {
		copy(independent, old.independent)
	}
	clean := f.copied(y)
	count, largest := 0, 0.0
	for i, x := range y {
		d := x - median[i]
		if !warm {
			d = -d
		}
		if d > limit[i] {
			clean[i] = math.NaN()
		}
	}
	// The skirts of a spike: neighbours that still lean the same way.
	for i := 1; i+1 < len(y); i++ {
		d := y[i] - median[i]
		if !warm {
			d = -d
		}
		if present(clean[i]) && d > 0.5*limit[i] && (!present(clean[i-1]) && present(y[i-1]) || !present(clean[i+1]) && present(y[i+1])) {
			clean[i] = math.NaN()
		}
	}
	filled := f.interpolated(l.time[from:], clean)
	for i, x := range y {
		if !present(x) || present(clean[i]) || !present(filled[i]) {
			continue
		}
		row := l.rows[from+i]
		values[row] = filled[i]
		// A third of what was taken away may have been the air's.
		independent[row] = rootSum(independent[row], deviation[i], 0.3*(x-filled[i]))
		if math.Abs(x-filled[i]) > math.Abs(largest) {
			largest = x - filled[i]
		}
		count++
	}
	if count == 0 {
		return
	}
	what := "cold"
	if warm {
		what = "warm"
	}
	f.step(sounding.Step{Method: "wake", Kind: sounding.StepCorrect, Variable: sounding.Temperature, Values: values, Independent: independent, Common: old.common,
		Coefficients: []sounding.Coefficient{numberOf("above", f.set.Wake.Above, "m", "settings"), numberOf("window", f.set.Wake.Window, "s", "settings"),
			numberOf("largest", largest, "K", "fitted")},
		Note: fmt.Sprintf("%s spikes of wake or body in %d samples above %.0f m bridged, the largest %+.1f K", what, count, f.set.Wake.Above, largest)})
}
