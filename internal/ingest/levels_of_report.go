package ingest

import (
	"fmt"
	"math"
	"sort"
	"time"

	"leadline/internal/humidity"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// A report (BUFR, TEMP, PILOT) is a list of levels in an order of its own, some without
// a time, some below the ground. reportLevels is what is needed to bring them into the
// order of the flight; all slices have one entry a level.
type reportLevels struct {
	elapsed  []float64 // s since start
	pressure []float64 // hPa
	height   []float64 // gpm
	surface  []bool    // nil where no level is marked
	measured []bool    // holds temperature, humidity or wind
}

// place puts the levels of t in the order of the flight and gives each a time: rows
// of t are the levels as they stand in the report. Levels below the ground without a
// measurement are left out; levels that share a second are set apart.
func (t *table) place(start time.Time, l *reportLevels) {
	n, m := len(l.elapsed), t.memory
	t.jumpLimit = math.Inf(1) // levels may lie minutes apart: that is no clock that jumped
	ground := math.Inf(-1)    // pressure there, as far as known
	for i := range n {
		if l.surface != nil && l.surface[i] && l.pressure[i] > 0 {
			ground = math.Max(ground, l.pressure[i])
		}
	}
	timed := true
	order := m.indices(n)[:0]
	for i := range n {
		if !math.IsInf(ground, -1) && l.pressure[i] > ground && !l.surface[i] && !l.measured[i] {
			continue
		}
		order = append(order, i)
		timed = timed && !math.IsNaN(l.elapsed[i])
	}
	if under := n - len(order); under > 0 {
		f := timeOrder(sounding.Note, fmt.Sprintf("%d of %d levels lie below the ground: they are computed, not measured, and left out", under, n))
		f.Check = quality.Syntax
		f.Measured, f.Unit = sounding.Number(under), "levels"
		t.findings = append(t.findings, f)
	}
	z := l.height
	if !timed {
		z = orderHeights(l.pressure, l.height, m)
	}
	less := func(a, b int) bool { return z[a] < z[b] || math.IsNaN(z[b]) && !math.IsNaN(z[a]) }
	if timed {
		less = func(a, b int) bool {
			if l.elapsed[a] != l.elapsed[b] {
				return l.elapsed[a] < l.elapsed[b]
			}
			return l.pressure[a] > l.pressure[b] || math.IsNaN(l.pressure[a]) && z[a] < z[b]
		}
	}
	if !sort.SliceIsSorted(order, func(i, j int) bool { return less(order[i], order[j]) }) {
		sort.SliceStable(order, func(i, j int) bool { return less(order[i], order[j]) })
		if !timed || l.elapsed[order[0]] != l.elapsed[order[len(order)-1]] {
			f := timeOrder(sounding.Note, "the levels of the report do not stand in the order of the flight: they are put into it")
			t.findings = append(t.findings, f)
		}
	}
	whole := len(order) == n
	for i := 0; whole && i < n; i++ {
		whole = order[i] == i
	}
	elapsed, pressure := l.elapsed, l.pressure
	if !whole {
		elapsed, pressure, z = m.picked(elapsed, order), m.picked(pressure, order), m.picked(z, order)
		t.line = m.pickedLines(t.line, order)
		for i := range t.series {
			t.series[i].Values = m.picked(t.series[i].Values, order)
		}
		for i := range t.extra {
			t.extra[i].Values = m.picked(t.extra[i].Values, order)
		}
	}
	if apart, k := setApart(elapsed, m); k > 0 {
		elapsed = apart
		f := timeOrder(sounding.Note, fmt.Sprintf("%d of %d levels share the second of the level before: they are set up to 0.1 s apart in the order of their pressure", k, len(order)))
		f.Measured, f.Unit = sounding.Number(k), "levels"
		t.findings = append(t.findings, f)
	}
	if !timed {
		t.levelTimes(start, elapsed, pressure, z)
		return
	}
	var day float64
	t.day, day = dayOf(start)
	t.time = m.floats(len(elapsed))
	for i, x := range elapsed {
		t.time[i] = day + x
	}
}

// setApart returns times in which a run of equal ones is spread by at most 0.1 s, not
// reaching the next time, and how many were moved; elapsed itself where none was.
func setApart(elapsed []float64, m *memory) ([]float64, int) {
	moved := 0
	var out []float64
	for i := 0; i < len(elapsed); {
		j := i + 1
		for j < len(elapsed) && elapsed[j] == elapsed[i] {
			j++
		}
		if j-i > 1 {
			if out == nil {
				out = m.copied(elapsed)
			}
			step := 0.1
			if j < len(elapsed) && elapsed[j] > elapsed[i] {
				step = math.Min(step, (elapsed[j]-elapsed[i])/float64(j-i))
			}
			for k := i + 1; k < j; k++ {
				out[k] = elapsed[i] + float64(k-i)*step
				moved++
			}
		}
		i = j
	}
	if out == nil {
		return elapsed, 0
	}
	return out, moved
}

// orderHeights gives every level with a pressure or a height one height that serves the
// order of levels: that of the standard atmosphere for its pressure, shifted by what the
// levels with both say, and its own height where it has no pressure.
func orderHeights(pressure, height []float64, m *memory) []float64 {
	z := m.floats(len(pressure))
	gaps := false
	for i, p := range pressure {
		z[i] = math.NaN()
		if p > 0 {
			z[i] = standardHeight(p)
		}
		gaps = gaps || math.IsNaN(z[i]) && !math.IsNaN(height[i])
	}
	if !gaps {
		return z // one scale: the order is that of the pressures
	}
	type anchor struct{ standard, shift float64 }
	var anchors []anchor
	for i := range z {
		if !math.IsNaN(z[i]) && !math.IsNaN(height[i]) {
			anchors = append(anchors, anchor{z[i], height[i] - z[i]})
		}
	}
	sort.SliceStable(anchors, func(a, b int) bool { return anchors[a].standard < anchors[b].standard })
	for i := range z {
		switch {
		case math.IsNaN(z[i]):
			z[i] = height[i]
		case len(anchors) > 0:
			k := sort.Search(len(anchors), func(k int) bool { return anchors[k].standard >= z[i] })
			switch {
			case k == 0:
				z[i] += anchors[0].shift
			case k == len(anchors):
				z[i] += anchors[k-1].shift
			default:
				a, b := anchors[k-1], anchors[k]
				w := 0.0
				if b.standard > a.standard {
					w = (z[i] - a.standard) / (b.standard - a.standard)
				}
				z[i] += a.shift*(1-w) + b.shift*w
			}
		}
	}
	return z
}

// isReport tells whether the rows are levels of a report or archive, not samples.
func isReport(raw *sounding.Raw) bool {
	for i := range raw.Extra {
		switch raw.Extra[i].Name {
		case SignificanceExtra, OldSignificanceExtra, LevelTypeExtra:
			return true
		}
	}
	return false
}

// humidityFromDewPoint adds the relative humidity that a report without one implies, so
// that it can be checked: over water, as dew points are reported (WMO-No. 8). Which
// formula the sender used is not known; formulas differ by less than the coding resolves
// above -50 degrees Celsius.
func (t *table) humidityFromDewPoint() {
	dew, temperature := t.values(sounding.DewPoint), t.values(sounding.Temperature)
	if dew == nil || temperature == nil || t.values(sounding.Humidity) != nil {
		return
	}
	rh := make([]float64, len(dew))
	n := 0
	for i := range rh {
		rh[i] = humidity.HylandWexler.RelativeFromDewPoint(dew[i], temperature[i])
		if !(rh[i] >= 0 && rh[i] < 1000) {
			rh[i] = math.NaN()
		} else {
			n++
		}
	}
	if n == 0 {
		return
	}
	t.series = append(t.series, sounding.Series{Variable: sounding.Humidity, Values: rh})
	f := lineFinding(quality.Derived, sounding.Note, 0, 0)
	f.Variable, f.Measured, f.Unit = sounding.Humidity, sounding.Number(n), "levels"
	f.Sentence = fmt.Sprintf("the report gives no relative humidity: that of %d levels is computed from dew point and temperature, over water", n)
	t.findings = append(t.findings, f)
}
