package events

import (
	"math"

	"leadline/internal/smooth"
)

// Figures of a lift before release (our choices).
const (
	liftedFor     = 10.0 // s it has to last, and to be over before release
	liftedLeast   = 6.0  // m by pressure …
	liftedHeight  = 12.0 // m … and by satellite height, whose error persists for a minute
	liftedInNoise = 5.0  // times the noise of single samples
)

// lifted returns how far the radiosonde was carried up and brought back before release,
// in m, and when that began; 0 where it was not. Pressure is asked first: satellite
// heights wander by metres at rest.
func (f *finder) lifted() (up, at float64) {
	s, least := &f.pressure, liftedLeast
	if s.len() < 3 {
		s, least = &f.height, liftedHeight
	}
	end := s.at(f.found.time-liftedFor, 0)
	if !f.found.found || end < 20 {
		return 0, 0
	}
	level := smooth.Median(s.z[:end], nil)
	least = max(least, liftedInNoise*s.noise())
	start := -1
	for i := 0; i < end; i++ {
		high := s.z[i]-level > least
		switch {
		case high && start < 0:
			start = i
		case !high && start >= 0:
			if s.t[i]-s.t[start] >= liftedFor {
				highest := smooth.Quantile(s.z[start:i], 0.75, nil) - level
				if highest > up {
					up, at = highest, s.t[start]
				}
			}
			start = -1
		}
	}
	if math.IsNaN(up) {
		return 0, 0
	}
	return up, at
}
