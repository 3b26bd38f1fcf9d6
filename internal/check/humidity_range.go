package check

import (
	"fmt"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// humidityRange compares humidity with 0 and 100 %, with the sensor's margin.
func humidityRange(in *input) sounding.Report {
	b := in.begin(quality.HumidityRange)
	set := &in.set.HumidityRange
	margin := set.Margin
	if in.ctx.Sheet != nil {
		margin = max(margin, 2*in.ctx.Sheet.Humidity.Calibration)
	}
	b.each(humidities, func(s *samples) {
		var high, low doubts
		series := in.cols.Get(s.v)
		for i, x := range s.x {
			if x >= 0 && x <= 100 {
				continue
			}
			row := int(s.row[i])
			// A corrected value may go beyond by three of its own uncertainties.
			margin := margin
			if u := series.Total(row); u > 0 {
				margin = max(margin, 3*u)
			}
			switch {
			case x > max(set.BadAbove, 100+margin):
				high.add(sounding.Bad, row, x, x, 100)
			case x > 100+margin:
				high.add(sounding.Questionable, row, x, x, 100)
			case x > 100:
				high.add(sounding.Note, row, x, x, 100)
			case x < min(set.BadBelow, -margin):
				low.add(sounding.Bad, row, -x, x, 0)
			case x < -margin:
				low.add(sounding.Questionable, row, -x, x, 0)
			case x < 0:
				low.add(sounding.Note, row, -x, x, 0)
			}
		}
		for _, d := range []*doubts{&high, &low} {
			for severity := sounding.Note; severity <= sounding.Bad; severity++ {
				spans := d.spans[severity]
				if len(spans) == 0 {
					continue
				}
				side, within := "above 100 %", ""
				if d.limit[severity] == 0 {
					side = "below 0 %"
				}
				if severity == sounding.Note {
					within = fmt.Sprintf(", within the sensor's margin of %g %%", margin)
				}
				b.find(fact{variable: s.v, severity: severity, spans: spans, measured: d.value[severity], limit: d.limit[severity], unit: "%",
					sentence: fmt.Sprintf("%s is %s on %s %s, at the most %.1f %%%s", name(s.v), side, plural(total(spans), "row"), in.place(spans...), d.value[severity], within)})
			}
		}
	})
	return b.rep
}
