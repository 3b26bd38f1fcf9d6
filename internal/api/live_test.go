package api_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"leadline/internal/api"
	"leadline/internal/api/apitest"
	"leadline/internal/follow"
	"leadline/internal/truth"
)

// following starts a server that follows a replayed flight.
func following(t *testing.T, speed float64) (url string, s *follow.Session, done chan error) {
	t.Helper()
	b, st, err := apitest.Open(t.TempDir(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	source, q, err := apitest.Files(apitest.Flight{Site: "north pier", Climate: truth.MidLatitudeSummer, Day: true, Sheet: "twin-humidity", Interval: 5, Before: 60}, 2)
	if err != nil {
		t.Fatal(err)
	}
	r, err := follow.NewReplay(source.Name, source.Bytes, q, speed)
	if err != nil {
		t.Fatal(err)
	}
	if s, err = follow.Open(follow.Options{Source: r, Request: q, Journal: filepath.Join(t.TempDir(), "journal"), Add: b.Add}); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done = make(chan error, 1)
	ended := make(chan struct{})
	go func() {
		done <- s.Run(ctx)
		close(ended)
	}()
	srv := httptest.NewServer(api.New(b, api.Options{Live: s}))
	t.Cleanup(func() {
		stop()
		<-ended
		srv.Close()
		s.Close()
		st.Close()
	})
	return srv.URL, s, done
}

func liveOf(t *testing.T, url string) api.Live {
	t.Helper()
	r, err := http.Get(url + "/api/live")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	var l api.Live
	if err := json.NewDecoder(r.Body).Decode(&l); err != nil {
		t.Fatal(err)
	}
	return l
}

func TestLiveStreamsUntilTheFlightIsStored(t *testing.T) {
	url, _, done := following(t, 1500)
	r, err := http.Get(url + "/api/live/changes")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if kind := r.Header.Get("Content-Type"); !strings.HasPrefix(kind, "text/event-stream") {
		t.Errorf("content type %q", kind)
	}
	heights, revisions := map[float64]bool{}, 0
	var last *follow.State
	lines := bufio.NewScanner(r.Body)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		data, ok := strings.CutPrefix(lines.Text(), "data: ")
		if !ok {
			continue
		}
		var l api.Live
		if err := json.Unmarshal([]byte(data), &l); err != nil || l.State == nil {
			t.Fatalf("%v: %.200s", err, data)
		}
		if last = l.State; last.Revision < revisions {
			t.Fatalf("revision %d after %d", last.Revision, revisions)
		}
		revisions = last.Revision
		if last.Height.Set() {
			heights[last.Height.Value()] = true
		}
		if last.Ended != nil {
			break
		}
	}
	if last == nil || last.Ended == nil || last.Ended.Error != "" || len(last.Ended.Flights) != 1 {
		t.Fatalf("the stream ended with %+v", last)
	}
	if len(heights) < 3 {
		t.Errorf("%d different heights were streamed", len(heights))
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
	// What was followed is what the logbook holds.
	var live, stored api.Flight
	for path, into := range map[string]*api.Flight{"/api/live/flight": &live, "/api/flights/" + last.Ended.Flights[0].ID: &stored} {
		r, err := http.Get(url + path)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.NewDecoder(r.Body).Decode(into); err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		into.ID, into.Revision, into.SignOff.State = "", 0, ""
	}
	a, _ := json.Marshal(live)
	b, _ := json.Marshal(stored)
	if !bytes.Equal(a, b) {
		t.Errorf("followed:\n%.1500s\nstored:\n%.1500s", a, b)
	}
}

func TestLiveEndsByHand(t *testing.T) {
	url, _, done := following(t, 60)
	deadline := time.Now().Add(30 * time.Second)
	for liveOf(t, url).State.Rows == 0 && time.Now().Before(deadline) {
		time.Sleep(50 * time.Millisecond)
	}
	for _, c := range []struct {
		body, kind, origin string
		want               int
	}{
		{`{"who":"A. Reviewer"}`, "text/plain", "", http.StatusUnsupportedMediaType},
		{`{"who":1}`, "application/json", "", http.StatusBadRequest},
		{`{"who":"x"}`, "application/json", "https://elsewhere.example", http.StatusForbidden},
		{`{"who":"A. Reviewer"}`, "application/json", "", http.StatusAccepted},
	} {
		q, err := http.NewRequest(http.MethodPost, url+"/api/live/finish", strings.NewReader(c.body))
		if err != nil {
			t.Fatal(err)
		}
		q.Header.Set("Content-Type", c.kind)
		if c.origin != "" {
			q.Header.Set("Origin", c.origin)
		}
		r, err := http.DefaultClient.Do(q)
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		if r.StatusCode != c.want {
			t.Errorf("%+v: status %d", c, r.StatusCode)
		}
	}
	select {
	case err := <-done:
		if err != nil {
			t.Fatal(err)
		}
	case <-time.After(30 * time.Second):
		t.Fatal("the flight does not end")
	}
	if e := liveOf(t, url).State.Ended; e == nil || !strings.Contains(e.Why, "A. Reviewer") || e.Error != "" {
		t.Errorf("ended %+v", e)
	}
}

func TestNothingIsFollowed(t *testing.T) {
	f := serve(t, "")
	if l := liveOf(t, f.url); l.Following || l.State != nil {
		t.Errorf("%+v", l)
	}
	for _, path := range []string{"/api/live/flight", "/api/live/columns"} {
		r, err := http.Get(f.url + path)
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		if r.StatusCode != http.StatusNotFound {
			t.Errorf("%s: status %d", path, r.StatusCode)
		}
	}
}
