package correct_test

import (
	"testing"

	"leadline/internal/correct"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/wind"
)

// BenchmarkFlight runs corrections and wind over one simulated two-hour flight cut to
// 7,200 rows.
func BenchmarkFlight(b *testing.B) {
	for _, name := range []string{"twin-humidity", "single-humidity", "no-barometer"} {
		s, err := truth.Preset(truth.MidLatitudeSummer, true)
		if err != nil {
			b.Fatal(err)
		}
		if s.Sheet, _, err = sounding.ShippedSheet(name); err != nil {
			b.Fatal(err)
		}
		in := cut(fly(b, s, 1).checked, 7200)
		set, blow := correct.Default(), wind.Default()
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r, err := correct.Run(in, set)
				if err != nil {
					b.Fatal(err)
				}
				if _, err := wind.Run(&in.Context, &r.Columns, blow); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(in.Len()), "rows")
		})
	}
}

// cut keeps the first n rows.
func cut(in *sounding.Checked, n int) *sounding.Checked {
	out := *in
	if in.Len() <= n {
		return &out
	}
	out.Columns = sounding.Columns{Time: in.Time[:n], Line: in.Line[:n], Source: in.Source[:n]}
	for _, s := range in.Series {
		s.Values, s.Flags, s.Tests = s.Values[:n], s.Flags[:n], s.Tests[:n]
		out.Series = append(out.Series, s)
	}
	out.Events.Phases = nil
	for _, p := range in.Events.Phases {
		if p.Span = p.Span.Clip(sounding.Span{From: 0, To: n}); p.Len() > 0 {
			out.Events.Phases = append(out.Events.Phases, p)
		}
	}
	return &out
}
