package igra

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"leadline/internal/sharedtest"
)

// An invented lake station, in the main layout: every special value once.
const lakeHeader = "#LKM00000042 2031 03 01 00 2305    4 lakebook lakebook  475000    93000\n"
const lakeLevels = "21     0  96010B  402B  -12B  750    38   350    21 \n" +
	"10   130  85000B 1390A  -88A-8888 -8888   355    87 \n" +
	"20 -9999  81234 -9999   -95 -9999 -9999 -9999 -9999 \n" +
	"30  1045  -9999  3000 -9999 -9999 -9999    10   112 \n"

func readAll(t *testing.T, r *Reader) ([]Sounding, []*RecordError) {
	t.Helper()
	var soundings []Sounding
	var broken []*RecordError
	for {
		s, err := r.Next()
		var e *RecordError
		switch {
		case err == io.EOF:
			return soundings, broken
		case errors.As(err, &e):
			broken = append(broken, e)
		case err != nil:
			t.Fatal(err)
		default:
			soundings = append(soundings, s)
		}
	}
}

func lake(t *testing.T, text string) []Sounding {
	t.Helper()
	soundings, broken := readAll(t, NewReader(strings.NewReader(text)))
	if len(broken) > 0 {
		t.Fatal(broken[0])
	}
	return soundings
}

func TestColumnsAreThoseOfTheFormatDescription(t *testing.T) {
	f, err := os.Open(sharedtest.Dir(t, "standards/igra2_columns.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := map[string][]span{}
	for _, row := range rows[1:] {
		first, _ := strconv.Atoi(row[2])
		last, _ := strconv.Atoi(row[3])
		want[row[0]] = append(want[row[0]], span{row[1], first, last})
	}
	if got := fmt.Sprint(mainHeaderFields); got != fmt.Sprint(want["header"]) {
		t.Errorf("header fields\n%v\nwant\n%v", got, want["header"])
	}
	if got := fmt.Sprint(mainLevelFields); got != fmt.Sprint(want["data"]) {
		t.Errorf("level fields\n%v\nwant\n%v", got, want["data"])
	}
}

// The counts are those of data/README.md; the values were read off the file by eye.
func TestRealMainFile(t *testing.T) {
	f, err := os.Open(filepath.Join(sharedtest.Dir(t, "data/igra"), "USM00070026-data.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	soundings, broken := readAll(t, NewReader(f))
	if len(soundings) != 2 || len(soundings[0].MajorType) != 158 || len(soundings[1].MajorType) != 157 {
		t.Fatalf("%d soundings, want two of 158 and 157 levels", len(soundings))
	}
	if len(broken) != 1 || broken[0].Line != 318 || !strings.Contains(broken[0].Error(), "promises 147 level lines, 0 follow") {
		t.Errorf("errors %v, want the truncated third sounding of line 318", broken)
	}
	s := soundings[0]
	if s.StationID != "USM00070026" || s.LatitudeDegrees != 71.2889 || s.LongitudeDegrees != -156.7833 ||
		s.PressureSource != "ncdc6301" || s.Moving || s.ProblemCount != 0 {
		t.Errorf("header %+v", s.Header)
	}
	if at, known := s.Release(); !known || !at.Equal(time.Date(2010, 5, 31, 23, 3, 0, 0, time.UTC)) {
		t.Errorf("release %v, want 23:03 on the day before the nominal 00 UTC", at)
	}
	// Line 5: "20   148  94980   500B   -7B  956     6 -9999 -9999".
	if s.PressureHPa.Values[3] != 949.8 || s.ElapsedSeconds.Values[3] != 108 || s.HeightGpm.Values[3] != 500 ||
		s.TemperatureCelsius.Values[3] != -0.7 || s.HumidityPercent.Values[3] != 95.6 || s.DepressionKelvin.Values[3] != 0.6 ||
		!math.IsNaN(s.WindSpeedMetersASecond.Values[3]) || s.WindSpeedMetersASecond.Marks[3] != Missing ||
		s.HeightFlags[3] != 'B' || s.PressureFlags[3] != ' ' || s.TemperatureFlags[3] != 'B' {
		t.Errorf("level 4 is wrong: %v hPa %v s %v gpm", s.PressureHPa.Values[3], s.ElapsedSeconds.Values[3], s.HeightGpm.Values[3])
	}
	if s.MajorType[0] != 2 || s.MinorType[0] != 1 || s.WindSpeedMetersASecond.Values[0] != 5.1 || s.WindDirectionDegrees.Values[0] != 20 {
		t.Errorf("surface level is wrong")
	}
}

func TestSpecialValuesAreToldApart(t *testing.T) {
	s := lake(t, lakeHeader+lakeLevels)[0]
	if s.HumidityPercent.Marks[1] != Removed || s.DepressionKelvin.Marks[1] != Removed || !math.IsNaN(s.HumidityPercent.Values[1]) {
		t.Errorf("-8888 must be removed, got %v", s.HumidityPercent.Marks)
	}
	if s.HumidityPercent.Marks[2] != Missing || s.ElapsedSeconds.Marks[2] != Missing || s.PressureHPa.Marks[3] != Missing {
		t.Errorf("-9999 must be missing")
	}
	if s.TemperatureCelsius.Values[1] != -8.8 || s.TemperatureCelsius.Marks[1] != Present {
		t.Errorf("-88 is a temperature of -8.8 °C, got %v", s.TemperatureCelsius.Values[1])
	}
	if s.HeightFlags[1] != 'A' || s.ElapsedSeconds.Values[3] != 645 || s.ElapsedSeconds.Values[0] != 0 {
		t.Errorf("flag %c, elapsed %v", s.HeightFlags[1], s.ElapsedSeconds.Values)
	}
}

func TestLineEndsAndManySoundings(t *testing.T) {
	one := lakeHeader + lakeLevels
	want := fmt.Sprint(lake(t, one)[0].columns())
	crlf := lake(t, strings.ReplaceAll(strings.Repeat(one, 40), "\n", "\r\n"))
	noLast := lake(t, strings.TrimRight(one, "\n"))
	if len(crlf) != 40 || len(noLast) != 1 {
		t.Fatalf("%d and %d soundings", len(crlf), len(noLast))
	}
	if got := fmt.Sprint(values(crlf[39])); got != fmt.Sprint(values(lake(t, one)[0])) || want == "" {
		t.Errorf("CRLF changes values: %v", got)
	}
	if crlf[1].Line != 6 {
		t.Errorf("the second header stands on line %d, want 6", crlf[1].Line)
	}
	if got := lake(t, ""); len(got) != 0 {
		t.Errorf("an empty file has %d soundings", len(got))
	}
}

func values(s Sounding) (all []string) {
	for _, c := range s.columns() {
		all = append(all, fmt.Sprint(c.Values, c.Marks))
	}
	return all
}

func TestBrokenSoundingLeavesTheOthersReadable(t *testing.T) {
	good := lakeHeader + lakeLevels
	short := "10   130  85000B 1390A  -88A  9\n"
	for name, c := range map[string]struct {
		middle string
		line   int
		says   string
	}{
		"too few levels":      {lakeHeader + lakeLevels[:53], 6, "promises 4 level lines, 1 follow"},
		"too many levels":     {lakeHeader + lakeLevels + lakeLevels[:53], 11, "belong to no sounding"},
		"line cut":            {lakeHeader + lakeLevels[:53] + short + lakeLevels[53:], 8, "31 of 51 characters"},
		"header cut":          {lakeHeader[:50] + "\n" + lakeLevels, 6, "header has 50 characters"},
		"no date":             {strings.Replace(lakeHeader, "2031 03 01", "2031 02 30", 1) + lakeLevels, 6, "no date"},
		"month 13":            {strings.Replace(lakeHeader, "2031 03 01", "2031 13 01", 1) + lakeLevels, 6, "MONTH"},
		"level type":          {lakeHeader + "x" + lakeLevels[1:], 7, "level type"},
		"line beyond measure": {lakeHeader + strings.Repeat("1", 200_000) + "\n" + lakeLevels, 7, "longer than"},
		"text in between":     {"see the note\n", 6, "belong to no sounding"},
	} {
		t.Run(name, func(t *testing.T) {
			soundings, broken := readAll(t, NewReader(strings.NewReader(good+c.middle+good)))
			if name == "too many levels" {
				soundings = soundings[1:]
			}
			if len(soundings) != 2 || fmt.Sprint(values(soundings[1])) != fmt.Sprint(values(lake(t, good)[0])) {
				t.Errorf("%d soundings, want the two whole ones", len(soundings))
			}
			if len(broken) != 1 || broken[0].Line != c.line || !strings.Contains(broken[0].Error(), c.says) {
				t.Errorf("errors %v, want one of line %d saying %q", broken, c.line, c.says)
			}
		})
	}
}

func TestUnreadableFieldIsNamedAndTheRestKept(t *testing.T) {
	s := lake(t, lakeHeader+strings.Replace(lakeLevels, "96010B", "9x010B", 1))[0]
	if s.PressureHPa.Marks[0] != Unreadable || s.TemperatureCelsius.Values[0] != -1.2 || s.ProblemCount != 1 {
		t.Fatalf("marks %v, problems %v", s.PressureHPa.Marks, s.Problems)
	}
	if got := s.Problems[0].String(); got != `line 2, column 10: field PRESS holds "9x010", which it cannot` {
		t.Errorf("problem %q", got)
	}
}

func TestHeaderTimes(t *testing.T) {
	for _, c := range []struct{ date, want string }{
		{"2031 03 01 00 2305", "2031-02-28 23:05"}, // release before the nominal hour, day before
		{"2031 03 01 12 1130", "2031-03-01 11:30"},
		{"2031 12 31 23 0010", "2032-01-01 00:10"},
		{"2031 03 01 99 1130", "2031-03-01 11:30"}, // no nominal hour
		{"2031 03 01 12 1199", "2031-03-01 11:00"}, // hour only
		{"2031 03 01 12 9999", ""},
	} {
		s := lake(t, strings.Replace(lakeHeader, "2031 03 01 00 2305", c.date, 1)+lakeLevels)[0]
		got := ""
		if at, known := s.Release(); known {
			got = at.Format("2006-01-02 15:04")
		}
		if got != c.want {
			t.Errorf("%s: release %q, want %q", c.date, got, c.want)
		}
	}
	s := lake(t, strings.Replace(lakeHeader, " 475000    93000", "-988888 -9988888", 1)+lakeLevels)
	if len(s) != 1 || !s[0].Moving || !math.IsNaN(s[0].LatitudeDegrees) || !math.IsNaN(s[0].LongitudeDegrees) || s[0].ProblemCount != 0 {
		t.Errorf("moving station: %+v", s)
	}
}

// allocations of a promise that is not kept stay small.
func TestLyingLevelCountAllocatesLittle(t *testing.T) {
	text := strings.Replace(lakeHeader, "   4 lake", "9999 lake", 1) + lakeLevels
	r := testing.Benchmark(func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := NewReader(strings.NewReader(text)).Next(); err == nil {
				b.Fatal("a truncated sounding was returned")
			}
		}
	})
	if r.AllocedBytesPerOp() > 128<<10 {
		t.Errorf("%d bytes allocated for four lines", r.AllocedBytesPerOp())
	}
}

func realDerived(t *testing.T) ([]DerivedSounding, error) {
	t.Helper()
	f, err := os.Open(filepath.Join(sharedtest.Dir(t, "data/igra"), "USM00070026-drvd.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := NewDerivedReader(f)
	var all []DerivedSounding
	for {
		s, err := r.Next()
		if err != nil {
			_, end := r.Next()
			if end != io.EOF {
				t.Errorf("after the truncated record: %v, want end of file", end)
			}
			return all, err
		}
		all = append(all, s)
	}
}

// The counts are those of data/README.md; the values were read off the file by eye.
func TestRealDerivedFile(t *testing.T) {
	all, err := realDerived(t)
	if len(all) != 2 || len(all[0].PressureHPa.Values) != 120 || len(all[1].PressureHPa.Values) != 97 {
		t.Fatalf("%d soundings, want two of 120 and 97 levels", len(all))
	}
	var e *RecordError
	if !errors.As(err, &e) || e.Line != 220 {
		t.Errorf("error %v, want the truncated third sounding of line 220", err)
	}
	got := make([]float64, 0, 20)
	for _, v := range all[0].items() {
		got = append(got, *v)
	}
	want := []float64{7.21, math.NaN(), math.NaN(), math.NaN(), 946.15, 606, 1003.21, 141, 979.03, 335, 979.03, 335, 937.76, 676, 20, 12, -4, 39, 8, 0}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("header items\n%v\nwant\n%v", got, want)
	}
}

// The derived columns and their scaling are from memory. Recomputing one column
// from the others is the outside check: a shifted column or a wrong power of ten
// fails here. Tolerances are the rounding of the printed values.
func TestDerivedColumnsAgreeWithEachOther(t *testing.T) {
	all, _ := realDerived(t)
	within := 0
	check := func(s DerivedSounding, i int, name string, got, want, tolerance float64) {
		if math.IsNaN(got) || math.IsNaN(want) {
			return
		}
		within++
		if math.Abs(got-want) > tolerance {
			t.Errorf("sounding of line %d, level %d: %s is %v, recomputed %v (tolerance %v)", s.Line, i, name, got, want, tolerance)
		}
	}
	for _, s := range all {
		for i, p := range s.PressureHPa.Values {
			kelvin := s.TemperatureKelvin.Values[i]
			// Poisson's equation with R/cp = 0.286, on values rounded to 0.1 K.
			check(s, i, "potential temperature", s.PotentialTemperatureKelvin.Values[i], kelvin*math.Pow(1000/p, 0.286), 0.002*s.PotentialTemperatureKelvin.Values[i])
			e := s.VapourPressureHPa.Values[i]
			check(s, i, "virtual temperature", s.VirtualTemperatureKelvin.Values[i], kelvin/(1-0.378*e/p), 0.16)
			if es := s.SaturationVapourPressureHPa.Values[i]; es > 0.5 {
				check(s, i, "calculated humidity", s.CalculatedHumidityPercent.Values[i], 100*e/es, 0.3)
			}
			// Smith and Weintraub (1953): N = 77.6 p/T + 3.73e5 e/T².
			check(s, i, "refractivity", s.RefractivityNUnits.Values[i], 77.6*p/kelvin+3.73e5*e/(kelvin*kelvin), 1.5)
			if i+1 == len(s.PressureHPa.Values) {
				continue
			}
			km := (s.ReportedHeightGpm.Values[i+1] - s.ReportedHeightGpm.Values[i]) / 1000
			if km < 0.2 {
				continue // the rounding of the heights outweighs the gradient
			}
			for _, g := range []struct {
				name     string
				v, slope Column
			}{
				{"temperature gradient", s.TemperatureKelvin, s.TemperatureGradient},
				{"potential temperature gradient", s.PotentialTemperatureKelvin, s.PotentialTemperatureGradient},
				{"humidity gradient", s.CalculatedHumidityPercent, s.HumidityGradient},
				{"eastward wind gradient", s.EastwardWindMetersASecond, s.EastwardWindGradient},
				{"northward wind gradient", s.NorthwardWindMetersASecond, s.NorthwardWindGradient},
			} {
				// A missing value between makes the archive reach further up; skip those.
				if slope := (g.v.Values[i+1] - g.v.Values[i]) / km; !math.IsNaN(slope) {
					check(s, i, g.name, g.slope.Values[i], slope, 0.11/km+0.06+math.Abs(slope)*0.002/km)
				}
			}
		}
	}
	if within < 1000 {
		t.Errorf("only %d values compared", within)
	}
}

func TestDetect(t *testing.T) {
	if l, ok := Detect([]byte(lakeHeader)); !ok || l != Main {
		t.Errorf("main header detected as %v %v", l, ok)
	}
	derived := lakeHeader[:36] + " " + strings.Repeat("   721", 20) + "\r\n"
	if l, ok := Detect([]byte(derived)); !ok || l != Derived {
		t.Errorf("derived header detected as %v %v", l, ok)
	}
	for _, text := range []string{"", "#", "TTAA 81001 72518", "# a comment of some length that is longer than seventy-one characters in all"} {
		if l, ok := Detect([]byte(text)); ok {
			t.Errorf("%q detected as %v", text, l)
		}
	}
	_, err := NewReader(strings.NewReader(derived)).Next()
	if err == nil || !strings.Contains(err.Error(), "this is the derived layout") {
		t.Errorf("main reader on derived header: %v", err)
	}
	_, err = NewDerivedReader(strings.NewReader(lakeHeader)).Next()
	if err == nil || !strings.Contains(err.Error(), "this is the main layout") {
		t.Errorf("derived reader on main header: %v", err)
	}
}

func TestReadErrorStays(t *testing.T) {
	broken := io.MultiReader(strings.NewReader(lakeHeader+lakeLevels[:60]), failing{})
	r := NewReader(broken)
	for range 3 {
		if _, err := r.Next(); err == nil || err.Error() != "disk gone" {
			t.Fatalf("got %v, want the error of the reader each time", err)
		}
	}
}

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errors.New("disk gone") }

func FuzzReaders(f *testing.F) {
	f.Add([]byte(lakeHeader + lakeLevels))
	f.Add([]byte(strings.ReplaceAll(lakeHeader+lakeLevels, "\n", "\r\n")))
	f.Add([]byte(lakeHeader[:36] + " " + strings.Repeat("   721", 20) + "\n" + strings.Repeat(strings.Repeat("    721", 1)+strings.Repeat("     721", 18)+"\n", 4)))
	f.Fuzz(func(t *testing.T, text []byte) {
		Detect(text)
		r := NewReader(bytes.NewReader(text))
		for calls := 0; ; calls++ {
			if calls > len(text)+2 {
				t.Fatal("the reader does not come to an end")
			}
			s, err := r.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				if s.Levels != 0 || s.MajorType != nil {
					t.Fatal("an error came with half a sounding")
				}
				continue
			}
			for _, c := range s.columns() {
				if len(c.Values) != s.Levels || len(c.Marks) != s.Levels {
					t.Fatalf("%d values for %d levels", len(c.Values), s.Levels)
				}
				for i, v := range c.Values {
					if math.IsNaN(v) != (c.Marks[i] != Present) {
						t.Fatalf("value %v with mark %v", v, c.Marks[i])
					}
				}
			}
		}
		d := NewDerivedReader(bytes.NewReader(text))
		for calls := 0; ; calls++ {
			if calls > len(text)+2 {
				t.Fatal("the derived reader does not come to an end")
			}
			s, err := d.Next()
			if err == io.EOF {
				break
			}
			if err == nil && len(s.PressureHPa.Values) != s.Levels {
				t.Fatalf("%d values for %d levels", len(s.PressureHPa.Values), s.Levels)
			}
		}
	})
}

func BenchmarkReader(b *testing.B) {
	text := []byte(strings.Repeat(lakeHeader+lakeLevels, 1000))
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		r := NewReader(bytes.NewReader(text))
		for {
			if _, err := r.Next(); err == io.EOF {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
	}
}
