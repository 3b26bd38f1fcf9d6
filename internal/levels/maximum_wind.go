package levels

import (
	"math"
	"sort"

	"leadline/internal/sounding"
)

// maximumWinds returns the samples of the maximum winds, strongest first, found from
// the significant wind levels (FM 35): above 500 hPa and above 30 m s⁻¹; further ones
// exceed the minima on both sides by 10 m s⁻¹. The top of the wind sounding counts if
// it is the strongest of all.
func (p *Profile) maximumWinds(significant []int) []int {
	s := p.set
	var list []int // samples with wind, rising
	for _, k := range significant {
		if !math.IsNaN(p.speed(k)) {
			list = append(list, k)
		}
	}
	var peaks []int // positions in list
	strongest := -1
	for i, k := range list {
		v := p.speed(k)
		if strongest < 0 || v > p.speed(list[strongest]) {
			strongest = i
		}
		if i == 0 || v <= s.MaximumWind || p.LnP[k] >= math.Log(s.MaximumWindAbove) {
			continue
		}
		if v > p.speed(list[i-1]) && (i == len(list)-1 || v > p.speed(list[i+1])) {
			peaks = append(peaks, i)
		}
	}
	sort.SliceStable(peaks, func(a, b int) bool { return p.speed(list[peaks[a]]) > p.speed(list[peaks[b]]) })
	var out []int
	for n, i := range peaks {
		top := i == len(list)-1
		if top && i != strongest {
			continue
		}
		if n > 0 {
			// The minima between this one and its stronger neighbours, or the ends.
			below, above := p.speed(list[i]), p.speed(list[i])
			for j := i - 1; j >= 0 && p.speed(list[j]) <= p.speed(list[i]); j-- {
				below = math.Min(below, p.speed(list[j]))
			}
			for j := i + 1; j < len(list) && p.speed(list[j]) <= p.speed(list[i]); j++ {
				above = math.Min(above, p.speed(list[j]))
			}
			if p.speed(list[i])-below < s.MaximumWindRise || p.speed(list[i])-above < s.MaximumWindRise {
				continue
			}
		}
		out = append(out, list[i])
	}
	return out
}

// speed returns the wind speed of sample k, NaN where it has no wind.
func (p *Profile) speed(k int) float64 { return math.Hypot(p.Value[qU][k], p.Value[qV][k]) }

// shear returns the magnitude of the vector difference between the wind of sample k and
// the wind dz metres above it (below where dz is negative), not set where there is none.
func (p *Profile) shear(k int, dz float64) sounding.Number {
	z := p.Value[qGPH][k] + dz
	if math.IsNaN(z) {
		return sounding.NotSet
	}
	step := 1
	if dz < 0 {
		step = -1
	}
	for j, prev := k+step, k; j >= 0 && j < p.Len(); j += step {
		h := p.Value[qGPH][j]
		if math.IsNaN(h) || math.IsNaN(p.Value[qU][j]) || math.IsNaN(p.Value[qV][j]) {
			continue
		}
		if (h-z)*float64(step) >= 0 {
			h0 := p.Value[qGPH][prev]
			if p.gap(min(prev, j), max(prev, j)) || h == h0 {
				return sounding.NotSet
			}
			w := (z - h0) / (h - h0)
			u := p.Value[qU][prev]*(1-w) + p.Value[qU][j]*w
			v := p.Value[qV][prev]*(1-w) + p.Value[qV][j]*w
			return sounding.Number(math.Hypot(u-p.Value[qU][k], v-p.Value[qV][k]))
		}
		prev = j
	}
	return sounding.NotSet
}
