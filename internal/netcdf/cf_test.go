package netcdf

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"leadline/internal/sharedtest"
)

func utc(y, mo, d, h, mi, s, ns int) time.Time {
	return time.Date(y, time.Month(mo), d, h, mi, s, ns, time.UTC)
}

func TestParseTimeUnits(t *testing.T) {
	for _, c := range []struct {
		units, calendar string
		base            time.Time
		unitInS         float64
	}{
		{"seconds since 2006-01-19 05:03:00 0:00", "", utc(2006, 1, 19, 5, 3, 0, 0), 1},
		{"seconds since 1970-1-1 0:00:00 0:00", "gregorian", utc(1970, 1, 1, 0, 0, 0, 0), 1},
		// CF 4.4: "seconds since 1992-10-8 15:15:42.5 -6:00" is 21:15:42.5 UTC.
		{"seconds since 1992-10-8 15:15:42.5 -6:00", "standard", utc(1992, 10, 8, 21, 15, 42, 500000000), 1},
		{"days since 1990-1-1", "proleptic_gregorian", utc(1990, 1, 1, 0, 0, 0, 0), 86400},
		{"Hours Since 2020-02-29T12:30Z", "Standard", utc(2020, 2, 29, 12, 30, 0, 0), 3600},
		{"minutes since 2020-02-29 12:30 UTC", "utc", utc(2020, 2, 29, 12, 30, 0, 0), 60},
		{"ms since 2020-02-29 12:30:01.123456789", "", utc(2020, 2, 29, 12, 30, 1, 123456789), 1e-3},
		{"s since 2020-02-29 00:00:00+05:30", "", utc(2020, 2, 28, 18, 30, 0, 0), 1},
		{"sec since 2020-02-29 00:00:00 -0330", "", utc(2020, 2, 29, 3, 30, 0, 0), 1},
		{"d since 2020-02-29 12 +1", "", utc(2020, 2, 29, 11, 0, 0, 0), 86400},
		{"day since 2020-02-29 24:00:00", "", utc(2020, 3, 1, 0, 0, 0, 0), 86400},
		{"hours since 2020-02-29 GMT", "", utc(2020, 2, 29, 0, 0, 0, 0), 3600},
		{"hours since 0001-01-01 00:00", "proleptic_gregorian", utc(1, 1, 1, 0, 0, 0, 0), 3600},
	} {
		u, err := ParseTimeUnits(c.units, c.calendar)
		if err != nil || !u.Base.Equal(c.base) || u.UnitInS != c.unitInS {
			t.Errorf("%q: %v, wanted %v of %v s, %v", c.units, u, c.base, c.unitInS, err)
		}
	}
	for _, c := range [][2]string{
		{"", ""}, {"seconds", ""}, {"seconds since", ""}, {"since 2020-01-01", ""}, {"months since 2020-01-01", ""}, {"years since 2020-01-01", ""},
		{"hPa since 2020-01-01", ""}, {"seconds before 2020-01-01", ""}, {"seconds since 2020-13-01", ""}, {"seconds since 2021-02-29", ""},
		{"seconds since 2020-01", ""}, {"seconds since 01/02/2020", ""}, {"seconds since 20200101", ""}, {"seconds since 2020-01-01 25:00", ""},
		{"seconds since 2020-01-01 24:00:01", ""}, {"seconds since 2020-01-01 12:60", ""}, {"seconds since 2020-01-01 12:00:61", ""},
		{"seconds since 2020-01-01 12:00:00 Mars", ""}, {"seconds since 2020-01-01 12:00:00 +25:00", ""}, {"seconds since 2020-01-01T", ""},
		{"seconds since 2020-01-01 12:00:00Z +1:00", ""}, {"seconds since 2020-01-01 12:00:00 0:00 x", ""}, {"seconds since 2020-01-01 12:00:00.x", ""},
		{"seconds since 2020-01-01", "noleap"}, {"seconds since 2020-01-01", "360_day"}, {"seconds since 2020-01-01", "tai"},
		{"hours since 0001-01-01", "standard"}, {"seconds since 1970-01-01", "utc"}, {"seconds since -2020-01-01", ""},
	} {
		if u, err := ParseTimeUnits(c[0], c[1]); err == nil {
			t.Errorf("%q in calendar %q was read as %v", c[0], c[1], u)
		}
	}
}

func TestTime(t *testing.T) {
	u, err := ParseTimeUnits("seconds since 2006-01-19 05:03:00 0:00", "")
	if err != nil {
		t.Fatal(err)
	}
	if at, ok := u.Time(3601.5); !ok || !at.Equal(utc(2006, 1, 19, 6, 3, 1, 500000000)) {
		t.Errorf("%v", at)
	}
	if at, ok := u.Time(-0.25); !ok || !at.Equal(utc(2006, 1, 19, 5, 2, 59, 750000000)) {
		t.Errorf("%v", at)
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e14} {
		if at, ok := u.Time(x); ok {
			t.Errorf("%v is %v", x, at)
		}
	}
	if s := u.Since(utc(2006, 1, 19, 5, 4, 0, 0)); s != 60 {
		t.Errorf("%v", s)
	}
	// 1 January 1900 is day 693595 after 1 January of year 1 (proleptic Gregorian
	// calendar arithmetic: 1899*365 + 460 leap days).
	if u, err = ParseTimeUnits("days since 0001-01-01", "proleptic_gregorian"); err != nil {
		t.Fatal(err)
	}
	if at, ok := u.Time(693595); !ok || !at.Equal(utc(1900, 1, 1, 0, 0, 0, 0)) {
		t.Errorf("%v", at)
	}
}

// In the calendar utc a second counts also where it is a leap second; in the
// standard calendar it does not (CF 4.4.1).
func TestLeapSecondsCount(t *testing.T) {
	base := utc(2016, 12, 31, 23, 59, 58, 0)
	u := TimeUnits{Base: base, UnitInS: 1, LeapCounts: true}
	for x, want := range map[float64]time.Time{
		0: base, 1: utc(2016, 12, 31, 23, 59, 59, 0), 3: utc(2017, 1, 1, 0, 0, 0, 0), 4: utc(2017, 1, 1, 0, 0, 1, 0),
	} {
		if at, _ := u.Time(x); !at.Equal(want) || u.Since(want) != x {
			t.Errorf("%v s: %v and back %v, wanted %v", x, at, u.Since(want), want)
		}
	}
	if at, _ := u.Time(2.5); !at.Equal(utc(2017, 1, 1, 0, 0, 0, 500000000)) {
		t.Errorf("inside the leap second: %v", at)
	}
	u.Base = utc(2017, 1, 1, 0, 0, 1, 0)
	if at, _ := u.Time(-3); !at.Equal(utc(2016, 12, 31, 23, 59, 59, 0)) {
		t.Errorf("backwards: %v", at)
	}
	// UTC was 27 s further from atomic time in 2017 than in 1972 (IERS Bulletin C 52:
	// TAI-UTC 37 s; 10 s at the start).
	u.Base = utc(1972, 1, 1, 0, 0, 0, 0)
	if d := u.Since(utc(2017, 1, 1, 0, 0, 0, 0)) - utc(2017, 1, 1, 0, 0, 0, 0).Sub(u.Base).Seconds(); d != 27 {
		t.Errorf("%v leap seconds", d)
	}
}

// The table equals the list that the system's time zone package carries from IERS.
func TestLeapSecondsEqualSystemList(t *testing.T) {
	file, err := os.Open("/usr/share/zoneinfo/leap-seconds.list")
	if err != nil {
		t.Skipf("skipped: the system has no leap-seconds.list (Debian package tzdata): %v", err)
	}
	defer file.Close()
	var list []time.Time
	epoch := utc(1900, 1, 1, 0, 0, 0, 0) // the list counts in NTP seconds
	lines := bufio.NewScanner(file)
	for lines.Scan() {
		var ntp, tai int64
		if n, _ := fmt.Sscanf(lines.Text(), "%d %d", &ntp, &tai); n == 2 {
			list = append(list, time.Unix(ntp+epoch.Unix(), 0).UTC())
		}
	}
	if len(list) != len(leapSeconds) {
		t.Fatalf("%d entries, the system has %d", len(leapSeconds), len(list))
	}
	for i := range list {
		if !list[i].Equal(leapSeconds[i]) {
			t.Errorf("entry %d is %v, the system has %v", i, leapSeconds[i], list[i])
		}
	}
}

// The time units of the open flights, and the moments that ncdump -t prints.
func TestFlightTimesEqualNcdump(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*.cdf"))
	if err != nil || len(files) == 0 {
		t.Skipf("skipped: no flights in ../shared/data/arm: %v", err)
	}
	quoted := regexp.MustCompile(`"([^"]*)"`)
	for _, path := range files {
		f := openTest(t, path)
		v := f.Variable("time")
		u, err := v.TimeUnits()
		if err != nil {
			t.Fatal(err)
		}
		x, err := f.Float64s(v)
		if err != nil {
			t.Fatal(err)
		}
		_, text, _ := strings.Cut(run(t, "ncdump", "-t", "-v", "time", path), "\ndata:\n")
		_, text, _ = strings.Cut(text, "time =")
		printed := quoted.FindAllStringSubmatch(text, -1)
		if len(printed) != len(x) || len(x) == 0 {
			t.Fatalf("%d times, ncdump prints %d", len(x), len(printed))
		}
		for i, p := range printed {
			at, ok := u.Time(x[i])
			layout := "2006-01-02 15:04:05"
			if len(p[1]) <= len("2006-01-02 15:04") {
				layout = "2006-01-02 15:04"
			}
			if len(p[1]) <= len("2006-01-02 15") {
				layout = "2006-01-02 15"
			}
			if len(p[1]) <= len("2006-01-02") {
				layout = "2006-01-02"
			}
			want, err := time.Parse(layout, p[1])
			if err != nil {
				t.Fatal(err)
			}
			if !ok || absolute(at.Sub(want).Seconds()) > 1e-6 {
				t.Fatalf("%s time[%d] = %v is %v, ncdump prints %s", filepath.Base(path), i, x[i], at, p[1])
			}
		}
	}
}

func TestFind(t *testing.T) {
	one := func(name, standard, units string) Column {
		return Column{Name: name, Values: []float64{1}, Attributes: Attributes{{"standard_name", standard}, {"units", units}}}
	}
	f := opened(t, written(t, &Dataset{Columns: []Column{
		one("t", "air_temperature", "K"), one("tc", "air_temperature", "degC"), one("u", "air_temperature standard_error", "K"),
		one("p1", "air_pressure", "hPa\x00"), one("p2", "air_pressure", "hPa"), {Name: "none", Values: []float64{1}},
	}}))
	if v, err := f.Find("air_temperature", "K", "kelvin"); err != nil || v.Name != "t" {
		t.Errorf("%v, %v", v, err)
	}
	if v, err := f.Find("air_temperature standard_error"); err != nil || v.Name != "u" {
		t.Errorf("%v, %v", v, err)
	}
	if n := len(f.ByStandardName("air_temperature")); n != 2 {
		t.Errorf("%d variables", n)
	}
	for _, c := range []struct {
		name, units, want string
	}{{"air_temperature", "degF", "tc in \"degC\""}, {"air_pressure", "hPa", "p1, p2"}, {"wind_speed", "m s-1", "no variable has standard_name wind_speed"}} {
		if v, err := f.Find(c.name, c.units); err == nil || v != nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, %v", c.name, v, err)
		}
	}
}

// Packing by CF 8.1 and 2.5.1.
func TestPacking(t *testing.T) {
	nan := math.NaN()
	single := func(x float64) float64 { return float64(float32(x)) }
	for name, c := range map[string]struct {
		values     any
		attributes Attributes
		want       []float64
	}{
		"scale and offset":         {[]int16{0, 100, -100, -999}, Attributes{{"scale_factor", []float64{0.01}}, {"add_offset", []float64{273.15}}, {"_FillValue", []int16{-999}}}, []float64{273.15, 274.15, 272.15, nan}},
		"missing_value, a list":    {[]int16{1, -999, -888}, Attributes{{"missing_value", []int16{-999, -888}}}, []float64{1, nan, nan}},
		"both":                     {[]int16{1, -999, -888}, Attributes{{"missing_value", []int16{-999}}, {"_FillValue", []int16{-888}}}, []float64{1, nan, nan}},
		"default fill":             {[]float64{1, 9.9692099683868690e+36}, nil, []float64{1, nan}},
		"default fill of float":    {[]float32{1, 9.9692099683868690e+36}, nil, []float64{1, nan}},
		"default fill of short":    {[]int16{1, -32767}, nil, []float64{1, nan}},
		"default fill of int":      {[]int32{1, -2147483647}, nil, []float64{1, nan}},
		"no default fill of byte":  {[]int8{1, -127}, nil, []float64{1, -127}},
		"double attribute, single": {[]float32{1, -999.9}, Attributes{{"missing_value", []float64{-999.9}}}, []float64{1, nan}},
		"NaN as fill":              {[]float64{1, nan}, Attributes{{"_FillValue", []float64{nan}}}, []float64{1, nan}},
		"zero as fill":             {[]float64{1, 0}, Attributes{{"_FillValue", []float64{0}}}, []float64{1, nan}},
		"zero is a value":          {[]float64{1, 0}, nil, []float64{1, 0}},
		"outside valid_range":      {[]float32{101.5, -0.5}, Attributes{{"valid_range", []float32{0, 100}}}, []float64{101.5, -0.5}},
		"text as missing_value":    {[]float32{0.1, 2}, Attributes{{"missing_value", "-9999"}}, []float64{single(0.1), 2}},
		"_Unsigned":                {[]int8{-1, -2, 3}, Attributes{{"_Unsigned", "true"}, {"_FillValue", []int8{-1}}, {"scale_factor", []float32{0.5}}}, []float64{nan, 127, 1.5}},
	} {
		d := &Dataset{Dimensions: []Dimension{{"n", int64(len(c.want)), false}}, Columns: []Column{{Name: "x", Dimensions: []string{"n"}, Values: c.values, Attributes: c.attributes}}}
		f := opened(t, written(t, d))
		got, again := make([]float64, len(c.want)), make([]float64, len(c.want))
		if err := f.Packed(f.Variable("x"), nil, nil, got); err != nil {
			t.Fatal(err)
		}
		if err := f.PackedColumns(f.Variables, [][]float64{again}); err != nil {
			t.Fatal(err)
		}
		for i := range got {
			if !same(got[i], c.want[i]) || !same(again[i], c.want[i]) {
				t.Errorf("%s: %v, wanted %v", name, got, c.want)
				break
			}
		}
	}
	for name, attributes := range map[string]Attributes{
		"two scales": {{"scale_factor", []float64{1, 2}}}, "scale 0": {{"scale_factor", []float64{0}}}, "scale NaN": {{"scale_factor", []float64{nan}}},
		"range of one": {{"valid_range", []float64{1}}}, "infinite offset": {{"add_offset", []float64{math.Inf(1)}}},
	} {
		f := opened(t, written(t, &Dataset{Columns: []Column{{Name: "x", Values: []float64{1}, Attributes: attributes}}}))
		if err := f.Packed(f.Variable("x"), nil, nil, make([]float64, 1)); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
	f := opened(t, written(t, &Dataset{Columns: []Column{{Name: "x", Values: []float64{1}, Attributes: Attributes{{"valid_range", []float64{-1, 2}}}}}}))
	if p, err := f.Variable("x").Packing(); err != nil || p.ValidMin != -1 || p.ValidMax != 2 {
		t.Errorf("%v, %v", p, err)
	}
}
