package workbench

import (
	"strings"
	"testing"
	"time"

	"leadline/internal/sounding"
)

// A release or burst is taken inside the data and an hour around them, and nowhere else.
func TestReleaseAndBurstAreSetInsideTheFlight(t *testing.T) {
	raw := &sounding.Raw{}
	raw.Epoch = time.Date(2031, 6, 3, 23, 0, 0, 0, time.UTC)
	raw.Time = []float64{0, 10, 5400, 5390} // a late row does not end the flight
	o := &Outcome{Inputs: Inputs{Raw: raw}}
	for _, c := range []struct {
		action sounding.Action
		value  string
		ok     bool
	}{
		{sounding.ActSetRelease, "2031-06-03T23:04:11Z", true},
		{sounding.ActSetRelease, "2031-06-04T01:04:11+02:00", true},
		{sounding.ActSetRelease, "2031-06-03T22:00:00Z", true},
		{sounding.ActSetRelease, "2031-06-03T21:59:59Z", false},
		{sounding.ActSetBurst, "2031-06-04T01:30:00Z", true},
		{sounding.ActSetBurst, "2031-06-04T01:30:01Z", false},
		{sounding.ActSetBurst, "2031-06-02T23:30:00Z", false},
		{sounding.ActNote, "2001-01-01T00:00:00Z", true},
	} {
		err := o.inFlight(&sounding.Decision{Action: c.action, Value: c.value})
		if (err == nil) != c.ok || err != nil && !strings.Contains(err.Error(), "whose data go from 2031-06-03 23:00:00 to 2031-06-04 00:30:00 UTC") {
			t.Errorf("%s %s: %v", c.action, c.value, err)
		}
	}
	none := &Outcome{Inputs: Inputs{Raw: &sounding.Raw{}}}
	if err := none.inFlight(&sounding.Decision{Action: sounding.ActSetRelease, Value: "2031-06-03T23:04:11Z"}); err != nil {
		t.Errorf("a flight without rows: %v", err)
	}
}
