package sounding

import (
	"math"
	"testing"
	"time"

	"leadline/internal/quality"
)

func threeRows() Columns {
	return Columns{Time: []float64{0, 1, 2}, Line: []int32{11, 12, 13}, Source: make([]uint8, 3), Series: []Series{
		{Variable: Temperature, Values: []float64{280, 281, math.NaN()}},
		{Variable: Humidity, Values: []float64{50, 51, 52}},
	}}
}

// The roll-up rule, case by case: DESIGN's flags are IOC 54:V3 and the rule is ours.
func TestFlagged(t *testing.T) {
	c := threeRows()
	ran := CheckRun{Check: quality.Gross, Variable: Temperature, Ran: true}
	got := c.Flagged(Report{
		Runs:     []CheckRun{ran, {Check: quality.Spike, Variable: Humidity, Ran: false, Why: "too short"}},
		Findings: []Finding{{Check: quality.Gross, Variable: Temperature, Severity: Bad, Spans: []Span{{1, 3}}}},
	})
	wantT := []quality.Flag{quality.Good, quality.Bad, quality.Missing}
	wantH := []quality.Flag{quality.NotEvaluated, quality.NotEvaluated, quality.NotEvaluated}
	for i := range wantT {
		if got.Get(Temperature).Flags[i] != wantT[i] {
			t.Errorf("temperature row %d: %v, want %v", i, got.Get(Temperature).Flags[i], wantT[i])
		}
		if got.Get(Humidity).Flags[i] != wantH[i] {
			t.Errorf("humidity row %d: %v, want %v: a check that did not run is not good", i, got.Get(Humidity).Flags[i], wantH[i])
		}
	}
	if err := got.Validate(); err != nil {
		t.Error(err)
	}
	if c.Get(Temperature).Flags != nil {
		t.Error("Flagged changed the columns it was given")
	}
	if !got.Get(Temperature).Tests[1].Has(quality.Gross) || got.Get(Temperature).Tests[0] != 0 {
		t.Errorf("tests %v", got.Get(Temperature).Tests)
	}
	again := got.Flagged(Report{Findings: []Finding{
		{Check: quality.TimeOrder, Severity: Questionable, Spans: []Span{{0, 2}}},
		{Check: quality.Spike, Variable: Humidity, Severity: Bad, Spans: []Span{{2, 3}}, State: "dismissed"},
		{Check: quality.Spike, Variable: Humidity, Severity: Note, Spans: []Span{{2, 3}}},
	}})
	if f := again.Get(Temperature).Flags; f[0] != quality.Questionable || f[1] != quality.Bad {
		t.Errorf("a later finding gave %v: flags only get worse", f)
	}
	if f := again.Get(Humidity).Flags; f[0] != quality.Questionable || f[2] != quality.NotEvaluated {
		t.Errorf("row finding, dismissed finding and note gave %v", f)
	}
}

func TestLocate(t *testing.T) {
	c := threeRows()
	epoch := time.Date(2031, 6, 3, 23, 4, 11, 0, time.UTC)
	f := Locate(Finding{Check: quality.Gross, Variable: Temperature, Spans: []Span{{1, 9}}}, &c, []float64{100, 105, 110}, epoch)
	if f.FirstLine != 12 || f.LastLine != 13 || f.FirstTime != 1 || f.Bottom != 105 || f.Top != 110 {
		t.Errorf("%+v", f)
	}
	if f.FirstUTC != "2031-06-03T23:04:12.000Z" || f.ID != "gross.temperature.2031-06-03T23:04:12.000Z" {
		t.Errorf("first %s, id %s", f.FirstUTC, f.ID)
	}
	g := Locate(Finding{Check: quality.LaunchRecord, Field: "surface.pressure_hpa"}, &c, nil, epoch)
	if g.ID != "launch-record.none.surface.pressure_hpa" || g.FirstTime.Set() {
		t.Errorf("%+v", g)
	}
	list := []Finding{{ID: "a"}, {ID: "b"}, {ID: "a"}}
	NumberIDs(list)
	if list[0].ID != "a" || list[2].ID != "a-2" {
		t.Errorf("%v", list)
	}
}
