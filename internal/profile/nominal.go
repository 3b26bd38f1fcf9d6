package profile

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/earth"
	"leadline/internal/sounding"
)

// Nominal returns the profile of the nominal hour, on the levels of the ascent. Where the
// hour lies between the passages of a level, its value is linear in time between them;
// where it does not, the passage nearer to the hour stands for it as it is, and where
// there is no descent, the ascent. Nothing is extrapolated, and nothing is moved in
// space: the value belongs to the place on the line between the two passages that its
// latitude and longitude say. The air's change is taken as a random walk of the variance
// S² between the passages (see changes): S² w(1 − w) is added between them (a bridge), and
// S² times the time outside, over the time between them, outside.
func Nominal(f *sounding.Final, set *Settings) (*sounding.Final, error) {
	p := newPair(f, set)
	if len(p.rows) == 0 {
		return nil, fmt.Errorf("the flight has no ascent with a usable pressure")
	}
	hour, given := NominalHour(f)
	at := hour.Sub(f.Epoch).Seconds()
	late := p.lateness()
	between := 0
	out, _, _ := p.combine(sounding.NominalProfile, func(k int, a, b sample, change float64) (share, variance float64) {
		gap := b.time - a.time
		if !(gap > 0) {
			return 0, 0
		}
		w := (at - a.time) / gap
		switch {
		case w < 0:
			return 0, change * -w
		case w > 1:
			return 1, change * (w - 1)
		}
		return w, change * w * (1 - w)
	})
	least, most := math.Inf(1), math.Inf(-1)
	for k, t := range late {
		off := p.up.Time[k] - at
		if !math.IsNaN(t) && t >= at && off <= 0 {
			between++
			continue
		}
		if !math.IsNaN(t) && math.Abs(t-at) < math.Abs(off) {
			off = t - at
		}
		least, most = math.Min(least, off), math.Max(most, off)
	}
	word := "the nominal hour"
	if !given {
		word = "the synoptic hour nearest to the release (the launch record names no nominal hour)"
	}
	n := out.Len()
	out.Origin.Note = fmt.Sprintf("for %s UTC, %s: ", hour.UTC().Format("2006-01-02 15:04"), word)
	switch {
	case p.down == nil:
		out.Origin.Note += "the flight has no descent, so every value is the ascent's as it is, " + offText(least, most)
	case between == n:
		out.Origin.Note += "every level lies in time between ascent and descent"
	default:
		out.Origin.Note += fmt.Sprintf("%s of %d levels are linear in time between ascent and descent; the others are the nearer passage as it is, %s", shareText(between, n), n, offText(least, most))
	}
	out.Origin.Note += "; values are not moved in space"
	return out, nil
}

// offText says by how much values miss the hour, in s.
func offText(least, most float64) string {
	minutes := func(s float64) string {
		side := "after"
		if s < 0 {
			side = "before"
		}
		return fmt.Sprintf("%.0f min %s", math.Abs(s)/60, side)
	}
	return fmt.Sprintf("from %s to %s that hour", minutes(least), minutes(most))
}

// NominalHour returns the hour a flight is for: the launch record's, else the main or
// intermediate synoptic hour (00, 03, 06 … UTC) nearest to the release; given tells which.
func NominalHour(f *sounding.Final) (hour time.Time, given bool) {
	if f.Record != nil && !f.Record.Release.Nominal.IsZero() {
		return f.Record.Release.Nominal.UTC(), true
	}
	return f.Epoch.UTC().Round(3 * time.Hour), false
}

// separation is the distance in m between two positions on the ground.
func separation(lat1, lon1, lat2, lon2 float64) float64 {
	if math.IsNaN(lat1 + lon1 + lat2 + lon2) {
		return math.NaN()
	}
	e, n := earth.Displacement(lat1, lon1, 0, lat2, lon2, 0)
	return math.Hypot(e, n)
}
