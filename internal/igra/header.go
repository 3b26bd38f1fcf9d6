package igra

import (
	"bytes"
	"fmt"
	"strings"
	"time"
)

// Mark says why a value is, or is not, there.
type Mark uint8

const (
	// Present: the value is a number.
	Present Mark = iota
	// Missing: -9999 (-99999 in the derived layout) or a blank field; never there.
	Missing
	// Removed: -8888; there originally, removed by the archive's quality assurance.
	Removed
	// Unreadable: the field holds something that is no number; see Problems.
	Unreadable
)

// String returns the mark in one word.
func (m Mark) String() string {
	switch m {
	case Present:
		return "present"
	case Missing:
		return "missing"
	case Removed:
		return "removed"
	case Unreadable:
		return "unreadable"
	}
	return fmt.Sprintf("mark %d", uint8(m))
}

// Column is one variable along the levels of a sounding. Values and Marks have
// one entry a level; a value is NaN unless its mark is Present.
type Column struct {
	Values []float64
	Marks  []Mark
}

// Problem is a field that could not be read. The sounding is returned with that
// value NaN.
type Problem struct {
	Line   int    // line of the file, from 1
	Column int    // first column of the field, from 1
	Field  string // archive name of the field, for example TEMP
	Text   string // the field as it stands, without blanks around it
}

// String returns line, column, field and text.
func (p Problem) String() string {
	return fmt.Sprintf("line %d, column %d: field %s holds %q, which it cannot", p.Line, p.Column, p.Field, p.Text)
}

// maxProblems bounds the list of one sounding; ProblemCount goes on counting.
const maxProblems = 100

// Header is what the main and the derived layout have in common.
type Header struct {
	Line      int    // line of the header in the file, from 1
	StationID string // eleven characters
	Year      int
	Month     int
	Day       int
	// Hour is the nominal hour UTC, 0 to 23, or -1 where the archive has 99.
	Hour int
	// ReleaseHour and ReleaseMinute are the release time UTC; -1 where not known.
	ReleaseHour, ReleaseMinute int
	// Levels is the number of level lines, NUMLEV.
	Levels int
	// Problems lists unreadable fields of this sounding, at most 100 of them;
	// ProblemCount counts all.
	Problems     []Problem
	ProblemCount int
}

// Nominal returns date and nominal hour; false where the hour is not known.
func (h Header) Nominal() (time.Time, bool) {
	if h.Hour < 0 {
		return time.Time{}, false
	}
	return time.Date(h.Year, time.Month(h.Month), h.Day, h.Hour, 0, 0, 0, time.UTC), true
}

// Release returns the time of release to the minute, or to the hour where only
// the hour is known; false where neither is. The header gives the date of the
// nominal hour, so a release at 2303 for the hour 00 belongs to the day before:
// the day is the one that puts the release nearest to the nominal hour. Without
// a nominal hour the date of the header is taken (from memory).
func (h Header) Release() (time.Time, bool) {
	if h.ReleaseHour < 0 {
		return time.Time{}, false
	}
	at := time.Date(h.Year, time.Month(h.Month), h.Day, h.ReleaseHour, max(h.ReleaseMinute, 0), 0, 0, time.UTC)
	if nominal, known := h.Nominal(); known {
		switch d := at.Sub(nominal); {
		case d > 12*time.Hour:
			at = at.AddDate(0, 0, -1)
		case d < -12*time.Hour:
			at = at.AddDate(0, 0, 1)
		}
	}
	return at, true
}

func (h *Header) problem(line int, s span, text []byte) {
	h.ProblemCount++
	if len(h.Problems) < maxProblems {
		h.Problems = append(h.Problems, Problem{Line: line, Column: s.first, Field: s.name, Text: readable(text)})
	}
}

// readable is text from the file made safe to show.
func readable(text []byte) string {
	return strings.ToValidUTF8(string(bytes.TrimSpace(text)), "?")
}

// isIdentifier reports letters, digits and hyphens only, and at least one.
func isIdentifier(id string) bool {
	for _, c := range []byte(id) {
		if !(c == '-' || c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z') {
			return false
		}
	}
	return id != ""
}

// integer reads an optionally signed decimal number with blanks before and after
// it. present is false for a blank field, ok is false for one that is no number.
func integer(field []byte) (n int, present, ok bool) {
	i, end := 0, len(field)
	for i < end && field[i] == ' ' {
		i++
	}
	for end > i && field[end-1] == ' ' {
		end--
	}
	if i == end {
		return 0, false, true
	}
	negative := field[i] == '-'
	if negative {
		i++
	}
	if i == end {
		return 0, true, false
	}
	for ; i < end; i++ {
		c := field[i] - '0'
		if c > 9 {
			return 0, true, false
		}
		n = n*10 + int(c)
	}
	if negative {
		n = -n
	}
	return n, true, true
}

// parseHeader reads the fields that both layouts share.
func parseHeader(line []byte, lineNumber int) (Header, error) {
	h := Header{Line: lineNumber, StationID: string(bytes.TrimSpace(fieldID.of(line)))}
	if !isIdentifier(h.StationID) {
		return h, &RecordError{Line: lineNumber, Column: fieldID.first,
			Reason: fmt.Sprintf("the header has %q where the station identifier stands", h.StationID),
			Hint:   "is this a station file of the archive, version 2?"}
	}
	for _, f := range []struct {
		span
		to       *int
		low, top int
		absent   int // figure for "not known", -1 where there is none
	}{
		{fieldYear, &h.Year, 1800, 2999, -1},
		{fieldMonth, &h.Month, 1, 12, -1},
		{fieldDay, &h.Day, 1, 31, -1},
		{fieldHour, &h.Hour, 0, 23, 99},
		{fieldLevels, &h.Levels, 0, 9999, -1},
	} {
		text := f.of(line)
		n, present, ok := integer(text)
		switch {
		case ok && present && n == f.absent && f.absent >= 0:
			*f.to = -1
		case !ok || !present || n < f.low || n > f.top:
			return h, &RecordError{Line: lineNumber, Column: f.first,
				Reason: fmt.Sprintf("header field %s holds %q, expected a number from %d to %d", f.name, text, f.low, f.top),
				Hint:   "this sounding is left out; the next header is read"}
		default:
			*f.to = n
		}
	}
	if d := time.Date(h.Year, time.Month(h.Month), h.Day, 0, 0, 0, 0, time.UTC); d.Day() != h.Day {
		return h, &RecordError{Line: lineNumber, Column: fieldDay.first,
			Reason: fmt.Sprintf("%04d-%02d-%02d is no date", h.Year, h.Month, h.Day), Hint: "this sounding is left out; the next header is read"}
	}
	h.ReleaseHour, h.ReleaseMinute = -1, -1
	text := fieldRelease.of(line)
	n, present, ok := integer(text)
	hour, minute := n/100, n%100
	switch {
	case ok && (!present || n == 9999):
	case ok && n >= 0 && hour < 24 && minute < 60:
		h.ReleaseHour, h.ReleaseMinute = hour, minute
	case ok && n >= 0 && hour < 24 && minute == 99:
		h.ReleaseHour = hour
	default:
		h.problem(lineNumber, fieldRelease, text)
	}
	return h, nil
}
