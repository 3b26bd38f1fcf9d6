package ingest

import (
	"fmt"
	"math"
	"strings"
	"time"

	"leadline/internal/units"
)

// part is one piece of a time layout.
type part uint8

const (
	literal part = iota
	year4
	year2
	month2
	monthName
	day2
	dayOfYear
	hour2
	minute2
	second2 // with a fraction where there is one
	zoneOffset
	halfDay // am, pm
)

// layout is a compiled time layout: "YYYY-MM-DD hh:mm:ss".
type layout struct {
	text    string
	parts   []layoutPart
	hasDate bool
	hasTime bool
}

type layoutPart struct {
	kind  part
	text  byte // of a literal
	exact bool // the number has all its figures, because another number follows at once
}

var layoutWords = []struct {
	word string
	kind part
}{
	{"YYYY", year4}, {"YY", year2}, {"MON", monthName}, {"MM", month2}, {"DDD", dayOfYear}, {"DD", day2},
	{"hh", hour2}, {"mm", minute2}, {"ss", second2}, {"ZZ", zoneOffset}, {"AM", halfDay},
}

// compileLayout reads a layout: YYYY or YY year, MM or MON (Jan) month, DD day or
// DDD day of the year, hh hour, mm minute, ss second with its fraction, AM half of
// the day, ZZ Z or ±hh:mm; everything else stands for itself. A blank stands for
// one or more blanks.
func compileLayout(text string) (*layout, error) {
	l := &layout{text: text}
	if len(text) > 100 {
		return nil, fmt.Errorf("a layout of %d characters is too long", len(text))
	}
	seen := map[part]bool{}
next:
	for i := 0; i < len(text); {
		for _, w := range layoutWords {
			if strings.HasPrefix(text[i:], w.word) {
				if seen[w.kind] {
					return nil, fmt.Errorf("layout %q has %s twice", text, w.word)
				}
				seen[w.kind] = true
				l.parts = append(l.parts, layoutPart{kind: w.kind})
				i += len(w.word)
				continue next
			}
		}
		l.parts = append(l.parts, layoutPart{kind: literal, text: text[i]})
		i++
	}
	for i := range l.parts[:max(0, len(l.parts)-1)] {
		k := l.parts[i+1].kind
		l.parts[i].exact = k != literal && k != monthName && k != halfDay && k != zoneOffset ||
			k == literal && l.parts[i+1].text >= '0' && l.parts[i+1].text <= '9'
	}
	l.hasDate = (seen[year4] || seen[year2]) && (seen[dayOfYear] || seen[day2] && (seen[month2] || seen[monthName]))
	l.hasTime = seen[hour2]
	if !l.hasDate && !l.hasTime {
		return nil, fmt.Errorf("layout %q has neither a full date (YYYY MM DD) nor an hour (hh)", text)
	}
	return l, nil
}

// moment is what a layout reads: a day counted from 1970-01-01 and seconds of it, in
// the clock of the text; offset is what the text says its clock is ahead of UTC.
type moment struct {
	day     int64
	seconds float64
	offset  float64
	zoned   bool
}

var monthNames = []string{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"}

// read reads b from its first to its last byte.
func (l *layout) read(b []byte) (m moment, ok bool) {
	year, month, day, yday := 1970, 1, 1, 0
	hour, minute := 0, 0
	afternoon, half := false, false
	i := 0
	for k := range l.parts {
		p := &l.parts[k]
		if p.kind == literal {
			if p.text == ' ' {
				if i >= len(b) || b[i] != ' ' {
					return m, false
				}
				for i < len(b) && b[i] == ' ' {
					i++
				}
				continue
			}
			if i >= len(b) || b[i] != p.text && b[i]|0x20 != p.text|0x20 {
				return m, false
			}
			i++
			continue
		}
		width := 2
		switch p.kind {
		case year4:
			width = 4
		case dayOfYear:
			width = 3
		case monthName:
			if i+3 > len(b) {
				return m, false
			}
			name := strings.ToLower(string(b[i : i+3]))
			month = 0
			for n, w := range monthNames {
				if w == name {
					month = n + 1
				}
			}
			if month == 0 {
				return m, false
			}
			i += 3
			continue
		case halfDay:
			if i+2 > len(b) || b[i+1]|0x20 != 'm' || b[i]|0x20 != 'a' && b[i]|0x20 != 'p' {
				return m, false
			}
			half, afternoon = true, b[i]|0x20 == 'p'
			i += 2
			continue
		case zoneOffset:
			var read int
			m.offset, read, ok = readOffset(b[i:])
			if !ok {
				return m, false
			}
			m.zoned = true
			i += read
			continue
		}
		v, from := 0, i
		for i < len(b) && i-from < width && b[i] >= '0' && b[i] <= '9' {
			v = v*10 + int(b[i]-'0')
			i++
		}
		if i == from || (p.exact || p.kind == year4) && i-from < width {
			return m, false
		}
		switch p.kind {
		case year4:
			year = v
		case year2:
			year = 2000 + v // the archive of radiosondes with two figures of the year before 2000 is read with YYYY
			if v >= 70 {
				year = 1900 + v
			}
		case month2:
			month = v
		case day2:
			day = v
		case dayOfYear:
			yday = v
		case hour2:
			hour = v
		case minute2:
			minute = v
		case second2:
			m.seconds = float64(v)
			if i < len(b) && (b[i] == '.' || b[i] == ',') {
				scale := 1.0
				f := 0.0
				i++
				for i < len(b) && b[i] >= '0' && b[i] <= '9' {
					if scale < 1e15 {
						f = f*10 + float64(b[i]-'0')
						scale *= 10
					}
					i++
				}
				m.seconds = float64(v) + f/scale
			}
		}
	}
	if i != len(b) {
		return m, false
	}
	if half {
		if hour < 1 || hour > 12 {
			return m, false
		}
		hour %= 12
		if afternoon {
			hour += 12
		}
	}
	// 24:00:00 is the end of the day and 60 the leap second.
	if hour > 24 || minute > 59 || m.seconds >= 61 || hour == 24 && (minute > 0 || m.seconds > 0) {
		return m, false
	}
	if month < 1 || month > 12 || day < 1 || day > daysIn(year, month) || yday > 366 {
		return m, false
	}
	if yday > 0 {
		month, day = 1, yday
	}
	m.day = time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC).Unix() / 86400
	if year < 1970 {
		m.day = int64(math.Floor(float64(time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC).Unix()) / 86400))
	}
	m.seconds += float64(hour*3600 + minute*60)
	return m, true
}

func daysIn(year, month int) int {
	switch month {
	case 4, 6, 9, 11:
		return 30
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}

// readOffset reads Z, UTC, ±hh, ±hhmm or ±hh:mm.
func readOffset(b []byte) (seconds float64, read int, ok bool) {
	if len(b) > 0 && b[0]|0x20 == 'z' {
		return 0, 1, true
	}
	if len(b) >= 3 && strings.EqualFold(string(b[:3]), "utc") {
		return 0, 3, true
	}
	if len(b) < 3 || b[0] != '+' && b[0] != '-' {
		return 0, 0, false
	}
	var v [4]int
	n, i := 0, 1
	for i < len(b) && n < 4 {
		if b[i] == ':' && n == 2 {
			i++
			continue
		}
		if b[i] < '0' || b[i] > '9' {
			break
		}
		v[n] = int(b[i] - '0')
		n++
		i++
	}
	if n != 2 && n != 4 {
		return 0, 0, false
	}
	seconds = float64((v[0]*10+v[1])*3600 + (v[2]*10+v[3])*60)
	if b[0] == '-' {
		seconds = -seconds
	}
	return seconds, i, seconds <= 15*3600 && seconds >= -15*3600
}

// Layouts that need no word from anybody: year first, or day first with dots. Orders
// of day and month that can be confused are never guessed.
var (
	stampLayouts = mustLayouts("YYYY-MM-DDThh:mm:ssZZ", "YYYY-MM-DD hh:mm:ss", "YYYY-MM-DDThh:mm:ss", "YYYY-MM-DD hh:mm:ssZZ",
		"YYYY-MM-DD hh:mm:ss ZZ", "YYYY/MM/DD hh:mm:ss", "YYYY-MM-DD hh:mm", "YYYY-MM-DDThh:mmZZ", "YYYY-MM-DDThh:mm", "YYYY/MM/DD hh:mm",
		"YYYYMMDDThhmmssZZ", "YYYYMMDDThhmmss", "YYYYMMDD hhmmss", "YYYYMMDDhhmmss", "YYYYMMDD hh:mm:ss", "DD.MM.YYYY hh:mm:ss", "DD.MM.YYYY hh:mm", "DD MON YYYY hh:mm:ss", "DD-MON-YYYY hh:mm:ss", "MON DD YYYY hh:mm:ss")
	clockLayouts = mustLayouts("hh:mm:ss", "hhmmss", "hh:mm:ssZZ", "hh:mm:ss AM", "hh:mm")
	dateLayouts  = mustLayouts("YYYY-MM-DD", "YYYYMMDD", "YYYY/MM/DD", "DD.MM.YYYY", "DD MON YYYY", "DD-MON-YYYY", "MON DD YYYY", "YYYY MM DD")
)

func mustLayouts(texts ...string) []*layout {
	out := make([]*layout, len(texts))
	for i, t := range texts {
		l, err := compileLayout(t)
		if err != nil {
			panic(err) // a constant of this file: its test reads every one of them
		}
		out[i] = l
	}
	return out
}

// stamps reads the times of one source: with one layout, or with the first of
// several that fits, which then is tried first.
type stamps struct {
	layouts []*layout
	last    int
}

func newStamps(text string, auto []*layout) (*stamps, error) {
	if text == "" || text == "auto" {
		return &stamps{layouts: auto}, nil
	}
	l, err := compileLayout(text)
	if err != nil {
		return nil, err
	}
	return &stamps{layouts: []*layout{l}}, nil
}

func (s *stamps) read(b []byte) (moment, bool) {
	if m, ok := s.layouts[s.last].read(b); ok {
		return m, true
	}
	for i, l := range s.layouts {
		if m, ok := l.read(b); ok {
			s.last = i
			return m, true
		}
	}
	return moment{}, false
}

// loadZone finds an IANA zone. "Local" is refused: it would mean another clock on
// another computer.
func loadZone(name string) (*time.Location, error) {
	if name == "" || name == "UTC" || name == "Z" {
		return time.UTC, nil
	}
	if name == "Local" || len(name) > 60 {
		return nil, fmt.Errorf("zone %q is not one by name: want an IANA name such as Europe/Zurich", name)
	}
	if offset, ok := fixedOffset(name); ok {
		return time.FixedZone(name, int(offset)), nil
	}
	z, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("zone %q is not known: want an IANA name such as Europe/Zurich, or an offset such as UTC-03:00", shown(name))
	}
	return z, nil
}

// fixedOffset reads a zone that is an offset from UTC: "UTC-03:00", "+02:00".
func fixedOffset(name string) (seconds float64, ok bool) {
	text := strings.TrimPrefix(strings.TrimPrefix(strings.ToUpper(name), "UTC"), "GMT")
	text = strings.Replace(strings.TrimSpace(text), "−", "-", 1)
	if text == "" {
		return 0, name != ""
	}
	if len(text) == 2 && (text[0] == '+' || text[0] == '-') {
		text = text[:1] + "0" + text[1:] // UTC-3
	}
	if text[0] != '+' && text[0] != '-' {
		return 0, false
	}
	seconds, read, ok := readOffset([]byte(text))
	return seconds, ok && read == len(text)
}

// zoneClock turns local stamps into UTC. Where the clock of the zone is set back an
// hour stands twice; the reading is taken that does not run backwards against the
// stamp before it.
type zoneClock struct {
	zone    *time.Location
	last    float64 // UTC seconds since 1970 of the stamp before
	hasLast bool
	// The offset holds for local seconds in [from, to).
	from, to, offset float64
	twice            int // stamps read in an hour that stands twice
	skipped          int // stamps in an hour that does not exist
}

// utc returns UTC seconds since 1970 of local seconds since 1970.
func (z *zoneClock) utc(local float64) float64 {
	if z.zone == time.UTC {
		return local
	}
	if !(local >= z.from && local < z.to) {
		guess := time.Unix(int64(math.Floor(local)), 0).In(z.zone)
		_, offset := guess.Zone()
		at := time.Unix(int64(math.Floor(local))-int64(offset), 0).In(z.zone)
		_, offset = at.Zone()
		before, after := at.Add(-2*time.Hour), at.Add(2*time.Hour)
		_, ob := before.Zone()
		_, oa := after.Zone()
		if ob == oa {
			hour := math.Floor(local/3600) * 3600
			z.from, z.to, z.offset = hour, hour+3600, float64(ob)
			if ob != offset {
				z.from, z.to = 0, 0
			}
		} else {
			// Close to a change: try both offsets and keep those the zone confirms.
			var fits []float64
			for _, o := range [2]int{ob, oa} {
				u := local - float64(o)
				if _, back := time.Unix(int64(math.Floor(u)), 0).In(z.zone).Zone(); back == o {
					fits = append(fits, u)
				}
			}
			var u float64
			switch len(fits) {
			case 2:
				z.twice++
				u = fits[0]
				if z.hasLast && u < z.last-1800 {
					u = fits[1]
				}
			case 1:
				u = fits[0]
			default:
				z.skipped++
				u = local - float64(ob)
			}
			z.last, z.hasLast = u, true
			return u
		}
	}
	u := local - z.offset
	z.last, z.hasLast = u, true
	return u
}

// elapsedUnits are the forms of elapsed time that are no plain number.
var elapsedUnits = map[string]bool{"": true, "mm:ss": true, "hh:mm:ss": true}

// readElapsed reads [[hh:]mm:]ss with a fraction, the first part of any size.
func readElapsed(b []byte, point byte) (float64, bool) {
	negative := len(b) > 0 && b[0] == '-'
	if negative {
		b = b[1:]
	}
	total := 0.0
	for n := 0; ; n++ {
		i := 0
		for i < len(b) && b[i] != ':' {
			i++
		}
		x, ok := parseNumber(b[:i], point)
		last := i == len(b)
		if !ok || n > 2 || x < 0 || n > 0 && x >= 60 || !last && x != math.Trunc(x) {
			return math.NaN(), false
		}
		total = total*60 + x
		if last {
			if n == 0 {
				return math.NaN(), false
			}
			break
		}
		b = b[i+1:]
	}
	if negative {
		total = -total
	}
	return total, true
}

// timeUnit returns the factor to seconds of a plain elapsed unit.
func timeUnit(name string) (*units.Unit, error) {
	if name == "" {
		name = "s"
	}
	return units.Lookup(name, units.Time)
}
