package check

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"leadline/internal/sounding"
)

// Whatever comes in, no check panics or changes its input, every span lies inside the
// rows, every finding with spans is located, and the roll-up holds together.
func TestAnyInput(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.OneOf(rapid.IntRange(0, 12), rapid.IntRange(13, 400)).Draw(t, "rows")
		before := rapid.IntRange(0, n).Draw(t, "before release")
		r := newRig(n, before, rapid.SampledFrom([]float64{0.5, 1, 2, 10}).Draw(t, "interval"))
		r.ctx.Events.Release.Found = rapid.Bool().Draw(t, "released")
		if !r.ctx.Events.Release.Found {
			r.ctx.Events = sounding.Events{Phases: r.ctx.Events.Phases, End: sounding.EndNotAFlight}
		}
		if rapid.Bool().Draw(t, "sheet") {
			sheet, _, err := sounding.ShippedSheet(rapid.SampledFrom(sounding.ShippedSheets()).Draw(t, "name"))
			if err != nil {
				t.Fatal(err)
			}
			r.ctx.Sheet = sheet
		}
		if rapid.Bool().Draw(t, "no record") {
			r.ctx.Record = nil
		} else {
			number := rapid.SampledFrom([]float64{math.NaN(), 0, -5, 50, 288, 1000})
			for _, f := range sounding.RecordFields {
				if f.Number != nil {
					*f.Number(r.ctx.Record) = sounding.Number(number.Draw(t, f.Path))
				}
			}
		}
		for _, v := range sounding.Variables() {
			if r.cols.Get(v) == nil && rapid.Bool().Draw(t, v.String()) {
				r.put(v, rapid.SampledFrom([]float64{math.NaN(), 0, 1, 50, 280}).Draw(t, "value"))
			}
		}
		wild := rapid.SampledFrom([]float64{math.NaN(), 0, -1, 1e-300, 100, 273.15, 1e4, -1e9, 1e300})
		for k := range r.cols.Series {
			values := r.cols.Series[k].Values
			for range rapid.IntRange(0, 6).Draw(t, "spoilt") {
				if n == 0 {
					break
				}
				from := rapid.IntRange(0, n-1).Draw(t, "from")
				to := min(n, from+rapid.SampledFrom([]int{1, 1, 2, 5, 60, 400}).Draw(t, "length"))
				x := wild.Draw(t, "wild")
				for i := from; i < to; i++ {
					values[i] = x
				}
			}
		}
		for range rapid.IntRange(0, 4).Draw(t, "times") {
			if n > 0 {
				r.cols.Time[rapid.IntRange(0, n-1).Draw(t, "row")] = rapid.SampledFrom([]float64{-1e6, -3, 0, 7, 7, 1e6}).Draw(t, "time")
			}
		}
		copies := make([][]float64, len(r.cols.Series))
		for k := range copies {
			copies[k] = slices.Clone(r.cols.Series[k].Values)
		}
		times := slices.Clone(r.cols.Time)

		one := Raw(&r.ctx, &r.cols, Default())
		flagged := r.cols.Flagged(one)
		if err := flagged.Validate(); err != nil {
			t.Fatal(err)
		}
		two := Corrected(&r.ctx, &r.cols, &flagged, Default())

		for k := range copies {
			for i, x := range copies[k] {
				if y := r.cols.Series[k].Values[i]; x != y && !(math.IsNaN(x) && math.IsNaN(y)) {
					t.Fatalf("%v row %d was changed from %g to %g", r.cols.Series[k].Variable, i, x, y)
				}
			}
		}
		if !slices.Equal(times, r.cols.Time) {
			t.Fatal("times were changed")
		}
		for _, rep := range []sounding.Report{one, two} {
			for _, f := range rep.Findings {
				for _, s := range f.Spans {
					if s.From < 0 || s.To > n || s.Len() == 0 {
						t.Fatalf("%v: span %v of %d rows", f.Check, s, n)
					}
				}
				if len(f.Spans) > 0 && (f.FirstLine < 2 || !f.FirstTime.Set()) || f.ID == "" || f.Sentence == "" {
					t.Fatalf("not located: %+v", f)
				}
			}
			for _, run := range rep.Runs {
				for _, s := range run.Covered {
					if s.From < 0 || s.To > n {
						t.Fatalf("%v covers %v of %d rows", run.Check, s, n)
					}
				}
			}
		}
	})
}
