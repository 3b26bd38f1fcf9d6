package prelaunch

import (
	"fmt"
	"math"

	"leadline/internal/gas"
	"leadline/internal/sounding"
)

// Measured is what a flight under way has shown so far: its last fix and the wind it has
// met. Slices have one length, in order of time; NaN where missing.
type Measured struct {
	Time      []float64 // s since release
	Height    []float64 // m above mean sea level
	U, V      []float64 // m s⁻¹
	Latitude  []float64
	Longitude []float64
}

// windPersistence is the standard uncertainty in m s⁻¹ at k = 1 of each wind component
// at a height after the hour or so until the descent comes through (ours).
const windPersistence = 1.5

// Update predicts the rest of a flight: below the height it has reached with the wind it
// has measured (for the descent, time-displaced: standard practice), above with the
// profile of the plan, moved by the difference at the junction, which fades with height;
// the rest of the climb at the planned rate times the ratio measured so far. After the
// burst, that is where the last fixes fall by more than 5 m s⁻¹, only the descent is left.
// It returns an error with fewer than a minute of fixes.
func Update(f *Flight, m *Measured, plan *Profile, air gas.Atmosphere, d Doubt, set *Settings) (*Prediction, error) {
	last, first := -1, -1
	peak := math.Inf(-1)
	for i := range m.Time {
		if math.IsNaN(m.Height[i]) || math.IsNaN(m.Latitude[i]) || math.IsNaN(m.Longitude[i]) || m.Time[i] < 0 {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
		peak = math.Max(peak, m.Height[i])
	}
	if last < 0 || m.Time[last]-m.Time[first] < 60 {
		return nil, fmt.Errorf("less than a minute of positions since release: the plan stands until then")
	}
	s := State{InFlight: true, Time: m.Time[last], Place: Place{m.Latitude[last], m.Longitude[last]}, Height: m.Height[last]}
	// Falling: lower than the peak and down over the last twenty seconds.
	for i := last; i >= first; i-- {
		if math.IsNaN(m.Height[i]) {
			continue
		}
		if dt := m.Time[last] - m.Time[i]; dt >= 20 {
			s.Descending = (m.Height[last]-m.Height[i])/dt < -5 && m.Height[last] < peak-100
			break
		}
	}
	wind, junction := joined(m, first, last, peak, plan, d.WindDepth)
	d.Known, d.WindKnown = sounding.Number(junction), windPersistence

	if !s.Descending {
		planned, err := timeTo(f, peak, m.Height[first], air, set)
		if err != nil {
			return nil, err
		}
		spent := m.Time[last] - m.Time[first]
		s.RateFactor = math.Max(0.2, math.Min(3, planned/spent))
		// A rate that has shown itself over the lower half of the climb is known better than from the plan.
		d.Rate *= math.Max(0.35, 1-math.Min(1, spent/3600))
	}
	p, err := Predict(f, s, wind, air, d, set)
	if err != nil {
		return nil, err
	}
	p.Wind = "measured by this flight"
	if !s.Descending {
		p.Wind += fmt.Sprintf(" up to %.1f km, above: %s", junction/1000, plan.Source)
	}
	return p, nil
}

// timeTo returns the planned seconds from one height in m to another.
func timeTo(f *Flight, to, from float64, air gas.Atmosphere, set *Settings) (float64, error) {
	d := Doubt{WindDepth: 1}
	g, err := newGrid(f, Calm(), air, &d, from, math.Max(to, from+set.Drift.Step), set.Drift.Step)
	if err != nil {
		return 0, err
	}
	t := 0.0
	for i := range g.up {
		depth := math.Min(g.step, to-(from+float64(i)*g.step))
		t += math.Max(0, depth) / g.up[i]
	}
	return t, nil
}

// joined makes one profile of measured layers and the plan above them.
func joined(m *Measured, first, last int, peak float64, plan *Profile, depth float64) (*Profile, float64) {
	type sum struct{ z, u, v, n float64 }
	layers := map[int]*sum{}
	low, high := math.MaxInt, math.MinInt
	for i := first; i <= last; i++ {
		if math.IsNaN(m.Height[i]) || math.IsNaN(m.U[i]) || math.IsNaN(m.V[i]) {
			continue
		}
		k := int(math.Floor(m.Height[i] / layerDepth))
		l := layers[k]
		if l == nil {
			l = &sum{}
			layers[k] = l
		}
		low, high = min(low, k), max(high, k)
		l.z, l.u, l.v, l.n = l.z+m.Height[i], l.u+m.U[i], l.v+m.V[i], l.n+1
	}
	p := &Profile{Source: plan.Source, Valid: plan.Valid}
	nan := math.NaN()
	for k := low; k <= high; k++ {
		if l := layers[k]; l != nil {
			p.add(l.z/l.n, l.u/l.n, l.v/l.n, nan, nan)
		}
	}
	if len(p.Height) == 0 {
		return plan, math.Inf(-1)
	}
	junction := p.Top()
	pu, pv := plan.WindAt(junction)
	du, dv := p.U[len(p.U)-1]-pu, p.V[len(p.V)-1]-pv
	for z := (math.Floor(junction/layerDepth) + 2) * layerDepth; z <= math.Max(plan.Top(), junction+2000); z += layerDepth {
		u, v := plan.WindAt(z)
		fade := math.Exp(-(z - junction) / depth)
		p.add(z, u+du*fade, v+dv*fade, nan, nan)
	}
	return p, junction
}
