package temp

import (
	"fmt"
	"strings"
	"time"
)

// FileName is a name by the general file naming convention of the WMO Manual on
// the Global Telecommunication System (attachment II-15, from memory; confirmed
// by the names of exchanged files) for bulletins that have a heading:
//
//	A_T1T2A1A2iiCCCCYYGGgg[BBB]_C_CCCC_yyyyMMddhhmmss[_free].type[.compression]
type FileName struct {
	Heading    Heading
	Originator string // CCCC of the centre that made the file
	// Time is when the file was made, UTC.
	Time time.Time
	// Free is the free part without the underscore before it; letters, figures, hyphens, underscores.
	Free string
	// Type is txt for figure codes, bufr or bin for binary ones; Compression is
	// empty, gz, Z, zip or bz2.
	Type, Compression string
}

// Format returns the name, or an error naming the field that cannot stand in it.
func (n FileName) Format() (string, error) {
	if err := n.Heading.check(); err != "" {
		return "", fmt.Errorf("temp: file name: heading %+v: %s", n.Heading, err)
	}
	bad := func(what, value string) (string, error) {
		return "", fmt.Errorf("temp: file name: %s %q cannot stand in a file name of this kind", what, shorten(value))
	}
	switch {
	case len(n.Originator) != 4 || !isUpperOrFigures(n.Originator):
		return bad("originator", n.Originator)
	case n.Free != "" && !isNamePart(n.Free):
		return bad("free part", n.Free)
	case !isNamePart(n.Type) || strings.Contains(n.Type, "_"):
		return bad("type", n.Type)
	case n.Compression != "" && !isCompression(n.Compression):
		return bad("compression", n.Compression)
	case n.Time.IsZero() || n.Time.UTC().Year() > 9999 || n.Time.UTC().Year() < 1000:
		return bad("time", n.Time.String())
	}
	s := "A_" + strings.ReplaceAll(n.Heading.line(), " ", "") + "_C_" + n.Originator + "_" + n.Time.UTC().Format("20060102150405")
	if n.Free != "" {
		s += "_" + n.Free
	}
	s += "." + n.Type
	if n.Compression != "" {
		s += "." + n.Compression
	}
	return s, nil
}

// ParseFileName reads a file name without folders. A time with hyphens for
// figures that are not given is read with those taken as the earliest.
func ParseFileName(name string) (FileName, error) {
	bad := func(what string) (FileName, error) {
		return FileName{}, fmt.Errorf("temp: %q is no bulletin file name: %s; expected A_<heading>_C_<centre>_<time>.<type>", shorten(name), what)
	}
	var n FileName
	body, tail, found := strings.Cut(name, ".")
	if !found {
		return bad("no type after a point")
	}
	n.Type, n.Compression, _ = strings.Cut(tail, ".")
	f := strings.SplitN(body, "_", 6)
	if len(f) < 5 {
		return bad(fmt.Sprintf("%d fields between underscores", len(f)))
	}
	if len(f) == 6 {
		if n.Free = f[5]; n.Free == "" {
			return bad("an underscore with nothing after it")
		}
	}
	if f[0] != "A" || f[2] != "C" {
		return bad("the fields A and C are not in their places")
	}
	id := f[1]
	if len(id) != 16 && len(id) != 19 {
		return bad(fmt.Sprintf("the heading has %d characters, not 16 or 19", len(id)))
	}
	h, err := ParseHeading(id[:6] + " " + id[6:10] + " " + id[10:16] + " " + id[16:])
	if err != nil {
		return bad("its heading is none")
	}
	n.Heading, n.Originator = h, f[3]
	stamp := []byte(f[4])
	if len(stamp) != 14 {
		return bad("the time is not 14 figures")
	}
	for i, c := range []byte("00000101000000") {
		if stamp[i] == '-' {
			stamp[i] = c
		}
	}
	if n.Time, err = time.Parse("20060102150405", string(stamp)); err != nil {
		return bad("the time is none")
	}
	if _, err := n.Format(); err != nil {
		return bad(strings.TrimPrefix(err.Error(), "temp: file name: "))
	}
	return n, nil
}

func isNamePart(s string) bool {
	for i := range len(s) {
		c := s[i]
		if !(c == '-' || c == '_' || c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z') {
			return false
		}
	}
	return s != ""
}

func isCompression(s string) bool {
	switch s {
	case "gz", "Z", "zip", "bz2":
		return true
	}
	return false
}
