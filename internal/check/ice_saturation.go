package check

import (
	"fmt"
	"math"

	"leadline/internal/constants"
	"leadline/internal/humidity"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// The relative humidity over water at saturation over ice is a smooth function of
// temperature: a table at whole kelvins, linear in between, is good to 0.01 %.
const (
	iceFirst = 150 // K
	iceLast  = 274
)

// iceRelative returns on every row the relative humidity over water at which air is
// saturated over ice, NaN above the triple point and where there is no temperature;
// nil where the flight has none.
func (in *input) iceRelative() []float64 {
	if in.ice != nil {
		return in.ice
	}
	t := in.cols.Values(sounding.Temperature)
	if t == nil {
		return nil
	}
	formula := in.formula()
	if !formula.HasIce() {
		formula = humidity.HylandWexler
	}
	var table [iceLast - iceFirst + 1]float64
	for k := range table {
		table[k] = formula.IceSaturation(min(iceFirst+float64(k), constants.TriplePoint))
	}
	in.ice = make([]float64, in.n)
	for i, x := range t {
		in.ice[i] = math.NaN()
		if k := x - iceFirst; k >= 0 && x <= constants.TriplePoint {
			j := min(int(k), len(table)-2)
			w := k - float64(j)
			in.ice[i] = table[j] + w*(table[j+1]-table[j])
		}
	}
	return in.ice
}

// iceSaturation finds humidity far above saturation over ice.
func iceSaturation(in *input) sounding.Report {
	b := in.begin(quality.IceSaturation)
	set := &in.set.IceSaturation
	ice := in.iceRelative()
	if ice == nil {
		for _, v := range humidities {
			if in.cols.Get(v) != nil {
				b.skipped(v, "there is no temperature")
			}
		}
		return b.rep
	}
	b.each(humidities, func(s *samples) {
		var d doubts
		for i, x := range s.x {
			row := int(s.row[i])
			over := 100 * x / ice[row]
			switch {
			case over > set.Bad:
				d.add(sounding.Bad, row, over, over, set.Bad)
			case over > set.Limit:
				d.add(sounding.Questionable, row, over, over, set.Limit)
			}
		}
		for severity := sounding.Questionable; severity <= sounding.Bad; severity++ {
			var spans []sounding.Span
			for _, span := range d.spans[severity] {
				if in.time[span.To-1]-in.time[span.From] >= set.Least {
					spans = append(spans, span)
				}
			}
			if len(spans) == 0 {
				continue
			}
			b.find(fact{variable: s.v, severity: severity, spans: spans, measured: d.value[severity], limit: d.limit[severity], unit: "% over ice",
				sentence: fmt.Sprintf("%s reaches %.0f %% of saturation over ice %s: more than air holds before ice forms (%.0f %%)", name(s.v), d.value[severity], in.place(spans...), d.limit[severity])})
		}
	})
	return b.rep
}
