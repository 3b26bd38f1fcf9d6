package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
	"sync"
	"time"

	"leadline/internal/levels"
	"leadline/internal/plot"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// Options are what the page does not take from the flight.
type Options struct {
	Created  time.Time // instant written into the foot; zero leaves it out
	MostRows int       // most rows of the table of findings; 0 is 200
}

// HTML writes the page of an outcome. The same outcome and options give the same bytes.
func HTML(w io.Writer, o *workbench.Outcome, options Options) error {
	return Page(w, o.Final, &o.Levels, options)
}

// Page writes the page of a final flight and its levels.
func Page(w io.Writer, f *sounding.Final, table *levels.Set, options Options) error {
	if options.MostRows == 0 {
		options.MostRows = 200
	}
	v := newView(f, table, options)
	var b bytes.Buffer
	b.Grow(512 << 10)
	if err := page().Execute(&b, v); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

var page = sync.OnceValue(func() *template.Template { return template.Must(template.New("page").Parse(pageText)) })

// view is what the template shows. Every text in it is escaped by the template; charts
// are made by package plot, which escapes its own.
type view struct {
	Title, Site, Name string
	Style             template.CSS
	Shape, Verdict    string
	VerdictLine       string
	Reasons           []string
	SignOff           string
	Summary           []string
	Events            []eventRow
	End               string
	Record            []recordRow
	RecordMissing     string
	Ticks             []tickRow
	Profiles          template.HTML
	Diagram           template.HTML
	Hodograph         template.HTML
	Track             template.HTML
	DiagramNote       string
	Findings          []findingRow
	FindingsMore      int
	Corrections       []correctionRow
	NotRun            []notRunRow
	Ran               int
	Decisions         []decisionRow
	Levels            []levelRow
	Tropopauses       string
	Uncertainty       *uncertaintyTable
	Tallies           []tallyRow
	Sources           []sourceRow
	MethodSet         string
	Sheet             string
	Created           string
}

func newView(f *sounding.Final, table *levels.Set, o Options) *view {
	v := &view{Name: f.FlightName, Style: template.CSS(plot.Style + pageStyle), Summary: f.Summary, MethodSet: f.MethodSet, End: f.Events.End}
	v.Title = f.FlightName
	if f.Record != nil && f.Record.Site.Name != "" {
		v.Site = f.Record.Site.Name
	}
	v.Verdict, v.VerdictLine, v.Reasons = f.Verdict.Word, f.Verdict.Line, f.Verdict.Reasons
	v.Shape = shapes[f.Verdict.Word]
	v.SignOff = signOffLine(&f.SignOff)
	if f.Sheet != nil {
		v.Sheet = f.Sheet.Name
		if f.Sheet.Title != "" {
			v.Sheet += ": " + f.Sheet.Title
		}
	}
	if !o.Created.IsZero() {
		v.Created = o.Created.UTC().Format("2006-01-02 15:04 UTC")
	}
	p := newProfile(f)
	v.Events = eventRows(f)
	v.Record, v.RecordMissing = recordRows(f)
	v.Ticks = tickRows(f)
	v.Findings, v.FindingsMore = findingRows(f, o.MostRows)
	v.Corrections = correctionRows(f)
	v.NotRun, v.Ran = runRows(f)
	v.Decisions = decisionRows(f)
	v.Levels, v.Tropopauses = levelRows(table), table.Tropopauses
	v.Uncertainty = uncertainties(p)
	v.Tallies = tallies(p)
	v.Sources = sourceRows(f)
	v.Profiles = template.HTML(p.profiles(table))
	v.Diagram, v.DiagramNote = p.diagram(table)
	v.Hodograph = template.HTML(p.hodograph())
	v.Track = template.HTML(p.track())
	return v
}

var shapes = map[string]string{sounding.Accept: "○", sounding.Look: "△", sounding.Refuse: "✕"}

// signOffLine says whether somebody answers for the flight, and for which methods and values.
func signOffLine(s *sounding.SignOff) string {
	line := s.Line()
	line = strings.ToUpper(line[:1]) + line[1:] + "."
	if g := s.Signature; g != nil {
		line += fmt.Sprintf(" Signed with method set %s, verdict %s, %d findings open, digest %s.", g.MethodSet, g.Verdict, g.Open, g.Digest)
	}
	return line
}
