package temp

import (
	"fmt"
	"strings"
)

// Heading is an abbreviated bulletin heading: T1T2A1A2ii CCCC YYGGgg, BBB.
type Heading struct {
	Designator string // T1T2A1A2ii, for example USXX01
	Centre     string // CCCC
	Day        int
	Hour       int
	Minute     int
	// Sequel is BBB: RRA to RRX delayed, CCA to CCX corrected, AAA to AAX amended,
	// PAA and so on segmented; empty for a routine bulletin.
	Sequel string
}

// ParseHeading reads a heading line.
func ParseHeading(line string) (Heading, error) {
	h, wrong := readHeading(line)
	if wrong != "" {
		return Heading{}, fmt.Errorf("temp: %q is no bulletin heading: %s; expected for example USXX01 LAKE 010000 RRA", shorten(line), wrong)
	}
	return h, nil
}

// readHeading returns what is wrong in words, empty where nothing is.
func readHeading(line string) (h Heading, wrong string) {
	if len(line) > 60 {
		return h, "it is longer than 60 characters"
	}
	f := strings.Fields(line)
	if len(f) != 3 && len(f) != 4 {
		return h, "it has not three or four words"
	}
	h = Heading{Designator: f[0], Centre: f[1]}
	if len(f) == 4 {
		h.Sequel = f[3]
	}
	if len(f[2]) != 6 || !isFigures(f[2]) {
		return h, "the time is not six figures"
	}
	for i, to := range []*int{&h.Day, &h.Hour, &h.Minute} {
		*to, _ = figures(f[2][2*i : 2*i+2])
	}
	return h, h.check()
}

func (h Heading) check() string {
	switch {
	case len(h.Designator) != 6 || !isUpper(h.Designator[:4]) || !isFigures(h.Designator[4:]):
		return "the designator is not four letters and two figures"
	case len(h.Centre) != 4 || !isUpperOrFigures(h.Centre) || !isUpper(h.Centre[:1]):
		return "the centre is not four letters"
	case h.Day < 1 || h.Day > 31 || h.Hour < 0 || h.Hour > 23 || h.Minute < 0 || h.Minute > 59:
		return "day, hour or minute is out of range"
	case h.Sequel == "":
		return ""
	case len(h.Sequel) != 3 || !isUpper(h.Sequel):
		return "the last word is not three letters"
	}
	switch h.Sequel[:2] {
	case "RR", "CC", "AA":
		return ""
	}
	if h.Sequel[0] == 'P' {
		return ""
	}
	return "the last word is none of RRx, CCx, AAx, Pxx"
}

// Format returns the heading line, or an error where a field cannot stand in one.
func (h Heading) Format() (string, error) {
	if err := h.check(); err != "" {
		return "", fmt.Errorf("temp: bulletin heading %+v: %s", h, err)
	}
	return h.line(), nil
}

func (h Heading) line() string {
	s := fmt.Sprintf("%s %s %02d%02d%02d", h.Designator, h.Centre, h.Day, h.Hour, h.Minute)
	if h.Sequel != "" {
		s += " " + h.Sequel
	}
	return s
}

// DesignatorLetters returns T1T2 of bulletins that carry one part of a form:
// upper-air data is U; S, K, L, E are TEMP Parts A to D and P, G, H, Q those of
// PILOT. The letters of Parts A and B are confirmed by real bulletins, the others
// are from memory.
func DesignatorLetters(f Form, p Part) (string, error) {
	letters := "SKLE"
	if f.IsPilot() {
		letters = "PGHQ"
	}
	if p < 'A' || p > 'D' || f == 0 || f > PilotMobile {
		return "", fmt.Errorf("temp: no bulletin letters for %v part %q", f, rune(p))
	}
	return "U" + letters[p-'A':p-'A'+1], nil
}

func isUpper(s string) bool {
	for i := range len(s) {
		if s[i] < 'A' || s[i] > 'Z' {
			return false
		}
	}
	return s != ""
}

func isFigures(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

func isUpperOrFigures(s string) bool {
	for i := range len(s) {
		if !isUpper(s[i:i+1]) && !isFigures(s[i:i+1]) {
			return false
		}
	}
	return s != ""
}

func shorten(s string) string {
	s = strings.ToValidUTF8(s, "?")
	if len(s) > 60 {
		s = strings.ToValidUTF8(s[:60], "") + "…"
	}
	return s
}
