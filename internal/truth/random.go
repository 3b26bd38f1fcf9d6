package truth

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// stream is one source of random numbers. Every part of a flight draws from a
// stream of its own, named after the part, so that a fault or a second receiver
// never shifts the numbers of anything else.
type stream struct {
	pcg   *rand.PCG
	spare float64
	full  bool
}

func newStream(seed uint64, part string) *stream {
	h := fnv.New64a()
	h.Write([]byte(part))
	return &stream{pcg: rand.NewPCG(seed, h.Sum64())}
}

// uniform returns a number in [0, 1).
func (s *stream) uniform() float64 { return float64(s.pcg.Uint64()>>11) * 0x1p-53 }

// between returns a number in [low, high).
func (s *stream) between(low, high float64) float64 { return low + (high-low)*s.uniform() }

// chance is true with probability p.
func (s *stream) chance(p float64) bool { return s.uniform() < p }

// normal returns a standard normal number (Marsaglia and Bray 1964, polar method).
func (s *stream) normal() float64 {
	if s.full {
		s.full = false
		return s.spare
	}
	for {
		a, b := 2*s.uniform()-1, 2*s.uniform()-1
		q := a*a + b*b
		if q > 0 && q < 1 {
			f := math.Sqrt(-2 * math.Log(q) / q)
			s.spare, s.full = b*f, true
			return a * f
		}
	}
}

// near returns a normal number of that mean and standard deviation, never further
// than three standard deviations out.
func (s *stream) near(mean, sd float64) float64 {
	return mean + sd*math.Max(-3, math.Min(3, s.normal()))
}

// factor returns a number within ±share of 1, evenly spread.
func (s *stream) factor(share float64) float64 { return 1 + share*(2*s.uniform()-1) }

// departure returns a factor of mean 1 and that standard deviation, 0.2 where none is
// stated, never further than three standard deviations out nor below 0.3.
func (s *stream) departure(share float64) float64 {
	if !(share > 0) {
		share = 0.2
	}
	return math.Max(0.3, s.near(1, share))
}

// wander is a first-order autoregressive sequence of unit variance.
type wander struct {
	s             *stream
	keep, kick, x float64
}

// newWander returns a sequence whose correlation falls to 1/e after length, sampled every step.
func newWander(s *stream, step, length float64) *wander {
	a := math.Exp(-step / length)
	return &wander{s: s, keep: a, kick: math.Sqrt(1 - a*a), x: s.normal()}
}

func (w *wander) next() float64 {
	w.x = w.keep*w.x + w.kick*w.s.normal()
	return w.x
}

// mixed makes a seed of a flight's seed and of climate, site and hour, so that seed 1
// is not the same instrument in every climate. Faults have no part in it.
func mixed(s *Scenario, seed uint64) uint64 {
	h := fnv.New64a()
	h.Write([]byte(string(s.Climate) + "\n" + s.Site.Name + "\n" + s.Release.UTC().Format("2006-01-02T15:04")))
	return rand.NewPCG(seed, h.Sum64()).Uint64()
}
