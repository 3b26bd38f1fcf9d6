package follow

import (
	"bytes"
	"context"
	"errors"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leadline/internal/export"
	"leadline/internal/prelaunch"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// twoReceivers is a flight with a gap that a second receiver did not have.
func twoReceivers(t *testing.T) (first, second workbench.File, q workbench.Request) {
	t.Helper()
	f, first, q := simulated(t, truth.MidLatitudeSummer, 8, truth.Fault{Name: "telemetry-gap", Size: 260}, truth.Fault{Name: "second-receiver"})
	if len(f.Receptions) < 2 {
		t.Fatalf("%d receptions", len(f.Receptions))
	}
	k := len(f.Receptions) - 1
	return first, workbench.File{Name: f.Receptions[k].Name, Bytes: f.Text(k)}, q
}

func csvOf(t *testing.T, o *workbench.Outcome) string {
	t.Helper()
	var b bytes.Buffer
	if err := export.CSV(&b, &export.Flight{Final: o.Final}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func stream(f workbench.File) *Stream {
	return &Stream{From: f.Name, Called: f.Name, Reader: bytes.NewReader(f.Bytes)}
}

// Two receivers of one flight end as check on both files together, and both go into the
// logbook as sources of one flight.
func TestTwoReceiversAreJoined(t *testing.T) {
	first, second, q := twoReceivers(t)
	join := q
	join.Join = true
	want, err := workbench.Check([]workbench.File{first, second}, join)
	if err != nil {
		t.Fatal(err)
	}
	var added []workbench.File
	s, err := Open(Options{Source: stream(first), Also: []Source{stream(second)}, Journal: filepath.Join(t.TempDir(), "journal"), Request: q,
		Add: func(_ context.Context, files []workbench.File, q workbench.Request) ([]workbench.Added, error) {
			if added = files; !q.Join {
				t.Error("the files are not joined")
			}
			return nil, nil
		}})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	got, _ := s.Outcome()
	if csvOf(t, got) != csvOf(t, want[0]) {
		t.Error("the followed flight differs from check on both files")
	}
	if len(added) != 2 || !bytes.Equal(added[0].Bytes, first.Bytes) || !bytes.Equal(added[1].Bytes, second.Bytes) {
		t.Errorf("%d files go into the logbook", len(added))
	}
	st := s.State()
	if len(st.Others) != 1 || st.Others[0].Apart != "" || st.Others[0].Received != int64(len(second.Bytes)) || st.Received != int64(len(first.Bytes)+len(second.Bytes)) {
		t.Errorf("%+v", st.Others)
	}
	dir := s.o.Journal
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if again, _ := filepath.Glob(dir + "-*"); len(again) != 1 {
		t.Errorf("the journal is not moved aside: %v", again)
	}
}

// What a second receiver brought stays part of the flight when the program is started again
// without it; a receiver of another flight, or of nothing that can be read, is kept apart.
func TestSecondReceiverAfterARestart(t *testing.T) {
	first, second, q := twoReceivers(t)
	dir := filepath.Join(t.TempDir(), "journal")
	s, err := Open(Options{Source: stream(first), Also: []Source{stream(second)}, Journal: dir, Request: q})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(s.Begin("a", 0), s.Receive(first.Bytes, time.Time{}), s.others[0].Begin("b", 0), s.others[0].Receive(second.Bytes, time.Time{})); err != nil {
		t.Fatal(err)
	}
	s.compute(false, time.Now())
	whole, _ := s.Outcome()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if s, err = Open(Options{Source: stream(first), Also: []Source{stream(workbench.File{Name: "noise.txt"})}, Journal: dir, Request: q}); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(s.others[0].Begin("c", 0), s.others[0].Receive([]byte("\x00noise\nmore noise\n"), time.Time{})); err != nil {
		t.Fatal(err)
	}
	s.compute(false, time.Now())
	again, _ := s.Outcome()
	if whole == nil || again == nil || again.Final.Len() != whole.Final.Len() {
		t.Fatal("the second receiver's rows are lost")
	}
	st := s.State()
	if len(st.Others) != 2 || st.Others[0].Apart == "" || st.Others[1].Apart != "" || st.Others[1].Link != LinkEnded {
		t.Errorf("%+v", st.Others)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(Options{Source: stream(first), Also: []Source{stream(first)}, Journal: dir, Request: q}); err == nil || !strings.Contains(err.Error(), "named twice") {
		t.Errorf("one source twice: %v", err)
	}
	if s, err = Open(Options{Source: stream(first), Journal: dir, Request: q}); err != nil {
		t.Errorf("the journal is not let go after an error: %v", err)
	} else if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// failing is a source that breaks at once.
type failing struct{}

func (failing) Name() string                        { return "failing.txt" }
func (failing) Identity() string                    { return "failing" }
func (failing) Run(context.Context, Receiver) error { return io.ErrClosedPipe }

// A receiver that fails does not end the other one's flight.
func TestAFailingReceiverStopsNothing(t *testing.T) {
	first, _, q := twoReceivers(t)
	s, err := Open(Options{Source: failing{}, Also: []Source{stream(first)}, Journal: filepath.Join(t.TempDir(), "journal"), Request: q})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	if o, _ := s.Outcome(); o == nil || o.Final.Len() < 100 {
		t.Error("the second receiver's flight is not there")
	}
	if st := s.State(); st.Link != LinkEnded && st.Link != LinkLost {
		t.Errorf("%s: %s", st.Link, st.Sentence)
	}
}

// The wind above comes from the site's last flight, looked for once and said with its age.
func TestTheLastFlightsWindIsSaid(t *testing.T) {
	flight, file, q := simulated(t, truth.MidLatitudeSummer, 12)
	asked := 0
	f := newFlown(t, file, q, func(o *Options) {
		o.Earlier = func(site string, before time.Time) *Earlier {
			asked++
			if site != flight.Record.Site.Name || before.Sub(flight.Truth.UTC(flight.Truth.Release)).Abs() > 2*time.Minute {
				t.Errorf("asked for %q before %s", site, before)
			}
			p := earlierProfile()
			p.Source = "the last flight of this site, pier, 12 h before"
			return &Earlier{Profile: p, Age: 12 * time.Hour}
		}
	})
	for f.step(t, 100*time.Second) {
		if st := f.State(); st.Phase == "ascent" && st.Height > 12000 {
			break
		}
	}
	if st := f.State(); asked != 1 || !strings.Contains(st.Landing.Sentence, "above: the last flight of this site, pier, 12 h before") {
		t.Errorf("asked %d times: %s", asked, st.Landing.Sentence)
	}
}

// earlierProfile is a wind of 20 m/s from the west at all heights.
func earlierProfile() *prelaunch.Profile {
	p, err := prelaunch.ReadProfile("steady", []byte("height_m_msl,wind_u_m_s,wind_v_m_s\n0,20,0\n40000,20,0\n"), 46)
	if err != nil {
		panic(err)
	}
	return p
}

// A flight that comes within a second is expected from all of it, not from its first rows.
func TestExpectationsOfDataThatComeAtOnce(t *testing.T) {
	_, file, q := simulated(t, truth.MidLatitudeSummer, 12)
	f := newFlown(t, file, q, nil)
	begin := len(file.Bytes) / 20 // before the release
	for _, part := range [][]byte{file.Bytes[:begin], file.Bytes[begin : len(file.Bytes)/2], file.Bytes[len(file.Bytes)/2:]} {
		if err := f.Receive(part, time.Time{}); err != nil {
			t.Fatal(err)
		}
		f.compute(false, time.Now())
	}
	if st := f.State(); !st.Burst.Happened || !st.Landing.Known {
		t.Errorf("burst %+v, landing %s", st.Burst, st.Landing.Sentence)
	}
	early := f.State().Landing.UTC
	f.due = true
	f.catchUp()
	if f.due != true || f.State().Landing.UTC != early {
		t.Error("predicted anew before it is time")
	}
	f.clock = f.clock.Add(time.Minute)
	f.catchUp()
	if f.due {
		t.Error("a prediction that is due was not made")
	}
}
