package prelaunch

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/earth"
	"leadline/internal/gas"
	"leadline/internal/sounding"
)

// Phase of a predicted flight.
type Phase uint8

// The phases of a track.
const (
	Ascent Phase = iota
	Descent
)

// MarshalText writes the phase's word.
func (p Phase) MarshalText() ([]byte, error) {
	return []byte([...]string{"ascent", "descent"}[min(int(p), 1)]), nil
}

// Point is one point of a predicted track.
type Point struct {
	Time float64 `json:"time_s"` // since release
	Place
	Height float64 `json:"height_m_msl"`
	Rate   float64 `json:"vertical_rate_m_s"` // up positive
	Phase  Phase   `json:"phase"`
}

// Flight is what is going to fly: the fill with its drag and burst, the fall after it, and
// where it starts.
type Flight struct {
	Release time.Time
	Start   Place
	Ground  float64 // m above mean sea level, of the release point
	Landing float64 // m above mean sea level where it is expected to land; the release point's where nothing better is known
	Fill    gas.Fill
	Drag    gas.Drag
	Burst   float64 // m, diameter
	Fall    gas.Fall
}

// Doubt holds standard uncertainties of a prediction, k = 1.
type Doubt struct {
	Rate          float64 `json:"rate_share"`            // share of the rate of climb
	BurstDiameter float64 `json:"burst_diameter_share"`  // share of the burst diameter
	BurstLimits   bool    `json:"burst_diameter_limits"` // that share is of a uniform distribution, as a table's ± limits are; else normal
	Burst         float64 `json:"burst_m"`               // m of burst height besides
	Fall          float64 `json:"fall_share"`            // share of the rate of fall
	WindLow       float64 `json:"wind_low_m_s"`          // of each component at the ground
	WindHigh      float64 `json:"wind_high_m_s"`         // at 12 km above it and more
	WindDepth     float64 `json:"wind_depth_m"`          // height over which wind errors lose 1 − 1/e of their likeness
	// Known is the height in m below which the wind has been measured by this very flight;
	// there WindKnown is the uncertainty (the wind changes until the descent comes through).
	Known     sounding.Number `json:"known_m_msl"`
	WindKnown sounding.Number `json:"wind_known_m_s"`
}

// DoubtOf returns the uncertainties of the settings for a flight: the rate from its drag
// (half its relative uncertainty, since w ∝ Cd^−½) where that was fitted, the burst diameter from
// the table's limits, the fall from itself.
func DoubtOf(f *Flight, table *gas.Table, set *Settings) Doubt {
	d := &set.Drift
	out := Doubt{Rate: d.Rate, BurstDiameter: table.Spread / 100 / math.Sqrt(3), BurstLimits: true, Burst: d.Burst, Fall: f.Fall.Relative,
		WindLow: d.WindLow, WindHigh: d.WindHigh, WindDepth: d.WindDepth, Known: sounding.NotSet, WindKnown: sounding.NotSet}
	if f.Drag.Flights > 0 {
		out.Rate = f.Drag.Relative / 2
	}
	return out
}

// wind returns the standard uncertainty of a wind component at a height above the ground.
func (d *Doubt) wind(z, ground float64) float64 {
	if z < d.Known.Value() { // never where it is not set
		return d.WindKnown.Value()
	}
	x := math.Max(0, math.Min(1, (z-ground)/12000))
	return d.WindLow + x*(d.WindHigh-d.WindLow)
}

// State is where a flight is now; the zero value is before release.
type State struct {
	InFlight   bool
	Time       float64 // s since release
	Place      Place
	Height     float64 // m above mean sea level
	Descending bool
	RateFactor float64 // measured over planned rate of climb; 0 is 1
}

// Prediction is where a flight will go and come down.
type Prediction struct {
	Track      []Point  `json:"track"`
	Burst      Point    `json:"burst"`
	Landing    Point    `json:"landing"`
	BurstTime  Value    `json:"burst_time_s"` // since release
	BurstAt    Value    `json:"burst_height_m_msl"`
	FlightTime Value    `json:"landing_time_s"` // since release
	Distance   float64  `json:"landing_distance_m"`
	Bearing    float64  `json:"landing_bearing_deg"`
	Farthest   float64  `json:"farthest_m"` // from the release point along the track
	Ellipse    Ellipse  `json:"ellipse"`
	Trials     []Place  `json:"-"` // landings of the Monte-Carlo trials
	Wind       string   `json:"wind"`
	Remarks    []Remark `json:"remarks,omitempty"`
}

// grid is the flight on layers of equal depth: everything a trial needs.
type grid struct {
	low, step float64
	u, v      []float64 // wind in the middle of each layer
	up, down  []float64 // m s⁻¹ there
	diameter  []float64 // m, of the balloon at the top of each layer
	uWind     []float64
	ar        float64 // likeness of wind errors from layer to layer
}

func newGrid(f *Flight, wind *Profile, air gas.Atmosphere, d *Doubt, low, high, step float64) (*grid, error) {
	n := int(math.Ceil((high - low) / step))
	g := &grid{low: low, step: step, ar: math.Exp(-step / d.WindDepth)}
	for _, x := range []*[]float64{&g.u, &g.v, &g.up, &g.down, &g.diameter, &g.uWind} {
		*x = make([]float64, n)
	}
	scale := earth.HeightScaleAt(f.Start.Latitude)
	rate := 0.0
	for i := range n {
		z := low + (float64(i)+0.5)*step
		a := air(scale.Geopotential(z))
		c := f.Fill.Rate(a, f.Drag, rate)
		if rate = c.Rate; math.IsNaN(rate) {
			return nil, fmt.Errorf("at %.0f m the balloon does not rise: free lift %.3f kg; fill more gas", z, f.Fill.FreeLift(a))
		}
		g.u[i], g.v[i] = wind.WindAt(z)
		g.up[i], g.down[i] = rate, f.Fall.At(a.Density())
		g.diameter[i] = f.Fill.Diameter(air(scale.Geopotential(z + step/2)))
		g.uWind[i] = d.wind(z, f.Ground)
	}
	return g, nil
}

// burstAt returns the height in m at which the balloon has a diameter in m.
func (g *grid) burstAt(diameter float64) float64 {
	low, high := 0, len(g.diameter)-1
	if diameter <= g.diameter[0] {
		return g.low + g.step
	}
	if diameter >= g.diameter[high] {
		return g.low + float64(len(g.diameter))*g.step
	}
	for high-low > 1 {
		if m := (low + high) / 2; g.diameter[m] < diameter {
			low = m
		} else {
			high = m
		}
	}
	f := (diameter - g.diameter[low]) / (g.diameter[high] - g.diameter[low])
	return g.low + (float64(low)+1+f)*g.step
}

// trial is one way the flight may go.
type trial struct {
	rate, fall float64   // factors
	burst      float64   // m
	eu, ev     []float64 // wind errors by layer, nil for none
}

// fly follows one trial from a state and calls visit at every layer's end.
func (g *grid) fly(f *Flight, s *State, t *trial, visit func(Point)) (landing, burst Point) {
	at := Point{Place: f.Start, Height: f.Ground}
	if s.InFlight {
		at = Point{Time: s.Time, Place: s.Place, Height: s.Height}
		if s.Descending {
			at.Phase = Descent
		}
	}
	layer := func(z float64) int { return max(0, min(int(math.Floor((z-g.low)/g.step)), len(g.u)-1)) }
	move := func(i int, to, rate float64, phase Phase) {
		dt := math.Abs(to-at.Height) / rate
		u, v := g.u[i], g.v[i]
		if t.eu != nil {
			u += t.eu[i]
			v += t.ev[i]
		}
		m := metricAt(at.Latitude, (at.Height+to)/2)
		at.Latitude = math.Max(-90, math.Min(90, at.Latitude+v*dt*m.perNorth))
		at.Longitude = wrap(at.Longitude + u*dt*m.perEast)
		at.Time += dt
		at.Height, at.Phase, at.Rate = to, phase, rate
		if phase == Descent {
			at.Rate = -rate
		}
		if visit != nil {
			visit(at)
		}
	}
	if visit != nil {
		visit(at)
	}
	if at.Phase == Ascent {
		for at.Height < t.burst {
			i := layer(at.Height + 1e-6)
			top := g.low + float64(i+1)*g.step
			if i == len(g.u)-1 {
				top = math.Inf(1)
			}
			move(i, math.Min(top, t.burst), g.up[i]*t.rate, Ascent)
		}
	}
	burst = at
	for at.Height > f.Landing {
		i := layer(at.Height - 1e-6)
		bottom := g.low + float64(i)*g.step
		if i == 0 {
			bottom = math.Inf(-1)
		}
		move(i, math.Max(bottom, f.Landing), g.down[i]*t.fall, Descent)
	}
	return at, burst
}

// Predict follows a flight through a wind profile and the air over the site, once as
// planned and once for every Monte-Carlo trial, from the state it is in. The same
// arguments give the same answer: the seed is in the settings.
func Predict(f *Flight, s State, wind *Profile, air gas.Atmosphere, d Doubt, set *Settings) (*Prediction, error) {
	if err := wind.Validate(); err != nil {
		return nil, err
	}
	if !(math.Abs(f.Start.Latitude) < 89.9 && math.Abs(f.Start.Longitude) <= 180) {
		return nil, fmt.Errorf("the release point %g, %g is no place the drift can be computed from: want a latitude below 89.9° and a longitude of −180 to 180°", f.Start.Latitude, f.Start.Longitude)
	}
	if !(f.Fall.Rate > 0.3 && f.Fall.Rate < 60) {
		return nil, fmt.Errorf("a fall at %g m/s near the ground: want 0.3 to 60 m/s", f.Fall.Rate)
	}
	scale := earth.HeightScaleAt(f.Start.Latitude)
	nominal, err := f.Fill.BurstHeight(f.Burst, scale.Geopotential(f.Ground), air)
	if err != nil {
		return nil, err
	}
	nominal = scale.Geometric(nominal)
	if s.RateFactor == 0 {
		s.RateFactor = 1
	}
	low := math.Min(f.Ground, f.Landing)
	if s.InFlight && !s.Descending && nominal < s.Height+100 {
		nominal = s.Height + 100 // higher already than it should have come
	}
	top := math.Min(46500, math.Max(nominal, s.Height)+4*math.Hypot(d.Burst, 3*7000*d.BurstDiameter)+500)
	g, err := newGrid(f, wind, air, &d, low, top, set.Drift.Step)
	if err != nil {
		return nil, err
	}
	p := &Prediction{Wind: wind.Source}
	r := remarks{about: "drift"}
	plan := trial{rate: s.RateFactor, fall: 1, burst: nominal}
	p.Landing, p.Burst = g.fly(f, &s, &plan, func(at Point) {
		p.Track = append(p.Track, at)
		distance, _ := at.Place.From(f.Start)
		p.Farthest = math.Max(p.Farthest, distance)
	})
	p.Distance, p.Bearing = p.Landing.Place.From(f.Start)

	random := newRandom(set.Drift.Seed)
	n := set.Drift.Trials
	p.Trials = make([]Place, n)
	burstTimes, heights, times := make([]float64, n), make([]float64, n), make([]float64, n)
	t := trial{eu: make([]float64, len(g.u)), ev: make([]float64, len(g.u))}
	keep := math.Sqrt(1 - g.ar*g.ar)
	for k := range n {
		t.rate = s.RateFactor * math.Exp(d.Rate*random.normal())
		t.fall = math.Exp(d.Fall * random.normal())
		share := d.BurstDiameter * random.normal()
		if d.BurstLimits {
			share = d.BurstDiameter * math.Sqrt(3) * (2*random.uniform() - 1)
		}
		t.burst = math.Min(g.burstAt(f.Burst*(1+share))+d.Burst*random.normal(), top)
		t.burst = math.Max(t.burst, math.Max(low+300, s.Height+20))
		eu, ev := random.normal(), random.normal()
		for i := range t.eu {
			t.eu[i], t.ev[i] = eu*g.uWind[i], ev*g.uWind[i]
			eu = g.ar*eu + keep*random.normal()
			ev = g.ar*ev + keep*random.normal()
		}
		landing, burst := g.fly(f, &s, &t, nil)
		p.Trials[k], times[k], burstTimes[k], heights[k] = landing.Place, landing.Time, burst.Time, burst.Height
	}
	p.Ellipse = newEllipse(p.Trials)
	value := func(x float64, sample []float64) Value {
		return Value{sounding.Number(x), sounding.Number(deviation(sample, x))}
	}
	p.BurstTime, p.BurstAt, p.FlightTime = value(p.Burst.Time, burstTimes), value(p.Burst.Height, heights), value(p.Landing.Time, times)

	if topWind := wind.Top(); topWind < p.Burst.Height-500 {
		r.say(Warning, "the wind profile ends at %.1f km and the balloon is expected to burst at %.1f km: its last wind is used above", topWind/1000, p.Burst.Height/1000)
	}
	if bottom := wind.Height[0]; bottom > f.Ground+500 {
		r.say(Warning, "the wind profile begins %.0f m above the release point: its first wind is used below", bottom-f.Ground)
	}
	if !wind.Valid.IsZero() {
		if off := f.Release.Sub(wind.Valid); off > 6*time.Hour || off < -6*time.Hour {
			r.say(Warning, "the wind profile is valid at %s UTC, %.0f h from the release: its winds may be others by then", wind.Valid.Format("2006-01-02 15:04"), math.Abs(off.Hours()))
		}
	}
	p.Remarks = r.list
	return p, nil
}

// deviation returns the root mean square of a sample about a value.
func deviation(sample []float64, about float64) float64 {
	var sum float64
	for _, x := range sample {
		sum += (x - about) * (x - about)
	}
	return math.Sqrt(sum / float64(len(sample)))
}
