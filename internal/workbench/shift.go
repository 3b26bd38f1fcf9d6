package workbench

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"

	"leadline/internal/ingest"
	"leadline/internal/sounding"
	measures "leadline/internal/units"
)

// Shift is by how much an item of the launch record is moved on each of many flights
// that have different values of it: a barometer read 0.4 hPa low, hours of local time.
type Shift struct {
	field  sounding.RecordField
	amount float64       // in the unit inside leadline, of a number
	by     time.Duration // of an instant
	words  string        // "+0.4 hPa"
}

// ReadShift reads an amount with sign and unit ("+0.4 hPa", "-12 m", "+1.8 °F", "-3 h")
// for a number or an instant of the launch record. A difference of temperature is one:
// 1.8 °F is 1 K. Without a sign, without a unit, zero, and for what is neither number
// nor instant it is refused.
func ReadShift(path, text string) (Shift, error) {
	s := Shift{}
	var known bool
	if s.field, known = sounding.FieldByPath(path); !known {
		return s, ingest.SetField(sounding.NewLaunchRecord(), path, text) // names the nearest item
	}
	text = strings.TrimSpace(strings.ReplaceAll(text, "−", "-"))
	if text == "" || text[0] != '+' && text[0] != '-' {
		return s, fmt.Errorf("%s is shifted by an amount with a sign, such as +0.4 hPa or -3 h, not by %q", s.field.Label, text)
	}
	unit := strings.TrimSpace(strings.TrimLeftFunc(text[1:], func(r rune) bool { return unicode.IsDigit(r) || r == '.' || r == ',' || r == ' ' }))
	switch {
	case s.field.Instant != nil:
		d, err := time.ParseDuration(strings.ReplaceAll(strings.ReplaceAll(text, " ", ""), "min", "m"))
		if err != nil || d.Abs() > 400*24*time.Hour {
			return s, fmt.Errorf("%s is an instant: it is shifted by hours, minutes or seconds, such as -3 h or +90 s, not by %q", s.field.Label, text)
		}
		s.by = d
	case s.field.Number != nil:
		dimension := s.field.Dimension
		if unit == "" && dimension != "" && dimension != measures.None {
			return s, fmt.Errorf("%s is shifted by an amount with its unit, such as +0.4 hPa, not by %q", s.field.Label, text)
		}
		if dimension == measures.Latitude || dimension == measures.Longitude {
			dimension = measures.Angle
		}
		inner := measures.Inner(dimension).Name
		moved, err := measures.Parse(text, dimension, inner)
		if err != nil {
			return s, fmt.Errorf("%s: %w", path, err)
		}
		rest, err := measures.Parse(strings.TrimSpace("0 "+unit), dimension, inner)
		if err != nil {
			return s, fmt.Errorf("%s: %w", path, err)
		}
		s.amount = moved - rest
	default:
		return s, fmt.Errorf("%s is a text: it can be replaced, not shifted", s.field.Label)
	}
	if s.by == 0 && s.amount == 0 {
		return s, fmt.Errorf("%s shifted by %s stays as it is", s.field.Label, text)
	}
	s.words = strings.ReplaceAll(text, "-", "−")
	return s, nil
}

// Words says the shift: "shifted by +0.4 hPa".
func (s *Shift) Words() string { return "shifted by " + s.words }

// Of returns the text that correct-record takes for the shifted item of a record.
func (s *Shift) Of(r *sounding.LaunchRecord) (string, error) {
	if s.field.Instant != nil {
		t := *s.field.Instant(r)
		if t.IsZero() {
			return "", fmt.Errorf("%s is not given: there is nothing to shift", s.field.Label)
		}
		return t.Add(s.by).UTC().Format(time.RFC3339Nano), nil
	}
	n := *s.field.Number(r)
	if !n.Set() {
		return "", fmt.Errorf("%s is not given: there is nothing to shift", s.field.Label)
	}
	x := n.Value() + s.amount
	unit := ItemUnit(s.field)
	switch {
	case s.field.Dimension == measures.Longitude:
		x = math.Mod(math.Mod(x+180, 360)+360, 360) - 180
	case s.field.Dimension == measures.Angle:
		x = math.Mod(math.Mod(x, 360)+360, 360)
	case unit == "°C":
		x -= 273.15
	}
	if unit == "°" {
		unit = "deg"
	}
	return strings.TrimSpace(strconv.FormatFloat(math.Round(x*1e9)/1e9, 'f', -1, 64) + " " + unit), nil
}
