package prelaunch

import (
	"math"
	"math/rand/v2"
)

// random draws the same numbers from the same seed on every machine.
type random struct {
	r    *rand.Rand
	next float64
	has  bool
}

func newRandom(seed uint64) *random {
	return &random{r: rand.New(rand.NewPCG(seed, 0x6c6561646c696e65))}
}

func (r *random) uniform() float64 { return r.r.Float64() }

// normal draws from the standard normal distribution by the polar method (Marsaglia and
// Bray 1964).
func (r *random) normal() float64 {
	if r.has {
		r.has = false
		return r.next
	}
	for {
		a, b := 2*r.r.Float64()-1, 2*r.r.Float64()-1
		if s := a*a + b*b; s > 0 && s < 1 {
			f := math.Sqrt(-2 * math.Log(s) / s)
			r.next, r.has = b*f, true
			return a * f
		}
	}
}
