package truth

import (
	"math"
	"time"

	"leadline/internal/sounding"
)

// Truth is what the air and the balloon really did, one row a frame, from the first
// frame before release to the last. Time is s since Epoch.
type Truth struct {
	Epoch    time.Time
	Release  float64 // s since Epoch, to 0.01 s
	Burst    float64 // s since Epoch, to 0.01 s; NaN where the balloon did not burst while it was followed
	Landing  float64 // s since Epoch; NaN where it was not followed to the ground
	Time     []float64
	Phase    []sounding.Phase
	Pressure []float64 // hPa
	// Humidity is % over liquid water by the sheet's calibration formula, what a perfect
	// sensor of that calibration would report; VapourPressure in hPa is the air itself.
	Temperature        []float64 // K
	Humidity           []float64
	VapourPressure     []float64
	WindU, WindV       []float64 // m s⁻¹
	AirW               []float64 // m s⁻¹, the air's own rising
	HeightMSL          []float64 // m, of the radiosonde
	GeopotentialHeight []float64 // gpm
	AscentRate         []float64 // m s⁻¹
	Latitude           []float64 // of the point of suspension, degrees
	Longitude          []float64
	SolarElevation     []float64 // degrees
	Warmth             []float64 // K the surroundings are warmer than the air: inside the vehicle
	Cloudy             []bool
	Tropopause         float64 // m above sea level, where the climate put it
	SecondTropopause   float64 // 0 where there is none
	Layers             []Layer // clouds and dry intrusions
}

// Layer is a cloud or a dry intrusion.
type Layer struct {
	Kind        string  // "warm", "mixed", "cold" or "dry"
	Bottom, Top float64 // m above sea level
}

// Len returns the number of frames.
func (t *Truth) Len() int { return len(t.Time) }

// UTC returns an instant of the truth.
func (t *Truth) UTC(seconds float64) time.Time {
	return t.Epoch.Add(time.Duration(math.Round(seconds*100)) * 10 * time.Millisecond)
}

// Values returns the true values of a variable on the frames, nil where the variable
// has none (housekeeping). HumidityA and B share the air's humidity.
func (t *Truth) Values(v sounding.Variable) []float64 {
	switch v {
	case sounding.Pressure:
		return t.Pressure
	case sounding.Temperature:
		return t.Temperature
	case sounding.Humidity, sounding.HumidityA, sounding.HumidityB:
		return t.Humidity
	case sounding.WindU:
		return t.WindU
	case sounding.WindV:
		return t.WindV
	case sounding.HeightMSL:
		return t.HeightMSL
	case sounding.GeopotentialHeight:
		return t.GeopotentialHeight
	case sounding.AscentRate, sounding.VelocityUp:
		return t.AscentRate
	case sounding.Latitude:
		return t.Latitude
	case sounding.Longitude:
		return t.Longitude
	case sounding.SolarElevation:
		return t.SolarElevation
	}
	return nil
}

// Reception is what one receiver wrote.
type Reception struct {
	Name    string // of its file
	Layout  Layout
	Columns sounding.Columns // Time in s since Truth.Epoch; Line as in the file WriteText makes
	// Sample is the frame of the truth each row belongs to, −1 for rows of another radiosonde.
	Sample []int32
	marks  []uint64     // bit i: touched by fault i
	broken []brokenLine // lines that hold no readable row
	serial string
}

// brokenLine is a line of the file that stands before row Row and cannot be read.
type brokenLine struct {
	row  int
	text string
	open bool // without an end of line: the file is cut there
}

// Injected is what one fault did.
type Injected struct {
	Fault
	Sentence string // what happened, with the size
	Field    string // item of the launch record it changed, "" where none
	// Variables it changed; empty where it concerns whole rows or the launch record.
	Variables []sounding.Variable
	Rows      []sounding.Span // rows of Receptions[0] it touched
	Lost      []sounding.Span // frames of the truth that were lost by it
}

// Flight is one simulated flight.
type Flight struct {
	Scenario   Scenario
	Seed       uint64
	warmth     []float64 // K by radiation on each frame, as the sheet expects it
	mixed      uint64    // seed of the streams: the flight's seed with what the scenario is
	Truth      Truth
	Hidden     Hidden
	Receptions []Reception // the first is the main one; a second receiver follows
	Injected   []Injected
	Record     *sounding.LaunchRecord // as the operator wrote it, faults included
	True       *sounding.LaunchRecord // as it should have been written
	// Clean is the first reception as it would have been without the injected faults
	// (faults of the balloon itself excepted).
	Clean Reception
}

// Simulate flies a scenario. The same scenario and seed give the same flight. It
// returns an error only where the scenario cannot be flown.
func Simulate(s Scenario, seed uint64) (*Flight, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	climate, err := s.Climate.sheet()
	if err != nil {
		return nil, err
	}
	f := &Flight{Seed: seed}
	seed = mixed(&s, seed)
	s.Release = s.Release.Add(time.Duration(math.Round(100*s.Jitter*newStream(seed, "release").uniform())) * 10 * time.Millisecond)
	plan := newFlightPlan()
	plan.ground = s.Site.Height
	asked := s.Faults
	s.Faults = append([]Fault(nil), asked...)
	for i := range s.Faults {
		entry, err := faultByName(s.Faults[i].Name)
		if err != nil {
			return nil, err
		}
		if s.Faults[i].Size == 0 {
			s.Faults[i].Size = entry.Size
		}
		if entry.balloon != nil {
			entry.balloon(&s, &s.Faults[i], plan, newStream(seed, "fault "+entry.Name))
		}
	}
	sunny := !climate.dark && sunElevation(s.Release, s.Site.Latitude, s.Site.Longitude) > 8
	a := newAtmosphere(climate, seed, s.Site.Height, s.Site.Latitude, sunny)
	p := fly(&s, a, seed, plan)
	hidden := newHidden(s.Sheet, seed, s.Exact)
	r, err := measure(&s, p, &hidden, seed)
	if err != nil {
		return nil, err
	}
	f.Scenario, f.Hidden, f.mixed, f.warmth = s, hidden, seed, r.warmth
	f.Truth = newTruth(&s, p, a)
	f.True, f.Record = operatorRecord(&s, f, seed)
	first := receive(&s, f, r, seed, "receiver 1")
	first.Name, first.Layout = fileName(&s, 1), s.Layout
	f.Receptions = []Reception{first}
	f.Clean = first
	f.Clean.finish()
	if s.Second {
		second := receive(&s, f, r, seed, "receiver 2")
		second.secondReceiver(f, newStream(seed, "second receiver"))
		second.Name, second.Layout = fileName(&s, 2), s.Layout
		f.Receptions = append(f.Receptions, second)
	}
	f.inject(plan)
	for i := range f.Receptions {
		f.Receptions[i].finish()
	}
	for i := range f.Injected {
		f.Injected[i].Rows = f.Receptions[0].touched(i)
	}
	return f, nil
}

func newTruth(s *Scenario, p *path, a *atmosphere) Truth {
	n := (p.len() + substeps - 1) / substeps
	t := Truth{Epoch: p.start, Release: math.Round(p.release*100) / 100, Burst: math.Round(p.burst*100) / 100, Landing: p.landed, Tropopause: a.tropopause, SecondTropopause: a.second}
	take := func(from []float64) []float64 {
		out := make([]float64, n)
		for k := range out {
			out[k] = from[k*substeps]
		}
		return out
	}
	t.Time, t.Phase, t.Cloudy = make([]float64, n), make([]sounding.Phase, n), make([]bool, n)
	for k := range n {
		t.Time[k] = float64(k) * s.Interval
		t.Phase[k] = p.phase[k*substeps]
		t.Cloudy[k] = p.cloudy[k*substeps]
	}
	t.Pressure, t.Temperature, t.VapourPressure = take(p.p), take(p.t), take(p.e)
	t.WindU, t.WindV, t.AirW = take(p.u), take(p.v), take(p.w)
	t.HeightMSL, t.GeopotentialHeight, t.AscentRate = take(p.z), take(p.geopot), take(p.climb)
	t.Latitude, t.Longitude, t.SolarElevation, t.Warmth = take(p.lat), take(p.lon), take(p.sun), take(p.warm)
	t.Humidity = make([]float64, n)
	table := sheetVapour(s.Sheet)
	for k := range t.Humidity {
		t.Humidity[k] = 100 * t.VapourPressure[k] * math.Exp(-table.ln(t.Temperature[k]))
	}
	for _, l := range a.layers {
		t.Layers = append(t.Layers, Layer{l.kind, l.bottom, l.top})
	}
	return t
}

// receive picks the frames one receiver got: losses come singly and in short runs,
// more of them far away and low.
func receive(s *Scenario, f *Flight, r *reading, seed uint64, name string) Reception {
	rnd := newStream(seed, name)
	t := &f.Truth
	var keep []int32
	signal := make([]float64, 0, t.Len())
	skip := 0
	fade := newWander(rnd, s.Interval, 40)
	for k := range t.Len() {
		far := math.Hypot(111.2*(t.Latitude[k]-s.Site.Latitude), 111.2*math.Cos(s.Site.Latitude*radian)*(t.Longitude[k]-s.Site.Longitude))
		slant := math.Hypot(far, (t.HeightMSL[k]-s.Site.Height)/1000) + 0.1
		db := -52 - 20*math.Log10(slant) + 2.5*fade.next()
		if t.Phase[k] == sounding.Descending {
			if angle := (t.HeightMSL[k] - s.Site.Height) / 1000 / slant; angle < 0.05 {
				db -= (0.05 - angle) * 400
			}
		}
		chance := 0.001 + 0.3/(1+math.Exp((db+109)/1.5))
		if skip > 0 {
			skip--
			continue
		}
		if rnd.uniform() < chance*s.Interval {
			if rnd.chance(0.2) {
				skip = int(rnd.between(1, 5))
			}
			continue
		}
		keep = append(keep, int32(k))
		signal = append(signal, math.Round(db))
	}
	out := Reception{Sample: keep, marks: make([]uint64, len(keep)), serial: s.Serial}
	c := &out.Columns
	c.Time, c.Line, c.Source = make([]float64, len(keep)), make([]int32, len(keep)), make([]uint8, len(keep))
	for i, k := range keep {
		c.Time[i] = t.Time[k]
	}
	for _, v := range r.order {
		values := make([]float64, len(keep))
		from := r.columns[v]
		for i, k := range keep {
			values[i] = from[k]
		}
		c.Series = append(c.Series, sounding.Series{Variable: v, Values: values})
	}
	c.Series = append(c.Series, sounding.Series{Variable: sounding.Signal, Values: signal})
	return out
}

// secondReceiver makes r the file of a receiver that was switched on late and off
// early or late, and whose clock is a little off nothing: frames carry the
// radiosonde's own time.
func (r *Reception) secondReceiver(f *Flight, rnd *stream) {
	from := f.Truth.Release - rnd.between(60, 240)
	to := f.Truth.Time[f.Truth.Len()-1] - rnd.between(0, 900)
	var index []int
	for i, t := range r.Columns.Time {
		if t >= from && t <= to {
			index = append(index, i)
		}
	}
	r.gather(index)
}

// clone returns a reception whose values can be changed.
func (r *Reception) clone() Reception {
	index := make([]int, r.Columns.Len())
	for i := range index {
		index[i] = i
	}
	out := *r
	out.broken = append([]brokenLine(nil), r.broken...)
	out.gather(index)
	return out
}

// gather keeps the rows of index, in that order; a row may stand twice.
func (r *Reception) gather(index []int) {
	pick := func(x []float64) []float64 {
		out := make([]float64, len(index))
		for i, k := range index {
			out[i] = x[k]
		}
		return out
	}
	c := r.Columns
	n := sounding.Columns{Time: pick(c.Time), Line: make([]int32, len(index)), Source: make([]uint8, len(index))}
	for _, s := range c.Series {
		n.Series = append(n.Series, sounding.Series{Variable: s.Variable, Values: pick(s.Values)})
	}
	sample, marks := make([]int32, len(index)), make([]uint64, len(index))
	for i, k := range index {
		sample[i], marks[i] = r.Sample[k], r.marks[k]
	}
	for b := range r.broken {
		at := len(index)
		for i, k := range index {
			if k >= r.broken[b].row {
				at = i
				break
			}
		}
		r.broken[b].row = at
	}
	r.Columns, r.Sample, r.marks = n, sample, marks
}

// finish numbers the lines as the file will have them.
func (r *Reception) finish() {
	line := int32(r.Layout.firstLine())
	b := 0
	for i := range r.Columns.Line {
		for b < len(r.broken) && r.broken[b].row <= i {
			b++
			line++
		}
		r.Columns.Line[i] = line
		line++
	}
}

func (r *Reception) touched(fault int) []sounding.Span {
	mask := make([]bool, len(r.marks))
	for i, m := range r.marks {
		mask[i] = m>>fault&1 == 1
	}
	return sounding.Spans(mask, 0)
}

// Raw returns the flight as reading the first receiver's file gives it, without the
// findings of the reader. The vehicle's receiver writes wind in place of velocities and
// positions in minutes; so does Raw.
func (f *Flight) Raw() *sounding.Raw {
	r := &f.Receptions[0]
	c := r.clone().Columns
	copy(c.Line, r.Columns.Line)
	if r.Layout == Vehicle {
		asVehicle(&c)
	}
	n := c.Len()
	raw := &sounding.Raw{Epoch: f.Truth.Epoch, Columns: c}
	source := sounding.Source{Name: r.Name, Rows: n, Unread: len(r.broken)}
	if n > 0 {
		source.FirstUTC, source.LastUTC = f.Truth.UTC(c.Time[0]), f.Truth.UTC(c.Time[n-1])
	}
	raw.Sources = []sounding.Source{source}
	return raw
}

// asVehicle turns velocities into the wind they ride and rounds angles to 0.0001′, in place.
func asVehicle(c *sounding.Columns) {
	var east, north *sounding.Series
	for i := range c.Series {
		s := &c.Series[i]
		switch s.Variable {
		case sounding.Latitude, sounding.Longitude:
			for k, x := range s.Values {
				s.Values[k] = math.Round(x*600000) / 600000
			}
		case sounding.VelocityEast:
			east = s
		case sounding.VelocityNorth:
			north = s
		}
	}
	if east == nil || north == nil {
		return
	}
	for k := range east.Values {
		u, v := east.Values[k], north.Values[k]
		east.Values[k] = math.Round(36*math.Hypot(u, v)) / 36
		north.Values[k] = math.Round(10*windFrom(u, v)) / 10
	}
	east.Variable, north.Variable = sounding.WindSpeed, sounding.WindDirection
}

// windFrom returns the direction in degrees that a wind comes from.
func windFrom(u, v float64) float64 {
	return math.Mod(math.Atan2(-u, -v)/radian+360, 360)
}

// TruthOf returns the true values of v on the rows of the first reception, NaN on
// rows of another radiosonde; nil where the variable has no truth.
func (f *Flight) TruthOf(v sounding.Variable) []float64 {
	values := f.Truth.Values(v)
	if values == nil {
		return nil
	}
	r := &f.Receptions[0]
	out := make([]float64, len(r.Sample))
	for i, k := range r.Sample {
		out[i] = math.NaN()
		if k >= 0 {
			out[i] = values[k]
		}
	}
	return out
}

// Amount returns by how much the faults changed v on each row of the first reception:
// 0 where nothing did, NaN where the value was lost or belongs to another radiosonde.
func (f *Flight) Amount(v sounding.Variable) []float64 {
	r, clean := &f.Receptions[0], &f.Clean
	now, before := r.Columns.Values(v), clean.Columns.Values(v)
	if now == nil || before == nil {
		return nil
	}
	at := make([]int32, f.Truth.Len())
	for i := range at {
		at[i] = -1
	}
	for i, k := range clean.Sample {
		at[k] = int32(i)
	}
	out := make([]float64, len(now))
	for i, k := range r.Sample {
		out[i] = math.NaN()
		if k >= 0 && at[k] >= 0 {
			out[i] = now[i] - before[at[k]]
		}
	}
	return out
}
