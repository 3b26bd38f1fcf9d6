package check

import (
	"strconv"
	"strings"
	"testing"

	"leadline/internal/authority"
)

// Rows QC-01 to QC-15: the published windows are the shipped ones, level by level;
// QC-16: the published limit of a fall of potential temperature.
func TestLimitsAgainstAuthorities(t *testing.T) {
	g := &Default().Gross
	authority.Run(t, "check", func(t *testing.T, row authority.Row) {
		if row.ID == "QC-16" {
			if got := Default().Superadiabatic.Limit; got != row.Value(t) {
				t.Errorf("limit %g K, published %g K", got, row.Value(t))
			}
			return
		}
		level := row.Input(t, "p")
		for k, p := range g.Level {
			if p != level {
				continue
			}
			got := []float64{g.Lowest[k], g.Highest[k], g.Coldest[k], g.Warmest[k], g.Fastest[k]}
			words := strings.FieldsFunc(row.Expected, func(r rune) bool { return strings.ContainsRune("/; ", r) })
			if len(words) != len(got) {
				t.Fatalf("%s: %d figures in %q", row.ID, len(words), row.Expected)
			}
			for i, w := range words {
				if want, err := strconv.ParseFloat(w, 64); err != nil || got[i] != want {
					t.Errorf("%s: figure %d is %g, published %s", row.ID, i+1, got[i], w)
				}
			}
			return
		}
		t.Errorf("%s: no window at %g hPa", row.ID, level)
	})
}
