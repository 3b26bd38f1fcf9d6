package workbench

import (
	"leadline/internal/ingest"
	"leadline/internal/levels"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// recordAlone is the raw stage of a flight of which nothing was received: no rows, at
// the instant the record gives.
func recordAlone(r *sounding.LaunchRecord) *sounding.Raw {
	return &sounding.Raw{Epoch: firstInstant(r.Release.Declared, r.Release.Nominal, r.Surface.Time)}
}

// withoutData is the outcome of a flight of which there is only a launch record: it
// stands in the logbook, refused, with what its record lacks.
func withoutData(in Inputs, set *Settings, settingsFindings []sounding.Finding, decisions []sounding.Decision) *Outcome {
	record, findings := correctedRecord(mergedRecord(in.Record, in.Raw.Record), decisions)
	sheet, sheetFindings := chosenSheet(in, decisions)
	findings = append(append(append(append(findings, sheetFindings...), settingsFindings...), in.Raw.Findings...), ingest.MissingItems(record, sheet)...)
	const sentence = "there are no radiosonde data, only a launch record"
	findings = append(findings, sounding.Finding{ID: "sources.none.flight", Check: quality.Sources, Severity: sounding.Bad, Stage: "ingest",
		FirstTime: sounding.NotSet, LastTime: sounding.NotSet, Bottom: sounding.NotSet, Top: sounding.NotSet,
		Measured: sounding.NotSet, Limit: sounding.NotSet, Sentence: sentence})
	judged(findings, decisions)
	nothing := func() sounding.Event {
		return sounding.Event{Time: sounding.NotSet, Uncertainty: sounding.NotSet, Height: sounding.NotSet, Pressure: sounding.NotSet}
	}
	ctx := sounding.Context{Epoch: in.Raw.Epoch, Record: record, Sheet: sheet,
		Events: sounding.Events{Release: nothing(), Burst: nothing(), Top: nothing(), Landing: nothing(), End: sounding.EndNotAFlight}}
	final := &sounding.Final{Context: ctx, Sources: in.Raw.Sources, Before: &sounding.Columns{}, Findings: append(findings, unmatched(findings, decisions)...),
		Decisions: in.Decisions, MethodSet: MethodSet(set, sheet), Verdict: verdictOf([]string{sentence}, nil)}
	final.FlightName = flightName(record, ctx.Events, in.Raw)
	final.Summary = []string{capital(sentence) + ".", "Refuse."}
	table, _ := levels.Find(final, &set.Levels)
	return &Outcome{Inputs: in, Settings: set, Record: record, Checked: &sounding.Checked{Context: ctx, Findings: findings}, Final: final, Levels: table}
}
