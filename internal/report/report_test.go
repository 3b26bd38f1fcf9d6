package report

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"leadline/internal/flighttest"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

var options = Options{Created: time.Date(2031, 6, 4, 6, 30, 0, 0, time.UTC)}

func outcomeOf(f *sounding.Final) *workbench.Outcome {
	table, _ := flighttest.Products(f)
	return &workbench.Outcome{Final: f, Levels: table, Record: f.Record}
}

func written(t testing.TB, f *sounding.Final) string {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, outcomeOf(f), options); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// flights are the kinds of flight a page has to bear.
func flights() map[string]*sounding.Final {
	whole := flighttest.New(7200)
	bare := flighttest.Without(whole, sounding.Latitude, sounding.Longitude, sounding.HeightMSL, sounding.GeopotentialHeight)
	bare.Record, bare.Sheet = nil, nil
	return map[string]*sounding.Final{
		"whole":       whole,
		"no-humidity": flighttest.Without(whole, sounding.Humidity, sounding.HumidityA, sounding.HumidityB, sounding.DewPoint),
		"no-wind":     flighttest.Without(whole, sounding.WindU, sounding.WindV, sounding.WindSpeed, sounding.WindDirection),
		"no-pressure": flighttest.Without(whole, sounding.Pressure),
		"no-height":   bare,
		"only-wind":   flighttest.Without(whole, sounding.Latitude, sounding.Longitude, sounding.HeightMSL, sounding.GeopotentialHeight, sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.HumidityA, sounding.HumidityB, sounding.DewPoint),
		"no-release":  flighttest.Rows(whole, sounding.Span{From: 0, To: 50}),
		"one-row":     flighttest.Rows(whole, sounding.Span{From: 100, To: 101}),
		"all-bad":     flighttest.AllBad(whole),
		"no-rows":     {Context: sounding.Context{Epoch: flighttest.Release}, FlightName: "empty"},
	}
}

// LEADLINE_PAGES names a folder the pages of all kinds of flight are written to, to be
// looked at.
func TestPages(t *testing.T) {
	dir := os.Getenv("LEADLINE_PAGES")
	for name, f := range flights() {
		page := written(t, f)
		if dir != "" {
			if err := os.WriteFile(filepath.Join(dir, name+".html"), []byte(page), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if len(page) > 700_000 {
			t.Errorf("%s: the page has %d bytes, more than 700 kB", name, len(page))
		}
		for _, bad := range []string{"NaN", "<script", "javascript:", "http://", "https://", "%!", "+Inf", "0001-01-01"} {
			if strings.Contains(page, bad) {
				at := strings.Index(page, bad)
				t.Errorf("%s: the page holds %q: …%s…", name, bad, page[max(0, at-80):min(len(page), at+40)])
			}
		}
		for i, svg := range regexp.MustCompile(`(?s)<svg.*?</svg>`).FindAllString(page, -1) {
			if err := wellFormed(svg); err != nil {
				t.Errorf("%s: picture %d: %v", name, i, err)
			}
		}
	}
}

func wellFormed(s string) error {
	d := xml.NewDecoder(strings.NewReader(s))
	ids := map[string]bool{}
	for {
		token, err := d.Token()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if e, is := token.(xml.StartElement); is {
			for _, a := range e.Attr {
				if a.Name.Local == "id" {
					if ids[a.Value] {
						return fmt.Errorf("identifier %s twice", a.Value)
					}
					ids[a.Value] = true
				}
			}
		}
	}
}

func BenchmarkHTML(b *testing.B) {
	o := outcomeOf(flighttest.New(7200))
	b.ReportAllocs()
	for b.Loop() {
		if err := HTML(io.Discard, o, options); err != nil {
			b.Fatal(err)
		}
	}
}

// Everything that came from a file is text, wherever it stands.
func TestTextsAreEscaped(t *testing.T) {
	const evil = `</title></style></svg><img src=x onerror=alert(1)>"'&`
	f := flighttest.New(400)
	f.FlightName, f.MethodSet, f.Summary = evil, evil, []string{evil}
	f.Verdict = sounding.Verdict{Word: evil, Line: evil, Reasons: []string{evil}}
	f.Record.Site.Name, f.Record.Operator, f.Record.Surface.WeatherNote = evil, evil, evil
	f.Record.Ticks = []sounding.Tick{{Step: evil, Who: evil, Note: evil}, {Step: "sky", Text: evil}}
	for i := range f.Findings {
		f.Findings[i].Sentence, f.Findings[i].Unit, f.Findings[i].Field, f.Findings[i].State = evil, evil, evil, evil
	}
	for i := range f.Steps {
		f.Steps[i].Note, f.Steps[i].Method = evil, evil
		f.Steps[i].Coefficients = []sounding.Coefficient{{Name: evil, Unit: evil, Source: evil, Value: 1}}
	}
	f.Decisions[0].Reason, f.Decisions[0].Who, f.Decisions[0].Revoked = evil, evil, &sounding.Revoked{Reason: evil, Who: evil}
	f.Sources[0].Name, f.Sources[0].Recipe, f.Sheet.Title = evil, evil, evil
	f.Events.Release.Method, f.Events.End = evil, evil
	f.Runs[2].Why = evil
	page := written(t, f)
	if strings.Contains(page, "<img") {
		at := strings.Index(page, "<img")
		t.Errorf("markup got through: …%s…", page[max(0, at-100):at+60])
	}
	if n := strings.Count(page, "&lt;img"); n < 20 {
		t.Errorf("only %d of the texts are shown", n)
	}
}

func TestTicksAndRulingAreOnThePage(t *testing.T) {
	f := flighttest.New(400)
	f.Record.Ticks = []sounding.Tick{{Step: "sky", Text: "aircraft looked and listened for", At: time.Date(2031, 6, 3, 23, 2, 40, 0, time.UTC), Who: "A. Operator", Note: "one at 2 km, waited"}, {Step: "neck", Who: "B. Helper"}}
	f.Record.GroundCheck.Result, f.Record.GroundCheck.Ruling = "reject: humidity sensor B reads -6.1 %", "accept"
	f.Record.GroundCheck.RuledBy, f.Record.GroundCheck.RulingReason = "C. Chief", "last radiosonde of the campaign"
	page := written(t, f)
	for _, want := range []string{"Launch list as ticked", "2031-06-03 23:02:40", "aircraft looked and listened for", "one at 2 km, waited", "neck", "B. Helper",
		"reject: humidity sensor B reads -6.1 %", "C. Chief", "last radiosonde of the campaign"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(written(t, flighttest.New(400)), "as ticked") {
		t.Error("a flight without ticks has a list of them")
	}
}

// What the page must say about a flight.
func TestPageSays(t *testing.T) {
	page := written(t, flighttest.New(7200))
	for _, want := range []string{
		"△", "look", "Released 23:04:11 UTC", "2031-06-03 23:04:12.0", "2031-06-03 23:02:00.0", // verdict, summary, events
		"declared release", "surface pressure is not given", "34 of 52 items are not given", // launch record with findings on its fields
		"humidity sensor B stays at ice saturation", "98.0 %", "95.0 %", "1737–2139", // finding: measured, limit, lines
		"radiation", "−0.91", "sensor A from 8.7", "u_fraction 0.200 (sheet)", // corrections
		"iced in cloud, see sensor A", "observer", // decision
		"the launch record holds no ground check", // check that could not run
		"tropopause", "freezing", "9f86d081884c7d65", "0.1.0&#43;0a1b2c3d", // levels, source, method set
		"withheld by a decision", `class="cross"`, `class="gap"`, `class="dot"`, "-hatch",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for verdict, shape := range map[string]string{sounding.Accept: "○", sounding.Look: "△", sounding.Refuse: "✕"} {
		f := flighttest.New(300)
		f.Verdict.Word = verdict
		if !strings.Contains(written(t, f), `<span class="shape">`+shape+`</span>`+verdict) {
			t.Errorf("%s has no %s", verdict, shape)
		}
	}
}

// Absent things are said to be absent, each in its own words.
func TestAbsences(t *testing.T) {
	all := flights()
	for name, want := range map[string][]string{
		"no-humidity": {"no humidity"}, "no-wind": {"no wind", "No hodograph"}, "no-pressure": {"No thermodynamic diagram: the flight has no usable pressure", "no barometer"},
		"no-height": {"There is no launch record", "height of the pressure in the standard atmosphere", "No track"}, "no-release": {"not found", "time since the first row"},
		"no-rows": {"There is no row to draw", "No check found anything", "Nobody has decided anything"}, "only-wind": {"no temperature", "time since release"},
		"all-bad": {"No thermodynamic diagram", "No track"},
	} {
		page := written(t, all[name])
		for _, w := range want {
			if !strings.Contains(page, w) {
				t.Errorf("%s: the page does not say %q", name, w)
			}
		}
	}
}

// A flight with very many findings still makes a page, and says what it leaves out.
func TestManyFindings(t *testing.T) {
	f := flighttest.New(7200)
	one := f.Findings[3]
	for i := 0; i < 5000; i++ {
		one.Spans = []sounding.Span{{From: 100 + i, To: 101 + i}}
		f.Findings = append(f.Findings, one)
	}
	page := written(t, f)
	if !strings.Contains(page, "4807 more findings stand in the JSON report") {
		t.Error("the page does not say how many findings it leaves out")
	}
	if len(page) > 700_000 {
		t.Errorf("the page has %d bytes", len(page))
	}
}

func TestPageIsDeterministic(t *testing.T) {
	a, b := written(t, flighttest.New(900)), written(t, flighttest.New(900))
	if a != b {
		t.Error("the same flight gives another page")
	}
}

// Barometer against satellite: with a pressure in hydrostatic balance with the heights the
// difference stays within the noise put in (2 m of height, 0.05 hPa), 5 m near the ground.
func TestBarometerMinusSatellite(t *testing.T) {
	p := newProfile(flighttest.New(3000))
	k, why := p.barometerMinusSatellite()
	if k == nil {
		t.Fatal(why)
	}
	seen := 0
	for i, x := range k.X {
		if x == x && p.y[i] < 10 {
			seen++
			if x < -5 || x > 5 {
				t.Fatalf("%g m at %.1f km", x, p.y[i])
			}
		}
	}
	if seen < 1500 {
		t.Errorf("only %d samples", seen)
	}
}

func TestFixed(t *testing.T) {
	for _, x := range []struct {
		v    float64
		d    int
		want string
	}{{-0.004, 2, "0.00"}, {-1.5, 1, "−1.5"}, {0, 0, "0"}, {12.345, 1, "12.3"}} {
		if got := fixed(x.v, x.d); got != x.want {
			t.Errorf("fixed(%g, %d) = %q, want %q", x.v, x.d, got, x.want)
		}
	}
	for s, want := range map[float64]string{0: "0:00", -0.25: "0:00", 61: "1:01", -75.4: "−1:15", 5699.6: "95:00"} {
		if got := elapsed(s); got != want {
			t.Errorf("elapsed(%g) = %q, want %q", s, got, want)
		}
	}
}
