package api_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"leadline/internal/api"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

func TestSignLockReopen(t *testing.T) {
	f := serve(t, "")
	_, revision := f.outcome()
	path := "/api/flights/" + f.id
	var done api.Decided
	f.post(path+"/decisions", api.DecisionRequest{Revision: revision, Decision: sounding.Decision{Action: sounding.ActNote, Reason: "seen", Who: "first reviewer"}}, &done)
	if done.Flight.Undo != "d1" || done.Flight.Redo != "" || len(done.Flight.History) != 1 || done.Flight.SignOff.State != sounding.StateInReview {
		t.Errorf("%+v", done.Flight.SignOff)
	}
	now := done.Flight.Revision
	f.problem(f.post(path+"/signature", api.SignRequest{Revision: now, Note: "n", DespiteOpen: true}, nil), 422, "who signs")
	f.problem(f.post(path+"/signature", api.SignRequest{Revision: revision, Who: "w", Note: "n", DespiteOpen: true}, nil), http.StatusConflict, "has changed")
	f.problem(f.post(path+"/reopening", api.RevokeRequest{Revision: now, Who: "w", Reason: "r"}, nil), 422, "nothing to reopen")
	f.problem(f.post("/api/flights/99/signature", api.SignRequest{Who: "w", Note: "n", DespiteOpen: true}, nil), 404, "no such flight")
	f.problem(f.do(http.MethodPost, path+"/signature", strings.NewReader("{}"), nil), http.StatusUnsupportedMediaType, "application/json")
	f.post(path+"/signature", api.SignRequest{Revision: now, Who: "first reviewer", Note: "n", DespiteOpen: true}, &done)
	if done.Flight.SignOff.State != sounding.StateSigned || done.Flight.SignOff.Signature.Who != "first reviewer" || done.Flight.Revision != now+1 {
		t.Fatalf("%+v", done.Flight.SignOff)
	}
	now = done.Flight.Revision
	for name, a := range map[string]answer{
		"decision": f.post(path+"/decisions", api.DecisionRequest{Revision: now, Decision: sounding.Decision{Action: sounding.ActNote, Reason: "r", Who: "w"}}, nil),
		"revoke":   f.post(path+"/decisions/d1/revoke", api.RevokeRequest{Revision: now, Reason: "r", Who: "w"}, nil),
		"undo":     f.post(path+"/undo", api.RevokeRequest{Revision: now, Reason: "r", Who: "w"}, nil),
		"redo":     f.post(path+"/redo", api.RevokeRequest{Revision: now, Reason: "r", Who: "w"}, nil),
		"sign":     f.post(path+"/signature", api.SignRequest{Revision: now, Who: "w", Note: "n", DespiteOpen: true}, nil),
	} {
		f.problem(a, http.StatusLocked, "signed off by first reviewer")
		var p api.Problem
		if err := json.Unmarshal(a.body, &p); err != nil || p.Signed == nil || p.Signed.Who != "first reviewer" {
			t.Errorf("%s: %s", name, a.body)
		}
	}
	var list api.Logbook
	f.get("/api/flights", &list)
	if r := list.Flights[0]; r.State != sounding.StateSigned || r.Signer != "first reviewer" || !r.Signed.Equal(clock()) {
		t.Errorf("the logbook says %s, %s", r.State, r.Signer)
	}
	f.problem(f.post(path+"/reopening", api.RevokeRequest{Revision: now, Who: "w"}, nil), 422, "reason")
	f.post(path+"/reopening", api.RevokeRequest{Revision: now, Who: "second reviewer", Reason: "late file"}, &done)
	f.post(path+"/undo", api.RevokeRequest{Revision: done.Flight.Revision, Who: "second reviewer", Reason: "not so"}, &done)
	if done.Flight.Undo != "" || done.Flight.Redo != "d1" {
		t.Errorf("undo %q, redo %q", done.Flight.Undo, done.Flight.Redo)
	}
	f.problem(f.post(path+"/undo", api.RevokeRequest{Revision: done.Flight.Revision, Who: "w", Reason: "r"}, nil), 422, "nothing to undo")
	f.problem(f.post(path+"/redo", api.RevokeRequest{Revision: 0, Who: "w", Reason: "r"}, nil), http.StatusConflict, "has changed")
	f.post(path+"/redo", api.RevokeRequest{Revision: done.Flight.Revision, Who: "second reviewer", Reason: "it was so"}, &done)
	if done.Decision == nil || done.Decision.ID != "d1" || done.Decision.Revoked != nil {
		t.Errorf("%+v", done.Decision)
	}
	var kinds []string
	for _, r := range done.Flight.History {
		kinds = append(kinds, string(r.Kind))
	}
	if got := strings.Join(kinds, " "); got != "decision signature reopening undo redo" {
		t.Error(got)
	}
}

func TestSigningWhatIsOpenIsRefusedUnlessItIsSaid(t *testing.T) {
	f := serve(t, "")
	o, revision := f.outcome()
	if len(workbench.OpenFindings(o.Final)) == 0 {
		t.Fatal("the flight has nothing open: the test proves nothing")
	}
	f.problem(f.post("/api/flights/"+f.id+"/signature", api.SignRequest{Revision: revision, Who: "w", Note: "n"}, nil), 422, "open")
}

func TestADecisionOnAFindingThatIsNotThere(t *testing.T) {
	f := serve(t, "")
	o, revision := f.outcome()
	known := o.Final.Findings[0].ID
	q := api.DecisionRequest{Revision: revision, Decision: sounding.Decision{Action: sounding.ActAccept, Field: known + "x", Reason: "r", Who: "w"}}
	for _, path := range []string{"/decisions", "/preview", "/preview/columns"} {
		f.problem(f.post("/api/flights/"+f.id+path, q, nil), 422, "the nearest are "+known)
	}
}
