package api_test

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"leadline/internal/api"
	"leadline/internal/api/apitest"
	"leadline/internal/ingest"
	"leadline/internal/prelaunch"
)

func deskServer(t *testing.T) string {
	t.Helper()
	b, st, err := apitest.Open(t.TempDir(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(api.New(b, api.Options{}))
	t.Cleanup(func() {
		srv.Close()
		st.Close()
	})
	return srv.URL
}

func askDesk(t *testing.T, url string, q any) (status int, body []byte) {
	t.Helper()
	b, err := json.Marshal(q)
	if err != nil {
		t.Fatal(err)
	}
	r, err := http.Post(url, "application/json", bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if body, err = io.ReadAll(r.Body); err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, body
}

// The desk says what the command says of one plan; what is not complete is judged as far as it goes.
func TestDesk(t *testing.T) {
	url := deskServer(t)
	example := prelaunch.ExamplePlan
	without := func(lines ...string) string {
		var kept []string
		for _, l := range strings.Split(example, "\n") {
			drop := false
			for _, x := range lines {
				drop = drop || strings.HasPrefix(l, x)
			}
			if !drop {
				kept = append(kept, l)
			}
		}
		return strings.Join(kept, "\n")
	}
	for name, c := range map[string]struct {
		plan    string
		files   []api.DeskFile
		status  int
		missing int
		fill    bool
		want    string
	}{
		"example":   {example, nil, 200, 0, true, "there is no wind profile"},
		"empty":     {"", nil, 200, 9, false, "the slot is not given"},
		"no place":  {without("latitude_deg"), nil, 200, 1, false, `{"about":"place","level":"warning","text":"latitude is not given"}`},
		"slot only": {"[release]\nnominal_utc = 2031-06-04T00:00:00Z", nil, 200, 8, false, `"best_utc":"2031-06-03T23:30:00Z"`},
		"inHg":      {strings.Replace(example, "pressure_hpa = 965.4", "pressure_hpa = 28.51", 1), nil, 200, 0, false, "was it read in inHg? That would be 965.5 hPa"},
		"sea level": {strings.Replace(example, "pressure_hpa = 965.4", "pressure_hpa = 1016.2", 1), nil, 200, 0, true, "was it reduced to sea level"},
		"key":       {"[fill]\npurty = 1", nil, 422, 0, false, "line 2"},
		"file":      {example + "\n[areas]\nfiles = ['town.geojson']", nil, 422, 0, false, "names the file town.geojson"},
		"area":      {example + "\n[areas]\nfiles = ['town.geojson']", []api.DeskFile{{Name: "town.geojson", Text: `{"type":"Polygon","coordinates":[[[6,46],[7,46],[7,47],[6,46]]]}`}}, 200, 0, true, `"rings_km":[[[`},
	} {
		status, body := askDesk(t, url+"/api/desk", api.DeskRequest{Plan: c.plan, Files: c.files})
		if status != c.status {
			t.Errorf("%s: status %d: %.300s", name, status, body)
			continue
		}
		if !strings.Contains(string(body), c.want) {
			t.Errorf("%s: lacks %q: %.600s", name, c.want, body)
		}
		if status != 200 {
			continue
		}
		var d api.Desk
		if err := json.Unmarshal(body, &struct {
			Missing *[]prelaunch.Remark
		}{&d.Missing}); err != nil {
			t.Fatal(err)
		}
		var has struct {
			Sheet struct{ Fill, Drift *json.RawMessage }
		}
		if err := json.Unmarshal(body, &has); err != nil {
			t.Fatal(err)
		}
		if len(d.Missing) != c.missing || (has.Sheet.Fill != nil) != c.fill || (has.Sheet.Drift != nil) != c.fill {
			t.Errorf("%s: %d missing %v, fill %v", name, len(d.Missing), d.Missing, has.Sheet.Fill != nil)
		}
	}
}

func TestDeskFilesAndPlan(t *testing.T) {
	url := deskServer(t)
	q := api.DeskRequest{Plan: prelaunch.ExamplePlan}
	for what, begin := range map[string]string{"record": "# Launch record", "pdf": "%PDF-", "html": "<!doctype html>", "geojson": "{", "kml": "<?xml", "label": ""} {
		status, body := askDesk(t, url+"/api/desk/files/"+what, q)
		if status != 200 || !strings.HasPrefix(string(body), begin) || len(body) < 50 {
			t.Errorf("%s: %d %.80s", what, status, body)
		}
	}
	_, text := askDesk(t, url+"/api/desk/files/record", q)
	r, _, err := ingest.ReadRecord("record", text)
	if err != nil || r.Site.Name != "North pier" || !r.Balloon.NozzleLift.Set() {
		t.Errorf("the record does not read back: %v", err)
	}
	// Ticks and a ruling go along with the record.
	ruled := strings.Replace(prelaunch.ExamplePlan, "temperature = \"19.9 °C\"", "temperature = \"20.9 °C\"\nruling = \"accept\"\nruled_by = \"C. Chief\"\nruling_reason = \"the last one\"", 1) +
		"\n[[tick]]\nstep = \"sky\"\nat_utc = 2031-06-03T23:20:00Z\nwho = \"A. Operator\"\nnote = \"clear\"\n"
	_, text = askDesk(t, url+"/api/desk/files/record", api.DeskRequest{Plan: ruled})
	r, _, err = ingest.ReadRecord("record", text)
	if err != nil || len(r.Ticks) != 1 || r.Ticks[0].Text != "aircraft looked and listened for" || r.Ticks[0].Note != "clear" {
		t.Errorf("ticks %+v, %v", r, err)
	}
	if g := r.GroundCheck; !strings.HasPrefix(g.Result, "reject: temperature reads +1.10 K") || g.Ruling != "accept" || g.RuledBy != "C. Chief" || g.RulingReason != "the last one" {
		t.Errorf("ground check in the record: %+v", g)
	}
	if status, body := askDesk(t, url+"/api/desk/files/pdf", api.DeskRequest{}); status != 422 || !strings.Contains(string(body), "complete preparation") {
		t.Errorf("an empty plan gave %d %.100s", status, body)
	}
	if status, _ := askDesk(t, url+"/api/desk/files/exe", q); status != 404 {
		t.Errorf("an unknown file gave %d", status)
	}
	status, body := askDesk(t, url+"/api/desk/plan", api.DeskFile{Name: "plan.toml", Text: prelaunch.ExamplePlan})
	var p api.DeskPlan
	if err := json.Unmarshal(body, &p); err != nil || status != 200 {
		t.Fatalf("%d %v", status, err)
	}
	for key, want := range map[string]string{"site.latitude_deg": "46.21022", "surface.temperature_c": "17.3", "release.nominal_utc": "2031-06-04 00:00", "fill.purity_pct": "99",
		"time_zone": "Europe/Zurich", "surface.wind_speed_m_s": "2.0578", "slot.releases": "12", "radiosonde.serial": "T3100042", "contact.phone": "+00 000 00 00"} {
		if p.Fields[key] != want {
			t.Errorf("%s is %q, want %q", key, p.Fields[key], want)
		}
	}
	if c := p.Lists["cylinder"]; len(c) != 1 || c[0]["gauge_pressure"] != "180 bar" || c[0]["count"] != "6" || len(p.Lists["payload.package"]) != 2 || len(p.Lists["stock"]) != 1 {
		t.Errorf("lists %v", p.Lists)
	}
	for _, bad := range []string{"[site]\nlatitude_deg = 146", "[fill", strings.Repeat("x", 100)} {
		if status, body := askDesk(t, url+"/api/desk/plan", api.DeskFile{Name: "p", Text: bad}); status != 422 || !strings.Contains(string(body), "line") {
			t.Errorf("%q: %d %s", bad, status, body)
		}
	}
}
