package temp

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
)

func csvRows(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(sharedtest.Dir(t, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func number(v float64, decimals int) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}

// rowsOf writes a report in the words of standards/temp_worked_decoded.csv.
func rowsOf(id string, r Report) [][]string {
	unit := map[Unit]string{Knots: "kt", MetersASecond: "m/s"}[r.WindUnit]
	head := []string{id, string([]byte{byte(r.Part), byte(r.Part)}), strconv.Itoa(r.Day), strconv.Itoa(r.Hour), unit, string(r.Indicator), r.Station}
	var rows [][]string
	add := func(cells ...string) { rows = append(rows, append(append([]string{}, head...), cells...)) }
	for _, l := range r.Levels {
		kind := l.Kind.String()
		switch l.Kind {
		case MaximumWind:
			kind = "max wind"
		case SignificantTemperature:
			kind = "sig T/U " + l.Number
		case SignificantWind:
			kind = "sig wind " + l.Number
		}
		pressure := number(l.PressureHPa, 0)
		if r.Part == 'D' {
			pressure = number(l.PressureHPa, 1)
		}
		add(kind, pressure, number(l.HeightGpm, 0), number(l.TemperatureCelsius, 1),
			number(l.TemperatureCelsius-l.DewPointDepression, 1), number(l.WindDirectionDegrees, 0), number(l.WindSpeed, 0),
			number(l.ShearBelow, 0), number(l.ShearAbove, 0), "")
	}
	if r.NoTropopause {
		add("none 88999", "", "", "", "", "", "", "", "", "")
	}
	if r.NoMaximumWind {
		add("none 77999", "", "", "", "", "", "", "", "", "")
	}
	if s := r.System; s != nil {
		add("31313 srrarasasa", "", "", "", "", "", "", "", "", fmt.Sprintf("sr=%d rara=%02d sasa=%02d", s.RadiationCorrection, s.SondeType, s.Tracking))
		add("31313 launch", "", "", "", "", "", "", "", "", fmt.Sprintf("hhmm=%02d%02d", s.LaunchHour, s.LaunchMinute))
	}
	for _, g := range r.Cloud {
		add("41414", "", "", "", "", "", "", "", "", "group="+g)
	}
	for _, x := range r.Texts {
		for _, g := range x.Groups {
			add(x.Indicator, "", "", "", "", "", "", "", "", "group="+g)
		}
	}
	return rows
}

// Real bulletins, decoded by an independent script (standards B.8).
func TestWorkedBulletins(t *testing.T) {
	text, err := os.ReadFile(sharedtest.Dir(t, "standards/temp_bulletins.json"))
	if err != nil {
		t.Fatal(err)
	}
	var bulletins []struct{ ID, Text string }
	if err := json.Unmarshal(text, &bulletins); err != nil {
		t.Fatal(err)
	}
	want := csvRows(t, "standards/temp_worked_decoded.csv")[1:]
	var got [][]string
	for _, b := range bulletins {
		parsed := Parse([]byte(b.Text))
		if len(parsed) != 1 || len(parsed[0].Reports) != 1 || parsed[0].FindingCount != 0 {
			t.Fatalf("%s: %d bulletins %+v", b.ID, len(parsed), parsed)
		}
		r := parsed[0].Reports[0]
		if r.Closed != strings.HasSuffix(b.Text, "=") {
			t.Errorf("%s: closed is %v", b.ID, r.Closed)
		}
		for _, f := range r.Findings {
			t.Errorf("%s: finding in a sound bulletin: %v", b.ID, f)
		}
		got = append(got, rowsOf(b.ID, r)...)
	}
	if len(got) != len(want) {
		t.Errorf("%d rows, want %d", len(got), len(want))
	}
	for i := range min(len(got), len(want)) {
		if strings.Join(got[i], ",") != strings.Join(want[i], ",") {
			t.Errorf("row %d\n got %v\nwant %v", i+2, got[i], want[i])
		}
	}
}

func readTac(t *testing.T, name string) Bulletin {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(sharedtest.Dir(t, "data/tac"), name))
	if err != nil {
		t.Fatal(err)
	}
	all := Parse(text)
	if len(all) != 1 || all[0].Heading == nil || all[0].FindingCount != 0 {
		t.Fatalf("%s: %d bulletins", name, len(all))
	}
	file, err := ParseFileName(name)
	if err != nil || file.Heading != *all[0].Heading {
		t.Errorf("file name %+v (%v) does not agree with the heading %+v", file, err, *all[0].Heading)
	}
	if again, err := file.Format(); again != name {
		t.Errorf("file name written back: %q, %v", again, err)
	}
	for _, r := range all[0].Reports {
		letters, err := DesignatorLetters(r.Form, r.Part)
		if err != nil || !strings.HasPrefix(all[0].Heading.Designator, letters) {
			t.Errorf("%v part %v travels under %s, heading says %s", r.Form, r.Part, letters, all[0].Heading.Designator)
		}
		for _, f := range r.Findings {
			t.Errorf("%s station %s: %v", name, r.Station, f)
		}
		if !r.Closed {
			t.Errorf("%s station %s: not closed", name, r.Station)
		}
	}
	return all[0]
}

// station numbers as data/README.md counts them.
func stations(b Bulletin) (reporting, none []string) {
	for _, r := range b.Reports {
		if r.Nil {
			none = append(none, r.Station)
		} else {
			reporting = append(reporting, r.Station)
		}
	}
	return
}

type pairLevel struct{ heightGpm, celsius, dewPoint, direction, speed float64 }

// bufrLevels reads the decode of the paired binary message: per station and
// pressure in hPa. The levels of the 1-second message are interpolated by time
// nowhere: the sample nearest to the standard pressure is taken.
func bufrLevels(t *testing.T, name string) map[string]map[float64]pairLevel {
	t.Helper()
	out := map[string]map[float64]pairLevel{}
	distance := map[string]float64{}
	for _, row := range csvRows(t, "data/bufr_decoded/"+name)[1:] {
		f := func(i int) float64 {
			if row[i] == "" {
				return math.NaN()
			}
			v, err := strconv.ParseFloat(row[i], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		if out[row[2]] == nil {
			out[row[2]] = map[float64]pairLevel{}
		}
		for _, s := range append(append([]standardLevel{}, standardA...), standardC...) {
			d := math.Abs(f(7)/100 - s.pressureHPa)
			key := row[2] + s.figures + fmt.Sprint(s.pressureHPa)
			if best, seen := distance[key]; d < 0.6 && (!seen || d < best) {
				distance[key] = d
				out[row[2]][s.pressureHPa] = pairLevel{f(8), f(12) - 273.15, f(13) - 273.15, f(14), f(15)}
			}
		}
	}
	return out
}

// FM 35 bulletin of twelve stations against the binary message of the same
// soundings, which holds the standard levels themselves: every one must agree
// within the resolution of the code.
func TestTempBulletinAgreesWithItsBinaryPair(t *testing.T) {
	b := readTac(t, "A_USCI01BABJ290000_C_RJTD_20191029010631_14.txt")
	reporting, none := stations(b)
	if len(reporting) != 12 || len(none) != 1 || none[0] != "54342" {
		t.Fatalf("reporting %v, nil %v; want 12 and 54342", reporting, none)
	}
	pair := bufrLevels(t, "eccodes_bufrconv_A_IUSN01BABJ290000_C_RJTD_20191029025504_87.csv")
	compared := 0
	for _, r := range b.Reports {
		for _, l := range r.Levels {
			if l.Kind != Standard {
				continue
			}
			want, there := pair[r.Station][l.PressureHPa]
			if !there {
				t.Errorf("station %s has %g hPa, the binary message does not", r.Station, l.PressureHPa)
				continue
			}
			compared++
			heightStep := 1.0
			if l.PressureHPa <= 500 {
				heightStep = 10
			}
			far := func(name string, got, want, tolerance float64) {
				if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > tolerance {
					t.Errorf("station %s, %g hPa: %s %v, binary %v (tolerance %v)", r.Station, l.PressureHPa, name, got, want, tolerance)
				}
			}
			far("height", l.HeightGpm, want.heightGpm, heightStep)
			// 0.2 degree steps, cut towards zero: up to 0.1, and 0.05 of rounding.
			far("temperature", l.TemperatureCelsius, want.celsius, 0.16)
			depression := 0.11
			if l.DewPointDepression > 5 {
				depression = 0.56
			}
			if !math.IsNaN(l.DewPointDepression) {
				far("depression", l.DewPointDepression, want.celsius-want.dewPoint, depression)
			}
			turn := math.Abs(math.Mod(l.WindDirectionDegrees-want.direction+540, 360) - 180)
			if want.speed > 0.5 && turn > 3 {
				t.Errorf("station %s, %g hPa: direction %v, binary %v", r.Station, l.PressureHPa, l.WindDirectionDegrees, want.direction)
			}
			far("speed", r.WindUnit.MetersASecond(l.WindSpeed), want.speed, 0.5)
		}
	}
	if compared != 116 {
		t.Errorf("%d standard levels compared, want the 116 of data/README.md", compared)
	}
}

// The same sounding in knots and in a 1-second binary message. data/README.md:
// nine of eleven standard levels agree within rounding, two by 1.1 to 1.2 knots;
// heights are cut, not rounded.
func TestKnotBulletinAgreesWithItsBinaryPair(t *testing.T) {
	b := readTac(t, "A_USJP01RJTD050000_C_RJTD_20191105012317_50.txt")
	reporting, none := stations(b)
	if want := "[47401 47412 47418 47580 47582 47600 47646]"; fmt.Sprint(reporting) != want || len(none) != 0 {
		t.Fatalf("stations %v, want %s", reporting, want)
	}
	pair := bufrLevels(t, "eccodes_bufrconv_A_IUSC60RJTD050000_C_RJTD_20191105010145_42.csv")["47401"]
	compared, rounding := 0, 0
	for _, l := range b.Reports[0].Levels {
		if l.Kind != Standard {
			continue
		}
		compared++
		want := pair[l.PressureHPa]
		off := math.Abs(l.WindSpeed - Knots.FromMetersASecond(want.speed))
		if off <= 1 {
			rounding++
		}
		if off > 1.3 || math.Abs(l.TemperatureCelsius-want.celsius) > 0.25 || math.Abs(l.HeightGpm-want.heightGpm) > 12 {
			t.Errorf("%g hPa: %+v, binary %+v", l.PressureHPa, l, want)
		}
	}
	if b.Reports[0].WindUnit != Knots || compared != 11 || rounding != 9 {
		t.Errorf("unit %v, %d levels compared, %d within one knot; want kt, 11, 9", b.Reports[0].WindUnit, compared, rounding)
	}
}

// PILOT of seven stations, Parts A and B, against the binary message of the same
// soundings as another decoder turned it into text.
func TestPilotBulletinsAgree(t *testing.T) {
	a := readTac(t, "A_UPCI30BABJ121800_C_RJTD_20191112193217_55.txt")
	b := readTac(t, "A_UGCI30BABJ121800_C_RJTD_20191112193217_52.txt")
	for _, x := range []Bulletin{a, b} {
		reporting, none := stations(x)
		if len(reporting) != 7 || fmt.Sprint(none) != "[57972 58150 59981]" {
			t.Errorf("%s: reporting %v, nil %v", x.Heading.Designator, reporting, none)
		}
	}
	text, err := os.ReadFile(sharedtest.Dir(t, "data/bufr_decoded/bufrconv_iujn30babj.t.txt"))
	if err != nil {
		t.Fatal(err)
	}
	var other []Report
	for _, x := range Parse(text) {
		other = append(other, x.Reports...)
	}
	var mine []Report
	for _, r := range a.Reports {
		if !r.Nil {
			mine = append(mine, r)
		}
	}
	if len(other) != len(mine) || len(other) != 7 {
		t.Fatalf("%d reports, other decoder %d", len(mine), len(other))
	}
	differ := 0
	for i := range mine {
		if len(mine[i].Levels) != len(other[i].Levels) || mine[i].Station != other[i].Station {
			t.Fatalf("station %s: %d levels, other decoder %d", mine[i].Station, len(mine[i].Levels), len(other[i].Levels))
		}
		for k, l := range mine[i].Levels {
			o := other[i].Levels[k]
			if l.PressureHPa != o.PressureHPa && !(math.IsNaN(l.PressureHPa) && l.HeightGpm == o.HeightGpm) {
				t.Errorf("station %s level %d: %v and %v", mine[i].Station, k, l, o)
			}
			if l.WindDirectionDegrees != o.WindDirectionDegrees || l.WindSpeed != o.WindSpeed {
				differ++
				// The other decoder rounds the binary wind by itself: one step at most.
				if math.Abs(l.WindSpeed-o.WindSpeed) > 1 || math.Abs(l.WindDirectionDegrees-o.WindDirectionDegrees) > 5 {
					t.Errorf("station %s level %d: %v and %v", mine[i].Station, k, l, o)
				}
			}
		}
	}
	t.Logf("%d winds differ by one coding step", differ)
	// The maximum wind of Part A stands among the altitudes of Part B as well.
	found := 0
	for _, r := range b.Reports {
		for _, l := range r.Levels {
			for _, m := range mine {
				for _, x := range m.Levels {
					if x.Kind == MaximumWind && m.Station == r.Station && l.Kind == SignificantWind && l.HeightGpm == x.HeightGpm &&
						l.WindSpeed == x.WindSpeed && l.WindDirectionDegrees == x.WindDirectionDegrees {
						found++
					}
				}
			}
		}
	}
	if found != 5 {
		t.Errorf("%d of 5 maximum winds are among the significant altitudes", found)
	}
}
