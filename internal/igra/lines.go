package igra

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
)

// RecordError is a sounding that cannot be returned whole: a broken header, a
// line cut short, or fewer level lines than the header promises. Next may be
// called again and goes on with the following header.
type RecordError struct {
	Line   int // line of the file, from 1
	Column int // column, from 1; 0 where the whole line is meant
	Reason string
	Hint   string
}

// Error returns place, reason and hint.
func (e *RecordError) Error() string {
	place := fmt.Sprintf("line %d", e.Line)
	if e.Column > 0 {
		place += fmt.Sprintf(", column %d", e.Column)
	}
	if e.Hint == "" {
		return "igra: " + place + ": " + e.Reason
	}
	return "igra: " + place + ": " + e.Reason + "; " + e.Hint
}

// Layout tells the two kinds of file apart.
type Layout int

const (
	// Main is the layout of the observed soundings, <id>-data.txt.
	Main Layout = iota + 1
	// Derived is the layout of the derived quantities, <id>-drvd.txt.
	Derived
)

// Detect returns the layout that the first header line has. It needs that line
// only (158 bytes); false where the bytes do not begin with a header of either.
func Detect(start []byte) (Layout, bool) {
	line, _, _ := bytes.Cut(start, []byte{'\n'})
	line = bytes.TrimRight(line, "\r ")
	if len(line) < mainHeaderWidth || line[0] != '#' {
		return 0, false
	}
	if _, err := parseHeader(line, 1); err != nil {
		return 0, false
	}
	if len(line) < derivedHeaderWidth {
		_, hasLatitude, readable := integer(fieldLatitude.of(line))
		return Main, hasLatitude && readable
	}
	_, hasWater, readable := integer(derivedHeaderFields[0].of(line))
	return Derived, hasWater && readable
}

const longestLine = 512

// lines hands out lines without their end, and can take the last one back.
type lines struct {
	in       *bufio.Reader
	number   int
	current  []byte
	tooLong  bool
	pushed   bool
	finished error
}

func newLines(r io.Reader) lines { return lines{in: bufio.NewReaderSize(r, 1<<16)} }

// next returns the following line, valid until the next call. A line longer than
// any of the layouts is handed out cut, with tooLong set.
func (l *lines) next() ([]byte, error) {
	if l.pushed {
		l.pushed = false
		return l.current, nil
	}
	if l.finished != nil {
		return nil, l.finished
	}
	text, err := l.in.ReadSlice('\n')
	l.tooLong = len(text) > longestLine
	if l.tooLong {
		// The slice lives in the buffer that the rest of the line will overwrite.
		text = bytes.Clone(text[:longestLine])
		for errors.Is(err, bufio.ErrBufferFull) {
			_, err = l.in.ReadSlice('\n')
		}
	}
	if err != nil {
		l.finished = err
		if len(text) == 0 || err != io.EOF {
			return nil, err
		}
	}
	l.number++
	text = bytes.TrimRight(text, "\r\n")
	l.current = text
	return text, nil
}

func (l *lines) back() { l.pushed = true }

// header moves to the next header line. Blank lines are passed over; any other
// text in between is an error, once, after which the next call looks further.
func (l *lines) header() ([]byte, error) {
	stray, strayLine := 0, 0
	for {
		text, err := l.next()
		if err != nil || (len(text) > 0 && text[0] == '#') {
			if stray > 0 && (err == nil || err == io.EOF) {
				if err == nil {
					l.back()
				}
				return nil, &RecordError{Line: strayLine, Reason: fmt.Sprintf("%d line(s) that belong to no sounding", stray),
					Hint: "a header line starting with # is missing or its number of levels is too small"}
			}
			return text, err
		}
		if len(bytes.TrimSpace(text)) == 0 {
			continue
		}
		if stray == 0 {
			strayLine = l.number
		}
		stray++
	}
}

// skip passes over the level lines of a sounding that is given up.
func (l *lines) skip() {
	for {
		text, err := l.next()
		if err != nil {
			return
		}
		if len(text) > 0 && text[0] == '#' {
			l.back()
			return
		}
	}
}

// level returns the next level line of a sounding of which got of wanted are
// read, checked for its width.
func (l *lines) level(h *Header, got, width int) ([]byte, error) {
	text, err := l.next()
	if err != nil && err != io.EOF {
		return nil, err
	}
	if err == io.EOF || (len(text) > 0 && text[0] == '#') {
		if err == nil {
			l.back()
		}
		return nil, &RecordError{Line: h.Line,
			Reason: fmt.Sprintf("the header promises %d level lines, %d follow", h.Levels, got),
			Hint:   "the file is truncated or the number is wrong; this sounding is left out"}
	}
	if l.tooLong || len(text) < width {
		e := &RecordError{Line: l.number, Reason: fmt.Sprintf("the level line has %d of %d characters", len(text), width),
			Hint: "the line is cut or not of this layout; this sounding is left out"}
		if l.tooLong {
			e.Reason = fmt.Sprintf("the level line is longer than %d characters", longestLine)
		}
		l.skip()
		return nil, e
	}
	return text, nil
}

// absent values of the two layouts; removed is 0 where the layout has none.
type special struct{ missing, removed int }

// value reads one scaled number.
func (h *Header) value(line []byte, lineNumber int, s span, sp special, divisor float64) (float64, Mark) {
	text := s.of(line)
	n, present, ok := integer(text)
	switch {
	case !ok:
		h.problem(lineNumber, s, text)
		return math.NaN(), Unreadable
	case !present || n == sp.missing:
		return math.NaN(), Missing
	case n == sp.removed && sp.removed != 0:
		return math.NaN(), Removed
	}
	return float64(n) / divisor, Present
}
