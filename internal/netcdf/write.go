package netcdf

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"
	"sync"
)

// Dataset is what a file is to hold. Everything is written in the order given, so
// the same Dataset makes the same bytes. The slices of the columns are not changed
// and must not be changed by others until it is written.
type Dataset struct {
	Kind       Kind // 0: the oldest kind that can hold the file
	Dimensions []Dimension
	Attributes Attributes
	Columns    []Column
}

// Column is a variable and its values, the last dimension fastest.
//
// Values is one of []int8 (byte), []int16, []int32, []float32, []float64, []uint8
// (ubyte), []uint16, []uint32, []int64, []uint64, or text: a string whose length
// is at most the product of the dimensions, or a []string whose last dimension is
// the length of each. Text is filled with zero bytes; text that is too long is
// refused. The unsigned and 64-bit types need a CDF-5 file.
//
// Type, if given, is the type in the file. It is needed only where that is not the
// one of Values: Float for []float64 (rounded to single; values too large for it
// are refused) and Byte for []uint8 up to 127 (flags in a classic file).
//
// NaNAsFill writes the _FillValue attribute, which must then be there, for each
// NaN of a float or double column.
type Column struct {
	Name       string
	Dimensions []string // names, slowest first; none for a scalar
	Attributes Attributes
	Values     any
	Type       Type
	NaNAsFill  bool
}

const writeBytes = 256 << 10

var writeBuffers = sync.Pool{New: func() any { b := make([]byte, writeBytes); return &b }}

// columnWriter is a column made ready: its values and how to put them into bytes.
type columnWriter struct {
	values any
	typ    Type
	fill   [8]byte // pattern of the fill value, typ.size() bytes of it
	asFill bool    // NaN is written as fill
}

// Size returns the bytes of the file without writing it.
func (d *Dataset) Size() (int64, error) {
	l, _, err := d.prepare()
	if err != nil {
		return 0, err
	}
	return l.size, nil
}

// WriteTo writes the file in one pass. All checks are made before the first byte,
// so that an error after that can only come from w. It returns the bytes written.
func (d *Dataset) WriteTo(w io.Writer) (int64, error) {
	l, columns, err := d.prepare()
	if err != nil {
		return 0, err
	}
	pooled := writeBuffers.Get().(*[]byte)
	defer writeBuffers.Put(pooled)
	o := &output{w: w, buf: *pooled}
	o.bytes(l.header)
	for i := range l.variables {
		if v := &l.variables[i]; !v.record {
			o.values(&columns[i], 0, v.slab/v.typ.size())
			o.padding(&columns[i], padded(v.slab)-v.slab)
		}
	}
	o.records(l, columns)
	o.flush()
	if o.err == nil && o.written != l.size {
		o.err = fmt.Errorf("netCDF file: wrote %d bytes where %d were laid out", o.written, l.size)
	}
	return o.written, o.err
}

// prepare checks the whole Dataset and lays the file out.
func (d *Dataset) prepare() (*layout, []columnWriter, error) {
	l := &layout{}
	byName := map[string]int{}
	unlimited := ""
	for i, dim := range d.Dimensions {
		dim.Name = normal(dim.Name)
		if err := checkName("dimension", dim.Name); err != nil {
			return nil, nil, err
		}
		if _, twice := byName[dim.Name]; twice {
			return nil, nil, fmt.Errorf("dimension %s is declared twice", dim.Name)
		}
		byName[dim.Name] = i
		switch {
		case dim.Length < 0:
			return nil, nil, fmt.Errorf("dimension %s has length %d", dim.Name, dim.Length)
		case dim.Unlimited && unlimited != "":
			return nil, nil, fmt.Errorf("dimensions %s and %s are both unlimited: a classic file has at most one", unlimited, dim.Name)
		case dim.Unlimited:
			unlimited = dim.Name
		case dim.Length == 0:
			return nil, nil, fmt.Errorf("dimension %s has length 0: a classic file cannot hold that, make the dimension unlimited", dim.Name)
		}
		l.dimensions = append(l.dimensions, dim)
	}
	if len(d.Dimensions) > maxListLength || len(d.Columns) > maxListLength {
		return nil, nil, fmt.Errorf("%d dimensions and %d variables: at most %d of each", len(d.Dimensions), len(d.Columns), maxListLength)
	}
	var err error
	if l.attributes, err = checkAttributes("the file", d.Attributes); err != nil {
		return nil, nil, err
	}
	columns := make([]columnWriter, len(d.Columns))
	names := map[string]bool{}
	for i := range d.Columns {
		c := &d.Columns[i]
		v := definition{name: normal(c.Name)}
		if err := checkName("variable", v.name); err != nil {
			return nil, nil, err
		}
		if names[v.name] {
			return nil, nil, fmt.Errorf("variable %s is declared twice", v.name)
		}
		names[v.name] = true
		if len(c.Dimensions) > maxVariableRank {
			return nil, nil, fmt.Errorf("variable %s has %d dimensions, more than %d", v.name, len(c.Dimensions), maxVariableRank)
		}
		total, last := int64(1), int64(1)
		for _, name := range c.Dimensions {
			id, known := byName[normal(name)]
			if !known {
				return nil, nil, fmt.Errorf("variable %s: dimension %q is not declared", v.name, name)
			}
			v.dimensions = append(v.dimensions, id)
			var ok bool
			last = d.Dimensions[id].Length
			if total, ok = mul(total, last); !ok {
				return nil, nil, fmt.Errorf("variable %s has more than 2^63 values", v.name)
			}
		}
		if v.attributes, err = checkAttributes(v.name, c.Attributes); err != nil {
			return nil, nil, err
		}
		if columns[i], err = c.writer(v.name, total, last); err != nil {
			return nil, nil, err
		}
		v.typ = columns[i].typ
		if err := columns[i].setFill(v.name, v.attributes, c.NaNAsFill); err != nil {
			return nil, nil, err
		}
		l.variables = append(l.variables, v)
	}
	if err := l.arrange(d.Kind); err != nil {
		return nil, nil, err
	}
	return l, columns, nil
}

func checkAttributes(owner string, list Attributes) (Attributes, error) {
	if len(list) > maxListLength {
		return nil, fmt.Errorf("%s has %d attributes, more than %d", owner, len(list), maxListLength)
	}
	out := slices.Clone(list)
	for i := range out {
		a := &out[i]
		a.Name = normal(a.Name)
		if err := checkName("attribute of "+owner, a.Name); err != nil {
			return nil, err
		}
		for _, b := range out[:i] {
			if b.Name == a.Name {
				return nil, fmt.Errorf("attribute %s of %s is given twice", a.Name, owner)
			}
		}
		if attributeType(a.Value) == 0 {
			return nil, fmt.Errorf("attribute %s of %s: a %T cannot be stored, use a string or a slice of numbers", a.Name, owner, a.Value)
		}
	}
	return out, nil
}

// writer checks the values against the shape: total values, last along the last
// dimension.
func (c *Column) writer(name string, total, last int64) (columnWriter, error) {
	w := columnWriter{values: c.Values}
	var n int
	switch x := c.Values.(type) {
	case string:
		if int64(len(x)) > total {
			return w, fmt.Errorf("variable %s: the text has %d bytes, room is for %d", name, len(x), total)
		}
		text := make([]byte, total)
		copy(text, x)
		w.values, w.typ, n = text, Char, len(text)
	case []string:
		if len(c.Dimensions) == 0 {
			last = 1
		}
		rows := int64(0)
		if last > 0 {
			rows = total / last
		}
		if int64(len(x)) != rows {
			return w, fmt.Errorf("variable %s: %d texts for room for %d", name, len(x), rows)
		}
		text := make([]byte, total)
		for i, s := range x {
			if int64(len(s)) > last {
				return w, fmt.Errorf("variable %s: text %d has %d bytes, the last dimension has %d", name, i, len(s), last)
			}
			copy(text[int64(i)*last:], s)
		}
		w.values, w.typ, n = text, Char, len(text)
	case []uint8:
		w.typ, n = UByte, len(x)
		if c.Type == Byte {
			w.typ = Byte
			for i, b := range x {
				if b > math.MaxInt8 {
					return w, fmt.Errorf("variable %s: value %d at %d does not fit in type byte", name, b, i)
				}
			}
		}
	case []int8:
		w.typ, n = Byte, len(x)
	case []int16:
		w.typ, n = Short, len(x)
	case []uint16:
		w.typ, n = UShort, len(x)
	case []int32:
		w.typ, n = Int, len(x)
	case []uint32:
		w.typ, n = UInt, len(x)
	case []int64:
		w.typ, n = Int64, len(x)
	case []uint64:
		w.typ, n = UInt64, len(x)
	case []float32:
		w.typ, n = Float, len(x)
	case []float64:
		w.typ, n = Double, len(x)
		if c.Type == Float {
			w.typ = Float
			for i, f := range x {
				if math.IsInf(float64(float32(f)), 0) && !math.IsInf(f, 0) {
					return w, fmt.Errorf("variable %s: value %g at %d does not fit in type float", name, f, i)
				}
			}
		}
	default:
		return w, fmt.Errorf("variable %s: values of type %T cannot be stored", name, c.Values)
	}
	if c.Type != 0 && c.Type != w.typ {
		return w, fmt.Errorf("variable %s: %T cannot be stored as %s", name, c.Values, c.Type)
	}
	if int64(n) != total {
		return w, fmt.Errorf("variable %s: %d values for room for %d", name, n, total)
	}
	return w, nil
}

// setFill takes the fill value from the attribute or the type; padding consists of
// it, and NaN becomes it where asked.
func (w *columnWriter) setFill(name string, attributes Attributes, asFill bool) error {
	size := int(w.typ.size())
	for i := range size {
		w.fill[i] = byte(w.typ.defaultFill() >> (8 * (size - 1 - i)))
	}
	value, given := attributes.Value("_FillValue")
	if given {
		raw, n := appendAttributeValue(nil, value)
		if t := attributeType(value); t != w.typ || n != 1 {
			return fmt.Errorf("variable %s: _FillValue is %d of type %s, wanted one of type %s", name, n, t, w.typ)
		}
		copy(w.fill[:], raw)
	}
	w.asFill = asFill
	if asFill && (!given || w.typ != Float && w.typ != Double) {
		return fmt.Errorf("variable %s: missing values can be written as fill only in a float or double variable with a _FillValue", name)
	}
	return nil
}

// output collects bytes and keeps the first error.
type output struct {
	w       io.Writer
	buf     []byte
	n       int
	written int64
	err     error
}

func (o *output) flush() {
	if o.err == nil && o.n > 0 {
		n, err := o.w.Write(o.buf[:o.n])
		o.written += int64(n)
		if err == nil && n < o.n {
			err = io.ErrShortWrite
		}
		o.err = err
	}
	o.n = 0
}

// room returns at least n free bytes of the buffer.
func (o *output) room(n int) []byte {
	if len(o.buf)-o.n < n {
		o.flush()
	}
	return o.buf[o.n:]
}

func (o *output) bytes(b []byte) {
	for len(b) > 0 && o.err == nil {
		n := copy(o.room(1), b)
		o.n += n
		b = b[n:]
	}
}

// values writes n values from the index on, one behind the other.
func (o *output) values(c *columnWriter, from, n int64) {
	size := int(c.typ.size())
	for n > 0 && o.err == nil {
		free := o.room(size)
		k := min(n, int64(len(free)/size))
		c.encode(free, size, from, int(k))
		o.n += int(k) * size
		from += k
		n -= k
	}
}

// padding fills up to the alignment with the variable's fill value.
func (o *output) padding(c *columnWriter, n int64) {
	free := o.room(4)
	for i := range int(n) {
		free[i] = c.fill[i%int(c.typ.size())]
	}
	o.n += int(n)
}

// records writes the record part: the values of all record variables, record by
// record. Many short records are put together in the buffer variable by variable.
func (o *output) records(l *layout, columns []columnWriter) {
	if l.records == 0 || l.recordSize == 0 {
		return
	}
	block := int64(len(o.buf)) / l.recordSize
	for r := int64(0); r < l.records && o.err == nil; {
		n := min(max(block, 1), l.records-r)
		if block == 0 {
			for i := range l.variables {
				v := &l.variables[i]
				if !v.record {
					continue
				}
				each := v.slab / v.typ.size()
				o.values(&columns[i], r*each, each)
				if !l.bare {
					o.padding(&columns[i], padded(v.slab)-v.slab)
				}
			}
			r++
			continue
		}
		all := o.room(int(n * l.recordSize))[:n*l.recordSize]
		at := int64(0)
		for i := range l.variables {
			v := &l.variables[i]
			if !v.record {
				continue
			}
			c := &columns[i]
			size := v.typ.size()
			each := v.slab / size
			if each == 1 {
				c.encode(all[at:], int(l.recordSize), r, int(n))
			} else {
				for k := range n {
					c.encode(all[at+k*l.recordSize:], int(size), (r+k)*each, int(each))
				}
			}
			if pad := padded(v.slab) - v.slab; pad > 0 && !l.bare {
				for k := range n {
					gap := all[at+k*l.recordSize+v.slab:][:pad]
					for j := range gap {
						gap[j] = c.fill[j%int(size)]
					}
				}
			}
			at += padded(v.slab) // with one record variable there is no next
		}
		o.n += len(all)
		r += n
	}
}

// encode puts n values from the index on into dst, stride bytes apart.
func (c *columnWriter) encode(dst []byte, stride int, from int64, n int) {
	to := from + int64(n)
	switch x := c.values.(type) {
	case []uint8:
		if stride == 1 {
			copy(dst, x[from:to])
			return
		}
		for i, v := range x[from:to] {
			dst[i*stride] = v
		}
	case []int8:
		for i, v := range x[from:to] {
			dst[i*stride] = byte(v)
		}
	case []int16:
		for i, v := range x[from:to] {
			binary.BigEndian.PutUint16(dst[i*stride:], uint16(v))
		}
	case []uint16:
		for i, v := range x[from:to] {
			binary.BigEndian.PutUint16(dst[i*stride:], v)
		}
	case []int32:
		for i, v := range x[from:to] {
			binary.BigEndian.PutUint32(dst[i*stride:], uint32(v))
		}
	case []uint32:
		for i, v := range x[from:to] {
			binary.BigEndian.PutUint32(dst[i*stride:], v)
		}
	case []int64:
		for i, v := range x[from:to] {
			binary.BigEndian.PutUint64(dst[i*stride:], uint64(v))
		}
	case []uint64:
		for i, v := range x[from:to] {
			binary.BigEndian.PutUint64(dst[i*stride:], v)
		}
	case []float32:
		fill := binary.BigEndian.Uint32(c.fill[:])
		for i, v := range x[from:to] {
			bits := math.Float32bits(v)
			if c.asFill && v != v {
				bits = fill
			}
			binary.BigEndian.PutUint32(dst[i*stride:], bits)
		}
	case []float64:
		if c.typ == Float {
			fill := binary.BigEndian.Uint32(c.fill[:])
			for i, v := range x[from:to] {
				bits := math.Float32bits(float32(v))
				if c.asFill && v != v {
					bits = fill
				}
				binary.BigEndian.PutUint32(dst[i*stride:], bits)
			}
			return
		}
		fill := binary.BigEndian.Uint64(c.fill[:])
		for i, v := range x[from:to] {
			bits := math.Float64bits(v)
			if c.asFill && v != v {
				bits = fill
			}
			binary.BigEndian.PutUint64(dst[i*stride:], bits)
		}
	}
}
