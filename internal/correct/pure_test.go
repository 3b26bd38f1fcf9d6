package correct_test

import (
	"math"
	"testing"

	"leadline/internal/correct"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// deep is a copy of columns and steps that shares nothing with them.
func deep(c *sounding.Columns, steps []sounding.Step) (sounding.Columns, []sounding.Step) {
	out := sounding.Columns{Time: append([]float64(nil), c.Time...), Line: append([]int32(nil), c.Line...), Source: append([]uint8(nil), c.Source...)}
	for _, s := range c.Series {
		s.Values = append([]float64(nil), s.Values...)
		s.Flags = append(s.Flags[:0:0], s.Flags...)
		s.Tests = append(s.Tests[:0:0], s.Tests...)
		s.Independent = append([]float64(nil), s.Independent...)
		s.Common = append([]float64(nil), s.Common...)
		out.Series = append(out.Series, s)
	}
	var copies []sounding.Step
	for _, s := range steps {
		s.Values = append([]float64(nil), s.Values...)
		s.Independent = append([]float64(nil), s.Independent...)
		s.Common = append([]float64(nil), s.Common...)
		s.Resolution = append([]float64(nil), s.Resolution...)
		copies = append(copies, s)
	}
	return out, copies
}

func sameBits(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if math.Float64bits(a[i]) != math.Float64bits(b[i]) && !(a[i] != a[i] && b[i] != b[i]) {
			return false
		}
	}
	return true
}

func same(t *testing.T, what string, a, b sounding.Columns, sa, sb []sounding.Step) {
	t.Helper()
	if !sameBits(a.Time, b.Time) || len(a.Series) != len(b.Series) || len(sa) != len(sb) {
		t.Fatalf("%s: shape changed", what)
	}
	for i := range a.Series {
		x, y := a.Series[i], b.Series[i]
		if x.Variable != y.Variable || !sameBits(x.Values, y.Values) || !sameBits(x.Independent, y.Independent) || !sameBits(x.Common, y.Common) {
			t.Errorf("%s: %v changed", what, x.Variable)
		}
		for j := range x.Flags {
			if x.Flags[j] != y.Flags[j] {
				t.Errorf("%s: flag of %v row %d changed", what, x.Variable, j)
				break
			}
		}
	}
	for i := range sa {
		if !sameBits(sa[i].Values, sb[i].Values) || !sameBits(sa[i].Independent, sb[i].Independent) || !sameBits(sa[i].Common, sb[i].Common) || !sameBits(sa[i].Resolution, sb[i].Resolution) {
			t.Errorf("%s: step %s of %v changed", what, sa[i].Method, sa[i].Variable)
		}
	}
}

func preset(t testing.TB, c truth.Climate, day bool, sheet string) truth.Scenario {
	t.Helper()
	s, err := truth.Preset(c, day)
	if err != nil {
		t.Fatal(err)
	}
	if s.Sheet, _, err = sounding.ShippedSheet(sheet); err != nil {
		t.Fatal(err)
	}
	return s
}

// The input stays as it was, the same input gives the same bits, and a result does
// not change when other flights are corrected after it.
func TestRunIsPure(t *testing.T) {
	one := fly(t, preset(t, truth.Marine, true, "twin-humidity"), 5)
	before, _ := deep(&one.checked.Columns, nil)
	first, err := correct.Run(one.checked, correct.Default())
	if err != nil {
		t.Fatal(err)
	}
	kept, keptSteps := deep(&first.Columns, first.Steps)
	other := fly(t, preset(t, truth.PolarNight, false, "no-barometer"), 6)
	if _, err := correct.Run(other.checked, correct.Default()); err != nil {
		t.Fatal(err)
	}
	same(t, "result after another flight", first.Columns, kept, first.Steps, keptSteps)
	again, err := correct.Run(one.checked, correct.Default())
	if err != nil {
		t.Fatal(err)
	}
	same(t, "second run", again.Columns, kept, again.Steps, keptSteps)
	same(t, "input", one.checked.Columns, before, nil, nil)
}

// Every variable that has steps ends with the values and uncertainties of its last
// step, bit for bit, and no row appears or goes.
func TestTrailIsExact(t *testing.T) {
	for _, sheet := range sounding.ShippedSheets() {
		f := fly(t, preset(t, truth.MidLatitudeWinter, true, sheet), 9)
		last := map[sounding.Variable]sounding.Step{}
		for _, s := range f.steps {
			if len(s.Values) != f.checked.Len() {
				t.Fatalf("%s: step %s of %v has %d values for %d rows", sheet, s.Method, s.Variable, len(s.Values), f.checked.Len())
			}
			if s.Note == "" || s.Method == "" {
				t.Errorf("%s: step of %v has no note or method", sheet, s.Variable)
			}
			last[s.Variable] = s
		}
		for v, s := range last {
			x := f.blown.Get(v)
			if x == nil || !sameBits(x.Values, s.Values) {
				t.Errorf("%s: %v does not end with its last step, %s", sheet, v, s.Method)
				continue
			}
			if s.Independent != nil && !sameBits(x.Independent, s.Independent) || s.Common != nil && !sameBits(x.Common, s.Common) {
				t.Errorf("%s: the uncertainty of %v is not that of its last step, %s", sheet, v, s.Method)
			}
		}
		// A variable without a step keeps its values.
		for i := range f.checked.Series {
			v := f.checked.Series[i].Variable
			if _, changed := last[v]; !changed && !sameBits(f.blown.Values(v), f.checked.Series[i].Values) {
				t.Errorf("%s: %v changed without a step", sheet, v)
			}
		}
		if err := f.blown.Validate(); err != nil {
			t.Errorf("%s: %v", sheet, err)
		}
	}
}
