package apitest_test

import (
	"testing"
	"time"

	"leadline/internal/api/apitest"
	"leadline/internal/truth"
)

// The logbook that the screens are measured on: as many flights as asked for, and each of
// the copies can be read with its bytes.
func TestYearsAddsFlightsThatCanBeOpened(t *testing.T) {
	dir, ctx := t.TempDir(), t.Context()
	bench, s, err := apitest.Open(dir, func() time.Time { return time.Date(2025, 7, 1, 0, 0, 0, 0, time.UTC) })
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := apitest.Years(ctx, s, dir, 3); err == nil {
		t.Error("an empty logbook has nothing to copy, and nothing was said")
	}
	own, err := apitest.Add(ctx, bench, []apitest.Flight{{Site: "north pier", Climate: truth.MidLatitudeSummer, Sheet: "twin-humidity", Until: truth.UntilBurst}})
	if err != nil {
		t.Fatal(err)
	}
	if err := apitest.Years(ctx, s, dir, 3); err != nil {
		t.Fatal(err)
	}
	rows, err := bench.Rows(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != len(own)+3 {
		t.Fatalf("%d rows, want %d", len(rows), len(own)+3)
	}
	first, err := s.Flight(ctx, own[0])
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, r := range rows {
		if seen[r.ID] {
			t.Errorf("flight %s is listed twice", r.ID)
		}
		seen[r.ID] = true
		f, err := s.Flight(ctx, r.ID)
		if err != nil {
			t.Fatalf("flight %s: %v", r.ID, err)
		}
		if len(f.Sources) != 1 || string(f.Sources[0].Source.Bytes) != string(first.Sources[0].Source.Bytes) {
			t.Errorf("flight %s does not have the bytes of the first", r.ID)
		}
	}
}
