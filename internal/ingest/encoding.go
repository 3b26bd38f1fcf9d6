package ingest

import (
	"bytes"
	"io"
	"unicode/utf8"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// sniffEncoding tells the encoding of a text from its first bytes: by its mark, by
// zero bytes in every other place, or UTF-8 unless that does not fit.
func sniffEncoding(head []byte) (name string, mark int) {
	switch {
	case bytes.HasPrefix(head, []byte{0xef, 0xbb, 0xbf}):
		return "utf-8", 3
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		return "utf-16le", 2
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return "utf-16be", 2
	}
	var zeros [2]int
	n := len(head) &^ 1
	for i, c := range head[:n] {
		if c == 0 {
			zeros[i&1]++
		}
	}
	if n >= 4 {
		switch half := n / 2; {
		case zeros[1] > half*7/10 && zeros[0] < half/10+1:
			return "utf-16le", 0
		case zeros[0] > half*7/10 && zeros[1] < half/10+1:
			return "utf-16be", 0
		}
	}
	// The head may end within a character.
	cut := head
	for i := 0; i < 3 && len(cut) > 0 && !utf8.Valid(cut); i++ {
		cut = cut[:len(cut)-1]
	}
	if utf8.Valid(cut) {
		return "utf-8", 0
	}
	return "latin-1", 0
}

// decoded returns a reader of UTF-8, or of Latin-1 as it is: rows of numbers are the
// same in both, and texts are turned when they are needed.
func decoded(r io.Reader, name string, mark int) io.Reader {
	switch name {
	case "utf-16le":
		return transform.NewReader(r, unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder())
	case "utf-16be":
		return transform.NewReader(r, unicode.UTF16(unicode.BigEndian, unicode.UseBOM).NewDecoder())
	}
	if mark > 0 {
		_, _ = io.CopyN(io.Discard, r, int64(mark)) // was just seen; a failure comes back with the next read
	}
	return r
}

// textOf turns bytes of a line into UTF-8 text; latin1 says what they are. Bytes that
// are not UTF-8 after all are read as Latin-1.
func textOf(b []byte, latin1 bool) string {
	if !latin1 && utf8.Valid(b) {
		return string(b)
	}
	out := make([]byte, 0, len(b)+8)
	for len(b) > 0 {
		if !latin1 {
			if r, size := utf8.DecodeRune(b); r != utf8.RuneError || size > 1 {
				out = append(out, b[:size]...)
				b = b[size:]
				continue
			}
		}
		out = utf8.AppendRune(out, rune(b[0]))
		b = b[1:]
	}
	return string(out)
}

// shown makes text of a source fit for a sentence: control characters as blanks, 60
// characters at most.
func shown(s string) string {
	out := make([]rune, 0, 61)
	for _, r := range s {
		if r < 0x20 || r == 0x7f || r >= 0x80 && r < 0xa0 || r == utf8.RuneError || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || r == 0xfeff {
			r = '·'
		}
		if len(out) == 60 {
			return string(out) + "…"
		}
		out = append(out, r)
	}
	return string(out)
}
