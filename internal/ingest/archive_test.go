package ingest

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leadline/internal/netcdf"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
)

func shipped(t testing.TB, name string) *Recipe {
	t.Helper()
	r, _, err := ShippedRecipe(name)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Open radiosonde files of an archive (../shared/data/README.md) by the shipped
// recipe: names, units, missing values; wind components against speed and direction
// as the file's own attribute says they were computed.
func TestOpenNetCDFFlights(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*.cdf"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no files: %v", err)
	}
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			f, err := os.Open(path)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			raw, err := Read(context.Background(), path, f, shipped(t, "cf"), Options{})
			if err != nil {
				t.Fatal(err)
			}
			if raw.Sources[0].Name != filepath.Base(path) || len(raw.Sources[0].SHA256) != 64 || raw.Sources[0].Rows != raw.Len() {
				t.Errorf("source %+v", raw.Sources[0])
			}
			for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.DewPoint, sounding.Humidity, sounding.WindSpeed, sounding.WindDirection, sounding.WindU, sounding.WindV, sounding.Latitude, sounding.Longitude, sounding.HeightMSL} {
				if raw.Values(v) == nil {
					t.Errorf("%v is missing", v)
				}
			}
			for i, s := range raw.Series {
				low, high := math.Inf(1), math.Inf(-1)
				for _, x := range s.Values {
					if !math.IsNaN(x) {
						low, high = math.Min(low, x), math.Max(high, x)
					}
				}
				bounds := map[sounding.Variable][2]float64{
					sounding.Pressure: {5, 1010}, sounding.Temperature: {180, 310}, sounding.DewPoint: {160, 305}, sounding.Humidity: {0, 105},
					sounding.WindSpeed: {0, 80}, sounding.WindDirection: {0, 360}, sounding.Latitude: {-13, 38}, sounding.Longitude: {-98, 132}, sounding.HeightMSL: {20, 35000},
				}[s.Variable]
				if bounds != [2]float64{} && !(low >= bounds[0] && high <= bounds[1]) {
					t.Errorf("series %d, %v: %g to %g", i, s.Variable, low, high)
				}
			}
			speed, from, u, v := raw.Values(sounding.WindSpeed), raw.Values(sounding.WindDirection), raw.Values(sounding.WindU), raw.Values(sounding.WindV)
			compared := 0
			for i := range u {
				if d := math.Hypot(u[i]+speed[i]*math.Sin(from[i]*math.Pi/180), v[i]+speed[i]*math.Cos(from[i]*math.Pi/180)); d > 1e-3 {
					t.Fatalf("row %d: components and speed differ by %g m/s", i, d)
				} else if !math.IsNaN(d) {
					compared++
				}
			}
			if compared < raw.Len()/2 {
				t.Errorf("%d of %d rows compared", compared, raw.Len())
			}
			for i := range raw.Line {
				if raw.Line[i] != int32(i+1) {
					t.Fatalf("row %d has record number %d", i, raw.Line[i])
				}
			}
			for _, f := range raw.Findings {
				if !strings.Contains(f.Sentence, "-9999") && !strings.Contains(f.Sentence, " values of column l") { // positions that say -9999 without a missing_value
					t.Errorf("finding: %s", f.Sentence)
				}
			}
			// The instants of first and last record stand in the names and in README.md.
			if stamp := raw.Sources[0].FirstUTC.Format("20060102.150405"); !strings.Contains(path, stamp) {
				t.Errorf("first record of %s", stamp)
			}
		})
	}
	t.Run("quality variables are kept", func(t *testing.T) {
		f, err := os.Open(filepath.Join(sharedtest.Dir(t, "data/arm"), "sgpsondewnpnC1.b1.20190101.053200.cdf"))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		raw, err := Read(context.Background(), "x.cdf", f, shipped(t, "cf"), Options{})
		if err != nil {
			t.Fatal(err)
		}
		set := 0
		for _, e := range raw.Extra {
			if e.Name == "qc_asc" {
				for _, x := range e.Values {
					if x != 0 {
						set++
					}
				}
			}
		}
		if set != 33 { // README.md: qc_asc 33 set
			t.Errorf("qc_asc is set in %d records, want 33", set)
		}
		if raw.Record == nil || raw.Record.GroundCheck.Pressure != 985.2 {
			t.Error("the ground check pressure of the attributes is not in the record")
		}
	})
}

func netcdfBytes(t testing.TB, d *netcdf.Dataset) []byte {
	t.Helper()
	var b bytes.Buffer
	if _, err := d.WriteTo(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func attrs(pairs ...any) netcdf.Attributes {
	var a netcdf.Attributes
	for i := 0; i < len(pairs); i += 2 {
		a = append(a, netcdf.Attribute{Name: pairs[i].(string), Value: pairs[i+1]})
	}
	return a
}

func TestNetCDFByStandardNamesAndUnits(t *testing.T) {
	write := func(change func(d *netcdf.Dataset)) []byte {
		d := &netcdf.Dataset{
			Dimensions: []netcdf.Dimension{{Name: "obs", Length: 3}},
			Attributes: attrs("serial_number", "D1042"),
			Columns: []netcdf.Column{
				{Name: "clock", Dimensions: []string{"obs"}, Type: netcdf.Double, Attributes: attrs("standard_name", "time", "units", "minutes since 2031-06-03 23:00:00 +02:00"), Values: []float64{0, 1, 2}},
				{Name: "a", Dimensions: []string{"obs"}, Type: netcdf.Double, Attributes: attrs("standard_name", "air_pressure", "units", "Pa"), Values: []float64{96840, 96810, nan}},
				{Name: "b", Dimensions: []string{"obs"}, Type: netcdf.Double, Attributes: attrs("standard_name", "air_temperature", "units", "degF"), Values: []float64{32, 50, 212}},
				{Name: "c", Dimensions: []string{"obs"}, Type: netcdf.Double, Attributes: attrs("standard_name", "relative_humidity", "units", "1"), Values: []float64{0.5, 0.6, 0.7}},
				{Name: "alt", Dimensions: []string{"obs"}, Type: netcdf.Double, Attributes: attrs("units", "furlong"), Values: []float64{1, 2, 3}},
				{Name: "lon", Dimensions: []string{"obs"}, Type: netcdf.Double, Attributes: attrs("units", "degrees_east"), Values: []float64{353.5, 400, 10}},
			},
		}
		change(d)
		return netcdfBytes(t, d)
	}
	b := write(func(*netcdf.Dataset) {})
	raw, err := Read(context.Background(), "x.nc", bytes.NewReader(b), shipped(t, "cf"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := raw.Sources[0].FirstUTC; !got.Equal(time.Date(2031, 6, 3, 21, 0, 0, 0, time.UTC)) {
		t.Errorf("first %v", got)
	}
	equal(t, "pressure", raw.Values(sounding.Pressure), []float64{968.4, 968.1, nan})
	equal(t, "temperature", raw.Values(sounding.Temperature), []float64{273.15, 283.15, 373.15})
	equal(t, "humidity", raw.Values(sounding.Humidity), []float64{50, 60, 70})
	equal(t, "longitude", raw.Values(sounding.Longitude), []float64{-6.5, nan, 10})
	if raw.Values(sounding.HeightMSL) != nil {
		t.Error("an altitude in furlongs was taken")
	}
	s := sentences(raw)
	for _, want := range []string{"variable alt looks like height_msl: unit \"furlong\" is not known for length", "400"} {
		if !strings.Contains(s, want) {
			t.Errorf("no finding says %q:\n%s", want, s)
		}
	}
	if len(raw.Extra) != 1 || raw.Extra[0].Name != "alt" || raw.Extra[0].Unit != "furlong" {
		t.Errorf("extras %v", raw.Extra)
	}
	if raw.Record == nil || raw.Record.Radiosonde.Serial != "D1042" {
		t.Error("serial number of the attributes is not in the record")
	}
	// Packed, and as a stream that cannot be read at any place.
	if again, err := Read(context.Background(), "x.nc.gz", bytes.NewReader(gzipped(t, b)), shipped(t, "cf"), Options{}); err != nil || Fingerprint(again) != Fingerprint(raw) {
		t.Errorf("packed: %v", err)
	}
	if again, err := Read(context.Background(), "x.nc", io.MultiReader(bytes.NewReader(b)), shipped(t, "cf"), Options{}); err != nil || again.Sources[0].SHA256 != raw.Sources[0].SHA256 {
		t.Errorf("stream: %v", err)
	}
	for name, c := range map[string]struct {
		change func(d *netcdf.Dataset)
		words  string
	}{
		"no time":       {func(d *netcdf.Dataset) { d.Columns = d.Columns[1:] }, "no variable gives the time"},
		"months":        {func(d *netcdf.Dataset) { d.Columns[0].Attributes[1].Value = "months since 2031-06-03" }, "months"},
		"no date":       {func(d *netcdf.Dataset) { d.Columns[0].Attributes[1].Value = "seconds since launch" }, "no date of year-month-day"},
		"elapsed alone": {func(d *netcdf.Dataset) { d.Columns[0].Attributes[1].Value = "s" }, "no instant of elapsed time zero"},
		"model calendar": {func(d *netcdf.Dataset) {
			d.Columns[0].Attributes = append(d.Columns[0].Attributes, netcdf.Attribute{Name: "calendar", Value: "360_day"})
		}, "calendar"},
		"all time missing": {func(d *netcdf.Dataset) { d.Columns[0].Values = []float64{nan, nan, nan} }, "none of 3 values of time variable clock is set"},
		"nothing known":    {func(d *netcdf.Dataset) { d.Columns = d.Columns[:1] }, "none of the variables is one that the recipe knows"},
	} {
		if _, err := Read(context.Background(), "x.nc", bytes.NewReader(write(c.change)), shipped(t, "cf"), Options{}); err == nil || !strings.Contains(err.Error(), c.words) {
			t.Errorf("%s: %v, want %q", name, err, c.words)
		}
	}
	for cut := 0; cut < len(b); cut += 97 {
		if raw, err := Read(context.Background(), "x.nc", bytes.NewReader(b[:cut]), shipped(t, "cf"), Options{}); err == nil {
			t.Errorf("cut to %d of %d bytes it still reads %d rows", cut, len(b), raw.Len())
		}
	}
}

// One file with two soundings along the first of two dimensions.
func TestNetCDFOfTwoSoundings(t *testing.T) {
	d := &netcdf.Dataset{
		Dimensions: []netcdf.Dimension{{Name: "trajectory", Length: 2}, {Name: "obs", Length: 3}},
		Columns: []netcdf.Column{
			{Name: "time", Dimensions: []string{"trajectory", "obs"}, Type: netcdf.Double, Attributes: attrs("units", "seconds since 2031-06-03 00:00:00"), Values: []float64{0, 1, 2, 43200, nan, 43202}},
			{Name: "p", Dimensions: []string{"trajectory", "obs"}, Type: netcdf.Double, Attributes: attrs("units", "hPa"), Values: []float64{1000, 999, 998, 900, 899, 898}},
		},
	}
	raws, err := ReadAll(context.Background(), "x.nc", bytes.NewReader(netcdfBytes(t, d)), shipped(t, "cf"), Options{})
	if err != nil || len(raws) != 2 {
		t.Fatalf("%d soundings, %v", len(raws), err)
	}
	equal(t, "second", raws[1].Values(sounding.Pressure), []float64{900, 898})
	if raws[1].Line[1] != 3 || raws[1].Sources[0].Unread != 1 {
		t.Errorf("lines %v", raws[1].Line)
	}
	if _, err := Read(context.Background(), "x.nc", bytes.NewReader(netcdfBytes(t, d)), shipped(t, "cf"), Options{}); !errors.Is(err, ErrSeveral) {
		t.Errorf("Read gave %v", err)
	}
	one, err := Read(context.Background(), "x.nc", bytes.NewReader(netcdfBytes(t, d)), shipped(t, "cf"), Options{Sounding: 1})
	if err != nil || one.Len() != 3 {
		t.Errorf("sounding 1: %v", err)
	}
}

// CF conventions 1.11, section 4.4: forms of time units.
func TestTimeUnitsOfCF(t *testing.T) {
	for text, want := range map[string]string{
		"seconds since 1970-1-1 0:00:00 0:00":          "1970-01-01T00:00:00Z",
		"seconds since 1992-10-8 15:15:42.5 -6:00":     "1992-10-08T21:15:42.5Z", // the example of the conventions
		"hours since 2031-06-03T23:04:11Z":             "2031-06-03T23:04:11Z",
		"days since 2031-06-03":                        "2031-06-03T00:00:00Z",
		"s since 2031-06-03 23:04 UTC":                 "2031-06-03T23:04:00Z",
		"minutes since 2031-06-03 23:04:11 +0530":      "2031-06-03T17:34:11Z",
		"milliseconds since 2031-06-03 23:04:11+05:30": "2031-06-03T17:34:11Z",
	} {
		_, got, err := parseSince(text)
		if err != nil || got.Format(time.RFC3339Nano) != want {
			t.Errorf("%q: %v %v, want %s", text, got.Format(time.RFC3339Nano), err, want)
		}
	}
	for _, text := range []string{"seconds", "seconds since", "seconds since now", "months since 2031-01-01", "seconds since 2031-13-01", "seconds since 2031-02-30", "seconds since 2031-01-01 25:00:00", "seconds since 2031-01-01 00:00:00 CEST"} {
		if _, got, err := parseSince(text); err == nil {
			t.Errorf("%q was read as %v", text, got)
		}
	}
}

// The open archive's own files (../shared/data/README.md), against their columns as
// fixed by the archive's format description.
func TestOpenArchiveFiles(t *testing.T) {
	open := func(name string) []*sounding.Raw {
		f, err := os.Open(filepath.Join(sharedtest.Dir(t, "data/igra"), name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		raws, err := ReadAll(context.Background(), name, f, shipped(t, "igra"), Options{})
		if err != nil {
			t.Fatal(err)
		}
		return raws
	}
	main := open("USM00070026-data.txt")
	if len(main) != 2 || main[0].Len() != 158 || main[1].Len() != 157 {
		t.Fatalf("%d soundings", len(main))
	}
	if got := main[0].Sources[0].FirstUTC; !got.Equal(time.Date(2010, 5, 31, 23, 3, 0, 0, time.UTC)) {
		t.Errorf("the first sounding begins %v, released 2303 for hour 00 of 1 June", got)
	}
	// Its first level line: 21     0 100980B   12     0B 1000     0    20    51
	for v, want := range map[sounding.Variable]float64{sounding.Pressure: 1009.8, sounding.GeopotentialHeight: 12, sounding.Temperature: 273.15, sounding.Humidity: 100, sounding.DewPoint: 273.15, sounding.WindDirection: 20, sounding.WindSpeed: 5.1} {
		if got := main[0].Values(v)[0]; math.Abs(got-want) > 1e-9 {
			t.Errorf("%v of the first level is %g, want %g", v, got, want)
		}
	}
	if main[0].Line[0] != 2 || main[0].Record.Site.WMONumber != "70026" || math.Abs(main[0].Record.Site.Latitude.Value()-71.2889) > 1e-9 {
		t.Errorf("line %d, record %+v", main[0].Line[0], main[0].Record.Site)
	}
	for _, raw := range main {
		for i := 1; i < raw.Len(); i++ {
			if raw.Time[i] < raw.Time[i-1] {
				t.Fatalf("level %d runs backwards", i)
			}
		}
	}
	if s := sentences(main[0]); !strings.Contains(s, "a sounding of the source is left out") {
		t.Errorf("the truncated third sounding is not named:\n%s", s)
	}
	derived := open("USM00070026-drvd.txt")
	if len(derived) != 2 || derived[0].Len() != 120 || derived[1].Len() != 97 {
		t.Fatalf("%d derived soundings", len(derived))
	}
	f, err := os.Open(filepath.Join(sharedtest.Dir(t, "data/igra"), "USM00070026-data.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	one, err := Read(context.Background(), "x", f, shipped(t, "igra"), Options{Nominal: time.Date(2010, 6, 1, 12, 0, 0, 0, time.UTC)})
	if err != nil || one.Len() != 157 {
		t.Errorf("by nominal hour: %v", err)
	}
}

func gzipped(t testing.TB, b []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	if _, err := z.Write(b); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
