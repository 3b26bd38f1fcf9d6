package check_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"leadline/internal/check"
	"leadline/internal/events"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// followed is a raw flight after its events: time counted from release.
func followed(raw *sounding.Raw, record *sounding.LaunchRecord, sheet *sounding.InstrumentSheet) (*sounding.Context, *sounding.Columns, []sounding.Finding) {
	ev, findings := events.Find(&raw.Columns, raw.Epoch, record, events.Rulings{}, events.Default())
	c, epoch := raw.Columns, raw.Epoch
	if ev.Release.Found {
		zero := ev.Release.Time.Value()
		c.Time = append([]float64(nil), c.Time...)
		for i := range c.Time {
			c.Time[i] -= zero
		}
		for _, e := range []*sounding.Event{&ev.Release, &ev.Burst, &ev.Top, &ev.Landing} {
			e.Time -= sounding.Number(zero)
		}
		epoch = epoch.Add(time.Duration(zero * 1e9))
	}
	return &sounding.Context{Epoch: epoch, Events: ev, Record: record, Sheet: sheet}, &c, findings
}

func text(list []sounding.Finding) string {
	var b strings.Builder
	for _, f := range list {
		rows := 0
		for _, s := range f.Spans {
			rows += s.Len()
		}
		fmt.Fprintf(&b, "  %-12s %-22s %-14s %5d rows: %s\n", f.Severity, f.Check, f.Variable, rows, f.Sentence)
	}
	return b.String()
}

// flagged returns the share of the present samples of the flight's profile variables
// that are questionable or worse, in per cent.
func flagged(c *sounding.Columns, rep sounding.Report, span sounding.Span) float64 {
	out := c.Flagged(rep)
	present, doubted := 0, 0
	for _, s := range out.Series {
		if !s.Variable.Info().Profile {
			continue
		}
		for _, f := range s.Flags[span.From:span.To] {
			switch f {
			case 3, 4:
				doubted++
				present++
			case 1, 2:
				present++
			}
		}
	}
	if present == 0 {
		return 0
	}
	return 100 * float64(doubted) / float64(present)
}

// thinned keeps every kth row.
func thinned(c *sounding.Columns, k int) sounding.Columns {
	out := sounding.Columns{}
	for _, s := range c.Series {
		out.Series = append(out.Series, sounding.Series{Variable: s.Variable})
	}
	for i := k / 2; i < c.Len(); i += k {
		out.Time, out.Line, out.Source = append(out.Time, c.Time[i]), append(out.Line, c.Line[i]), append(out.Source, c.Source[i])
		for j := range c.Series {
			out.Series[j].Values = append(out.Series[j].Values, c.Series[j].Values[i])
		}
	}
	return out
}

// expected tells whether a finding above a note on a flight without an injected fault
// is about a departure the simulated instrument really has: hidden offsets are drawn
// with the sheet's uncertainty, so that one flight in some hundred is beyond three of
// them, and by day in the tropics the radiosonde waits in a cooled, dry vehicle.
func expected(f *truth.Flight, x sounding.Finding) bool {
	sheet := f.Scenario.Sheet
	switch {
	case x.Check == quality.BarometerHeight || x.Field == "surface.pressure_hpa":
		return math.Abs(f.Hidden.PressureOffset) > 2.4*sheet.Pressure.Calibration
	case x.Field == "site.height_m_msl":
		return math.Abs(f.Hidden.HeightOffset) > 2.3*sheet.Position.HeightBias
	case x.Check == quality.HumidityRange: // saturated air read by a sensor that is off
		k := 0
		if x.Variable == sounding.HumidityB {
			k = 1
		}
		return f.Hidden.HumidityOffset[k] > 1.3*sheet.Humidity.Calibration
	case x.Field == "surface.humidity_pct":
		return f.Truth.Warmth[0] < 0
	}
	return false
}

// Clean flights of every climate, by day and night, give nothing above a note and no
// more than one flagged sample in a thousand.
func TestCleanFlights(t *testing.T) {
	doubted, samples := 0.0, 0.0
	for _, s := range truth.Presets() {
		for seed := uint64(1); seed <= 4; seed++ {
			f, err := truth.Simulate(s, seed)
			if err != nil {
				t.Fatal(err)
			}
			raw := f.Raw()
			if seed == 4 { // every second row
				raw.Columns = thinned(&raw.Columns, 2)
			}
			ctx, c, found := followed(raw, f.Record, s.Sheet)
			rep := check.Raw(ctx, c, check.Default())
			hidden := false
			for _, x := range append(found, rep.Findings...) {
				if x.Severity > sounding.Note {
					if !expected(f, x) {
						t.Errorf("%s, seed %d:\n%s", s.Name, seed, text([]sounding.Finding{x}))
					}
					hidden = hidden || len(x.Spans) > 0
				}
			}
			if !hidden {
				doubted, samples = doubted+flagged(c, rep, ctx.Events.Ascent()), samples+1
			}
		}
	}
	if share := doubted / samples; share > 0.1 {
		t.Errorf("%.3f %% of the samples of clean flights are flagged, want at most 0.1", share)
	}
}

// Each fault that shows in the raw data gives its finding.
func TestFaults(t *testing.T) {
	want := map[string]struct {
		check    quality.Check
		variable []sounding.Variable // any of them
		least    sounding.Severity
	}{
		"battery-fade":              {quality.BarometerHeight, []sounding.Variable{sounding.Pressure}, sounding.Questionable},
		"clock-jump":                {quality.TimeOrder, nil, sounding.Questionable},
		"declared-release-late":     {quality.ReleaseTime, nil, sounding.Questionable},
		"early-burst":               {quality.Burst, nil, sounding.Questionable},
		"earlier-flight-in-file":    {quality.ReleaseTime, nil, sounding.Questionable},
		"float":                     {quality.Ascent, nil, sounding.Questionable},
		"frames-repeated":           {quality.Telemetry, nil, sounding.Bad},
		"gps-jump":                  {quality.Position, []sounding.Variable{sounding.Latitude}, sounding.Questionable},
		"gps-loss":                  {quality.Gap, []sounding.Variable{sounding.VelocityEast}, sounding.Questionable},
		"height-offset":             {quality.BarometerHeight, nil, sounding.Questionable},
		"humidity-clamped":          {quality.Clamped, []sounding.Variable{sounding.HumidityA}, sounding.Questionable},
		"humidity-dry-bias":         {quality.Baseline, []sounding.Variable{sounding.HumidityA}, sounding.Questionable},
		"humidity-icing":            {quality.Icing, []sounding.Variable{sounding.HumidityA, sounding.HumidityB}, sounding.Questionable},
		"humidity-sensor-failed":    {quality.TwinHumidity, []sounding.Variable{sounding.HumidityA, sounding.HumidityB}, sounding.Questionable},
		"humidity-sensors-disagree": {quality.TwinHumidity, []sounding.Variable{sounding.HumidityA, sounding.HumidityB}, sounding.Questionable},
		"local-time-as-UTC":         {quality.ReleaseTime, nil, sounding.Questionable},
		"pressure-drift":            {quality.BarometerHeight, []sounding.Variable{sounding.Pressure}, sounding.Questionable},
		"pressure-offset":           {quality.BarometerHeight, []sounding.Variable{sounding.Pressure}, sounding.Questionable},
		"pressure-spikes":           {quality.Spike, []sounding.Variable{sounding.Pressure}, sounding.Bad},
		"pressure-stuck":            {quality.Stuck, []sounding.Variable{sounding.Pressure}, sounding.Bad},
		"repeated-times":            {quality.TimeOrder, nil, sounding.Questionable},
		"rows-out-of-order":         {quality.TimeOrder, nil, sounding.Bad},
		"slow-leak":                 {quality.Burst, nil, sounding.Questionable},
		"station-height-wrong":      {quality.Baseline, nil, sounding.Questionable},
		"superadiabatic":            {quality.Superadiabatic, []sounding.Variable{sounding.Temperature}, sounding.Questionable},
		"surface-pressure-typo":     {quality.Baseline, nil, sounding.Questionable},
		"surface-pressure-unit":     {quality.Baseline, nil, sounding.Questionable},
		"surface-temperature-unit":  {quality.Baseline, []sounding.Variable{sounding.Temperature}, sounding.Questionable},
		"telemetry-gap":             {quality.Gap, nil, sounding.Questionable},
		"temperature-offset":        {quality.BarometerHeight, []sounding.Variable{sounding.Temperature}, sounding.Questionable},
		"temperature-spikes":        {quality.Spike, []sounding.Variable{sounding.Temperature}, sounding.Bad},
		"temperature-step":          {quality.Step, []sounding.Variable{sounding.Temperature}, sounding.Questionable},
		"temperature-stuck":         {quality.Stuck, []sounding.Variable{sounding.Temperature}, sounding.Bad},
		"temporary-descent":         {quality.Ascent, nil, sounding.Questionable},
		"wake-spikes":               {quality.Spike, []sounding.Variable{sounding.Temperature}, sounding.Questionable},
		"wind-repeated":             {quality.WindRepeat, []sounding.Variable{sounding.VelocityEast}, sounding.Questionable},
		"wind-spike":                {quality.Spike, []sounding.Variable{sounding.VelocityEast}, sounding.Questionable},
	}
	known := 0
	for _, fault := range truth.Faults() {
		w, ok := want[fault.Name]
		if !ok {
			continue
		}
		known++
		s, err := truth.Preset(truth.Climates()[2], true)
		if err != nil {
			t.Fatal(err)
		}
		s.Faults = []truth.Fault{{Name: fault.Name}}
		f, err := truth.Simulate(s, 2)
		if err != nil {
			t.Errorf("%s: %v", fault.Name, err)
			continue
		}
		ctx, c, found := followed(f.Raw(), f.Record, s.Sheet)
		all := append(found, check.Raw(ctx, c, check.Default()).Findings...)
		seen := false
		for _, x := range all {
			if x.Check != w.check || x.Severity < w.least {
				continue
			}
			if w.variable == nil {
				seen = true
			}
			for _, v := range w.variable {
				seen = seen || x.Variable == v
			}
		}
		if !seen {
			t.Errorf("%s (%s): no %v finding on %v; there are\n%s", fault.Name, f.Injected[0].Sentence, w.check, w.variable, text(all))
		}
	}
	if known != len(want) {
		t.Errorf("the catalogue holds %d of the %d faults this table names", known, len(want))
	}
}

func BenchmarkEventsAndChecks(b *testing.B) {
	s := truth.Presets()[4]
	f, err := truth.Simulate(s, 1)
	if err != nil {
		b.Fatal(err)
	}
	raw := f.Raw()
	cut := raw.Columns
	const rows = 7200
	n := min(rows, cut.Len())
	cut.Time, cut.Line, cut.Source = cut.Time[:n], cut.Line[:n], cut.Source[:n]
	cut.Series = append([]sounding.Series(nil), cut.Series...)
	for i := range cut.Series {
		cut.Series[i].Values = cut.Series[i].Values[:n]
	}
	raw.Columns = cut
	set := check.Default()
	b.Run("events", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			events.Find(&raw.Columns, raw.Epoch, f.Record, events.Rulings{}, events.Default())
		}
	})
	ctx, c, _ := followed(raw, f.Record, s.Sheet)
	b.Run("raw", func(b *testing.B) {
		b.ReportAllocs()
		b.ReportMetric(float64(c.Len()), "rows")
		b.ReportMetric(float64(len(c.Series)), "columns")
		for b.Loop() {
			check.Raw(ctx, c, set)
		}
	})
	b.Run("corrected", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			check.Corrected(ctx, c, c, set)
		}
	})
}
