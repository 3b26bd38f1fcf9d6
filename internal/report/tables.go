package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"leadline/internal/export"
	"leadline/internal/levels"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// fixed writes a number with fixed decimals and a true minus sign, an en dash where it is
// not known.
func fixed(x float64, decimals int) string {
	if x != x || math.IsInf(x, 0) {
		return "–"
	}
	s := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	if x < 0 && strings.Trim(s, "0.") != "" {
		return "−" + s
	}
	return s
}

// significant writes a number with three significant digits.
func significant(x float64) string {
	if x != x || math.IsInf(x, 0) {
		return ""
	}
	if x == 0 {
		return "0"
	}
	decimals := 2 - int(math.Floor(math.Log10(math.Abs(x))))
	return fixed(x, max(0, min(6, decimals)))
}

// shown is a unit as people write it, and how values of it are turned for the page.
type shown struct {
	unit     string
	decimals int
	shift    float64
}

func showing(v sounding.Variable) shown {
	switch v.Info().Unit {
	case "hPa":
		return shown{"hPa", 2, 0}
	case "K":
		if v == sounding.PotentialTemperature {
			return shown{"K", 1, 0}
		}
		return shown{"°C", 2, zeroC}
	case "%":
		return shown{"%", 1, 0}
	case "m s-1":
		return shown{"m/s", 2, 0}
	case "degree":
		return shown{"°", 1, 0}
	case "degrees_north", "degrees_east":
		return shown{"°", 5, 0}
	case "m":
		return shown{"m", 1, 0}
	}
	return shown{unitText(v.Info().Unit), 3, 0}
}

func unitText(u string) string {
	switch u {
	case "m s-1":
		return "m/s"
	case "degree", "degrees_north", "degrees_east":
		return "°"
	case "g kg-1":
		return "g/kg"
	case "1":
		return ""
	}
	return u
}

type eventRow struct {
	Name, UTC, Uncertainty, Elapsed, Height, Pressure, Line, Method string
}

func eventRows(f *sounding.Final) []eventRow {
	var out []eventRow
	if f.Record != nil && !f.Record.Release.Declared.IsZero() {
		out = append(out, eventRow{Name: "release, declared", UTC: clock(f.Record.Release.Declared), Method: "launch record"})
	}
	for _, e := range []struct {
		name string
		e    *sounding.Event
	}{{"release", &f.Events.Release}, {"burst", &f.Events.Burst}, {"highest point", &f.Events.Top}, {"landing", &f.Events.Landing}} {
		if !e.e.Found {
			if e.name == "release" || e.name == "burst" {
				out = append(out, eventRow{Name: e.name, UTC: "not found", Method: e.e.Method})
			}
			continue
		}
		if e.name == "highest point" && f.Events.Burst.Found && f.Events.Burst.Row == e.e.Row {
			continue
		}
		out = append(out, eventRow{Name: e.name, UTC: clock(e.e.UTC), Uncertainty: fixed(e.e.Uncertainty.Value(), 1), Elapsed: elapsed(e.e.Time.Value()),
			Height: fixed(e.e.Height.Value(), 0), Pressure: fixed(e.e.Pressure.Value(), 1), Line: strconv.Itoa(e.e.Line), Method: e.e.Method})
	}
	return out
}

func clock(t time.Time) string { return t.UTC().Format("2006-01-02 15:04:05.0") }

// elapsed writes seconds as minutes and seconds.
func elapsed(s float64) string {
	if s != s {
		return "–"
	}
	sign := ""
	whole := int(math.Round(s))
	if whole < 0 {
		sign, whole = "−", -whole
	}
	return fmt.Sprintf("%s%d:%02d", sign, whole/60, whole%60)
}

type recordRow struct {
	Label, Value string
	Findings     []recordFinding
}

// recordFinding is a finding on an item; Weighty ones set more than a note.
type recordFinding struct {
	Text    string
	Weighty bool
}

// recordRows lists the items of the launch record that are set or that a finding names,
// and says how many others are not given.
func recordRows(f *sounding.Final) (rows []recordRow, missing string) {
	about := map[string][]recordFinding{}
	for _, g := range f.Findings {
		if g.Field != "" {
			about[g.Field] = append(about[g.Field], recordFinding{severityShapes[g.Severity] + " " + g.Sentence, g.Severity > sounding.Note})
		}
	}
	if f.Record == nil {
		return nil, "There is no launch record."
	}
	unset := 0
	for _, item := range sounding.RecordFields {
		value := ""
		switch {
		case item.Number != nil && item.Number(f.Record).Set():
			value = recordNumber(item, item.Number(f.Record).Value())
		case item.Text != nil:
			value = *item.Text(f.Record)
		case item.Instant != nil && !item.Instant(f.Record).IsZero():
			value = item.Instant(f.Record).UTC().Format("2006-01-02 15:04:05 UTC")
		}
		if value == "" {
			unset++
			if about[item.Path] == nil {
				continue
			}
		}
		rows = append(rows, recordRow{item.Label, value, about[item.Path]})
	}
	if unset > 0 {
		missing = fmt.Sprintf("%d of %d items are not given.", unset, len(sounding.RecordFields))
	}
	return rows, missing
}

type tickRow struct{ UTC, Who, Text, Note string }

// tickRows returns the steps of the launch list that were ticked before the release.
func tickRows(f *sounding.Final) []tickRow {
	if f.Record == nil {
		return nil
	}
	var rows []tickRow
	for _, t := range f.Record.Ticks {
		text := t.Text
		if text == "" {
			text = t.Step
		}
		at := ""
		if !t.At.IsZero() {
			at = t.At.UTC().Format("2006-01-02 15:04:05")
		}
		rows = append(rows, tickRow{at, t.Who, text, t.Note})
	}
	return rows
}

// recordNumber writes a number of the launch record with the unit its key names.
func recordNumber(item sounding.RecordField, x float64) string {
	switch item.Dimension {
	case "pressure":
		return fixed(x, 2) + " hPa"
	case "temperature":
		return fixed(x-zeroC, 2) + " °C"
	case "humidity":
		return fixed(x, 1) + " %"
	case "speed":
		return fixed(x, 1) + " m/s"
	case "angle":
		return fixed(x, 0) + "°"
	case "latitude", "longitude":
		return fixed(x, 5) + "°"
	case "length":
		return fixed(x, 1) + " m"
	case "mass":
		return fixed(x, 3) + " kg"
	case "frequency":
		return fixed(x, 3) + " MHz"
	}
	return significant(x)
}

type findingRow struct {
	Severity, Shape, Check, Where, Time, Lines, Height, Measured, Limit, Sentence, State string
}

// severityShapes are the marks of flags on the page: never colour alone.
var severityShapes = map[sounding.Severity]string{sounding.Note: "·", sounding.Questionable: "○", sounding.Bad: "✕"}

// findingRows lists findings, the weightier first, in the order they were made; more is
// how many there was no room for.
func findingRows(f *sounding.Final, most int) (rows []findingRow, more int) {
	for severity := int(sounding.Bad); severity >= 0; severity-- {
		for i := range f.Findings {
			g := &f.Findings[i]
			if int(g.Severity) != severity {
				continue
			}
			if len(rows) >= most {
				more++
				continue
			}
			unit := unitText(g.Unit)
			if unit != "" && unit != "°" {
				unit = " " + unit
			}
			r := findingRow{Severity: g.Severity.String(), Shape: severityShapes[g.Severity], Check: g.Check.String(), Sentence: g.Sentence, State: g.State}
			switch {
			case g.Variable != sounding.NoVariable:
				r.Where = lowerFirst(g.Variable.Info().Label)
			case g.Field != "":
				r.Where = "launch record: " + label(g.Field)
			default:
				r.Where = "flight"
			}
			if m := significant(g.Measured.Value()); m != "" {
				r.Measured = m + unit
			}
			if m := significant(g.Limit.Value()); m != "" {
				r.Limit = m + unit
			}
			if g.FirstTime.Set() {
				r.Time = elapsed(g.FirstTime.Value())
				if g.LastTime != g.FirstTime {
					r.Time += " to " + elapsed(g.LastTime.Value())
				}
			}
			if g.FirstLine > 0 {
				r.Lines = strconv.Itoa(g.FirstLine)
				if g.LastLine != g.FirstLine {
					r.Lines += "–" + strconv.Itoa(g.LastLine)
				}
			}
			if g.Bottom.Set() {
				r.Height = fixed(g.Bottom.Value()/1000, 2)
				if g.Top != g.Bottom {
					r.Height += " – " + fixed(g.Top.Value()/1000, 2)
				}
			}
			rows = append(rows, r)
		}
	}
	return rows, more
}

func label(field string) string {
	if f, ok := sounding.FieldByPath(field); ok {
		return f.Label
	}
	return field
}

type correctionRow struct {
	Method, Kind, Variable, Unit, Changed, Min, Mean, Max, RMS, Note, Coefficients string
}

func correctionRows(f *sounding.Final) []correctionRow {
	var out []correctionRow
	for _, c := range export.Corrections(f) {
		s := showing(c.Variable)
		unit := s.unit
		if s.shift != 0 {
			unit = "K"
		}
		r := correctionRow{Method: c.Method, Kind: string(c.Kind), Variable: lowerFirst(c.Variable.Info().Label), Unit: unit, Changed: strconv.Itoa(c.Changed),
			Min: fixed(c.Min.Value(), s.decimals), Mean: fixed(c.Mean.Value(), s.decimals), Max: fixed(c.Max.Value(), s.decimals), RMS: fixed(c.RMS.Value(), s.decimals), Note: c.Note}
		if c.Filled > 0 {
			r.Changed += fmt.Sprintf(", %d new", c.Filled)
		}
		if c.Removed > 0 {
			r.Changed += fmt.Sprintf(", %d removed", c.Removed)
		}
		var list []string
		for _, k := range c.Coefficients {
			text := k.Name
			if k.Value.Set() {
				text += " " + significant(k.Value.Value())
				if k.Unit != "" && k.Unit != "1" {
					text += " " + unitText(k.Unit)
				}
			}
			if k.Source != "" {
				text += " (" + k.Source + ")"
			}
			list = append(list, text)
		}
		r.Coefficients = strings.Join(list, "; ")
		out = append(out, r)
	}
	return out
}

type notRunRow struct{ Check, Variable, Why string }

func runRows(f *sounding.Final) (notRun []notRunRow, ran int) {
	for _, r := range f.Runs {
		if r.Ran {
			ran++
			continue
		}
		name := lowerFirst(r.Variable.Info().Label)
		if r.Variable == sounding.NoVariable {
			name = ""
		}
		notRun = append(notRun, notRunRow{r.Check.String(), name, r.Why})
	}
	return notRun, ran
}

type decisionRow struct{ ID, What, On, From, To, Reason, Who, When, Revoked string }

func decisionRows(f *sounding.Final) []decisionRow {
	var out []decisionRow
	for _, d := range f.Decisions {
		r := decisionRow{ID: d.ID, What: string(d.Action), Reason: d.Reason, Who: d.Who}
		var on []string
		for _, v := range d.Variables {
			on = append(on, lowerFirst(v.Info().Label))
		}
		if d.Field != "" && d.Action != sounding.ActChooseSheet {
			on = append(on, label(d.Field))
		}
		r.On = strings.Join(on, ", ")
		if d.Value != "" {
			r.What += " " + d.Value
		}
		if list := d.Intervals(); len(list) > 0 {
			r.From, r.To = list[0].From.UTC().Format("15:04:05"), list[len(list)-1].To.UTC().Format("15:04:05")
			if len(list) > 1 {
				r.On += fmt.Sprintf(", in %d spans", len(list))
			}
		}
		if d.Group != "" {
			r.What += " (" + d.Group + ", for many flights)"
		}
		if !d.When.IsZero() {
			r.When = d.When.UTC().Format("2006-01-02 15:04")
		}
		if d.Revoked != nil {
			r.Revoked = fmt.Sprintf("revoked by %s %s: %s", d.Revoked.Who, d.Revoked.When.UTC().Format("2006-01-02 15:04"), d.Revoked.Reason)
		}
		out = append(out, r)
	}
	return out
}

type levelRow struct {
	Kinds, Pressure, Height, Temperature, DewPoint, Humidity, Direction, Speed, Flag string
}

// levelRows lists surface, standard levels, tropopauses, freezing level, maximum winds and
// the top: significant levels alone are left to the files.
func levelRows(table *levels.Set) []levelRow {
	const wanted = levels.Surface | levels.Standard | levels.Tropopause | levels.MaximumWind | levels.Freezing | levels.Top
	var out []levelRow
	for _, l := range table.Levels {
		if l.Kind&wanted == 0 {
			continue
		}
		p := fixed(l.Pressure.Value(), 1)
		if l.Kind.Has(levels.Standard) {
			p = fixed(l.Pressure.Value(), 0)
		}
		flag := ""
		switch l.Flag {
		case quality.Questionable:
			flag = "○ questionable"
		case quality.Bad:
			flag = "✕ bad"
		case quality.NotEvaluated:
			flag = "not evaluated"
		}
		out = append(out, levelRow{strings.Join((l.Kind & wanted).Words(), ", "), p, fixed(l.Geopotential.Value(), 0), fixed(l.Temperature.Value()-zeroC, 1),
			fixed(l.DewPoint.Value()-zeroC, 1), fixed(l.Humidity.Value(), 0), fixed(l.Direction.Value(), 0), fixed(l.Speed.Value(), 1), flag})
	}
	return out
}

type uncertaintyTable struct {
	Axis  string
	Heads []string
	Rows  []uncertaintyRow
}

type uncertaintyRow struct {
	Band  string
	Cells []string
}

// uncertainties gives the root mean square of the standard uncertainty and of its two
// parts by layers, over samples that are not bad.
func uncertainties(p *profile) *uncertaintyTable {
	bands := []float64{0, 2, 5, 10, 15, 20, 25, 30, 40}
	if p.unit != "km" {
		return nil
	}
	t := &uncertaintyTable{Axis: p.axis}
	var list []*sounding.Series
	for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.DewPoint, sounding.WindSpeed, sounding.WindDirection, sounding.HeightMSL} {
		s := p.f.Get(v)
		if s == nil || s.Independent == nil && s.Common == nil {
			continue
		}
		unit := showing(v).unit
		if showing(v).shift != 0 {
			unit = "K"
		}
		list = append(list, s)
		t.Heads = append(t.Heads, lowerFirst(v.Info().Label)+", "+unit)
	}
	for b := 0; b+1 < len(bands); b++ {
		row := uncertaintyRow{Band: fmt.Sprintf("%g – %g", bands[b], bands[b+1])}
		any := false
		for _, s := range list {
			var total, independent, common, n float64
			for i, y := range p.y {
				k := p.span.From + i
				u := s.Total(k)
				if !(y >= bands[b] && y < bands[b+1]) || u != u || flagOf(s, k) == quality.Bad || flagOf(s, k) == quality.Missing {
					continue
				}
				n++
				total += u * u
				if s.Independent != nil && s.Independent[k] == s.Independent[k] {
					independent += s.Independent[k] * s.Independent[k]
				}
				if s.Common != nil && s.Common[k] == s.Common[k] {
					common += s.Common[k] * s.Common[k]
				}
			}
			if n == 0 {
				row.Cells = append(row.Cells, "–")
				continue
			}
			any = true
			rms := func(x float64) string {
				x = math.Sqrt(x / n)
				decimals := 2
				if x >= 10 {
					decimals = 0
				} else if x >= 1 {
					decimals = 1
				}
				return fixed(x, decimals)
			}
			row.Cells = append(row.Cells, fmt.Sprintf("%s (%s, %s)", rms(total), rms(independent), rms(common)))
		}
		if any {
			t.Rows = append(t.Rows, row)
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return t
}

type tallyRow struct{ Variable, Rows, Good, NotEvaluated, Questionable, Bad, Missing string }

// tallies counts flags over the rows that the charts show.
func tallies(p *profile) []tallyRow {
	var out []tallyRow
	for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.DewPoint, sounding.WindSpeed, sounding.WindDirection, sounding.HeightMSL, sounding.GeopotentialHeight} {
		s := p.f.Get(v)
		if s == nil {
			continue
		}
		var n [10]int
		for i := p.span.From; i < p.span.To; i++ {
			n[flagOf(s, i)%10]++
		}
		c := func(f quality.Flag) string { return strconv.Itoa(n[f]) }
		out = append(out, tallyRow{lowerFirst(v.Info().Label), strconv.Itoa(p.span.Len()), c(quality.Good), c(quality.NotEvaluated), c(quality.Questionable), c(quality.Bad), c(quality.Missing)})
	}
	return out
}

type sourceRow struct{ Name, SHA256, Bytes, Rows, Unread, Recipe, First, Last string }

func sourceRows(f *sounding.Final) []sourceRow {
	var out []sourceRow
	for _, s := range f.Sources {
		r := sourceRow{Name: s.Name, SHA256: s.SHA256, Bytes: strconv.FormatInt(s.Bytes, 10), Rows: strconv.Itoa(s.Rows), Unread: strconv.Itoa(s.Unread), Recipe: s.Recipe}
		if !s.FirstUTC.IsZero() {
			r.First, r.Last = s.FirstUTC.UTC().Format("2006-01-02 15:04:05"), s.LastUTC.UTC().Format("15:04:05")
		}
		out = append(out, r)
	}
	return out
}

func lowerFirst(s string) string {
	if s == "" || s[0] < 'A' || s[0] > 'Z' {
		return s
	}
	return string(s[0]-'A'+'a') + s[1:]
}
