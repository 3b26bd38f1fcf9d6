package ingest

import (
	"bytes"
	"io"
)

// lineReader cuts a stream into lines without copying. Lines end in LF or CRLF, or
// in CR alone where the first bytes hold no LF.
type lineReader struct {
	r          io.Reader
	buf        []byte
	from, to   int // unread bytes
	number     int // of the line last returned, from 1
	end        byte
	atEnd      error
	terminated bool // the line last returned had an end
}

func newLineReader(r io.Reader) *lineReader {
	return &lineReader{r: r, buf: make([]byte, 256<<10), end: '\n'}
}

// next returns the next line without its end; the slice holds until the next call.
// A line longer than 1 MiB is skipped whole and returned as its first bytes with
// long true. The error is io.EOF after the last line, or the reader's.
func (l *lineReader) next() (line []byte, long bool, err error) {
	for {
		if i := bytes.IndexByte(l.buf[l.from:l.to], l.end); i >= 0 {
			line = l.buf[l.from : l.from+i]
			l.from += i + 1
			l.number++
			l.terminated = true
			if len(line) > maxLine {
				return line[:200], true, nil
			}
			return chop(line), false, nil
		}
		if l.atEnd != nil {
			if l.atEnd != io.EOF || l.from == l.to {
				return nil, false, l.atEnd
			}
			line = l.buf[l.from:l.to]
			l.from = l.to
			l.number++
			l.terminated = false
			if len(line) > maxLine {
				return line[:200], true, nil
			}
			return chop(line), false, nil
		}
		if l.to-l.from > maxLine {
			return l.skip()
		}
		l.fill()
	}
}

func chop(line []byte) []byte {
	for len(line) > 0 && line[len(line)-1] == '\r' {
		line = line[:len(line)-1]
	}
	return line
}

// fill reads more bytes behind the unread ones.
func (l *lineReader) fill() {
	first := l.number == 0 && l.from == 0
	if l.from > 0 {
		copy(l.buf, l.buf[l.from:l.to])
		l.to -= l.from
		l.from = 0
	}
	if l.to == len(l.buf) {
		l.buf = append(l.buf, make([]byte, len(l.buf))...)
	}
	for i := 0; i < 20_000; i++ {
		n, err := l.r.Read(l.buf[l.to:])
		l.to += n
		if err != nil {
			l.atEnd = err
		}
		if first && err == nil && l.to < 16<<10 {
			continue
		}
		if n > 0 || err != nil {
			if first && bytes.IndexByte(l.buf[:l.to], '\n') < 0 && bytes.IndexByte(l.buf[:l.to], '\r') >= 0 {
				l.end = '\r'
			}
			return
		}
	}
	l.atEnd = io.ErrNoProgress
}

// skip passes over a line that is too long.
func (l *lineReader) skip() ([]byte, bool, error) {
	head := append([]byte(nil), l.buf[l.from:l.from+200]...)
	l.number++
	l.from = l.to
	for {
		l.from, l.to = 0, 0
		l.fill()
		if i := bytes.IndexByte(l.buf[:l.to], l.end); i >= 0 {
			l.from = i + 1
			l.terminated = true
			return head, true, nil
		}
		if l.atEnd != nil {
			l.from = l.to
			if l.atEnd == io.EOF {
				l.terminated = false
				return head, true, nil
			}
			return nil, false, l.atEnd
		}
	}
}
