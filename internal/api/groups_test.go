package api_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"leadline/internal/api"
	"leadline/internal/api/apitest"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// more adds two flights to the one of the fixture and returns the numbers of all.
func (f fixture) more() []string {
	f.t.Helper()
	ids, err := apitest.Add(context.Background(), f.bench, []apitest.Flight{
		{Site: "north pier", Climate: truth.MidLatitudeSummer, Sheet: "twin-humidity", Until: truth.UntilBurst},
		{Site: "north pier", Climate: truth.Marine, Sheet: "single-humidity", Until: truth.UntilBurst},
	})
	if err != nil {
		f.t.Fatal(err)
	}
	return append([]string{f.id}, ids...)
}

// stream posts q and reads the lines of the answer.
func (f fixture) stream(path string, q any) []api.GroupLine {
	f.t.Helper()
	a := f.post(path, q, nil)
	if a.status != http.StatusOK || !strings.HasPrefix(a.header.Get("Content-Type"), "application/x-ndjson") {
		f.t.Fatalf("POST %s: %d %s", path, a.status, a.body)
	}
	var out []api.GroupLine
	for s := bufio.NewScanner(bytes.NewReader(a.body)); s.Scan(); {
		var l api.GroupLine
		if err := json.Unmarshal(s.Bytes(), &l); err != nil {
			f.t.Fatalf("%q: %v", s.Bytes(), err)
		}
		out = append(out, l)
	}
	if len(out) == 0 || !out[len(out)-1].End {
		f.t.Fatalf("the answer has no last line: %s", a.body)
	}
	return out
}

func seenIn(list []api.GroupLine) []workbench.Seen {
	var out []workbench.Seen
	for _, l := range list {
		if l.Effect != nil && l.Effect.Word == workbench.EffectChanges {
			out = append(out, workbench.Seen{Flight: l.Effect.Flight, Revision: l.Effect.Revision})
		}
	}
	return out
}

func TestGroupIsListedStoredAndTakenBack(t *testing.T) {
	f := serve(t, "")
	ids := f.more()
	p := workbench.Proposal{Action: sounding.ActCorrectRecord, Field: "site.height_m_msl", Value: "55 m"}
	listed := f.stream("/api/groups/effects", api.GroupEffectsRequest{Flights: ids, Proposal: p})
	if len(listed) != 4 {
		t.Fatalf("%+v", listed)
	}
	for i, l := range listed[:3] {
		if l.Effect == nil || l.Effect.Flight != ids[i] || l.Effect.Word != workbench.EffectChanges || l.Effect.Item.After != "55" {
			t.Errorf("%+v", l.Effect)
		}
	}
	var groups []workbench.Group
	if f.get("/api/groups", &groups); len(groups) != 0 {
		t.Errorf("%+v: a preview was stored", groups)
	}
	seen := seenIn(listed)
	f.problem(f.post("/api/groups", api.GroupStoreRequest{Flights: seen, Proposal: p}, nil), http.StatusUnprocessableEntity, "name and a reason")
	p.Reason, p.Who = "typed wrong once", "first reviewer"

	// Somebody else rules on one of them meanwhile.
	if _, _, _, err := f.bench.Decide(context.Background(), ids[1], sounding.Decision{Action: sounding.ActNote, Reason: "seen", Who: "second reviewer"}, 0); err != nil {
		t.Fatal(err)
	}
	last := func(l []api.GroupLine) api.GroupLine { return l[len(l)-1] }
	refused := last(f.stream("/api/groups", api.GroupStoreRequest{Flights: seen, Proposal: p}))
	if refused.Group != nil || len(refused.Refused) != 1 || refused.Refused[0].Flight != ids[1] || !strings.Contains(refused.Error, "seen") {
		t.Errorf("%+v", refused)
	}
	stored := last(f.stream("/api/groups", api.GroupStoreRequest{Flights: []workbench.Seen{seen[0], seen[2]}, Proposal: p}))
	if stored.Group == nil || stored.Group.ID != "g1" || len(stored.Group.Parts) != 2 {
		t.Fatalf("%+v", stored)
	}
	var flight api.Flight
	if f.get("/api/flights/"+ids[0], &flight); len(flight.Decisions) != 1 || flight.Decisions[0].Group != "g1" {
		t.Errorf("%+v", flight.Decisions)
	}
	back := f.stream("/api/groups/g1/effects", struct{}{})
	if len(back) != 3 || back[0].Effect.Item == nil || back[0].Effect.Item.Before != "55" {
		t.Fatalf("%+v", back)
	}
	gone := last(f.stream("/api/groups/g1/revoke", api.GroupRevokeRequest{Flights: seenIn(back), Reason: "the survey was right", Who: "second reviewer"}))
	if gone.Group == nil || len(gone.Group.Revoked) != 1 {
		t.Fatalf("%+v", gone)
	}
	if f.get("/api/groups", &groups); len(groups) != 1 || groups[0].Parts[0].InForce {
		t.Errorf("%+v", groups)
	}
}

func TestGroupRequestsThatCannotBe(t *testing.T) {
	f := serve(t, "")
	p := workbench.Proposal{Action: sounding.ActCorrectRecord, Field: "site.height_m_msl", Value: "tall"}
	f.problem(f.post("/api/groups/effects", api.GroupEffectsRequest{Flights: []string{f.id}, Proposal: p}, nil), http.StatusUnprocessableEntity, "site.height_m_msl")
	f.problem(f.post("/api/groups/effects", api.GroupEffectsRequest{Proposal: p}, nil), http.StatusUnprocessableEntity, "no flight")
	f.problem(f.post("/api/groups/g9/effects", struct{}{}, nil), http.StatusNotFound, "no group g9")
	f.problem(f.post("/api/groups/g9/revoke", api.GroupRevokeRequest{Reason: "r", Who: "w"}, nil), http.StatusNotFound, "no group g9")
	f.problem(f.post("/api/groups/effects", map[string]any{"flights": []string{f.id}, "proposal": map[string]any{"action": "exclude", "colour": "red"}}, nil), http.StatusBadRequest, "colour")
	f.problem(f.post("/api/groups/effects", map[string]any{"flights": []string{f.id}, "proposal": map[string]any{"action": "exclude",
		"kind": map[string]any{"variables": []string{"humidity"}, "where": []any{map[string]any{"of": "pressure", "form": 100}}}}}, nil), http.StatusBadRequest, "form")
	// A flight that is not there has an effect too: none, with the reason.
	p.Value = "55 m"
	got := f.stream("/api/groups/effects", api.GroupEffectsRequest{Flights: []string{"77", f.id}, Proposal: p})
	if e := got[0].Effect; e == nil || e.Word != workbench.EffectCannot || !strings.Contains(e.Why, "no such flight") {
		t.Errorf("%+v", got[0])
	}
	if e := got[1].Effect; e == nil || e.Flight != f.id || e.Word != workbench.EffectChanges {
		t.Errorf("%+v", got[1])
	}
}

func TestGroupChoices(t *testing.T) {
	f := serve(t, "")
	var c api.GroupChoices
	f.get("/api/groups/choices", &c)
	if len(c.Items) != len(sounding.RecordFields)-1 || len(c.Checks) < 20 || len(c.Sheets) != len(sounding.ShippedSheets()) || len(c.Variables) < 10 {
		t.Errorf("%+v", c)
	}
	for _, i := range c.Items {
		if i.Path == "site.height_m_msl" && i.Unit != "m" || i.Path == "surface.pressure_hpa" && i.Unit != "hPa" {
			t.Errorf("%+v", i)
		}
	}
}

// Two receivers' files of one flight come as one; a record alone is a flight too.
func TestAddJoinedAndRecordAlone(t *testing.T) {
	f := serve(t, "")
	good, q, err := apitest.Files(apitest.Flight{Site: "north pier", Climate: truth.MidLatitudeSummer, Sheet: "twin-humidity", Until: truth.UntilBurst}, 9)
	if err != nil {
		t.Fatal(err)
	}
	send := func(parts ...[2]string) []api.AddedFile {
		t.Helper()
		var body bytes.Buffer
		form := multipart.NewWriter(&body)
		for _, p := range parts {
			w, err := form.CreateFormFile(p[0], p[0]+".txt")
			if err != nil {
				t.Fatal(err)
			}
			if _, err := w.Write([]byte(p[1])); err != nil {
				t.Fatal(err)
			}
		}
		form.Close()
		a := f.do(http.MethodPost, "/api/flights", &body, func(r *http.Request) { r.Header.Set("Content-Type", form.FormDataContentType()) })
		var got []api.AddedFile
		if err := json.Unmarshal(a.body, &got); err != nil {
			t.Fatalf("%d %s", a.status, a.body)
		}
		return got
	}
	// The second file ends where the receiver was restarted.
	text := string(good.Bytes)
	half := text[:len(text)*2/3]
	half = half[:strings.LastIndexByte(half, '\n')+1]
	got := send([2]string{"source", text}, [2]string{"source", half}, [2]string{"record", string(q.Record.Bytes)}, [2]string{"join", "yes"})
	if len(got) != 1 || len(got[0].Flights) != 1 || len(got[0].Flights[0].Row.Sources) != 2 || got[0].File != "source.txt + source.txt" {
		t.Errorf("%+v", got)
	}
	got = send([2]string{"record", string(q.Record.Bytes)})
	if len(got) != 1 || len(got[0].Flights) != 1 || got[0].Flights[0].Row.Verdict != sounding.Refuse || !strings.Contains(got[0].Flights[0].Row.Line, "only a launch record") {
		t.Errorf("%+v", got)
	}
}
