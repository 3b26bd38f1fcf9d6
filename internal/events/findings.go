package events

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

const (
	clock      = "15:04:05.0"
	clockWhole = "15:04:05"
)

// add locates a finding and keeps it. Times in it are s since release.
func (f *finder) add(x sounding.Finding) {
	x.Stage = "events"
	x = sounding.Locate(x, f.c, f.heights(), f.epoch)
	if r := f.events.Release; r.Found && len(x.Spans) > 0 {
		x.FirstTime -= r.Time
		x.LastTime -= r.Time
	}
	// A finding about an instant doubts no sample.
	x.Spans = nil
	f.findings = append(f.findings, x)
}

func (f *finder) report() {
	f.reportRelease()
	if f.events.Release.Found {
		f.reportBurst()
	}
}

// instantOf is a finding about one event.
func instantOf(check quality.Check, severity sounding.Severity, e *sounding.Event) sounding.Finding {
	x := sounding.Finding{Check: check, Severity: severity, Measured: sounding.NotSet, Limit: sounding.NotSet}
	if e.Found {
		x.Spans = []sounding.Span{{From: e.Row, To: e.Row + 1}}
	}
	return x
}

func (f *finder) reportRelease() {
	e := &f.events.Release
	if !e.Found {
		x := instantOf(quality.ReleaseTime, sounding.Bad, e)
		x.Sentence = "no release found: " + f.whyNone()
		if n := f.c.Len(); n > 0 {
			x.Spans = []sounding.Span{{From: 0, To: n}}
		}
		f.add(x)
		return
	}
	foundUTC := instantUTC(f.epoch, f.found.time)
	foundText := "none could be found in the data"
	if f.found.found {
		foundText = fmt.Sprintf("found by %s at %s UTC ± %.1f s", f.found.method, foundUTC.Format(clock), f.found.uncertainty)
	}
	if e.Method == "decision" {
		x := instantOf(quality.ReleaseTime, sounding.Note, e)
		x.Sentence = fmt.Sprintf("release set by a decision to %s UTC; %s", e.UTC.Format(clock), foundText)
		if f.found.found {
			x.Measured, x.Unit = sounding.Number(e.Time.Value()-f.found.time), "s"
			x.Sentence += fmt.Sprintf(", %+.1f s from it", f.found.time-e.Time.Value())
		}
		f.add(x)
	}
	if math.Abs(f.apart) > max(f.set.Agree, 3*f.found.uncertainty) && e.Method != "decision" {
		x := instantOf(quality.ReleaseTime, sounding.Note, e)
		x.Measured, x.Limit, x.Unit = sounding.Number(f.apart), sounding.Number(f.set.Agree), "s"
		x.Sentence = fmt.Sprintf("height shows the release %+.1f s from where pressure shows it; %s is used", f.apart, e.Method)
		f.add(x)
	}
	if f.found.earlier >= f.set.SmallestFlight {
		x := instantOf(quality.ReleaseTime, sounding.Questionable, e)
		row := f.rowAt(f.found.earlierTime)
		x.Spans = []sounding.Span{{From: row, To: max(row+1, e.Row)}}
		x.Measured, x.Limit, x.Unit = sounding.Number(f.found.earlier), sounding.Number(f.set.SmallestFlight), "m"
		x.Sentence = fmt.Sprintf("the source holds an earlier climb from %s UTC on, to %.0f m above its start and back: an aborted release or another flight, left out of this one",
			instantUTC(f.epoch, f.found.earlierTime).Format(clockWhole), f.found.earlier)
		f.add(x)
	}
	if up, at := f.lifted(); up > 0 && f.found.earlier < f.set.SmallestFlight {
		x := instantOf(quality.ReleaseTime, sounding.Note, e)
		x.Measured, x.Unit = sounding.Number(up), "m"
		x.Sentence = fmt.Sprintf("before release the radiosonde was lifted by %.0f m from %s UTC on and came back: a false start, not the release", up, instantUTC(f.epoch, at).Format(clockWhole))
		f.add(x)
	}
	if f.found.inAir || f.found.unknown {
		x := instantOf(quality.ReleaseTime, sounding.Note, e)
		x.Spans = []sounding.Span{{From: 0, To: 1}}
		first := instantUTC(f.epoch, f.c.Time[0])
		switch {
		case f.found.unknown:
			x.Sentence = fmt.Sprintf("the data start at %s UTC already climbing and nothing says how long after release: the first row is taken, give the site's height or the declared release", first.Format(clockWhole))
		default:
			x.Measured, x.Unit = sounding.Number(f.c.Time[0]-f.found.time), "s"
			x.Sentence = fmt.Sprintf("the data start in the air, %.0f s after release", f.c.Time[0]-f.found.time)
			if f.found.method != "declared" {
				x.Sentence += fmt.Sprintf(" by the climb carried back to the height of the site (± %.0f s)", f.found.uncertainty)
			}
		}
		f.add(x)
	}
	if t := f.declared(); !math.IsNaN(t) && f.found.found && f.found.method != "declared" && !f.found.unknown {
		f.compareDeclared(t, foundUTC)
	}
}

// compareDeclared says by how much the declared release differs from the found one.
func (f *finder) compareDeclared(t float64, found time.Time) {
	late := f.found.time - t
	size := math.Abs(late)
	declared := f.record.Release.Declared
	limit := max(f.set.Agree, 3*f.found.uncertainty)
	doubt := max(f.set.Doubt, limit)
	if declared.Second() == 0 && declared.Nanosecond() == 0 {
		// Written to the minute.
		limit, doubt = max(limit, 60), max(doubt, 60)
	}
	if size <= limit {
		return
	}
	x := instantOf(quality.ReleaseTime, sounding.Note, &f.events.Release)
	if size > doubt {
		x.Severity = sounding.Questionable
	}
	x.Measured, x.Limit, x.Unit, x.Field = sounding.Number(late), sounding.Number(limit), "s", "release.declared_utc"
	word := "after"
	if late < 0 {
		word = "before"
	}
	x.Sentence = fmt.Sprintf("released %s UTC ± %.1f s by %s, %.0f s %s the declared %s UTC (%+.0f s)",
		found.Format(clock), f.found.uncertainty, f.found.method, size, word, declared.UTC().Format(clockWhole), late)
	if days := math.Round(late / 86400); days != 0 && math.Abs(late-days*86400) <= 300 {
		x.Sentence += fmt.Sprintf(": %+g days, so look at the date", days)
	} else if hours := math.Round(late / 1800); hours != 0 && math.Abs(hours) <= 28 && math.Abs(late-hours*1800) <= 300 {
		x.Sentence += fmt.Sprintf(": close to %+g h, so look whether local time was written as UTC", hours/2)
	}
	f.add(x)
}

// whyNone says why there is no release.
func (f *finder) whyNone() string {
	if f.c.Len() == 0 {
		return "there are no rows"
	}
	if f.height.len() < 3 && f.pressure.len() < 3 {
		return "the rows carry neither height nor pressure, and no declared release falls among them"
	}
	s := &f.height
	if s.len() < 3 {
		s = &f.pressure
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, z := range s.z {
		low, high = min(low, z), max(high, z)
	}
	if high-low < f.set.SmallestFlight {
		return fmt.Sprintf("%s moves by no more than %.0f m in all %d rows", s.name, high-low, f.c.Len())
	}
	return fmt.Sprintf("%s shows no sustained climb in its %d rows", s.name, f.c.Len())
}

// place is "31.2 km (8.9 hPa)" of an event.
func place(e *sounding.Event) string {
	switch {
	case e.Height.Set() && e.Pressure.Set():
		return fmt.Sprintf("%.1f km (%.4g hPa)", e.Height/1000, e.Pressure.Value())
	case e.Height.Set():
		return fmt.Sprintf("%.1f km", e.Height/1000)
	case e.Pressure.Set():
		return fmt.Sprintf("%.4g hPa", e.Pressure.Value())
	}
	return "an unknown height"
}

// short tells whether the flight ended below the level a complete one reaches.
func (f *finder) short(e *sounding.Event) (measured, limit sounding.Number, unit string, short bool) {
	switch {
	case e.Pressure.Set():
		return e.Pressure, sounding.Number(f.set.CompletePress), "hPa", e.Pressure.Value() > f.set.CompletePress
	case e.Height.Set():
		return e.Height, sounding.Number(f.set.CompleteHeight), "m", e.Height.Value() < f.set.CompleteHeight
	}
	return sounding.NotSet, sounding.NotSet, "", false
}

func (f *finder) reportBurst() {
	b, top := &f.events.Burst, &f.events.Top
	add := func(e *sounding.Event, severity sounding.Severity, measured, limit sounding.Number, unit, sentence string) {
		x := instantOf(quality.Burst, severity, e)
		x.Measured, x.Limit, x.Unit, x.Sentence = measured, limit, unit, sentence
		f.add(x)
	}
	if b.Found && b.Method == "decision" {
		sentence := fmt.Sprintf("burst set by a decision to %s UTC; none was found in the data", b.UTC.Format(clock))
		measured := sounding.NotSet
		if !math.IsNaN(f.burstFound) {
			measured = sounding.Number(b.Time.Value() - f.burstFound)
			sentence = fmt.Sprintf("burst set by a decision to %s UTC; found in %s at %s UTC ± %.1f s, %+.1f s from it",
				b.UTC.Format(clock), f.followed.name, instantUTC(f.epoch, f.burstFound).Format(clock), f.fall.uncertainty, f.burstFound-b.Time.Value())
		}
		add(b, sounding.Note, measured, sounding.NotSet, "s", sentence)
	}
	measured, limit, unit, short := f.short(top)
	switch {
	case b.Found && short:
		add(b, sounding.Questionable, measured, limit, unit, fmt.Sprintf("burst early, at %s: the sounding ends below %g %s", place(b), limit.Value(), unit))
	case b.Found && top.Height.Set() && top.Height.Value() > f.set.Highest:
		add(b, sounding.Questionable, top.Height, sounding.Number(f.set.Highest), "m", fmt.Sprintf("burst late, at %s: higher than sounding balloons reach, so look at the heights", place(b)))
	case f.events.End == sounding.EndFloat:
		fallen := f.fallen()
		sentence := fmt.Sprintf("no burst: the balloon floats near %s when the data end", place(top))
		if fallen > f.set.Landed {
			sentence = fmt.Sprintf("no burst: the balloon reached %s and sank from there, by %.0f m when the data end", place(top), fallen)
		}
		add(top, sounding.Questionable, sounding.Number(fallen), sounding.NotSet, "m", sentence)
	case f.events.End == sounding.EndDataLost:
		severity := sounding.Note
		sentence := fmt.Sprintf("burst not seen: the data end at %s while the balloon climbs", place(top))
		if short {
			severity = sounding.Questionable
			sentence += fmt.Sprintf(", below %g %s", limit.Value(), unit)
		}
		add(top, severity, measured, limit, unit, sentence)
	}
	if b.Found && b.Method != "decision" && f.fall.gap > f.set.BurstGap {
		add(b, sounding.Note, sounding.Number(f.fall.gap), sounding.Number(f.set.BurstGap), "s",
			fmt.Sprintf("the burst falls into a gap of %.0f s: the last climbing row is at %s", f.fall.gap, place(b)))
	}
	if b.Found && b.Method != "decision" {
		if late := b.Time.Value() - top.Time.Value(); late > f.set.FloatTime {
			add(b, sounding.Note, sounding.Number(late), sounding.Number(f.set.FloatTime), "s",
				fmt.Sprintf("burst %.0f s after the highest point at %s: the balloon floated in between", late, place(top)))
		}
	}
}

// fallen returns how far below its top the flight ends, m.
func (f *finder) fallen() float64 {
	s := f.followed
	if s == nil || s.len() == 0 {
		return 0
	}
	return s.z[f.fall.top] - s.z[s.len()-1]
}
