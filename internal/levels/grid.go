package levels

import (
	"math"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Grid is the profile on regular heights or pressures. All slices have the length of
// Coordinate; values that are not known are NaN.
type Grid struct {
	By         string    // "height" (m above mean sea level) or "pressure" (hPa)
	Step       float64   // m or hPa
	Coordinate []float64 // rising heights or falling pressures
	Samples    []int     // samples averaged in the cell; 0 where the value is interpolated
	Variables  []GridVariable
	Rule       string // how a cell's value came about, in one sentence
}

// GridVariable is one variable on a grid.
type GridVariable struct {
	Variable    sounding.Variable
	Values      []float64
	Uncertainty []float64 // total standard uncertainty of the cell's value, k = 1
	Flags       []quality.Flag
}

// gridVariables are what a grid carries; speed and direction follow from the mean components.
var gridVariables = []int{qP, qT, qRH, qTd, qU, qV, qGPH, qZ, qLat, qLon}

// HeightGrid puts the first passage of the ascent on heights that are multiples of
// step metres above mean sea level.
func HeightGrid(f *sounding.Final, set *Settings, step float64) Grid {
	p := NewProfile(f, set)
	return p.grid("height", step, qZ, f, set.GridAverage)
}

// PressureGrid puts it on pressures that are multiples of step hPa.
func PressureGrid(f *sounding.Final, set *Settings, step float64) Grid {
	p := NewProfile(f, set)
	return p.grid("pressure", step, qP, f, set.GridAverage)
}

func (p *Profile) grid(by string, step float64, axis int, f *sounding.Final, average bool) Grid {
	g := Grid{By: by, Step: step}
	g.Rule = "mean of the samples within half a step of each value (wind by components, pressure by its logarithm); interpolated in ln p where there is none, not across gaps"
	if !average {
		g.Rule = "interpolated linearly in ln p between the samples on both sides, not across gaps"
	}
	if !(step > 0) {
		return g
	}
	// Samples in the order of the axis, each used once, where the axis moves on.
	sign := 1.0
	if axis == qP {
		sign = -1
	}
	var samples []int
	last := math.Inf(-1)
	for k := range p.Rows {
		if c := sign * p.Value[axis][k]; c > last {
			samples = append(samples, k)
			last = c
		}
	}
	if len(samples) == 0 {
		return g
	}
	first := math.Ceil(p.Value[axis][samples[0]]/step-1e-9) * step
	end := math.Floor(p.Value[axis][samples[len(samples)-1]]/step+1e-9) * step
	if axis == qP {
		first = math.Floor(p.Value[axis][samples[0]]/step+1e-9) * step
		end = math.Ceil(p.Value[axis][samples[len(samples)-1]]/step-1e-9) * step
	}
	n := int(math.Round(sign*(end-first)/step)) + 1
	if n < 1 || n > 1<<20 {
		return g
	}
	g.Coordinate, g.Samples = make([]float64, n), make([]int, n)
	for _, q := range gridVariables {
		g.Variables = append(g.Variables, GridVariable{Variable: quantities[q], Values: make([]float64, n), Uncertainty: make([]float64, n), Flags: make([]quality.Flag, n)})
	}
	speed := GridVariable{Variable: sounding.WindSpeed, Values: make([]float64, n), Uncertainty: make([]float64, n), Flags: make([]quality.Flag, n)}
	direction := GridVariable{Variable: sounding.WindDirection, Values: make([]float64, n), Uncertainty: make([]float64, n), Flags: make([]quality.Flag, n)}
	parts := make([][2][]float64, len(gridVariables))
	for i, q := range gridVariables {
		if s := f.Get(quantities[q]); s != nil {
			parts[i] = [2][]float64{s.Independent, s.Common}
		}
	}
	from := 0
	for c := 0; c < n; c++ {
		x := first + sign*float64(c)*step
		g.Coordinate[c] = x
		for from < len(samples) && sign*p.Value[axis][samples[from]] < sign*x-step/2 {
			from++
		}
		to := from
		for average && to < len(samples) && sign*p.Value[axis][samples[to]] < sign*x+step/2 {
			to++
		}
		g.Samples[c] = to - from
		lnp := p.lnpOn(axis, x, samples)
		for i, q := range gridVariables {
			v := &g.Variables[i]
			if to > from {
				v.Values[c], v.Uncertainty[c], v.Flags[c] = p.mean(q, samples[from:to], parts[i])
			}
			if to == from || v.Flags[c] == quality.Missing {
				v.Values[c], v.Uncertainty[c], v.Flags[c] = math.NaN(), math.NaN(), quality.Missing
				if !math.IsNaN(lnp) {
					v.Values[c], v.Uncertainty[c], v.Flags[c] = p.at(q, lnp)
					if math.IsNaN(v.Values[c]) {
						v.Flags[c] = quality.Missing
					}
				}
			}
			if q == axis {
				v.Values[c] = x
			}
		}
		u, w := &g.Variables[4], &g.Variables[5]
		speed.Values[c], direction.Values[c] = math.NaN(), math.NaN()
		speed.Uncertainty[c], direction.Uncertainty[c] = math.NaN(), math.NaN()
		speed.Flags[c] = quality.Worst(u.Flags[c], w.Flags[c])
		if !math.IsNaN(u.Values[c]) && !math.IsNaN(w.Values[c]) {
			speed.Values[c], direction.Values[c] = earth.WindFromUV(u.Values[c], w.Values[c])
			speed.Uncertainty[c] = math.Hypot(u.Uncertainty[c], w.Uncertainty[c]) / math.Sqrt2
			if speed.Values[c] > 0 {
				direction.Uncertainty[c] = math.Min(180, speed.Uncertainty[c]/speed.Values[c]*180/math.Pi)
			}
		} else {
			speed.Flags[c] = quality.Missing
		}
		direction.Flags[c] = speed.Flags[c]
	}
	g.Variables = append(g.Variables, speed, direction)
	return g
}

// mean averages quantity q over samples: the independent part of the uncertainty falls
// with the square root of their number, the common part does not.
func (p *Profile) mean(q int, samples []int, parts [2][]float64) (value, u float64, flag quality.Flag) {
	var sum, n float64
	var u2 [2][64]float64
	independent, common := u2[0][:0], u2[1][:0]
	for _, k := range samples {
		v := p.Value[q][k]
		if math.IsNaN(v) {
			continue
		}
		if q == qP {
			v = p.LnP[k]
		}
		sum, n = sum+v, n+1
		if parts[0] != nil {
			independent = append(independent, parts[0][p.Rows[k]])
		}
		if parts[1] != nil {
			common = append(common, parts[1][p.Rows[k]])
		}
		flag = quality.Worst(flag, p.flag(q, k))
	}
	if n == 0 {
		return math.NaN(), math.NaN(), quality.Missing
	}
	value = sum / n
	if q == qP {
		value = math.Exp(value)
	}
	return value, sounding.MeanUncertainty(independent, common), flag
}

// lnpOn returns the ln p at which the axis has the value x, NaN outside and across gaps.
func (p *Profile) lnpOn(axis int, x float64, samples []int) float64 {
	if axis == qP {
		return math.Log(x)
	}
	lo, hi := 0, len(samples)-1
	if x < p.Value[axis][samples[lo]] || x > p.Value[axis][samples[hi]] {
		return math.NaN()
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; p.Value[axis][samples[mid]] <= x {
			lo = mid
		} else {
			hi = mid
		}
	}
	a, b := samples[lo], samples[hi]
	if a == b || p.Value[axis][a] == x {
		return p.LnP[a]
	}
	if p.gap(a, b) {
		return math.NaN()
	}
	w := (x - p.Value[axis][a]) / (p.Value[axis][b] - p.Value[axis][a])
	return p.LnP[a]*(1-w) + p.LnP[b]*w
}
