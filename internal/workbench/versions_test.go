package workbench_test

import (
	"context"
	"strings"
	"testing"

	"leadline/internal/comparison"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

func TestVersionsOfAFlight(t *testing.T) {
	ctx := context.Background()
	b, _, id := logbook(t)
	o, revision, err := b.Open(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	at := o.Final.UTC(1200)
	exclude := sounding.Decision{Action: sounding.ActExclude, Variables: []sounding.Variable{sounding.Humidity}, From: at, To: at.Add(100e9), Reason: "wet", Who: "A. Reviewer"}
	if _, _, _, err := b.Decide(ctx, id, exclude, revision); err != nil {
		t.Fatal(err)
	}
	zero := 0
	mine := "[wind.filter]\nshortest_cutoff_s = 55.0\n"
	for _, c := range []struct {
		a, b    workbench.FlightVersion
		v       sounding.Variable
		differs bool
		flags   bool
	}{
		{a: workbench.FlightVersion{Stage: workbench.StageRaw}, v: sounding.Temperature, differs: true},
		{a: workbench.FlightVersion{Without: "d1"}, v: sounding.Humidity, flags: true},
		{a: workbench.FlightVersion{Revision: &zero}, v: sounding.Humidity, flags: true},
		{a: workbench.FlightVersion{Settings: workbench.SettingsShipped}, v: sounding.WindSpeed},
		{a: workbench.FlightVersion{Settings: workbench.SettingsShipped}, b: workbench.FlightVersion{Settings: workbench.SettingsGiven, SettingsName: "mine.toml", SettingsText: mine}, v: sounding.WindSpeed, differs: true},
	} {
		c.a.Flight, c.b.Flight = id, id
		r, err := b.CompareVersions(ctx, c.a, c.b, comparison.Options{Only: []sounding.Variable{c.v}})
		if err != nil {
			t.Errorf("%s against %s: %v", c.a.Words(), c.b.Words(), err)
			continue
		}
		if !r.Result.SameRows || r.Effect == nil || len(r.Result.Variables) != 1 {
			t.Fatalf("%s: %+v", c.a.Words(), r)
		}
		whole := r.Result.Variables[0].Whole
		if whole.N == 0 || !c.flags && (whole.RMS > 0) != c.differs {
			t.Errorf("%s against %s: %+v", c.a.Words(), c.b.Words(), whole)
		}
		flags := 0
		for _, v := range r.Effect.Variables {
			if v.Variable == c.v {
				flags += v.Flags
			}
		}
		if c.flags && flags < 50 {
			t.Errorf("%s: %d flags change", c.a.Words(), flags)
		}
		// Only where both are valid: what the decision withholds is in A and not compared.
		if c.flags && (whole.N != whole.InB || whole.InA < whole.N+50) {
			t.Errorf("%s: %+v", c.a.Words(), whole)
		}
	}
	if again, r, _ := b.Open(ctx, id); again.Final.MethodSet != o.Final.MethodSet || r != revision+1 {
		t.Error("looking at versions changed the flight")
	}
	three := 3
	for _, c := range []struct {
		v    workbench.FlightVersion
		says string
	}{
		{workbench.FlightVersion{Without: "d2"}, "no decision d2"}, {workbench.FlightVersion{Revision: &three}, "no revision 3 yet"},
		{workbench.FlightVersion{Settings: "old"}, "are no settings"}, {workbench.FlightVersion{Stage: "checked"}, "no stage"},
		{workbench.FlightVersion{Settings: workbench.SettingsGiven, SettingsName: "x.toml", SettingsText: "[wind]\nx = 1\n"}, "unknown key"},
	} {
		c.v.Flight = id
		if _, _, err := b.OpenVersion(ctx, c.v); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%+v: %v, want %q", c.v, err, c.says)
		}
	}
}
