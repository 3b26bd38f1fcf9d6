package api

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"

	"leadline/internal/workbench"
)

// Change is one event of the stream of changes. Flight is "" where flights came or went, or
// where many moved at once.
type Change struct {
	Flight   string           `json:"flight"`
	Revision int              `json:"revision"`
	Moved    []workbench.Seen `json:"moved,omitempty"` // the flights that moved at once, each to this revision at least
}

// hub hands changes to every open stream. A stream that does not keep up loses changes
// and is told to load everything anew.
type hub struct {
	mu      sync.Mutex
	streams map[chan Change]struct{}
	stop    context.CancelFunc // ends the watch on the store
}

const (
	pending    = 32
	mostOpen   = 64
	heartbeat  = 15 * time.Second
	watchEvery = 2 * time.Second
)

func (h *hub) tell(c Change) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for ch := range h.streams {
		select {
		case ch <- c:
		default:
			select {
			case <-ch:
			default:
			}
			select {
			case ch <- Change{}:
			default:
			}
		}
	}
}

// open adds a stream; the first one starts watching the store, for changes that the
// command line makes meanwhile.
func (s *server) open() (chan Change, bool) {
	h := &s.hub
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.streams) >= mostOpen {
		return nil, false
	}
	if h.streams == nil {
		h.streams = map[chan Change]struct{}{}
	}
	ch := make(chan Change, pending)
	h.streams[ch] = struct{}{}
	if h.stop == nil {
		ctx, cancel := context.WithCancel(context.Background())
		h.stop = cancel
		go s.watch(ctx)
	}
	return ch, true
}

func (s *server) close(ch chan Change) {
	h := &s.hub
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.streams, ch)
	if len(h.streams) == 0 && h.stop != nil {
		h.stop()
		h.stop = nil
	}
}

// watch compares the logbook's revisions now and then, more rarely the longer it takes
// to read them, and tells of those that moved.
func (s *server) watch(ctx context.Context) {
	known := map[string]int{}
	first := true
	wait := watchEvery
	for {
		began := time.Now()
		rows, err := s.bench.Rows(ctx)
		if err == nil {
			if !first {
				s.compare(known, rows)
			}
			known, first = revisions(rows), false
		}
		wait = max(watchEvery, 50*time.Since(began))
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
	}
}

func revisions(rows []workbench.Row) map[string]int {
	out := make(map[string]int, len(rows))
	for i := range rows {
		out[rows[i].ID] = rows[i].Revision
	}
	return out
}

func (s *server) compare(known map[string]int, rows []workbench.Row) {
	moved := len(rows) != len(known)
	for i := range rows {
		old, ok := known[rows[i].ID]
		switch {
		case !ok:
			moved = true
		case old != rows[i].Revision:
			s.hub.tell(Change{Flight: rows[i].ID, Revision: rows[i].Revision})
		}
	}
	if moved {
		s.hub.tell(Change{})
	}
}

// changes streams server-sent events until the client or the server goes.
func (s *server) changes(w http.ResponseWriter, r *http.Request) {
	control := http.NewResponseController(w)
	ch, ok := s.open()
	if !ok {
		fail(w, http.StatusServiceUnavailable, fmt.Errorf("%d pages already follow the changes: close some", mostOpen))
		return
	}
	defer s.close(ch)
	w.Header().Set("Content-Type", "text/event-stream; charset=utf-8")
	w.WriteHeader(http.StatusOK)
	tick := time.NewTicker(heartbeat)
	defer tick.Stop()
	send := func(text string) bool {
		_ = control.SetWriteDeadline(time.Now().Add(2 * heartbeat))
		if _, err := w.Write([]byte(text)); err != nil {
			return false
		}
		return control.Flush() == nil
	}
	if !send("retry: 2000\n: open\n\n") {
		return
	}
	for {
		select {
		case <-r.Context().Done():
			return
		case <-tick.C:
			if !send(": still here\n\n") {
				return
			}
		case c := <-ch:
			b, err := json.Marshal(c)
			if err != nil || !send("event: change\ndata: "+string(b)+"\n\n") {
				return
			}
		}
	}
}
