package workbench_test

import (
	"testing"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// disturbed is a simulated flight in whose telemetry another radiosonde is picked up for
// seconds: the simulator knows which rows they are.
func disturbed(t *testing.T, seconds float64) (*truth.Flight, workbench.Inputs) {
	t.Helper()
	s, err := truth.Preset(truth.MidLatitudeSummer, true)
	if err != nil {
		t.Fatal(err)
	}
	s.Faults = []truth.Fault{{Name: "foreign-radiosonde", Size: seconds}}
	f, err := truth.Simulate(s, 7)
	if err != nil {
		t.Fatal(err)
	}
	l, err := workbench.Load([]workbench.File{{Name: "flight.txt", Bytes: f.Text(0)}},
		workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: f.RecordText()}})
	if err != nil {
		t.Fatal(err)
	}
	return f, l[0].Inputs
}

// doubts returns the findings above a note that touch rows of spans.
func doubts(o *workbench.Outcome, spans []sounding.Span) []sounding.Finding {
	var out []sounding.Finding
next:
	for _, f := range o.Final.Findings {
		for _, s := range f.Spans {
			for _, w := range spans {
				if f.Severity > sounding.Note && s.Clip(w).Len() > 0 {
					out = append(out, f)
					continue next
				}
			}
		}
	}
	return out
}

func TestRowsOfAnotherRadiosondeAreOneFinding(t *testing.T) {
	f, in := disturbed(t, 90)
	o, err := workbench.Run(in)
	if err != nil {
		t.Fatal(err)
	}
	rows := f.Injected[0].Rows
	found := doubts(o, rows)
	if len(found) != 1 || found[0].Check != quality.Sources {
		t.Fatalf("%d findings about the rows, want the one of the source: %+v", len(found), found)
	}
	// Every sample of the rows says so, and nothing derived has a value that is to be used.
	for _, c := range []*sounding.Columns{o.Final.Before, &o.Final.Columns} {
		for i := range c.Series {
			s := &c.Series[i]
			if s.Variable == sounding.AscentRate || s.Variable == sounding.SolarElevation {
				continue // of the flight's own heights and of the clock
			}
			for _, span := range rows {
				for k := span.From; k < span.To; k++ {
					if s.Flags[k] != quality.Bad && s.Flags[k] != quality.Missing {
						t.Fatalf("%v of row %d is %v", s.Variable, k, s.Flags[k])
					}
				}
			}
		}
	}
	// The samples beside them are the flight's own, and good.
	p := o.Final.Get(sounding.Pressure)
	if a, b := rows[0].From-1, rows[0].To; p.Flags[a] != quality.Good || p.Flags[b] != quality.Good {
		t.Errorf("pressure beside the rows is %v and %v, want good", p.Flags[a], p.Flags[b])
	}
}

func TestAnotherRadiosondeForLongIsAHoleInTheFlight(t *testing.T) {
	f, in := disturbed(t, 300)
	o, err := workbench.Run(in)
	if err != nil {
		t.Fatal(err)
	}
	var holes int
	for _, x := range o.Final.Findings {
		if x.Check == quality.Gap && x.Severity == sounding.Questionable {
			holes++
		}
	}
	if holes != 1 {
		t.Errorf("%d findings of a long hole in the flight's own rows, want 1", holes)
	}
	if found := doubts(o, f.Injected[0].Rows); len(found) != 1 {
		t.Errorf("%d findings mark the rows, want one: %+v", len(found), found)
	}
}

func TestDismissedAnotherRadiosondeIsTheFlightAgain(t *testing.T) {
	f, in := disturbed(t, 90)
	o, err := workbench.Run(in)
	if err != nil {
		t.Fatal(err)
	}
	found := doubts(o, f.Injected[0].Rows)
	in.Decisions = []sounding.Decision{{ID: "d1", Action: sounding.ActDismiss, Field: found[0].ID, Reason: "it is ours", Who: "a.b"}}
	if o, err = workbench.Run(in); err != nil {
		t.Fatal(err)
	}
	again := doubts(o, f.Injected[0].Rows)
	checks := map[quality.Check]bool{}
	for _, x := range again {
		checks[x.Check] = x.State == ""
	}
	if !checks[quality.Step] || !checks[quality.Position] || checks[quality.Sources] {
		t.Errorf("after the dismissal step and position have to speak of the rows, and the source no more: %+v", again)
	}
}
