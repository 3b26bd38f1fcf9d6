package report

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leadline/internal/export"
	"leadline/internal/levels"
	"leadline/internal/netcdf"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// keepPage writes a page where LEADLINE_PAGES asks for it.
func keepPage(t *testing.T, name string, page []byte) {
	t.Helper()
	if dir := os.Getenv("LEADLINE_PAGES"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name+".html"), page, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func pageOf(t *testing.T, o *workbench.Outcome) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, o, options); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"NaN", "0001-01-01", "%!"} {
		if strings.Contains(b.String(), bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	if b.Len() > 700_000 {
		t.Errorf("the page has %d bytes", b.Len())
	}
	return b.Bytes()
}

// exportOf writes every format of an outcome and reads the temperature back bit for bit.
func exportOf(t *testing.T, o *workbench.Outcome) {
	t.Helper()
	f := &export.Flight{Final: o.Final, Levels: o.Levels, Settings: o.Settings,
		Grids: []levels.Grid{levels.HeightGrid(o.Final, levels.Default(), 10), levels.PressureGrid(o.Final, levels.Default(), 1)}}
	paths, err := export.Write(t.TempDir(), f, []string{"all"})
	if err != nil || len(paths) != 9 {
		t.Fatalf("%d files: %v", len(paths), err)
	}
	b, err := os.ReadFile(paths[0])
	if err != nil {
		t.Fatal(err)
	}
	file, err := netcdf.Open(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	got, err := file.Float64s(file.Variable("ta"))
	want := o.Final.Values(sounding.Temperature)
	if err != nil || len(got) != len(want) || len(want) == 0 {
		t.Fatalf("%d temperatures, want %d: %v", len(got), len(want), err)
	}
	for i := range want {
		if got[i] != want[i] && want[i] == want[i] {
			t.Fatalf("temperature %d is %v, want %v", i, got[i], want[i])
		}
	}
}

// A simulated flight taken through the whole path makes its page.
func TestSimulatedFlight(t *testing.T) {
	scenario, err := truth.Preset(truth.Climates()[1], true)
	if err != nil {
		t.Fatal(err)
	}
	flight, err := truth.Simulate(scenario, 7)
	if err != nil {
		t.Fatal(err)
	}
	out, err := workbench.Check([]workbench.File{{Name: "basin.csv", Bytes: flight.Text(0)}}, workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: flight.RecordText()}})
	if err != nil {
		t.Fatal(err)
	}
	page := pageOf(t, out[0])
	exportOf(t, out[0])
	keepPage(t, "simulated", page)
	for _, want := range []string{"Released ", "hodograph", "track", "ascent rate", "Corrections", "basin.csv"} {
		if !bytes.Contains(page, []byte(want)) {
			t.Errorf("the page does not say %q", want)
		}
	}
}

// Every open flight makes a page.
func TestOpenFlights(t *testing.T) {
	dir := sharedtest.Dir(t, "data/arm")
	files, err := filepath.Glob(filepath.Join(dir, "*.cdf"))
	if err != nil || len(files) == 0 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		out, err := workbench.Check([]workbench.File{{Name: filepath.Base(name), Bytes: b}}, workbench.Request{})
		if err != nil {
			t.Errorf("%s: %v", filepath.Base(name), err)
			continue
		}
		keepPage(t, strings.TrimSuffix(filepath.Base(name), ".cdf"), pageOf(t, out[0]))
		exportOf(t, out[0])
	}
}

// Writing a simulated two-hour flight with all its housekeeping columns, 7,200 rows and more.
func BenchmarkExportOfSimulated(b *testing.B) {
	scenario, err := truth.Preset(truth.Climates()[1], true)
	if err != nil {
		b.Fatal(err)
	}
	flight, err := truth.Simulate(scenario, 7)
	if err != nil {
		b.Fatal(err)
	}
	out, err := workbench.Check([]workbench.File{{Name: "basin.csv", Bytes: flight.Text(0)}}, workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: flight.RecordText()}})
	if err != nil {
		b.Fatal(err)
	}
	f := &export.Flight{Final: out[0].Final, Levels: out[0].Levels}
	for name, write := range map[string]func(io.Writer, *export.Flight) error{"netcdf": export.NetCDF, "csv": export.CSV} {
		b.Run(name, func(b *testing.B) {
			b.ReportMetric(float64(f.Final.Len()), "rows")
			for b.Loop() {
				if err := write(io.Discard, f); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	b.Run("page", func(b *testing.B) {
		for b.Loop() {
			if err := HTML(io.Discard, out[0], options); err != nil {
				b.Fatal(err)
			}
		}
	})
}
