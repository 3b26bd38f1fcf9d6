package follow

import (
	"math"
	"time"

	"leadline/internal/earth"
	"leadline/internal/prelaunch"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// State is a flight that is followed as it stands at one moment.
type State struct {
	Name     string    `json:"name"` // of the source
	Link     Link      `json:"link"`
	Sentence string    `json:"link_sentence"` // how things stand with the source
	Since    time.Time `json:"link_since_utc,omitzero"`
	Now      time.Time `json:"now_utc"` // by the clock of the flight, which runs faster in a replay
	Speed    float64   `json:"speed"`   // 1, or that of the replay

	Others []Receiving `json:"others"` // further receivers of the flight

	Received int64           `json:"received_bytes"` // by all
	Unsaved  int64           `json:"unsaved_bytes"`  // of them in memory only
	LastCame time.Time       `json:"last_received_utc,omitzero"`
	Age      sounding.Number `json:"age_s"` // since anything was received

	Revision int             `json:"revision"` // rises with every computation
	Unread   string          `json:"unread"`   // why there is no flight in what was received; "" where there is one
	Rows     int             `json:"rows"`
	LastUTC  time.Time       `json:"last_row_utc,omitzero"`
	Flight   string          `json:"flight"` // what it will be called
	Site     string          `json:"site"`
	Phase    string          `json:"phase"` // "" before the first row
	Release  time.Time       `json:"release_utc,omitzero"`
	SinceS   sounding.Number `json:"since_release_s"`
	Summary  string          `json:"summary"` // one sentence

	Height   sounding.Number  `json:"height_m_msl"`
	Pressure sounding.Number  `json:"pressure_hpa"`
	Rate     sounding.Number  `json:"ascent_rate_m_s"`      // over the last half minute
	Mean     sounding.Number  `json:"mean_ascent_rate_m_s"` // over the last minutes
	Target   sounding.Number  `json:"target_ascent_rate_m_s"`
	Values   []Value          `json:"values"`
	Position *prelaunch.Place `json:"position"`
	Start    *prelaunch.Place `json:"start"`
	Distance sounding.Number  `json:"distance_m"` // of the position from the start
	Bearing  sounding.Number  `json:"bearing_deg"`

	Burst    Burst              `json:"burst"`
	Landing  Landing            `json:"landing"`
	Findings []sounding.Finding `json:"findings"`
	Alarms   []Alarm            `json:"alarms"` // newest first
	Message  Message            `json:"message"`
	Ended    *Ended             `json:"ended,omitempty"`
	Journal  string             `json:"journal"` // folder
	Cost     Cost               `json:"cost"`
}

// Value is the last value of one variable.
type Value struct {
	Variable sounding.Variable `json:"variable"`
	Label    string            `json:"label"`
	Unit     string            `json:"unit"`
	Value    sounding.Number   `json:"value"`
	Flag     int               `json:"flag"`
	Late     sounding.Number   `json:"late_s"` // how much older than the last row; null where there was never one
}

// Message is the first message, due before the balloon bursts.
type Message struct {
	Wanted   bool            `json:"wanted"`
	Upto     sounding.Number `json:"upto_hpa"`
	UTC      time.Time       `json:"written_utc,omitzero"`
	Where    string          `json:"where,omitempty"`
	Sentence string          `json:"sentence"`
}

// Ended says how following a flight ended.
type Ended struct {
	UTC     time.Time `json:"utc"`
	Why     string    `json:"why"`
	Flights []Stored  `json:"flights"`
	Error   string    `json:"error,omitempty"` // why the flight is not in the logbook; its bytes are in the journal
}

// Stored is one flight of the logbook that came of what was received.
type Stored struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Known string `json:"known,omitempty"` // why it was not stored again
	Line  string `json:"line"`
}

// Cost is what following takes.
type Cost struct {
	Computation float64 `json:"computation_ms"` // the last one
	Share       float64 `json:"processor_pct"`  // of one processor, over the computations so far
	Count       int     `json:"computations"`
}

// shownValues are the variables whose last value is shown, in this order.
var shownValues = []sounding.Variable{
	sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.HumidityA, sounding.HumidityB, sounding.HeatingA, sounding.HeatingB,
	sounding.WindSpeed, sounding.WindDirection, sounding.Satellites, sounding.Signal, sounding.Battery, sounding.InternalTemperature, sounding.Frame,
}

// lateFindings are the checks whose findings are about how a flight ended or what its
// whole says: before the end they say only that it is not over.
func aboutTheWhole(f *sounding.Finding) bool {
	return f.Check == quality.Burst || len(f.Spans) == 0 && f.Field == "" && f.Stage != "ingest"
}

// facts are what a computed flight says about its last moment.
type facts struct {
	state State
	view  view
}

// factsOf reads the last moment of an outcome.
func factsOf(o *workbench.Outcome, set *Settings) facts {
	f := o.Final
	ev := &f.Events
	n := f.Len()
	var out facts
	s, v := &out.state, &out.view
	s.Rows, s.Flight, s.Site = n, f.FlightName, o.Record.Site.Name
	s.Height, s.Pressure, s.Rate, s.Mean = sounding.NotSet, sounding.NotSet, sounding.NotSet, sounding.NotSet
	s.SinceS, s.Distance, s.Bearing = sounding.NotSet, sounding.NotSet, sounding.NotSet
	s.Target = o.Record.Balloon.TargetAscentRate
	v.target, v.rate, v.expected, v.satellites, v.clock = s.Target, sounding.NotSet, sounding.NotSet, sounding.NotSet, sounding.NotSet
	v.burstAt, v.burstHPa, v.window = sounding.NotSet, sounding.NotSet, set.SlowWindow
	s.Values, s.Findings = []Value{}, []sounding.Finding{}
	if n == 0 {
		return out
	}
	last := f.Time[n-1]
	s.LastUTC = f.UTC(last)
	phase := sounding.BeforeRelease
	if k := len(ev.Phases); k > 0 && ev.Release.Found {
		phase = ev.Phases[k-1].Phase
	}
	if phase == sounding.AfterLanding && !ev.Landing.Found {
		phase = sounding.Descending
	}
	s.Phase, v.phase, v.released = phase.String(), phase, ev.Release.Found
	if ev.Release.Found {
		s.Release, s.SinceS, v.since = ev.Release.UTC, sounding.Number(last), last
	}
	v.burst = ev.Burst.Found
	if v.burst {
		v.burstAt, v.burstHPa, v.burstClock = ev.Burst.Height, ev.Burst.Pressure, ev.Burst.UTC.UTC().Format("15:04:05")
	}

	// Heights as received, without what filters do at the end of a series.
	z := usableOf(f, sounding.HeightMSL)
	if z == nil {
		z = usableOf(f, sounding.GeopotentialHeight)
	}
	if h, _, ok := lastOf(z, f.Time); ok {
		s.Height = sounding.Number(h)
	}
	if p, _, ok := lastOf(f.Usable(sounding.Pressure), f.Time); ok {
		s.Pressure = sounding.Number(p)
	}
	s.Rate = slope(f.Time, z, last-30, 10)
	s.Mean = slope(f.Time, z, math.Max(last-set.SlowWindow, ifReleased(ev)), 30)
	v.rate = s.Mean

	for _, variable := range shownValues {
		series := f.Get(variable)
		if series == nil {
			series = f.Before.Get(variable)
		}
		if series == nil {
			continue
		}
		i := variable.Info()
		x := Value{Variable: variable, Label: i.Label, Unit: i.Unit, Value: sounding.NotSet, Late: sounding.NotSet, Flag: int(quality.Missing)}
		for k := n - 1; k >= 0; k-- {
			if !math.IsNaN(series.Values[k]) {
				x.Value, x.Late = sounding.Number(series.Values[k]), sounding.Number(last-f.Time[k])
				if series.Flags != nil {
					x.Flag = int(series.Flags[k])
				}
				break
			}
		}
		if x.Late.Set() { // a sensor the sheet knows and the source never gave is no news
			s.Values = append(s.Values, x)
		}
	}
	v.few, v.blind, v.satellites = blindness(f, last, set.Satellites)
	if start := startOf(f); start != nil {
		s.Start = start
		if row, at := lastFix(f); row >= 0 {
			s.Position = &at
			d, b, _ := earth.Inverse(start.Latitude, start.Longitude, at.Latitude, at.Longitude)
			s.Distance, s.Bearing = sounding.Number(d), sounding.Number(b)
		}
	}
	for _, finding := range f.Findings {
		if finding.Severity > sounding.Note && !aboutTheWhole(&finding) {
			s.Findings = append(s.Findings, finding)
		}
	}
	return out
}

func ifReleased(ev *sounding.Events) float64 {
	if ev.Release.Found {
		return ev.Release.Time.Value()
	}
	return math.Inf(-1)
}

// usableOf returns a variable as received, without bad values; as corrected where the
// source gave none.
func usableOf(f *sounding.Final, v sounding.Variable) []float64 {
	if x := f.Before.Usable(v); x != nil {
		return x
	}
	return f.Usable(v)
}

// lastOf returns the last value that is there and its time.
func lastOf(x, t []float64) (value, at float64, ok bool) {
	for i := len(x) - 1; i >= 0; i-- {
		if !math.IsNaN(x[i]) {
			return x[i], t[i], true
		}
	}
	return 0, 0, false
}

// slope fits a straight line to x from a time on; NotSet where the samples span less than
// least seconds.
func slope(t, x []float64, from, least float64) sounding.Number {
	var n, st, sx, stt, stx float64
	first, last := math.NaN(), math.NaN()
	for i := len(x) - 1; i >= 0 && t[i] >= from; i-- {
		if math.IsNaN(x[i]) {
			continue
		}
		if n == 0 {
			last = t[i]
		}
		first = t[i]
		dt := t[i] - last
		n++
		st, sx, stt, stx = st+dt, sx+x[i], stt+dt*dt, stx+dt*x[i]
	}
	if !(last-first >= least) || n < 3 {
		return sounding.NotSet
	}
	return sounding.Number((stx - st*sx/n) / (stt - st*st/n))
}

// blindness returns for how many seconds of rows, up to the last, there have been too few
// satellites and no position; 0 where the source never gave any.
func blindness(f *sounding.Final, last, least float64) (few, blind float64, satellites sounding.Number) {
	satellites = sounding.NotSet
	if s := f.Before.Values(sounding.Satellites); s != nil {
		ever, since := false, f.Time[0]
		for i := len(s) - 1; i >= 0; i-- {
			if !satellites.Set() && !math.IsNaN(s[i]) {
				satellites = sounding.Number(s[i])
			}
			if s[i] >= least {
				ever, since = true, f.Time[i]
				break
			}
		}
		if ever {
			few = last - since
		}
	}
	lat, lon := f.Before.Values(sounding.Latitude), f.Before.Values(sounding.Longitude)
	for i := min(len(lat), len(lon)) - 1; i >= 0; i-- {
		if !math.IsNaN(lat[i]) && !math.IsNaN(lon[i]) {
			blind = last - f.Time[i]
			break
		}
	}
	return few, blind, satellites
}

// startOf returns the release point: of the record, else the first position of the flight.
func startOf(f *sounding.Final) *prelaunch.Place {
	if s := &f.Record.Site; s.Latitude.Set() && s.Longitude.Set() {
		return &prelaunch.Place{Latitude: s.Latitude.Value(), Longitude: s.Longitude.Value()}
	}
	lat, lon := f.Usable(sounding.Latitude), f.Usable(sounding.Longitude)
	for i := f.Events.Release.Row; i >= 0 && i < min(len(lat), len(lon)); i++ {
		if !math.IsNaN(lat[i]) && !math.IsNaN(lon[i]) {
			return &prelaunch.Place{Latitude: lat[i], Longitude: lon[i]}
		}
	}
	return nil
}
