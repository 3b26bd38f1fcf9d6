package check

import (
	"fmt"
	"math"
	"strings"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// groundCheck compares what the radiosonde and the references read before release.
func groundCheck(in *input) sounding.Report {
	b := in.begin(quality.GroundCheck)
	set := &in.set.GroundCheck
	if in.ctx.Record == nil {
		b.skipped(sounding.NoVariable, "there is no launch record")
		return b.rep
	}
	g := &in.ctx.Record.GroundCheck
	any := false
	compare := func(v sounding.Variable, what, field string, sonde, reference sounding.Number, limit float64) {
		if !sonde.Set() || !reference.Set() {
			return
		}
		any = true
		b.covered(v, nil) // it says nothing of any sample in flight
		d := sonde.Value() - reference.Value()
		if math.Abs(d) <= limit {
			return
		}
		severity := sounding.Questionable
		if math.Abs(d) > set.Refuse*limit {
			severity = sounding.Bad
		}
		applied := ""
		switch g.Applied {
		case "yes":
			applied = "; the source's values contain the correction"
		case "no":
			applied = "; the source's values do not contain the correction"
		}
		b.find(fact{variable: v, severity: severity, measured: d, limit: limit, unit: unitOf(v), field: field,
			sentence: fmt.Sprintf("at the ground check %s read %+.2f %s against the reference, more than %.3g %s%s", what, d, unitOf(v), limit, unitOf(v), applied)})
	}
	humid := set.Humidity
	if s := in.ctx.Sheet; s != nil && s.Humidity.Calibration > 0 {
		humid = max(humid, in.set.Baseline.K*math.Hypot(s.Humidity.Calibration, set.Reference))
	}
	compare(sounding.Temperature, "temperature", "ground_check.temperature_k", g.Temperature, g.ReferenceTemperature, set.Temperature)
	compare(sounding.Pressure, "pressure", "ground_check.pressure_hpa", g.Pressure, g.ReferencePressure, set.Pressure)
	compare(sounding.Humidity, "humidity", "ground_check.humidity_pct", g.Humidity, g.ReferenceHumidity, humid)
	compare(sounding.HumidityA, "humidity sensor A", "ground_check.humidity_a_pct", g.HumidityA, g.ReferenceHumidity, humid)
	compare(sounding.HumidityB, "humidity sensor B", "ground_check.humidity_b_pct", g.HumidityB, g.ReferenceHumidity, humid)
	if sentence := rulingOf(g); sentence != "" {
		any = true
		b.find(fact{variable: sounding.NoVariable, severity: sounding.Questionable, measured: math.NaN(), limit: math.NaN(), field: "ground_check.ruling", sentence: sentence})
	}
	if !any {
		b.skipped(sounding.NoVariable, "the launch record holds no ground check")
	}
	if r := in.ctx.Events.Release; any && !g.Time.IsZero() && r.Found {
		if age := r.UTC.Sub(g.Time).Seconds(); age > set.Age || age < 0 {
			b.find(fact{variable: sounding.NoVariable, severity: sounding.Note, measured: age / 60, limit: set.Age / 60, unit: "min", field: "ground_check.time_utc",
				sentence: fmt.Sprintf("the ground check was made %.0f min before release: it says less about the flight the older it is", age/60)})
		}
	}
	return b.rep
}

// rulingOf says in one sentence that a radiosonde was flown against its ground check or
// against a person's ruling; "" where neither is so.
func rulingOf(g *sounding.GroundCheck) string {
	by := "a person who is not named"
	if g.RuledBy != "" {
		by = g.RuledBy
	}
	reason := "no reason is given"
	if g.RulingReason != "" {
		reason = g.RulingReason
	}
	against := strings.HasPrefix(g.Result, "reject") || strings.HasPrefix(g.Result, "incomplete")
	switch {
	case g.Ruling == "reject":
		return fmt.Sprintf("%s ruled before the release that this radiosonde is not to fly: %s", by, reason)
	case g.Ruling == "accept" && against:
		return fmt.Sprintf("flown against the ground check by a ruling of %s: %s; the check had said %s", by, reason, g.Result)
	case g.Ruling == "" && strings.HasPrefix(g.Result, "reject"):
		return fmt.Sprintf("flown although the ground check had rejected the radiosonde, and nobody ruled on it; the check had said %s", g.Result)
	}
	return ""
}
