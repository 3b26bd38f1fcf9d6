package profile

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
)

// Merged returns way up and way down combined, on the levels of the ascent. Where both
// have a value of the same quality it is their mean weighted by 1/(uᵢ² + τ²): uᵢ is the
// independent uncertainty of each, τ² half the variance of the air's change between the
// passages (see changes), which stays in the result as an uncertainty τ²(wₐ² + w_d²). A
// good value is not mixed with a questionable one; where only one passage has a value,
// that is the value.
func Merged(f *sounding.Final, set *Settings) (*sounding.Final, error) {
	p := newPair(f, set)
	switch {
	case p.down == nil:
		return nil, ErrNoDescent
	case len(p.rows) == 0:
		return nil, fmt.Errorf("the flight has no ascent with a usable pressure to merge its descent with")
	}
	out, both, took := p.combine(sounding.MergedProfile, func(_ int, a, b sample, change float64) (share, variance float64) {
		tau := 0.5 * change
		va, vb := square(known(a.independent))+tau, square(known(b.independent))+tau
		share = 0.5
		if va+vb > 0 {
			share = va / (va + vb)
		}
		return share, tau * (square(1-share) + square(share))
	})
	n := out.Len()
	out.Origin.Note = fmt.Sprintf("ascent and descent combined on the ascent's levels, each by its uncertainty and the air's change between them: both have a temperature at %s of %d levels; the two are up to %s and, at the same pressure, up to %s apart",
		shareText(both, n), n, span(p.apart()), drift(p.distance()))
	if took < both {
		out.Origin.Note += fmt.Sprintf("; at %s of them the descent is questionable and left out", shareText(both-took, both))
	}
	return out, nil
}

func square(x float64) float64 { return x * x }

func shareText(n, of int) string {
	if of == 0 {
		return "none"
	}
	return fmt.Sprintf("%.0f %%", 100*float64(n)/float64(of))
}

// apart returns the longest time in s between the passages of one level.
func (p *pair) apart() float64 {
	longest := math.NaN()
	for k, t := range p.lateness() {
		if d := t - p.up.Time[k]; !(d <= longest) && !math.IsNaN(d) {
			longest = d
		}
	}
	return longest
}

// lateness returns the time of the descent at each level of the ascent, NaN where there is none.
func (p *pair) lateness() []float64 {
	if p.late == nil {
		p.late = make([]float64, len(p.rows))
		lnp := p.levels()
		for k := range p.late {
			p.late[k] = math.NaN()
		}
		if p.down != nil {
			for k, s := range p.descentAt(sounding.Pressure, lnp) {
				p.late[k] = s.time
			}
		}
	}
	return p.late
}

// distance returns the longest distance in m between the passages of one level.
func (p *pair) distance() float64 {
	lnp := p.levels()
	lat, lon := p.descentAt(sounding.Latitude, lnp), p.descentAt(sounding.Longitude, lnp)
	longest := math.NaN()
	for k := range lnp {
		a, b := p.ascentAt(sounding.Latitude, k), p.ascentAt(sounding.Longitude, k)
		d := separation(a.value, b.value, lat[k].value, lon[k].value)
		if !(d <= longest) && !math.IsNaN(d) {
			longest = d
		}
	}
	return longest
}

func span(s float64) string {
	if math.IsNaN(s) {
		return "an unknown time"
	}
	return fmt.Sprintf("%.0f min", s/60)
}

func drift(m float64) string {
	if math.IsNaN(m) {
		return "an unknown distance"
	}
	return fmt.Sprintf("%.0f km", m/1000)
}
