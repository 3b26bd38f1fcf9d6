package follow

import (
	"fmt"
	"math"
	"strings"
	"time"

	"leadline/internal/gas"
	"leadline/internal/prelaunch"
	"leadline/internal/sounding"
)

// Burst is when and where the balloon is expected to burst, or has.
type Burst struct {
	Known       bool            `json:"known"`    // something can be said
	Happened    bool            `json:"happened"` // it is no expectation any more
	UTC         time.Time       `json:"utc,omitzero"`
	In          sounding.Number `json:"in_s"` // s from now; 0 where it is overdue
	Uncertainty sounding.Number `json:"u_s"`  // of the time, k = 1
	Height      sounding.Number `json:"height_m_msl"`
	HeightU     sounding.Number `json:"u_m"`
	Sentence    string          `json:"sentence"` // what it rests on, or what is missing for it
}

// Landing is where the radiosonde is expected to come down, or has.
type Landing struct {
	Known    bool              `json:"known"`
	Happened bool              `json:"happened"`
	UTC      time.Time         `json:"utc,omitzero"`
	In       sounding.Number   `json:"in_s"`
	Place    prelaunch.Place   `json:"place"`
	Distance sounding.Number   `json:"distance_m"` // from the release point
	Bearing  sounding.Number   `json:"bearing_deg"`
	Major95  sounding.Number   `json:"major_95_m"` // half-axes of the ellipse that holds 95 %
	Minor95  sounding.Number   `json:"minor_95_m"`
	Ellipse  []prelaunch.Place `json:"ellipse_95"` // its outline
	Track    []prelaunch.Place `json:"track"`      // from the last position on
	Sentence string            `json:"sentence"`
}

func unknownBurst(why string) Burst {
	return Burst{In: sounding.NotSet, Uncertainty: sounding.NotSet, Height: sounding.NotSet, HeightU: sounding.NotSet, Sentence: why}
}

func unknownLanding(why string) Landing {
	return Landing{In: sounding.NotSet, Distance: sounding.NotSet, Bearing: sounding.NotSet, Major95: sounding.NotSet, Minor95: sounding.NotSet,
		Ellipse: []prelaunch.Place{}, Track: []prelaunch.Place{}, Sentence: why}
}

// expectation is the rest of a flight as far as it can be told.
type expectation struct {
	burst   Burst
	landing Landing
}

// unplannedWind is the standard uncertainty in m s⁻¹ of a wind component high up where no
// profile was given and the highest wind measured is taken to go on: about how much winds
// change from the tropopause to the burst (our proposal).
const unplannedWind = 10.0

// expect predicts the rest of a flight from what it has measured. plan is the wind above
// what was measured; nil: that of an earlier flight; nil too: the highest wind measured
// goes on.
func expect(f *sounding.Final, plan *prelaunch.Profile, earlier *Earlier, set *prelaunch.Settings) expectation {
	ev := &f.Events
	if !ev.Release.Found {
		return expectation{unknownBurst("expected once the balloon is released"), unknownLanding("expected once the balloon is released")}
	}
	out := expectation{unknownBurst(""), unknownLanding("")}
	if ev.Burst.Found {
		out.burst = Burst{Known: true, Happened: true, UTC: ev.Burst.UTC, In: sounding.NotSet, Uncertainty: ev.Burst.Uncertainty, Height: ev.Burst.Height, HeightU: sounding.NotSet,
			Sentence: "the balloon has burst"}
	}
	flight, air, winds, err := flightOf(f)
	if err != nil {
		if !ev.Burst.Found {
			out.burst.Sentence = err.Error()
		}
		out.landing.Sentence = err.Error()
		return out
	}
	doubt := prelaunch.DoubtOf(flight, gas.DefaultTable(), set)
	if plan == nil && earlier != nil {
		plan = earlier.Profile
		doubt.WindHigh = max(doubt.WindHigh, earlier.doubt())
	}
	if plan == nil {
		goesOn := *winds
		goesOn.Source = "the highest wind it met"
		plan = &goesOn
		doubt.WindHigh = max(doubt.WindHigh, unplannedWind)
	}
	m := measured(f)
	p, err := prelaunch.Update(flight, m, plan, air, doubt, set)
	if err != nil {
		if !ev.Burst.Found {
			out.burst.Sentence = err.Error()
		}
		out.landing.Sentence = err.Error()
		return out
	}
	if !ev.Burst.Found {
		out.burst = Burst{Known: true, UTC: f.UTC(p.BurstTime.Value.Value()), In: sounding.NotSet, Uncertainty: p.BurstTime.U, Height: p.BurstAt.Value, HeightU: p.BurstAt.U,
			Sentence: "from the balloon's mass, fill and load and the rate it has climbed at"}
	}
	landed := ev.Landing.Found
	out.landing = Landing{Known: true, Happened: landed, UTC: f.UTC(p.FlightTime.Value.Value()), In: sounding.NotSet, Place: p.Landing.Place,
		Distance: sounding.Number(p.Distance), Bearing: sounding.Number(p.Bearing), Major95: sounding.Number(p.Ellipse.Major95), Minor95: sounding.Number(p.Ellipse.Minor95),
		Ellipse: p.Ellipse.Outline(true, 36), Track: thinned(p.Track, 60), Sentence: "an estimate, with the wind " + p.Wind}
	if landed {
		if row, at := lastFix(f); row >= 0 {
			out.landing.Place = at
			d, b := out.landing.Place.From(flight.Start)
			out.landing.Distance, out.landing.Bearing = sounding.Number(d), sounding.Number(b)
		}
		out.landing.UTC, out.landing.Ellipse, out.landing.Track = ev.Landing.UTC, []prelaunch.Place{}, []prelaunch.Place{}
		out.landing.Major95, out.landing.Minor95 = sounding.NotSet, sounding.NotSet
		out.landing.Sentence = "where its last positions lie"
	}
	return out
}

// flightOf makes what is needed to predict of a flight's launch record and first samples.
func flightOf(f *sounding.Final) (*prelaunch.Flight, gas.Atmosphere, *prelaunch.Profile, error) {
	r := f.Record
	b := &r.Balloon
	var missing []string
	for _, x := range []struct {
		set  bool
		item string
	}{{b.Mass.Set(), "balloon mass"}, {b.Gas != "", "gas"}, {b.Payload.Set(), "payload mass"}, {b.NozzleLift.Set(), "nozzle lift"}} {
		if !x.set {
			missing = append(missing, x.item)
		}
	}
	if len(missing) > 0 {
		return nil, nil, nil, fmt.Errorf("not known: the launch record gives no %s", strings.Join(missing, ", "))
	}
	kind, err := gas.ParseKind(b.Gas)
	if err != nil {
		return nil, nil, nil, err
	}
	i := f.Events.Release.Row
	first := func(v sounding.Variable) float64 {
		x := f.Usable(v)
		for k := i; k < len(x) && k < i+300; k++ {
			if !math.IsNaN(x[k]) {
				return x[k]
			}
		}
		return math.NaN()
	}
	surface := gas.MoistAir(r.Surface.Pressure.Value(), r.Surface.Temperature.Value(), r.Surface.Humidity.Value())
	if math.IsNaN(surface.Pressure) || math.IsNaN(surface.Temperature) {
		surface = gas.Air{Pressure: first(sounding.Pressure), Temperature: first(sounding.Temperature)}
	}
	start := prelaunch.Place{Latitude: r.Site.Latitude.Or(first(sounding.Latitude)), Longitude: r.Site.Longitude.Or(first(sounding.Longitude))}
	ground := r.Site.Height.Or(first(sounding.HeightMSL))
	if math.IsNaN(surface.Pressure) || math.IsNaN(surface.Temperature) || math.IsNaN(start.Latitude) || math.IsNaN(start.Longitude) || math.IsNaN(ground) {
		return nil, nil, nil, fmt.Errorf("not known: neither launch record nor data give position, height, pressure and temperature at the release")
	}
	fill, err := gas.FillForNozzleLift(gas.Mixture{Kind: kind, Purity: 1}, gas.Load{Balloon: b.Mass.Value(), Payload: b.Payload.Value()}, surface, b.NozzleLift.Value())
	if err != nil {
		return nil, nil, nil, err
	}
	diameter, err := gas.DefaultTable().BurstDiameter(b.Mass.Value())
	if err != nil {
		return nil, nil, nil, err
	}
	fall := gas.WithParachute()
	if b.Parachute == "no" {
		fall = gas.WithoutParachute()
	}
	winds, err := prelaunch.FromFlight(f)
	var profile *prelaunch.Profile
	if err != nil {
		winds = prelaunch.Calm()
	} else {
		profile = winds
	}
	flight := &prelaunch.Flight{Release: f.Events.Release.UTC, Start: start, Ground: ground, Landing: ground, Fill: fill, Drag: gas.PlanningDrag(), Burst: diameter, Fall: fall}
	return flight, profile.Atmosphere(surface, ground, start.Latitude), winds, nil
}

// measured are the samples from release on.
func measured(f *sounding.Final) *prelaunch.Measured {
	i := f.Events.Release.Row
	m := &prelaunch.Measured{Time: f.Time[i:]}
	for _, c := range []struct {
		v    sounding.Variable
		into *[]float64
	}{{sounding.HeightMSL, &m.Height}, {sounding.WindU, &m.U}, {sounding.WindV, &m.V}, {sounding.Latitude, &m.Latitude}, {sounding.Longitude, &m.Longitude}} {
		x := f.Usable(c.v)
		if x == nil {
			x = make([]float64, f.Len())
			for k := range x {
				x[k] = math.NaN()
			}
		}
		*c.into = x[i:]
	}
	return m
}

// lastFix returns the last row with a usable position and that position, -1 where there is none.
func lastFix(f *sounding.Final) (row int, at prelaunch.Place) {
	la, lo := f.Usable(sounding.Latitude), f.Usable(sounding.Longitude)
	for i := min(len(la), len(lo)) - 1; i >= 0; i-- {
		if !math.IsNaN(la[i]) && !math.IsNaN(lo[i]) {
			return i, prelaunch.Place{Latitude: la[i], Longitude: lo[i]}
		}
	}
	return -1, prelaunch.Place{}
}

// thinned returns at most about n of a track's places, the last included.
func thinned(track []prelaunch.Point, n int) []prelaunch.Place {
	step := max(1, len(track)/n)
	out := []prelaunch.Place{}
	for i := 0; i < len(track); i += step {
		out = append(out, track[i].Place)
	}
	if k := len(track); k > 0 && (k-1)%step != 0 {
		out = append(out, track[k-1].Place)
	}
	return out
}
