package parcel

import (
	"math"
	"testing"
)

// One parcel from 1000 to 50 hPa, and compared with 3,000 levels.
func BenchmarkAscent(b *testing.B) {
	start := Start{1000, 300, 0.7 * wexler.At(300)}
	var a Ascent
	b.Run("lift", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			a.Lift(wexler, start, 50, FallsOut)
		}
	})
	var lnp, p, t []float64
	for i := range 3000 {
		x := math.Log(1000) - float64(i)*0.001
		lnp, p, t = append(lnp, x), append(p, math.Exp(x)), append(t, 300*math.Exp(0.19*(x-math.Log(1000))))
	}
	var y Buoyancy
	b.Run("compare", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			y.Ascend(&a, lnp, p, t, t, 0.005)
			y.Energy(Virtual, Rule{Smallest: 1})
		}
	})
}
