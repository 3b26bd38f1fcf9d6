package bufr

import (
	"bytes"
	"fmt"
	"io"
)

// Gap is what a stream holds between two messages: bulletin headings, control characters, damage.
// Only its ends are kept, so a gap of any length takes no memory.
type Gap struct {
	Offset  int64  // byte of the stream at which it begins
	Length  int64  // bytes
	Heading string // the last abbreviated heading in it, "TTAAii CCCC YYGGgg BBB" or without BBB; "" where there is none
	Tail    []byte // its last bytes, at most 160
}

// Empty reports whether nothing stood there.
func (g *Gap) Empty() bool { return g.Length == 0 }

// OnlyHeading reports whether the gap is a bulletin envelope: control characters, spaces, figures and
// one heading, and nothing that could be a lost message.
func (g *Gap) OnlyHeading() bool {
	if g.Length > int64(len(g.Tail)) {
		return false
	}
	rest := g.Tail
	if g.Heading != "" {
		if i := bytes.LastIndex(rest, []byte(g.Heading)); i >= 0 {
			rest = append(bytes.Clone(rest[:i]), rest[i+len(g.Heading):]...)
		}
	}
	for _, c := range rest {
		switch {
		case c == 0 || c == 1 || c == 3 || c == 4 || c == '\r' || c == '\n' || c == ' ' || c >= '0' && c <= '9':
		default:
			return false
		}
	}
	return true
}

// String names the gap for a person.
func (g *Gap) String() string {
	switch {
	case g.Length == 0:
		return "nothing"
	case g.OnlyHeading() && g.Heading != "":
		return fmt.Sprintf("byte %d: bulletin heading %s", g.Offset, g.Heading)
	case g.OnlyHeading():
		return fmt.Sprintf("byte %d: %d bytes of bulletin envelope", g.Offset, g.Length)
	case g.Heading != "":
		return fmt.Sprintf("byte %d: %d bytes that are no BUFR message, the last heading in them is %s", g.Offset, g.Length, g.Heading)
	}
	return fmt.Sprintf("byte %d: %d bytes that are no BUFR message", g.Offset, g.Length)
}

func (g *Gap) add(offset int64, b []byte) {
	if len(b) == 0 {
		return
	}
	if g.Length == 0 {
		g.Offset = offset
	}
	g.Length += int64(len(b))
	const keep = 160
	if len(b) > keep {
		b = b[len(b)-keep:]
	}
	if over := len(g.Tail) + len(b) - keep; over > 0 {
		g.Tail = append(g.Tail[:0], g.Tail[over:]...)
	}
	g.Tail = append(g.Tail, b...)
}

// findHeading looks for the last abbreviated heading in b: TTAAii CCCC YYGGgg, then perhaps BBB,
// by the WMO Manual on the Global Telecommunication System (general rule, from memory).
func findHeading(b []byte) string {
	letter := func(c byte) bool { return c >= 'A' && c <= 'Z' }
	figure := func(c byte) bool { return c >= '0' && c <= '9' }
	for i := len(b) - 18; i >= 0; i-- {
		if i > 0 && b[i-1] > ' ' {
			continue
		}
		s := b[i:]
		ok := letter(s[0]) && letter(s[1]) && letter(s[2]) && letter(s[3]) && figure(s[4]) && figure(s[5]) && s[6] == ' ' &&
			letter(s[7]) && letter(s[8]) && letter(s[9]) && letter(s[10]) && s[11] == ' '
		for j := 12; ok && j < 18; j++ {
			ok = figure(s[j])
		}
		if !ok || len(s) > 18 && s[18] > ' ' {
			continue
		}
		n := 18
		if len(s) >= 22 && s[18] == ' ' && letter(s[19]) && letter(s[20]) && letter(s[21]) && (len(s) == 22 || s[22] <= ' ') {
			n = 22
		}
		return string(s[:n])
	}
	return ""
}

// Reader finds messages in a stream. Around and between them may stand bulletin headings or anything
// else: it is skipped and named in Message.Before and Trailing. Memory stays below twice the longest
// message that is really there; a length that lies makes it read on, never allocate ahead.
type Reader struct {
	src    io.Reader
	buf    []byte // bytes not yet consumed
	own    bool   // buf belongs to the reader, so messages must be copied out of it
	offset int64  // of buf[0] in the stream
	eof    bool
	err    error // of src, other than io.EOF
	gap    Gap
}

// NewReader reads messages from r.
func NewReader(r io.Reader) *Reader { return &Reader{src: r, own: true} }

// NewBytesReader reads messages from b without copying: they refer to b, which must not change.
func NewBytesReader(b []byte) *Reader { return &Reader{buf: b, eof: true} }

// Next returns the next message, or io.EOF when there is none left. An error of type *Error tells of one
// damaged message: calling Next again goes on with what follows it, starting right after its letters
// BUFR, so that a length that lies hides nothing. Any other error comes from the source and is final.
func (r *Reader) Next() (*Message, error) {
	for {
		i := bytes.Index(r.buf, []byte("BUFR"))
		if i < 0 {
			keep := min(len(r.buf), 3)
			if r.eof {
				keep = 0
			}
			r.skip(len(r.buf) - keep)
			if r.eof {
				if r.err != nil {
					return nil, r.err
				}
				return nil, io.EOF
			}
			r.fill(len(r.buf) + 1)
			continue
		}
		r.skip(i)
		if !r.fill(8) {
			return nil, r.bad("the stream ends inside section 0", "the message has been cut; ask for it again")
		}
		n, edition := uint24(r.buf[4:]), int(r.buf[7])
		if edition < 2 || edition > 4 {
			return nil, r.bad(fmt.Sprintf("edition %d is not carried: 2, 3 and 4 are", edition), "the letters BUFR may stand here by chance")
		}
		if n < need {
			return nil, r.bad(fmt.Sprintf("the message declares %d octets; the least possible is %d", n, need), "the length is wrong")
		}
		if !r.fill(n) {
			if r.err != nil {
				return nil, r.err
			}
			return nil, r.bad(fmt.Sprintf("the message declares %d octets and the stream holds %d more", n, len(r.buf)), "it has been cut or its length is wrong; ask for it again")
		}
		b := r.buf[:n:n]
		if r.own {
			b = bytes.Clone(b)
		}
		m, err := parseMessage(b, r.offset)
		if err != nil {
			r.skip(4)
			return nil, err
		}
		m.Before = r.Trailing()
		r.gap = Gap{}
		r.buf = r.buf[n:]
		r.offset += int64(n)
		return m, nil
	}
}

// Trailing returns what has been skipped since the last message: after io.EOF, the end of the stream.
func (r *Reader) Trailing() Gap {
	g := r.gap
	g.Heading = findHeading(g.Tail)
	return g
}

func (r *Reader) bad(problem, hint string) error {
	err := &Error{Offset: r.offset, Problem: problem, Hint: hint}
	r.skip(min(4, len(r.buf)))
	return err
}

func (r *Reader) skip(n int) {
	r.gap.add(r.offset, r.buf[:n])
	r.buf = r.buf[n:]
	r.offset += int64(n)
}

// fill makes buf hold at least n bytes and reports whether the stream has them.
func (r *Reader) fill(n int) bool {
	for idle := 0; len(r.buf) < n && !r.eof; {
		// Grow with what has arrived: at most the present length again, at least 64 KiB.
		if cap(r.buf)-len(r.buf) < 4096 {
			b := make([]byte, len(r.buf), 2*len(r.buf)+65536)
			copy(b, r.buf)
			r.buf = b
		}
		k, err := r.src.Read(r.buf[len(r.buf):cap(r.buf)])
		r.buf = r.buf[:len(r.buf)+k]
		if idle++; k > 0 {
			idle = 0
		}
		if err == nil && idle == 100 {
			err = io.ErrNoProgress
		}
		if err != nil {
			r.eof = true
			if err != io.EOF {
				r.err = err
			}
		}
	}
	return len(r.buf) >= n
}
