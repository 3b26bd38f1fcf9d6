package api

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"sync/atomic"
	"time"

	"leadline/internal/follow"
)

// Live is the flight that this server follows.
type Live struct {
	Following bool          `json:"following"` // leadline serve alone follows none
	State     *follow.State `json:"state,omitempty"`
}

// liveOpen counts the streams of the flight that is followed.
type liveOpen struct{ n atomic.Int32 }

// errNotFollowing answers what only a server that follows a flight can.
var errNotFollowing = &requestError{http.StatusNotFound, errors.New("this leadline follows no flight: leadline follow SOURCE --serve does")}

func (s *server) liveRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/live", s.live)
	mux.HandleFunc("GET /api/live/changes", s.liveChanges)
	mux.HandleFunc("GET /api/live/flight", s.liveFlight)
	mux.HandleFunc("GET /api/live/columns", s.liveColumns)
	mux.HandleFunc("POST /api/live/finish", s.liveFinish)
}

func (s *server) liveNow() Live {
	if s.following == nil {
		return Live{}
	}
	state := s.following.State()
	return Live{Following: true, State: &state}
}

func (s *server) live(w http.ResponseWriter, r *http.Request) { s.reply(w, http.StatusOK, s.liveNow()) }

// liveID is what the flight is called before it has a number in the logbook.
const liveID = "live"

func (s *server) liveFlight(w http.ResponseWriter, r *http.Request) {
	if s.following == nil {
		s.failed(w, errNotFollowing)
		return
	}
	o, revision := s.following.Outcome()
	if o == nil {
		s.failed(w, &requestError{http.StatusNotFound, errors.New("nothing that has been received is a flight yet")})
		return
	}
	s.reply(w, http.StatusOK, flightOf(liveID, o, revision))
}

func (s *server) liveColumns(w http.ResponseWriter, r *http.Request) {
	if s.following == nil {
		s.failed(w, errNotFollowing)
		return
	}
	o, revision := s.following.Outcome()
	if o == nil {
		s.failed(w, &requestError{http.StatusNotFound, errors.New("nothing that has been received is a flight yet")})
		return
	}
	s.sendColumns(w, o, revision)
}

// FinishRequest ends the flight that is followed.
type FinishRequest struct {
	Who string `json:"who"`
}

// liveFinish ends the flight: what was received goes into the logbook.
func (s *server) liveFinish(w http.ResponseWriter, r *http.Request) {
	if s.following == nil {
		s.failed(w, errNotFollowing)
		return
	}
	var q FinishRequest
	if err := read(w, r, &q); err != nil {
		s.failed(w, err)
		return
	}
	if len(q.Who) > 200 {
		s.failed(w, unfit(errors.New("the name is longer than 200 bytes")))
		return
	}
	why := "ended on the screen"
	if q.Who != "" {
		why += " by " + q.Who
	}
	s.following.Finish(why)
	s.reply(w, http.StatusAccepted, s.liveNow())
}

// liveChanges streams the state as server-sent events, at most four times a second, until
// the client or the server goes.
func (s *server) liveChanges(w http.ResponseWriter, r *http.Request) {
	if s.liveStreams.n.Add(1) > mostOpen {
		s.liveStreams.n.Add(-1)
		fail(w, http.StatusServiceUnavailable, fmt.Errorf("%d pages already follow the flight: close some", mostOpen))
		return
	}
	defer s.liveStreams.n.Add(-1)
	control := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream; charset=utf-8")
	w.WriteHeader(http.StatusOK)
	send := func(text string) bool {
		_ = control.SetWriteDeadline(time.Now().Add(2 * heartbeat))
		if _, err := w.Write([]byte(text)); err != nil {
			return false
		}
		return control.Flush() == nil
	}
	state := func() bool {
		b, err := json.Marshal(s.liveNow())
		return err == nil && send("event: live\ndata: "+string(b)+"\n\n")
	}
	if !send("retry: 2000\n\n") || !state() {
		return
	}
	var moved <-chan struct{}
	if s.following != nil {
		ch, stop := s.following.Subscribe()
		defer stop()
		moved = ch
	}
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	const apart = 250 * time.Millisecond
	for {
		select {
		case <-r.Context().Done():
			return
		case <-beat.C:
			if !send(": still here\n\n") {
				return
			}
			continue
		case <-moved:
		}
		if !state() {
			return
		}
		select {
		case <-r.Context().Done():
			return
		case <-time.After(apart):
		}
	}
}
