package workbench

import (
	"math"
	"sort"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// SketchPoints is the number of heights of a row's sketches, evenly spaced from 0 to SketchTop.
const SketchPoints = 60

// SketchTop is the height the sketches end at, m above mean sea level.
const SketchTop = 36000.0

// rowOf makes the logbook's line of an outcome.
func rowOf(o *Outcome, id string, revision int) Row {
	f := o.Final
	r := Row{ID: id, Name: f.FlightName, Site: o.Record.Site.Name, Nominal: o.Record.Release.Nominal, Top: f.Events.Top.Height,
		TopHPa: sounding.Number(topPressure(f)), Verdict: f.Verdict.Word, Line: f.Verdict.Line, Reasons: f.Verdict.Reasons,
		Findings: map[string]int{}, State: sounding.StateNew, Revision: revision, MethodSet: f.MethodSet, Serial: o.Record.Radiosonde.Serial,
		Sheet: o.Record.Radiosonde.Sheet, Summary: f.Summary}
	if f.Events.Release.Found {
		r.Release = f.Events.Release.UTC
	}
	for _, finding := range OpenFindings(f) {
		r.Findings[finding.Variable.String()]++
		r.Open++
	}
	for _, d := range f.Decisions {
		if d.Revoked == nil {
			r.Decisions++
			r.Reviewer = d.Who
		}
	}
	if f.Sheet != nil {
		r.Sheet = f.Sheet.Name
	}
	for _, d := range inForce(f.Decisions) {
		if d.Action == sounding.ActChooseSheet {
			r.ChosenSheet = d.Field
		}
		if d.Action == sounding.ActChooseSettings {
			r.ChosenSettings = d.Field
		}
	}
	if f.SignOff.State != "" {
		r.State = f.SignOff.State
	}
	if s := f.SignOff.Signature; s != nil {
		r.Signer, r.Signed, r.SignedBy = s.Who, s.When, s.MethodSet
	}
	for _, s := range f.Sources {
		r.Sources = append(r.Sources, s.Name)
	}
	r.SketchT, r.SketchRH = sketch(f, sounding.Temperature), sketch(f, sounding.Humidity)
	return r
}

// sketch returns the usable samples of v nearest to SketchPoints heights of the ascent,
// null where there is none within half a step.
func sketch(f *sounding.Final, v sounding.Variable) []sounding.Number {
	out := make([]sounding.Number, SketchPoints)
	for i := range out {
		out[i] = sounding.NotSet
	}
	s, z := f.Get(v), f.Values(sounding.HeightMSL)
	if s == nil || z == nil {
		return out
	}
	const step = SketchTop / (SketchPoints - 1)
	var off [SketchPoints]float64
	span := f.Events.Ascent()
	for i := span.From; i < span.To; i++ {
		if s.Flags[i] == quality.Bad || s.Flags[i] == quality.Missing || math.IsNaN(z[i]) {
			continue
		}
		k := int(math.Round(z[i] / step))
		if k < 0 || k >= SketchPoints {
			continue
		}
		if d := math.Abs(z[i] - float64(k)*step); !out[k].Set() || d < off[k] {
			out[k], off[k] = sounding.Number(math.Round(s.Values[i]*10)/10), d
		}
	}
	return out
}

var verdictRank = map[string]int{sounding.Refuse: 0, sounding.Look: 1, sounding.Accept: 2}

// SortWorstFirst orders rows: those that could not be processed, refuse, look, accept;
// within one verdict more open findings first, then the newest.
func SortWorstFirst(rows []Row) {
	sort.SliceStable(rows, func(i, j int) bool {
		a, b := rows[i], rows[j]
		if (a.Error != "") != (b.Error != "") {
			return a.Error != ""
		}
		if ra, rb := verdictRank[a.Verdict], verdictRank[b.Verdict]; ra != rb {
			return ra < rb
		}
		if a.Open != b.Open {
			return a.Open > b.Open
		}
		return a.Release.After(b.Release)
	})
}
