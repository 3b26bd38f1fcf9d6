package api

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"net/http"
	"path"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"leadline/internal/gas"
	"leadline/internal/humidity"
	"leadline/internal/ingest"
	"leadline/internal/prelaunch"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// maxDeskBody bounds a plan with the files it names, in bytes.
const maxDeskBody = 8 << 20

// DeskFile is a file that a plan names, or a plan.
type DeskFile struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// DeskRequest is a preparation as the browser holds it; the server keeps none of it.
type DeskRequest struct {
	Plan        string     `json:"plan"`                   // the text of a plan file
	Files       []DeskFile `json:"files,omitempty"`        // that the plan names
	WindFlight  string     `json:"wind_flight,omitempty"`  // flight of the logbook whose wind is taken
	DragFlights []string   `json:"drag_flights,omitempty"` // flights of the logbook that drag is fitted to
}

// Desk is what could be planned and judged.
type Desk struct {
	Sheet   *prelaunch.Sheet   `json:"sheet"`
	Missing []prelaunch.Remark `json:"missing"` // empty: the sheet is complete
	Chart   *prelaunch.Chart   `json:"chart"`
	Placed  bool               `json:"placed"` // latitude and longitude are given: the Sun of the sheet holds
}

// DeskStart is what an empty desk offers.
type DeskStart struct {
	Example string           `json:"example"` // a plan of an invented place
	List    []prelaunch.Step `json:"launch_list"`
	Sheets  []string         `json:"sheets"`
}

// DeskPlan is a plan file taken apart for the fields of the screen. Temperatures of the
// launch record are in °C, everything else in the unit of its key.
type DeskPlan struct {
	Fields map[string]string              `json:"fields"`
	Lists  map[string][]map[string]string `json:"lists"` // payload.package, cylinder, stock, tick
	Files  []string                       `json:"files"` // names of files the plan wants beside it
}

func (s *server) deskRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/desk", s.desk)
	mux.HandleFunc("POST /api/desk", s.prepare)
	mux.HandleFunc("POST /api/desk/plan", s.deskPlan)
	mux.HandleFunc("POST /api/desk/files/{what}", s.deskFile)
}

func (s *server) desk(w http.ResponseWriter, r *http.Request) {
	s.reply(w, http.StatusOK, DeskStart{Example: prelaunch.ExamplePlan, List: prelaunch.DefaultList().Steps, Sheets: sounding.ShippedSheets()})
}

func (s *server) prepare(w http.ResponseWriter, r *http.Request) {
	in, err := s.deskInputs(w, r)
	if err != nil {
		s.failed(w, err)
		return
	}
	sheet, missing := prelaunch.Begun(in)
	s.reply(w, http.StatusOK, Desk{Sheet: sheet, Missing: list(missing), Chart: sheet.Chart(in.Areas), Placed: in.Record.Site.Latitude.Set() && in.Record.Site.Longitude.Set()})
}

// deskFile answers with one file that leaves the desk. The launch record can be had of an
// incomplete preparation, everything else only of a complete one.
func (s *server) deskFile(w http.ResponseWriter, r *http.Request) {
	in, err := s.deskInputs(w, r)
	if err != nil {
		s.failed(w, err)
		return
	}
	sheet, missing := prelaunch.Begun(in)
	what := r.PathValue("what")
	if what != "record" && len(missing) > 0 {
		s.failed(w, unfit(fmt.Errorf("this needs a complete preparation: %s", missing[0].Text)))
		return
	}
	release := sheet.Slot.Best
	if !sheet.Record.Release.Declared.IsZero() {
		release = sheet.Record.Release.Declared
	}
	var b bytes.Buffer
	ending := ""
	switch what {
	case "record":
		ending = ".launch.toml"
		b.Write(ingest.WriteRecord(sheet.Record))
	case "pdf":
		ending = ".sheet.pdf"
		err = sheet.PDF(&b, in.Areas, workbench.Version)
	case "html":
		ending = ".sheet.html"
		err = sheet.HTML(&b, in.Areas, workbench.Version)
	case "geojson":
		ending = ".track.geojson"
		b.Write(sheet.Drift.GeoJSON(release))
	case "kml":
		ending = ".track.kml"
		b.Write(sheet.Drift.KML(sheet.Site+" "+release.UTC().Format("2006-01-02 15:04 UTC"), release))
	case "label":
		ending = ".label.txt"
		b.WriteString(sheet.Label)
	default:
		err = &requestError{http.StatusNotFound, fmt.Errorf("the launch desk has no file %q: want record, pdf, html, geojson, kml or label", what)}
	}
	if err != nil {
		s.failed(w, err)
		return
	}
	name := "launch"
	if !release.IsZero() {
		name = release.UTC().Format("20060102-1504")
	}
	if sheet.Site != "" {
		name = sheet.Site + " " + name
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Disposition", attachment(strings.ReplaceAll(name, " ", "-")+ending))
	s.write(w, b.Bytes())
}

// deskInputs reads a preparation from a request. Errors of the plan are the client's to mend.
func (s *server) deskInputs(w http.ResponseWriter, r *http.Request) (prelaunch.Inputs, error) {
	var q DeskRequest
	in := prelaunch.Inputs{Zone: time.UTC, Formula: humidity.MurphyKoop}
	if err := readUpTo(w, r, &q, maxDeskBody); err != nil {
		return in, err
	}
	const name = "plan"
	recordText, planText := prelaunch.SplitPlan([]byte(q.Plan))
	var err error
	if in.Record, _, err = ingest.ReadRecord(name, recordText); err != nil {
		return in, unfit(err)
	}
	if in.Plan, err = prelaunch.ReadPlan(name, planText); err != nil {
		return in, unfit(err)
	}
	plan := in.Plan
	if plan.Zone != "" {
		if in.Zone, err = time.LoadLocation(plan.Zone); err != nil {
			return in, unfit(fmt.Errorf("time_zone %q: want a name such as Europe/Zurich", plan.Zone))
		}
	}
	file := func(name string) ([]byte, error) {
		for _, f := range q.Files {
			if f.Name == name || f.Name == path.Base(name) {
				return []byte(f.Text), nil
			}
		}
		return nil, unfit(fmt.Errorf("the plan names the file %s: choose it again, the browser does not open files by itself", name))
	}
	if name := in.Record.Radiosonde.Sheet; name != "" {
		sheet, _, err := sounding.ShippedSheet(name)
		if err != nil {
			return in, unfit(fmt.Errorf("radiosonde.sheet: %w", err))
		}
		if formula, err := humidity.ParseFormula(sheet.Humidity.Formula); err == nil {
			in.Formula = formula
		}
	}
	if plan.Fill.Table != "" {
		b, err := file(plan.Fill.Table)
		if err != nil {
			return in, err
		}
		if in.Table, err = gas.ReadTable(plan.Fill.Table, b); err != nil {
			return in, unfit(err)
		}
	}
	if plan.ListFile != "" {
		b, err := file(plan.ListFile)
		if err != nil {
			return in, err
		}
		if in.List, err = prelaunch.ReadList(plan.ListFile, b); err != nil {
			return in, unfit(err)
		}
	}
	for _, name := range plan.Areas.Files {
		b, err := file(name)
		if err != nil {
			return in, err
		}
		areas, err := prelaunch.ReadAreas(name, b)
		if err != nil {
			return in, unfit(err)
		}
		in.Areas = append(in.Areas, areas...)
	}
	switch {
	case q.WindFlight != "":
		o, _, err := s.bench.Open(r.Context(), q.WindFlight)
		if err != nil {
			return in, err
		}
		if in.Wind, err = prelaunch.FromFlight(o.Final); err != nil {
			return in, unfit(err)
		}
	case plan.Wind.Profile != "":
		b, err := file(plan.Wind.Profile)
		if err != nil {
			return in, err
		}
		if in.Wind, err = prelaunch.ReadProfile(plan.Wind.Profile, b, in.Record.Site.Latitude.Or(45)); err != nil {
			return in, unfit(err)
		}
	case plan.Wind.Flight != "":
		return in, unfit(errors.New("wind.flight names a source file: choose that flight from the logbook instead"))
	}
	if plan.NeedsFlights() {
		rows, err := s.bench.Rows(r.Context())
		if err != nil {
			return in, err
		}
		in.Flown = flownOf(rows)
	}
	if len(q.DragFlights) > 50 {
		return in, unfit(fmt.Errorf("%d flights for drag: want at most 50", len(q.DragFlights)))
	}
	purity := plan.Flights.Purity
	if purity == 0 {
		purity = plan.Fill.Purity
	}
	for _, id := range q.DragFlights {
		o, _, err := s.bench.Open(r.Context(), id)
		if err != nil {
			return in, err
		}
		flight, err := prelaunch.ObservedOf(o.Final, purity/100)
		if err != nil {
			in.Remarks = append(in.Remarks, prelaunch.Remark{About: "fill", Level: prelaunch.Note, Text: fmt.Sprintf("flight %s tells nothing of the drag: %v", o.Final.FlightName, err)})
			continue
		}
		in.Flights = append(in.Flights, flight)
	}
	return in, nil
}

// flownOf lists flights of the logbook as far as they use up stock.
func flownOf(rows []workbench.Row) []prelaunch.Flown {
	out := make([]prelaunch.Flown, len(rows))
	for i := range rows {
		out[i] = prelaunch.Flown{Site: rows[i].Site, At: rows[i].Release}
		if out[i].At.IsZero() {
			out[i].At = rows[i].Nominal
		}
	}
	return out
}

// deskPlan takes a plan file apart.
func (s *server) deskPlan(w http.ResponseWriter, r *http.Request) {
	var f DeskFile
	if err := readUpTo(w, r, &f, maxDeskBody); err != nil {
		s.failed(w, err)
		return
	}
	recordText, planText := prelaunch.SplitPlan([]byte(f.Text))
	record, _, err := ingest.ReadRecord(f.Name, recordText)
	if err != nil {
		s.failed(w, unfit(err))
		return
	}
	plan, err := prelaunch.ReadPlan(f.Name, planText)
	if err != nil {
		s.failed(w, unfit(err))
		return
	}
	out := DeskPlan{Fields: map[string]string{}, Lists: map[string][]map[string]string{}, Files: list(plan.Areas.Files)}
	for _, name := range []string{plan.Wind.Profile, plan.ListFile, plan.Fill.Table} {
		if name != "" {
			out.Files = append(out.Files, name)
		}
	}
	for _, f := range sounding.RecordFields {
		switch {
		case f.Number != nil:
			x := *f.Number(record)
			if !x.Set() {
				continue
			}
			key, v, decimals := f.Path, x.Value(), 4.0
			if base, ok := strings.CutSuffix(key, "_k"); ok {
				key, v = base+"_c", v-273.15
			}
			if f.Dimension == "latitude" || f.Dimension == "longitude" {
				decimals = 7
			}
			scale := math.Pow(10, decimals)
			out.Fields[key] = strconv.FormatFloat(math.Round(v*scale)/scale, 'f', -1, 64)
		case f.Instant != nil:
			if t := *f.Instant(record); !t.IsZero() {
				out.Fields[f.Path] = deskTime(t)
			}
		default:
			if text := *f.Text(record); text != "" {
				out.Fields[f.Path] = text
			}
		}
	}
	var rest map[string]any
	if err := toml.Unmarshal(planText, &rest); err != nil {
		s.failed(w, unfit(err)) // ReadPlan has read it: cannot be
		return
	}
	out.flatten("", rest)
	s.reply(w, http.StatusOK, out)
}

func deskTime(t time.Time) string {
	t = t.UTC()
	if t.Second() == 0 && t.Nanosecond() == 0 {
		return t.Format("2006-01-02 15:04")
	}
	return t.Format("2006-01-02 15:04:05")
}

// flatten files the tables of a plan's own part under the paths of their keys.
func (p *DeskPlan) flatten(prefix string, table map[string]any) {
	for key, v := range table {
		at := prefix + key
		switch v := v.(type) {
		case map[string]any:
			p.flatten(at+".", v)
		case []any:
			var texts []string
			for _, x := range v {
				if row, ok := x.(map[string]any); ok {
					flat := map[string]string{}
					for k, y := range row {
						flat[k] = deskText(y)
						if t, ok := y.(time.Time); ok && k != "at_utc" { // a tick keeps its instant as written
							flat[k] = deskTime(t)
						}
					}
					p.Lists[at] = append(p.Lists[at], flat)
				} else {
					texts = append(texts, deskText(x))
				}
			}
			if len(texts) > 0 {
				p.Fields[at] = strings.Join(texts, ", ")
			}
		default:
			p.Fields[at] = deskText(v)
		}
	}
}

func deskText(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case time.Time:
		return v.UTC().Format(time.RFC3339)
	}
	return fmt.Sprint(v)
}
