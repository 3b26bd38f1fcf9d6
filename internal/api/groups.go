package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// maxGroupBody holds the numbers of tens of thousands of flights and an instrument sheet.
const maxGroupBody = 4 << 20

// GroupEffectsRequest asks what a proposal would do to each flight.
type GroupEffectsRequest struct {
	Flights  []string           `json:"flights"`
	Proposal workbench.Proposal `json:"proposal"`
}

// GroupStoreRequest asks to store a proposal for flights whose effects were seen.
type GroupStoreRequest struct {
	Flights  []workbench.Seen   `json:"flights"`
	Proposal workbench.Proposal `json:"proposal"`
}

// GroupRevokeRequest asks to take a group back on flights whose effects were seen.
type GroupRevokeRequest struct {
	Flights []workbench.Seen `json:"flights"`
	Reason  string           `json:"reason"`
	Who     string           `json:"who"`
}

// GroupLine is one line of an answer that takes a while: lines of JSON, one for each
// flight as it is done with, and a last one with group, refused or error. A stream that
// ends without such a last line was cut off; what it would have stored may be stored.
type GroupLine struct {
	Effect  *workbench.Effect        `json:"effect,omitempty"`
	Today   *workbench.RowEffect     `json:"today,omitempty"`   // of the methods of today on a line another version made
	Done    int                      `json:"done,omitempty"`    // flights computed, while nothing is stored yet
	Group   *workbench.Group         `json:"group,omitempty"`   // as stored
	Refused []workbench.GroupRefusal `json:"refused,omitempty"` // the flights that stand against it: nothing is stored
	Error   string                   `json:"error,omitempty"`
	End     bool                     `json:"end,omitempty"`
}

// GroupChoices is what a proposal can be made of.
type GroupChoices struct {
	Items     []GroupItem `json:"items"` // of the launch record
	Checks    []string    `json:"checks"`
	Sheets    []SheetName `json:"sheets"` // shipped
	Variables []Variable  `json:"variables"`
}

// GroupItem is an item of the launch record.
type GroupItem struct {
	Path  string `json:"path"`
	Label string `json:"label"`
	Unit  string `json:"unit"`  // "" for texts and instants
	Shift bool   `json:"shift"` // a number or an instant: it can be shifted
}

func (s *server) groupRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/groups", s.groups)
	mux.HandleFunc("GET /api/groups/choices", s.groupChoices)
	mux.HandleFunc("POST /api/groups", s.storeGroup)
	mux.HandleFunc("POST /api/groups/effects", s.groupEffects)
	mux.HandleFunc("POST /api/groups/{group}/effects", s.groupRevocationEffects)
	mux.HandleFunc("POST /api/groups/{group}/revoke", s.revokeGroup)
}

func (s *server) groups(w http.ResponseWriter, r *http.Request) {
	all, err := s.bench.Groups(r.Context())
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, list(all))
}

func (s *server) groupChoices(w http.ResponseWriter, r *http.Request) {
	out := GroupChoices{Items: []GroupItem{}, Checks: []string{}, Sheets: []SheetName{}, Variables: []Variable{}}
	for _, f := range sounding.RecordFields {
		if f.Path == "radiosonde.sheet" {
			continue // choose-sheet chooses it
		}
		out.Items = append(out.Items, GroupItem{Path: f.Path, Label: f.Label, Unit: workbench.ItemUnit(f), Shift: f.Number != nil || f.Instant != nil})
	}
	for _, c := range quality.Checks() {
		out.Checks = append(out.Checks, c.String())
	}
	for _, name := range sounding.ShippedSheets() {
		sheet, _, err := sounding.ShippedSheet(name)
		if err != nil {
			s.failed(w, err)
			return
		}
		out.Sheets = append(out.Sheets, SheetName{sheet.Name, sheet.Title})
	}
	for _, v := range sounding.Variables() {
		if i := v.Info(); i.Profile {
			out.Variables = append(out.Variables, Variable{v, i.Label, i.Unit, true})
		}
	}
	s.reply(w, http.StatusOK, out)
}

// lines writes an answer of many lines. Nothing is sent before the first one, so that a
// request that is refused at once still gets a status of its own.
type lines struct {
	s       *server
	w       http.ResponseWriter
	control *http.ResponseController
	begun   bool
}

func (s *server) lines(w http.ResponseWriter) *lines {
	return &lines{s: s, w: w, control: http.NewResponseController(w)}
}

func (l *lines) send(line GroupLine) error {
	if !l.begun {
		l.begun = true
		l.w.Header().Set("Content-Type", "application/x-ndjson; charset=utf-8")
		l.w.Header().Set("Cache-Control", "no-store")
		l.w.WriteHeader(http.StatusOK)
	}
	b, err := json.Marshal(line)
	if err != nil {
		return err
	}
	_ = l.control.SetWriteDeadline(time.Now().Add(writeTimeout))
	if _, err := l.w.Write(append(b, '\n')); err != nil {
		return err
	}
	return l.control.Flush()
}

// end closes the answer with what came of it.
func (l *lines) end(line GroupLine, err error) {
	var refused *workbench.GroupError
	switch {
	case err == nil:
	case errors.Is(err, context.Canceled):
		l.s.log.Debug("the client went away", "err", err)
		return
	case errors.As(err, &refused):
		line = GroupLine{Refused: refused.Flights, Error: refused.Error()}
	case !l.begun:
		l.s.failed(l.w, err)
		return
	default:
		l.s.log.Error("request failed", "err", err)
		line = GroupLine{Error: err.Error()}
	}
	line.End = true
	if err := l.send(line); err != nil {
		l.s.log.Debug("the client went away", "err", err)
	}
}

func (s *server) groupEffects(w http.ResponseWriter, r *http.Request) {
	var q GroupEffectsRequest
	if err := readUpTo(w, r, &q, maxGroupBody); err != nil {
		s.failed(w, err)
		return
	}
	if len(q.Flights) == 0 {
		s.failed(w, unfit(errors.New("no flight was chosen")))
		return
	}
	out := s.lines(w)
	out.end(GroupLine{}, s.bench.PreviewGroup(r.Context(), q.Proposal, q.Flights, func(e workbench.Effect) error {
		return out.send(GroupLine{Effect: &e})
	}))
}

func (s *server) groupRevocationEffects(w http.ResponseWriter, r *http.Request) {
	if err := s.groupExists(r); err != nil {
		s.failed(w, err)
		return
	}
	out := s.lines(w)
	out.end(GroupLine{}, s.bench.PreviewGroupRevocation(r.Context(), r.PathValue("group"), func(e workbench.Effect) error {
		return out.send(GroupLine{Effect: &e})
	}))
}

func (s *server) groupExists(r *http.Request) error {
	id := r.PathValue("group")
	if _, err := s.bench.Group(r.Context(), id); err != nil {
		var refused *workbench.RefusedError
		if errors.As(err, &refused) {
			return &requestError{http.StatusNotFound, fmt.Errorf("the logbook has no group %s", id)}
		}
		return err
	}
	return nil
}

// progress tells how many flights are computed, a few times a second at most.
func (l *lines) progress() func(int) {
	var last time.Time
	return func(done int) {
		if now := time.Now(); now.Sub(last) >= 200*time.Millisecond {
			last = now
			_ = l.send(GroupLine{Done: done})
		}
	}
}

func (s *server) storeGroup(w http.ResponseWriter, r *http.Request) {
	var q GroupStoreRequest
	if err := readUpTo(w, r, &q, maxGroupBody); err != nil {
		s.failed(w, err)
		return
	}
	out := s.lines(w)
	g, err := s.bench.StoreGroup(r.Context(), q.Proposal, q.Flights, out.progress())
	s.ended(out, q.Flights, g, err)
}

func (s *server) revokeGroup(w http.ResponseWriter, r *http.Request) {
	var q GroupRevokeRequest
	if err := readUpTo(w, r, &q, maxGroupBody); err != nil {
		s.failed(w, err)
		return
	}
	if err := s.groupExists(r); err != nil {
		s.failed(w, err)
		return
	}
	out := s.lines(w)
	g, err := s.bench.RevokeGroup(r.Context(), r.PathValue("group"), sounding.Revoked{Reason: q.Reason, Who: q.Who}, q.Flights, out.progress())
	s.ended(out, q.Flights, g, err)
}

// ended closes an answer about a group that was stored or taken back, and tells every
// open page which flights moved.
func (s *server) ended(out *lines, seen []workbench.Seen, g workbench.Group, err error) {
	if err == nil {
		c := Change{}
		for _, f := range seen {
			c.Moved = append(c.Moved, workbench.Seen{Flight: f.Flight, Revision: f.Revision + 1})
		}
		s.hub.tell(c)
	}
	out.end(GroupLine{Group: &g}, err)
}
