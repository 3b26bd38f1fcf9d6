package correct

import (
	"math"

	"leadline/internal/smooth"
)

// lagInversion undoes a first-order lag, dX/dt = (U − X)/τ, by regularisation: of
// all courses U of the air it takes the one that minimises
//
//	Σ (y − X)²/σ² + λ ∫ (d²U/dt²)² dt
//
// where y is the reading and X what a sensor of time constant τ(t) would read in U.
// The unknowns are the noise-free readings X; U follows from neighbouring X exactly
// where it is linear between samples, so the normal equations have seven diagonals
// and are solved in O(n). The response to a wave of angular frequency ω is
// |H|²/(|H|² + L ω⁴) with |H|² = 1/(1+ω²τ²) and L = λσ²Δt, which states the effective
// resolution and the noise that is left. L is chosen by the discrepancy principle
// (Morozov 1966): the smoothest U whose readings differ from y by no more than the
// noise. Method and comparison: docs/methods/humidity-lag.md.
//
// Workspaces are kept between solves of one inversion; it needs scratch memory.
type lagInversion struct {
	*scratch
	alpha, beta, place []float64 // U[j] = alpha X[j] − beta X[j−1], at time place
	band               [4][]float64
	rhs                []float64
	edge               []float64 // weight of the smoothness at each sample
	last               float64   // smoothing found by the last solve, a start for the next
}

// lagSolution is what an inversion found on rows whose times rise.
type lagSolution struct {
	air        []float64 // U
	reading    []float64 // X, the noise-free reading
	smoothing  float64   // L, s⁴
	noise      float64   // σ of the reading, unit of y
	noiseOut   []float64 // standard deviation of U that noise and regularisation leave; NaN where nothing was solved
	resolution []float64 // s, period at which half the power passes
	misfit     float64   // rms of (y − X)/σ
}

// grow makes room for n unknowns.
func (v *lagInversion) grow(n int) {
	if cap(v.alpha) >= n {
		v.alpha, v.beta, v.place, v.rhs, v.edge = v.alpha[:n], v.beta[:n], v.place[:n], v.rhs[:n], v.edge[:n]
		for k := range v.band {
			v.band[k] = v.band[k][:n]
		}
		return
	}
	v.alpha, v.beta, v.place, v.rhs, v.edge = v.column(n), v.column(n), v.column(n), v.column(n), v.column(n)
	for k := range v.band {
		v.band[k] = v.column(n)
	}
}

// solve finds the air from readings y (NaN: none) of time constants tau, all of one
// length, on times that rise. weight holds one weight for each reading, nil for 1.
// noise is σ; the smoothing is sought between low and high, from start where that is
// above 0. breaks[i] true starts everything anew at row i (nil: nowhere). ratio is what the sensor's own excess
// temperature makes of the air's value before it lags, ew(T)/ew(T+δ) for relative
// humidity (nil: 1): X lags behind ratio·U. Rows in a stretch with fewer than four
// readings keep them unchanged.
func (v *lagInversion) solve(t, y, tau, ratio []float64, breaks []bool, noise, low, high, start float64, edgePasses int) lagSolution {
	n := len(t)
	out := lagSolution{air: v.copied(y), reading: v.copied(y), noise: noise, noiseOut: v.column(n), resolution: v.column(n)}
	if n == 0 {
		return out
	}
	v.grow(n)
	step := medianStep(t)
	fill(v.edge, 1)
	v.prepare(t, tau, ratio)

	smoothing := low
	try := func(smoothing float64) float64 {
		return v.run(t, y, breaks, smoothing/(noise*noise*step), noise, &out)
	}
	// The misfit rises with L; look for misfit 1 on a logarithmic scale. Misfit
	// against ln L is nearly straight, so a few secant steps are enough.
	a, b := math.Log(low), math.Log(high)
	guess := 0.5 * (a + b)
	if start > 0 {
		guess = min(b, max(a, math.Log(start)))
	}
	fa, fb := math.NaN(), math.NaN() // misfit − 1 at a and b, once known
	for range 5 {
		excess := try(math.Exp(guess)) - 1
		out.misfit, smoothing = excess+1, math.Exp(guess)
		if excess > 0 {
			b, fb = guess, excess
		} else {
			a, fa = guess, excess
		}
		if !(math.Abs(excess) > 0.03) || b-a < 0.05 {
			break
		}
		switch {
		case present(fa) && present(fb):
			guess = a + (b-a)*min(0.9, max(0.1, -fa/(fb-fa)))
		case excess > 0: // the slope is about a tenth of the misfit per unit of ln L
			guess = max(a, guess-max(0.7, 10*excess))
		default:
			guess = min(b, guess-min(-0.7, 10*excess))
		}
	}
	for range edgePasses {
		v.findEdges(t, &out)
		out.misfit = try(smoothing)
	}
	v.posterior(y, breaks, &out)
	out.smoothing, v.last = smoothing, smoothing
	v.describe(tau, step, &out)
	return out
}

// prepare computes how U follows from X. With U linear between two samples the
// exact solution is X[j] = a X[j−1] + b U[j−1] + c U[j], a = e^−h, h = Δt/τ; the
// combination (X[j] − a X[j−1])/(1−a) is U at the time that parts the interval as
// b : c (after Miloshevich et al. 2004, who take U constant in the step).
func (v *lagInversion) prepare(t, tau, ratio []float64) {
	v.alpha[0], v.beta[0], v.place[0] = 1, 0, t[0]
	for j := 1; j < len(t); j++ {
		dt := t[j] - t[j-1]
		h := dt / (0.5 * (tau[j] + tau[j-1]))
		switch {
		case !(h < 30): // no lag, or none known
			v.alpha[j], v.beta[j], v.place[j] = 1, 0, t[j]
		case h < 1e-3:
			v.alpha[j], v.beta[j] = 1/h+0.5, 1/h-0.5
			v.place[j] = t[j-1] + dt*(0.5+h/12)
		default:
			gone := -math.Expm1(-h) // 1 − a
			v.alpha[j], v.beta[j] = 1/gone, (1-gone)/gone
			v.place[j] = t[j-1] + dt*(1/gone-1/h)
		}
		if ratio != nil {
			x := (v.place[j] - t[j-1]) / dt
			r := 1 / (ratio[j-1] + x*(ratio[j]-ratio[j-1]))
			v.alpha[j] *= r
			v.beta[j] *= r
		}
	}
}

// run solves once with a given λ and returns the rms misfit in units of the noise.
func (v *lagInversion) run(t, y []float64, breaks []bool, lambda, noise float64, out *lagSolution) float64 {
	sum, count := 0.0, 0
	for from := 0; from < len(t); {
		to := from + 1
		for to < len(t) && (breaks == nil || !breaks[to]) {
			to++
		}
		s, c := v.stretch(t, y, from, to, lambda, noise, out)
		sum += s
		count += c
		from = to
	}
	if count == 0 {
		return math.NaN()
	}
	return math.Sqrt(sum / float64(count))
}

// stretch solves rows from ≤ i < to.
func (v *lagInversion) stretch(t, y []float64, from, to int, lambda, noise float64, out *lagSolution) (sum float64, count int) {
	n := to - from
	readings := 0
	for _, x := range y[from:to] {
		if present(x) {
			readings++
		}
	}
	if readings < 4 || n < 5 {
		return 0, 0
	}
	d0, d1, d2, d3 := v.band[0][from:to], v.band[1][from:to], v.band[2][from:to], v.band[3][from:to]
	rhs := v.rhs[from:to]
	alpha, beta, place, edge := v.alpha[from:to], v.beta[from:to], v.place[from:to], v.edge[from:to]
	ys, ts := y[from:to], t[from:to]
	w := 1 / (noise * noise)
	for i, x := range ys {
		d1[i], d2[i], d3[i] = 0, 0, 0
		if present(x) {
			d0[i], rhs[i] = w, w*x
		} else {
			d0[i], rhs[i] = 0, 0
		}
	}
	for j := 2; j < n-1; j++ {
		left, right := place[j]-place[j-1], place[j+1]-place[j]
		whole := 0.5 * (place[j+1] - place[j-1])
		p, r := 1/(left*whole), 1/(right*whole)
		q := -(p + r)
		// d²U at j over X[j−2 … j+1].
		c0 := -beta[j-1] * p
		c1 := alpha[j-1]*p - beta[j]*q
		c2 := alpha[j]*q - beta[j+1]*r
		c3 := alpha[j+1] * r
		k := lambda * whole * edge[j]
		d0[j-2] += k * c0 * c0
		d0[j-1] += k * c1 * c1
		d0[j] += k * c2 * c2
		d0[j+1] += k * c3 * c3
		d1[j-2] += k * c0 * c1
		d1[j-1] += k * c1 * c2
		d1[j] += k * c2 * c3
		d2[j-2] += k * c0 * c2
		d2[j-1] += k * c1 * c3
		d3[j-2] += k * c0 * c3
	}
	x := out.reading[from:to]
	if !solveBanded(d0, d1, d2, d3, rhs, x) {
		return 0, 0
	}
	for i := range x {
		if present(ys[i]) {
			r := (ys[i] - x[i]) / noise
			sum += r * r
			count++
		}
	}
	// U at the samples, by straight lines between the places where it is known.
	u := out.air[from:to]
	at := func(j int) float64 { return alpha[j]*x[j] - beta[j]*x[j-1] }
	before, after := at(1), at(2)
	j := 1 // before stands at place[j], after at place[j+1]
	for i := range u {
		for j+1 < n-1 && place[j+1] < ts[i] {
			j++
			before, after = after, at(j+1)
		}
		u[i] = before + (after-before)*(ts[i]-place[j])/(place[j+1]-place[j])
	}
	return sum, count
}

// solveBanded solves the symmetric system with diagonals d0 … d3 (dk[i] couples i
// and i+k) by LDLᵀ in place; false where it is not positive definite.
func solveBanded(d0, d1, d2, d3, rhs, x []float64) bool {
	n := len(d0)
	d1, d2, d3, rhs, x = d1[:n], d2[:n], d3[:n], rhs[:n], x[:n]
	for i := range n {
		if !(d0[i] > 0) {
			return false
		}
		inv := 1 / d0[i]
		a, b, c := d1[i], d2[i], d3[i]
		la, lb, lc := a*inv, b*inv, c*inv
		if i+1 < n {
			d0[i+1] -= la * a
			d1[i+1] -= la * b
			d2[i+1] -= la * c
			rhs[i+1] -= la * rhs[i]
		}
		if i+2 < n {
			d0[i+2] -= lb * b
			d1[i+2] -= lb * c
			rhs[i+2] -= lb * rhs[i]
		}
		if i+3 < n {
			d0[i+3] -= lc * c
			rhs[i+3] -= lc * rhs[i]
		}
		d1[i], d2[i], d3[i] = la, lb, lc
		rhs[i] *= inv
	}
	for i := n - 1; i >= 0; i-- {
		v := rhs[i]
		if i+1 < n {
			v -= d1[i] * x[i+1]
		}
		if i+2 < n {
			v -= d2[i] * x[i+2]
		}
		if i+3 < n {
			v -= d3[i] * x[i+3]
		}
		x[i] = v
	}
	return true
}

// posterior fills in the standard deviation of U at each sample from the factors the
// last solve left: with the penalty read as a prior on the curvature of U, the
// inverse of the matrix is the covariance of X (Wahba 1983), and of it only the
// diagonals near the main one are needed (Takahashi et al. 1973). It grows towards
// the ends of a stretch and across missing readings, as it should.
func (v *lagInversion) posterior(y []float64, breaks []bool, out *lagSolution) {
	fill(out.noiseOut, math.NaN())
	n := len(y)
	for from := 0; from < n; {
		to := from + 1
		for to < n && (breaks == nil || !breaks[to]) {
			to++
		}
		v.posteriorIn(y, from, to, out.noiseOut)
		from = to
	}
}

func (v *lagInversion) posteriorIn(y []float64, from, to int, sigma []float64) {
	n := to - from
	readings := 0
	for _, x := range y[from:to] {
		if present(x) {
			readings++
		}
	}
	if readings < 4 || n < 5 {
		return
	}
	d, l1, l2, l3 := v.band[0][from:to], v.band[1][from:to], v.band[2][from:to], v.band[3][from:to]
	alpha, beta := v.alpha[from:to], v.beta[from:to]
	sigma = sigma[from:to]
	// c[k] is the covariance of X[i+1] with X[i+1+k], e of X[i+2], g of X[i+3].
	var c, e, g [4]float64
	// variance of U in the interval that ends at the sample before.
	last := math.NaN()
	for i := n - 1; i >= 0; i-- {
		a1, a2, a3 := 0.0, 0.0, 0.0
		if i+1 < n {
			a1 = l1[i]
		}
		if i+2 < n {
			a2 = l2[i]
		}
		if i+3 < n {
			a3 = l3[i]
		}
		var now [4]float64
		now[1] = -(a1*c[0] + a2*c[1] + a3*c[2])
		now[2] = -(a1*c[1] + a2*e[0] + a3*e[1])
		now[3] = -(a1*c[2] + a2*e[1] + a3*g[0])
		now[0] = 1/d[i] - (a1*now[1] + a2*now[2] + a3*now[3])
		if i+1 < n {
			j := i + 1
			u := alpha[j]*alpha[j]*c[0] + beta[j]*beta[j]*now[0] - 2*alpha[j]*beta[j]*now[1]
			s := math.Sqrt(max(u, 0))
			if present(last) {
				sigma[j] = 0.5 * (s + last)
			} else {
				sigma[j] = s
			}
			last = s
		}
		g, e, c = e, c, now
	}
	sigma[0] = last
}

// findEdges lets the smoothness give way where the air bends far more sharply than
// it usually does (a cloud top, an inversion): one pass of iteratively reweighted
// least squares towards the norm that is quadratic for small and linear for large
// second derivatives (Huber 1964).
func (v *lagInversion) findEdges(t []float64, out *lagSolution) {
	n := len(t)
	if n < 8 {
		return
	}
	bend := v.rhs[:0]
	u := out.air
	curvature := func(i int) float64 {
		left, right := t[i]-t[i-1], t[i+1]-t[i]
		return 2 * ((u[i+1]-u[i])/right - (u[i]-u[i-1])/left) / (left + right)
	}
	for i := 1; i < n-1; i += 3 {
		bend = append(bend, math.Abs(curvature(i)))
	}
	usual := smooth.Median(bend, bend)
	if !(usual > 0) {
		return
	}
	limit := 3 * smooth.NormalConsistency * usual
	for i := 1; i < n-1; i++ {
		c := math.Abs(curvature(i))
		if c > limit {
			v.edge[i] = limit / c
		} else {
			v.edge[i] = 1
		}
	}
}

// describe fills in the resolution at each sample from the response at its time
// constant.
func (v *lagInversion) describe(tau []float64, step float64, out *lagSolution) {
	const nodes = 24
	const lowest, highest = 0.1, 400.0 // s
	var resolution [nodes]float64
	ratio := math.Log(highest/lowest) / (nodes - 1)
	for k := range resolution {
		resolution[k] = responseOf(lowest*math.Exp(float64(k)*ratio), out.smoothing, step)
	}
	for i, s := range tau {
		if !(s > lowest) {
			s = lowest
		}
		x := min(nodes-1.000001, math.Log(s/lowest)/ratio)
		k := int(x)
		out.resolution[i] = resolution[k] + (x-float64(k))*(resolution[k+1]-resolution[k])
	}
}

// responseOf returns the period in s of the wave of which half the power passes.
func responseOf(tau, smoothing, step float64) float64 {
	// |G| = |H|²/(|H|² + L ω⁴) = 1/(1 + L ω⁴ (1 + ω²τ²)) is √½ where L ω⁴ (1 + ω²τ²) = √2 − 1.
	low, high := 1e-4, math.Pi/step
	excess := func(w float64) float64 { return smoothing*w*w*w*w*(1+w*w*tau*tau) - (math.Sqrt2 - 1) }
	if excess(high) < 0 {
		return 2 * step
	}
	for range 40 {
		middle := math.Sqrt(low * high)
		if excess(middle) > 0 {
			high = middle
		} else {
			low = middle
		}
	}
	return 2 * math.Pi / high
}

// medianStep is the usual time between samples, 1 where there is none.
func medianStep(t []float64) float64 {
	if len(t) < 2 {
		return 1
	}
	every := max(1, len(t)/512)
	steps := make([]float64, 0, 600)
	for i := 1; i < len(t); i += every {
		steps = append(steps, t[i]-t[i-1])
	}
	return smooth.Median(steps, steps)
}

// noiseOf estimates the standard deviation of the noise of a reading from its third
// differences, which a smooth course leaves untouched: the median of their absolute
// values over √20, made consistent for normal noise. The quarter of the flight with
// the smallest differences is not taken alone: structure of the air inflates the
// figure, so it is bounded by declared, the sheet's noise, from above at three times
// it; from below by the resolution's own √12.
func noiseOf(y []float64, declared, resolution float64) float64 {
	d := make([]float64, 0, len(y)/2+1)
	for i := 3; i < len(y); i += 2 {
		x := y[i] - 3*y[i-1] + 3*y[i-2] - y[i-3]
		if present(x) {
			d = append(d, math.Abs(x))
		}
	}
	floor := max(resolution/math.Sqrt(12), 1e-4)
	if declared > 0 {
		floor = max(floor, 0.2*declared)
	}
	if len(d) < 30 {
		return max(floor, declared)
	}
	s := smooth.NormalConsistency * smooth.Median(d, d) / math.Sqrt(20)
	if declared > 0 {
		s = min(s, 3*declared)
	}
	return max(floor, s)
}

// breaksIn marks the rows that follow the one before by more than longest seconds.
func breaksIn(t []float64, longest float64) []bool {
	b := make([]bool, len(t))
	for i := 1; i < len(t); i++ {
		b[i] = t[i]-t[i-1] > longest
	}
	return b
}
