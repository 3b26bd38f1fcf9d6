package ingest

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"leadline/internal/bufr"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/temp"
)

// FormatTEMP is bulletins in the figure codes FM 35 to 38 TEMP and FM 32 to 34 PILOT.
const FormatTEMP = "temp"

// formatWords lists the formats for messages.
const formatWords = "text, netcdf, igra, bufr or temp"

// bulletinStart is the beginning of a part: TTAA 28231, UUAA SHIP 28231, PPBB 12173.
var bulletinStart = lazyPattern(`(?:^|\s)(?:TT|UU|XX|II|PP|QQ|EE)(?:AA|BB|CC|DD)\s+(?:[A-Z0-9]{3,7}\s+)?\d\d[\d/]{2}[\d/]\s`)

// isBulletin tells whether the head holds a part of a TEMP or PILOT report.
func isBulletin(head []byte) bool {
	if bytes.IndexByte(head, 0) >= 0 {
		return false
	}
	return bulletinStart().Match(head)
}

// partsKey says which parts belong to one sounding.
type partsKey struct {
	pilot     bool
	station   string
	day, hour int
	alone     int // number of a report that cannot be joined; 0 else
}

// joined is the parts of one sounding.
type joinedParts struct {
	key   partsKey
	parts []temp.Report
	head  string // of the first bulletin
}

// readTEMP reads bulletins and joins Parts A to D of one station and hour.
func readTEMP(ctx context.Context, name string, src io.Reader, recipe *Recipe, o Options) ([]*table, error) {
	groups, left, err := joinBulletins(ctx, src)
	if err != nil {
		return nil, err
	}
	var out []*table
	seen := 0
	var reference time.Time
	for _, g := range groups {
		if reference.IsZero() {
			if reference, err = bulletinDay(name, &recipe.Time, o); err != nil {
				return nil, err
			}
		}
		t, err := g.table(reference)
		if err != nil {
			left = append(left, leftReport(g, err))
			continue
		}
		seen++
		if !o.Nominal.IsZero() && !t.record.Release.Nominal.Equal(o.Nominal) {
			continue
		}
		if err := setRecord(t, recipe); err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	switch {
	case len(out) > maxSoundings && o.Sounding == 0:
		return nil, fmt.Errorf("%d soundings in the source, more than %d: choose one by its nominal hour or number, or split it", len(out), maxSoundings)
	case len(out) > 0:
	case seen > 0:
		return nil, fmt.Errorf("%w: none of %d reports is of %s", ErrNoRows, seen, o.Nominal.UTC().Format("2006-01-02 15 UTC"))
	case len(left) > 0:
		return nil, fmt.Errorf("%w: %s", ErrNoRows, left[0].Sentence)
	default:
		return nil, fmt.Errorf("%w: the source holds no TEMP or PILOT report with levels", ErrNoRows)
	}
	if len(left) > 2*ungrouped {
		n := len(left) - 2*ungrouped
		left = left[:2*ungrouped]
		f := lineFinding(quality.Syntax, sounding.Note, 0, 0)
		f.Measured, f.Unit = sounding.Number(n), "groups"
		f.Sentence = fmt.Sprintf("%d more things in the text could not be read", n)
		left = append(left, f)
	}
	out[0].findings = append(out[0].findings, left...)
	return out, nil
}

// leftReport says that a report cannot become a sounding.
func leftReport(g *joinedParts, err error) sounding.Finding {
	f := lineFinding(quality.Syntax, sounding.Note, g.parts[0].Line, g.parts[0].Line)
	f.Sentence = fmt.Sprintf("the report of line %d is left out: %v", g.parts[0].Line, err)
	return f
}

// joinBulletins reads the text and groups its parts; left is what belongs to no report.
func joinBulletins(ctx context.Context, src io.Reader) (groups []*joinedParts, left []sounding.Finding, err error) {
	index := map[partsKey]*joinedParts{}
	r := temp.NewReader(src)
	levels := 0
	for {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		b, err := r.Next()
		if err == io.EOF {
			return groups, left, nil
		}
		if err != nil {
			return nil, nil, err
		}
		for _, f := range b.Findings {
			left = append(left, textFinding(f))
		}
		heading := ""
		if b.Heading != nil {
			heading, _ = b.Heading.Format()
		}
		for _, p := range b.Reports {
			if p.Nil {
				f := lineFinding(quality.Syntax, sounding.Note, p.Line, p.Line)
				f.Sentence = fmt.Sprintf("station %s reports that there is no sounding (NIL), %v Part %v", p.Station, p.Form, p.Part)
				left = append(left, f)
				continue
			}
			if levels += len(p.Levels); levels > maxRows {
				return nil, nil, fmt.Errorf("more than %d levels in the source: split it", maxRows)
			}
			k := partsKey{pilot: p.Form.IsPilot(), station: p.Station, day: p.Day, hour: p.Hour}
			if p.Station == "" || p.Day < 0 || p.Hour < 0 {
				k.alone = len(groups) + 1
			}
			g := index[k]
			if g == nil {
				g = &joinedParts{key: k, head: heading}
				index[k] = g
				groups = append(groups, g)
			}
			replaced := false
			for i := range g.parts {
				if g.parts[i].Part != p.Part {
					continue
				}
				f := lineFinding(quality.Sources, sounding.Note, p.Line, g.parts[i].Line)
				f.Sentence = fmt.Sprintf("Part %v of station %s stands twice, on lines %d and %d: the later is used", p.Part, p.Station, g.parts[i].Line, p.Line)
				f.FirstLine, f.LastLine = g.parts[i].Line, p.Line
				left = append(left, f)
				g.parts[i], replaced = p, true
			}
			if !replaced {
				g.parts = append(g.parts, p)
			}
		}
	}
}

// textFinding turns a finding of the code's reader into one of the source.
func textFinding(f temp.Finding) sounding.Finding {
	out := lineFinding(quality.Syntax, sounding.Note, f.Line, f.Line)
	out.Sentence = fmt.Sprintf("column %d, %q: %s", f.Column, f.Group, f.Text)
	return out
}

// bulletinDay returns a day near that of the reports, for the month and year that the
// code does not give: from the options, the file's name, or the recipe.
func bulletinDay(name string, r *TimeRecipe, o Options) (time.Time, error) {
	if !o.Date.IsZero() {
		return o.Date, nil
	}
	if n, err := temp.ParseFileName(name); err == nil && !n.Time.IsZero() {
		return n.Time, nil
	}
	day, _, err := findDate(r, clockSources{name: name, options: o}, time.UTC)
	if err != nil {
		return time.Time{}, fmt.Errorf("%w: the code gives the day of the month only; say of which month by a date on the command line, the recipe (time.date, time.date_from_name), or a file name by the WMO's convention", ErrNoDate)
	}
	return time.Unix(day*daySeconds, 0).UTC(), nil
}

// dayNear returns the instant with that day of the month and hour nearest to the
// reference, zero where no month around it has such a day.
func dayNear(reference time.Time, day, hour int) time.Time {
	var best time.Time
	middle := reference.UTC()
	for m := -1; m <= 1; m++ {
		at := time.Date(middle.Year(), middle.Month()+time.Month(m), day, hour, 0, 0, 0, time.UTC)
		if at.Day() != day {
			continue
		}
		if best.IsZero() || at.Sub(middle).Abs() < best.Sub(middle).Abs() {
			best = at
		}
	}
	return best
}

// levelKey says which groups speak of one level.
type levelKey struct {
	pressure, height float64 // height only where there is no pressure; else 0
}

// table makes one sounding of the parts.
func (g *joinedParts) table(reference time.Time) (*table, error) {
	head := g.parts[0]
	t := &table{record: sounding.NewLaunchRecord()}
	if head.Day < 1 || head.Hour < 0 {
		return nil, fmt.Errorf("its day and hour cannot be read")
	}
	at := dayNear(reference, head.Day, head.Hour)
	if at.IsZero() {
		return nil, fmt.Errorf("there is no day %d in the months around %s", head.Day, reference.Format("January 2006"))
	}
	r := t.record
	switch head.Form {
	case temp.Ship, temp.PilotShip:
		r.Site.Kind, r.Site.CallSign = "ship", head.Station
	case temp.Mobile, temp.PilotMobile:
		r.Site.Kind, r.Site.CallSign = "mobile", head.Station
	case temp.Drop:
	default:
		r.Site.Kind, r.Site.WMONumber = "fixed", head.Station
	}
	if !math.IsNaN(head.LatitudeDegrees) && !math.IsNaN(head.LongitudeDegrees) && head.Form != temp.Drop {
		r.Site.Latitude, r.Site.Longitude = sounding.Number(head.LatitudeDegrees), sounding.Number(head.LongitudeDegrees)
	}
	if !math.IsNaN(head.ElevationMeters) {
		r.Site.Height = sounding.Number(head.ElevationMeters)
	}
	if at.Hour()%3 == 0 {
		r.Release.Nominal = at
	}
	t.header = append(t.header, sounding.Item{Name: "code", Text: head.Form.String(), Line: head.Line})
	if g.head != "" {
		t.header = append(t.header, sounding.Item{Name: "heading", Text: g.head, Line: head.Line})
	}
	var parts []string
	start := time.Time{}
	for _, p := range g.parts {
		parts = append(parts, p.Part.String())
		start = g.system(t, &p, at, start)
		for _, x := range p.Texts {
			t.header = append(t.header, sounding.Item{Name: x.Indicator, Text: strings.Join(x.Groups, " "), Line: p.Line})
		}
		for _, c := range p.Cloud {
			if len(c) == 5 && c != "/////" {
				r.Surface.CloudCode = c
			}
			t.header = append(t.header, sounding.Item{Name: "cloud", Text: c, Line: p.Line})
			break
		}
		for _, f := range p.Findings {
			if len(t.findings) < 4*ungrouped {
				t.findings = append(t.findings, textFinding(f))
			}
		}
		if p.WindUnit != temp.UnitUnknown {
			t.header = append(t.header, sounding.Item{Name: "wind unit of Part " + p.Part.String(), Text: p.WindUnit.String(), Line: p.Line})
		}
	}
	t.header = append(t.header, sounding.Item{Name: "parts", Text: strings.Join(parts, ", "), Line: head.Line})
	if start.IsZero() {
		start = at
		t.countsFrom("the report has no time of launch", start)
	} else {
		r.Release.Declared = start
	}
	t.name = fmt.Sprintf("%s %s", stationOf(r), at.Format("2006-01-02 15 UTC"))
	g.levels(t, start)
	if len(t.time) == 0 {
		return nil, fmt.Errorf("it has no level with a pressure or a height")
	}
	return t, nil
}

// system takes over section 31313 and returns the instant of launch.
func (g *joinedParts) system(t *table, p *temp.Report, at, start time.Time) time.Time {
	s := p.System
	if s == nil {
		return start
	}
	known := false
	for _, h := range t.header {
		known = known || h.Name == "31313"
	}
	if !known {
		figures := func(n int) string {
			if n < 0 {
				return "missing"
			}
			return strconv.Itoa(n)
		}
		meaning := func(d bufr.Descriptor, width, n int) string {
			if n < 0 {
				return "missing"
			}
			text := strconv.Itoa(n)
			if m := bufr.Meaning(d, bufr.Code, width, uint64(n)); m != "" {
				text += " (" + m + ")"
			}
			return text
		}
		t.header = append(t.header, sounding.Item{Name: "31313", Text: "radiation correction " + meaning(bufr.FXY(0, 2, 13), 4, s.RadiationCorrection) +
			", sonde type " + figures(s.SondeType) + ", tracking " + meaning(bufr.FXY(0, 2, 14), 7, s.Tracking), Line: p.Line})
	}
	if c := s.SeaTemperatureCelsius; !math.IsNaN(c) {
		t.record.Surface.SeaTemperature = sounding.Number(c + 273.15)
	}
	if s.LaunchHour < 0 || s.LaunchMinute < 0 || !start.IsZero() {
		return start
	}
	launch := time.Date(at.Year(), at.Month(), at.Day(), s.LaunchHour, s.LaunchMinute, 0, 0, time.UTC)
	switch d := launch.Sub(at); { // the launch nearest to the hour of the report
	case d > 12*time.Hour:
		launch = launch.AddDate(0, 0, -1)
	case d < -12*time.Hour:
		launch = launch.AddDate(0, 0, 1)
	}
	return launch
}

// levels joins the groups of all parts by level.
func (g *joinedParts) levels(t *table, start time.Time) {
	type row struct {
		line                                    int
		p, z, temperature, dew, direction, wind float64
		below, above                            float64
		significance                            int
		surface, approximate                    bool
	}
	var rows []row
	index := map[levelKey]int{}
	nan := math.NaN()
	differ, differLine := 0, 0
	take := func(to *float64, v float64, line int) {
		switch {
		case math.IsNaN(v):
		case math.IsNaN(*to):
			*to = v
		case math.Abs(*to-v) > 1e-6:
			if differ == 0 {
				differLine = line
			}
			differ++
		}
	}
	for _, p := range g.parts {
		for _, l := range p.Levels {
			if l.Gap || math.IsNaN(l.PressureHPa) && math.IsNaN(l.HeightGpm) {
				continue
			}
			k := levelKey{pressure: math.Round(l.PressureHPa * 10)}
			if math.IsNaN(l.PressureHPa) {
				k = levelKey{height: math.Round(l.HeightGpm)}
			}
			i, there := index[k]
			if !there {
				i = len(rows)
				index[k] = i
				rows = append(rows, row{line: l.Line, p: l.PressureHPa, z: nan, temperature: nan, dew: nan, direction: nan, wind: nan, below: nan, above: nan})
			}
			r := &rows[i]
			take(&r.z, l.HeightGpm, l.Line)
			take(&r.temperature, l.TemperatureCelsius+273.15, l.Line)
			take(&r.dew, l.TemperatureCelsius-l.DewPointDepression+273.15, l.Line)
			if l.WindDirectionDegrees == 0 && l.WindSpeed > 0 {
				take(&r.direction, nan, l.Line)
			} else {
				take(&r.direction, l.WindDirectionDegrees, l.Line)
			}
			take(&r.wind, p.WindUnit.MetersASecond(l.WindSpeed), l.Line)
			take(&r.below, p.WindUnit.MetersASecond(l.ShearBelow), l.Line)
			take(&r.above, p.WindUnit.MetersASecond(l.ShearAbove), l.Line)
			r.significance |= significanceOf(&l)
			r.surface = r.surface || l.Kind == temp.Surface || l.Number == "00"
			r.approximate = r.approximate || l.Approximate
		}
	}
	n := len(rows)
	column := func(get func(*row) float64) []float64 {
		out := make([]float64, n)
		for i := range rows {
			out[i] = get(&rows[i])
		}
		return out
	}
	l := &reportLevels{elapsed: column(func(*row) float64 { return nan }), pressure: column(func(r *row) float64 { return r.p }), height: column(func(r *row) float64 { return r.z })}
	l.surface, l.measured = make([]bool, n), make([]bool, n)
	t.line = make([]int32, n)
	near := 0
	surface := -1
	for i := range rows {
		r := &rows[i]
		t.line[i] = int32(r.line)
		l.surface[i] = r.surface
		l.measured[i] = !math.IsNaN(r.temperature) || !math.IsNaN(r.wind) || !math.IsNaN(r.direction)
		if r.surface && surface < 0 {
			surface = i
		}
		if r.approximate {
			near++
		}
	}
	temperature, dew := column(func(r *row) float64 { return r.temperature }), column(func(r *row) float64 { return r.dew })
	direction, speed := column(func(r *row) float64 { return r.direction }), column(func(r *row) float64 { return r.wind })
	t.addColumn(sounding.Pressure, append([]float64(nil), l.pressure...))
	t.addColumn(sounding.Temperature, temperature)
	t.addColumn(sounding.DewPoint, dew)
	t.humidityFromDewPoint()
	t.addColumn(sounding.WindSpeed, speed)
	t.addColumn(sounding.WindDirection, direction)
	t.addColumn(sounding.GeopotentialHeight, append([]float64(nil), l.height...))
	t.extra = append(t.extra, sounding.Extra{Name: SignificanceExtra, Unit: "1", Values: column(func(r *row) float64 { return float64(r.significance) })})
	for _, e := range []struct {
		name   string
		values []float64
	}{{"wind_shear_below", column(func(r *row) float64 { return r.below })}, {"wind_shear_above", column(func(r *row) float64 { return r.above })}} {
		if anyValue(e.values) {
			t.extra = append(t.extra, sounding.Extra{Name: e.name, Unit: "m/s", Values: e.values})
		}
	}
	if differ > 0 {
		f := lineFinding(quality.Syntax, sounding.Note, differLine, differLine)
		f.Measured, f.Unit = sounding.Number(differ), "values"
		f.Sentence = fmt.Sprintf("%d values of levels that stand in two parts differ between them, first on line %d: the first is used", differ, differLine)
		t.findings = append(t.findings, f)
	}
	if near > 0 {
		f := lineFinding(quality.Syntax, sounding.Note, g.parts[0].Line, g.parts[0].Line)
		f.Measured, f.Unit = sounding.Number(near), "levels"
		f.Sentence = fmt.Sprintf("%d standard levels stand for altitudes near them (55): their pressure is nominal", near)
		t.findings = append(t.findings, f)
	}
	if surface >= 0 {
		t.surface(surface, l, temperature, dew, nil, direction, speed)
	}
	if n > 0 {
		t.place(start, l)
	}
}

// significanceOf returns the bits of 0 08 042 that a level's section stands for.
func significanceOf(l *temp.Level) int {
	switch l.Kind {
	case temp.Surface:
		return 1 << 17
	case temp.Standard:
		return 1 << 16
	case temp.Tropopause:
		return 1 << 15
	case temp.MaximumWind:
		return 1 << 14
	case temp.MaximumWindAtTop:
		return 1<<14 | 1<<4
	case temp.SignificantTemperature:
		return 1 << 13
	case temp.SignificantWind:
		return 1 << 11
	case temp.FixedAltitude:
		return 1 << 3
	}
	return 0
}
