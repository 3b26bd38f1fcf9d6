package follow

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leadline/internal/earth"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// simulated returns a simulated flight with its file and launch record.
func simulated(t testing.TB, climate truth.Climate, seed uint64, faults ...truth.Fault) (*truth.Flight, workbench.File, workbench.Request) {
	t.Helper()
	s, err := truth.Preset(climate, true)
	if err != nil {
		t.Fatal(err)
	}
	s.Interval = 2
	s.Faults = faults
	f, err := truth.Simulate(s, seed)
	if err != nil {
		t.Fatal(err)
	}
	return f, workbench.File{Name: f.Receptions[0].Name, Bytes: f.Text(0)}, workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: f.RecordText()}}
}

// flown follows a flight by a clock of the test's own: every step the lines that are due
// come, the flight is computed and alarms are judged.
type flown struct {
	*Session
	clock  time.Time
	events []Event
	replay *Replay
	line   int
}

func newFlown(t testing.TB, file workbench.File, q workbench.Request, change func(*Options)) *flown {
	t.Helper()
	r, err := NewReplay(file.Name, file.Bytes, q, 1)
	if err != nil {
		t.Fatal(err)
	}
	f := &flown{replay: r, clock: r.at[0]}
	o := Options{Source: r, Journal: filepath.Join(t.TempDir(), "journal"), Request: q, Now: func() time.Time { return f.clock }, Tell: func(e Event) { f.events = append(f.events, e) }}
	if change != nil {
		change(&o)
	}
	if f.Session, err = Open(o); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.journal.Close() })
	if err := f.Begin("test", 0); err != nil {
		t.Fatal(err)
	}
	return f
}

// step lets time go on and tells whether there is more.
func (f *flown) step(t testing.TB, by time.Duration) bool {
	t.Helper()
	f.clock = f.clock.Add(by)
	from := 0
	if f.line > 0 {
		from = f.replay.ends[f.line-1]
	}
	for f.line < len(f.replay.ends) && !f.replay.at[f.line].After(f.clock) {
		f.line++
	}
	if to := f.replay.ends[max(f.line-1, 0)]; f.line > 0 && to > from {
		if err := f.Receive(f.replay.text[from:to], f.replay.at[f.line-1]); err != nil {
			t.Fatal(err)
		}
	}
	f.compute(false, time.Now())
	f.judge()
	return f.line < len(f.replay.ends)
}

func (f *flown) kinds() []string {
	var out []string
	for _, a := range f.State().Alarms {
		out = append(out, a.Kind)
	}
	return out
}

// same compares two outcomes in everything but the time they took.
func same(t testing.TB, got, want *workbench.Outcome) {
	t.Helper()
	show := func(o *workbench.Outcome) string {
		b, err := json.Marshal(struct {
			Findings []sounding.Finding
			Verdict  sounding.Verdict
			Events   sounding.Events
			Steps    []sounding.Step
			Runs     []sounding.CheckRun
			Sources  []sounding.Source
			Summary  []string
			Levels   any
			Name     string
			Set      string
		}{o.Final.Findings, o.Final.Verdict, o.Final.Events, o.Final.Steps, o.Final.Runs, o.Final.Sources, o.Final.Summary, o.Levels, o.Final.FlightName, o.Final.MethodSet})
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if a, b := show(got), show(want); a != b {
		t.Errorf("the followed flight differs from the checked file:\n%.2000s\n%.2000s", a, b)
	}
	if got.Final.Len() != want.Final.Len() || len(got.Final.Series) != len(want.Final.Series) {
		t.Fatalf("%d rows of %d variables, want %d of %d", got.Final.Len(), len(got.Final.Series), want.Final.Len(), len(want.Final.Series))
	}
	for i := range want.Final.Series {
		a, b := &got.Final.Series[i], &want.Final.Series[i]
		if a.Variable != b.Variable {
			t.Fatalf("column %d is %s, want %s", i, a.Variable, b.Variable)
		}
		for k := range b.Values {
			if math.Float64bits(a.Values[k]) != math.Float64bits(b.Values[k]) || b.Flags != nil && a.Flags[k] != b.Flags[k] {
				t.Fatalf("%s row %d: %v, want %v", a.Variable, k, a.Values[k], b.Values[k])
			}
		}
	}
}

// A replay through the whole session gives what check gives on the file, goes into the
// logbook under the file's bytes, and its first message is written before the burst.
func TestReplayEndsAsCheck(t *testing.T) {
	_, file, q := simulated(t, truth.MidLatitudeSummer, 4, truth.Fault{Name: "humidity-icing"}, truth.Fault{Name: "telemetry-gap"})
	want, err := workbench.Check([]workbench.File{file}, q)
	if err != nil {
		t.Fatal(err)
	}
	r, err := NewReplay(file.Name, file.Bytes, q, 2000)
	if err != nil {
		t.Fatal(err)
	}
	var stored []workbench.File
	written := 0
	journal := filepath.Join(t.TempDir(), "journal")
	s, err := Open(Options{Source: r, Journal: journal, Request: q,
		Add: func(_ context.Context, files []workbench.File, _ workbench.Request) ([]workbench.Added, error) {
			stored = files
			return []workbench.Added{{ID: "1"}}, nil
		},
		Message: func(*workbench.Outcome) (string, error) {
			written++
			return "first.bufr", nil
		}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithTimeout(context.Background(), 2*time.Minute)
	defer stop()
	if err := s.Run(ctx); err != nil {
		t.Fatal(err)
	}
	got, _ := s.Outcome()
	same(t, got, want[0])
	if len(stored) != 1 || string(stored[0].Bytes) != string(file.Bytes) || stored[0].Name != file.Name {
		t.Errorf("%d files went into the logbook, want the one that was received, bit for bit", len(stored))
	}
	if written != 1 {
		t.Errorf("the first message was written %d times, want once", written)
	}
	if st := s.State(); st.Ended == nil || st.Ended.Error != "" || st.Cost.Count < 3 {
		t.Errorf("ended %+v after %d computations", st.Ended, st.Cost.Count)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(journal); !errors.Is(err, os.ErrNotExist) {
		t.Error("the journal of a flight in the logbook still stands where the next one begins")
	}
}

// Good flights raise no alarm at any time.
func TestGoodFlightsRaiseNoAlarm(t *testing.T) {
	for i, climate := range []truth.Climate{truth.MidLatitudeSummer, truth.Tropical, truth.HighPlateau} {
		t.Run(string(climate), func(t *testing.T) {
			_, file, q := simulated(t, climate, uint64(60+i))
			f := newFlown(t, file, q, nil)
			phases := map[string]bool{}
			for f.step(t, 100*time.Second) {
				phases[f.State().Phase] = true
			}
			if k := f.kinds(); len(k) > 0 {
				t.Errorf("alarms %v: %v", k, f.State().Alarms)
			}
			for _, p := range []string{"before release", "ascent", "descent"} {
				if !phases[p] {
					t.Errorf("the phase %q was never seen: %v", p, phases)
				}
			}
			if phases["float"] {
				t.Error("the good flight was once said to float")
			}
		})
	}
}

// The first message is written once, when 100 hPa have been passed and while the balloon
// still climbs.
func TestFirstMessageWhileTheBalloonClimbs(t *testing.T) {
	_, file, q := simulated(t, truth.Tropical, 14)
	var at []float64
	tries := 0
	f := newFlown(t, file, q, func(o *Options) {
		o.Message = func(o *workbench.Outcome) (string, error) {
			if tries++; tries == 1 {
				return "", errors.New("no room on the disk")
			}
			if o.Final.Events.Burst.Found {
				t.Error("it was written after the burst")
			}
			at = append(at, lowestPressure(o.Final))
			return "first.bufr", nil
		}
	})
	for f.step(t, 100*time.Second) && f.clock.Sub(f.replay.at[0]) < 80*time.Minute {
	}
	if len(at) != 1 || at[0] > 98 || at[0] < 80 {
		t.Errorf("written at %v hPa, want once, after a first try that failed, between 98 and 80", at)
	}
	if m := f.State().Message; m.Where != "first.bufr" || m.UTC.IsZero() {
		t.Errorf("%+v", m)
	}
}

// What goes wrong raises its alarm and no other, and alarms that can end do.
func TestFaultsRaiseTheirAlarm(t *testing.T) {
	for _, c := range []struct {
		fault, alarm string
		ends         bool
		words        string
	}{
		{"gps-loss", AlarmSatellites, true, "satellites"},
		{"telemetry-gap", AlarmNoData, true, "nothing has been received for"},
		{"early-burst", AlarmEarly, false, "expected was"},
		{"float", AlarmSlow, true, "planned"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			fault := truth.Fault{Name: c.fault, At: 900}
			if c.fault == "early-burst" {
				fault.At = 0
			}
			_, file, q := simulated(t, truth.MidLatitudeSummer, 31, fault)
			f := newFlown(t, file, q, nil)
			for f.step(t, 20*time.Second) {
				if c.fault != "early-burst" && f.clock.Sub(f.replay.at[0]) > 45*time.Minute {
					break
				}
			}
			st := f.State()
			if len(st.Alarms) == 0 {
				t.Fatal("no alarm")
			}
			for _, a := range st.Alarms {
				if a.Kind != c.alarm {
					t.Errorf("alarm %q: %s", a.Kind, a.Sentence)
				}
				if c.ends == a.Over.IsZero() {
					t.Errorf("over at %v: %s %s", a.Over, a.Sentence, a.Ended)
				}
				if !strings.Contains(a.Sentence, c.words) {
					t.Errorf("%q does not say %q", a.Sentence, c.words)
				}
			}
			if len(st.Alarms) > 1 {
				t.Errorf("%d alarms, want one: an alarm that comes and goes is not looked at", len(st.Alarms))
			}
		})
	}
}

// A clock that is an hour off is said so while the data come at their own pace; a file
// that is read at once years later is not.
func TestWrongTime(t *testing.T) {
	_, file, q := simulated(t, truth.MidLatitudeSummer, 5)
	f := newFlown(t, file, q, nil)
	for i := 0; i < 8; i++ {
		f.step(t, 15*time.Second)
	}
	if k := f.kinds(); len(k) > 0 {
		t.Fatalf("alarms %v with a right clock", k)
	}
	g := newFlown(t, file, q, nil)
	g.clock = g.clock.Add(-time.Hour)
	for i := 0; i < 16; i++ { // the computer's clock is an hour behind the data
		g.clock = g.clock.Add(15 * time.Second)
		due := g.clock.Add(time.Hour)
		from := 0
		if g.line > 0 {
			from = g.replay.ends[g.line-1]
		}
		for g.line < len(g.replay.ends) && !g.replay.at[g.line].After(due) {
			g.line++
		}
		if err := g.Receive(g.replay.text[from:g.replay.ends[g.line-1]], time.Time{}); err != nil {
			t.Fatal(err)
		}
		g.compute(false, time.Now())
		g.judge()
	}
	alarms := g.State().Alarms
	if len(alarms) != 1 || alarms[0].Kind != AlarmTime || !strings.Contains(alarms[0].Sentence, "60 min ahead of") {
		t.Errorf("alarms %+v, want one that says 60 min ahead", alarms)
	}

	h := newFlown(t, file, q, nil)
	h.clock = time.Date(2040, 1, 1, 0, 0, 0, 0, time.UTC)
	if err := h.Receive(file.Bytes, time.Time{}); err != nil {
		t.Fatal(err)
	}
	for range 20 {
		h.clock = h.clock.Add(10 * time.Second)
		h.compute(false, time.Now())
		h.judge()
	}
	for _, a := range h.State().Alarms {
		if a.Kind == AlarmTime {
			t.Errorf("a file read late: %s", a.Sentence)
		}
	}
}

// Half way up, burst and landing lie within three standard uncertainties of the truth, or
// in the ellipse; after the burst the landing is nearer than before.
func TestExpectationsAgainstTheTruth(t *testing.T) {
	flight, file, q := simulated(t, truth.MidLatitudeSummer, 12)
	tr := &flight.Truth
	f := newFlown(t, file, q, nil)
	var middle, late *State
	for f.step(t, 100*time.Second) {
		st := f.State()
		switch {
		case middle == nil && st.Phase == "ascent" && st.Height > 15000:
			middle = &st
		case st.Phase == "descent" && st.Height < 12000 && late == nil:
			late = &st
		}
	}
	if middle == nil || late == nil {
		t.Fatal("the flight was not seen at 15 km up or at 12 km down")
	}
	top, last := 0, tr.Len()-1
	for i := range tr.HeightMSL {
		if tr.HeightMSL[i] > tr.HeightMSL[top] {
			top = i
		}
	}
	b := middle.Burst
	if !b.Known || b.Happened || math.Abs(b.Height.Value()-tr.HeightMSL[top]) > 3*b.HeightU.Value() {
		t.Errorf("burst expected at %.0f ± %.0f m, was %.0f m: %s", b.Height, b.HeightU, tr.HeightMSL[top], b.Sentence)
	}
	if off := b.UTC.Sub(tr.UTC(tr.Time[top])).Seconds(); math.Abs(off) > 3*b.Uncertainty.Value() {
		t.Errorf("burst expected %.0f s off, u is %.0f s", off, b.Uncertainty)
	}
	distance := func(s *State) float64 {
		d, _, _ := earth.Inverse(s.Landing.Place.Latitude, s.Landing.Place.Longitude, tr.Latitude[last], tr.Longitude[last])
		return d
	}
	if !middle.Landing.Known || distance(middle) > middle.Landing.Major95.Value() {
		t.Errorf("landing expected %.0f m off, the ellipse's half-axis is %.0f m", distance(middle), middle.Landing.Major95)
	}
	// The last frame of the simulated reception is not on the ground; what is left is some km.
	if distance(late) > distance(middle)+2000 {
		t.Errorf("the landing expected on the way down is %.0f m off, half way up it was %.0f m", distance(late), distance(middle))
	}
	t.Logf("half way up: burst %.0f ± %.0f m (true %.0f), landing %.1f km off, half-axes of 95 %% %.1f and %.1f km; at 12 km on the way down %.1f km",
		b.Height, b.HeightU, tr.HeightMSL[top], distance(middle)/1000, middle.Landing.Major95/1000, middle.Landing.Minor95/1000, distance(late)/1000)
}

// Without the balloon's items nothing is invented.
func TestNothingExpectedWithoutARecord(t *testing.T) {
	_, file, q := simulated(t, truth.MidLatitudeSummer, 3)
	q.Record = workbench.File{}
	f := newFlown(t, file, q, nil)
	for range 40 {
		f.step(t, time.Minute)
	}
	st := f.State()
	if st.Burst.Known || st.Landing.Known || !strings.Contains(st.Burst.Sentence, "gives no balloon mass") {
		t.Errorf("burst %+v", st.Burst)
	}
	if st.Target.Set() {
		t.Errorf("a target of %v m/s was invented", st.Target)
	}
}

// The flight ends when the radiosonde has rested, and not before.
func TestLandingEnds(t *testing.T) {
	s, err := truth.Preset(truth.MidLatitudeSummer, true)
	if err != nil {
		t.Fatal(err)
	}
	s.Interval, s.Until, s.Rest = 5, truth.UntilLanding, 600
	s.Balloon.Burst = 3.5
	flight, err := truth.Simulate(s, 9)
	if err != nil {
		t.Fatal(err)
	}
	f := newFlown(t, workbench.File{Name: "flight.txt", Bytes: flight.Text(0)}, workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: flight.RecordText()}}, nil)
	over := ""
	for f.step(t, time.Minute) && over == "" {
		over = f.isOver()
		if st := f.State(); over != "" && st.Phase != "landed" {
			t.Errorf("over in phase %q", st.Phase)
		}
	}
	if !strings.Contains(over, "landed") {
		t.Errorf("it ended by %q", over)
	}
	if st := f.State(); !st.Landing.Happened || st.Landing.Distance.Value() <= 0 {
		t.Errorf("landing %+v", st.Landing)
	}
}

func TestSilenceEnds(t *testing.T) {
	_, file, q := simulated(t, truth.MidLatitudeSummer, 3)
	f := newFlown(t, file, q, nil)
	for range 30 {
		f.step(t, time.Minute)
	}
	if why := f.isOver(); why != "" {
		t.Fatalf("over in mid-air: %s", why)
	}
	f.clock = f.clock.Add(44 * time.Minute)
	if why := f.isOver(); why != "" {
		t.Errorf("over after 44 min of silence: %s", why)
	}
	f.clock = f.clock.Add(2 * time.Minute)
	if why := f.isOver(); !strings.Contains(why, "46 min") {
		t.Errorf("not over after 46 min of silence: %q", why)
	}
}

// A journal that a session left is gone on with: alarms, message and bytes are there.
func TestResume(t *testing.T) {
	_, file, q := simulated(t, truth.MidLatitudeSummer, 31, truth.Fault{Name: "telemetry-gap", At: 900})
	dir := filepath.Join(t.TempDir(), "journal")
	f := newFlown(t, file, q, func(o *Options) { o.Journal = dir })
	for range 90 {
		f.step(t, 20*time.Second)
	}
	before := f.State()
	if len(before.Alarms) == 0 {
		t.Fatal("there was no alarm to be remembered")
	}
	if _, err := OpenJournal(dir, time.Now); !errors.Is(err, ErrInUse) {
		t.Errorf("a second program may write to the journal: %v", err)
	}
	f.journal.Close()
	s, err := Open(Options{Source: f.replay, Journal: dir, Request: q, Now: func() time.Time { return f.clock }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	s.compute(false, time.Now())
	after := s.State()
	if fmt.Sprint(after.Alarms) != fmt.Sprint(before.Alarms) {
		t.Errorf("alarms %v, before %v", after.Alarms, before.Alarms)
	}
	if after.Received != before.Received || after.Rows != before.Rows || after.Height != before.Height {
		t.Errorf("after: %d bytes, %d rows; before: %d, %d", after.Received, after.Rows, before.Received, before.Rows)
	}
}

func TestOpenRefuses(t *testing.T) {
	r := &File{Path: "flight.txt"}
	for _, c := range []struct {
		q    workbench.Request
		want string
	}{
		{workbench.Request{Recipe: workbench.File{Name: "cf.toml", Bytes: []byte("name = \"x\"\nformat = \"netcdf\"\n")}}, "line by line"},
		{workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: []byte("colour = 1\n")}}, "colour"},
		{workbench.Request{Settings: workbench.File{Name: "mine.toml", Bytes: []byte("[check.spike]\nno_such = 1\n")}}, "no_such"},
	} {
		s, err := Open(Options{Source: r, Journal: t.TempDir(), Request: c.q})
		if err == nil {
			s.Close()
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want one about %s", err, c.want)
		}
	}
}

func BenchmarkCompute(b *testing.B) {
	s, err := truth.Preset(truth.MidLatitudeSummer, true)
	if err != nil {
		b.Fatal(err)
	}
	flight, err := truth.Simulate(s, 1)
	if err != nil {
		b.Fatal(err)
	}
	file := workbench.File{Name: "flight.txt", Bytes: flight.Text(0)}
	f := newFlown(b, file, workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: flight.RecordText()}}, nil)
	if err := f.Receive(file.Bytes, time.Time{}); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		f.clock = f.clock.Add(10 * time.Second)
		f.compute(false, time.Now())
	}
	b.ReportMetric(float64(f.State().Rows), "rows")
}

// A journal that was left unfinished yesterday does not spoil today's flight: both are
// there, today's is shown.
func TestYesterdaysJournal(t *testing.T) {
	_, old, _ := simulated(t, truth.Marine, 3)
	s, err := truth.Preset(truth.Marine, true)
	if err != nil {
		t.Fatal(err)
	}
	s.Interval = 2
	s.Release = s.Release.AddDate(0, 0, 1)
	flight, err := truth.Simulate(s, 4)
	if err != nil {
		t.Fatal(err)
	}
	today := workbench.File{Name: "received.txt", Bytes: flight.Text(0)}
	q := workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: flight.RecordText()}}
	f := newFlown(t, today, q, func(o *Options) {
		o.Request.Recipe = workbench.File{}
	})
	if err := f.Receive(old.Bytes[:len(old.Bytes)/2], time.Time{}); err != nil {
		t.Fatal(err)
	}
	if err := f.Begin("test", 0); err != nil {
		t.Fatal(err)
	}
	if err := f.Receive(today.Bytes, time.Time{}); err != nil {
		t.Fatal(err)
	}
	f.compute(true, time.Now())
	st := f.State()
	if st.Unread != "" || st.Release.Day() != s.Release.Day() {
		t.Errorf("release %v of a flight of %v: %s", st.Release, s.Release, st.Unread)
	}
}
