package workbench

import (
	"fmt"
	"math"
	"sort"
	"time"

	"leadline/internal/events"
	"leadline/internal/ingest"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// inForce returns the decisions that have not been revoked, in their order.
func inForce(list []sounding.Decision) []sounding.Decision {
	var out []sounding.Decision
	for _, d := range list {
		if d.Revoked == nil {
			out = append(out, d)
		}
	}
	return out
}

// correctedRecord returns a copy of r with every correct-record decision applied. A
// value that cannot be read for its item is a finding and changes nothing.
func correctedRecord(r *sounding.LaunchRecord, decisions []sounding.Decision) (*sounding.LaunchRecord, []sounding.Finding) {
	out := r.Clone()
	var findings []sounding.Finding
	for _, d := range decisions {
		if d.Action != sounding.ActCorrectRecord {
			continue
		}
		if err := ingest.SetField(out, d.Field, d.Value); err != nil {
			findings = append(findings, decisionNote(d, sounding.Questionable, fmt.Sprintf("decision %s could not be applied: %v", d.ID, err)))
		}
	}
	return out, findings
}

func decisionNote(d sounding.Decision, s sounding.Severity, sentence string) sounding.Finding {
	return sounding.Finding{ID: "decision.none." + d.ID, Check: quality.Decision, Severity: s, Stage: "decisions", Field: d.Field,
		FirstTime: sounding.NotSet, LastTime: sounding.NotSet, Bottom: sounding.NotSet, Top: sounding.NotSet,
		Measured: sounding.NotSet, Limit: sounding.NotSet, Sentence: sentence}
}

// eventMargin is how far outside the rows a release or burst may be set: telemetry may begin
// after the release and end before the burst.
const eventMargin = time.Hour

// inFlight refuses a release or burst that is set to an instant at which this flight was not
// in the air: another day, or local time for UTC.
func (o *Outcome) inFlight(d *sounding.Decision) error {
	raw := o.Inputs.Raw
	if d.Action != sounding.ActSetRelease && d.Action != sounding.ActSetBurst || raw == nil || raw.Len() == 0 {
		return nil
	}
	at, err := time.Parse(time.RFC3339Nano, d.Value)
	if err != nil {
		return err
	}
	first, last := raw.Time[0], raw.Time[0]
	for _, t := range raw.Time {
		first, last = min(first, t), max(last, t)
	}
	instant := func(t float64) time.Time { return raw.Epoch.Add(time.Duration(t * float64(time.Second))).UTC() }
	if at.Before(instant(first).Add(-eventMargin)) || at.After(instant(last).Add(eventMargin)) {
		const form = "2006-01-02 15:04:05"
		return &RefusedError{fmt.Sprintf("%s %s UTC is outside the flight, whose data go from %s to %s UTC: give the instant in UTC, with its day",
			d.Action, at.UTC().Format(form), instant(first).Format(form), instant(last).Format(form))}
	}
	return nil
}

// rulings returns the release and burst a person has set; the last one counts.
func rulings(decisions []sounding.Decision) events.Rulings {
	var r events.Rulings
	for _, d := range decisions {
		at, err := time.Parse(time.RFC3339Nano, d.Value)
		if err != nil {
			continue // Validate refuses such a decision before it is stored
		}
		at = at.UTC()
		switch d.Action {
		case sounding.ActSetRelease:
			r.Release = &at
		case sounding.ActSetBurst:
			r.Burst = &at
		}
	}
	return r
}

// sensorRulings returns the spans on which a person has chosen a humidity sensor.
func sensorRulings(decisions []sounding.Decision, c *sounding.Columns, epoch time.Time) []sounding.SensorRuling {
	var out []sounding.SensorRuling
	for _, d := range decisions {
		if d.Action != sounding.ActChooseSensor {
			continue
		}
		v := sounding.HumidityA
		if d.Value == "b" {
			v = sounding.HumidityB
		}
		out = append(out, sounding.SensorRuling{Sensor: v, Span: rowsBetween(c, epoch, d.From, d.To)})
	}
	return out
}

// rowsBetween returns the rows from the first at or after from to the last at or
// before to; all rows where both are zero. A millisecond's grace absorbs rounding of
// instants that were read off a finding.
func rowsBetween(c *sounding.Columns, epoch time.Time, from, to time.Time) sounding.Span {
	if from.IsZero() && to.IsZero() {
		return sounding.Span{From: 0, To: c.Len()}
	}
	const grace = 1e-3
	lo, hi := from.Sub(epoch).Seconds()-grace, to.Sub(epoch).Seconds()+grace
	return sounding.Span{
		From: sort.SearchFloat64s(c.Time, lo),
		To:   sort.Search(len(c.Time), func(i int) bool { return c.Time[i] > hi }),
	}
}

// rowsOf returns the rows a decision is about; all of them where it names no stretch.
func rowsOf(d *sounding.Decision, c *sounding.Columns, epoch time.Time) []sounding.Span {
	list := d.Intervals()
	if len(list) == 0 {
		return []sounding.Span{{From: 0, To: c.Len()}}
	}
	out := make([]sounding.Span, len(list))
	for i, s := range list {
		out[i] = rowsBetween(c, epoch, s.From, s.To)
	}
	return out
}

// reach lists the variables a ruling on v covers: a wind is one thing whatever its
// components are called.
func reach(v sounding.Variable) []sounding.Variable {
	switch v {
	case sounding.WindSpeed, sounding.WindDirection, sounding.WindU, sounding.WindV:
		return []sounding.Variable{sounding.WindSpeed, sounding.WindDirection, sounding.WindU, sounding.WindV, sounding.VelocityEast, sounding.VelocityNorth}
	case sounding.Humidity:
		return []sounding.Variable{sounding.Humidity, sounding.DewPoint, sounding.MixingRatio}
	case sounding.Temperature:
		return []sounding.Variable{sounding.Temperature, sounding.PotentialTemperature, sounding.VirtualTemperature}
	}
	return []sounding.Variable{v}
}

// ruled returns columns whose flags are what people decided about spans: the last
// decision on a sample counts. Values are never touched; a missing sample stays missing.
func ruled(c sounding.Columns, decisions []sounding.Decision, epoch time.Time) sounding.Columns {
	touched := map[sounding.Variable]*sounding.Series{}
	for _, d := range decisions {
		var flag quality.Flag
		switch d.Action {
		case sounding.ActExclude:
			flag = quality.Bad
		case sounding.ActRestore:
			flag = quality.Good
		case sounding.ActFlag:
			flag, _ = quality.ParseFlag(d.Value)
		default:
			continue
		}
		spans := rowsOf(&d, &c, epoch)
		for _, named := range d.Variables {
			for _, v := range reach(named) {
				s := touched[v]
				if s == nil {
					old := c.Get(v)
					if old == nil || old.Flags == nil {
						continue
					}
					copied := *old
					copied.Flags = append([]quality.Flag(nil), old.Flags...)
					copied.Tests = append([]quality.Bits(nil), old.Tests...)
					s = &copied
					touched[v] = s
				}
				for _, span := range spans {
					for i := span.From; i < span.To; i++ {
						if !math.IsNaN(s.Values[i]) {
							s.Flags[i] = flag
							s.Tests[i] |= quality.Decision.Bit()
						}
					}
				}
			}
		}
	}
	for _, v := range sounding.Variables() {
		if s := touched[v]; s != nil {
			c = c.With(*s)
		}
	}
	return c
}

// judged marks the findings people accepted or dismissed and returns notes for
// decisions that point at a finding that is not there any more.
func judged(findings []sounding.Finding, decisions []sounding.Decision) {
	for _, d := range decisions {
		state := ""
		switch d.Action {
		case sounding.ActAccept:
			state = "accepted"
		case sounding.ActDismiss:
			state = "dismissed"
		default:
			continue
		}
		for i := range findings {
			if findings[i].ID == d.Field {
				findings[i].State = state
			}
		}
	}
}

// unmatched returns a note for every accept or dismiss whose finding is not among findings.
func unmatched(findings []sounding.Finding, decisions []sounding.Decision) []sounding.Finding {
	known := make(map[string]bool, len(findings))
	for _, f := range findings {
		known[f.ID] = true
	}
	var out []sounding.Finding
	for _, d := range decisions {
		if (d.Action == sounding.ActAccept || d.Action == sounding.ActDismiss) && !known[d.Field] {
			out = append(out, decisionNote(d, sounding.Note, fmt.Sprintf("decision %s is about a finding that this run does not make: %s", d.ID, d.Field)))
		}
	}
	return out
}
