package api

import (
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"
)

func TestListenStaysOnLoopback(t *testing.T) {
	for _, addr := range []string{"127.0.0.1:0", "localhost:0", ":0", "[::1]:0"} {
		l, err := Listen(addr, "")
		if err != nil {
			if addr == "[::1]:0" {
				continue // a machine without IPv6
			}
			t.Errorf("%s: %v", addr, err)
			continue
		}
		if !l.Addr().(*net.TCPAddr).IP.IsLoopback() {
			t.Errorf("%s listens on %s", addr, l.Addr())
		}
		l.Close()
	}
	if !strings.HasPrefix(DefaultAddress, "127.0.0.1:") {
		t.Errorf("the default address is %s", DefaultAddress)
	}
}

func TestListenElsewhereNeedsToken(t *testing.T) {
	for _, addr := range []string{"0.0.0.0:0", "[::]:0", "192.0.2.7:8470", "lake.example:8470"} {
		for _, token := range []string{"", "short"} {
			if l, err := Listen(addr, token); err == nil {
				l.Close()
				t.Errorf("%s with token %q was opened", addr, token)
			} else if !strings.Contains(err.Error(), "token") {
				t.Errorf("%s: %v does not say what to do", addr, err)
			}
		}
	}
	l, err := Listen("0.0.0.0:0", strings.Repeat("k", 16))
	if err != nil {
		t.Fatal(err)
	}
	l.Close()
}

func TestListenSaysWhatIsWrong(t *testing.T) {
	l, err := Listen("127.0.0.1:0", "")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if _, err := Listen(l.Addr().String(), ""); err == nil || !strings.Contains(err.Error(), "another port") {
		t.Errorf("a port in use: %v", err)
	}
	if _, err := Listen("8470", ""); err == nil || !strings.Contains(err.Error(), "host:port") {
		t.Errorf("an address without a port: %v", err)
	}
}

func TestTimeoutsAreSet(t *testing.T) {
	s := newServer(t.Context(), http.NotFoundHandler())
	for name, d := range map[string]time.Duration{"header": s.ReadHeaderTimeout, "read": s.ReadTimeout, "write": s.WriteTimeout, "idle": s.IdleTimeout} {
		if d <= 0 || d > 5*time.Minute {
			t.Errorf("%s timeout is %v", name, d)
		}
	}
	if s.MaxHeaderBytes <= 0 || s.MaxHeaderBytes > 1<<20 {
		t.Errorf("headers may have %d bytes", s.MaxHeaderBytes)
	}
}

// A client that sends its header too slowly is cut off.
func TestSlowHeaderIsCutOff(t *testing.T) {
	s := newServer(t.Context(), http.NotFoundHandler())
	s.ReadHeaderTimeout = 50 * time.Millisecond
	l, err := Listen("127.0.0.1:0", "")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- s.Serve(l) }()
	c, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.Write([]byte("GET / HT")); err != nil {
		t.Fatal(err)
	}
	_ = c.SetReadDeadline(time.Now().Add(5 * time.Second))
	if _, err := io.ReadAll(c); err != nil {
		var late net.Error
		if errors.As(err, &late) && late.Timeout() {
			t.Error("the connection was kept open")
		}
	}
	s.Close()
	<-done
}

func TestServeEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	l, err := Listen("127.0.0.1:0", "")
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- Serve(ctx, l, http.NotFoundHandler()) }()
	if _, err := http.Get("http://" + l.Addr().String()); err != nil {
		t.Fatal(err)
	}
	cancel()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		t.Error("the server did not end")
	}
}

func TestLoopbackName(t *testing.T) {
	for host, want := range map[string]bool{
		"127.0.0.1:8470": true, "127.8.9.1": true, "localhost": true, "LOCALHOST:1": true, "[::1]:8470": true, "::1": true,
		"": false, "lake.example:8470": false, "127.0.0.1.lake.example": false, "localhost.lake.example": false, "192.0.2.7:8470": false, "0.0.0.0:8470": false,
	} {
		if got := loopbackName(host); got != want {
			t.Errorf("Host %q: %v", host, got)
		}
	}
}

// A header must stay one header whatever a file is called.
func TestAttachmentName(t *testing.T) {
	for _, name := range []string{"flight.txt", `a"b.txt`, "a\r\nX-Bad: 1.txt", "höhe 12 km.txt", "<img>.txt", ""} {
		if v := attachment(name); strings.ContainsAny(v, "\r\n") || !strings.HasPrefix(v, "attachment") {
			t.Errorf("%q gives %q", name, v)
		}
	}
}

func TestPanicIsAnswered(t *testing.T) {
	s := &server{log: discard()}
	h := s.recovered(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("inside") }))
	w := &recorder{header: http.Header{}}
	r, _ := http.NewRequest(http.MethodGet, "/", nil)
	h.ServeHTTP(w, r)
	if w.status != http.StatusInternalServerError || !strings.Contains(w.body.String(), "nothing was stored") || strings.Contains(w.body.String(), "inside") {
		t.Errorf("%d %s", w.status, w.body.String())
	}
}
