package levels

import (
	"math"
	"sort"
)

// significantWind returns the samples between which speed and direction, interpolated
// linearly in ln p, stay within the tolerances of every sample (regulation 32.3.1:
// 10° and 5 m s⁻¹), the ends first and then the sample of greatest departure in each
// layer. Direction is interpolated along the shorter arc; calm samples have none. A
// missing layer splits the profile and both its edges are levels.
func (p *Profile) significantWind() []int {
	valid := make([]int, 0, p.Len())
	for k := range p.Rows {
		if !math.IsNaN(p.Value[qU][k]) && !math.IsNaN(p.Value[qV][k]) {
			valid = append(valid, k)
		}
	}
	var out []int
	for _, run := range p.runs(valid) {
		out = append(out, p.refineWind(run)...)
	}
	return out
}

// runs splits a rising list of samples where a layer that must not be interpolated lies
// between two of them.
func (p *Profile) runs(list []int) [][]int {
	var out [][]int
	from := 0
	for i := 1; i <= len(list); i++ {
		if i == len(list) || p.gap(list[i-1], list[i]) {
			if i > from {
				out = append(out, list[from:i])
			}
			from = i
		}
	}
	return out
}

func (p *Profile) refineWind(run []int) []int {
	speeds, directions := make([]float64, len(run)), make([]float64, len(run))
	for i, k := range run {
		speeds[i] = p.speed(k)
		directions[i] = math.Atan2(-p.Value[qU][k], -p.Value[qV][k]) * 180 / math.Pi
	}
	keep := map[int]bool{0: true, len(run) - 1: true}
	stack := [][2]int{{0, len(run) - 1}}
	for len(stack) > 0 {
		a, b := stack[len(stack)-1][0], stack[len(stack)-1][1]
		stack = stack[:len(stack)-1]
		worst, at := 1.0, -1
		turn := arc(directions[a], directions[b])
		la, lb := p.LnP[run[a]], p.LnP[run[b]]
		for i := a + 1; i < b; i++ {
			w := (p.LnP[run[i]] - la) / (lb - la)
			r := math.Abs(speeds[i]-(speeds[a]*(1-w)+speeds[b]*w)) / p.set.Speed
			if speeds[i] > 0 && speeds[a] > 0 && speeds[b] > 0 {
				r = math.Max(r, math.Abs(arc(directions[a]+turn*w, directions[i]))/p.set.Direction)
			}
			if r > worst {
				worst, at = r, i
			}
		}
		if at >= 0 {
			keep[at] = true
			stack = append(stack, [2]int{a, at}, [2]int{at, b})
		}
	}
	out := make([]int, 0, len(keep))
	for i := range keep {
		out = append(out, run[i])
	}
	sort.Ints(out)
	return out
}

// arc returns the turn from direction a to direction b in degrees, in [-180, 180].
func arc(a, b float64) float64 { return math.Remainder(b-a, 360) }
