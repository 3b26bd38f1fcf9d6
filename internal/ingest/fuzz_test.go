package ingest

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/netcdf"
	"leadline/internal/sounding"
)

// sound fails where a Raw breaks what Raw promises.
func sound(t *testing.T, raw *sounding.Raw) {
	t.Helper()
	if raw.Len() == 0 {
		t.Fatal("no rows and no error")
	}
	if err := raw.Columns.Validate(); err != nil {
		t.Fatal(err)
	}
	for i, x := range raw.Time {
		if math.IsNaN(x) || math.IsInf(x, 0) || i > 0 && x < raw.Time[i-1] {
			t.Fatalf("time of row %d is %g", i, x)
		}
	}
	for _, s := range raw.Series {
		for i, x := range s.Values {
			if math.IsInf(x, 0) {
				t.Fatalf("%v row %d is infinite", s.Variable, i)
			}
		}
	}
	for _, e := range raw.Extra {
		if e.Values != nil && len(e.Values) != raw.Len() || e.Text != nil && len(e.Text) != raw.Len() {
			t.Fatalf("extra %s has another length", e.Name)
		}
	}
	for _, f := range raw.Findings {
		if f.Sentence == "" || f.ID == "" {
			t.Fatalf("finding %+v", f)
		}
		for _, s := range f.Spans {
			if s.From < 0 || s.To > raw.Len() || s.Len() == 0 {
				t.Fatalf("finding %q has span %v of %d rows", f.Sentence, s, raw.Len())
			}
		}
	}
	Fingerprint(raw)
	if _, err := Join([]*sounding.Raw{raw, raw}); err != nil {
		t.Fatal(err)
	}
	ValidateRecord(sounding.NewLaunchRecord(), raw)
}

func FuzzReadText(f *testing.F) {
	var recipes []*Recipe
	for _, n := range []string{"demo-text", "demo-vehicle", "leadline-csv"} {
		recipes = append(recipes, shipped(f, n))
	}
	recipes = append(recipes, recipeOf(f, plainRecipe), recipeOf(f, flightRecipe))
	f.Add([]byte(plainRows), uint8(3))
	f.Add([]byte(flight(30, 16)), uint8(4))
	f.Add([]byte("\xff\xfet\x00;\x00"), uint8(3))
	f.Add([]byte("\x1f\x8b\x08\x00"), uint8(3))
	f.Add([]byte("Vehicle receiver;1\r\nTime zone;UTC-03:00\r\nDate;Local time;P\r\ndd;hh;hPa\r\n14.01.2026;20:02:07,0;968,4\r\n14.01.2026;20:02:05,0;968,4\r\n"), uint8(1))
	f.Fuzz(func(t *testing.T, text []byte, which uint8) {
		raws, err := ReadAll(context.Background(), "fuzz", bytes.NewReader(text), recipes[int(which)%len(recipes)], Options{MaxRows: 10_000})
		if err != nil {
			if raws != nil {
				t.Fatal("half a result")
			}
			return
		}
		for _, raw := range raws {
			sound(t, raw)
		}
	})
}

func FuzzReadNetCDF(f *testing.F) {
	d := &netcdf.Dataset{Dimensions: []netcdf.Dimension{{Name: "time", Unlimited: true, Length: 3}}, Columns: []netcdf.Column{
		{Name: "time", Dimensions: []string{"time"}, Attributes: attrs("units", "seconds since 2031-06-03 00:00:00"), Values: []float64{0, 1, 2}},
		{Name: "pres", Dimensions: []string{"time"}, Attributes: attrs("units", "hPa", "missing_value", []float64{-9999}), Values: []float64{1000, 999, -9999}},
		{Name: "lat", Dimensions: []string{"time"}, Attributes: attrs("units", "degrees_north"), Values: []float64{46, 47, 98}},
	}}
	f.Add(netcdfBytes(f, d))
	recipe := shipped(f, "cf")
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 4 && b[0] == 0x89 {
			return // would start nccopy
		}
		raws, err := ReadAll(context.Background(), "fuzz.nc", bytes.NewReader(b), recipe, Options{MaxRows: 10_000})
		if err != nil {
			if raws != nil {
				t.Fatal("half a result")
			}
			return
		}
		for _, raw := range raws {
			sound(t, raw)
		}
	})
}

func FuzzReadRecord(f *testing.F) {
	f.Add([]byte(fullRecord))
	f.Add([]byte(`{"site": {"name": "x", "latitude": "46 12.5 N"}, "time_zone": "UTC"}`))
	f.Add([]byte("site = { name = \"x\" }\nrelease.declared_utc = 2031-06-03T23:04:11"))
	f.Add([]byte(tickedRecord))
	f.Add([]byte(`{"tick": [{"step": "neck", "at_utc": "2031-06-03T22:41:00Z", "who": "A"}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		r, _, err := ReadRecord("fuzz", text)
		if err != nil {
			if r != nil {
				t.Fatal("half a result")
			}
			return
		}
		again, _, err := ReadRecord("written", WriteRecord(r))
		if err != nil {
			t.Fatalf("what was written does not read: %v\n%s", err, WriteRecord(r))
		}
		if a, b := WriteRecord(r), WriteRecord(again); !bytes.Equal(a, b) {
			t.Fatalf("written twice:\n%s\n%s", a, b)
		}
		ValidateRecord(r, nil)
		MissingItems(r, nil)
	})
}

func FuzzRecipe(f *testing.F) {
	for _, n := range ShippedRecipes() {
		_, text, err := ShippedRecipe(n)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte(plainRecipe))
	f.Add([]byte(flightRecipe))
	f.Fuzz(func(t *testing.T, text []byte) {
		r, err := ReadRecipe("fuzz", text)
		if err != nil {
			if r != nil {
				t.Fatal("half a result")
			}
			return
		}
		if r.Format != FormatText {
			return
		}
		for _, source := range []string{plainRows, "Vehicle receiver;1\r\nDate;Local time;P\r\nx;y;hPa\r\n14.01.2026;20:02:07,0;968,4\r\n", "1 2 3 4\n2 3 4 5\n3 4 5 6\n"} {
			raws, err := ReadAll(context.Background(), "fuzz", bytes.NewReader([]byte(source)), r, Options{})
			if err == nil {
				for _, raw := range raws {
					sound(t, raw)
				}
			}
		}
	})
}

func FuzzGuess(f *testing.F) {
	files, err := filepath.Glob(filepath.Join("testdata", "guess", "*.*"))
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text[:min(len(text), 1500)], filepath.Base(name))
	}
	f.Fuzz(func(t *testing.T, text []byte, name string) {
		Detect(text)
		r, _, toml, err := Guess(text, name)
		if err != nil {
			if r != nil {
				t.Fatal("half a result")
			}
			return
		}
		if again, err := ReadRecipe("again", []byte(toml)); err != nil || again.Identity() == "" {
			t.Fatalf("a guessed recipe does not read: %v\n%s", err, toml)
		}
		raws, err := ReadAll(context.Background(), name, bytes.NewReader(text), r, Options{MaxRows: 10_000})
		if err == nil {
			for _, raw := range raws {
				sound(t, raw)
			}
		}
	})
}
