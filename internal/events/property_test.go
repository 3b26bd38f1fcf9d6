package events

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

func TestRulings(t *testing.T) {
	f := usual()
	c := f.columns(3)
	release, burst := epoch.Add(320*time.Second), epoch.Add(4000*time.Second)
	e, list := Find(c, epoch, nil, Rulings{Release: &release, Burst: &burst}, Default())
	covered(t, &e, c.Len())
	if e.Release.Method != "decision" || !e.Release.UTC.Equal(release) || e.Burst.Method != "decision" || !e.Burst.UTC.Equal(burst) || e.End != sounding.EndBurst {
		t.Errorf("release %v by %s, burst %v by %s, end %s", e.Release.UTC, e.Release.Method, e.Burst.UTC, e.Burst.Method, e.End)
	}
	if !has(list, quality.ReleaseTime, sounding.Note, "found by height and pressure at 23:05:00") || !has(list, quality.Burst, sounding.Note, "found in height") {
		t.Errorf("the found instants do not stand in the findings:\n%s", sentences(list))
	}
	if e.Ascent().To > e.Burst.Row+1 || e.Ascent().From != e.Release.Row {
		t.Errorf("ascent %v of release row %d and burst row %d", e.Ascent(), e.Release.Row, e.Burst.Row)
	}
}

func TestEnds(t *testing.T) {
	f := usual()
	f.burst = 0
	f.after = 3600
	c := f.columns(4)
	e, list := Find(c, epoch, nil, Rulings{}, Default())
	if e.End != sounding.EndDataLost || e.Burst.Found || !has(list, quality.Burst, sounding.Note, "burst not seen") {
		t.Errorf("cut off at 18 km: end %q\n%s", e.End, sentences(list))
	}
	f.after = 1200
	if _, list = Find(f.columns(4), epoch, nil, Rulings{}, Default()); !has(list, quality.Burst, sounding.Questionable, "below 100 hPa") {
		t.Errorf("cut off at 6 km:\n%s", sentences(list))
	}
	// It floats at the end.
	z := c.Values(sounding.HeightMSL)
	p := c.Values(sounding.Pressure)
	for i, at := range c.Time {
		if at > 3000 {
			z[i], p[i] = f.site+13500, pressureAt(f.site+13500)
		}
	}
	e, list = Find(c, epoch, nil, Rulings{}, Default())
	covered(t, &e, c.Len())
	if e.End != sounding.EndFloat || !has(list, quality.Burst, sounding.Questionable, "floats") {
		t.Errorf("float: end %q\n%s", e.End, sentences(list))
	}
	floated := false
	for _, p := range e.Phases {
		floated = floated || p.Phase == sounding.Floating && p.Len() > 500
	}
	if !floated {
		t.Errorf("phases %v hold no float", e.Phases)
	}
	// Landed and at rest.
	f = usual()
	f.after = 1600
	c = f.columns(6)
	if e, _ = Find(c, epoch, nil, Rulings{}, Default()); !e.Landing.Found || math.Abs(e.Landing.Time.Value()-(f.release+f.burst/f.climb+f.burst/f.fall)) > 10 {
		t.Errorf("landing %v at %v", e.Landing.Found, e.Landing.Time)
	}
}

func TestTemporaryDescent(t *testing.T) {
	f := usual()
	c := f.columns(8)
	z, p := c.Values(sounding.HeightMSL), c.Values(sounding.Pressure)
	for i, at := range c.Time {
		if at > 2000 {
			sunk := 7 * min(at-2000, 120) // 2 m/s down for two minutes
			z[i] -= sunk
			p[i] += pressureAt(z[i]) - pressureAt(z[i]+sunk)
		}
	}
	e, _ := Find(c, epoch, nil, Rulings{}, Default())
	covered(t, &e, c.Len())
	for _, x := range e.Phases {
		if x.Phase == sounding.Floating {
			if a, b := c.Time[x.From], c.Time[x.To-1]; math.Abs(a-2000) > 20 || math.Abs(b-2120) > 20 {
				t.Errorf("sank from 2000 to 2120 s, found %g to %g", a, b)
			}
			return
		}
	}
	t.Errorf("no temporary descent in %v", e.Phases)
}

// Missing values, gaps and wild values leave release and burst where they are.
func TestRiddled(t *testing.T) {
	f := usual()
	for seed := uint64(1); seed <= 5; seed++ {
		c := f.columns(seed)
		z, p := c.Values(sounding.HeightMSL), c.Values(sounding.Pressure)
		for i := range z {
			switch {
			case i%3 == int(seed)%3:
				z[i] = math.NaN()
			case i%4 == 1:
				p[i] = math.NaN()
			case i%97 == 0:
				z[i] = 99999
			case i%89 == 0:
				p[i] = 3000
			case i > 1000 && i < 1200:
				z[i], p[i] = math.NaN(), math.NaN()
			}
		}
		e, list := Find(c, epoch, nil, Rulings{}, Default())
		covered(t, &e, c.Len())
		if d := e.Release.Time.Value() - f.release; !(math.Abs(d) < 1.6) {
			t.Errorf("seed %d: release off by %.2f s\n%s", seed, d, sentences(list))
		}
		if d := e.Burst.Time.Value() - (f.release + f.burst/f.climb); !(math.Abs(d) < 6) {
			t.Errorf("seed %d: burst off by %.2f s\n%s", seed, d, sentences(list))
		}
	}
}

func TestNothingToGoBy(t *testing.T) {
	f := usual()
	c := without(without(f.columns(1), sounding.HeightMSL), sounding.Pressure)
	e, list := Find(c, epoch, nil, Rulings{}, Default())
	if e.Release.Found || e.End != sounding.EndNotAFlight || !has(list, quality.ReleaseTime, sounding.Bad, "neither height nor pressure") {
		t.Errorf("%+v\n%s", e.Release, sentences(list))
	}
	covered(t, &e, c.Len())
	r := sounding.NewLaunchRecord()
	r.Release.Declared = epoch.Add(300 * time.Second)
	if e, _ = Find(c, epoch, r, Rulings{}, Default()); !e.Release.Found || e.Release.Method != "declared" {
		t.Errorf("declared: %+v", e.Release)
	}
	for n := range 4 {
		short := rowsOf(f.columns(1), func(i int) bool { return i < n })
		e, _ := Find(short, epoch, nil, Rulings{}, Default())
		if e.Release.Found {
			t.Errorf("a release in %d rows", n)
		}
		covered(t, &e, n)
	}
}

func TestAnyColumns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := usual()
		f.interval = rapid.SampledFrom([]float64{1, 5, 20}).Draw(t, "interval")
		f.before = rapid.SampledFrom([]float64{0, 60, 300}).Draw(t, "before")
		f.burst = rapid.SampledFrom([]float64{0, 50, 3000}).Draw(t, "burst")
		f.after = rapid.SampledFrom([]float64{0, 100, 1000}).Draw(t, "after")
		c := f.columns(rapid.Uint64Range(1, 5).Draw(t, "seed"))
		wild := rapid.SampledFrom([]float64{math.NaN(), 0, -1e9, 1e9, 500, 1013, 99999})
		for k := range c.Series {
			for range rapid.IntRange(0, 8).Draw(t, "spoilt") {
				from := rapid.IntRange(0, c.Len()).Draw(t, "from")
				x := wild.Draw(t, "value")
				for i := from; i < min(c.Len(), from+rapid.SampledFrom([]int{1, 3, 30, 1000}).Draw(t, "length")); i++ {
					c.Series[k].Values[i] = x
				}
			}
		}
		for range rapid.IntRange(0, 5).Draw(t, "times") {
			if c.Len() > 0 {
				c.Time[rapid.IntRange(0, c.Len()-1).Draw(t, "row")] = rapid.SampledFrom([]float64{-1e7, 0, 300, 1e7}).Draw(t, "time")
			}
		}
		before := slices.Clone(c.Time)
		var rulings Rulings
		if rapid.Bool().Draw(t, "ruled") {
			at := epoch.Add(time.Duration(rapid.IntRange(-1000, 5000).Draw(t, "at")) * time.Second)
			rulings.Release = &at
		}
		if rapid.Bool().Draw(t, "burst ruled") {
			at := epoch.Add(time.Duration(rapid.IntRange(-1000, 5000).Draw(t, "at")) * time.Second)
			rulings.Burst = &at
		}
		r := sounding.NewLaunchRecord()
		r.Release.Declared = epoch.Add(310 * time.Second)
		r.Site.Height = 400
		e, list := Find(c, epoch, r, rulings, Default())
		at := 0
		for _, p := range e.Phases {
			if p.From != at || p.To <= p.From {
				t.Fatalf("phases %v", e.Phases)
			}
			at = p.To
		}
		if at != c.Len() {
			t.Fatalf("phases %v of %d rows", e.Phases, c.Len())
		}
		for _, x := range []sounding.Event{e.Release, e.Burst, e.Top, e.Landing} {
			if x.Found && (x.Row < 0 || c.Len() > 0 && x.Row >= c.Len() || math.IsNaN(x.Time.Value()) || x.UTC.IsZero()) {
				t.Fatalf("%+v of %d rows", x, c.Len())
			}
		}
		for _, x := range list {
			if x.Sentence == "" || x.ID == "" || strings.Contains(x.Sentence, "NaN") {
				t.Fatalf("%+v", x)
			}
		}
		if !slices.Equal(before, c.Time) {
			t.Fatal("times were changed")
		}
	})
}

func TestSettings(t *testing.T) {
	if err := Default().Validate(); err != nil {
		t.Error(err)
	}
	if _, err := Read("mine.toml", []byte("fall_m = -3\n")); err == nil || !strings.Contains(err.Error(), "fall_m") {
		t.Errorf("a negative fall: %v", err)
	}
	if _, err := Read("mine.toml", []byte("fal_m = 3\n")); err == nil || !strings.Contains(err.Error(), "line 1") {
		t.Errorf("unknown key: %v", err)
	}
}

func BenchmarkFind(b *testing.B) {
	f := usual()
	c := f.columns(1)
	set := Default()
	b.ReportMetric(float64(c.Len()), "rows")
	b.ReportAllocs()
	for b.Loop() {
		Find(c, epoch, nil, Rulings{}, set)
	}
}
