// Package wind makes the wind of a flight: from satellite velocities, from positions,
// or as reported; the string's pendulum is found in the spectrum and filtered out
// with a stated resolution, short gaps are bridged, the first minute is blended to
// the surface wind, and every value gets a two-part uncertainty (k = 1).
//
// The order: source, pendulum, filter, bridge, surface, speed and direction. Bad
// samples are never used. A filter never reaches across release, burst or a long
// gap. Reported winds that are already filtered are not filtered again. Methods:
// docs/methods/wind.md, pendulum.md, surface-wind.md.
package wind

import (
	"fmt"
	"math"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Result is what was made of a flight's wind.
type Result struct {
	Columns  sounding.Columns
	Steps    []sounding.Step
	Findings []sounding.Finding
	Runs     []sounding.CheckRun
}

// Run makes the wind of columns. It is pure: cols is not changed, and row i of the
// result is row i of the input. The only error is columns whose lengths disagree.
func Run(ctx *sounding.Context, cols *sounding.Columns, set *Settings) (Result, error) {
	n := cols.Len()
	for i := range cols.Series {
		if s := &cols.Series[i]; len(s.Values) != n || s.Flags != nil && len(s.Flags) != n {
			return Result{}, fmt.Errorf("wind: %v has %d values and %d flags for %d rows", s.Variable, len(s.Values), len(s.Flags), n)
		}
	}
	b := newBlow(ctx, cols, set)
	if !b.source() {
		return b.result(), nil
	}
	if b.from == reported {
		b.reportedBudget()
	} else {
		b.filter()
		b.bridge()
		b.surface()
	}
	b.speedAndDirection()
	return b.result(), nil
}

type origin string

const (
	velocity origin = "velocity"
	position origin = "position"
	reported origin = "reported"
)

// blow is the working frame of one run.
type blow struct {
	ctx    *sounding.Context
	cols   *sounding.Columns
	set    *Settings
	n      int
	legs   []leg
	from   origin
	noise  float64
	common float64

	u, v                 []float64
	independent, commonU []float64
	flags                []quality.Flag
	tests                []quality.Bits
	heights              []float64

	steps []sounding.Step
	found []sounding.Finding
	runs  []sounding.CheckRun
	extra []sounding.Series
}

// leg is the rows of the ascent or the descent whose times rise.
type leg struct {
	descent bool
	rows    []int32
	time    []float64
}

func newBlow(ctx *sounding.Context, cols *sounding.Columns, set *Settings) *blow {
	b := &blow{ctx: ctx, cols: cols, set: set, n: cols.Len()}
	b.heights = cols.Values(sounding.HeightMSL)
	for k, span := range [2]sounding.Span{ctx.Events.Ascent(), ctx.Events.Descent()} {
		span = span.Clip(sounding.Span{From: 0, To: b.n})
		l := leg{descent: k == 1}
		last := math.Inf(-1)
		for i := span.From; i < span.To; i++ {
			if t := cols.Time[i]; t > last && !math.IsInf(t, 1) {
				l.rows, l.time, last = append(l.rows, int32(i)), append(l.time, t), t
			}
		}
		if len(l.rows) > 0 {
			b.legs = append(b.legs, l)
		}
	}
	b.noise, b.common = set.Generic.Noise, set.Generic.U
	if ctx.Sheet != nil && ctx.Sheet.Wind.Floor > 0 {
		b.noise, b.common = ctx.Sheet.Wind.Noise, ctx.Sheet.Wind.Floor
	}
	return b
}

func (b *blow) result() Result {
	return Result{Columns: b.cols.With(b.extra...), Steps: b.steps, Findings: b.found, Runs: b.runs}
}

func (b *blow) notRun(c quality.Check, v sounding.Variable, format string, a ...any) {
	b.runs = append(b.runs, sounding.CheckRun{Check: c, Variable: v, Why: fmt.Sprintf(format, a...)})
}

func (b *blow) ran(c quality.Check, v sounding.Variable) {
	covered := []sounding.Span{}
	for _, l := range b.legs {
		covered = append(covered, sounding.Span{From: int(l.rows[0]), To: int(l.rows[len(l.rows)-1]) + 1})
	}
	b.runs = append(b.runs, sounding.CheckRun{Check: c, Variable: v, Ran: true, Covered: covered})
}

func (b *blow) finding(x sounding.Finding) {
	x.Stage = "corrected"
	b.found = append(b.found, sounding.Locate(x, b.cols, b.heights, b.ctx.Epoch))
}

// pair records a step of both components and makes it the state.
func (b *blow) pair(method string, kind sounding.StepKind, u, v, independent, common, resolution []float64, c []sounding.Coefficient, note string) {
	b.u, b.v, b.independent, b.commonU = u, v, independent, common
	for _, x := range [2]struct {
		v      sounding.Variable
		values []float64
	}{{sounding.WindU, u}, {sounding.WindV, v}} {
		b.steps = append(b.steps, sounding.Step{Method: method, Kind: kind, Variable: x.v, Values: x.values,
			Independent: independent, Common: common, Coefficients: c, Resolution: resolution, Note: note})
	}
}

// usable returns the values of v with NaN where they must not be used; all NaN where
// there are none.
func (b *blow) usable(v sounding.Variable) []float64 {
	if x := b.cols.Usable(v); x != nil {
		return x
	}
	return constant(b.n, math.NaN())
}

// holds tells whether a series has any usable value.
func (b *blow) holds(v sounding.Variable) bool {
	s := b.cols.Get(v)
	if s == nil {
		return false
	}
	for i, x := range s.Values {
		if x == x && (s.Flags == nil || s.Flags[i] != quality.Bad) {
			return true
		}
	}
	return false
}

// speedAndDirection closes the wind: components, speed and direction with flags and
// uncertainties as series of the columns.
func (b *blow) speedAndDirection() {
	speed, direction := constant(b.n, math.NaN()), constant(b.n, math.NaN())
	dirI, dirC := constant(b.n, math.NaN()), constant(b.n, math.NaN())
	const widest = 103.9 // degrees: standard deviation of a direction of which nothing is known, 360/√12
	for i := range speed {
		if b.u[i] != b.u[i] || b.v[i] != b.v[i] {
			continue
		}
		speed[i], direction[i] = earth.WindFromUV(b.u[i], b.v[i])
		dirI[i] = min(widest, b.independent[i]/speed[i]*180/math.Pi)
		dirC[i] = min(widest, b.commonU[i]/speed[i]*180/math.Pi)
	}
	flags, tests := agree(b.u, b.flags, b.tests)
	add := func(v sounding.Variable, values, i, c []float64) {
		b.extra = append(b.extra, sounding.Series{Variable: v, Values: values, Flags: flags, Tests: tests, Independent: i, Common: c})
	}
	add(sounding.WindU, b.u, b.independent, b.commonU)
	add(sounding.WindV, b.v, b.independent, b.commonU)
	if b.from == reported && b.cols.Get(sounding.WindSpeed) != nil && b.cols.Get(sounding.WindDirection) != nil {
		// Reported speed and direction keep their very values.
		for _, x := range [2]struct {
			v    sounding.Variable
			i, c []float64
		}{{sounding.WindSpeed, b.independent, b.commonU}, {sounding.WindDirection, dirI, dirC}} {
			s := *b.cols.Get(x.v)
			s.Independent, s.Common = x.i, x.c
			b.extra = append(b.extra, s)
		}
		return
	}
	add(sounding.WindSpeed, speed, b.independent, b.commonU)
	add(sounding.WindDirection, direction, dirI, dirC)
	b.steps = append(b.steps,
		sounding.Step{Method: "wind", Kind: sounding.StepDerive, Variable: sounding.WindSpeed, Values: speed, Independent: b.independent, Common: b.commonU, Note: "speed of the two components"},
		sounding.Step{Method: "wind", Kind: sounding.StepDerive, Variable: sounding.WindDirection, Values: direction, Independent: dirI, Common: dirC, Note: "direction the wind blows from"})
}

// agree brings flags in line with where there are values.
func agree(values []float64, flags []quality.Flag, tests []quality.Bits) ([]quality.Flag, []quality.Bits) {
	out := make([]quality.Flag, len(values))
	bits := make([]quality.Bits, len(values))
	copy(out, flags)
	copy(bits, tests)
	for i, x := range values {
		switch {
		case x != x:
			out[i] = quality.Missing
		case out[i] == 0 || out[i] == quality.Missing:
			out[i] = quality.NotEvaluated
		}
	}
	return out, bits
}

func constant(n int, v float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = v
	}
	return x
}

func gather(x []float64, rows []int32) []float64 {
	out := make([]float64, len(rows))
	for k, i := range rows {
		out[k] = x[i]
	}
	return out
}

func numberOf(name string, v float64, unit, source string) sounding.Coefficient {
	return sounding.Coefficient{Name: name, Value: sounding.Number(v), Unit: unit, Source: source}
}

// hypot is the sum in quadrature of two parts.
func hypot(a, b float64) float64 { return math.Sqrt(a*a + b*b) }
