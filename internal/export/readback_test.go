package export

import (
	"bytes"
	"context"
	"math"
	"testing"

	"leadline/internal/flighttest"
	"leadline/internal/ingest"
	"leadline/internal/sounding"
)

// The shipped recipe reads the CSV back: every variable in its unit, the flags and
// uncertainties as extra columns, no finding.
func TestRecipeReadsCSV(t *testing.T) {
	f := flightOf(flighttest.New(900))
	recipe, _, err := ingest.ShippedRecipe("leadline-csv")
	if err != nil {
		t.Fatal(err)
	}
	b := written(t, f, CSV)
	raw, err := ingest.Read(context.Background(), "flight.csv", bytes.NewReader(b), recipe, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range raw.Findings {
		t.Errorf("finding: %s", x.Sentence)
	}
	if raw.Len() != f.Final.Len() {
		t.Fatalf("%d rows, want %d", raw.Len(), f.Final.Len())
	}
	for i, at := range raw.Time {
		got := sounding.Context{Epoch: raw.Epoch}
		if off := got.UTC(at).Sub(f.Final.UTC(f.Final.Time[i])).Seconds(); math.Abs(off) > 0.0006 {
			t.Fatalf("row %d is off by %g s", i, off)
		}
	}
	for _, s := range f.Final.Series {
		got := raw.Values(s.Variable)
		if got == nil {
			t.Errorf("%v is not read", s.Variable)
			continue
		}
		for i, want := range s.Values {
			if math.IsNaN(want) != math.IsNaN(got[i]) || math.Abs(got[i]-want) > 0.51*math.Pow(10, -float64(Decimals(s.Variable))) {
				t.Fatalf("%v row %d is %v, want %v", s.Variable, i, got[i], want)
			}
		}
	}
	names := map[string]bool{}
	for _, e := range raw.Extra {
		names[e.Name] = true
	}
	for _, want := range []string{"temperature_flag", "temperature_u_k", "temperature_u_common_k", "temperature_raw_k", "checks", "source_line"} {
		if !names[want] {
			t.Errorf("column %s is not kept: %v", want, names)
		}
	}
}

// The shipped recipe by CF names reads the netCDF back exactly.
func TestRecipeReadsNetCDF(t *testing.T) {
	f := flightOf(flighttest.New(900))
	recipe, _, err := ingest.ShippedRecipe("cf")
	if err != nil {
		t.Fatal(err)
	}
	raw, err := ingest.Read(context.Background(), "flight.nc", bytes.NewReader(written(t, f, NetCDF)), recipe, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.DewPoint, sounding.Latitude, sounding.Longitude, sounding.HeightMSL} {
		got, want := raw.Values(v), f.Final.Values(v)
		if len(got) != len(want) {
			t.Errorf("%v: %d values, want %d", v, len(got), len(want))
			continue
		}
		for i := range want {
			if got[i] != want[i] && !(math.IsNaN(got[i]) && math.IsNaN(want[i])) {
				t.Fatalf("%v row %d is %v, want %v", v, i, got[i], want[i])
			}
		}
	}
}
