// Package profile makes the profiles of a flight other than its ascent: the descent, the
// profile of the nominal hour, and ascent and descent merged. Each is a final flight of
// its own whose Events.Ascent spans it from the bottom up, so that levels, indices,
// grids and charts read it like an ascent; its Origin says what it is and how it was
// made, and goes with every number.
//
// Page: docs/methods/profiles.md.
package profile
