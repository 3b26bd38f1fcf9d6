package ingest

import (
	"bytes"
	"io"
	"regexp"
	"sync"

	"leadline/internal/netcdf"
)

// detectLines is how many lines of a source its recognising patterns look at.
const detectLines = 60

// Detect finds the shipped recipe that fits a source by its content: netCDF, the
// archive's layout, or the patterns of recipes with recognise lines. The bytes may
// be packed and may be the first 64 KiB alone.
func Detect(text []byte) (name string, ok bool) {
	head := unpackedHead(text, 64<<10)
	if isNetCDF(head) {
		return "cf", true
	}
	if isArchive(head) {
		return "igra", true
	}
	if isBUFR(head) {
		return "bufr", true
	}
	if isBulletin(head) {
		return "temp", true
	}
	lines := headLines(head, detectLines)
	for _, n := range ShippedRecipes() {
		r, _, err := ShippedRecipe(n)
		if err != nil || len(r.Recognise) == 0 {
			continue
		}
		if r.recognises(lines) {
			return n, true
		}
	}
	return "", false
}

// recognises tells whether each of the recipe's patterns matches one of the lines.
func (r *Recipe) recognises(lines []string) bool {
	for _, p := range r.Recognise {
		re, err := regexp.Compile(p)
		if err != nil {
			return false
		}
		found := false
		for _, l := range lines {
			if re.MatchString(l) {
				found = true
				break
			}
		}
		if !found {
			return false
		}
	}
	return true
}

// unpackedHead returns at most limit plain bytes of a source that may be cut.
func unpackedHead(text []byte, limit int) []byte {
	o, err := open(bytes.NewReader(text))
	if err != nil {
		return nil
	}
	defer func() { o.close() }()
	head, err := io.ReadAll(io.LimitReader(o, int64(limit)))
	if err != nil {
		return nil
	}
	return head
}

func isNetCDF(head []byte) bool {
	return netcdf.Sniff(bytes.NewReader(head), int64(len(head))) != 0
}

// lazyPattern compiles a regular expression when it is first asked for, so that a short
// command does not pay for those it does not use.
func lazyPattern(text string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(text) })
}

// archiveHeader is the header line of the archive, main and derived layout.
var archiveHeader = lazyPattern(`^#[A-Z]{2}[A-Z0-9]{9} \d{4} [ \d]\d [ \d]\d [ \d]\d `)

func isArchive(head []byte) bool { return archiveHeader().Match(head) }

// headLines decodes the head and cuts it into at most n lines. A last line without an
// end is left out where there are others.
func headLines(head []byte, n int) []string {
	encoding, mark := sniffEncoding(head)
	plain, err := io.ReadAll(decoded(bytes.NewReader(head), encoding, mark))
	if err != nil {
		return nil
	}
	l := newLineReader(bytes.NewReader(plain))
	var out []string
	for len(out) < n {
		line, _, err := l.next()
		if err != nil {
			break
		}
		if !l.terminated && len(out) > 3 && len(head) >= 32<<10 {
			break
		}
		out = append(out, textOf(line, encoding == "latin-1"))
	}
	return out
}
