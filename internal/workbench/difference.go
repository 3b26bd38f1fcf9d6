package workbench

import (
	"math"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Difference is what one outcome changes against another of the same flight: shown
// before a decision is stored.
type Difference struct {
	Release    sounding.Number      `json:"release_s"` // after minus before; null where one of them has none
	Verdict    [2]string            `json:"verdict"`   // before, after
	Variables  []VariableDifference `json:"variables"` // those with any change
	Gone       []sounding.Finding   `json:"findings_gone"`
	New        []sounding.Finding   `json:"findings_new"`
	Levels     [2]int               `json:"levels"` // number before, after
	LevelsMove int                  `json:"levels_changed"`
}

// VariableDifference counts what changes for one variable.
type VariableDifference struct {
	Variable   sounding.Variable `json:"variable"`
	Unit       string            `json:"unit"`
	Flags      int               `json:"flags_changed"`
	Usable     [2]int            `json:"usable"` // samples good, questionable or not evaluated, before and after
	Values     int               `json:"values_changed"`
	Largest    sounding.Number   `json:"largest_change"`
	LargestRow int               `json:"largest_row"`
}

// Empty tells whether nothing changes.
func (d *Difference) Empty() bool {
	return len(d.Variables) == 0 && len(d.Gone) == 0 && len(d.New) == 0 && d.Verdict[0] == d.Verdict[1] &&
		d.LevelsMove == 0 && d.Levels[0] == d.Levels[1] && (!d.Release.Set() || d.Release == 0)
}

// Compare returns what b changes against a. Both must stem from the same raw rows.
func Compare(a, b *Outcome) Difference {
	d := Difference{Release: sounding.NotSet, Verdict: [2]string{a.Final.Verdict.Word, b.Final.Verdict.Word},
		Levels: [2]int{len(a.Levels.Levels), len(b.Levels.Levels)}}
	if ra, rb := a.Final.Events.Release, b.Final.Events.Release; ra.Found && rb.Found {
		d.Release = sounding.Number(rb.UTC.Sub(ra.UTC).Seconds())
	}
	for _, v := range sounding.Variables() {
		sa, sb := a.Final.Get(v), b.Final.Get(v)
		if sa == nil && sb == nil {
			continue
		}
		if vd := compareSeries(v, sa, sb, a.Final.Len()); vd.Flags > 0 || vd.Values > 0 {
			d.Variables = append(d.Variables, vd)
		}
	}
	d.Gone, d.New = missingFrom(a.Final.Findings, b.Final.Findings), missingFrom(b.Final.Findings, a.Final.Findings)
	d.LevelsMove = levelsChanged(a, b)
	return d
}

func compareSeries(v sounding.Variable, a, b *sounding.Series, rows int) VariableDifference {
	d := VariableDifference{Variable: v, Unit: v.Info().Unit, Largest: sounding.NotSet}
	read := func(s *sounding.Series, i int) (float64, quality.Flag) {
		if s == nil || i >= len(s.Values) {
			return math.NaN(), quality.Missing
		}
		return s.Values[i], s.Flags[i]
	}
	usable := func(f quality.Flag) bool { return f != quality.Bad && f != quality.Missing }
	for i := 0; i < rows; i++ {
		va, fa := read(a, i)
		vb, fb := read(b, i)
		if usable(fa) {
			d.Usable[0]++
		}
		if usable(fb) {
			d.Usable[1]++
		}
		if fa != fb {
			d.Flags++
		}
		if va == vb || math.IsNaN(va) && math.IsNaN(vb) {
			continue
		}
		d.Values++
		if change := sounding.Number(vb - va); change.Set() && (!d.Largest.Set() || math.Abs(change.Value()) > math.Abs(d.Largest.Value())) {
			d.Largest, d.LargestRow = change, i
		}
	}
	return d
}

func missingFrom(list, other []sounding.Finding) []sounding.Finding {
	known := make(map[string]bool, len(other))
	for _, f := range other {
		known[f.ID+f.State] = true
	}
	out := []sounding.Finding{}
	for _, f := range list {
		if !known[f.ID+f.State] {
			out = append(out, f)
		}
	}
	return out
}

// levelsChanged counts the levels that hold other values, and those that come or go: one
// that moves to another pressure goes here and comes there, and is counted once.
func levelsChanged(a, b *Outcome) int {
	changed, gone, come := 0, 0, 0
	j := 0
	for _, l := range a.Levels.Levels {
		for j < len(b.Levels.Levels) && b.Levels.Levels[j].Pressure > l.Pressure {
			j++
			come++
		}
		if j < len(b.Levels.Levels) && b.Levels.Levels[j].Pressure == l.Pressure {
			m := b.Levels.Levels[j]
			if m.Kind != l.Kind || differ(m.Temperature, l.Temperature) || differ(m.Humidity, l.Humidity) ||
				differ(m.U, l.U) || differ(m.V, l.V) || differ(m.Geopotential, l.Geopotential) {
				changed++
			}
			j++
			continue
		}
		gone++
	}
	return changed + max(gone, come+len(b.Levels.Levels)-j)
}

func differ(a, b sounding.Number) bool {
	return a != b && (a.Set() || b.Set())
}
