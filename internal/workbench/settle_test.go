package workbench_test

import (
	"math"
	"strings"
	"testing"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

func faulty(t *testing.T, fault string, size float64) (*truth.Flight, *sounding.Final) {
	t.Helper()
	s, err := truth.Preset(truth.Marine, false)
	if err != nil {
		t.Fatal(err)
	}
	s.Exact = true
	s.Faults = []truth.Fault{{Name: fault, Size: size}}
	f, err := truth.Simulate(s, 4711)
	if err != nil {
		t.Fatal(err)
	}
	out, err := workbench.CheckWith([]workbench.File{{Name: "a.txt", Bytes: f.Text(0)}},
		workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: f.RecordText()}}, workbench.DefaultSettings())
	if err != nil {
		t.Fatal(err)
	}
	return f, out[0].Final
}

// A barometer that is off by a constant is put right by satellite height, and checked
// again: nothing is left to look at, the flags go, and what was found stays as a note.
// A surface pressure that is off by as much is not the barometer's fault and stays.
func TestBarometerOffsetIsSettled(t *testing.T) {
	f, final := faulty(t, "pressure-offset", 2)
	if final.Verdict.Word != sounding.Accept {
		t.Errorf("verdict %v", final.Verdict)
	}
	said := 0
	for _, x := range final.Findings {
		if x.Check == quality.BarometerHeight && x.Variable == sounding.Pressure && strings.Contains(x.Sentence, "checked again") {
			said++
		}
		if x.Field == "surface.pressure_hpa" && (x.Severity != sounding.Note || !strings.Contains(x.Sentence, "offset of the barometer")) {
			t.Errorf("%v: %s", x.Severity, x.Sentence)
		}
	}
	if said != 1 {
		t.Errorf("%d findings were checked again, want 1", said)
	}
	frame := map[int32]int32{}
	for i, k := range f.Receptions[0].Sample {
		frame[f.Receptions[0].Columns.Line[i]] = k
	}
	p := final.Get(sounding.Pressure)
	ascent := final.Events.Ascent()
	for i := ascent.From; i < ascent.To; i++ {
		if p.Flags[i] == quality.Questionable {
			t.Fatalf("row %d is still questionable: %v", i, p.Tests[i].Checks())
		}
		if off := p.Values[i] - f.Truth.Pressure[frame[final.Line[i]]]; math.Abs(off) > 0.5 {
			t.Fatalf("row %d is off by %+.2f hPa", i, off)
		}
	}

	for fault, size := range map[string]float64{"surface-pressure-typo": 2.5, "pressure-drift": 3, "pressure-offset": 7} {
		if _, final := faulty(t, fault, size); final.Verdict.Word != sounding.Look {
			t.Errorf("%s of %g: verdict %v", fault, size, final.Verdict)
		}
	}
}
