package suggest

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// openFlights runs the path on the flights of an open archive (../shared/data/arm).
func openFlights(t *testing.T) map[string]*workbench.Outcome {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*.cdf"))
	if err != nil || len(files) == 0 {
		t.Skip("no flights in the folder")
	}
	all := map[string]*workbench.Outcome{}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		out, err := workbench.Check([]workbench.File{{Name: filepath.Base(name), Bytes: b}}, workbench.Request{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		all[filepath.Base(name)] = out[0]
	}
	return all
}

// Real flights come without a launch record of ours: what they hold is compared with
// itself. Few may be doubted, and every decision must be one that can be stored.
func TestOpenFlights(t *testing.T) {
	doubted := 0
	all := openFlights(t)
	for name, o := range all {
		list := ForQuick(o)
		if len(list) > 0 {
			doubted++
		}
		for _, s := range list {
			t.Logf("%s: %s %s gain %.1f: %s", name, s.Name, s.Strength, s.Gain, s.Sentence)
			valid(t, s)
		}
	}
	if doubted*5 > len(all) {
		t.Errorf("%d of %d open flights have a suggestion: want at most one in five", doubted, len(all))
	}
}

// recordOf is the launch record an operator would have written for a flight: its first
// values.
func recordOf(o *workbench.Outcome) *sounding.LaunchRecord {
	f := factsOf(o)
	r := sounding.NewLaunchRecord()
	first := func(v sounding.Variable, decimals int) sounding.Number {
		return sounding.Number(round(f.rest(v), decimals))
	}
	r.Site.Name = "open"
	r.Site.Latitude, r.Site.Longitude = first(sounding.Latitude, 4), first(sounding.Longitude, 4)
	r.Site.Height = first(sounding.HeightMSL, 1)
	r.Site.Barometer = r.Site.Height
	r.Surface.Pressure, r.Surface.Temperature = first(sounding.Pressure, 1), sounding.Number(round(f.rest(sounding.Temperature)-zeroCelsius, 1)+zeroCelsius)
	r.Surface.Humidity = first(sounding.Humidity, 0)
	r.Release.Declared = f.release.Round(time.Second)
	r.Surface.Time = f.release.Add(-5 * time.Minute)
	r.GroundCheck.Time = f.release.Add(-30 * time.Minute)
	r.GroundCheck.ReferencePressure = r.Surface.Pressure
	return r
}

// Records made for real flights and then spoilt: the slip is named first and its
// decision brings the right value back.
func TestSlipsOnOpenFlights(t *testing.T) {
	named, tried := 0, 0
	for name, o := range openFlights(t) {
		if f := factsOf(o); f == nil || !f.final.Events.Release.Found || math.IsNaN(f.rest(sounding.Pressure)) {
			continue
		}
		want := recordOf(o)
		known := map[string]bool{}
		for _, s := range ForQuick(o) {
			known[s.Name] = true
		}
		in := o.Inputs
		in.Record = want
		clean, err := workbench.Run(in)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range ForQuick(clean) {
			if !known[s.Name] {
				t.Errorf("%s with its right record: %s: %s", name, s.Name, s.Sentence)
			}
		}
		for _, slip := range slips {
			if field, _ := sounding.FieldByPath(slip.field); slip.field == "surface.wind_speed_m_s" || field.Number != nil && !field.Number(want).Set() {
				continue // the first samples of this flight do not give it
			}
			r := want.Clone()
			if !slip.do(r) {
				continue
			}
			in.Record = r
			spoilt, err := workbench.Run(in)
			if err != nil {
				t.Fatal(err)
			}
			tried++
			ok := false
			var list []Suggestion
			for _, s := range ForQuick(spoilt) {
				if !known[s.Name] {
					list = append(list, s)
				}
			}
			if len(list) > 0 {
				for _, d := range list[0].Decisions {
					if d.Field == slip.field {
						fixed := r.Clone()
						if err := setField(fixed, d); err != nil {
							t.Fatal(err)
						}
						field, _ := sounding.FieldByPath(d.Field)
						if field.Instant != nil {
							ok = math.Abs(field.Instant(fixed).Sub(*field.Instant(want)).Seconds()) <= slip.near
						} else {
							ok = math.Abs(field.Number(fixed).Value()-field.Number(want).Value()) <= slip.near
						}
					}
				}
			}
			if ok {
				named++
			} else {
				t.Logf("%s, %s: got %v", name, slip.name, brief(list))
			}
		}
	}
	if tried == 0 {
		t.Skip("no flight with a release and a pressure")
	}
	t.Logf("%d of %d slips named first with the right value", named, tried)
	if named*10 < tried*9 {
		t.Errorf("%d of %d slips named first with the right value: want nine in ten", named, tried)
	}
}

func brief(list []Suggestion) []string {
	var out []string
	for _, s := range list {
		out = append(out, s.Name+" "+string(s.Strength)+": "+s.Sentence)
	}
	return out
}
