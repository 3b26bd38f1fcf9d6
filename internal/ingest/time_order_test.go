package ingest

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// clockTable is a climb at 5 m/s, one row a second, with what change does to it.
func clockTable(n int, frames bool, change func(t *table)) *table {
	t := &table{time: make([]float64, n), line: make([]int32, n)}
	p, f := make([]float64, n), make([]float64, n)
	for i := range n {
		t.time[i], t.line[i] = float64(i), int32(i+2)
		p[i], f[i] = 1000*math.Exp(-float64(i)*5/7400), float64(100+i)
	}
	t.series = []sounding.Series{{Variable: sounding.Pressure, Values: p}}
	if frames {
		t.series = append(t.series, sounding.Series{Variable: sounding.Frame, Values: f})
	}
	change(t)
	return t
}

// drop takes rows out of a table.
func drop(t *table, from, to int) {
	t.time = append(t.time[:from:from], t.time[to:]...)
	t.line = append(t.line[:from:from], t.line[to:]...)
	for i := range t.series {
		v := t.series[i].Values
		t.series[i].Values = append(v[:from:from], v[to:]...)
	}
}

// repeat puts rows [from, to) once more before row at.
func repeat(t *table, from, to, at int) {
	t.time = append(t.time[:at:at], append(append([]float64(nil), t.time[from:to]...), t.time[at:]...)...)
	t.line = append(t.line[:at:at], append(append([]int32(nil), t.line[from:to]...), t.line[at:]...)...)
	for i := range t.series {
		v := t.series[i].Values
		t.series[i].Values = append(v[:at:at], append(append([]float64(nil), v[from:to]...), v[at:]...)...)
	}
}

func TestClockJumpsLateRowsAndRepeats(t *testing.T) {
	add := func(from, to int, seconds float64) func(*table) {
		return func(t *table) {
			for i := from; i < min(to, len(t.time)); i++ {
				t.time[i] += seconds
			}
		}
	}
	const n = 2000
	for _, frames := range []bool{true, false} {
		for _, c := range []struct {
			name   string
			change func(*table)
			counts bool    // the undone rows must have their true times (row number) again
			words  string  // of a finding; "" none at all
			amount float64 // measured of that finding
		}{
			{"nothing", func(*table) {}, true, "", 0},
			{"set back an hour for good", add(1200, n, -3600), true, "is 3600 s behind the rest: undone", -3600},
			{"set back five seconds for good", add(1200, n, -5), true, "is 5 s behind the rest: undone", -5},
			{"put forward an hour for good", add(1200, n, 3600), true, "is 3600 s ahead of the rest: undone", 3600},
			{"forward and back", add(1200, 1300, 600), true, "is 600 s ahead of the rest: undone", 600},
			{"back and forward", add(1200, 1300, -600), true, "is 600 s behind the rest: undone", -600},
			{"first rows of another epoch", add(0, 50, -1.6e9), true, "is 1600000000 s behind the rest: undone", -1.6e9},
			{"one wild stamp", add(1200, 1201, 7200), true, "the time of line 1202 is 7200 s ahead of its neighbours", 7200},
			{"the last stamp wild", add(n-1, n, 1e6), true, "the time of line 2001 is 1000000 s ahead of its neighbours", 1e6},
			{"a gap", func(t *table) { drop(t, 1200, 1500) }, false, "", 0},
			{"sent again, same values", func(t *table) { repeat(t, 1190, 1200, 1200) }, false, "10 rows repeat the time of the row before, with the same values", 10},
			{"late block", func(t *table) {
				// Rows 1200 to 1219 stand after row 1299.
				repeat(t, 1200, 1220, 1300)
				drop(t, 1200, 1220)
			}, false, "20 rows, lines 1202 to 1221, came 99 s late: put into the place of their time", 99},
		} {
			t.Run(fmt.Sprintf("%s, frames %t", c.name, frames), func(t *testing.T) {
				in := clockTable(n, frames, c.change)
				before := append([]float64(nil), in.time...)
				o := orderRows(in)
				for i := 1; i < len(o.time); i++ {
					if o.time[i] < o.time[i-1] {
						t.Fatalf("row %d runs backwards: %g after %g", i, o.time[i], o.time[i-1])
					}
				}
				for i := range before {
					if in.time[i] != before[i] {
						t.Fatal("the table's own time was changed")
					}
				}
				if c.counts {
					for i, x := range o.time {
						if math.Abs(x-float64(i)) > 1e-6 {
							t.Fatalf("row %d stands at %g s", i, x)
						}
					}
				}
				if c.words == "" {
					if len(o.findings) != 0 || o.original != nil {
						t.Errorf("unwanted: %v", o.findings)
					}
					return
				}
				if c.name == "sent again, same values" {
					// What is sent again is late as well.
					if len(o.findings) == 0 || !strings.Contains(o.findings[0].Sentence, "9 rows, lines 1192 to 1200, came 9 s late") {
						t.Fatalf("findings %v", o.findings)
					}
					o.findings = o.findings[1:]
				}
				if len(o.findings) != 1 {
					t.Fatalf("%d findings: %v", len(o.findings), o.findings)
				}
				f := o.findings[0]
				if !strings.Contains(f.Sentence, c.words) || math.Abs(f.Measured.Value()-c.amount) > 1e-6*math.Abs(c.amount) || f.Check != quality.TimeOrder || len(f.Spans) == 0 {
					t.Errorf("%q measured %g, want %q and %g", f.Sentence, f.Measured.Value(), c.words, c.amount)
				}
				if strings.Contains(c.words, "undone") && o.original == nil {
					t.Error("the source's own times are not kept")
				}
			})
		}
	}
}

// Rows under stamps of whole seconds are spread; every second row bad would be wrong.
func TestCoarseStampsAreSpread(t *testing.T) {
	in := clockTable(400, false, func(t *table) {
		for i := range t.time {
			t.time[i] = float64(i / 4)
		}
	})
	o := orderRows(in)
	if len(o.findings) != 1 || o.findings[0].Severity != sounding.Note || !strings.Contains(o.findings[0].Sentence, "300 of 400 rows repeat the time before") {
		t.Fatalf("findings %v", o.findings)
	}
	for i, x := range o.time {
		if math.Abs(x-float64(i)/4) > 1e-9 {
			t.Fatalf("row %d stands at %g s, want %g", i, x, float64(i)/4)
		}
	}
	if o.original[5] != 1 {
		t.Errorf("the source's own time is %g, want 1", o.original[5])
	}
}

// Findings about unreadable values follow their row when late rows are put in place.
func TestFindingsFollowTheirRows(t *testing.T) {
	raw := mustRead(t, plainRecipe, "time;p;t;u\n2031-06-03T23:04:11Z;968.4;17;61\n2031-06-03T23:04:14Z;967.5;17;61\n2031-06-03T23:04:12Z;oops;17;61\n2031-06-03T23:04:13Z;967.8;17;61\n2031-06-03T23:04:13Z;967.7;17;61\n2031-06-03T23:04:15Z;967.2;17;61\n2031-06-03T23:04:16Z;967;17;61\n2031-06-03T23:04:17Z;966.7;17;61\n2031-06-03T23:04:18Z;966.4;17;61\n", Options{})
	equal(t, "time", raw.Time, []float64{83051, 83052, 83053, 83053, 83054, 83055, 83056, 83057, 83058})
	if fmt.Sprint(raw.Line) != "[2 4 5 6 3 7 8 9 10]" {
		t.Errorf("lines %v", raw.Line)
	}
	var syntax, late, repeats *sounding.Finding
	for i := range raw.Findings {
		switch f := &raw.Findings[i]; {
		case f.Check == quality.Syntax:
			syntax = f
		case strings.Contains(f.Sentence, "late"):
			late = f
		default:
			repeats = f
		}
	}
	if syntax == nil || late == nil || repeats == nil {
		t.Fatalf("findings %v", raw.Findings)
	}
	if s := syntax.Spans[0]; s.From != 1 || s.To != 2 || syntax.FirstLine != 4 {
		t.Errorf("unreadable value: %v line %d", syntax.Spans, syntax.FirstLine)
	}
	if s := late.Spans[0]; s.From != 1 || s.To != 4 {
		t.Errorf("late rows: %v", late.Spans)
	}
	if s := repeats.Spans[0]; s.From != 3 || s.To != 4 || repeats.Severity != sounding.Bad || repeats.Variable != sounding.NoVariable {
		t.Errorf("repeats: %+v", repeats)
	}
	flagged := raw.Columns.Flagged(sounding.Report{Findings: raw.Findings})
	if f := flagged.Get(sounding.Pressure).Flags; f[3] != quality.Bad || f[2] != quality.NotEvaluated || f[1] != quality.Missing {
		t.Errorf("flags %v", f)
	}
}

// A table written from the last row to the first is turned round, with one note; a
// table in which every row stands twice is no finer clock.
func TestRowsTurnedRoundAndRowsTwice(t *testing.T) {
	const n = 500
	for _, frames := range []bool{true, false} {
		turned := clockTable(n, frames, func(*table) {})
		for i, j := 0, n-1; i < j; i, j = i+1, j-1 {
			turned.time[i], turned.time[j] = turned.time[j], turned.time[i]
			turned.line[i], turned.line[j] = turned.line[j], turned.line[i]
			for _, s := range turned.series {
				s.Values[i], s.Values[j] = s.Values[j], s.Values[i]
			}
		}
		o := orderRows(turned)
		if len(o.findings) != 1 || !strings.Contains(o.findings[0].Sentence, "from the last to the first") {
			t.Fatalf("frames %v: findings %v", frames, o.findings)
		}
		for i := range n {
			if o.time[i] != float64(i) || o.order[i] != n-1-i || o.moved[n-1-i] != i {
				t.Fatalf("frames %v, row %d: time %g, was row %d, moved to %d", frames, i, o.time[i], o.order[i], o.moved[n-1-i])
			}
		}

		twice := clockTable(n, frames, func(*table) {})
		for i := n - 1; i >= 0; i-- {
			repeat(twice, i, i+1, i)
		}
		o = orderRows(twice)
		if len(o.findings) != 1 || o.findings[0].Severity != sounding.Bad || o.findings[0].Measured != n || o.time[601] != 300 {
			t.Fatalf("frames %v: findings %v, row 601 at %g s", frames, o.findings, o.time[601])
		}
	}
}

// Another flight of the day whose counter happens to begin where that of the first
// ended is no jump of the clock: the height does not go on.
func TestTwoFlightsAreNoClockJump(t *testing.T) {
	table := clockTable(2000, true, func(t *table) {
		for i := 1000; i < 2000; i++ {
			t.time[i] += 2053
			t.series[0].Values[i] = 1000 * math.Exp(-float64(i-1000)*5/7400)
			t.series[1].Values[i] += 30
		}
	})
	if o := orderRows(table); len(o.findings) > 0 {
		t.Errorf("%v", o.findings)
	}
}
