package netcdf

import (
	"encoding/binary"
	"fmt"
	"math"
)

// Limits of the older kinds (Users Guide, "Limitations"): a dimension, the bytes of
// one variable (one record of it), the offset of a variable.
const (
	olderDimension  = math.MaxInt32 - 3
	classicVariable = math.MaxInt32 - 3
	olderVariable   = math.MaxUint32 - 3
	classicOffset   = math.MaxInt32
)

// definition is what a header says of one variable.
type definition struct {
	name       string
	typ        Type
	dimensions []int
	attributes Attributes
	record     bool
	slab       int64 // bytes of the variable or of one record of it, without padding
	begin      int64
}

// layout is a file before its values: header and offsets.
type layout struct {
	kind       Kind
	dimensions []Dimension
	attributes Attributes
	variables  []definition

	records    int64
	recordSize int64
	bare       bool // one record variable only: no padding between records
	fixedEnd   int64
	size       int64 // bytes of the whole file
	header     []byte
}

// arrange finds the kind (the oldest that fits, if kind is 0), the offsets and the
// header. The dimension indices and types must be valid.
func (l *layout) arrange(kind Kind) error {
	kinds := []Kind{kind}
	if kind == 0 {
		kinds = []Kind{Classic, Offset64Bit, Data64Bit}
	}
	var err error
	for _, k := range kinds {
		l.kind = k
		if err = l.place(); err == nil {
			return nil
		}
	}
	return err
}

func (l *layout) place() error {
	if err := l.typesFit(); err != nil {
		return err
	}
	l.records = 0
	for _, d := range l.dimensions {
		if l.kind != Data64Bit && d.Length > olderDimension {
			return fmt.Errorf("dimension %s has length %d: %s files hold at most %d", d.Name, d.Length, l.kind, int64(olderDimension))
		}
		if d.Unlimited {
			l.records = d.Length
		}
	}
	recordVariables := 0
	for i := range l.variables {
		v := &l.variables[i]
		v.record = false
		v.slab = v.typ.size()
		for j, d := range v.dimensions {
			if l.dimensions[d].Unlimited {
				if j != 0 {
					return fmt.Errorf("variable %s: the unlimited dimension %s must come first", v.name, l.dimensions[d].Name)
				}
				v.record = true
				recordVariables++
				continue
			}
			var ok bool
			if v.slab, ok = mul(v.slab, l.dimensions[d].Length); !ok || v.slab > math.MaxInt64-3 {
				return fmt.Errorf("variable %s is larger than 2^63 bytes", v.name)
			}
		}
		if l.kind == Classic && v.slab > classicVariable || l.kind == Offset64Bit && v.slab > olderVariable {
			return fmt.Errorf("variable %s has %d bytes (in one record): too large for a %s file", v.name, v.slab, l.kind)
		}
	}
	l.bare = recordVariables == 1

	// The offsets have a fixed width, so the header's length does not depend on them.
	l.encodeHeader()
	if len(l.header) > maxHeaderBytes {
		return fmt.Errorf("the header has %d bytes, more than %d: shorten the attributes", len(l.header), maxHeaderBytes)
	}
	end := int64(len(l.header))
	for _, record := range []bool{false, true} {
		if record {
			l.fixedEnd, l.recordSize = end, 0
		}
		for i := range l.variables {
			v := &l.variables[i]
			if v.record != record {
				continue
			}
			v.begin = end
			if l.kind == Classic && v.begin > classicOffset {
				return fmt.Errorf("variable %s begins at byte %d: too far for a classic file", v.name, v.begin)
			}
			step := padded(v.slab)
			if record && l.bare {
				step = v.slab
			}
			var ok bool
			if end, ok = add(end, step); !ok {
				return fmt.Errorf("the file would be larger than 2^63 bytes")
			}
			if record {
				l.recordSize += step // below end
			}
		}
	}
	span, ok := mul(l.records, l.recordSize)
	if ok {
		l.size, ok = add(l.fixedEnd, span)
	}
	if !ok || l.size > math.MaxInt64-3 {
		return fmt.Errorf("the file would be larger than 2^63 bytes")
	}
	l.encodeHeader()
	return nil
}

func (l *layout) typesFit() error {
	if l.kind == Data64Bit {
		return nil
	}
	if l.kind != Classic && l.kind != Offset64Bit {
		return fmt.Errorf("cannot write a file of kind %s", l.kind)
	}
	attributes := func(owner string, list Attributes) error {
		for _, a := range list {
			if t := attributeType(a.Value); t > Double {
				return fmt.Errorf("attribute %s of %s has type %s, which needs a cdf5 file", a.Name, owner, t)
			}
		}
		return nil
	}
	if err := attributes("the file", l.attributes); err != nil {
		return err
	}
	for i := range l.variables {
		v := &l.variables[i]
		if v.typ > Double {
			return fmt.Errorf("variable %s has type %s, which needs a cdf5 file", v.name, v.typ)
		}
		if err := attributes(v.name, v.attributes); err != nil {
			return err
		}
	}
	return nil
}

func (l *layout) encodeHeader() {
	b := append(l.header[:0], 'C', 'D', 'F', byte(l.kind))
	wide := l.kind == Data64Bit
	count := func(n int64) {
		if wide {
			b = binary.BigEndian.AppendUint64(b, uint64(n))
		} else {
			b = binary.BigEndian.AppendUint32(b, uint32(n))
		}
	}
	word := func(n uint32) { b = binary.BigEndian.AppendUint32(b, n) }
	align := func() {
		for len(b)%4 != 0 {
			b = append(b, 0)
		}
	}
	list := func(tag uint32, n int) {
		if n == 0 {
			tag = 0
		}
		word(tag)
		count(int64(n))
	}
	name := func(s string) {
		count(int64(len(s)))
		b = append(b, s...)
		align()
	}
	attributes := func(as Attributes) {
		list(tagAttribute, len(as))
		for _, a := range as {
			name(a.Name)
			word(uint32(attributeType(a.Value)))
			var n int
			at := len(b)
			count(0)
			b, n = appendAttributeValue(b, a.Value)
			if wide {
				binary.BigEndian.PutUint64(b[at:], uint64(n))
			} else {
				binary.BigEndian.PutUint32(b[at:], uint32(n))
			}
			align()
		}
	}
	count(l.records)
	list(tagDimension, len(l.dimensions))
	for _, d := range l.dimensions {
		name(d.Name)
		if d.Unlimited {
			count(0)
		} else {
			count(d.Length)
		}
	}
	attributes(l.attributes)
	list(tagVariable, len(l.variables))
	for i := range l.variables {
		v := &l.variables[i]
		name(v.name)
		count(int64(len(v.dimensions)))
		for _, d := range v.dimensions {
			count(int64(d))
		}
		attributes(v.attributes)
		word(uint32(v.typ))
		count(padded(v.slab))
		if l.kind == Classic {
			word(uint32(v.begin))
		} else {
			b = binary.BigEndian.AppendUint64(b, uint64(v.begin))
		}
	}
	l.header = b
}

// attributeType returns the type under which a value is stored, 0 if it cannot be.
func attributeType(value any) Type {
	switch value.(type) {
	case string:
		return Char
	case []int8:
		return Byte
	case []uint8:
		return UByte
	case []int16:
		return Short
	case []uint16:
		return UShort
	case []int32:
		return Int
	case []uint32:
		return UInt
	case []int64:
		return Int64
	case []uint64:
		return UInt64
	case []float32:
		return Float
	case []float64:
		return Double
	}
	return 0
}

func appendAttributeValue(b []byte, value any) ([]byte, int) {
	switch v := value.(type) {
	case string:
		return append(b, v...), len(v)
	case []uint8:
		return append(b, v...), len(v)
	case []int8:
		for _, x := range v {
			b = append(b, byte(x))
		}
		return b, len(v)
	case []int16:
		for _, x := range v {
			b = binary.BigEndian.AppendUint16(b, uint16(x))
		}
		return b, len(v)
	case []uint16:
		for _, x := range v {
			b = binary.BigEndian.AppendUint16(b, x)
		}
		return b, len(v)
	case []int32:
		for _, x := range v {
			b = binary.BigEndian.AppendUint32(b, uint32(x))
		}
		return b, len(v)
	case []uint32:
		for _, x := range v {
			b = binary.BigEndian.AppendUint32(b, x)
		}
		return b, len(v)
	case []int64:
		for _, x := range v {
			b = binary.BigEndian.AppendUint64(b, uint64(x))
		}
		return b, len(v)
	case []uint64:
		for _, x := range v {
			b = binary.BigEndian.AppendUint64(b, x)
		}
		return b, len(v)
	case []float32:
		for _, x := range v {
			b = binary.BigEndian.AppendUint32(b, math.Float32bits(x))
		}
		return b, len(v)
	case []float64:
		for _, x := range v {
			b = binary.BigEndian.AppendUint64(b, math.Float64bits(x))
		}
		return b, len(v)
	}
	return b, 0
}
