package ingest

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"leadline/internal/igra"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// assumedAscent is the ascent rate, in m/s, that gives archive levels without a time
// an order in time (common practice, no source).
const assumedAscent = 5

// assumedStart is the time, in s, that a balloon loses against that rate while it picks
// up speed. With it the release found in such levels is the instant their times count
// from, not a second before (and at 00 UTC not the day before).
const assumedStart = 1.7

// LevelTypeExtra is the name of the extra column that holds the archive's major type of
// each level.
const LevelTypeExtra = "level_type"

// derivedHeaderWidth is the width from which a header line is of the derived layout.
const derivedHeaderWidth = 150

// readIGRA reads the soundings of a file of the Integrated Global Radiosonde Archive,
// main or derived layout. Options.Nominal leaves all others unread in memory.
func readIGRA(ctx context.Context, src *opened, recipe *Recipe, o Options) ([]*table, error) {
	b := bufio.NewReaderSize(src, 64<<10)
	head, err := b.Peek(400)
	if len(head) == 0 {
		if err != nil && err != io.EOF {
			return nil, err
		}
		return nil, fmt.Errorf("%w: the source is empty", ErrNoRows)
	}
	width := 0
	for width < len(head) && head[width] != '\n' && head[width] != '\r' {
		width++
	}
	var next func() (*table, igra.Header, error)
	if width >= derivedHeaderWidth {
		r := igra.NewDerivedReader(b)
		next = func() (*table, igra.Header, error) {
			s, err := r.Next()
			if err != nil {
				return nil, igra.Header{}, err
			}
			return derivedTable(&s), s.Header, nil
		}
	} else {
		r := igra.NewReader(b)
		next = func() (*table, igra.Header, error) {
			s, err := r.Next()
			if err != nil {
				return nil, igra.Header{}, err
			}
			return mainTable(&s), s.Header, nil
		}
	}
	var out []*table
	var broken []sounding.Finding
	brokenCount, seen := 0, 0
	for {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		t, h, err := next()
		if err == io.EOF {
			break
		}
		var record *igra.RecordError
		if errors.As(err, &record) {
			brokenCount++
			if len(broken) < ungrouped {
				f := lineFinding(quality.Syntax, sounding.Note, record.Line, record.Line)
				f.Sentence = fmt.Sprintf("a sounding of the source is left out: %v", err)
				broken = append(broken, f)
			}
			continue
		}
		if err != nil {
			return nil, err
		}
		seen++
		if !o.Nominal.IsZero() {
			if nominal, ok := h.Nominal(); !ok || !nominal.Equal(o.Nominal) {
				continue
			}
		}
		if len(t.time) == 0 {
			brokenCount++
			if len(broken) < ungrouped {
				f := lineFinding(quality.Syntax, sounding.Note, h.Line, h.Line)
				f.Sentence = fmt.Sprintf("the sounding of line %d is left out: it has no level with a time, a pressure or a height", h.Line)
				broken = append(broken, f)
			}
			continue
		}
		for _, c := range recipe.Record {
			if t.record == nil {
				t.record = sounding.NewLaunchRecord()
			}
			_ = SetField(t.record, c.Field, c.Value) // was checked with the recipe
		}
		out = append(out, t)
		if len(out) > maxSoundings && o.Sounding == 0 {
			return nil, fmt.Errorf("more than %d soundings in the source: choose one by its nominal hour or number", maxSoundings)
		}
		if o.Sounding > 0 && len(out) == o.Sounding && o.Nominal.IsZero() {
			break
		}
	}
	if len(out) == 0 {
		switch {
		case seen > 0 && !o.Nominal.IsZero():
			return nil, fmt.Errorf("%w: none of %d soundings is of %s", ErrNoRows, seen, o.Nominal.UTC().Format("2006-01-02 15 UTC"))
		case len(broken) > 0:
			return nil, fmt.Errorf("%w: %s", ErrNoRows, broken[0].Sentence)
		}
		return nil, fmt.Errorf("%w: the source holds no sounding of the archive", ErrNoRows)
	}
	if brokenCount > len(broken) {
		f := lineFinding(quality.Syntax, sounding.Note, 0, 0)
		f.Measured, f.Unit = sounding.Number(brokenCount-len(broken)), "soundings"
		f.Sentence = fmt.Sprintf("%d more soundings of the source are left out because they cannot be read", brokenCount-len(broken))
		broken = append(broken, f)
	}
	out[0].findings = append(out[0].findings, broken...)
	return out, nil
}

// archiveTable begins a table from what both layouts have in common. lineOf gives
// the source line of level i.
func archiveTable(h *igra.Header, levels int) (t *table, start time.Time) {
	t = &table{}
	release, known := h.Release()
	nominal, hasNominal := h.Nominal()
	start = release
	if !known {
		start = nominal
		if !hasNominal {
			start = time.Date(h.Year, time.Month(h.Month), h.Day, 0, 0, 0, 0, time.UTC)
		}
		f := lineFinding(quality.TimeOrder, sounding.Questionable, h.Line, h.Line)
		f.Field = "release.declared_utc"
		f.Sentence = fmt.Sprintf("the archive has no release time: times count from %s", start.Format("2006-01-02 15:04 UTC"))
		t.findings = append(t.findings, f)
	}
	t.record = sounding.NewLaunchRecord()
	if known {
		t.record.Release.Declared = release
		t.record.Lines["release.declared_utc"] = h.Line
	}
	if hasNominal {
		t.record.Release.Nominal = nominal
		t.record.Lines["release.nominal_utc"] = h.Line
	}
	t.header = []sounding.Item{{Name: "station", Text: h.StationID, Line: h.Line}}
	if len(h.StationID) == 11 && h.StationID[2] == 'M' {
		t.record.Site.WMONumber = h.StationID[6:]
		t.record.Lines["site.wmo_number"] = h.Line
	}
	for i, p := range h.Problems {
		if i == ungrouped {
			break
		}
		f := lineFinding(quality.Syntax, sounding.Note, p.Line, p.Line)
		f.Sentence = fmt.Sprintf("%v; the value is missing", p)
		t.findings = append(t.findings, f)
	}
	if h.ProblemCount > ungrouped {
		f := lineFinding(quality.Syntax, sounding.Note, h.Line, h.Line)
		f.Measured, f.Unit = sounding.Number(h.ProblemCount-ungrouped), "values"
		f.Sentence = fmt.Sprintf("%d more values of the sounding could not be read and are missing", h.ProblemCount-ungrouped)
		t.findings = append(t.findings, f)
	}
	t.line = make([]int32, levels)
	for i := range t.line {
		t.line[i] = int32(h.Line + 1 + i)
	}
	return t, start
}

func (t *table) add(v sounding.Variable, values []float64, convert func(float64) float64) {
	out := make([]float64, len(values))
	any := false
	for i, x := range values {
		out[i] = x
		if convert != nil {
			out[i] = convert(x)
		}
		any = any || !math.IsNaN(out[i])
	}
	if any {
		t.series = append(t.series, sounding.Series{Variable: v, Values: out})
	}
}

func kelvin(x float64) float64 { return x + 273.15 }

// mainTable turns a sounding of the main layout into a table.
func mainTable(s *igra.Sounding) *table {
	n := len(s.PressureHPa.Values)
	t, start := archiveTable(&s.Header, n)
	if !math.IsNaN(s.LatitudeDegrees) && !math.IsNaN(s.LongitudeDegrees) {
		t.record.Site.Latitude, t.record.Site.Longitude = sounding.Number(s.LatitudeDegrees), sounding.Number(s.LongitudeDegrees)
		t.record.Lines["site.latitude_deg"], t.record.Lines["site.longitude_deg"] = s.Line, s.Line
	}
	if s.Moving {
		t.record.Site.Kind = "mobile"
	}
	t.add(sounding.Pressure, s.PressureHPa.Values, nil)
	t.add(sounding.GeopotentialHeight, s.HeightGpm.Values, nil)
	t.add(sounding.Temperature, s.TemperatureCelsius.Values, kelvin)
	t.add(sounding.Humidity, s.HumidityPercent.Values, nil)
	dew := make([]float64, n)
	for i := range dew {
		dew[i] = s.TemperatureCelsius.Values[i] + 273.15 - s.DepressionKelvin.Values[i]
	}
	t.add(sounding.DewPoint, dew, nil)
	t.add(sounding.WindDirection, s.WindDirectionDegrees.Values, nil)
	t.add(sounding.WindSpeed, s.WindSpeedMetersASecond.Values, nil)
	major, minor := make([]float64, n), make([]float64, n)
	for i := range major {
		major[i], minor[i] = float64(s.MajorType[i]), float64(s.MinorType[i])
	}
	t.extra = append(t.extra, sounding.Extra{Name: LevelTypeExtra, Unit: "1", Values: major}, sounding.Extra{Name: "level_subtype", Unit: "1", Values: minor})
	removed := 0
	for _, c := range []*igra.Column{&s.HeightGpm, &s.TemperatureCelsius, &s.HumidityPercent, &s.DepressionKelvin, &s.WindDirectionDegrees, &s.WindSpeedMetersASecond} {
		for _, m := range c.Marks {
			if m == igra.Removed {
				removed++
			}
		}
	}
	if removed > 0 {
		f := lineFinding(quality.Syntax, sounding.Note, s.Line, s.Line+n)
		f.Measured, f.Unit = sounding.Number(removed), "values"
		f.Sentence = fmt.Sprintf("%d values were removed by the archive's own quality control before this source was made", removed)
		t.findings = append(t.findings, f)
	}
	t.levelTimes(start, s.ElapsedSeconds.Values, s.PressureHPa.Values, s.HeightGpm.Values)
	return t
}

// derivedTable turns a sounding of the derived layout into a table: the reported
// quantities as variables, the archive's own results as extras.
func derivedTable(s *igra.DerivedSounding) *table {
	n := len(s.PressureHPa.Values)
	t, start := archiveTable(&s.Header, n)
	t.add(sounding.Pressure, s.PressureHPa.Values, nil)
	t.add(sounding.GeopotentialHeight, s.ReportedHeightGpm.Values, nil)
	t.add(sounding.Temperature, s.TemperatureKelvin.Values, nil)
	t.add(sounding.Humidity, s.ReportedHumidityPercent.Values, nil)
	t.add(sounding.WindU, s.EastwardWindMetersASecond.Values, nil)
	t.add(sounding.WindV, s.NorthwardWindMetersASecond.Values, nil)
	for _, e := range []struct {
		name, unit string
		c          *igra.Column
	}{
		{"calculated_geopotential_height", "gpm", &s.CalculatedHeightGpm},
		{"calculated_humidity", "%", &s.CalculatedHumidityPercent},
		{"potential_temperature", "K", &s.PotentialTemperatureKelvin},
		{"virtual_temperature", "K", &s.VirtualTemperatureKelvin},
		{"virtual_potential_temperature", "K", &s.VirtualPotentialKelvin},
		{"vapour_pressure", "hPa", &s.VapourPressureHPa},
		{"saturation_vapour_pressure", "hPa", &s.SaturationVapourPressureHPa},
		{"refractivity", "1", &s.RefractivityNUnits},
	} {
		t.extra = append(t.extra, sounding.Extra{Name: e.name, Unit: e.unit, Values: append([]float64(nil), e.c.Values...)})
	}
	none := make([]float64, n)
	for i := range none {
		none[i] = math.NaN()
	}
	t.levelTimes(start, none, s.PressureHPa.Values, s.ReportedHeightGpm.Values)
	return t
}

// levelTimes gives every level a time: the source's where it has one, else linear
// in height between levels that have one, else by an ascent of 5 m/s. Levels that
// have neither time, height nor pressure are left out with a finding.
func (t *table) levelTimes(start time.Time, elapsed, pressure, height []float64) {
	n, m := len(elapsed), t.memory
	z := m.floats(n)
	for i := range z {
		z[i] = height[i]
		if math.IsNaN(z[i]) && pressure[i] > 0 {
			z[i] = standardHeight(pressure[i])
		}
	}
	var day float64
	t.day, day = dayOf(start)
	times := m.copied(elapsed)
	anchors := m.indices(n)[:0]
	for i, x := range elapsed {
		if !math.IsNaN(x) && !math.IsNaN(z[i]) {
			anchors = append(anchors, i)
		}
	}
	interpolated, assumed, left := 0, 0, 0
	ground := math.NaN()
	for i := range z {
		if !math.IsNaN(z[i]) && !(z[i] >= ground) {
			ground = z[i]
		}
	}
	k := 0
	for i := range times {
		if !math.IsNaN(times[i]) {
			continue
		}
		if math.IsNaN(z[i]) {
			left++
			continue
		}
		for k < len(anchors) && anchors[k] < i {
			k++
		}
		a, b := -1, -1
		if k > 0 {
			a = anchors[k-1]
		}
		if k < len(anchors) {
			b = anchors[k]
		}
		switch {
		case a >= 0 && b >= 0 && (z[i]-z[a])*(z[b]-z[i]) >= 0 && z[b] != z[a]:
			times[i] = elapsed[a] + (elapsed[b]-elapsed[a])*(z[i]-z[a])/(z[b]-z[a])
			interpolated++
		case a >= 0:
			times[i] = math.Max(elapsed[a], elapsed[a]+(z[i]-z[a])/assumedAscent)
			assumed++
		case b >= 0:
			times[i] = math.Min(elapsed[b], elapsed[b]+(z[i]-z[b])/assumedAscent)
			assumed++
		default:
			if times[i] = 0; z[i] > ground {
				times[i] = assumedStart + (z[i]-ground)/assumedAscent
			}
			assumed++
		}
	}
	say := func(severity sounding.Severity, count int, words string) {
		if count == 0 {
			return
		}
		f := timeOrder(severity, fmt.Sprintf("%d of %d levels %s", count, n, words))
		f.Measured, f.Unit = sounding.Number(count), "levels"
		t.findings = append(t.findings, f)
	}
	say(sounding.Note, interpolated, "have no time in the source: theirs is linear in height between the levels around them")
	say(sounding.Note, assumed, fmt.Sprintf("have no time in the source and none beside them: theirs assumes an ascent of %d m/s and serves their order only", assumedAscent))
	say(sounding.Note, left, "have neither time, height nor pressure: they are left out")
	rows := m.indices(n)[:0]
	t.time = m.floats(n)[:0]
	for i, x := range times {
		if !math.IsNaN(x) {
			rows = append(rows, i)
			t.time = append(t.time, day+x)
		}
	}
	if len(rows) < n {
		t.line = m.pickedLines(t.line, rows)
		for i := range t.series {
			t.series[i].Values = m.picked(t.series[i].Values, rows)
		}
		for i := range t.extra {
			t.extra[i].Values = m.picked(t.extra[i].Values, rows)
		}
	}
	// Levels of one time and height beside each other are one place reported twice
	// (temperature and wind): the second is set a tenth of a second later.
	bumped := 0
	for i := 1; i < len(t.time); i++ {
		if t.time[i] == t.time[i-1] {
			t.time[i] += 0.1
			bumped++
		}
	}
	say(sounding.Note, bumped, "have the time of the level before: they are set 0.1 s later")
}

// standardHeight is the geopotential height of a pressure in the ICAO standard
// atmosphere (1993), in gpm; it serves the order of levels only.
func standardHeight(p float64) float64 {
	if p > 226.32 {
		return 44330.77 * (1 - math.Pow(p/1013.25, 0.190263))
	}
	return 11000 + 6341.62*math.Log(226.32/p)
}
