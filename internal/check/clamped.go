package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// clamped finds humidity that piles up at the end of a sensor's range, 0 or 100 %:
// there it says only "at most" or "at least".
func clamped(in *input) sounding.Report {
	b := in.begin(quality.Clamped)
	set := &in.set.Clamped
	t, p := in.cols.Values(sounding.Temperature), in.pressureOf()
	b.each(humidities, func(s *samples) {
		var d [3][]sounding.Span
		var value, longest [3]float64
		// A sensor may pile up below 100 %: at its highest value, for long in all.
		ceiling := s.ceiling(in.interval, set.Least, set.Long)
		least := set.Least
		fewest := 5
		if ceiling < set.Top {
			fewest = 1
		}
		s.runs(in.interval, fewest, func(i, j int) {
			dt := s.t[j-1] - s.t[i]
			switch {
			case ceiling < set.Top && s.x[i] == ceiling:
				dt = max(dt, least) // once it is known for a ceiling every sample at it is there
			case j-i < 5:
				return
			}
			low, high := s.x[i] <= 0, s.x[i] >= min(set.Top, ceiling)
			if dt < set.Least || !low && !high {
				return
			}
			a, c := int(s.row[i]), int(s.row[j-1])
			severity := sounding.Questionable
			switch {
			case low && p != nil && p[a] < set.Stratosphere:
				severity = sounding.Note
			case high && s.x[i] >= set.Top && dt < set.Long && (t == nil || !(math.Abs(t[c]-t[a]) > set.Change)):
				severity = sounding.Note // a cloud may do that
			}
			span := s.span(i, j)
			if k := len(d[severity]) - 1; k >= 0 && span.From-d[severity][k].To <= in.rows(10) && value[severity] == s.x[i] {
				d[severity][k].To = span.To
			} else {
				d[severity] = append(d[severity], span)
			}
			if dt > longest[severity] {
				longest[severity], value[severity] = dt, s.x[i]
			}
		})
		for severity := sounding.Note; severity <= sounding.Questionable; severity++ {
			if len(d[severity]) == 0 {
				continue
			}
			end, limit := "at most", 0.0
			if value[severity] > 0 {
				end, limit = "at least", min(set.Top, value[severity])
			}
			sentence := fmt.Sprintf("%s reads %.4g %% %s and does not move: clamped, so the air holds %s that", name(s.v), value[severity], in.place(d[severity]...), end)
			b.find(fact{variable: s.v, severity: severity, spans: d[severity], measured: value[severity], limit: limit, unit: "%", sentence: sentence})
		}
	})
	return b.rep
}

// ceiling returns the highest value where the samples stand at it for so long in all,
// in runs of at least least seconds; infinity where they do not. Values in fine steps
// never repeat by chance five times on end: for them short runs count, and less is enough.
func (s *samples) ceiling(interval, least, long float64) float64 {
	top := math.Inf(-1)
	for _, x := range s.x {
		top = max(top, x)
	}
	if top <= 0 {
		return math.Inf(1)
	}
	run, whole := least, long
	const fine = 0.2 // %
	if r := s.resolution(); r > 0 && r <= fine {
		run, whole = 0, least
	}
	sum := 0.0
	s.runs(interval, 5, func(i, j int) {
		if dt := s.t[j-1] - s.t[i]; s.x[i] == top && dt >= run {
			sum += dt
		}
	})
	if sum >= whole {
		return top
	}
	return math.Inf(1)
}
