package workbench

import (
	"fmt"
	"time"

	"leadline/internal/sounding"
)

// RulingKind is what one step of a flight's history did.
type RulingKind string

// The kinds. Undo and revocation both take a decision back: undo the last one in force,
// revocation the one that was named.
const (
	RulingDecision   RulingKind = "decision"
	RulingRevocation RulingKind = "revocation"
	RulingUndo       RulingKind = "undo"
	RulingRedo       RulingKind = "redo"      // puts back the decision that was taken back last
	RulingSignature  RulingKind = "signature" // locks the flight
	RulingReopening  RulingKind = "reopening" // lifts the signature in force
)

// RulingKinds lists all of them.
var RulingKinds = []RulingKind{RulingDecision, RulingRevocation, RulingUndo, RulingRedo, RulingSignature, RulingReopening}

// Ruling is one step of a flight's history. Steps are only ever added.
type Ruling struct {
	Revision  int                 `json:"revision"` // of the flight after it
	Kind      RulingKind          `json:"kind"`
	Who       string              `json:"who"`
	Reason    string              `json:"reason"` // of a signature its note, which may be ""
	When      time.Time           `json:"when_utc,omitzero"`
	ID        string              `json:"decision,omitempty"`  // the decision made, taken back or put back
	Decision  *sounding.Decision  `json:"about,omitempty"`     // the same as it was made
	Signature *sounding.Signature `json:"signature,omitempty"` // of a signature
	Group     string              `json:"group,omitempty"`     // of a revocation: the group that was taken back as one
}

// Standing is what a history adds up to.
type Standing struct {
	Decisions []sounding.Decision // in the order they were made, those taken back included
	Signature *sounding.Signature // in force; nil: the flight is not locked
	Reopened  *sounding.Reopening // how the last signature was lifted; nil while one is in force
	Undo      string              // the decision that undo would take back; "" for none
	Redo      string              // the decision that redo would put back; "" for none
}

// Replay returns what a history adds up to, and completes each step that takes back or
// puts back a decision with that decision.
//
// Undo takes back the last decision in force. Redo puts back the decision taken back last;
// a new decision, a signature or a reopening since then leaves nothing to put back.
func Replay(history []Ruling) Standing {
	var s Standing
	at := map[string]int{}
	var back []string // taken back since the last other step, the last at the end
	for i := range history {
		r := &history[i]
		switch r.Kind {
		case RulingDecision:
			if r.Decision == nil {
				continue
			}
			at[r.ID] = len(s.Decisions)
			s.Decisions = append(s.Decisions, *r.Decision)
			back = nil
		case RulingRevocation, RulingUndo:
			k, known := at[r.ID]
			if !known {
				continue
			}
			made := s.Decisions[k]
			made.Revoked = nil
			r.Decision = &made
			s.Decisions[k].Revoked = &sounding.Revoked{Reason: r.Reason, Who: r.Who, When: r.When, Group: r.Group}
			back = append(back, r.ID)
		case RulingRedo:
			k, known := at[r.ID]
			if !known {
				continue
			}
			s.Decisions[k].Revoked = nil
			made := s.Decisions[k]
			r.Decision = &made
			if n := len(back); n > 0 {
				back = back[:n-1]
			}
		case RulingSignature:
			s.Signature, s.Reopened, back = r.Signature, nil, nil
		case RulingReopening:
			s.Signature, s.Reopened, back = nil, &sounding.Reopening{Reason: r.Reason, Who: r.Who, When: r.When}, nil
		}
	}
	for i := len(s.Decisions) - 1; i >= 0 && s.Undo == ""; i-- {
		if s.Decisions[i].Revoked == nil {
			s.Undo = s.Decisions[i].ID
		}
	}
	if n := len(back); n > 0 {
		s.Redo = back[n-1]
	}
	return s
}

// Admit is the one rule over what may be added to a history: a signed flight takes a
// reopening and nothing else, and a flight that is not signed has nothing to reopen. The
// store asks it inside the transaction that would add the step.
func (s *Standing) Admit(flight string, kind RulingKind) error {
	if kind == RulingReopening {
		if s.Signature == nil {
			return &RefusedError{fmt.Sprintf("flight %s is not signed off: there is nothing to reopen", flight)}
		}
		return nil
	}
	if s.Signature != nil {
		return &SignedError{Flight: flight, Signature: *s.Signature}
	}
	return nil
}

// SignedError says that a flight is locked by a signature.
type SignedError struct {
	Flight    string
	Signature sounding.Signature
}

func (e *SignedError) Error() string {
	return fmt.Sprintf("flight %s was signed off by %s, %s UTC, and is locked: reopen it with a reason to change it (leadline reopen %s --reason …, or Reopen on its page)",
		e.Flight, e.Signature.Who, e.Signature.When.UTC().Format("2006-01-02 15:04"), e.Flight)
}

// RefusedError says why a step cannot be added to a flight's history. It is the user's to mend.
type RefusedError struct{ Sentence string }

func (e *RefusedError) Error() string { return e.Sentence }

// words says a step in a few words: "A. Reviewer: exclude: the sensor iced".
func (r *Ruling) words() string {
	what := string(r.Kind)
	if r.Decision != nil {
		what = string(r.Decision.Action)
		switch r.Kind {
		case RulingRevocation, RulingUndo:
			what += " taken back"
		case RulingRedo:
			what += " put back"
		}
	} else if r.Kind == RulingSignature {
		what = "signed off"
	} else if r.Kind == RulingReopening {
		what = "reopened"
	}
	s := what + " by " + r.Who
	if r.Reason != "" {
		s += ": " + r.Reason
	}
	return s
}
