package api_test

import (
	"bytes"
	"net/http"
	"strings"
	"testing"
)

// One test for each line of DESIGN section 8 that a handler can keep; those of the socket
// stand in listen_test.go.

func TestHostMustBeLoopback(t *testing.T) {
	f := serve(t, "")
	for _, path := range []string{"/", "/app.js", "/api/flights"} {
		a := f.do(http.MethodGet, path, nil, func(r *http.Request) { r.Host = "lake.example:8470" })
		f.problem(a, http.StatusForbidden, "lake.example")
	}
	if a := f.do(http.MethodGet, "/api/flights", nil, func(r *http.Request) { r.Host = "localhost:9999" }); a.status != http.StatusOK {
		t.Errorf("localhost on a forwarded port: %d", a.status)
	}
}

func TestForeignOriginMayChangeNothing(t *testing.T) {
	f := serve(t, "")
	o, revision := f.outcome()
	path := "/api/flights/" + f.id + "/decisions"
	for name, edit := range map[string]func(*http.Request){
		"Origin":          func(r *http.Request) { r.Header.Set("Origin", "https://elsewhere.example") },
		"Origin null":     func(r *http.Request) { r.Header.Set("Origin", "null") },
		"other port":      func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:1") },
		"Sec-Fetch-Site":  func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") },
		"same-site":       func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") },
		"form, no script": func(r *http.Request) { r.Header.Set("Content-Type", "text/plain"); r.Header.Set("Origin", "null") },
	} {
		t.Run(name, func(t *testing.T) {
			f := f
			f.t = t
			q := `{"revision":0,"decision":{"id":"","action":"note","reason":"r","who":"w"}}`
			a := f.do(http.MethodPost, path, strings.NewReader(q), func(r *http.Request) { asJSON(r); edit(r) })
			f.problem(a, http.StatusForbidden, "another site")
		})
	}
	if again, now := f.outcome(); now != revision || len(again.Final.Decisions) != len(o.Final.Decisions) {
		t.Error("a foreign page changed the flight")
	}
	own := func(r *http.Request) {
		asJSON(r)
		r.Header.Set("Origin", f.url)
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	q := `{"revision":0,"decision":{"id":"","action":"note","reason":"r","who":"w"}}`
	if a := f.do(http.MethodPost, path, strings.NewReader(q), own); a.status != http.StatusOK {
		t.Errorf("our own page: %d %s", a.status, a.body)
	}
}

func TestForeignPageMayReadNothing(t *testing.T) {
	f := serve(t, "")
	for _, site := range []string{"cross-site", "same-site"} {
		a := f.do(http.MethodGet, "/api/flights", nil, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", site) })
		f.problem(a, http.StatusForbidden, "another site")
	}
	if a := f.get("/api/flights", nil); a.header.Get("Access-Control-Allow-Origin") != "" {
		t.Error("other sites are let in")
	}
}

func TestHeadersOnEveryAnswer(t *testing.T) {
	f := serve(t, "")
	for _, path := range []string{"/", "/app.js", "/app.css", "/api/flights", "/api/flights/99", "/nothing"} {
		h := f.get(path, nil).header
		policy := h.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "connect-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'none'"} {
			if !strings.Contains(policy, want) {
				t.Errorf("%s: the policy %q lacks %s", path, policy, want)
			}
		}
		if strings.Contains(policy, "unsafe") || strings.Contains(policy, "http") || strings.Contains(policy, "*") {
			t.Errorf("%s: the policy lets in too much: %q", path, policy)
		}
		for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "X-Frame-Options": "DENY", "Cross-Origin-Resource-Policy": "same-origin"} {
			if h.Get(name) != want {
				t.Errorf("%s: %s is %q", path, name, h.Get(name))
			}
		}
		if strings.HasPrefix(path, "/api/") && h.Get("Cache-Control") != "no-store" {
			t.Errorf("%s may be cached: %q", path, h.Get("Cache-Control"))
		}
	}
}

func TestOnlyTheFilesOfThePage(t *testing.T) {
	f := serve(t, "")
	if a := f.get("/", nil); a.status != http.StatusOK || !bytes.Contains(a.body, []byte(`src="app.js"`)) {
		t.Errorf("%d %s", a.status, a.body)
	}
	for _, path := range []string{"/dist", "/dist/", "/dist/app.js", "/..%2fweb.go", "/web.go", "/.git/config", "/%2e%2e/", "/app.js/"} {
		if a := f.get(path, nil); a.status == http.StatusOK {
			t.Errorf("%s was served: %.60s", path, a.body)
		}
	}
	a := f.get("/app.js", nil)
	if again := f.do(http.MethodGet, "/app.js", nil, func(r *http.Request) { r.Header.Set("If-None-Match", a.header.Get("ETag")) }); again.status != http.StatusNotModified {
		t.Errorf("an unchanged file is sent again: %d", again.status)
	}
}

func TestBodyLimits(t *testing.T) {
	f := serve(t, "")
	path := "/api/flights/" + f.id + "/decisions"
	large := `{"revision":0,"decision":{"id":"","action":"note","who":"w","reason":"` + strings.Repeat("x", 1<<20) + `"}}`
	f.problem(f.do(http.MethodPost, path, strings.NewReader(large), asJSON), http.StatusRequestEntityTooLarge, "larger than")
	f.problem(f.do(http.MethodPost, path, strings.NewReader(`{"revision":`), asJSON), http.StatusBadRequest, "not the JSON")
	f.problem(f.do(http.MethodPost, path, strings.NewReader(`{} {}`), asJSON), http.StatusBadRequest, "more than one")
	f.problem(f.do(http.MethodPost, path, strings.NewReader(`{"colour":1}`), asJSON), http.StatusBadRequest, "colour")
	f.problem(f.do(http.MethodPost, path, strings.NewReader(`{}`), nil), http.StatusUnsupportedMediaType, "application/json")
}

func TestToken(t *testing.T) {
	const token = "north-pier-4711-reed"
	f := serve(t, token)
	for _, path := range []string{"/", "/app.js", "/api/flights", "/api/changes", "/?token=wrong"} {
		f.problem(f.get(path, nil), http.StatusUnauthorized, "token")
	}
	a := f.get("/?token="+token, nil)
	if a.status != http.StatusSeeOther || a.header.Get("Location") != "/" {
		t.Fatalf("%d to %q", a.status, a.header.Get("Location"))
	}
	cookie := a.header.Get("Set-Cookie")
	for _, want := range []string{"HttpOnly", "SameSite=Strict"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("the cookie %q lacks %s", cookie, want)
		}
	}
	name, _, _ := strings.Cut(cookie, ";")
	if a := f.do(http.MethodGet, "/api/flights", nil, func(r *http.Request) { r.Header.Set("Cookie", name); r.Host = "lake.example:8470" }); a.status != http.StatusOK {
		t.Errorf("with the cookie: %d", a.status)
	}
	if a := f.do(http.MethodGet, "/api/flights", nil, func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+token) }); a.status != http.StatusOK {
		t.Errorf("with a bearer token: %d", a.status)
	}
	if a := f.do(http.MethodGet, "//elsewhere.example/?token="+token, nil, nil); strings.HasPrefix(a.header.Get("Location"), "//") {
		t.Errorf("the token leads to another site: %q", a.header.Get("Location"))
	}
}
