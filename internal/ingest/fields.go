package ingest

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// Ways to cut a line, besides one delimiter byte.
const (
	byWhitespace = 0
	byPosition   = 1
)

// delimiterOf reads the delimiter of a recipe: a byte, byWhitespace or byPosition.
func delimiterOf(text string) (byte, error) {
	switch text {
	case "", "whitespace", "blank", "blanks":
		return byWhitespace, nil
	case "fixed":
		return byPosition, nil
	case "tab", "\t":
		return '\t', nil
	case " ":
		return ' ', nil
	}
	if len(text) == 1 && text[0] > ' ' && text[0] < 0x7f && !strings.ContainsAny(text, "0123456789+-.\"'") &&
		(text[0]|0x20 < 'a' || text[0]|0x20 > 'z') {
		return text[0], nil
	}
	return 0, fmt.Errorf("%q: want one character such as \";\", or tab, whitespace, fixed", text)
}

// field is a run of bytes of a line.
type field struct{ from, to int }

// cutter cuts lines into fields.
type cutter struct {
	delimiter byte
	quote     byte // 0 none
	fixed     []field
	fields    []field
	scratch   []byte
}

// cut returns the fields of a line; the slice holds until the next call. Blanks
// around fields are not part of them. more than maxColumns fields are cut off.
func (c *cutter) cut(line []byte) []field {
	out := c.fields[:0]
	switch c.delimiter {
	case byWhitespace:
		for i, n := 0, len(line); i < n; {
			for i < n && (line[i] == ' ' || line[i] == '\t') {
				i++
			}
			if i == n {
				break
			}
			j := i
			if c.quote != 0 && line[i] == c.quote {
				for j = i + 1; j < n && line[j] != c.quote; j++ {
				}
				if j < n {
					j++
				}
			} else {
				for j < n && line[j] != ' ' && line[j] != '\t' {
					j++
				}
			}
			if len(out) > maxColumns {
				break
			}
			out = append(out, field{i, j})
			i = j
		}
	case byPosition:
		ascii := true
		for _, b := range line {
			if b >= utf8.RuneSelf {
				ascii = false
				break
			}
		}
		for _, f := range c.fixed {
			from, to := f.from, f.to
			if !ascii && utf8.Valid(line) {
				from, to = runeOffset(line, from), runeOffset(line, to)
			}
			from, to = min(from, len(line)), min(to, len(line))
			out = append(out, trimmed(line, field{from, to}))
		}
	default:
		from := 0
		n := len(line)
		for i := 0; ; i++ {
			if i < n && c.quote != 0 && line[i] == c.quote && blank(line[from:i]) {
				j := i + 1
				for j < n && (line[j] != c.quote || j+1 < n && line[j+1] == c.quote) {
					if line[j] == c.quote {
						j++
					}
					j++
				}
				if j < n {
					i = j
					continue
				}
			}
			if i >= n || line[i] == c.delimiter {
				if len(out) > maxColumns {
					break
				}
				out = append(out, trimmed(line, field{from, min(i, n)}))
				from = i + 1
				if i >= n {
					break
				}
			}
		}
	}
	c.fields = out
	return out
}

func blank(b []byte) bool {
	for _, c := range b {
		if c != ' ' {
			return false
		}
	}
	return true
}

func trimmed(line []byte, f field) field {
	for f.from < f.to && (line[f.from] == ' ' || line[f.from] == '\t') {
		f.from++
	}
	for f.to > f.from && (line[f.to-1] == ' ' || line[f.to-1] == '\t') {
		f.to--
	}
	return f
}

func runeOffset(line []byte, runes int) int {
	i := 0
	for ; runes > 0 && i < len(line); runes-- {
		_, size := utf8.DecodeRune(line[i:])
		i += size
	}
	return i
}

// of returns the bytes of a field without quotes around them.
func (c *cutter) of(line []byte, f field) []byte {
	b := line[f.from:f.to]
	if q := c.quote; q != 0 && len(b) >= 2 && b[0] == q && b[len(b)-1] == q {
		b = b[1 : len(b)-1]
		for i := 0; i+1 < len(b); i++ {
			if b[i] == q && b[i+1] == q {
				c.scratch = append(c.scratch[:0], strings.ReplaceAll(string(b), string([]byte{q, q}), string(q))...)
				b = c.scratch
				break
			}
		}
		for len(b) > 0 && b[0] == ' ' {
			b = b[1:]
		}
		for len(b) > 0 && b[len(b)-1] == ' ' {
			b = b[:len(b)-1]
		}
	}
	return b
}

// headUnit parts the unit in brackets from a column head: "T [°C]" gives "T", "°C".
func headUnit(head string) (name, unit string) {
	h := strings.TrimSpace(head)
	for _, pair := range [...]string{"[]", "()", "{}"} {
		if strings.HasSuffix(h, pair[1:]) {
			if i := strings.LastIndex(h, pair[:1]); i >= 0 {
				return strings.TrimSpace(h[:i]), strings.TrimSpace(h[i+1 : len(h)-1])
			}
		}
	}
	return h, ""
}

// missingTokens are never a value, in any source.
var missingTokens = map[string]bool{
	"": true, "nan": true, "na": true, "n/a": true, "n.a.": true, "null": true, "nil": true, "none": true, "missing": true,
	"-": true, "--": true, "---": true, "----": true, "-----": true, "/": true, "//": true, "///": true, "////": true, "/////": true, "//////": true,
	"*": true, "**": true, "***": true, "****": true, "*****": true, "******": true, "<na>": true, "#n/a": true,
}

// isMissingToken tells whether a text that is no number says "no value".
func isMissingToken(b []byte) bool {
	if len(b) > 8 {
		return false
	}
	var low [8]byte
	for i, c := range b {
		if c >= 'A' && c <= 'Z' {
			c += 32
		}
		low[i] = c
	}
	return missingTokens[string(low[:len(b)])]
}
