package ingest

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
)

func readShared(t *testing.T, folder, recipe, name string) []*sounding.Raw {
	t.Helper()
	content, err := os.ReadFile(filepath.Join(sharedtest.Dir(t, folder), name))
	if err != nil {
		t.Fatal(err)
	}
	if got, _ := Detect(content); got != recipe {
		t.Errorf("%s is detected as %q", name, got)
	}
	raws, err := ReadAll(context.Background(), name, bytes.NewReader(content), shippedForTest(t, recipe), Options{})
	if err != nil {
		t.Fatal(err)
	}
	return raws
}

// atPressure returns the rows of a pressure that carry a bit of significance.
func atPressure(raw *sounding.Raw, p float64, bit int) (rows []int) {
	for i, v := range raw.Values(sounding.Pressure) {
		if math.Abs(v-p) > 0.05 {
			continue
		}
		for _, e := range raw.Extra {
			if e.Name == SignificanceExtra && !math.IsNaN(e.Values[i]) && int(e.Values[i])&bit != 0 {
				rows = append(rows, i)
			}
		}
	}
	return rows
}

// Bulletins and BUFR messages of the same soundings (pairs of the shared folder's README):
// standard levels agree to the resolution of the figure code. Wind in knots is rounded
// twice, so half a knot and half a tenth of m/s; temperatures are rounded to tenths (0.05 K)
// and those cut to even ones (0.1 K).
func TestBulletinsEqualPairedBUFR(t *testing.T) {
	for _, pair := range []struct {
		text, binary string
		speed        float64 // m/s, tolerance
		least        int     // levels to compare
		apart        int     // levels at which the README says that the two reports differ
	}{
		{"A_USCI01BABJ290000_C_RJTD_20191029010631_14.txt", "bufrconv_A_IUSN01BABJ290000_C_RJTD_20191029025504_87.bufr", 0.5001, 116, 0},
		// The README: 9 of 11 agree within rounding, the other two by 1.1 to 1.2 kt; heights truncated.
		{"A_USJP01RJTD050000_C_RJTD_20191105012317_50.txt", "bufrconv_A_IUSC60RJTD050000_C_RJTD_20191105010145_42.bufr", 0.58, 11, 2},
	} {
		bufrs := map[string]*sounding.Raw{}
		for _, raw := range readShared(t, "data/bufr", "bufr", pair.binary) {
			bufrs[raw.Record.Site.WMONumber] = raw
		}
		compared, apart := 0, 0
		for _, raw := range readShared(t, "data/tac", "temp", pair.text) {
			other := bufrs[raw.Record.Site.WMONumber]
			if other == nil {
				continue
			}
			if d := raw.Record.Release.Declared.Sub(other.Record.Release.Declared); d.Abs() > time.Minute {
				t.Errorf("%s: launch %s, in BUFR %s", raw.Record.Site.WMONumber, raw.Record.Release.Declared, other.Record.Release.Declared)
			}
			for _, p := range []float64{1000, 925, 850, 700, 500, 400, 300, 250, 200, 150, 100} {
				a, b := atPressure(raw, p, 1<<16), atPressure(other, p, 1<<16)
				if len(a) == 0 || len(b) == 0 {
					continue
				}
				i, k := a[0], b[0]
				get := func(raw *sounding.Raw, v sounding.Variable, row int) float64 { return raw.Values(v)[row] }
				heights := 1.0 // gpm, cut not rounded
				if p <= 500 {
					heights = 10
				}
				if x, y := get(raw, sounding.GeopotentialHeight, i), get(other, sounding.GeopotentialHeight, k); math.Abs(x-y) > heights {
					t.Errorf("%s %v hPa: %v gpm, in BUFR %v", raw.Record.Site.WMONumber, p, x, y)
				}
				if x, y := get(raw, sounding.Temperature, i), get(other, sounding.Temperature, k); math.Abs(x-y) > 0.151 {
					t.Errorf("%s %v hPa: %v K, in BUFR %v", raw.Record.Site.WMONumber, p, x, y)
				}
				if x, y := get(raw, sounding.DewPoint, i), get(other, sounding.DewPoint, k); math.Abs(x-y) > 0.61 {
					t.Errorf("%s %v hPa: dew point %v K, in BUFR %v", raw.Record.Site.WMONumber, p, x, y)
				}
				if x, y := get(raw, sounding.WindDirection, i), get(other, sounding.WindDirection, k); math.Abs(math.Remainder(x-y, 360)) > 2.6 && get(raw, sounding.WindSpeed, i) > 0 {
					t.Errorf("%s %v hPa: from %v, in BUFR %v", raw.Record.Site.WMONumber, p, x, y)
				}
				if x, y := get(raw, sounding.WindSpeed, i), get(other, sounding.WindSpeed, k); math.Abs(x-y) > pair.speed {
					apart++
					if math.Abs(x-y) > 0.65 {
						t.Errorf("%s %v hPa: %v m/s, in BUFR %v", raw.Record.Site.WMONumber, p, x, y)
					}
				}
				compared++
			}
		}
		if compared < pair.least {
			t.Errorf("%s: only %d levels compared, want %d", pair.text, compared, pair.least)
		}
		if apart > pair.apart {
			t.Errorf("%s: the wind of %d levels differs by more than rounding, want at most %d", pair.text, apart, pair.apart)
		}
	}
}

// PILOT Parts A and B of a station against its BUFR report (3 09 051): winds at the same
// altitudes agree to the code's 5 degrees and 1 m/s.
func TestPilotEqualsPairedBUFR(t *testing.T) {
	bufrs := map[string]*sounding.Raw{}
	for _, raw := range readShared(t, "data/bufr", "bufr", "bufrconv_A_IUJN30BABJ121800_C_RJTD_20191112180000.bufr") {
		bufrs[raw.Record.Site.WMONumber] = raw
	}
	compared := 0
	for _, raw := range readShared(t, "data/tac", "temp", "A_UGCI30BABJ121800_C_RJTD_20191112193217_52.txt") {
		other := bufrs[raw.Record.Site.WMONumber]
		if other == nil {
			t.Errorf("station %s has no BUFR report", raw.Record.Site.WMONumber)
			continue
		}
		z := other.Values(sounding.GeopotentialHeight)
		for i, h := range raw.Values(sounding.GeopotentialHeight) {
			if math.IsNaN(h) {
				continue
			}
			best := -1
			for k := range z {
				if math.Abs(z[k]-h) < 10 && (best < 0 || math.Abs(z[k]-h) < math.Abs(z[best]-h)) { // 21212 gives tens of metres
					best = k
				}
			}
			if best < 0 {
				continue
			}
			dd := math.Abs(math.Remainder(raw.Values(sounding.WindDirection)[i]-other.Values(sounding.WindDirection)[best], 360))
			ds := math.Abs(raw.Values(sounding.WindSpeed)[i] - other.Values(sounding.WindSpeed)[best])
			if dd > 3 && raw.Values(sounding.WindSpeed)[i] > 0 || ds > 0.51 {
				t.Errorf("%s %v gpm: differs by %v degrees, %v m/s", raw.Record.Site.WMONumber, h, dd, ds)
			}
			compared++
		}
	}
	if compared < 50 {
		t.Errorf("only %d levels compared", compared)
	}
}

// The worked bulletins of the standards sheet (temp_worked_decoded.csv, decoded by an
// independent script) as soundings of joined parts: every value of the table stands on a
// row of its pressure.
func TestWorkedBulletinsAsSoundings(t *testing.T) {
	dir := sharedtest.Dir(t, "standards")
	table, err := os.Open(filepath.Join(dir, "temp_worked_decoded.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	rows, err := csv.NewReader(table).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	content, err := os.ReadFile(filepath.Join(dir, "temp_bulletins.json"))
	if err != nil {
		t.Fatal(err)
	}
	var bulletins []struct{ ID, Text string }
	if err := json.Unmarshal(content, &bulletins); err != nil {
		t.Fatal(err)
	}
	listed := map[string]bool{}
	col := map[string]int{}
	for i, h := range rows[0] {
		col[h] = i
	}
	for _, r := range rows[1:] {
		listed[r[col["bulletin"]]] = true
	}
	text := ""
	for _, b := range bulletins {
		if listed[b.ID] {
			text += b.Text + "\n"
		}
	}
	raws, err := ReadAll(context.Background(), "worked.txt", strings.NewReader(text), shippedForTest(t, "temp"), Options{Date: time.Date(2031, 12, 25, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	if len(raws) != 3 {
		t.Errorf("%d soundings, want the three stations", len(raws))
	}
	by := map[string]*sounding.Raw{}
	for _, raw := range raws {
		by[raw.Record.Site.WMONumber] = raw
	}
	const kt = 1852.0 / 3600
	compared := 0
	for _, r := range rows[1:] {
		raw := by[r[col["station"]]]
		if raw == nil {
			t.Fatalf("no sounding of station %s", r[col["station"]])
		}
		number := func(name string) float64 {
			v, err := strconv.ParseFloat(r[col[name]], 64)
			if err != nil {
				return math.NaN()
			}
			return v
		}
		p := number("pressure_hPa")
		if math.IsNaN(p) {
			continue
		}
		row := -1
		for i, v := range raw.Values(sounding.Pressure) {
			if math.Abs(v-p) <= 0.05 {
				row = i
			}
		}
		if row < 0 {
			t.Errorf("%v: no row at %v hPa", r, p)
			continue
		}
		for _, c := range []struct {
			name  string
			v     sounding.Variable
			value float64
		}{{"temp_C", sounding.Temperature, number("temp_C") + 273.15}, {"dewpoint_C", sounding.DewPoint, number("dewpoint_C") + 273.15}, {"height_gpm", sounding.GeopotentialHeight, number("height_gpm")},
			{"wind_dir_deg", sounding.WindDirection, number("wind_dir_deg")}, {"wind_speed", sounding.WindSpeed, number("wind_speed") * kt}} {
			if math.IsNaN(c.value) {
				continue
			}
			if got := raw.Values(c.v)[row]; math.Abs(got-c.value) > 1e-6 {
				t.Errorf("%v: %s is %v, want %v", r, c.name, got, c.value)
			}
			compared++
		}
	}
	if compared < 300 {
		t.Errorf("only %d values compared", compared)
	}
}

// Without a month there is no sounding, and the error says how to give one.
func TestBulletinNeedsAMonth(t *testing.T) {
	text := "TTAA 28231 51463 99919 06664 20504 85576 06667 30505=\n"
	recipe := shippedForTest(t, "temp")
	_, err := ReadAll(context.Background(), "x.txt", strings.NewReader(text), recipe, Options{})
	if !errors.Is(err, ErrNoDate) || !strings.Contains(err.Error(), "month") {
		t.Errorf("error %v", err)
	}
	raws, err := ReadAll(context.Background(), "x.txt", strings.NewReader(text), recipe, Options{Date: time.Date(2031, 3, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	if got := raws[0].Sources[0].FirstUTC.Format("2006-01-02 15"); got != "2031-02-28 23" {
		t.Errorf("day 28 near 1 March is %s", got)
	}
}

// Calm, levels below the ground, both wind units, a ship, parts that differ.
func TestBulletinCases(t *testing.T) {
	at := Options{Date: time.Date(2031, 6, 3, 0, 0, 0, 0, time.UTC)}
	read := func(text string) *sounding.Raw {
		t.Helper()
		raws, err := ReadAll(context.Background(), "x.txt", strings.NewReader(text), shippedForTest(t, "temp"), at)
		if err != nil {
			t.Fatal(err)
		}
		if len(raws) != 1 {
			t.Fatalf("%d soundings", len(raws))
		}
		return raws[0]
	}
	raw := read("TTAA 53115 06601 99950 20060 00000 00150 ///// ///// 92730 18050 27010 85460 12050 28020=\nTTBB 53118 06601 00950 20260 11900 16055=\n")
	if n := leftOut(raw); n != 1 {
		t.Errorf("%d levels below the ground left out, want 1 (1000 hPa)", n)
	}
	if p := raw.Values(sounding.Pressure); p[0] != 950 || len(p) != 4 {
		t.Errorf("pressures %v", p)
	}
	if d, s := raw.Values(sounding.WindDirection)[0], raw.Values(sounding.WindSpeed)[0]; d != 0 || s != 0 {
		t.Errorf("calm is from %v at %v", d, s)
	}
	if s := raw.Values(sounding.WindSpeed)[1]; math.Abs(s-10*1852.0/3600) > 1e-9 {
		t.Errorf("10 kt is %v m/s", s)
	}
	said := false
	for _, f := range raw.Findings {
		said = said || strings.Contains(f.Sentence, "differ between them")
	}
	if !said {
		t.Error("surface temperatures 20.0 and 20.2 °C in two parts are not named")
	}
	ship := read("UUAA LAKE1 03115 99463 10065 18136 99010 15050 18005=\n")
	if s := ship.Record.Site; s.Kind != "ship" || s.CallSign != "LAKE1" || math.Abs(s.Latitude.Value()-46.3) > 1e-9 {
		t.Errorf("ship %+v", s)
	}
}

func FuzzReadTEMP(f *testing.F) {
	if b, err := os.ReadFile(filepath.Join(sharedtest.Root(f), "..", "shared", "data", "tac", "A_USCI01BABJ290000_C_RJTD_20191029010631_14.txt")); err == nil {
		f.Add(b[:900])
	}
	f.Add([]byte("TTAA 53115 06601 99950 20060 00000 92730 18050 27010 31313 46708 81104=\nTTBB 53118 06601 00950 20260 11/// ///// 21212 00950 00000 11900 27010="))
	f.Add([]byte("UGCI30 LAKE 121800\nPPBB 12173 54857 80248 23008 25007 24012 8126/ 26029 21212 00008 20007 10063 20510="))
	f.Add([]byte("IIAA ABC12 53115 99463 70065 18136 00501 99010 15050 18005 88999 77999="))
	recipe := shippedForTest(f, "temp")
	f.Fuzz(func(t *testing.T, b []byte) {
		raws, err := ReadAll(context.Background(), "fuzz.txt", bytes.NewReader(b), recipe, Options{Date: time.Date(2031, 6, 3, 0, 0, 0, 0, time.UTC)})
		if err != nil && len(raws) > 0 {
			t.Fatal("soundings with an error")
		}
		for _, raw := range raws {
			if raw.Len() == 0 || raw.Len() > len(b) {
				t.Fatalf("%d rows from %d bytes", raw.Len(), len(b))
			}
			if err := raw.Columns.Validate(); err != nil {
				t.Fatal(err)
			}
			for _, v := range raw.Values(sounding.WindSpeed) {
				if v < 0 || math.IsInf(v, 0) {
					t.Fatalf("wind of %v m/s", v)
				}
			}
		}
	})
}
