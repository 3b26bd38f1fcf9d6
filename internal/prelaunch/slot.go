package prelaunch

import (
	"fmt"
	"slices"
	"time"

	"leadline/internal/sun"
)

// NominalHours are the standard hours of upper-air soundings, UTC.
var NominalHours = []int{0, 6, 12, 18}

// Slot is one planned release.
type Slot struct {
	Nominal  time.Time `json:"nominal_utc"`
	Extra    bool      `json:"extra"` // agreed outside the nominal hours
	Earliest time.Time `json:"earliest_utc"`
	Best     time.Time `json:"best_utc"`
	Latest   time.Time `json:"latest_utc"`
	// Local texts carry the date, the hour and the offset, so that an hour that comes twice can be told apart.
	LocalNominal string   `json:"local_nominal"`
	LocalBest    string   `json:"local_best"`
	Sun          float64  `json:"sun_elevation_deg"` // geometric, at the best instant at the site
	Remarks      []Remark `json:"remarks,omitempty"`
}

const localLayout = "Mon 2006-01-02 15:04 -07:00"

// NewSlot plans a release for a nominal hour at a place in degrees, with local times of a
// zone. The window is that of the settings: released as near as possible to 30 min before
// the hour, from 45 min before it to the hour (published rule; time of observation is the
// moment of release).
func NewSlot(nominal time.Time, latitude, longitude float64, zone *time.Location, set *Settings) Slot {
	nominal = nominal.UTC()
	minutes := func(m float64) time.Time { return nominal.Add(-time.Duration(m * float64(time.Minute))) }
	s := Slot{
		Nominal:  nominal,
		Extra:    !slices.Contains(NominalHours, nominal.Hour()) || nominal.Minute() != 0 || nominal.Second() != 0,
		Earliest: minutes(set.Release.Earliest), Best: minutes(set.Release.Best), Latest: minutes(set.Release.Latest),
	}
	s.LocalNominal = nominal.In(zone).Format(localLayout)
	s.LocalBest = s.Best.In(zone).Format(localLayout)
	s.Sun, _ = sun.PositionAt(s.Best, latitude, longitude)
	r := remarks{about: "slot"}
	if s.Extra {
		r.say(Note, "%s UTC is none of the nominal hours 00, 06, 12, 18: an extra release", nominal.Format("15:04"))
	}
	day := func(t time.Time) string { return t.Format("2006-01-02") }
	if day(s.Best.In(zone)) != day(nominal) {
		r.say(Note, "the release falls on %s in local time, while the slot carries the date %s UTC", s.Best.In(zone).Format("Monday 2006-01-02"), day(nominal))
	}
	for _, c := range Changes(s.Earliest.Add(-12*time.Hour), nominal.Add(12*time.Hour), zone) {
		r.say(Warning, "%s", c.Sentence)
	}
	s.Remarks = r.list
	return s
}

// Slots plans every nominal hour in hours (nil: all four) from an instant up to, not
// including, another, and the extra ones, in order of time without repeats.
func Slots(from, to time.Time, hours []int, extra []time.Time, latitude, longitude float64, zone *time.Location, set *Settings) []Slot {
	if hours == nil {
		hours = NominalHours
	}
	var at []time.Time
	for t := from.UTC().Truncate(time.Hour); t.Before(to) && len(at) < 10000; t = t.Add(time.Hour) {
		if !t.Before(from) && slices.Contains(hours, t.Hour()) {
			at = append(at, t)
		}
	}
	for _, t := range extra {
		at = append(at, t.UTC())
	}
	slices.SortFunc(at, time.Time.Compare)
	at = slices.CompactFunc(at, time.Time.Equal)
	out := make([]Slot, len(at))
	for i, t := range at {
		out[i] = NewSlot(t, latitude, longitude, zone, set)
	}
	return out
}

// Judge says whether a release lies in the slot's window.
func (s *Slot) Judge(release time.Time) Remark {
	before := s.Nominal.Sub(release).Minutes()
	text := fmt.Sprintf("released %s UTC, %.0f min before the nominal hour", release.UTC().Format("15:04:05"), before)
	switch {
	case release.Before(s.Earliest):
		return Remark{"slot", Warning, text + fmt.Sprintf(": earlier than the window, which opens at %s UTC", s.Earliest.Format("15:04"))}
	case release.After(s.Latest):
		return Remark{"slot", Warning, text + fmt.Sprintf(": later than the window, which closes at %s UTC", s.Latest.Format("15:04"))}
	}
	return Remark{"slot", Note, text + ": within the window"}
}

// Change is an instant at which local clocks are changed.
type Change struct {
	At       time.Time
	Before   time.Duration // offset from UTC before
	After    time.Duration // and after
	Sentence string
}

// Changes lists the changes of local clocks between two instants.
func Changes(from, to time.Time, zone *time.Location) []Change {
	var out []Change
	at := from
	for len(out) < 20 {
		_, end := at.In(zone).ZoneBounds()
		if end.IsZero() || !end.Before(to) {
			return out
		}
		name1, before := end.Add(-time.Second).In(zone).Zone()
		name2, after := end.In(zone).Zone()
		c := Change{At: end.UTC(), Before: time.Duration(before) * time.Second, After: time.Duration(after) * time.Second}
		step := c.After - c.Before
		// Wall clocks just before the change, as they would have gone on.
		old := end.In(time.FixedZone(name1, before))
		fresh := end.In(time.FixedZone(name2, after))
		switch {
		case step > 0:
			c.Sentence = fmt.Sprintf("local clocks go forward at %s UTC: local times from %s to %s do not exist", c.At.Format("2006-01-02 15:04"), old.Format("2006-01-02 15:04"), fresh.Format("2006-01-02 15:04"))
		case step < 0:
			c.Sentence = fmt.Sprintf("local clocks go back at %s UTC: local times from %s to %s come twice; say which by the offset from UTC", c.At.Format("2006-01-02 15:04"), fresh.Format("2006-01-02 15:04"), old.Format("2006-01-02 15:04"))
		}
		if step != 0 {
			out = append(out, c)
		}
		at = end
	}
	return out
}

// Local reads a local wall time ("2031-03-30 02:30") in a zone. A time that does not
// exist, or comes twice, is refused with the instants that may be meant: nothing is
// chosen silently.
func Local(text string, zone *time.Location) (time.Time, error) {
	var wall time.Time
	var err error
	for _, layout := range []string{"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04"} {
		if wall, err = time.Parse(layout, text); err == nil {
			break
		}
	}
	if err != nil {
		return time.Time{}, fmt.Errorf("local time %q: want 2031-06-03 23:30", text)
	}
	// Every offset in force within a day and a half may apply (a zone has skipped a whole day).
	var found []time.Time
	for _, around := range []time.Duration{-36 * time.Hour, 0, 36 * time.Hour} {
		_, offset := wall.Add(around).In(zone).Zone()
		t := wall.Add(-time.Duration(offset) * time.Second)
		if _, own := t.In(zone).Zone(); own == offset && !slices.ContainsFunc(found, t.Equal) {
			found = append(found, t)
		}
	}
	slices.SortFunc(found, time.Time.Compare)
	switch len(found) {
	case 1:
		return found[0].UTC(), nil
	case 0:
		for _, c := range Changes(wall.Add(-40*time.Hour), wall.Add(40*time.Hour), zone) {
			if c.After > c.Before {
				return time.Time{}, fmt.Errorf("local time %s does not exist in %s: %s", text, zone, c.Sentence)
			}
		}
		return time.Time{}, fmt.Errorf("local time %s does not exist in %s", text, zone)
	}
	return time.Time{}, fmt.Errorf("local time %s comes twice in %s: it is %s or %s UTC; write the one that is meant", text, zone,
		found[0].UTC().Format("2006-01-02 15:04"), found[len(found)-1].UTC().Format("2006-01-02 15:04"))
}
