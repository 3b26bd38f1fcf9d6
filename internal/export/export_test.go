package export

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"leadline/internal/flighttest"
	"leadline/internal/levels"
	"leadline/internal/quality"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
)

var created = time.Date(2031, 6, 4, 6, 30, 0, 0, time.UTC)

func flightOf(f *sounding.Final) *Flight {
	table, grids := flighttest.Products(f)
	return &Flight{Final: f, Levels: table, Grids: grids, Created: created, Attributes: []Attribute{{"institution", "Lake basin campaign"}}}
}

// flights are the kinds of flight an export has to bear.
func flights() map[string]*Flight {
	whole := flighttest.New(400)
	unknown := flighttest.Without(whole, sounding.Latitude, sounding.Longitude)
	unknown.Record = nil
	nothing := &sounding.Final{Context: sounding.Context{Epoch: flighttest.Release}, FlightName: "../../etc/<x>"}
	return map[string]*Flight{
		"whole":              flightOf(whole),
		"no humidity":        flightOf(flighttest.Without(whole, sounding.Humidity, sounding.HumidityA, sounding.HumidityB, sounding.DewPoint)),
		"no wind":            flightOf(flighttest.Without(whole, sounding.WindU, sounding.WindV, sounding.WindSpeed, sounding.WindDirection)),
		"no pressure":        flightOf(flighttest.Without(whole, sounding.Pressure)),
		"no position":        flightOf(flighttest.Without(whole, sounding.Latitude, sounding.Longitude)),
		"no position at all": flightOf(unknown),
		"no release":         flightOf(flighttest.Rows(whole, sounding.Span{From: 0, To: 50})),
		"one row":            flightOf(flighttest.Rows(whole, sounding.Span{From: 100, To: 101})),
		"all bad":            flightOf(flighttest.AllBad(whole)),
		"no rows":            flightOf(nothing),
	}
}

func written(t testing.TB, f *Flight, write func(io.Writer, *Flight) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b, f); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func gridWriter(g *levels.Grid) func(io.Writer, *Flight) error {
	return func(w io.Writer, f *Flight) error { return NetCDFGrid(w, f, g) }
}

// Reading a netCDF file back gives every value, uncertainty, flag and check bit exactly.
func TestNetCDFIsLossless(t *testing.T) {
	f := flightOf(flighttest.New(6000))
	file := open(t, written(t, f, NetCDF))
	read := func(name string) []float64 {
		t.Helper()
		v := file.Variable(name)
		if v == nil {
			t.Fatalf("no variable %s", name)
		}
		x, err := file.Float64s(v)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	same := func(what string, got, want []float64) {
		t.Helper()
		if len(got) != len(want) {
			t.Fatalf("%s: %d values, want %d", what, len(got), len(want))
		}
		for i := range want {
			if math.Float64bits(got[i]) != math.Float64bits(want[i]) && !(math.IsNaN(want[i]) && (math.IsNaN(got[i]) || got[i] == fill)) {
				t.Fatalf("%s[%d] = %v, want %v", what, i, got[i], want[i])
			}
		}
	}
	final := f.Final
	same("time", read("time"), final.Time)
	units, err := file.Variable("time").TimeUnits()
	if err != nil || !units.Base.Equal(final.Epoch) {
		t.Errorf("times count from %v, want %v (%v)", units.Base, final.Epoch, err)
	}
	for _, s := range final.Series {
		n := s.Variable.Info().Symbol
		same(n, read(n), s.Values)
		same(n+"_u_independent", read(n+"_u_independent"), s.Independent)
		same(n+"_u_common", read(n+"_u_common"), s.Common)
		total := read(n + "_u")
		flags, checks := read(n+"_qc"), read(n+"_checks")
		second := make([]float64, len(flags))
		if file.Variable(n+"_checks_2") != nil {
			second = read(n + "_checks_2")
		}
		for i := range flags {
			if quality.Flag(flags[i]) != s.Flags[i] {
				t.Fatalf("%s_qc[%d] = %g, want %v", n, i, flags[i], s.Flags[i])
			}
			if got := quality.Bits(checks[i]) | quality.Bits(second[i])<<checksInFirst; got != s.Tests[i] {
				t.Fatalf("%s: checks of row %d are %v, want %v", n, i, got.Checks(), s.Tests[i].Checks())
			}
			if want := s.Total(i); total[i] != want && !math.IsNaN(want) {
				t.Fatalf("%s_u[%d] = %g, want %g", n, i, total[i], want)
			}
		}
	}
	if file.Variable("td_checks_2") == nil {
		t.Error("the check 'derived' lies beyond the first mask and is not in the file")
	}
	for _, s := range final.Before.Series {
		same(s.Variable.Info().Symbol+"_raw", read(s.Variable.Info().Symbol+"_raw"), s.Values)
	}
	same("extra", read("extra_Body_temp___C"), final.Extra[0].Values)
	for i, l := range read("source_line") {
		if int32(l) != final.Line[i] {
			t.Fatalf("source_line[%d] = %g, want %d", i, l, final.Line[i])
		}
	}
	if got, _ := file.Attributes.Text("source_1_sha256"); got != final.Sources[0].SHA256 {
		t.Errorf("source_1_sha256 is %q", got)
	}
	texts, err := file.Texts(file.Variable("findings_json"))
	var findings []sounding.Finding
	if err != nil || json.Unmarshal([]byte(strings.Join(texts, "")), &findings) != nil || len(findings) != len(final.Findings) {
		t.Errorf("findings_json holds %d findings of %d (%v)", len(findings), len(final.Findings), err)
	}
	if got, _ := file.Attributes.Text("institution"); got != "Lake basin campaign" {
		t.Errorf("institution is %q", got)
	}
}

// The netCDF library's own ncdump opens every file, and what it prints with 17 digits
// is the value inside.
func TestNcdumpReads(t *testing.T) {
	ncdump := sharedtest.Tool(t, "ncdump", "netcdf-bin")
	nccopy := sharedtest.Tool(t, "nccopy", "netcdf-bin")
	dir := t.TempDir()
	for name, f := range flights() {
		path := filepath.Join(dir, "f.nc")
		if err := os.WriteFile(path, written(t, f, NetCDF), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(ncdump, "-h", path).CombinedOutput(); err != nil {
			t.Errorf("%s: ncdump: %v %s", name, err, out)
		}
		if out, err := exec.Command(nccopy, "-k", "netCDF-4", "-d", "4", path, filepath.Join(dir, "copy.nc")).CombinedOutput(); err != nil {
			t.Errorf("%s: nccopy: %v %s", name, err, out)
		}
		if name != "whole" {
			continue
		}
		out, err := exec.Command(ncdump, "-p", "9,17", "-v", "ta,ta_u,p", path).Output()
		if err != nil {
			t.Fatal(err)
		}
		_, data, _ := strings.Cut(string(out), "\ndata:\n")
		for _, v := range []sounding.Variable{sounding.Temperature, sounding.Pressure} {
			_, list, _ := strings.Cut(data, "\n "+v.Info().Symbol+" = ")
			list, _, _ = strings.Cut(list, " ;")
			fields := strings.Split(list, ",")
			want := f.Final.Values(v)
			if len(fields) != len(want) {
				t.Fatalf("ncdump prints %d values of %v, want %d", len(fields), v, len(want))
			}
			for i, s := range fields {
				got, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
				if err != nil || got != want[i] {
					t.Fatalf("%v[%d]: ncdump prints %s, want %v", v, i, s, want[i])
				}
			}
		}
		if kind, _ := exec.Command(ncdump, "-k", path).Output(); strings.TrimSpace(string(kind)) != "classic" {
			t.Errorf("the file is %s, want classic", kind)
		}
	}
}

// The header of a small file, as ncdump prints it, is what it was.
func TestHeaderIsGolden(t *testing.T) {
	ncdump := sharedtest.Tool(t, "ncdump", "netcdf-bin")
	path := filepath.Join(t.TempDir(), "flight.nc")
	f := flights()["whole"]
	if err := os.WriteFile(path, written(t, f, NetCDF), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(ncdump, "-h", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "flight.cdl", out)
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if os.Getenv("LEADLINE_UPDATE") != "" {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		a, b := strings.Split(string(want), "\n"), strings.Split(string(got), "\n")
		for i := range min(len(a), len(b)) {
			if a[i] != b[i] {
				t.Fatalf("%s line %d:\nwas %s\nis  %s\nrun the test with LEADLINE_UPDATE=1 if that is meant", name, i+1, a[i], b[i])
			}
		}
		t.Fatalf("%s has %d lines, had %d", name, len(b), len(a))
	}
}

func table(t *testing.T, b []byte) (names, units []string, rows [][]string) {
	t.Helper()
	r := csv.NewReader(bytes.NewReader(b))
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 2 {
		t.Fatalf("%d rows", len(all))
	}
	return all[0], all[1], all[2:]
}

// What CSV gives back differs from the value inside by at most half its last decimal, a
// value that has no more decimals than that comes back exactly, and a missing one is empty.
func TestCSVReadsBack(t *testing.T) {
	f := flightOf(flighttest.New(1500))
	names, units, rows := table(t, written(t, f, CSV))
	if len(rows) != f.Final.Len() {
		t.Fatalf("%d rows, want %d", len(rows), f.Final.Len())
	}
	column := func(name string) int {
		t.Helper()
		i := slices.Index(names, name)
		if i < 0 {
			t.Fatalf("no column %s in %v", name, names)
		}
		return i
	}
	check := func(name, unit string, decimals int, want func(i int) float64) {
		t.Helper()
		c := column(name)
		if units[c] != unit {
			t.Errorf("%s is in %q, want %q", name, units[c], unit)
		}
		half := 0.5 * math.Pow(10, -float64(decimals)) * (1 + 1e-6)
		for i, r := range rows {
			w := want(i)
			if math.IsNaN(w) {
				if r[c] != "" {
					t.Fatalf("%s row %d is %q, want nothing", name, i, r[c])
				}
				continue
			}
			got, err := strconv.ParseFloat(r[c], 64)
			if err != nil || math.Abs(got-w) > half+1e-12*math.Abs(w) {
				t.Fatalf("%s row %d is %q, want %v", name, i, r[c], w)
			}
		}
	}
	for _, s := range f.Final.Series {
		info, d := s.Variable.Info(), Decimals(s.Variable)
		check(s.Variable.Column(), info.Unit, d, func(i int) float64 { return s.Values[i] })
		unit := info.Unit
		if strings.HasPrefix(unit, "degrees_") {
			unit = "degree"
		}
		check(info.Name+"_u_"+info.Suffix, unit, d, s.Total)
		check(info.Name+"_u_independent_"+info.Suffix, unit, d, func(i int) float64 { return s.Independent[i] })
		check(info.Name+"_u_common_"+info.Suffix, unit, d, func(i int) float64 { return s.Common[i] })
		check(info.Name+"_flag", "1", 0, func(i int) float64 { return float64(s.Flags[i]) })
	}
	raw := f.Final.Before.Get(sounding.Pressure)
	c := column("pressure_raw_hpa")
	for i, r := range rows {
		if got, _ := strconv.ParseFloat(r[c], 64); math.Abs(got-raw.Values[i]) > 1e-9 { // resolution 0.01: nothing is lost
			t.Fatalf("pressure_raw_hpa row %d is %s, want %v", i, r[c], raw.Values[i])
		}
	}
	checks, at := column("checks"), column("time_utc")
	iced := f.Final.Get(sounding.HumidityB)
	for i, r := range rows {
		if got, want := strings.Contains(r[checks], "humidity_b:icing"), iced.Tests[i].Has(quality.Icing); got != want {
			t.Fatalf("row %d: checks are %q", i, r[checks])
		}
		stamp, err := time.Parse(time.RFC3339Nano, r[at])
		if want := f.Final.UTC(f.Final.Time[i]); err != nil || stamp.Sub(want).Abs() > 500*time.Microsecond {
			t.Fatalf("row %d: time_utc is %q, want %v", i, r[at], want)
		}
	}
	if lines := column("source_line"); rows[7][lines] != fmt.Sprint(f.Final.Line[7]) {
		t.Errorf("source_line is %s", rows[7][lines])
	}
}

func TestAppendDecimal(t *testing.T) {
	for _, x := range []struct {
		value    float64
		decimals int
		want     string
	}{
		{0, 5, "0"}, {math.Copysign(0, -1), 5, "0"}, {1, 5, "1"}, {-1.5, 5, "-1.5"}, {273.15, 5, "273.15"}, {0.00001, 5, "0.00001"}, {0.000004, 5, "0"},
		{-0.05, 2, "-0.05"}, {1013.25, 6, "1013.25"}, {100, 0, "100"}, {10, 5, "10"}, {12345678.123456789, 9, "12345678.12345679"}, {1e300, 5, "1e+300"},
		{math.NaN(), 5, ""}, {math.Inf(1), 5, "+Inf"}, {-0.000001, 5, "0"}, {7, 0, "7"}, {99.999999, 5, "100"},
	} {
		if got := string(appendDecimal(nil, x.value, x.decimals)); got != x.want {
			t.Errorf("%v with %d decimals is %q, want %q", x.value, x.decimals, got, x.want)
		}
	}
}

// Against the standard library on many values.
func FuzzAppendDecimal(f *testing.F) {
	f.Add(273.15, uint8(5))
	f.Add(-0.0000051, uint8(5))
	f.Add(8.5e15, uint8(3))
	f.Fuzz(func(t *testing.T, x float64, d uint8) {
		d %= 10
		got := string(appendDecimal(nil, x, int(d)))
		if math.IsNaN(x) {
			if got != "" {
				t.Fatalf("NaN is %q", got)
			}
			return
		}
		back, err := strconv.ParseFloat(got, 64)
		if err != nil {
			t.Fatalf("%v: %q: %v", x, got, err)
		}
		if math.IsInf(x, 0) {
			return
		}
		if off, most := math.Abs(back-x), 0.5*math.Pow(10, -float64(d)); off > most*(1+1e-9)+math.Abs(x)*1e-15 {
			t.Fatalf("%v with %d decimals is %q: off by %g", x, d, got, off)
		}
	})
}

// The JSON report parses, has no NaN, and says what the flight says.
func TestJSON(t *testing.T) {
	for name, f := range flights() {
		b := written(t, f, JSON)
		var r struct {
			Format   string
			Verdict  sounding.Verdict
			Events   struct{ Release, Burst map[string]any }
			Findings []struct{ Check, Field, Sentence string }
			Checks   []struct {
				Ran bool
				Why string
			} `json:"check_runs"`
			Corrections []struct {
				Method                 string
				Min, Max, Mean, RMS    *float64
				Changed, Filled, Count int
			}
			Flags   []struct{ Variable string }
			Sources []sounding.Source
			Levels  struct{ Levels []any }
		}
		if err := json.Unmarshal(b, &r); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if r.Format != ReportFormat || r.Findings == nil || r.Corrections == nil || r.Sources == nil || r.Levels.Levels == nil {
			t.Errorf("%s: lists must be there even when empty: %+v", name, r)
		}
		if name != "whole" {
			if name == "no release" && (r.Events.Release["found"] != false || r.Events.Release["utc"] != nil) {
				t.Errorf("a release that was not found is %v", r.Events.Release)
			}
			continue
		}
		if r.Events.Release["utc"] != "2031-06-03T23:04:12Z" || r.Events.Release["source_line"] != 65.0 || r.Events.Release["u_s"] != 0.4 {
			t.Errorf("release is %v", r.Events.Release)
		}
		field := false
		for _, x := range r.Findings {
			field = field || x.Check == "launch-record" && x.Field == "surface.pressure_hpa"
		}
		if !field {
			t.Error("the finding about the launch record does not name its field")
		}
		if len(r.Checks) != 3 || r.Checks[2].Ran || r.Checks[2].Why == "" {
			t.Errorf("the check that could not run is %+v", r.Checks)
		}
		if !strings.Contains(string(b), "<unwinder & string>") {
			t.Error("texts are not written as they are")
		}
	}
}

// Statistics of a correction against numbers worked out by hand.
func TestCorrections(t *testing.T) {
	nan := math.NaN()
	f := &sounding.Final{}
	f.Time = []float64{0, 1, 2, 3, 4}
	f.Before = &sounding.Columns{Series: []sounding.Series{{Variable: sounding.Temperature, Values: []float64{10, 20, 30, nan, 50}}, {Variable: sounding.WindDirection, Values: []float64{359, 1, 0, 0, 0}}}}
	f.Steps = []sounding.Step{
		{Variable: sounding.Temperature, Values: []float64{9, 20, 33, 40, nan}},
		{Variable: sounding.WindDirection, Values: []float64{1, 359, 0, 0, 0}},
		{Variable: sounding.Temperature, Values: []float64{10, 21, 34, 41, nan}},
	}
	got := Corrections(f)
	near := func(what string, a sounding.Number, b float64) {
		t.Helper()
		if math.Abs(a.Value()-b) > 1e-12 {
			t.Errorf("%s is %v, want %v", what, a, b)
		}
	}
	// −1, 0, +3: mean 2/3, rms √(10/3).
	near("min", got[0].Min, -1)
	near("max", got[0].Max, 3)
	near("mean", got[0].Mean, 2.0/3)
	near("rms", got[0].RMS, math.Sqrt(10.0/3))
	if got[0].Changed != 2 || got[0].Filled != 1 || got[0].Removed != 1 {
		t.Errorf("changed %d, filled %d, removed %d", got[0].Changed, got[0].Filled, got[0].Removed)
	}
	near("direction min", got[1].Min, -2)
	near("direction max", got[1].Max, 2)
	near("second step", got[2].Mean, 1) // against the step before, not the raw value
}

// The same flight gives the same bytes, and writing changes nothing of it.
func TestDeterministic(t *testing.T) {
	a, b := flights()["whole"], flights()["whole"]
	for _, format := range Formats {
		x, y := format.files(a), format.files(b)
		if len(x) == 0 {
			t.Errorf("%s makes no file", format.Name)
		}
		for i := range x {
			var p, q, r bytes.Buffer
			if err := errors.Join(x[i].Write(&p), y[i].Write(&q), x[i].Write(&r)); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(p.Bytes(), q.Bytes()) || !bytes.Equal(p.Bytes(), r.Bytes()) || p.Len() == 0 {
				t.Errorf("%s differs from run to run", x[i].Ending)
			}
		}
	}
}

func TestLevelsAndGrids(t *testing.T) {
	f := flightOf(flighttest.New(6000))
	names, _, rows := table(t, written(t, f, LevelsCSV))
	if len(rows) != len(f.Levels.Levels) || rows[0][0] != "ascent" || !strings.HasPrefix(rows[0][1], "surface") || names[0] != "profile" || names[2] != "pressure_hpa" {
		t.Errorf("levels: %d rows of %d, first %v, head %v", len(rows), len(f.Levels.Levels), rows[0], names)
	}
	file := open(t, written(t, f, NetCDFLevels))
	p, err := file.Float64s(file.Variable("p"))
	if err != nil || len(p) != len(rows) || p[0] != f.Levels.Levels[0].Pressure.Value() {
		t.Errorf("levels in netCDF: %d (%v)", len(p), err)
	}
	for i := range f.Grids {
		g := &f.Grids[i]
		var b bytes.Buffer
		if err := GridCSV(&b, f, g); err != nil {
			t.Fatal(err)
		}
		_, _, rows := table(t, b.Bytes())
		file := open(t, written(t, f, gridWriter(g)))
		for _, v := range g.Variables {
			got, err := file.Float64s(file.Variable(v.Variable.Info().Symbol))
			if err != nil || len(got) != len(rows) || len(rows) < 100 {
				t.Fatalf("grid by %s: %d rows in CSV, %d in netCDF (%v)", g.By, len(rows), len(got), err)
			}
			for k := range got {
				if want := v.Values[k]; got[k] != want && !(math.IsNaN(want) && got[k] == fill) {
					t.Fatalf("grid by %s: %v[%d] = %v, want %v", g.By, v.Variable, k, got[k], want)
				}
			}
		}
	}
}

func TestWrite(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "folder")
	f := flights()["whole"]
	paths, err := Write(dir, f, []string{"csv", "all", "csv"})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range paths {
		got = append(got, filepath.Base(p))
	}
	n := "basin-west-20310603T2304"
	want := []string{n + ".csv", n + ".nc", n + ".json", n + ".levels.csv", n + ".levels.nc", n + ".10m.csv", n + ".1hpa.csv", n + ".10m.nc", n + ".1hpa.nc"}
	if !slices.Equal(got, want) {
		t.Errorf("wrote %v, want %v", got, want)
	}
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != len(want) {
		t.Errorf("the folder holds %d entries, want %d (%v)", len(entries), len(want), err)
	}
	_, err = Write(dir, f, []string{"csv", "xlsx"})
	if err == nil || !strings.Contains(err.Error(), `"xlsx"`) || !strings.Contains(err.Error(), "nc, csv, json, levels") {
		t.Errorf("an unknown format gives %v", err)
	}
	// A name from a file cannot leave the folder.
	paths, err = Write(dir, flights()["no rows"], []string{"json"})
	if err != nil || len(paths) != 1 || filepath.Dir(paths[0]) != dir {
		t.Errorf("wrote %v (%v)", paths, err)
	}
}

// A writer that fails leaves neither a half file nor a temporary one, and the old file
// as it was.
func TestWriteFilesKeepsTheOldOne(t *testing.T) {
	dir := t.TempDir()
	old := filepath.Join(dir, "f.csv")
	if err := os.WriteFile(old, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	full := errors.New("no space left")
	_, err := WriteFiles(dir, "f", []File{
		{".csv", func(w io.Writer) error { _, err := w.Write([]byte("new")); return err }},
		{".nc", func(w io.Writer) error { _, _ = w.Write([]byte("half")); return full }},
	})
	if !errors.Is(err, full) || !strings.Contains(err.Error(), "f.nc") {
		t.Errorf("the error is %v", err)
	}
	got, _ := os.ReadFile(old)
	entries, _ := os.ReadDir(dir)
	if string(got) != "old" || len(entries) != 1 {
		t.Errorf("the old file holds %q, the folder %d entries", got, len(entries))
	}
}

// Writers pass on what the sink says.
func TestWritersReportErrors(t *testing.T) {
	f := flights()["whole"]
	for _, format := range Formats {
		for _, file := range format.files(f) {
			if err := file.Write(brokenSink{}); err == nil {
				t.Errorf("%s: a broken sink gives no error", file.Ending)
			}
		}
	}
}

type brokenSink struct{}

func (brokenSink) Write([]byte) (int, error) { return 0, errors.New("broken") }

func TestSplitKeepsEveryBit(t *testing.T) {
	all := quality.Bits(1)<<len(quality.Checks()) - 1
	first, second := split([]quality.Bits{all, 0, quality.Decision.Bit(), quality.Telemetry.Bit()})
	for i, want := range []quality.Bits{all, 0, quality.Decision.Bit(), quality.Telemetry.Bit()} {
		if got := quality.Bits(uint32(first[i])) | quality.Bits(uint32(second[i]))<<checksInFirst; got != want || first[i] < 0 || second[i] < 0 {
			t.Errorf("row %d: %b, want %b", i, got, want)
		}
	}
	if _, second := split([]quality.Bits{quality.Decision.Bit()}); second != nil {
		t.Error("a second mask is made where no check needs it")
	}
}

func BenchmarkNetCDF(b *testing.B) {
	f := flightOf(flighttest.New(7200))
	b.ReportAllocs()
	for b.Loop() {
		if err := NetCDF(io.Discard, f); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCSV(b *testing.B) {
	f := flightOf(flighttest.New(7200))
	b.ReportAllocs()
	for b.Loop() {
		if err := CSV(io.Discard, f); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkJSON(b *testing.B) {
	f := flightOf(flighttest.New(7200))
	b.ReportAllocs()
	for b.Loop() {
		if err := JSON(io.Discard, f); err != nil {
			b.Fatal(err)
		}
	}
}
