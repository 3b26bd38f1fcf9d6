package api_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"io"
	"math"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"leadline/internal/api"
	"leadline/internal/api/apitest"
	"leadline/internal/humidity"
	"leadline/internal/indices"
	"leadline/internal/levels"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/store"
	"leadline/internal/suggest"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

func clock() time.Time { return time.Date(2031, 6, 4, 9, 0, 0, 0, time.UTC) }

var markup = apitest.Flight{Name: `<img src=x onerror=alert(1)>.txt`, Site: `<b>reed</b> & "bay"`, Climate: truth.Desert, Sheet: "single-humidity",
	Faults: []truth.Fault{{Name: "early-burst"}, {Name: "temperature-spikes"}}}

type fixture struct {
	t     testing.TB
	bench *workbench.Bench
	store *store.Store
	url   string
	id    string
}

// serve starts a server over a logbook with one short flight.
func serve(t testing.TB, token string) fixture {
	t.Helper()
	b, s, err := apitest.Open(t.TempDir(), clock)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	ids, err := apitest.Add(context.Background(), b, []apitest.Flight{markup})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(api.New(b, api.Options{Token: token}))
	t.Cleanup(srv.Close)
	return fixture{t, b, s, srv.URL, ids[0]}
}

type answer struct {
	status int
	header http.Header
	body   []byte
}

func (f fixture) do(method, path string, body io.Reader, edit func(*http.Request)) answer {
	f.t.Helper()
	r, err := http.NewRequest(method, f.url+path, body)
	if err != nil {
		f.t.Fatal(err)
	}
	if edit != nil {
		edit(r)
	}
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	a, err := client.Do(r)
	if err != nil {
		f.t.Fatal(err)
	}
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	if err != nil {
		f.t.Fatal(err)
	}
	return answer{a.StatusCode, a.Header, b}
}

func (f fixture) get(path string, into any) answer {
	f.t.Helper()
	a := f.do(http.MethodGet, path, nil, nil)
	if into != nil {
		if a.status != http.StatusOK {
			f.t.Fatalf("GET %s: %d %s", path, a.status, a.body)
		}
		if err := json.Unmarshal(a.body, into); err != nil {
			f.t.Fatalf("GET %s: %v", path, err)
		}
	}
	return a
}

func asJSON(r *http.Request) { r.Header.Set("Content-Type", "application/json") }

func (f fixture) post(path string, q any, into any) answer {
	f.t.Helper()
	b, err := json.Marshal(q)
	if err != nil {
		f.t.Fatal(err)
	}
	a := f.do(http.MethodPost, path, bytes.NewReader(b), asJSON)
	if into != nil {
		if a.status != http.StatusOK {
			f.t.Fatalf("POST %s: %d %s", path, a.status, a.body)
		}
		if err := json.Unmarshal(a.body, into); err != nil {
			f.t.Fatalf("POST %s: %v", path, err)
		}
	}
	return a
}

// problem checks that an answer is a refusal in one sentence of JSON.
func (f fixture) problem(a answer, status int, says string) {
	f.t.Helper()
	var p api.Problem
	if err := json.Unmarshal(a.body, &p); err != nil || p.Error == "" {
		f.t.Errorf("the answer is no sentence in JSON: %q", a.body)
	}
	if a.status != status || !strings.Contains(p.Error, says) {
		f.t.Errorf("got %d %q, want %d and %q", a.status, p.Error, status, says)
	}
	if kind := a.header.Get("Content-Type"); !strings.HasPrefix(kind, "application/json") {
		f.t.Errorf("a refusal of type %q", kind)
	}
}

func (f fixture) outcome() (*workbench.Outcome, int) {
	f.t.Helper()
	o, revision, err := f.bench.Open(context.Background(), f.id)
	if err != nil {
		f.t.Fatal(err)
	}
	return o, revision
}

func TestLogbook(t *testing.T) {
	f := serve(t, "")
	var book api.Logbook
	f.get("/api/flights", &book)
	if len(book.Flights) != 1 || book.Flights[0].ID != f.id || book.Flights[0].Site != markup.Site || book.Version != workbench.Version {
		t.Errorf("%+v", book)
	}
}

func TestEmptyLogbookIsAList(t *testing.T) {
	b, s, err := apitest.Open(t.TempDir(), clock)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	srv := httptest.NewServer(api.New(b, api.Options{}))
	defer srv.Close()
	a := fixture{t: t, url: srv.URL}.get("/api/flights", nil)
	if a.status != http.StatusOK || !bytes.Contains(a.body, []byte(`"flights":[]`)) {
		t.Errorf("%d %s", a.status, a.body)
	}
}

func TestFlight(t *testing.T) {
	f := serve(t, "")
	o, revision := f.outcome()
	var got api.Flight
	a := f.get("/api/flights/"+f.id, &got)
	if got.Rows != o.Final.Len() || got.Revision != revision || len(got.Findings) != len(o.Final.Findings) || got.Verdict.Word != o.Final.Verdict.Word ||
		len(got.Levels.Levels) != len(o.Levels.Levels) || len(got.Steps) != len(o.Final.Steps) || len(got.Summary) != len(o.Final.Summary) {
		t.Errorf("the flight differs from the bench's outcome: %+v", got)
	}
	if len(got.Findings) == 0 || len(got.Levels.Levels) == 0 || len(got.Variables) < 8 {
		t.Errorf("too little to prove anything: %d findings, %d levels, %d variables", len(got.Findings), len(got.Levels.Levels), len(got.Variables))
	}
	if want := o.Final.Epoch.UTC().Format("2006-01-02T15:04:05.000Z"); got.Zero != want {
		t.Errorf("zero at %s, want %s", got.Zero, want)
	}
	// Markup from files must not stand in the bytes as markup, whoever reads them.
	if bytes.ContainsAny(a.body, "<>") {
		t.Error("the JSON holds angle brackets")
	}
	items := map[string]api.RecordItem{}
	for _, i := range got.Record {
		items[i.Path] = i
	}
	if i := items["site.name"]; i.Value != markup.Site {
		t.Errorf("site: %+v", i)
	}
	if i := items["surface.pressure_hpa"]; i.Unit != "hPa" || i.Value == "" {
		t.Errorf("surface pressure: %+v", i)
	}
	if i := items["site.height_m_msl"]; i.Unit != "m" {
		t.Errorf("height: %+v", i)
	}
}

// block reads the columns as the documentation of the format says, without the encoder.
func block(t *testing.T, b []byte) (api.ColumnsHeader, map[string]func(i int) float64) {
	t.Helper()
	if len(b) < 8 || string(b[:4]) != "LLC1" {
		t.Fatalf("not a block of columns: %q", b[:min(len(b), 40)])
	}
	n := int(binary.LittleEndian.Uint32(b[4:]))
	var h api.ColumnsHeader
	if err := json.Unmarshal(b[8:8+n], &h); err != nil {
		t.Fatal(err)
	}
	if (8+n)%8 != 0 {
		t.Errorf("columns begin at byte %d", 8+n)
	}
	body := b[8+n:]
	out := map[string]func(int) float64{}
	for _, c := range h.Columns {
		if c.Offset%8 != 0 {
			t.Errorf("%s/%s begins at %d", c.Name, c.Part, c.Offset)
		}
		x := body[c.Offset:]
		out[c.Name+"/"+c.Part] = func(i int) float64 {
			switch c.Type {
			case "f4":
				return float64(math.Float32frombits(binary.LittleEndian.Uint32(x[4*i:])))
			case "f8":
				return math.Float64frombits(binary.LittleEndian.Uint64(x[8*i:]))
			case "i4":
				return float64(int32(binary.LittleEndian.Uint32(x[4*i:])))
			}
			return float64(x[i])
		}
	}
	return h, out
}

func TestColumns(t *testing.T) {
	f := serve(t, "")
	o, revision := f.outcome()
	a := f.get("/api/flights/"+f.id+"/columns", nil)
	h, columns := block(t, a.body)
	if h.Rows != o.Final.Len() || h.Revision != revision {
		t.Fatalf("%d rows at revision %d", h.Rows, h.Revision)
	}
	same := func(name string, got, want float64, wide bool) {
		if !wide {
			want = float64(float32(want))
		}
		if got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Fatalf("%s: got %g, want %g", name, got, want)
		}
	}
	compared := 0
	for _, v := range sounding.Variables() {
		wide := v == sounding.Latitude || v == sounding.Longitude
		if s := o.Final.Get(v); s != nil {
			for i := range s.Values {
				same(v.String(), columns[v.String()+"/final"](i), s.Values[i], wide)
				if s.Flags != nil {
					same(v.String()+" flag", columns[v.String()+"/flag"](i), float64(s.Flags[i]), true)
				}
				if s.Independent != nil || s.Common != nil {
					same(v.String()+" u", columns[v.String()+"/u"](i), s.Total(i), false)
				}
				compared++
			}
		}
		if s := o.Final.Before.Get(v); s != nil {
			for i := range s.Values {
				same(v.String()+" raw", columns[v.String()+"/raw"](i), s.Values[i], wide)
			}
		}
	}
	for i := range o.Final.Time {
		same("time", columns["time/"](i), o.Final.Time[i], true)
		same("line", columns["line/"](i), float64(o.Final.Line[i]), true)
	}
	if compared < 10*h.Rows {
		t.Errorf("only %d values were compared", compared)
	}
}

// The dew point of what was received, back to a humidity by the formula of WMO-No. 8 (2018),
// Annex 4.B: e_w = 6.112 exp(17.62 t / (243.12 + t)), within 1 % of the humidity received. The
// two alternately heated sensors of the other flight have no such dew point.
func TestDewPointAsReceived(t *testing.T) {
	saturation := func(k float64) float64 { return 6.112 * math.Exp(17.62*(k-273.15)/(243.12+k-273.15)) }
	f := serve(t, "")
	twin, err := apitest.Add(context.Background(), f.bench, []apitest.Flight{{Site: "north pier", Climate: truth.MidLatitudeSummer, Sheet: "twin-humidity", Until: truth.UntilBurst}})
	if err != nil {
		t.Fatal(err)
	}
	if _, columns := block(t, f.get("/api/flights/"+twin[0]+"/columns", nil).body); columns["dew_point/raw"] != nil {
		t.Error("twin sensors have a dew point as received")
	}
	o, _ := f.outcome()
	h, columns := block(t, f.get("/api/flights/"+f.id+"/columns", nil).body)
	// A release is found to less than a millisecond; a sample's instant is this one and its time_s.
	if zero, err := time.Parse(time.RFC3339Nano, h.Zero); err != nil || !zero.Equal(o.Final.Epoch) {
		t.Errorf("time 0 at %q (%v), want %v", h.Zero, err, o.Final.Epoch)
	}
	temperature, received := o.Final.Before.Values(sounding.Temperature), o.Final.Before.Values(sounding.Humidity)
	n := 0
	for i, k := range temperature {
		td := columns["dew_point/raw"](i)
		if !(received[i] > 0) || math.IsNaN(k) {
			if !math.IsNaN(td) {
				t.Fatalf("row %d: a dew point of %g K from %g %% at %g K", i, td, received[i], k)
			}
			continue
		}
		if k < 243.15 {
			continue // below −30 °C the two formulas part
		}
		n++
		if got := 100 * saturation(td) / saturation(k); math.Abs(got-received[i]) > 0.01*received[i]+0.05 {
			t.Fatalf("row %d: %.2f %% from the dew point, %.2f %% received", i, got, received[i])
		}
	}
	if n < 300 {
		t.Errorf("only %d values were compared", n)
	}
}

// Saturation over ice at −20 °C is 82.19 % over liquid water by Hyland and Wexler 1983
// (authorities/hyland-wexler-1983, SVP-69), 82.27 % by Murphy and Koop 2005 (same row).
func TestIceSaturationColumn(t *testing.T) {
	f := serve(t, "")
	o, _ := f.outcome()
	_, columns := block(t, f.get("/api/flights/"+f.id+"/columns", nil).body)
	temperature := o.Final.Usable(sounding.Temperature)
	const spread = 0.4 // %: 0.08 between the formulas, and 0.3 K at 0.8 % per K
	found := false
	for i, k := range temperature {
		got := columns["ice_saturation/"](i)
		switch {
		case math.IsNaN(k) || k >= 273.15:
			if !math.IsNaN(got) {
				t.Fatalf("row %d: ice at %g K", i, k)
			}
		case math.Abs(k-253.15) < 0.3:
			found = true
			if math.Abs(got-82.19) > spread {
				t.Fatalf("at %.2f K: %.2f %%", k, got)
			}
		}
	}
	if !found {
		t.Error("the flight has no sample at −20 °C")
	}
}

// A barometer that agrees with the satellites within their uncertainties gives a
// difference that starts at 0 and stays small in the lower kilometres.
func TestBarometerMinusSatelliteColumn(t *testing.T) {
	f := serve(t, "")
	o, _ := f.outcome()
	_, columns := block(t, f.get("/api/flights/"+f.id+"/columns", nil).body)
	z := o.Final.Values(sounding.HeightMSL)
	n := 0
	for i := o.Final.Events.Release.Row; i < o.Final.Events.Ascent().To; i++ {
		got := columns["barometer_minus_satellite/"](i)
		if math.IsNaN(got) || z[i]-z[o.Final.Events.Release.Row] > 3000 {
			continue
		}
		n++
		if math.Abs(got) > 40 { // 1 hPa is 8 m at the ground, 12 m at 3 km
			t.Fatalf("%.0f m: the barometer is %.0f m off", z[i], got)
		}
	}
	if n < 300 {
		t.Errorf("only %d rows", n)
	}
}

func TestTrail(t *testing.T) {
	f := serve(t, "")
	o, _ := f.outcome()
	var got workbench.Trail
	f.get("/api/flights/"+f.id+"/trail?variable=temperature&time_s=600", &got)
	want, ok := o.Trail(sounding.Temperature, 600)
	if !ok || got.Row != want.Row || got.Line != want.Line || got.Final != want.Final || got.Raw != want.Raw || len(got.Entries) != len(want.Entries) || len(got.Entries) == 0 {
		t.Errorf("got %+v, want %+v", got, want)
	}
	f.problem(f.get("/api/flights/"+f.id+"/trail?variable=colour&time_s=600", nil), 422, "colour")
	f.problem(f.get("/api/flights/"+f.id+"/trail?variable=temperature&time_s=soon", nil), 422, "soon")
	f.problem(f.get("/api/flights/"+f.id+"/trail?variable=battery_missing&time_s=1", nil), 422, "battery_missing")
}

func TestSourceIsByteIdentical(t *testing.T) {
	f := serve(t, "")
	file, _, err := apitest.Files(markup, 1)
	if err != nil {
		t.Fatal(err)
	}
	o, _ := f.outcome()
	a := f.get("/api/flights/"+f.id+"/sources/"+o.Final.Sources[0].SHA256, nil)
	if a.status != http.StatusOK || !bytes.Equal(a.body, file.Bytes) {
		t.Errorf("%d: %d bytes, want %d", a.status, len(a.body), len(file.Bytes))
	}
	if d := a.header.Get("Content-Disposition"); !strings.HasPrefix(d, "attachment") {
		t.Errorf("a source is shown in place of being handed out: %q", d)
	}
	if k := a.header.Get("Content-Type"); k != "application/octet-stream" {
		t.Errorf("a source of type %q", k)
	}
	f.problem(f.get("/api/flights/"+f.id+"/sources/"+strings.Repeat("0", 64), nil), 404, "no source")
}

func TestSettingsAndSheets(t *testing.T) {
	f := serve(t, "")
	var all []workbench.Setting
	var own api.SettingsInForce
	f.get("/api/settings", &all)
	f.get("/api/flights/"+f.id+"/settings", &own)
	if len(all) < 20 || len(own.Values) != len(all) || own.From != "the shipped settings" || own.File.Text != "" {
		t.Errorf("%d and %d settings, %s", len(all), len(own.Values), own.From)
	}
	var text api.SettingsFile
	f.get("/api/settings/text", &text)
	var again []workbench.Setting
	f.post("/api/settings/explain", text, &again)
	if len(again) != len(all) || again[0].From != "settings.toml" || again[0].Value != all[0].Value {
		t.Errorf("the shipped text gives %d settings, the first %+v", len(again), again[0])
	}
	f.problem(f.post("/api/settings/explain", api.SettingsFile{Name: "mine.toml", Text: "[wind]\nx = 1\n"}, nil), 422, "unknown key")
	var used api.SheetText
	f.get("/api/flights/"+f.id+"/sheet", &used)
	if used.Name != "single-humidity" || !strings.HasSuffix(used.From, "as it ships") || len(used.Values) < 15 {
		t.Errorf("%s, %s, %d values", used.Name, used.From, len(used.Values))
	}
	var names []api.SheetName
	f.get("/api/sheets", &names)
	if len(names) < 3 {
		t.Fatalf("%d sheets", len(names))
	}
	var sheet api.SheetText
	f.get("/api/sheets/"+names[0].Name, &sheet)
	if _, err := sounding.ReadSheet(sheet.Name, []byte(sheet.Text)); err != nil {
		t.Errorf("the sheet as served cannot be read: %v", err)
	}
	f.problem(f.get("/api/sheets/none", nil), 404, "none")
}

func exclusion(o *workbench.Outcome) sounding.Decision {
	row := o.Final.Events.Release.Row + 300
	return sounding.Decision{Action: sounding.ActExclude, Variables: []sounding.Variable{sounding.Temperature},
		From: o.Final.UTC(o.Final.Time[row]), To: o.Final.UTC(o.Final.Time[row+59]), Reason: "wet bulb", Who: "first reviewer"}
}

func TestPreviewStoresNothing(t *testing.T) {
	f := serve(t, "")
	o, revision := f.outcome()
	q := api.DecisionRequest{Revision: revision, Decision: exclusion(o)}
	var p api.Preview
	f.post("/api/flights/"+f.id+"/preview", q, &p)
	already := 0 // bad before
	first := o.Final.Events.Release.Row + 300
	for _, flag := range o.Final.Get(sounding.Temperature).Flags[first : first+60] {
		if flag == quality.Bad {
			already++
		}
	}
	found := false
	for _, v := range p.Difference.Variables {
		if v.Variable == sounding.Temperature {
			found = v.Flags == 60-already && v.Usable[0]-v.Usable[1] == 60-already
		}
	}
	if !found {
		t.Errorf("the difference is %+v", p.Difference.Variables)
	}
	a := f.post("/api/flights/"+f.id+"/preview/columns", q, nil)
	_, columns := block(t, a.body)
	if got := columns["temperature/flag"](o.Final.Events.Release.Row + 310); got != float64(quality.Bad) {
		t.Errorf("previewed flag %g", got)
	}
	if after, again := f.outcome(); again != revision || len(after.Final.Decisions) != 0 {
		t.Error("a preview was stored")
	}
}

func TestDecideStaleRevoke(t *testing.T) {
	f := serve(t, "")
	o, revision := f.outcome()
	var done api.Decided
	f.post("/api/flights/"+f.id+"/decisions", api.DecisionRequest{Revision: revision, Decision: exclusion(o)}, &done)
	if done.Decision == nil || done.Decision.ID == "" || done.Flight.Revision <= revision || len(done.Flight.Decisions) != 1 || !done.Decision.When.Equal(clock()) {
		t.Fatalf("%+v", done)
	}
	_, columns := block(t, f.get("/api/flights/"+f.id+"/columns", nil).body)
	if got := columns["temperature/flag"](o.Final.Events.Release.Row + 310); got != float64(quality.Bad) {
		t.Errorf("flag %g after the decision", got)
	}
	// The second reviewer still has the first revision on screen.
	second := exclusion(o)
	second.Who, second.Reason = "second reviewer", "no"
	a := f.post("/api/flights/"+f.id+"/decisions", api.DecisionRequest{Revision: revision, Decision: second}, nil)
	f.problem(a, http.StatusConflict, "has changed")
	var p api.Problem
	if err := json.Unmarshal(a.body, &p); err != nil || p.Stale == nil || p.Stale.Seen != revision || p.Stale.Current != done.Flight.Revision ||
		len(p.Stale.Since) != 1 || p.Stale.Since[0].Who != "first reviewer" {
		t.Errorf("what changed: %+v", p.Stale)
	}
	if again, _ := f.outcome(); len(again.Final.Decisions) != 1 {
		t.Error("a stale decision was stored")
	}
	path := "/api/flights/" + f.id + "/decisions/" + done.Decision.ID + "/revoke"
	f.problem(f.post(path, api.RevokeRequest{Revision: revision, Reason: "r", Who: "w"}, nil), http.StatusConflict, "has changed")
	f.problem(f.post(path, api.RevokeRequest{Revision: done.Flight.Revision, Who: "w"}, nil), 422, "reason")
	var undone api.Decided
	f.post(path, api.RevokeRequest{Revision: done.Flight.Revision, Reason: "it was the air", Who: "first reviewer"}, &undone)
	if d := undone.Flight.Decisions; len(d) != 1 || d[0].Revoked == nil || d[0].Revoked.Reason != "it was the air" {
		t.Errorf("%+v", d)
	}
	_, columns = block(t, f.get("/api/flights/"+f.id+"/columns", nil).body)
	s := o.Final.Get(sounding.Temperature)
	for i := range s.Flags {
		if columns["temperature/flag"](i) != float64(s.Flags[i]) {
			t.Fatalf("row %d: taking a decision back does not restore its flag", i)
		}
	}
	f.problem(f.post(path, api.RevokeRequest{Revision: undone.Flight.Revision, Reason: "r", Who: "w"}, nil), 422, "already")
	f.problem(f.post("/api/flights/"+f.id+"/decisions/d99/revoke", api.RevokeRequest{Revision: undone.Flight.Revision, Reason: "r", Who: "w"}, nil), 404, "d99")
}

func TestRefusedDecisions(t *testing.T) {
	f := serve(t, "")
	path := "/api/flights/" + f.id + "/decisions"
	for name, c := range map[string]struct {
		d      sounding.Decision
		status int
		says   string
	}{
		"no action":    {sounding.Decision{Reason: "r", Who: "w"}, 422, "action"},
		"no reason":    {sounding.Decision{Action: sounding.ActNote, Who: "w"}, 422, "reason"},
		"nobody":       {sounding.Decision{Action: sounding.ActNote, Reason: "r"}, 422, "who"},
		"no span":      {sounding.Decision{Action: sounding.ActExclude, Variables: []sounding.Variable{sounding.Humidity}, Reason: "r", Who: "w"}, 422, "from and to"},
		"bad instant":  {sounding.Decision{Action: sounding.ActSetRelease, Value: "soon", Reason: "r", Who: "w"}, 422, "soon"},
		"bad pressure": {sounding.Decision{Action: sounding.ActCorrectRecord, Field: "surface.pressure_hpa", Value: "high", Reason: "r", Who: "w"}, 422, "high"},
		"no such item": {sounding.Decision{Action: sounding.ActCorrectRecord, Field: "surface.colour", Value: "1", Reason: "r", Who: "w"}, 422, "surface.colour"},
	} {
		t.Run(name, func(t *testing.T) {
			f := f
			f.t = t
			f.problem(f.post(path, api.DecisionRequest{Decision: c.d}, nil), c.status, c.says)
		})
	}
	if o, _ := f.outcome(); len(o.Final.Decisions) != 0 {
		t.Error("a refused decision was stored")
	}
}

func TestAddFiles(t *testing.T) {
	f := serve(t, "")
	other := markup
	other.Site, other.Name = "north pier", "other.txt"
	good, q, err := apitest.Files(other, 9)
	if err != nil {
		t.Fatal(err)
	}
	known, _, err := apitest.Files(markup, 1)
	if err != nil {
		t.Fatal(err)
	}
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	put := func(field, name string, b []byte) {
		w, err := form.CreateFormFile(field, name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(b); err != nil {
			t.Fatal(err)
		}
	}
	put("record", q.Record.Name, q.Record.Bytes)
	put("source", `C:\receiver\other.txt`, good.Bytes)
	put("source", "again.txt", known.Bytes)
	put("source", "noise.bin", bytes.Repeat([]byte{0, 1, 2, 255}, 300))
	form.Close()
	a := f.do(http.MethodPost, "/api/flights", &body, func(r *http.Request) { r.Header.Set("Content-Type", form.FormDataContentType()) })
	var got []api.AddedFile
	if err := json.Unmarshal(a.body, &got); err != nil || len(got) != 3 {
		t.Fatalf("%d %s", a.status, a.body)
	}
	if got[0].File != "other.txt" || len(got[0].Flights) != 1 || got[0].Flights[0].Known != "" {
		t.Errorf("a new file: %+v", got[0])
	}
	if len(got[1].Flights) != 1 || got[1].Flights[0].Known == "" || got[1].Flights[0].ID != f.id {
		t.Errorf("known bytes under another name: %+v", got[1])
	}
	if got[2].Error == "" || len(got[2].Flights) != 0 {
		t.Errorf("noise: %+v", got[2])
	}
	var book api.Logbook
	if f.get("/api/flights", &book); len(book.Flights) != 2 {
		t.Errorf("%d flights", len(book.Flights))
	}
	f.problem(f.post("/api/flights", map[string]string{}, nil), http.StatusUnsupportedMediaType, "multipart")
}

func TestChanges(t *testing.T) {
	f := serve(t, "")
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, f.url+"/api/changes", nil)
	if err != nil {
		t.Fatal(err)
	}
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	if kind := a.Header.Get("Content-Type"); !strings.HasPrefix(kind, "text/event-stream") {
		t.Fatalf("type %q", kind)
	}
	lines := make(chan string, 64)
	go func() {
		s := bufio.NewScanner(a.Body)
		for s.Scan() {
			lines <- s.Text()
		}
		close(lines)
	}()
	next := func() string {
		t.Helper()
		for {
			select {
			case l, ok := <-lines:
				if !ok {
					t.Fatal("the stream ended")
				}
				if strings.HasPrefix(l, "data:") {
					return l
				}
			case <-time.After(10 * time.Second):
				t.Fatal("no change was told within 10 s")
			}
		}
	}
	o, revision := f.outcome()
	f.post("/api/flights/"+f.id+"/decisions", api.DecisionRequest{Revision: revision, Decision: exclusion(o)}, nil)
	if l := next(); !strings.Contains(l, `"flight":"`+f.id+`"`) {
		t.Errorf("the server's own change: %s", l)
	}
	// A decision by another process (the command line) reaches the page, too.
	time.Sleep(100 * time.Millisecond)
	d := exclusion(o)
	d.Variables = []sounding.Variable{sounding.Humidity}
	if _, _, _, err := f.bench.Decide(context.Background(), f.id, d, revision+1); err != nil {
		t.Fatal(err)
	}
	if l := next(); !strings.Contains(l, `"revision":`) {
		t.Errorf("another process' change: %s", l)
	}
}

func TestUnknownThings(t *testing.T) {
	f := serve(t, "")
	for _, path := range []string{"/api/flights/99", "/api/flights/99/columns", "/api/flights/x%2f..%2f1", "/api/flights/99/trail?variable=temperature&time_s=1", "/api/flights/99/settings"} {
		f.problem(f.get(path, nil), 404, "no such flight")
	}
	f.problem(f.get("/api/nothing", nil), 404, "/api/nothing")
	f.problem(f.do(http.MethodDelete, "/api/flights/"+f.id, nil, nil), 404, "DELETE")
}

func BenchmarkOpen(b *testing.B) {
	f := serve(b, "")
	long := apitest.Flight{Site: "north pier", Climate: truth.MidLatitudeSummer, Sheet: "twin-humidity", Until: truth.UntilBurst}
	ids, err := apitest.Add(context.Background(), f.bench, []apitest.Flight{long})
	if err != nil {
		b.Fatal(err)
	}
	var h api.ColumnsHeader
	b.Run("flight", func(b *testing.B) {
		for b.Loop() {
			if a := f.get("/api/flights/"+ids[0], nil); a.status != http.StatusOK {
				b.Fatal(a.status)
			}
		}
	})
	b.Run("columns", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			a := f.get("/api/flights/"+ids[0]+"/columns", nil)
			b.SetBytes(int64(len(a.body)))
			n := int(binary.LittleEndian.Uint32(a.body[4:]))
			if err := json.Unmarshal(a.body[8:8+n], &h); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(h.Rows), "rows")
	})
}

// The pseudo-adiabat that is 20 °C at 1000 hPa, and lines of the other families, pass
// where their definitions put them: θ itself at 1000 hPa, saturation at the mixing ratio.
func TestDiagram(t *testing.T) {
	f := serve(t, "")
	var d api.Diagram
	f.get("/api/diagram", &d)
	at := -1
	for i, p := range d.Pressure {
		if p == 1000 {
			at = i
		}
	}
	if at < 0 || len(d.Dry) < 10 || len(d.Moist) < 8 || len(d.Mixing) < 5 {
		t.Fatalf("%d dry, %d moist, %d mixing", len(d.Dry), len(d.Moist), len(d.Mixing))
	}
	const hundredth = 0.006
	for _, l := range d.Dry {
		if math.Abs(l.Temperature[at].Value()-l.Of) > hundredth {
			t.Errorf("θ = %g is %g at 1000 hPa", l.Of, l.Temperature[at])
		}
	}
	for _, l := range d.Moist {
		if math.Abs(l.Temperature[at].Value()-l.Of) > hundredth {
			t.Errorf("the pseudo-adiabat of %g is %g at 1000 hPa", l.Of, l.Temperature[at])
		}
	}
	for _, l := range d.Mixing {
		// e = r p/(ε + r), and Hyland and Wexler's vapour pressure at the line's temperature is that e.
		r := l.Of / 1000
		e := r * 1000 / (0.62198 + r)
		if got := humidity.HylandWexler.OverWater(l.Temperature[at].Value()); math.Abs(got/e-1) > 1e-3 {
			t.Errorf("%g g/kg: saturated at %g hPa, want %g", l.Of, got, e)
		}
	}
}

// A profile other than the ascent, by name: its levels and indices name it.
func TestProfiles(t *testing.T) {
	f := serve(t, "")
	o, _ := f.outcome()
	var flight api.Flight
	f.get("/api/flights/"+f.id, &flight)
	if len(flight.Profiles) == 0 || flight.Profiles[0] != sounding.AscentProfile {
		t.Fatalf("profiles %q", flight.Profiles)
	}
	for _, kind := range flight.Profiles {
		want, err := o.Profile(kind)
		if err != nil {
			t.Fatalf("%s is offered and cannot be made: %v", kind, err)
		}
		var set levels.Set
		f.get("/api/flights/"+f.id+"/levels?profile="+string(kind), &set)
		if set.Profile != kind || len(set.Levels) != len(want.Levels.Levels) || len(set.Levels) == 0 {
			t.Errorf("%s: %d levels of %s, want %d", kind, len(set.Levels), set.Profile, len(want.Levels.Levels))
		}
		var got api.Indices
		f.get("/api/flights/"+f.id+"/indices?uncertainty=no&profile="+string(kind), &got)
		if got.Set.Profile != string(kind) {
			t.Errorf("indices of %s, want %s", got.Set.Profile, kind)
		}
	}
	f.problem(f.do(http.MethodGet, "/api/flights/"+f.id+"/levels?profile=sideways", nil, nil), http.StatusUnprocessableEntity, "want one of ascent")
}

func TestIndices(t *testing.T) {
	f := serve(t, "")
	o, _ := f.outcome()
	var got api.Indices
	f.get("/api/flights/"+f.id+"/indices", &got)
	want := indices.Find(o.Final, &o.Levels, indices.Default())
	if len(got.Set.Indices) != len(want.Indices) || len(want.Indices) < 20 {
		t.Fatalf("%d indices, want %d", len(got.Set.Indices), len(want.Indices))
	}
	for i, w := range want.Indices {
		if g := got.Set.Indices[i]; g.Name != w.Name || g.Value != w.Value && (g.Value.Set() || w.Value.Set()) {
			t.Errorf("%s is %v, want %v", g.Name, g.Value, w.Value)
		}
	}
	if len(got.Parcels) == 0 {
		t.Fatal("no parcel")
	}
	for _, p := range got.Parcels {
		if len(p.Pressure) != len(p.Temperature) || len(p.Pressure) < 10 {
			t.Errorf("%s: %d pressures, %d temperatures", p.Name, len(p.Pressure), len(p.Temperature))
		}
		for k := 1; k < len(p.Pressure); k++ {
			if !(p.Pressure[k] < p.Pressure[k-1]) || !(p.Temperature[k] < p.Temperature[k-1]) {
				t.Fatalf("%s does not rise and cool at %g hPa", p.Name, p.Pressure[k])
			}
		}
	}
}

func TestProducts(t *testing.T) {
	f := serve(t, "")
	var formats []api.Product
	f.get("/api/products", &formats)
	if len(formats) < 5 {
		t.Fatalf("%d formats", len(formats))
	}
	for _, p := range formats {
		a := f.get("/api/flights/"+f.id+"/products/"+p.Format, nil)
		if a.status != http.StatusOK || len(a.body) < 200 || !strings.HasPrefix(a.header.Get("Content-Disposition"), "attachment") {
			t.Errorf("%s: %d, %d bytes, %q", p.Format, a.status, len(a.body), a.header.Get("Content-Disposition"))
		}
		if again := f.get("/api/flights/"+f.id+"/products/"+p.Format, nil); !bytes.Equal(a.body, again.body) {
			t.Errorf("%s differs when fetched again", p.Format)
		}
	}
	// The CSV handed out changes with a decision: the flag of an excluded sample is 4.
	before := f.get("/api/flights/"+f.id+"/products/csv", nil).body
	o, revision := f.outcome()
	f.post("/api/flights/"+f.id+"/decisions", api.DecisionRequest{Revision: revision, Decision: exclusion(o)}, nil)
	if after := f.get("/api/flights/"+f.id+"/products/csv", nil).body; bytes.Equal(before, after) {
		t.Error("the export does not know of the decision")
	}
	f.problem(f.get("/api/flights/"+f.id+"/products/word", nil), 404, "word")
}

func TestSuggestionsAreThoseOfThePackage(t *testing.T) {
	f := serve(t, "")
	late := apitest.Flight{Site: "north pier", Climate: truth.Marine, Sheet: "single-humidity", Faults: []truth.Fault{{Name: "declared-release-late"}, {Name: "early-burst"}}}
	ids, err := apitest.Add(context.Background(), f.bench, []apitest.Flight{late})
	if err != nil {
		t.Fatal(err)
	}
	var got []suggest.Suggestion
	f.get("/api/flights/"+ids[0]+"/suggestions", &got)
	o, revision, err := f.bench.Open(context.Background(), ids[0])
	if err != nil {
		t.Fatal(err)
	}
	want := suggest.For(o)
	if len(got) != len(want) || len(want) == 0 {
		t.Fatalf("%d suggestions, want %d", len(got), len(want))
	}
	for i := range want {
		if got[i].Sentence != want[i].Sentence || len(got[i].Decisions) != len(want[i].Decisions) {
			t.Errorf("%d: %q, want %q", i, got[i].Sentence, want[i].Sentence)
		}
	}
	if _, again, _ := f.bench.Open(context.Background(), ids[0]); again != revision {
		t.Error("a suggestion took effect by itself")
	}
	if a := f.get("/api/flights/"+f.id+"/suggestions", nil); a.status != http.StatusOK || a.body[0] != '[' {
		t.Errorf("without an error: %d %s", a.status, a.body)
	}
}
