package bufr

import (
	_ "embed"
	"fmt"
	"sort"
)

//go:generate go run tables/gen.go -out tables/wmo.bin

// wmo holds the tables as tables/gen.go packs them. It is read in place: nothing is
// parsed at start-up and a look-up touches only the records it needs.
//
//go:embed tables/wmo.bin
var wmo string

// Kind says how the bits of a field are read.
type Kind uint8

const (
	Number       Kind = iota // scale and reference apply
	Code                     // figure of a code table
	Flag                     // bits of a flag table, bit 1 is the most significant
	Text                     // octets of CCITT IA5
	Associated               // associated field of operator 2 04, stands before the element it belongs to
	Local                    // local element of operator 2 06: its meaning is unknown, its bits are kept
	Absent                   // element that operator 2 21 took out of the data: no bits, always missing
	Operator                 // operator 2 22 … 2 37 that data processing must see: no bits
	NewReference             // reference value given in the data by operator 2 03
)

var kindNames = [...]string{"number", "code", "flag", "text", "associated", "local", "absent", "operator", "reference"}

func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "unknown"
}

// Element is an entry of Table B: value = (raw + Reference) / 10^Scale, raw in Width bits.
type Element struct {
	Descriptor Descriptor
	Kind       Kind
	Scale      int
	Reference  int64
	Width      int    // bits
	Name       string // wording of the newest version, in sentence case
	Unit       string // as the WMO table spells it; "Code table" and "Flag table" for those
}

// LocalTables are definitions that the tables of the WMO do not hold: those of a
// centre, supplied by the user. They take precedence over the embedded ones.
type LocalTables struct {
	Elements  map[Descriptor]Element
	Sequences map[Descriptor][]Descriptor
}

// Tables are the element, sequence and code tables of one master table version with the
// local tables that go with it. The zero value is version 0, which reads as the oldest.
// Tables are small and comparable; copies may be used from several goroutines.
type Tables struct {
	version uint8
	space   uint8
	local   *LocalTables
}

// Sections of wmo, in the order of the header.
const (
	atVersions = iota
	atSpaces
	atElements
	atSequences
	atMembers
	atCodes
	atEntries
	atUnits
	atStrings
)

func u16(i int) int { return int(wmo[i]) | int(wmo[i+1])<<8 }
func u32(i int) int { return u16(i) | u16(i+2)<<16 }

// section returns where a section of wmo starts and how many records it has.
func section(i int) (offset, count int) { return u32(8 + 8*i), u32(12 + 8*i) }

func text(i int) string {
	at, n := section(atStrings)
	body := at + 4*(n+1)
	return wmo[body+u32(at+4*i) : body+u32(at+4*i+4)]
}

// NewestVersion returns the newest master table version embedded. The WMO's tables only grow,
// so a message of a later version is read with this one.
func NewestVersion() int {
	at, n := section(atVersions)
	return int(wmo[at+n-1])
}

// NewTables returns the tables for the figures in section 1: master table, its version, the
// originating centre and sub-centre and the local table version. A version that is not embedded
// is replaced by the newest one below it (or by the oldest). Master tables other than 0
// (meteorology) are refused. Unknown local tables are no error: the local descriptor is, where it is met.
func NewTables(masterTable, version, centre, subCentre, localVersion int) (Tables, error) {
	if masterTable != 0 {
		return Tables{}, fmt.Errorf("master table %d is not carried: only 0 (meteorology) is", masterTable)
	}
	var t Tables
	at, n := section(atVersions)
	t.version = wmo[at]
	for i := 0; i < n && int(wmo[at+i]) <= version; i++ {
		t.version = wmo[at+i]
	}
	if localVersion == 0 {
		return t, nil
	}
	at, n = section(atSpaces)
	for i := range n {
		if r := at + 6*i; u16(r) == centre && u16(r+2) == subCentre && int(wmo[r+4]) == localVersion {
			t.space = uint8(i + 1)
		}
	}
	return t, nil
}

// With returns the same tables with the user's local definitions on top. local must not change afterwards.
func (t Tables) With(local *LocalTables) Tables {
	t.local = local
	return t
}

// Version returns the master table version in use.
func (t Tables) Version() int { return int(t.version) }

// find returns the offset of the record of d that holds in version v of a space, or -1.
func find(sec, size int, space, v uint8, d Descriptor) int {
	at, n := section(sec)
	key := int(space)<<16 | int(d)
	i := sort.Search(n, func(i int) bool {
		r := at + i*size
		return int(wmo[r])<<16|u16(r+4) >= key
	})
	for ; i < n; i++ {
		r := at + i*size
		if int(wmo[r])<<16|u16(r+4) != key {
			break
		}
		if space > 0 || sec == atCodes || wmo[r+1] <= v && v <= wmo[r+2] {
			return r
		}
	}
	return -1
}

// Element returns the Table B entry of d, local definitions first.
func (t Tables) Element(d Descriptor) (Element, bool) {
	if t.local != nil {
		if e, ok := t.local.Elements[d]; ok {
			e.Descriptor = d
			return e, true
		}
	}
	r := -1
	if t.space > 0 {
		r = find(atElements, 16, t.space, 0, d)
	}
	if r < 0 {
		r = find(atElements, 16, 0, t.version, d)
	}
	if r < 0 {
		return Element{}, false
	}
	units, _ := section(atUnits)
	return Element{
		Descriptor: d,
		Kind:       Kind(wmo[r+3]),
		Width:      u16(r + 6),
		Reference:  int64(int32(u32(r + 8))),
		Scale:      int(int8(wmo[r+12])),
		Unit:       text(u16(units + 2*int(wmo[r+13]))),
		Name:       text(u16(r + 14)),
	}, true
}

// Sequence returns the Table D entry of d, local definitions first.
func (t Tables) Sequence(d Descriptor) ([]Descriptor, bool) {
	if t.local != nil {
		if s, ok := t.local.Sequences[d]; ok {
			return s, true
		}
	}
	r := -1
	if t.space > 0 {
		r = find(atSequences, 12, t.space, 0, d)
	}
	if r < 0 {
		r = find(atSequences, 12, 0, t.version, d)
	}
	if r < 0 {
		return nil, false
	}
	at, _ := section(atMembers)
	at += 2 * u32(r+8)
	out := make([]Descriptor, u16(r+6))
	for i := range out {
		out[i] = Descriptor(u16(at + 2*i))
	}
	return out, true
}

// knownVersions says in which master table versions d exists, for an error message; "" where in none.
func knownVersions(sec, size int, d Descriptor) string {
	at, n := section(sec)
	first, last := 0, 0
	for i := range n {
		if r := at + i*size; wmo[r] == 0 && Descriptor(u16(r+4)) == d {
			if first == 0 {
				first = int(wmo[r+1])
			}
			last = int(wmo[r+2])
		}
	}
	if first == 0 {
		return ""
	}
	return fmt.Sprintf("it exists in versions %d to %d", first, last)
}

// codeEntry returns the text of a figure of table d, or the generic kind that stands for every
// figure of a table whose meanings are names (exact is false then), or "".
func codeEntry(d Descriptor, figure uint64) (meaning string, exact bool) {
	r := find(atCodes, 16, 0, 0, d)
	if r < 0 {
		return "", false
	}
	at, _ := section(atEntries)
	at += 6 * u32(r+8)
	n := u16(r + 6)
	i := sort.Search(n, func(i int) bool { return uint64(u32(at+6*i)) >= figure })
	if i < n && uint64(u32(at+6*i)) == figure {
		return text(u16(at + 6*i + 4)), true
	}
	return text(u16(r + 12)), false
}

// Meaning returns what the figure raw of a code table means, or for a flag table of width bits the
// meanings of the bits that are on, joined by "; ". Tables that name makers, products, satellites or
// agencies give a generic kind instead of the name. "" where the table is not carried or the figure is reserved.
func Meaning(d Descriptor, kind Kind, width int, raw uint64) string {
	return string(appendMeaning(nil, d, kind, width, raw))
}

func appendMeaning(b []byte, d Descriptor, kind Kind, width int, raw uint64) []byte {
	switch kind {
	case Code:
		m, _ := codeEntry(d, raw)
		b = append(b, m...)
	case Flag:
		first := true
		for bit := 1; bit <= width && bit <= 64; bit++ {
			if raw>>(width-bit)&1 == 0 {
				continue
			}
			m, exact := codeEntry(d, uint64(bit))
			if !exact {
				continue
			}
			if !first {
				b = append(b, "; "...)
			}
			first = false
			b = append(b, m...)
		}
	}
	return b
}

func init() {
	// The file is written by our own generator; a damaged one would make every later figure wrong.
	if len(wmo) < 80 || wmo[:8] != "LLBUFR01" {
		panic("bufr: tables/wmo.bin is not what tables/gen.go writes")
	}
}
