package workbench

import (
	"errors"
	"math"
	"slices"
	"time"

	"leadline/internal/check"
	"leadline/internal/correct"
	"leadline/internal/events"
	"leadline/internal/ingest"
	"leadline/internal/levels"
	"leadline/internal/sounding"
	"leadline/internal/wind"
)

// Inputs are everything an outcome depends on.
type Inputs struct {
	Raw           *sounding.Raw
	Record        *sounding.LaunchRecord               // what the operator gave; nil where nothing was given
	Sheet         *sounding.InstrumentSheet            // as given; nil where none is known
	Sheets        map[string]*sounding.InstrumentSheet // those that choose-sheet decisions name, by the SHA-256 of their text
	Settings      *Settings                            // as given; nil: the shipped ones
	SettingsFiles map[string]*Settings                 // those that choose-settings decisions name, by the SHA-256 of their text
	Decisions     []sounding.Decision                  // in the order they were made, revoked ones included
}

// Outcome is a flight after the path: its stages and products.
type Outcome struct {
	Inputs   Inputs
	Settings *Settings              // in force: given with the flight or chosen by a decision
	Record   *sounding.LaunchRecord // in force: given by the operator or the source, corrected by decisions
	Checked  *sounding.Checked
	Final    *sounding.Final
	Levels   levels.Set
	History  []Ruling // of a flight of the logbook, in order
}

// ErrNoRows is returned for a source without a single usable row.
var ErrNoRows = errors.New("the source has no usable rows")

// Run takes one flight through the path. It is a pure function of its inputs and
// changes none of them.
func Run(in Inputs) (*Outcome, error) {
	raw := in.Raw
	if raw == nil || raw.Len() == 0 && in.Record == nil {
		return nil, ErrNoRows
	}
	if in.Settings == nil {
		in.Settings = DefaultSettings()
	}
	decisions := inForce(in.Decisions)
	set, settingsFindings := chosenSettings(in, decisions)
	if raw.Len() == 0 {
		return withoutData(in, set, settingsFindings, decisions), nil
	}

	record := mergedRecord(in.Record, raw.Record)
	record, recordFindings := correctedRecord(record, decisions)
	sheet, sheetFindings := chosenSheet(in, decisions)
	recordFindings = append(append(recordFindings, sheetFindings...), settingsFindings...)

	strange := others(raw, decisions)
	own := raw.Without(strange)
	ev, eventFindings := events.Find(&own, raw.Epoch, record, rulings(decisions), &set.Events)
	columns, epoch := raw.Columns, raw.Epoch
	if ev.Release.Found {
		columns, ev, epoch = sinceRelease(columns, ev, raw.Epoch)
	}
	ctx := sounding.Context{Epoch: epoch, Events: ev, Record: record, Sheet: sheet, Others: strange}
	heights := columns.Values(sounding.HeightMSL)
	if heights == nil {
		heights = columns.Values(sounding.GeopotentialHeight)
	}

	recordFindings = append(recordFindings, replaceable(ingest.MissingItems(record, sheet), &columns)...)
	recordFindings = append(recordFindings, ingest.ValidateRecord(record, raw)...)
	ingestReport := sounding.Report{Findings: relocated(raw.Findings, &columns, heights, epoch)}
	firstReport := sounding.Report{Findings: append(recordFindings, relocated(eventFindings, &columns, heights, epoch)...)}
	checkReport := check.Raw(&ctx, &columns, &set.Check)

	findings := append(append(append([]sounding.Finding(nil), ingestReport.Findings...), firstReport.Findings...), checkReport.Findings...)
	sounding.NumberIDs(findings)
	judged(findings, decisions)
	flagged := columns.Flagged(sounding.Report{Findings: findings, Runs: checkReport.Runs})
	checked := &sounding.Checked{Context: ctx, Sources: raw.Sources, Columns: ruled(flagged, decisions, epoch), Findings: findings, Runs: checkReport.Runs}

	correctSettings := set.Correct
	correctSettings.SensorChoice = sensorRulings(decisions, &columns, epoch)
	corrected, err := correct.Run(checked, &correctSettings)
	if err != nil {
		return nil, err
	}
	blown, err := wind.Run(&ctx, &corrected.Columns, &set.Wind)
	if err != nil {
		return nil, err
	}
	again := check.Corrected(&ctx, &checked.Columns, &blown.Columns, &set.Check)

	later := append(append(append([]sounding.Finding(nil), corrected.Findings...), blown.Findings...), again.Findings...)
	later = newTo(findings, later)
	all := append(append([]sounding.Finding(nil), findings...), later...)
	settle(all[:len(findings)], corrected.Settled)
	sounding.NumberIDs(all)
	judged(all, decisions)
	later = all[len(findings):]
	runs := append(append(append([]sounding.CheckRun(nil), corrected.Runs...), blown.Runs...), again.Runs...)
	last := ruled(blown.Columns.Flagged(sounding.Report{Findings: later, Runs: runs}), decisions, epoch)

	final := &sounding.Final{
		Context: ctx, Sources: raw.Sources, Columns: last, Before: &checked.Columns,
		Findings: append(all, unmatched(all, decisions)...), Runs: append(append([]sounding.CheckRun(nil), checked.Runs...), runs...),
		Steps: append(append([]sounding.Step(nil), corrected.Steps...), blown.Steps...), Decisions: in.Decisions,
		MethodSet: MethodSet(set, sheet),
	}
	final.FlightName = flightName(record, ev, raw)
	set.judge(final)
	table, levelFindings := levels.Find(final, &set.Levels)
	final.Findings = append(final.Findings, levelFindings...)
	final.Summary = summary(final, &table)
	return &Outcome{Inputs: in, Settings: set, Record: record, Checked: checked, Final: final, Levels: table}, nil
}

// replaceable makes a note of a missing site item that the track itself gives.
func replaceable(missing []sounding.Finding, c *sounding.Columns) []sounding.Finding {
	known := func(v sounding.Variable) bool {
		for _, x := range c.Values(v) {
			if !math.IsNaN(x) {
				return true
			}
		}
		return false
	}
	for i := range missing {
		var v sounding.Variable
		switch missing[i].Field {
		case "site.latitude_deg":
			v = sounding.Latitude
		case "site.longitude_deg":
			v = sounding.Longitude
		case "site.height_m_msl":
			v = sounding.HeightMSL
		default:
			continue
		}
		if known(v) {
			missing[i].Severity = sounding.Note
		}
	}
	return missing
}

// settle makes notes of the findings whose cause a correction took away.
func settle(findings []sounding.Finding, settled []correct.Settled) {
	for _, s := range settled {
		for i := range findings {
			if f := &findings[i]; f.ID == s.ID {
				f.Severity = sounding.Note
				f.Sentence += s.Why
			}
		}
	}
}

// newTo leaves out findings of a later stage that repeat one of an earlier stage: the
// same check on the same samples of the same variable says nothing new.
func newTo(before, later []sounding.Finding) []sounding.Finding {
	out := later[:0:0]
	for _, f := range later {
		repeats := func(g sounding.Finding) bool {
			return g.Check == f.Check && g.Variable == f.Variable && g.Severity >= f.Severity && len(f.Spans) > 0 && slices.Equal(g.Spans, f.Spans)
		}
		if !slices.ContainsFunc(before, repeats) {
			out = append(out, f)
		}
	}
	return out
}

// mergedRecord returns the operator's record with items the operator left out taken
// from what the source says about itself. Nothing else fills an item.
func mergedRecord(operator, source *sounding.LaunchRecord) *sounding.LaunchRecord {
	if operator == nil {
		operator = sounding.NewLaunchRecord()
	}
	out := operator.Clone()
	if source == nil {
		return out
	}
	for _, f := range sounding.RecordFields {
		switch {
		case f.Number != nil && !f.Number(out).Set():
			*f.Number(out) = *f.Number(source)
		case f.Text != nil && *f.Text(out) == "":
			*f.Text(out) = *f.Text(source)
		case f.Instant != nil && f.Instant(out).IsZero():
			*f.Instant(out) = *f.Instant(source)
		}
	}
	if len(out.Ticks) == 0 {
		out.Ticks = slices.Clone(source.Ticks)
	}
	return out
}

// sinceRelease returns the columns and events with their times counted from the release.
func sinceRelease(c sounding.Columns, ev sounding.Events, epoch time.Time) (sounding.Columns, sounding.Events, time.Time) {
	zero := ev.Release.Time.Value()
	times := make([]float64, len(c.Time))
	for i, t := range c.Time {
		times[i] = t - zero
	}
	c.Time = times
	for _, e := range []*sounding.Event{&ev.Release, &ev.Burst, &ev.Top, &ev.Landing} {
		if e.Time.Set() {
			e.Time -= sounding.Number(zero)
		}
	}
	return c, ev, epoch.Add(time.Duration(math.Round(zero * float64(time.Second))))
}

// relocated returns findings whose times and heights are those of the columns given.
func relocated(list []sounding.Finding, c *sounding.Columns, heights []float64, epoch time.Time) []sounding.Finding {
	out := make([]sounding.Finding, len(list))
	for i, f := range list {
		if len(f.Spans) > 0 {
			f = sounding.Locate(f, c, heights, epoch)
		}
		out[i] = f
	}
	return out
}

// flightName is what files and headings call a flight: the site and the release, or the
// first instant of the data where no release was found.
func flightName(r *sounding.LaunchRecord, ev sounding.Events, raw *sounding.Raw) string {
	site := slug(r.Site.Name)
	if site == "" {
		site = slug(r.Site.WMONumber)
	}
	if site == "" {
		site = "flight"
	}
	at := ev.Release.UTC
	switch {
	case ev.Release.Found:
	case raw.Len() > 0:
		at = raw.Epoch.Add(time.Duration(raw.Time[0] * float64(time.Second)))
	default:
		at = raw.Epoch
	}
	return site + "-" + at.UTC().Format("20060102T1504")
}

// slug keeps letters, digits and hyphens, in lower case.
func slug(s string) string {
	out := make([]rune, 0, len(s))
	for _, r := range s {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			out = append(out, r)
		case r >= 'A' && r <= 'Z':
			out = append(out, r-'A'+'a')
		case (r == ' ' || r == '-' || r == '_') && len(out) > 0 && out[len(out)-1] != '-':
			out = append(out, '-')
		}
	}
	for len(out) > 0 && out[len(out)-1] == '-' {
		out = out[:len(out)-1]
	}
	return string(out)
}
