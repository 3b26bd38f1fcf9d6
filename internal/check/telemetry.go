package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/smooth"
	"leadline/internal/sounding"
)

// telemetry looks at the frame counter and the battery. A frame that comes again
// and again is a receiver that holds the last one: its rows are doubted.
func telemetry(in *input) sounding.Report {
	b := in.begin(quality.Telemetry)
	b.frames()
	b.held()
	b.battery()
	return b.rep
}

func (b *builder) frames() {
	in, set := b.in, &b.in.set.Telemetry
	s := in.of(sounding.Frame)
	if s.len() < 2 {
		return
	}
	b.ran(sounding.Frame)
	steps := make([]float64, 0, s.len())
	for i := 1; i < s.len(); i++ {
		if d := s.x[i] - s.x[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	usual := smooth.Median(steps, nil)
	if !(usual > 0) {
		return
	}
	lost, back := 0.0, 0
	for i := 1; i < s.len(); i++ {
		switch d := s.x[i] - s.x[i-1]; {
		case d > 1.5*usual && d < 1e6:
			lost += d/usual - 1
		case d < 0:
			back++
		}
	}
	all := lost + float64(s.len())
	if share := 100 * lost / all; share > set.Lost {
		b.find(fact{variable: sounding.Frame, severity: sounding.Note, measured: share, limit: set.Lost, unit: "%",
			sentence: fmt.Sprintf("%.0f of %.0f frames (%.0f %%) were not received", lost, all, share)})
	}
	if back > 0 {
		b.find(fact{variable: sounding.Frame, severity: sounding.Note, measured: float64(back), limit: 0, unit: "times",
			sentence: fmt.Sprintf("the frame counter runs back %s: restarted or wrapped", times(back))})
	}
	var held []sounding.Span
	s.runs(in.interval, set.HoldRows, func(i, j int) { held = append(held, s.span(i+1, j)) })
	if len(held) > 0 {
		b.find(fact{variable: sounding.NoVariable, severity: sounding.Questionable, spans: held, measured: float64(total(held)), limit: 0, unit: "rows",
			sentence: fmt.Sprintf("the same frame came again on %s %s: the receiver held it", plural(total(held), "row"), in.place(held...))})
	}
}

// held finds rows on which every sensor repeats its last value at once: the receiver
// wrote the last frame again, whatever the counter says.
func (b *builder) held() {
	in := b.in
	var columns [][]float64
	for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.HeightMSL, sounding.Latitude, sounding.Longitude, sounding.VelocityEast, sounding.VelocityUp, sounding.WindSpeed} {
		if x := in.present(v); x != nil {
			columns = append(columns, x)
		}
	}
	if len(columns) < 3 {
		return
	}
	same := func(i int) bool {
		for _, x := range columns {
			if x[i] != x[i-1] { // a missing value is no repeat
				return false
			}
		}
		return true
	}
	const least = 5 // rows
	var spans []sounding.Span
	for i := in.flight.From + 1; i < in.flight.To; i++ {
		j := i
		for j < in.flight.To && same(j) {
			j++
		}
		if j-i >= least {
			spans = append(spans, sounding.Span{From: i, To: j})
		}
		i = j
	}
	if len(spans) > 0 {
		b.find(fact{variable: sounding.NoVariable, severity: sounding.Bad, spans: spans, measured: float64(total(spans)), limit: least, unit: "rows",
			sentence: fmt.Sprintf("every value repeats on %s %s: the receiver wrote the last frame again", plural(total(spans), "row"), in.place(spans...))})
	}
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func (b *builder) battery() {
	in, set := b.in, &b.in.set.Telemetry
	s := in.of(sounding.Battery)
	if s.len() < 10 {
		return
	}
	b.ran(sounding.Battery)
	first := 1
	for first < s.len() && s.t[first]-s.t[0] < 600 {
		first++
	}
	usual := smooth.Median(s.x[:first], nil)
	if !(usual > 0) {
		return
	}
	limit := usual * (1 - set.BatteryDrop/100)
	lowest, row, at := math.Inf(1), -1, -1
	for i := 2; i < s.len(); i++ { // three in a row: a lone low reading is no fading battery
		if s.x[i] < limit && s.x[i-1] < limit && s.x[i-2] < limit {
			if row < 0 {
				row = int(s.row[i-2])
			}
			if s.x[i] < lowest {
				lowest, at = s.x[i], int(s.row[i])
			}
		}
	}
	if row < 0 {
		return
	}
	where := sounding.Span{From: row, To: at + 1}
	b.find(fact{variable: sounding.Battery, severity: sounding.Note, spans: []sounding.Span{where}, unflagged: true, measured: lowest, limit: limit, unit: "V",
		sentence: fmt.Sprintf("the battery falls from %.2f V to %.2f V %s: look at pressure and humidity after that", usual, lowest, in.place(where))})
}
