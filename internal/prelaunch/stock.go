package prelaunch

import "fmt"

// Item is one kind of thing a campaign uses up.
type Item struct {
	Name   string `json:"name" toml:"name"` // "radiosondes", "balloons 800 g", "strings"
	Had    int    `json:"had" toml:"had"`   // at the start
	Used   int    `json:"used" toml:"used"` // flown, failed and lost
	PerUse int    `json:"per_release" toml:"per_release"`
}

// Left returns how many are left.
func (i *Item) Left() int { return i.Had - i.Used }

// JudgeStock says of each item whether it lasts for the releases still to come.
func JudgeStock(items []Item, releases int) []Remark {
	r := remarks{about: "stock"}
	for i := range items {
		it := &items[i]
		per := max(1, it.PerUse)
		switch {
		case it.Had < 0 || it.Used < 0:
			r.say(Warning, "%s: %d had and %d used cannot be", it.Name, it.Had, it.Used)
		case it.Left() < 0:
			r.say(Warning, "%s: %d used of %d: count again", it.Name, it.Used, it.Had)
		case it.Left() == 0:
			r.say(Stop, "%s: none left", it.Name)
		case it.Left() < per*releases:
			r.say(Warning, "%s: %d left, %d needed for %d releases to come: %d short", it.Name, it.Left(), per*releases, releases, per*releases-it.Left())
		}
	}
	return r.list
}

// JudgeStore says whether the gas lasts.
func JudgeStore(fills, needed, bottles int, u float64, set *Settings) []Remark {
	r := remarks{about: "gas store"}
	words := fmt.Sprintf("%d fills (± %.1f) left in %d cylinders, %d needed", fills, u, bottles, needed)
	switch {
	case fills < 1:
		r.say(Stop, "%s: not enough gas for one balloon", words)
	case fills < needed:
		r.say(Warning, "%s: order gas; it runs out %d releases early", words, needed-fills)
	case fills < needed+set.GasStore.Spare:
		r.say(Warning, "%s: fewer than %d spare fills", words, set.GasStore.Spare)
	default:
		r.say(Note, "%s", words)
	}
	return r.list
}
