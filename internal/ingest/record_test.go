package ingest

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

const fullRecord = `time_zone = "Europe/Zurich"
operator = "the night shift"

[site]
name = "North pier"
kind = "fixed"
wmo_number = 6610
latitude = "46 12.613 N"
longitude = "6°8.72'E"
height = "1414.7 ft"
barometer_height_m_msl = 433.5

[release]
nominal_utc = 2031-06-04T00:00:00Z
declared = 2031-06-04T01:04:11

[surface]
time = "2031-06-04 00:50"
pressure = "28.60 inHg"
temperature = "63.1 °F"
humidity_pct = 61
wind_speed = "8 kt"
wind_direction_deg = 250

[ground_check]
applied = false

[radiosonde]
sheet = "twin-humidity"
serial = 20311042

[balloon]
mass = "350 g"
gas = "He"
parachute = true
target_ascent_rate = "300 m/min"
`

func TestReadRecord(t *testing.T) {
	r, findings, err := ReadRecord("launch.toml", []byte(fullRecord))
	if err != nil {
		t.Fatal(err)
	}
	if len(findings) != 0 {
		t.Errorf("findings %v", findings)
	}
	near := func(name string, got sounding.Number, want, within float64) {
		if math.Abs(got.Value()-want) > within {
			t.Errorf("%s is %v, want %v", name, got, want)
		}
	}
	near("latitude", r.Site.Latitude, 46+12.613/60, 1e-12)
	near("longitude", r.Site.Longitude, 6+8.72/60, 1e-12)
	near("height", r.Site.Height, 1414.7*0.3048, 1e-9)
	near("pressure", r.Surface.Pressure, 968.507, 1e-3) // 28.60 times 33.86389 hPa (NIST SP 811)
	near("temperature", r.Surface.Temperature, 290.428, 1e-3)
	near("wind", r.Surface.WindSpeed, 4.1156, 1e-4)
	near("mass", r.Balloon.Mass, 0.35, 0)
	near("rate", r.Balloon.TargetAscentRate, 5, 0)
	if r.GroundCheck.ReferencePressure.Set() || r.Surface.DewPoint.Set() {
		t.Error("an item that is not given is set")
	}
	if want := time.Date(2031, 6, 3, 23, 4, 11, 0, time.UTC); !r.Release.Declared.Equal(want) || r.Release.Declared.Location() != time.UTC {
		t.Errorf("declared %v, want %v", r.Release.Declared, want)
	}
	if want := time.Date(2031, 6, 3, 22, 50, 0, 0, time.UTC); !r.Surface.Time.Equal(want) {
		t.Errorf("surface time %v, want %v", r.Surface.Time, want)
	}
	for got, want := range map[string]string{r.Site.WMONumber: "06610", r.Radiosonde.Serial: "20311042", r.Balloon.Gas: "helium", r.Balloon.Parachute: "yes", r.GroundCheck.Applied: "no", r.Operator: "the night shift"} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	for path, line := range map[string]int{"operator": 2, "site.latitude_deg": 8, "surface.pressure_hpa": 19, "balloon.target_ascent_rate_m_s": 36} {
		if r.Lines[path] != line {
			t.Errorf("%s stands in line %d, want %d", path, r.Lines[path], line)
		}
	}
	// What is written is read again as it was.
	again, _, err := ReadRecord("written.toml", WriteRecord(r))
	if err != nil {
		t.Fatal(err)
	}
	for i := range sounding.RecordFields {
		f := &sounding.RecordFields[i]
		switch {
		case f.Number != nil:
			if a, b := *f.Number(r), *f.Number(again); a != b && (a.Set() || b.Set()) {
				t.Errorf("%s: %v written and read as %v", f.Path, a, b)
			}
		case f.Text != nil:
			if a, b := *f.Text(r), *f.Text(again); a != b {
				t.Errorf("%s: %q written and read as %q", f.Path, a, b)
			}
		default:
			if a, b := *f.Instant(r), *f.Instant(again); !a.Equal(b) {
				t.Errorf("%s: %v written and read as %v", f.Path, a, b)
			}
		}
	}
	if string(WriteRecord(r)) != string(WriteRecord(again)) {
		t.Error("written twice, two texts")
	}
}

func TestRecordInJSON(t *testing.T) {
	r, _, err := ReadRecord("launch.json", []byte(`{
  "site": {"name": "Pier \"1\"", "latitude_deg": -12.42, "longitude": "130.89 E", "height_m_msl": null},
  "release": {"declared_utc": "2031-06-03T23:04:11Z"},
  "surface": {"pressure": "1004.3 hPa", "temperature_c": 25.4}
}`))
	if err != nil {
		t.Fatal(err)
	}
	if r.Site.Name != `Pier "1"` || r.Site.Latitude != -12.42 || r.Site.Longitude != 130.89 || r.Site.Height.Set() || math.Abs(r.Surface.Temperature.Value()-298.55) > 1e-9 {
		t.Errorf("%+v", r)
	}
	if r.Lines["surface.pressure_hpa"] != 4 || r.Lines["site.latitude_deg"] != 2 {
		t.Errorf("lines %v", r.Lines)
	}
}

// What is refused, with its line and what to do.
func TestRecordRefusals(t *testing.T) {
	for _, c := range []struct{ name, text, words string }{
		{"unknown key", "[surface]\n\npresure_hpa = 1000", `line 3: unknown key "surface.presure_hpa": nearest is surface.pressure_hpa`},
		{"wrong table", "[site]\nserial = \"x\"", `unknown key "site.serial": nearest is radiosonde.serial`},
		{"no unit", "[surface]\npressure = 1000", "line 2: surface.pressure: 1000 has no unit: write it as a text with its unit, or under the key surface.pressure_hpa"},
		{"unknown unit", "[surface]\npressure = \"1000 psi\"", `unit "psi" is not known for pressure: known are hPa, Pa`},
		{"unit of another quantity", "[surface]\ntemperature = \"15 hPa\"", `unit "hPa" is not known for temperature`},
		{"two readings", "[surface]\npressure = \"1,013 hPa\"", "can be read in two ways"},
		{"no zone", "[release]\ndeclared = 2031-06-03T23:04:11", "has no zone: end it in Z"},
		{"no such zone", "time_zone = \"Lake/North\"", `zone "Lake/North" is not known`},
		{"the computer's zone", "time_zone = \"Local\"", "is not one by name"},
		{"latitude", "[site]\nlatitude_deg = 91", "is no latitude"},
		{"not a number", "[site]\nlatitude_deg = nan", "not a number"},
		{"choice", "[balloon]\ngas = \"methane\"", `"methane": want hydrogen or helium`},
		{"list", "[site]\nname = [1, 2]", "want a text"},
		{"given twice", "[surface]\npressure_hpa = 1000\npressure = \"1001 hPa\"", "surface.pressure_hpa is given already in line 2"},
		{"broken TOML", "[site\nname = 1", "line 1"},
		{"broken JSON", "{\"site\": {\"name\": \"x\"", "ends too early"},
		{"JSON list", "{\"site\": [1]}", "is a list"},
		{"JSON key twice", "{\"operator\": \"a\", \"operator\": \"b\"}", "operator stands twice"},
		{"behind the JSON", "{\"operator\": \"a\"} x", "line 1"},
		{"year", "[release]\ndeclared_utc = 0031-06-03T23:04:11Z", "the year 31 cannot be meant"},
		{"large", strings.Repeat("#", maxRecord+1), "more than a launch record"},
	} {
		r, findings, err := ReadRecord("launch.toml", []byte(c.text))
		if err == nil || r != nil || findings != nil || !strings.Contains(err.Error(), c.words) || !strings.HasPrefix(err.Error(), "launch.toml: ") {
			t.Errorf("%s: %v, want %q", c.name, err, c.words)
		}
	}
	_, _, err := ReadRecord("x", []byte("[surface]\na = 1\nb = 2\nc = 3"))
	if err == nil || strings.Count(err.Error(), "unknown key") != 3 {
		t.Errorf("all wrong items belong into one error: %v", err)
	}
	for name, text := range map[string]string{"empty": "", "blank": " \n", "mark": "\xef\xbb\xbf[site]\nname = \"x\"", "latin-1": "operator = \"R\xe9my\""} {
		if _, _, err := ReadRecord("x", []byte(text)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestLocalInstantsThatCanBeReadTwice(t *testing.T) {
	r, findings, err := ReadRecord("x", []byte("time_zone = \"Europe/Zurich\"\n[release]\ndeclared = 2031-10-26T02:30:00\nnominal_utc = 2031-10-26T00:00:00\n"))
	if err != nil {
		t.Fatal(err)
	}
	if len(findings) != 2 || !strings.Contains(findings[0].Sentence, "stands twice in Europe/Zurich") || findings[0].Field != "release.declared_utc" || !strings.Contains(findings[1].Sentence, "its key says UTC, while time_zone is Europe/Zurich") {
		t.Errorf("findings %v", findings)
	}
	if !r.Release.Nominal.Equal(time.Date(2031, 10, 26, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("nominal %v", r.Release.Nominal)
	}
}

func TestSetField(t *testing.T) {
	r := sounding.NewLaunchRecord()
	for _, c := range []struct{ path, text, err string }{
		{"surface.pressure_hpa", "29.92 inHg", ""},
		{"surface.pressure", "1000", "has no unit"},
		{"surface.pressure_hpa", "none", ""},
		{"site.latitude_deg", "46 12.5 S", ""},
		{"release.declared_utc", "2031-06-03T23:04:11+02:00", ""},
		{"release.declared_utc", "2031-06-03T23:04:11", "has no zone"},
		{"site.kind", "Mobile", ""},
		{"site.kind", "boat", "want fixed or mobile or ship"},
		{"sight.kind", "x", "nearest is site.kind"},
		{"operator", "\x1bshift", ""},
	} {
		err := SetField(r, c.path, c.text)
		if (err == nil) != (c.err == "") || err != nil && !strings.Contains(err.Error(), c.err) {
			t.Errorf("%s = %q: %v, want %q", c.path, c.text, err, c.err)
		}
	}
	if r.Surface.Pressure.Set() || r.Site.Latitude.Value() != -(46+12.5/60) || r.Site.Kind != "mobile" || r.Operator != " shift" || r.Release.Declared.Hour() != 21 {
		t.Errorf("%+v", r)
	}
}

func TestMissingItemsAreReportedNotInvented(t *testing.T) {
	r := sounding.NewLaunchRecord()
	noBarometer, _, err := sounding.ShippedSheet("no-barometer")
	if err != nil {
		t.Fatal(err)
	}
	fields := map[string]sounding.Severity{}
	for _, f := range MissingItems(r, noBarometer) {
		if f.Check != quality.LaunchRecord || f.Field == "" || !strings.Contains(f.Sentence, "is not given: ") || f.Measured.Set() {
			t.Errorf("%+v", f)
		}
		fields[f.Field] = f.Severity
	}
	for path, want := range map[string]sounding.Severity{"site.height_m_msl": sounding.Questionable, "surface.pressure_hpa": sounding.Questionable, "radiosonde.serial": sounding.Note, "surface.humidity_pct": sounding.Note} {
		if got, ok := fields[path]; !ok || got != want {
			t.Errorf("%s: %v %t, want %v", path, got, ok, want)
		}
	}
	full, _, err := ReadRecord("x", []byte(fullRecord))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range MissingItems(full, nil) {
		if f.Field != "balloon.string_m" && f.Field != "ground_check.reference_temperature_k" {
			t.Errorf("unwanted: %s %s", f.Field, f.Sentence)
		}
	}
}

// Mistakes of the trade, one at a time, against a flight from 431.2 m with 20 minutes
// at the ground.
func TestValidateRecord(t *testing.T) {
	raw := source("a", 81600, 86000, 1, 0)
	n := raw.Len()
	lat, lon, rh := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range lat {
		lat[i], lon[i], rh[i] = 46.21022, 6.14533, 61
	}
	raw.Series = append(raw.Series, sounding.Series{Variable: sounding.Latitude, Values: lat}, sounding.Series{Variable: sounding.Longitude, Values: lon}, sounding.Series{Variable: sounding.Humidity, Values: rh})
	// 966.1 hPa and 285.55 K at 400 m, by the standard atmosphere that source() uses.
	right := `[site]
latitude_deg = 46.2102
longitude_deg = 6.1453
height_m_msl = 400
wmo_number = "06610"
wigos = "0-20000-0-06610"
[release]
nominal_utc = 2031-06-04T00:00:00Z
declared_utc = 2031-06-03T23:00:30Z
[surface]
time_utc = 2031-06-03T22:50:00Z
pressure_hpa = 966.0
temperature_k = 285.6
dew_point_k = 278.0
humidity_pct = 61
sea_temperature_k = 284.4
wind_direction_deg = 360
[ground_check]
reference_temperature_k = 296.1
temperature_k = 296.0
reference_pressure_hpa = 966.2
[balloon]
mass_kg = 0.35
gas_amount_kg = 0.42
`
	for _, c := range []struct{ name, old, with, field, words string }{
		{"right", "", "", "", ""},
		{"latitude sign", "46.2102", "-46.2102", "site.latitude_deg", "the sign of the latitude looks wrong; 46.2102, 6.1453 would be 0.0 km away"},
		{"longitude sign", "6.1453", "-6.1453", "site.longitude_deg", "the sign of the longitude looks wrong"},
		{"exchanged", "latitude_deg = 46.2102\nlongitude_deg = 6.1453", "latitude_deg = 6.1453\nlongitude_deg = 46.2102", "site.latitude_deg", "latitude and longitude look exchanged"},
		{"minutes as decimals", "latitude_deg = 46.2102\nlongitude_deg = 6.1453", "latitude_deg = 46.12613\nlongitude_deg = 6.0872", "site.latitude_deg", "degrees and minutes look typed as decimal degrees"},
		{"another place", "46.2102", "46.9", "site.latitude_deg", "another site, or a figure mistyped"},
		{"feet", "height_m_msl = 400", "height_m_msl = 1312", "site.height_m_msl", "it looks typed in feet: 1312 ft are 399.9 m"},
		{"height mistyped", "height_m_msl = 400", "height_m_msl = 460", "site.height_m_msl", "a difference of -60.0 m (limit 30 m)"},
		{"inches of mercury", "966.0", "28.53", "surface.pressure_hpa", "it looks typed in inHg"},
		{"millimetres of mercury", "966.0", "724.6", "surface.pressure_hpa", "it looks typed in mmHg"},
		{"sea level", "966.0", "1013.2", "surface.pressure_hpa", "it looks reduced to sea level"},
		{"pressure mistyped", "966.0", "996.0", "surface.pressure_hpa", "a figure mistyped"},
		{"°C as K", "temperature_k = 285.6", "temperature_k = 12.4", "surface.temperature_k", "it looks like °C typed as K, then 12.4 °C are meant"},
		{"°F as °C", "temperature_k = 285.6", "temperature_k = 327.5", "surface.temperature_k", "it looks like °F typed as °C"},
		{"dew point above", "dew_point_k = 278.0", "dew_point_k = 290.0", "surface.dew_point_k", "lies 4.4 K above the temperature"},
		{"fraction", "humidity_pct = 61", "humidity_pct = 0.61", "surface.humidity_pct", "it looks like a fraction, then 61 % are meant"},
		{"local time", "declared_utc = 2031-06-03T23:00:30Z", "declared_utc = 2031-06-04T01:00:30Z", "release.declared_utc", "2 h different to within 28 s (limit 900 s): it looks like local time typed as UTC"},
		{"local time of half an hour", "declared_utc = 2031-06-03T23:00:30Z\n", "declared_utc = 2031-06-04T02:30:30Z\n", "release.declared_utc", "3.5 h different"},
		{"wrong day", "declared_utc = 2031-06-03T23:00:30Z", "declared_utc = 2031-06-02T23:00:30Z", "release.declared_utc", "the time fits, the date does not"},
		{"old observation", "time_utc = 2031-06-03T22:50:00Z", "time_utc = 2031-06-04T00:50:00Z", "surface.time_utc", "local time typed as UTC"},
		{"wind direction", "= 360", "= 370", "surface.wind_direction_deg", "370 degrees"},
		{"number of the station", `"06610"`, `"6610"`, "site.wmo_number", "has not five figures"},
		{"identifier", `"0-20000-0-06610"`, `"0-20000-06610"`, "site.wigos", "has not the form"},
		{"grams", "0.35", "350", "balloon.mass_kg", "it looks typed in grams: 0.35 kg"},
		{"gas in grams", "0.42", "420", "balloon.gas_amount_kg", "it looks typed in grams: 0.42 kg"},
		{"sea °C", "284.4", "11.3", "surface.sea_temperature_k", "°C typed as K"},
		{"ground check °C", "temperature_k = 296.0", "temperature_k = 22.9", "ground_check.temperature_k", "°C typed as K"},
	} {
		text := right
		if c.old != "" {
			if text = strings.Replace(right, c.old, c.with, 1); text == right {
				t.Fatalf("%s: nothing was replaced", c.name)
			}
		}
		r, _, err := ReadRecord("x.toml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		found := ValidateRecord(r, raw)
		if c.field == "" {
			for _, f := range found {
				t.Errorf("unwanted: %s %s", f.Field, f.Sentence)
			}
			if len(ValidateRecord(r, nil)) != 0 {
				t.Error("findings without a flight")
			}
			continue
		}
		hit := false
		for _, f := range found {
			if f.Field == c.field && strings.Contains(f.Sentence, c.words) {
				hit = true
				if f.Check != quality.LaunchRecord || f.FirstLine == 0 || f.Severity == sounding.Note {
					t.Errorf("%s: %+v", c.name, f)
				}
			} else if f.Field != "release.nominal_utc" && !strings.HasPrefix(f.Field, "surface.time") {
				t.Errorf("%s: unwanted %s %s", c.name, f.Field, f.Sentence)
			}
		}
		if !hit {
			t.Errorf("%s: no finding about %s says %q: %v", c.name, c.field, c.words, found)
		}
	}
}

const tickedRecord = `operator = "A. Operator"

[[tick]]
step = "neck"
text = "neck tied off"
at_utc = 2031-06-03T22:41:00Z
who = "A. Operator"
note = "twice; \"cold\" hands"

[[tick]]
step = "sky"
at_utc = "2031-06-03 23:02:40Z"
who = "B. Helper"
`

func TestTicksTravelWithTheRecord(t *testing.T) {
	r, _, err := ReadRecord("launch.toml", []byte(tickedRecord))
	if err != nil {
		t.Fatal(err)
	}
	want := []sounding.Tick{
		{Step: "neck", Text: "neck tied off", At: time.Date(2031, 6, 3, 22, 41, 0, 0, time.UTC), Who: "A. Operator", Note: `twice; "cold" hands`},
		{Step: "sky", At: time.Date(2031, 6, 3, 23, 2, 40, 0, time.UTC), Who: "B. Helper"},
	}
	if !slices.Equal(r.Ticks, want) {
		t.Fatalf("read as %+v", r.Ticks)
	}
	again, _, err := ReadRecord("written.toml", WriteRecord(r))
	if err != nil || !slices.Equal(again.Ticks, want) {
		t.Errorf("written and read as %+v, %v", again, err)
	}
	if r.Clone().Ticks[0] = (sounding.Tick{}); r.Ticks[0] != want[0] {
		t.Error("a copy shares its ticks")
	}
	inJSON, _, err := ReadRecord("launch.json", []byte(`{"operator": "A. Operator", "tick": [{"step": "neck", "at_utc": "2031-06-03T22:41:00Z", "who": "A. Operator"}], "notes": "after"}`))
	if err != nil || len(inJSON.Ticks) != 1 || inJSON.Ticks[0].Step != "neck" || inJSON.Notes != "after" {
		t.Errorf("JSON read as %+v, %v", inJSON, err)
	}
}

func TestWrongTicksAreNamed(t *testing.T) {
	for text, want := range map[string]string{
		"[[tick]]\nstep = \"a\"\n[[tick]]\nwho = \"B\"\n":          "line 3: tick 2: it names no step",
		"x = 1\n[tick]\nstep = \"a\"\n":                            "two brackets",
		"[[tick]]\nstep = \"a\"\nwhen = \"now\"\n":                 "unknown key \"when\"",
		"[[tick]]\nstep = 4\n":                                     "step: want a text",
		"[[tick]]\nstep = \"a\"\nat_utc = 5\n":                     "at_utc: want an instant",
		"[[tick]]\nstep = \"a\"\nat_utc = \"soon\"\n":              "at_utc",
		"[[tick]]\nstep = \"a\"\nat_utc = 0001-01-01T00:00:00Z\n":  "year 1 cannot",
		`{"tick": {"step": "a"}}`:                                  "two brackets",
		`{"tick": ["a"]}`:                                          "want a table",
		`{"tick": [`:                                               "line 1",
		strings.Repeat("[[tick]]\nstep = \"a\"\n", maxTicks+1):     "1001 ticks",
		"[[tick]]\nstep = \"" + strings.Repeat("a", 5000) + "\"\n": "more than 4000",
	} {
		r, _, err := ReadRecord("launch", []byte(text))
		if err == nil || r != nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.60q: %v, want %q", text, err, want)
		}
	}
}
