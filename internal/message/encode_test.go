package message_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"leadline/internal/bufr"
	"leadline/internal/ingest"
	"leadline/internal/levels"
	"leadline/internal/message"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
	"leadline/internal/temp"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// flown is a simulated flight through the whole path, with a station to send from.
func flown(t testing.TB) *workbench.Outcome {
	t.Helper()
	o, err := flownOnce()
	if err != nil {
		t.Fatal(err)
	}
	return o
}

var flownOnce = sync.OnceValues(func() (*workbench.Outcome, error) {
	s, err := truth.Preset(truth.MidLatitudeWinter, true)
	if err != nil {
		return nil, err
	}
	f, err := truth.Simulate(s, 11)
	if err != nil {
		return nil, err
	}
	record := append([]byte(nil), f.RecordText()...)
	record = bytes.Replace(record, []byte("[site]\n"), []byte("[site]\nwmo_number = \"06601\"\nwigos = \"0-20000-0-06601\"\n"), 1)
	l, err := workbench.Load([]workbench.File{{Name: "flight.txt", Bytes: f.Text(0)}}, workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: record}})
	if err != nil {
		return nil, err
	}
	l[0].Inputs.Record.Surface.CloudCode = "52531"
	l[0].Inputs.Record.Surface.SeaTemperature = 277.65
	l[0].Inputs.Record.Balloon.GasAmount = 0.215
	return workbench.Run(l[0].Inputs)
})

// dump is what ecCodes (bufr_dump -p of Debian's libeccodes-tools) reads in a message:
// the values of each key in their order, NaN where missing.
func dump(t *testing.T, content []byte) map[string][]float64 {
	t.Helper()
	tool := sharedtest.Tool(t, "bufr_dump", "libeccodes-tools")
	name := filepath.Join(t.TempDir(), "m.bufr")
	if err := os.WriteFile(name, content, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-p", name).CombinedOutput()
	if err != nil {
		t.Fatalf("bufr_dump: %v\n%s", err, out)
	}
	values := map[string][]float64{}
	for _, line := range strings.Split(string(out), "\n") {
		key, text, ok := strings.Cut(line, "=")
		if !ok {
			continue
		}
		if i := strings.LastIndexByte(key, '#'); i >= 0 {
			key = key[i+1:]
		}
		v := math.NaN()
		if text != "MISSING" {
			if v, err = strconv.ParseFloat(strings.Trim(text, "\"{} "), 64); err != nil {
				continue
			}
		}
		values[key] = append(values[key], v)
	}
	return values
}

func encode(t testing.TB, o *workbench.Outcome, options message.Options) message.Encoded {
	t.Helper()
	m, err := message.Encode(o.Final, o.Levels, options)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// near compares with half a step of the coding; both missing are equal.
func near(got, want, step float64) bool {
	if math.IsNaN(got) || math.IsNaN(want) {
		return math.IsNaN(got) && math.IsNaN(want)
	}
	return math.Abs(got-want) <= step/2*1.000001
}

// Every template, decoded by ecCodes 2.28.0, holds the flight's levels to the
// resolution of the coding.
func TestEncodedMessagesInEcCodes(t *testing.T) {
	o := flown(t)
	f := o.Final
	for _, template := range []message.Template{message.BUFR309052, message.BUFR309055, message.BUFR309057} {
		t.Run(string(template), func(t *testing.T) {
			m := encode(t, o, message.Options{Template: template})
			d := dump(t, m.Bytes)
			set := o.Levels.Levels
			pStep, zStep := 10.0, 1.0
			if template == message.BUFR309057 {
				pStep, zStep = 1, 0.1
			}
			if n := len(d["timePeriod"]); n != len(set)+m.MaximumWinds || m.Levels != len(set) {
				t.Fatalf("%d levels and maximum winds, %d + %d put in", n, len(set), m.MaximumWinds)
			}
			launch := f.Epoch.Round(time.Second)
			skip := func(key string) int { return len(d[key]) - len(set) } // the surface observation of 309055 comes first
			for i := range set {
				l := &set[i]
				at := func(key string, extra int) float64 { return d[key][i+extra] }
				direction, speed := l.Direction.Value(), math.Round(l.Speed.Value()*10)/10
				if speed == 0 {
					direction = 0
				} else if math.Round(direction) == 0 {
					direction = 360
				}
				checks := []struct {
					what            string
					got, want, step float64
				}{
					{"time", d["timePeriod"][i], l.Time.Value() + f.Epoch.Sub(launch).Seconds(), 1},
					{"significance", d["extendedVerticalSoundingSignificance"][i], float64(message.SignificanceBits(l.Kind)), 0},
					{"temperature", at("airTemperature", skip("airTemperature")), l.Temperature.Value(), 0.01},
					{"dew point", at("dewpointTemperature", skip("dewpointTemperature")), l.DewPoint.Value(), 0.01},
					{"direction", at("windDirection", skip("windDirection")), direction, 1},
					{"speed", at("windSpeed", skip("windSpeed")), l.Speed.Value(), 0.1},
					{"north", d["latitudeDisplacement"][i], l.Latitude.Value() - o.Record.Site.Latitude.Value(), 1e-5},
					{"east", d["longitudeDisplacement"][i], l.Longitude.Value() - o.Record.Site.Longitude.Value(), 1e-5},
				}
				if template == message.BUFR309055 {
					checks = append(checks, struct {
						what            string
						got, want, step float64
					}{"height", d["geopotentialHeight"][i], l.Geopotential.Value(), 1}, struct {
						what            string
						got, want, step float64
					}{"humidity", d["relativeHumidity"][i+skip("relativeHumidity")], l.Humidity.Value(), 0.1})
				} else {
					checks = append(checks, struct {
						what            string
						got, want, step float64
					}{"pressure", d["pressure"][i], l.Pressure.Value() * 100, pStep}, struct {
						what            string
						got, want, step float64
					}{"height", d["nonCoordinateGeopotentialHeight"][i], l.Geopotential.Value(), zStep})
				}
				for _, c := range checks {
					if !near(c.got, c.want, c.step) {
						t.Fatalf("level %d (%v, %v hPa): %s is %v, put in %v", i+1, l.Words, l.Pressure, c.what, c.got, c.want)
					}
				}
			}
			if template != message.BUFR309055 {
				k := 0
				for i := range set {
					if !set[i].Kind.Has(levels.MaximumWind) {
						continue
					}
					for _, c := range []struct {
						what            string
						got, want, step float64
					}{{"pressure", d["pressure"][len(set)+k], set[i].Pressure.Value() * 100, 10}, {"shear below", d["absoluteWindShearIn1KmLayerBelow"][k], set[i].ShearBelow.Value(), 0.1},
						{"shear above", d["absoluteWindShearIn1KmLayerAbove"][k], set[i].ShearAbove.Value(), 0.1}, {"time", d["timePeriod"][len(set)+k], set[i].Time.Value() + f.Epoch.Sub(launch).Seconds(), 1}} {
						if !near(c.got, c.want, c.step) {
							t.Errorf("maximum wind at %v hPa: %s is %v, put in %v", set[i].Pressure, c.what, c.got, c.want)
						}
					}
					k++
				}
				if k == 0 || k != m.MaximumWinds {
					t.Errorf("%d maximum winds written, the flight has %d; the test needs one", m.MaximumWinds, k)
				}
			}
			head := map[string]float64{"blockNumber": 6, "stationNumber": 601, "year": float64(launch.Year()), "hour": float64(launch.Hour()), "minute": float64(launch.Minute()), "second": float64(launch.Second()),
				"latitude": o.Record.Site.Latitude.Value(), "longitude": o.Record.Site.Longitude.Value(), "height": math.Round(o.Record.Site.Height.Value()), "heightOfStationGroundAboveMeanSeaLevel": math.NaN(),
				"trackingTechniqueOrStatusOfSystem": 8, "measuringEquipmentType": 7, "updateSequenceNumber": 0, "dataCategory": 2, "internationalDataSubCategory": 4,
				"oceanographicWaterTemperature": 277.65, "cloudAmount": 5, "heightOfBaseOfCloud": 600} // h = 5: 600 m to 1000 m
			if template != message.BUFR309052 {
				head["typeOfGasUsedInBalloon"], head["weightOfBalloon"], head["humiditySensorType"] = gas(o.Record.Balloon.Gas), o.Record.Balloon.Mass.Value(), 7
				head["radiosondeOperatingFrequency"] = math.Round(o.Record.Radiosonde.Frequency.Value()*10) * 1e5
			}
			if template == message.BUFR309057 {
				head["amountOfGasUsedInBalloon"] = 0.215
				head["balloonFlightTrainLength"], head["wigosIssuerOfIdentifier"], head["reasonForTermination"] = o.Record.Balloon.String.Value(), 20000, 1
			}
			for key, want := range head {
				got := d[key]
				if len(got) == 0 || !near(got[0], want, 1e-5) {
					t.Errorf("%s is %v, want %v", key, got, want)
				}
			}
			if clouds := fmt.Sprint(d["cloudType"]); clouds != "[32 23 11]" { // 30 + CL 2, 20 + CM 3, 10 + CH 1
				t.Errorf("cloud types %v", clouds)
			}
		})
	}
}

func gas(name string) float64 {
	if name == "helium" {
		return 1
	}
	return 0
}

// High-resolution reports, decoded by ecCodes: every row is a sample or a level of the
// flight, levels keep their bits, and rows for resolution have all bits off.
func TestHighResolutionInEcCodes(t *testing.T) {
	o := flown(t)
	f := o.Final
	for _, every := range []float64{1, 2} {
		m := encode(t, o, message.Options{Template: message.BUFR309057, Every: every})
		d := dump(t, m.Bytes)
		span := f.Events.Ascent()
		duration := f.Time[span.To-1] - f.Time[span.From]
		if n := float64(m.Levels); n < 0.85*duration/every || n > 1.1*duration/every+float64(len(o.Levels.Levels)) {
			t.Errorf("every %v s: %v levels over %v s", every, n, duration)
		}
		byBits := 0
		pressures, samples := f.Get(sounding.Pressure), map[int]int{}
		for i := span.From; i < span.To; i++ {
			samples[int(math.Round(pressures.Values[i]*100))] = i
		}
		last := math.Inf(1)
		for i := range m.Levels {
			p, bits := d["pressure"][i], int(d["extendedVerticalSoundingSignificance"][i])
			if p > last {
				t.Fatalf("level %d: pressure rises from %v to %v Pa", i+1, last, p)
			}
			last = p
			if bits != 0 {
				byBits++
				continue
			}
			row, ok := samples[int(p)]
			if !ok {
				t.Fatalf("level %d at %v Pa is no sample of the flight", i+1, p)
			}
			for _, c := range []struct {
				key  string
				v    sounding.Variable
				step float64
			}{{"airTemperature", sounding.Temperature, 0.01}, {"dewpointTemperature", sounding.DewPoint, 0.01}, {"nonCoordinateGeopotentialHeight", sounding.GeopotentialHeight, 0.1}} {
				s := f.Get(c.v)
				want := s.Values[row]
				if s.Flags[row].String() == "bad" {
					want = math.NaN()
				}
				if !near(d[c.key][i], want, c.step) {
					t.Fatalf("level %d: %s is %v, the flight has %v", i+1, c.key, d[c.key][i], want)
				}
			}
		}
		want := 0
		for _, l := range o.Levels.Levels {
			if message.SignificanceBits(l.Kind) != 0 {
				want++
			}
		}
		if byBits != want {
			t.Errorf("every %v s: %d levels with bits, the flight has %d", every, byBits, want)
		}
	}
}

// Descents: levels from high to low pressure, times counted from the start of the
// descent (notes 8, 9, 30 and 72 of Table D), no surface; decoded by ecCodes.
func TestDescentInEcCodes(t *testing.T) {
	o := flown(t)
	f := o.Final
	span := f.Events.Descent()
	if span.Len() < 100 {
		t.Fatalf("the simulated flight has %d rows of descent", span.Len())
	}
	for _, template := range []message.Template{message.BUFR309056, message.BUFR309053} {
		m := encode(t, o, message.Options{Template: template, Every: 2})
		d := dump(t, m.Bytes)
		if sub := d["internationalDataSubCategory"][0]; template == message.BUFR309056 && sub != 14 || template == message.BUFR309053 && sub != 7 {
			t.Errorf("%s: sub-category %v", template, sub)
		}
		start := f.UTC(f.Time[span.From]).Round(time.Second)
		if d["second"][0] != float64(start.Second()) || d["minute"][0] != float64(start.Minute()) {
			t.Errorf("%s: starts at minute %v second %v, the descent at %v", template, d["minute"][0], d["second"][0], start)
		}
		for i := 1; i < m.Levels; i++ {
			if d["pressure"][i] > d["pressure"][i-1] || d["timePeriod"][i] > d["timePeriod"][i-1] {
				t.Fatalf("%s level %d: pressure or time rises", template, i+1)
			}
			if int(d["extendedVerticalSoundingSignificance"][i])&131072 != 0 {
				t.Fatalf("%s level %d is marked as surface", template, i+1)
			}
		}
		for i := range m.Levels {
			if d["timePeriod"][i] < 0 {
				t.Fatalf("%s level %d: %v s before the start", template, i+1, d["timePeriod"][i])
			}
		}
		// Values at the flight's own rows of that time.
		s := f.Get(sounding.Pressure)
		for i := 0; i < m.Levels; i += 50 {
			best := span.From
			for row := span.From; row < span.To; row++ {
				if math.Abs(s.Values[row]*100-d["pressure"][i]) < math.Abs(s.Values[best]*100-d["pressure"][i]) {
					best = row
				}
			}
			at := f.UTC(f.Time[best]).Sub(start).Seconds()
			if math.Abs(at-d["timePeriod"][i]) > 1.5 {
				t.Errorf("%s level %d: %v s, the flight has that pressure %v s after the start", template, i+1, d["timePeriod"][i], at)
			}
		}
	}
}

// read returns the soundings of a message by the project's own reader.
func read(t *testing.T, b []byte) []*sounding.Raw {
	t.Helper()
	recipe, _, err := ingest.ShippedRecipe("bufr")
	if err != nil {
		t.Fatal(err)
	}
	raws, err := ingest.ReadAll(context.Background(), "m.bufr", bytes.NewReader(b), recipe, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return raws
}

// What was written is read back as the same sounding, and the same bits are written
// again from what was decoded.
func TestReadBack(t *testing.T) {
	o := flown(t)
	for _, template := range []message.Template{message.BUFR309052, message.BUFR309053, message.BUFR309055, message.BUFR309056, message.BUFR309057} {
		m := encode(t, o, message.Options{Template: template, Every: 2})
		raw := read(t, m.Bytes)[0]
		if raw.Len() != m.Levels {
			t.Errorf("%s: %d levels, %d put in", template, raw.Len(), m.Levels)
		}
		for i := 1; i < raw.Len(); i++ {
			if raw.Time[i] <= raw.Time[i-1] {
				t.Fatalf("%s: time of row %d does not rise", template, i)
			}
		}
		if template == message.BUFR309057 {
			r := raw.Record
			if r.Site.WMONumber != "06601" || r.Site.WIGOS != "0-20000-0-06601" || r.Site.Kind != "fixed" || r.Radiosonde.Serial != o.Record.Radiosonde.Serial || r.Balloon.Gas != o.Record.Balloon.Gas ||
				r.Balloon.Mass != o.Record.Balloon.Mass || r.Balloon.String != o.Record.Balloon.String || r.Surface.CloudCode != "52531" || r.Surface.SeaTemperature != 277.65 || r.Balloon.GasAmount != 0.215 || !r.Release.Nominal.Equal(o.Record.Release.Nominal) {
				t.Errorf("launch record read back: %+v", r)
			}
			if d := r.Release.Declared.Sub(o.Final.Epoch); d.Abs() > 500*time.Millisecond {
				t.Errorf("launch is off by %v", d)
			}
			final := o.Final
			p := final.Get(sounding.Pressure)
			checked := 0
			for i := 0; i < raw.Len(); i += 20 {
				if x := raw.Values(sounding.Pressure)[i]; x == math.Round(x) {
					continue // a standard level stands between two rows of the flight
				}
				for row := final.Events.Ascent().From; row < final.Events.Ascent().To; row++ {
					if math.Abs(p.Values[row]-raw.Values(sounding.Pressure)[i]) > 0.00501 || math.Abs(raw.Epoch.Sub(final.Epoch).Seconds()+raw.Time[i]-final.Time[row]) > 0.8 {
						continue
					}
					for _, c := range []struct {
						v    sounding.Variable
						step float64
					}{{sounding.Temperature, 0.01}, {sounding.DewPoint, 0.01}, {sounding.Latitude, 1.2e-5}, {sounding.Longitude, 1.2e-5}} {
						if s := final.Get(c.v); !near(raw.Values(c.v)[i], s.Values[row], c.step) && s.Flags[row].String() != "bad" {
							t.Errorf("row %d: %v is %v, the flight has %v", i, c.v, raw.Values(c.v)[i], s.Values[row])
						}
					}
					checked++
					break
				}
			}
			if checked < 20 {
				t.Errorf("only %d rows compared", checked)
			}
		}
		msg, err := bufr.NewBytesReader(m.Bytes).Next()
		if err != nil {
			t.Fatal(err)
		}
		d, err := bufr.Decode(msg)
		if err != nil {
			t.Fatal(err)
		}
		if again, err := bufr.Reencode(d, false); err != nil || !bytes.Equal(again, m.Bytes) {
			t.Errorf("%s: written again from what was decoded, the bits differ (%v)", template, err)
		}
	}
}

// The report up to 100 hPa ends there, the correction number stands in section 1 and in
// the heading, and the file's name follows the general rules.
func TestPartialReportCorrectionHeading(t *testing.T) {
	o := flown(t)
	h := &temp.Heading{Designator: "IUSX01", Centre: "LAKE"}
	part := encode(t, o, message.Options{Template: message.BUFR309057, Upto: 100, Every: 2, Heading: h, Created: time.Date(2031, 6, 4, 1, 2, 3, 0, time.UTC)})
	full := encode(t, o, message.Options{Template: message.BUFR309057, Every: 2, Correction: 2, Heading: h})
	raws := read(t, append(append([]byte(nil), part.Bytes...), full.Bytes...))
	if len(raws) != 1 || raws[0].Len() != full.Levels {
		t.Fatalf("%d soundings from the report up to 100 hPa and the full one", len(raws))
	}
	p := read(t, part.Bytes)[0].Values(sounding.Pressure)
	if last := p[len(p)-1]; last != 100 {
		t.Errorf("the report up to 100 hPa ends at %v hPa", last)
	}
	n := o.Record.Release.Nominal
	want := fmt.Sprintf("IUSX01 LAKE %s", n.Format("021504"))
	if !bytes.Contains(part.Bytes, []byte(want+"\r\r\nBUFR")) || !bytes.Contains(full.Bytes, []byte(want+" CCB\r\r\nBUFR")) {
		t.Errorf("headings: %q, %q", part.Bytes[:40], full.Bytes[:40])
	}
	name, err := temp.ParseFileName(part.FileName)
	if err != nil || name.Heading.Designator != "IUSX01" || name.Type != "bufr" || name.Time.Format("20060102150405") != "20310604010203" {
		t.Errorf("file name %s: %+v, %v", part.FileName, name, err)
	}
	msg, err := bufr.NewBytesReader(full.Bytes).Next()
	if err != nil || msg.Update != 2 || msg.Hour != n.Hour() || msg.Day != n.Day() {
		t.Errorf("update %d, hour %d, %v", msg.Update, msg.Hour, err)
	}
}

// A value that the coding cannot hold is missing and named; the rest is there.
func TestValuesThatDoNotFit(t *testing.T) {
	o := flown(t)
	f := *o.Final
	record := o.Record.Clone()
	record.Radiosonde.Serial = strings.Repeat("9", 21)
	record.Balloon.Mass = 9 // 0 02 082 holds 4.094 kg
	record.Operator = "Ünicode"
	record.Site.WMONumber = "6601"
	f.Record = record
	set := levels.Set{Levels: append([]levels.Level(nil), o.Levels.Levels...)}
	set.Levels[3].Speed = 500 // 0 11 002 holds 409.4 m/s
	set.Levels[4].Time = 30000
	m, err := message.Encode(&f, set, message.Options{Template: message.BUFR309057})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"radiosonde serial number", "weight of balloon is 9", "observer identification", "\"6601\" is not five figures", "wind speed of 1 of", "displacement of 1 of"} {
		found := false
		for _, g := range m.Findings {
			found = found || strings.Contains(g.Sentence, want)
		}
		if !found {
			t.Errorf("no finding says %q: %v", want, m.Findings)
		}
	}
	d := dump(t, m.Bytes)
	if !math.IsNaN(d["windSpeed"][3]) || !math.IsNaN(d["timePeriod"][4]) || math.IsNaN(d["windSpeed"][4]) || !math.IsNaN(d["blockNumber"][0]) {
		t.Error("what does not fit is not missing, or more than it is")
	}
	if _, err := message.Encode(&sounding.Final{}, levels.Set{}, message.Options{Template: message.BUFR309057}); err == nil {
		t.Error("a flight without release is written")
	}
	for _, bad := range []message.Options{{Template: "309099"}, {Template: message.TEMP, Upto: -1}, {Template: message.BUFR309052, Every: math.NaN()}, {Template: message.BUFR309052, Correction: 300}} {
		if _, err := message.Encode(o.Final, o.Levels, bad); err == nil {
			t.Errorf("%+v is accepted", bad)
		}
	}
}

// The bits of 0 08 042 (WMO code and flag tables, STANDARDS A.5).
func TestSignificanceBits(t *testing.T) {
	for kind, want := range map[levels.Kind]int{
		levels.Surface: 131072, levels.Standard: 65536, levels.Tropopause: 32768, levels.MaximumWind: 16384, levels.SignificantTemperature: 8192, levels.SignificantHumidity: 4096,
		levels.SignificantWind: 2048, levels.MissingTemperatureBegins: 1024, levels.MissingTemperatureEnds: 512, levels.MissingHumidityBegins: 256, levels.MissingHumidityEnds: 128,
		levels.MissingWindBegins: 64, levels.MissingWindEnds: 32, levels.TopOfWind: 16, levels.Freezing: 4, levels.Top: 0, levels.Surface | levels.SignificantWind: 131072 + 2048,
	} {
		if got := message.SignificanceBits(kind); got != want {
			t.Errorf("%v: %d, want %d", kind.Words(), got, want)
		}
	}
}

// Sub-categories of common code table C-13: TEMP 4, SHIP 5, MOBIL 6, dropsonde 7, descents
// 14 to 16.
func TestSubCategories(t *testing.T) {
	for _, c := range []struct {
		kind     string
		template message.Template
		want     int
	}{{"fixed", message.BUFR309057, 4}, {"ship", message.BUFR309052, 5}, {"mobile", message.BUFR309057, 6}, {"", message.BUFR309052, 4}, {"fixed", message.BUFR309053, 7},
		{"fixed", message.BUFR309056, 14}, {"ship", message.BUFR309056, 15}, {"mobile", message.BUFR309056, 16}} {
		o := withSite(t, func(s *sounding.Site) {
			s.Kind = c.kind
			if c.kind == "ship" || c.kind == "mobile" {
				s.CallSign, s.WMONumber = "LAKE1", ""
			}
		})
		b := encode(t, o, message.Options{Template: c.template}).Bytes
		m, err := bufr.NewBytesReader(b).Next()
		if err != nil || m.SubCategory != c.want {
			t.Errorf("%q as %s: sub-category %d, want %d (%v)", c.kind, c.template, m.SubCategory, c.want, err)
		}
		r := read(t, b)[0].Record
		if c.kind != "" && c.template != message.BUFR309053 && r.Site.Kind != c.kind {
			t.Errorf("%q as %s is read back as %q", c.kind, c.template, r.Site.Kind)
		}
		if call := r.Site.CallSign; (c.kind == "ship" || c.kind == "mobile") && call != "LAKE1" {
			t.Errorf("%q as %s: call sign %q", c.kind, c.template, call)
		}
	}
}
