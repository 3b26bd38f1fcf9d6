package suggest

import (
	"slices"
	"strings"
	"testing"
	"time"

	"leadline/internal/examine"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// Local time typed for three instants is one suggestion with three decisions; whoever
// stores the first is still offered the others.
func TestSameClockAfterTheFirstDecision(t *testing.T) {
	met := false
	for seed := range 4 {
		_, o, _, err := flightOf(examine.Case{Climate: truth.Marine, Day: true, Fault: "local-time-as-UTC"}, examine.Tuning, seed, nil)
		if err != nil {
			t.Fatal(err)
		}
		list := ForQuick(o)
		at := slices.IndexFunc(list, func(s Suggestion) bool { return s.Name == LocalTime })
		if at < 0 || len(list[at].Decisions) < 2 {
			continue
		}
		met = true
		whole := list[at].Decisions
		after := decided(t, o, numbered(whole[:1]))
		if got := sameClockOf(o); len(got) > 0 {
			t.Errorf("seed %d: before anything was decided: %+v", seed, got)
		}
		rest := sameClockOf(after)
		if len(rest) != 1 || rest[0].Name != LocalTime {
			t.Fatalf("seed %d: after the first decision: %+v", seed, rest)
		}
		valid(t, rest[0])
		for i, d := range rest[0].Decisions {
			want := whole[1+i]
			if d.Field != want.Field || d.Value != want.Value {
				t.Errorf("seed %d: %s to %s, want %s to %s", seed, d.Field, d.Value, want.Field, want.Value)
			}
		}
		if len(rest[0].Decisions) != len(whole)-1 {
			t.Errorf("seed %d: %d decisions left, want %d", seed, len(rest[0].Decisions), len(whole)-1)
		}
		if done := sameClockOf(decided(t, o, numbered(whole))); len(done) > 0 {
			t.Errorf("seed %d: all decided, still %+v", seed, done)
		}
		// Taken back: what is left is the first suggestion, not this one.
		taken := numbered(whole[:1])
		taken[0].Revoked = &sounding.Revoked{Reason: "tried", Who: "A. Reviewer"}
		if got := sameClockOf(decided(t, o, taken)); len(got) > 0 {
			t.Errorf("seed %d: taken back, still %+v", seed, got)
		}
		// A release declared 2 min late is no clock.
		late := numbered([]sounding.Decision{correct("release.declared_utc", o.Record.Release.Declared.Add(2*time.Minute).Format(time.RFC3339), "late")})
		if got := sameClockOf(decided(t, o, late)); len(got) > 0 {
			t.Errorf("seed %d: corrected by two minutes: %+v", seed, got)
		}
	}
	if !met {
		t.Fatal("no flight with several instants in local time: nothing was tested")
	}
}

// sameClockOf returns the suggestions that speak of the clock of a decision taken.
func sameClockOf(o *workbench.Outcome) []Suggestion {
	var out []Suggestion
	for _, s := range ForQuick(o) {
		if strings.Contains(s.Sentence, "same clock") {
			out = append(out, s)
		}
	}
	return out
}

func decided(t *testing.T, o *workbench.Outcome, d []sounding.Decision) *workbench.Outcome {
	t.Helper()
	in := o.Inputs
	in.Decisions = append(slices.Clone(in.Decisions), d...)
	after, err := workbench.Run(in)
	if err != nil {
		t.Fatal(err)
	}
	return after
}
