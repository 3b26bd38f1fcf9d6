package check

import (
	"fmt"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// windRepeat finds the same wind again and again: a receiver that holds its last value.
func windRepeat(in *input) sounding.Report {
	b := in.begin(quality.WindRepeat)
	set := &in.set.WindRepeat
	reported := in.of(sounding.WindSpeed).len() > 0 && in.of(sounding.WindDirection).len() > 0
	for _, pair := range [][2]sounding.Variable{{sounding.WindSpeed, sounding.WindDirection}, {sounding.WindU, sounding.WindV}, {sounding.VelocityEast, sounding.VelocityNorth}} {
		if reported && pair[0] == sounding.WindU {
			continue // computed from the pair before
		}
		first, second := in.of(pair[0]), in.cols.Values(pair[1])
		if first.len() == 0 || second == nil {
			continue
		}
		other := in.of(pair[1])
		// Values in coarse steps repeat in a steady wind.
		coarse := first.resolution() >= 0.45 || pair[1] == sounding.WindDirection && other.resolution() >= 0.9
		limit := set.Hold
		if coarse {
			limit = set.Coarse
		}
		var spans []sounding.Span
		longest := 0.0
		first.runs(in.interval, set.Rows, func(i, j int) {
			for i < j { // split where the second value changes
				k := i + 1
				for k < j && second[first.row[k]] == second[first.row[i]] {
					k++
				}
				calm := first.x[i] == 0 && (pair[0] == sounding.WindSpeed || second[first.row[i]] == 0)
				if dt := first.t[k-1] - first.t[i]; k-i >= set.Rows && dt > limit && !calm {
					spans = append(spans, first.span(i, k))
					longest = max(longest, dt)
				}
				i = k
			}
		})
		if len(spans) > 0 {
			sentence := fmt.Sprintf("%s repeats the same value for %.0f s %s: held, not measured", name(pair[0]), longest, in.place(spans...))
			if len(spans) > 1 {
				sentence = fmt.Sprintf("%s repeats the same value %d times, for up to %.0f s, %s: held, not measured", name(pair[0]), len(spans), longest, in.place(spans...))
			}
			b.both(pair[:], fact{severity: sounding.Questionable, spans: spans, measured: longest, limit: limit, unit: "s", sentence: sentence})
		}
		b.ran(pair[0])
		b.ran(pair[1])
	}
	return b.rep
}
