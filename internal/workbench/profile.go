package workbench

import (
	"leadline/internal/levels"
	"leadline/internal/profile"
	"leadline/internal/sounding"
)

// Profile returns the outcome as seen along another profile of the flight: its final rows
// and its levels are those of the profile, everything else is the flight's. The ascent is
// the outcome itself.
func (o *Outcome) Profile(kind sounding.ProfileKind) (*Outcome, error) {
	if kind == "" || kind == o.Final.ProfileKind() {
		return o, nil
	}
	set := o.Settings
	if set == nil {
		set = DefaultSettings()
	}
	choices := set.Profile
	choices.House = set.Correct.General.Formula
	final, err := profile.Of(o.Final, kind, &choices)
	if err != nil {
		return nil, err
	}
	out := *o
	out.Final = final
	out.Levels, _ = levels.Find(final, &set.Levels)
	return &out, nil
}
