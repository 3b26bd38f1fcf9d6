package levels

import (
	"math"
	"sort"
)

// significant is the result of the selection by temperature and humidity: samples with
// the kinds they were chosen for.
type significant map[int]Kind

// significantTH chooses the significant levels by temperature and humidity
// (regulation 35.3.1): ends of the sounding and of missing layers, one level between
// 110 and 100 hPa, base and top of inversions, and then the samples of greatest
// departure until temperature and humidity, interpolated linearly in ln p between
// neighbouring levels, stay within the tolerances of every sample.
func (p *Profile) significantTH(tropopauses []float64) significant {
	out := significant{}
	t, h := p.with(qT), p.with(qRH)
	p.ends(out, t, SignificantTemperature, MissingTemperatureBegins, MissingTemperatureEnds)
	p.ends(out, h, SignificantHumidity, MissingHumidityBegins, MissingHumidityEnds)
	p.between110and100(out, t)
	p.inversions(out, t, tropopauses)
	p.refineTH(out, tropopauses)
	return out
}

// with lists the samples that hold quantity q.
func (p *Profile) with(q int) []int {
	out := make([]int, 0, p.Len())
	for k := range p.Rows {
		if !math.IsNaN(p.Value[q][k]) {
			out = append(out, k)
		}
	}
	return out
}

// ends marks both ends of every run without a missing layer; those beside a missing
// layer also with its begin and end.
func (p *Profile) ends(out significant, list []int, kind, begins, ends Kind) {
	runs := p.runs(list)
	for i, run := range runs {
		first, last := run[0], run[len(run)-1]
		out[first] |= kind
		out[last] |= kind
		if i > 0 {
			out[first] |= ends
		}
		if i < len(runs)-1 || last < p.Len()-1 && p.gap(last, p.Len()-1) {
			out[last] |= begins
		}
	}
}

// between110and100 marks one sample between 110 and 100 hPa where the sounding passes it.
func (p *Profile) between110and100(out significant, list []int) {
	for _, k := range list {
		if v := p.Value[qP][k]; v <= 110 && v >= 100 {
			out[k] |= SignificantTemperature
			return
		}
	}
}

// inversions marks base and top of every inversion or isothermal layer that is thick
// or strong enough and whose base lies below 300 hPa or the first tropopause, whichever
// is higher. Inversions apart by less than the thickness limit count as one.
func (p *Profile) inversions(out significant, list []int, tropopauses []float64) {
	s := p.set
	highest := math.Log(s.SignificantSplit)
	if len(tropopauses) > 0 {
		highest = math.Min(highest, tropopauses[0])
	}
	type layer struct{ base, top int }
	var found []layer
	for i := 0; i+1 < len(list); {
		base := i
		top := i
		for j := i + 1; j < len(list) && p.Value[qT][list[j]] >= p.Value[qT][list[top]] && !p.gap(list[j-1], list[j]); j++ {
			top = j
		}
		if top == base {
			i++
			continue
		}
		if n := len(found); n > 0 && p.Value[qP][found[n-1].top]-p.Value[qP][list[base]] < s.InversionHPa &&
			p.Value[qT][list[top]] >= p.Value[qT][found[n-1].top] {
			found[n-1].top = list[top]
		} else {
			found = append(found, layer{list[base], list[top]})
		}
		i = top
	}
	for _, l := range found {
		if p.LnP[l.base] < highest {
			continue
		}
		thick := p.Value[qP][l.base]-p.Value[qP][l.top] >= s.InversionHPa
		warm := p.Value[qT][l.top]-p.Value[qT][l.base] >= s.InversionT
		dry := math.Abs(p.Value[qRH][l.top]-p.Value[qRH][l.base]) >= s.InversionRH // false where either is NaN
		rising := p.Value[qT][l.top] > p.Value[qT][l.base]
		if thick || rising && (warm || dry) {
			out[l.base] |= SignificantTemperature
			out[l.top] |= SignificantTemperature
		}
	}
}

// tolerance returns how far temperature may depart at lnp: the tighter limit up to the
// first significant level above 300 hPa or the first tropopause, whichever is lower.
func (p *Profile) tolerance(lnp, split float64) float64 {
	if lnp >= split {
		return p.set.SignificantT
	}
	return p.set.SignificantTHigh
}

// refineTH adds samples until both curves are within tolerance between all neighbouring
// levels. A level where one of the two is missing does not end that one's layer: the
// layer then reaches to the next level that has it.
func (p *Profile) refineTH(out significant, tropopauses []float64) {
	split := math.Log(p.set.SignificantSplit)
	if len(tropopauses) > 0 {
		split = math.Max(split, tropopauses[0])
	}
	type curve struct {
		q    int
		kind Kind
		tol  func(lnp float64) float64
	}
	curves := []curve{
		{qT, SignificantTemperature, func(l float64) float64 { return p.tolerance(l, split) }},
		{qRH, SignificantHumidity, func(float64) float64 { return p.set.SignificantRH }},
	}
	for changed := true; changed; {
		changed = false
		levels := make([]int, 0, len(out))
		for k := range out {
			levels = append(levels, k)
		}
		sort.Ints(levels)
		for _, c := range curves {
			values := p.Value[c.q]
			a := -1
			for _, b := range levels {
				if math.IsNaN(values[b]) {
					continue
				}
				if a >= 0 && !p.gap(lastWith(values, a, b), b) {
					if k := p.departure(values, a, b, c.tol); k >= 0 {
						out[k] |= c.kind
						changed = true
					}
				}
				a = b
			}
			if changed && c.q == qT {
				break // temperature first; its new levels change what humidity needs
			}
		}
	}
}

// lastWith returns the last sample before b, at or after a, that holds a value.
func lastWith(values []float64, a, b int) int {
	for k := b - 1; k > a; k-- {
		if !math.IsNaN(values[k]) {
			return k
		}
	}
	return a
}

// departure returns the sample between a and b whose value lies furthest from the
// straight line in ln p, in units of its tolerance, if that is more than one; -1 else.
func (p *Profile) departure(values []float64, a, b int, tol func(float64) float64) int {
	worst, at := 1.0, -1
	la, lb := p.LnP[a], p.LnP[b]
	for k := a + 1; k < b; k++ {
		if math.IsNaN(values[k]) {
			continue
		}
		w := (p.LnP[k] - la) / (lb - la)
		if r := math.Abs(values[k]-(values[a]*(1-w)+values[b]*w)) / tol(p.LnP[k]); r > worst {
			worst, at = r, k
		}
	}
	return at
}
