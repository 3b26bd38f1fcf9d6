package api

import (
	"errors"
	"net/http"
	"time"

	"leadline/internal/follow"
	"leadline/internal/prelaunch"
)

// RecoveryLog keeps what became of radiosondes after their flight.
type RecoveryLog interface {
	Recoveries() (list []prelaunch.Recovery, torn bool, err error)
	AddRecovery(entry prelaunch.Recovery) error
}

// CameDown is what is known of a radiosonde that has come down.
type CameDown struct {
	Serial  string               `json:"serial"`
	Last    follow.LastReceived  `json:"last_received"`
	Landing follow.Landing       `json:"landing"`
	Label   string               `json:"label"`   // for the finder, with the contact asked for
	Entries []prelaunch.Recovery `json:"entries"` // of this radiosonde, oldest first
	Kept    bool                 `json:"kept"`    // this server keeps a log
}

// RecoveryRequest adds an entry to the log.
type RecoveryRequest struct {
	State  string           `json:"state"` // down, found, returned, given up
	At     string           `json:"at_utc,omitempty"`
	Who    string           `json:"who"`
	Place  *prelaunch.Place `json:"place,omitempty"`
	Finder string           `json:"finder,omitempty"` // only with their consent
	Note   string           `json:"note,omitempty"`
}

// RecoveryList is what holds for each radiosonde of the log.
type RecoveryList struct {
	Kept    bool                 `json:"kept"`
	Torn    bool                 `json:"torn"` // the last line was being written when something went wrong
	Entries []prelaunch.Recovery `json:"entries"`
}

func (s *server) recoveryRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/recoveries", s.recoveries)
	mux.HandleFunc("GET /api/flights/{id}/recovery", s.recovery)
	mux.HandleFunc("POST /api/flights/{id}/recovery", s.addRecovery)
}

func (s *server) recoveries(w http.ResponseWriter, r *http.Request) {
	out := RecoveryList{Entries: []prelaunch.Recovery{}}
	if s.recoveryLog != nil {
		all, torn, err := s.recoveryLog.Recoveries()
		if err != nil {
			s.failed(w, err)
			return
		}
		out.Kept, out.Torn, out.Entries = true, torn, list(prelaunch.LatestRecoveries(all))
	}
	s.reply(w, http.StatusOK, out)
}

// recovery says where a flight's radiosonde is: where it was last received, where it is
// expected to have come down, what the log says. The contact of the label stands in the
// query; the server keeps it nowhere.
func (s *server) recovery(w http.ResponseWriter, r *http.Request) {
	out, err := s.recoveryOf(r)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, out)
}

func (s *server) recoveryOf(r *http.Request) (CameDown, error) {
	o, _, err := s.bench.Open(r.Context(), r.PathValue("id"))
	if err != nil {
		return CameDown{}, err
	}
	out := CameDown{Entries: []prelaunch.Recovery{}}
	out.Last, out.Landing = follow.Down(o.Final, nil)
	site := ""
	if o.Record != nil {
		out.Serial, site = o.Record.Radiosonde.Serial, o.Record.Site.Name
	}
	q := r.URL.Query()
	contact := prelaunch.Contact{Name: q.Get("name"), Phone: q.Get("phone"), Mail: q.Get("mail"), Text: q.Get("text")}
	if len(contact.Name)+len(contact.Phone)+len(contact.Mail)+len(contact.Text) > 4000 {
		return out, unfit(errors.New("the contact is longer than 4,000 bytes"))
	}
	out.Label = prelaunch.Label(contact, out.Serial, o.Final.Events.Release.UTC, site)
	if s.recoveryLog == nil {
		return out, nil
	}
	out.Kept = true
	all, _, err := s.recoveryLog.Recoveries()
	if err != nil {
		return out, err
	}
	for _, e := range all {
		if e.Serial != "" && e.Serial == out.Serial || e.Serial == "" && e.Flight == o.Final.FlightName {
			out.Entries = append(out.Entries, e)
		}
	}
	return out, nil
}

func (s *server) addRecovery(w http.ResponseWriter, r *http.Request) {
	if s.recoveryLog == nil {
		s.failed(w, &requestError{http.StatusNotFound, errors.New("this server keeps no recovery log")})
		return
	}
	var q RecoveryRequest
	if err := read(w, r, &q); err != nil {
		s.failed(w, err)
		return
	}
	o, _, err := s.bench.Open(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	entry := prelaunch.Recovery{Flight: o.Final.FlightName, State: prelaunch.RecoveryState(q.State), At: s.bench.Now().UTC().Truncate(time.Second), Who: q.Who, Place: q.Place, Finder: q.Finder, Note: q.Note}
	if o.Record != nil {
		entry.Serial = o.Record.Radiosonde.Serial
	}
	if q.At != "" {
		if entry.At, err = time.Parse(time.RFC3339, q.At); err != nil {
			s.failed(w, unfit(errors.New("at_utc: want an instant such as 2031-06-07T09:00:00Z")))
			return
		}
	}
	if len(q.Who)+len(q.Finder)+len(q.Note) > 8000 {
		s.failed(w, unfit(errors.New("the entry is longer than 8,000 bytes")))
		return
	}
	if err := entry.Validate(); err != nil {
		s.failed(w, unfit(err))
		return
	}
	if err := s.recoveryLog.AddRecovery(entry); err != nil {
		s.failed(w, err)
		return
	}
	out, err := s.recoveryOf(r)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusCreated, out)
}
