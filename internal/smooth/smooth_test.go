package smooth

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
	"testing"

	"leadline/internal/authority"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// Computed check values; the definition of each stands in its row.
func TestAuthority(t *testing.T) {
	sample := []float64{1.0, 1.1, 0.9, 1.05, 0.95, 5.0, 1.0}
	// The running mean of one densely sampled wave measures the boxcar's response.
	boxcar := func(window, period float64) float64 {
		step := window / 10001
		n := 30003
		times, wave, mean := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range times {
			times[i] = float64(i-n/2) * step
			wave[i] = math.Cos(2 * math.Pi * times[i] / period)
		}
		// 10,001 samples that stand for a step each fill the window.
		RunningMean(mean, times, wave, window/2-step/4)
		return math.Abs(mean[n/2])
	}
	answers := map[string]func() float64{
		"QC-18": func() float64 {
			_, deviation := MedianDeviation(sample, nil)
			return NormalConsistency * deviation
		},
		"QC-19": func() float64 {
			median, deviation := MedianDeviation(sample, nil)
			// The row uses the rounded 1.4826.
			return (5 - median) / (1.4826 * deviation)
		},
		"WND-08": func() float64 { return boxcar(10, 15) },
		"WND-09": func() float64 { return boxcar(20, 15) },
		"WND-10": func() float64 { return boxcar(10, 40) },
		"WND-11": func() float64 {
			low, high := 0.3, 0.6
			for high-low > 1e-7 {
				f := 0.5 * (low + high)
				if boxcar(10, 10/f) > math.Sqrt2/2 {
					low = f
				} else {
					high = f
				}
			}
			return low
		},
	}
	authority.Run(t, "smooth", func(t *testing.T, row authority.Row) {
		answer, ok := answers[row.ID]
		if !ok {
			t.Fatalf("no answer for %s", row.ID)
		}
		row.Check(t, answer())
	})
}

// column draws times with jitter, repeats and gaps, and values with missing ones.
func column(t *rapid.T, longest int) (times, x []float64) {
	n := rapid.IntRange(0, longest).Draw(t, "rows")
	now := 0.0
	for range n {
		now += rapid.SampledFrom([]float64{0, 0.3, 1, 1, 1, 2.5, 40}).Draw(t, "step")
		times = append(times, now)
		v := float64(rapid.IntRange(-50, 50).Draw(t, "value")) / 8
		if rapid.IntRange(0, 5).Draw(t, "missing") == 0 {
			v = math.NaN()
		}
		x = append(x, v)
	}
	return times, x
}

func naiveWindow(times, x []float64, i int, half float64) []float64 {
	var w []float64
	for j := range times {
		if times[j] >= times[i]-half && times[j] <= times[i]+half && !math.IsNaN(x[j]) {
			w = append(w, x[j])
		}
	}
	return w
}

func naiveMedian(w []float64) float64 {
	s := slices.Clone(w)
	sort.Float64s(s)
	if len(s) == 0 {
		return math.NaN()
	}
	if len(s)%2 == 1 {
		return s[len(s)/2]
	}
	return (s[len(s)/2-1] + s[len(s)/2]) / 2
}

func same(a, b, tolerance float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= tolerance
}

// The running statistics against their definition, sample by sample.
func TestRunningStatisticsAgainstDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		times, x := column(t, 60)
		half := rapid.SampledFrom([]float64{0, 1, 3, 10}).Draw(t, "half window")
		n := len(x)
		median, deviation, mean, alone := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		w := new(Workspace)
		RunningMedianDeviation(median, deviation, times, x, half, w)
		RunningMedian(alone, times, x, half, w)
		RunningMean(mean, times, x, half)
		for i := range x {
			window := naiveWindow(times, x, i, half)
			m := naiveMedian(window)
			distances := make([]float64, len(window))
			sum := 0.0
			for j, v := range window {
				distances[j] = math.Abs(v - m)
				sum += v
			}
			if !same(median[i], m, 1e-12) || !same(alone[i], m, 1e-12) {
				t.Fatalf("row %d: median %g and %g, want %g of %v", i, median[i], alone[i], m, window)
			}
			if want := naiveMedian(distances); !same(deviation[i], want, 1e-12) {
				t.Fatalf("row %d: deviation %g, want %g of %v", i, deviation[i], want, window)
			}
			if want := sum / float64(len(window)); !same(mean[i], want, 1e-10) {
				t.Fatalf("row %d: mean %g, want %g", i, mean[i], want)
			}
		}
	})
}

// Against gonum on complete data, and the definition with missing values.
func TestMedianAndQuantile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, x := column(t, 400)
		var present []float64
		for _, v := range x {
			if !math.IsNaN(v) {
				present = append(present, v)
			}
		}
		before := slices.Clone(x)
		if got := Median(x, nil); !same(got, naiveMedian(present), 1e-12) {
			t.Fatalf("median %g, want %g", got, naiveMedian(present))
		}
		for i := range x {
			if !same(x[i], before[i], 0) {
				t.Fatal("the caller's column was changed")
			}
		}
		sort.Float64s(present)
		q := rapid.Float64Range(0, 1).Draw(t, "q")
		got := Quantile(x, q, nil)
		if len(present) == 0 {
			if !math.IsNaN(got) {
				t.Fatalf("quantile %g of nothing", got)
			}
			return
		}
		if got < stat.Quantile(0, stat.Empirical, present, nil) || got > present[len(present)-1] {
			t.Fatalf("quantile %g outside the values", got)
		}
		at := q * float64(len(present)-1)
		i := min(int(at), len(present)-1)
		j := min(i+1, len(present)-1)
		if want := present[i] + (at-float64(i))*(present[j]-present[i]); !same(got, want, 1e-12) {
			t.Fatalf("quantile %g, want %g", got, want)
		}
	})
	// Orders that trouble quickselect.
	for name, value := range map[string]func(i int) float64{
		"rising": func(i int) float64 { return float64(i) }, "falling": func(i int) float64 { return float64(-i) },
		"equal": func(int) float64 { return 3 }, "sawtooth": func(i int) float64 { return float64(i % 7) },
		"organ pipe": func(i int) float64 { return math.Min(float64(i), float64(5000-i)) },
	} {
		x := make([]float64, 5001)
		for i := range x {
			x[i] = value(i)
		}
		if got, want := Median(x, nil), naiveMedian(x); got != want {
			t.Errorf("%s: median %g, want %g", name, got, want)
		}
	}
}

func noisyColumn(n int, seed uint64) (times, x []float64) {
	r := rand.New(rand.NewPCG(seed, 1))
	times, x = make([]float64, n), make([]float64, n)
	for i := range times {
		times[i] = float64(i) + 0.2*(r.Float64()-0.5)
		x[i] = 288 - 0.0325*times[i] + 0.05*r.NormFloat64()
	}
	return times, x
}

// Spikes of known place and size in noise of known spread, on a gradient and
// beside an inversion of 1 K/s: all are found at k = 5, nothing else is.
func TestHampelFindsSpikes(t *testing.T) {
	times, x := noisyColumn(3000, 7)
	for i := 1500; i < len(x); i++ {
		x[i] += math.Min(6, times[i]-1500) // an inversion of 6 K within 6 s
	}
	spikes := map[int]float64{50: 1, 51: 40, 52: -3, 700: 0.8, 2000: 5, 2001: 5, 2400: -200, 2998: 2}
	for i, size := range spikes {
		x[i] += size
	}
	for i := 900; i < 940; i++ {
		x[i] = math.NaN()
	}
	residual, scale := make([]float64, len(x)), make([]float64, len(x))
	Hampel(residual, scale, times, x, 15, 0.03, 5, nil)
	for i := range x {
		caught := math.Abs(residual[i]) > 5*scale[i]
		size, isSpike := spikes[i]
		if nearStep := i > 1480 && i < 1525; isSpike != caught && !nearStep {
			t.Errorf("row %d (spike %g): residual %.3f, scale %.3f", i, size, residual[i], scale[i])
		}
		if isSpike && math.Abs(residual[i]-size) > 0.3 {
			t.Errorf("row %d: residual %.3f, spike was %g", i, residual[i], size)
		}
		if math.IsNaN(x[i]) && !math.IsNaN(residual[i]) {
			t.Errorf("row %d is missing but has residual %g", i, residual[i])
		}
	}
	if s := Median(scale, nil); math.Abs(s-0.05) > 0.005 {
		t.Errorf("median scale %.4f, noise was 0.05", s)
	}
}

// A fill value that slipped through, or an overflow, harms no other row.
func TestWildValuesHarmNothingElse(t *testing.T) {
	times, x := noisyColumn(600, 9)
	clean, cleanScale := make([]float64, len(x)), make([]float64, len(x))
	Hampel(clean, cleanScale, times, x, 15, 0.03, 5, nil)
	cleanMean, mean := make([]float64, len(x)), make([]float64, len(x))
	RunningMean(cleanMean, times, x, 15)
	for _, value := range []float64{9.96921e36, -1e15, math.Inf(1), math.Inf(-1)} {
		y := slices.Clone(x)
		y[203] = value
		residual, scale := make([]float64, len(x)), make([]float64, len(x))
		Hampel(residual, scale, times, y, 15, 0.03, 5, nil)
		RunningMean(mean, times, y, 15)
		for i := range x {
			if i == 203 {
				if !(math.Abs(residual[i]) > 5*scale[i]) {
					t.Errorf("%g has residual %g, scale %g", value, residual[i], scale[i])
				}
				continue
			}
			if math.Abs(residual[i]-clean[i]) > 0.05 || math.Abs(scale[i]/cleanScale[i]-1) > 0.3 {
				t.Errorf("%g in row 203: row %d has residual %.4f (%.4f without), scale %.4f (%.4f)",
					value, i, residual[i], clean[i], scale[i], cleanScale[i])
			}
			if math.Abs(times[i]-times[203]) > 15 && math.Abs(mean[i]-cleanMean[i]) > 1e-9 {
				t.Errorf("%g in row 203: mean in row %d is %g, without it %g", value, i, mean[i], cleanMean[i])
			}
		}
	}
}

// A straight line has no residual, at any spacing, and the floor is kept.
func TestHampelOnALine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		times, x := column(t, 80)
		for i := range x {
			if !math.IsNaN(x[i]) {
				x[i] = 1000 - 3.25*times[i]
			}
		}
		residual, scale := make([]float64, len(x)), make([]float64, len(x))
		Hampel(residual, scale, times, x, 10, 0.02, 5, nil)
		for i := range x {
			if !math.IsNaN(residual[i]) && math.Abs(residual[i]) > 1e-6 {
				t.Fatalf("row %d: residual %g of a straight line", i, residual[i])
			}
			if !math.IsNaN(scale[i]) && scale[i] != 0.02 {
				t.Fatalf("row %d: scale %g, want the floor", i, scale[i])
			}
			if math.IsNaN(x[i]) && !math.IsNaN(residual[i]) {
				t.Fatalf("row %d: residual of a missing value", i)
			}
		}
	})
}

// The residual against a line fitted by gonum to the neighbours.
func TestHampelResidualAgainstRegression(t *testing.T) {
	times, x := noisyColumn(400, 3)
	residual, scale := make([]float64, len(x)), make([]float64, len(x))
	Hampel(residual, scale, times, x, 12, 0, 0, nil)
	for i := range x {
		var tt, xx []float64
		for j := range x {
			if j != i && math.Abs(times[j]-times[i]) <= 12 {
				tt, xx = append(tt, times[j]-times[i]), append(xx, x[j])
			}
		}
		level, _ := stat.LinearRegression(tt, xx, nil, false)
		if want := x[i] - level; math.Abs(residual[i]-want) > 1e-9 {
			t.Fatalf("row %d: residual %.12g, regression %.12g", i, residual[i], want)
		}
	}
}

func TestTooFewNeighbours(t *testing.T) {
	times := []float64{0, 1, 2, 3, 100, 100, 100, 100, 100, 100}
	x := []float64{1, 2, 3, 4, 5, 5, 5, 5, 5, 9}
	residual, scale := make([]float64, len(x)), make([]float64, len(x))
	Hampel(residual, scale, times, x, 10, 0.1, 5, nil)
	for i := range x {
		if !math.IsNaN(residual[i]) || !math.IsNaN(scale[i]) {
			t.Errorf("row %d: residual %g, scale %g without a line", i, residual[i], scale[i])
		}
	}
}

// The response to single waves, measured on filtered samples, against the
// response the filter states, and the design: half at the cut-off, at most 1 % at
// the stop period (methods sheet, section 3.3: 40 s cut-off, pendulum of 15 s).
func TestLowPassResponse(t *testing.T) {
	kaiser, err := NewKaiser(40, 15, 40)
	if err != nil {
		t.Fatal(err)
	}
	lanczos, err := NewLanczos(40, 3)
	if err != nil {
		t.Fatal(err)
	}
	for name, f := range map[string]*LowPass{"kaiser": kaiser, "lanczos": lanczos} {
		if r := f.Response(40); math.Abs(r-0.5) > 0.02 {
			t.Errorf("%s passes %.3f at its cut-off, want 0.5", name, r)
		}
		if r := f.Response(1e6); math.Abs(r-1) > 1e-6 {
			t.Errorf("%s passes %.8f of a constant", name, r)
		}
		for period := 4.0; period <= 15; period += 0.5 {
			if r := math.Abs(f.Response(period)); r > 0.0101 {
				t.Errorf("%s passes %.4f at %g s, want at most 0.01", name, r, period)
			}
		}
		if p := f.HalfPowerPeriod(); math.Abs(f.Response(p)-math.Sqrt2/2) > 1e-9 || p < 40 {
			t.Errorf("%s: half power at %g s", name, p)
		}
		const n = 600
		times, x, out, gain := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
		for _, period := range []float64{10, 15, 22, 40, 60, 120, 300} {
			for i := range times {
				times[i] = float64(i)
				x[i] = 7 + math.Cos(2*math.Pi*(times[i]-300)/period)
			}
			f.Apply(out, gain, times, x, 5, nil)
			if got, want := out[300]-7, f.Response(period); math.Abs(got-want) > 0.004 {
				t.Errorf("%s: a wave of %g s comes out at %.4f, stated %.4f", name, period, got, want)
			}
		}
	}
	t.Logf("half-widths: kaiser %.1f s, lanczos %.1f s", kaiser.HalfWidth(), lanczos.HalfWidth())
	if kaiser.HalfWidth() > lanczos.HalfWidth() {
		t.Errorf("the kaiser kernel of %.1f s is longer than three lobes of lanczos", kaiser.HalfWidth())
	}
	// A narrow transition, where the usual length rule holds, and a high cut-off.
	for _, c := range [][3]float64{{40, 30, 40}, {10, 4, 60}, {60, 20, 30}, {3, 2, 50}} {
		f, err := NewKaiser(c[0], c[1], c[2])
		if err != nil {
			t.Error(err)
			continue
		}
		if r := f.Response(c[0]); math.Abs(r-0.5) > 0.002 {
			t.Errorf("%v: passes %.4f at its cut-off", c, r)
		}
		for period := c[1]; period > c[1]/10; period *= 0.97 {
			if r := math.Abs(f.Response(period)); r > 1.02*math.Pow(10, -c[2]/20) {
				t.Errorf("%v: passes %.2g at %.2f s", c, r, period)
			}
		}
	}
}

// A slope passes unchanged at every sample, at the ends too; nothing crosses a
// gap; missing stays missing; the stated noise gain is the measured one.
func TestLowPassProperties(t *testing.T) {
	f, err := NewKaiser(40, 15, 40)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(5, 6))
	const n = 900
	times, x := make([]float64, n), make([]float64, n)
	out, gain := make([]float64, n), make([]float64, n)
	for i := range times {
		times[i] = float64(i)
		if i >= 500 {
			times[i] += 60 // a gap of 61 s after row 499
		}
		x[i] = 4 + 0.3*times[i]
	}
	x[200], x[201] = math.NaN(), math.NaN()
	f.Apply(out, gain, times, x, 20, nil)
	for i := range x {
		if math.IsNaN(x[i]) {
			if !math.IsNaN(out[i]) || !math.IsNaN(gain[i]) {
				t.Errorf("row %d is missing but came out as %g", i, out[i])
			}
			continue
		}
		if math.Abs(out[i]-x[i]) > 1e-9*math.Abs(x[i]) {
			t.Fatalf("row %d of a slope: %.12g, want %.12g", i, out[i], x[i])
		}
	}
	for _, i := range []int{0, 499, 500, n - 1} {
		if gain[i] != 1 {
			t.Errorf("row %d at an end has a noise gain of %g, want 1", i, gain[i])
		}
	}
	// A step behind the gap leaves the rows before it as they were.
	before := slices.Clone(out)
	for i := 500; i < n; i++ {
		x[i] += 1000
	}
	f.Apply(out, nil, times, x, 20, nil)
	for i := range 500 {
		if !same(out[i], before[i], 0) {
			t.Fatalf("row %d before the gap changed by %g", i, out[i]-before[i])
		}
	}
	// White noise: variance out over variance in, interior rows.
	var sum2 float64
	count := 0
	for range 60 {
		for i := range x {
			x[i] = r.NormFloat64()
		}
		f.Apply(out, gain, times, x, 20, nil)
		for i := 40; i < 460; i++ {
			sum2 += out[i] * out[i]
			count++
		}
	}
	if measured := sum2 / float64(count); math.Abs(measured/gain[250]-1) > 0.06 {
		t.Errorf("noise gain measured %.4f, stated %.4f", measured, gain[250])
	}
}

// Uneven times: a slope is kept, and a slow wave comes through as with even times.
func TestLowPassOnUnevenTimes(t *testing.T) {
	f, err := NewKaiser(40, 15, 40)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(8, 9))
	const n = 800
	times, line, wave := make([]float64, n), make([]float64, n), make([]float64, n)
	out := make([]float64, n)
	now := 0.0
	for i := range times {
		now += 0.5 + r.Float64()
		if i%100 > 80 {
			now += 1.5 // stretches at a third of the rate
		}
		times[i] = now
		line[i] = now
		wave[i] = math.Cos(2 * math.Pi * now / 200)
	}
	f.Apply(out, nil, times, line, 20, nil)
	for i := range out {
		if math.Abs(out[i]-line[i]) > 1e-9*line[i] {
			t.Errorf("row %d: a slope of 1/s comes out %.3f off", i, out[i]-line[i])
		}
	}
	f.Apply(out, nil, times, wave, 20, nil)
	want := f.Response(200)
	for i := 60; i < n-60; i++ {
		if math.Abs(out[i]-want*wave[i]) > 0.02 {
			t.Errorf("row %d: wave of 200 s is %.4f, want %.4f", i, out[i], want*wave[i])
		}
	}
}

func TestLowPassRefusesNonsense(t *testing.T) {
	for _, c := range [][3]float64{{0, 10, 40}, {40, 40, 40}, {40, 50, 40}, {40, 15, 10}, {40, 39.9, 40}, {math.NaN(), 15, 40}, {40, -1, 40}} {
		if _, err := NewKaiser(c[0], c[1], c[2]); err == nil || !strings.Contains(err.Error(), "low-pass") {
			t.Errorf("%v: %v", c, err)
		}
	}
	if _, err := NewLanczos(40, 1); err == nil {
		t.Error("one lobe was accepted")
	}
	if _, err := NewLanczos(-40, 3); err == nil {
		t.Error("a negative cut-off was accepted")
	}
	f, err := NewLanczos(10, 2)
	if err != nil {
		t.Fatal(err)
	}
	f.Apply(nil, nil, nil, nil, 5, nil)
	out := make([]float64, 3)
	f.Apply(out, nil, []float64{4, 4, 4}, []float64{1, 2, 3}, 5, nil)
	for i, v := range out {
		if v != float64(i+1) {
			t.Errorf("samples at one time: %v, want them unchanged", out)
		}
	}
}

func TestSegmentsAndGaps(t *testing.T) {
	nan := math.NaN()
	times := []float64{0, 1, 2, 3, 4, 20, 21, 22, 60}
	x := []float64{nan, 5, nan, nan, 6, 7, nan, nan, 8}
	if got, want := Segments(times, x, 5), []Span{{1, 5}, {5, 6}, {8, 9}}; !slices.Equal(got, want) {
		t.Errorf("segments %v, want %v", got, want)
	}
	if got, want := Gaps(times, x, 5), []Span{{4, 6}, {5, 9}}; !slices.Equal(got, want) {
		t.Errorf("gaps %v, want %v", got, want)
	}
	if got := Segments(times, []float64{nan, nan, nan, nan, nan, nan, nan, nan, nan}, 5); len(got) != 0 {
		t.Errorf("segments of nothing: %v", got)
	}
}

// gonum returns the end value outside the range and a number for NaN; this must not.
func TestInterpolateRefuses(t *testing.T) {
	nan := math.NaN()
	times := []float64{0, 10, 20, 20, 100}
	x := []float64{1, nan, 3, 5, 9}
	for at, want := range map[float64]float64{
		-1: nan, 0: 1, 10: 2, 19: 2.9, 20: 5, 60: nan, 100: 9, 101: nan, math.Inf(1): nan, math.Inf(-1): nan,
	} {
		if got := Interpolate(times, x, at, 50); !same(got, want, 1e-12) {
			t.Errorf("at %g s: %g, want %g", at, got, want)
		}
	}
	if got := Interpolate(times, x, nan, 50); !math.IsNaN(got) {
		t.Errorf("at no time: %g", got)
	}
	if got := Interpolate(nil, nil, 3, 50); !math.IsNaN(got) {
		t.Errorf("of nothing: %g", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		times, x := column(t, 40)
		at := []float64{math.NaN()}
		for now := -3.0; now < 100; now += rapid.SampledFrom([]float64{0, 0.7, 1, 5}).Draw(t, "step") + 0.1 {
			at = append(at, now)
		}
		at = append(at, times...)
		sort.Float64s(at)
		dst := make([]float64, len(at))
		InterpolateColumn(dst, at, times, x, 4)
		for i := range at {
			if want := Interpolate(times, x, at[i], 4); !same(dst[i], want, 0) {
				t.Fatalf("at %g s: column %g, one %g", at[i], dst[i], want)
			}
		}
	})
}

func TestCheckTimes(t *testing.T) {
	if err := CheckTimes([]float64{0, 1, 1, 2}); err != nil {
		t.Error(err)
	}
	if err := CheckTimes([]float64{0, 2, 1}); err == nil || !strings.Contains(err.Error(), "row 2") {
		t.Errorf("falling time: %v", err)
	}
	if err := CheckTimes([]float64{0, math.NaN()}); err == nil || !strings.Contains(err.Error(), "row 1") {
		t.Errorf("time that is no number: %v", err)
	}
}

// On normal samples the biweight is the mean and standard deviation; wild values
// move it by nothing (Lanzante 1996).
func TestBiweight(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	x := make([]float64, 5000)
	for i := range x {
		x[i] = -40 + 2.5*r.NormFloat64()
	}
	mean, sigma, count := Biweight(x, nil)
	if math.Abs(mean+40) > 0.15 || math.Abs(sigma-2.5) > 0.1 || count != 5000 {
		t.Errorf("biweight %.3f ± %.3f of %d, want −40 ± 2.5", mean, sigma, count)
	}
	x[3], x[4], x[5] = 1e9, -1e9, math.NaN()
	wildMean, wildSigma, wildCount := Biweight(x, nil)
	if math.Abs(wildMean-mean) > 0.01 || math.Abs(wildSigma-sigma) > 0.01 || wildCount != 4999 {
		t.Errorf("three wild values moved it to %.3f ± %.3f of %d", wildMean, wildSigma, wildCount)
	}
	if m, s, n := Biweight([]float64{math.NaN()}, nil); !math.IsNaN(m) || !math.IsNaN(s) || n != 0 {
		t.Errorf("of nothing: %g ± %g of %d", m, s, n)
	}
	if m, s, n := Biweight([]float64{2, 2, 2, 2, 9}, nil); m != 2 || s != 0 || n != 5 {
		t.Errorf("of mostly equal values: %g ± %g of %d", m, s, n)
	}
	// Symmetric values: the mean is the centre by symmetry; sigma by hand from the
	// definition with c = 7.5 and MAD = 1: u = ±1/7.5, ±2/7.5.
	_, sigma, _ = Biweight([]float64{-2, -1, 0, 1, 2}, nil)
	num, den := 0.0, 0.0
	for _, v := range []float64{-2, -1, 0, 1, 2} {
		u2 := v * v / 56.25
		num += v * v * math.Pow(1-u2, 4)
		den += (1 - u2) * (1 - 5*u2)
	}
	if want := math.Sqrt(5*num) / den; math.Abs(sigma-want) > 1e-12 {
		t.Errorf("sigma %.9f, by hand %.9f", sigma, want)
	}
}

func TestRobustLines(t *testing.T) {
	for _, n := range []int{20, 501, 4000} {
		times, x := noisyColumn(n, 21)
		for i := range x {
			if i%5 == 0 {
				x[i] += 30 // a fifth of the samples, all on one side
			}
		}
		x[1] = math.NaN()
		for name, fit := range map[string]func() (Line, bool){
			"theil-sen": func() (Line, bool) { return TheilSen(times, x) },
			"robust":    func() (Line, bool) { return RobustLine(times, x, 0.01) },
		} {
			line, ok := fit()
			if !ok {
				t.Fatalf("%s of %d samples: no line", name, n)
			}
			tolerance := 3.0 / float64(n) / math.Sqrt(float64(n)) // noise 0.05 over n seconds
			if name == "theil-sen" {
				tolerance *= 4
			}
			if math.Abs(line.Slope+0.0325) > tolerance {
				t.Errorf("%s of %d samples: slope %.6f, want −0.0325 ± %.2g", name, n, line.Slope, tolerance)
			}
			if want := 288 - 0.0325*line.Centre; math.Abs(line.At(line.Centre)-want) > 0.08 {
				t.Errorf("%s of %d samples: level %.3f, want %.3f", name, n, line.At(line.Centre), want)
			}
		}
	}
	// Without outliers the robust line is the least-squares line, nearly, with its
	// uncertainty.
	times, x := noisyColumn(300, 22)
	line, ok := RobustLine(times, x, 0)
	_, slope := stat.LinearRegression(times, x, nil, false)
	if !ok || math.Abs(line.Slope-slope) > 0.5*line.SlopeUncertainty {
		t.Errorf("robust slope %g ± %g, least squares %g", line.Slope, line.SlopeUncertainty, slope)
	}
	if want := 0.05 / math.Sqrt(300.0*300*300/12); math.Abs(line.SlopeUncertainty/want-1) > 0.2 {
		t.Errorf("slope uncertainty %.3g, by theory %.3g", line.SlopeUncertainty, want)
	}
	nan := math.NaN()
	for _, c := range [][2][]float64{{nil, nil}, {{0, 1}, {nan, 2}}, {{5, 5, 5}, {1, 2, 3}}, {{0, 1, 2}, {nan, nan, nan}}} {
		if l, ok := RobustLine(c[0], c[1], 0); ok {
			t.Errorf("%v: a line %v from nothing", c, l)
		}
	}
	if l, ok := RobustLine([]float64{0, 1, 2, 3}, []float64{5, 7, 9, 11}, 0); !ok || math.Abs(l.Slope-2) > 1e-12 || math.Abs(l.At(10)-25) > 1e-9 {
		t.Errorf("exact line: %+v", l)
	}
}

// A kink of known place, and the search against trying every break by brute force.
func TestTwoPhase(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 32))
	times, x := make([]float64, 400), make([]float64, 400)
	for i := range times {
		times[i] = 1000 + float64(i)
		x[i] = 5*times[i] + 0.5*r.NormFloat64()
		if times[i] > 1250 {
			x[i] -= 17 * (times[i] - 1250)
		}
	}
	x[7] = math.NaN()
	fit, ok := TwoPhase(times, x, 10)
	if !ok || math.Abs(fit.Break-1250) > 1 || math.Abs(fit.SlopeBefore-5) > 0.01 || math.Abs(fit.SlopeAfter+12) > 0.02 || math.Abs(fit.Level-6250) > 5 {
		t.Errorf("broken line %+v", fit)
	}
	if math.Abs(fit.Scale-0.5) > 0.05 || fit.F < 1000 {
		t.Errorf("scale %.3f, F %.1f", fit.Scale, fit.F)
	}
	straight := make([]float64, 400)
	for i := range straight {
		straight[i] = 3*times[i] + 0.5*r.NormFloat64()
	}
	if fit, ok := TwoPhase(times, straight, 10); !ok || fit.F > 10 {
		t.Errorf("a straight line has F %.1f", fit.F)
	}
	if _, ok := TwoPhase(times[:4], x[:4], 2); ok {
		t.Error("four samples gave a break")
	}

	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(5, 20).Draw(t, "rows")
		tt, xx := make([]float64, n), make([]float64, n)
		for i := range tt {
			tt[i] = float64(i) + rapid.Float64Range(0, 0.9).Draw(t, "jitter")
			xx[i] = rapid.Float64Range(-5, 5).Draw(t, "value")
		}
		fit, ok := TwoPhase(tt, xx, 2)
		if !ok {
			t.Fatal("no fit")
		}
		best := math.Inf(1)
		for k := 2; k < n-2; k++ {
			best = math.Min(best, hingeSquares(tt, xx, tt[k]))
		}
		got := 0.0
		for i := range tt {
			d := xx[i] - fit.Level
			if tt[i] <= fit.Break {
				d -= fit.SlopeBefore * (tt[i] - fit.Break)
			} else {
				d -= fit.SlopeAfter * (tt[i] - fit.Break)
			}
			got += d * d
		}
		if math.Abs(got-best) > 1e-7*(1+best) {
			t.Fatalf("residual sum %.9g, brute force %.9g", got, best)
		}
	})
}

// hingeSquares is the residual sum of x = a + b(t−τ) + c max(0, t−τ), fitted by
// Gram–Schmidt.
func hingeSquares(t, x []float64, tau float64) float64 {
	n := len(t)
	basis := [3][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}
	rest := slices.Clone(x)
	for i := range t {
		basis[0][i], basis[1][i], basis[2][i] = 1, t[i]-tau, math.Max(0, t[i]-tau)
	}
	dot := func(a, b []float64) (s float64) {
		for i := range a {
			s += a[i] * b[i]
		}
		return s
	}
	for k := range basis {
		for range 2 {
			for j := range k {
				f := dot(basis[k], basis[j]) / dot(basis[j], basis[j])
				for i := range t {
					basis[k][i] -= f * basis[j][i]
				}
			}
		}
		if d := dot(basis[k], basis[k]); d > 1e-18 {
			f := dot(rest, basis[k]) / d
			for i := range t {
				rest[i] -= f * basis[k][i]
			}
		}
	}
	return dot(rest, rest)
}
