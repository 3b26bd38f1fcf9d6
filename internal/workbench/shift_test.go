package workbench_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"leadline/internal/ingest"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// A shift is a difference: of temperature 1.8 °F is 1 K and 1 °C is 1 K by their
// definition (NIST SP 811, 2008, B.9), and 1 inHg is 33.86389 hPa there.
func TestShift(t *testing.T) {
	declared := time.Date(2031, 6, 3, 14, 44, 22, 0, time.UTC)
	for _, c := range []struct{ path, text, given, want string }{
		{"surface.pressure_hpa", "+0.4 hPa", "961.2 hPa", "961.6 hPa"},
		{"surface.pressure_hpa", "-0,4 hPa", "961.2 hPa", "960.8 hPa"},
		{"surface.pressure_hpa", "+1 inHg", "900 hPa", "933.86388 hPa"},
		{"surface.temperature_k", "+1.8 °F", "20 °C", "21 °C"},
		{"surface.temperature_k", "−1 K", "20 °C", "19 °C"},
		{"site.height_m_msl", "-12 m", "1098.5 m", "1086.5 m"},
		{"surface.wind_direction_deg", "+30 deg", "350 deg", "20 deg"},
		{"surface.wind_direction_deg", "-30 deg", "10 deg", "340 deg"},
		{"site.longitude_deg", "+2 deg", "179 deg", "-179 deg"},
		{"release.declared_utc", "+3 h", declared.Format(time.RFC3339), "2031-06-03T17:44:22Z"},
		{"release.declared_utc", "-1 h 30 min", declared.Format(time.RFC3339), "2031-06-03T13:14:22Z"},
	} {
		s, err := workbench.ReadShift(c.path, c.text)
		if err != nil {
			t.Errorf("%s by %s: %v", c.path, c.text, err)
			continue
		}
		r := sounding.NewLaunchRecord()
		if err := ingest.SetField(r, c.path, c.given); err != nil {
			t.Fatal(err)
		}
		got, err := s.Of(r)
		if err != nil {
			t.Errorf("%s by %s: %v", c.path, c.text, err)
			continue
		}
		// What it says must be readable as a correction, and mean what is wanted.
		a, b := sounding.NewLaunchRecord(), sounding.NewLaunchRecord()
		if err := ingest.SetField(a, c.path, got); err != nil {
			t.Errorf("%s by %s: %q cannot be stored: %v", c.path, c.text, got, err)
			continue
		}
		if err := ingest.SetField(b, c.path, c.want); err != nil {
			t.Fatal(err)
		}
		f, _ := sounding.FieldByPath(c.path)
		if f.Instant != nil && !f.Instant(a).Equal(*f.Instant(b)) || f.Number != nil && math.Abs(f.Number(a).Value()-f.Number(b).Value()) > 2e-5 {
			t.Errorf("%s of %s by %s: %s, want %s", c.path, c.given, c.text, got, c.want)
		}
	}
	for _, c := range []struct{ path, text, words string }{
		{"surface.pressure_hpa", "0.4 hPa", "with a sign"},
		{"surface.pressure_hpa", "", "with a sign"},
		{"surface.pressure_hpa", "+0.4", "with its unit"},
		{"surface.pressure_hpa", "+0.4 m", "m"},
		{"surface.pressure_hpa", "+0 hPa", "stays as it is"},
		{"surface.pressure_hpa", "+x hPa", ""},
		{"site.name", "+1 m", "replaced, not shifted"},
		{"site.hight_m_msl", "+1 m", "no item of the launch record"},
		{"release.declared_utc", "+3 furlongs", "hours, minutes or seconds"},
		{"release.declared_utc", "+999999 h", "hours, minutes or seconds"},
	} {
		if s, err := workbench.ReadShift(c.path, c.text); err == nil || !strings.Contains(err.Error(), c.words) {
			t.Errorf("%s by %q: %v, %v, want an error with %q", c.path, c.text, s.Words(), err, c.words)
		}
	}
	for _, path := range []string{"surface.pressure_hpa", "release.declared_utc"} {
		text := map[bool]string{true: "+1 hPa", false: "+1 h"}[path == "surface.pressure_hpa"]
		s, err := workbench.ReadShift(path, text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := s.Of(sounding.NewLaunchRecord()); err == nil || !strings.Contains(err.Error(), "nothing to shift") {
			t.Errorf("%s not given: %q, %v", path, got, err)
		}
	}
}

func FuzzShift(f *testing.F) {
	for _, s := range []string{"+0.4 hPa", "-3 h", "+1.8 °F", "+", "-", "+1e400 hPa", "+1 1 hPa"} {
		f.Add("surface.pressure_hpa", s)
		f.Add("release.declared_utc", s)
		f.Add("surface.temperature_k", s)
	}
	f.Fuzz(func(t *testing.T, path, text string) {
		s, err := workbench.ReadShift(path, text)
		if err != nil {
			return
		}
		r := sounding.NewLaunchRecord()
		if got, err := s.Of(r); err == nil {
			t.Fatalf("%s by %q of nothing: %q", path, text, got)
		}
	})
}
