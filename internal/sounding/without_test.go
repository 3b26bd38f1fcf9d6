package sounding

import (
	"math"
	"testing"

	"leadline/internal/quality"
)

func TestWithoutRowsLeavesTheColumnsAlone(t *testing.T) {
	c := Columns{Time: []float64{0, 1, 2, 3}, Line: make([]int32, 4), Source: make([]uint8, 4), Series: []Series{
		{Variable: Pressure, Values: []float64{4, 3, 2, 1}, Flags: []quality.Flag{1, 1, 4, 1}},
		{Variable: Temperature, Values: []float64{270, 271, 272, 273}},
	}}
	got := c.Without([]Span{{1, 3}, {3, 99}})
	if err := got.Validate(); err != nil {
		t.Fatal(err)
	}
	for i, want := range []bool{true, false, false, false} {
		if has := !math.IsNaN(got.Series[0].Values[i]); has != want || math.IsNaN(c.Series[0].Values[i]) {
			t.Errorf("row %d: value %v, want %v, and the original kept", i, has, want)
		}
		if !math.IsNaN(got.Series[1].Values[i]) != want {
			t.Errorf("row %d of a series without flags holds %v", i, got.Series[1].Values[i])
		}
	}
	if c.Series[0].Flags[2] != quality.Bad || got.Series[0].Flags[2] != quality.Missing {
		t.Errorf("flags %v and %v", c.Series[0].Flags, got.Series[0].Flags)
	}
	if same := c.Without(nil); &same.Series[0].Values[0] != &c.Series[0].Values[0] {
		t.Error("without spans the columns are copied")
	}
}
