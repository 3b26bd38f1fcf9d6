package levels

import (
	"fmt"
	"math"
	"sort"

	"leadline/internal/sounding"
)

// Find applies every level rule to a final profile. Findings say what could not be
// determined and why.
func Find(f *sounding.Final, set *Settings) (Set, []sounding.Finding) {
	p := NewProfile(f, set)
	out := Set{Levels: []Level{}, Profile: p.kind, ProfileNote: f.Origin.Note}
	if p.Len() == 0 {
		out.Tropopauses = fmt.Sprintf("no level: there is no %s with a usable pressure", p.kind)
		return out, nil
	}
	tropopauses, note := p.tropopauses()
	out.Tropopauses = note

	kinds := map[int]Kind{0: Surface}
	if !f.Origin.OnTheGround() {
		kinds[0] = Lowest
	}
	for k, kind := range p.significantTH(tropopauses) {
		kinds[k] |= kind
	}
	winds := p.significantWind()
	for _, k := range winds {
		kinds[k] |= SignificantWind
	}
	p.ends(kinds, p.with(qU), SignificantWind, MissingWindBegins, MissingWindEnds)
	maxima := p.maximumWinds(winds)
	for _, k := range maxima {
		kinds[k] |= MaximumWind
	}
	if n := len(winds); n > 0 {
		kinds[winds[n-1]] |= TopOfWind
	}
	kinds[p.Len()-1] |= Top
	for _, l := range tropopauses {
		kinds[p.nearest(l)] |= Tropopause
	}

	for k, kind := range kinds {
		l := p.level(0, k, kind, f.Line)
		if kind.Has(MaximumWind) {
			l.ShearBelow, l.ShearAbove = p.shear(k, -set.ShearLayer), p.shear(k, set.ShearLayer)
		}
		out.Levels = append(out.Levels, l)
	}
	add := func(l Level) {
		for i := range out.Levels {
			if out.Levels[i].Pressure == l.Pressure {
				out.Levels[i].Kind |= l.Kind
				return
			}
		}
		out.Levels = append(out.Levels, l)
	}
	for _, l := range p.standard(f.Line) {
		add(l)
	}
	if l := p.freezing(); !math.IsNaN(l) {
		sample := -1
		if a, b, ok := p.bracket(qP, l); ok && a == b {
			sample = a
		}
		add(p.level(l, sample, Freezing, f.Line))
	}
	sort.Slice(out.Levels, func(i, j int) bool { return out.Levels[i].Pressure > out.Levels[j].Pressure })
	for i := range out.Levels {
		out.Levels[i].Words = out.Levels[i].Kind.Words()
	}
	if k := p.coldPoint(); k >= 0 {
		l := p.level(0, k, 0, f.Line)
		l.Words = []string{"cold point"}
		out.ColdPoint = &l
	}
	return out, nil
}

// nearest returns the sample with a temperature nearest to lnp.
func (p *Profile) nearest(lnp float64) int {
	best := 0
	for k := range p.Rows {
		if !math.IsNaN(p.Value[qT][k]) && math.Abs(p.LnP[k]-lnp) < math.Abs(p.LnP[best]-lnp) {
			best = k
		}
	}
	return best
}

func pressureNumber(hpa float64) sounding.Number { return sounding.Number(hpa) }

func hpaText(p float64) string { return fmt.Sprintf("%g hPa", p) }
