package truth_test

import (
	"bytes"
	"context"
	"math"
	"testing"
	"time"

	"leadline/internal/ingest"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// What the simulator writes, the shipped recipes read: every value, every line number,
// by every sheet and in both layouts.
func TestShippedRecipesReadWhatIsWritten(t *testing.T) {
	for _, layout := range []truth.Layout{truth.Text, truth.Vehicle} {
		for _, name := range sounding.ShippedSheets() {
			t.Run(layout.Recipe()+" "+name, func(t *testing.T) {
				s, err := truth.Preset(truth.Marine, true)
				if err != nil {
					t.Fatal(err)
				}
				s.Layout, s.Zone = layout, -3*time.Hour
				if s.Sheet, _, err = sounding.ShippedSheet(name); err != nil {
					t.Fatal(err)
				}
				s.Faults = []truth.Fault{{Name: "garbled-rows"}, {Name: "gps-loss"}}
				f, err := truth.Simulate(s, 21)
				if err != nil {
					t.Fatal(err)
				}
				recipe, _, err := ingest.ShippedRecipe(layout.Recipe())
				if err != nil {
					t.Fatal(err)
				}
				got, err := ingest.Read(context.Background(), f.Receptions[0].Name, bytes.NewReader(f.Text(0)), recipe, ingest.Options{})
				if err != nil {
					t.Fatal(err)
				}
				want := f.Raw()
				if got.Len() != want.Len() {
					t.Fatalf("%d rows, want %d", got.Len(), want.Len())
				}
				shift := got.Epoch.Sub(want.Epoch).Seconds()
				for i := range want.Time {
					if math.Abs(got.Time[i]+shift-want.Time[i]) > 1e-6 || got.Line[i] != want.Line[i] {
						t.Fatalf("row %d: time %g line %d, want %g and %d", i, got.Time[i]+shift, got.Line[i], want.Time[i], want.Line[i])
					}
				}
				for _, series := range want.Series {
					x := got.Values(series.Variable)
					if x == nil {
						t.Errorf("%v was not read", series.Variable)
						continue
					}
					within := 0.0
					switch series.Variable {
					case sounding.Latitude, sounding.Longitude, sounding.WindSpeed, sounding.WindDirection:
						within = 1e-9 // minutes and km/h do not come back to the last bit
					}
					for i, w := range series.Values {
						if math.Abs(x[i]-w) > within || math.IsNaN(x[i]) != math.IsNaN(w) {
							t.Fatalf("%v row %d: %.10g, want %.10g", series.Variable, i, x[i], w)
						}
					}
				}
			})
		}
	}
}

// The launch record's file gives the record back.
func TestLaunchRecordComesBack(t *testing.T) {
	for _, s := range truth.Presets() {
		f, err := truth.Simulate(s, 2)
		if err != nil {
			t.Fatal(err)
		}
		got, _, err := ingest.ReadRecord("record.toml", f.RecordText())
		if err != nil {
			t.Fatal(err)
		}
		for _, field := range sounding.RecordFields {
			switch {
			case field.Number != nil:
				a, b := *field.Number(got), *field.Number(f.Record)
				if a.Set() != b.Set() || math.Abs(a.Value()-b.Value()) > 1e-6 {
					t.Errorf("%s: %v, want %v", field.Path, a, b)
				}
			case field.Text != nil:
				if a, b := *field.Text(got), *field.Text(f.Record); a != b {
					t.Errorf("%s: %q, want %q", field.Path, a, b)
				}
			default:
				if a, b := *field.Instant(got), *field.Instant(f.Record); !a.Equal(b) {
					t.Errorf("%s: %v, want %v", field.Path, a, b)
				}
			}
		}
	}
}
