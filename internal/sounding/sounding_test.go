package sounding

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"leadline/internal/quality"
)

func TestVariableNamesAreUniqueAndReadBack(t *testing.T) {
	names, columns := map[string]bool{}, map[string]bool{}
	for _, v := range Variables() {
		i := v.Info()
		if i.Name == "" || i.Symbol == "" || i.Label == "" || i.Unit == "" || i.Dimension == "" {
			t.Errorf("variable %d is not described in full: %+v", v, i)
		}
		if names[i.Name] || columns[v.Column()] {
			t.Errorf("%q stands twice", i.Name)
		}
		names[i.Name], columns[v.Column()] = true, true
		if back, err := ParseVariable(i.Name); err != nil || back != v {
			t.Errorf("ParseVariable(%q) = %v, %v", i.Name, back, err)
		}
	}
}

func TestShippedSheetsAreValid(t *testing.T) {
	if n := len(ShippedSheets()); n != 3 {
		t.Fatalf("%d sheets ship, want 3", n)
	}
	for _, name := range ShippedSheets() {
		s, _, err := ShippedSheet(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if s.Name != name {
			t.Errorf("%s.toml calls itself %q", name, s.Name)
		}
	}
	if _, _, err := ShippedSheet("../record"); err == nil {
		t.Error("a sheet outside the folder was found")
	}
}

func TestSheetRefusesUnknownKeysAndRaggedTables(t *testing.T) {
	for name, text := range map[string]string{
		"unknown key":  "name = \"x\"\n[temperature]\nresolution = 0.1\n",
		"ragged table": "name = \"x\"\n[temperature.radiation]\nelevation_deg = [0.0]\npressure_hpa = [1000.0, 100.0]\nerror_k = [[0.1]]\n",
		"no name":      "title = \"x\"\n",
		"three":        "name = \"x\"\n[humidity]\nsensors = 3\n",
	} {
		if _, err := ReadSheet(name, []byte(text)); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestRecordFieldsReachEveryItemOnce(t *testing.T) {
	r := NewLaunchRecord()
	seen := map[string]bool{}
	for _, f := range RecordFields {
		if seen[f.Path] {
			t.Errorf("%s stands twice", f.Path)
		}
		seen[f.Path] = true
		set := 0
		if f.Number != nil {
			set++
			if f.Number(r).Set() {
				t.Errorf("%s is set in a new record", f.Path)
			}
		}
		if f.Text != nil {
			set++
		}
		if f.Instant != nil {
			set++
		}
		if set != 1 {
			t.Errorf("%s has %d accessors, want 1", f.Path, set)
		}
	}
}

func TestNumberIsNullWhereNotSet(t *testing.T) {
	b, err := json.Marshal([]Number{NotSet, 0, -1.5, Number(math.Inf(1))})
	if err != nil || string(b) != "[null,0,-1.5,null]" {
		t.Errorf("got %s, %v", b, err)
	}
	var back []Number
	if err := json.Unmarshal([]byte("[null,0]"), &back); err != nil || back[0].Set() || !back[1].Set() || back[1] != 0 {
		t.Errorf("read back %v, %v: zero is a value, null is not set", back, err)
	}
}

func TestSpansJoin(t *testing.T) {
	mask := []bool{true, false, true, false, false, true, true}
	for join, want := range map[int][]Span{0: {{0, 1}, {2, 3}, {5, 7}}, 1: {{0, 3}, {5, 7}}, 2: {{0, 7}}} {
		got := Spans(mask, join)
		if len(got) != len(want) {
			t.Errorf("join %d: %v, want %v", join, got, want)
			continue
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("join %d: %v, want %v", join, got, want)
			}
		}
	}
}

func TestColumnsValidate(t *testing.T) {
	good := Columns{Time: []float64{0, 1}, Line: []int32{1, 2}, Source: []uint8{0, 0},
		Series: []Series{{Variable: Temperature, Values: []float64{280, math.NaN()}, Flags: []quality.Flag{quality.Good, quality.Missing}}}}
	if err := good.Validate(); err != nil {
		t.Error(err)
	}
	for name, broken := range map[string]Series{
		"length":             {Variable: Pressure, Values: []float64{1}},
		"twice":              {Variable: Temperature, Values: []float64{1, 2}},
		"value but missing":  {Variable: Pressure, Values: []float64{1, 2}, Flags: []quality.Flag{1, 9}},
		"no value but good":  {Variable: Pressure, Values: []float64{1, math.NaN()}, Flags: []quality.Flag{1, 1}},
		"flag never decided": {Variable: Pressure, Values: []float64{1, 2}, Flags: []quality.Flag{1, 0}},
	} {
		c := good
		c.Series = append(append([]Series(nil), good.Series...), broken)
		if c.Validate() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestWithReplacesAndLeavesTheOriginal(t *testing.T) {
	c := Columns{Time: []float64{0}, Line: []int32{1}, Source: []uint8{0}, Series: []Series{{Variable: Pressure, Values: []float64{1000}}}}
	d := c.With(Series{Variable: Pressure, Values: []float64{900}}, Series{Variable: Humidity, Values: []float64{50}})
	if c.Values(Pressure)[0] != 1000 || c.Get(Humidity) != nil {
		t.Error("With changed the original")
	}
	if d.Values(Pressure)[0] != 900 || d.Values(Humidity)[0] != 50 {
		t.Error("With did not replace or add")
	}
}

func TestDecisionValidate(t *testing.T) {
	at := time.Date(2031, 6, 3, 23, 4, 0, 0, time.UTC)
	good := Decision{ID: "d1", Action: ActExclude, Variables: []Variable{Humidity}, From: at, To: at.Add(time.Minute), Reason: "ice", Who: "observer"}
	if err := good.Validate(); err != nil {
		t.Error(err)
	}
	for name, change := range map[string]func(*Decision){
		"no reason":   func(d *Decision) { d.Reason = "" },
		"no variable": func(d *Decision) { d.Variables = nil },
		"no span":     func(d *Decision) { d.To = time.Time{} },
		"backwards":   func(d *Decision) { d.To = at.Add(-time.Second) },
		"action":      func(d *Decision) { d.Action = "delete" },
		"instant":     func(d *Decision) { d.Action, d.Value = ActSetRelease, "23:04" },
		"sensor":      func(d *Decision) { d.Action, d.Value = ActChooseSensor, "c" },
		"flag":        func(d *Decision) { d.Action, d.Value = ActFlag, "missing" },
		"field":       func(d *Decision) { d.Action = ActCorrectRecord },
		"finding":     func(d *Decision) { d.Action = ActDismiss },
	} {
		d := good
		change(&d)
		if d.Validate() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
