// Package events finds the instants and phases of a flight in its raw rows:
// release, floats and temporary descents, burst, landing. It looks at height and
// pressure together and uses either alone where the other is missing.
//
// Find is a pure function and never changes the columns it is given.
package events

import (
	"math"
	"time"

	"leadline/internal/sounding"
)

// Rulings are instants a person set; nil where nobody did.
type Rulings struct{ Release, Burst *time.Time }

// Find returns the events of a flight and what there is to say about them. raw
// holds the rows with Time in s since epoch; record may be nil. Every time in the
// result is in that same time, except that findings give theirs in s since release.
//
// Missing values are skipped; a flight without heights is followed by pressure, one
// without pressure by height, and one with neither has the release that was
// declared or ruled. Phases cover every row, in order.
func Find(raw *sounding.Columns, epoch time.Time, record *sounding.LaunchRecord, rulings Rulings, set *Settings) (sounding.Events, []sounding.Finding) {
	f := &finder{c: raw, epoch: epoch, record: record, rulings: rulings, set: set}
	f.height, f.pressure = signals(raw, record)
	f.none()
	if raw.Len() > 0 {
		f.findRelease()
		if f.events.Release.Found {
			f.findBurst()
			f.findPhases()
		}
	}
	f.report()
	return f.events, f.findings
}

type finder struct {
	c       *sounding.Columns
	epoch   time.Time
	record  *sounding.LaunchRecord
	rulings Rulings
	set     *Settings

	height, pressure signal
	found            instant // release as found, whatever was ruled
	apart            float64 // s, release by height minus release by pressure, NaN where there are not two
	burstFound       float64 // time of the burst as found, NaN where there is none
	fall             fall    // of followed
	followed         *signal // the signal burst and phases were found in, nil where there was none
	events           sounding.Events
	findings         []sounding.Finding
}

// none sets the events of a flight in which nothing was found.
func (f *finder) none() {
	empty := sounding.Event{Time: sounding.NotSet, Uncertainty: sounding.NotSet, Height: sounding.NotSet, Pressure: sounding.NotSet}
	f.events = sounding.Events{Release: empty, Burst: empty, Top: empty, Landing: empty, End: sounding.EndNotAFlight}
	f.apart, f.burstFound = math.NaN(), math.NaN()
	if n := f.c.Len(); n > 0 {
		f.events.Phases = []sounding.PhaseSpan{{Phase: sounding.BeforeRelease, Span: sounding.Span{From: 0, To: n}}}
	}
}

// event returns the event at time t. row is the row it is known to fall on, or -1
// for the first row at or after t.
func (f *finder) event(t, u float64, row int, method string) sounding.Event {
	if row < 0 {
		row = f.rowAt(t)
	}
	e := sounding.Event{Found: true, Row: row, Time: sounding.Number(t), UTC: instantUTC(f.epoch, t),
		Uncertainty: sounding.Number(u), Height: sounding.NotSet, Pressure: sounding.NotSet, Method: method}
	if row < f.c.Len() {
		e.Line = int(f.c.Line[row])
	}
	e.Height = sounding.Number(f.near(f.heights(), row))
	e.Pressure = sounding.Number(f.near(f.c.Values(sounding.Pressure), row))
	return e
}

// near returns the value in a row, or the nearest present one within three rows.
func (f *finder) near(values []float64, row int) float64 {
	for _, d := range []int{0, 1, -1, 2, -2, 3, -3} {
		if i := row + d; i >= 0 && i < len(values) && !math.IsNaN(values[i]) {
			return values[i]
		}
	}
	return math.NaN()
}

// heights returns the heights above mean sea level, nil where there are none.
func (f *finder) heights() []float64 { return f.c.Values(sounding.HeightMSL) }

// rowAt returns the first row at or after t, the last row where t lies after all.
func (f *finder) rowAt(t float64) int {
	for i, x := range f.c.Time {
		if x >= t-1e-9 {
			return i
		}
	}
	return f.c.Len() - 1
}

func instantUTC(epoch time.Time, t float64) time.Time {
	return epoch.Add(time.Duration(math.Round(t*1e6)) * time.Microsecond).UTC()
}

func (f *finder) seconds(at time.Time) float64 { return at.Sub(f.epoch).Seconds() }

// declared returns the declared release in the columns' time, NaN where there is none.
func (f *finder) declared() float64 {
	if f.record == nil || f.record.Release.Declared.IsZero() {
		return math.NaN()
	}
	return f.seconds(f.record.Release.Declared)
}

func (f *finder) findRelease() {
	h, p := f.height.release(f.set), f.pressure.release(f.set)
	f.found = f.combine(h, p)
	if !f.found.found {
		f.found = f.withoutClimb()
	}
	if f.found.found && f.found.unknown {
		f.fromDeclared()
	}
	use := f.found
	if r := f.rulings.Release; r != nil {
		use = instant{found: true, time: f.seconds(*r), method: "decision"}
	}
	if use.found {
		f.events.Release = f.event(use.time, use.uncertainty, -1, use.method)
	}
}

// combine joins what height and pressure say.
func (f *finder) combine(h, p instant) instant {
	switch {
	case !h.found && !p.found:
		return instant{}
	case !p.found:
		return h
	case !h.found:
		return p
	}
	f.apart = h.time - p.time
	if h.unknown != p.unknown || h.rested != p.rested {
		// One of them saw more.
		if better := !h.unknown && (h.rested || p.unknown); better {
			return h
		}
		return p
	}
	if math.Abs(f.apart) <= max(f.set.Agree, 3*math.Hypot(h.uncertainty, p.uncertainty)) {
		wh, wp := 1/(h.uncertainty*h.uncertainty), 1/(p.uncertainty*p.uncertainty)
		out := h
		out.time = (wh*h.time + wp*p.time) / (wh + wp)
		// What the model of the start gets wrong is common to both.
		out.uncertainty = max(model, min(h.uncertainty, p.uncertainty, math.Sqrt(1/(wh+wp)+model*model)), math.Abs(f.apart)/2)
		out.inAir = h.inAir && p.inAir
		if p.earlier > out.earlier {
			out.earlier, out.earlierTime = p.earlier, p.earlierTime
		}
		out.method = "height and pressure"
		return out
	}
	// They disagree: the one that fits its own samples better.
	if p.uncertainty <= h.uncertainty {
		return p
	}
	return h
}

// withoutClimb is the release of rows that show no climb: the declared one where it
// falls among them and nothing says that there was none.
func (f *finder) withoutClimb() instant {
	if f.height.len() >= 3 || f.pressure.len() >= 3 {
		return instant{}
	}
	t := f.declared()
	if n := f.c.Len(); t >= f.c.Time[0]-f.set.DeclaredReach && t <= f.c.Time[n-1] {
		return instant{found: true, time: t, uncertainty: 60, unknown: false, method: "declared"}
	}
	return instant{}
}

// fromDeclared takes the declared release where the rows start in the air and
// nothing in them says when before the first row it was.
func (f *finder) fromDeclared() {
	if t := f.declared(); t <= f.found.time && f.found.time-t <= f.set.DeclaredReach {
		f.found.inAir = f.found.time-t > 10
		f.found.time, f.found.uncertainty, f.found.method = t, 30, "declared"
		f.found.unknown = false
		return
	}
	f.found.method = "first row"
}

func (f *finder) findBurst() {
	from := f.events.Release.Time.Value()
	ruled := math.NaN()
	if f.rulings.Burst != nil {
		ruled = f.seconds(*f.rulings.Burst)
	}
	f.followed = f.follow(from)
	n := f.c.Len()
	if f.followed == nil {
		f.events.End = sounding.EndDataLost
		f.events.Top = f.event(f.c.Time[n-1], math.NaN(), n-1, "last row")
		if !math.IsNaN(ruled) {
			f.events.Burst = f.event(ruled, 0, -1, "decision")
			f.events.Top, f.events.End = f.events.Burst, sounding.EndBurst
		}
		return
	}
	s := f.followed
	start := min(s.at(from, 0), s.len()-1)
	f.fall = s.fall(start, f.set)
	top := f.fall.top
	f.events.Top = f.event(s.t[top], math.NaN(), int(s.row[top]), s.name)
	switch {
	case f.fall.seen:
		b := f.fall.burst
		f.burstFound = s.t[b]
		f.events.Burst = f.event(s.t[b], f.fall.uncertainty, int(s.row[b]), s.name)
		f.events.End = sounding.EndBurst
	case f.fall.floating:
		f.events.End = sounding.EndFloat
	default:
		f.events.End = sounding.EndDataLost
	}
	if !math.IsNaN(ruled) {
		f.events.Burst = f.event(ruled, 0, -1, "decision")
		f.events.End = sounding.EndBurst
		if last := s.at(ruled+1e-9, start); last > start {
			top = s.top(start, last)
			f.events.Top = f.event(s.t[top], math.NaN(), int(s.row[top]), s.name)
		}
	}
	if b := top; f.events.End == sounding.EndBurst || f.fall.sinking {
		if f.events.Burst.Found {
			b = min(s.at(f.events.Burst.Time.Value(), start), s.len()-1)
		}
		if k := s.landing(b, f.set); k >= 0 {
			f.events.Landing = f.event(s.t[k], math.Hypot(f.set.Landed/f.set.FallRate/2, 1), int(s.row[k]), s.name)
		}
	}
}

// follow returns the signal to find the end of the flight in: the one that shows a
// fall, else the one that reaches further; nil where neither has samples in flight.
func (f *finder) follow(from float64) *signal {
	last := func(s *signal) float64 {
		if n := s.len(); n >= 3 && s.t[n-1] > from {
			return s.t[n-1]
		}
		return math.Inf(-1)
	}
	h, p := last(&f.height), last(&f.pressure)
	switch {
	case math.IsInf(h, -1) && math.IsInf(p, -1):
		return nil
	case math.IsInf(p, -1):
		return &f.height
	case math.IsInf(h, -1):
		return &f.pressure
	case h >= p-f.set.FloatTime:
		return &f.height
	case f.height.fall(min(f.height.at(from, 0), f.height.len()-1), f.set).seen:
		return &f.height
	}
	return &f.pressure
}

func (f *finder) findPhases() {
	n := f.c.Len()
	release := f.events.Release.Row
	if f.events.Release.Time.Value() > f.c.Time[n-1] {
		release = n
	}
	end := n // first row that is no longer climbing or floating
	switch {
	case f.events.End == sounding.EndBurst:
		end = min(n, f.events.Burst.Row+1)
	case f.fall.sinking:
		end = min(n, f.events.Top.Row+1)
	}
	end = max(end, release)
	landed := n
	if f.events.Landing.Found {
		landed = max(f.events.Landing.Row, end)
	}
	var phases []sounding.PhaseSpan
	add := func(p sounding.Phase, from, to int) {
		if to > from {
			phases = append(phases, sounding.PhaseSpan{Phase: p, Span: sounding.Span{From: from, To: to}})
		}
	}
	add(sounding.BeforeRelease, 0, release)
	at := release
	if s := f.followed; s != nil {
		from := s.at(f.events.Release.Time.Value()+unwinding, 0)
		to := from
		for to < s.len() && int(s.row[to]) < end {
			to++
		}
		for _, r := range s.floats(from, to, f.set) {
			// A float ends where the climb begins again; one that lasts to the last sample ends with the phase.
			a, b := max(int(s.row[r.from]), at), end
			if r.to < to {
				b = int(s.row[r.to])
			}
			add(sounding.Ascending, at, a)
			add(sounding.Floating, a, b)
			at = max(at, b)
		}
	}
	add(sounding.Ascending, at, end)
	add(sounding.Descending, end, landed)
	add(sounding.AfterLanding, landed, n)
	f.events.Phases = phases
}

// unwinding is how long after release the rate of climb says nothing yet, s (common
// practice, no source).
const unwinding = 20.0
