package export

import (
	"encoding/json"
	"io"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// JSON writes the report of a flight: everything but the profile itself. Fields stand
// in a fixed order, missing numbers are null, units are in the names of the fields.
func JSON(w io.Writer, f *Flight) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(newReport(f))
}

// ReportFormat names the layout of the JSON report. It changes when a field changes
// its meaning or goes away, not when one is added.
const ReportFormat = "leadline-report/1"

type report struct {
	Format      string                    `json:"format"`
	Flight      string                    `json:"flight"`
	Created     string                    `json:"created_utc,omitempty"`
	MethodSet   string                    `json:"method_set"`
	Verdict     sounding.Verdict          `json:"verdict"`
	SignOff     sounding.SignOff          `json:"sign_off"`
	Summary     []string                  `json:"summary"`
	Events      eventsReport              `json:"events"`
	Record      *sounding.LaunchRecord    `json:"launch_record"`
	Findings    []sounding.Finding        `json:"findings"`
	Corrections []Correction              `json:"corrections"`
	Checks      []sounding.CheckRun       `json:"check_runs"`
	Decisions   []sounding.Decision       `json:"decisions"`
	Tallies     []tally                   `json:"flags"`
	Levels      any                       `json:"levels"`
	Grids       []gridNote                `json:"grids"`
	Sources     []sounding.Source         `json:"sources"`
	Sheet       *sounding.InstrumentSheet `json:"instrument_sheet"`
	Formulas    []string                  `json:"formula_set"`
	Settings    any                       `json:"settings,omitempty"`
	Units       []unitNote                `json:"variables"`
}

type eventsReport struct {
	Release eventReport          `json:"release"`
	Burst   eventReport          `json:"burst"`
	Top     eventReport          `json:"top"`
	Landing eventReport          `json:"landing"`
	End     string               `json:"end"`
	Phases  []sounding.PhaseSpan `json:"phases"`
}

// eventReport is an event whose members are null where it was not found.
type eventReport struct {
	Found       bool            `json:"found"`
	UTC         *string         `json:"utc"`
	Uncertainty sounding.Number `json:"u_s"`
	Line        *int            `json:"source_line"`
	Row         *int            `json:"row"`
	Time        sounding.Number `json:"time_s"`
	Height      sounding.Number `json:"height_m_msl"`
	Pressure    sounding.Number `json:"pressure_hpa"`
	Method      string          `json:"method"`
}

func eventOf(e *sounding.Event) eventReport {
	r := eventReport{Uncertainty: sounding.NotSet, Time: sounding.NotSet, Height: sounding.NotSet, Pressure: sounding.NotSet, Method: e.Method}
	if e.Found {
		utc, line, row := instant(e.UTC.Round(time.Millisecond)), e.Line, e.Row
		r = eventReport{true, &utc, e.Uncertainty, &line, &row, e.Time, e.Height, e.Pressure, e.Method}
	}
	return r
}

// tally counts flags along the whole flight and along the ascent.
type tally struct {
	Variable sounding.Variable `json:"variable"`
	Flight   counts            `json:"flight"`
	Ascent   counts            `json:"ascent"`
}

type counts struct {
	Rows         int `json:"rows"`
	Good         int `json:"good"`
	NotEvaluated int `json:"not_evaluated"`
	Questionable int `json:"questionable"`
	Bad          int `json:"bad"`
	Missing      int `json:"missing"`
}

func count(s *sounding.Series, span sounding.Span) counts {
	var n [10]int
	for i := span.From; i < span.To; i++ {
		n[flagAt(s, i)%10]++
	}
	return counts{span.Len(), n[quality.Good], n[quality.NotEvaluated], n[quality.Questionable], n[quality.Bad], n[quality.Missing]}
}

type unitNote struct {
	Variable     sounding.Variable `json:"variable"`
	Symbol       string            `json:"symbol"` // name in netCDF files
	Column       string            `json:"column"` // name in CSV files
	Label        string            `json:"label"`
	Unit         string            `json:"unit"`
	StandardName string            `json:"standard_name,omitempty"`
}

type gridNote struct {
	By   string          `json:"by"`
	Step sounding.Number `json:"step"`
	Unit string          `json:"unit"`
	Rows int             `json:"rows"`
	Rule string          `json:"rule"`
}

func newReport(f *Flight) *report {
	final := f.Final
	ev := &final.Events
	r := &report{Format: ReportFormat, Flight: final.FlightName, MethodSet: final.MethodSet, Verdict: final.Verdict, SignOff: final.SignOff, Summary: list(final.Summary),
		Events: eventsReport{eventOf(&ev.Release), eventOf(&ev.Burst), eventOf(&ev.Top), eventOf(&ev.Landing), ev.End, list(ev.Phases)},
		Record: final.Record, Findings: list(final.Findings), Corrections: Corrections(final), Checks: list(final.Runs), Decisions: list(final.Decisions),
		Levels: f.Levels, Sources: list(final.Sources), Sheet: final.Sheet, Formulas: f.formulas(), Settings: f.Settings, Grids: []gridNote{}}
	r.Verdict.Reasons = list(r.Verdict.Reasons)
	if f.Levels.Levels == nil {
		levels := f.Levels
		levels.Levels = list(levels.Levels)
		r.Levels = levels
	}
	if !f.Created.IsZero() {
		r.Created = instant(f.Created)
	}
	whole := sounding.Span{From: 0, To: final.Len()}
	for _, s := range series(&final.Columns) {
		i := s.Variable.Info()
		r.Units = append(r.Units, unitNote{s.Variable, i.Symbol, s.Variable.Column(), i.Label, i.Unit, i.StandardName})
		if i.Profile {
			r.Tallies = append(r.Tallies, tally{s.Variable, count(s, whole), count(s, ev.Ascent().Clip(whole))})
		}
	}
	r.Units, r.Tallies = list(r.Units), list(r.Tallies)
	for i := range f.Grids {
		g := &f.Grids[i]
		r.Grids = append(r.Grids, gridNote{g.By, sounding.Number(g.Step), gridUnit(g), len(g.Coordinate), g.Rule})
	}
	return r
}

// list makes a nil slice an empty one: [] in JSON, not null.
func list[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}
