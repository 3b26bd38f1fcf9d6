package workbench_test

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"testing"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

func simulated(tb testing.TB) (workbench.File, workbench.File) {
	s, err := truth.Preset(truth.MidLatitudeSummer, true)
	if err != nil {
		tb.Fatal(err)
	}
	f, err := truth.Simulate(s, 7)
	if err != nil {
		tb.Fatal(err)
	}
	return workbench.File{Name: "flight.txt", Bytes: f.Text(0)}, workbench.File{Name: "launch.toml", Bytes: f.RecordText()}
}

func BenchmarkLoad(b *testing.B) {
	file, record := simulated(b)
	b.SetBytes(int64(len(file.Bytes)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := workbench.Load([]workbench.File{file}, workbench.Request{Record: record}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRun(b *testing.B) {
	file, record := simulated(b)
	l, err := workbench.Load([]workbench.File{file}, workbench.Request{Record: record})
	if err != nil {
		b.Fatal(err)
	}
	b.Logf("%d rows", l[0].Inputs.Raw.Len())
	b.ReportAllocs()
	for b.Loop() {
		if _, err := workbench.Run(l[0].Inputs); err != nil {
			b.Fatal(err)
		}
	}
}

func outcome(t *testing.T, change func(*workbench.Inputs)) *workbench.Outcome {
	t.Helper()
	file, record := simulated(t)
	l, err := workbench.Load([]workbench.File{file}, workbench.Request{Record: record})
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(&l[0].Inputs)
	}
	o, err := workbench.Run(l[0].Inputs)
	if err != nil {
		t.Fatal(err)
	}
	if err := o.Final.Validate(); err != nil {
		t.Fatal(err)
	}
	return o
}

// same tells whether two outcomes hold the same values, flags and findings to the bit.
func same(a, b *workbench.Outcome) bool {
	x, errX := json.Marshal([]any{a.Final.Findings, a.Final.Events, a.Final.Verdict, a.Final.Summary, a.Final.Steps, a.Levels})
	y, errY := json.Marshal([]any{b.Final.Findings, b.Final.Events, b.Final.Verdict, b.Final.Summary, b.Final.Steps, b.Levels})
	if errX != nil || errY != nil || !bytes.Equal(x, y) || len(a.Final.Series) != len(b.Final.Series) {
		return false
	}
	for i := range a.Final.Series {
		s, r := &a.Final.Series[i], &b.Final.Series[i]
		if s.Variable != r.Variable {
			return false
		}
		for k := range s.Values {
			if math.Float64bits(s.Values[k]) != math.Float64bits(r.Values[k]) || s.Flags[k] != r.Flags[k] || s.Tests[k] != r.Tests[k] {
				return false
			}
		}
	}
	return true
}

func TestTheSameInputsGiveTheSameOutcome(t *testing.T) {
	a, b := outcome(t, nil), outcome(t, nil)
	if !same(a, b) {
		t.Error("two runs on the same inputs differ")
	}
	if a.Final.MethodSet != b.Final.MethodSet {
		t.Errorf("method sets %s and %s", a.Final.MethodSet, b.Final.MethodSet)
	}
}

func TestRunLeavesItsInputsAlone(t *testing.T) {
	file, record := simulated(t)
	l, err := workbench.Load([]workbench.File{file}, workbench.Request{Record: record})
	if err != nil {
		t.Fatal(err)
	}
	in := l[0].Inputs
	before := snapshot(&in.Raw.Columns)
	recordBefore, _ := json.Marshal(in.Record)
	if _, err := workbench.Run(in); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(before, snapshot(&in.Raw.Columns)) {
		t.Error("the raw columns were changed")
	}
	if recordAfter, _ := json.Marshal(in.Record); !bytes.Equal(recordBefore, recordAfter) {
		t.Error("the launch record was changed")
	}
}

func snapshot(c *sounding.Columns) []byte {
	var b []byte
	add := func(v []float64) {
		for _, x := range v {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
		}
	}
	add(c.Time)
	for i := range c.Series {
		add(c.Series[i].Values)
	}
	return b
}

// Every step names its variable, keeps every row, and the last step of a variable is its
// final value, bit for bit: a trail adds up.
func TestStepsEndInTheFinalValue(t *testing.T) {
	o := outcome(t, nil)
	last := map[sounding.Variable]*sounding.Step{}
	for i := range o.Final.Steps {
		s := &o.Final.Steps[i]
		if len(s.Values) != o.Final.Len() {
			t.Errorf("step %s of %s holds %d of %d rows", s.Method, s.Variable, len(s.Values), o.Final.Len())
		}
		if s.Note == "" || s.Method == "" {
			t.Errorf("step of %s says nothing: %+v", s.Variable, s.Method)
		}
		last[s.Variable] = s
	}
	if len(last) < 5 {
		t.Fatalf("steps for %d variables only", len(last))
	}
	for v, s := range last {
		f := o.Final.Get(v)
		if f == nil {
			t.Errorf("%s has steps but no final series", v)
			continue
		}
		for i := range s.Values {
			if math.Float64bits(s.Values[i]) != math.Float64bits(f.Values[i]) && !(math.IsNaN(s.Values[i]) && math.IsNaN(f.Values[i])) {
				t.Fatalf("%s row %d: step %s ends at %g, final is %g", v, i, s.Method, s.Values[i], f.Values[i])
			}
		}
	}
}

// A raw variable without a step is handed on as it was.
func TestWithoutAStepNothingChanges(t *testing.T) {
	o := outcome(t, nil)
	stepped := map[sounding.Variable]bool{}
	for _, s := range o.Final.Steps {
		stepped[s.Variable] = true
	}
	for i := range o.Final.Before.Series {
		raw := &o.Final.Before.Series[i]
		final := o.Final.Get(raw.Variable)
		if stepped[raw.Variable] {
			continue
		}
		if final == nil {
			t.Errorf("%s was lost on the way", raw.Variable)
			continue
		}
		for k := range raw.Values {
			if raw.Values[k] != final.Values[k] && !math.IsNaN(raw.Values[k]) {
				t.Fatalf("%s row %d changed from %g to %g without a step", raw.Variable, k, raw.Values[k], final.Values[k])
			}
		}
	}
}

func decide(d sounding.Decision) func(*workbench.Inputs) {
	if d.ID == "" {
		d.ID = "d1"
	}
	d.Reason, d.Who = "test", "tester"
	return func(in *workbench.Inputs) { in.Decisions = append(in.Decisions, d) }
}

func TestExcludeWithholdsAndKeepsTheValue(t *testing.T) {
	plain := outcome(t, nil)
	from, to := plain.Final.UTC(600), plain.Final.UTC(900)
	o := outcome(t, decide(sounding.Decision{Action: sounding.ActExclude, Variables: []sounding.Variable{sounding.Temperature}, From: from, To: to}))
	s := o.Final.Get(sounding.Temperature)
	inside := 0
	for i, time := range o.Final.Time {
		in := time >= 600-1e-6 && time <= 900+1e-6
		if math.IsNaN(plain.Final.Get(sounding.Temperature).Values[i]) {
			continue
		}
		if in {
			inside++
			if s.Flags[i] != quality.Bad || !s.Tests[i].Has(quality.Decision) {
				t.Fatalf("row %d at %.0f s is %v", i, time, s.Flags[i])
			}
			if math.IsNaN(s.Values[i]) {
				t.Fatalf("row %d at %.0f s lost its value", i, time)
			}
		}
	}
	if inside < 250 {
		t.Errorf("%d samples excluded", inside)
	}
	dew := o.Final.Get(sounding.DewPoint)
	for i, time := range o.Final.Time {
		if time > 601 && time < 899 && dew.Flags[i] == quality.Good {
			t.Fatalf("dew point at %.0f s is good although its temperature is withheld", time)
		}
	}
	for _, l := range o.Levels.Levels {
		if l.Row >= 0 && o.Final.Time[l.Row] > 600 && o.Final.Time[l.Row] < 900 && l.Temperature.Set() {
			t.Errorf("level at %.1f hPa uses a withheld temperature", l.Pressure)
		}
	}
}

func TestUndoIsRunningWithoutTheDecision(t *testing.T) {
	plain := outcome(t, nil)
	d := sounding.Decision{Action: sounding.ActExclude, Variables: []sounding.Variable{sounding.Pressure, sounding.WindU}, From: plain.Final.UTC(1000), To: plain.Final.UTC(1500),
		Revoked: &sounding.Revoked{Reason: "mistake", Who: "tester"}}
	revoked := outcome(t, decide(d))
	if !same(plain, revoked) {
		t.Error("a revoked decision leaves a trace in the outcome")
	}
}

func TestRestoreBringsABadSampleBack(t *testing.T) {
	file, record := simulated(t)
	l, err := workbench.Load([]workbench.File{file}, workbench.Request{Record: record})
	if err != nil {
		t.Fatal(err)
	}
	in := l[0].Inputs
	raw := *in.Raw
	s := *raw.Get(sounding.Temperature)
	s.Values = append([]float64(nil), s.Values...)
	row := raw.Len() / 3
	s.Values[row] += 30
	raw.Columns = raw.With(s)
	in.Raw = &raw
	spiked, err := workbench.Run(in)
	if err != nil {
		t.Fatal(err)
	}
	if got := spiked.Final.Get(sounding.Temperature).Flags[row]; got != quality.Bad && got != quality.Questionable {
		t.Fatalf("a spike of 30 K is %v", got)
	}
	at := spiked.Final.UTC(spiked.Final.Time[row])
	in.Decisions = []sounding.Decision{{ID: "d1", Action: sounding.ActRestore, Variables: []sounding.Variable{sounding.Temperature}, From: at, To: at, Reason: "it was so", Who: "tester"}}
	restored, err := workbench.Run(in)
	if err != nil {
		t.Fatal(err)
	}
	final := restored.Final.Get(sounding.Temperature)
	if final.Flags[row] != quality.Good || !final.Tests[row].Has(quality.Decision) {
		t.Errorf("the restored sample is %v with %v", final.Flags[row], final.Tests[row].Checks())
	}
	trail, ok := restored.Trail(sounding.Temperature, restored.Final.Time[row])
	if !ok || len(trail.Decisions) != 1 || trail.Row != row {
		t.Errorf("trail of the restored sample: %v, row %d, %d decisions", ok, trail.Row, len(trail.Decisions))
	}
}

func TestSetReleaseMovesTimeAndNotTheDecisions(t *testing.T) {
	plain := outcome(t, nil)
	moved := plain.Final.Events.Release.UTC.Add(20 * time.Second)
	span := sounding.Decision{ID: "d1", Action: sounding.ActExclude, Variables: []sounding.Variable{sounding.Temperature}, From: plain.Final.UTC(700), To: plain.Final.UTC(800), Reason: "r", Who: "w"}
	o := outcome(t, func(in *workbench.Inputs) {
		in.Decisions = []sounding.Decision{span, {ID: "d2", Action: sounding.ActSetRelease, Value: moved.Format(time.RFC3339Nano), Reason: "r", Who: "w"}}
	})
	if off := o.Final.Events.Release.UTC.Sub(moved).Seconds(); math.Abs(off) > 1e-3 {
		t.Errorf("release is %.3f s off the ruling", off)
	}
	before, after := plain.Final.Get(sounding.Temperature), o.Final.Get(sounding.Temperature)
	for i := range after.Flags {
		utc := plain.Final.UTC(plain.Final.Time[i])
		inside := !utc.Before(span.From) && !utc.After(span.To)
		if inside && !math.IsNaN(before.Values[i]) && after.Flags[i] != quality.Bad {
			t.Fatalf("row %d left the excluded span when release moved", i)
		}
		if math.Abs(plain.Final.Time[i]-o.Final.Time[i]-20) > 1e-6 {
			t.Fatalf("row %d: time %.3f became %.3f", i, plain.Final.Time[i], o.Final.Time[i])
		}
	}
}

func TestChooseSensorIsHonoured(t *testing.T) {
	plain := outcome(t, nil)
	from, to := plain.Final.UTC(1200), plain.Final.UTC(1800)
	for _, sensor := range []string{"a", "b"} {
		o := outcome(t, decide(sounding.Decision{Action: sounding.ActChooseSensor, Value: sensor, From: from, To: to}))
		if same(plain, o) {
			t.Errorf("choosing sensor %s over ten minutes changes nothing", sensor)
		}
		trail, _ := o.Trail(sounding.Humidity, 1500)
		if len(trail.Decisions) != 1 {
			t.Errorf("sensor %s: the trail names %d decisions", sensor, len(trail.Decisions))
		}
	}
}

func TestCorrectRecordChangesTheRecordInForceOnly(t *testing.T) {
	o := outcome(t, decide(sounding.Decision{Action: sounding.ActCorrectRecord, Field: "surface.pressure_hpa", Value: "28.5 inHg"}))
	if got := o.Record.Surface.Pressure.Value(); math.Abs(got-965.12) > 0.1 { // 1 inHg = 33.8639 hPa (NIST SP 811)
		t.Errorf("surface pressure in force is %.2f hPa", got)
	}
	if o.Inputs.Record.Surface.Pressure == o.Record.Surface.Pressure {
		t.Error("the operator's record was changed")
	}
	bad := outcome(t, decide(sounding.Decision{Action: sounding.ActCorrectRecord, Field: "surface.pressure_hpa", Value: "much"}))
	found := false
	for _, f := range bad.Final.Findings {
		found = found || f.Check == quality.Decision
	}
	if !found {
		t.Error("a correction that cannot be read is silent")
	}
}

func TestDismissedFindingSetsNoFlagAndStaysListed(t *testing.T) {
	file, record := simulated(t)
	l, err := workbench.Load([]workbench.File{file}, workbench.Request{Record: record})
	if err != nil {
		t.Fatal(err)
	}
	in := l[0].Inputs
	raw := *in.Raw
	s := *raw.Get(sounding.Temperature)
	s.Values = append([]float64(nil), s.Values...)
	row := raw.Len() / 3
	s.Values[row] += 30
	raw.Columns = raw.With(s)
	in.Raw = &raw
	o, err := workbench.Run(in)
	if err != nil {
		t.Fatal(err)
	}
	// The spike fires several checks, in the raw and in the corrected stage.
	for n := 1; n <= 12; n++ {
		id := ""
		for _, f := range o.Final.Findings {
			for _, span := range f.Spans {
				if f.Variable == sounding.Temperature && span.Contains(row) && f.State == "" && f.Severity > sounding.Note {
					id = f.ID
				}
			}
		}
		if id == "" {
			break
		}
		in.Decisions = append(in.Decisions, sounding.Decision{ID: fmt.Sprintf("d%d", n), Action: sounding.ActDismiss, Field: id, Reason: "r", Who: "w"})
		if o, err = workbench.Run(in); err != nil {
			t.Fatal(err)
		}
	}
	if len(in.Decisions) == 0 {
		t.Fatal("a spike of 30 K gave no finding")
	}
	if f := o.Final.Get(sounding.Temperature).Flags[row]; f != quality.Good {
		t.Errorf("with its findings dismissed the sample is %v", f)
	}
	dismissed := 0
	for _, f := range o.Final.Findings {
		if f.State == "dismissed" {
			dismissed++
		}
	}
	if dismissed == 0 {
		t.Error("dismissed findings are not listed any more")
	}
}

func TestCompareOfAFlightWithItselfIsEmpty(t *testing.T) {
	o := outcome(t, nil)
	if d := workbench.Compare(o, o); !d.Empty() {
		t.Errorf("%+v", d)
	}
}

func TestNoRowsIsAnErrorWithoutRecord(t *testing.T) {
	if _, err := workbench.Run(workbench.Inputs{Raw: &sounding.Raw{}}); err == nil {
		t.Error("no rows and no record gave no error")
	}
}

func TestALaunchRecordAloneIsAFlight(t *testing.T) {
	_, record := simulated(t)
	all, err := workbench.Check(nil, workbench.Request{Record: record})
	if err != nil || len(all) != 1 {
		t.Fatalf("%d outcomes, %v", len(all), err)
	}
	f := all[0].Final
	if f.Verdict.Word != sounding.Refuse || f.Len() != 0 || f.FlightName == "" || all[0].Record.Site.Name == "" {
		t.Errorf("%s %q, %d rows, site %q", f.Verdict.Word, f.FlightName, f.Len(), all[0].Record.Site.Name)
	}
	if _, ok := all[0].Trail(sounding.Temperature, 0); ok {
		t.Error("a flight without rows has a trail")
	}
	if _, err := workbench.Check(nil, workbench.Request{}); err == nil {
		t.Error("nothing at all gave no error")
	}
}
