package api

import (
	"net/http"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// SheetText is an instrument sheet as its file says it, with the source of each number
// in a comment beside it.
type SheetText struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	Text  string `json:"text"`
}

func (s *server) settings(w http.ResponseWriter, r *http.Request) {
	all, err := workbench.Explain("", nil)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, list(all))
}

// flightSettings lists the settings one flight is processed with.
func (s *server) flightSettings(w http.ResponseWriter, r *http.Request) {
	f, err := s.bench.Stored(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	file, _ := f.SettingsInForce()
	all, err := workbench.Explain(file.Name, file.Bytes)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, list(all))
}

func (s *server) sheets(w http.ResponseWriter, r *http.Request) {
	out := []SheetName{}
	for _, name := range sounding.ShippedSheets() {
		sheet, _, err := sounding.ShippedSheet(name)
		if err != nil {
			s.failed(w, err)
			return
		}
		out = append(out, SheetName{sheet.Name, sheet.Title})
	}
	s.reply(w, http.StatusOK, out)
}

func (s *server) sheet(w http.ResponseWriter, r *http.Request) {
	sheet, text, err := sounding.ShippedSheet(r.PathValue("name"))
	if err != nil {
		s.failed(w, &requestError{http.StatusNotFound, err})
		return
	}
	s.reply(w, http.StatusOK, SheetText{sheet.Name, sheet.Title, string(text)})
}
