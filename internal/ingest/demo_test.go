package ingest_test

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"
	"time"

	"leadline/internal/ingest"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// fly simulates a flight with one fault and reads its files.
func fly(t *testing.T, layout truth.Layout, fault string, seed uint64) (*truth.Flight, []*sounding.Raw) {
	t.Helper()
	s, err := truth.Preset(truth.Marine, true)
	if err != nil {
		t.Fatal(err)
	}
	s.Layout, s.Zone = layout, -3*time.Hour
	if fault != "" {
		s.Faults = []truth.Fault{{Name: fault}}
	}
	f, err := truth.Simulate(s, seed)
	if err != nil {
		t.Fatal(err)
	}
	var all []*sounding.Raw
	for k := range f.Receptions {
		text := f.Text(k)
		name, ok := ingest.Detect(text[:4096])
		if !ok || name != layout.Recipe() {
			t.Fatalf("detected %q, %t; want %s", name, ok, layout.Recipe())
		}
		recipe, _, err := ingest.ShippedRecipe(name)
		if err != nil {
			t.Fatal(err)
		}
		raws, err := ingest.ReadAll(context.Background(), f.Receptions[k].Name, bytes.NewReader(text), recipe, ingest.Options{})
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, raws...)
	}
	return f, all
}

// Every fault of rows the simulator knows, against what ingest says of it. A sound
// flight, a gap and a counter that hangs are no matter of ingest.
func TestFaultsOfRowsAreNamed(t *testing.T) {
	for _, layout := range []truth.Layout{truth.Text, truth.Vehicle} {
		for _, c := range []struct {
			fault    string
			flights  int
			check    quality.Check
			severity sounding.Severity
			words    string // "" no finding is wanted
		}{
			{fault: "", flights: 1},
			{fault: "telemetry-gap", flights: 1},
			{fault: "frames-repeated", flights: 1},
			{"clock-jump", 1, quality.TimeOrder, sounding.Note, " is 60 s ahead of the rest: undone by counting rows"},
			{"rows-out-of-order", 1, quality.TimeOrder, sounding.Note, "20 rows, lines "},
			{"repeated-times", 1, quality.TimeOrder, sounding.Bad, "15 rows repeat the time of the row before, with the same values"},
			{"truncated-file", 1, quality.Syntax, sounding.Questionable, "the last line is cut off"},
			{"garbled-rows", 1, quality.Syntax, sounding.Questionable, "could not be read"},
			{"earlier-flight-in-file", 2, quality.Sources, sounding.Note, "the source holds 2 flights"},
			{"foreign-radiosonde", 1, quality.Sources, sounding.Bad, "90 rows are of another radiosonde"},
		} {
			t.Run(layout.Recipe()+" "+c.fault, func(t *testing.T) {
				f, raws := fly(t, layout, c.fault, 3)
				if len(raws) != c.flights {
					t.Fatalf("%d flights, want %d", len(raws), c.flights)
				}
				for _, raw := range raws {
					found := false
					for _, n := range raw.Findings {
						if c.words == "" {
							t.Errorf("unwanted: %s", n.Sentence)
						}
						found = found || n.Check == c.check && n.Severity == c.severity && strings.Contains(n.Sentence, c.words)
					}
					if c.words != "" && !found {
						t.Errorf("no finding %s %s %q among %d", c.check, c.severity, c.words, len(raw.Findings))
					}
					for i := 1; i < raw.Len(); i++ {
						if raw.Time[i] < raw.Time[i-1] {
							t.Fatalf("row %d runs backwards", i)
						}
					}
				}
				switch c.fault {
				case "clock-jump", "rows-out-of-order":
					// The undone rows have the instants of the truth again.
					raw := raws[len(raws)-1]
					frames := raw.Values(sounding.Frame)
					r := &f.Receptions[0]
					at := map[float64]float64{}
					for i, n := range r.Columns.Values(sounding.Frame) {
						if k := r.Sample[i]; k >= 0 {
							at[n] = f.Truth.Time[k]
						}
					}
					shift := raw.Epoch.Sub(f.Truth.Epoch).Seconds()
					for i, n := range frames {
						if want, ok := at[n]; ok && math.Abs(raw.Time[i]+shift-want) > 1.01 {
							t.Fatalf("frame %g stands at %.1f s, in truth at %.1f s", n, raw.Time[i]+shift, want)
						}
					}
				}
			})
		}
	}
}

// Mistyped launch records: the finding names the item and what was meant.
func TestMistypedRecordsAreNamed(t *testing.T) {
	for _, c := range []struct{ fault, field, words string }{
		{"", "", ""},
		{"latitude-sign", "site.latitude_deg", "the sign of the latitude looks wrong"},
		{"longitude-sign", "site.longitude_deg", "the sign of the longitude looks wrong"},
		{"station-height-wrong", "site.height_m_msl", "the release point is given as"},
		{"surface-pressure-unit", "surface.pressure_hpa", "it looks typed in inHg"},
		{"surface-pressure-typo", "surface.pressure_hpa", "a figure mistyped"},
		{"surface-temperature-unit", "surface.temperature_k", "it looks like °F typed as °C"},
		{"local-time-as-UTC", "release.declared_utc", "local time typed as UTC"},
		{"date-wrong", "release.declared_utc", "the date does not"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			f, raws := fly(t, truth.Text, c.fault, 3)
			record, _, err := ingest.ReadRecord("record.toml", f.RecordText())
			if err != nil {
				t.Fatal(err)
			}
			findings := ingest.ValidateRecord(record, raws[0])
			if c.fault == "" {
				for _, n := range findings {
					t.Errorf("unwanted: %s %s", n.Field, n.Sentence)
				}
				return
			}
			if len(findings) != 1 || findings[0].Field != c.field || !strings.Contains(findings[0].Sentence, c.words) || findings[0].Check != quality.LaunchRecord {
				t.Errorf("want one finding about %s with %q, got:", c.field, c.words)
				for _, n := range findings {
					t.Logf("%s %s", n.Field, n.Sentence)
				}
			}
		})
	}
}

// Sound flights of all climates raise nothing: no false alarms about the record.
func TestSoundFlightsRaiseNothing(t *testing.T) {
	for _, s := range truth.Presets() {
		f, err := truth.Simulate(s, 5)
		if err != nil {
			t.Fatal(err)
		}
		record, _, err := ingest.ReadRecord("record.toml", f.RecordText())
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range ingest.ValidateRecord(record, f.Raw()) {
			t.Errorf("%s: %s %s", s.Name, n.Field, n.Sentence)
		}
	}
}

// Two receivers, one of which loses rows: joined, the flight is whole.
func TestSecondReceiverIsJoined(t *testing.T) {
	f, raws := fly(t, truth.Text, "second-receiver", 3)
	if len(raws) != 2 {
		t.Fatalf("%d sources, want 2", len(raws))
	}
	joined, err := ingest.Join(raws)
	if err != nil {
		t.Fatal(err)
	}
	frames := map[float64]bool{}
	for k := range f.Receptions {
		for _, n := range f.Receptions[k].Columns.Values(sounding.Frame) {
			frames[n] = true
		}
	}
	if joined.Len() != len(frames) {
		t.Errorf("%d rows joined, %d frames received by either", joined.Len(), len(frames))
	}
	for i := 1; i < joined.Len(); i++ {
		if joined.Time[i] <= joined.Time[i-1] {
			t.Fatalf("row %d does not go on in time", i)
		}
	}
	found := false
	for _, n := range joined.Findings {
		t.Logf("%s %s", n.Severity, n.Sentence)
		found = found || n.Check == quality.Sources && strings.Contains(n.Sentence, "overlap in")
	}
	if !found {
		t.Error("no finding names the overlap")
	}
}
