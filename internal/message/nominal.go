package message

import (
	"time"

	"leadline/internal/sounding"
)

// nominalHour returns the hour a report is for: that of the launch record, else the main
// or intermediate synoptic hour (00, 03, 06 …) within 90 minutes of the start, which is
// every hour's nearest.
func nominalHour(f *sounding.Final, start time.Time, n *notes) time.Time {
	if f.Record != nil && !f.Record.Release.Nominal.IsZero() {
		return f.Record.Release.Nominal.UTC()
	}
	at := start.UTC().Round(3 * time.Hour)
	n.say(sounding.Note, "release.nominal_utc", "the launch record gives no nominal hour: %s UTC, the synoptic hour nearest to the start, is used", at.Format("2006-01-02 15"))
	return at
}
