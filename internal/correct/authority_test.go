package correct

import (
	"testing"

	"leadline/internal/authority"
)

// Rows SEN-01, SEN-02 and SEN-04: the first-order sensor the lag corrections undo.
func TestLagAgainstAuthorities(t *testing.T) {
	authority.Run(t, "correct", func(t *testing.T, row authority.Row) {
		switch row.ID {
		case "SEN-01": // 5 s, −6.5 K/km at 5 m/s, long after the ramp began
			const n, tau = 400, 5.0
			times, air := seconds(n, 1), make([]float64, n)
			for i := range air {
				air[i] = 288 - 6.5e-3*5*times[i]
			}
			row.Check(t, respond(times, air, constant(n, tau))[n-1]-air[n-1])
		case "SEN-02": // a step of the air, which takes a millisecond where air is linear between samples
			const rise = 1e-3
			got := respond([]float64{0, rise, 20 + rise}, []float64{0, 1, 1}, constant(3, 10))[2]
			row.Near(t, got, row.Value(t), rise/10) // half of the rise over tau
		case "SEN-04": // a is what alpha and beta of the inversion are made of
			v := newInversion()
			v.grow(2)
			fill(v.edge, 1)
			v.prepare(seconds(2, 1), constant(2, 10), nil)
			a := v.beta[1] / v.alpha[1]
			row.Check(t, (22-a*20)/(1-a))
		default:
			t.Fatalf("row %s is claimed for correct but not run", row.ID)
		}
	})
}
