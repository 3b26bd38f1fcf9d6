package temp

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strings"
)

// Bulletin is a heading with the reports under it.
type Bulletin struct {
	// Heading is nil where the text has none.
	Heading *Heading
	Line    int // first line, from 1
	Reports []Report
	findings
}

// Limits. A bulletin with more groups than splitTokens is handed out in pieces,
// each under the same heading, cut where a report ends; groups beyond maxTokens
// without such an end are passed over, and so is a line beyond its length, both
// with a finding.
const (
	splitTokens   = 5_000
	maxTokens     = 10_000
	maxLineLength = 4096
)

// Reader reads bulletins one after the other from text that may hold headings,
// transmission marks (ZCZC, NNNN, control characters, sequence numbers), blank lines.
type Reader struct {
	in     *bufio.Reader
	number int
	// next is the heading that ended the bulletin before, waiting for its reports.
	next     *Heading
	nextLine int
	// continued: next is the heading of the bulletin of which a piece was handed out.
	continued bool
	pilot     pilotHabit
	err       error
}

// NewReader returns a Reader. It holds at most one bulletin in memory, and of that
// no more than 10,000 groups.
func NewReader(r io.Reader) *Reader { return &Reader{in: bufio.NewReaderSize(r, 16<<10)} }

// Parse reads all bulletins of a text. It cannot fail: what is wrong is in the
// findings of bulletins and reports.
func Parse(text []byte) []Bulletin {
	r := NewReader(bytes.NewReader(text))
	var all []Bulletin
	for {
		b, err := r.Next()
		if err != nil {
			return all
		}
		all = append(all, b)
	}
}

// Next returns the next bulletin, io.EOF after the last. Any other error is from
// the underlying reader; it stays, and the bulletin it cut is not returned.
func (r *Reader) Next() (Bulletin, error) {
	if r.err != nil && r.next == nil {
		return Bulletin{}, r.err
	}
	b, continued := Bulletin{Heading: r.next, Line: r.nextLine}, r.continued
	r.next, r.nextLine, r.continued = nil, 0, false
	var groups tokenList
	for r.err == nil {
		line, cut := r.line()
		if r.err != nil && r.err != io.EOF {
			return Bulletin{}, r.err
		}
		text := strings.TrimFunc(line, func(c rune) bool { return c <= ' ' })
		if cut {
			b.find(token{line: r.number, column: maxLineLength}, "", CodeCut, "the line is longer than %d characters: the rest of it is not read", maxLineLength)
		}
		if strings.HasPrefix(text, "ZCZC") || text == "NNNN" {
			continue
		}
		if h, wrong := readHeading(text); wrong == "" {
			groups = withoutSequenceNumber(groups)
			if len(groups) == 0 && b.Heading == nil {
				b.Heading, b.Line = &h, r.number
				continue
			}
			r.next, r.nextLine = &h, r.number
			break
		}
		if len(groups) >= maxTokens {
			if n := len(b.Findings); n == 0 || b.Findings[n-1].Code != CodeCut {
				b.find(token{line: r.number, column: 1}, "", CodeCut, "more than %d groups and no \"=\" at the end of a line: the text is not read until the next heading", maxTokens)
			}
			continue
		}
		if b.Line == 0 && text != "" {
			b.Line = r.number
		}
		groups.addLine(line, r.number)
		if n := len(groups); n >= splitTokens && groups[n-1].text == "=" {
			r.next, r.nextLine, r.continued = b.Heading, r.number+1, true
			break
		}
	}
	if len(groups) == 0 && b.FindingCount == 0 && (b.Heading == nil || continued) {
		if r.err != nil && r.next == nil {
			return Bulletin{}, r.err
		}
		return r.Next()
	}
	b.parse(groups, &r.pilot)
	return b, nil
}

// line returns the next line without its end; cut says that it was too long.
func (r *Reader) line() (text string, cut bool) {
	part, err := r.in.ReadSlice('\n')
	if len(part) > maxLineLength {
		part, cut = part[:maxLineLength], true
	}
	text = string(part)
	for errors.Is(err, bufio.ErrBufferFull) {
		_, err = r.in.ReadSlice('\n')
	}
	r.err = err
	r.number++
	return strings.TrimRight(text, "\r\n"), cut
}

// withoutSequenceNumber takes off a transmission sequence number, three to five
// figures alone on the line before a heading, so that it is not taken for a group
// of the report before.
func withoutSequenceNumber(t tokenList) tokenList {
	n := len(t)
	if n == 0 || !isFigures(t[n-1].text) || len(t[n-1].text) > 5 {
		return t
	}
	alone := n == 1 || t[n-2].line != t[n-1].line
	ended := n == 1 || t[n-2].text == "="
	if alone && (ended || len(t[n-1].text) < 5) {
		return t[:n-1]
	}
	return t
}
