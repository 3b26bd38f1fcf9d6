package api

import (
	"errors"
	"net/http"
	"strings"

	"leadline/internal/ingest"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// DecisionRequest asks to preview or store a decision. Revision is that of the flight
// the caller has seen; the decision's id and instant are given by the logbook.
type DecisionRequest struct {
	Revision int               `json:"revision"`
	Decision sounding.Decision `json:"decision"`
}

// RevokeRequest asks to take a decision back, to undo, to redo, or to reopen a flight.
type RevokeRequest struct {
	Revision int    `json:"revision"`
	Reason   string `json:"reason"`
	Who      string `json:"who"`
}

// SignRequest asks to sign a flight as it stands at a revision.
type SignRequest struct {
	Revision    int    `json:"revision"`
	Who         string `json:"who"`
	Note        string `json:"note"`
	DespiteOpen bool   `json:"despite_open"` // sign although findings are open or the verdict is refuse; the note says why
}

// Decided is what a step of the flight's history left.
type Decided struct {
	Decision *sounding.Decision `json:"decision,omitempty"` // made or put back
	Flight   Flight             `json:"flight"`
}

// Preview is what a decision would change.
type Preview struct {
	Difference workbench.Difference `json:"difference"`
	Indices    []IndexChange        `json:"indices"` // that change by more than a hundredth of their value
	Flight     Flight               `json:"flight"`  // as it would be
}

// Stale says what was decided since the caller looked.
type Stale struct {
	Seen    int                `json:"seen"`
	Current int                `json:"current"`
	Since   []workbench.Ruling `json:"since"`
}

// proposed reads a decision from a request and refuses one that cannot be stored.
func proposed(w http.ResponseWriter, r *http.Request) (DecisionRequest, error) {
	var q DecisionRequest
	if err := read(w, r, &q); err != nil {
		return q, err
	}
	d := q.Decision
	d.ID = "new"
	if err := d.Validate(); err != nil {
		return q, unfit(err)
	}
	if d.Action == sounding.ActCorrectRecord {
		if err := ingest.SetField(sounding.NewLaunchRecord(), d.Field, d.Value); err != nil {
			return q, unfit(err)
		}
	}
	return q, nil
}

func (s *server) preview(w http.ResponseWriter, r *http.Request) {
	q, err := proposed(w, r)
	if err != nil {
		s.failed(w, err)
		return
	}
	d, o, err := s.bench.Preview(r.Context(), r.PathValue("id"), q.Decision)
	if err != nil {
		s.failed(w, err)
		return
	}
	d.Variables = list(d.Variables)
	before, _, err := s.bench.Open(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, Preview{Difference: d, Indices: indexChanges(before, o), Flight: flightOf(r.PathValue("id"), o, q.Revision)})
}

func (s *server) previewColumns(w http.ResponseWriter, r *http.Request) {
	q, err := proposed(w, r)
	if err != nil {
		s.failed(w, err)
		return
	}
	_, o, err := s.bench.Preview(r.Context(), r.PathValue("id"), q.Decision)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.sendColumns(w, o, q.Revision)
}

func (s *server) decide(w http.ResponseWriter, r *http.Request) {
	q, err := proposed(w, r)
	if err != nil {
		s.failed(w, err)
		return
	}
	if strings.TrimSpace(q.Decision.Who) == "" {
		s.failed(w, unfit(errors.New("a decision needs a name: who decides?")))
		return
	}
	id := r.PathValue("id")
	stored, o, revision, err := s.bench.Decide(r.Context(), id, q.Decision, q.Revision)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.hub.tell(Change{Flight: id, Revision: revision})
	s.reply(w, http.StatusOK, Decided{Decision: &stored, Flight: flightOf(id, o, revision)})
}

func (s *server) revoke(w http.ResponseWriter, r *http.Request) {
	var q RevokeRequest
	if err := read(w, r, &q); err != nil {
		s.failed(w, err)
		return
	}
	if strings.TrimSpace(q.Who) == "" || strings.TrimSpace(q.Reason) == "" {
		s.failed(w, unfit(errors.New("taking a decision back needs a name and a reason")))
		return
	}
	id, decision := r.PathValue("id"), r.PathValue("decision")
	before, err := s.bench.Stored(r.Context(), id)
	if err != nil {
		s.failed(w, err)
		return
	}
	if err := revocable(before, decision, q.Revision); err != nil {
		s.failed(w, err)
		return
	}
	o, revision, err := s.bench.Revoke(r.Context(), id, decision, sounding.Revoked{Reason: q.Reason, Who: q.Who}, q.Revision)
	s.stepped(w, id, "", o, revision, err)
}

// stepped answers with what a step of the history left, and tells of it.
func (s *server) stepped(w http.ResponseWriter, id, decision string, o *workbench.Outcome, revision int, err error) {
	if err != nil {
		s.failed(w, err)
		return
	}
	s.hub.tell(Change{Flight: id, Revision: revision})
	out := Decided{Flight: flightOf(id, o, revision)}
	for i := range o.Final.Decisions {
		if d := &o.Final.Decisions[i]; d.ID == decision {
			out.Decision = d
		}
	}
	s.reply(w, http.StatusOK, out)
}

func (s *server) undo(w http.ResponseWriter, r *http.Request) {
	var q RevokeRequest
	if err := read(w, r, &q); err != nil {
		s.failed(w, err)
		return
	}
	id := r.PathValue("id")
	_, o, revision, err := s.bench.Undo(r.Context(), id, sounding.Revoked{Reason: q.Reason, Who: q.Who}, q.Revision)
	s.stepped(w, id, "", o, revision, err)
}

func (s *server) redo(w http.ResponseWriter, r *http.Request) {
	var q RevokeRequest
	if err := read(w, r, &q); err != nil {
		s.failed(w, err)
		return
	}
	id := r.PathValue("id")
	decision, o, revision, err := s.bench.Redo(r.Context(), id, sounding.Revoked{Reason: q.Reason, Who: q.Who}, q.Revision)
	s.stepped(w, id, decision, o, revision, err)
}

func (s *server) sign(w http.ResponseWriter, r *http.Request) {
	var q SignRequest
	if err := read(w, r, &q); err != nil {
		s.failed(w, err)
		return
	}
	id := r.PathValue("id")
	o, revision, err := s.bench.Sign(r.Context(), id, workbench.SignRequest{Who: q.Who, Note: q.Note, DespiteOpen: q.DespiteOpen}, q.Revision)
	s.stepped(w, id, "", o, revision, err)
}

func (s *server) reopen(w http.ResponseWriter, r *http.Request) {
	var q RevokeRequest
	if err := read(w, r, &q); err != nil {
		s.failed(w, err)
		return
	}
	id := r.PathValue("id")
	o, revision, err := s.bench.Reopen(r.Context(), id, sounding.Reopening{Reason: q.Reason, Who: q.Who}, q.Revision)
	s.stepped(w, id, "", o, revision, err)
}

// revocable refuses a decision that is not there or has been taken back; a flight that
// moved on is left for the store to refuse with what changed.
func revocable(f workbench.StoredFlight, decision string, seen int) error {
	if f.Revision != seen {
		return nil
	}
	for _, d := range f.Decisions {
		if d.ID == decision {
			if d.Revoked != nil {
				return unfit(errors.New("decision " + decision + " has been taken back already"))
			}
			return nil
		}
	}
	return &requestError{http.StatusNotFound, errors.New("the flight has no decision " + decision)}
}
