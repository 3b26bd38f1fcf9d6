package check_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/check"
	"leadline/internal/ingest"
	"leadline/internal/quality"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
)

// The open flights: no crash, a release, humidity and temperature said to be missing
// exactly where they are, and nothing against the cold of the tropics.
func TestOpenFlights(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*.cdf"))
	if err != nil || len(files) == 0 {
		t.Fatal("no files", err)
	}
	recipe, _, err := ingest.ShippedRecipe("cf")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		h, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := ingest.Read(context.Background(), filepath.Base(name), h, recipe, ingest.Options{})
		h.Close()
		if err != nil {
			t.Fatal(err)
		}
		ctx, c, found := followed(raw, raw.Record, nil)
		rep := check.Raw(ctx, c, check.Default())
		if !ctx.Events.Release.Found {
			t.Errorf("%s: no release", name)
		}
		short := filepath.Base(name)
		for _, x := range rep.Findings {
			// Colder than −90 °C is usual in the tropics.
			if x.Check == quality.Gross && x.Variable == sounding.Temperature {
				t.Errorf("%s: %s", short, x.Sentence)
			}
		}
		lost := func(v sounding.Variable) bool {
			for _, x := range rep.Findings {
				if x.Check == quality.Gap && x.Variable == v && x.Severity > sounding.Note {
					return true
				}
			}
			return false
		}
		if missing := present(c, sounding.Humidity) < 5; missing != lost(sounding.Humidity) {
			t.Errorf("%s: humidity missing %v, said %v", short, missing, !missing)
		}
		if missing := present(c, sounding.Temperature) < 5; missing != lost(sounding.Temperature) {
			t.Errorf("%s: temperature missing %v, said %v", short, missing, !missing)
		}
		t.Logf("%s: %d rows, %.3f %% flagged; release %v by %s\n%s%s", filepath.Base(name), c.Len(), flagged(c, rep, ctx.Events.Ascent()), ctx.Events.Release.UTC, ctx.Events.Release.Method, text(found), text(rep.Findings))
	}
}

// present counts the values of v.
func present(c *sounding.Columns, v sounding.Variable) int {
	n := 0
	for _, x := range c.Values(v) {
		if !math.IsNaN(x) {
			n++
		}
	}
	return n
}
