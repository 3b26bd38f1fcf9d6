package comparison

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// ascent makes a side of an ascent with a sample every dt seconds at 5 m/s from z0 m, in an
// atmosphere of p = 1000 exp(−z/7000) hPa.
func ascent(n int, dt, z0 float64, more map[sounding.Variable]func(t, z, p float64) float64) Side {
	c := &sounding.Columns{Time: make([]float64, n), Line: make([]int32, n), Source: make([]uint8, n)}
	all := map[sounding.Variable]func(t, z, p float64) float64{
		sounding.Pressure:  func(_, _, p float64) float64 { return p },
		sounding.HeightMSL: func(_, z, _ float64) float64 { return z },
	}
	for v, f := range more {
		all[v] = f
	}
	for _, v := range sounding.Variables() {
		f := all[v]
		if f == nil {
			continue
		}
		s := sounding.Series{Variable: v, Values: make([]float64, n), Flags: make([]quality.Flag, n)}
		for i := range n {
			t := float64(i) * dt
			z := z0 + 5*t
			c.Time[i] = t
			s.Values[i], s.Flags[i] = f(t, z, 1000*math.Exp(-z/7000)), quality.Good
			if math.IsNaN(s.Values[i]) {
				s.Flags[i] = quality.Missing
			}
		}
		c.Series = append(c.Series, s)
	}
	return Side{Values: c, Ascent: sounding.Span{From: 0, To: n}}
}

func of(t *testing.T, r *Result, v sounding.Variable) Variable {
	t.Helper()
	for _, x := range r.Variables {
		if x.Variable == v {
			return x
		}
	}
	t.Fatalf("%v was not compared: %+v", v, r)
	return Variable{}
}

func compare(t *testing.T, a, b Side, o Options) *Result {
	t.Helper()
	r, err := Compare(a, b, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Worked by hand: differences 1, −3, 2 in the lower layer (mean 0, rms √(14/3), deviation
// √7), 4 in the upper; one sample is bad in B and one missing in A.
func TestRowByRowByHand(t *testing.T) {
	p := []float64{990, 950, 910, 890, 880, 870}
	ta := []float64{280, 280, 280, 270, 270, math.NaN()}
	tb := []float64{281, 277, 282, 274, 275, 276}
	side := func(values []float64) Side {
		s := ascent(6, 1, 0, map[sounding.Variable]func(t, z, p float64) float64{sounding.Temperature: func(t, _, _ float64) float64 { return values[int(t)] }})
		copy(s.Values.Get(sounding.Pressure).Values, p)
		return s
	}
	a, b := side(ta), side(tb)
	b.Values.Get(sounding.Temperature).Flags[4] = quality.Bad
	r := compare(t, a, b, Options{SameRows: true, Bounds: []float64{1000, 900, 800}})
	v := of(t, r, sounding.Temperature)
	low, high := v.Layers[0], v.Layers[1]
	near := func(what string, got sounding.Number, want float64) {
		t.Helper()
		if math.Abs(got.Value()-want) > 1e-12 {
			t.Errorf("%s is %g, want %g", what, got.Value(), want)
		}
	}
	if low.N != 3 || high.N != 1 || v.Whole.N != 4 || high.InA != 2 || high.InB != 2 {
		t.Errorf("counts %+v %+v %+v", low, high, v.Whole)
	}
	near("mean", low.Mean, 0)
	near("rms", low.RMS, math.Sqrt(14.0/3))
	near("deviation", low.Deviation, math.Sqrt(7))
	near("largest", low.Largest, -3)
	near("its pressure", low.LargestHPa, 950)
	near("mean above", high.Mean, 4)
	if high.Deviation.Set() {
		t.Error("one difference has no deviation")
	}
	if !math.IsNaN(v.Differences[4]) || !math.IsNaN(v.Differences[5]) || v.Differences[1] != -3 {
		t.Errorf("differences %v", v.Differences)
	}
	// As received the flag does not count.
	b.Raw = true
	if n := of(t, compare(t, a, b, Options{SameRows: true}), sounding.Temperature).Whole.N; n != 5 {
		t.Errorf("%d as received, want 5", n)
	}
}

// A temperature that is a straight line in ln p is met exactly by interpolation in ln p,
// whatever the samples; so is one that is a straight line in height.
func TestInterpolationIsExactForStraightLines(t *testing.T) {
	line := func(add float64) map[sounding.Variable]func(t, z, p float64) float64 {
		return map[sounding.Variable]func(t, z, p float64) float64{sounding.Temperature: func(_, _, p float64) float64 { return 288 + 40*math.Log(p/1000) + add }}
	}
	a, b := ascent(3000, 1, 100, line(0)), ascent(1300, 2.3, 97, line(0.5))
	for _, axis := range []Axis{ByPressure, ByHeight} {
		r := compare(t, a, b, Options{Axis: axis})
		v := of(t, r, sounding.Temperature)
		if v.Whole.N < 2980 || math.Abs(v.Whole.Mean.Value()-0.5) > 1e-9 || math.Abs(v.Whole.RMS.Value()-0.5) > 1e-9 {
			t.Errorf("%s: %+v", axis, v.Whole)
		}
		n := 0
		for _, l := range v.Layers {
			n += l.N
		}
		if n != v.Whole.N {
			t.Errorf("%s: layers hold %d of %d", axis, n, v.Whole.N)
		}
	}
	// At equal time B is three metres lower, and so 3 m of lapse rate warmer.
	v := of(t, compare(t, a, b, Options{Axis: ByTime}), sounding.Temperature)
	if want := 0.5 + 3*40.0/7000; math.Abs(v.Whole.Mean.Value()-want) > 1e-9 {
		t.Errorf("at equal time %g, want %g", v.Whole.Mean.Value(), want)
	}
	for _, axis := range []Axis{ByPressure, ByHeight} {
		for _, x := range compare(t, a, b, Options{Axis: axis}).Variables {
			if axis == ByPressure && x.Variable == sounding.Pressure || axis == ByHeight && x.Variable == sounding.HeightMSL {
				t.Errorf("%v is compared at equal %s", x.Variable, axis)
			}
		}
	}
}

func TestNothingBeyondTheEndsNorAcrossAGap(t *testing.T) {
	warm := func(from, to float64) map[sounding.Variable]func(t, z, p float64) float64 {
		return map[sounding.Variable]func(t, z, p float64) float64{sounding.Temperature: func(_, z, _ float64) float64 {
			if z > from && z < to {
				return math.NaN()
			}
			return 290
		}}
	}
	a, b := ascent(2000, 1, 0, warm(0, 0)), ascent(1000, 1, 500, warm(2000, 2200))
	d := of(t, compare(t, a, b, Options{Axis: ByHeight}), sounding.Temperature).Differences
	for i, x := range d {
		z := 5 * float64(i)
		want := z >= 500 && z <= 5495 && !(z > 2000 && z < 2200)
		if want == math.IsNaN(x) {
			t.Fatalf("at %g m the difference is %g", z, x)
		}
	}
	// A hole shorter than the longest stretch is bridged; rows left out are a hole like
	// values left out.
	d = of(t, compare(t, a, b, Options{Axis: ByHeight, Gap: 60}), sounding.Temperature).Differences
	if math.IsNaN(d[420]) {
		t.Error("40 s were not bridged with 60 s allowed")
	}
	// A coarse flight is interpolated over twice its interval.
	coarse := ascent(40, 60, 0, warm(0, 0))
	r := compare(t, a, coarse, Options{Axis: ByHeight})
	if v := of(t, r, sounding.Temperature); v.Whole.N != 2000 || r.Gap != 120 {
		t.Errorf("%d samples with %g s", v.Whole.N, r.Gap)
	}
}

// A balloon that sinks for 100 s and rises again counts once at each height.
func TestSinkingCountsOnce(t *testing.T) {
	a := ascent(1000, 1, 0, map[sounding.Variable]func(t, z, p float64) float64{sounding.Temperature: func(t, _, _ float64) float64 { return 290 - t/100 }})
	z, p := a.Values.Get(sounding.HeightMSL).Values, a.Values.Get(sounding.Pressure).Values
	for i := 400; i < 500; i++ {
		z[i] = z[400] - 5*float64(i-400)
	}
	for i := 500; i < 1000; i++ {
		z[i] = z[499] + 5*float64(i-499)
	}
	for i := range z {
		p[i] = 1000 * math.Exp(-z[i]/7000)
	}
	b := ascent(1000, 1, 2, map[sounding.Variable]func(t, z, p float64) float64{sounding.Temperature: func(_, _, _ float64) float64 { return 280 }})
	for _, pair := range [][2]Side{{a, b}, {b, a}} {
		d := of(t, compare(t, pair[0], pair[1], Options{Axis: ByHeight}), sounding.Temperature).Differences
		n := 0
		for i, x := range d {
			if !math.IsNaN(x) {
				n++
				if pair[0].Values == a.Values && i > 400 && i < 599 {
					t.Fatalf("row %d counts although the balloon had been higher", i)
				}
			}
		}
		if n < 700 {
			t.Errorf("only %d samples count", n)
		}
	}
}

func TestWind(t *testing.T) {
	wind := func(speed, direction func(z float64) float64) map[sounding.Variable]func(t, z, p float64) float64 {
		return map[sounding.Variable]func(t, z, p float64) float64{
			sounding.WindSpeed:     func(_, z, _ float64) float64 { return speed(z) },
			sounding.WindDirection: func(_, z, _ float64) float64 { return direction(z) },
		}
	}
	constant := func(x float64) func(float64) float64 { return func(float64) float64 { return x } }
	a := ascent(100, 1, 0, wind(constant(10), constant(350)))
	b := ascent(100, 1, 0, wind(constant(12), constant(10)))
	for _, same := range []bool{true, false} {
		r := compare(t, a, b, Options{SameRows: same})
		if m := of(t, r, sounding.WindDirection).Whole; m.N != 100 || math.Abs(m.Mean.Value()-20) > 1e-9 {
			t.Errorf("350° to 10° is %+v", m)
		}
		if m := of(t, r, sounding.WindSpeed).Whole; math.Abs(m.Mean.Value()-2) > 1e-9 {
			t.Errorf("speed %+v", m)
		}
	}
	// Halfway between 10 m/s from north and 10 m/s from east is 7.07 m/s from north-east.
	turning := ascent(2, 10, 0, wind(constant(10), func(z float64) float64 { return 90 * z / 50 }))
	middle := ascent(3, 5, 0, wind(constant(10), constant(45)))
	r := compare(t, middle, turning, Options{Axis: ByHeight})
	if d := of(t, r, sounding.WindSpeed).Differences[1]; math.Abs(d-(math.Sqrt(50)-10)) > 1e-9 {
		t.Errorf("speed between the samples differs by %g", d)
	}
	if d := of(t, r, sounding.WindDirection).Differences[1]; math.Abs(d) > 1e-9 {
		t.Errorf("direction between the samples differs by %g", d)
	}
	calm := ascent(100, 1, 0, wind(constant(0.4), constant(200)))
	if m := of(t, compare(t, a, calm, Options{SameRows: true}), sounding.WindDirection).Whole; m.N != 0 {
		t.Errorf("a calm has a direction: %+v", m)
	}
}

// Against the statistics of a general library (gonum.org/v1/gonum/stat).
func TestStatisticsAgainstGonum(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	noise := make([]float64, 3000)
	for i := range noise {
		noise[i] = 1e4 + r.NormFloat64()
	}
	a := ascent(3000, 1, 0, map[sounding.Variable]func(t, z, p float64) float64{sounding.AscentRate: func(float64, float64, float64) float64 { return 0 }})
	b := ascent(3000, 1, 0, map[sounding.Variable]func(t, z, p float64) float64{sounding.AscentRate: func(t, _, _ float64) float64 { return noise[int(t)] }})
	got := of(t, compare(t, a, b, Options{SameRows: true}), sounding.AscentRate).Whole
	mean, deviation := stat.MeanStdDev(noise, nil)
	rms := floats.Norm(noise, 2) / math.Sqrt(3000)
	if math.Abs(got.Mean.Value()-mean) > 1e-8 || math.Abs(got.Deviation.Value()-deviation) > 1e-8 || math.Abs(got.RMS.Value()-rms) > 1e-8 {
		t.Errorf("%+v, want %g %g %g", got, mean, deviation, rms)
	}
}

func TestNothingInCommon(t *testing.T) {
	a := ascent(100, 1, 0, map[sounding.Variable]func(t, z, p float64) float64{sounding.Temperature: func(float64, float64, float64) float64 { return 290 }})
	b := ascent(100, 1, 9000, map[sounding.Variable]func(t, z, p float64) float64{sounding.Temperature: func(float64, float64, float64) float64 { return 290 }})
	w := of(t, compare(t, a, b, Options{}), sounding.Temperature).Whole
	if w.N != 0 || w.Mean.Set() || w.Largest.Set() || w.InA != 100 || w.InB != 100 {
		t.Errorf("%+v", w)
	}
	none := Side{Values: &sounding.Columns{}}
	if _, err := Compare(a, none, Options{}); err == nil || !strings.Contains(err.Error(), "B has none") {
		t.Error(err)
	}
	if _, err := Compare(a, ascent(99, 1, 0, nil), Options{SameRows: true}); err == nil {
		t.Error("versions of different length were compared row by row")
	}
}

func TestLayersHoldTheirBounds(t *testing.T) {
	bounds := []float64{1000, 500, 100}
	for p, want := range map[float64]int{1000.1: -1, 1000: 0, 500.1: 0, 500: 1, 100: 1, 99.9: -1} {
		if got := layerOf(p, bounds); got != want {
			t.Errorf("%g hPa is in layer %d, want %d", p, got, want)
		}
	}
	if layerOf(math.NaN(), bounds) != -1 {
		t.Error("no pressure is in a layer")
	}
	for _, o := range []Options{{Bounds: []float64{500}}, {Bounds: []float64{500, 600}}, {Bounds: []float64{500, -1}}, {Axis: "depth"}, {Gap: -1}, {Gap: math.NaN()}, {Calm: 50}} {
		if o.Validate() == nil {
			t.Errorf("%+v was taken", o)
		}
	}
}

func BenchmarkCompare(b *testing.B) {
	temperature := map[sounding.Variable]func(t, z, p float64) float64{
		sounding.Temperature: func(t, _, _ float64) float64 { return 290 - t/100 }, sounding.Humidity: func(t, _, _ float64) float64 { return 50 },
		sounding.WindSpeed: func(t, _, _ float64) float64 { return 10 }, sounding.WindDirection: func(t, _, _ float64) float64 { return 10 },
	}
	x, y := ascent(7200, 1, 0, temperature), ascent(7200, 1, 3, temperature)
	for b.Loop() {
		if _, err := Compare(x, y, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
