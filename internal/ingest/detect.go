package ingest

import (
	"bytes"
	"io"
	"regexp"

	"leadline/internal/igra"
	"leadline/internal/netcdf"
)

// detected lists the shipped text recipes by how their sources begin: patterns of the
// first lines that no other layout has.
var detected = []struct {
	recipe string
	begins *regexp.Regexp
}{
	{"demo-text", regexp.MustCompile(`^Lake basin sounding log\r?\n`)},
	{"demo-vehicle", regexp.MustCompile(`^Vehicle receiver;`)},
	{"leadline-csv", regexp.MustCompile(`^time_utc,time_s,source_line[,\r\n]`)},
}

// headLength is how much of a source Detect looks at, after unpacking.
const headLength = 4096

// Detect returns the name of the shipped recipe that a source can be read by, told from
// its first bytes, packed or not; ok is false where none fits.
func Detect(source []byte) (recipe string, ok bool) {
	src, err := open(bytes.NewReader(source))
	if err != nil {
		return "", false
	}
	defer func() { src.close() }()
	head := make([]byte, headLength)
	n, err := io.ReadFull(src.plain, head)
	if n == 0 && err != nil {
		return "", false
	}
	head = head[:n]
	if netcdf.Sniff(bytes.NewReader(head), int64(n)) != 0 {
		return "cf", true
	}
	if _, is := igra.Detect(head); is {
		return "igra", true
	}
	head = bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	for _, d := range detected {
		if d.begins.Match(head) {
			return d.recipe, true
		}
	}
	return "", false
}
