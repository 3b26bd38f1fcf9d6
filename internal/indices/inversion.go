package indices

import (
	"math"

	"leadline/internal/humidity"
	"leadline/internal/parcel"
	"leadline/internal/sounding"
)

// inversions lists the layers of c, the layer means, in which the temperature rises.
func (s *source) inversions(c *column, st *state) []Inversion {
	n := 0
	for n < c.len() && c.p[n] >= s.set.InversionTop {
		n++
	}
	var out []Inversion
	for _, r := range parcel.Rises(nil, st.t[:n], s.set.Inversion, s.set.InversionRipple) {
		if s.missing(c.p[r.Bottom], c.p[r.Top], false) != "" {
			continue // what lies between is not known
		}
		x := Inversion{BasePressure: sounding.Number(c.p[r.Bottom]), TopPressure: sounding.Number(c.p[r.Top]),
			BaseHeight: sounding.Number(st.z[r.Bottom]), TopHeight: sounding.Number(st.z[r.Top]),
			BaseMSL: sounding.Number(c.z[r.Bottom]), TopMSL: sounding.Number(c.z[r.Top]),
			Strength: sounding.Number(c.t[r.Top] - c.t[r.Bottom]), UStrength: sounding.NotSet, Surface: r.Bottom == 0,
			HumidityFalls: sounding.Number(c.rh[r.Top] - c.rh[r.Bottom])}
		x.UBase, x.UTop = sounding.Number(s.heightUncertainty(c, r.Bottom)), sounding.Number(s.heightUncertainty(c, r.Top))
		if s.uT {
			// Independent parts of both ends, and the difference of the common ones (JCGM 100:2008, eq. 16).
			x.UStrength = sounding.Number(math.Hypot(math.Hypot(c.ti[r.Top], c.ti[r.Bottom]), c.tc[r.Top]-c.tc[r.Bottom]))
		}
		if c.status[r.Top] != known || c.status[r.Bottom] != known {
			x.HumidityFalls = sounding.NotSet
		}
		out = append(out, x)
	}
	return out
}

// heightUncertainty is that of the height of layer k above the release point: its own
// independent error and the first level's, the difference of the common ones, and a
// position anywhere in the layer (its thickness over √12); NaN where no uncertainty of
// height is given.
func (s *source) heightUncertainty(c *column, k int) float64 {
	if k == 0 {
		return 0
	}
	if c.zi[k] == 0 && c.zc[k] == 0 {
		return math.NaN()
	}
	thickness := (c.z[min(k+1, c.len()-1)] - c.z[k-1]) / 2
	return math.Hypot(math.Hypot(c.zi[k], c.zi[0]), math.Hypot(c.zc[k]-c.zc[0], thickness/math.Sqrt(12)))
}

// ducts lists the layers in which modified refractivity falls with height.
func (s *source) ducts(f *sounding.Final, c *column, st *state) []Duct {
	m := &st.moist
	var z, modified, minus []float64
	var level []int // of the column
	k := -1
	for i := range m.p {
		for k++; c.status[k] == absent; k++ {
		}
		if !(m.z[i] <= s.set.DuctTop) || c.status[k] != known {
			continue
		}
		v := humidity.ModifiedRefractivity(m.refractivity(i), m.z[i])
		z, modified, minus, level = append(z, m.z[i]), append(modified, v), append(minus, -v), append(level, k)
	}
	var out []Duct
	for _, r := range parcel.Rises(nil, minus, s.set.Duct, s.set.DuctRipple) {
		a, b := level[r.Bottom], level[r.Top]
		if s.missing(c.p[a], c.p[b], true) != "" {
			continue
		}
		d := Duct{TrapBase: sounding.Number(z[r.Bottom]), Top: sounding.Number(z[r.Top]), Strength: sounding.Number(modified[r.Bottom] - modified[r.Top]), UStrength: sounding.NotSet}
		depth := z[r.Top] - z[r.Bottom]
		d.Gradient = sounding.Number((modified[r.Top]-modified[r.Bottom])/depth*1000 - 1e9/6.371e6)
		// Down to where M equals that of the top, or to the ground.
		base := 0.0
		for i := r.Bottom - 1; i >= 0; i-- {
			if modified[i] <= modified[r.Top] {
				w := (modified[r.Top] - modified[i]) / (modified[i+1] - modified[i])
				base = z[i] + w*(z[i+1]-z[i])
				break
			}
		}
		d.UTop = sounding.Number(s.heightUncertainty(c, b))
		d.Base, d.FromSurface = sounding.Number(base), base == 0
		if s.uT && s.uH {
			d.UStrength = sounding.Number(s.ductUncertainty(c, a, b))
		}
		if lag := s.lagDepth(f, c, a); lag > depth {
			d.Note = "the humidity sensor needs about as long to follow as the balloon needs to cross this layer: its edges are smeared"
		}
		out = append(out, d)
	}
	return out
}

// ductUncertainty propagates temperature and humidity to the difference of N between the
// levels a and b: independent parts of both, difference of the common ones.
func (s *source) ductUncertainty(c *column, a, b int) float64 {
	n := func(k int, dt, dh float64) float64 {
		t := c.t[k] + dt
		e := 0.01 * math.Max(0, c.rh[k]+dh) * s.sensor.At(t)
		return humidity.RefractivityITU.At(c.p[k], e, t)
	}
	slopes := func(k int) (byT, byH float64) {
		return (n(k, 0.1, 0) - n(k, -0.1, 0)) / 0.2, (n(k, 0, 0.1) - n(k, 0, -0.1)) / 0.2
	}
	ta, ha := slopes(a)
	tb, hb := slopes(b)
	sum := 0.0
	for _, v := range []float64{ta * c.ti[a], tb * c.ti[b], ha * c.hi[a], hb * c.hi[b], tb*c.tc[b] - ta*c.tc[a], hb*c.hc[b] - ha*c.hc[a]} {
		sum += v * v
	}
	return math.Sqrt(sum)
}

// lagDepth is the depth in m the balloon crosses within the time constant of the humidity
// sensor at level k; 0 where the sheet gives none.
func (s *source) lagDepth(f *sounding.Final, c *column, k int) float64 {
	if f.Sheet == nil || len(f.Sheet.Humidity.LagPolynomial) == 0 || k+1 >= c.len() || c.time[k+1] == c.time[k] {
		return 0
	}
	ln, power := 0.0, 1.0
	for _, a := range f.Sheet.Humidity.LagPolynomial {
		ln, power = ln+a*power, power*(c.t[k]-kelvin)
	}
	return math.Exp(ln) * math.Abs((c.z[k+1]-c.z[k])/(c.time[k+1]-c.time[k]))
}
