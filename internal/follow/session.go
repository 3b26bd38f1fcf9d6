package follow

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"leadline/internal/ingest"
	"leadline/internal/prelaunch"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// maxLive is how many bytes are computed while a flight is followed; what comes beyond is
// kept and computed at the end.
const maxLive = 32 << 20

// Options are what a session is told.
type Options struct {
	Source   Source
	Also     []Source          // further receivers of the same flight
	Journal  string            // folder of the journal; a session that stopped there goes on
	Request  workbench.Request // recipe, launch record, sheet, settings, as for the finished file
	Settings *Settings         // nil: the shipped ones
	Drift    *prelaunch.Settings
	Wind     *prelaunch.Profile // above what the flight has measured; nil: Earlier's, else its highest wind goes on
	// Earlier finds the wind of the site's last flight before an instant, once the release is
	// known; nil, or a nil answer: there is none.
	Earlier func(site string, before time.Time) *Earlier
	Now     func() time.Time // clock of the flight; nil: the source's own, or the computer's
	Speed   float64          // how fast that clock runs; 0 is 1
	// Add puts the journal's bytes into the logbook when the flight is over; nil keeps them
	// in the journal only.
	Add func(context.Context, []workbench.File, workbench.Request) ([]workbench.Added, error)
	// Message writes the first message and says where; nil writes none.
	Message func(*workbench.Outcome) (string, error)
	// Tell is called, from one goroutine, with what happens; nil tells nobody.
	Tell func(Event)
}

// What an event is about.
const (
	EventLink    = "link"
	EventPhase   = "phase"
	EventAlarm   = "alarm"
	EventOver    = "alarm over"
	EventFinding = "finding"
	EventMessage = "message"
	EventFlight  = "flight"
	EventState   = "state"
)

// Event is something that happened.
type Event struct {
	Event    string    `json:"event"`
	UTC      time.Time `json:"utc"`
	Sentence string    `json:"sentence,omitempty"`
	Kind     string    `json:"kind,omitempty"`  // of an alarm
	State    *State    `json:"state,omitempty"` // with "state"
	Ended    *Ended    `json:"ended,omitempty"` // with "flight"
}

// Session follows one flight.
type Session struct {
	o        Options
	set      *Settings
	drift    prelaunch.Settings
	now      func() time.Time
	speed    float64
	name     string
	preamble bool
	journal  *Journal
	others   []*receiver

	mu       sync.Mutex
	state    State // what the last computation and the link say; ages are of the moment it is asked
	view     view
	outcome  *workbench.Outcome
	revision int
	lastCame time.Time
	alarms   *alarms
	streams  map[chan struct{}]struct{}

	wake   chan struct{} // bytes have come
	events chan Event    // of the source's goroutine
	finish chan string

	// of Run's goroutine
	computed  int64 // bytes the last computation saw
	next      time.Time
	spent     time.Duration
	told      map[string]bool
	expected  expectation
	expectAt  time.Time
	released  bool // when it was made
	due       bool // rows have come since
	earlier   *Earlier
	earlierTo time.Time       // the release it was looked for
	rises     sounding.Number // burst height expected before the burst
	pace      []pace
	messageAt time.Time
	phase     string
}

// pace is how far the data's time had come at a moment of the clock.
type pace struct{ clock, data time.Time }

// Open opens or resumes a session. The caller runs and then closes it.
func Open(o Options) (*Session, error) {
	s := &Session{o: o, set: o.Settings, now: o.Now, speed: o.Speed, streams: map[chan struct{}]struct{}{}, wake: make(chan struct{}, 1),
		events: make(chan Event, 64), finish: make(chan string, 1), told: map[string]bool{}, rises: sounding.NotSet}
	if s.set == nil {
		s.set = Default()
	}
	drift := o.Drift
	if drift == nil {
		drift = prelaunch.Default()
	}
	s.drift = *drift
	s.drift.Drift.Trials = min(s.drift.Drift.Trials, 400) // anew every few seconds
	if r, ok := o.Source.(*Replay); ok && s.now == nil {
		s.now, s.speed = r.Now, r.Speed()
	}
	if s.now == nil {
		s.now = time.Now
	}
	if s.speed <= 0 {
		s.speed = 1
	}
	if len(o.Request.Recipe.Bytes) > 0 {
		r, err := ingest.ReadRecipe(o.Request.Recipe.Name, o.Request.Recipe.Bytes)
		if err != nil {
			return nil, err
		}
		if r.Format != ingest.FormatText {
			return nil, fmt.Errorf("recipe %s reads %s: only text can be followed line by line; use leadline check when the file is complete", r.Name, r.Format)
		}
		p := &r.Preamble
		s.preamble = p.Lines > 0 || p.Until != "" || p.HeaderRow != "" || p.Header
	}
	if _, err := workbench.Load(nil, withRecord(o.Request)); err != nil {
		return nil, err // record, sheet and settings are read now, not in the middle of the flight
	}
	var err error
	if s.journal, err = OpenJournal(o.Journal, s.now); err != nil {
		return nil, err
	}
	if err := s.openReceivers(); err != nil {
		return nil, errors.Join(err, s.closeJournals())
	}
	s.alarms = newAlarms(s.set)
	s.restore()
	return s, nil
}

// withRecord makes a request that can be loaded without a source, to see whether its files
// can be read.
func withRecord(q workbench.Request) workbench.Request {
	if len(q.Record.Bytes) == 0 {
		q.Record = workbench.File{Name: "launch.toml", Bytes: []byte("notes = \"\"\n")}
	}
	return q
}

// restore takes up what the notes of an earlier run say.
func (s *Session) restore() {
	s.name = s.o.Source.Name()
	s.state = State{Name: s.name, Link: LinkWaiting, Sentence: "nothing has been received yet", Speed: s.speed, Journal: s.o.Journal,
		Values: []Value{}, Findings: []sounding.Finding{}, Summary: "Nothing has been received yet.", Burst: unknownBurst("expected once the balloon is released"), Landing: unknownLanding("expected once the balloon is released")}
	for _, n := range []*sounding.Number{&s.state.SinceS, &s.state.Height, &s.state.Pressure, &s.state.Rate, &s.state.Mean, &s.state.Target, &s.state.Distance, &s.state.Bearing,
		&s.view.rate, &s.view.target, &s.view.expected, &s.view.clock, &s.view.satellites, &s.view.burstAt, &s.view.burstHPa} {
		*n = sounding.NotSet
	}
	s.state.Message = Message{Wanted: s.o.Message != nil, Upto: sounding.Number(s.set.MessagePressure)}
	for _, n := range s.journal.Notes() {
		switch n.Event {
		case noteReceived:
			s.lastCame = n.UTC
		case noteOpened:
			s.lastCame = n.UTC
		case noteAlarm:
			if len(s.alarms.list) < mostAlarms {
				s.alarms.list = append(s.alarms.list, Alarm{Kind: n.Kind, Since: n.UTC, Sentence: n.Text})
			}
		case noteOver:
			if i := s.alarms.active(n.Kind); i >= 0 {
				s.alarms.list[i].Over, s.alarms.list[i].Ended = n.UTC, n.Text
				if n.Last != "" {
					s.alarms.list[i].Sentence = n.Last
				}
			}
		case noteMessage:
			s.state.Message.UTC, s.state.Message.Where, s.state.Message.Sentence = n.UTC, n.Text, "written"
		}
	}
	for _, r := range s.others {
		if r.journal == nil {
			continue
		}
		for _, n := range r.journal.Notes() {
			if (n.Event == noteReceived || n.Event == noteOpened) && n.UTC.After(r.came) {
				r.came = n.UTC
			}
		}
		if r.came.After(s.lastCame) {
			s.lastCame = r.came
		}
	}
}

// sourceName is what the source is called in the logbook: a stream gets the time its first
// bytes came, which a restart does not change.
func (s *Session) sourceName() string { return sourceNameOf(s.o.Source, s.journal) }

func sourceNameOf(source Source, j *Journal) string {
	if id := source.Identity(); strings.HasPrefix(id, "tcp://") || strings.HasPrefix(id, "udp://") {
		return strings.TrimSuffix(source.Name(), ".txt") + j.Begun().UTC().Format("-20060102T150405") + ".txt"
	}
	return source.Name()
}

// Last, Begin, Receive and Link make the session the receiver of its source.

// Last returns the last part of the journal.
func (s *Session) Last() (Part, bool) {
	parts := s.journal.Parts()
	if len(parts) == 0 {
		return Part{}, false
	}
	return parts[len(parts)-1], true
}

// Begin starts a part of the journal.
func (s *Session) Begin(from string, offset int64) error {
	return s.journal.Begin(from, offset)
}

// Receive keeps bytes.
func (s *Session) Receive(p []byte, at time.Time) error {
	if err := s.journal.Append(p); err != nil {
		return err
	}
	now := s.now()
	if at.IsZero() || at.After(now) {
		at = now
	}
	s.arrived(at)
	return nil
}

// arrived takes down that bytes came and wakes the computation.
func (s *Session) arrived(at time.Time) {
	s.mu.Lock()
	if at.After(s.lastCame) || len(s.others) == 0 {
		s.lastCame = at
	}
	s.mu.Unlock()
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// Link notes how things stand with the source.
func (s *Session) Link(state Link, sentence string) {
	s.mu.Lock()
	same := s.state.Link == state && s.state.Sentence == sentence
	if !same {
		s.state.Link, s.state.Sentence, s.state.Since = state, sentence, s.now().UTC()
	}
	s.mu.Unlock()
	if same {
		return
	}
	_ = s.journal.Note(Note{Event: noteLink, Kind: string(state), Text: sentence})
	select {
	case s.events <- Event{Event: EventLink, UTC: s.now().UTC(), Sentence: sentence, Kind: string(state)}:
	default: // told late is not told; it stands in the state and in the notes
	}
}

// State returns the flight as it stands now.
func (s *Session) State() State {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.stateNow()
}

func (s *Session) stateNow() State {
	out := s.state
	out.Now = s.now().UTC()
	if out.Ended != nil {
		out.Now = out.Ended.UTC // ages stand still when nothing is followed any more
	}
	out.Received, out.Unsaved = s.total()
	out.Others = []Receiving{}
	for _, r := range s.others {
		out.Others = append(out.Others, r.now(out.Now))
	}
	out.Age = sounding.NotSet
	if !s.lastCame.IsZero() && out.Received > 0 {
		out.LastCame = s.lastCame.UTC()
		out.Age = sounding.Number(math.Max(0, out.Now.Sub(s.lastCame).Seconds()))
	}
	in := func(t time.Time) sounding.Number {
		return sounding.Number(math.Max(0, t.Sub(out.Now).Seconds()))
	}
	if out.Burst.Known && !out.Burst.Happened {
		out.Burst.In = in(out.Burst.UTC)
	}
	if out.Landing.Known && !out.Landing.Happened {
		out.Landing.In = in(out.Landing.UTC)
	}
	out.Alarms = slices.Clone(s.alarms.list)
	slices.Reverse(out.Alarms)
	if out.Alarms == nil {
		out.Alarms = []Alarm{}
	}
	return out
}

// Outcome returns the flight as computed last and its revision; nil before the first.
func (s *Session) Outcome() (*workbench.Outcome, int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.outcome, s.revision
}

// Subscribe returns a channel that is told when the state has changed, and a function that
// ends it.
func (s *Session) Subscribe() (<-chan struct{}, func()) {
	ch := make(chan struct{}, 1)
	s.mu.Lock()
	s.streams[ch] = struct{}{}
	s.mu.Unlock()
	return ch, func() {
		s.mu.Lock()
		delete(s.streams, ch)
		s.mu.Unlock()
	}
}

func (s *Session) changed() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for ch := range s.streams {
		select {
		case ch <- struct{}{}:
		default:
		}
	}
}

// Finish ends the flight now, as its user says.
func (s *Session) Finish(why string) {
	select {
	case s.finish <- why:
	default:
	}
}

func (s *Session) tell(e Event) {
	if e.UTC.IsZero() {
		e.UTC = s.now().UTC()
	}
	if s.o.Tell != nil {
		s.o.Tell(e)
	}
}

// Run receives until the flight is over, which is no error, or ctx ends: then the journal
// keeps everything and the next session goes on there.
func (s *Session) Run(ctx context.Context) error {
	inner, stop := context.WithCancel(ctx)
	defer stop()
	done := make(chan error, 1)
	go func() { done <- s.runSources(inner) }()
	syncer := make(chan struct{})
	go func() {
		defer close(syncer)
		t := time.NewTicker(time.Second)
		defer t.Stop()
		for {
			select {
			case <-inner.Done():
				return
			case <-t.C:
				_ = s.syncAll() // what fails stands in Failed and is tried again
			}
		}
	}()
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	lastState, over := time.Time{}, false
	started := time.Now()
	for {
		end := ""
		select {
		case <-ctx.Done():
			stop()
			<-done
			<-syncer
			return errors.Join(ctx.Err(), s.syncAll())
		case e := <-s.events:
			s.tell(e)
			s.changed()
		case why := <-s.finish:
			end = why
		case err := <-done:
			if err != nil && ctx.Err() == nil {
				return errors.Join(err, s.syncAll())
			}
			if ctx.Err() != nil {
				done <- err
				continue
			}
			end, over = "the source has come to its end", true
		case <-s.wake:
		case <-tick.C:
			if time.Since(lastState) >= time.Second {
				lastState = time.Now()
				s.catchUp()
				s.judge()
				st := s.State()
				s.tell(Event{Event: EventState, State: &st})
				s.changed()
			}
		}
		if end == "" {
			if received, _ := s.total(); received != s.computed && !time.Now().Before(s.next) {
				s.compute(false, started)
				s.judge()
				s.changed()
			}
			end = s.isOver()
		}
		if end == "" {
			continue
		}
		stop()
		if !over {
			select {
			case <-done:
			case <-time.After(2 * time.Second): // a read that hangs: what it may still bring is not part of this flight
			}
		}
		<-syncer
		s.end(context.WithoutCancel(ctx), end, started)
		return nil
	}
}

// compute runs the path on everything received, as check does on the finished file.
func (s *Session) compute(whole bool, started time.Time) {
	began := time.Now()
	parts := s.journal.Parts()
	var seen int64
	for _, p := range parts {
		seen += int64(len(p.Bytes))
	}
	for _, r := range s.others {
		for _, p := range r.parts() {
			if r.journal != nil {
				seen += int64(len(p.Bytes))
			}
		}
	}
	s.computed = seen
	if seen > maxLive && !whole {
		s.mu.Lock()
		s.state.Unread = fmt.Sprintf("more than %d MiB were received: they are kept, and computed when the flight is over", maxLive>>20)
		s.mu.Unlock()
		return
	}
	o, err := s.run(parts, whole)
	if err != nil {
		s.mu.Lock()
		s.state.Unread = err.Error()
		s.mu.Unlock()
	} else {
		s.take(o)
	}
	took := time.Since(began)
	s.spent += took
	share := s.set.RecomputeShare
	if s.speed > 1 {
		share = max(share, 0.25) // practice, not a vehicle's battery
	}
	wait := max(time.Duration(s.set.Recompute/s.speed*float64(time.Second)), time.Duration(float64(took)/share)-took)
	s.next = time.Now().Add(wait)
	s.mu.Lock()
	s.state.Cost = Cost{Computation: float64(took.Microseconds()) / 1000, Count: s.state.Cost.Count + 1,
		Share: 100 * s.spent.Seconds() / max(time.Since(started).Seconds(), 1)}
	s.mu.Unlock()
}

// run returns the newest flight in what was received.
func (s *Session) run(parts []Part, whole bool) (*workbench.Outcome, error) {
	files, q := s.files(parts, whole)
	if len(files) == 0 {
		return nil, errors.New("no whole line has been received yet")
	}
	loaded, err := workbench.Load(files, q)
	if err != nil {
		return nil, err
	}
	best := 0
	for i := range loaded {
		if lastInstant(loaded[i].Inputs.Raw).After(lastInstant(loaded[best].Inputs.Raw)) {
			best = i
		}
	}
	return workbench.Run(loaded[best].Inputs)
}

func lastInstant(r *sounding.Raw) time.Time {
	if r.Len() == 0 {
		return time.Time{}
	}
	return r.Epoch.Add(time.Duration(r.Time[r.Len()-1] * float64(time.Second)))
}

// files returns what is handed to the path and to the logbook.
func (s *Session) files(parts []Part, whole bool) ([]workbench.File, workbench.Request) {
	q := s.o.Request
	name := s.sourceName()
	files := sourcesOf(name, parts, s.preamble, whole)
	if len(files) > 1 {
		q.Join = true
		if _, err := workbench.Load(files, q); err != nil {
			// Parts that do not stand for themselves belong together.
			files = gluedTogether(name, parts, whole)
		}
	}
	files = s.joined(files, whole)
	q.Join = len(files) > 1
	return files, q
}

// take puts a computed flight in place of the one before.
func (s *Session) take(o *workbench.Outcome) {
	facts := factsOf(o, s.set)
	ev := &o.Final.Events
	turned := ev.Release.Found != s.released || ev.Burst.Found != s.expected.burst.Happened || ev.Landing.Found != s.expected.landing.Happened
	if s.due = !turned && !s.expectAt.IsZero() && s.now().Sub(s.expectAt).Abs() < expectEvery; !s.due {
		s.expectFrom(o)
	}
	st := facts.state
	s.mu.Lock()
	old := s.state
	came := s.lastCame
	st.Name, st.Link, st.Sentence, st.Since, st.Speed, st.Journal = old.Name, old.Link, old.Sentence, old.Since, old.Speed, old.Journal
	st.Message, st.Cost, st.Ended = old.Message, old.Cost, old.Ended
	st.Burst, st.Landing = s.expected.burst, s.expected.landing
	s.revision++
	st.Revision = s.revision
	st.Summary = sentenceOf(&st)
	s.state, s.outcome = st, o
	s.view = facts.view
	s.view.expected = s.rises
	s.mu.Unlock()

	s.measurePace(came, st.LastUTC)
	if st.Phase != s.phase {
		s.phase = st.Phase
		s.tell(Event{Event: EventPhase, Kind: st.Phase, Sentence: st.Summary})
	}
	for _, f := range st.Findings {
		key := f.Check.String() + " " + f.Variable.String() + " " + f.Field
		if !s.told[key] {
			s.told[key] = true
			s.tell(Event{Event: EventFinding, Kind: f.Severity.String(), Sentence: f.Sentence})
		}
	}
	s.writeMessage(o, false)
}

// expectEvery is how often burst and landing are predicted anew; they are at once where the
// balloon was released, burst or landed.
const expectEvery = 5 * time.Second

func (s *Session) expectFrom(o *workbench.Outcome) {
	s.expectAt, s.released, s.due = s.now(), o.Final.Events.Release.Found, false
	s.expected = expect(o.Final, s.o.Wind, s.earlierWind(o.Final), &s.drift)
	if b := s.expected.burst; b.Known && !b.Happened {
		s.rises = b.Height
	}
}

// catchUp predicts from the last computation where that had to wait and nothing more came.
func (s *Session) catchUp() {
	if !s.due || s.now().Sub(s.expectAt).Abs() < expectEvery {
		return
	}
	o, _ := s.Outcome()
	s.expectFrom(o)
	s.mu.Lock()
	s.state.Burst, s.state.Landing = s.expected.burst, s.expected.landing
	s.view.expected = s.rises
	s.mu.Unlock()
}

// earlierWind returns the wind of the site's last flight, looked for once for a release.
func (s *Session) earlierWind(f *sounding.Final) *Earlier {
	release := &f.Events.Release
	if s.o.Wind != nil || s.o.Earlier == nil || !release.Found || f.Record == nil {
		return nil
	}
	if s.earlierTo.IsZero() || release.UTC.Sub(s.earlierTo).Abs() > time.Minute {
		s.earlierTo = release.UTC
		s.earlier = s.o.Earlier(f.Record.Site.Name, release.UTC)
	}
	return s.earlier
}

// measurePace keeps how the data's time runs against the clock.
func (s *Session) measurePace(came, data time.Time) {
	if n := len(s.pace); n > 0 && (data.Before(s.pace[n-1].data) || came.Before(s.pace[n-1].clock)) {
		s.pace = s.pace[:0]
	}
	if n := len(s.pace); n > 0 && came.Equal(s.pace[n-1].clock) {
		return
	}
	s.pace = append(s.pace, pace{came, data})
	keep := time.Duration(2*s.set.WrongTimeAfter) * time.Second
	for len(s.pace) > 2 && came.Sub(s.pace[1].clock) > keep {
		s.pace = s.pace[1:]
	}
}

// clockOff returns the data's time minus the clock in s, where data have come at about
// their own pace for long enough to tell.
func (s *Session) clockOff() sounding.Number {
	n := len(s.pace)
	if n < 2 {
		return sounding.NotSet
	}
	first, last := s.pace[0], s.pace[n-1]
	clock, data := last.clock.Sub(first.clock).Seconds(), last.data.Sub(first.data).Seconds()
	if clock < s.set.WrongTimeAfter || data < 0.5*clock || data > 2*clock {
		return sounding.NotSet
	}
	return sounding.Number(last.data.Sub(last.clock).Seconds())
}

// judge steps the alarms.
func (s *Session) judge() {
	off := s.clockOff()
	s.mu.Lock()
	v := s.view
	v.now, v.clock = s.now(), off
	received, unsaved := s.total()
	v.received = received > 0
	if !s.lastCame.IsZero() {
		v.age = math.Max(0, v.now.Sub(s.lastCame).Seconds())
	}
	if err := s.failed(); err != nil && unsaved > 0 {
		v.unsure = err.Error()
	}
	began, over := s.alarms.step(&v)
	s.mu.Unlock()
	for _, a := range began {
		_ = s.journal.Note(Note{UTC: a.Since, Event: noteAlarm, Kind: a.Kind, Text: a.Sentence})
		s.tell(Event{Event: EventAlarm, UTC: a.Since, Kind: a.Kind, Sentence: a.Sentence})
	}
	for _, a := range over {
		_ = s.journal.Note(Note{UTC: a.Over, Event: noteOver, Kind: a.Kind, Text: a.Ended, Last: a.Sentence})
		s.tell(Event{Event: EventOver, UTC: a.Over, Kind: a.Kind, Sentence: a.Ended})
	}
}

// isOver says why the flight is over, "" while it is not.
func (s *Session) isOver() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.outcome == nil {
		return ""
	}
	f := s.outcome.Final
	ev := &f.Events
	if !ev.Release.Found {
		return ""
	}
	if ev.Landing.Found && f.Time[f.Len()-1]-ev.Landing.Time.Value() >= s.set.EndLanded {
		return fmt.Sprintf("the radiosonde has landed, %s UTC", ev.Landing.UTC.UTC().Format("15:04:05"))
	}
	if quiet := s.now().Sub(s.lastCame).Minutes(); quiet >= s.set.EndSilence {
		return fmt.Sprintf("nothing has been received for %.0f min", quiet)
	}
	return ""
}

// writeMessage writes the first message when its level has been passed, or will not be.
func (s *Session) writeMessage(o *workbench.Outcome, last bool) {
	if s.o.Message == nil {
		return
	}
	s.mu.Lock()
	written := !s.state.Message.UTC.IsZero()
	s.mu.Unlock()
	ev := &o.Final.Events
	now := s.now()
	if written || !ev.Release.Found || !last && now.Sub(s.messageAt).Abs() < time.Minute {
		return
	}
	if !last && !ev.Burst.Found && !(lowestPressure(o.Final) <= s.set.MessagePressure-s.set.MessageBeyond) {
		return
	}
	s.messageAt = now
	where, err := s.o.Message(o)
	s.mu.Lock()
	m := &s.state.Message
	if err != nil {
		m.Sentence = fmt.Sprintf("it could not be written: %v", err)
	} else {
		m.UTC, m.Where = now.UTC(), where
		m.Sentence = fmt.Sprintf("written when the flight stood at %s", heightWords(&s.state))
	}
	sentence := m.Sentence
	s.mu.Unlock()
	if err == nil {
		_ = s.journal.Note(Note{Event: noteMessage, Text: where})
		sentence = "the first message is written: " + where
	}
	s.tell(Event{Event: EventMessage, Sentence: sentence})
}

func heightWords(st *State) string {
	if st.Height.Set() && st.Pressure.Set() {
		return fmt.Sprintf("%.1f km (%.0f hPa)", st.Height.Value()/1000, st.Pressure.Value())
	}
	return "an unknown height"
}

// lowestPressure returns the lowest usable pressure of the ascent in hPa, NaN where there is none.
func lowestPressure(f *sounding.Final) float64 {
	least := math.NaN()
	series := f.Get(sounding.Pressure)
	if series == nil {
		return least
	}
	span := f.Events.Ascent()
	for i := span.From; i < span.To; i++ {
		if fl := series.Flags[i]; fl != quality.Bad && fl != quality.Missing && !(series.Values[i] >= least) {
			least = series.Values[i]
		}
	}
	return least
}

// end computes the whole, writes what is due and puts the flight into the logbook.
func (s *Session) end(ctx context.Context, why string, started time.Time) {
	s.expectAt = time.Time{} // the last word is of everything
	s.compute(true, started)
	s.judge()
	_ = s.syncAll()
	if o, _ := s.Outcome(); o != nil {
		s.writeMessage(o, true)
	}
	e := &Ended{UTC: s.now().UTC(), Why: why, Flights: []Stored{}}
	files, q := s.files(s.journal.Parts(), true)
	switch {
	case len(files) == 0:
		e.Error = "nothing was received"
	case s.o.Add == nil:
		e.Error = "no logbook was given: the bytes are in the journal"
	default:
		added, err := s.o.Add(ctx, files, q)
		for _, a := range added {
			e.Flights = append(e.Flights, Stored{ID: a.ID, Name: a.Row.Name, Known: a.Known, Line: a.Row.Verdict + ": " + a.Row.Line})
		}
		if err != nil {
			e.Error = err.Error()
		}
	}
	if e.Error == "" {
		names := make([]string, len(e.Flights))
		for i, f := range e.Flights {
			names[i] = f.ID + " " + f.Name
		}
		_ = s.journal.Note(Note{Event: noteFinished, Text: strings.Join(names, ", ")})
	}
	s.mu.Lock()
	s.state.Ended = e
	if s.state.Link != LinkEnded {
		s.state.Link, s.state.Sentence, s.state.Since = LinkEnded, why, e.UTC
	}
	s.state.Summary = sentenceOf(&s.state)
	s.mu.Unlock()
	st := s.State()
	s.tell(Event{Event: EventState, State: &st})
	s.tell(Event{Event: EventFlight, Sentence: why, Ended: e})
	s.changed()
}

// Close brings the journal to the disk and lets it go. A journal whose flight is in the
// logbook is moved aside, so that the next flight of the same source begins its own.
func (s *Session) Close() error {
	err := s.closeJournals()
	s.mu.Lock()
	e := s.state.Ended
	s.mu.Unlock()
	if e != nil && e.Error == "" {
		err = errors.Join(err, SetAside(s.o.Journal))
	}
	return err
}

func (s *Session) closeJournals() error {
	var err error
	for _, j := range s.journals() {
		err = errors.Join(err, j.Close())
	}
	return err
}

// SetAside renames the folder of a journal whose flight is in the logbook after the time
// its first bytes came. It does nothing where the journal is not finished.
func SetAside(dir string) error {
	_, notes, _, err := ReadJournal(dir)
	if err != nil || len(notes) == 0 || !slices.ContainsFunc(notes, func(n Note) bool { return n.Event == noteFinished }) {
		return err
	}
	name := dir + "-" + notes[0].UTC.UTC().Format("20060102T150405")
	for i := 2; ; i++ {
		if _, err := os.Stat(name); errors.Is(err, os.ErrNotExist) {
			break
		}
		name = fmt.Sprintf("%s-%s-%d", dir, notes[0].UTC.UTC().Format("20060102T150405"), i)
	}
	if err := os.Rename(dir, name); err != nil {
		return err
	}
	syncFolder(filepath.Dir(dir))
	return nil
}

// sentenceOf says in one sentence how the flight stands.
func sentenceOf(st *State) string {
	where := heightWords(st)
	if st.Ended != nil {
		return "The flight is over: " + st.Ended.Why + "."
	}
	switch st.Phase {
	case "":
		return "Nothing has been received yet."
	case sounding.BeforeRelease.String():
		return "Data come; the balloon has not been released."
	case sounding.Ascending.String():
		return fmt.Sprintf("Released %s UTC; the balloon climbs at %s.", st.Release.UTC().Format("15:04:05"), where)
	case sounding.Floating.String():
		return fmt.Sprintf("The balloon floats or sinks at %s.", where)
	case sounding.Descending.String():
		if st.Burst.Happened && st.Burst.Height.Set() {
			return fmt.Sprintf("Burst %s UTC at %.1f km; the radiosonde falls at %s.", st.Burst.UTC.UTC().Format("15:04:05"), st.Burst.Height.Value()/1000, where)
		}
		return fmt.Sprintf("The radiosonde falls at %s.", where)
	}
	return "The radiosonde has landed."
}
