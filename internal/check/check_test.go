package check

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
)

var nan = math.NaN()

// rig is a small made-up flight: 1 s between rows, released at row before, climbing
// at 5 m/s from 100 m, with a smooth atmosphere. Tests spoil one thing in it.
type rig struct {
	n, before int
	interval  float64
	ctx       sounding.Context
	cols      sounding.Columns
}

func newRig(n, before int, interval float64) *rig {
	r := &rig{n: n, before: before, interval: interval}
	r.ctx.Epoch = time.Date(2031, 6, 3, 23, 4, 11, 0, time.UTC)
	r.ctx.Record = sounding.NewLaunchRecord()
	c := &r.cols
	p, t, rh, z, u, v := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		at := float64(i-before) * interval
		c.Time, c.Line, c.Source = append(c.Time, at), append(c.Line, int32(i+2)), append(c.Source, 0)
		h := 100 + 5*max(0, at)
		z[i] = h
		p[i] = math.Round(101325*math.Pow(1-h/44330.8, 5.25588)) / 100
		if h > 11000 {
			p[i] = math.Round(22632*math.Exp(-(h-11000)/6341.6)) / 100
		}
		// A ripple of a few hundredths keeps neighbouring values apart, as noise does.
		wave := 0.02 * math.Sin(2.1*float64(i))
		t[i] = max(288.15-0.0065*h, 216.65) + wave
		rh[i] = (50+10*math.Sin(h/900))*math.Exp(-max(0, h-5000)/2000) + 10*wave
		u[i], v[i] = 5+h/1000+wave, 3+wave
	}
	c.Series = []sounding.Series{
		{Variable: sounding.Pressure, Values: p}, {Variable: sounding.Temperature, Values: t}, {Variable: sounding.Humidity, Values: rh},
		{Variable: sounding.HeightMSL, Values: z}, {Variable: sounding.WindU, Values: u}, {Variable: sounding.WindV, Values: v},
	}
	r.ctx.Events = sounding.Events{Release: sounding.Event{Found: true, Row: before, Time: 0, UTC: r.ctx.Epoch}, End: sounding.EndDataLost}
	if before > 0 {
		r.ctx.Events.Phases = append(r.ctx.Events.Phases, sounding.PhaseSpan{Phase: sounding.BeforeRelease, Span: sounding.Span{From: 0, To: before}})
	}
	if n > before {
		r.ctx.Events.Phases = append(r.ctx.Events.Phases, sounding.PhaseSpan{Phase: sounding.Ascending, Span: sounding.Span{From: before, To: n}})
	}
	return r
}

func (r *rig) values(v sounding.Variable) []float64 { return r.cols.Values(v) }

// put adds a series of one value.
func (r *rig) put(v sounding.Variable, x float64) []float64 {
	values := make([]float64, r.n)
	for i := range values {
		values[i] = x
	}
	r.cols.Series = append(r.cols.Series, sounding.Series{Variable: v, Values: values})
	return values
}

// only runs one check of the plan on the raw stage.
func (r *rig) only(c quality.Check) sounding.Report {
	in := newInput(&r.ctx, nil, &r.cols, Default(), "raw")
	for _, p := range plan {
		if p.check == c {
			return p.run(in)
		}
	}
	panic("no such check in the plan")
}

// above are the findings above a note.
func above(rep sounding.Report) []sounding.Finding {
	var out []sounding.Finding
	for _, f := range rep.Findings {
		if f.Severity > sounding.Note {
			out = append(out, f)
		}
	}
	return out
}

// one returns the only finding above a note on v, and fails where there is another number.
func one(t *testing.T, rep sounding.Report, v sounding.Variable) sounding.Finding {
	t.Helper()
	var hits []sounding.Finding
	for _, f := range above(rep) {
		if f.Variable == v {
			hits = append(hits, f)
		}
	}
	if len(hits) != 1 {
		t.Fatalf("%d findings on %v, want 1: %v", len(hits), v, rep.Findings)
	}
	return hits[0]
}

func TestNothingOnASmoothFlight(t *testing.T) {
	for _, interval := range []float64{1, 2, 10} {
		r := newRig(120+int(6000/interval), 120, interval)
		if found := above(Raw(&r.ctx, &r.cols, Default())); len(found) > 0 {
			t.Errorf("every %g s: %d findings, the first %q", interval, len(found), found[0].Sentence)
		}
	}
}

func TestEveryRunIsReported(t *testing.T) {
	r := newRig(600, 60, 1)
	rep := Raw(&r.ctx, &r.cols, Default())
	ran := map[quality.Check]bool{}
	for _, run := range rep.Runs {
		if !run.Ran && run.Why == "" {
			t.Errorf("%v on %v neither ran nor says why", run.Check, run.Variable)
		}
		ran[run.Check] = true
	}
	for _, p := range plan {
		switch p.check {
		case quality.Position, quality.Telemetry, quality.TwinHumidity: // nothing of theirs in this flight
		default:
			if !ran[p.check] {
				t.Errorf("%v left no word", p.check)
			}
		}
	}
}

// No rows, one row, no values, one value throughout, a fall instead of a climb: no
// panic, no sample doubted that holds nothing wrong, and a word on every check.
func TestDegenerate(t *testing.T) {
	missing := func(r *rig) {
		for k := range r.cols.Series {
			for i := range r.cols.Series[k].Values {
				r.cols.Series[k].Values[i] = nan
			}
		}
	}
	for name, x := range map[string]struct {
		n, before int
		change    func(r *rig)
		want      string // part of a sentence above a note, "" for none
	}{
		"no rows":                {0, 0, func(*rig) {}, ""},
		"one row":                {1, 0, func(*rig) {}, ""},
		"two rows":               {2, 1, func(*rig) {}, ""},
		"rows before release":    {30, 30, func(*rig) {}, ""},
		"no values":              {300, 30, missing, "temperature is missing throughout"},
		"no variables":           {300, 30, func(r *rig) { r.cols.Series = nil }, "no temperature"},
		"pressure alone":         {600, 30, func(r *rig) { r.cols.Series = r.cols.Series[:1] }, "no temperature"},
		"temperature alone":      {600, 30, func(r *rig) { r.cols.Series = r.cols.Series[1:2] }, "no pressure and no height"},
		"one temperature":        {900, 30, func(r *rig) { fillWith(r.values(sounding.Temperature), 250) }, "stays at -23.1 °C"},
		"one pressure":           {900, 30, func(r *rig) { fillWith(r.values(sounding.Pressure), 900) }, "stays at 900 hPa"},
		"one value but the last": {900, 30, func(r *rig) { fillWith(r.values(sounding.Humidity)[:899], nan) }, "humidity is missing on 869 of the 870 rows"},
		"falling from the start": {600, 0, func(r *rig) {
			for _, v := range []sounding.Variable{sounding.Pressure, sounding.HeightMSL, sounding.Temperature} {
				slices.Reverse(r.values(v))
			}
		}, ""},
	} {
		r := newRig(x.n, x.before, 1)
		x.change(r)
		rep := Raw(&r.ctx, &r.cols, Default())
		seen := false
		for _, f := range above(rep) {
			if x.want == "" {
				t.Errorf("%s: %s", name, f.Sentence)
			}
			seen = seen || strings.Contains(f.Sentence, x.want)
		}
		if x.want != "" && !seen {
			t.Errorf("%s: no finding with %q in %v", name, x.want, above(rep))
		}
		flagged := r.cols.Flagged(rep)
		if err := flagged.Validate(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, s := range flagged.Series {
			for i := range min(x.before, len(s.Flags)) {
				if s.Flags[i] == quality.Good {
					t.Fatalf("%s: %v is good before release", name, s.Variable)
				}
			}
		}
	}
}

func fillWith(x []float64, v float64) {
	for i := range x {
		x[i] = v
	}
}

// Every test of the plan has its page, by its name.
func TestPages(t *testing.T) {
	for _, p := range plan {
		name := filepath.Join(sharedtest.Root(t), "docs", "methods", p.check.String()+".md")
		text, err := os.ReadFile(name)
		if err != nil {
			t.Error(err)
			continue
		}
		for _, part := range []string{"**Purpose.**", "Source", "**Worked example.**", "**Known weakness.**"} {
			if !strings.Contains(string(text), part) && !(part == "Source" && strings.Contains(string(text), "**Limits.**")) {
				t.Errorf("docs/methods/%s.md has no %s", p.check, part)
			}
		}
	}
}

func TestSpikeEdges(t *testing.T) {
	for name, x := range map[string]struct {
		row  int
		size float64
		gap  bool
		want bool
	}{
		"in the middle":        {300, 3, false, true},
		"too small":            {300, 0.4, false, false},
		"first row of flight":  {60, 4, false, true},
		"last row":             {599, 4, false, true},
		"beside a gap":         {300, 4, true, true},
		"before release":       {30, 9, false, false},
		"negative":             {400, -2, false, true},
		"fourth row of flight": {63, 3, false, true},
	} {
		r := newRig(600, 60, 1)
		temperature := r.values(sounding.Temperature)
		temperature[x.row] += x.size
		if x.gap {
			for i := x.row + 1; i < x.row+60; i++ {
				temperature[i] = nan
			}
		}
		found := above(r.only(quality.Spike))
		if !x.want {
			if len(found) > 0 {
				t.Errorf("%s: %q", name, found[0].Sentence)
			}
			continue
		}
		if len(found) != 1 || len(found[0].Spans) != 1 || found[0].Spans[0] != (sounding.Span{From: x.row, To: x.row + 1}) {
			t.Errorf("%s: %v", name, found)
		} else if math.Abs(found[0].Measured.Value()-x.size) > 0.3 {
			t.Errorf("%s: measured %g, want %g", name, found[0].Measured, x.size)
		}
	}
}

func TestSpikeSparesALayer(t *testing.T) {
	r := newRig(600, 60, 1)
	for i := 300; i < 303; i++ {
		r.values(sounding.Temperature)[i] += 1.5
		r.values(sounding.Humidity)[i] -= 20
	}
	for _, f := range above(r.only(quality.Spike)) {
		if f.Variable == sounding.Temperature {
			t.Errorf("a warm dry layer counts as a spike: %s", f.Sentence)
		}
	}
}

// A sharp inversion, 5 K in 10 s with humidity falling, is neither spike nor step.
func TestInversionIsAir(t *testing.T) {
	r := newRig(600, 60, 1)
	for i := 300; i < 600; i++ {
		k := min(float64(i-300)/10, 1)
		r.values(sounding.Temperature)[i] += 5 * k
		r.values(sounding.Humidity)[i] -= 30 * k
	}
	for _, c := range []quality.Check{quality.Spike, quality.Step} {
		if found := above(r.only(c)); len(found) > 0 {
			t.Errorf("%v: %s", c, found[0].Sentence)
		}
	}
}

func TestStep(t *testing.T) {
	r := newRig(600, 60, 1)
	for i := 300; i < 600; i++ {
		r.values(sounding.Temperature)[i] += 4
	}
	f := one(t, r.only(quality.Step), sounding.Temperature)
	if math.Abs(f.Measured.Value()-4) > 0.3 || len(f.Spans) != 1 || f.Spans[0] != (sounding.Span{From: 300, To: 600}) {
		t.Errorf("step of 4 K between rows 299 and 300: %v %v", f.Measured, f.Spans)
	}
}

// A step there and back within five minutes doubts what lies between and nothing else.
func TestStepThereAndBack(t *testing.T) {
	r := newRig(600, 60, 1)
	for i := 300; i < 360; i++ {
		r.values(sounding.Temperature)[i] += 4
	}
	f := one(t, r.only(quality.Step), sounding.Temperature)
	if math.Abs(f.Measured.Value()-4) > 0.3 || len(f.Spans) != 1 || f.Spans[0] != (sounding.Span{From: 300, To: 360}) {
		t.Errorf("4 K for a minute: %v %v", f.Measured, f.Spans)
	}
}

// The levels of a report, each variable on levels of its own, have no gaps between them;
// a variable that ends well below the top is named all the same.
func TestGapBetweenChosenLevels(t *testing.T) {
	r := newRig(80, 0, 90)
	for i := 1; i < 80; i += 2 {
		r.values(sounding.WindU)[i], r.values(sounding.WindV)[i] = nan, nan
	}
	for i := 50; i < 80; i++ {
		r.values(sounding.Humidity)[i] = nan
	}
	rep := r.only(quality.Gap)
	if f := rep.Findings[0]; f.Severity != sounding.Note || !strings.Contains(f.Sentence, "usually 90 s apart") {
		t.Errorf("%v %q", f.Severity, f.Sentence)
	}
	if f := one(t, rep, sounding.Humidity); !strings.Contains(f.Sentence, "until the end") {
		t.Errorf("humidity lost: %q", f.Sentence)
	}
	for _, f := range rep.Findings {
		if f.Variable == sounding.WindU || f.Variable == sounding.WindSpeed {
			t.Errorf("wind on every other level: %q", f.Sentence)
		}
	}
}

func TestGap(t *testing.T) {
	r := newRig(900, 60, 1)
	for i := 300; i < 500; i++ {
		r.values(sounding.WindU)[i], r.values(sounding.WindV)[i] = nan, nan
	}
	for i := 700; i < 900; i++ {
		r.values(sounding.Humidity)[i] = nan
	}
	rep := r.only(quality.Gap)
	f := one(t, rep, sounding.WindU)
	if f.Measured.Value() != 201 || !strings.Contains(f.Sentence, "1.3") && !strings.Contains(f.Sentence, "1.2") || len(f.Spans) != 0 || f.FirstLine == 0 {
		t.Errorf("wind gap: %q, %v s, spans %v, line %d", f.Sentence, f.Measured, f.Spans, f.FirstLine)
	}
	if f = one(t, rep, sounding.Humidity); !strings.Contains(f.Sentence, "until the end") {
		t.Errorf("humidity lost: %q", f.Sentence)
	}
	r = newRig(600, 60, 1)
	for i := range r.values(sounding.Temperature) {
		r.values(sounding.Temperature)[i] = nan
	}
	if f = one(t, r.only(quality.Gap), sounding.Temperature); f.Severity != sounding.Bad {
		t.Errorf("no temperature at all is %v", f.Severity)
	}
}

func TestGross(t *testing.T) {
	r := newRig(900, 60, 1)
	r.values(sounding.Temperature)[400] = 340 // 67 °C
	r.values(sounding.Pressure)[500] = -3
	for i := 600; i < 700; i++ {
		r.values(sounding.WindU)[i] = 95 // 185 kt at some 700 hPa
	}
	rep := r.only(quality.Gross)
	if f := one(t, rep, sounding.Temperature); f.Severity != sounding.Bad || f.Spans[0].From != 400 {
		t.Errorf("67 °C: %+v", f)
	}
	if f := one(t, rep, sounding.Pressure); f.Severity != sounding.Bad || f.Spans[0].From != 500 {
		t.Errorf("-3 hPa: %+v", f)
	}
	if f := one(t, rep, sounding.WindU); f.Severity != sounding.Questionable || total(f.Spans) != 100 {
		t.Errorf("95 m/s: %+v", f)
	}
	// −93 °C at 90 hPa: usual in the tropics, and within the window elsewhere.
	r = newRig(3600, 0, 1)
	r.ctx.Record.Site.Latitude = -12
	z, temperature := r.values(sounding.HeightMSL), r.values(sounding.Temperature)
	for i := range z {
		if z[i] > 16500 && z[i] < 18000 {
			temperature[i] = 180.15
		}
	}
	if found := above(r.only(quality.Gross)); len(found) > 0 {
		t.Errorf("−93 °C in the tropics: %s", found[0].Sentence)
	}
}

func TestStuck(t *testing.T) {
	r := newRig(900, 60, 1)
	for i := 300; i < 400; i++ {
		r.values(sounding.Temperature)[i] = 280
	}
	f := one(t, r.only(quality.Stuck), sounding.Temperature)
	if f.Spans[0] != (sounding.Span{From: 300, To: 400}) || f.Severity != sounding.Bad {
		t.Errorf("stuck rows 300–399: %v", f.Spans)
	}
	r = newRig(900, 60, 1) // resting before release is no fault
	for i := range 60 {
		r.values(sounding.Temperature)[i] = 288
	}
	if found := above(r.only(quality.Stuck)); len(found) > 0 {
		t.Errorf("at rest: %s", found[0].Sentence)
	}
}

func TestClamped(t *testing.T) {
	r := newRig(900, 60, 1)
	rh := r.values(sounding.Humidity)
	for i := 400; i < 660; i++ {
		rh[i] = 100
	}
	f := one(t, r.only(quality.Clamped), sounding.Humidity)
	if !strings.Contains(f.Sentence, "100 %") || !strings.Contains(f.Sentence, "clamped") || f.Spans[0].Len() != 260 {
		t.Errorf("%q %v", f.Sentence, f.Spans)
	}
	for i := range rh {
		rh[i] = 0
	}
	if f = one(t, r.only(quality.Clamped), sounding.Humidity); f.Limit != 0 || f.Spans[0].Len() != 840 {
		t.Errorf("constant 0: %q %v", f.Sentence, f.Spans)
	}
}

func TestSuperadiabatic(t *testing.T) {
	r := newRig(900, 60, 1)
	for i := 500; i < 540; i++ { // 200 m in which temperature falls by 3.5 K more
		r.values(sounding.Temperature)[i] -= 3.5 * float64(i-500) / 40
	}
	f := one(t, r.only(quality.Superadiabatic), sounding.Temperature)
	if d := f.Measured.Value(); d < 1.5 || d > 3.5 || !f.Spans[0].Contains(520) {
		t.Errorf("θ falls by %g K over %v", d, f.Spans)
	}
	r = newRig(900, 60, 1) // over a hot ground by day
	r.values(sounding.Temperature)[60] += 4
	r.values(sounding.Temperature)[61] += 3
	if found := above(r.only(quality.Superadiabatic)); len(found) > 0 {
		t.Errorf("in the lowest 100 m by day: %s", found[0].Sentence)
	}
}

// Shapes of barometer against satellite height (docs/methods/barometer-height.md).
func TestBarometerHeightShapes(t *testing.T) {
	spoil := func(change func(r *rig, i int)) sounding.Report {
		r := newRig(5400, 60, 1)
		// Pressure in exact hydrostatic balance with this temperature, so that only the fault differs.
		p, temperature, z := r.values(sounding.Pressure), r.values(sounding.Temperature), r.values(sounding.HeightMSL)
		r.ctx.Record.Site.Latitude = 45
		p[0] = 1001.2
		for i := 1; i < r.n; i++ {
			h := func(x float64) float64 { return x * (1 - x/6.37e6) * (9.80619 / 9.80665) }
			p[i] = p[i-1] * math.Exp(-9.80665*(h(z[i])-h(z[i-1]))/(287.05*0.5*(temperature[i]+temperature[i-1])))
		}
		for i := range r.values(sounding.Humidity) {
			r.values(sounding.Humidity)[i] = 0.1
		}
		r.ctx.Record.Site.Height, r.ctx.Record.Surface.Pressure = 100, sounding.Number(p[0])
		for i := range p {
			change(r, i)
		}
		return r.only(quality.BarometerHeight)
	}
	if found := above(spoil(func(*rig, int) {})); len(found) > 0 {
		t.Errorf("no fault: %s", found[0].Sentence)
	}
	f := one(t, spoil(func(r *rig, i int) { r.values(sounding.Pressure)[i] += 2 }), sounding.Pressure)
	if math.Abs(f.Measured.Value()-2) > 0.2 || f.Unit != "hPa" {
		t.Errorf("offset of 2 hPa: %q", f.Sentence)
	}
	f = one(t, spoil(func(r *rig, i int) { r.values(sounding.Temperature)[i] += 2.5 }), sounding.Temperature)
	if math.Abs(f.Measured.Value()-2.5) > 0.4 || f.Unit != "K" {
		t.Errorf("2.5 K too warm: %q", f.Sentence)
	}
	f = one(t, spoil(func(r *rig, i int) { r.values(sounding.HeightMSL)[i] -= 80 }), sounding.NoVariable)
	if math.Abs(f.Measured.Value()-80) > 8 || len(f.Spans) != 0 {
		t.Errorf("heights 80 m low: %q", f.Sentence)
	}
	rep := spoil(func(r *rig, i int) {
		if i > 2000 {
			r.values(sounding.HeightMSL)[i] += 150
		}
	})
	stepped := false
	for _, f := range rep.Findings {
		stepped = stepped || f.Variable == sounding.HeightMSL && strings.Contains(f.Sentence, "steps")
	}
	if !stepped {
		t.Errorf("a step of 150 m in height: %v", rep.Findings)
	}
}

func TestBaseline(t *testing.T) {
	r := newRig(600, 120, 1)
	s := &r.ctx.Record.Surface
	p := r.values(sounding.Pressure)[0]
	s.Pressure, s.Temperature, s.Humidity, r.ctx.Record.Site.Height = sounding.Number(p+10), 287.5, 51, 100
	rep := r.only(quality.Baseline)
	f := one(t, rep, sounding.NoVariable)
	if f.Field != "surface.pressure_hpa" || len(f.Spans) != 0 || math.Abs(f.Measured.Value()+10) > 0.1 || !strings.Contains(f.Sentence, "mistyped") {
		t.Errorf("typed 10 hPa too high: %+v", f)
	}
	if len(above(rep)) != 1 {
		t.Errorf("%v", above(rep))
	}
	// Reduced to sea level at a site 800 m up.
	s.Pressure = sounding.Number(p * math.Exp(800/8420.))
	r.ctx.Record.Site.Height = 800
	for i := range r.values(sounding.HeightMSL) {
		r.values(sounding.HeightMSL)[i] += 700
	}
	if f = one(t, r.only(quality.Baseline), sounding.NoVariable); !strings.Contains(f.Sentence, "sea level") {
		t.Errorf("reduced to sea level: %q", f.Sentence)
	}
	// Nothing known: says why.
	r.ctx.Record = sounding.NewLaunchRecord()
	rep = r.only(quality.Baseline)
	if len(rep.Findings) != 0 || len(rep.Runs) == 0 || rep.Runs[0].Why == "" {
		t.Errorf("empty record: %+v", rep)
	}
}

func TestAscent(t *testing.T) {
	r := newRig(1200, 60, 1)
	r.ctx.Events.Phases = []sounding.PhaseSpan{{Phase: sounding.BeforeRelease, Span: sounding.Span{From: 0, To: 60}}, {Phase: sounding.Ascending, Span: sounding.Span{From: 60, To: 500}},
		{Phase: sounding.Floating, Span: sounding.Span{From: 500, To: 700}}, {Phase: sounding.Ascending, Span: sounding.Span{From: 700, To: 1200}}}
	z := r.values(sounding.HeightMSL)
	for i := range z {
		switch {
		case i >= 700:
			z[i] -= 1000
		case i >= 500:
			z[i] = z[499]
		}
	}
	f := one(t, r.only(quality.Ascent), sounding.NoVariable)
	if !strings.Contains(f.Sentence, "floats for 199 s") || len(f.Spans) != 0 {
		t.Errorf("%q", f.Sentence)
	}
	// A downdraught takes the balloon 300 m down in 50 s: the turns are the balloon's, and
	// the float is the one finding. Heights that turn where no float is known are doubted.
	for _, known := range []bool{true, false} {
		r = newRig(1200, 60, 1)
		if known {
			r.ctx.Events.Phases = []sounding.PhaseSpan{{Phase: sounding.Ascending, Span: sounding.Span{From: 60, To: 500}}, {Phase: sounding.Floating, Span: sounding.Span{From: 500, To: 550}}, {Phase: sounding.Ascending, Span: sounding.Span{From: 550, To: 1200}}}
		}
		z = r.values(sounding.HeightMSL)
		for i := len(z) - 1; i >= 500; i-- {
			z[i] -= 11 * float64(min(i-500, 50))
		}
		f = one(t, r.only(quality.Ascent), map[bool]sounding.Variable{true: sounding.NoVariable, false: sounding.HeightMSL}[known])
		if !strings.Contains(f.Sentence, map[bool]string{true: "sinks by", false: "the rate of climb changes by up to 11 m/s within 20 s"}[known]) {
			t.Errorf("float known %v: %s", known, f.Sentence)
		}
	}
	r = newRig(1200, 60, 1)
	z = r.values(sounding.HeightMSL)
	for i := range z {
		z[i] = 100 + (z[i]-100)/2.5 // 2 m/s
	}
	rep := r.only(quality.Ascent)
	if len(rep.Findings) != 1 || rep.Findings[0].Severity != sounding.Note || math.Abs(rep.Findings[0].Measured.Value()-2) > 0.1 {
		t.Errorf("slow balloon: %v", rep.Findings)
	}
}

func TestWindShearAndRepeat(t *testing.T) {
	r := newRig(900, 60, 1)
	for i := 400; i < 900; i++ {
		r.values(sounding.WindU)[i] += 30
	}
	f := one(t, r.only(quality.WindShear), sounding.WindU)
	if f.Measured.Value() < 10 || !f.Spans[0].Contains(400) {
		t.Errorf("%+v", f)
	}
	r = newRig(900, 60, 1)
	for i := 400; i < 900; i++ {
		r.values(sounding.WindU)[i], r.values(sounding.WindV)[i] = -r.values(sounding.WindU)[i]-3, -r.values(sounding.WindV)[i]
	}
	r.values(sounding.WindU) // unchanged rows hold 5–9 m/s
	if f = one(t, r.only(quality.WindShear), sounding.WindU); !strings.Contains(f.Sentence, "180°") {
		t.Errorf("%q", f.Sentence)
	}
	r = newRig(900, 60, 1)
	for i := 400; i < 425; i++ {
		r.values(sounding.WindU)[i], r.values(sounding.WindV)[i] = 7, 3
	}
	if f = one(t, r.only(quality.WindRepeat), sounding.WindV); f.Spans[0] != (sounding.Span{From: 400, To: 425}) {
		t.Errorf("%v", f.Spans)
	}
}

func TestHumidityRange(t *testing.T) {
	r := newRig(300, 0, 1)
	rh := r.values(sounding.Humidity)
	rh[0], rh[50], rh[100], rh[150], rh[299] = 101, 103, 106, -1, -6
	rep := r.only(quality.HumidityRange)
	want := map[int]sounding.Severity{0: sounding.Note, 50: sounding.Questionable, 100: sounding.Bad, 150: sounding.Note, 299: sounding.Bad}
	for row, severity := range want {
		seen := false
		for _, f := range rep.Findings {
			for _, s := range f.Spans {
				seen = seen || s.Contains(row) && f.Severity == severity
			}
		}
		if !seen {
			t.Errorf("%g %% in row %d is not %v: %v", rh[row], row, severity, rep.Findings)
		}
	}
}

func TestIceSaturationAndIcing(t *testing.T) {
	r := newRig(3600, 0, 1)
	rh, temperature := r.values(sounding.Humidity), r.values(sounding.Temperature)
	in := newInput(&r.ctx, nil, &r.cols, Default(), "raw")
	ice := in.iceRelative()
	// Hyland and Wexler: saturation over ice at −40 °C is 67.4 % over water.
	for i := range temperature {
		if math.Abs(temperature[i]-233.15) < 0.03 && math.Abs(ice[i]-67.4) > 0.1 {
			t.Errorf("saturation over ice at %.2f K is %.2f %%", temperature[i], ice[i])
		}
	}
	for i := 1500; i < 1520; i++ {
		rh[i] = 1.8 * ice[i]
	}
	if f := one(t, r.only(quality.IceSaturation), sounding.Humidity); f.Spans[0] != (sounding.Span{From: 1500, To: 1520}) || math.Abs(f.Measured.Value()-180) > 1 {
		t.Errorf("%+v", f)
	}
	r = newRig(3600, 0, 1)
	rh = r.values(sounding.Humidity)
	for i := range rh {
		rh[i] = 10
		if i > 1200 && i < 1700 {
			rh[i] = ice[i] * (1.02 + 0.001*math.Sin(float64(i)))
		}
	}
	if f := one(t, r.only(quality.Icing), sounding.Humidity); !f.Spans[0].Contains(1500) || f.Measured.Value() < 400 {
		t.Errorf("%+v", f)
	}
	for i := 1000; i < len(rh); i++ { // dry below, near saturation 3 km into the stratosphere
		rh[i] = ice[i] * (0.9 + 0.03*math.Sin(float64(i)))
	}
	if f := one(t, r.only(quality.Icing), sounding.Humidity); !strings.Contains(f.Sentence, "tropopause") {
		t.Errorf("%+v", f)
	}
}

func TestStratosphericHumidity(t *testing.T) {
	r := newRig(4500, 0, 1)
	rh := r.values(sounding.Humidity)
	for i := range rh {
		rh[i] = 12
	}
	f := one(t, r.only(quality.StratosphericHumidity), sounding.Humidity)
	if f.Bottom.Value() < 15000 || f.Unit != "ppmv" || f.Measured.Value() < 30 {
		t.Errorf("12 %% in the stratosphere: %+v", f)
	}
	for i := range rh {
		rh[i] = 0.1
	}
	if found := above(r.only(quality.StratosphericHumidity)); len(found) > 0 {
		t.Error(found[0].Sentence)
	}
}

func TestEvaporation(t *testing.T) {
	r := newRig(900, 0, 1)
	rh, temperature := r.values(sounding.Humidity), r.values(sounding.Temperature)
	for i := range rh {
		switch {
		case i < 400:
			rh[i] = 99
		case i < 420:
			rh[i] = 99 - 3*float64(i-400)
		default:
			rh[i] = 39
		}
		if i >= 400 {
			temperature[i] -= 2 * math.Min(float64(i-400)/10, 1) * math.Exp(-math.Max(0, float64(i-425))/12)
		}
	}
	f := one(t, r.only(quality.Evaporation), sounding.Temperature)
	if d := f.Measured.Value(); d < 1 || d > 2.2 || !f.Spans[0].Contains(420) || f.Spans[0].To > 520 {
		t.Errorf("%g K over %v", d, f.Spans)
	}
	one(t, r.only(quality.Evaporation), sounding.Humidity)
}

// A thermometer is wet from rain as well, where nothing near it is saturated; but the
// fall at the end of a stuck temperature is none of water.
func TestEvaporationWithoutCloud(t *testing.T) {
	build := func(spoil func(i int, temperature []float64)) sounding.Report {
		r := newRig(900, 0, 1)
		rh, temperature := r.values(sounding.Humidity), r.values(sounding.Temperature)
		for i := range rh {
			rh[i] = 70 - 2*math.Max(0, math.Min(float64(i-400), 20))
			spoil(i, temperature)
		}
		return r.only(quality.Evaporation)
	}
	wet := func(i int, temperature []float64) {
		if i >= 400 {
			temperature[i] -= 2 * math.Min(float64(i-400)/10, 1) * math.Exp(-math.Max(0, float64(i-425))/12)
		}
	}
	f := one(t, build(wet), sounding.Temperature)
	if d := f.Measured.Value(); d < 1 || d > 2.2 || !f.Spans[0].Contains(415) || f.Spans[0].To > 520 {
		t.Errorf("%g K over %v", d, f.Spans)
	}
	rep := build(func(i int, temperature []float64) {
		if i >= 400 { // the same, but all of it at once
			temperature[i] -= 2 * math.Exp(-math.Max(0, float64(i-425))/12)
		}
	})
	if found := above(rep); len(found) > 0 {
		t.Errorf("a step of 2 K: %s", found[0].Sentence)
	}
}

func TestTwinHumidity(t *testing.T) {
	build := func(spoil func(i int, ice float64, a, b *float64)) sounding.Report {
		r := newRig(1500, 60, 1)
		in := newInput(&r.ctx, nil, &r.cols, Default(), "raw")
		ice := in.iceRelative()
		a, b := r.put(sounding.HumidityA, 0), r.put(sounding.HumidityB, 0)
		for i := range a {
			a[i], b[i] = r.values(sounding.Humidity)[i]+0.3*math.Sin(1.7*float64(i)), r.values(sounding.Humidity)[i]+0.3*math.Cos(1.9*float64(i))
			spoil(i, ice[i], &a[i], &b[i])
		}
		return r.only(quality.TwinHumidity)
	}
	if found := build(func(int, float64, *float64, *float64) {}).Findings; len(found) > 0 {
		t.Error(found[0].Sentence)
	}
	rep := build(func(i int, ice float64, a, b *float64) { *b += 3 })
	if len(rep.Findings) != 1 || rep.Findings[0].Severity != sounding.Note || math.Abs(rep.Findings[0].Measured.Value()+3) > 0.3 {
		t.Errorf("3 %% apart: %v", rep.Findings)
	}
	rep = build(func(i int, ice float64, a, b *float64) {
		if i > 900 {
			*b = 55 + 0.01*math.Sin(float64(i))
			*a *= 0.3
		}
	})
	if f := one(t, rep, sounding.HumidityB); !strings.Contains(f.Sentence, "hardly moves") {
		t.Error(f.Sentence)
	}
	rep = build(func(i int, ice float64, a, b *float64) {
		if !math.IsNaN(ice) && i > 700 {
			*a = ice * (1 + 0.02*math.Sin(float64(i)/40))
			*b = 30 + 3*math.Sin(float64(i)/50)
		}
	})
	if f := one(t, rep, sounding.HumidityA); !strings.Contains(f.Sentence, "saturation over ice") {
		t.Error(f.Sentence)
	}
}

// A radiosonde flown against its ground check, or against a ruling, is said so in review.
func TestGroundCheckRuling(t *testing.T) {
	const result = "reject: temperature reads +0.70 K against the reference"
	for name, c := range map[string]struct {
		result, ruling, by, reason string
		want                       string
	}{
		"accepted":           {"accept: 4 quantities are within their limits", "accept", "A. Operator", "", ""},
		"accepted, no word":  {"accept: 4 quantities are within their limits", "", "", "", ""},
		"overruled":          {result, "accept", "A. Operator", "last one, compared twice", "flown against the ground check by a ruling of A. Operator: last one, compared twice"},
		"overruled, nobody":  {result, "accept", "", "", "a person who is not named: no reason is given"},
		"incomplete, ruled":  {"incomplete: no quantity was compared", "accept", "B", "no box here", "no box here"},
		"rejected, no word":  {result, "", "", "", "nobody ruled on it"},
		"ruled unfit, flown": {"accept: 3 quantities", "reject", "B", "battery", "not to fly: battery"},
	} {
		r := newRig(900, 60, 1)
		g := &r.ctx.Record.GroundCheck
		g.Result, g.Ruling, g.RuledBy, g.RulingReason = c.result, c.ruling, c.by, c.reason
		rep := r.only(quality.GroundCheck)
		if c.want == "" {
			if found := above(rep); len(found) > 0 {
				t.Errorf("%s: %s", name, found[0].Sentence)
			}
			continue
		}
		if f := one(t, rep, sounding.NoVariable); f.Field != "ground_check.ruling" || f.Severity != sounding.Questionable || !strings.Contains(f.Sentence, c.want) {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

func TestGroundCheckPositionTelemetry(t *testing.T) {
	r := newRig(900, 60, 1)
	g := &r.ctx.Record.GroundCheck
	g.ReferenceTemperature, g.Temperature, g.ReferencePressure, g.Pressure = 293, 293.9, 1000, 1000.4
	rep := r.only(quality.GroundCheck)
	if f := one(t, rep, sounding.Temperature); f.Field != "ground_check.temperature_k" || math.Abs(f.Measured.Value()-0.9) > 1e-9 {
		t.Errorf("%+v", f)
	}
	if len(above(rep)) != 1 {
		t.Error(rep.Findings)
	}
	lat, lon := r.put(sounding.Latitude, 0), r.put(sounding.Longitude, 0)
	for i := range lat {
		lat[i], lon[i] = 12+float64(i)*1e-4, 179.99+float64(i)*1e-4
		if lon[i] > 180 {
			lon[i] -= 360
		}
	}
	if found := above(r.only(quality.Position)); len(found) > 0 {
		t.Errorf("across the date line: %s", found[0].Sentence)
	}
	lat[500] += 0.3
	if f := one(t, r.only(quality.Position), sounding.Latitude); f.Severity != sounding.Bad || f.Spans[0] != (sounding.Span{From: 500, To: 501}) {
		t.Errorf("%+v", f)
	}
	lat[500] -= 0.3
	for i := 600; i < 640; i++ {
		lat[i], lon[i] = lat[600], lon[600]
	}
	if f := one(t, r.only(quality.Position), sounding.Longitude); f.Spans[0].From != 600 || f.Measured.Value() < 30 {
		t.Errorf("%+v", f)
	}
	frame := r.put(sounding.Frame, 0)
	for i := range frame {
		frame[i] = float64(1000 + i)
		if i >= 300 && i < 310 {
			frame[i] = 1300
		}
	}
	if f := one(t, r.only(quality.Telemetry), sounding.NoVariable); f.Spans[0] != (sounding.Span{From: 301, To: 310}) {
		t.Errorf("%+v", f)
	}
}

func TestTimeOrder(t *testing.T) {
	r := newRig(300, 0, 1)
	r.cols.Time[100] = 5
	r.cols.Time[200] = r.cols.Time[199]
	rep := r.only(quality.TimeOrder)
	if len(rep.Findings) != 2 || rep.Findings[0].Severity != sounding.Bad || rep.Findings[0].Spans[0].From != 100 || rep.Findings[1].Spans[0].From != 200 {
		t.Errorf("%v", rep.Findings)
	}
	r = newRig(300, 0, 1)
	for i := 150; i < 300; i++ {
		r.cols.Time[i] += 3600
	}
	if f := one(t, r.only(quality.TimeOrder), sounding.NoVariable); math.Abs(f.Measured.Value()-3600) > 2 {
		t.Errorf("%q", f.Sentence)
	}
}

func TestSettings(t *testing.T) {
	if err := Default().Validate(); err != nil {
		t.Error(err)
	}
	if _, err := Read("mine.toml", []byte("[spike]\nkay = 3\n")); err == nil || !strings.Contains(err.Error(), "line 2") {
		t.Errorf("unknown key: %v", err)
	}
	s, err := Read("mine.toml", []byte("[spike]\nk = 4\n"))
	if err != nil || s.Spike.K != 4 || s.Spike.Window != Default().Spike.Window {
		t.Errorf("one key: %v", err)
	}
	if _, err := Read("mine.toml", []byte("[gross]\ncoldest_c = [1.0]\n")); err == nil {
		t.Error("a window of one level was taken")
	}
	for _, line := range strings.Split(DefaultText, "\n") {
		if strings.Contains(line, " = ") && !strings.Contains(line, "#") && !strings.Contains(line, "[") && !strings.Contains(line, "plateau_margin_m") {
			t.Errorf("no source beside %q", line)
		}
	}
}
