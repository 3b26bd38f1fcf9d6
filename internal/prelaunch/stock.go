package prelaunch

import (
	"fmt"
	"strings"
	"time"

	"leadline/internal/gas"
)

// Item is one kind of thing a campaign uses up: what there was when it was counted, what
// was lost or failed since, and what the flights of the logbook have used since.
type Item struct {
	Name    string    `json:"name" toml:"name"` // "radiosondes", "balloons 800 g", "strings"
	Had     int       `json:"had" toml:"had"`   // when it was counted
	Used    int       `json:"used" toml:"used"` // not in a flight of the logbook: failed, lost, given away
	PerUse  int       `json:"per_release" toml:"per_release"`
	Counted time.Time `json:"counted_utc,omitzero" toml:"counted_utc"` // flights since are counted down; zero: none
	Flown   int       `json:"flown" toml:"-"`                          // used by flights of the logbook
}

// Left returns how many are left.
func (i *Item) Left() int { return i.Had - i.Used - i.Flown }

// Words says how many were used and are left.
func (i *Item) Words() string {
	if i.Counted.IsZero() {
		return fmt.Sprintf("%d used, %d left", i.Used, i.Left())
	}
	words := fmt.Sprintf("%d flown since %s", i.Flown, i.Counted.UTC().Format("2006-01-02 15:04 UTC"))
	if i.Used > 0 {
		words += fmt.Sprintf(", %d used otherwise", i.Used)
	}
	return fmt.Sprintf("%s, %d left", words, i.Left())
}

// Flown is a flight of the logbook, as far as it uses up stock.
type Flown struct {
	Site string
	At   time.Time // release, else nominal hour; zero where neither is known
}

// FlownSince counts the flights of a site later than an instant, and those of it whose
// instant nobody knows. Sites are told apart without regard to case and outer spaces.
func FlownSince(flights []Flown, site string, since time.Time) (n, undated int) {
	for _, f := range flights {
		if !strings.EqualFold(strings.TrimSpace(f.Site), strings.TrimSpace(site)) {
			continue
		}
		switch {
		case f.At.IsZero():
			undated++
		case f.At.After(since):
			n++
		}
	}
	return n, undated
}

// CountDown returns the items with what the flights of the site have used since each was
// counted. The release that is planned is not among them until it is in the logbook.
func CountDown(items []Item, flights []Flown, site string) ([]Item, []Remark) {
	r := remarks{about: "stock"}
	out := make([]Item, len(items))
	asked, most := false, 0
	for i, it := range items {
		it.Flown = 0
		if !it.Counted.IsZero() {
			asked = true
			n, undated := FlownSince(flights, site, it.Counted)
			it.Flown, most = max(1, it.PerUse)*n, max(most, undated)
		}
		out[i] = it
	}
	switch {
	case asked && strings.TrimSpace(site) == "":
		r.say(Warning, "the site has no name: its flights in the logbook cannot be counted down from the stock")
	case most > 0:
		r.say(Warning, "%d flights of this site have neither release nor nominal hour: they are not counted down from the stock", most)
	}
	return out, r.list
}

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
			r.say(Warning, "%s: %d used of %d: count again", it.Name, it.Used+it.Flown, it.Had)
		case it.Left() == 0:
			r.say(Stop, "%s: none left", it.Name)
		case it.Left() < per*releases:
			r.say(Warning, "%s: %d left, %d needed for %d releases to come: %d short", it.Name, it.Left(), per*releases, releases, per*releases-it.Left())
		}
	}
	return r.list
}

// storeOf adds up the gas and takes off the fills of flights since the gauges were read.
func storeOf(plan *Plan, kind gas.Kind, cylinders []gas.Cylinder, fill float64, flights []Flown, site string, releases int, set *Settings) (gas.Store, []Remark, error) {
	r := remarks{about: "gas store"}
	store, err := gas.NewStore(kind, cylinders, fill, set.GasStore.Leave, releases, set.GasStore.Pressure, set.GasStore.Temperature)
	if err != nil {
		return store, nil, err
	}
	var read time.Time // the oldest reading
	for i, c := range plan.Cylinders {
		if !c.Read.IsZero() && cylinders[i].Kind == kind && (read.IsZero() || c.Read.Before(read)) {
			read = c.Read
		}
	}
	if read.IsZero() {
		return store, nil, nil
	}
	n, _ := FlownSince(flights, site, read)
	if n > 0 {
		store = store.After(n, fill)
		r.say(Note, "%d flights since the gauges were read on %s are taken off, each with the gas of this fill: read the gauges again when you can", n, read.UTC().Format("2006-01-02 15:04 UTC"))
	}
	return store, r.list, nil
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
