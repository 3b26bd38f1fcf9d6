package netcdf

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"
)

const (
	readBytes    = 1 << 20  // largest single read
	strideBytes  = 64 << 10 // widest stride over which several rows are read in one go
	maxTextBytes = 64 << 20 // largest text variable that Texts returns
)

var buffers = sync.Pool{New: func() any { b := make([]byte, readBytes); return &b }}

// ReadFloat64 reads count values along each dimension from start on into dst, the
// last dimension fastest, converted to float64 and not interpreted: fill values
// come as they are (see Packed). start nil means the first value, count nil all
// that follow; len(dst) must be the product of the counts. Text is refused; 64-bit
// integers beyond 2^53 are rounded (see ReadInt64). On an error dst is undefined.
func (f *File) ReadFloat64(v *Variable, start, count []int64, dst []float64) error {
	if v.Type == Char {
		return fmt.Errorf("variable %s is text, not numbers: read it as text", v.Name)
	}
	return f.walk(v, start, count, int64(len(dst)), func(at int64, raw []byte, stride, n int) {
		decodeFloat64(v.Type, dst[at:at+int64(n)], raw, stride)
	})
}

// ReadInt64 is ReadFloat64 for integers, without rounding. Variables of float,
// double and char are refused, and so are uint64 values of 2^63 and more.
func (f *File) ReadInt64(v *Variable, start, count, dst []int64) error {
	if v.Type == Char || v.Type == Float || v.Type == Double {
		return fmt.Errorf("variable %s has type %s, not an integer type", v.Name, v.Type)
	}
	if err := f.walk(v, start, count, int64(len(dst)), func(at int64, raw []byte, stride, n int) {
		decodeInt64(v.Type, dst[at:at+int64(n)], raw, stride)
	}); err != nil {
		return err
	}
	if v.Type == UInt64 {
		for _, x := range dst {
			if x < 0 {
				return fmt.Errorf("variable %s holds %d, which is beyond the largest signed 64-bit integer", v.Name, uint64(x))
			}
		}
	}
	return nil
}

// ReadBytes is ReadFloat64 for text, byte and ubyte variables: the bytes as stored.
func (f *File) ReadBytes(v *Variable, start, count []int64, dst []byte) error {
	if v.Type.size() != 1 {
		return fmt.Errorf("variable %s has type %s, not a type of one byte", v.Name, v.Type)
	}
	return f.walk(v, start, count, int64(len(dst)), func(at int64, raw []byte, stride, n int) {
		if stride == 1 {
			copy(dst[at:at+int64(n)], raw)
			return
		}
		for i := range n {
			dst[at+int64(i)] = raw[i*stride]
		}
	})
}

// Float64s reads a whole variable; see ReadFloat64. It needs 8 bytes a value.
func (f *File) Float64s(v *Variable) ([]float64, error) {
	if v.Type == Char {
		return nil, fmt.Errorf("variable %s is text, not numbers: read it as text", v.Name)
	}
	dst := make([]float64, v.len)
	if err := f.ReadFloat64(v, nil, nil, dst); err != nil {
		return nil, err
	}
	return dst, nil
}

// Texts reads a whole text variable of at most 64 MiB: one string for each
// combination of the other dimensions, the last dimension being the length. Zero
// bytes at the end of a string are dropped, blanks are kept. A scalar is one
// string of one character.
func (f *File) Texts(v *Variable) ([]string, error) {
	if v.Type != Char {
		return nil, fmt.Errorf("variable %s has type %s, not text", v.Name, v.Type)
	}
	if v.len > maxTextBytes {
		return nil, fmt.Errorf("text variable %s has %d bytes, more than %d: read it in pieces", v.Name, v.len, maxTextBytes)
	}
	raw := make([]byte, v.len)
	if err := f.ReadBytes(v, nil, nil, raw); err != nil {
		return nil, err
	}
	width := int64(1)
	if n := len(v.Shape); n > 1 || n == 1 && !v.Record {
		width = v.Shape[n-1]
	}
	out := make([]string, 0, v.len/width)
	for at := int64(0); at < v.len; at += width {
		out = append(out, trimZeros(string(raw[at:at+width])))
	}
	return out, nil
}

// Columns reads several whole variables into dst, which holds one slice of the
// right length for each; see ReadFloat64. Record variables of one value a record
// are read together in one pass over the file.
func (f *File) Columns(vars []*Variable, dst [][]float64) error {
	if len(vars) != len(dst) {
		return fmt.Errorf("%d variables to read into %d columns", len(vars), len(dst))
	}
	var together []int
	for i, v := range vars {
		if int64(len(dst[i])) != v.len {
			return fmt.Errorf("variable %s has %d values, the column to fill has %d", v.Name, v.len, len(dst[i]))
		}
		if v.Record && len(v.Shape) == 1 && v.Type != Char && f.recordSize <= strideBytes {
			together = append(together, i)
			continue
		}
		if err := f.ReadFloat64(v, nil, nil, dst[i]); err != nil {
			return err
		}
	}
	if len(together) == 0 || f.Records == 0 {
		return nil
	}
	first, last := int64(math.MaxInt64), int64(0)
	for _, i := range together {
		first = min(first, vars[i].begin)
		last = max(last, vars[i].begin+vars[i].slab)
	}
	if last-first > strideBytes { // offsets out of order or far apart: legal, rare
		for _, i := range together {
			if err := f.ReadFloat64(vars[i], nil, nil, dst[i]); err != nil {
				return err
			}
		}
		return nil
	}
	pooled := buffers.Get().(*[]byte)
	defer buffers.Put(pooled)
	block := (readBytes-(last-first))/f.recordSize + 1
	for r := int64(0); r < f.Records; r += block {
		n := min(block, f.Records-r)
		raw := (*pooled)[:(n-1)*f.recordSize+last-first]
		if err := f.readAt(raw, first+r*f.recordSize); err != nil {
			return err
		}
		for _, i := range together {
			decodeFloat64(vars[i].Type, dst[i][r:r+n], raw[vars[i].begin-first:], int(f.recordSize))
		}
	}
	return nil
}

// walk visits the chosen values in order. visit gets the position of the first of
// n values among all chosen ones and the bytes that hold them, stride apart.
func (f *File) walk(v *Variable, start, count []int64, want int64, visit func(at int64, raw []byte, stride, n int)) error {
	from, number, total, err := v.choice(start, count)
	if err != nil {
		return err
	}
	if want != total {
		return fmt.Errorf("variable %s: %d values to read into room for %d", v.Name, total, want)
	}
	if total == 0 {
		return nil
	}
	size := v.Type.size()
	rank := len(v.Shape)
	strides := make([]int64, rank)
	step := size
	for a := rank - 1; a >= 0; a-- {
		strides[a] = step
		step *= v.Shape[a]
		if a == 0 && v.Record {
			strides[0] = f.recordSize
		}
	}
	base := v.begin
	for a := range rank {
		base += from[a] * strides[a]
	}
	// The innermost dimensions that lie without gaps form one run; the dimension
	// outside it gives rows at a fixed distance; the others are counted through.
	run, row := int64(1), rank
	for row > 0 && strides[row-1] == run*size {
		row--
		run *= number[row]
	}
	row--
	rows, distance := int64(1), int64(0)
	if row >= 0 {
		rows, distance = number[row], strides[row]
	}
	pooled := buffers.Get().(*[]byte)
	defer buffers.Put(pooled)
	buf := *pooled
	at := int64(0)
	index := make([]int64, max(row, 0))
	for {
		off := base
		for a, i := range index {
			off += i * strides[a]
		}
		if err := f.rows(buf, off, rows, distance, run, size, at, visit); err != nil {
			return err
		}
		at += rows * run
		a := len(index) - 1
		for ; a >= 0; a-- {
			if index[a]++; index[a] < number[a] {
				break
			}
			index[a] = 0
		}
		if a < 0 {
			return nil
		}
	}
}

// rows visits runs of run values, distance bytes apart.
func (f *File) rows(buf []byte, off, rows, distance, run, size, at int64, visit func(int64, []byte, int, int)) error {
	bytes := run * size
	if rows > 1 && distance <= strideBytes {
		block := (int64(len(buf))-bytes)/distance + 1
		for r := int64(0); r < rows; r += block {
			n := min(block, rows-r)
			raw := buf[:(n-1)*distance+bytes]
			if err := f.readAt(raw, off+r*distance); err != nil {
				return err
			}
			if run == 1 {
				visit(at+r, raw, int(distance), int(n))
				continue
			}
			for i := range n {
				visit(at+(r+i)*run, raw[i*distance:], int(size), int(run))
			}
		}
		return nil
	}
	for r := range rows {
		for done := int64(0); done < run; {
			n := min(run-done, int64(len(buf))/size)
			raw := buf[:n*size]
			if err := f.readAt(raw, off+r*distance+done*size); err != nil {
				return err
			}
			visit(at+r*run+done, raw, int(size), int(n))
			done += n
		}
	}
	return nil
}

func (f *File) readAt(b []byte, off int64) error {
	n, err := f.r.ReadAt(b, off)
	if n == len(b) {
		return nil
	}
	if err == nil || errors.Is(err, io.EOF) {
		return &FormatError{Offset: off + int64(n), Want: fmt.Sprintf("%d more bytes", len(b)-n), Got: "end of file", Hint: "the file became shorter while it was read"}
	}
	return fmt.Errorf("netCDF file, byte %d: read failed: %w", off+int64(n), err)
}

// choice completes and checks start and count.
func (v *Variable) choice(start, count []int64) (from, number []int64, total int64, err error) {
	rank := len(v.Shape)
	if start != nil && len(start) != rank || count != nil && len(count) != rank {
		return nil, nil, 0, fmt.Errorf("variable %s has %d dimensions, start has %d and count %d", v.Name, rank, len(start), len(count))
	}
	from, number, total = make([]int64, rank), make([]int64, rank), 1
	for a, length := range v.Shape {
		if start != nil {
			from[a] = start[a]
		}
		if from[a] < 0 || from[a] > length {
			return nil, nil, 0, fmt.Errorf("variable %s, dimension %d: start %d is outside 0 to %d", v.Name, a, from[a], length)
		}
		number[a] = length - from[a]
		if count != nil {
			if count[a] < 0 || count[a] > number[a] {
				return nil, nil, 0, fmt.Errorf("variable %s, dimension %d: count %d from %d on is outside 0 to %d", v.Name, a, count[a], from[a], number[a])
			}
			number[a] = count[a]
		}
		total *= number[a] // at most v.len
	}
	return from, number, total, nil
}

func decodeFloat64(t Type, dst []float64, raw []byte, stride int) {
	switch t {
	case Byte:
		for i := range dst {
			dst[i] = float64(int8(raw[i*stride]))
		}
	case UByte:
		for i := range dst {
			dst[i] = float64(raw[i*stride])
		}
	case Short:
		for i := range dst {
			dst[i] = float64(int16(binary.BigEndian.Uint16(raw[i*stride:])))
		}
	case UShort:
		for i := range dst {
			dst[i] = float64(binary.BigEndian.Uint16(raw[i*stride:]))
		}
	case Int:
		for i := range dst {
			dst[i] = float64(int32(binary.BigEndian.Uint32(raw[i*stride:])))
		}
	case UInt:
		for i := range dst {
			dst[i] = float64(binary.BigEndian.Uint32(raw[i*stride:]))
		}
	case Float:
		for i := range dst {
			dst[i] = float64(math.Float32frombits(binary.BigEndian.Uint32(raw[i*stride:])))
		}
	case Double:
		for i := range dst {
			dst[i] = math.Float64frombits(binary.BigEndian.Uint64(raw[i*stride:]))
		}
	case Int64:
		for i := range dst {
			dst[i] = float64(int64(binary.BigEndian.Uint64(raw[i*stride:])))
		}
	case UInt64:
		for i := range dst {
			dst[i] = float64(binary.BigEndian.Uint64(raw[i*stride:]))
		}
	}
}

func decodeInt64(t Type, dst []int64, raw []byte, stride int) {
	switch t {
	case Byte:
		for i := range dst {
			dst[i] = int64(int8(raw[i*stride]))
		}
	case UByte:
		for i := range dst {
			dst[i] = int64(raw[i*stride])
		}
	case Short:
		for i := range dst {
			dst[i] = int64(int16(binary.BigEndian.Uint16(raw[i*stride:])))
		}
	case UShort:
		for i := range dst {
			dst[i] = int64(binary.BigEndian.Uint16(raw[i*stride:]))
		}
	case Int:
		for i := range dst {
			dst[i] = int64(int32(binary.BigEndian.Uint32(raw[i*stride:])))
		}
	case UInt:
		for i := range dst {
			dst[i] = int64(binary.BigEndian.Uint32(raw[i*stride:]))
		}
	case Int64, UInt64:
		for i := range dst {
			dst[i] = int64(binary.BigEndian.Uint64(raw[i*stride:]))
		}
	}
}
