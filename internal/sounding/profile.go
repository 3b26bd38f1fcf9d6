package sounding

import (
	"fmt"
	"slices"
	"strings"
)

// ProfileKind says from which passage through the air a profile is made.
type ProfileKind string

// The profiles of a flight; docs/methods/profiles.md.
const (
	AscentProfile  ProfileKind = "ascent"  // the way up
	DescentProfile ProfileKind = "descent" // the way down
	NominalProfile ProfileKind = "nominal" // as far as the flight tells, the air at the nominal hour
	MergedProfile  ProfileKind = "merged"  // way up and way down combined
)

// ProfileKinds lists them, the ascent first.
func ProfileKinds() []ProfileKind {
	return []ProfileKind{AscentProfile, DescentProfile, NominalProfile, MergedProfile}
}

// ParseProfileKind reads a profile's word; "" is the ascent.
func ParseProfileKind(s string) (ProfileKind, error) {
	if s == "" {
		return AscentProfile, nil
	}
	if k := ProfileKind(s); slices.Contains(ProfileKinds(), k) {
		return k, nil
	}
	words := make([]string, 0, 4)
	for _, k := range ProfileKinds() {
		words = append(words, string(k))
	}
	return "", fmt.Errorf("%q is no profile of a flight: want one of %s", s, strings.Join(words, ", "))
}

// ProfileOrigin is where the rows of a final flight come from. The zero value is the
// flight itself, whose profile is its ascent.
type ProfileOrigin struct {
	Kind ProfileKind `json:"kind"`
	Note string      `json:"note"` // how it was made, in plain sentences
	// The release point, where the rows themselves do not begin there (a descent).
	GroundPressure     Number `json:"ground_pressure_hpa"`
	GroundHeight       Number `json:"ground_height_m_msl"`
	GroundGeopotential Number `json:"ground_geopotential_height_gpm"`
}

// ProfileKind returns which profile of the flight Events.Ascent spans.
func (f *Final) ProfileKind() ProfileKind {
	if f.Origin.Kind == "" {
		return AscentProfile
	}
	return f.Origin.Kind
}

// OnTheGround tells whether the profile begins at the release point.
func (o *ProfileOrigin) OnTheGround() bool { return o.Kind != DescentProfile }
