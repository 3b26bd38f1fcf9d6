package indices

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/humidity"
	"leadline/internal/parcel"
)

// state is one profile ready to be read: the flight itself, its layer means, or a member
// of the Monte Carlo.
type state struct {
	lnp, p, t, z []float64 // every level with a temperature; z in m above ground
	moist        moist
	wz, wu, wv   []float64 // m above ground
	at           [numPoints]airPoint
	ends         [numEnds]parcel.Vector
	ground       float64 // m above mean sea level
}

// moist are the levels where the vapour is known too.
type moist struct{ lnp, p, t, tv, e, z []float64 }

// The pressures and heights single values are read at.
const (
	at850 = iota
	at700
	at500
	numPoints
)

var pointPressure = [numPoints]float64{850, 700, 500}

const (
	end0 = iota
	end1
	end3
	end6
	numEnds
)

var endHeight = [numEnds]float64{0, 1000, 3000, 6000}

// airPoint is temperature in K and vapour pressure in hPa at one pressure; NaN where
// they are not known.
type airPoint struct{ t, e float64 }

// pointSource is where an airPoint comes from, with its uncertainty.
type pointSource struct {
	t, rh                  float64
	ti, tc, hi, hc, pi, pc float64
	gt, gh                 float64 // by ln p
	noT, noH               string  // why there is none
}

// endSource is the same of a wind.
type endSource struct {
	u, v, ui, uc, vi, vc float64
	no                   string
}

// at reads one pressure off the samples, linear in ln p between those around it.
func (s *source) at(p float64) pointSource {
	out := pointSource{t: math.NaN(), rh: math.NaN()}
	c := &s.air
	n := c.len()
	switch {
	case s.noT != "":
		out.noT, out.noH = s.noT, s.noT
		return out
	case c.p[0] < p:
		out.noT = fmt.Sprintf("the surface (%s) lies above %s", hpa(c.p[0]), hpa(p))
	case c.p[n-1] > p:
		out.noT = fmt.Sprintf("the profile ends at %s", hpa(c.p[n-1]))
	}
	if out.noT != "" {
		out.noH = out.noT
		return out
	}
	lnp := math.Log(p)
	b := searchFalling(c.lnp, lnp)
	a := max(0, b-1)
	if c.lnp[b] == lnp {
		a = b
	}
	if a != b && s.isGap(a, b) {
		out.noT = "temperature is missing " + gap{c.p[a], c.p[b]}.text()
		out.noH = out.noT
		return out
	}
	mix := func(x []float64, a, b int) float64 {
		if a == b {
			return x[a]
		}
		w := (c.lnp[a] - lnp) / (c.lnp[a] - c.lnp[b])
		return x[a] + w*(x[b]-x[a])
	}
	root := func(x []float64, a, b int) float64 {
		if a == b {
			return x[a]
		}
		w := (c.lnp[a] - lnp) / (c.lnp[a] - c.lnp[b])
		return math.Hypot((1-w)*x[a], w*x[b])
	}
	out.t, out.ti, out.tc = mix(c.t, a, b), root(c.ti, a, b), mix(c.tc, a, b)
	out.pi, out.pc = root(c.pi, a, b), mix(c.pc, a, b)
	if s.noH != "" {
		out.noH = s.noH
		return out
	}
	for a >= 0 && c.status[a] != known {
		a--
	}
	for b < n && c.status[b] != known {
		b++
	}
	if a < 0 || b >= n || a != b && s.isGap(a, b) {
		out.noH = "humidity is missing around " + hpa(p)
		return out
	}
	out.rh, out.hi, out.hc = mix(c.rh, a, b), root(c.hi, a, b), mix(c.hc, a, b)
	return out
}

// searchFalling returns the first index whose value is at or below x, the last where
// none is.
func searchFalling(v []float64, x float64) int {
	low, high := 0, len(v)-1
	for low < high {
		if mid := (low + high) / 2; v[mid] > x {
			low = mid + 1
		} else {
			high = mid
		}
	}
	return low
}

// end reads the wind at one height above ground.
func (s *source) end(h float64) endSource {
	out := endSource{no: s.missingWind(h)}
	if out.no != "" {
		out.u, out.v = math.NaN(), math.NaN()
		return out
	}
	w := &s.wind
	k := 0
	for k < len(w.z) && w.z[k] < h {
		k++
	}
	a, f := k, 0.0
	if w.z[k] > h {
		a = k - 1
		f = (h - w.z[a]) / (w.z[k] - w.z[a])
	}
	mix := func(x []float64) float64 { return x[a] + f*(x[k]-x[a]) }
	root := func(x []float64) float64 {
		if a == k {
			return x[a]
		}
		return math.Hypot((1-f)*x[a], f*x[k])
	}
	out.u, out.v = mix(w.u), mix(w.v)
	out.ui, out.uc, out.vi, out.vc = root(w.ui), mix(w.uc), root(w.vi), mix(w.vc)
	return out
}

// fill makes the state of a column: vapour from relative humidity, heights above ground.
func (st *state) fill(s *source, c *column, w *windColumn) {
	st.lnp, st.p = c.lnp, c.p
	st.t = append(st.t[:0], c.t...)
	st.z = st.z[:0]
	st.ground = s.ground
	for _, z := range c.z {
		st.z = append(st.z, z-st.ground)
	}
	st.wz, st.wu, st.wv = append(st.wz[:0], w.z...), append(st.wu[:0], w.u...), append(st.wv[:0], w.v...)
	st.moisten(s, c, c.rh)
}

// moisten fills the moist levels from temperatures in st.t and the relative humidity.
func (st *state) moisten(s *source, c *column, rh []float64) {
	m := &st.moist
	m.lnp, m.p, m.t, m.tv, m.e, m.z = m.lnp[:0], m.p[:0], m.t[:0], m.tv[:0], m.e[:0], m.z[:0]
	for k, status := range c.status {
		if status == absent {
			continue
		}
		t, p := st.t[k], st.p[k]
		e := 0.0
		if rh[k] > 0 {
			e = 0.01 * rh[k] * s.sensor.At(t)
		}
		m.lnp, m.p, m.t, m.e, m.z = append(m.lnp, st.lnp[k]), append(m.p, p), append(m.t, t), append(m.e, e), append(m.z, st.z[k])
		m.tv = append(m.tv, t/(1-(1-constants.Epsilon)*e/p))
	}
}

// heightAt returns the height in m above ground at ln p, NaN outside.
func (st *state) heightAt(lnp float64) float64 { return interpolate(st.lnp, st.z, lnp) }

// interpolate reads y at x, linear between the falling nodes of xs; NaN outside them.
func interpolate(xs, y []float64, x float64) float64 {
	n := len(xs)
	if n == 0 || !(x <= xs[0]+1e-12 && x >= xs[n-1]-1e-12) {
		return math.NaN()
	}
	b := searchFalling(xs, x)
	if b == 0 || xs[b] == x {
		return y[b]
	}
	w := (xs[b-1] - x) / (xs[b-1] - xs[b])
	return y[b-1] + w*(y[b]-y[b-1])
}

// atHeight returns ln p where the levels lnp, z reach height h in m above ground, NaN
// where they do not.
func atHeight(lnp, z []float64, h float64) float64 {
	for k := range z {
		if z[k] >= h {
			if k == 0 || z[k] == h {
				if z[k] > h {
					return math.NaN()
				}
				return lnp[k]
			}
			if math.IsNaN(z[k-1]) {
				return math.NaN()
			}
			return lnp[k-1] + (lnp[k]-lnp[k-1])*(h-z[k-1])/(z[k]-z[k-1])
		}
	}
	return math.NaN()
}

// thetaV is the virtual potential temperature of level k.
func (m *moist) thetaV(k int) float64 { return parcel.PotentialTemperature(m.tv[k], m.p[k]) }

// refractivity is N of level k.
func (m *moist) refractivity(k int) float64 {
	return humidity.RefractivityITU.At(m.p[k], m.e[k], m.t[k])
}
