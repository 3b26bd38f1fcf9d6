package events

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

var epoch = time.Date(2031, 6, 3, 23, 0, 0, 0, time.UTC)

// flight is a made-up flight with a known answer.
type flight struct {
	interval      float64 // s between rows
	site          float64 // m
	before        float64 // s of rows before release
	release       float64 // s after the first row
	climb         float64 // m/s
	burst         float64 // m above the site; 0: data end while climbing
	fall          float64 // m/s
	after         float64 // s of rows after burst
	noise         float64 // m of height
	pressureNoise float64 // hPa
}

func usual() flight {
	return flight{interval: 1, site: 412, before: 300, release: 300.37, climb: 5, burst: 30000, fall: 30, after: 300, noise: 1.5, pressureNoise: 0.03}
}

// height above the site at time t, m.
func (f flight) height(t float64) float64 {
	if t < f.release {
		return 0
	}
	// The balloon gathers speed with a time constant of 1.8 s.
	x := t - f.release
	up := f.climb * (x - 1.8*(1-math.Exp(-x/1.8)))
	if f.burst > 0 && up > f.burst {
		return max(0, f.burst-f.fall*(x-f.burst/f.climb-1.8))
	}
	return up
}

// pressureAt is hydrostatic pressure in an isothermal atmosphere of 255 K: any
// steady fall with height serves here.
func pressureAt(z float64) float64 { return 1013.25 * math.Exp(-z/7467) }

func (f flight) columns(seed uint64) *sounding.Columns {
	r := rand.New(rand.NewPCG(seed, 1))
	end := f.release + f.after
	if f.burst > 0 {
		end += f.burst / f.climb
	}
	c := &sounding.Columns{}
	var z, p []float64
	for t := f.release - f.before - 0.37; t <= end; t += f.interval {
		h := f.site + f.height(t)
		c.Time = append(c.Time, t)
		c.Line = append(c.Line, int32(len(c.Time)+5))
		z = append(z, h+f.noise*r.NormFloat64())
		p = append(p, pressureAt(h)+f.pressureNoise*r.NormFloat64())
	}
	c.Source = make([]uint8, len(c.Time))
	c.Series = []sounding.Series{{Variable: sounding.HeightMSL, Values: z}, {Variable: sounding.Pressure, Values: p}}
	return c
}

func without(c *sounding.Columns, drop sounding.Variable) *sounding.Columns {
	out := *c
	out.Series = nil
	for _, s := range c.Series {
		if s.Variable != drop {
			out.Series = append(out.Series, s)
		}
	}
	return &out
}

// rowsOf keeps the rows for which keep says so.
func rowsOf(c *sounding.Columns, keep func(i int) bool) *sounding.Columns {
	out := &sounding.Columns{}
	for _, s := range c.Series {
		out.Series = append(out.Series, sounding.Series{Variable: s.Variable})
	}
	for i := range c.Time {
		if !keep(i) {
			continue
		}
		out.Time, out.Line, out.Source = append(out.Time, c.Time[i]), append(out.Line, c.Line[i]), append(out.Source, c.Source[i])
		for k := range c.Series {
			out.Series[k].Values = append(out.Series[k].Values, c.Series[k].Values[i])
		}
	}
	return out
}

func covered(t *testing.T, e *sounding.Events, n int) {
	t.Helper()
	at := 0
	for _, p := range e.Phases {
		if p.From != at || p.To <= p.From {
			t.Fatalf("phases %v do not cover the rows in order", e.Phases)
		}
		at = p.To
	}
	if at != n {
		t.Fatalf("phases %v end at row %d of %d", e.Phases, at, n)
	}
}

func sentences(list []sounding.Finding) string {
	var b strings.Builder
	for _, f := range list {
		b.WriteString(f.Severity.String() + " " + f.Check.String() + ": " + f.Sentence + "\n")
	}
	return b.String()
}

func TestReleaseAndBurst(t *testing.T) {
	for _, interval := range []float64{1, 2, 10} {
		for _, what := range []string{"both", "no pressure", "no height"} {
			for seed := uint64(1); seed <= 10; seed++ {
				f := usual()
				f.interval = interval
				c := f.columns(seed)
				switch what {
				case "no pressure":
					c = without(c, sounding.Pressure)
				case "no height":
					c = without(c, sounding.HeightMSL)
				}
				e, list := Find(c, epoch, nil, Rulings{}, Default())
				covered(t, &e, c.Len())
				if !e.Release.Found || !e.Burst.Found {
					t.Fatalf("%g s, %s: release %v, burst %v\n%s", interval, what, e.Release.Found, e.Burst.Found, sentences(list))
				}
				limit := 1 + 0.15*interval
				if d := e.Release.Time.Value() - f.release; math.Abs(d) > limit {
					t.Errorf("%g s, %s, seed %d: release off by %.2f s ± %.2f", interval, what, seed, d, e.Release.Uncertainty)
				}
				if d := e.Release.Time.Value() - f.release; math.Abs(d) > 4*e.Release.Uncertainty.Value() {
					t.Errorf("%g s, %s, seed %d: release off by %.2f s, more than 4 of its u %.2f", interval, what, seed, d, e.Release.Uncertainty)
				}
				if d := e.Burst.Time.Value() - (f.release + f.burst/f.climb); math.Abs(d) > 1+interval+3*e.Burst.Uncertainty.Value() {
					t.Errorf("%g s, %s: burst off by %.2f s", interval, what, d)
				}
				if e.End != sounding.EndBurst || e.Release.Line != int(c.Line[e.Release.Row]) {
					t.Errorf("%g s, %s: end %q, line %d", interval, what, e.End, e.Release.Line)
				}
				if c.Time[e.Release.Row] < e.Release.Time.Value() || c.Time[e.Release.Row-1] >= e.Release.Time.Value() {
					t.Errorf("release row %d is not the first at or after the instant", e.Release.Row)
				}
				if len(list) != 0 {
					t.Errorf("%g s, %s: a clean flight gives\n%s", interval, what, sentences(list))
				}
			}
		}
	}
}

func has(list []sounding.Finding, check quality.Check, severity sounding.Severity, part string) bool {
	for _, f := range list {
		if f.Check == check && f.Severity == severity && strings.Contains(f.Sentence, part) {
			return true
		}
	}
	return false
}

func TestDeclaredRelease(t *testing.T) {
	f := usual()
	c := f.columns(3)
	for _, x := range []struct {
		early float64 // s by which the declared release is before the true one
		want  string
		sev   sounding.Severity
	}{
		{0.4, "", 0},
		{-12.4, "before the declared", sounding.Note},
		{131.2, "(+131 s)", sounding.Questionable},
		{-61.3, "(-61 s)", sounding.Questionable},
		{-7200, "local time", sounding.Questionable},
	} {
		r := sounding.NewLaunchRecord()
		r.Release.Declared = epoch.Add(time.Duration((f.release - x.early) * 1e9))
		_, list := Find(c, epoch, r, Rulings{}, Default())
		if x.want == "" {
			if len(list) > 0 {
				t.Errorf("early by %g s: %s", x.early, sentences(list))
			}
			continue
		}
		if !has(list, quality.ReleaseTime, x.sev, x.want) {
			t.Errorf("early by %g s: want %v with %q, have\n%s", x.early, x.sev, x.want, sentences(list))
		}
	}
}

// Rows carried about, lifted and lowered, or flown and fallen before the real release.
func TestFalseStarts(t *testing.T) {
	f := usual()
	f.before = 900
	f.release = 1000.37
	for name, shape := range map[string]func(t float64) float64{
		"lift up and down": func(t float64) float64 {
			if t > 400 && t < 430 {
				return 2 * (t - 400)
			}
			if t >= 430 && t < 460 {
				return 60 - 2*(t-430)
			}
			return 0
		},
		"carried to a roof": func(t float64) float64 { return min(max(t-600, 0)*1.6, 38) - 38 },
		"aborted flight":    func(t float64) float64 { return max(0, min(5*(t-300), 1200-6*(t-540))) },
		"heights that settle": func(t float64) float64 {
			return -80 * math.Exp(-max(0, t-100)/20)
		},
	} {
		c := f.columns(5)
		z, p := c.Values(sounding.HeightMSL), c.Values(sounding.Pressure)
		for i, at := range c.Time {
			if at < f.release {
				h := shape(at)
				z[i] += h
				if name != "heights that settle" {
					p[i] += pressureAt(f.site+h) - pressureAt(f.site)
				}
			}
		}
		for _, drop := range []sounding.Variable{sounding.NoVariable, sounding.Pressure, sounding.HeightMSL} {
			e, list := Find(without(c, drop), epoch, nil, Rulings{}, Default())
			if d := e.Release.Time.Value() - f.release; !(math.Abs(d) < 1.5) {
				t.Errorf("%s without %v: release off by %.1f s\n%s", name, drop, d, sentences(list))
			}
		}
	}
}

func TestNoRowsBeforeRelease(t *testing.T) {
	f := usual()
	all := f.columns(7)
	record := sounding.NewLaunchRecord()
	record.Site.Height = sounding.Number(f.site)
	record.Surface.Pressure = sounding.Number(pressureAt(f.site))

	// The first row is the one after release.
	c := rowsOf(all, func(i int) bool { return all.Time[i] > f.release })
	e, list := Find(c, epoch, record, Rulings{}, Default())
	if d := e.Release.Time.Value() - f.release; math.Abs(d) > 2 || e.Release.Row > 1 || len(list) != 0 {
		t.Errorf("rows from release on: off by %.1f s, row %d\n%s", d, e.Release.Row, sentences(list))
	}

	// It starts 90 s, 450 m, up: back to the site's height or pressure.
	c = rowsOf(all, func(i int) bool { return all.Time[i] > f.release+90 })
	for _, drop := range []sounding.Variable{sounding.NoVariable, sounding.Pressure, sounding.HeightMSL} {
		e, list = Find(without(c, drop), epoch, record, Rulings{}, Default())
		if d := e.Release.Time.Value() - f.release; math.Abs(d) > 6 || !has(list, quality.ReleaseTime, sounding.Note, "start in the air") {
			t.Errorf("in the air, without %v: off by %.1f s\n%s", drop, d, sentences(list))
		}
		if e.Release.Row != 0 {
			t.Errorf("in the air: release row %d", e.Release.Row)
		}
	}

	// Nothing known about the site: the declared release, else the first row.
	known := sounding.NewLaunchRecord()
	known.Release.Declared = epoch.Add(time.Duration(f.release * 1e9))
	e, _ = Find(c, epoch, known, Rulings{}, Default())
	if math.Abs(e.Release.Time.Value()-f.release) > 1e-3 || e.Release.Method != "declared" {
		t.Errorf("declared release not used: %v by %s", e.Release.Time, e.Release.Method)
	}
	e, list = Find(c, epoch, nil, Rulings{}, Default())
	if e.Release.Time.Value() != c.Time[0] || !has(list, quality.ReleaseTime, sounding.Note, "nothing says") {
		t.Errorf("unknown release: %v\n%s", e.Release.Time, sentences(list))
	}
}

// A radiosonde lifted by 12 m and put down again is named and is not the release; the
// pressure's noise and a satellite height that wanders at rest are no lift.
func TestLiftBeforeReleaseIsNamed(t *testing.T) {
	f := usual()
	f.before = 600
	f.release = 700.37
	for _, lift := range []float64{0, 12} {
		c := f.columns(7)
		z, p := c.Values(sounding.HeightMSL), c.Values(sounding.Pressure)
		for i, at := range c.Time {
			if at < f.release {
				z[i] += 3 * math.Sin(at/40)
			}
			if at > 400 && at < 460 {
				z[i] += lift
				p[i] += pressureAt(f.site+lift) - pressureAt(f.site)
			}
		}
		e, list := Find(c, epoch, nil, Rulings{}, Default())
		if math.Abs(e.Release.Time.Value()-f.release) > 2 {
			t.Errorf("lift of %g m: release at %.2f s, true %.2f", lift, e.Release.Time.Value(), f.release)
		}
		if named := has(list, quality.ReleaseTime, sounding.Note, "lifted by"); named != (lift > 0) {
			t.Errorf("lift of %g m: named %v\n%s", lift, named, sentences(list))
		}
	}
}
