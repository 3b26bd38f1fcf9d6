package wind

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/dsp/fourier"
)

// swing is what the spectrum says about the string's pendulum.
type swing struct {
	found     bool
	period    float64 // s
	amplitude float64 // m s⁻¹, of the velocity
	strength  float64 // power over that of the neighbouring periods
	windows   int
}

// gravity for the period of a simple pendulum, T = 2π√(L/g).
const gravity = 9.80665

// PendulumPeriod returns the period in s of small swings of a string of a length in
// m: 2π√(L/g); NaN where it is not positive. The length that counts is from the
// balloon's centre to the radiosonde's.
func PendulumPeriod(length float64) float64 {
	if !(length > 0) {
		return math.NaN()
	}
	return 2 * math.Pi * math.Sqrt(length/gravity)
}

// StringLength is the inverse of PendulumPeriod, in m.
func StringLength(period float64) float64 {
	return gravity * (period / (2 * math.Pi)) * (period / (2 * math.Pi))
}

// findSwing looks for the pendulum in u and v of a leg (docs/methods/pendulum.md):
// power spectra of the complex velocity in half-overlapping windows, tapered
// (Hann) after a straight line is taken out (Welch 1967), the median over windows
// and both senses of rotation, and the peak that stands out most from the median of
// the periods around it.
func findSwing(t, u, v []float64, set *Pendulum) swing {
	step := usualStep(t)
	if !(step > 0) {
		return swing{}
	}
	size := 16
	for float64(size)*step < set.Window {
		size *= 2
	}
	if float64(size)*step > 1.5*set.Window {
		size /= 2
	}
	if size < 32 || len(t) < size {
		return swing{}
	}
	transform := fourier.NewCmplxFFT(size)
	taper := make([]float64, size)
	power := 0.0
	for i := range taper {
		taper[i] = 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(size))
		power += taper[i] * taper[i]
	}
	half := size / 2
	spectra := make([][]float64, half)
	room := make([]float64, half*(len(t)/half+1))
	for k := range spectra {
		spectra[k] = room[k*(len(t)/half+1):][: 0 : len(t)/half+1]
	}
	seq, coefficients := make([]complex128, size), make([]complex128, size)
	windows := 0
	for from := 0; from+size <= len(t); from += half {
		if t[from+size-1]-t[from] > 1.05*float64(size-1)*step || !straightened(seq, u[from:from+size], v[from:from+size]) {
			continue
		}
		for i := range seq {
			seq[i] *= complex(taper[i], 0)
		}
		transform.Coefficients(coefficients, seq)
		for k := 1; k < half; k++ {
			a, c := coefficients[k], coefficients[size-k]
			spectra[k] = append(spectra[k], (real(a)*real(a)+imag(a)*imag(a)+real(c)*real(c)+imag(c)*imag(c))/power)
		}
		windows++
	}
	if windows == 0 {
		return swing{}
	}
	middle := make([]float64, half)
	for k := 1; k < half; k++ {
		sort.Float64s(spectra[k])
		middle[k] = spectra[k][windows/2]
		if windows%2 == 0 {
			middle[k] = 0.5 * (spectra[k][windows/2-1] + spectra[k][windows/2])
		}
	}
	duration := float64(size) * step
	low := max(3, int(math.Ceil(duration/set.Longest)))
	high := min(half-2, int(duration/max(set.Shortest, 2.5*step)))
	best, strength := 0, 0.0
	for k := low; k <= high; k++ {
		if middle[k] < middle[k-1] || middle[k] < middle[k+1] {
			continue
		}
		if s := middle[k] / background(middle, k); s > strength {
			best, strength = k, s
		}
	}
	if best == 0 {
		return swing{windows: windows}
	}
	// Peak place by a parabola through the logarithms of three lines.
	a, b, c := math.Log(middle[best-1]), math.Log(middle[best]), math.Log(middle[best+1])
	shift := 0.0
	if d := a - 2*b + c; d < 0 {
		shift = max(-0.5, min(0.5, 0.5*(a-c)/d))
	}
	excess := 0.0
	ground := background(middle, best)
	for k := max(1, best-2); k <= min(half-1, best+2); k++ {
		excess += max(0, middle[k]-ground)
	}
	s := swing{period: duration / (float64(best) + shift), strength: strength, windows: windows}
	s.amplitude = math.Sqrt(2 * excess / float64(size))
	s.found = strength >= set.Significant && s.amplitude >= set.Smallest
	return s
}

// background is the median power of the lines around k, those next to it left out.
func background(power []float64, k int) float64 {
	reach := max(6, k/2)
	around := make([]float64, 0, 2*reach)
	for j := max(1, k-reach); j <= min(len(power)-1, k+reach); j++ {
		if j < k-2 || j > k+2 {
			around = append(around, power[j])
		}
	}
	sort.Float64s(around)
	if len(around) == 0 {
		return math.Inf(1)
	}
	return around[len(around)/2]
}

// straightened fills seq with u + iv less its straight line, gaps of a few samples
// filled by straight lines; false where more than a tenth of the window is missing.
func straightened(seq []complex128, u, v []float64) bool {
	n := len(seq)
	missing, last := 0, -1
	for i := range n {
		if u[i] != u[i] || v[i] != v[i] {
			missing++
			continue
		}
		x := complex(u[i], v[i])
		if last < 0 {
			for j := range i {
				seq[j] = x
			}
		}
		for j := last + 1; last >= 0 && j < i; j++ {
			seq[j] = seq[last] + (x-seq[last])*complex(float64(j-last)/float64(i-last), 0)
		}
		seq[i], last = x, i
	}
	if missing*10 > n || last < 0 {
		return false
	}
	for j := last + 1; j < n; j++ {
		seq[j] = seq[last]
	}
	var sum, slope complex128
	centre, spread := 0.5*float64(n-1), 0.0
	for i, x := range seq {
		d := float64(i) - centre
		sum += x
		slope += x * complex(d, 0)
		spread += d * d
	}
	mean := sum / complex(float64(n), 0)
	slope /= complex(spread, 0)
	for i := range seq {
		seq[i] -= mean + slope*complex(float64(i)-centre, 0)
	}
	return true
}

// usualStep is the median time between rows; 0 for fewer than two.
func usualStep(t []float64) float64 {
	if len(t) < 2 {
		return 0
	}
	every := max(1, len(t)/256)
	steps := make([]float64, 0, 300)
	for i := 1; i < len(t); i += every {
		steps = append(steps, t[i]-t[i-1])
	}
	sort.Float64s(steps)
	return steps[len(steps)/2]
}
