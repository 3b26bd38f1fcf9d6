package sounding

import (
	"strings"
	"time"
)

// Signature is a person's word for a flight as it stood at one revision. It is stored and
// never changed; a reopening lifts it.
type Signature struct {
	Who       string    `json:"who"`
	When      time.Time `json:"when_utc"`
	Note      string    `json:"note,omitempty"` // required where something was open
	Revision  int       `json:"revision"`       // of the flight that was signed
	MethodSet string    `json:"method_set"`
	Digest    string    `json:"digest_sha256"` // of the outcome that was signed: docs/methods/sign-off.md
	Verdict   string    `json:"verdict"`       // as signed
	Open      int       `json:"open_findings"` // findings above a note that nobody had settled
}

// Reopening says who lifted a signature, when and why.
type Reopening struct {
	Reason string    `json:"reason"`
	Who    string    `json:"who"`
	When   time.Time `json:"when_utc"`
}

// States of a flight in the logbook. A flight that was only checked has none.
const (
	StateNew      = "new"                     // nobody has ruled on it
	StateInReview = "in review"               // a decision is in force, or it was reopened
	StateSigned   = "signed off"              // locked: what is computed now is what was signed
	StateDiffers  = "signed off, differs now" // locked, but what is computed now is not what was signed
)

// States lists them in the order of the work.
var States = []string{StateNew, StateInReview, StateSigned, StateDiffers}

// SignOff is where a flight stands with the person who answers for it.
type SignOff struct {
	State     string     `json:"state"`                       // "" for a flight that is in no logbook
	Signature *Signature `json:"signature,omitempty"`         // in force
	Now       string     `json:"digest_now_sha256,omitempty"` // of what is computed now, where there is a signature
	Differs   []string   `json:"differs,omitempty"`           // what is not as it was signed, each a sentence
	Reopened  *Reopening `json:"reopened,omitempty"`          // how the last signature was lifted; nil while one is in force
}

// Line says it in one line: "signed off by A. Reviewer, 2031-06-04 10:12 UTC".
func (s *SignOff) Line() string {
	switch {
	case s.Signature != nil:
		line := "signed off by " + s.Signature.Who + ", " + s.Signature.When.UTC().Format("2006-01-02 15:04") + " UTC"
		if s.Signature.Note != "" {
			line += ": " + s.Signature.Note
		}
		if len(s.Differs) > 0 {
			line += "; differs now: " + strings.Join(s.Differs, "; ")
		}
		return line
	case s.Reopened != nil:
		return "not signed off; reopened by " + s.Reopened.Who + ", " + s.Reopened.When.UTC().Format("2006-01-02 15:04") + " UTC: " + s.Reopened.Reason
	}
	return "not signed off"
}
