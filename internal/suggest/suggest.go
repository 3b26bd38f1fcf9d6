package suggest

import (
	"sort"

	"leadline/internal/workbench"
)

// ForQuick returns the suggestions for a flight without running the path again, the
// best first; nil where nothing speaks for an error. It never changes o.
func ForQuick(o *workbench.Outcome) []Suggestion {
	if o == nil {
		return nil
	}
	f := factsOf(o)
	if f == nil {
		return nil
	}
	if !f.final.Events.Release.Found {
		return nil
	}
	// Rows of another flight say nothing about this one.
	if moved := f.releaseMoved(); moved != nil {
		return moved
	}
	out := f.choose()
	step := f.thermometerStep()
	out = append(without(out, step, ThermometerOffset), step...)
	out = append(out, f.radiationTwice()...)
	out = append(out, f.burstMoved()...)
	out = append(out, f.humidity()...)
	out = append(out, f.elements(out)...)
	rank(out)
	return out
}

// rank puts the most certain first, then the one that explains most.
func rank(list []Suggestion) {
	order := map[Strength]int{Strong: 0, Likely: 1, Possible: 2}
	sort.SliceStable(list, func(i, j int) bool {
		a, b := &list[i], &list[j]
		if order[a.Strength] != order[b.Strength] {
			return order[a.Strength] < order[b.Strength]
		}
		return a.Gain > b.Gain
	})
}

// without leaves out a hypothesis that a better one explains.
func without(list, better []Suggestion, name string) []Suggestion {
	if len(better) == 0 {
		return list
	}
	var out []Suggestion
	for _, s := range list {
		if s.Name != name {
			out = append(out, s)
		}
	}
	return out
}
