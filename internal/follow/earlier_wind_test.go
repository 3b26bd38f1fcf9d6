package follow

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"leadline/internal/api/apitest"
	"leadline/internal/prelaunch"
	"leadline/internal/sharedtest"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// How far the wind of an earlier flight is off, and the highest wind below taken to go on,
// in twelve flights six hours apart (ARM, Tropical Warm Pool campaign, 19 to 21 January 2006).
func TestEarlierWindOfRealFlights(t *testing.T) {
	names, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "twp*.cdf"))
	if err != nil || len(names) < 12 {
		t.Fatalf("%d flights, %v", len(names), err)
	}
	var profiles []*prelaunch.Profile
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		out, err := workbench.Check([]workbench.File{{Name: filepath.Base(name), Bytes: b}}, workbench.Request{})
		if err != nil {
			t.Fatal(err)
		}
		p, err := prelaunch.FromFlight(out[0].Final)
		if err != nil {
			t.Fatal(err)
		}
		profiles = append(profiles, p)
	}
	for _, band := range [][2]float64{{1000, 8000}, {8000, 16000}, {16000, 28000}} {
		for _, lag := range []int{6, 12, 24} {
			var earlier, goesOn, n float64
			for i, p := range profiles {
				for _, q := range profiles[i+1:] {
					if int(math.Round(q.Valid.Sub(p.Valid).Hours()/6))*6 != lag {
						continue
					}
					below, belowV := q.WindAt(band[0])
					for z := band[0]; z < band[1] && z < p.Top() && z < q.Top(); z += 250 {
						u1, v1 := p.WindAt(z)
						u2, v2 := q.WindAt(z)
						earlier += ((u1-u2)*(u1-u2) + (v1-v2)*(v1-v2)) / 2
						goesOn += ((below-u2)*(below-u2) + (belowV-v2)*(belowV-v2)) / 2
						n++
					}
				}
			}
			off, other := math.Sqrt(earlier/n), math.Sqrt(goesOn/n)
			stated := (&Earlier{Age: time.Duration(lag) * time.Hour}).doubt()
			t.Logf("%2.0f to %2.0f km, %2d h before: earlier flight off by %.1f m/s a component, stated %.1f; highest wind going on %.1f", band[0]/1000, band[1]/1000, lag, off, stated, other)
			if off > stated || off < stated/2 {
				t.Errorf("%v m, %d h: off by %.1f m/s, stated %.1f", band, lag, off, stated)
			}
			if lag <= 12 && off > other {
				t.Errorf("%v m, %d h: the earlier flight is off by %.1f m/s, more than the highest wind going on, %.1f", band, lag, off, other)
			}
		}
	}
}

func TestEarlierWindIsTheLastOfTheSite(t *testing.T) {
	b, st, err := apitest.Open(t.TempDir(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	if _, err := apitest.Add(t.Context(), b, []apitest.Flight{
		{Site: "north pier", Climate: truth.MidLatitudeSummer, Day: true, Sheet: "twin-humidity", Until: truth.UntilBurst, Interval: 2},
		{Site: "reed bay", Climate: truth.Marine, Day: true, Sheet: "single-humidity", Until: truth.UntilBurst, Interval: 2},
	}); err != nil {
		t.Fatal(err)
	}
	rows, err := b.Rows(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	release := rows[0].Release
	for name, c := range map[string]struct {
		site  string
		after time.Duration
		want  bool
	}{
		"twelve hours": {"North Pier ", 12 * time.Hour, true},
		"two days":     {"north pier", 48 * time.Hour, false},
		"itself":       {"north pier", 0, false},
		"later flight": {"north pier", -6 * time.Hour, false},
		"other site":   {"long reach", 12 * time.Hour, false},
		"no name":      {"", 12 * time.Hour, false},
	} {
		e, err := EarlierWind(t.Context(), b, c.site, release.Add(c.after))
		if err != nil || (e != nil) != c.want {
			t.Errorf("%s: %v, %v", name, e, err)
		}
		if e != nil && (e.Age != c.after || e.Profile.Source != "the last flight of this site, "+rows[0].Name+", 12 h before" || math.Abs(e.doubt()-6.93) > 0.01) {
			t.Errorf("%s: %+v, doubt %.2f", name, e, e.doubt())
		}
	}
}
