package api

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"path"
	"strings"

	"leadline/internal/workbench"
)

// AddedFile says what became of one file given to the logbook.
type AddedFile struct {
	File    string            `json:"file"`
	Flights []workbench.Added `json:"flights"`
	Error   string            `json:"error,omitempty"`
}

// add takes source files as multipart/form-data: any number of parts "source", and at
// most one each of "recipe", "record" and "sheet" that hold for all of them. Each file
// is read and stored for itself; one that fails does not stop the others. With a part
// "join" all of them are sources of one flight. A record without a source is a flight of
// which nothing else is known.
func (s *server) add(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxUploadBody)
	form, err := r.MultipartReader()
	if err != nil {
		s.failed(w, &requestError{http.StatusUnsupportedMediaType, errors.New("files must come as multipart/form-data")})
		return
	}
	var q workbench.Request
	var files []workbench.File
	for {
		part, err := form.NextPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			s.failed(w, unreadable(err))
			return
		}
		f, err := fileOf(part)
		if err != nil {
			s.failed(w, unreadable(err))
			return
		}
		switch part.FormName() {
		case "source":
			files = append(files, f)
		case "recipe":
			q.Recipe = f
		case "record":
			q.Record = f
		case "sheet":
			q.Sheet = f
		case "join":
			q.Join = true
		default:
			s.failed(w, unfit(fmt.Errorf("form part %q: want source, recipe, record, sheet or join", part.FormName())))
			return
		}
	}
	if len(files) == 0 && len(q.Record.Bytes) == 0 {
		s.failed(w, unfit(errors.New("no source file was given")))
		return
	}
	out := []AddedFile{}
	stored := false
	together := make([][]workbench.File, len(files))
	for i, f := range files {
		together[i] = []workbench.File{f}
	}
	switch {
	case len(files) == 0:
		together = [][]workbench.File{nil}
	case q.Join:
		together = [][]workbench.File{files}
	}
	for _, some := range together {
		added, err := s.bench.Add(r.Context(), some, q)
		result := AddedFile{File: namesOf(some, q.Record), Flights: list(added)}
		if err != nil {
			result.Error = err.Error()
		}
		for _, a := range added {
			stored = stored || a.Known == ""
		}
		out = append(out, result)
	}
	if stored {
		s.hub.tell(Change{})
	}
	s.reply(w, http.StatusOK, out)
}

// namesOf is what the answer calls files that were read together.
func namesOf(files []workbench.File, record workbench.File) string {
	if len(files) == 0 {
		return record.Name
	}
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = f.Name
	}
	return strings.Join(names, " + ")
}

func unreadable(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return err
	}
	return &requestError{http.StatusBadRequest, fmt.Errorf("the files could not be received: %w", err)}
}

// fileOf reads one part; a name loses whatever folder stands before it.
func fileOf(part *multipart.Part) (workbench.File, error) {
	b, err := io.ReadAll(part)
	if err != nil {
		return workbench.File{}, err
	}
	name := path.Base(strings.ReplaceAll(part.FileName(), `\`, "/"))
	if name == "." || name == "/" {
		name = "source"
	}
	return workbench.File{Name: name, Bytes: b}, nil
}
