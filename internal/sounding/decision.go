package sounding

import (
	"fmt"
	"time"
)

// Action is what a decision does.
type Action string

// The actions. Those on a span of variables need From and To; Value is as said beside each.
const (
	ActExclude        Action = "exclude"         // withhold the samples: their flag becomes bad
	ActRestore        Action = "restore"         // take what the checks said about the samples back: their flag becomes good
	ActFlag           Action = "flag"            // Value: good, questionable or bad
	ActSetRelease     Action = "set-release"     // Value: RFC 3339 instant
	ActSetBurst       Action = "set-burst"       // Value: RFC 3339 instant
	ActChooseSensor   Action = "choose-sensor"   // Value: a or b; over the span, or the flight where there is none
	ActCorrectRecord  Action = "correct-record"  // Field and Value: launch record item and its new text
	ActChooseSheet    Action = "choose-sheet"    // Field: SHA-256 of the instrument sheet's text; Value: its name
	ActChooseSettings Action = "choose-settings" // Field: SHA-256 of the settings file's text; Value: its name, "shipped" for none
	ActAccept         Action = "accept"          // Field: id of a finding
	ActDismiss        Action = "dismiss"         // Field: id of a finding: it stays listed but sets no flag
	ActNote           Action = "note"            // Reason is the note
)

// Actions lists all of them in the order of help texts.
var Actions = []Action{ActExclude, ActRestore, ActFlag, ActSetRelease, ActSetBurst, ActChooseSensor, ActCorrectRecord, ActChooseSheet, ActChooseSettings, ActAccept, ActDismiss, ActNote}

// Decision is what a person ruled. Spans are held as instants of the source's own
// clock, so that they mean the same samples when release or another decision moves.
type Decision struct {
	ID        string     `json:"id" toml:"id"` // "d1", "d2", … within a flight
	Action    Action     `json:"action" toml:"action"`
	Variables []Variable `json:"variables,omitempty" toml:"variables,omitempty"`
	From      time.Time  `json:"from_utc,omitzero" toml:"from_utc,omitempty"`
	To        time.Time  `json:"to_utc,omitzero" toml:"to_utc,omitempty"` // inclusive
	Spans     []Interval `json:"spans,omitempty" toml:"spans,omitempty"`  // instead of From and To, where there are several
	Field     string     `json:"field,omitempty" toml:"field,omitempty"`
	Value     string     `json:"value,omitempty" toml:"value,omitempty"`
	Reason    string     `json:"reason" toml:"reason"`
	Who       string     `json:"who" toml:"who"`
	When      time.Time  `json:"when_utc,omitzero" toml:"when_utc,omitempty"`
	Revoked   *Revoked   `json:"revoked,omitempty" toml:"revoked,omitempty"`

	// Of a decision that was made for many flights at once:
	Group string `json:"group,omitempty" toml:"group,omitempty"` // "g1", "g2", … within a logbook
	Rule  string `json:"rule,omitempty" toml:"rule,omitempty"`   // the kind of span that Spans were found by, in words
}

// Interval is a stretch of time on the source's own clock that holds both its ends.
type Interval struct {
	From time.Time `json:"from_utc" toml:"from_utc"`
	To   time.Time `json:"to_utc" toml:"to_utc"`
}

// Intervals returns the stretches the decision is about; none where it is about the flight.
func (d *Decision) Intervals() []Interval {
	if len(d.Spans) > 0 {
		return d.Spans
	}
	if d.From.IsZero() && d.To.IsZero() {
		return nil
	}
	return []Interval{{d.From, d.To}}
}

// Revoked says who took a decision back, when and why.
type Revoked struct {
	Reason string    `json:"reason" toml:"reason"`
	Who    string    `json:"who" toml:"who"`
	When   time.Time `json:"when_utc" toml:"when_utc"`
	Group  string    `json:"group,omitempty" toml:"group,omitempty"` // the group that was taken back as one; "" where this part alone was
}

// Validate returns an error that says what is missing from the decision.
func (d *Decision) Validate() error {
	known := false
	for _, a := range Actions {
		known = known || a == d.Action
	}
	if !known {
		return fmt.Errorf("decision %s: %q is no action: want one of %v", d.ID, d.Action, Actions)
	}
	if d.Reason == "" {
		return fmt.Errorf("decision %s: %s needs a reason", d.ID, d.Action)
	}
	switch d.Action {
	case ActExclude, ActRestore, ActFlag:
		if len(d.Variables) == 0 {
			return fmt.Errorf("decision %s: %s needs at least one variable", d.ID, d.Action)
		}
		if len(d.Spans) == 0 && (d.From.IsZero() || d.To.IsZero()) {
			return fmt.Errorf("decision %s: %s needs from and to", d.ID, d.Action)
		}
		if d.Action == ActFlag && d.Value != "good" && d.Value != "questionable" && d.Value != "bad" {
			return fmt.Errorf("decision %s: flag needs good, questionable or bad, not %q", d.ID, d.Value)
		}
	case ActSetRelease, ActSetBurst:
		if _, err := time.Parse(time.RFC3339Nano, d.Value); err != nil {
			return fmt.Errorf("decision %s: %s needs an instant such as 2031-06-03T23:04:11Z, not %q", d.ID, d.Action, d.Value)
		}
	case ActChooseSensor:
		if d.Value != "a" && d.Value != "b" {
			return fmt.Errorf("decision %s: choose-sensor needs a or b, not %q", d.ID, d.Value)
		}
	case ActCorrectRecord:
		if d.Field == "" || d.Value == "" {
			return fmt.Errorf("decision %s: correct-record needs a field and a value", d.ID)
		}
	case ActChooseSheet:
		if !isSHA256(d.Field) {
			return fmt.Errorf("decision %s: choose-sheet needs the SHA-256 of the sheet's text as its field, not %q", d.ID, d.Field)
		}
		if d.Value == "" {
			return fmt.Errorf("decision %s: choose-sheet needs the name of the sheet as its value", d.ID)
		}
	case ActChooseSettings:
		if !isSHA256(d.Field) {
			return fmt.Errorf("decision %s: choose-settings needs the SHA-256 of the settings file as its field, not %q: leadline reprocess stores it", d.ID, d.Field)
		}
		if d.Value == "" {
			return fmt.Errorf("decision %s: choose-settings needs the name of the settings file as its value", d.ID)
		}
	case ActAccept, ActDismiss:
		if d.Field == "" {
			return fmt.Errorf("decision %s: %s needs the id of a finding", d.ID, d.Action)
		}
	}
	if len(d.Spans) > 0 {
		switch d.Action {
		case ActExclude, ActRestore, ActFlag:
		default:
			return fmt.Errorf("decision %s: %s takes no spans", d.ID, d.Action)
		}
		if !d.From.IsZero() || !d.To.IsZero() {
			return fmt.Errorf("decision %s: it has spans and from or to: give one or the other", d.ID)
		}
		for i, s := range d.Spans {
			if s.From.IsZero() || s.To.IsZero() {
				return fmt.Errorf("decision %s: span %d needs from and to", d.ID, i+1)
			}
			if s.To.Before(s.From) {
				return fmt.Errorf("decision %s: the end of span %d, %s, lies before its start %s", d.ID, i+1, s.To.Format(time.RFC3339), s.From.Format(time.RFC3339))
			}
		}
	}
	if !d.From.IsZero() && !d.To.IsZero() && d.To.Before(d.From) {
		return fmt.Errorf("decision %s: its end %s lies before its start %s", d.ID, d.To.Format(time.RFC3339), d.From.Format(time.RFC3339))
	}
	return nil
}

func isSHA256(s string) bool {
	if len(s) != 64 {
		return false
	}
	for _, c := range s {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}

// SensorRuling says that a person chose one of two humidity sensors over a run of rows.
type SensorRuling struct {
	Sensor Variable // HumidityA or HumidityB
	Span   Span
}
