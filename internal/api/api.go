package api

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"mime"
	"net/http"
	"strings"

	"leadline/internal/follow"
	"leadline/internal/sounding"
	"leadline/internal/web"
	"leadline/internal/workbench"
)

// Options are what the handler needs to know besides the bench.
type Options struct {
	// Token must be presented by every client when it is not empty: once as ?token=…,
	// afterwards by cookie, or as a bearer token by scripts.
	Token string
	// Log receives what a client must not see: panics and failed writes. nil: discarded.
	Log *slog.Logger
	// Live is the flight that is followed; nil: none.
	Live *follow.Session
	// Recovery keeps what became of radiosondes; nil: nothing does.
	Recovery RecoveryLog
}

// Limits of a request's body in bytes.
const (
	maxDecisionBody = 64 << 10
	maxUploadBody   = 256 << 20
)

type server struct {
	bench  *workbench.Bench
	log    *slog.Logger
	assets map[string]web.Asset
	hub    hub

	recoveryLog RecoveryLog
	following   *follow.Session
	liveStreams liveOpen
}

// New returns the handler of screens and API over a bench. It panics where the embedded
// front end cannot be read, which a test would have shown.
func New(b *workbench.Bench, o Options) http.Handler {
	assets, err := web.Assets()
	if err != nil {
		panic(err)
	}
	s := &server{bench: b, log: o.Log, assets: assets, following: o.Live, recoveryLog: o.Recovery}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /api/flights", s.logbook)
	mux.HandleFunc("POST /api/flights", s.add)
	mux.HandleFunc("GET /api/flights/{id}", s.flight)
	mux.HandleFunc("GET /api/flights/{id}/columns", s.columns)
	mux.HandleFunc("GET /api/flights/{id}/trail", s.trail)
	mux.HandleFunc("GET /api/flights/{id}/settings", s.flightSettings)
	mux.HandleFunc("GET /api/flights/{id}/sources/{sha256}", s.source)
	mux.HandleFunc("POST /api/flights/{id}/preview", s.preview)
	mux.HandleFunc("POST /api/flights/{id}/preview/columns", s.previewColumns)
	mux.HandleFunc("POST /api/flights/{id}/decisions", s.decide)
	mux.HandleFunc("POST /api/flights/{id}/decisions/{decision}/revoke", s.revoke)
	mux.HandleFunc("POST /api/flights/{id}/undo", s.undo)
	mux.HandleFunc("POST /api/flights/{id}/redo", s.redo)
	mux.HandleFunc("POST /api/flights/{id}/signature", s.sign)
	mux.HandleFunc("POST /api/flights/{id}/reopening", s.reopen)
	mux.HandleFunc("GET /api/flights/{id}/indices", s.indices)
	mux.HandleFunc("GET /api/flights/{id}/levels", s.levels)
	mux.HandleFunc("GET /api/flights/{id}/products/{format}", s.product)
	mux.HandleFunc("GET /api/flights/{id}/suggestions", s.suggestions)
	mux.HandleFunc("GET /api/products", s.products)
	mux.HandleFunc("GET /api/diagram", s.diagram)
	mux.HandleFunc("GET /api/settings", s.settings)
	mux.HandleFunc("GET /api/sheets", s.sheets)
	mux.HandleFunc("GET /api/sheets/{name}", s.sheet)
	mux.HandleFunc("GET /api/changes", s.changes)
	s.groupRoutes(mux)
	s.versionRoutes(mux)
	s.liveRoutes(mux)
	s.deskRoutes(mux)
	s.recoveryRoutes(mux)
	mux.HandleFunc("/api/", func(w http.ResponseWriter, r *http.Request) {
		fail(w, http.StatusNotFound, fmt.Errorf("there is no %s %s here", r.Method, r.URL.Path))
	})
	mux.HandleFunc("GET /{$}", s.page)
	mux.HandleFunc("GET /{name}", s.page)
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		fail(w, http.StatusNotFound, fmt.Errorf("there is no %s %s here", r.Method, r.URL.Path))
	})
	return s.recovered(guard(o.Token, mux))
}

// page serves one file of the front end by its exact name; there are no folders and no
// listing.
func (s *server) page(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	if name == "" {
		name = "index.html"
	}
	var err error
	a, ok := s.assets[name]
	if !ok {
		fail(w, http.StatusNotFound, fmt.Errorf("there is no %s here", r.URL.Path))
		return
	}
	h := w.Header()
	h.Set("Cache-Control", "no-cache")
	h.Set("ETag", a.ETag)
	if r.Header.Get("If-None-Match") == a.ETag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	h.Set("Content-Type", a.Type)
	b := a.Bytes
	if a.Gzip {
		h.Set("Vary", "Accept-Encoding")
		if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
			h.Set("Content-Encoding", "gzip")
		} else if b, err = unpacked(b); err != nil {
			s.failed(w, err)
			return
		}
	}
	s.write(w, b)
}

// unpacked is for the rare client that takes no gzip.
func unpacked(b []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

func (s *server) write(w http.ResponseWriter, b []byte) {
	if _, err := w.Write(b); err != nil {
		s.log.Debug("the client went away", "err", err)
	}
}

// reply writes v as JSON.
func (s *server) reply(w http.ResponseWriter, status int, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		s.log.Error("an answer could not be written as JSON", "err", err)
		fail(w, http.StatusInternalServerError, errors.New("the answer could not be written as JSON"))
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	s.write(w, b)
}

// Problem is the body of every answer that is not a success.
type Problem struct {
	Error  string              `json:"error"`            // one sentence
	Stale  *Stale              `json:"stale,omitempty"`  // with status 409: what changed meanwhile
	Signed *sounding.Signature `json:"signed,omitempty"` // with status 423: the signature that locks the flight
}

func fail(w http.ResponseWriter, status int, err error) {
	b, _ := json.Marshal(Problem{Error: err.Error()})
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b)
}

// failed answers with the status that an error of the bench stands for.
func (s *server) failed(w http.ResponseWriter, err error) {
	var stale *workbench.StaleError
	var large *http.MaxBytesError
	var asked *requestError
	var signed *workbench.SignedError
	var refused *workbench.RefusedError
	var open *workbench.OpenError
	var unknown *workbench.UnknownFindingError
	switch {
	case errors.As(err, &signed):
		s.reply(w, http.StatusLocked, Problem{Error: signed.Error(), Signed: &signed.Signature})
	case errors.As(err, &refused), errors.As(err, &open), errors.As(err, &unknown):
		fail(w, http.StatusUnprocessableEntity, err)
	case errors.As(err, &stale):
		s.reply(w, http.StatusConflict, Problem{Error: stale.Error(), Stale: &Stale{Seen: stale.Expected, Current: stale.Current, Since: stale.Since}})
	case errors.Is(err, context.Canceled):
		s.log.Debug("the client went away", "err", err)
		fail(w, http.StatusServiceUnavailable, errors.New("the request was given up"))
	case errors.Is(err, workbench.ErrNoFlight):
		fail(w, http.StatusNotFound, err)
	case errors.As(err, &large):
		fail(w, http.StatusRequestEntityTooLarge, fmt.Errorf("the request is larger than the %d bytes allowed here", large.Limit))
	case errors.As(err, &asked):
		fail(w, asked.status, asked)
	default:
		s.log.Error("request failed", "err", err)
		fail(w, http.StatusInternalServerError, err)
	}
}

// requestError is an error the client can mend.
type requestError struct {
	status int
	err    error
}

func (e *requestError) Error() string { return e.err.Error() }
func (e *requestError) Unwrap() error { return e.err }

func unfit(err error) error { return &requestError{http.StatusUnprocessableEntity, err} }

// read decodes the one JSON value of a request's body into v.
func read(w http.ResponseWriter, r *http.Request, v any) error {
	return readUpTo(w, r, v, maxDecisionBody)
}

func readUpTo(w http.ResponseWriter, r *http.Request, v any, limit int64) error {
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind != "application/json" {
		return &requestError{http.StatusUnsupportedMediaType, errors.New("the body must be application/json")}
	}
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, limit))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return err
		}
		return &requestError{http.StatusBadRequest, fmt.Errorf("the body is not the JSON wanted here: %s", strings.TrimPrefix(err.Error(), "json: "))}
	}
	if _, err := d.Token(); err != io.EOF {
		return &requestError{http.StatusBadRequest, errors.New("the body holds more than one JSON value")}
	}
	return nil
}
