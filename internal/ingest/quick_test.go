package ingest

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/sharedtest"
)

func TestQuick(t *testing.T) {
	for _, n := range ShippedRecipes() {
		if _, _, err := ShippedRecipe(n); err != nil {
			t.Error(err)
		}
	}
	r, _, _ := ShippedRecipe("cf")
	files, _ := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*.cdf"))
	for _, f := range files {
		h, _ := os.Open(f)
		raw, err := Read(context.Background(), f, h, r, Options{})
		h.Close()
		if err != nil {
			t.Error(err)
			continue
		}
		t.Log(raw.Sources[0].Name, raw.Sources[0].SHA256[:8], raw.Len(), raw.Sources[0].FirstUTC, raw.Sources[0].LastUTC, len(raw.Series), len(raw.Extra))
		for _, s := range raw.Series {
			t.Log("  ", s.Variable, s.Values[0], s.Values[len(s.Values)-1])
		}
		for _, e := range raw.Extra {
			t.Log("  extra", e.Name)
		}
		for _, f := range raw.Findings {
			t.Log("  ", f.ID, f.Severity, f.Sentence)
		}
		t.Log(raw.Record)
	}
	r, _, _ = ShippedRecipe("igra")
	files, _ = filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/igra"), "*.txt"))
	for _, f := range files {
		h, _ := os.Open(f)
		raws, err := ReadAll(context.Background(), f, h, r, Options{})
		h.Close()
		if err != nil {
			t.Error(err)
			continue
		}
		for _, raw := range raws {
			t.Log(raw.Sources[0].Name, raw.Len(), raw.Sources[0].FirstUTC, raw.Sources[0].LastUTC)
			for _, s := range raw.Series {
				t.Log("  ", s.Variable, s.Values[0], s.Values[len(s.Values)-1])
			}
			for _, f := range raw.Findings {
				t.Log("  ", f.ID, f.Severity, f.Sentence)
			}
		}
	}
}
