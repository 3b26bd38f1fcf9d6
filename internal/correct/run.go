// Package correct takes a checked flight and removes, or states, what the
// instrument added to the air: lag and sun on the thermometer, lag, heating cycle
// and dry bias of the humidity sensors, barometer offset; it decides which vertical
// coordinate is used where, derives heights and humidity quantities, and gives
// every variable a two-part uncertainty (k = 1).
//
// The order is fixed, because each step needs the ones before it:
//
//  1. provisional pressure, ascent rate, ventilation and solar elevation;
//  2. temperature: wake spikes, lag, radiation;
//  3. humidity: each sensor's lag and heating, the choice between two sensors, dry
//     bias, limit of trust;
//  4. satellite height, barometer offset, pressure, geopotential height;
//  5. surface observation on the row of release;
//  6. derived quantities.
//
// Bad samples keep their value and are used for nothing. Rows before release and
// after landing are not corrected for effects of flight. Nothing reaches across
// release or burst. Methods, limits and weaknesses: docs/methods.
package correct

import (
	"fmt"
	"math"

	"leadline/internal/humidity"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Result is what the corrections made of a flight.
type Result struct {
	Columns  sounding.Columns
	Steps    []sounding.Step
	Findings []sounding.Finding
	Runs     []sounding.CheckRun
	Settled  []Settled // findings of earlier stages whose cause is gone
}

// Run corrects a checked flight. It is pure: nothing of checked or set is changed,
// and row i of the result is row i of the input. The only error is a set of columns
// whose lengths do not agree.
func Run(checked *sounding.Checked, set *Settings) (Result, error) {
	n := checked.Len()
	for i := range checked.Series {
		s := &checked.Series[i]
		if len(s.Values) != n || (s.Flags != nil && len(s.Flags) != n) {
			return Result{}, fmt.Errorf("corrections: %v has %d values and %d flags for %d rows", s.Variable, len(s.Values), len(s.Flags), n)
		}
	}
	f := newFlight(checked, set)
	defer f.scratch.release()
	f.provisional()

	f.wake()
	f.temperatureLag()
	f.radiation()
	f.temperatureBudget()

	f.humidity()

	f.satelliteHeight()
	f.barometer()
	f.pressure()
	f.geopotential()

	f.surface()
	f.derived()
	return f.result(), nil
}

// state is one variable as it stands: what the last step left.
type state struct {
	values      []float64
	flags       []quality.Flag
	tests       []quality.Bits
	independent []float64
	common      []float64
	changed     bool // differs from the series of the input, in values or uncertainty
}

// flight is the working frame of one run.
type flight struct {
	*scratch
	in    *sounding.Checked
	set   *Settings
	sheet *sounding.InstrumentSheet // nil where there is none
	n     int
	time  []float64
	legs  []*leg
	now   [sounding.NumVariables]*state
	steps []sounding.Step
	found []sounding.Finding
	runs  []sounding.CheckRun

	settled   []Settled
	settledAt []bool // by index of the input's findings

	levels  map[float64][]float64
	vapour  humidity.Formula // of the humidity calibration
	heights []float64        // m above mean sea level, provisional, for findings

	satellite bool      // HeightMSL comes from satellites and may be computed with
	recovery  float64   // s, fitted to how heated humidity elements cool; 0 where it was not
	share     []float64 // of the satellite height in pressure, 0 … 1; nil where there is none

	air        *column   // made once temperature and humidity are final
	saturation []float64 // hPa over water at the final temperature, as far as it was needed
}

// leg is the ascent or the descent: the rows whose times rise, with what every
// correction needs to know about the way the sensors were carried there.
type leg struct {
	descent     bool
	rows        []int32
	time        []float64
	pressure    []float64 // hPa, provisional
	height      []float64 // m above mean sea level, provisional
	rate        []float64 // m s⁻¹ upwards
	ventilation []float64 // m s⁻¹
	density     []float64 // kg m⁻³
	elevation   []float64 // of the Sun, degrees; NaN where not known
	sunlit      []float64 // 1 in full view of the Sun, 0 in the dark
	excess      []float64 // K, radiation error found for the thermometer
}

func (l *leg) len() int { return len(l.rows) }

func newFlight(in *sounding.Checked, set *Settings) *flight {
	f := &flight{scratch: scratches.Get().(*scratch), in: in, set: set, sheet: in.Sheet, n: in.Len(), time: in.Time, levels: map[float64][]float64{}, settledAt: make([]bool, len(in.Findings))}
	f.vapour = set.General.Formula
	if f.sheet != nil {
		if v, err := humidity.ParseFormula(f.sheet.Humidity.Formula); err == nil && v != humidity.NoFormula {
			f.vapour = v
		}
	}
	for i := range in.Series {
		s := &in.Series[i]
		st := &state{values: s.Values, flags: s.Flags, tests: s.Tests, independent: s.Independent, common: s.Common}
		if s.Variable < sounding.NumVariables {
			f.now[s.Variable] = st
		}
	}
	for k, span := range [2]sounding.Span{in.Events.Ascent(), in.Events.Descent()} {
		span = span.Clip(sounding.Span{From: 0, To: f.n})
		l := &leg{descent: k == 1}
		last := math.Inf(-1)
		for i := span.From; i < span.To; i++ {
			if t := f.time[i]; t > last && !math.IsInf(t, 1) {
				l.rows, last = append(l.rows, int32(i)), t
			}
		}
		if len(l.rows) > 0 {
			l.time = f.gather(f.time, l.rows)
			f.legs = append(f.legs, l)
		}
	}
	return f
}

// has tells whether the flight holds the variable at all.
func (f *flight) has(v sounding.Variable) bool { return f.now[v] != nil }

// usable returns the values of v with NaN where they must not be used, in scratch
// memory; nil where there are none.
func (f *flight) usable(v sounding.Variable) []float64 {
	st := f.now[v]
	if st == nil {
		return nil
	}
	out := f.copied(st.values)
	for i, flag := range st.flags {
		if flag == quality.Bad || flag == quality.Missing {
			out[i] = math.NaN()
		}
	}
	return possible(v, out)
}

// usableIn returns usable values on the rows of a leg; all NaN where there are none.
func (f *flight) usableIn(v sounding.Variable, l *leg) []float64 {
	st := f.now[v]
	out := f.column(len(l.rows))
	if st == nil {
		fill(out, math.NaN())
		return out
	}
	for k, i := range l.rows {
		out[k] = st.values[i]
		if st.flags != nil && (st.flags[i] == quality.Bad || st.flags[i] == quality.Missing) {
			out[k] = math.NaN()
		}
	}
	return possible(v, out)
}

// possible takes out what no atmosphere can have, whatever its flag says, so that no
// logarithm or quotient below is taken of nonsense.
func possible(v sounding.Variable, x []float64) []float64 {
	var low, high float64
	switch v {
	case sounding.Temperature:
		low, high = 100, 400
	case sounding.Pressure:
		low, high = 0.01, 1200
	case sounding.HeightMSL, sounding.HeightEllipsoid, sounding.GeopotentialHeight:
		low, high = -1000, 100e3
	case sounding.Humidity, sounding.HumidityA, sounding.HumidityB:
		low, high = -100, 1000
	default:
		return x
	}
	for i, y := range x {
		if !(y >= low && y <= high) {
			x[i] = math.NaN()
		}
	}
	return x
}

// step records a change of one variable and makes it the state. Values keep their
// flags; flags are brought in line where a value appears or goes.
func (f *flight) step(s sounding.Step) {
	st := &state{values: s.Values, independent: s.Independent, common: s.Common, changed: true}
	if old := f.now[s.Variable]; old != nil {
		st.flags, st.tests = old.flags, old.tests
		if st.independent == nil {
			st.independent = old.independent
		}
		if st.common == nil {
			st.common = old.common
		}
	}
	f.now[s.Variable] = st
	f.steps = append(f.steps, s)
}

// budget sets the uncertainty of a variable without a step: its values do not change.
func (f *flight) budget(v sounding.Variable, independent, common []float64) {
	st := *f.now[v]
	st.independent, st.common, st.changed = independent, common, true
	f.now[v] = &st
}

// flagged gives a variable flags and tests of its own.
func (f *flight) flagged(v sounding.Variable, flags []quality.Flag, tests []quality.Bits) {
	st := *f.now[v]
	st.flags, st.tests, st.changed = flags, tests, true
	f.now[v] = &st
}

func (f *flight) ran(c quality.Check, v sounding.Variable) {
	f.runs = append(f.runs, sounding.CheckRun{Check: c, Variable: v, Ran: true, Covered: f.covered()})
}

// covered is what a correction has looked at: the rows of the legs.
func (f *flight) covered() []sounding.Span {
	spans := []sounding.Span{}
	for _, l := range f.legs {
		spans = append(spans, sounding.Span{From: int(l.rows[0]), To: int(l.rows[len(l.rows)-1]) + 1})
	}
	return spans
}

func (f *flight) notRun(c quality.Check, v sounding.Variable, format string, a ...any) {
	f.runs = append(f.runs, sounding.CheckRun{Check: c, Variable: v, Why: fmt.Sprintf(format, a...)})
}

func (f *flight) finding(x sounding.Finding) {
	x.Stage = "corrected"
	f.found = append(f.found, sounding.Locate(x, &f.in.Columns, f.heights, f.in.Epoch))
}

// result puts the states together into columns.
func (f *flight) result() Result {
	var series []sounding.Series
	for v := range f.now {
		st := f.now[v]
		if st == nil || !st.changed {
			continue
		}
		s := sounding.Series{Variable: sounding.Variable(v), Values: st.values, Flags: st.flags, Tests: st.tests, Independent: st.independent, Common: st.common}
		s.Flags, s.Tests = consistent(s.Values, s.Flags, s.Tests)
		series = append(series, s)
	}
	return Result{Columns: f.in.Columns.With(series...), Steps: f.steps, Findings: f.found, Runs: f.runs, Settled: f.settled}
}

// consistent returns flags that agree with where there are values.
func consistent(values []float64, flags []quality.Flag, tests []quality.Bits) ([]quality.Flag, []quality.Bits) {
	fixed := flags
	copied := false
	if flags == nil {
		fixed, copied = make([]quality.Flag, len(values)), true
	}
	if tests == nil {
		tests = make([]quality.Bits, len(values))
	}
	for i, x := range values {
		want := fixed[i]
		switch {
		case math.IsNaN(x):
			want = quality.Missing
		case want == 0 || want == quality.Missing:
			want = quality.NotEvaluated
		}
		if want != fixed[i] {
			if !copied {
				fixed, copied = append([]quality.Flag(nil), flags...), true
			}
			fixed[i] = want
		}
	}
	return fixed, tests
}

// scatter writes y to the rows of dst.
func scatter(dst, y []float64, rows []int32) {
	for k, i := range rows {
		dst[i] = y[k]
	}
}

func fill(x []float64, v float64) {
	for i := range x {
		x[i] = v
	}
}

// level is a column of v that steps and series may share.
func (f *flight) level(v float64) []float64 {
	if x, ok := f.levels[v]; ok {
		return x
	}
	x := constant(f.n, v)
	if present(v) {
		f.levels[v] = x
	}
	return x
}

func constant(n int, v float64) []float64 {
	x := make([]float64, n)
	fill(x, v)
	return x
}

func clone(x []float64) []float64 { return append([]float64(nil), x...) }

func present(x float64) bool { return x == x }

// rootSum is the sum in quadrature of a few parts.
func rootSum(parts ...float64) float64 {
	s := 0.0
	for _, p := range parts {
		s += p * p
	}
	return math.Sqrt(s)
}

func numberOf(name string, v float64, unit, source string) sounding.Coefficient {
	return sounding.Coefficient{Name: name, Value: sounding.Number(v), Unit: unit, Source: source}
}

func (f *flight) sheetName() string {
	if f.sheet == nil {
		return ""
	}
	return "sheet " + f.sheet.Name
}

// hypot is the sum in quadrature of two parts; the library's guards against overflow
// cost more than they are worth for uncertainties.
func hypot(a, b float64) float64 { return math.Sqrt(a*a + b*b) }
