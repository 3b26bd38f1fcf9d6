package api

import (
	"fmt"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"time"

	"leadline/internal/levels"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// Logbook is the list of flights, worst first.
type Logbook struct {
	Version string          `json:"version"`
	Flights []workbench.Row `json:"flights"`
}

// Flight is everything about one flight but its columns.
type Flight struct {
	ID        string                 `json:"id"`
	Name      string                 `json:"name"`
	Revision  int                    `json:"revision"`
	Rows      int                    `json:"rows"`
	Zero      string                 `json:"zero_utc"` // instant of time_s = 0: the release, once found
	Summary   []string               `json:"summary"`
	Verdict   sounding.Verdict       `json:"verdict"`
	Events    sounding.Events        `json:"events"`
	Record    []RecordItem           `json:"record"`
	Ticks     []sounding.Tick        `json:"ticks"` // of the launch list, as the launch record has them
	Findings  []sounding.Finding     `json:"findings"`
	Decisions []sounding.Decision    `json:"decisions"`
	Steps     []sounding.Step        `json:"steps"`
	Runs      []sounding.CheckRun    `json:"runs"`
	Levels    levels.Set             `json:"levels"`
	Profiles  []sounding.ProfileKind `json:"profiles"` // that the flight can give
	Tallies   []workbench.Tally      `json:"tallies"`
	Sheet     SheetName              `json:"sheet"`
	Sources   []sounding.Source      `json:"sources"`
	Variables []Variable             `json:"variables"` // that the flight holds, in fixed order
	MethodSet string                 `json:"method_set"`
	SignOff   sounding.SignOff       `json:"sign_off"`
	History   []workbench.Ruling     `json:"history"` // every step in order
	Undo      string                 `json:"undo"`    // the decision undo would take back, "" for none
	Redo      string                 `json:"redo"`    // the decision redo would put back, "" for none
}

// RecordItem is one item of the launch record in force, as text with its unit.
type RecordItem struct {
	Path    string `json:"path"`
	Label   string `json:"label"`
	Unit    string `json:"unit"`  // "" for texts and instants
	Value   string `json:"value"` // "" where it is not set
	Given   string `json:"given"` // before decisions corrected it; "" where the operator gave nothing
	Instant bool   `json:"instant"`
}

// SheetName is an instrument sheet in short.
type SheetName struct {
	Name  string `json:"name"` // "" where none is known
	Title string `json:"title"`
}

// Variable says what a variable of the columns is called and measured in.
type Variable struct {
	Name    sounding.Variable `json:"name"`
	Label   string            `json:"label"`
	Unit    string            `json:"unit"`
	Profile bool              `json:"profile"`
}

func (s *server) logbook(w http.ResponseWriter, r *http.Request) {
	rows, err := s.bench.Rows(r.Context())
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, Logbook{Version: workbench.Version, Flights: list(rows)})
}

func (s *server) flight(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	o, revision, err := s.bench.Open(r.Context(), id)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, flightOf(id, o, revision))
}

func flightOf(id string, o *workbench.Outcome, revision int) Flight {
	f := o.Final
	out := Flight{
		ID: id, Name: f.FlightName, Revision: revision, Rows: f.Len(), Zero: stamp(f.Epoch),
		Summary: list(f.Summary), Verdict: f.Verdict, Events: f.Events, Record: recordItems(o), Ticks: []sounding.Tick{},
		Findings: list(f.Findings), Decisions: list(f.Decisions), Steps: list(f.Steps), Runs: list(f.Runs), Levels: o.Levels,
		Profiles: profilesOf(f), Sources: list(f.Sources), Variables: []Variable{}, MethodSet: f.MethodSet,
		SignOff: f.SignOff, History: list(o.History),
	}
	now := workbench.Replay(slices.Clone(o.History))
	out.Undo, out.Redo = now.Undo, now.Redo
	if o.Record != nil {
		out.Ticks = list(o.Record.Ticks)
	}
	set := o.Settings
	if set == nil {
		set = workbench.DefaultSettings()
	}
	out.Tallies = list(set.Tallies(f))
	if f.Sheet != nil {
		out.Sheet = SheetName{f.Sheet.Name, f.Sheet.Title}
	}
	for _, v := range sounding.Variables() {
		if f.Get(v) != nil || f.Before.Get(v) != nil {
			i := v.Info()
			out.Variables = append(out.Variables, Variable{v, i.Label, i.Unit, i.Profile})
		}
	}
	return out
}

// list returns an empty list for nil, so that the screens need not tell them apart.
func list[T any](x []T) []T {
	if x == nil {
		return []T{}
	}
	return x
}

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2006-01-02T15:04:05.000Z")
}

func recordItems(o *workbench.Outcome) []RecordItem {
	out := make([]RecordItem, 0, len(sounding.RecordFields))
	for _, f := range sounding.RecordFields {
		item := RecordItem{Path: f.Path, Label: f.Label, Unit: workbench.ItemUnit(f), Value: workbench.ItemText(f, o.Record), Instant: f.Instant != nil}
		if o.Inputs.Record != nil {
			item.Given = workbench.ItemText(f, o.Inputs.Record)
		}
		out = append(out, item)
	}
	return out
}

func (s *server) trail(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	v, err := sounding.ParseVariable(q.Get("variable"))
	if err != nil || v == sounding.NoVariable {
		s.failed(w, unfit(fmt.Errorf("variable=%q: want the name of a variable such as temperature", q.Get("variable"))))
		return
	}
	t, err := strconv.ParseFloat(q.Get("time_s"), 64)
	if err != nil {
		s.failed(w, unfit(fmt.Errorf("time_s=%q: want seconds since release", q.Get("time_s"))))
		return
	}
	o, _, err := s.bench.Open(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	trail, ok := o.Trail(v, t)
	if !ok {
		s.failed(w, &requestError{http.StatusNotFound, fmt.Errorf("the flight has no %s at that time", v)})
		return
	}
	trail.Tests, trail.Passed, trail.NotRun = list(trail.Tests), list(trail.Passed), list(trail.NotRun)
	trail.Entries, trail.Findings, trail.Decisions = list(trail.Entries), list(trail.Findings), list(trail.Decisions)
	s.reply(w, http.StatusOK, trail)
}

// source hands out the bytes exactly as they were received.
func (s *server) source(w http.ResponseWriter, r *http.Request) {
	id, sum := r.PathValue("id"), r.PathValue("sha256")
	f, err := s.bench.Stored(r.Context(), id)
	if err != nil {
		s.failed(w, err)
		return
	}
	for _, src := range f.Sources {
		if src.Source.SHA256 != sum {
			continue
		}
		w.Header().Set("Content-Type", "application/octet-stream")
		w.Header().Set("Content-Disposition", attachment(src.Source.Name))
		w.Header().Set("Content-Length", strconv.Itoa(len(src.Source.Bytes)))
		s.write(w, src.Source.Bytes)
		return
	}
	s.failed(w, &requestError{http.StatusNotFound, fmt.Errorf("flight %s has no source with SHA-256 %s", id, sum)})
}

// attachment names a download; a name that cannot stand in a header is left out.
func attachment(name string) string {
	if v := mime.FormatMediaType("attachment", map[string]string{"filename": name}); v != "" {
		return v
	}
	return "attachment"
}
