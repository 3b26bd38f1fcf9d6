package web

import (
	"bytes"
	"regexp"
	"testing"
)

func TestAssets(t *testing.T) {
	all, err := Assets()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"index.html", "app.js", "app.css", "icon.svg", "ground.bin"} {
		if a := all[name]; len(a.Bytes) == 0 || a.ETag == "" || a.Type == "" {
			t.Errorf("%s is missing or empty: run ./dev web", name)
		}
	}
}

// The content-security policy forbids inline script and style, and nothing may be
// fetched from another machine: the page must not try.
func TestPageIsSelfContained(t *testing.T) {
	all, err := Assets()
	if err != nil {
		t.Fatal(err)
	}
	page := all["index.html"].Bytes
	for _, bad := range []string{"<script>", " style=", " onclick=", " onload=", "javascript:"} {
		if bytes.Contains(page, []byte(bad)) {
			t.Errorf("index.html holds %q", bad)
		}
	}
	away := regexp.MustCompile(`(src|href)=["']?(https?:)?//|url\(["']?(https?:)?//|@import|(fetch|EventSource)\(["'](https?:)?//`)
	for name, a := range all {
		if hit := away.Find(a.Bytes); hit != nil {
			t.Errorf("%s points to another machine: %q", name, hit)
		}
	}
}
