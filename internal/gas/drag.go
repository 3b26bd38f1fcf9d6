package gas

import (
	"fmt"
	"math"
	"sort"

	"leadline/internal/constants"
	"leadline/internal/earth"
	"leadline/internal/smooth"
)

// Drag is the drag coefficient of a sounding balloon against the Reynolds number: Below
// at low numbers (laminar separation), Above at high ones (turbulent), with a smooth fall
// between them, the drag crisis:
//
//	Cd = Above + (Below − Above) / (1 + (Re/Critical)^(1/Width))
//
// Coefficients are effective ones: the temperature of the gas against the air, the shape
// of the balloon and its load are in them.
type Drag struct {
	Below, Above    float64
	Critical, Width float64
	Relative        float64 // standard uncertainty of the coefficient, share of it, from balloon to balloon
	Flights         int     // flights it was fitted to; 0 is the planning default
}

// PlanningDrag returns the default where a station has no flights of its own. Above is
// the upper end of the planning range of METHODS 8.2 (0.25–0.35 with the density of the
// ground), critical number and width are those of a rough sphere (2–4·10⁵, from memory),
// and Below is the one number fitted so that the mean rates of nineteen published
// balloons, from release to burst, come out with the least error (rms 9 %; a test
// repeats the fit). It is larger than the 0.4–0.5 of a sphere because it carries the
// gas, which cools as it expands and lifts less, and the pear shape of a grown balloon.
// With Relative 20 % the rate is known to 10 %.
func PlanningDrag() Drag {
	return Drag{Below: 0.68, Above: 0.35, Critical: 2.6e5, Width: 0.38, Relative: 0.20}
}

// Coefficient returns the drag coefficient at a Reynolds number.
func (d Drag) Coefficient(reynolds float64) float64 {
	return d.Above + (d.Below-d.Above)*d.below(reynolds)
}

// below is the share of the laminar value, 1 far below the crisis and 0 far above it.
func (d Drag) below(reynolds float64) float64 {
	return 1 / (1 + math.Exp((math.Log(reynolds)-math.Log(d.Critical))/d.Width))
}

// Constant returns a drag coefficient that does not depend on the Reynolds number.
func Constant(coefficient float64) Drag {
	return Drag{Below: coefficient, Above: coefficient, Critical: 3e5, Width: 0.4}
}

// Scaled returns the curve times a factor.
func (d Drag) Scaled(factor float64) Drag {
	d.Below *= factor
	d.Above *= factor
	return d
}

// Reynolds returns the Reynolds number of a sphere of a diameter in m that moves at a
// speed in m s⁻¹ through air.
func Reynolds(diameter, speed float64, air Air) float64 {
	return air.Density() * speed * diameter / earth.DynamicViscosity(air.Temperature)
}

// Climber is the state of a balloon that climbs at the rate at which drag holds its lift.
type Climber struct {
	Rate        float64 // m s⁻¹ against the air; NaN where there is no lift
	Diameter    float64 // m
	Reynolds    float64
	Coefficient float64
}

// Rate returns the steady rate of climb of a fill in air: w = √(2 L g0/(ρ Cd A)) with Cd
// at its own Reynolds number, iterated. guess is a rate in m s⁻¹ to start from, or 0.
// Every balloon reaches its rate in two or three seconds.
func (f Fill) Rate(air Air, drag Drag, guess float64) Climber {
	rho := air.Density()
	c := Climber{Diameter: f.Diameter(air)}
	lift := f.FreeLift(air)
	if !(lift > 0) || !(rho > 0) {
		c.Rate, c.Reynolds, c.Coefficient = nan, nan, nan
		return c
	}
	if !(guess > 0) {
		guess = 5
	}
	base := 2 * lift * constants.G0 / (rho * math.Pi / 4 * c.Diameter * c.Diameter)
	perSpeed := rho * c.Diameter / earth.DynamicViscosity(air.Temperature)
	c.Rate = guess
	// w ← √(base/Cd(Re(w))). A steep crisis could make plain iteration swing; the mean of
	// old and new damps it and settles on 1e-6 in at most thirty steps.
	for range 60 {
		c.Reynolds = perSpeed * c.Rate
		c.Coefficient = drag.Coefficient(c.Reynolds)
		next := math.Sqrt(base / c.Coefficient)
		done := math.Abs(next-c.Rate) < 1e-6*next
		c.Rate += 0.7 * (next - c.Rate)
		if done {
			break
		}
	}
	return c
}

// Observed is a flight's own ascent, for fitting drag: its fill and samples that are
// averages over about a minute, so that swings and gusts cancel.
type Observed struct {
	Fill Fill
	Air  []Air
	Rate []float64 // m s⁻¹, as climbed; NaN where missing
}

// FitDrag fits the drag curve to a station's own flights. From each sample the
// coefficient is Cd = 2 L g0/(ρ w² A); its medians in bands of the Reynolds number, a
// flight counting once in a band, are fitted by least squares in Below and Above with the
// Critical number tried from 1.2 to 6·10⁵. Where the flights do not reach both sides of
// the crisis (less than a third of the curve's fall is seen), the planning default is
// scaled instead. Relative is the spread of the flights about the fit, and at least 3 %.
// It returns an error with fewer than two flights of ten samples.
func FitDrag(flights []Observed) (Drag, error) {
	const bands, low, high = 24, 10.0, 14.5 // ln Re 10 to 14.5: 2·10⁴ to 2·10⁶
	perBand := make([][]float64, bands)
	type point struct{ x, cd float64 }
	byFlight := make([][]point, 0, len(flights))
	for i := range flights {
		f := &flights[i]
		in := make([][]float64, bands)
		n := 0
		for k, w := range f.Rate {
			if !(w > 0.5) {
				continue
			}
			air := f.Air[k]
			rho, d, lift := air.Density(), f.Fill.Diameter(air), f.Fill.FreeLift(air)
			cd := 2 * lift * constants.G0 / (rho * w * w * math.Pi / 4 * d * d)
			x := math.Log(Reynolds(d, w, air))
			band := int((x - low) / (high - low) * bands)
			if !(cd > 0.02 && cd < 3) || band < 0 || band >= bands {
				continue
			}
			in[band] = append(in[band], cd)
			n++
		}
		if n < 10 {
			continue
		}
		var points []point
		for b, values := range in {
			if len(values) == 0 {
				continue
			}
			m := smooth.Median(values, nil)
			perBand[b] = append(perBand[b], m)
			points = append(points, point{low + (float64(b)+0.5)*(high-low)/bands, m})
		}
		byFlight = append(byFlight, points)
	}
	if len(byFlight) < 2 {
		return Drag{}, fmt.Errorf("drag can be fitted to 2 flights or more, each with 10 samples of its climb: there are %d", len(byFlight))
	}
	var xs, ys, weights []float64
	for b, values := range perBand {
		if len(values) > 0 {
			xs = append(xs, low+(float64(b)+0.5)*(high-low)/bands)
			ys = append(ys, smooth.Median(values, nil))
			weights = append(weights, math.Sqrt(float64(len(values))))
		}
	}
	best, bestSum := Drag{}, math.Inf(1)
	shape := PlanningDrag()
	for k := 0; k <= 32; k++ {
		trial := shape
		trial.Critical = 1.2e5 * math.Pow(5, float64(k)/32)
		fit, sum, ok := fitEnds(trial, xs, ys, weights)
		if ok && sum < bestSum {
			best, bestSum = fit, sum
		}
	}
	if math.IsInf(bestSum, 1) {
		var ratios []float64
		for i, x := range xs {
			ratios = append(ratios, ys[i]/shape.Coefficient(math.Exp(x)))
		}
		best = shape.Scaled(smooth.Median(ratios, nil))
	}
	var off []float64
	for _, points := range byFlight {
		var ratios []float64
		for _, p := range points {
			ratios = append(ratios, p.cd/best.Coefficient(math.Exp(p.x)))
		}
		off = append(off, math.Log(smooth.Median(ratios, nil)))
	}
	sort.Float64s(off)
	var mean, square float64
	for _, v := range off {
		mean += v / float64(len(off))
	}
	for _, v := range off {
		square += (v - mean) * (v - mean)
	}
	best = best.Scaled(math.Exp(mean))
	// The mean of n flights is itself uncertain, so the next flight is off by a little more.
	n := float64(len(off))
	best.Relative = math.Max(0.03, math.Sqrt(square/(n-1)*(1+1/n)))
	best.Flights = len(off)
	return best, nil
}

// fitEnds solves for Below and Above with the crisis where trial has it; ok is false
// where the data do not tell the two ends apart or an end comes out impossible.
func fitEnds(trial Drag, xs, ys, weights []float64) (fit Drag, sum float64, ok bool) {
	var aa, ab, bb, ay, by float64
	least, most := 1.0, 0.0
	for i, x := range xs {
		s := trial.below(math.Exp(x))
		least, most = math.Min(least, s), math.Max(most, s)
		a, b, w := s, 1-s, weights[i]
		aa += w * a * a
		ab += w * a * b
		bb += w * b * b
		ay += w * a * ys[i]
		by += w * b * ys[i]
	}
	det := aa*bb - ab*ab
	if most-least < 1.0/3 || !(det > 1e-9*aa*bb) {
		return trial, 0, false
	}
	trial.Below, trial.Above = (ay*bb-by*ab)/det, (by*aa-ay*ab)/det
	if !(trial.Below > 0.05 && trial.Below < 1.5 && trial.Above > 0.05 && trial.Above < 1.5) {
		return trial, 0, false
	}
	for i, x := range xs {
		d := ys[i] - trial.Coefficient(math.Exp(x))
		sum += weights[i] * d * d
	}
	return trial, sum, true
}
