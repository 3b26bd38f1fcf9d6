package sounding

import (
	"fmt"
	"time"
)

// Event is an instant of the flight that was found in the data or ruled by a person.
type Event struct {
	Found       bool      `json:"found"`
	Row         int       `json:"row"`    // first row at or after the instant
	Line        int       `json:"line"`   // its source line
	Time        Number    `json:"time_s"` // in the time of the stage that holds it
	UTC         time.Time `json:"utc"`    // with sub-second part
	Uncertainty Number    `json:"u_s"`    // standard uncertainty, s
	Height      Number    `json:"height_m_msl"`
	Pressure    Number    `json:"pressure_hpa"`
	Method      string    `json:"method"` // how it was found: "height and pressure", "declared", "decision", …
}

// Phase of the flight.
type Phase uint8

// The phases.
const (
	BeforeRelease Phase = iota
	Ascending
	Floating     // level, or falling for a while with a later climb
	Descending   // after burst
	AfterLanding // at rest on the ground again
)

var phaseWords = [...]string{"before release", "ascent", "float", "descent", "landed"}

func (p Phase) String() string { return phaseWords[min(int(p), len(phaseWords)-1)] }

// MarshalText writes the phase's words.
func (p Phase) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText reads the phase's words.
func (p *Phase) UnmarshalText(b []byte) error {
	for i, w := range phaseWords {
		if string(b) == w {
			*p = Phase(i)
			return nil
		}
	}
	return fmt.Errorf("%q is no phase of a flight: want one of %v", b, phaseWords)
}

// PhaseSpan is a run of rows in one phase.
type PhaseSpan struct {
	Phase Phase `json:"phase"`
	Span
}

// How a flight ended.
const (
	EndBurst      = "burst"      // balloon burst and fall seen
	EndDataLost   = "data end"   // the data end while still climbing
	EndFloat      = "float"      // floating or slowly falling when the data end
	EndNotAFlight = "no release" // no release in the data
)

// Events are the instants and phases of a flight.
type Events struct {
	Release Event       `json:"release"`
	Burst   Event       `json:"burst"` // highest point before the fall; Found false where no fall was seen
	Top     Event       `json:"top"`   // highest point reached, burst or not
	Landing Event       `json:"landing"`
	Phases  []PhaseSpan `json:"phases"` // cover every row, in order
	End     string      `json:"end"`    // one of the End words
}

// Ascent returns the rows from release to the top (the profile), empty where there was no release.
func (e *Events) Ascent() Span {
	if !e.Release.Found {
		return Span{}
	}
	to := e.Release.Row
	for _, p := range e.Phases {
		if p.Phase == Ascending || p.Phase == Floating {
			to = max(to, p.To)
		}
	}
	return Span{e.Release.Row, to}
}

// Descent returns the rows after the burst until landing or the end of data.
func (e *Events) Descent() Span {
	for _, p := range e.Phases {
		if p.Phase == Descending {
			return p.Span
		}
	}
	return Span{}
}
