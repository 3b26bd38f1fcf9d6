// Package flighttest makes final flights for tests of what comes after the path:
// exports, reports, plots. The profile is invented and smooth enough to be recognised,
// with one of each thing a reader must be able to see: a spike, an iced sensor
// withheld by a decision, a gap, a questionable stretch, rows before release, a descent.
package flighttest

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/levels"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Release is the instant of release of every flight made here.
var Release = time.Date(2031, 6, 3, 23, 4, 11, 250e6, time.UTC)

// before is the number of rows before release.
const before = 60

// noise is a repeatable number in [-1, 1).
func noise(i, stream int) float64 {
	x := uint64(i)*0x9e3779b97f4a7c15 + uint64(stream)*0xbf58476d1ce4e5b9
	x ^= x >> 31
	x *= 0x94d049bb133111eb
	x ^= x >> 29
	return float64(x>>11)/(1<<52) - 1
}

// New returns a flight of rows samples at 1 Hz: an ascent of 5 m/s to a burst after
// four fifths of them, then a fall. It needs at least 200 rows.
func New(rows int) *sounding.Final {
	n := max(rows, 200)
	burst := n * 4 / 5
	f := &sounding.Final{FlightName: "basin-west-20310603T2304", MethodSet: "0.1.0+0a1b2c3d"}
	f.Epoch = Release
	f.Time, f.Line, f.Source = make([]float64, n), make([]int32, n), make([]uint8, n)
	col := func() []float64 { return make([]float64, n) }
	z, gph, p, t, rh, a, b, td, u, v, speed, direction, lat, lon, w := col(), col(), col(), col(), col(), col(), col(), col(), col(), col(), col(), col(), col(), col(), col()
	formula := humidity.HylandWexler
	const siteZ, siteLat, siteLon = 412.0, 46.25, 6.5
	scale := earth.HeightScaleAt(siteLat)
	east, north := 0.0, 0.0
	for i := 0; i < n; i++ {
		f.Time[i], f.Line[i] = float64(i-before)-0.25, int32(i+4)
		switch {
		case i <= before:
			z[i] = siteZ
		case i <= burst:
			w[i] = 5 + 0.6*noise(i/7, 1)
			z[i] = z[i-1] + w[i]
		default:
			w[i] = -math.Min(60, 8*math.Exp(z[i-1]/14000))
			z[i] = math.Max(siteZ, z[i-1]+w[i])
		}
		gph[i] = scale.Geopotential(z[i])
		h := gph[i]
		switch {
		case h < 1500:
			t[i] = 296.15 - 0.0085*(h-412)
		case h < 1800:
			t[i] = 296.15 - 0.0085*1088 + 0.008*(h-1500)
		case h < 12000:
			t[i] = 296.15 - 0.0085*1088 + 2.4 - 0.0069*(h-1800)
		default:
			t[i] = 296.15 - 0.0085*1088 + 2.4 - 0.0069*10200 + 0.0011*(h-12000)
		}
		t[i] += 0.03*noise(i, 2) + 0.5*math.Sin(h/900)*h/30000
		rh[i] = 62 + 30*math.Exp(-math.Pow((h-3200)/700, 2)) - 45*math.Exp(-math.Pow((h-6000)/900, 2)) + 25*math.Exp(-math.Pow((h-9500)/900, 2)) + noise(i, 3)
		if h > 11500 {
			rh[i] = 3 + (rh[i]-3)*math.Exp(-(h-11500)/800)
		}
		rh[i] = math.Min(99.5, math.Max(1, rh[i]))
		p[i] = 962.4
		if i > 0 {
			// Hydrostatic balance with the virtual temperature between the two rows.
			tv := humidity.VirtualTemperature((t[i]+t[i-1])/2, formula.FromRelative((rh[i]+rh[i-1])/2, (t[i]+t[i-1])/2), p[i-1])
			p[i] = p[i-1] * math.Exp(-earth.G0*(gph[i]-gph[i-1])/(earth.Rd*tv))
		}
		a[i], b[i] = rh[i]+0.8*noise(i, 4), rh[i]-1+0.8*noise(i, 5)
		if h > 8600 && h < 10600 {
			b[i] = math.Max(b[i], formula.IceSaturation(t[i])*0.98)
		}
		u[i] = 2 + 42*math.Exp(-math.Pow((h-11000)/3600, 2)) + h/4000 + 1.5*math.Sin(h/700)
		v[i] = -3 + 9*math.Sin(h/6500) + 1.5*math.Cos(h/560)
		if h > 20000 {
			u[i] -= (h - 20000) / 500
		}
		if i > before && z[i] > siteZ {
			east, north = east+u[i], north+v[i]
		}
		lat[i] = siteLat + north/111132
		lon[i] = siteLon + east/(111320*math.Cos(siteLat*math.Pi/180))
		td[i] = formula.DewPointFromRelative(rh[i], t[i])
		speed[i], direction[i] = earth.WindFromUV(u[i], v[i])
	}
	raw := func(x []float64, step, amplitude float64, stream int) []float64 {
		out := make([]float64, n)
		for i := range x {
			out[i] = math.Round((x[i]+amplitude*noise(i, stream))/step) * step
		}
		return out
	}
	rawT := raw(t, 0.01, 0.05, 6)
	for i := range rawT {
		rawT[i] += 0.9 * z[i] / 30000
	}
	spike := before + (burst-before)*2/3
	rawT[spike], rawT[spike+1] = rawT[spike]-7.5, rawT[spike+1]-5
	rawP := raw(p, 0.01, 0.05, 7)

	gap := sounding.Span{From: before + (burst-before)/2, To: before + (burst-before)/2 + 40}
	doubt := sounding.Span{From: before, To: before + 45}
	iced := rowsBetween(z, 8700, 10700, before, burst)
	for i := gap.From; i < gap.To; i++ {
		u[i], v[i], speed[i], direction[i] = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	}
	series := func(x sounding.Variable, values []float64, independent, common float64) sounding.Series {
		s := sounding.Series{Variable: x, Values: values, Flags: make([]quality.Flag, n), Tests: make([]quality.Bits, n), Independent: make([]float64, n), Common: make([]float64, n)}
		for i := range values {
			s.Independent[i], s.Common[i] = independent*(1+z[i]/20000), common*(1+z[i]/15000)
			s.Flags[i] = quality.Good
			if math.IsNaN(values[i]) {
				s.Flags[i], s.Independent[i], s.Common[i] = quality.Missing, math.NaN(), math.NaN()
			}
		}
		return s
	}
	mark := func(s *sounding.Series, span sounding.Span, flag quality.Flag, c quality.Check) {
		for i := span.From; i < span.To; i++ {
			if s.Flags[i] != quality.Missing {
				s.Flags[i] = quality.Worst(s.Flags[i], flag)
				s.Tests[i] |= c.Bit()
			}
		}
	}
	sp, st := series(sounding.Pressure, p, 0.03, 0.25), series(sounding.Temperature, t, 0.04, 0.12)
	srh, sa, sb := series(sounding.Humidity, rh, 0.6, 1.8), series(sounding.HumidityA, a, 0.6, 2), series(sounding.HumidityB, b, 0.6, 2)
	std := series(sounding.DewPoint, td, 0.3, 0.6)
	ss, sd := series(sounding.WindSpeed, speed, 0.2, 0.05), series(sounding.WindDirection, direction, 2, 0.5)
	su, sv := series(sounding.WindU, u, 0.15, 0.05), series(sounding.WindV, v, 0.15, 0.05)
	slat, slon := series(sounding.Latitude, lat, 2e-5, 1e-5), series(sounding.Longitude, lon, 2e-5, 1e-5)
	sz, sg, sw := series(sounding.HeightMSL, z, 1, 3), series(sounding.GeopotentialHeight, gph, 1, 3), series(sounding.AscentRate, w, 0.3, 0)
	mark(&sb, iced, quality.Bad, quality.Icing)
	mark(&sb, iced, quality.Bad, quality.Decision)
	for _, s := range []*sounding.Series{&su, &sv, &ss, &sd} {
		mark(s, doubt, quality.Questionable, quality.Pendulum)
	}
	dry := rowsBetween(z, 16000, 1e9, before, burst)
	mark(&srh, dry, quality.Questionable, quality.StratosphericHumidity)
	mark(&std, dry, quality.Questionable, quality.Derived)
	bad := sounding.Span{From: spike + 600, To: spike + 630}.Clip(sounding.Span{From: before, To: burst})
	mark(&st, bad, quality.Bad, quality.Spike)
	mark(&std, bad, quality.Bad, quality.Derived)
	f.Series = []sounding.Series{sp, st, srh, sa, sb, std, ss, sd, su, sv, slat, slon, sz, sg, sw}

	rawSeries := func(x sounding.Variable, values []float64) sounding.Series {
		s := series(x, values, 0, 0)
		s.Independent, s.Common = nil, nil
		return s
	}
	rt := rawSeries(sounding.Temperature, rawT)
	mark(&rt, sounding.Span{From: spike, To: spike + 2}, quality.Bad, quality.Spike)
	f.Before = &sounding.Columns{Time: f.Time, Line: f.Line, Source: f.Source, Series: []sounding.Series{
		rawSeries(sounding.Pressure, rawP), rt, rawSeries(sounding.HumidityA, raw(a, 0.1, 0.5, 8)), rawSeries(sounding.HumidityB, raw(b, 0.1, 0.5, 9)),
		rawSeries(sounding.Latitude, raw(lat, 1e-5, 0, 10)), rawSeries(sounding.Longitude, raw(lon, 1e-5, 0, 11)), rawSeries(sounding.HeightMSL, raw(z, 0.1, 2, 12)),
		rawSeries(sounding.WindSpeed, raw(speed, 0.1, 1.2, 13)), rawSeries(sounding.WindDirection, raw(direction, 0.1, 3, 14)),
	}}
	f.Extra = []sounding.Extra{{Name: "Body temp. [C]", Unit: "C", Values: raw(t, 0.1, 0.3, 15)}}

	f.Events = sounding.Events{
		Release: event(f, before+1, z, p, 0.4, "height and pressure"), Burst: event(f, burst, z, p, 0.8, "height and pressure"), Top: event(f, burst, z, p, 0.8, "height and pressure"),
		Landing: sounding.Event{Time: sounding.NotSet, Uncertainty: sounding.NotSet, Height: sounding.NotSet, Pressure: sounding.NotSet}, End: sounding.EndBurst,
		Phases: []sounding.PhaseSpan{{Phase: sounding.BeforeRelease, Span: sounding.Span{From: 0, To: before + 1}}, {Phase: sounding.Ascending, Span: sounding.Span{From: before + 1, To: burst + 1}}, {Phase: sounding.Descending, Span: sounding.Span{From: burst + 1, To: n}}},
	}
	f.Record = record(siteLat, siteLon, siteZ)
	f.Sheet = &sounding.InstrumentSheet{Name: "twin-humidity", Title: "Radiosonde with two alternately heated humidity sensors (generic)"}
	f.Sheet.Humidity.Formula = "hyland-wexler"
	f.Sheet.Humidity.Sensors = 2
	f.Sheet.Pressure.Sensor = true
	f.Sources = []sounding.Source{{Name: "basin-west.csv", SHA256: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08", Bytes: 512345, Recipe: "demo-text 3f2a", Rows: n, FirstUTC: f.UTC(f.Time[0]), LastUTC: f.UTC(f.Time[n-1])}}

	add := func(c quality.Check, x sounding.Variable, s sounding.Severity, span sounding.Span, measured, limit float64, unit, field, sentence string) {
		g := sounding.Finding{Check: c, Variable: x, Severity: s, Stage: "raw", Measured: sounding.Number(measured), Limit: sounding.Number(limit), Unit: unit, Field: field, Sentence: sentence}
		if span.Len() > 0 {
			g.Spans = []sounding.Span{span}
		}
		f.Findings = append(f.Findings, sounding.Locate(g, &f.Columns, z, f.Epoch))
	}
	add(quality.ReleaseTime, sounding.NoVariable, sounding.Questionable, sounding.Span{}, 131.25, 30, "s", "release.declared_utc", "release was 131 s after the declared time of 23:02:00")
	add(quality.LaunchRecord, sounding.NoVariable, sounding.Note, sounding.Span{}, math.NaN(), math.NaN(), "", "surface.pressure_hpa", "surface pressure is not given")
	add(quality.Icing, sounding.HumidityB, sounding.Bad, iced, 98, 95, "%", "", "humidity sensor B stays at ice saturation from 8.7 to 10.7 km while sensor A dries")
	add(quality.Gap, sounding.WindSpeed, sounding.Questionable, gap, 40, 15, "s", "", "wind is missing for 40 s")
	add(quality.Pendulum, sounding.WindSpeed, sounding.Questionable, doubt, 1.9, 1, "m s-1", "", "wind swings by 1.9 m/s during the first 45 s <unwinder & string>")
	add(quality.Spike, sounding.Temperature, sounding.Bad, sounding.Span{From: spike, To: spike + 2}, 7.5, 1.2, "K", "", "temperature drops by 7.5 K for two samples")
	add(quality.StratosphericHumidity, sounding.Humidity, sounding.Questionable, dry, 3, 5, "%", "", "humidity above 16 km is below what the sensor can measure")
	sounding.NumberIDs(f.Findings)
	f.Runs = []sounding.CheckRun{{Check: quality.Spike, Variable: sounding.Temperature, Ran: true}, {Check: quality.Gap, Variable: sounding.WindSpeed, Ran: true},
		{Check: quality.GroundCheck, Variable: sounding.Temperature, Why: "the launch record holds no ground check"}}
	f.Steps = []sounding.Step{
		{Method: "radiation", Kind: sounding.StepCorrect, Variable: sounding.Temperature, Values: t, Independent: st.Independent, Common: st.Common, Note: "sun on the sensor: up to 0.9 K removed",
			Coefficients: []sounding.Coefficient{{Name: "u_fraction", Value: 0.2, Unit: "1", Source: "sheet"}}},
		{Method: "twin-humidity", Kind: sounding.StepChoose, Variable: sounding.Humidity, Values: rh, Note: "sensor A from 8.7 to 10.7 km, the mean of both elsewhere"},
		{Method: "pendulum", Kind: sounding.StepFilter, Variable: sounding.WindDirection, Values: direction, Note: "string pendulum removed; resolution 28 s"},
	}
	f.Decisions = []sounding.Decision{{ID: "d1", Action: sounding.ActExclude, Variables: []sounding.Variable{sounding.HumidityB}, From: f.UTC(f.Time[iced.From]), To: f.UTC(f.Time[max(iced.From, iced.To-1)]),
		Reason: "iced in cloud, see sensor A", Who: "observer", When: Release.Add(3 * time.Hour)}}
	f.Verdict = sounding.Verdict{Word: sounding.Look, Line: "release was 131 s after the declared time", Reasons: []string{"release was 131 s after the declared time of 23:02:00"}}
	f.Summary = []string{"Released 23:04:11 UTC, 131 s after the declared time.", fmt.Sprintf("Reached %.1f km (%.1f hPa); burst on time.", z[burst]/1000, p[burst]),
		"Humidity sensor B iced from 8.7 to 10.7 km and is withheld there; sensor A used.", "Look: release was 131 s after the declared time."}
	return f
}

func rowsBetween(z []float64, bottom, top float64, from, to int) sounding.Span {
	s := sounding.Span{From: to, To: to}
	for i := from; i < to; i++ {
		if z[i] >= bottom {
			s.From = i
			break
		}
	}
	for s.To = s.From; s.To < to && z[s.To] <= top; s.To++ {
	}
	return s
}

func event(f *sounding.Final, row int, z, p []float64, u float64, method string) sounding.Event {
	return sounding.Event{Found: true, Row: row, Line: int(f.Line[row]), Time: sounding.Number(f.Time[row]), UTC: f.UTC(f.Time[row]), Uncertainty: sounding.Number(u),
		Height: sounding.Number(z[row]), Pressure: sounding.Number(p[row]), Method: method}
}

func record(lat, lon, z float64) *sounding.LaunchRecord {
	r := sounding.NewLaunchRecord()
	r.Site.Name, r.Site.Kind, r.Site.Latitude, r.Site.Longitude, r.Site.Height = "Basin West", "fixed", sounding.Number(lat), sounding.Number(lon), sounding.Number(z)
	r.Site.Undulation = 49.5
	r.Release.Declared = time.Date(2031, 6, 3, 23, 2, 0, 0, time.UTC)
	r.Release.Nominal = time.Date(2031, 6, 4, 0, 0, 0, 0, time.UTC)
	r.Surface.Temperature, r.Surface.Humidity, r.Surface.WindSpeed, r.Surface.WindDirection = 296.3, 62, 3.2, 310
	r.Radiosonde.Sheet, r.Radiosonde.Serial = "twin-humidity", "A-0042"
	r.Balloon.Gas, r.Balloon.String, r.Balloon.Mass = "helium", 30, 0.35
	r.Operator = "observer"
	return r
}

// Products returns the levels and the two default grids of a flight.
func Products(f *sounding.Final) (levels.Set, []levels.Grid) {
	set := levels.Default()
	table, _ := levels.Find(f, set)
	return table, []levels.Grid{levels.HeightGrid(f, set, set.HeightStep), levels.PressureGrid(f, set, set.PressureStep)}
}

// Without returns the flight without some variables, in every stage.
func Without(f *sounding.Final, list ...sounding.Variable) *sounding.Final {
	out := *f
	drop := func(c sounding.Columns) sounding.Columns {
		var kept []sounding.Series
	next:
		for _, s := range c.Series {
			for _, v := range list {
				if s.Variable == v {
					continue next
				}
			}
			kept = append(kept, s)
		}
		c.Series = kept
		return c
	}
	out.Columns = drop(f.Columns)
	before := drop(*f.Before)
	out.Before = &before
	out.Steps = nil
	return &out
}

// Rows returns the flight cut to some of its rows, with no event but what lies in them.
func Rows(f *sounding.Final, s sounding.Span) *sounding.Final {
	out := *f
	cut := func(c sounding.Columns) sounding.Columns {
		c.Time, c.Line, c.Source = c.Time[s.From:s.To], c.Line[s.From:s.To], c.Source[s.From:s.To]
		list := append([]sounding.Series(nil), c.Series...)
		for i := range list {
			x := &list[i]
			x.Values, x.Flags, x.Tests = x.Values[s.From:s.To], x.Flags[s.From:s.To], x.Tests[s.From:s.To]
			if x.Independent != nil {
				x.Independent, x.Common = x.Independent[s.From:s.To], x.Common[s.From:s.To]
			}
		}
		c.Series, c.Extra = list, nil
		return c
	}
	out.Columns = cut(f.Columns)
	before := cut(*f.Before)
	out.Before = &before
	out.Findings, out.Steps, out.Runs = nil, nil, nil
	out.Events = sounding.Events{End: sounding.EndNotAFlight, Phases: []sounding.PhaseSpan{{Phase: sounding.BeforeRelease, Span: sounding.Span{From: 0, To: s.Len()}}}}
	return &out
}

// AllBad returns the flight with every value flagged bad.
func AllBad(f *sounding.Final) *sounding.Final {
	out := *f
	out.Series = append([]sounding.Series(nil), f.Series...)
	for i := range out.Series {
		flags := make([]quality.Flag, len(out.Series[i].Flags))
		for k := range flags {
			flags[k] = quality.Worst(out.Series[i].Flags[k], quality.Bad)
		}
		out.Series[i].Flags = flags
	}
	return &out
}
