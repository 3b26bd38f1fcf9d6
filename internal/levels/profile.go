package levels

import (
	"math"
	"sort"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// quantities are the columns a profile carries.
var quantities = [...]sounding.Variable{
	sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.DewPoint, sounding.WindU, sounding.WindV,
	sounding.GeopotentialHeight, sounding.HeightMSL, sounding.Latitude, sounding.Longitude,
}

const (
	qP = iota
	qT
	qRH
	qTd
	qU
	qV
	qGPH
	qZ
	qLat
	qLon
	nQuantities
)

// Profile is the first passage of the ascent: rows with a usable pressure that falls
// from each to the next.
type Profile struct {
	set   *Settings
	kind  sounding.ProfileKind
	Rows  []int     // row of each sample in the flight's columns
	Time  []float64 // s since release
	LnP   []float64 // ln(p/hPa), strictly falling
	Value [nQuantities][]float64

	series [nQuantities]*sounding.Series // nil where the flight has none
}

// NewProfile picks the first passage of f's ascent. It has no samples where the flight
// has no release or no usable pressure.
func NewProfile(f *sounding.Final, set *Settings) *Profile {
	p := &Profile{set: set, kind: f.ProfileKind()}
	pressure := f.Get(sounding.Pressure)
	if pressure == nil {
		return p
	}
	span := f.Events.Ascent()
	lowest := math.Inf(1)
	p.Rows = make([]int, 0, span.Len())
	for i := span.From; i < span.To; i++ {
		v := pressure.Values[i]
		if usable(pressure, i) && v > 0 && v < lowest {
			lowest = v
			p.Rows = append(p.Rows, i)
		}
	}
	n := len(p.Rows)
	columns := make([]float64, (nQuantities+2)*n) // one allocation for all
	next := func() []float64 {
		c := columns[:n:n]
		columns = columns[n:]
		return c
	}
	p.Time, p.LnP = next(), next()
	for k, i := range p.Rows {
		p.Time[k], p.LnP[k] = f.Time[i], math.Log(pressure.Values[i])
	}
	for q, v := range quantities {
		values := next()
		s := f.Get(v)
		p.series[q] = s
		for k, i := range p.Rows {
			values[k] = math.NaN()
			if s != nil && usable(s, i) {
				values[k] = s.Values[i]
			}
		}
		p.Value[q] = values
	}
	return p
}

// uncertainty returns the total standard uncertainty (k = 1) of sample k, NaN where it is not known.
func (p *Profile) uncertainty(q, k int) float64 {
	if p.series[q] == nil {
		return math.NaN()
	}
	return p.series[q].Total(p.Rows[k])
}

// flag returns the flag of sample k.
func (p *Profile) flag(q, k int) quality.Flag {
	if p.series[q] == nil {
		return quality.Missing
	}
	return flagOf(p.series[q], p.Rows[k])
}

func flagOf(s *sounding.Series, i int) quality.Flag {
	if s.Flags == nil {
		return quality.NotEvaluated
	}
	return s.Flags[i]
}

func usable(s *sounding.Series, i int) bool {
	f := flagOf(s, i)
	return f != quality.Bad && f != quality.Missing && !math.IsNaN(s.Values[i])
}

// Len returns the number of samples.
func (p *Profile) Len() int { return len(p.Rows) }

// bracket returns the samples a < b that hold quantity q on both sides of lnp, or
// a == b on it; ok is false outside the profile and across a gap.
func (p *Profile) bracket(q int, lnp float64) (a, b int, ok bool) {
	n := p.Len()
	k := sort.Search(n, func(i int) bool { return p.LnP[i] <= lnp })
	if k < n && p.LnP[k] == lnp && !math.IsNaN(p.Value[q][k]) {
		return k, k, true
	}
	if k == 0 || k == n {
		return 0, 0, false
	}
	// Beyond a gap there is nothing to interpolate with, so the search ends there.
	for b = k; math.IsNaN(p.Value[q][b]); {
		if b++; b >= n || math.Abs(p.Time[b]-p.Time[k-1]) > p.set.GapS {
			return 0, 0, false
		}
	}
	for a = k - 1; math.IsNaN(p.Value[q][a]); {
		if a--; a < 0 || math.Abs(p.Time[b]-p.Time[a]) > p.set.GapS {
			return 0, 0, false
		}
	}
	return a, b, !p.gap(a, b)
}

// gap tells whether the stretch from sample a to sample b must not be interpolated.
func (p *Profile) gap(a, b int) bool {
	return math.Abs(p.Time[b]-p.Time[a]) > p.set.GapS || b-a > 1 && math.Exp(p.LnP[a])-math.Exp(p.LnP[b]) >= p.set.GapHPa
}

// at returns quantity q, its uncertainty and its flag at lnp: linear in ln p between the
// samples on both sides, the worse of their flags; NaN outside and across gaps. The
// uncertainty of an interpolated value is that of the weighted sum with the two samples
// taken as fully correlated, which is an upper bound.
func (p *Profile) at(q int, lnp float64) (value, u float64, flag quality.Flag) {
	a, b, ok := p.bracket(q, lnp)
	if !ok {
		return math.NaN(), math.NaN(), quality.Missing
	}
	if a == b {
		return p.Value[q][a], p.uncertainty(q, a), p.flag(q, a)
	}
	w := (lnp - p.LnP[a]) / (p.LnP[b] - p.LnP[a])
	return p.Value[q][a]*(1-w) + p.Value[q][b]*w, p.uncertainty(q, a)*(1-w) + p.uncertainty(q, b)*w, quality.Worst(p.flag(q, a), p.flag(q, b))
}

// timeAt returns the time at lnp, s since release, NaN outside the profile.
func (p *Profile) timeAt(lnp float64) float64 {
	a, b, ok := p.bracket(qP, lnp)
	switch {
	case !ok:
		return math.NaN()
	case a == b:
		return p.Time[a]
	}
	w := (lnp - p.LnP[a]) / (p.LnP[b] - p.LnP[a])
	return p.Time[a]*(1-w) + p.Time[b]*w
}
