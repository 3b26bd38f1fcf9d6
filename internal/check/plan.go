// Package check holds the quality tests of a flight, one file a test. Every test is
// a pure function of the columns and never changes a value: it returns findings
// and, for each variable, whether it ran or why it could not.
//
// Raw runs the tests that look at values as received; Corrected runs those that
// make sense again after corrections. The plan lists all of them.
package check

import (
	"leadline/internal/constants"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

const zeroCelsius = constants.ZeroCelsius

// stages in which a test runs.
const (
	raw       = 1 << iota // on values as received
	corrected             // on corrected values
)

// planned is one line of the plan.
type planned struct {
	check     quality.Check
	stages    int
	variables []sounding.Variable // what it looks at and may doubt
	run       func(*input) sounding.Report
}

var (
	thermodynamic = []sounding.Variable{sounding.Pressure, sounding.Temperature}
	humidities    = []sounding.Variable{sounding.Humidity, sounding.HumidityA, sounding.HumidityB}
	winds         = []sounding.Variable{sounding.WindU, sounding.WindV, sounding.WindSpeed, sounding.WindDirection, sounding.VelocityEast, sounding.VelocityNorth}
	heightsOf     = []sounding.Variable{sounding.HeightMSL, sounding.HeightEllipsoid, sounding.GeopotentialHeight}
	positions     = []sounding.Variable{sounding.Latitude, sounding.Longitude}
)

func list(groups ...[]sounding.Variable) []sounding.Variable {
	var out []sounding.Variable
	for _, g := range groups {
		out = append(out, g...)
	}
	return out
}

// plan is the order of the tests: time, gaps, limits, single samples, runs,
// consistency of variables, the vertical, humidity, the record.
var plan = []planned{
	{quality.TimeOrder, raw, nil, timeOrder},
	{quality.Gap, raw, list(thermodynamic, humidities, winds, heightsOf[:1]), gap},
	{quality.Gross, raw | corrected, list(thermodynamic, winds, heightsOf, positions), gross},
	{quality.Spike, raw | corrected, list(thermodynamic, humidities, winds, heightsOf[:1]), spike},
	{quality.Step, raw, list(thermodynamic, humidities, winds, heightsOf[:1]), step},
	{quality.Stuck, raw, list(thermodynamic, humidities, heightsOf[:1]), stuck},
	{quality.Clamped, raw, humidities, clamped},
	{quality.WindRepeat, raw, winds, windRepeat},
	{quality.Position, raw, positions, position},
	{quality.Telemetry, raw, []sounding.Variable{sounding.Frame, sounding.Battery}, telemetry},
	{quality.BarometerHeight, raw, []sounding.Variable{sounding.Pressure}, barometerHeight},
	{quality.GroundCheck, raw, nil, groundCheck},
	{quality.Baseline, raw, list(thermodynamic, humidities, winds, heightsOf[:1]), baseline},
	{quality.Ascent, raw, heightsOf[:1], ascent},
	{quality.Superadiabatic, raw | corrected, []sounding.Variable{sounding.Temperature}, superadiabatic},
	{quality.WindShear, raw | corrected, winds, windShear},
	{quality.HumidityRange, raw | corrected, humidities, humidityRange},
	{quality.IceSaturation, raw | corrected, humidities, iceSaturation},
	{quality.TwinHumidity, raw, humidities[1:], twinHumidity},
	{quality.Icing, raw, humidities, icing},
	{quality.Evaporation, raw, []sounding.Variable{sounding.Temperature, sounding.Humidity}, evaporation},
	{quality.StratosphericHumidity, raw | corrected, humidities, stratosphericHumidity},
}

// Raw runs the tests of the raw stage on cols, whose Time is s since release (where
// one was found). ctx gives events, launch record and instrument sheet; record and
// sheet may be nil. Nothing is changed. Findings come in the order of the plan.
func Raw(ctx *sounding.Context, cols *sounding.Columns, set *Settings) sounding.Report {
	return run(newInput(ctx, nil, cols, set, "raw"), raw)
}

// Corrected runs the second pass on corrected columns; before holds the checked
// columns. Samples that are bad already are left out.
func Corrected(ctx *sounding.Context, before, cols *sounding.Columns, set *Settings) sounding.Report {
	return run(newInput(ctx, before, cols, set, "corrected"), corrected)
}

func run(in *input, stage int) sounding.Report {
	var all sounding.Report
	for _, p := range plan {
		if p.stages&stage == 0 {
			continue
		}
		r := skipEmpty(in, &p)
		if r == nil {
			x := p.run(in)
			r = &x
		}
		all.Findings = append(all.Findings, r.Findings...)
		all.Runs = append(all.Runs, r.Runs...)
	}
	return all
}

// skipEmpty returns the report of a test that has no rows to run on, nil where it has.
func skipEmpty(in *input, p *planned) *sounding.Report {
	if in.flight.Len() > 0 {
		return nil
	}
	b := in.begin(p.check)
	why := "there are no rows"
	if in.n > 0 {
		why = "there are no rows after release"
	}
	for _, v := range p.variables {
		if in.cols.Get(v) != nil {
			b.skipped(v, why)
		}
	}
	return &b.rep
}

// each calls run for every variable of vs that has at least one sample in flight and
// reports the others of the flight as skipped.
func (b *builder) each(vs []sounding.Variable, run func(*samples)) {
	for _, v := range vs {
		if b.in.cols.Get(v) == nil {
			continue
		}
		if v == sounding.HumidityA || v == sounding.HumidityB {
			if _, why := b.in.measures(v); why != "" {
				b.skipped(v, why)
				continue
			}
		}
		s := b.in.of(v)
		if s.len() == 0 {
			b.skipped(v, "it has no value in flight")
			continue
		}
		run(s)
		b.covered(v, b.in.measuredSpans(v))
	}
}
