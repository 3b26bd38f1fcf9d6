package smooth

import (
	"fmt"
	"math"
)

// LowPass is a symmetric (zero-phase) windowed-sinc filter for samples at any
// times. Make one with NewKaiser or NewLanczos and use it for any number of
// columns; it is not changed by use.
type LowPass struct {
	cutoff    float64   // s, period of half amplitude
	halfWidth float64   // s
	table     []float64 // kernel at |τ|/halfWidth = 0 … 1, one at τ = 0
}

const kernelTable = 2048

// NewKaiser returns a filter whose amplitude response is one half at the cut-off
// period in seconds and at most 10^(−attenuation/20) at the stop period and below
// it (40 dB is 1 %). The taper is Kaiser's window with side lobes at that level;
// the kernel is the shortest that keeps both promises, found by bisection, since
// the usual rule for its length fails where the cut-off is as low as here.
func NewKaiser(cutoff, stop, attenuation float64) (*LowPass, error) {
	if !(cutoff > 0 && stop > 0 && stop < 0.98*cutoff) {
		return nil, fmt.Errorf("low-pass cut-off %g s and stop period %g s: both must be above zero and the stop period the shorter", cutoff, stop)
	}
	if !(attenuation >= 20 && attenuation <= 60) {
		return nil, fmt.Errorf("low-pass attenuation %g dB: use 20 to 60 dB", attenuation)
	}
	// Side lobes of the window (Kaiser and Schafer 1980, IEEE Trans. ASSP 28, 105).
	beta := 0.76609*math.Pow(attenuation-13.26, 0.4) + 0.09834*(attenuation-13.26)
	limit := math.Pow(10, -attenuation/20)
	var design kaiserDesign
	design.window(beta)
	short, long := 0.0, 1/(1/stop-1/cutoff)
	sincPeriod, ok := design.fit(long, cutoff, stop, limit)
	for rounds := 0; !ok; rounds++ {
		if rounds == 12 {
			return nil, fmt.Errorf("low-pass cut-off %g s and stop period %g s are too close for %g dB", cutoff, stop, attenuation)
		}
		short, long = long, 1.5*long
		sincPeriod, ok = design.fit(long, cutoff, stop, limit)
	}
	for range 10 {
		middle := 0.5 * (short + long)
		if p, ok := design.fit(middle, cutoff, stop, limit); ok {
			long, sincPeriod = middle, p
		} else {
			short = middle
		}
	}
	top := besselI0(beta)
	return newLowPass(cutoff, sincPeriod, long, func(u float64) float64 {
		return besselI0(beta*math.Sqrt(1-u*u)) / top
	}), nil
}

// kaiserDesign holds the taper at evenly spaced points of half the kernel.
type kaiserDesign struct{ taper, kernel [128]float64 }

func (d *kaiserDesign) window(beta float64) {
	for i := range d.taper {
		u := float64(i) / float64(len(d.taper))
		d.taper[i] = besselI0(beta * math.Sqrt(1-u*u))
	}
	d.taper[0] *= 0.5 // the trapezium's end; the other end is close to zero
}

// response is that of the kernel in place at a frequency in Hz.
func (d *kaiserDesign) response(halfWidth, frequency float64) float64 {
	var sum, norm float64
	// cos kφ by recurrence
	turn := 2 * math.Pi * frequency * halfWidth / float64(len(d.taper))
	sin, cos := math.Sincos(turn)
	c, s := 1.0, 0.0
	for _, h := range d.kernel {
		sum += h * c
		norm += h
		c, s = c*cos-s*sin, s*cos+c*sin
	}
	return sum / norm
}

func (d *kaiserDesign) place(halfWidth, sincFrequency float64) {
	for i := range d.kernel {
		u := float64(i) / float64(len(d.taper))
		d.kernel[i] = d.taper[i] * sinc(2*sincFrequency*u*halfWidth)
	}
}

// fit finds the sinc that gives one half at the cut-off with a kernel of a
// half-width, and reports whether the stop band then holds.
func (d *kaiserDesign) fit(halfWidth, cutoff, stop, limit float64) (sincPeriod float64, ok bool) {
	low, high := 0.0, 1.5/cutoff
	d.place(halfWidth, low)
	if d.response(halfWidth, 1/cutoff) > 0.5 {
		return 0, false
	}
	for range 30 {
		middle := 0.5 * (low + high)
		d.place(halfWidth, middle)
		if d.response(halfWidth, 1/cutoff) < 0.5 {
			low = middle
		} else {
			high = middle
		}
	}
	for k := range 64 {
		if math.Abs(d.response(halfWidth, 1/stop+float64(k)/(8*halfWidth))) > limit {
			return 0, false
		}
	}
	return 1 / high, true
}

// NewLanczos returns a filter with a cut-off period in seconds and a kernel of so
// many lobes on either side (2 to 10), tapered by Lanczos' sigma factor
// (Duchon 1979, J. Appl. Meteorol. 18, 1016).
func NewLanczos(cutoff float64, lobes int) (*LowPass, error) {
	if !(cutoff > 0) {
		return nil, fmt.Errorf("low-pass cut-off %g s: must be above zero", cutoff)
	}
	if lobes < 2 || lobes > 10 {
		return nil, fmt.Errorf("low-pass with %d lobes: use 2 to 10", lobes)
	}
	return newLowPass(cutoff, cutoff, 0.5*cutoff*float64(lobes), sinc), nil
}

func newLowPass(cutoff, sincPeriod, halfWidth float64, taper func(u float64) float64) *LowPass {
	f := &LowPass{cutoff: cutoff, halfWidth: halfWidth, table: make([]float64, kernelTable+2)}
	for i := range kernelTable + 1 {
		u := float64(i) / kernelTable
		f.table[i] = sinc(2*u*halfWidth/sincPeriod) * taper(u)
	}
	return f
}

// sinc is sin(πx)/(πx).
func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// besselI0 is the modified Bessel function of order zero by its power series.
func besselI0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1; k < 200; k++ {
		term *= (x / 2) / float64(k)
		sum += term * term
		if term*term < 1e-17*sum {
			break
		}
	}
	return sum
}

// HalfWidth returns the length of the kernel on either side in seconds.
func (f *LowPass) HalfWidth() float64 { return f.halfWidth }

// Response returns the amplitude response, for densely sampled data, to a wave of
// a period in seconds: 1 passes, 0 is removed.
func (f *LowPass) Response(period float64) float64 {
	var sum, norm float64
	for i := range kernelTable + 1 {
		weight := 2.0
		if i == 0 || i == kernelTable {
			weight = 1
		}
		u := float64(i) / kernelTable
		sum += weight * f.table[i] * math.Cos(2*math.Pi*u*f.halfWidth/period)
		norm += weight * f.table[i]
	}
	return sum / norm
}

// HalfPowerPeriod returns the period in seconds at which half the power passes
// (−3 dB), the number to store as the effective resolution in time.
func (f *LowPass) HalfPowerPeriod() float64 {
	short, long := 0.5*f.cutoff, 4*f.cutoff
	for range 60 {
		middle := 0.5 * (short + long)
		if f.Response(middle) < math.Sqrt2/2 {
			short = middle
		} else {
			long = middle
		}
	}
	return 0.5 * (short + long)
}

// at returns the kernel at a fraction u in [0, 1] of its half-width.
func (f *LowPass) at(u float64) float64 {
	u *= kernelTable
	i := int(u)
	return f.table[i] + (u-float64(i))*(f.table[i+1]-f.table[i])
}

// Apply writes the filtered column into dst and, unless varianceGain is nil, Σh²
// of the weights used for each sample: the variance of noise that is independent
// between samples comes out multiplied by it.
//
// The kernel never reaches across a stretch of more than maxGap seconds without a
// present value: the column is filtered in the Segments between. Shorter holes are
// bridged by a straight line for the sums, but a missing sample stays missing in
// dst. Towards the ends of a segment the kernel is shortened, in proportion, to
// the time left to the end: it stays symmetric, so a steady slope passes unchanged
// everywhere, and the last sample itself passes unfiltered with a gain of 1. Each
// sample is weighted with the time it stands for, so uneven spacing does not pull
// the result towards the denser side.
func (f *LowPass) Apply(dst, varianceGain, t, x []float64, maxGap float64, w *Workspace) {
	w = w.orNew()
	if varianceGain == nil {
		varianceGain = w.column(3, len(t))
	}
	for i := range dst {
		dst[i], varianceGain[i] = math.NaN(), math.NaN()
	}
	bridged, width := w.column(0, len(t)), w.column(1, len(t))
	for s := range segments(t, x, maxGap) {
		f.segment(dst[s.First:s.End], varianceGain[s.First:s.End], t[s.First:s.End], x[s.First:s.End],
			bridged[s.First:s.End], width[s.First:s.End], w)
	}
}

func (f *LowPass) segment(dst, gain, t, x, bridged, width []float64, w *Workspace) {
	n := len(t)
	last := 0
	for i, v := range x {
		bridged[i] = v
		if math.IsNaN(v) {
			continue
		}
		for j := last + 1; j < i; j++ {
			bridged[j] = x[last] + (v-x[last])*((t[j]-t[last])/(t[i]-t[last]))
		}
		last = i
	}
	even := n > 1 && t[n-1] > t[0]
	step := (t[n-1] - t[0]) / float64(max(n-1, 1))
	for i := 0; n > 1 && i < n; i++ {
		before, after := t[max(i, 1)]-t[max(i, 1)-1], t[min(i+1, n-1)]-t[min(i+1, n-1)-1]
		width[i] = 0.5 * (before + after)
		if i > 0 && math.Abs(t[i]-t[i-1]-step) > 1e-6*step {
			even = false
		}
	}
	reach := 0
	var weights []float64
	evenGain := 0.0
	if even {
		reach = int(f.halfWidth / step)
		weights = w.column(2, reach+1)
		sum := 0.0
		for k := range weights {
			weights[k] = f.at(float64(k) * step / f.halfWidth)
			sum += weights[k]
			if k > 0 {
				sum += weights[k]
			}
		}
		for k := range weights {
			weights[k] /= sum
			evenGain += weights[k] * weights[k]
			if k > 0 {
				evenGain += weights[k] * weights[k]
			}
		}
	}
	for i, v := range x {
		if math.IsNaN(v) {
			continue
		}
		left := math.Min(t[i]-t[0], t[n-1]-t[i])
		if even && left >= f.halfWidth && i >= reach && i+reach < n {
			dst[i], gain[i] = symmetricSum(bridged, weights, i), evenGain
			continue
		}
		dst[i], gain[i] = f.sum(t, bridged, width, i, math.Min(left, f.halfWidth))
	}
}

// symmetricSum is Σ weights[|k|] x[i+k].
func symmetricSum(x, weights []float64, i int) float64 {
	sum := weights[0] * x[i]
	ahead := x[i : i+len(weights)]
	for k := 1; k < len(weights); k++ {
		sum += weights[k] * (ahead[k] + x[i-k])
	}
	return sum
}

// sum is the kernel shortened to a half-width around row i.
func (f *LowPass) sum(t, x, width []float64, i int, halfWidth float64) (value, gain float64) {
	if halfWidth <= 0 {
		return x[i], 1
	}
	scale := 1 / halfWidth
	weight := width[i]
	total, squares, moment, value := weight, weight*weight, 0.0, weight*x[i]
	first, last := i, i
	for j := i - 1; j >= 0; j-- {
		u := (t[i] - t[j]) * scale
		if u > 1 {
			break
		}
		h := f.at(u) * width[j]
		total += h
		squares += h * h
		moment -= h * u
		value += h * x[j]
		first = j
	}
	for j := i + 1; j < len(t); j++ {
		u := (t[j] - t[i]) * scale
		if u > 1 {
			break
		}
		h := f.at(u) * width[j]
		total += h
		squares += h * h
		moment += h * u
		value += h * x[j]
		last = j
	}
	if !(total > 0) || t[last] == t[first] {
		return x[i], 1
	}
	// Uneven times leave the kernel a little lopsided: take out what a slope
	// across it would add.
	slope := (x[last] - x[first]) / (t[last] - t[first])
	return (value - slope*moment*halfWidth) / total, squares / (total * total)
}
