package ingest

import (
	"bytes"
	"context"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"leadline/internal/sounding"
)

// expectedRows are the values all files in testdata/guess were written from.
func expectedRows(t *testing.T) [][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "guess", "expected.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out [][]float64
	for _, r := range records[1:] {
		row := make([]float64, len(r))
		for i, s := range r {
			if row[i], err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatal(err)
			}
		}
		out = append(out, row)
	}
	return out
}

// Ten layouts of one invented flight: a guessed recipe must give the values they
// were written from. Tolerances are half the last figure that the layout writes.
func TestGuessThenReadGivesTheSameValues(t *testing.T) {
	rows := expectedRows(t)
	day := time.Date(2031, 6, 3, 0, 0, 0, 0, time.UTC)
	base := day.Add(83051 * time.Second)
	columns := []struct {
		v     sounding.Variable
		at    int
		add   float64
		reach float64
	}{
		{sounding.Pressure, 1, 0, 0.0051}, {sounding.Temperature, 2, 273.15, 0.0051}, {sounding.Humidity, 3, 0, 0.051},
		{sounding.Latitude, 4, 0, 1e-6}, {sounding.Longitude, 5, 0, 1e-6}, {sounding.HeightMSL, 6, 0, 0.0051},
		{sounding.WindSpeed, 7, 0, 0.001}, {sounding.WindDirection, 8, 0, 0.001},
	}
	for _, c := range []struct {
		name    string
		options Options
		lacks   []sounding.Variable
		missing map[sounding.Variable][]int
		doubt   string // one that must be there
	}{
		{name: "brackets.csv"},
		{name: "comma.txt"},
		{name: "blanks.dat", missing: map[sounding.Variable][]int{sounding.Humidity: {5, 6}}, doubt: "-9999 stands in 2 of 60 rows"},
		{name: "tabs_20310603.tsv", doubt: "the day is taken from the source's name"},
		{name: "bare.csv", options: Options{Base: base}, lacks: []sounding.Variable{sounding.Latitude, sounding.Longitude, sounding.WindSpeed, sounding.WindDirection}, doubt: "elapsed time has no start"},
		{name: "minutes.txt", missing: map[sounding.Variable][]int{sounding.Humidity: {10}}},
		{name: "imperial.csv"},
		{name: "elapsed.log", missing: map[sounding.Variable][]int{sounding.Temperature: {20, 21, 22}}, doubt: "elapsed time is counted from"},
		{name: "ruler.txt"},
		{name: "pipes.txt", doubt: "seconds since 1970"},
	} {
		t.Run(c.name, func(t *testing.T) {
			text, err := os.ReadFile(filepath.Join("testdata", "guess", c.name))
			if err != nil {
				t.Fatal(err)
			}
			recipe, doubts, toml, err := Guess(text, c.name)
			if err != nil {
				t.Fatal(err)
			}
			raw, err := Read(context.Background(), c.name, bytes.NewReader(text), recipe, c.options)
			if err != nil {
				t.Fatalf("%v\n%s", err, toml)
			}
			if raw.Len() != len(rows) {
				t.Fatalf("%d rows, want %d\n%s", raw.Len(), len(rows), toml)
			}
			for i, r := range rows {
				if got := raw.Epoch.Add(time.Duration(raw.Time[i] * 1e9)).Sub(day).Seconds(); math.Abs(got-r[0]) > 1e-3 {
					t.Fatalf("row %d: %.3f s of the day, want %.3f\n%s", i, got, r[0], toml)
				}
			}
			for _, k := range columns {
				x := raw.Values(k.v)
				lacks := false
				for _, v := range c.lacks {
					lacks = lacks || v == k.v
				}
				if (x == nil) != lacks {
					t.Fatalf("%v: present %t\n%s", k.v, x != nil, toml)
				}
				if x == nil {
					continue
				}
				gone := map[int]bool{}
				for _, i := range c.missing[k.v] {
					gone[i] = true
				}
				for i, r := range rows {
					if gone[i] {
						if !math.IsNaN(x[i]) {
							t.Errorf("%v row %d is %g, want missing", k.v, i, x[i])
						}
					} else if !(math.Abs(x[i]-(r[k.at]+k.add)) <= k.reach) {
						t.Fatalf("%v row %d is %g, want %g\n%s", k.v, i, x[i], r[k.at]+k.add, toml)
					}
				}
			}
			for _, f := range raw.Findings {
				t.Errorf("finding: %s", f.Sentence)
			}
			all := ""
			for _, d := range doubts {
				all += d.String() + "\n"
				if !strings.Contains(toml, d.Where) {
					t.Errorf("the recipe does not show the doubt %q", d)
				}
			}
			if c.doubt != "" && !strings.Contains(all, c.doubt) {
				t.Errorf("no doubt says %q:\n%s", c.doubt, all)
			}
		})
	}
}
