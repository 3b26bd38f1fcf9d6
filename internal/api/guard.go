package api

import (
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"runtime/debug"
	"strings"
)

// policy lets the page load its own script, style and pictures, talk to its own server,
// and nothing else: no inline script or style, no frame, no form, no other machine.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

const tokenCookie = "leadline_token"

// guard stands before every request: headers, Host, Origin, token.
func guard(token string, next http.Handler) http.Handler {
	origin := http.NewCrossOriginProtection()
	origin.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		fail(w, http.StatusForbidden, errors.New("the request comes from another site: only leadline's own page may change a logbook"))
	}))
	guarded := origin.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if token == "" && !loopbackName(r.Host) {
			fail(w, http.StatusForbidden, fmt.Errorf("this server answers to its loopback address only, not to %q", r.Host))
			return
		}
		if token != "" && !admitted(w, r, token) {
			return
		}
		if strings.HasPrefix(r.URL.Path, "/api/") {
			if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "same-origin" && site != "none" {
				fail(w, http.StatusForbidden, errors.New("the request comes from another site: only leadline's own page may read a logbook"))
				return
			}
		}
		guarded.ServeHTTP(w, r)
	})
}

// loopbackName tells whether a Host header names this machine's loopback. Another name
// that resolves to it would be another site's page speaking through the browser.
func loopbackName(host string) bool {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.Trim(host, "[]")
	if strings.EqualFold(host, "localhost") {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.IsLoopback()
}

// admitted checks the token. One in the address is kept in a cookie and taken out of
// the address, so that it stands in no history or bookmark.
func admitted(w http.ResponseWriter, r *http.Request, token string) bool {
	q := r.URL.Query()
	if given := q.Get("token"); given != "" && r.Method == http.MethodGet && same(given, token) {
		http.SetCookie(w, &http.Cookie{Name: tokenCookie, Value: token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil})
		q.Del("token")
		to := url.URL{Path: "/" + strings.TrimLeft(r.URL.Path, "/"), RawQuery: q.Encode()}
		http.Redirect(w, r, to.String(), http.StatusSeeOther)
		return false
	}
	if c, err := r.Cookie(tokenCookie); err == nil && same(c.Value, token) {
		return true
	}
	if bearer, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok && same(bearer, token) {
		return true
	}
	w.Header().Set("WWW-Authenticate", `Bearer realm="leadline"`)
	fail(w, http.StatusUnauthorized, errors.New("this server wants its token: open the address that leadline serve printed"))
	return false
}

// same compares in a time that does not depend on where the texts differ.
func same(a, b string) bool {
	x, y := sha256.Sum256([]byte(a)), sha256.Sum256([]byte(b))
	return subtle.ConstantTimeCompare(x[:], y[:]) == 1
}

// recovered turns a panic into an answer; the server goes on.
func (s *server) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if p := recover(); p != nil {
				if p == http.ErrAbortHandler {
					panic(p)
				}
				s.log.Error("panic", "path", r.URL.Path, "panic", p, "stack", string(debug.Stack()))
				fail(w, http.StatusInternalServerError, errors.New("leadline failed on this request; nothing was stored by it"))
			}
		}()
		next.ServeHTTP(w, r)
	})
}
