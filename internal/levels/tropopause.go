package levels

import (
	"fmt"
	"math"
	"strings"
)

// layerMean is the profile averaged over layers of equal geopotential height.
type layerMean struct {
	z, t, lnp []float64 // gpm, K; only layers that hold temperatures
}

// layers averages temperature over layers of depth metres. A layer without samples is
// left out; the caller sees it as a larger step.
func (p *Profile) layers(depth float64) layerMean {
	var m layerMean
	var z, t, l, n float64
	index := math.Inf(-1)
	flush := func() {
		if n > 0 {
			m.z, m.t, m.lnp = append(m.z, z/n), append(m.t, t/n), append(m.lnp, l/n)
		}
		z, t, l, n = 0, 0, 0, 0
	}
	for k := range p.Rows {
		h, temperature := p.Value[qGPH][k], p.Value[qT][k]
		if math.IsNaN(h) || math.IsNaN(temperature) {
			continue
		}
		if i := math.Floor(h / depth); i != index {
			if i < index {
				continue // heights that step back are not used
			}
			flush()
			index = i
		}
		z, t, l, n = z+h, t+temperature, l+p.LnP[k], n+1
	}
	flush()
	return m
}

// tropopauses returns the ln p of each lapse-rate tropopause, lowest first, and a note
// that says what was found or why nothing could be.
//
// WMO 1957 (International Meteorological Vocabulary): the lowest level at which the
// lapse rate falls to 2 K km⁻¹ or less, if the mean lapse rate from it to every higher
// level within 2 km does not exceed 2 K km⁻¹. A further one where, above the last, the
// mean lapse rate between some level and all higher levels within 1 km exceeds
// 3 K km⁻¹, by the same test; it may lie inside that kilometre. A level below 500 hPa is
// taken only where no other is found. A candidate needs data for the whole 2 km above it.
func (p *Profile) tropopauses() ([]float64, string) {
	s := p.set
	m := p.layers(s.TropopauseLayer)
	if len(m.z) < 3 {
		return nil, "no tropopause: too few temperatures with a height"
	}
	found, undetermined := m.search(s, math.Log(s.TropopauseLowest))
	note := ""
	if len(found) == 0 {
		low, lowUndetermined := m.search(s, math.Inf(1))
		undetermined = undetermined || lowUndetermined
		if len(low) > 0 {
			found = low[:1]
			note = "the only level that meets the definition lies below " + hpaText(s.TropopauseLowest)
		}
	}
	switch {
	case len(found) > 0 && note == "":
		note = fmt.Sprintf("%d by the lapse-rate definition (2 K/km over 2 km)", len(found))
	case len(found) == 0 && undetermined:
		note = "no tropopause could be determined: the profile ends less than 2 km above the only candidate"
	case len(found) == 0:
		note = "no level of the profile meets the lapse-rate definition"
	}
	return found, strings.TrimSpace(note)
}

// search walks up from the level where ln p falls below start.
func (m *layerMean) search(s *Settings, start float64) (found []float64, undetermined bool) {
	lapse := func(a, b int) float64 { return (m.t[a] - m.t[b]) / (m.z[b] - m.z[a]) * 1000 } // K km⁻¹, positive where it cools upwards
	top := m.z[len(m.z)-1]
	open := true // looking for a tropopause; false while looking for the next region of 3 K km⁻¹
	for k := 0; k+1 < len(m.z); k++ {
		if m.lnp[k] > start {
			continue
		}
		if !open {
			// Is the mean lapse rate to all higher levels within 1 km above 3 K km⁻¹?
			steep := top-m.z[k] >= s.TropopauseAgainM
			for j := k + 1; steep && j < len(m.z) && m.z[j]-m.z[k] <= s.TropopauseAgainM; j++ {
				steep = lapse(k, j) > s.TropopauseAgain
			}
			if steep {
				open = true
			}
			continue
		}
		if lapse(k, k+1) > s.TropopauseLapse {
			continue
		}
		stable := true
		for j := k + 1; stable && j < len(m.z) && m.z[j]-m.z[k] <= s.TropopauseDepth; j++ {
			stable = lapse(k, j) <= s.TropopauseLapse
		}
		switch {
		case !stable:
		case top-m.z[k] < s.TropopauseDepth:
			undetermined = true
			return found, undetermined
		default:
			found = append(found, m.lnp[k])
			open = false
		}
	}
	return found, undetermined
}

// coldPoint returns the sample of the lowest temperature above 500 hPa, -1 where there
// is none or where it is the top of the profile, which says nothing about a minimum.
func (p *Profile) coldPoint() int {
	best := -1
	for k := range p.Rows {
		t := p.Value[qT][k]
		if math.IsNaN(t) || p.LnP[k] > math.Log(p.set.TropopauseLowest) {
			continue
		}
		if best < 0 || t < p.Value[qT][best] {
			best = k
		}
	}
	last := p.Len() - 1
	for last >= 0 && math.IsNaN(p.Value[qT][last]) {
		last--
	}
	if best == last {
		return -1
	}
	return best
}
