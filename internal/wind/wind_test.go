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
