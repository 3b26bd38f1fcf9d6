package bufr

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
)

// Encoder writes one message. The values of each subset are given in the order of the template, each
// with the descriptor it is meant for, so that a template and the code that fills it cannot drift apart
// unnoticed:
//
//	e, err := NewEncoder(header, nil)
//	e.Code(FXY(0, 1, 1), 10)             // WMO block number
//	…
//	e.Table(levels, columns...)          // the next replication, factor included
//	e.EndSubset()
//	b, err := e.Bytes()
//
// The first error sticks: calls after it do nothing and Bytes returns it.
type Encoder struct {
	header  Header
	p       *Program
	cur     cursor
	err     error
	w       bitWriter // the finished bits of an uncompressed message
	subsets int
	// cells of all subsets, one after the other, for a compressed message
	cells  []cell
	octets []byte
	starts []int
}

// cell is a value that waits for compression.
type cell struct {
	field *Field
	raw   uint64
	text  int // start in octets
}

// NewEncoder begins a message. h.Subsets is counted by EndSubset and need not be set. local, which may be
// nil, holds definitions of the user. The error says what is wrong with the template.
func NewEncoder(h Header, local *LocalTables) (*Encoder, error) {
	t, err := h.Tables()
	if err != nil {
		return nil, err
	}
	p, err := Compile(t.With(local), h.Descriptors)
	if err != nil {
		return nil, err
	}
	if h.TableVersion > NewestVersion() {
		return nil, fmt.Errorf("master table version %d is not carried: the newest is %d", h.TableVersion, NewestVersion())
	}
	e := &Encoder{header: h, p: p}
	e.cur.begin(p)
	return e, nil
}

// Program returns the compiled template, whose Fields tell scale, width and limits.
func (e *Encoder) Program() *Program { return e.p }

// Next returns the field that the next value is for, or nil at the end of the subset.
func (e *Encoder) Next() *Field {
	if e.err != nil {
		return nil
	}
	f, err := e.cur.field()
	if err != nil {
		e.fail(nil, err.Error())
		return nil
	}
	return f
}

// Err returns the first error.
func (e *Encoder) Err() error { return e.err }

func (e *Encoder) fail(f *Field, problem string) {
	if e.err != nil {
		return
	}
	where := fmt.Sprintf("subset %d", e.subsets+1)
	if f != nil {
		where += ", " + e.p.path(f, e.cur.rows())
	}
	e.err = fmt.Errorf("%s: %s", where, problem)
}

// next returns the next field and checks that d is meant for it.
func (e *Encoder) next(d Descriptor) *Field {
	f := e.Next()
	if e.err != nil {
		return nil
	}
	if f == nil {
		e.fail(nil, fmt.Sprintf("a value for %s after the end of the template", d))
		return nil
	}
	if meant := f.Operator == d || f.Descriptor == d && f.Kind != Associated; !meant {
		e.fail(f, fmt.Sprintf("a value for %s, but the template has %s (%s) here", d, f.Descriptor, f.Name))
		return nil
	}
	return f
}

// put writes the bits of f and moves on.
func (e *Encoder) put(f *Field, raw uint64) {
	if raw > f.mask {
		// Compression can add up to more than the element's width, in messages that we did not write.
		e.fail(f, fmt.Sprintf("%d does not fit %d bits", raw, f.Width))
		return
	}
	if e.header.Compressed {
		if len(e.cells) >= 8*maxPositions {
			e.fail(f, "the message has too many values")
			return
		}
		e.cells = append(e.cells, cell{field: f, raw: raw})
	} else {
		e.w.write(raw, f.Width)
	}
	if err := e.cur.done(raw); err != nil {
		e.fail(f, err.Error())
	}
}

func (e *Encoder) putOctets(f *Field, b []byte) {
	if e.header.Compressed {
		e.cells = append(e.cells, cell{field: f, text: len(e.octets)})
		e.octets = append(e.octets, b...)
	} else {
		e.w.writeOctets(b)
	}
	if err := e.cur.done(0); err != nil {
		e.fail(f, err.Error())
	}
}

// raw returns the bits that code v, and whether v fits.
func (f *Field) raw(v float64) (uint64, bool) {
	if math.IsNaN(v) {
		return f.mask, !f.noMissing
	}
	if f.Scale > 0 {
		v *= f.pow
	} else {
		v /= f.pow
	}
	r := math.Round(v) - float64(f.Reference)
	top := float64(f.mask)
	if !f.noMissing {
		top--
	}
	if !(r >= 0 && r <= top) || r >= 1<<63 {
		return 0, false
	}
	return uint64(r), true
}

// Number gives the next value, in the unit of element d; NaN is missing. It is rounded to the
// resolution of the field, half away from zero. A value that the field cannot hold is an error.
func (e *Encoder) Number(d Descriptor, v float64) {
	f := e.next(d)
	if f == nil {
		return
	}
	if f.Kind == Text || f.Width > 64 {
		e.fail(f, "a number for a field of kind "+f.Kind.String())
		return
	}
	if f.Kind == NewReference {
		amount := uint64(math.Abs(v))
		if amount >= 1<<(f.Width-1) || float64(amount) != math.Abs(v) {
			e.fail(f, fmt.Sprintf("a reference value of %g does not fit %d bits", v, f.Width))
			return
		}
		if v < 0 {
			amount |= 1 << (f.Width - 1)
		}
		e.put(f, amount)
		return
	}
	raw, ok := f.raw(v)
	if !ok {
		e.fail(f, f.misfit(v))
		return
	}
	e.put(f, raw)
}

func (f *Field) misfit(v float64) string {
	if math.IsNaN(v) {
		return fmt.Sprintf("%s (%s) cannot be missing", f.Descriptor, f.Name)
	}
	least, greatest := f.Limits()
	return fmt.Sprintf("%s (%s) is %g %s; the field holds %g to %g", f.Descriptor, f.Name, v, f.Unit, least, greatest)
}

// Code gives the next value as a whole number: a code figure, flags, a count.
func (e *Encoder) Code(d Descriptor, v int) { e.Number(d, float64(v)) }

// Text gives the next value, of a text element; it is filled with blanks. Characters outside printable
// ASCII, or more of them than the element has, are an error. "" is missing.
func (e *Encoder) Text(d Descriptor, s string) {
	f := e.next(d)
	if f == nil {
		return
	}
	if f.Kind != Text {
		e.fail(f, "a text for a field of kind "+f.Kind.String())
		return
	}
	n := f.Width / 8
	if len(s) > n {
		e.fail(f, fmt.Sprintf("%q has %d characters; %s (%s) has room for %d", s, len(s), f.Descriptor, f.Name, n))
		return
	}
	b := make([]byte, n)
	for i := range b {
		switch {
		case s == "":
			b[i] = 0xFF
		case i >= len(s):
			b[i] = ' '
		case s[i] < ' ' || s[i] > '~':
			e.fail(f, fmt.Sprintf("%q has a character that CCITT IA5 cannot print", s))
			return
		default:
			b[i] = s[i]
		}
	}
	e.putOctets(f, b)
}

// Missing gives the next value as missing.
func (e *Encoder) Missing(d Descriptor) {
	f := e.next(d)
	if f == nil {
		return
	}
	e.missing(f)
}

// MissingUntil gives all values before the next field for d as missing. It does not go past a replication.
func (e *Encoder) MissingUntil(d Descriptor) {
	for {
		f := e.Next()
		if e.err != nil {
			return
		}
		if f == nil {
			e.fail(nil, fmt.Sprintf("the template ends without %s", d))
			return
		}
		if f.Operator == d || f.Descriptor == d && f.Kind != Associated {
			return
		}
		e.missing(f)
	}
}

func (e *Encoder) missing(f *Field) {
	if f.Kind == Text || f.Width > 64 {
		b := make([]byte, (f.Width+7)/8)
		for i := range b {
			b[i] = 0xFF
		}
		e.putOctets(f, b)
		return
	}
	if f.noMissing {
		e.fail(f, f.misfit(math.NaN()))
		return
	}
	e.put(f, f.mask)
}

// Repeat gives the factor of the next delayed replication; the values of its n repetitions follow one by one.
func (e *Encoder) Repeat(n int) {
	f := e.Next()
	if e.err != nil {
		return
	}
	if f == nil || !e.cur.atFactor() {
		e.fail(f, "a replication factor where the template has none")
		return
	}
	if n < 0 || uint64(n) > f.mask {
		e.fail(f, fmt.Sprintf("%d repetitions; the factor holds 0 to %d", n, f.mask))
		return
	}
	e.put(f, uint64(n))
}

// Column is one column of a table to be written.
type Column struct {
	Descriptor Descriptor
	Values     []float64 // in the element's unit, one a row, NaN missing; nil is missing throughout
}

// Table writes the next replication with rows rows, its factor included. The columns stand for the fields
// of the replicated part in order; fields that none of them names are missing. Columns with text cannot
// be written so: use Repeat.
func (e *Encoder) Table(rows int, columns ...Column) {
	f := e.Next()
	if e.err != nil {
		return
	}
	if f == nil {
		e.fail(nil, "a table after the end of the template")
		return
	}
	if e.cur.atFactor() {
		e.Repeat(rows)
		if e.err != nil {
			return
		}
	}
	o := e.cur.flat()
	if rows == 0 && o == nil {
		return
	}
	if o == nil || e.cur.n != rows {
		e.fail(f, fmt.Sprintf("a table of %d rows where the template has no replication of that many", rows))
		return
	}
	fields := e.cur.fields[o.first:o.last]
	values := make([][]float64, len(fields))
	k := 0
	for _, c := range columns {
		for k < len(fields) && (fields[k].Descriptor != c.Descriptor || fields[k].Kind == Associated) {
			k++
		}
		if k == len(fields) {
			e.fail(f, fmt.Sprintf("the table has no column %s, or the columns are in another order than in the template", c.Descriptor))
			return
		}
		if c.Values != nil && len(c.Values) != rows {
			e.fail(f, fmt.Sprintf("column %s has %d values for %d rows", c.Descriptor, len(c.Values), rows))
			return
		}
		if fields[k].Kind == Text {
			e.fail(f, fmt.Sprintf("column %s is text", c.Descriptor))
			return
		}
		values[k] = c.Values
		k++
	}
	if e.header.Compressed || e.p.bitmaps || o.repeat {
		for r := range rows {
			for i := range fields {
				if values[i] == nil {
					e.missing(&fields[i])
				} else {
					e.Number(given(&fields[i]), values[i][r])
				}
				if e.err != nil {
					return
				}
			}
		}
		return
	}
	// The hot loop: the pending bits stay in registers.
	e.w.buf = slices.Grow(e.w.buf, int(o.bits)*rows/8+16)
	buf, acc, n := e.w.buf, e.w.acc, e.w.n
	for r := range rows {
		for i := range fields {
			f := &fields[i]
			raw, ok := f.mask, true
			if v := values[i]; v != nil {
				raw, ok = f.raw(v[r])
			} else if f.Width > 32 {
				// A text, or a wide number: rare enough to leave the registers.
				w := bitWriter{buf, acc, n}
				for left := f.Width; left > 0; left -= 32 {
					w.write(math.MaxUint32, min(left, 32))
				}
				buf, acc, n = w.buf, w.acc, w.n
				continue
			}
			if !ok {
				e.cur.rep = r
				e.fail(f, f.misfit(values[i][r]))
				return
			}
			width := f.Width
			if width > 32 {
				w := bitWriter{buf, acc, n}
				w.write(raw, width)
				buf, acc, n = w.buf, w.acc, w.n
				continue
			}
			acc = acc<<uint(width) | raw
			if n += width; n >= 32 {
				n -= 32
				buf = binary.BigEndian.AppendUint32(buf, uint32(acc>>uint(n)))
			}
		}
	}
	e.w.buf, e.w.acc, e.w.n = buf, acc, n
	e.cur.leave()
}

// given is the descriptor by which a value for f is given.
func given(f *Field) Descriptor {
	if f.Kind == Associated {
		return f.Operator
	}
	return f.Descriptor
}

// Copy gives the next value from an item of a decoded message, bits unchanged; replication factors,
// bitmaps and operators included. The item must fit the template.
func (e *Encoder) Copy(it *Item) {
	if e.err != nil || it.Field.Kind == Operator || it.Field.Kind == Absent {
		return
	}
	if it.g.table && it.g.stride == 0 && it.rep > 0 {
		return // repeated by 0 31 011 or 0 31 012: it stands in the message once
	}
	f := e.Next()
	if e.err != nil {
		return
	}
	if f == nil || f.Descriptor != it.Field.Descriptor || f.Operator != it.Field.Operator || f.Width != it.Field.Width || f.Kind != it.Field.Kind {
		e.fail(f, fmt.Sprintf("the item %s does not belong here", it.Field.Descriptor))
		return
	}
	switch {
	case f.Kind == Text:
		e.putOctets(f, it.AppendText(nil))
	case f.Width > 64:
		if e.header.Compressed || it.s.d.Message.Compressed {
			e.fail(f, fmt.Sprintf("a local element of %d bits cannot be copied with compression", f.Width))
			return
		}
		at := it.s.bit(it.g, it.rep, it.col)
		for w := f.Width; w > 0; w -= 64 {
			k := min(w, 64)
			e.w.write(readBits(it.s.d.data, at, k), k)
			at += int64(k)
		}
		if err := e.cur.done(0); err != nil {
			e.fail(f, err.Error())
		}
	default:
		e.put(f, it.Raw)
	}
}

// EndSubset ends the subset; all its values must have been given.
func (e *Encoder) EndSubset() {
	f := e.Next()
	if e.err != nil {
		return
	}
	if f != nil {
		e.fail(f, fmt.Sprintf("the subset ends before %s (%s)", f.Descriptor, f.Name))
		return
	}
	e.subsets++
	if e.subsets > 65535 {
		e.fail(nil, "a message holds at most 65535 subsets")
		return
	}
	e.starts = append(e.starts, len(e.cells))
	e.cur.begin(e.p)
}

// Bytes returns the message.
func (e *Encoder) Bytes() ([]byte, error) {
	if e.err == nil && e.subsets == 0 {
		e.fail(nil, "a message without subsets: EndSubset was not called")
	}
	if e.err == nil && e.header.Compressed {
		e.compress()
	}
	if e.err != nil {
		return nil, e.err
	}
	h := e.header
	h.Subsets = e.subsets
	bits := e.w.bytes()
	return appendMessage(make([]byte, 0, len(bits)+2*len(h.Descriptors)+len(h.LocalUse)+len(h.Optional)+64), &h, bits)
}

// compress writes the cells of all subsets element by element: the least value in the element's width,
// the bits of an increment in 6 bits, the increments with all bits on for missing.
func (e *Encoder) compress() {
	n := e.starts[0]
	first := e.cells[:n]
	for s := 1; s < e.subsets; s++ {
		if e.starts[s]-e.starts[s-1] != n {
			e.subsets = s
			e.fail(nil, fmt.Sprintf("the subset has %d values and the first has %d: compression needs the same structure; write it uncompressed", e.starts[s]-e.starts[s-1], n))
			return
		}
	}
	for i, c := range first {
		f := c.field
		at := func(s int) *cell { return &e.cells[s*n+i] }
		if f.Kind == Text {
			w := f.Width / 8
			octets := func(s int) []byte { p := at(s).text; return e.octets[p : p+w] }
			same := true
			for s := 1; s < e.subsets && same; s++ {
				same = string(octets(s)) == string(octets(0))
			}
			if same {
				e.w.writeOctets(octets(0))
				e.w.write(0, 6)
				continue
			}
			if w > 63 {
				e.fail(f, fmt.Sprintf("a text of %d octets that differs between subsets cannot be compressed: write it uncompressed", w))
				return
			}
			for range w {
				e.w.write(0, 8)
			}
			e.w.write(uint64(w), 6)
			for s := range e.subsets {
				e.w.writeOctets(octets(s))
			}
			continue
		}
		if f.Width > 64 {
			e.fail(f, "a local element of more than 64 bits cannot be compressed")
			return
		}
		class31 := f.Descriptor.F() == 0 && f.Descriptor.X() == 31 && f.Kind != Associated
		least, greatest, missing := uint64(math.MaxUint64), uint64(0), 0
		for s := range e.subsets {
			c := at(s)
			if c.field.Width != f.Width || c.field.Descriptor != f.Descriptor {
				e.fail(f, fmt.Sprintf("subset %d has another structure: compression needs the same; write it uncompressed", s+1))
				return
			}
			if c.raw == f.mask && !f.noMissing {
				missing++
				continue
			}
			least, greatest = min(least, c.raw), max(greatest, c.raw)
		}
		switch {
		case missing == e.subsets:
			e.w.write(f.mask, f.Width)
			e.w.write(0, 6)
		case missing == 0 && least == greatest:
			e.w.write(least, f.Width)
			e.w.write(0, 6)
		case class31 && (f.Descriptor.Y() < 13 || f.Descriptor.Y() == 31) || f.Kind == NewReference:
			e.fail(f, fmt.Sprintf("%s differs between subsets, which compression does not allow; write it uncompressed", f.Descriptor))
			return
		default:
			// The greatest increment must not be all ones: that is missing.
			k := 1
			for greatest-least >= 1<<k-1 {
				k++
			}
			e.w.write(least, f.Width)
			e.w.write(uint64(k), 6)
			for s := range e.subsets {
				if c := at(s); c.raw == f.mask && !f.noMissing {
					e.w.write(1<<k-1, k)
				} else {
					e.w.write(c.raw-least, k)
				}
			}
		}
	}
}

// Reencode returns the message that d was decoded from, written again, compressed or not.
func Reencode(d *Data, compressed bool) ([]byte, error) {
	h := d.Message.Header
	if d.Program.references && !compressed && h.Subsets > 1 {
		return nil, fmt.Errorf("new reference values (operator 2 03) are not carried in an uncompressed message of several subsets: write it compressed")
	}
	h.Compressed = compressed
	e, err := newCopier(h, d.Program)
	if err != nil {
		return nil, err
	}
	for i := range d.Subsets() {
		s := d.Subset(i)
		for it := range s.Items() {
			e.Copy(it)
			if e.err != nil {
				return nil, e.err
			}
		}
		e.EndSubset()
	}
	return e.Bytes()
}

func newCopier(h Header, p *Program) (*Encoder, error) {
	e := &Encoder{header: h, p: p}
	e.cur.begin(p)
	return e, nil
}

// cursor walks a program field by field while values are given.
type cursor struct {
	p       *Program
	fields  []Field
	pc      int
	factor  bool // the factor of op pc is due
	given   bool // the factor of op pc has been given, its count is n
	col     int
	rep, n  int
	inside  bool // of a run or flat block
	loops   []cursorLoop
	bm      bitmap
	bits    []bool  // of the bitmap being given
	elems   []int32 // field of each element so far, kept where the program has bitmaps
	dynamic *Field  // the field of the marker at pc
}

type cursorLoop struct{ pc, rep, n int }

func (c *cursor) begin(p *Program) {
	*c = cursor{p: p, fields: p.fields, loops: c.loops[:0], elems: c.elems[:0], bits: c.bits[:0]}
	c.bm.reset()
}

func (c *cursor) rows() []int {
	var rows []int
	if c.inside && c.pc < len(c.p.ops) && c.p.ops[c.pc].kind == opFlat {
		rows = append(rows, c.rep)
	}
	for i := len(c.loops) - 1; i >= 0; i-- {
		rows = append(rows, c.loops[i].rep)
	}
	return rows
}

// atFactor reports whether the field due is a replication factor.
func (c *cursor) atFactor() bool { return c.factor }

// flat returns the flat block whose first field is due, or nil.
func (c *cursor) flat() *op {
	f, err := c.field()
	if f == nil || err != nil || !c.inside || c.p.ops[c.pc].kind != opFlat || c.rep != 0 || c.col != 0 {
		return nil
	}
	return &c.p.ops[c.pc]
}

// leave ends the block at once; all its values have been written.
func (c *cursor) leave() {
	c.inside, c.given = false, false
	c.pc++
}

// field returns the field that is due, nil at the end.
func (c *cursor) field() (*Field, error) {
	for c.pc < len(c.p.ops) {
		o := &c.p.ops[c.pc]
		if c.inside {
			f := &c.fields[int(o.first)+c.col]
			if len(c.bits) > 0 && !isPresentBit(f) {
				if err := c.define(); err != nil {
					return nil, err
				}
			}
			if f.Width == 0 { // absent: no bits
				if err := c.done(0); err != nil {
					return nil, err
				}
				continue
			}
			return f, nil
		}
		if o.factor >= 0 && !c.given {
			c.factor = true
			return &c.fields[o.factor], nil
		}
		if !c.given {
			c.n = int(o.n)
		}
		if len(c.bits) > 0 && o.kind != opFlat && o.kind != opRun {
			if err := c.define(); err != nil {
				return nil, err
			}
		}
		switch o.kind {
		case opRun:
			c.inside, c.rep, c.n, c.col = true, 0, 1, 0
		case opFlat:
			if c.n == 0 || o.first == o.last {
				c.leave()
				continue
			}
			if o.repeat {
				c.n = 1 // the data stand there once
			}
			c.inside, c.rep, c.col = true, 0, 0
		case opLoop:
			n := c.n
			if o.repeat {
				n = min(n, 1)
			}
			c.given = false
			if n == 0 {
				c.pc = int(o.end) + 1
				continue
			}
			c.loops = append(c.loops, cursorLoop{c.pc, 0, n})
			c.pc++
		case opEnd:
			l := &c.loops[len(c.loops)-1]
			if l.rep++; l.rep < l.n {
				c.pc = l.pc + 1
				continue
			}
			c.loops = c.loops[:len(c.loops)-1]
			c.pc++
		case opSpecial:
			if err := c.bm.operator(c.fields[o.first].Descriptor, len(c.elems)); err != nil {
				return nil, err
			}
			c.pc++
		case opMarker:
			if c.dynamic == nil {
				f := &c.fields[o.first]
				e, ok := c.bm.take()
				if !ok {
					return nil, fmt.Errorf("%s has no element left in the data present bit-map", f.Descriptor)
				}
				made, err := markerField(f, &c.fields[c.elems[e]])
				if err != nil {
					return nil, err
				}
				c.dynamic = &made
			}
			return c.dynamic, nil
		}
	}
	if len(c.bits) > 0 {
		return nil, c.define()
	}
	return nil, nil
}

func (c *cursor) define() error {
	bits := c.bits
	c.bits = c.bits[:0]
	return c.bm.define(len(bits), func(i int) bool { return !bits[i] })
}

// done tells that the field due has been given as raw.
func (c *cursor) done(raw uint64) error {
	o := &c.p.ops[c.pc]
	if c.dynamic != nil {
		// Elements behind a marker are not referred to again by their own field; the one they stand for serves.
		c.elems = append(c.elems, o.first)
		c.dynamic = nil
		c.pc++
		return nil
	}
	if c.factor {
		c.factor, c.given, c.n = false, true, int(raw)
		if c.p.bitmaps {
			c.elems = append(c.elems, o.factor)
		}
		return nil
	}
	i := o.first + int32(c.col)
	if f := &c.fields[i]; f.Kind == NewReference {
		fields := append([]Field(nil), c.fields...)
		for j := range fields {
			if fields[j].refFrom == i+1 {
				fields[j].Reference = signed(raw, f.Width)
			}
		}
		c.fields = fields
	}
	if c.p.bitmaps && counts(&c.fields[i]) {
		if c.bm.awaiting && isPresentBit(&c.fields[i]) {
			c.bits = append(c.bits, raw == 1)
		}
		c.elems = append(c.elems, i)
	}
	if c.col++; int(o.first)+c.col < int(o.last) {
		return nil
	}
	c.col = 0
	if c.rep++; c.rep < c.n {
		return nil
	}
	c.leave()
	return nil
}
