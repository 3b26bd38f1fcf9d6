package api

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"
)

// DefaultAddress is where leadline serves unless told otherwise.
const DefaultAddress = "127.0.0.1:8470"

// shortestToken is the number of characters a token needs before anything but loopback
// is listened on.
const shortestToken = 16

// Listen opens the socket of a server. An empty addr means DefaultAddress; an address
// without a host means loopback. It refuses to listen where other machines can reach it
// unless a token of at least 16 characters is given.
func Listen(addr, token string) (net.Listener, error) {
	if addr == "" {
		addr = DefaultAddress
	}
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("address %q: want host:port such as %s", addr, DefaultAddress)
	}
	switch {
	case host == "":
		host = "127.0.0.1"
	case strings.EqualFold(host, "localhost"):
		host = "127.0.0.1"
	}
	ip, err := netip.ParseAddr(host)
	loopback := err == nil && ip.IsLoopback()
	if !loopback && len(token) < shortestToken {
		return nil, fmt.Errorf("address %s can be reached from other machines: give a token of at least %d characters, or listen on %s", addr, shortestToken, DefaultAddress)
	}
	l, err := net.Listen("tcp", net.JoinHostPort(host, port))
	if err != nil {
		return nil, fmt.Errorf("cannot listen on %s: %w: is another leadline running? choose another port", addr, err)
	}
	return l, nil
}

// Timeouts of a connection. An answer that streams (changes) lifts the write deadline
// for itself.
const (
	headerTimeout = 5 * time.Second
	readTimeout   = 2 * time.Minute
	writeTimeout  = 2 * time.Minute
	idleTimeout   = 2 * time.Minute
	closeTimeout  = 3 * time.Second
	maxHeader     = 64 << 10
)

// newServer returns the HTTP server with its limits set.
func newServer(ctx context.Context, h http.Handler) *http.Server {
	return &http.Server{
		Handler: h, ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout, WriteTimeout: writeTimeout,
		IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeader,
		BaseContext: func(net.Listener) context.Context { return ctx },
	}
}

// Serve answers on l until ctx ends, then lets running requests finish for a moment.
func Serve(ctx context.Context, l net.Listener, h http.Handler) error {
	srv := newServer(ctx, h)
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.Background(), closeTimeout)
	defer cancel()
	if err := srv.Shutdown(stop); err != nil {
		_ = srv.Close()
	}
	if err := <-done; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}
