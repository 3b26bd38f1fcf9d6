package examine

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
)

// Goal is one figure the path is held to, and what it is.
type Goal struct {
	Name string          `json:"goal"`
	Want string          `json:"want"`
	Got  sounding.Number `json:"got"`
	Unit string          `json:"unit"`
	Met  bool            `json:"met"`
}

// goals compares the report with what the project has set itself.
func (r *Report) goals() []Goal {
	var out []Goal
	atMost := func(name string, got, limit float64, unit string) {
		if math.IsNaN(got) {
			return
		}
		out = append(out, Goal{name, fmt.Sprintf("≤ %g", limit), sounding.Number(got), unit, got <= limit})
	}
	atLeast := func(name string, got, limit float64, unit string) {
		if math.IsNaN(got) {
			return
		}
		out = append(out, Goal{name, fmt.Sprintf("≥ %g", limit), sounding.Number(got), unit, got >= limit})
	}
	if r.Clean.Flights > 0 {
		atMost("release, median error", r.Events.ReleaseMedian.Value(), 1, "s")
		atMost("release, 95th percentile", r.Events.Release95.Value(), 3, "s")
		atMost("burst, 95th percentile", r.Events.Burst95.Value(), 2, "s")
		atMost("clean flights not accepted", 100*float64(r.Clean.NotAccept)/float64(r.Clean.Flights), 1, "%")
		atMost("samples of clean flights flagged", r.Clean.FlaggedPct, 0.1, "%")
	}
	row := func(v sounding.Variable, band, time string) *ErrorRow {
		for i := range r.Errors {
			if e := &r.Errors[i]; e.Variable == v && e.Band == band && e.Time == time {
				return e
			}
		}
		return nil
	}
	for _, g := range []struct {
		v          sounding.Variable
		band, time string
		limit      float64
	}{
		{sounding.Temperature, "below 100 hPa", "day", 0.15}, {sounding.Temperature, "below 100 hPa", "night", 0.15},
		{sounding.Temperature, "above 100 hPa", "day", 0.3}, {sounding.Temperature, "above 100 hPa", "night", 0.3},
		{sounding.Humidity, "warmer than −40 °C", "day", 3}, {sounding.Humidity, "warmer than −40 °C", "night", 3},
		{sounding.Humidity, "−40 to −70 °C", "day", 5}, {sounding.Humidity, "−40 to −70 °C", "night", 5},
		{sounding.Pressure, "below 100 hPa", "day", 0.5}, {sounding.Pressure, "below 100 hPa", "night", 0.5},
	} {
		if e := row(g.v, g.band, g.time); e != nil {
			atMost(fmt.Sprintf("%s, rms %s by %s", g.v, g.band, g.time), e.FinalRMS.Value(), g.limit, e.Unit)
		}
	}
	for _, time := range []string{"day", "night"} {
		if e := row(sounding.Humidity, "strong gradients", time); e != nil {
			atMost("humidity in strong gradients, rms final over raw by "+time, e.FinalRMS.Value()/e.RawRMS.Value(), 0.5, "")
		}
		for _, band := range []string{"below 100 hPa", "above 100 hPa"} {
			u, v := row(sounding.WindU, band, time), row(sounding.WindV, band, time)
			if u != nil && v != nil {
				atMost(fmt.Sprintf("wind vector, rms %s by %s", band, time), math.Hypot(u.FinalRMS.Value(), v.FinalRMS.Value()), 0.5, "m/s")
			}
		}
	}
	for _, h := range r.Heights {
		limit := map[string]float64{"100 hPa": 10, "10 hPa": 30}[h.Level]
		atMost("geopotential height at "+h.Level+", rms", h.RMS.Value(), limit, "gpm")
	}
	for _, m := range measured {
		got := r.coverage(m.variable)
		if !math.IsNaN(got) {
			out = append(out, Goal{fmt.Sprintf("%s within twice its stated uncertainty", m.variable), "93 to 97", sounding.Number(got), "%", got >= 93 && got <= 97})
		}
	}
	if t := r.Twin; t.Flights > 0 {
		atMost("merge of two humidity sensors, rms over that of the better one", t.Merged.Value()/t.Better.Value(), 1, "")
		atMost("merge of two humidity sensors, rms over that of the plain average of the readings", t.Merged.Value()/t.Raw.Value(), 1, "")
	}
	for _, f := range r.Faults {
		if f.Mattered > 0 {
			atLeast(f.Fault+", found where it matters", float64(f.Found)/float64(f.Mattered), 0.95, "")
		}
		if f.Affected > 0 {
			atLeast(f.Fault+", affected samples marked or right", float64(f.Marked)/float64(f.Affected), 0.85, "")
		}
	}
	return out
}

// coverage returns the share in % of all samples of a variable within twice their
// stated uncertainty, over day and night and the layers of height.
func (r *Report) coverage(v sounding.Variable) float64 {
	within, all := 0.0, 0.0
	for _, e := range r.Errors {
		for _, b := range byHeight {
			if e.Variable == v && e.Band == b.name && e.CoveragePct.Set() {
				within += e.CoveragePct.Value() * float64(e.Samples)
				all += float64(e.Samples)
			}
		}
	}
	return within / all
}
