package check

import (
	"fmt"
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// evaporation finds a thermometer that leaves cloud or rain wet and cools towards the
// wet bulb: humidity drops from saturation, and within two minutes temperature falls
// faster than a dry adiabat and comes back. Temperature and humidity are doubted from
// the drop until the return.
func evaporation(in *input) sounding.Report {
	b := in.begin(quality.Evaporation)
	set := &in.set.Evaporation
	s, z, ice := in.of(sounding.Temperature), in.riseOf(), in.iceRelative()
	humid, v := in.humid()
	if s.len() == 0 || z == nil || humid == nil {
		if in.cols.Get(sounding.Temperature) != nil {
			b.skipped(sounding.Temperature, "it needs temperature, humidity, and height or pressure")
		}
		return b.rep
	}
	var spans []sounding.Span
	worst := 0.0
	// static is temperature brought down dry-adiabatically: it does not fall with height in air.
	static := func(i int) float64 { return s.x[i] + dryLapse*z[s.row[i]] }
	share := func(row int) float64 { // of saturation, over ice below freezing
		x := humid[row]
		if ice[row] < 100 {
			x = max(x, 100*x/ice[row])
		}
		return x
	}
	for i := 1; i < s.len(); i++ {
		row := int(s.row[i])
		if !in.ascent.Contains(row) || !(share(int(s.row[i-1])) >= set.Wet) || share(row) >= set.Wet {
			continue
		}
		// The sample before was wet, this one is not. How fast does it dry?
		dry := -1
		for j := i; j < s.len() && math.Abs(z[s.row[j]]-z[row]) <= set.Within; j++ {
			if share(int(s.row[j])) < set.Dry {
				dry = j
				break
			}
		}
		if dry < 0 {
			continue
		}
		from := i - 1
		low := from
		for j := from; j < s.len() && s.t[j]-s.t[dry] <= set.Recovery; j++ {
			if static(j) < static(low) {
				low = j
			}
		}
		drop := static(from) - static(low)
		depth := z[s.row[low]] - z[s.row[from]]
		if drop <= set.Drop || depth <= 0 || 1000*(s.x[from]-s.x[low])/depth <= set.Lapse {
			continue
		}
		end, back := in.recovered(s, low, set.Drop, static)
		if !back {
			continue // it stays there: air, or another fault
		}
		spans = append(spans, s.span(from, end+1))
		worst = max(worst, drop)
		i = end
	}
	b.covered(sounding.Temperature, []sounding.Span{in.ascent})
	if len(spans) > 0 {
		sentence := fmt.Sprintf("leaving cloud the thermometer cools by %.1f K more than a dry adiabat %s and recovers: wet-bulb cooling", worst, in.place(spans[0]))
		if len(spans) > 1 {
			sentence = fmt.Sprintf("leaving cloud the thermometer cools by up to %.1f K more than a dry adiabat, %d times %s: wet-bulb cooling", worst, len(spans), in.place(spans...))
		}
		b.find(fact{variable: sounding.Temperature, severity: sounding.Questionable, spans: spans, measured: worst, limit: set.Drop, unit: "K", sentence: sentence})
		b.find(fact{variable: v, severity: sounding.Questionable, spans: spans, measured: worst, limit: set.Drop, unit: "K", sentence: sentence})
	}
	return b.rep
}

// recovered returns the sample at which static temperature is back within the margin
// of the line through the two minutes above it, and whether it comes back sharply:
// by more than half of the drop within the recovery time.
func (in *input) recovered(s *samples, low int, drop float64, static func(int) float64) (end int, back bool) {
	set := &in.set.Evaporation
	first := low
	for first < s.len() && s.t[first]-s.t[low] < set.Recovery {
		first++
	}
	last := first
	var n, st, sx, stt, stx float64
	for last < s.len() && s.t[last]-s.t[low] < 2*set.Recovery {
		t, x := s.t[last]-s.t[low], static(last)
		n, st, sx, stt, stx = n+1, st+t, sx+x, stt+t*t, stx+t*x
		last++
	}
	if n < 3 || n*stt-st*st == 0 {
		return low, false
	}
	slope := (n*stx - st*sx) / (n*stt - st*st)
	level := (sx - slope*st) / n
	if level-static(low) < drop/2 { // the line above leads straight to the lowest: no recovery
		return low, false
	}
	for j := low; j < first; j++ {
		if static(j) >= level+slope*(s.t[j]-s.t[low])-set.Margin {
			return j, true
		}
	}
	return low, false
}
