package examine

import (
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// answers lists, for faults that touch no samples or whose trace is elsewhere, the
// checks whose finding counts as having found them.
var answers = map[string][]quality.Check{
	"early-burst":               {quality.Burst},
	"float":                     {quality.Ascent, quality.Burst},
	"temporary-descent":         {quality.Ascent},
	"slow-leak":                 {quality.Ascent, quality.Burst},
	"second-receiver":           {quality.Sources},
	"declared-release-late":     {quality.ReleaseTime},
	"local-time-as-UTC":         {quality.ReleaseTime, quality.LaunchRecord},
	"string-length-wrong":       {quality.Pendulum},
	"station-height-wrong":      {quality.LaunchRecord, quality.Baseline, quality.BarometerHeight},
	"surface-pressure-typo":     {quality.LaunchRecord, quality.Baseline},
	"surface-pressure-unit":     {quality.LaunchRecord, quality.Baseline},
	"surface-temperature-unit":  {quality.LaunchRecord, quality.Baseline},
	"surface-wind-unit":         {quality.LaunchRecord, quality.Baseline},
	"longitude-sign":            {quality.LaunchRecord},
	"latitude-sign":             {quality.LaunchRecord},
	"false-start":               {quality.ReleaseTime, quality.Ascent},
	"pressure-offset":           {quality.BarometerHeight, quality.Baseline, quality.GroundCheck},
	"pressure-drift":            {quality.BarometerHeight},
	"height-offset":             {quality.BarometerHeight, quality.Baseline, quality.LaunchRecord},
	"temperature-offset":        {quality.Baseline, quality.GroundCheck, quality.BarometerHeight},
	"truncated-file":            {quality.Burst, quality.Syntax},
	"garbled-rows":              {quality.Syntax},
	"rows-out-of-order":         {quality.TimeOrder},
	"repeated-times":            {quality.TimeOrder},
	"clock-jump":                {quality.TimeOrder},
	"telemetry-gap":             {quality.Gap, quality.Telemetry},
	"frames-repeated":           {quality.Telemetry, quality.Stuck, quality.WindRepeat},
	"foreign-radiosonde":        {quality.Sources, quality.Position},
	"battery-fade":              {quality.Telemetry, quality.Gap},
	"gps-loss":                  {quality.Gap, quality.Position},
	"humidity-sensors-disagree": {quality.TwinHumidity, quality.GroundCheck},
	"humidity-sensor-failed":    {quality.TwinHumidity, quality.Stuck, quality.Clamped},
	"humidity-icing":            {quality.TwinHumidity, quality.Icing, quality.IceSaturation, quality.Clamped},
	"humidity-wet-after-cloud":  {quality.TwinHumidity, quality.Icing, quality.Evaporation, quality.IceSaturation},
	"humidity-clamped":          {quality.Clamped, quality.Stuck, quality.TwinHumidity},
	"humidity-dry-bias":         {quality.GroundCheck, quality.Baseline, quality.TwinHumidity},
}

// informative are checks whose finding answers a fault even as a note: what happened is
// said, and no sample suffers.
var informative = map[quality.Check]bool{quality.Sources: true, quality.ReleaseTime: true, quality.Burst: true, quality.Syntax: true,
	quality.TimeOrder: true, quality.Gap: true, quality.Telemetry: true, quality.Position: true, quality.Ascent: true, quality.Pendulum: true}

// detect tells whether fault k of a flight was found and how tightly.
func detect(flight *truth.Flight, k int, o *workbench.Outcome, frames []int) Detection {
	injected := &flight.Injected[k]
	f := o.Final
	d := Detection{Name: injected.Name, Start: math.NaN(), End: math.NaN()}

	touched := map[int32]bool{} // source lines of the first receiver
	rec := &flight.Receptions[0]
	for _, span := range injected.Rows {
		for i := span.From; i < span.To; i++ {
			touched[rec.Columns.Line[i]] = true
		}
	}
	variables := map[sounding.Variable]bool{}
	for _, v := range injected.Variables {
		for _, w := range finals(v) {
			variables[w] = true
		}
	}

	for _, finding := range f.Findings {
		for _, check := range answers[injected.Name] {
			if finding.Check == check && (finding.Severity > sounding.Note || informative[check]) {
				d.Found = true
			}
		}
		if injected.Field != "" && finding.Field == injected.Field && finding.Severity > sounding.Note {
			d.Found = true
		}
		if finding.Severity == sounding.Note || len(touched) == 0 || len(variables) > 0 && !variables[finding.Variable] && finding.Variable != sounding.NoVariable {
			continue
		}
		for _, span := range finding.Spans {
			for i := max(0, span.From); i < span.To && i < f.Len() && !d.Found; i++ {
				d.Found = touched[f.Line[i]]
			}
		}
	}

	firstTouched, lastTouched, firstMarked, lastMarked := math.NaN(), math.NaN(), math.NaN(), math.NaN()
	for _, v := range injected.Variables {
		for _, w := range finals(v) {
			s := f.Get(w)
			want := flight.Truth.Values(w)
			if s == nil || want == nil || v != w && isSensor(v) == isSensor(w) {
				continue
			}
			ascent := f.Events.Ascent()
			for i := ascent.From; i < ascent.To; i++ {
				if !touched[f.Line[i]] || frames[i] < 0 {
					continue
				}
				d.Affected++
				if math.IsNaN(firstTouched) {
					firstTouched = f.Time[i]
				}
				lastTouched = f.Time[i]
				right := s.Flags[i] != quality.Missing && math.Abs(s.Values[i]-want[frames[i]]) <= math.Max(2*s.Total(i), smallest[w])
				if s.Flags[i] == quality.Bad || s.Flags[i] == quality.Questionable || s.Flags[i] == quality.Missing || right {
					d.Marked++
				}
			}
			for i := ascent.From; i < ascent.To; i++ {
				if s.Flags[i] == quality.Bad || s.Flags[i] == quality.Questionable {
					if math.IsNaN(firstMarked) || f.Time[i] < firstMarked {
						firstMarked = f.Time[i]
					}
					if math.IsNaN(lastMarked) || f.Time[i] > lastMarked {
						lastMarked = f.Time[i]
					}
				}
			}
		}
	}
	d.Start, d.End = firstMarked-firstTouched, lastMarked-lastTouched
	return d
}

// smallest is a difference from the truth that does nobody harm.
var smallest = map[sounding.Variable]float64{sounding.Pressure: 0.3, sounding.Temperature: 0.2, sounding.Humidity: 2, sounding.WindU: 0.5, sounding.WindV: 0.5}

func isSensor(v sounding.Variable) bool {
	return v == sounding.HumidityA || v == sounding.HumidityB || v == sounding.VelocityEast || v == sounding.VelocityNorth
}

// finals lists the final variables a raw one shows in, itself first.
func finals(v sounding.Variable) []sounding.Variable {
	switch v {
	case sounding.HumidityA, sounding.HumidityB:
		return []sounding.Variable{v, sounding.Humidity}
	case sounding.VelocityEast:
		return []sounding.Variable{v, sounding.WindU}
	case sounding.VelocityNorth:
		return []sounding.Variable{v, sounding.WindV}
	case sounding.HeightEllipsoid:
		return []sounding.Variable{v, sounding.HeightMSL}
	}
	return []sounding.Variable{v}
}
