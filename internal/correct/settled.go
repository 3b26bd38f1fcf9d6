package correct

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Settled is a finding of an earlier stage whose cause a correction took away: checked
// again on what is left, it does not hold any more.
type Settled struct {
	ID  string
	Why string // for the end of its sentence
}

// settle notes that a correction took the cause of finding k away.
func (f *flight) settle(k int, format string, a ...any) {
	f.settledAt[k] = true
	f.settled = append(f.settled, Settled{f.in.Findings[k].ID, fmt.Sprintf(format, a...)})
}

// blamesBarometer settles what the surface observation and the ground check hold
// against the barometer, or it against them, where the offset found high up in the
// flight, of which neither knows, explains it. It tells whether an item of the launch
// record was cleared that way.
func (f *flight) blamesBarometer(offset, u float64) (cleared bool) {
	set := &f.set.Barometer
	if !set.CorrectOffset || math.Abs(offset) > set.Largest || math.Abs(offset) <= set.Significant*u {
		return false
	}
	for k := range f.in.Findings {
		x := &f.in.Findings[k]
		if x.Severity != sounding.Questionable || x.State == "dismissed" || f.settledAt[k] {
			continue
		}
		surface := x.Check == quality.Baseline && x.Field == "surface.pressure_hpa"
		if !surface && !(x.Check == quality.GroundCheck && x.Field == "ground_check.pressure_hpa") {
			continue
		}
		if left := x.Measured.Value() - offset; math.Abs(left) <= x.Limit.Value()/2 {
			f.settle(k, "; satellite height shows an offset of the barometer of %+.2f ± %.2f hPa, which leaves %+.2f hPa", offset, u, left)
			cleared = cleared || surface
		}
	}
	return cleared
}

// checkBarometerAgain compares the barometer less its offset with satellite height once
// more, row by row, and settles what the first comparison held against it where that
// is gone. Flags that only that comparison had set go with it.
func (f *flight) checkBarometerAgain(reference []float64, c *column, base, noise, offset float64) {
	st := f.now[sounding.Pressure]
	if st.flags == nil || st.tests == nil {
		return
	}
	const (
		k      = 3.0  // of the uncertainties of the two
		enough = 0.98 // of the rows, outliers of three standard deviations and all
	)
	uHeight := f.now[sounding.HeightMSL].common
	agrees := make([]int8, f.n) // 1 agrees, −1 does not, 0 not compared
	for _, i := range c.rows {
		x := st.values[i]
		if !present(x) || !present(reference[i]) {
			continue
		}
		agrees[i] = -1
		if math.Abs(x-reference[i]) <= k*rootSum(noise, st.common[i], reference[i]*f.satellitePressureU(c, reference[i], base, uHeight[i])) {
			agrees[i] = 1
		}
	}
	share := func(spans []sounding.Span) float64 {
		yes, all := 0, 0
		for _, s := range spans {
			for _, a := range agrees[s.From:s.To] {
				if a != 0 {
					all++
				}
				if a > 0 {
					yes++
				}
			}
		}
		return float64(yes) / float64(max(1, all))
	}
	var lifted, kept []sounding.Span
	for n := range f.in.Findings {
		x := &f.in.Findings[n]
		if x.Check != quality.BarometerHeight || x.Variable != sounding.Pressure || x.Severity == sounding.Note || x.State == "dismissed" {
			continue
		}
		if x.State == "" && share(x.Spans) >= enough {
			f.settle(n, "; %+.2f hPa taken off, and checked again: within %g standard uncertainties", offset, k)
			lifted = append(lifted, x.Spans...)
		} else {
			kept = append(kept, x.Spans...)
		}
	}
	if len(lifted) == 0 {
		return
	}
	flags, tests := append([]quality.Flag(nil), st.flags...), append([]quality.Bits(nil), st.tests...)
	bit := quality.BarometerHeight.Bit()
	for _, s := range lifted {
		for i := s.From; i < s.To; i++ {
			if flags[i] == quality.Questionable && tests[i] == bit {
				flags[i], tests[i] = quality.Good, 0
			}
		}
	}
	for _, s := range kept {
		for i := s.From; i < s.To; i++ {
			flags[i], tests[i] = st.flags[i], st.tests[i]
		}
	}
	f.flagged(sounding.Pressure, flags, tests)
}
