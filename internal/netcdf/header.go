package netcdf

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Limits of a header, far above what soundings need. They bound the memory that a
// damaged or hostile file can cost.
const (
	maxHeaderBytes   = 16 << 20
	maxListLength    = 1 << 16 // dimensions, variables, attributes of one list
	maxVariableRank  = 1024
	firstHeaderBytes = 64 << 10
)

// Tags of the lists in a header.
const (
	tagDimension = 0x0A
	tagVariable  = 0x0B
	tagAttribute = 0x0C
)

// File is an open classic file. It is safe for several goroutines if its reader
// is. Its fields must not be changed.
type File struct {
	Kind       Kind
	Dimensions []Dimension
	Attributes Attributes
	Variables  []*Variable
	Records    int64 // length of the unlimited dimension, 0 without one

	r          io.ReaderAt
	size       int64
	recordSize int64 // bytes from one record to the next
	byName     map[string]*Variable
}

// Variable is a named array of values. Its fields must not be changed.
type Variable struct {
	Name       string
	Type       Type
	Dimensions []int   // indices into File.Dimensions, slowest first
	Shape      []int64 // lengths of these dimensions; empty for a scalar
	Attributes Attributes
	Record     bool // its first dimension is the unlimited one

	begin int64 // byte of its first value
	slab  int64 // bytes of the whole variable, or of one record, without padding
	len   int64
}

// Len returns the number of values, 1 for a scalar.
func (v *Variable) Len() int64 { return v.len }

// Variable returns the variable of that name, nil if there is none.
func (f *File) Variable(name string) *Variable { return f.byName[normal(name)] }

// Sniff tells the kind of a file from its first bytes, 0 if it is none that this
// package knows. An HDF5 signature is also looked for at 512, 1024, 2048 bytes and
// so on, where that format allows it.
func Sniff(r io.ReaderAt, size int64) Kind {
	var b [8]byte
	for off := int64(0); off+8 <= size; {
		if n, _ := r.ReadAt(b[:], off); n == 8 && string(b[:]) == "\x89HDF\r\n\x1a\n" {
			return HDF5
		}
		if off == 0 {
			if string(b[:3]) == "CDF" && (b[3] == 1 || b[3] == 2 || b[3] == 5) {
				return Kind(b[3])
			}
			off = 256
		}
		if off >= 1<<24 {
			break
		}
		off *= 2
	}
	return 0
}

// Open reads the header of a classic file of size bytes. The error is a
// *FormatError for a file that breaks the format, wraps ErrHDF5 for a netCDF-4
// file, and is the reader's own for a failed read. There is no file with an error.
func Open(r io.ReaderAt, size int64) (*File, error) {
	f, err := (&header{r: r, size: size}).file()
	if err != nil {
		return nil, err
	}
	return f, nil
}

// OpenCut opens a file whose end is missing, which Open refuses: it takes the
// records that are there as a whole and returns how many of those the header
// promises are lost, 0 for a whole file. Fixed-size variables must be complete, and
// so must one record.
func OpenCut(r io.ReaderAt, size int64) (f *File, lost int64, err error) {
	h := &header{r: r, size: size, cut: true}
	if f, err = h.file(); err != nil {
		return nil, 0, err
	}
	return f, h.lost, nil
}

// header walks through the first bytes of a file. buf holds the file from byte 0
// and grows only as far as counts that were checked against the file's size ask.
type header struct {
	r    io.ReaderAt
	size int64
	buf  []byte
	off  int64
	wide bool // CDF-5: counts have 64 bits

	cut  bool  // take what is left of a file that was cut off
	lost int64 // records that are missing then
}

func (h *header) fail(off int64, want, hint, got string, args ...any) error {
	return &FormatError{Offset: off, Want: want, Got: fmt.Sprintf(got, args...), Hint: hint}
}

// left returns how many bytes the header could still take.
func (h *header) left() int64 { return min(h.size, maxHeaderBytes) - h.off }

// take returns the next n bytes and steps over them.
func (h *header) take(n int64, want string) ([]byte, error) {
	if n > h.size-h.off {
		return nil, h.fail(h.off, fmt.Sprintf("%d bytes of %s", n, want), hintCut, "end of file after %d bytes", h.size-h.off)
	}
	if n > h.left() {
		return nil, h.fail(h.off, fmt.Sprintf("a header of at most %d bytes", maxHeaderBytes), "", "%s that goes beyond", want)
	}
	end := h.off + n
	if have := int64(len(h.buf)); end > have {
		grown := make([]byte, min(h.size, maxHeaderBytes, max(end, 2*have, firstHeaderBytes)))
		copy(grown, h.buf)
		if got, err := h.r.ReadAt(grown[have:], have); int64(got) < int64(len(grown))-have {
			if err == nil || errors.Is(err, io.EOF) {
				return nil, h.fail(have+int64(got), fmt.Sprintf("a file of %d bytes", h.size), hintCut, "end of file")
			}
			return nil, fmt.Errorf("netCDF file, byte %d: read of the header failed: %w", have+int64(got), err)
		}
		h.buf = grown
	}
	b := h.buf[h.off:end:end]
	h.off = end
	return b, nil
}

func (h *header) uint32(want string) (uint32, error) {
	b, err := h.take(4, want)
	if err != nil {
		return 0, err
	}
	return binary.BigEndian.Uint32(b), nil
}

// count reads a number that has 32 bits in CDF-1 and CDF-2 and 64 in CDF-5. The
// older formats' sizes are taken as unsigned, as the C library takes them.
func (h *header) count(want string) (int64, error) {
	if !h.wide {
		n, err := h.uint32(want)
		return int64(n), err
	}
	at := h.off
	b, err := h.take(8, want)
	if err != nil {
		return 0, err
	}
	n := binary.BigEndian.Uint64(b)
	if n > math.MaxInt64 {
		return 0, h.fail(at, want, "", "negative number %d", int64(n))
	}
	return int64(n), nil
}

// list reads the tag and the length of a list whose elements take at least
// smallest bytes each.
func (h *header) list(tag uint32, smallest int64, what string) (int64, error) {
	at := h.off
	got, err := h.uint32("tag of the list of " + what)
	if err != nil {
		return 0, err
	}
	atCount := h.off
	n, err := h.count("number of " + what)
	if err != nil {
		return 0, err
	}
	if got == 0 && n == 0 {
		return 0, nil
	}
	if got != tag {
		return 0, h.fail(at, fmt.Sprintf("tag 0x%02X of the list of %s or zeros for none", tag, what), "", "0x%X", got)
	}
	if n > maxListLength {
		return 0, h.fail(atCount, fmt.Sprintf("at most %d %s", maxListLength, what), "", "%d", n)
	}
	if n > h.left()/smallest {
		return 0, h.fail(atCount, fmt.Sprintf("a number of %s that fits in the file (at most %d)", what, h.left()/smallest), hintCut, "%d", n)
	}
	return n, nil
}

func (h *header) name(what string) (string, error) {
	at := h.off
	n, err := h.count("length of the name of a " + what)
	if err != nil {
		return "", err
	}
	if n == 0 {
		return "", h.fail(at, "a name of a "+what, "", "empty name")
	}
	if n > h.left() {
		return "", h.fail(at, fmt.Sprintf("a name of a %s that fits in the file (at most %d bytes)", what, h.left()), hintCut, "%d bytes", n)
	}
	b, err := h.take(padded(n), "name of a "+what)
	if err != nil {
		return "", err
	}
	return string(b[:n]), nil
}

func (h *header) valueType(what string) (Type, error) {
	at := h.off
	n, err := h.uint32("type of " + what)
	if err != nil {
		return 0, err
	}
	highest := uint32(Double)
	if h.wide {
		highest = uint32(UInt64)
	}
	if n < 1 || n > highest {
		return 0, h.fail(at, fmt.Sprintf("type of %s, 1 to %d", what, highest), "", "%d", n)
	}
	return Type(n), nil
}

func (h *header) attributes(owner string) (Attributes, error) {
	smallest := int64(12)
	if h.wide {
		smallest = 20
	}
	n, err := h.list(tagAttribute, smallest, "attributes of "+owner)
	if err != nil || n == 0 {
		return nil, err
	}
	var list Attributes
	seen := map[string]bool{}
	for range n {
		at := h.off
		name, err := h.name("attribute")
		if err != nil {
			return nil, err
		}
		if seen[normal(name)] {
			return nil, h.fail(at, "different names of the attributes of "+owner, "", "%q twice", name)
		}
		seen[normal(name)] = true
		typ, err := h.valueType("attribute " + name)
		if err != nil {
			return nil, err
		}
		at = h.off
		length, err := h.count("length of attribute " + name)
		if err != nil {
			return nil, err
		}
		if length > h.left()/typ.size() {
			return nil, h.fail(at, fmt.Sprintf("a length of attribute %s that fits in the file (at most %d)", name, h.left()/typ.size()), hintCut, "%d", length)
		}
		raw, err := h.take(padded(length*typ.size()), "attribute "+name)
		if err != nil {
			return nil, err
		}
		list = append(list, Attribute{Name: name, Value: attributeValue(typ, raw, int(length))})
	}
	return list, nil
}

func attributeValue(t Type, raw []byte, n int) any {
	switch t {
	case Char:
		return string(raw[:n])
	case Byte:
		return decoded(n, func(i int) int8 { return int8(raw[i]) })
	case UByte:
		return decoded(n, func(i int) uint8 { return raw[i] })
	case Short:
		return decoded(n, func(i int) int16 { return int16(binary.BigEndian.Uint16(raw[2*i:])) })
	case UShort:
		return decoded(n, func(i int) uint16 { return binary.BigEndian.Uint16(raw[2*i:]) })
	case Int:
		return decoded(n, func(i int) int32 { return int32(binary.BigEndian.Uint32(raw[4*i:])) })
	case UInt:
		return decoded(n, func(i int) uint32 { return binary.BigEndian.Uint32(raw[4*i:]) })
	case Float:
		return decoded(n, func(i int) float32 { return math.Float32frombits(binary.BigEndian.Uint32(raw[4*i:])) })
	case Double:
		return decoded(n, func(i int) float64 { return math.Float64frombits(binary.BigEndian.Uint64(raw[8*i:])) })
	case Int64:
		return decoded(n, func(i int) int64 { return int64(binary.BigEndian.Uint64(raw[8*i:])) })
	default: // UInt64; valueType lets no other through
		return decoded(n, func(i int) uint64 { return binary.BigEndian.Uint64(raw[8*i:]) })
	}
}

func decoded[T any](n int, at func(int) T) []T {
	out := make([]T, n)
	for i := range out {
		out[i] = at(i)
	}
	return out
}

func (h *header) file() (*File, error) {
	if h.size < 4 {
		return nil, h.fail(0, `"CDF" and a version`, hintCut, "a file of %d bytes", h.size)
	}
	magic, err := h.take(4, "signature")
	if err != nil {
		return nil, err
	}
	f := &File{r: h.r, size: h.size, byName: map[string]*Variable{}}
	if string(magic[:3]) != "CDF" || (magic[3] != 1 && magic[3] != 2 && magic[3] != 5) {
		e := &FormatError{Offset: 0, Want: `"CDF" and version 1, 2 or 5`, Got: fmt.Sprintf("%q", magic), Hint: "this is not a netCDF file"}
		if Sniff(h.r, h.size) == HDF5 {
			e.Err, e.Hint = ErrHDF5, "this is a netCDF-4 file: convert it with nccopy -k cdf5 (Debian package netcdf-bin)"
		}
		return nil, e
	}
	f.Kind = Kind(magic[3])
	h.wide = f.Kind == Data64Bit

	atRecords := h.off
	streaming := false
	if h.wide {
		b, err := h.take(8, "number of records")
		if err != nil {
			return nil, err
		}
		n := binary.BigEndian.Uint64(b)
		streaming = n == math.MaxUint64
		if !streaming && n > math.MaxInt64 {
			return nil, h.fail(atRecords, "number of records", "", "negative number %d", int64(n))
		}
		f.Records = int64(n)
	} else {
		n, err := h.uint32("number of records")
		if err != nil {
			return nil, err
		}
		streaming = n == math.MaxUint32
		f.Records = int64(n)
	}
	if streaming {
		f.Records = 0
	}

	unlimited, err := h.dimensions(f)
	if err != nil {
		return nil, err
	}
	if f.Attributes, err = h.attributes("the file"); err != nil {
		return nil, err
	}
	if err := h.variables(f, unlimited); err != nil {
		return nil, err
	}
	if unlimited < 0 {
		f.Records = 0
		return f, h.place(f, atRecords)
	}
	if streaming {
		f.Records = f.countRecords()
	}
	if whole := f.countRecords(); h.cut && f.recordSize > 0 && whole > 0 && whole < f.Records {
		h.lost, f.Records = f.Records-whole, whole
	}
	f.Dimensions[unlimited].Length = f.Records
	return f, h.place(f, atRecords)
}

// dimensions returns the index of the unlimited dimension, -1 without one.
func (h *header) dimensions(f *File) (unlimited int, err error) {
	smallest := int64(12)
	if h.wide {
		smallest = 20
	}
	unlimited = -1
	n, err := h.list(tagDimension, smallest, "dimensions")
	if err != nil {
		return -1, err
	}
	seen := map[string]bool{}
	for i := range int(n) {
		at := h.off
		name, err := h.name("dimension")
		if err != nil {
			return -1, err
		}
		if seen[normal(name)] {
			return -1, h.fail(at, "different names of dimensions", "", "%q twice", name)
		}
		seen[normal(name)] = true
		at = h.off
		length, err := h.count("length of dimension " + name)
		if err != nil {
			return -1, err
		}
		if length == 0 {
			if unlimited >= 0 {
				return -1, h.fail(at, "one unlimited dimension (length 0)", "", "a second one, %q", name)
			}
			unlimited = i
		}
		f.Dimensions = append(f.Dimensions, Dimension{Name: name, Length: length, Unlimited: length == 0})
	}
	return unlimited, nil
}

func (h *header) variables(f *File, unlimited int) error {
	smallest := int64(32)
	if h.wide {
		smallest = 52
	}
	n, err := h.list(tagVariable, smallest, "variables")
	if err != nil {
		return err
	}
	for range n {
		at := h.off
		name, err := h.name("variable")
		if err != nil {
			return err
		}
		v := &Variable{Name: name, slab: 1}
		if f.byName[normal(name)] != nil {
			return h.fail(at, "different names of variables", "", "%q twice", name)
		}
		f.byName[normal(name)] = v
		at = h.off
		rank, err := h.count("number of dimensions of " + name)
		if err != nil {
			return err
		}
		if rank > maxVariableRank || rank > h.left()/4 {
			return h.fail(at, fmt.Sprintf("at most %d dimensions of %s", min(maxVariableRank, h.left()/4), name), "", "%d", rank)
		}
		v.Dimensions, v.Shape = make([]int, rank), make([]int64, rank)
		for i := range v.Dimensions {
			at := h.off
			id, err := h.count("dimension of " + name)
			if err != nil {
				return err
			}
			if id >= int64(len(f.Dimensions)) {
				return h.fail(at, fmt.Sprintf("a dimension of %s below %d", name, len(f.Dimensions)), "", "%d", id)
			}
			v.Dimensions[i] = int(id)
			if int(id) == unlimited {
				if i != 0 {
					return h.fail(at, "the unlimited dimension only as first dimension of "+name, "", "as dimension %d", i+1)
				}
				v.Record = true
				continue
			}
			v.Shape[i] = f.Dimensions[id].Length
			var ok bool
			if v.slab, ok = mul(v.slab, v.Shape[i]); !ok {
				return h.fail(at, "a size of "+name+" below 2^63 bytes", "", "more")
			}
		}
		if v.Attributes, err = h.attributes(name); err != nil {
			return err
		}
		at = h.off
		if v.Type, err = h.valueType(name); err != nil {
			return err
		}
		v.len = v.slab
		var ok bool
		if v.slab, ok = mul(v.slab, v.Type.size()); !ok || v.slab > math.MaxInt64-3 {
			return h.fail(at, "a size of "+name+" below 2^63 bytes", "", "more")
		}
		// The stored size is redundant and cannot hold large sizes in the older
		// formats: the specification tells readers to compute it, so it is skipped.
		if _, err = h.count("size of " + name); err != nil {
			return err
		}
		if f.Kind == Classic {
			b, err := h.uint32("offset of " + name)
			if err != nil {
				return err
			}
			v.begin = int64(b)
		} else {
			at := h.off
			b, err := h.take(8, "offset of "+name)
			if err != nil {
				return err
			}
			off := binary.BigEndian.Uint64(b)
			if off > math.MaxInt64 {
				return h.fail(at, "offset of "+name, "", "negative number %d", int64(off))
			}
			v.begin = int64(off)
		}
		f.Variables = append(f.Variables, v)
	}
	return f.measureRecord()
}

// measureRecord finds the bytes from one record to the next: the padded sizes of
// all record variables, or the bare size where there is only one (the
// specification's special case).
func (f *File) measureRecord() error {
	var only *Variable
	records := 0
	for _, v := range f.Variables {
		if !v.Record {
			continue
		}
		records++
		only = v
		var ok bool
		if f.recordSize, ok = add(f.recordSize, padded(v.slab)); !ok {
			return &FormatError{Offset: 4, Want: "records below 2^63 bytes", Got: "more"}
		}
	}
	if records == 1 {
		f.recordSize = only.slab
	}
	return nil
}

// countRecords finds how many whole records the file holds, for a file whose
// header leaves the number open (written to a stream). The padding at the end of
// the last record may be missing.
func (f *File) countRecords() int64 {
	n := int64(math.MaxInt64)
	for _, v := range f.Variables {
		if !v.Record {
			continue
		}
		room := f.size - v.begin - v.slab
		if room < 0 {
			return 0
		}
		n = min(n, room/f.recordSize+1)
	}
	if n == math.MaxInt64 { // no variable has records
		return 0
	}
	return n
}

// place checks that all values of all variables lie in the file, behind the
// header, and sets the lengths that depend on the number of records.
func (h *header) place(f *File, atRecords int64) error {
	for _, v := range f.Variables {
		need := v.slab
		if v.Record {
			v.Shape[0] = f.Records
			if f.Records == 0 {
				v.len = 0
				continue
			}
			span, ok := mul(f.Records-1, f.recordSize)
			if ok {
				need, ok = add(span, v.slab)
			}
			if !ok || v.begin > h.size || need > h.size-v.begin {
				whole := f.countRecords()
				return h.fail(atRecords, "a number of records that fits in the file", hintCut, "%d, but variable %s has room for %d in %d bytes of file", f.Records, v.Name, whole, h.size)
			}
			v.len *= f.Records // cannot overflow: fewer values than bytes
		}
		if v.begin < h.off || v.begin > h.size || need > h.size-v.begin {
			return h.fail(v.begin, fmt.Sprintf("%d bytes of variable %s between the header's end at byte %d and the file's at byte %d", need, v.Name, h.off, h.size), hintCut, "an offset of %d", v.begin)
		}
	}
	return nil
}
