package prelaunch

import (
	"math"
	"strings"
	"testing"
	"time"

	_ "time/tzdata"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func utc(text string) time.Time {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		panic(err)
	}
	return t
}

// The published window: as near as possible to H − 30 min and inside H − 45 min … H
// (STANDARDS E.5, an operations-plan extract that cites the international agreement).
func TestReleaseWindow(t *testing.T) {
	s := NewSlot(utc("2026-06-04T00:00:00Z"), 46, 6, zone(t, "Europe/Zurich"), Default())
	if !s.Earliest.Equal(utc("2026-06-03T23:15:00Z")) || !s.Best.Equal(utc("2026-06-03T23:30:00Z")) || !s.Latest.Equal(utc("2026-06-04T00:00:00Z")) || s.Extra {
		t.Errorf("%+v", s)
	}
	if s.LocalBest != "Thu 2026-06-04 01:30 +02:00" {
		t.Errorf("local time %q", s.LocalBest)
	}
	for at, want := range map[string]string{"2026-06-03T23:14:59Z": "earlier", "2026-06-03T23:15:00Z": "within", "2026-06-04T00:00:00Z": "within", "2026-06-04T00:00:01Z": "later"} {
		if r := s.Judge(utc(at)); !strings.Contains(r.Text, want) {
			t.Errorf("%s: %s", at, r.Text)
		}
	}
	if x := NewSlot(utc("2026-06-04T15:00:00Z"), 46, 6, time.UTC, Default()); !x.Extra || len(x.Remarks) != 1 {
		t.Errorf("15 UTC is an extra release: %+v", x)
	}
	// The local day before: west of Greenwich.
	if x := NewSlot(utc("2026-06-04T00:00:00Z"), 15, -90, zone(t, "America/Guatemala"), Default()); len(x.Remarks) != 1 || !strings.Contains(x.Remarks[0].Text, "Wednesday 2026-06-03") {
		t.Errorf("%+v", x.Remarks)
	}
}

func TestSlots(t *testing.T) {
	got := Slots(utc("2026-03-28T20:00:00Z"), utc("2026-03-29T20:00:00Z"), []int{0, 12}, []time.Time{utc("2026-03-29T15:00:00Z"), utc("2026-03-29T12:00:00Z")}, 46, 6, zone(t, "Europe/Zurich"), Default())
	var hours []string
	for _, s := range got {
		hours = append(hours, s.Nominal.Format("02T15"))
	}
	if strings.Join(hours, " ") != "29T00 29T12 29T15" {
		t.Errorf("%v", hours)
	}
	// Clocks change at 01 UTC that morning: the slot says so.
	if !strings.Contains(got[0].Remarks[0].Text, "go forward at 2026-03-29 01:00 UTC: local times from 2026-03-29 02:00 to 2026-03-29 03:00 do not exist") {
		t.Errorf("%+v", got[0].Remarks)
	}
	if s := Slots(utc("2026-03-28T00:00:00Z"), utc("2026-03-29T00:00:00Z"), nil, nil, 46, 6, time.UTC, Default()); len(s) != 4 {
		t.Errorf("%d slots a day", len(s))
	}
}

// Changes of clocks as the IANA zone database has them.
func TestLocalTimesThatDoNotExistOrComeTwice(t *testing.T) {
	for _, c := range []struct{ zone, local, want string }{
		{"Europe/Zurich", "2026-06-04 01:30", "2026-06-03T23:30:00Z"},
		{"Europe/Zurich", "2026-03-29 02:30", "does not exist"},
		{"Europe/Zurich", "2026-03-29 03:00", "2026-03-29T01:00:00Z"},
		{"Europe/Zurich", "2026-10-25 02:30", "2026-10-25 00:30 or 2026-10-25 01:30 UTC"},
		{"Europe/Zurich", "2026-10-25 03:00", "2026-10-25T02:00:00Z"},
		{"America/New_York", "2026-11-01 01:15", "2026-11-01 05:15 or 2026-11-01 06:15 UTC"},
		{"Australia/Lord_Howe", "2026-10-04 02:15", "does not exist"}, // half an hour forward
		{"Australia/Lord_Howe", "2026-04-05 01:45", "comes twice"},
		{"Pacific/Apia", "2011-12-30 12:00", "does not exist"}, // a whole day left out
		{"Pacific/Apia", "2011-12-31 12:00", "2011-12-30T22:00:00Z"},
		{"Asia/Kathmandu", "2026-01-01 05:45", "2026-01-01T00:00:00Z"},
		{"UTC", "2026-01-01 05:45:30", "2026-01-01T05:45:30Z"},
		{"UTC", "1.1.2026", "want 2031-06-03"},
	} {
		got, err := Local(c.local, zone(t, c.zone))
		text := got.Format(time.RFC3339)
		if err != nil {
			text = err.Error()
		}
		if !strings.Contains(text, c.want) {
			t.Errorf("%s in %s: %s, want %q", c.local, c.zone, text, c.want)
		}
	}
}

func TestSunAlongTheFlight(t *testing.T) {
	// Sunrise at the equator is near 06 UTC at the Greenwich meridian: a release an hour
	// before it passes into sunlight on the way up, when the Sun stands above the dip.
	release := utc("2026-03-20T05:35:00Z")
	track := []Point{{0, Place{0, 0}, 0, 5, Ascent}, {1000, Place{0, 0}, 5000, 5, Ascent}, {2000, Place{0, 0}, 10000, 5, Ascent}, {6000, Place{0, 0}, 30000, 5, Ascent}, {6100, Place{0, 0}, 28000, -30, Descent}, {8000, Place{0, 0}, 0, -5, Descent}}
	suns, said := SunAlong(release, track)
	words := []string{}
	for _, s := range suns {
		words = append(words, s.Where)
	}
	if strings.Join(words, " ") != "release 5 km 10 km burst landing" {
		t.Errorf("%v", words)
	}
	if suns[0].Visible || !suns[3].Visible || len(said) != 1 || !strings.Contains(said[0].Text, "out of night into sunlight") {
		t.Errorf("%+v %+v", suns, said)
	}
}

func TestBearings(t *testing.T) {
	for b, want := range map[float64]string{0: "N", 360: "N", 11: "N", 12: "NNE", 90: "E", 225: "SW", 349: "N", 348: "NNW", -90: "W"} {
		if got := CompassPoint(b); got != want {
			t.Errorf("%g°: %s, want %s", b, got, want)
		}
	}
	for _, c := range [][3]float64{{350, 12, 2}, {5, -10, 355}, {358, 2, 360}, {0, 0, 360}} {
		if got := TrueBearing(c[0], c[1]); math.Abs(got-c[2]) > 1e-9 {
			t.Errorf("compass %g, declination %g: %g, want %g", c[0], c[1], got, c[2])
		}
	}
	// GEO-01 of authorities: from −41.32, 174.81 to 40.96, −5.50 is 19,959,679.267 m.
	if d, _ := (Place{40.96, -5.50}).From(Place{-41.32, 174.81}); math.Abs(d-19959679.267) > 0.01 {
		t.Errorf("distance %g", d)
	}
}
