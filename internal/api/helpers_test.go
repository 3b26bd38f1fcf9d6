package api

import (
	"log/slog"
	"net/http"
	"strings"
)

func discard() *slog.Logger { return slog.New(slog.DiscardHandler) }

type recorder struct {
	header http.Header
	status int
	body   strings.Builder
}

func (r *recorder) Header() http.Header         { return r.header }
func (r *recorder) WriteHeader(status int)      { r.status = status }
func (r *recorder) Write(b []byte) (int, error) { return r.body.Write(b) }
