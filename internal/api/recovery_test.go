package api_test

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leadline/internal/api"
	"leadline/internal/api/apitest"
	"leadline/internal/prelaunch"
	"leadline/internal/store"
	"leadline/internal/truth"
)

// Where a radiosonde came down, what became of it, and the label for who finds it.
func TestRecovery(t *testing.T) {
	dir := t.TempDir()
	now := time.Date(2031, 6, 9, 8, 0, 0, 5, time.UTC)
	b, st, err := apitest.Open(dir, func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	ids, err := apitest.Add(t.Context(), b, []apitest.Flight{{Site: "north pier", Climate: truth.MidLatitudeSummer, Day: true, Sheet: "twin-humidity", Until: truth.UntilBurst}})
	if err != nil {
		t.Fatal(err)
	}
	log := store.RecoveryLogOf(filepath.Join(dir, "logbook.db"))
	srv := httptest.NewServer(api.New(b, api.Options{Recovery: log}))
	t.Cleanup(func() {
		srv.Close()
		st.Close()
	})
	get := func(path string, into any) {
		t.Helper()
		r, err := http.Get(srv.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		body, err := io.ReadAll(r.Body)
		if err != nil || r.StatusCode != 200 {
			t.Fatalf("%s: %d %v %s", path, r.StatusCode, err, body)
		}
		if err := json.Unmarshal(body, into); err != nil {
			t.Fatal(err)
		}
	}
	type answer struct {
		Serial  string
		Last    struct{ Known bool } `json:"last_received"`
		Landing struct {
			Known bool
			Major float64 `json:"major_95_m"`
		}
		Label   string
		Entries []prelaunch.Recovery
		Kept    bool
	}
	var a answer
	at := "/api/flights/" + ids[0] + "/recovery"
	get(at+"?name="+url.QueryEscape("Lake hut <b>")+"&phone=%2B00+000", &a)
	if a.Serial == "" || !a.Last.Known || !a.Landing.Known || !(a.Landing.Major > 0) || !a.Kept || len(a.Entries) != 0 || !strings.Contains(a.Label, "Lake hut <b>\n+00 000") || !strings.Contains(a.Label, a.Serial) {
		t.Errorf("%+v", a)
	}
	for name, c := range map[string]struct {
		q      any
		status int
		want   string
	}{
		"no name":  {api.RecoveryRequest{State: "found"}, 422, "who wrote it"},
		"no state": {api.RecoveryRequest{State: "eaten", Who: "A"}, 422, "want down, found, returned or given up"},
		"time":     {api.RecoveryRequest{State: "found", Who: "A", At: "noon"}, 422, "2031-06-07T09:00:00Z"},
		"place":    {api.RecoveryRequest{State: "found", Who: "A", Place: &prelaunch.Place{Latitude: 460, Longitude: 6}}, 422, "degrees north and east"},
		"long":     {api.RecoveryRequest{State: "found", Who: strings.Repeat("A", 9000)}, 422, "longer than"},
		"key":      {map[string]string{"colour": "red"}, 400, "colour"},
		"found":    {api.RecoveryRequest{State: "found", Who: "A. Operator", At: "2031-06-08T09:00:00Z", Place: &prelaunch.Place{Latitude: 46.5, Longitude: 6.25}, Note: "by the fence"}, 201, `"state":"found"`},
	} {
		if status, body := askDesk(t, srv.URL+at, c.q); status != c.status || !strings.Contains(string(body), c.want) {
			t.Errorf("%s: %d %.300s", name, status, body)
		}
	}
	if status, body := askDesk(t, srv.URL+at, api.RecoveryRequest{State: "returned", Who: "A. Operator"}); status != 201 || !strings.Contains(string(body), "2031-06-09T08:00:00Z") {
		t.Errorf("%d %.300s", status, body)
	}
	get(at, &a)
	if len(a.Entries) != 2 || a.Entries[0].Note != "by the fence" || a.Entries[1].State != prelaunch.Returned {
		t.Errorf("%+v", a.Entries)
	}
	var all api.RecoveryList
	get("/api/recoveries", &all)
	if !all.Kept || len(all.Entries) != 1 || all.Entries[0].State != prelaunch.Returned {
		t.Errorf("%+v", all)
	}
	if status, _ := askDesk(t, srv.URL+"/api/flights/nosuch/recovery", api.RecoveryRequest{State: "found", Who: "A"}); status != 404 {
		t.Errorf("a flight that is not there: %d", status)
	}
	// A log that cannot be read is said so and not written to.
	if err := os.WriteFile(log.Path(), []byte("no log\n{}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if status, body := askDesk(t, srv.URL+at, api.RecoveryRequest{State: "found", Who: "A"}); status != 500 || !strings.Contains(string(body), "line 1") {
		t.Errorf("%d %.300s", status, body)
	}
}

// A server without a log still says where the radiosonde is.
func TestRecoveryWithoutALog(t *testing.T) {
	b, st, err := apitest.Open(t.TempDir(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(api.New(b, api.Options{}))
	t.Cleanup(func() {
		srv.Close()
		st.Close()
	})
	if status, body := askDesk(t, srv.URL+"/api/flights/1/recovery", api.RecoveryRequest{}); status != 404 || !strings.Contains(string(body), "keeps no recovery log") {
		t.Errorf("%d %s", status, body)
	}
}
