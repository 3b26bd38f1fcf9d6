package correct

import (
	"math"
	"testing"
	"time"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// made is a flight of n rows at 1 Hz in the standard atmosphere, 60 of them before
// release, rising with 5 m/s; edit changes the columns before it is handed out.
func made(t testing.TB, sheet string, n int, edit func(*sounding.Checked)) *sounding.Checked {
	t.Helper()
	const before = 60
	r := sounding.NewLaunchRecord()
	r.Site.Latitude, r.Site.Longitude, r.Site.Height = 47, 9, 400
	g := earth.GeopotentialHeight(400, 47)
	t0, p0, _ := earth.StandardAtmosphere(g)
	r.Surface.Pressure, r.Surface.Temperature, r.Surface.Humidity = sounding.Number(p0), sounding.Number(t0), 60
	vars := []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.HeightMSL, sounding.Latitude, sounding.Longitude}
	vals := make([][]float64, len(vars))
	c := sounding.Columns{}
	for i := range n {
		s := float64(i - before)
		z := 400 + 5*math.Max(0, s)
		temp, p, _ := earth.StandardAtmosphere(earth.GeopotentialHeight(z, 47))
		row := []float64{p, temp, 60 - 50*math.Min(1, (z-400)/12000), z, 47, 9 + 1e-4*math.Max(0, s)}
		for k := range vals {
			vals[k] = append(vals[k], row[k])
		}
		c.Time, c.Line, c.Source = append(c.Time, s), append(c.Line, int32(i+1)), append(c.Source, 0)
	}
	for k, v := range vars {
		c.Series = append(c.Series, sounding.Series{Variable: v, Values: vals[k]})
	}
	ev := sounding.Events{Release: sounding.Event{Found: true, Row: before, Time: 0}, End: sounding.EndDataLost,
		Phases: []sounding.PhaseSpan{{Phase: sounding.BeforeRelease, Span: sounding.Span{From: 0, To: before}}, {Phase: sounding.Ascending, Span: sounding.Span{From: before, To: n}}}}
	var s *sounding.InstrumentSheet
	if sheet != "" {
		var err error
		if s, _, err = sounding.ShippedSheet(sheet); err != nil {
			t.Fatal(err)
		}
	}
	in := &sounding.Checked{Context: sounding.Context{Epoch: time.Date(2031, 6, 3, 11, 4, 0, 0, time.UTC), Events: ev, Record: r, Sheet: s}, Columns: c}
	if edit != nil {
		edit(in)
	}
	in.Columns = in.Columns.Flagged(sounding.Report{Runs: runsFor(in)})
	return in
}

// runsFor makes every series good: a check that ran covers it.
func runsFor(in *sounding.Checked) (runs []sounding.CheckRun) {
	for i := range in.Series {
		runs = append(runs, sounding.CheckRun{Check: quality.Gross, Variable: in.Series[i].Variable, Ran: true})
	}
	return runs
}

func BenchmarkRun(b *testing.B) {
	for _, sheet := range []string{"single-humidity", "twin-humidity"} {
		b.Run(sheet, func(b *testing.B) {
			in := made(b, sheet, 7200, nil)
			set := Default()
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Run(in, set); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
