package suggest

import (
	"math"

	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/hydrostatic"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// middle is the median of the values of x in a span that are there.
func middle(x []float64, s sounding.Span) float64 {
	if x == nil {
		return math.NaN()
	}
	return smooth.Median(x[s.From:s.To], nil)
}

// difference is hydrostatic minus satellite height along the ascent, both from zero at
// release, so that nothing of the launch record enters.
type difference struct {
	d, u, p, virtual []float64 // gpm, m, hPa, K
	row              []int
}

// heightDifference computes it; nil where it cannot.
func (f *facts) heightDifference() *difference {
	if !f.barometer {
		return nil
	}
	p, z := f.raw.Usable(sounding.Pressure), f.raw.Usable(sounding.HeightMSL)
	if z == nil {
		z = f.raw.Usable(sounding.HeightEllipsoid)
	}
	t, rh := f.final.Usable(sounding.Temperature), f.final.Usable(sounding.Humidity)
	if p == nil || z == nil || t == nil || f.ascent.Len() < 300 {
		return nil
	}
	latitude := f.latitude
	if math.IsNaN(latitude) {
		latitude = f.o.Record.Site.Latitude.Or(45)
	}
	scale := earth.HeightScaleAt(latitude)
	stride := max(1, f.ascent.Len()/800)
	x := &difference{}
	var sat []float64
	for i := f.ascent.From; i < f.ascent.To; i += stride {
		if !(p[i] > 0) || math.IsNaN(z[i]) || math.IsNaN(t[i]) {
			continue
		}
		tv := t[i]
		if rh != nil && rh[i] > 0 && p[i] > 200 {
			tv = humidity.VirtualTemperature(tv, humidity.HylandWexler.FromRelative(math.Min(rh[i], 100), tv), p[i])
		}
		x.p, x.virtual, x.row = append(x.p, p[i]), append(x.virtual, tv), append(x.row, i)
		sat = append(sat, scale.Geopotential(z[i]))
	}
	if len(x.p) < 100 || x.p[len(x.p)-1] > 200 {
		return nil
	}
	x.d, x.u = make([]float64, len(x.p)), make([]float64, len(x.p))
	hydrostatic.HeightsFromPressure(x.d, x.p, x.virtual, sat[0])
	for i := range x.d {
		x.d[i] -= sat[i]
		// Satellite height, and what radiation and noise leave in pressure and temperature.
		x.u[i] = math.Hypot(6, 0.0006*math.Abs(sat[i]-sat[0]))
	}
	zero := smooth.Median(x.d[:8], nil)
	for i := range x.d {
		x.d[i] -= zero
	}
	return x
}

const perKelvin = 29.27 // m, Rd/g0

// basis returns a constant, a barometer 1 hPa too high and a thermometer 1 K too warm
// from a row on, as differences of height.
func (x *difference) basis(from int) [3][]float64 {
	n := len(x.d)
	b := [3][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}
	first := hydrostatic.HeightPerPressure(x.p[0], x.virtual[0])
	start := math.NaN()
	for i := range x.d {
		b[0][i] = 1
		b[1][i] = first - hydrostatic.HeightPerPressure(x.p[i], x.virtual[i])
		if x.row[i] >= from {
			if math.IsNaN(start) {
				start = x.p[i]
			}
			b[2][i] = perKelvin * math.Log(start/x.p[i])
		}
	}
	return b
}

// hydrostatic fits what the barometer and the thermometer are off to the difference:
// what grows as 1/p is an offset of the barometer, what grows as ln p one of the
// thermometer (METHODS, consistency of barometer and satellite height).
func (f *facts) hydrostatic() {
	if f.apart = f.heightDifference(); f.apart != nil {
		x, u := fit3(f.apart.d, f.apart.u, f.apart.basis(0), [3]float64{6, 3, 3})
		f.offset, f.uOffset, f.warm, f.uWarm = x[1], u[1], x[2], u[2]
	}
}

// stepAloft fits by how much the temperature is too high from a row on.
func (f *facts) stepAloft(row int) (size, u float64) {
	if f.apart == nil {
		return math.NaN(), math.NaN()
	}
	x, ux := fit3(f.apart.d, f.apart.u, f.apart.basis(row), [3]float64{6, 1, 5})
	return x[2], ux[2]
}

// fit3 is a weighted least-squares fit of three curves with weak knowledge of their
// sizes, twice: the second time without rows far off the first. One row in 30 counts
// as independent.
func fit3(d, u []float64, basis [3][]float64, prior [3]float64) (x, ux [3]float64) {
	const correlated = 15 // of some 800 rows along an ascent
	rest := make([]float64, len(d))
	cut := math.Inf(1)
	for range 2 {
		var a [3][3]float64
		var r [3]float64
		for m := range a {
			a[m][m] = 1 / (prior[m] * prior[m])
		}
		for i := range d {
			if math.Abs(rest[i])/u[i] > cut {
				continue
			}
			w := 1 / (u[i] * u[i] * correlated)
			for m := range a {
				for n := range a {
					a[m][n] += w * basis[m][i] * basis[n][i]
				}
				r[m] += w * basis[m][i] * d[i]
			}
		}
		inverse := invert3(a)
		for m := range x {
			x[m] = 0
			for n := range r {
				x[m] += inverse[m][n] * r[n]
			}
			ux[m] = math.Sqrt(math.Max(0, inverse[m][m]))
		}
		size := make([]float64, len(d))
		for i := range d {
			rest[i] = d[i] - x[0]*basis[0][i] - x[1]*basis[1][i] - x[2]*basis[2][i]
			size[i] = math.Abs(rest[i]) / u[i]
		}
		cut = math.Max(1.5, 5*smooth.Median(size, nil))
	}
	return x, ux
}

// invert3 is the inverse of a symmetric positive matrix.
func invert3(a [3][3]float64) (out [3][3]float64) {
	minor := func(i, j int) float64 {
		m := func(k, skip int) int {
			if k >= skip {
				return k + 1
			}
			return k
		}
		v := a[m(0, i)][m(0, j)]*a[m(1, i)][m(1, j)] - a[m(0, i)][m(1, j)]*a[m(1, i)][m(0, j)]
		if (i+j)%2 == 1 {
			return -v
		}
		return v
	}
	det := a[0][0]*minor(0, 0) + a[0][1]*minor(0, 1) + a[0][2]*minor(0, 2)
	for i := range out {
		for j := range out {
			out[i][j] = minor(j, i) / det
		}
	}
	return out
}
