package follow

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/netip"
	"strings"
	"time"
)

// Stream is a stream that cannot be opened again, such as standard input. It ends when
// the other side closes it.
type Stream struct {
	From   string // "standard input"
	Called string // what the source is called in the logbook
	Reader io.Reader
}

// Name returns what the source is called in the logbook.
func (s *Stream) Name() string { return s.Called }

// Identity returns where it comes from.
func (s *Stream) Identity() string { return s.From + " " + s.Called }

// Run reads to the end of the stream.
func (s *Stream) Run(ctx context.Context, to Receiver) error {
	to.Link(LinkWaiting, fmt.Sprintf("waiting for data on %s", s.From))
	return copyTo(ctx, s.Reader, to, func() error { return begin(ctx, to, "-", 0) })
}

// copyTo receives from r until it ends, which is nil, or fails. first is called before
// the first bytes.
func copyTo(ctx context.Context, r io.Reader, to Receiver, first func() error) error {
	type chunk struct {
		b   []byte
		err error
	}
	// A read that waits for ever must not hold up the end: it is left behind.
	chunks := make(chan chunk)
	go func() {
		for {
			b := make([]byte, 16<<10)
			n, err := r.Read(b)
			select {
			case chunks <- chunk{b[:n], err}:
			case <-ctx.Done():
				return
			}
			if err != nil {
				return
			}
		}
	}()
	begun := false
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case c := <-chunks:
			if len(c.b) > 0 {
				if !begun {
					if err := first(); err != nil {
						return err
					}
					begun = true
				}
				if err := to.Receive(c.b, time.Time{}); err != nil {
					return err
				}
			}
			if c.err == io.EOF {
				return nil
			}
			if c.err != nil {
				return &linkError{c.err}
			}
		}
	}
}

// linkError is an error of the connection, not of what takes the bytes.
type linkError struct{ err error }

func (e *linkError) Error() string { return e.err.Error() }
func (e *linkError) Unwrap() error { return e.err }

// TCP is a stream of lines that a serial server or receiver offers. A connection that
// breaks is made again, at first after a second, later every ten.
type TCP struct {
	Address string
	Retry   time.Duration // longest wait between two tries; 0 is 10 s
}

// Name returns the address as a file name.
func (t *TCP) Name() string { return streamName("tcp", t.Address) }

// Identity returns the address.
func (t *TCP) Identity() string { return "tcp://" + t.Address }

// streamName makes a file name of an address: tcp-192.168.1.20-4001.txt.
func streamName(kind, address string) string {
	return kind + "-" + strings.Map(func(r rune) rune {
		switch {
		case r == ':' || r == '/' || r == '%':
			return '-'
		case r == '[' || r == ']':
			return -1
		}
		return r
	}, address) + ".txt"
}

// Run connects and receives, again and again, until ctx ends.
func (t *TCP) Run(ctx context.Context, to Receiver) error {
	most := t.Retry
	if most <= 0 {
		most = 10 * time.Second
	}
	wait := min(time.Second, most)
	dialer := net.Dialer{Timeout: 5 * time.Second, KeepAliveConfig: net.KeepAliveConfig{Enable: true, Idle: 10 * time.Second, Interval: 5 * time.Second, Count: 3}}
	state := LinkWaiting
	for {
		c, err := dialer.DialContext(ctx, "tcp", t.Address)
		if err == nil {
			to.Link(LinkReceiving, fmt.Sprintf("connected to %s", t.Address))
			state, wait = LinkLost, min(time.Second, most)
			stop := context.AfterFunc(ctx, func() { c.Close() })
			err = copyTo(ctx, c, to, func() error { return begin(ctx, to, t.Identity(), 0) })
			stop()
			c.Close()
			var link *linkError
			switch {
			case ctx.Err() != nil:
				return ctx.Err()
			case err == nil:
				err = errors.New("the other side closed the connection")
			case !errors.As(err, &link):
				return err
			}
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		to.Link(state, fmt.Sprintf("no connection to %s: %v; trying again", t.Address, err))
		if !sleep(ctx, wait) {
			return ctx.Err()
		}
		wait = min(2*wait, most)
	}
}

// UDP is a port of this machine that lines are sent to, one or more a datagram. A datagram
// ends a line whether it says so or not.
type UDP struct {
	Address string
	From    netip.Addr // the only sender; not valid: anybody who can reach the port
}

// Name returns the address as a file name.
func (u *UDP) Name() string { return streamName("udp", u.Address) }

// Identity returns the address.
func (u *UDP) Identity() string { return "udp://" + u.Address }

// Run listens until ctx ends.
func (u *UDP) Run(ctx context.Context, to Receiver) error {
	address, err := net.ResolveUDPAddr("udp", u.Address)
	if err != nil {
		return err
	}
	buf := make([]byte, 64<<10)
	begun := false
	for {
		c, err := net.ListenUDP("udp", address)
		if err != nil {
			to.Link(LinkLost, fmt.Sprintf("cannot listen on %s: %v; trying again", u.Address, err))
			if !sleep(ctx, time.Second) {
				return ctx.Err()
			}
			continue
		}
		_ = c.SetReadBuffer(4 << 20) // what comes while the disk is busy
		to.Link(LinkWaiting, fmt.Sprintf("listening on %s", u.Address))
		stop := context.AfterFunc(ctx, func() { c.Close() })
		for {
			n, sender, err := c.ReadFromUDPAddrPort(buf)
			if err != nil {
				break
			}
			if n == 0 || u.From.IsValid() && sender.Addr().Unmap() != u.From {
				continue
			}
			if !begun {
				if err := begin(ctx, to, u.Identity(), 0); err != nil {
					stop()
					c.Close()
					return err
				}
				begun = true
				to.Link(LinkReceiving, fmt.Sprintf("lines come to %s", u.Address))
			}
			line := buf[:n]
			if line[n-1] != '\n' {
				line = append(line[:n:n], '\n')
			}
			if err := to.Receive(line, time.Time{}); err != nil {
				stop()
				c.Close()
				return err
			}
		}
		stop()
		c.Close()
		if ctx.Err() != nil {
			return ctx.Err()
		}
		to.Link(LinkLost, fmt.Sprintf("listening on %s was interrupted; trying again", u.Address))
		if !sleep(ctx, time.Second) {
			return ctx.Err()
		}
	}
}
