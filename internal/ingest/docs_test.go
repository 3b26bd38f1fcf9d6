package ingest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
	"leadline/internal/units"
)

func page(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(sharedtest.Root(t), "docs", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The pages name every item, variable and unit; their examples read.
func TestPagesAreComplete(t *testing.T) {
	record := page(t, "launch-record.md")
	for _, f := range sounding.RecordFields {
		if !strings.Contains(record, "| `"+f.Path+"` |") {
			t.Errorf("launch-record.md lacks %s", f.Path)
		}
	}
	recipes := page(t, "recipes.md")
	for _, v := range sounding.Variables() {
		if !strings.Contains(recipes, "`"+v.String()+"`") {
			t.Errorf("recipes.md lacks %v", v)
		}
	}
	for _, d := range units.Dimensions() {
		for _, u := range units.Known(d) {
			if !strings.Contains(recipes, u) {
				t.Errorf("recipes.md lacks the unit %s of %s", u, d)
			}
		}
	}
	for _, n := range []string{"leadline-csv", "demo-text", "demo-vehicle", "cf", "igra"} {
		if !strings.Contains(recipes, "`"+n+"`") {
			t.Errorf("recipes.md lacks the recipe %s", n)
		}
	}
	blocks := strings.Split(recipes, "```")
	raw := mustRead(t, strings.TrimPrefix(blocks[3], "toml"), strings.TrimLeft(blocks[1], "\n"), Options{})
	equal(t, "pressure of the example", raw.Values(sounding.Pressure), []float64{968.42})
	equal(t, "latitude of the example", raw.Values(sounding.Latitude), []float64{46 + 12.613/60})
	if raw.Record.Site.Name != "North pier" || raw.Sources[0].FirstUTC.Format("2006-01-02T15:04:05") != "2031-06-03T23:04:11" || raw.Extra[0].Name != "status" {
		t.Errorf("the example of recipes.md reads as %+v", raw.Sources[0])
	}
	if _, _, err := ReadRecord("example", []byte(strings.TrimPrefix(strings.Split(record, "```")[1], "toml"))); err != nil {
		t.Error(err)
	}
}
