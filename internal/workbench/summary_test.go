package workbench

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/quality"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
)

// Whatever can stand in a finding or a check run has its page, by its name.
func TestEveryCheckHasItsPage(t *testing.T) {
	for _, c := range quality.Checks() {
		if _, err := os.Stat(filepath.Join(sharedtest.Root(t), "docs", "methods", c.String()+".md")); err != nil {
			t.Error(err)
		}
	}
}

func TestFindingsBeyondThreeAreCounted(t *testing.T) {
	for n, want := range map[int]string{4: "1 more finding.", 5: "2 more findings."} {
		f := &sounding.Final{}
		for i := range n {
			f.Findings = append(f.Findings, sounding.Finding{Check: quality.Spike, Severity: sounding.Bad, Sentence: "spike " + string(rune('a'+i))})
		}
		if got := doneSentences(f); len(got) != 4 || got[3] != want {
			t.Errorf("%d findings: %q, want the last to be %q", n, got, want)
		}
	}
}

func TestDurationsAsPeopleSayThem(t *testing.T) {
	for seconds, want := range map[float64]string{0: "0 s", 131: "131 s", 599: "599 s", 1500: "25 min", 10803: "3 h 0 min", 7200: "2 h 0 min"} {
		if got := duration(seconds); got != want {
			t.Errorf("duration(%g) = %q, want %q", seconds, got, want)
		}
	}
}

func TestSentences(t *testing.T) {
	for text, want := range map[string]string{"humidity is dry": "Humidity is dry.", "Done.": "Done.", "": "", " why? ": "Why?", "±3 s": "±3 s."} {
		if got := sentence(text); got != want {
			t.Errorf("sentence(%q) = %q, want %q", text, got, want)
		}
	}
}

// A pressure that ends long before the top is not the pressure there.
func TestReachedTellsThePressureOfTheTop(t *testing.T) {
	for pressures, want := range map[[3]float64]string{
		{1015, 100, 10}:                 "Reached 30.0 km (10.0 hPa).",
		{1015, math.NaN(), math.NaN()}:  "Reached 30.0 km.",
		{1015, 100, math.NaN()}:         "Reached 30.0 km.",
		{math.NaN(), math.NaN(), 10.04}: "Reached 30.0 km (10.0 hPa).",
	} {
		f := &sounding.Final{}
		f.Time = []float64{0, 3000, 6000}
		f.Series = []sounding.Series{{Variable: sounding.Pressure, Values: pressures[:], Flags: []quality.Flag{quality.Good, quality.Good, quality.Good}}}
		f.Events.Release.Found = true
		f.Events.Phases = []sounding.PhaseSpan{{Phase: sounding.Ascending, Span: sounding.Span{From: 0, To: 3}}}
		f.Events.Top = sounding.Event{Found: true, Row: 2, Time: 6000, Height: 30000}
		if got := endSentence(f); got != want {
			t.Errorf("%v: %q, want %q", pressures, got, want)
		}
	}
}
