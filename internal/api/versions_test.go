package api_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"leadline/internal/api"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

const longerFilter = "[wind.filter]\nshortest_cutoff_s = 55.0\n"

func TestCompareSendsStatisticsAndDifferences(t *testing.T) {
	f := serve(t, "")
	q := api.CompareRequest{A: workbench.FlightVersion{Flight: f.id, Stage: "raw"}, B: workbench.FlightVersion{Flight: f.id}, Bounds: []float64{1000, 500, 100}}
	var c workbench.VersionComparison
	f.post("/api/compare", q, &c)
	if !c.Result.SameRows || c.A.Words != "as received" || len(c.Result.Bounds) != 3 || c.Effect == nil {
		t.Fatalf("%+v", c)
	}
	a := f.post("/api/compare/differences", q, nil)
	if a.status != 200 {
		t.Fatalf("%d %s", a.status, a.body)
	}
	h, columns := block(t, a.body)
	o, _ := f.outcome()
	if h.Rows != o.Final.Len() || len(h.Columns) != len(c.Result.Variables) {
		t.Errorf("%d rows, %d columns", h.Rows, len(h.Columns))
	}
	// The differences sent are the final values minus those received.
	raw, final := o.Final.Before.Get(sounding.Temperature), o.Final.Usable(sounding.Temperature)
	n := 0
	for _, v := range c.Result.Variables {
		if v.Variable != sounding.Temperature {
			continue
		}
		span := o.Final.Events.Ascent()
		for i := span.From; i < span.To; i++ {
			want, got := final[i]-raw.Values[i], columns["temperature/difference"](i)
			if math.IsNaN(want) != math.IsNaN(got) || math.Abs(want-got) > 1e-4 {
				t.Fatalf("row %d: %g, want %g", i, got, want)
			}
			if !math.IsNaN(got) {
				n++
			}
		}
		if n != v.Whole.N || n == 0 {
			t.Errorf("%d differences, %d counted", n, v.Whole.N)
		}
	}
	for _, bad := range []struct {
		q      api.CompareRequest
		status int
		says   string
	}{
		{api.CompareRequest{A: workbench.FlightVersion{Flight: f.id, Without: "d4"}, B: q.B}, 422, "no decision d4"},
		{api.CompareRequest{A: workbench.FlightVersion{Flight: "99"}, B: q.B}, 404, "no such flight"},
		{api.CompareRequest{A: q.A, B: q.B, Axis: "depth"}, 422, "no axis"},
		{api.CompareRequest{A: q.A, B: q.B, Bounds: []float64{100, 500}}, 422, "must fall"},
		{api.CompareRequest{A: q.A, B: workbench.FlightVersion{Flight: f.id, Settings: "given", SettingsName: "m.toml", SettingsText: "["}}, 422, "m.toml"},
		{api.CompareRequest{A: q.A}, 422, "needs a flight"},
	} {
		f.problem(f.post("/api/compare", bad.q, nil), bad.status, bad.says)
	}
}

func TestAVersionIsSentLikeAFlight(t *testing.T) {
	f := serve(t, "")
	q := api.VersionRequest{Version: workbench.FlightVersion{Flight: f.id, Settings: "given", SettingsName: "mine.toml", SettingsText: longerFilter}}
	var as api.Flight
	f.post("/api/versions/flight", q, &as)
	var is api.Flight
	f.get("/api/flights/"+f.id, &is)
	if as.MethodSet == is.MethodSet || as.Rows != is.Rows {
		t.Errorf("%s and %s", as.MethodSet, is.MethodSet)
	}
	a := f.post("/api/versions/columns", q, nil)
	_, was := block(t, f.get("/api/flights/"+f.id+"/columns", nil).body)
	_, now := block(t, a.body)
	o, _ := f.outcome()
	row, moved := o.Final.Events.Release.Row+600, false
	for i := row; i < row+200; i++ {
		moved = moved || was["wind_speed/final"](i) != now["wind_speed/final"](i)
	}
	if !moved || was["temperature/final"](row) != now["temperature/final"](row) {
		t.Error("the wind is the same, or the temperature is not")
	}
}

func linesOf(t *testing.T, body []byte) []api.GroupLine {
	t.Helper()
	var out []api.GroupLine
	for s := bufio.NewScanner(bytes.NewReader(body)); s.Scan(); {
		var l api.GroupLine
		if err := json.Unmarshal(s.Bytes(), &l); err != nil {
			t.Fatalf("%v: %s", err, s.Bytes())
		}
		out = append(out, l)
	}
	return out
}

func TestOtherSettingsThroughTheGroup(t *testing.T) {
	f := serve(t, "")
	p := workbench.Proposal{Action: sounding.ActChooseSettings, Settings: workbench.SettingsChoice{Name: "mine.toml", Text: longerFilter}}
	list := linesOf(t, f.post("/api/groups/effects", api.GroupEffectsRequest{Flights: []string{f.id}, Proposal: p}, nil).body)
	if len(list) != 2 || list[0].Effect == nil || list[0].Effect.Word != "changes" || list[0].Effect.Settings[1] != "mine.toml" || !list[1].End {
		t.Fatalf("%+v", list)
	}
	p.Reason, p.Who = "agreed", "first reviewer"
	list = linesOf(t, f.post("/api/groups", api.GroupStoreRequest{Flights: []workbench.Seen{{Flight: f.id}}, Proposal: p}, nil).body)
	if last := list[len(list)-1]; last.Group == nil || last.Group.Value != "mine.toml" {
		t.Fatalf("%+v", list)
	}
	var own api.SettingsInForce
	f.get("/api/flights/"+f.id+"/settings", &own)
	if own.File.Text != longerFilter || own.From != "chosen by decision d1 of first reviewer: agreed" {
		t.Errorf("%+v", own.File)
	}
	p.Settings.Text = "[wind]\nx = 1\n"
	f.problem(f.post("/api/groups/effects", api.GroupEffectsRequest{Flights: []string{f.id}, Proposal: p}, nil), 422, "unknown key")
}

func TestLinesOfAnotherVersionOfTheProgram(t *testing.T) {
	f := serve(t, "")
	ask := func(path string) []api.GroupLine { return linesOf(t, f.post(path, api.TodayRequest{}, nil).body) }
	if list := ask("/api/today/effects"); len(list) != 1 || !list[0].End {
		t.Errorf("a fresh logbook: %+v", list)
	}
	rows, err := f.bench.Rows(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	rows[0].MethodSet, rows[0].Verdict = "0.0.9+00000000", "accept"
	if err := f.store.PutRow(t.Context(), rows[0]); err != nil {
		t.Fatal(err)
	}
	var book api.Logbook
	f.get("/api/flights", &book)
	if r := book.Flights[0]; r.MethodSet != "0.0.9+00000000" || r.MethodSetNow == "" {
		t.Errorf("%s, now %s", r.MethodSet, r.MethodSetNow)
	}
	list := ask("/api/today/effects")
	if len(list) != 2 || list[0].Today == nil || list[0].Today.Word != "changes" || list[0].Today.MethodSet[0] != "0.0.9+00000000" {
		t.Fatalf("%+v", list)
	}
	ask("/api/today")
	book = api.Logbook{}
	f.get("/api/flights", &book)
	if r := book.Flights[0]; r.MethodSetNow != "" || r.Verdict == "accept" {
		t.Errorf("%+v", r)
	}
}
