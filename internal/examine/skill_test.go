package examine

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/truth"
)

var update = flag.Bool("update", false, "write the figures of this run to testdata/sample.json")

// sample is a fixed part of the reporting seeds, small enough for every change.
func sample(t *testing.T) *Report {
	t.Helper()
	r, err := Run(Plan{Purpose: Reporting, Clean: 6, Faulty: 1, Climates: []truth.Climate{truth.Tropical, truth.MidLatitudeWinter}})
	if err != nil {
		t.Fatal(err)
	}
	r.Seconds = 0 // the only figure that is not the same on every run
	return r
}

// share returns by how much a share of n may fall for the sample's sake: two standard
// errors, and at least one in n.
func shareError(p float64, n int) float64 {
	return math.Max(2*math.Sqrt(p*(1-p)/float64(n)), 1/float64(n))
}

// No figure of skill falls behind the last report's by more than its sampling error. The
// figures are those of this project's own last run on the same flights: an authority
// for change only, while docs/skill.md says how good they are.
func TestSkillHolds(t *testing.T) {
	if testing.Short() {
		t.Skip("some 230 flights: not in short mode")
	}
	now := sample(t)
	path := filepath.Join("testdata", "sample.json")
	if *update {
		b, err := json.MarshalIndent(now, "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, append(b, '\n'), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var last Report
	if err := json.Unmarshal(b, &last); err != nil {
		t.Fatal(err)
	}
	for _, line := range behind(now, &last) {
		t.Error(line)
	}
}

// behind lists the figures of now that are worse than those of last by more than their
// sampling error.
func behind(now, last *Report) []string {
	var out []string
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if len(now.Failures) > len(last.Failures) {
		say("%d flights could not be run, %d before: %s", len(now.Failures), len(last.Failures), now.Failures[0])
	}
	n := now.Clean.Flights
	if p := float64(last.Clean.NotAccept) / float64(n); float64(now.Clean.NotAccept)/float64(n) > p+shareError(p, n) {
		say("%d clean flights are not accepted, %d before: %v", now.Clean.NotAccept, last.Clean.NotAccept, now.Clean.Reasons)
	}
	if now.Clean.FlaggedPct > math.Max(2*last.Clean.FlaggedPct, 0.1) {
		say("%.3f %% of clean samples are flagged, %.3f before: %v", now.Clean.FlaggedPct, last.Clean.FlaggedPct, now.Clean.ByCheck)
	}
	for _, e := range []struct {
		name            string
		now, last, goal float64
	}{
		{"release, median", now.Events.ReleaseMedian.Value(), last.Events.ReleaseMedian.Value(), 1},
		{"release, 95th percentile", now.Events.Release95.Value(), last.Events.Release95.Value(), 3},
		{"burst, 95th percentile", now.Events.Burst95.Value(), last.Events.Burst95.Value(), 2},
	} {
		// The standard error of a median of n is about 1.25 sd/√n; half the goal is far beyond it.
		if !(e.now <= math.Max(e.last+0.5*e.goal, e.last*1.5)) {
			say("%s: %.2f s, %.2f before", e.name, e.now, e.last)
		}
	}
	for i := range last.Errors {
		was := &last.Errors[i]
		for k := range now.Errors {
			is := &now.Errors[k]
			if is.Variable != was.Variable || is.Time != was.Time || is.Band != was.Band || !was.FinalRMS.Set() {
				continue
			}
			if allowed := was.FinalRMS.Value() + 2*was.FinalU.Or(0.2*was.FinalRMS.Value()); !(is.FinalRMS.Value() <= allowed) {
				say("%v %s by %s: rms %.3f, %.3f ± %.3f before", was.Variable, was.Band, was.Time, is.FinalRMS, was.FinalRMS, was.FinalU)
			}
		}
	}
	for i := range last.Faults {
		was := &last.Faults[i]
		found := false
		for k := range now.Faults {
			is := &now.Faults[k]
			if is.Fault != was.Fault {
				continue
			}
			found = true
			if is.Mattered == 0 || was.Mattered == 0 {
				continue
			}
			p := float64(was.Found) / float64(was.Mattered)
			if q := float64(is.Found) / float64(is.Mattered); q < p-shareError(p, is.Mattered)-1e-9 {
				say("%s: found on %d of %d flights, %d of %d before", was.Fault, is.Found, is.Mattered, was.Found, was.Mattered)
			}
			if is.Affected == 0 || was.Affected == 0 {
				continue
			}
			// Samples of one flight stand and fall together: flights are what is counted.
			p = float64(was.Marked) / float64(was.Affected)
			if q := float64(is.Marked) / float64(is.Affected); q < p-shareError(p, is.Mattered)-1e-9 {
				say("%s: %.2f of affected samples marked or right, %.2f before", was.Fault, q, p)
			}
		}
		if !found {
			say("%s is examined no more", was.Fault)
		}
	}
	return out
}

// The comparison itself notices what it is there for.
func TestBehindNotices(t *testing.T) {
	build := func() *Report {
		return &Report{
			Clean:  CleanSkill{Flights: 24},
			Errors: []ErrorRow{{Variable: measured[0].variable, Band: "a", Time: "day", FinalRMS: 0.1, FinalU: 0.01}},
			Faults: []FaultRow{{Fault: "x", Flights: 20, Mattered: 20, Found: 20, Affected: 1000, Marked: 950}},
		}
	}
	if lines := behind(build(), build()); len(lines) > 0 {
		t.Errorf("the same figures: %v", lines)
	}
	for name, spoil := range map[string]func(*Report){
		"a clean flight refused": func(r *Report) { r.Clean.NotAccept = 3 },
		"clean samples flagged":  func(r *Report) { r.Clean.FlaggedPct = 0.3 },
		"an error grown":         func(r *Report) { r.Errors[0].FinalRMS = 0.13 },
		"a fault missed":         func(r *Report) { r.Faults[0].Found = 17 },
		"samples missed":         func(r *Report) { r.Faults[0].Marked = 700 },
		"a fault forgotten":      func(r *Report) { r.Faults = nil },
		"a flight that fails":    func(r *Report) { r.Failures = []string{"x"} },
	} {
		r := build()
		spoil(r)
		if len(behind(r, build())) == 0 {
			t.Errorf("%s: not noticed", name)
		}
	}
}

// A report is the same on every run, and its page and text hold what it says.
func TestReportIsDeterministic(t *testing.T) {
	plan := Plan{Purpose: Tuning, Clean: 1, Faulty: 1, Climates: []truth.Climate{truth.Marine}, Faults: []string{"temperature-offset"}, Sizes: []float64{0.5}}
	var pages [2]bytes.Buffer
	for k := range pages {
		r, err := Run(plan)
		if err != nil {
			t.Fatal(err)
		}
		r.Seconds = 0
		if err := r.Page(&pages[k]); err != nil {
			t.Fatal(err)
		}
		if r.Flights != 6 || len(r.Faults) != 1 || len(r.Sizes) != 1 || r.Faults[0].Flights != 2 || r.Sizes[0].Sizes[0].Flights != 2 {
			t.Errorf("%d flights, faults %v, sizes %v", r.Flights, r.Faults, r.Sizes)
		}
	}
	if !bytes.Equal(pages[0].Bytes(), pages[1].Bytes()) {
		t.Error("two runs give two pages")
	}
	for _, want := range []string{"<svg", "temperature-offset", "goals met", "2 K"} {
		if !bytes.Contains(pages[0].Bytes(), []byte(want)) {
			t.Errorf("the page does not hold %q", want)
		}
	}
}

// Tuning and reporting never share a seed: the top bit tells them apart.
func TestSeedsOfPurposesAreDisjoint(t *testing.T) {
	for n := range 2000 {
		a, b := Seed(Tuning, "marine day", n), Seed(Reporting, "marine day", n)
		if a>>63 != 0 || b>>63 != 1 {
			t.Fatalf("flight %d: seeds %x and %x", n, a, b)
		}
	}
}
