package wind

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// blown is a flight of n rows at 1 Hz, the first 30 before release, that rises with
// 5 m/s in a wind given by air(height above release), swinging on a string with the
// given period and amplitude; noise is that of the velocity.
type blown struct {
	n         int
	period    float64
	amplitude float64
	noise     float64
	air       func(z float64) (u, v float64)
	descent   int // last rows that fall with 12 m/s
}

func (f blown) make() (*sounding.Context, *sounding.Columns, []float64, []float64) {
	const before = 30
	random := rand.New(rand.NewPCG(7, uint64(f.n)))
	r := sounding.NewLaunchRecord()
	r.Site.Latitude, r.Site.Longitude, r.Site.Height = 47, 9, 400
	u0, v0 := f.air(10)
	s, d := earth.WindFromUV(u0, v0)
	r.Surface.WindSpeed, r.Surface.WindDirection = sounding.Number(s), sounding.Number(d)
	c := sounding.Columns{}
	names := []sounding.Variable{sounding.VelocityEast, sounding.VelocityNorth, sounding.Latitude, sounding.Longitude, sounding.HeightMSL}
	values := make([][]float64, len(names))
	u, v := make([]float64, f.n), make([]float64, f.n)
	lat, lon, z := 47.0, 9.0, 0.0
	top := f.n - f.descent
	for i := range f.n {
		t := float64(i - before)
		a, b := f.air(z)
		u[i], v[i] = a, b
		ve, vn := 0.0, 0.0
		if i >= before {
			phase := 2 * math.Pi * t / f.period
			ve, vn = a+f.amplitude*math.Cos(phase), b+0.7*f.amplitude*math.Sin(phase)
			lat += vn / 111190
			lon += ve / (111320 * math.Cos(lat*math.Pi/180)) * 6378137 / (6378137 + z)
			if i < top {
				z += 5
			} else {
				z = math.Max(0, z-12)
			}
		}
		for k, x := range []float64{ve + f.noise*random.NormFloat64(), vn + f.noise*random.NormFloat64(), lat, lon, 400 + z} {
			values[k] = append(values[k], x)
		}
		c.Time, c.Line, c.Source = append(c.Time, t), append(c.Line, int32(i+1)), append(c.Source, 0)
	}
	for k, name := range names {
		c.Series = append(c.Series, sounding.Series{Variable: name, Values: values[k]})
	}
	c = good(c)
	ev := sounding.Events{Release: sounding.Event{Found: true, Row: before, Time: 0}, Phases: []sounding.PhaseSpan{
		{Phase: sounding.BeforeRelease, Span: sounding.Span{From: 0, To: before}}, {Phase: sounding.Ascending, Span: sounding.Span{From: before, To: top}}}}
	if f.descent > 0 {
		ev.Phases = append(ev.Phases, sounding.PhaseSpan{Phase: sounding.Descending, Span: sounding.Span{From: top, To: f.n}})
	}
	sheet, _, err := sounding.ShippedSheet("single-humidity")
	if err != nil {
		panic(err)
	}
	return &sounding.Context{Epoch: time.Date(2031, 6, 3, 11, 4, 0, 0, time.UTC), Events: ev, Record: r, Sheet: sheet}, &c, u, v
}

// good flags every value good.
func good(c sounding.Columns) sounding.Columns {
	var runs []sounding.CheckRun
	for i := range c.Series {
		runs = append(runs, sounding.CheckRun{Check: quality.Gross, Variable: c.Series[i].Variable, Ran: true})
	}
	return c.Flagged(sounding.Report{Runs: runs})
}

func shear(z float64) (u, v float64) { return 3 + z/1000, -2 + 0.4*z/1000 }

func rms(a, b []float64, from, to int) float64 {
	sum := 0.0
	for i := from; i < to; i++ {
		d := a[i] - b[i]
		sum += d * d
	}
	return math.Sqrt(sum / float64(to-from))
}

func TestPendulumIsFoundAndRemoved(t *testing.T) {
	for _, period := range []float64{8, 11, 15.5} {
		f := blown{n: 4000, period: period, amplitude: 2.5, noise: 0.15, air: shear}
		ctx, cols, u, v := f.make()
		ctx.Record.Balloon.String = sounding.Number(StringLength(period))
		r, err := Run(ctx, cols, Default())
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Columns.Validate(); err != nil {
			t.Fatal(err)
		}
		var fitted float64
		for _, s := range r.Steps {
			for _, c := range s.Coefficients {
				if c.Name == "pendulum_period_ascent" {
					fitted = c.Value.Value()
				}
			}
		}
		if math.Abs(fitted-period) > 0.03*period {
			t.Errorf("period %g s: found %g s", period, fitted)
		}
		got := math.Hypot(rms(r.Columns.Values(sounding.WindU), u, 120, 3940), rms(r.Columns.Values(sounding.WindV), v, 120, 3940))
		if got > 0.10 {
			t.Errorf("period %g s: vector rms %.3f m/s after the filter, want ≤ 0.10", period, got)
		}
		t.Logf("period %g s: found %.2f s, vector rms %.3f m/s", period, fitted, got)
		if len(r.Findings) != 0 {
			t.Errorf("period %g s: unexpected finding: %s", period, r.Findings[0].Sentence)
		}
	}
}

func BenchmarkRun(b *testing.B) {
	ctx, cols, _, _ := blown{n: 7200, period: 11, amplitude: 2, noise: 0.15, air: shear, descent: 1800}.make()
	set := Default()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Run(ctx, cols, set); err != nil {
			b.Fatal(err)
		}
	}
}

func mustRun(t *testing.T, ctx *sounding.Context, cols *sounding.Columns) Result {
	t.Helper()
	r, err := Run(ctx, cols, Default())
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Columns.Validate(); err != nil {
		t.Fatal(err)
	}
	if r.Columns.Len() != cols.Len() {
		t.Fatalf("%d rows became %d", cols.Len(), r.Columns.Len())
	}
	return r
}

func drop(c *sounding.Columns, names ...sounding.Variable) {
	var keep []sounding.Series
next:
	for _, s := range c.Series {
		for _, v := range names {
			if s.Variable == v {
				continue next
			}
		}
		keep = append(keep, s)
	}
	c.Series = keep
}

// The string's length from its period (the periods themselves: authority_test.go).
func TestStringLength(t *testing.T) {
	for _, c := range []struct{ length, period float64 }{{10, 6.3448}, {30, 10.99}, {55, 14.88}, {60, 15.542}} {
		if back := StringLength(c.period); math.Abs(back-c.length) > 0.02*c.length {
			t.Errorf("%g s: %.2f m, want %g m", c.period, back, c.length)
		}
	}
	if !math.IsNaN(PendulumPeriod(0)) {
		t.Error("a string of no length swings")
	}
}

// Two positions one second apart, row WND-03: 52.2100N 14.1200E to 52.2101N 14.1202E
// are 17.627 m/s from 230.857° by the geodesic (GeographicLib GeodSolve).
func TestWindFromTwoPositions(t *testing.T) {
	ctx, cols, _, _ := blown{n: 40, period: 11, air: shear}.make()
	drop(cols, sounding.VelocityEast, sounding.VelocityNorth)
	lat, lon, z := cols.Values(sounding.Latitude), cols.Values(sounding.Longitude), cols.Values(sounding.HeightMSL)
	for i := range lat {
		lat[i], lon[i], z[i] = 52.2100+1e-4*float64(i), 14.1200+2e-4*float64(i), 0
	}
	set := Default()
	set.Surface.Blend = false
	ctx.Sheet = nil
	b := newBlow(ctx, cols, set)
	if !b.source() || b.from != position {
		t.Fatalf("wind from %q", b.from)
	}
	i := 35
	speed, direction := earth.WindFromUV(b.u[i], b.v[i])
	// The geodesic's own latitude is 35 steps south of this one.
	if math.Abs(speed-17.627) > 0.01 || math.Abs(direction-230.857) > 0.1 {
		t.Errorf("%.3f m/s from %.3f°, want 17.627 from 230.857", speed, direction)
	}
}

// At 30 km a degree is 0.47 % longer: a metric without height reads slow.
func TestPositionsAreMeasuredAtTheirHeight(t *testing.T) {
	at := func(height float64) float64 {
		ctx, cols, _, _ := blown{n: 400, period: 11, air: shear}.make()
		drop(cols, sounding.VelocityEast, sounding.VelocityNorth)
		lat, lon, z := cols.Values(sounding.Latitude), cols.Values(sounding.Longitude), cols.Values(sounding.HeightMSL)
		for i := range lat {
			lat[i], lon[i], z[i] = 47, 9+5e-4*float64(i), height
		}
		r := mustRun(t, ctx, cols)
		return r.Columns.Values(sounding.WindSpeed)[300]
	}
	if ratio := at(30000) / at(0); math.Abs(ratio-1.0047) > 1e-4 {
		t.Errorf("speed at 30 km over that at 0 m: %.5f, want 1.0047", ratio)
	}
}

func TestPositionsAndVelocitiesAgree(t *testing.T) {
	ctx, cols, u, v := blown{n: 3000, period: 11, amplitude: 1.5, noise: 0.1, air: shear}.make()
	drop(cols, sounding.VelocityEast, sounding.VelocityNorth)
	r := mustRun(t, ctx, cols)
	if got := math.Hypot(rms(r.Columns.Values(sounding.WindU), u, 120, 2940), rms(r.Columns.Values(sounding.WindV), v, 120, 2940)); got > 0.15 {
		t.Errorf("vector rms of the wind from positions: %.3f m/s", got)
	}
}

// Velocities that are missing are taken from positions.
func TestMissingVelocitiesAreFilledFromPositions(t *testing.T) {
	ctx, cols, u, _ := blown{n: 3000, period: 11, amplitude: 1, noise: 0.1, air: shear}.make()
	for _, name := range []sounding.Variable{sounding.VelocityEast, sounding.VelocityNorth} {
		s := cols.Get(name)
		for i := 1000; i < 1100; i++ {
			s.Values[i], s.Flags[i] = 99, quality.Bad
		}
	}
	r := mustRun(t, ctx, cols)
	if got := rms(r.Columns.Values(sounding.WindU), u, 1000, 1100); got > 0.5 {
		t.Errorf("rms over the lost velocities: %.2f m/s", got)
	}
}

// A string that does not fit the swing is reported with both lengths.
func TestStringIsCompared(t *testing.T) {
	ctx, cols, _, _ := blown{n: 3000, period: 15.5, amplitude: 2, noise: 0.15, air: shear}.make()
	ctx.Record.Balloon.String = 20
	r := mustRun(t, ctx, cols)
	if len(r.Findings) != 1 || r.Findings[0].Check != quality.Pendulum || math.Abs(r.Findings[0].Measured.Value()-15.5) > 0.5 || r.Findings[0].Field != "balloon.string_m" {
		t.Errorf("findings: %+v", r.Findings)
	}
}

// Pure noise has no pendulum: false finds in 200 flights.
func TestNoPendulumInNoise(t *testing.T) {
	random := rand.New(rand.NewPCG(17, 3))
	found := 0
	for range 200 {
		const n = 2000
		times, u, v := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range times {
			times[i], u[i], v[i] = float64(i), 0.5*random.NormFloat64(), 0.5*random.NormFloat64()
		}
		if findSwing(times, u, v, &Default().Pendulum).found {
			found++
		}
	}
	if found > 1 {
		t.Errorf("a pendulum in %d of 200 flights of noise", found)
	}
}

// Gaps: short ones are bridged, flagged questionable and less certain; long ones stay.
func TestGaps(t *testing.T) {
	ctx, cols, u, _ := blown{n: 3000, period: 11, amplitude: 0.5, noise: 0.1, air: shear}.make()
	for i := range cols.Series {
		if cols.Series[i].Variable == sounding.HeightMSL {
			continue
		}
		for k := range cols.Time {
			if k >= 1000 && k < 1020 || k >= 1500 && k < 1600 {
				cols.Series[i].Values[k] = math.NaN()
			}
		}
	}
	*cols = good(*cols)
	r := mustRun(t, ctx, cols)
	s := r.Columns.Get(sounding.WindU)
	for i := 1000; i < 1020; i++ {
		if math.Abs(s.Values[i]-u[i]) > 1 || s.Flags[i] != quality.Questionable || !s.Tests[i].Has(quality.Gap) {
			t.Fatalf("row %d: bridged %.2f m/s (true %.2f), flag %v", i, s.Values[i], u[i], s.Flags[i])
		}
	}
	if !(s.Total(1010) > s.Total(900)) {
		t.Errorf("the middle of a bridge is as certain as a measured sample: %.2f and %.2f m/s", s.Total(1010), s.Total(900))
	}
	for i := 1500; i < 1600; i++ {
		if !math.IsNaN(s.Values[i]) || s.Flags[i] != quality.Missing {
			t.Fatalf("row %d of a gap of 100 s holds %.2f m/s", i, s.Values[i])
		}
	}
}

// Reported winds are filtered by their maker: they keep their very values.
func TestReportedWindIsNotFilteredAgain(t *testing.T) {
	ctx, cols, _, _ := blown{n: 500, period: 11, amplitude: 2, air: shear}.make()
	speed, direction := make([]float64, 500), make([]float64, 500)
	for i := range speed {
		speed[i], direction[i] = 8+math.Sin(float64(i)), math.Mod(200+float64(i), 360)
	}
	drop(cols, sounding.VelocityEast, sounding.VelocityNorth)
	*cols = good(cols.With(sounding.Series{Variable: sounding.WindSpeed, Values: speed}, sounding.Series{Variable: sounding.WindDirection, Values: direction}))
	ctx.Sheet = nil
	r := mustRun(t, ctx, cols)
	for i := range speed {
		if r.Columns.Values(sounding.WindSpeed)[i] != speed[i] || r.Columns.Values(sounding.WindDirection)[i] != direction[i] {
			t.Fatalf("row %d changed", i)
		}
		u, v := earth.UVFromWind(speed[i], direction[i])
		if r.Columns.Values(sounding.WindU)[i] != u || r.Columns.Values(sounding.WindV)[i] != v {
			t.Fatalf("row %d: components are not those of speed and direction", i)
		}
	}
	if u := r.Columns.Get(sounding.WindSpeed).Total(100); !(u > 0) {
		t.Error("no uncertainty")
	}
	said := false
	for _, x := range r.Runs {
		said = said || !x.Ran && x.Check == quality.Pendulum
	}
	if !said {
		t.Error("not said that the filter did not run")
	}
}

// A sheet that says the velocities are filtered already is believed.
func TestAppliedFilterIsNotRepeated(t *testing.T) {
	ctx, cols, _, _ := blown{n: 500, period: 11, amplitude: 2, air: shear}.make()
	s := *ctx.Sheet
	s.Applied = []string{"wind-filter"}
	ctx.Sheet = &s
	r := mustRun(t, ctx, cols)
	for i := 200; i < 500; i++ {
		if r.Columns.Values(sounding.WindU)[i] != cols.Values(sounding.VelocityEast)[i] {
			t.Fatalf("row %d was filtered", i)
		}
	}
}

// The first minute: the surface wind at the row of release, the radiosonde's after a
// minute, less certain between; a wind in knots is not blended but reported.
func TestFirstMinute(t *testing.T) {
	air := func(z float64) (u, v float64) { return 4 * math.Log(math.Max(z, 10)/0.05) / math.Log(200), 1 }
	ctx, cols, u, _ := blown{n: 1000, period: 11, amplitude: 1.5, noise: 0.15, air: air}.make()
	r := mustRun(t, ctx, cols)
	s := r.Columns.Get(sounding.WindU)
	if math.Abs(s.Values[30]-u[30]) > 0.05 {
		t.Errorf("at release %.2f m/s, the surface wind is %.2f", s.Values[30], u[30])
	}
	if got := rms(s.Values, u, 30, 90); got > 0.6 {
		t.Errorf("rms of the first minute %.2f m/s", got)
	}
	if !(s.Total(50) > 1.2*s.Total(400)) {
		t.Errorf("the first minute is as certain as the rest: %.2f and %.2f m/s", s.Total(50), s.Total(400))
	}
	if !math.IsNaN(s.Values[10]) {
		t.Errorf("wind before release: %.2f m/s", s.Values[10])
	}
	ctx, cols, _, _ = blown{n: 1000, period: 11, amplitude: 1.5, noise: 0.15, air: func(float64) (float64, float64) { return 11, 0 }}.make()
	ctx.Record.Surface.WindSpeed *= 1.94384
	ctx.Record.Surface.WindDirection = 100
	r = mustRun(t, ctx, cols)
	if len(r.Findings) != 1 || r.Findings[0].Field != "surface.wind_speed_m_s" {
		t.Errorf("a surface wind far off gives %v", r.Findings)
	}
}

// The descent is filtered by itself: nothing reaches across the burst.
func TestDescentIsItsOwn(t *testing.T) {
	ctx, cols, _, _ := blown{n: 3000, period: 11, amplitude: 1, noise: 0.1, air: shear, descent: 900}.make()
	r := mustRun(t, ctx, cols)
	shifted := *cols
	shifted.Series = append([]sounding.Series(nil), cols.Series...)
	for k := range shifted.Series {
		s := &shifted.Series[k]
		if s.Variable == sounding.VelocityEast {
			s.Values = append([]float64(nil), s.Values...)
			for i := 2100; i < 3000; i++ {
				s.Values[i] += 40
			}
		}
	}
	again := mustRun(t, ctx, &shifted)
	a, b := r.Columns.Values(sounding.WindU), again.Columns.Values(sounding.WindU)
	for i := 30; i < 2100; i++ {
		if a[i] != b[i] {
			t.Fatalf("row %d of the ascent changed with the descent", i)
		}
	}
	for i := 2101; i < 3000; i++ {
		if math.Abs(b[i]-a[i]-40) > 1e-9 {
			t.Fatalf("row %d of the descent moved by %g, want 40", i, b[i]-a[i])
		}
	}
}

// Bad samples are never used.
func TestBadVelocitiesAreNotUsed(t *testing.T) {
	ctx, cols, _, _ := blown{n: 2000, period: 11, amplitude: 1, noise: 0.1, air: shear}.make()
	clean := mustRun(t, ctx, cols)
	drop(cols, sounding.Latitude, sounding.Longitude)
	for _, v := range []sounding.Variable{sounding.VelocityEast, sounding.VelocityNorth} {
		s := cols.Get(v)
		s.Values[1000], s.Flags[1000] = 500, quality.Bad
	}
	r := mustRun(t, ctx, cols)
	a, b := clean.Columns.Values(sounding.WindU), r.Columns.Values(sounding.WindU)
	for i := 30; i < 2000; i++ {
		if i != 1000 && math.Abs(a[i]-b[i]) > 0.3 {
			t.Fatalf("row %d moved by %.2f m/s through one bad sample", i, b[i]-a[i])
		}
	}
}

// Input untouched, same bits again, trail exact, whatever is missing.
func TestEdges(t *testing.T) {
	for name, edit := range map[string]func(*sounding.Context, *sounding.Columns){
		"nothing special": func(*sounding.Context, *sounding.Columns) {},
		"no series":       func(_ *sounding.Context, c *sounding.Columns) { c.Series = nil },
		"no heights":      func(_ *sounding.Context, c *sounding.Columns) { drop(c, sounding.HeightMSL) },
		"no velocities":   func(_ *sounding.Context, c *sounding.Columns) { drop(c, sounding.VelocityEast, sounding.VelocityNorth) },
		"no record":       func(x *sounding.Context, _ *sounding.Columns) { x.Record = nil },
		"no sheet":        func(x *sounding.Context, _ *sounding.Columns) { x.Sheet = nil },
		"no release":      func(x *sounding.Context, _ *sounding.Columns) { x.Events = sounding.Events{} },
		"all missing": func(_ *sounding.Context, c *sounding.Columns) {
			for _, s := range c.Series {
				for i := range s.Values {
					s.Values[i] = math.NaN()
				}
			}
			*c = good(*c)
		},
		"equal times": func(_ *sounding.Context, c *sounding.Columns) {
			for i := range c.Time {
				c.Time[i] = 5
			}
		},
		"times backwards": func(_ *sounding.Context, c *sounding.Columns) {
			for i := range c.Time {
				c.Time[i] = -c.Time[i]
			}
		},
		"uneven times": func(_ *sounding.Context, c *sounding.Columns) {
			for i := range c.Time {
				c.Time[i] += 0.3 * math.Sin(float64(i*i))
			}
		},
		"calm": func(x *sounding.Context, c *sounding.Columns) {
			x.Record.Surface.WindSpeed, x.Record.Surface.WindDirection = 0, sounding.NotSet
			for _, s := range c.Series[:2] {
				for i := range s.Values {
					s.Values[i] = 0
				}
			}
		},
		"near the pole": func(_ *sounding.Context, c *sounding.Columns) {
			drop(c, sounding.VelocityEast, sounding.VelocityNorth)
			for i := range c.Time {
				c.Values(sounding.Latitude)[i] = 89.9999
			}
		},
	} {
		for _, n := range []int{30, 31, 33, 100, 1500} {
			ctx, cols, _, _ := blown{n: n, period: 11, amplitude: 1, noise: 0.1, air: shear}.make()
			edit(ctx, cols)
			before := map[sounding.Variable][]float64{}
			for _, s := range cols.Series {
				before[s.Variable] = append([]float64(nil), s.Values...)
			}
			r := mustRun(t, ctx, cols)
			again := mustRun(t, ctx, cols)
			for _, s := range cols.Series {
				if !sameBits(before[s.Variable], s.Values) {
					t.Errorf("%s, %d rows: the input's %v changed", name, n, s.Variable)
				}
			}
			last := map[sounding.Variable]sounding.Step{}
			for k, s := range r.Steps {
				last[s.Variable] = s
				if !sameBits(s.Values, again.Steps[k].Values) {
					t.Errorf("%s, %d rows: the second run differs in %v", name, n, s.Variable)
				}
			}
			for v, s := range last {
				x := r.Columns.Get(v)
				if !sameBits(x.Values, s.Values) || !sameBits(x.Independent, s.Independent) || !sameBits(x.Common, s.Common) {
					t.Errorf("%s, %d rows: %v does not end with its last step", name, n, v)
				}
			}
			if len(r.Runs) == 0 {
				t.Errorf("%s, %d rows: nothing is said about what ran", name, n)
			}
		}
	}
	ctx, cols, _, _ := blown{n: 100, period: 11, air: shear}.make()
	cols.Series[0].Values = cols.Series[0].Values[:7]
	if _, err := Run(ctx, cols, Default()); err == nil {
		t.Error("columns of different lengths are accepted")
	}
}

func sameBits(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if math.Float64bits(a[i]) != math.Float64bits(b[i]) && !(a[i] != a[i] && b[i] != b[i]) {
			return false
		}
	}
	return true
}

// The stated resolution is that of the filter, and the stop band holds the pendulum.
func TestFilterIsAsStated(t *testing.T) {
	for _, period := range []float64{6, 11, 15.5, 24} {
		set := Default()
		b := &blow{set: set}
		cut, stop, _ := b.cutoff(swing{found: true, period: period}, math.NaN())
		d, err := designed(cut, stop, set.Filter.Attenuation)
		if err != nil {
			t.Fatal(err)
		}
		if g := math.Abs(d.low.Response(stop)); g > 0.02 {
			t.Errorf("pendulum of %g s passes with %.3f, want 0.02 at most", period, g)
		}
		if g := d.low.Response(d.half); math.Abs(g-math.Sqrt2/2) > 0.002 {
			t.Errorf("at the stated resolution of %.1f s %.4f passes, want 0.7071", d.half, g)
		}
		if exact := d.low.HalfPowerPeriod(); math.Abs(exact-d.half) > 0.01 {
			t.Errorf("half power at %.3f s, the filter itself says %.3f s", d.half, exact)
		}
	}
}

func TestSettings(t *testing.T) {
	if err := Default().Validate(); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadSettings("user.toml", []byte("[filter]\nperiodfactor = 2\n")); err == nil {
		t.Error("an unknown key is accepted")
	}
	s := Default()
	s.Filter.PeriodFactor = 1
	if s.Validate() == nil {
		t.Error("a filter that passes the pendulum is accepted")
	}
}

// The wind of a height is what the balloon met when it was there, one string below
// where it is when the radiosonde comes: geometry of a balloon that drifts with the air
// at its own height.
func TestWindBelongsToTheBalloon(t *testing.T) {
	const length, lapse = 30.0, 0.02 // m; s⁻¹ of shear
	below := func(z float64) (u, v float64) { return 4 + lapse*z, -1 - lapse*z }
	flight := blown{n: 2400, period: PendulumPeriod(length), amplitude: 0.5, descent: 400,
		air: func(z float64) (u, v float64) { return below(z + length) }}
	ctx, cols, u, v := flight.make()
	ctx.Record.Balloon.String = length
	r := mustRun(t, ctx, cols)
	for _, span := range []sounding.Span{{From: 200, To: 1900}, {From: 2100, To: 2300}} {
		for k, want := range [][]float64{u, v} {
			s := r.Columns.Get([]sounding.Variable{sounding.WindU, sounding.WindV}[k])
			sign := 1 - 2*float64(k)
			for i := span.From; i < span.To; i++ {
				// want is the wind at the balloon; at the radiosonde it is less by 30 m of shear.
				if off := s.Values[i] - (want[i] - sign*lapse*length); math.Abs(off) > 0.1 {
					t.Fatalf("row %d: %v is off by %+.2f m/s; the string alone makes %.1f", i, s.Variable, off, lapse*length)
				}
			}
		}
	}
	ctx.Record.Balloon.String, ctx.Sheet = sounding.NotSet, nil
	for i := range cols.Series[:2] {
		for k := range cols.Series[i].Values {
			cols.Series[i].Values[k] = u[k]
		}
	}
	still := mustRun(t, ctx, cols)
	if s := still.Columns.Get(sounding.WindU); math.Abs(s.Values[1000]-u[1000]) > 0.1 {
		t.Errorf("without a string and a swing the wind was moved by %+.2f m/s", s.Values[1000]-u[1000])
	}
}
