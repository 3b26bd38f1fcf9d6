package bufr

import (
	"encoding/binary"
	"fmt"
)

// Header holds what sections 0, 1 and 3 say about a message, apart from lengths.
type Header struct {
	Edition          int // 2, 3 or 4
	MasterTable      int // 0 is meteorology
	Centre           int // originating centre, common code table C-11 (C-1 in editions 2 and 3)
	SubCentre        int // originating sub-centre; edition 2 has none
	Update           int // update sequence number: 0 original, then 1, 2 … for corrections
	Category         int // Table A; 2 is vertical soundings other than satellite
	SubCategory      int // international sub-category, edition 4 only; 255 not defined
	LocalSubCategory int // local sub-category
	TableVersion     int // version of the master table
	LocalVersion     int // version of the local tables; 0 none
	// Year to Second are the typical time of the content. Editions 2 and 3 carry the year of the
	// century: 1 to 49 and 100 are read as 2001 to 2049 and 2000, the others as 19xx. They have no second.
	Year, Month, Day, Hour, Minute, Second int
	LocalUse                               []byte // octets after the standard part of section 1; may be empty
	Optional                               []byte // local content of section 2; nil where there is no section 2
	Subsets                                int    // number of data subsets
	Observed                               bool   // observed data, as opposed to other data
	Compressed                             bool
	Descriptors                            []Descriptor // section 3, not expanded
}

// Message is one message with its sections taken apart; the data bits are not decoded yet.
type Message struct {
	Header
	Offset     int64  // byte of the stream at which the letters BUFR stand
	Length     int    // octets, sections 0 to 5
	Data       []byte // section 4 after its four leading octets
	DataOffset int64  // byte of the stream at which Data begins
	Before     Gap    // what stood between the end of the message before and this one
}

// Tables returns the embedded tables that the header asks for.
func (h *Header) Tables() (Tables, error) {
	return NewTables(h.MasterTable, h.TableVersion, h.Centre, h.SubCentre, h.LocalVersion)
}

// need is the least length of a message: sections 0, 1, 3, 4 and 5 with nothing in them.
const need = 8 + 17 + 7 + 4 + 4

// parseMessage takes apart the message at the beginning of b, which must hold all of it. offset is
// where b starts in the stream. The result refers to b.
func parseMessage(b []byte, offset int64) (*Message, error) {
	fail := func(at int, problem, hint string) (*Message, error) {
		return nil, &Error{Offset: offset + int64(at), Problem: problem, Hint: hint}
	}
	m := &Message{Offset: offset}
	m.Edition = int(b[7])
	m.Length = uint24(b[4:])
	b = b[:m.Length]
	end := len(b) - 4
	if string(b[end:]) != "7777" {
		return fail(end, fmt.Sprintf("the message does not end with 7777 after the %d octets it declares", m.Length), "it has been cut or altered; ask for it again")
	}
	// section returns the section at p, whose first three octets are its length.
	section := func(number, p, least int) ([]byte, error) {
		if p+3 > end {
			return nil, &Error{Offset: offset + int64(p), Problem: fmt.Sprintf("section %d starts beyond the end of the message", number), Hint: "a length before it is wrong"}
		}
		n := uint24(b[p:])
		if n < least || n > end-p {
			return nil, &Error{Offset: offset + int64(p), Problem: fmt.Sprintf("section %d declares %d octets; at least %d are needed and %d are left", number, n, least, end-p), Hint: "the length is wrong"}
		}
		return b[p : p+n], nil
	}
	p := 8
	least := 17
	if m.Edition == 4 {
		least = 22
	}
	s, err := section(1, p, least)
	if err != nil {
		return nil, err
	}
	var optional bool
	m.MasterTable = int(s[3])
	if m.Edition == 4 {
		m.Centre, m.SubCentre = int(binary.BigEndian.Uint16(s[4:])), int(binary.BigEndian.Uint16(s[6:]))
		m.Update = int(s[8])
		optional = s[9]&0x80 != 0
		m.Category, m.SubCategory, m.LocalSubCategory = int(s[10]), int(s[11]), int(s[12])
		m.TableVersion, m.LocalVersion = int(s[13]), int(s[14])
		m.Year = int(binary.BigEndian.Uint16(s[15:]))
		m.Month, m.Day, m.Hour, m.Minute, m.Second = int(s[17]), int(s[18]), int(s[19]), int(s[20]), int(s[21])
		m.LocalUse = s[22:]
	} else {
		if m.Edition == 3 {
			m.SubCentre, m.Centre = int(s[4]), int(s[5])
		} else {
			m.Centre = int(binary.BigEndian.Uint16(s[4:]))
		}
		m.Update = int(s[6])
		optional = s[7]&0x80 != 0
		m.Category, m.SubCategory, m.LocalSubCategory = int(s[8]), 255, int(s[9])
		m.TableVersion, m.LocalVersion = int(s[10]), int(s[11])
		m.Year = fullYear(int(s[12]))
		m.Month, m.Day, m.Hour, m.Minute = int(s[13]), int(s[14]), int(s[15]), int(s[16])
		m.LocalUse = s[17:]
	}
	p += len(s)
	if optional {
		if s, err = section(2, p, 4); err != nil {
			return nil, err
		}
		m.Optional = s[4:]
		p += len(s)
	}
	if s, err = section(3, p, 7); err != nil {
		return nil, err
	}
	m.Subsets = int(binary.BigEndian.Uint16(s[4:]))
	m.Observed, m.Compressed = s[6]&0x80 != 0, s[6]&0x40 != 0
	m.Descriptors = make([]Descriptor, (len(s)-7)/2)
	for i := range m.Descriptors {
		m.Descriptors[i] = Descriptor(binary.BigEndian.Uint16(s[7+2*i:]))
	}
	if m.Edition != 4 {
		// Octets that pad the section to an even count read as 0 00 000, which is no element.
		for n := len(m.Descriptors); n > 0 && m.Descriptors[n-1] == 0; n-- {
			m.Descriptors = m.Descriptors[:n-1]
		}
	}
	p += len(s)
	if s, err = section(4, p, 4); err != nil {
		return nil, err
	}
	if p+len(s) != end {
		return fail(p+len(s), fmt.Sprintf("section 4 ends %d octets before the end section", end-p-len(s)), "a section length is wrong")
	}
	m.Data = s[4:]
	m.DataOffset = offset + int64(p+4)
	return m, nil
}

func uint24(b []byte) int { return int(b[0])<<16 | int(b[1])<<8 | int(b[2]) }

// fullYear reads a year of the century.
func fullYear(y int) int {
	switch {
	case y > 100:
		return y
	case y == 100 || y == 0:
		return 2000
	case y < 50:
		return 2000 + y
	}
	return 1900 + y
}

// appendMessage adds sections 0 to 5 to dst; bits is the content of section 4.
func appendMessage(dst []byte, h *Header, bits []byte) ([]byte, error) {
	start := len(dst)
	check := func(name string, v, limit int) error {
		if v < 0 || v > limit {
			return fmt.Errorf("%s is %d; edition %d has room for 0 to %d", name, v, h.Edition, limit)
		}
		return nil
	}
	limit, subLimit := 65535, 65535
	if h.Edition == 3 {
		limit, subLimit = 255, 255
	}
	if h.Edition == 2 {
		subLimit = 0
	}
	if h.Edition < 2 || h.Edition > 4 {
		return nil, fmt.Errorf("edition %d cannot be written: 2, 3 and 4 can", h.Edition)
	}
	for _, c := range []struct {
		name     string
		v, limit int
	}{
		{"master table", h.MasterTable, 255}, {"originating centre", h.Centre, limit}, {"originating sub-centre", h.SubCentre, subLimit},
		{"update sequence number", h.Update, 255}, {"data category", h.Category, 255}, {"sub-category", h.SubCategory, 255},
		{"local sub-category", h.LocalSubCategory, 255}, {"master table version", h.TableVersion, 255}, {"local table version", h.LocalVersion, 255},
		{"year", h.Year, 65535}, {"month", h.Month, 255}, {"day", h.Day, 255}, {"hour", h.Hour, 255}, {"minute", h.Minute, 255}, {"second", h.Second, 255},
		{"number of subsets", h.Subsets, 65535}, {"number of descriptors", len(h.Descriptors), 1 << 22}, {"length of local use", len(h.LocalUse), 1 << 16}, {"length of section 2", len(h.Optional), 1 << 20},
	} {
		if err := check(c.name, c.v, c.limit); err != nil {
			return nil, err
		}
	}
	// pad brings a section of editions 2 and 3 to an even count of octets, and notes its length.
	pad := func(p int) {
		if h.Edition != 4 && (len(dst)-p)%2 == 1 {
			dst = append(dst, 0)
		}
		n := len(dst) - p
		dst[p], dst[p+1], dst[p+2] = byte(n>>16), byte(n>>8), byte(n)
	}
	flag := func(on bool, bit byte) byte {
		if on {
			return bit
		}
		return 0
	}
	dst = append(dst, 'B', 'U', 'F', 'R', 0, 0, 0, byte(h.Edition))
	p := len(dst)
	dst = append(dst, 0, 0, 0, byte(h.MasterTable))
	switch h.Edition {
	case 4:
		dst = binary.BigEndian.AppendUint16(dst, uint16(h.Centre))
		dst = binary.BigEndian.AppendUint16(dst, uint16(h.SubCentre))
		dst = append(dst, byte(h.Update), flag(h.Optional != nil, 0x80), byte(h.Category), byte(h.SubCategory), byte(h.LocalSubCategory), byte(h.TableVersion), byte(h.LocalVersion))
		dst = binary.BigEndian.AppendUint16(dst, uint16(h.Year))
		dst = append(dst, byte(h.Month), byte(h.Day), byte(h.Hour), byte(h.Minute), byte(h.Second))
	default:
		if h.Edition == 3 {
			dst = append(dst, byte(h.SubCentre), byte(h.Centre))
		} else {
			dst = binary.BigEndian.AppendUint16(dst, uint16(h.Centre))
		}
		century := h.Year % 100
		if century == 0 {
			century = 100
		}
		dst = append(dst, byte(h.Update), flag(h.Optional != nil, 0x80), byte(h.Category), byte(h.LocalSubCategory), byte(h.TableVersion), byte(h.LocalVersion),
			byte(century), byte(h.Month), byte(h.Day), byte(h.Hour), byte(h.Minute))
	}
	dst = append(dst, h.LocalUse...)
	pad(p)
	if h.Optional != nil {
		p = len(dst)
		dst = append(dst, 0, 0, 0, 0)
		dst = append(dst, h.Optional...)
		pad(p)
	}
	p = len(dst)
	dst = append(dst, 0, 0, 0, 0, byte(h.Subsets>>8), byte(h.Subsets), flag(h.Observed, 0x80)|flag(h.Compressed, 0x40))
	for _, d := range h.Descriptors {
		dst = binary.BigEndian.AppendUint16(dst, uint16(d))
	}
	pad(p)
	p = len(dst)
	dst = append(dst, 0, 0, 0, 0)
	dst = append(dst, bits...)
	pad(p)
	dst = append(dst, "7777"...)
	n := len(dst) - start
	if n >= 1<<24 {
		return nil, fmt.Errorf("the message has %d octets; its length field ends at %d: send fewer levels or subsets in one message", n, 1<<24-1)
	}
	dst[start+4], dst[start+5], dst[start+6] = byte(n>>16), byte(n>>8), byte(n)
	return dst, nil
}
