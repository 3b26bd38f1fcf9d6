package ingest

import (
	"fmt"
	"strings"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/units"
)

// base returns the path of a field without the unit at its end: "surface.pressure"
// of "surface.pressure_hpa".
func basePath(f *sounding.RecordField) string {
	if f.Instant != nil {
		return strings.TrimSuffix(f.Path, "_utc")
	}
	if f.Number != nil {
		for _, suffix := range []string{"_m_msl", "_m_s", "_deg", "_hpa", "_pct", "_mhz", "_kg", "_k", "_m"} {
			if s, ok := strings.CutSuffix(f.Path, suffix); ok {
				return s
			}
		}
	}
	return f.Path
}

// unitSuffixes are the units a key may carry besides leadline's own: "temperature_c".
var unitSuffixes = map[string]string{
	"hpa": "hPa", "pa": "Pa", "kpa": "kPa", "mb": "mb", "mbar": "mbar", "inhg": "inHg", "mmhg": "mmHg",
	"k": "K", "c": "°C", "degc": "°C", "f": "°F", "degf": "°F", "pct": "%", "percent": "%", "fraction": "fraction",
	"m": "m", "m_msl": "m", "km": "km", "ft": "ft", "cm": "cm", "m_s": "m/s", "kt": "kt", "kn": "kt", "km_h": "km/h", "mph": "mph",
	"deg": "deg", "rad": "rad", "mhz": "MHz", "khz": "kHz", "kg": "kg", "g": "g", "lb": "lb", "m_min": "m/min", "ft_min": "ft/min",
}

// fieldOf finds the launch record item a key means: by its path, by its path
// without unit, or by its path with another unit of its dimension. unit is what a
// plain number under that key is in, "" where the key does not say.
func fieldOf(key string) (f sounding.RecordField, unit string, ok bool) {
	if f, ok = sounding.FieldByPath(key); ok {
		if f.Number != nil {
			unit = units.Inner(f.Dimension).Name
		}
		return f, unit, true
	}
	for i := range sounding.RecordFields {
		g := sounding.RecordFields[i]
		base := basePath(&g)
		if base == key && base != g.Path {
			return g, "", true
		}
		if g.Number == nil {
			continue
		}
		if suffix, has := strings.CutPrefix(key, base+"_"); has {
			if name, known := unitSuffixes[suffix]; known {
				if u, err := units.Lookup(name, g.Dimension); err == nil {
					return g, u.Name, true
				}
			}
		}
	}
	return sounding.RecordField{}, "", false
}

// nearestField says which known item a key may have meant.
func nearestField(key string) string {
	best, cost := "", 1<<30
	for i := range sounding.RecordFields {
		f := &sounding.RecordFields[i]
		for _, p := range []string{f.Path, basePath(f)} {
			d := distance(key, p)
			if k := strings.LastIndexByte(p, '.'); k >= 0 {
				// The right key in the wrong table is nearer than any other.
				if j := strings.LastIndexByte(key, '.'); key[j+1:] == p[k+1:] {
					d = min(d, 1)
				}
			}
			if d < cost {
				best, cost = f.Path, d
			}
		}
	}
	if cost > max(3, len(key)/2) {
		return "docs/launch-record.md lists them all"
	}
	return fmt.Sprintf("nearest is %s", best)
}

// distance is the number of single-letter edits between two keys (Levenshtein),
// bounded for long ones.
func distance(a, b string) int {
	if len(a) > 100 || len(b) > 100 {
		return 1 << 20
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := diagonal
			if a[i-1] != b[j-1] {
				cost++
			}
			diagonal = row[j]
			row[j] = min(cost, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}

// SetField sets the launch record item of that path (with or without its unit) from
// text: a number with or without unit, an instant with its zone, or words. Text "" or
// "none" takes the item back to not set. The record is unchanged on an error.
func SetField(r *sounding.LaunchRecord, path, text string) error {
	f, unit, ok := fieldOf(path)
	if !ok {
		return fmt.Errorf("%q is no item of the launch record: %s", path, nearestField(path))
	}
	text = strings.TrimSpace(text)
	none := text == "" || strings.EqualFold(text, "none")
	switch {
	case f.Number != nil:
		if none {
			*f.Number(r) = sounding.NotSet
			return nil
		}
		x, err := units.Parse(text, f.Dimension, unit)
		if err != nil {
			return fmt.Errorf("%s: %w", f.Path, err)
		}
		*f.Number(r) = sounding.Number(x)
	case f.Instant != nil:
		if none {
			*f.Instant(r) = time.Time{}
			return nil
		}
		t, err := parseInstant(text, nil)
		if err != nil {
			return fmt.Errorf("%s: %w", f.Path, err)
		}
		*f.Instant(r) = t
	default:
		if none {
			text = ""
		}
		if len(text) > maxRecordText {
			return fmt.Errorf("%s: %d bytes, more than %d", f.Path, len(text), maxRecordText)
		}
		value, err := wordOf(f.Path, text)
		if err != nil {
			return err
		}
		*f.Text(r) = value
	}
	return nil
}

// maxRecordText bounds one text item of a launch record, in bytes.
const maxRecordText = 4000

// choices are the texts some items are limited to.
var choices = map[string][]string{
	"site.kind":            {"fixed", "mobile", "ship"},
	"ground_check.applied": {"yes", "no"},
	"ground_check.ruling":  {"accept", "reject"},
	"balloon.gas":          {"hydrogen", "helium"},
	"balloon.parachute":    {"yes", "no"},
}

// wordOf cleans a text item and holds it to its choices.
func wordOf(path, text string) (string, error) {
	list := choices[path]
	if list == nil || text == "" {
		return clean(text), nil
	}
	low := strings.ToLower(text)
	switch low {
	case "true", "y":
		low = "yes"
	case "false", "n":
		low = "no"
	case "h2":
		low = "hydrogen"
	case "he":
		low = "helium"
	}
	if !contains(list, low) {
		return "", fmt.Errorf("%s: %q: want %s", path, shown(text), strings.Join(list, " or "))
	}
	return low, nil
}

// parseInstant reads an instant with its zone; zone is taken where the text has
// none, and nil then refuses it.
func parseInstant(text string, zone *time.Location) (time.Time, error) {
	text = strings.TrimSpace(text)
	for _, form := range []string{time.RFC3339Nano, "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04Z07:00", "2006-01-02T15:04Z07:00", "2006-01-02 15:04:05 Z07:00", "2006-01-02 15:04 Z07:00"} {
		if t, err := time.Parse(form, text); err == nil {
			return t.UTC(), nil
		}
	}
	bare, utc := text, false
	for _, suffix := range []string{" UTC", " utc", " GMT", "UTC"} {
		if s, ok := strings.CutSuffix(text, suffix); ok {
			bare, utc = strings.TrimSpace(s), true
			break
		}
	}
	for _, form := range []string{"2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04"} {
		if _, err := time.Parse(form, bare); err != nil {
			continue
		}
		if utc {
			return time.ParseInLocation(form, bare, time.UTC)
		}
		if zone == nil {
			return time.Time{}, fmt.Errorf("%q has no zone: end it in Z for UTC or in an offset such as +02:00, or give time_zone", shown(text))
		}
		t, err := time.ParseInLocation(form, bare, zone)
		return t.UTC(), err
	}
	return time.Time{}, fmt.Errorf("%q is no instant: want a form such as 2031-06-03T23:04:11Z", shown(text))
}
