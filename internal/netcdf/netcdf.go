// Package netcdf reads and writes the three classic netCDF formats (CDF-1, CDF-2
// with 64-bit offsets, CDF-5 with 64-bit counts) and reads netCDF-4 by letting
// the installed program nccopy convert it first. It knows CF attributes of time,
// packing and standard names, and nothing about soundings.
//
// Reading: Open parses the header, checking each count against the size of the
// file before anything is allocated, then values are read in pieces of at most
// 1 MiB. Writing: a Dataset declares dimensions, attributes and columns; the size
// of the file is known before its first byte is written, and the bytes are the
// same each time.
//
// Source of the layout: the netCDF Classic Format Specification (Unidata, NetCDF
// Users Guide, appendix "File Format Specifications") and its CDF-5 extension.
package netcdf

import (
	"errors"
	"fmt"
	"math"
	"math/bits"

	"golang.org/x/text/unicode/norm"
)

// Kind is the variant of a file. The zero value means "not decided": a writer
// then takes the oldest variant that can hold the file.
type Kind uint8

const (
	Classic     Kind = 1 // CDF-1: offsets below 2 GiB
	Offset64Bit Kind = 2 // CDF-2: 64-bit offsets
	Data64Bit   Kind = 5 // CDF-5: 64-bit offsets and counts, unsigned and 64-bit types
	HDF5        Kind = 4 // netCDF-4 in an HDF5 file: see ConvertClassic
)

// String names the kind in the words of the netCDF tools.
func (k Kind) String() string {
	switch k {
	case Classic:
		return "classic"
	case Offset64Bit:
		return "64-bit offset"
	case Data64Bit:
		return "cdf5"
	case HDF5:
		return "netCDF-4"
	}
	return "not netCDF"
}

// Type is the type of the values of a variable or an attribute. The numbers are
// those of the file format.
type Type uint8

const (
	Byte   Type = 1  // 8-bit signed
	Char   Type = 2  // text
	Short  Type = 3  // 16-bit signed
	Int    Type = 4  // 32-bit signed
	Float  Type = 5  // IEEE single
	Double Type = 6  // IEEE double
	UByte  Type = 7  // 8-bit unsigned, CDF-5 only
	UShort Type = 8  // 16-bit unsigned, CDF-5 only
	UInt   Type = 9  // 32-bit unsigned, CDF-5 only
	Int64  Type = 10 // 64-bit signed, CDF-5 only
	UInt64 Type = 11 // 64-bit unsigned, CDF-5 only
)

var typeNames = [...]string{"no type", "byte", "char", "short", "int", "float", "double", "ubyte", "ushort", "uint", "int64", "uint64"}

var typeSizes = [...]int64{0, 1, 1, 2, 4, 4, 8, 1, 2, 4, 8, 8}

// String names the type as CDL does.
func (t Type) String() string {
	if int(t) < len(typeNames) {
		return typeNames[t]
	}
	return fmt.Sprintf("type %d", uint8(t))
}

// size returns the bytes of one value, 0 for an unknown type.
func (t Type) size() int64 {
	if int(t) < len(typeSizes) {
		return typeSizes[t]
	}
	return 0
}

// defaultFill returns the value that the netCDF library puts where nothing was
// written (NC_FILL_BYTE ... in the Users Guide), as the 8 low bytes of its
// big-endian pattern in the size of the type.
func (t Type) defaultFill() uint64 {
	switch t {
	case Byte:
		return 0x81 // -127
	case Short:
		return 0x8001 // -32767
	case Int:
		return 0x80000001 // -2147483647
	case Float:
		return 0x7cf00000 // 9.96921e+36
	case Double:
		return 0x479e000000000000 // 9.96921e+36
	case UByte:
		return 0xff
	case UShort:
		return 0xffff
	case UInt:
		return 0xffffffff
	case Int64:
		return 0x8000000000000002 // -9223372036854775806
	case UInt64:
		return 0xfffffffffffffffe
	}
	return 0
}

// Dimension is a named axis. Its length is what the header says; only the length
// of a variable is known to be backed by bytes of the file.
type Dimension struct {
	Name      string
	Length    int64 // of the unlimited dimension: the number of records
	Unlimited bool
}

// Attribute is a named value of a file or a variable. Value is a string (type
// char) or a slice: []int8 (byte), []int16, []int32, []float32, []float64, and in
// CDF-5 []uint8 (ubyte), []uint16, []uint32, []int64, []uint64.
type Attribute struct {
	Name  string
	Value any
}

// Attributes is a list in the order of the file.
type Attributes []Attribute

// Value returns the value of the attribute of that name.
func (a Attributes) Value(name string) (any, bool) {
	for i := range a {
		if a[i].Name == name {
			return a[i].Value, true
		}
	}
	return nil, false
}

// Text returns a text attribute without the zero bytes that some programs store
// at its end; false if there is none or it is a number.
func (a Attributes) Text(name string) (string, bool) {
	v, _ := a.Value(name)
	s, ok := v.(string)
	return trimZeros(s), ok
}

// Float64s returns a numeric attribute as float64; false if there is none or it
// is text. 64-bit integers beyond 2^53 are rounded.
func (a Attributes) Float64s(name string) ([]float64, bool) {
	v, ok := a.Value(name)
	if !ok {
		return nil, false
	}
	switch v := v.(type) {
	case []int8:
		return float64s(v), true
	case []uint8:
		return float64s(v), true
	case []int16:
		return float64s(v), true
	case []uint16:
		return float64s(v), true
	case []int32:
		return float64s(v), true
	case []uint32:
		return float64s(v), true
	case []int64:
		return float64s(v), true
	case []uint64:
		return float64s(v), true
	case []float32:
		return float64s(v), true
	case []float64:
		return float64s(v), true
	}
	return nil, false
}

// Float64 returns a numeric attribute of one value.
func (a Attributes) Float64(name string) (float64, bool) {
	v, ok := a.Float64s(name)
	if !ok || len(v) != 1 {
		return math.NaN(), false
	}
	return v[0], true
}

func float64s[T int8 | uint8 | int16 | uint16 | int32 | uint32 | int64 | uint64 | float32 | float64](v []T) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = float64(x)
	}
	return out
}

func trimZeros(s string) string {
	for len(s) > 0 && s[len(s)-1] == 0 {
		s = s[:len(s)-1]
	}
	return s
}

// ErrHDF5 marks a netCDF-4 file given to Open, which reads the classic formats.
var ErrHDF5 = errors.New("netCDF-4 file (HDF5), not a classic one")

// FormatError says where a file breaks the format, and what was wanted there.
type FormatError struct {
	Offset int64 // byte from the start of the file
	Want   string
	Got    string
	Hint   string // what to do; may be empty
	Err    error  // cause; may be nil
}

// Error gives place, expectation, finding and hint in one line.
func (e *FormatError) Error() string {
	s := fmt.Sprintf("netCDF file, byte %d: wanted %s, got %s", e.Offset, e.Want, e.Got)
	if e.Hint != "" {
		s += "; " + e.Hint
	}
	return s
}

// Unwrap returns the cause.
func (e *FormatError) Unwrap() error { return e.Err }

const hintCut = "the file may be cut off: compare its size with the original or fetch it again"

// mul and add return a product and a sum of non-negative numbers, false if they
// do not fit in an int64.
func mul(a, b int64) (int64, bool) {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	return int64(lo), hi == 0 && lo <= math.MaxInt64
}

func add(a, b int64) (int64, bool) {
	c := a + b
	return c, c >= 0
}

// padded rounds up to a multiple of 4, the alignment of the format.
func padded(n int64) int64 { return (n + 3) &^ 3 }

// normal returns a name in the form in which the format stores it (Unicode NFC).
func normal(name string) string { return norm.NFC.String(name) }
