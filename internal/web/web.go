// Package web holds the built front end, so that Go alone runs the program. The sources
// are in web/ at the root of the repository; `./dev web` writes dist anew.
package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"mime"
	"path"
	"strings"
)

//go:embed dist/*
var dist embed.FS

// Asset is one file of the front end.
type Asset struct {
	Bytes []byte
	Type  string // content type
	ETag  string // changes with the bytes
	Gzip  bool   // Bytes are packed by gzip
}

// Assets returns the files by name ("index.html"); a packed one ("ground.bin.gz") by the
// name it has unpacked. There are no folders.
func Assets() (map[string]Asset, error) {
	entries, err := dist.ReadDir("dist")
	if err != nil {
		return nil, err
	}
	out := map[string]Asset{}
	for _, e := range entries {
		b, err := dist.ReadFile("dist/" + e.Name())
		if err != nil {
			return nil, err
		}
		name, packed := strings.CutSuffix(e.Name(), ".gz")
		kind, err := contentType(name)
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256(b)
		out[name] = Asset{Bytes: b, Type: kind, ETag: `"` + hex.EncodeToString(sum[:8]) + `"`, Gzip: packed}
	}
	return out, nil
}

// contentType is stated here and not left to the machine's table of types.
func contentType(name string) (string, error) {
	types := map[string]string{".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml", ".bin": "application/octet-stream"}
	t, ok := types[path.Ext(name)]
	if !ok {
		return "", fmt.Errorf("front end file %s: no content type is known for it", name)
	}
	if t == "application/octet-stream" {
		return t, nil
	}
	return mime.FormatMediaType(t, map[string]string{"charset": "utf-8"}), nil
}
