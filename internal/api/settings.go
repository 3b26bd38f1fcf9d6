package api

import (
	"bytes"
	"errors"
	"net/http"
	"strings"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// SheetText is an instrument sheet as its file says it, with the source of each number
// in a comment beside it.
type SheetText struct {
	Name   string              `json:"name"` // "" where none is known
	Title  string              `json:"title"`
	From   string              `json:"from"` // shipped, or how the flight came by it
	Text   string              `json:"text"`
	Values []workbench.Setting `json:"values"`
}

// SettingsFile is a settings file as a user gives it.
type SettingsFile struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// SettingsInForce are the settings of one flight.
type SettingsInForce struct {
	File   SettingsFile        `json:"file"` // no text: the shipped ones
	From   string              `json:"from"` // how the flight came by them, in words
	Values []workbench.Setting `json:"values"`
}

// maxSettingsBody is far more than all settings together.
const maxSettingsBody = 1 << 20

func (s *server) settings(w http.ResponseWriter, r *http.Request) {
	all, err := workbench.Explain("", nil)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, list(all))
}

// settingsText hands out the shipped settings as one file, to be edited and given back.
func (s *server) settingsText(w http.ResponseWriter, r *http.Request) {
	var b strings.Builder
	for i, t := range workbench.DefaultTexts() {
		if i > 0 {
			b.WriteString("\n")
		}
		b.WriteString(workbench.SectionText(t))
	}
	s.reply(w, http.StatusOK, SettingsFile{Name: "settings.toml", Text: b.String()})
}

// explainSettings reads a settings file and lists what is in force with it.
func (s *server) explainSettings(w http.ResponseWriter, r *http.Request) {
	var q SettingsFile
	if err := readUpTo(w, r, &q, maxSettingsBody); err != nil {
		s.failed(w, err)
		return
	}
	if q.Name == "" {
		s.failed(w, unfit(errors.New("a settings file needs a name")))
		return
	}
	all, err := workbench.Explain(q.Name, []byte(q.Text))
	if err != nil {
		s.failed(w, unfit(err))
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
	file, chosen := f.SettingsInForce()
	all, err := workbench.Explain(file.Name, file.Bytes)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.reply(w, http.StatusOK, SettingsInForce{File: SettingsFile{file.Name, string(file.Bytes)}, From: cameBy(file, chosen, "the shipped settings"), Values: list(all)})
}

// cameBy says how a flight came by a file.
func cameBy(file workbench.File, chosen *sounding.Decision, none string) string {
	from := "given with the flight as " + file.Name
	if len(file.Bytes) == 0 {
		from = none
	}
	if chosen != nil {
		from = "chosen by decision " + chosen.ID + " of " + chosen.Who + ": " + chosen.Reason
		if len(file.Bytes) == 0 {
			from = none + ", " + from
		}
	}
	return from
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
	s.reply(w, http.StatusOK, SheetText{sheet.Name, sheet.Title, "shipped", string(text), workbench.ExplainSheet("shipped", text)})
}

// flightSheet shows the instrument sheet one flight is processed with.
func (s *server) flightSheet(w http.ResponseWriter, r *http.Request) {
	f, err := s.bench.Stored(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	file, chosen := f.SheetInForce()
	if len(file.Bytes) == 0 {
		s.reply(w, http.StatusOK, SheetText{From: "no sheet is known for this flight", Values: []workbench.Setting{}})
		return
	}
	sheet, err := sounding.ReadSheet(file.Name, file.Bytes)
	if err != nil {
		s.failed(w, err)
		return
	}
	from := cameBy(file, chosen, "")
	if _, text, err := sounding.ShippedSheet(sheet.Name); err == nil && bytes.Equal(text, file.Bytes) {
		from += ", as it ships"
	}
	s.reply(w, http.StatusOK, SheetText{sheet.Name, sheet.Title, from, string(file.Bytes), workbench.ExplainSheet(file.Name, file.Bytes)})
}
