package ingest

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"sort"
	"strconv"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
)

func shippedForTest(t testing.TB, name string) *Recipe {
	t.Helper()
	r, _, err := ShippedRecipe(name)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// leftOut is how many levels of the report are no rows.
func leftOut(raw *sounding.Raw) int {
	n := 0
	for _, f := range raw.Findings {
		if f.Unit == "levels" && (strings.Contains(f.Sentence, "lie below the ground") || strings.Contains(f.Sentence, "they are left out")) {
			n += int(f.Measured.Value())
		}
	}
	return n
}

// The shared messages, level by level, against the values that ecCodes 2.28.0 reads from
// them (bufr_decoded/eccodes_*.csv of the shared folder; see its README).
func TestBUFRReportsEqualEcCodes(t *testing.T) {
	dir := sharedtest.Dir(t, "data/bufr")
	lists, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/bufr_decoded"), "eccodes_*.csv"))
	if err != nil || len(lists) < 10 {
		t.Fatalf("%d lists, %v", len(lists), err)
	}
	for _, list := range lists {
		name := strings.TrimSuffix(strings.TrimPrefix(filepath.Base(list), "eccodes_"), ".csv") + ".bufr"
		t.Run(name, func(t *testing.T) {
			content, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			if got, ok := Detect(content); got != "bufr" || !ok {
				t.Errorf("detected as %q", got)
			}
			raws, err := ReadAll(context.Background(), name, bytes.NewReader(content), shippedForTest(t, "bufr"), Options{})
			if err != nil {
				t.Fatal(err)
			}
			compareWithList(t, raws, list)
		})
	}
}

func compareWithList(t *testing.T, raws []*sounding.Raw, list string) {
	f, err := os.Open(list)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, h := range rows[0] {
		column[h] = i
	}
	var stations []string
	levels := map[string][][]string{}
	for _, r := range rows[1:] {
		k := r[0] + "/" + r[1] + "/" + r[2]
		if levels[k] == nil {
			stations = append(stations, k)
		}
		levels[k] = append(levels[k], r)
	}
	if len(raws) != len(stations) {
		t.Fatalf("%d soundings, the list has %d", len(raws), len(stations))
	}
	compared := 0
	for i, k := range stations {
		raw := raws[i]
		want := strings.SplitN(k, "/", 3)[2]
		if got := stationOf(raw.Record); got != want {
			t.Errorf("sounding %d is of station %q, want %q", i+1, got, want)
		}
		if got := raw.Len() + leftOut(raw); got != len(levels[k]) {
			t.Errorf("%s: %d rows and %d levels left out, the list has %d levels", k, raw.Len(), leftOut(raw), len(levels[k]))
		}
		for j := 1; j < raw.Len(); j++ {
			if !(raw.Time[j] > raw.Time[j-1]) {
				t.Fatalf("%s: time of row %d does not rise", k, j)
			}
		}
		extra := func(name string) []float64 {
			for _, e := range raw.Extra {
				if e.Name == name {
					return e.Values
				}
			}
			return nil
		}
		columns := []struct {
			name   string
			values []float64
			factor float64 // from the list to leadline
			close  float64
		}{
			{"p_Pa", raw.Values(sounding.Pressure), 0.01, 1e-9}, {"z_gpm", raw.Values(sounding.GeopotentialHeight), 1, 1e-9},
			{"geopot", raw.Values(sounding.GeopotentialHeight), 1 / 9.80665, 1e-9}, {"T_K", raw.Values(sounding.Temperature), 1, 1e-9},
			{"Td_K", raw.Values(sounding.DewPoint), 1, 1e-9}, {"wdir", raw.Values(sounding.WindDirection), 1, 1e-9}, {"wspd", raw.Values(sounding.WindSpeed), 1, 1e-9},
			{"ext_sig", extra(SignificanceExtra), 1, 0}, {"sig", extra(OldSignificanceExtra), 1, 0},
		}
		used := map[string]bool{}
		for j := range raw.Time {
			r := levels[k][raw.Line[j]-1]
			for _, c := range columns {
				text := r[column[c.name]]
				if text == "" {
					continue
				}
				used[c.name] = true
				v, err := strconv.ParseFloat(text, 64)
				if err != nil {
					t.Fatal(err)
				}
				if c.values == nil {
					t.Fatalf("%s: column %s is missing", k, c.name)
				}
				if !(math.Abs(c.values[j]-v*c.factor) <= c.close) {
					t.Fatalf("%s level %d: %s is %v, the list has %v", k, raw.Line[j], c.name, c.values[j], v*c.factor)
				}
				compared++
			}
			for _, d := range []struct {
				shift string
				site  sounding.Number
				v     sounding.Variable
			}{{"dlat", raw.Record.Site.Latitude, sounding.Latitude}, {"dlon", raw.Record.Site.Longitude, sounding.Longitude}} {
				text := r[column[d.shift]]
				if text == "" {
					continue
				}
				v, _ := strconv.ParseFloat(text, 64)
				if got := raw.Values(d.v)[j]; !(math.Abs(got-(d.site.Value()+v)) < 1e-6) {
					t.Fatalf("%s level %d: %v is %v, want %v + %v", k, raw.Line[j], d.v, got, d.site, v)
				}
				compared++
			}
			if text := r[column["t_s"]]; text != "" {
				v, _ := strconv.ParseFloat(text, 64)
				got := raw.Epoch.Sub(raw.Record.Release.Declared).Seconds() + raw.Time[j]
				if !(got >= v-1e-6 && got < v+1) {
					t.Fatalf("%s level %d: %v s after release, the list has %v", k, raw.Line[j], got, v)
				}
				compared++
			}
		}
		// A column without one value in the list must not appear from nowhere.
		for _, c := range columns {
			if !used[c.name] && c.values != nil && c.name != "z_gpm" && c.name != "geopot" {
				for _, v := range c.values {
					if !math.IsNaN(v) {
						t.Errorf("%s: the list has no %s, the sounding has", k, c.name)
						break
					}
				}
			}
		}
	}
	if compared < 50 {
		t.Errorf("only %d values compared", compared)
	}
	t.Logf("%d values equal", compared)
}

// What the shared messages say about launch, instrument and quality (values read with
// ecCodes 2.28.0, bufr_dump -p).
func TestBUFRLaunchRecord(t *testing.T) {
	dir := sharedtest.Dir(t, "data/bufr")
	one := func(name string) []*sounding.Raw {
		content, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		raws, err := ReadAll(context.Background(), name, bytes.NewReader(content), shippedForTest(t, "bufr"), Options{})
		if err != nil {
			t.Fatal(err)
		}
		return raws
	}
	header := func(raw *sounding.Raw, name string) string {
		for _, h := range raw.Sources[0].Header {
			if h.Name == name {
				return h.Text
			}
		}
		return ""
	}
	r := one("bufrconv_A_IUSC60RJTD050000_C_RJTD_20191105010145_42.bufr")[0]
	rec := r.Record
	for _, c := range []struct{ what, got, want string }{
		{"serial", rec.Radiosonde.Serial, "9100769"}, {"operator length", strconv.Itoa(len(rec.Operator)), "3"}, {"gas", rec.Balloon.Gas, "hydrogen"}, {"parachute", rec.Balloon.Parachute, "yes"},
		{"kind", rec.Site.Kind, "fixed"}, {"declared", rec.Release.Declared.Format("2006-01-02T15:04:05Z"), "2019-11-04T23:30:17Z"}, {"nominal", rec.Release.Nominal.Format("2006-01-02T15:04Z"), "2019-11-05T00:00Z"},
		{"cloud", rec.Surface.CloudCode, "72/02"}, {"heading", header(r, "heading"), "IUSC60 RJTD 050000"}, {"template", header(r, "template"), "309052"},
		{"humidity sensor", header(r, "Type of humidity sensor"), "4 (capacitance sensor)"}, {"ground system", header(r, "Radiosonde ground receiving system")[:2], "62"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.what, c.got, c.want)
		}
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{{"mass", rec.Balloon.Mass.Value(), 0.6}, {"string", rec.Balloon.String.Value(), 15}, {"frequency", rec.Radiosonde.Frequency.Value(), 405.6}, {"latitude", rec.Site.Latitude.Value(), 45.4153},
		{"height", rec.Site.Height.Value(), 4}, {"surface pressure", rec.Surface.Pressure.Value(), 1011.4}, {"surface wind", rec.Surface.WindSpeed.Value(), 3}} {
		if math.Abs(c.got-c.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", c.what, c.got, c.want)
		}
	}
	if rec.Site.Barometer.Set() {
		t.Errorf("the barometer height %v m is kept although the surface pressure is that of 4 m", rec.Site.Barometer)
	}
	if w := one("pdbufr_temp_hires.bufr")[0].Record.Site.WIGOS; w != "0-20001-0-10954" {
		t.Errorf("WIGOS identifier %q", w)
	}
	// Relative humidity from dew point and temperature, against the Magnus formula over
	// water of WMO-No. 8, annex 4.B, which is given for -45 to 60 degrees Celsius; formulas
	// differ by less than 1 % of the value there.
	magnus := func(k float64) float64 { c := k - 273.15; return 6.112 * math.Exp(17.62*c/(243.12+c)) }
	for i, rh := range r.Values(sounding.Humidity) {
		temperature, dew := r.Values(sounding.Temperature)[i], r.Values(sounding.DewPoint)[i]
		if want := 100 * magnus(dew) / magnus(temperature); dew > 228.15 && !(math.Abs(rh-want) < 0.01*want) {
			t.Fatalf("level %d: humidity %v %%, want %v", i+1, rh, want)
		}
	}
	extra := func(raw *sounding.Raw, name string) []float64 {
		for _, e := range raw.Extra {
			if e.Name == name {
				return e.Values
			}
		}
		return nil
	}
	// Per cent confidence behind the bitmap of 3 09 007 with 2 22 000.
	if c := extra(one("eccodespy_temp.bufr")[0], "confidence_temperature"); len(c) == 0 || !anyValue(c) {
		t.Error("no confidence of temperature")
	}
	// Associated field of 4 bits, 15 is missing: every level has one, and
	// one of the 13 levels lies below the ground.
	if c := extra(one("pybufrkit_uegabe.bufr")[0], "associated_temperature"); len(c) != 12 || !anyValue(c) {
		t.Errorf("%d associated values of temperature, want 12", len(c))
	}
	pilots := one("pybufrkit_pilo_91.bufr")
	if len(pilots) != 17 {
		t.Errorf("%d PILOT reports, want 17 (README of the shared folder)", len(pilots))
	}
	for _, p := range pilots {
		if n := p.Len() + leftOut(p); n < 34 || n > 61 {
			t.Errorf("%s: %d levels, want 34 to 61 (README)", p.Record.Site.WMONumber, n)
		}
	}
	winds := one("bufrconv_A_IUJN30BABJ121800_C_RJTD_20191112180000.bufr")
	if len(winds) != 7 || winds[0].Record.Site.WMONumber != "54857" || winds[6].Record.Site.WMONumber != "59758" {
		t.Errorf("%d wind reports", len(winds))
	}
	for _, p := range winds {
		if n := p.Len() + leftOut(p); n < 51 || n > 70 || p.Get(sounding.Temperature) != nil {
			t.Errorf("%s: %d levels, want 51 to 70 of wind only (README)", p.Record.Site.WMONumber, n)
		}
	}
}

// A message that has been cut or altered gives the whole flight or none.
func TestDamagedMessagesGiveNoHalfFlight(t *testing.T) {
	dir := sharedtest.Dir(t, "data/bufr")
	content, err := os.ReadFile(filepath.Join(dir, "pdbufr_temp_hires.bufr"))
	if err != nil {
		t.Fatal(err)
	}
	recipe := shippedForTest(t, "bufr")
	read := func(b []byte) ([]*sounding.Raw, error) {
		return ReadAll(context.Background(), "m.bufr", bytes.NewReader(b), recipe, Options{})
	}
	whole, err := read(content)
	if err != nil {
		t.Fatal(err)
	}
	for n := 0; n < len(content); n += 97 {
		if raws, err := read(content[:n]); err == nil {
			t.Fatalf("cut to %d of %d bytes: %d soundings", n, len(content), len(raws))
		}
	}
	// A length that lies, a subset count that lies, a replication factor that lies.
	for bit := range 8 * 260 {
		b := append([]byte(nil), content...)
		b[bit/8] ^= 0x80 >> (bit % 8)
		raws, err := read(b)
		if err != nil {
			continue
		}
		for _, raw := range raws {
			said := false
			for _, f := range raw.Findings {
				said = said || strings.Contains(f.Sentence, "the sounding not whole")
			}
			if n := raw.Len() + leftOut(raw); n != whole[0].Len()+leftOut(whole[0]) && !said {
				t.Errorf("bit %d of byte %d flipped: %d levels", bit%8, bit/8, n)
			}
		}
	}
	// In a stream the message before and after a damaged one are read.
	var stream []byte
	stream = append(stream, content...)
	stream = append(stream, content[:4000]...)
	stream = append(stream, content...)
	raws, err := read(stream)
	if err != nil {
		t.Fatal(err)
	}
	left := false
	for _, f := range raws[0].Findings {
		left = left || strings.Contains(f.Sentence, "left out whole")
	}
	if !left {
		t.Error("the damaged message is not named")
	}
}

// Mutations of a message (cuts, flipped bits, wrong lengths, bytes doubled or lost), each
// read as a source: none panics, none gives other than the whole number of levels without
// saying so, and memory stays below 64 MiB. LEADLINE_MUTATIONS sets their number.
func TestMutatedMessages(t *testing.T) {
	n := 2000
	if s := os.Getenv("LEADLINE_MUTATIONS"); s != "" {
		var err error
		if n, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
	}
	dir := sharedtest.Dir(t, "data/bufr")
	recipe := shippedForTest(t, "bufr")
	r := rand.New(rand.NewPCG(3, 9))
	for _, name := range []string{"pdbufr_temp_hires.bufr", "pybufrkit_uegabe.bufr", "pybufrkit_temp_106.bufr"} {
		content, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		read := func(b []byte) []*sounding.Raw {
			raws, err := ReadAll(context.Background(), "m.bufr", bytes.NewReader(b), recipe, Options{})
			if err != nil {
				return nil
			}
			return raws
		}
		first := read(content)[0]
		want := first.Len() + leftOut(first)
		var peak uint64
		silent, noDate := 0, 0
		for i := range n / 3 {
			b := append([]byte(nil), content...)
			for range 1 + r.IntN(4) {
				k := r.IntN(len(b))
				if r.IntN(2) == 0 {
					k = r.IntN(min(len(b), 250)) // the head
				}
				switch r.IntN(5) {
				case 0:
					b = b[:k+1]
				case 1, 2:
					b[k] ^= 1 << r.IntN(8)
				case 3:
					b = append(b[:k:k], append([]byte{b[k]}, b[k:]...)...)
				case 4:
					b[k] = byte(r.IntN(256))
				}
			}
			for _, raw := range read(b) {
				said := false
				for _, f := range raw.Findings {
					said = said || strings.Contains(f.Sentence, "the sounding not whole")
				}
				if got := raw.Len() + leftOut(raw); got != want && !said {
					silent++
				}
				if raw.Record.Release.Nominal.IsZero() && raw.Record.Release.Declared.IsZero() {
					noDate++
				}
			}
			if i%64 == 0 {
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				peak = max(peak, m.HeapAlloc)
			}
		}
		if silent > 0 || noDate > 0 {
			t.Errorf("%s: %d mutations give part of the levels as the whole, %d no date", name, silent, noDate)
		}
		if peak > 64<<20 {
			t.Errorf("%s: %d MiB in use", name, peak>>20)
		}
	}
}

// The report up to 100 hPa and the full one are one sounding.
func TestEarlierReportIsLeftOut(t *testing.T) {
	mk := func(n, update int) *table {
		p := make([]float64, n)
		for i := range p {
			p[i] = 1000 - float64(i)
		}
		return &table{key: "10001 x", update: update, time: make([]float64, n), name: fmt.Sprint(n), series: []sounding.Series{{Variable: sounding.Pressure, Values: p}}}
	}
	for _, c := range []struct {
		name string
		in   []*table
		want []int
	}{
		{"partial, then full", []*table{mk(5, 0), mk(9, 0)}, []int{9}},
		{"full, then partial", []*table{mk(9, 0), mk(5, 0)}, []int{9}},
		{"a correction with fewer levels", []*table{mk(9, 0), mk(5, 1)}, []int{5}},
		{"the same twice", []*table{mk(9, 0), mk(9, 0)}, []int{9}},
	} {
		var got []int
		for _, t := range withoutEarlierReports(c.in) {
			got = append(got, len(t.time))
		}
		sort.Ints(got)
		if fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%s: levels %v, want %v", c.name, got, c.want)
		}
	}
	other := mk(5, 0)
	for i := range other.series[0].Values {
		other.series[0].Values[i] -= 0.5 // levels the longer one has not: parts of one sounding
	}
	if got := withoutEarlierReports([]*table{other, mk(9, 0)}); len(got) != 2 {
		t.Error("a report with levels of its own is left out")
	}
}

func FuzzReadBUFR(f *testing.F) {
	if dir := filepath.Join(sharedtest.Root(f), "..", "shared", "data", "bufr"); dir != "" {
		for _, name := range []string{"pybufrkit_uegabe.bufr", "pybufrkit_btem_109.bufr", "pybufrkit_temp_106.bufr", "eccodespy_temp.bufr"} {
			if b, err := os.ReadFile(filepath.Join(dir, name)); err == nil {
				f.Add(b)
			}
		}
	}
	f.Add([]byte("BUFR\x00\x00\x08\x047777"))
	recipe := shippedForTest(f, "bufr")
	f.Fuzz(func(t *testing.T, b []byte) {
		// The length as it should be, so that mutations reach what is behind it.
		if len(b) > 8 && string(b[:4]) == "BUFR" && b[len(b)-1]&1 == 1 {
			b = append([]byte(nil), b...)
			binary.BigEndian.PutUint32(b[3:], uint32(len(b)))
			b[3] = 'R'
		}
		raws, err := ReadAll(context.Background(), "fuzz.bufr", bytes.NewReader(b), recipe, Options{})
		if err != nil && len(raws) > 0 {
			t.Fatal("soundings with an error")
		}
		for _, raw := range raws {
			if raw.Len() == 0 || raw.Len() > 8*len(b) {
				t.Fatalf("%d rows from %d bytes", raw.Len(), len(b))
			}
			if err := raw.Columns.Validate(); err != nil {
				t.Fatal(err)
			}
		}
	})
}
