package check

import (
	"math"
	"strings"
	"testing"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// A place that jumps and comes back within five minutes is doubted in between, and one
// that stays only where it jumped (docs/methods/position.md).
func TestPositionThereAndBack(t *testing.T) {
	build := func(end int) *rig {
		r := newRig(900, 60, 1)
		lat, lon := r.put(sounding.Latitude, 0), r.put(sounding.Longitude, 0)
		for i := range lat {
			lat[i], lon[i] = 47+float64(i)*5e-5, 9+float64(i)*5e-5
			if i >= 400 && i < end {
				lat[i] += 0.004 // 445 m
			}
		}
		return r
	}
	f := one(t, build(460).only(quality.Position), sounding.Latitude)
	if len(f.Spans) != 1 || f.Spans[0] != (sounding.Span{From: 400, To: 460}) {
		t.Errorf("back after a minute: %v", f.Spans)
	}
	if f := one(t, build(900).only(quality.Position), sounding.Latitude); f.Spans[0].Len() > 2 {
		t.Errorf("not back: %v", f.Spans)
	}
}

// A value in steps of 0.1 % that stands at its highest again and again is a ceiling, and
// every sample at it is doubted; coarse steps need two minutes of it.
func TestCeilingInFineSteps(t *testing.T) {
	build := func(step float64) *rig {
		r := newRig(900, 60, 1)
		rh := r.values(sounding.Humidity)
		for i := range rh {
			rh[i] = math.Round((50+15*math.Sin(float64(i)/4)+2*math.Sin(1.7*float64(i)))/step) * step
			if rh[i] > 55 {
				rh[i] = 55
			}
		}
		return r
	}
	f := one(t, build(0.1).only(quality.Clamped), sounding.Humidity)
	if !strings.Contains(f.Sentence, "55 %") || f.Severity != sounding.Questionable {
		t.Errorf("%q", f.Sentence)
	}
	r := build(0.1)
	marked := make([]bool, r.n)
	for _, s := range f.Spans {
		for i := s.From; i < s.To; i++ {
			marked[i] = true
		}
	}
	for i, x := range r.values(sounding.Humidity) {
		if i >= r.before && x == 55 && !marked[i] {
			t.Fatalf("row %d stands at the ceiling and is not doubted", i)
		}
	}
	if found := above(build(1).only(quality.Clamped)); len(found) > 0 {
		t.Errorf("steps of 1 %%, never half a minute on end: %s", found[0].Sentence)
	}
}

// Without humidity a difference of heights says nothing of temperature: a warm, moist
// column is thicker than the same column taken as half saturated or dry.
func TestNoHumidityBlamesNoTemperature(t *testing.T) {
	r := newRig(5400, 60, 1)
	temperature := r.values(sounding.Temperature)
	for i, h := range r.values(sounding.HeightMSL) {
		temperature[i] = math.Max(302-0.0065*h, 200)
	}
	p, z := r.values(sounding.Pressure), r.values(sounding.HeightMSL)
	p[0] = 1008
	for i := 1; i < r.n; i++ {
		// 3 K of virtual temperature at the ground, as saturated tropical air has, falling with height.
		tv := 0.5*(temperature[i]+temperature[i-1]) + 3*math.Exp(-z[i]/2500)
		p[i] = p[i-1] * math.Exp(-9.80665*(z[i]-z[i-1])/(287.05*tv))
	}
	for i := range r.values(sounding.Humidity) {
		r.values(sounding.Humidity)[i] = math.NaN()
	}
	r.ctx.Record.Site.Height, r.ctx.Record.Surface.Pressure = 100, sounding.Number(p[0])
	for _, f := range above(r.only(quality.BarometerHeight)) {
		if f.Variable == sounding.Temperature {
			t.Errorf("%s", f.Sentence)
		}
	}
}

// Where everything that measures humidity at rest stands off the observation on one side,
// the ascent is in doubt; one sensor of two leaves it to their comparison.
func TestHumidityOffAtRestDoubtsTheAscent(t *testing.T) {
	build := func(a, b float64) sounding.Report {
		r := newRig(600, 120, 1)
		r.ctx.Record.Surface.Humidity = 80
		r.cols.Series = append(r.cols.Series[:2:2], r.cols.Series[3:]...) // without the plain column
		va, vb := r.put(sounding.HumidityA, a), r.put(sounding.HumidityB, b)
		ha, hb := r.put(sounding.HeatingA, 0), r.put(sounding.HeatingB, 0)
		for i := range va {
			va[i] += 0.1 * math.Sin(2.1*float64(i))
			vb[i] += 0.1 * math.Cos(2.1*float64(i))
			ha[i], hb[i] = 0, 0
		}
		return r.only(quality.Baseline)
	}
	f := one(t, build(62, 63), sounding.HumidityA)
	if len(f.Spans) != 1 || !f.Spans[0].Contains(599) {
		t.Errorf("both 17 %% dry: %v", f.Spans)
	}
	f = one(t, build(62, 80), sounding.HumidityA)
	if len(f.Spans) != 0 {
		t.Errorf("one of two: %v", f.Spans)
	}
}
