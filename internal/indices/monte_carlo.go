package indices

import (
	"math"
	"math/rand/v2"
	"slices"
)

// The variables whose common error is one draw a flight.
const (
	commonT = iota
	commonH
	commonP
	commonZ
	commonU
	commonV
	numCommon
)

// experiment is what members are drawn from: layer means and single values with their
// uncertainties.
type experiment struct {
	s      *source
	air    column
	wind   windColumn
	points [numPoints]pointSource
	ends   [numEnds]endSource
	lnp, p []float64 // of the member at hand
	rh     []float64
	random *rand.Rand // nil: no independent errors
	common [numCommon]float64
}

// normal is one draw of an independent error.
func (x *experiment) normal() float64 {
	if x.random == nil {
		return 0
	}
	return x.random.NormFloat64()
}

// member fills st with the profile as it would be with other errors of the sizes stated.
// The common error of pressure moves the levels; its independent error, which could
// change their order, is put on the other values by their slope along ln p, which to
// first order is the same.
func (x *experiment) member(st *state) {
	c := &x.air
	if x.random != nil {
		for i := range x.common {
			x.common[i] = x.random.NormFloat64()
		}
	}
	k := &x.common
	n := c.len()
	x.lnp, x.p = slices.Grow(x.lnp[:0], n)[:n], slices.Grow(x.p[:0], n)[:n]
	st.t, st.z, x.rh = slices.Grow(st.t[:0], n)[:n], slices.Grow(st.z[:0], n)[:n], slices.Grow(x.rh[:0], n)[:n]
	ground, above := math.NaN(), math.Inf(1)
	for i := range n {
		d := c.pc[i] * k[commonP] / c.p[i]
		// Never above the level below it, whatever the uncertainty does from level to level.
		x.lnp[i] = math.Min(c.lnp[i]+d-0.5*d*d, above-1e-9)
		above = x.lnp[i]
		x.p[i] = c.p[i] * (1 + d)
		shift := c.pi[i] * x.normal() / c.p[i]
		st.t[i] = c.t[i] + c.tc[i]*k[commonT] + c.ti[i]*x.normal() - c.gt[i]*shift
		z := c.z[i] + c.zc[i]*k[commonZ] + c.zi[i]*x.normal()
		if i == 0 {
			ground = z - (c.z[0] - x.s.ground) // where the first level is the ground, exactly it
		}
		st.z[i] = z - ground
		switch c.status[i] {
		case known:
			x.rh[i] = math.Max(0, c.rh[i]+c.hc[i]*k[commonH]+c.hi[i]*x.normal()-c.gh[i]*shift)
		default:
			x.rh[i] = c.rh[i]
		}
	}
	st.lnp, st.p = x.lnp, x.p
	st.ground = ground
	st.moisten(x.s, c, x.rh)
	for i := range x.points {
		p := &x.points[i]
		shift := (p.pc*k[commonP] + p.pi*x.normal()) / pointPressure[i]
		t := p.t + p.tc*k[commonT] + p.ti*x.normal() - p.gt*shift
		rh := math.Max(0, p.rh+p.hc*k[commonH]+p.hi*x.normal()-p.gh*shift)
		st.at[i] = airPoint{t, 0.01 * rh * x.s.sensor.At(t)}
	}
	w := &x.wind
	m := len(w.z)
	st.wz, st.wu, st.wv = slices.Grow(st.wz[:0], m)[:m], slices.Grow(st.wu[:0], m)[:m], slices.Grow(st.wv[:0], m)[:m]
	for i := range m {
		st.wz[i] = w.z[i] // heights above ground: the common error cancels, the rest is small beside the layers
		st.wu[i] = w.u[i] + w.uc[i]*k[commonU] + w.ui[i]*x.normal()
		st.wv[i] = w.v[i] + w.vc[i]*k[commonV] + w.vi[i]*x.normal()
	}
	for i := range x.ends {
		e := &x.ends[i]
		st.ends[i].U = e.u + e.uc*k[commonU] + e.ui*x.normal()
		st.ends[i].V = e.v + e.vc*k[commonV] + e.vi*x.normal()
	}
}

// newExperiment prepares the layer means of a flight.
func newExperiment(s *source, points [numPoints]pointSource, ends [numEnds]endSource) *experiment {
	x := &experiment{s: s, air: s.air.layers(s.set.LayerLnP), wind: s.wind.layers(s.set.LayerLnP), points: points, ends: ends}
	for i := range x.points {
		p := &x.points[i]
		if x.air.len() > 0 && !math.IsNaN(p.t) {
			lnp := math.Log(pointPressure[i])
			p.gt, p.gh = interpolate(x.air.lnp, x.air.gt, lnp), interpolate(x.air.lnp, x.air.gh, lnp)
			if math.IsNaN(p.gt) || math.IsNaN(p.gh) {
				p.gt, p.gh = 0, 0
			}
		}
	}
	return x
}

// spread is what the members say about one index.
type spread struct{ u, common, low, high, share float64 }

// run draws the members and returns the spread of every index. base is the computation
// on the unperturbed layer means.
func (x *experiment) run(w *work, members int, seed uint64, wanted *[numIndices]bool) (out [numIndices]spread, base values) {
	var st state
	// Layer means are close enough: only gaps in them need levels between.
	w.refine = math.Max(w.refine, 4*x.s.set.LayerLnP)
	x.random, x.common = nil, [numCommon]float64{}
	x.member(&st)
	w.compute(&st, &st, &base)

	// Common parts, by central differences of one standard uncertainty.
	var sum [numIndices]float64
	for v := range numCommon {
		var up, down values
		x.common = [numCommon]float64{}
		x.common[v] = 1
		x.member(&st)
		w.compute(&st, &st, &up)
		x.common[v] = -1
		x.member(&st)
		w.compute(&st, &st, &down)
		for i := range sum {
			d := 0.5 * difference(i, up[i], down[i])
			sum[i] += d * d
		}
	}

	x.random = rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
	all := make([]values, members)
	for k := range all {
		x.member(&st)
		w.compute(&st, &st, &all[k])
	}
	x.random = nil
	sorted := make([]float64, 0, members)
	for i := range out {
		nan := math.NaN()
		out[i] = spread{nan, nan, nan, nan, nan}
		if !wanted[i] {
			continue
		}
		sorted = sorted[:0]
		mean := 0.0
		for k := range all {
			v := all[k][i]
			if math.IsNaN(v) {
				continue
			}
			// Directions are counted from the unperturbed one, so that north is no edge.
			if isAngle(i) && !math.IsNaN(base[i]) {
				v = difference(i, v, base[i])
			}
			sorted = append(sorted, v)
			mean += v
		}
		n := float64(len(sorted))
		o := &out[i]
		o.share = n / float64(members)
		if n < 2 {
			continue
		}
		mean /= n
		s := 0.0
		for _, v := range sorted {
			s += (v - mean) * (v - mean)
		}
		o.u, o.common = math.Sqrt(s/(n-1)), math.Sqrt(sum[i])
		if o.u < 1e-9*math.Abs(mean) {
			o.u = 0 // all members alike, but for the last digit
		}
		slices.Sort(sorted)
		o.low, o.high = quantile(sorted, 0.025), quantile(sorted, 0.975)
		if isAngle(i) {
			o.low, o.high = turn(o.low+base[i]), turn(o.high+base[i])
		}
	}
	return out, base
}

func isAngle(i int) bool { return definitions[i].unit == "degree" }

// difference is a − b, for angles the short way round.
func difference(i int, a, b float64) float64 {
	if isAngle(i) {
		return math.Remainder(a-b, 360)
	}
	return a - b
}

// turn brings an angle to (0, 360].
func turn(a float64) float64 {
	a = math.Mod(a, 360)
	if a <= 0 {
		a += 360
	}
	return a
}

// quantile reads a quantile off sorted values, linear between ranks.
func quantile(sorted []float64, q float64) float64 {
	x := q * float64(len(sorted)-1)
	i := min(int(x), len(sorted)-2)
	return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
}
