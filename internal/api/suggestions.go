package api

import (
	"net/http"

	"leadline/internal/suggest"
)

// suggestions names the simple errors that would explain what the checks found, each with
// its evidence and the decisions that would put it right. It stores nothing.
func (s *server) suggestions(w http.ResponseWriter, r *http.Request) {
	o, _, err := s.bench.Open(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, list(suggest.For(o)))
}
