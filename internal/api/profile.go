package api

import (
	"errors"
	"net/http"

	"leadline/internal/profile"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// along returns the outcome along the profile that the request names (profile=descent);
// the ascent where it names none.
func along(o *workbench.Outcome, r *http.Request) (*workbench.Outcome, error) {
	kind, err := sounding.ParseProfileKind(r.URL.Query().Get("profile"))
	if err != nil {
		return nil, unfit(err)
	}
	out, err := o.Profile(kind)
	if errors.Is(err, profile.ErrNoDescent) {
		return nil, &requestError{http.StatusNotFound, err}
	}
	return out, err
}

// profilesOf lists the profiles a flight can give, the ascent first.
func profilesOf(f *sounding.Final) []sounding.ProfileKind {
	if f.Events.Ascent().Len() == 0 {
		if f.Events.Descent().Len() < 2 {
			return []sounding.ProfileKind{sounding.AscentProfile}
		}
		return []sounding.ProfileKind{sounding.AscentProfile, sounding.DescentProfile}
	}
	if f.Events.Descent().Len() < 2 {
		return []sounding.ProfileKind{sounding.AscentProfile, sounding.NominalProfile}
	}
	return sounding.ProfileKinds()
}

// levels are those of one profile of a flight.
func (s *server) levels(w http.ResponseWriter, r *http.Request) {
	o, _, err := s.bench.Open(r.Context(), r.PathValue("id"))
	if err == nil {
		o, err = along(o, r)
	}
	if err != nil {
		s.failed(w, err)
		return
	}
	set := o.Levels
	set.Levels = list(set.Levels)
	s.reply(w, http.StatusOK, set)
}
