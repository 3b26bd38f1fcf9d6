package prelaunch

import (
	_ "embed"
	"fmt"
	"strings"

	"leadline/internal/sounding"
)

// Step is one item of the launch list.
type Step struct {
	ID      string `json:"id" toml:"id"`
	When    string `json:"when" toml:"when"` // before, fill, release, after
	Only    string `json:"only,omitempty" toml:"only"`
	Text    string `json:"text" toml:"text"`
	Caution string `json:"caution,omitempty" toml:"caution"`
}

// Tick is a step done, by whom and when; it travels with the launch record.
type Tick = sounding.Tick

// List is a launch list.
type List struct {
	Steps []Step `json:"steps" toml:"step"`
}

// DefaultListText is the shipped launch list.
//
//go:embed list.toml
var DefaultListText string

// DefaultList returns the shipped launch list.
func DefaultList() *List {
	l, err := ReadList("list.toml", []byte(DefaultListText))
	if err != nil {
		panic(err) // the embedded text is part of the program; a test reads it
	}
	return l
}

// ReadList reads a site's own launch list.
func ReadList(name string, text []byte) (*List, error) {
	l := &List{}
	if err := sounding.DecodeTOML(name, text, l); err != nil {
		return nil, err
	}
	if len(l.Steps) == 0 || len(l.Steps) > 200 {
		return nil, fmt.Errorf("%s: %d steps: want 1 to 200 [[step]]", name, len(l.Steps))
	}
	seen := map[string]bool{}
	for i, s := range l.Steps {
		switch {
		case s.ID == "" || strings.ContainsAny(s.ID, " \t\n"):
			return nil, fmt.Errorf("%s: step %d has the id %q: want a word without spaces", name, i+1, s.ID)
		case seen[s.ID]:
			return nil, fmt.Errorf("%s: the id %q stands twice", name, s.ID)
		case s.Text == "":
			return nil, fmt.Errorf("%s: step %q has no text", name, s.ID)
		case s.When != "before" && s.When != "fill" && s.When != "release" && s.When != "after":
			return nil, fmt.Errorf("%s: step %q has when = %q: want before, fill, release or after", name, s.ID, s.When)
		case s.Only != "" && s.Only != "hydrogen" && s.Only != "night":
			return nil, fmt.Errorf("%s: step %q has only = %q: want hydrogen or night", name, s.ID, s.Only)
		}
		seen[s.ID] = true
	}
	return l, nil
}

// Done is a step with its tick, if it has one.
type Done struct {
	Step
	Tick *Tick `json:"tick,omitempty"`
}

// ticksOf returns the ticks of the steps that are done, in the order of the list, each with
// its step in words, as the launch record keeps them.
func ticksOf(list []Done) []Tick {
	var out []Tick
	for _, d := range list {
		if d.Tick != nil {
			t := *d.Tick
			t.Text = d.Text
			out = append(out, t)
		}
	}
	return out
}

// For returns the steps that hold for a release, each with its first tick. A tick on a
// step that is not on the list is named, and so is one without a name or time.
func (l *List) For(hydrogen, night bool, ticks []Tick) ([]Done, []Remark) {
	r := remarks{about: "list"}
	byStep := map[string]*Tick{}
	for i := range ticks {
		t := &ticks[i]
		switch {
		case t.Who == "":
			r.say(Warning, "the tick on %q has no name: it does not count", t.Step)
		case t.At.IsZero():
			r.say(Warning, "the tick on %q has no time: it does not count", t.Step)
		case byStep[t.Step] == nil:
			byStep[t.Step] = t
		}
	}
	var out []Done
	used := 0
	open := 0
	for _, s := range l.Steps {
		if t := byStep[s.ID]; t != nil {
			used++
		}
		if s.Only == "hydrogen" && !hydrogen || s.Only == "night" && !night {
			continue
		}
		d := Done{Step: s, Tick: byStep[s.ID]}
		if d.Tick == nil && s.When != "after" {
			open++
		}
		out = append(out, d)
	}
	if used < len(byStep) {
		for _, t := range ticks {
			found := false
			for _, s := range l.Steps {
				found = found || s.ID == t.Step
			}
			if !found {
				r.say(Warning, "%q is ticked and is no step of the list", t.Step)
			}
		}
	}
	if len(ticks) > 0 && open > 0 {
		r.say(Warning, "%d steps before or at the release are not ticked", open)
	}
	return out, r.list
}
