package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// icing finds a humidity sensor that carries ice or water: it holds at saturation
// over ice without the variation of air while temperature falls, or it stays near it
// far into the stratosphere.
func icing(in *input) sounding.Report {
	b := in.begin(quality.Icing)
	set := &in.set.Icing
	ice, t, z := in.iceRelative(), in.cols.Values(sounding.Temperature), in.riseOf()
	if ice == nil || z == nil {
		for _, v := range humidities {
			if in.cols.Get(v) != nil {
				b.skipped(v, "it needs temperature, and height or pressure")
			}
		}
		return b.rep
	}
	tropopause := in.tropopauseRow()
	stratosphere := math.Inf(1)
	if tropopause >= 0 {
		stratosphere = z[tropopause] + set.StratosphereDepth
	}
	b.each(humidities, func(s *samples) {
		var held, aloft []sounding.Span
		heldFor, level := 0.0, 0.0
		worst := 0.0
		const window = 60.0 // s
		var run sounding.Span
		var runStart float64
		close := func(end float64) {
			if run.Len() > 0 && end-runStart >= set.Least {
				held = append(held, run)
				heldFor = max(heldFor, end-runStart)
			}
			run = sounding.Span{}
		}
		for i := 0; i < s.len(); {
			j := i
			var sum, square float64
			for j < s.len() && s.t[j]-s.t[i] < window {
				x := 100 * s.x[j] / ice[s.row[j]]
				sum, square = sum+x, square+x*x
				j++
			}
			n := float64(j - i)
			a, c := int(s.row[i]), int(s.row[j-1])
			mean := sum / n
			if !in.ascent.Contains(a) || math.IsNaN(mean) {
				close(s.t[i])
				i = j
				continue
			}
			spread := math.Sqrt(max(0, square/n-mean*mean))
			if n >= 4 && mean >= set.Lowest && mean <= set.Highest && spread < set.Spread && t[c] < t[a]-0.5 {
				if run.Len() == 0 {
					run, runStart = s.span(i, j), s.t[i]
				}
				run.To = c + 1
				level = mean
			} else {
				close(s.t[i])
			}
			if z[a] >= stratosphere && mean >= set.Stratosphere {
				span := s.span(i, j)
				if k := len(aloft) - 1; k >= 0 && span.From-aloft[k].To <= in.rows(2*window) {
					aloft[k].To = span.To
				} else {
					aloft = append(aloft, span)
				}
				worst = max(worst, mean)
			}
			i = j
		}
		if s.len() > 0 {
			close(s.t[s.len()-1])
		}
		if len(held) > 0 {
			b.find(fact{variable: s.v, severity: sounding.Questionable, spans: held, measured: heldFor, limit: set.Least, unit: "s",
				sentence: fmt.Sprintf("%s holds at %.0f %% of saturation over ice for %.0f s %s without the variation of air: ice or water on the sensor", name(s.v), level, heldFor, in.place(held...))})
		}
		if len(aloft) > 0 {
			b.find(fact{variable: s.v, severity: sounding.Questionable, spans: aloft, measured: worst, limit: set.Stratosphere, unit: "% over ice",
				sentence: fmt.Sprintf("%s stays at %.0f %% of saturation over ice %s, above the tropopause at %.1f km: ice on the sensor", name(s.v), worst, in.place(aloft...), z[tropopause]/1000)})
		}
	})
	return b.rep
}

// tropopauseRow is the first row of the stratosphere by the thermal definition on
// layers of 200 m: the lapse rate falls to 2 K/km and its mean to every layer within
// 2 km above stays there; above 500 hPa only. -1 where the ascent shows none. It
// serves these checks; the levels of the product are computed from corrected data.
func (in *input) tropopauseRow() int {
	if in.troposphered {
		return in.tropopause
	}
	in.troposphered = true
	s, z, p := in.of(sounding.Temperature), in.riseOf(), in.pressureOf()
	if s.len() == 0 || z == nil {
		return in.tropopause
	}
	const depth, lapse, above = 200.0, 2e-3, 2000.0
	var height, temperature []float64
	var rows []int32
	var sz, st, n float64
	start := -1
	for i, x := range s.x {
		row := int(s.row[i])
		if !in.ascent.Contains(row) || p[row] > 500 {
			continue
		}
		if start < 0 {
			start, sz, st, n = row, 0, 0, 0
		}
		sz, st, n = sz+z[row], st+x, n+1
		if z[row]-z[start] >= depth {
			height, temperature, rows = append(height, sz/n), append(temperature, st/n), append(rows, int32(start))
			start = -1
		}
	}
	for k := range height {
		last := len(height) - 1
		if height[last]-height[k] < above {
			break
		}
		ok := true
		for j := k + 1; j <= last && height[j]-height[k] <= above; j++ {
			if temperature[k]-temperature[j] > lapse*(height[j]-height[k]) {
				ok = false
				break
			}
		}
		if ok {
			in.tropopause = int(rows[k])
			break
		}
	}
	return in.tropopause
}
