package sounding

import (
	"fmt"

	"leadline/internal/quality"
)

// Severity says how much a finding weighs and which flag it sets on its samples.
type Severity uint8

// The severities in rising order.
const (
	Note         Severity = iota // worth knowing, sets no flag
	Questionable                 // sets questionable
	Bad                          // sets bad
)

var severityWords = [...]string{"note", "questionable", "bad"}

func (s Severity) String() string {
	if int(s) < len(severityWords) {
		return severityWords[s]
	}
	return fmt.Sprintf("severity(%d)", uint8(s))
}

// Flag returns the flag the severity sets, 0 for a note.
func (s Severity) Flag() quality.Flag {
	switch s {
	case Questionable:
		return quality.Questionable
	case Bad:
		return quality.Bad
	}
	return 0
}

// MarshalText writes the severity's word.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the severity's word.
func (s *Severity) UnmarshalText(b []byte) error {
	for i, w := range severityWords {
		if string(b) == w {
			*s = Severity(i)
			return nil
		}
	}
	return fmt.Errorf("%q is no severity: want note, questionable or bad", b)
}

// Finding is what one check says about spans of samples of one variable, or about
// an item of the launch record, or about the source.
type Finding struct {
	ID       string        `json:"id"` // stable within a flight: check, variable, first UTC or field
	Check    quality.Check `json:"check"`
	Variable Variable      `json:"variable"` // NoVariable ("none") where it is about no single one
	Severity Severity      `json:"severity"`
	Stage    string        `json:"stage"` // ingest, events, raw, corrected
	Spans    []Span        `json:"spans"` // rows it is about; empty where it is about the flight or a field
	// Doubt sets its flag on the samples of Variable in Spans. A finding that is about
	// a field or the flight has no spans and sets none.
	FirstLine int    `json:"first_line"` // source line of the first and last row, 0 where there is none
	LastLine  int    `json:"last_line"`
	FirstTime Number `json:"first_time_s"` // s since release; null where there is none
	LastTime  Number `json:"last_time_s"`
	FirstUTC  string `json:"first_utc"` // RFC 3339 to the millisecond, "" where there is none
	LastUTC   string `json:"last_utc"`
	Bottom    Number `json:"bottom_m_msl"` // height of the lowest and highest row; null where not known
	Top       Number `json:"top_m_msl"`
	Measured  Number `json:"measured"`
	Limit     Number `json:"limit"`
	Unit      string `json:"unit"`            // of Measured and Limit
	Field     string `json:"field,omitempty"` // item of the launch record, "surface.pressure_hpa"
	Sentence  string `json:"sentence"`        // one plain sentence: what, where, how much
	State     string `json:"state,omitempty"` // "", accepted or dismissed, by a decision
}

// CheckRun records that a check ran on a variable, or why it could not. A sample
// becomes good only where a check that ran covers it.
type CheckRun struct {
	Check    quality.Check `json:"check"`
	Variable Variable      `json:"variable"`
	Ran      bool          `json:"ran"`
	Why      string        `json:"why,omitempty"` // why it did not run
	Covered  []Span        `json:"-"`             // rows it evaluated; nil means every row with a value
}

// Report is what a group of checks found and which checks ran.
type Report struct {
	Findings []Finding
	Runs     []CheckRun
}
