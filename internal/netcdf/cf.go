package netcdf

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// TimeUnits is a parsed CF time unit such as "seconds since 2006-01-19 05:03:00".
type TimeUnits struct {
	Base       time.Time // in UTC
	UnitInS    float64   // seconds in one unit
	LeapCounts bool      // calendar utc: leap seconds count as elapsed time
}

// firstGregorianDay is the day from which the calendars called standard and
// proleptic_gregorian agree (CF 4.4.1).
var firstGregorianDay = time.Date(1582, 10, 15, 0, 0, 0, 0, time.UTC)

var unitsInS = map[string]float64{
	"microsecond": 1e-6, "microsec": 1e-6,
	"millisecond": 1e-3, "millisec": 1e-3, "msec": 1e-3, "ms": 1e-3,
	"second": 1, "sec": 1, "s": 1,
	"minute": 60, "min": 60,
	"hour": 3600, "hr": 3600, "h": 3600,
	"day": 86400, "d": 86400,
}

// ParseTimeUnits reads the attributes units and calendar of a time variable (CF
// 4.4). Units are microseconds to days, singular, plural or abbreviated; months and
// years are refused, as their lengths vary. The date is year-month-day with or
// without leading zeros, then optionally the time to hours, minutes or (fractions
// of) seconds after a blank or a T, then optionally the zone: Z, UTC, GMT, or an
// offset such as 0:00, +01:00, -0600 or -6. Without a zone the time is UTC.
//
// Calendars are standard (also for no calendar), gregorian, proleptic_gregorian and
// utc. Others, and standard before 1582-10-15 where it is Julian, are refused.
func ParseTimeUnits(units, calendar string) (TimeUnits, error) {
	bad := func(format string, args ...any) (TimeUnits, error) {
		return TimeUnits{}, fmt.Errorf("time units %q: "+format, append([]any{units}, args...)...)
	}
	var t TimeUnits
	mixed := false
	switch c := strings.ToLower(strings.TrimSpace(calendar)); c {
	case "", "standard", "gregorian":
		mixed = true
	case "proleptic_gregorian":
	case "utc":
		t.LeapCounts = true
	default:
		return bad("calendar %q is not one of standard, gregorian, proleptic_gregorian, utc", calendar)
	}
	words := strings.Fields(units)
	if len(words) < 3 || !strings.EqualFold(words[1], "since") {
		return bad(`wanted "<unit> since <date> <time>"`)
	}
	name := strings.ToLower(words[0])
	ok := false
	if t.UnitInS, ok = unitsInS[name]; !ok {
		t.UnitInS, ok = unitsInS[strings.TrimSuffix(name, "s")]
	}
	if !ok {
		return bad("unit %q is not one of microseconds, milliseconds, seconds, minutes, hours, days", words[0])
	}
	date, clock, zone := words[2], "", ""
	rest := words[3:]
	if i := strings.IndexAny(date, "Tt"); i >= 0 {
		date, clock = date[:i], date[i+1:]
	} else if len(rest) > 0 {
		clock, rest = rest[0], rest[1:]
	}
	if len(rest) > 0 {
		zone, rest = rest[0], rest[1:]
	}
	if len(rest) > 0 {
		return bad("%q is left over", strings.Join(rest, " "))
	}
	if clock == "" && len(words[2]) != len(date) {
		return bad("no time after the T")
	}
	// A zone may stick to the time: 05:03:00Z, 05:03:00+01:00.
	if i := strings.IndexAny(clock, "+-ZzUuGg"); i >= 0 {
		if zone != "" {
			return bad("two time zones")
		}
		clock, zone = clock[:i], clock[i:]
	}
	year, month, day, err := parseDate(date)
	if err != nil {
		return bad("%v", err)
	}
	nanoseconds, err := parseClock(clock)
	if err != nil {
		return bad("%v", err)
	}
	offset, err := parseZone(zone)
	if err != nil {
		return bad("%v", err)
	}
	t.Base = time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if t.Base.Day() != day || int(t.Base.Month()) != month {
		return bad("there is no day %d in month %d of %d", day, month, year)
	}
	t.Base = t.Base.Add(time.Duration(nanoseconds)).Add(-offset)
	if mixed && t.Base.Before(firstGregorianDay) {
		return bad("before 1582-10-15 the standard calendar is Julian, which is not supported")
	}
	if t.LeapCounts && t.Base.Before(leapSeconds[0]) {
		return bad("calendar utc begins in 1972")
	}
	return t, nil
}

func parseDate(s string) (year, month, day int, err error) {
	f := strings.Split(s, "-")
	if len(f) != 3 || len(f[0]) > 4 || len(f[1]) > 2 || len(f[2]) > 2 {
		return 0, 0, 0, fmt.Errorf("date %q is not year-month-day", s)
	}
	var n [3]int
	for i, w := range f {
		if n[i], err = digits(w); err != nil {
			return 0, 0, 0, fmt.Errorf("date %q is not year-month-day", s)
		}
	}
	if n[1] < 1 || n[1] > 12 || n[2] < 1 || n[2] > 31 {
		return 0, 0, 0, fmt.Errorf("date %q has no such month or day", s)
	}
	return n[0], n[1], n[2], nil
}

// parseClock returns the nanoseconds since midnight.
func parseClock(s string) (int64, error) {
	if s == "" {
		return 0, nil
	}
	bad := fmt.Errorf("time %q is not hours:minutes:seconds", s)
	f := strings.Split(s, ":")
	if len(f) > 3 {
		return 0, bad
	}
	hour, err := digits(f[0])
	if err != nil || hour > 24 {
		return 0, bad
	}
	minute, fraction := 0, int64(0)
	second := 0
	if len(f) > 1 {
		if minute, err = digits(f[1]); err != nil || minute > 59 {
			return 0, bad
		}
	}
	if len(f) > 2 {
		whole, part, _ := strings.Cut(f[2], ".")
		if second, err = digits(whole); err != nil || second > 59 {
			return 0, bad
		}
		if part != "" {
			if len(part) > 9 {
				part = part[:9]
			}
			n, err := digits(part)
			if err != nil {
				return 0, bad
			}
			fraction = int64(n) * int64(math.Pow10(9-len(part)))
		}
	}
	if hour == 24 && (minute != 0 || second != 0 || fraction != 0) {
		return 0, bad
	}
	return int64(hour*3600+minute*60+second)*1e9 + fraction, nil
}

// parseZone returns the offset from UTC, positive to the east.
func parseZone(s string) (time.Duration, error) {
	switch strings.ToUpper(s) {
	case "", "Z", "UTC", "GMT":
		return 0, nil
	}
	bad := fmt.Errorf("time zone %q is not Z, UTC or an offset such as +01:00", s)
	sign := time.Duration(1)
	w := s
	switch w[0] {
	case '-':
		sign, w = -1, w[1:]
	case '+':
		w = w[1:]
	}
	hours, minutes, colon := strings.Cut(w, ":")
	if !colon && len(w) > 2 {
		hours, minutes = w[:len(w)-2], w[len(w)-2:]
	}
	h, err := digits(hours)
	if err != nil || h > 14 {
		return 0, bad
	}
	m := 0
	if minutes != "" || colon {
		if m, err = digits(minutes); err != nil || m > 59 {
			return 0, bad
		}
	}
	return sign * (time.Duration(h)*time.Hour + time.Duration(m)*time.Minute), nil
}

// digits reads a number written with digits only, at most nine.
func digits(s string) (int, error) {
	if s == "" || len(s) > 9 || strings.Trim(s, "0123456789") != "" {
		return 0, strconv.ErrSyntax
	}
	return strconv.Atoi(s)
}

// longestTime is the time from the base beyond which Time gives up, about 300,000
// years in seconds.
const longestTime = 1e13

// Time returns the moment that x units since the base stand for, to the
// nanosecond as far as float64 carries it, and false for NaN and for more than
// 300,000 years. In the calendar utc a moment inside a leap second becomes the
// second after it, as time.Time has none.
func (t TimeUnits) Time(x float64) (time.Time, bool) {
	s := x * t.UnitInS
	if !(math.Abs(s) < longestTime) { // also NaN
		return time.Time{}, false
	}
	whole := math.Floor(s)
	at := time.Unix(t.Base.Unix()+int64(whole), int64(t.Base.Nanosecond())+int64(math.Round((s-whole)*1e9))).UTC()
	if t.LeapCounts {
		at = fromCount(at, leapSecondsAt(t.Base))
	}
	return at, true
}

// Since returns how many units after the base the moment is.
func (t TimeUnits) Since(at time.Time) float64 {
	s := at.Unix() - t.Base.Unix()
	if t.LeapCounts {
		s += int64(leapSecondsAt(at) - leapSecondsAt(t.Base))
	}
	return (float64(s) + float64(at.Nanosecond()-t.Base.Nanosecond())*1e-9) / t.UnitInS
}

// TimeUnits reads the units and calendar attributes of a time variable.
func (v *Variable) TimeUnits() (TimeUnits, error) {
	units, ok := v.Attributes.Text("units")
	if !ok {
		return TimeUnits{}, fmt.Errorf("variable %s has no units", v.Name)
	}
	calendar, _ := v.Attributes.Text("calendar")
	t, err := ParseTimeUnits(units, calendar)
	if err != nil {
		return TimeUnits{}, fmt.Errorf("variable %s: %w", v.Name, err)
	}
	return t, nil
}

// ByStandardName returns the variables of that standard_name, without those that
// carry a modifier such as standard_error behind it, in the order of the file.
// Blanks around the name are passed over.
func (f *File) ByStandardName(name string) []*Variable {
	var found []*Variable
	for _, v := range f.Variables {
		if s, ok := v.Attributes.Text("standard_name"); ok && strings.TrimSpace(s) == name {
			found = append(found, v)
		}
	}
	return found
}

// Find returns the one variable of that standard_name whose units are one of
// those given, or of any units if none are. It fails where there is none, naming
// what units there are, and where there are several.
func (f *File) Find(standardName string, units ...string) (*Variable, error) {
	var found []*Variable
	var names, others []string
	for _, v := range f.ByStandardName(standardName) {
		u, _ := v.Attributes.Text("units")
		u = strings.TrimSpace(u)
		if len(units) > 0 && !slices.Contains(units, u) {
			others = append(others, fmt.Sprintf("%s in %q", v.Name, u))
			continue
		}
		found, names = append(found, v), append(names, v.Name)
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		return nil, fmt.Errorf("several variables have standard_name %s: %s; say which by name", standardName, strings.Join(names, ", "))
	case len(others) > 0:
		return nil, fmt.Errorf("no variable has standard_name %s in %s: there is %s", standardName, strings.Join(units, " or "), strings.Join(others, ", "))
	}
	return nil, fmt.Errorf("no variable has standard_name %s", standardName)
}
