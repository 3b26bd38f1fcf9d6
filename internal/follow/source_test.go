package follow

import (
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// taken is a receiver that only remembers.
type taken struct {
	mu    sync.Mutex
	parts []Part
	links []string
}

func (r *taken) Last() (Part, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.parts) == 0 {
		return Part{}, false
	}
	return r.parts[len(r.parts)-1], true
}

func (r *taken) Begin(from string, offset int64) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.parts = append(r.parts, Part{Number: len(r.parts) + 1, From: from, Offset: offset})
	return nil
}

func (r *taken) Receive(p []byte, _ time.Time) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	last := &r.parts[len(r.parts)-1]
	last.Bytes = append(append([]byte(nil), last.Bytes...), p...)
	return nil
}

func (r *taken) Link(state Link, sentence string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.links = append(r.links, string(state)+": "+sentence)
}

func (r *taken) bytes() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	var out []string
	for _, p := range r.parts {
		out = append(out, string(p.Bytes))
	}
	return out
}

// await waits for the parts to be what is wanted.
func (r *taken) await(t *testing.T, want ...string) {
	t.Helper()
	deadline := time.Now().Add(20 * time.Second)
	for strings.Join(r.bytes(), "|") != strings.Join(want, "|") {
		if time.Now().After(deadline) {
			t.Fatalf("received %q, want %q; %v", r.bytes(), want, r.links)
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// running runs a source until the test ends.
func running(t *testing.T, s Source, to Receiver) (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx, to) }()
	stopped := false
	stop = func() {
		if stopped {
			return
		}
		stopped = true
		cancel()
		select {
		case <-done:
		case <-time.After(10 * time.Second):
			t.Error("the source does not end")
		}
	}
	t.Cleanup(stop)
	return stop
}

func write(t *testing.T, path, text string, flags int) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|flags, 0o666)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteString(text); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestFileThatGrowsIsReplacedAndCut(t *testing.T) {
	path := filepath.Join(t.TempDir(), "flight.txt")
	to := &taken{}
	f := &File{Path: path, Poll: 5 * time.Millisecond}
	stop := running(t, f, to)
	time.Sleep(30 * time.Millisecond) // it is not there yet
	write(t, path, "head\none\n", os.O_APPEND)
	to.await(t, "head\none\n")
	write(t, path, "tw", os.O_APPEND)
	write(t, path, "o\n", os.O_APPEND)
	to.await(t, "head\none\ntwo\n")

	// Another file takes the name; the old one got a line in the last moment.
	next := path + ".next"
	write(t, next, "head\nfour\n", 0)
	write(t, path, "three\n", os.O_APPEND)
	if err := os.Rename(next, path); err != nil {
		t.Fatal(err)
	}
	to.await(t, "head\none\ntwo\nthree\n", "head\nfour\n")

	// Cut and written anew, shorter; then anew with as many bytes or more.
	write(t, path, "x\n", os.O_TRUNC)
	to.await(t, "head\none\ntwo\nthree\n", "head\nfour\n", "x\n")
	write(t, path, "yy\nzz\n", os.O_TRUNC)
	to.await(t, "head\none\ntwo\nthree\n", "head\nfour\n", "x\n", "yy\nzz\n")

	// A restart goes on in the last part, also where it stopped within a line.
	stop()
	write(t, path, "more\n", os.O_APPEND)
	stop = running(t, f, to)
	to.await(t, "head\none\ntwo\nthree\n", "head\nfour\n", "x\n", "yy\nzz\nmore\n")
	stop()
	// A restart that finds another file of that name begins anew.
	write(t, path, "a different file, longer than before\n", os.O_TRUNC)
	running(t, f, to)
	to.await(t, "head\none\ntwo\nthree\n", "head\nfour\n", "x\n", "yy\nzz\nmore\n", "a different file, longer than before\n")
}

func TestTCPConnectsAgain(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	go func() {
		for _, text := range []string{"one\ntw", "three\n"} {
			c, err := l.Accept()
			if err != nil {
				return
			}
			fmt.Fprint(c, text)
			time.Sleep(20 * time.Millisecond)
			c.Close()
		}
	}()
	to := &taken{}
	running(t, &TCP{Address: l.Addr().String(), Retry: 10 * time.Millisecond}, to)
	to.await(t, "one\ntw", "three\n")
	to.mu.Lock()
	defer to.mu.Unlock()
	all := strings.Join(to.links, "\n")
	if !strings.Contains(all, "connected") || !strings.Contains(all, "lost: no connection") {
		t.Errorf("the link was said to be:\n%s", all)
	}
}

func TestUDPLines(t *testing.T) {
	free, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := free.LocalAddr().String()
	free.Close()
	s, err := ParseSource("udp://"+address, "")
	if err != nil {
		t.Fatal(err)
	}
	to := &taken{}
	running(t, s, to)
	c, err := net.Dial("udp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	deadline := time.Now().Add(20 * time.Second)
	for len(to.bytes()) == 0 && time.Now().Before(deadline) { // until it listens
		fmt.Fprint(c, "one")
		time.Sleep(20 * time.Millisecond)
	}
	fmt.Fprint(c, "two\nthree\n")
	for time.Now().Before(deadline) {
		if b := to.bytes(); len(b) == 1 && strings.HasSuffix(b[0], "one\ntwo\nthree\n") {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Errorf("received %q", to.bytes())
}

func TestParseSource(t *testing.T) {
	for word, want := range map[string]string{
		"tcp://127.0.0.1:4001":        "tcp://127.0.0.1:4001",
		"udp://:5555":                 "udp://127.0.0.1:5555",
		"udp://localhost:5555":        "udp://127.0.0.1:5555",
		"tcp://somewhere":             "error: has no port",
		"tcp://a:1/path":              "error: want an address",
		"udp://0.0.0.0:5555":          "error: can be reached from other machines",
		"udp://receiver.example:5555": "error: in figures",
	} {
		s, err := ParseSource(word, "")
		switch {
		case err != nil && !strings.HasPrefix(want, "error: "), err == nil && s.Identity() != want:
			t.Errorf("%s: %v %v, want %s", word, s, err, want)
		case err != nil && !strings.Contains(err.Error(), strings.TrimPrefix(want, "error: ")):
			t.Errorf("%s: %v, want %s", word, err, want)
		}
	}
	if _, err := ParseSource("udp://0.0.0.0:5555", "192.0.2.1"); err != nil {
		t.Error(err)
	}
}

// A stream ends by itself; what was sent is the flight, torn last line and all.
func TestStreamEnds(t *testing.T) {
	_, file, q := simulated(t, truth.Marine, 2)
	cut := file.Bytes[:len(file.Bytes)/2]
	want, err := workbench.Check([]workbench.File{{Name: "standard-input.txt", Bytes: cut}}, q)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(Options{Source: &Stream{From: "standard input", Called: "standard-input.txt", Reader: strings.NewReader(string(cut))}, Journal: t.TempDir(), Request: q})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx, stop := context.WithTimeout(context.Background(), time.Minute)
	defer stop()
	if err := s.Run(ctx); err != nil {
		t.Fatal(err)
	}
	got, _ := s.Outcome()
	same(t, got, want[0])
}
