package smooth

import "testing"

// One column of a two-hour flight at 1 Hz; times as a telemetry clock gives them
// (uneven) and as a processed file does (even).
func benchmarkColumns() (even, uneven, x []float64) {
	uneven, x = noisyColumn(7200, 1)
	even = make([]float64, len(x))
	for i := range even {
		even[i] = float64(i)
	}
	return even, uneven, x
}

func BenchmarkHampel(b *testing.B) {
	_, t, x := benchmarkColumns()
	residual, scale := make([]float64, len(x)), make([]float64, len(x))
	w := new(Workspace)
	for _, c := range []struct {
		name   string
		spikes int
	}{{"clean", 0}, {"20 spikes", 20}} {
		b.Run(c.name, func(b *testing.B) {
			for i := range c.spikes {
				x[100+300*i] += 50
			}
			b.ReportAllocs()
			for b.Loop() {
				Hampel(residual, scale, t, x, 15, 0.05, 5, w)
			}
		})
	}
}

func BenchmarkRunningMedianDeviation(b *testing.B) {
	_, t, x := benchmarkColumns()
	median, deviation := make([]float64, len(x)), make([]float64, len(x))
	w := new(Workspace)
	b.ReportAllocs()
	for b.Loop() {
		RunningMedianDeviation(median, deviation, t, x, 15, w)
	}
}

func BenchmarkRunningMedian(b *testing.B) {
	_, t, x := benchmarkColumns()
	median := make([]float64, len(x))
	w := new(Workspace)
	b.ReportAllocs()
	for b.Loop() {
		RunningMedian(median, t, x, 15, w)
	}
}

func BenchmarkRunningMean(b *testing.B) {
	_, t, x := benchmarkColumns()
	mean := make([]float64, len(x))
	b.ReportAllocs()
	for b.Loop() {
		RunningMean(mean, t, x, 15)
	}
}

func BenchmarkLowPass(b *testing.B) {
	even, uneven, x := benchmarkColumns()
	f, err := NewKaiser(40, 15, 40)
	if err != nil {
		b.Fatal(err)
	}
	out, gain := make([]float64, len(x)), make([]float64, len(x))
	w := new(Workspace)
	for _, c := range []struct {
		name  string
		times []float64
	}{{"even", even}, {"uneven", uneven}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				f.Apply(out, gain, c.times, x, 20, w)
			}
		})
	}
}

func BenchmarkTwoPhase(b *testing.B) {
	_, t, x := benchmarkColumns()
	for b.Loop() {
		TwoPhase(t, x, 10)
	}
}

func BenchmarkRobustLine(b *testing.B) {
	_, t, x := benchmarkColumns()
	for b.Loop() {
		RobustLine(t, x, 0.01)
	}
}

func BenchmarkBiweight(b *testing.B) {
	_, _, x := benchmarkColumns()
	scratch := make([]float64, 0, len(x))
	b.ReportAllocs()
	for b.Loop() {
		Biweight(x, scratch)
	}
}
