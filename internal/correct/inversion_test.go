package correct

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

func newInversion() *lagInversion { return &lagInversion{scratch: new(scratch)} }

// respond is what a first-order sensor reads in u, which is linear between samples:
// X = a X + b U + c U with a = e^−h (docs/methods/humidity-lag.md), started at rest.
func respond(t, u, tau []float64) []float64 {
	x := make([]float64, len(u))
	x[0] = u[0]
	for i := 1; i < len(u); i++ {
		h := (t[i] - t[i-1]) / (0.5 * (tau[i] + tau[i-1]))
		a := math.Exp(-h)
		b := (1-a)/h - a
		c := 1 - (1-a)/h
		x[i] = a*x[i-1] + b*u[i-1] + c*u[i]
	}
	return x
}

func seconds(n int, step float64) []float64 {
	t := make([]float64, n)
	for i := range t {
		t[i] = step * float64(i)
	}
	return t
}

// The reading of a sensor on a steady ramp stands behind by τ dX/dt; row SEN-01 of
// CHECKVALUES.csv (METHODS 4.1): 5 s, −6.5 K/km, 5 m/s give 0.1625 K.
func TestSteadyRamp(t *testing.T) {
	const n, tau = 400, 5.0
	times, taus := seconds(n, 1), constant(n, tau)
	u := make([]float64, n)
	for i := range u {
		u[i] = 288 - 6.5e-3*5*times[i]
	}
	x := respond(times, u, taus)
	if e := x[n-1] - u[n-1]; math.Abs(e-0.1625) > 1e-4 {
		t.Errorf("lag error on the ramp: %.5f K, want 0.1625 K", e)
	}
	s := newInversion().solve(times, x, taus, nil, nil, 0.02, 0.02, 30, 0, 0)
	for i := 40; i < n-5; i++ {
		if e := s.air[i] - u[i]; math.Abs(e) > 1e-3 {
			t.Fatalf("row %d: %.5f K after the inversion, want 0 within 0.001 K", i, e)
		}
	}
}

// Without smoothing the inversion is exact for any course that is linear between
// samples, for long and short time constants, even and uneven times. Row SEN-04
// holds the same relation for a course that is constant in the step.
func TestExactInversion(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, tau := range []float64{0.01, 0.3, 1, 8, 60, 3000} {
		const n = 200
		times := make([]float64, n)
		for i := 1; i < n; i++ {
			times[i] = times[i-1] + 0.5 + random.Float64()
		}
		u := make([]float64, n)
		for i := range u {
			u[i] = 40 + 20*math.Sin(times[i]/25)
		}
		taus := constant(n, tau)
		x := respond(times, u, taus)
		v := newInversion()
		v.grow(n)
		fill(v.edge, 1)
		v.prepare(times, taus, nil)
		for j := 1; j < n; j++ {
			got := v.alpha[j]*x[j] - v.beta[j]*x[j-1]
			share := (v.place[j] - times[j-1]) / (times[j] - times[j-1])
			want := u[j-1] + share*(u[j]-u[j-1])
			tolerance := 1e-8 * math.Max(1, tau)
			if tau < 0.05 {
				tolerance = tau // treated as no lag: the air moves by 0.8 in a second here
			}
			if math.Abs(got-want) > tolerance {
				t.Fatalf("τ %g s, row %d: %g, want %g", tau, j, got, want)
			}
		}
	}
}

// A wave of the stated resolution keeps half its power.
func TestResolutionIsAsStated(t *testing.T) {
	const n = 6000
	for _, tau := range []float64{0.5, 5, 30} {
		for _, smoothing := range []float64{2, 200} {
			times, taus := seconds(n, 1), constant(n, tau)
			period := responseOf(tau, smoothing, 1)
			u := make([]float64, n)
			for i := range u {
				u[i] = 50 + 10*math.Sin(2*math.Pi*times[i]/period)
			}
			w := newInversion().solve(times, respond(times, u, taus), taus, nil, nil, 1, smoothing, smoothing, 0, 0)
			if got := w.resolution[n/2]; math.Abs(got/period-1) > 0.02 {
				t.Errorf("τ %g s, L %g s⁴: resolution %.2f s, want %.2f s", tau, smoothing, got, period)
			}
			largest := 0.0
			for i := 1000; i < n-1000; i++ {
				largest = math.Max(largest, math.Abs(w.air[i]-50))
			}
			// Below a dozen samples in a period the straight lines between them cost more.
			if gain := largest / 10; period > 12 && math.Abs(gain-math.Sqrt2/2) > 0.04 {
				t.Errorf("τ %g s, L %g s⁴: a wave of %.1f s passes with %.3f, want 0.707", tau, smoothing, period, gain)
			}
		}
	}
}

// The stated standard deviation covers the errors of air whose curvature is what the
// smoothing takes it for, inside and at the ends, where it must be larger.
func TestPosteriorCoversErrors(t *testing.T) {
	const n, flights, tau, noise, smoothing = 120, 400, 15.0, 0.4, 50.0
	random := rand.New(rand.NewPCG(13, 13))
	times, taus := seconds(n, 1), constant(n, tau)
	bend := noise / math.Sqrt(smoothing) // of the curvature in one second, so that λ fits
	covered, ends, inside := 0, 0, 0
	var endU, insideU float64
	for range flights {
		u := make([]float64, n)
		slope := 0.0
		u[0] = 50
		for i := 1; i < n; i++ {
			u[i] = u[i-1] + slope
			slope += bend * random.NormFloat64()
		}
		y := respond(times, u, taus)
		for i := range y {
			y[i] += noise * random.NormFloat64()
		}
		s := newInversion().solve(times, y, taus, nil, nil, noise, smoothing, smoothing, 0, 0)
		for _, i := range []int{2, 40, 60, 80, n - 2} {
			if math.Abs(s.air[i]-u[i]) < 2*s.noiseOut[i] {
				covered++
			}
			if i == n-2 {
				ends++
				endU += s.noiseOut[i]
			}
			if i == 60 {
				inside++
				insideU += s.noiseOut[i]
			}
		}
	}
	share := 100 * float64(covered) / (5 * flights)
	t.Logf("%.1f %% of errors within 2 u; u %.2f %% inside, %.2f %% at the end", share, insideU/float64(inside), endU/float64(ends))
	if share < 93 || share > 98 {
		t.Errorf("%.1f %% of errors are within 2 u, want 93 to 98 %%", share)
	}
	if endU < 2*insideU {
		t.Errorf("u at the end %.2f, inside %.2f: want twice at least", endU/flights, insideU/flights)
	}
}

// The smoothing that is found leaves a misfit of one noise, where the bounds allow.
func TestDiscrepancyPrinciple(t *testing.T) {
	const n = 3000
	times, taus := seconds(n, 1), constant(n, 12)
	random := rand.New(rand.NewPCG(5, 5))
	u := make([]float64, n)
	for i := range u {
		u[i] = 50 + 20*math.Sin(times[i]/40) + 5*math.Sin(times[i]/17)
	}
	y := respond(times, u, taus)
	for i := range y {
		y[i] += 0.4 * random.NormFloat64()
	}
	s := newInversion().solve(times, y, taus, nil, nil, 0.4, 0.5, 3000, 0, 0)
	if math.Abs(s.misfit-1) > 0.05 {
		t.Errorf("misfit %.3f of the noise at L %.1f s⁴, want 1", s.misfit, s.smoothing)
	}
	raw, final := 0.0, 0.0
	for i := 20; i < n-20; i++ {
		raw += (y[i] - u[i]) * (y[i] - u[i])
		final += (s.air[i] - u[i]) * (s.air[i] - u[i])
	}
	t.Logf("rms %.2f → %.2f %%", math.Sqrt(raw/n), math.Sqrt(final/n))
	if final > raw/25 {
		t.Errorf("rms %.2f → %.2f %%: want a fifth at most", math.Sqrt(raw/n), math.Sqrt(final/n))
	}
}

func TestSolveBandedAgainstDense(t *testing.T) {
	const n = 12
	random := rand.New(rand.NewPCG(9, 9))
	var d [4][]float64
	for k := range d {
		d[k] = make([]float64, n)
		for i := range d[k] {
			d[k][i] = random.NormFloat64()
			if k == 0 {
				d[k][i] = 8 + random.Float64()
			}
		}
	}
	dense := mat.NewSymDense(n, nil)
	for k := range d {
		for i := 0; i+k < n; i++ {
			dense.SetSym(i, i+k, d[k][i])
		}
	}
	b := make([]float64, n)
	for i := range b {
		b[i] = random.NormFloat64()
	}
	var want mat.VecDense
	if err := want.SolveVec(dense, mat.NewVecDense(n, append([]float64(nil), b...))); err != nil {
		t.Fatal(err)
	}
	x := make([]float64, n)
	if !solveBanded(d[0], d[1], d[2], d[3], b, x) {
		t.Fatal("a positive definite system was refused")
	}
	for i := range x {
		if math.Abs(x[i]-want.AtVec(i)) > 1e-12 {
			t.Errorf("x[%d] = %g, gonum's dense solver gives %g", i, x[i], want.AtVec(i))
		}
	}
}

// Gaps and breaks: missing readings are bridged inside a stretch, a break starts
// anew, short stretches keep their readings, and nothing is made of nothing.
func TestInversionEdges(t *testing.T) {
	times := seconds(60, 1)
	taus := constant(60, 5)
	y := constant(60, 50)
	for i := 20; i < 26; i++ {
		y[i] = math.NaN()
	}
	s := newInversion().solve(times, y, taus, nil, nil, 0.4, 0.5, 3000, 0, 2)
	for i, x := range s.air {
		if math.Abs(x-50) > 1e-6 {
			t.Fatalf("row %d: %g of a constant 50", i, x)
		}
	}
	breaks := make([]bool, 60)
	breaks[57] = true
	s = newInversion().solve(times, y, taus, nil, breaks, 0.4, 0.5, 3000, 0, 2)
	if s.air[58] != 50 {
		t.Errorf("a stretch of three readings gives %g, want the reading, 50", s.air[58])
	}
	s = newInversion().solve(times, constant(60, math.NaN()), taus, nil, nil, 0.4, 0.5, 3000, 0, 2)
	if !none(s.air) {
		t.Error("air from no readings")
	}
	for _, n := range []int{0, 1, 2, 5} {
		s = newInversion().solve(times[:n], y[:n], taus[:n], nil, nil, 0.4, 0.5, 3000, 0, 2)
		if len(s.air) != n {
			t.Errorf("%d rows give %d", n, len(s.air))
		}
	}
}

func TestNoiseOf(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 1))
	y := make([]float64, 4000)
	for i := range y {
		y[i] = 200 + 30*math.Sin(float64(i)/100) + 0.4*random.NormFloat64()
	}
	if s := noiseOf(y, 0.4, 0.1); math.Abs(s-0.4) > 0.03 {
		t.Errorf("noise %.3f, want 0.4", s)
	}
	if s := noiseOf(constant(4000, 50), 0.4, 0.1); math.Abs(s-0.08) > 1e-12 {
		t.Errorf("noise of a constant %.3f, want the floor, a fifth of the sheet's", s)
	}
}

// Against differentiate-and-smooth (Miloshevich et al. 2004: smooth, then the exact
// step), with its best window found by looking at the answer, on a course with a cloud
// top and an inversion, in cold air: the regularised solution, which does not know the
// answer, is better.
func TestAgainstDifferentiateAndSmooth(t *testing.T) {
	const n, noise = 2400, 0.4
	for _, tau := range []float64{5, 20, 50} {
		random := rand.New(rand.NewPCG(23, uint64(tau)))
		times, taus := seconds(n, 1), constant(n, tau)
		u := make([]float64, n)
		for i := range u {
			u[i] = 45 + 10*math.Sin(times[i]/90)
			if i > 600 && i < 900 {
				u[i] += 35 / (1 + math.Exp(-(times[i]-610)/2))
			}
			if i >= 900 {
				u[i] += 35 / (1 + math.Exp((times[i]-905)/2))
			}
		}
		y := respond(times, u, taus)
		for i := range y {
			y[i] += noise * random.NormFloat64()
		}
		rms := func(x []float64) float64 {
			sum := 0.0
			for i := 60; i < n-60; i++ {
				sum += (x[i] - u[i]) * (x[i] - u[i])
			}
			return math.Sqrt(sum / (n - 120))
		}
		best, width := math.Inf(1), 0
		for half := 0; half <= 40; half++ {
			smoothed, x := make([]float64, n), constant(n, math.NaN())
			for i := range smoothed {
				sum, count := 0.0, 0.0
				for j := max(0, i-half); j <= min(n-1, i+half); j++ {
					sum, count = sum+y[j], count+1
				}
				smoothed[i] = sum / count
			}
			a := math.Exp(-1 / tau)
			for i := 1; i < n; i++ {
				x[i] = (smoothed[i] - a*smoothed[i-1]) / (1 - a)
			}
			if r := rms(x); r < best {
				best, width = r, half
			}
		}
		plain := newInversion().solve(times, y, taus, nil, nil, noise, 0.5, 3000, 0, 0)
		ours := newInversion().solve(times, y, taus, nil, nil, noise, 0.5, 3000, 0, 2)
		t.Logf("τ %2.0f s: raw %.2f, smoothed over ±%d s and differentiated %.2f, regularised %.2f, with edges %.2f %%", tau, rms(y), width, best, rms(plain.air), rms(ours.air))
		if rms(ours.air) > best {
			t.Errorf("τ %g s: rms %.2f %%, differentiate-and-smooth with its best window %.2f %%", tau, rms(ours.air), best)
		}
	}
}
