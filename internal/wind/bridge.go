package wind

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// bridge fills gaps of the wind up to the longest allowed with straight lines
// (docs/methods/wind.md). Bridged samples are questionable, and their uncertainty
// grows with the distance from the nearest sample as the wind of this flight does.
func (b *blow) bridge() {
	longest := b.set.Gap.Bridge
	if !(longest > 0) {
		return
	}
	u, v := append([]float64(nil), b.u...), append([]float64(nil), b.v...)
	independent := append([]float64(nil), b.independent...)
	filled := make([]bool, b.n)
	count, widest := 0, 0.0
	for _, l := range b.legs {
		change := b.changePerRoot(l)
		last := -1
		for k, i := range l.rows {
			if b.u[i] != b.u[i] {
				continue
			}
			if last >= 0 && last < k-1 && l.time[k]-l.time[last] <= longest {
				a := l.rows[last]
				span := l.time[k] - l.time[last]
				for j := last + 1; j < k; j++ {
					x := (l.time[j] - l.time[last]) / span
					r := l.rows[j]
					u[r], v[r] = b.u[a]+x*(b.u[i]-b.u[a]), b.v[a]+x*(b.v[i]-b.v[a])
					// A random walk between two known points.
					independent[r] = hypot(max(b.independent[a], b.independent[i]), change*math.Sqrt(span*x*(1-x)))
					filled[r] = true
					count++
				}
				widest = max(widest, span)
			}
			last = k
		}
	}
	if count == 0 {
		return
	}
	flags, tests := append([]quality.Flag(nil), b.flags...), append([]quality.Bits(nil), b.tests...)
	for i, f := range filled {
		if f {
			flags[i], tests[i] = quality.Questionable, tests[i]|quality.Gap.Bit()
		}
	}
	b.flags, b.tests = flags, tests
	b.pair("wind", sounding.StepBridge, u, v, independent, b.commonU, nil,
		[]sounding.Coefficient{numberOf("longest_bridged", widest, "s", "computed"), numberOf("limit", longest, "s", "settings")},
		fmt.Sprintf("%d missing samples bridged by straight lines, the longest gap %.0f s", count, widest))
}

// changePerRoot is how much a component of the wind of a leg changes in one second,
// growing with the root of time: from its changes over ten seconds.
func (b *blow) changePerRoot(l leg) float64 {
	sum, count := 0.0, 0
	j := 0
	for k := range l.rows {
		for j < len(l.rows) && l.time[j] < l.time[k]+10 {
			j++
		}
		if j == len(l.rows) {
			break
		}
		du, dv := b.u[l.rows[j]]-b.u[l.rows[k]], b.v[l.rows[j]]-b.v[l.rows[k]]
		if span := l.time[j] - l.time[k]; du == du && dv == dv && span < 15 {
			sum += (du*du + dv*dv) / (2 * span)
			count++
		}
	}
	if count == 0 {
		return 0.5
	}
	return math.Sqrt(sum / float64(count))
}
