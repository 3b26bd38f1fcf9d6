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
	"false-start":               {quality.ReleaseTime},
	"date-wrong":                {quality.ReleaseTime, quality.LaunchRecord},
	"earlier-flight-in-file":    {quality.ReleaseTime, quality.Sources},
	"gps-jump":                  {quality.Position, quality.Ascent, quality.BarometerHeight, quality.Step},
	"temperature-step":          {quality.Step},
	"radiation-corrected-twice": {quality.Radiation, quality.BarometerHeight},
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

// byRelease lists the faults that are found only if the release is right as well, to
// the seconds the goal allows.
var byRelease = map[string]bool{"false-start": true, "earlier-flight-in-file": true, "declared-release-late": true, "local-time-as-UTC": true}

const releaseGoal = 3.0 // s

// detect tells whether fault k of a flight was found, whether its samples were marked
// or put right, and how tightly.
//
// A sample is affected where the fault moved what the radiosonde reports by more than
// twice the calibration uncertainty the instrument sheet states: less than that nobody
// who trusts the sheet can hold against it. Samples are counted in the product, so
// that an iced sensor whose partner was used has done no harm.
//
// A fault is found where a finding above a note is about it; where a note is and every
// sample it touched comes out right; or where a note is all it takes (informative).
func detect(flight *truth.Flight, k int, o *workbench.Outcome, frames []int, release float64) Detection {
	injected := &flight.Injected[k]
	f := o.Final
	d := Detection{Name: injected.Name, Start: math.NaN(), End: math.NaN(), Mattered: true}
	rec := &flight.Receptions[0]

	touched := map[int32]bool{} // source lines of the first receiver
	for _, span := range injected.Rows {
		for i := span.From; i < span.To; i++ {
			touched[rec.Columns.Line[i]] = true
		}
	}
	variables := map[sounding.Variable]bool{}
	for _, v := range injected.Variables {
		variables[v] = true
		variables[productOf(v)] = true
	}
	d.samples(flight, injected, f, frames)

	said := false // a note about it
	for _, finding := range f.Findings {
		about := injected.Field != "" && finding.Field == injected.Field
		for _, check := range answers[injected.Name] {
			if finding.Check == check {
				said = true
				about = about || finding.Severity > sounding.Note || informative[check]
			}
		}
		if !about && finding.Severity > sounding.Note && len(touched) > 0 && (len(variables) == 0 || variables[finding.Variable] || finding.Variable == sounding.NoVariable) {
			for _, span := range finding.Spans {
				for i := max(0, span.From); i < span.To && i < f.Len() && !about; i++ {
					about = touched[f.Line[i]]
				}
			}
		}
		d.Found = d.Found || about && (finding.Severity > sounding.Note || informative[finding.Check])
	}
	if said && d.Affected > 0 && d.Right >= d.Affected-d.Affected/50 {
		d.Found = true
	}
	if byRelease[injected.Name] && !(math.Abs(release) <= releaseGoal) {
		d.Found = false
	}
	d.Mattered = matters(flight, injected, &d)
	return d
}

// fewest is how many affected samples of a fault of single values make it matter: what
// touches less leaves no trace a user of the profile could see.
const fewest = 10

// matters tells whether a fault was large enough on this flight to do harm.
func matters(flight *truth.Flight, injected *truth.Injected, d *Detection) bool {
	switch injected.Name {
	case "surface-wind-unit":
		// The check's own limit is 5 m/s plus a share, for a mast in the lee of a house
		// differs by that much from the wind above.
		return math.Abs(flight.Record.Surface.WindSpeed.Value()-flight.True.Surface.WindSpeed.Value()) >= smallestSurfaceWind
	case "false-start", "battery-fade":
		return true
	case "gps-loss": // velocities are lost: what is missing needs no flag
		return true
	case "pressure-spikes", "temperature-spikes", "wind-spike":
		return d.Affected > 0
	}
	if injected.Name == "slow-leak" {
		return len(injected.Rows) > 0 // the climb fell below what ventilates the sensors
	}
	if len(injected.Variables) == 0 {
		return true
	}
	return d.Affected >= fewest
}

const smallestSurfaceWind = 8.0 // m/s

// samples counts what the fault spoilt in the product over the ascent, and what of it
// is marked, missing or right all the same.
func (d *Detection) samples(flight *truth.Flight, injected *truth.Injected, f *sounding.Final, frames []int) {
	rec := &flight.Receptions[0]
	row := make(map[int32]int, f.Len()) // of the product, by source line
	for i := range f.Len() {
		if f.Source[i] == 0 {
			row[f.Line[i]] = i
		}
	}
	ascent := f.Events.Ascent()
	var lost, spoilt []float64 // times of affected samples that are not right, and of all
	var marked []float64
	count := func(line int32, w sounding.Variable, frame int) {
		i, there := row[line]
		if !there || !ascent.Contains(i) {
			return
		}
		s, want := f.Get(w), flight.Truth.Values(w)
		if s == nil {
			return
		}
		d.Affected++
		spoilt = append(spoilt, f.Time[i])
		doubted := s.Flags[i] == quality.Bad || s.Flags[i] == quality.Questionable || s.Flags[i] == quality.Missing
		right := false
		if frame >= 0 && want != nil && s.Flags[i] != quality.Missing {
			off := math.Abs(s.Values[i] - want[frame])
			if w == sounding.Longitude {
				off = math.Abs(math.Remainder(s.Values[i]-want[frame], 360))
			}
			right = off <= math.Max(2*s.Total(i), smallest[w])
		}
		if right {
			d.Right++
		}
		if right || doubted {
			d.Marked++
		}
		if !right {
			lost = append(lost, f.Time[i])
		}
	}

	seen := map[sounding.Variable][]bool{}
	for _, v := range injected.Variables {
		w := productOf(v)
		amount, limit := flight.Amount(v), harmless(flight, v)
		if amount == nil || limit < 0 {
			continue
		}
		if seen[w] == nil {
			seen[w] = make([]bool, len(amount))
		}
		for i, x := range amount {
			if math.Abs(x) > limit && !seen[w][i] && rec.Sample[i] >= 0 {
				seen[w][i] = true
				count(rec.Columns.Line[i], w, int(rec.Sample[i]))
			}
		}
	}
	if len(injected.Variables) == 0 {
		// Whole rows: stale frames by what they moved, those of another radiosonde all.
		for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.HumidityA, sounding.Humidity, sounding.VelocityEast, sounding.VelocityNorth} {
			amount, limit := flight.Amount(v), harmless(flight, v)
			if amount == nil {
				continue
			}
			for _, span := range injected.Rows {
				for i := span.From; i < span.To; i++ {
					if rec.Sample[i] < 0 || math.Abs(amount[i]) > limit {
						count(rec.Columns.Line[i], productOf(v), int(rec.Sample[i]))
					}
				}
			}
		}
	}
	if len(lost) == 0 {
		return
	}
	firstSpoilt, lastSpoilt := ends(spoilt)
	firstLost, lastLost := ends(lost)
	// What was marked near it; marks further away are about something else.
	const near = 120.0
	products := map[sounding.Variable]bool{}
	for _, v := range injected.Variables {
		products[productOf(v)] = true
	}
	for w := range products {
		s := f.Get(w)
		if s == nil {
			continue
		}
		for i := ascent.From; i < ascent.To; i++ {
			if s.Flags[i] == quality.Bad || s.Flags[i] == quality.Questionable {
				if t := f.Time[i]; t >= firstSpoilt-near && t <= lastSpoilt+near {
					marked = append(marked, t)
				}
			}
		}
	}
	if len(marked) == 0 {
		return
	}
	// Marks may begin anywhere between the first spoilt sample and the first that is not
	// right, and end likewise.
	first, last := ends(marked)
	d.Start = first - math.Max(firstSpoilt, math.Min(first, firstLost))
	d.End = last - math.Min(lastSpoilt, math.Max(last, lastLost))
}

// ends returns the smallest and the largest of a list that is not empty.
func ends(list []float64) (low, high float64) {
	low, high = list[0], list[0]
	for _, x := range list {
		low, high = math.Min(low, x), math.Max(high, x)
	}
	return low, high
}

// smallest is a difference from the truth that does nobody harm.
var smallest = map[sounding.Variable]float64{sounding.Pressure: 0.3, sounding.Temperature: 0.2, sounding.Humidity: 2, sounding.WindU: 0.5, sounding.WindV: 0.5,
	sounding.Latitude: 2e-4, sounding.Longitude: 4e-4, sounding.HeightMSL: 10}

// harmless returns the change of a reported value below which a sample does not count
// as affected: twice the calibration uncertainty of the sheet, or the smallest
// difference that does harm where that is larger; negative where v is in no product.
func harmless(flight *truth.Flight, v sounding.Variable) float64 {
	sheet := flight.Scenario.Sheet
	w := productOf(v)
	least, known := smallest[w]
	if !known {
		return -1
	}
	switch w {
	case sounding.Pressure:
		return math.Max(least, 2*sheet.Pressure.Calibration)
	case sounding.Temperature:
		return math.Max(least, 2*sheet.Temperature.Calibration)
	case sounding.Humidity:
		return math.Max(least, 2*sheet.Humidity.Calibration)
	case sounding.HeightMSL:
		return math.Max(least, 2*sheet.Position.HeightBias)
	}
	return least
}

// productOf returns the variable of the product that a reported one ends up in.
func productOf(v sounding.Variable) sounding.Variable {
	switch v {
	case sounding.HumidityA, sounding.HumidityB:
		return sounding.Humidity
	case sounding.VelocityEast:
		return sounding.WindU
	case sounding.VelocityNorth:
		return sounding.WindV
	case sounding.HeightEllipsoid:
		return sounding.HeightMSL
	}
	return v
}
