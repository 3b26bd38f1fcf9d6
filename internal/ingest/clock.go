package ingest

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"
	"time"

	"leadline/internal/units"
)

const daySeconds = 86400

// dayOf returns the days since 1970-01-01 and the seconds of that day, UTC.
func dayOf(t time.Time) (day int64, seconds float64) {
	t = t.UTC()
	u := t.Unix()
	day = u / daySeconds
	if u%daySeconds < 0 {
		day--
	}
	return day, float64(u-day*daySeconds) + float64(t.Nanosecond())/1e9
}

// sourceClock turns the time texts of one source into seconds since the start (UTC)
// of a first day.
type sourceClock struct {
	kind    string
	stamps  *stamps
	zone    *zoneClock
	unit    *units.Unit // of elapsed time
	colons  bool        // elapsed time as [[hh:]mm:]ss
	decimal byte
	base    float64 // of elapsed time, seconds of the first day

	day    int64 // the first day, days since 1970
	hasDay bool
	last   float64 // of time of day: the stamp before, local seconds since the first day
	has    bool
}

// clockSources is what may say which day or instant a relative clock counts from.
type clockSources struct {
	name     string // of the source
	options  Options
	date     string // captured
	base     string // captured
	layout   string // of the captured base
	dateForm string // layout of the captured date
	zone     string // of the captured base
	// clockZone is the captured zone of the source's clock.
	clockZone string
	declared  time.Time
}

// near returns the instant closest to the flight that is known, zero where none is.
func (s *clockSources) near() time.Time {
	for _, t := range []time.Time{s.declared, s.options.Declared, s.options.Near} {
		if !t.IsZero() {
			return t
		}
	}
	return time.Time{}
}

// newClock prepares the clock of a recipe for one source.
func newClock(r *TimeRecipe, decimal byte, s clockSources) (*sourceClock, error) {
	c := &sourceClock{kind: r.Kind, decimal: decimal}
	zone := r.Zone
	if s.clockZone != "" {
		zone = s.clockZone
	}
	if s.options.Zone != "" {
		zone = s.options.Zone
	}
	if r.Kind == "utc" || r.Kind == "elapsed" {
		zone = ""
	}
	if r.Kind == "local" && zone == "" {
		return nil, errors.New("the source's clock is local and nothing says of which zone: no line matched the capture of time.zone; give the zone as an option or in the recipe")
	}
	z, err := loadZone(zone)
	if err != nil {
		return nil, err
	}
	c.zone = &zoneClock{zone: z}
	switch r.Kind {
	case "utc", "local":
		c.stamps, err = newStamps(r.Layout, stampLayouts)
	case "time-of-day":
		if c.stamps, err = newStamps(r.Layout, clockLayouts); err != nil {
			return nil, err
		}
		date, fixed, err := findDate(r, s, z)
		if err != nil {
			return nil, err
		}
		c.day, c.hasDay = date, true
		if !fixed {
			// The day of the declared release, or of another instant nearby: the first row is
			// the one within half a day of it.
			at := s.near()
			_, offset := at.In(z).Zone()
			c.last = float64(at.Unix() + int64(offset) - date*daySeconds)
			c.has = true
		}
	case "elapsed":
		c.colons = strings.Contains(r.Unit, ":")
		if !c.colons {
			if c.unit, err = timeUnit(r.Unit); err != nil {
				return nil, err
			}
		}
		base, err := findBase(r, s)
		if err != nil {
			return nil, err
		}
		c.day, c.base = dayOf(base)
		c.hasDay = true
	default:
		return nil, fmt.Errorf("time.kind %q: want one of %s", r.Kind, strings.Join(timeKinds, ", "))
	}
	return c, err
}

// read returns the instant of a time text in seconds since the first day.
func (c *sourceClock) read(b []byte) (float64, bool) {
	if c.kind == "elapsed" {
		var x float64
		var ok bool
		if c.colons {
			x, ok = readElapsed(b, c.decimal)
		} else if x, ok = parseNumber(b, c.decimal); ok {
			x = c.unit.Inside(x)
		}
		return c.base + x, ok && math.Abs(x) < 4e9
	}
	m, ok := c.stamps.read(b)
	if !ok {
		return math.NaN(), false
	}
	if c.kind == "time-of-day" {
		x := m.seconds
		if c.has {
			// The day that brings it closest to the row before.
			x += daySeconds * math.Round((c.last-x)/daySeconds)
		}
		c.last, c.has = x, true
		if m.zoned {
			return x - m.offset, true
		}
		return c.utc(x), true
	}
	if !c.hasDay {
		c.day, c.hasDay = m.day, true
	}
	x := float64(m.day-c.day)*daySeconds + m.seconds
	if m.zoned {
		return x - m.offset, true
	}
	return c.utc(x), true
}

// utc takes the zone's offset off, in whole seconds so that fractions stay exact.
func (c *sourceClock) utc(x float64) float64 {
	if c.zone.zone == time.UTC {
		return x
	}
	local := math.Floor(x) + float64(c.day)*daySeconds
	return x - (local - c.zone.utc(local))
}

// findDate returns the day (since 1970) of the first time of day; fixed is false
// where it is the day of the declared release, which the first row may miss by one.
func findDate(r *TimeRecipe, s clockSources, z *time.Location) (day int64, fixed bool, err error) {
	if !s.options.Date.IsZero() {
		y, m, d := s.options.Date.Date()
		day, _ = dayOf(time.Date(y, m, d, 0, 0, 0, 0, time.UTC))
		return day, true, nil
	}
	if s.date != "" {
		if m, ok := readDate(s.date, s.dateForm); ok {
			return m.day, true, nil
		}
		return 0, false, fmt.Errorf("the captured date %q cannot be read: give its layout, such as layout = \"DD.MM.YYYY\"", shown(s.date))
	}
	if r.DateFromName != "" {
		re, err := regexp.Compile(r.DateFromName)
		if err != nil {
			return 0, false, err
		}
		if found := re.FindStringSubmatch(s.name); found != nil {
			text := found[0]
			if len(found) > 1 {
				text = strings.Join(found[1:], "")
			}
			if m, ok := readDate(text, r.DateLayout); ok {
				// Names often bear the date of the nominal hour, which a release before midnight
				// belongs to: an instant nearby settles the day.
				noon := time.Unix(m.day*daySeconds+daySeconds/2, 0)
				if at := s.near(); !at.IsZero() && at.Sub(noon).Abs() < 36*time.Hour {
					return m.day, false, nil
				}
				return m.day, true, nil
			}
		}
	}
	if r.Date != "" {
		t, err := time.Parse(time.DateOnly, r.Date)
		if err != nil {
			return 0, false, err
		}
		day, _ = dayOf(t)
		return day, true, nil
	}
	if at := s.near(); !at.IsZero() {
		y, m, d := at.In(z).Date()
		day, _ = dayOf(time.Date(y, m, d, 0, 0, 0, 0, time.UTC))
		return day, false, nil
	}
	return 0, false, fmt.Errorf("%w: the source gives times of day; say of which day, by the launch record's declared release, the recipe (time.date_from_name, a capture of time.date) or a date on the command line", ErrNoDate)
}

func readDate(text, form string) (moment, bool) {
	s, err := newStamps(form, dateLayouts)
	if err != nil {
		return moment{}, false
	}
	m, ok := s.read([]byte(strings.TrimSpace(text)))
	if !ok && form == "" {
		s.layouts, s.last = stampLayouts, 0
		m, ok = s.read([]byte(strings.TrimSpace(text)))
	}
	return m, ok
}

// findBase returns the instant of elapsed time zero.
func findBase(r *TimeRecipe, s clockSources) (time.Time, error) {
	if !s.options.Base.IsZero() {
		return s.options.Base, nil
	}
	if s.base != "" {
		return readInstant(s.base, s.layout, s.zone, s.date, s.dateForm)
	}
	if r.Base != "" {
		return time.Parse(time.RFC3339Nano, r.Base)
	}
	for _, t := range []time.Time{s.declared, s.options.Declared} {
		if !t.IsZero() {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%w: the source gives elapsed time; say since when, by the launch record's declared release, the recipe (time.base, a capture of time.base) or an instant on the command line", ErrNoBase)
}

// readInstant reads an instant by a layout, "" being any unmistakable one; a text
// that is a time of day takes its day from date.
func readInstant(text, form, zone, date, dateForm string) (time.Time, error) {
	text = strings.TrimSpace(text)
	z, err := loadZone(zone)
	if err != nil {
		return time.Time{}, err
	}
	auto := append(append([]*layout(nil), stampLayouts...), clockLayouts...)
	auto = append(auto, dateLayouts...)
	s, err := newStamps(form, auto)
	if err != nil {
		return time.Time{}, err
	}
	m, ok := s.read([]byte(text))
	if !ok {
		if form == "" {
			if t, err := time.Parse(time.RFC3339Nano, text); err == nil {
				return t.UTC(), nil
			}
		}
		return time.Time{}, fmt.Errorf("%q is no instant that can be read: write it as 2031-06-03T23:04:11Z, or give its layout", shown(text))
	}
	l := s.layouts[s.last]
	if !l.hasDate {
		if date == "" {
			return time.Time{}, fmt.Errorf("%w: %q is a time of day without a date", ErrNoDate, shown(text))
		}
		d, ok := readDate(date, dateForm)
		if !ok {
			return time.Time{}, fmt.Errorf("the date %q cannot be read", shown(date))
		}
		m.day = d.day
	}
	whole := math.Floor(m.seconds)
	nanos := int64(math.Round((m.seconds - whole) * 1e9))
	local := m.day*daySeconds + int64(whole)
	if m.zoned {
		return time.Unix(local-int64(m.offset), nanos).UTC(), nil
	}
	u := (&zoneClock{zone: z}).utc(float64(local))
	return time.Unix(int64(u), nanos).UTC(), nil
}
