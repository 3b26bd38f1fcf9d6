package follow

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"path/filepath"
	"strings"
	"time"
)

// Link is how things stand between a source and this program.
type Link string

// The states of a link.
const (
	LinkWaiting   Link = "waiting"   // nothing has come yet, and nothing is wrong
	LinkReceiving Link = "receiving" // connected or open
	LinkLost      Link = "lost"      // was there and is not; tried again
	LinkEnded     Link = "ended"     // by itself: nothing more will come
)

// Source is where the bytes of a flight come from.
type Source interface {
	// Name is what the flight's source is called in the logbook: a file name without folder.
	Name() string
	// Identity tells one source from another, so that a restart finds its journal.
	Identity() string
	// Run receives until ctx ends or the source has ended by itself, which is no error.
	Run(ctx context.Context, to Receiver) error
}

// Receiver takes what a source receives.
type Receiver interface {
	// Last returns the last part of the journal, false where there is none.
	Last() (Part, bool)
	// Begin starts a new part.
	Begin(from string, offset int64) error
	// Receive takes bytes, which are copied. at is when they came; zero: now.
	Receive(p []byte, at time.Time) error
	// Link says how things stand, in one sentence.
	Link(state Link, sentence string)
}

// ParseSource returns the source a user names: "-", tcp://host:port, udp://host:port or a
// file. sender is the only address datagrams are taken from; it may be "" where no other
// machine can reach the port.
func ParseSource(word, sender string) (Source, error) {
	if word == "-" {
		return nil, errors.New("standard input is the caller's to open")
	}
	if !isAddress(word) {
		path, err := filepath.Abs(word)
		if err != nil {
			return nil, err
		}
		return &File{Path: path}, nil
	}
	u, err := url.Parse(word)
	if err != nil || u.Host == "" || u.Path != "" || u.RawQuery != "" || u.User != nil {
		return nil, fmt.Errorf("%q: want an address such as tcp://192.168.1.20:4001", word)
	}
	host, port := u.Hostname(), u.Port()
	if port == "" {
		return nil, fmt.Errorf("%q has no port: want an address such as %s://%s:4001", word, u.Scheme, host)
	}
	if u.Scheme == "tcp" {
		if host == "" {
			host = "127.0.0.1"
		}
		return &TCP{Address: net.JoinHostPort(host, port)}, nil
	}
	switch strings.ToLower(host) {
	case "", "localhost":
		host = "127.0.0.1"
	}
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return nil, fmt.Errorf("%q: lines come to an address of this machine; write it in figures, such as udp://127.0.0.1:%s", word, port)
	}
	from := netip.Addr{}
	if sender != "" {
		if from, err = netip.ParseAddr(sender); err != nil {
			return nil, fmt.Errorf("sender %q: want an address in figures, such as 192.168.1.20", sender)
		}
		from = from.Unmap()
	}
	if !ip.IsLoopback() && !from.IsValid() {
		return nil, fmt.Errorf("%s can be reached from other machines, and anybody there could send lines: say from which address they come (--from)", word)
	}
	return &UDP{Address: net.JoinHostPort(host, port), From: from}, nil
}

// isAddress tells an address from a file's name.
func isAddress(word string) bool {
	return strings.HasPrefix(word, "tcp://") || strings.HasPrefix(word, "udp://") || word == "-"
}

// begin starts a part and waits for a disk that refuses it: what was received is in the
// caller's hands until then.
func begin(ctx context.Context, to Receiver, from string, offset int64) error {
	for {
		err := to.Begin(from, offset)
		if err == nil {
			return nil
		}
		to.Link(LinkLost, fmt.Sprintf("what comes in cannot be kept: %v; trying again", err))
		if !sleep(ctx, time.Second) {
			return err
		}
	}
}

// sleep waits; false where ctx ended first.
func sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}
