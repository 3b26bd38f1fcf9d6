package events

import (
	"math"

	"leadline/internal/sounding"
)

// signal is one measure of height along the flight, freed of missing values,
// outliers and rows whose time breaks the order. Its zero is arbitrary: only
// differences are used, except against a resting value of the same signal.
type signal struct {
	name string    // "height" or "pressure"
	t, z []float64 // s, m
	row  []int32
	rest float64 // z of the release point by the launch record, NaN where not known
}

// What an altitude can be, m, and how far it can be from the last one believed:
// jumpFloor plus jumpRate for every second between. Free fall of a burst balloon's
// load at 35 km does not pass 120 m/s (common practice, no source).
const (
	lowest, highest = -600, 60000
	jumpFloor       = 60
	jumpRate        = 120
	jumpConfirm     = 5 // so many later samples near the new value make a jump believable
)

func (s *signal) len() int { return len(s.t) }

// newSignal builds a signal from one column; convert turns a finite value into m.
func newSignal(name string, time, values []float64, convert func(float64) float64) signal {
	s := signal{name: name, rest: math.NaN()}
	if values == nil {
		return s
	}
	s.t, s.z, s.row = make([]float64, 0, len(time)), make([]float64, 0, len(time)), make([]int32, 0, len(time))
	for i, v := range values {
		if math.IsNaN(v) {
			continue
		}
		z := convert(v)
		if !(z >= lowest && z <= highest) {
			continue
		}
		n := len(s.t)
		// A single row stamped into the future must not hide all that follow.
		if n > 1 && time[i] <= s.t[n-1] && time[i] > s.t[n-2] && (n < 3 || s.t[n-1]-s.t[n-2] > 10*(time[i]-s.t[n-2])) {
			s.t, s.z, s.row = s.t[:n-1], s.z[:n-1], s.row[:n-1]
			n--
		}
		if n > 0 && time[i] <= s.t[n-1] {
			continue
		}
		s.t, s.z, s.row = append(s.t, time[i]), append(s.z, z), append(s.row, int32(i))
	}
	s.dropOutliers()
	return s
}

// dropOutliers removes samples that stand too far from the last believed one,
// unless the samples after them stand there too.
func (s *signal) dropOutliers() {
	n := len(s.t)
	if n == 0 {
		return
	}
	kept := 0
	for i := 0; i < n; i++ {
		if kept > 0 {
			reach := func(j int, t, z float64) bool {
				return math.Abs(s.z[j]-z) <= jumpFloor+jumpRate*math.Abs(s.t[j]-t)
			}
			if !reach(i, s.t[kept-1], s.z[kept-1]) {
				same, seen := 0, 0
				for j := i + 1; j < n && seen < jumpConfirm; j++ {
					seen++
					if reach(j, s.t[i], s.z[i]) {
						same++
					}
				}
				if same < jumpConfirm {
					continue
				}
			}
		} else if i+2 < n && math.Abs(s.z[i]-s.z[i+1]) > jumpFloor+jumpRate*(s.t[i+1]-s.t[i]) &&
			math.Abs(s.z[i+1]-s.z[i+2]) <= jumpFloor+jumpRate*(s.t[i+2]-s.t[i+1]) {
			continue // the very first sample stands alone
		}
		s.t[kept], s.z[kept], s.row[kept] = s.t[i], s.z[i], s.row[i]
		kept++
	}
	s.t, s.z, s.row = s.t[:kept], s.z[:kept], s.row[:kept]
}

// pressureHeight is a height in m that falls with pressure much as the standard
// atmosphere's does (a cubic in ln p: within 2 % below 5 km, 15 % too low at
// 30 km). It serves to find when the balloon moves, and is never reported.
func pressureHeight(p float64) float64 {
	if p <= 0.5 || p > 1200 {
		return math.NaN()
	}
	x := math.Log(1013.25 / p)
	return 44330.8 * x * (0.190263 + x*(-0.0181+0.001148*x))
}

// best returns whichever measure of geometric height has the most values: above
// sea level, above the ellipsoid, geopotential.
func best(c *sounding.Columns) (values []float64, which sounding.Variable) {
	most := 0
	for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.GeopotentialHeight, sounding.HeightEllipsoid} {
		values2 := c.Values(v)
		n := 0
		for _, x := range values2 {
			if !math.IsNaN(x) {
				n++
			}
		}
		// A later one must be clearly better, so that the choice does not hang on a few samples.
		if n > most+most/5 {
			most, values, which = n, values2, v
		}
	}
	return values, which
}

// signals returns height and pressure as signals, with their resting values where
// the launch record gives them.
func signals(c *sounding.Columns, record *sounding.LaunchRecord) (height, pressure signal) {
	values, which := best(c)
	height = newSignal("height", c.Time, values, func(z float64) float64 { return z })
	pressure = newSignal("pressure", c.Time, c.Values(sounding.Pressure), pressureHeight)
	if record == nil {
		return height, pressure
	}
	site := record.Site.Height.Value()
	switch which {
	case sounding.HeightMSL, sounding.GeopotentialHeight: // differ by less than 1 m in 1 km
		height.rest = site
	case sounding.HeightEllipsoid:
		height.rest = site + record.Site.Undulation.Value()
	}
	if p := record.Surface.Pressure.Value(); p > 0 {
		up := site - record.Site.Barometer.Or(site)
		if math.IsNaN(up) {
			up = 0
		}
		pressure.rest = pressureHeight(p) + up
	}
	return height, pressure
}

// at returns the first index whose time is at or after t, from index from on.
func (s *signal) at(t float64, from int) int {
	i := max(from, 0)
	for i < len(s.t) && s.t[i] < t {
		i++
	}
	return i
}

// top returns the index of the highest sample in [from, to).
func (s *signal) top(from, to int) int {
	m := from
	for i := from; i < to; i++ {
		if s.z[i] > s.z[m] {
			m = i
		}
	}
	return m
}
