package bufr

import (
	"fmt"
	"iter"
	"math"
)

// Data is a decoded message. Decoding finds where every value stands and checks that all of them are
// inside the message; the values themselves are read from the message's bits when they are asked for.
// A Data may be decoded into again and again, which keeps its memory and ends the life of the fields, items, subsets
// and tables taken from it before; it may be read from several goroutines.
type Data struct {
	Message *Message
	Program *Program

	data    []byte
	fields  []Field // those of the program, then the dynamic ones
	own     []Field // memory for fields where they differ from the program's
	copied  bool    // fields is own
	targets []int32 // memory for the bitmaps' targets
	segs    []segment
	starts  []int32 // first segment of each subset, and the end
	stride  int64   // bits between subsets that share one layout, else 0
	pos     []uint32
	used    int64 // bits
	loops   []loop
	bitmaps []bitmapUse
	uses    []int32 // first of bitmaps of each subset, and the end; empty without bitmaps
}

// segment is a run of fields, repeated count times.
type segment struct {
	first, fields int32
	count         int32
	loop          int32 // of loops, -1 outside
	off           int64 // bit of the data; in compressed messages index of pos
	stride        int64 // bits (compressed: positions) from one repetition to the next
	item          int32 // position of the first item in the subset
	element       int32 // number of the first element, as bitmaps count
	elements      int32 // in one repetition
	table         bool  // made by a replication
}

// loop is one repetition of a replication whose parts differ in length.
type loop struct {
	parent int32
	row    int32
}

// bitmapUse says which elements the values from segment on refer to.
type bitmapUse struct {
	segment int32
	quality bool
	targets []int32
}

// Limits on what one message may make us keep.
const (
	maxSegments  = 1 << 18
	maxPositions = 1 << 21
	maxFree      = 1 << 20 // items that take no bits of their own
)

// Decode decodes m with the embedded tables that its header asks for.
func Decode(m *Message) (*Data, error) {
	d := new(Data)
	return d, d.Decode(m, nil)
}

// Decode decodes m into d. local, which may be nil, holds the user's own definitions. On an error d holds nothing.
func (d *Data) Decode(m *Message, local *LocalTables) error {
	d.clear()
	t, err := m.Tables()
	if err != nil {
		return &Error{Offset: m.Offset, Problem: err.Error()}
	}
	p, err := Compile(t.With(local), m.Descriptors)
	if err != nil {
		if c, ok := err.(*CompileError); ok {
			return &Error{Offset: m.Offset, Path: c.Path, Problem: c.Problem}
		}
		return &Error{Offset: m.Offset, Problem: err.Error()}
	}
	d.Message, d.Program, d.data, d.fields = m, p, m.Data, p.fields
	x := layout{d: d, bits: int64(len(m.Data)) * 8}
	x.map_.arena = d.targets
	if err := x.message(); err != nil {
		d.clear()
		return err
	}
	d.used, d.targets = x.off, x.map_.arena
	if d.stride > 0 {
		d.used = d.stride * int64(m.Subsets)
	}
	return nil
}

func (d *Data) clear() {
	*d = Data{own: d.own[:0], targets: d.targets[:0], segs: d.segs[:0], starts: d.starts[:0], pos: d.pos[:0], loops: d.loops[:0], bitmaps: d.bitmaps[:0], uses: d.uses[:0]}
}

// Subsets returns the number of data subsets.
func (d *Data) Subsets() int {
	if d.Message == nil {
		return 0
	}
	return d.Message.Subsets
}

// Unread returns how many octets of section 4 no descriptor describes: 0 in a sound message. The octet
// that fills section 4 up to an even count in editions 2 and 3 is not counted, unless it holds something.
func (d *Data) Unread() int {
	if d.Message == nil {
		return 0
	}
	n := len(d.data) - int((d.used+7)/8)
	if n == 1 && d.Message.Edition < 4 && d.data[len(d.data)-1] == 0 {
		return 0
	}
	return n
}

// Subset is one data subset: one report.
type Subset struct {
	d     *Data
	index int
	segs  []segment
	base  int64
}

// Subset returns subset i, counted from 0. It panics where there is none.
func (d *Data) Subset(i int) Subset {
	if i < 0 || i >= d.Subsets() {
		panic(fmt.Sprintf("bufr: subset %d of %d", i, d.Subsets()))
	}
	s := Subset{d: d, index: i, base: d.stride * int64(i)}
	if d.stride > 0 || d.Message.Compressed {
		s.segs = d.segs
	} else {
		s.segs = d.segs[d.starts[i]:d.starts[i+1]]
	}
	return s
}

// bit returns where field col of repetition rep stands; not for compressed messages.
func (s *Subset) bit(g *segment, rep, col int) int64 {
	f := s.d.fields[g.first : g.first+g.fields]
	return g.off + s.base + int64(rep)*g.stride + int64(f[col].at-f[0].at)
}

// read returns the raw bits of a field that is no text.
func (s *Subset) read(g *segment, rep, col int) (raw uint64, missing bool) {
	f := &s.d.fields[int(g.first)+col]
	if f.Width == 0 {
		return 0, true
	}
	if f.Width > 64 { // a local element that is only skipped
		return 0, false
	}
	if !s.d.Message.Compressed {
		raw = readBits(s.d.data, s.bit(g, rep, col), f.Width)
		return raw, raw == f.mask && !f.noMissing
	}
	at := int64(s.d.pos[g.off+int64(rep)*g.stride+int64(col)])
	raw = readBits(s.d.data, at, f.Width)
	n := int(readBits(s.d.data, at+int64(f.Width), 6))
	if n == 0 {
		return raw, raw == f.mask && !f.noMissing
	}
	add := readBits(s.d.data, at+int64(f.Width)+6+int64(n)*int64(s.index), n)
	if add == 1<<n-1 && !f.noMissing {
		return f.mask, true
	}
	// A sum of all ones is what "missing" looks like without compression, so it is here too.
	return raw + add, raw+add == f.mask && !f.noMissing
}

// octets appends the octets of a text (or of any field of whole octets) to dst.
func (s *Subset) octets(dst []byte, g *segment, rep, col int) (_ []byte, missing bool) {
	f := &s.d.fields[int(g.first)+col]
	n := f.Width / 8
	var at int64
	if !s.d.Message.Compressed {
		at = s.bit(g, rep, col)
	} else {
		at = int64(s.d.pos[g.off+int64(rep)*g.stride+int64(col)])
		if k := int(readBits(s.d.data, at+int64(f.Width), 6)); k > 0 {
			at += int64(f.Width) + 6 + int64(8*k)*int64(s.index)
			if k < n {
				// Shorter than the element: filled with blanks. One that is missing stays all ones.
				if allOnes(s.d.data, at, k) {
					for range n {
						dst = append(dst, 0xFF)
					}
					return dst, true
				}
				dst = appendOctets(dst, s.d.data, at, k)
				for range n - k {
					dst = append(dst, ' ')
				}
				return dst, false
			}
		}
	}
	if allOnes(s.d.data, at, n) {
		missing = true
	}
	return appendOctets(dst, s.d.data, at, n), missing
}

// Item is one value of a subset, with everything around it.
type Item struct {
	Field   *Field
	Index   int    // position in the subset, from 0; operators are counted
	Row     int    // repetition of the innermost replication, from 0; -1 outside
	Raw     uint64 // bits as they stand; 0 for text
	Missing bool
	// Target is the Index of the item that this one qualifies (associated fields, quality information,
	// values behind a bitmap), else -1.
	Target int

	s   *Subset
	g   *segment
	rep int
	col int
}

// Value returns the value in the field's unit; NaN where it is missing, text or an operator.
func (it *Item) Value() float64 {
	switch it.Field.Kind {
	case NewReference:
		return float64(signed(it.Raw, it.Field.Width))
	case Number, Code, Flag, Associated:
		if !it.Missing {
			return it.Field.Value(it.Raw)
		}
	}
	return math.NaN()
}

// AppendText adds the octets of a text, trailing blanks included, to b.
func (it *Item) AppendText(b []byte) []byte {
	b, _ = it.s.octets(b, it.g, it.rep, it.col)
	return b
}

// Text returns a text without the blanks and zero octets that fill it up; "" where it is missing or no text.
func (it *Item) Text() string {
	if it.Field.Kind != Text || it.Missing {
		return ""
	}
	return string(trim(it.AppendText(nil)))
}

func trim(b []byte) []byte {
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == 0) {
		b = b[:len(b)-1]
	}
	return b
}

// Meaning returns what a code figure or the flags that are on mean; "" for other kinds and where nothing is known.
func (it *Item) Meaning() string {
	if it.Missing {
		return ""
	}
	return Meaning(it.Field.Descriptor, it.Field.Kind, it.Field.Width, it.Raw)
}

// AppendMeaning adds the Meaning to b.
func (it *Item) AppendMeaning(b []byte) []byte {
	if it.Missing {
		return b
	}
	return appendMeaning(b, it.Field.Descriptor, it.Field.Kind, it.Field.Width, it.Raw)
}

// Path returns the descriptors that lead to the item, with the repetition of each replication counted
// from 1: "309052/101000[17]/303054/012101".
func (it *Item) Path() string { return it.s.d.path(it.g, it.Field, it.rep) }

func (d *Data) path(g *segment, f *Field, rep int) string {
	var rows []int
	if g.table {
		rows = append(rows, rep)
	}
	for l := g.loop; l >= 0; l = d.loops[l].parent {
		rows = append(rows, int(d.loops[l].row))
	}
	return d.Program.path(f, rows)
}

// Len returns the number of items.
func (s *Subset) Len() int {
	if len(s.segs) == 0 {
		return 0
	}
	g := &s.segs[len(s.segs)-1]
	return int(g.item + g.fields*g.count)
}

// Items walks all values of the subset in the order of the message, operators included. The item is
// overwritten by the next one: copy what you keep.
func (s Subset) Items() iter.Seq[*Item] {
	return func(yield func(*Item) bool) {
		it := Item{s: &s}
		uses, at := s.bitmapUses()
		var use bitmapUse
		next := 0
		for i := range s.segs {
			g := &s.segs[i]
			it.g = g
			for len(uses) > 0 && int(uses[0].segment)-at <= i {
				use, uses, next = uses[0], uses[1:], 0
			}
			it.Index = int(g.item)
			for rep := range int(g.count) {
				it.rep, it.Row = rep, -1
				if g.table {
					it.Row = rep
				} else if g.loop >= 0 {
					it.Row = int(s.d.loops[g.loop].row)
				}
				for col := range int(g.fields) {
					f := &s.d.fields[int(g.first)+col]
					it.Field, it.col, it.Target = f, col, -1
					it.Raw, it.Missing = 0, false
					switch {
					case f.Kind == Text:
						_, it.Missing = s.octets(nil, g, rep, col)
					case f.Kind != Operator:
						it.Raw, it.Missing = s.read(g, rep, col)
					}
					switch {
					case f.Kind == Associated:
						it.Target = it.Index + 1
					case (f.dynamic || use.quality && f.Descriptor.X() == 33 && f.Kind != Operator) && next < len(use.targets):
						it.Target = s.itemOf(int(use.targets[next]))
						next++
					}
					if !yield(&it) {
						return
					}
					it.Index++
				}
			}
		}
	}
}

func (s *Subset) bitmapUses() (uses []bitmapUse, firstSegment int) {
	d := s.d
	if len(d.uses) == 0 {
		return nil, 0
	}
	if d.stride > 0 || d.Message.Compressed {
		return d.bitmaps, 0
	}
	return d.bitmaps[d.uses[s.index]:d.uses[s.index+1]], int(d.starts[s.index])
}

// segmentOf returns the segment that holds element number e.
func segmentOf(segs []segment, e int) *segment {
	lo, hi := 0, len(segs)
	for lo < hi {
		m := int(uint(lo+hi) >> 1)
		if int(segs[m].element) <= e {
			lo = m + 1
		} else {
			hi = m
		}
	}
	// Segments without elements share their number with the one after them.
	for lo--; lo > 0 && segs[lo].elements*segs[lo].count == 0; lo-- {
	}
	return &segs[lo]
}

// locate returns the repetition and column of element number e in g.
func locate(fields []Field, g *segment, e int) (rep, col int) {
	k := e - int(g.element)
	rep = k / int(g.elements)
	k %= int(g.elements)
	for col = range int(g.fields) {
		if counts(&fields[int(g.first)+col]) {
			if k == 0 {
				break
			}
			k--
		}
	}
	return rep, col
}

// counts reports whether bitmaps count the field as an element.
func counts(f *Field) bool {
	return f.Kind != Associated && f.Kind != Operator && f.Kind != NewReference
}

func (s *Subset) itemOf(element int) int {
	g := segmentOf(s.segs, element)
	rep, col := locate(s.d.fields, g, element)
	return int(g.item) + rep*int(g.fields) + col
}

// Find returns occurrence n (from 0) of element d outside the tables that Tables returns.
func (s Subset) Find(d Descriptor, n int) (Item, bool) {
	for i := range s.segs {
		g := &s.segs[i]
		if g.table {
			continue
		}
		for col := range int(g.fields) {
			f := &s.d.fields[int(g.first)+col]
			if f.Descriptor != d || f.Kind == Associated || f.Kind == Operator || f.Kind == NewReference || f.dynamic {
				continue
			}
			if n > 0 {
				n--
				continue
			}
			own := s // so that s itself stays off the heap where nothing is found
			it := Item{Field: f, Index: int(g.item) + col, Row: -1, Target: -1, s: &own, g: g, col: col}
			if g.loop >= 0 {
				it.Row = int(s.d.loops[g.loop].row)
			}
			if f.Kind == Text {
				_, it.Missing = s.octets(nil, g, 0, col)
			} else {
				it.Raw, it.Missing = s.read(g, 0, col)
			}
			return it, true
		}
	}
	return Item{}, false
}

// Number returns the value of occurrence n of element d outside the tables; NaN where it is missing or absent.
func (s Subset) Number(d Descriptor, n int) float64 {
	it, ok := s.Find(d, n)
	if !ok {
		return math.NaN()
	}
	return it.Value()
}

// Text returns the text of occurrence n of element d outside the tables; "" where it is missing or absent.
func (s Subset) Text(d Descriptor, n int) string {
	it, ok := s.Find(d, n)
	if !ok {
		return ""
	}
	return it.Text()
}

// Table is a replicated block in which every repetition has the same fields and bits: the levels of
// a sounding, for example. A row is one repetition.
type Table struct {
	s Subset
	g *segment
}

// Tables returns the tables of the subset in order, those without rows included. A replication whose
// parts differ in length is no table: walk Items for it.
func (s Subset) Tables() []Table { return s.AppendTables(nil) }

// AppendTables adds the tables of the subset to dst.
func (s Subset) AppendTables(dst []Table) []Table {
	for i := range s.segs {
		if s.segs[i].table {
			dst = append(dst, Table{s, &s.segs[i]})
		}
	}
	return dst
}

// TableWith returns the first table that has a column of each descriptor.
func (s Subset) TableWith(columns ...Descriptor) (Table, bool) {
	for i := range s.segs {
		if !s.segs[i].table {
			continue
		}
		t := Table{s, &s.segs[i]}
		ok := true
		for _, d := range columns {
			ok = ok && t.Column(d, 0) >= 0
		}
		if ok {
			return t, true
		}
	}
	return Table{}, false
}

// Rows returns the number of repetitions.
func (t Table) Rows() int { return int(t.g.count) }

// Fields returns the columns. The caller must not change them.
func (t Table) Fields() []Field { return t.s.d.fields[t.g.first : t.g.first+t.g.fields] }

// First returns the Index, among the items of the subset, of the value in the first row and column;
// row r and column c has Index First + r·len(Fields) + c.
func (t Table) First() int { return int(t.g.item) }

// Column returns the number of the column that holds occurrence n (from 0) of element d, or -1.
func (t Table) Column(d Descriptor, n int) int {
	fields := t.Fields()
	for i := range fields {
		if f := &fields[i]; f.Descriptor == d && counts(f) {
			if n == 0 {
				return i
			}
			n--
		}
	}
	return -1
}

// Float64s puts the values of column col, in its unit and NaN where missing, into dst, which grows where
// it is too short, and returns it. A text column gives NaN. It panics where there is no such column.
func (t Table) Float64s(col int, dst []float64) []float64 {
	dst = sized(dst, t.Rows())
	f := &t.Fields()[col]
	switch f.Kind {
	case Text, Local, Absent, Operator:
		for i := range dst {
			dst[i] = math.NaN()
		}
		return dst
	}
	if t.s.d.Message.Compressed {
		for i := range dst {
			raw, missing := t.s.read(t.g, i, col)
			dst[i] = f.Value(raw)
			if missing {
				dst[i] = math.NaN()
			}
		}
		return dst
	}
	// The hot loop: one unaligned load, two shifts, a comparison, a conversion and a division.
	b := t.s.d.data
	off := t.s.bit(t.g, 0, col)
	stride := t.g.stride
	fast := t.fast(off, f.Width)
	none := f.mask
	if f.noMissing {
		none = math.MaxUint64 // no raw value of at most 57 bits equals it
	}
	down := uint(64 - f.Width)
	ref := f.Reference
	pow := f.pow
	if f.Scale > 0 {
		for i := range dst[:fast] {
			raw := load(b, off) >> down
			v := float64(int64(raw)+ref) / pow
			if raw == none {
				v = math.NaN()
			}
			dst[i] = v
			off += stride
		}
	} else {
		for i := range dst[:fast] {
			raw := load(b, off) >> down
			v := float64(int64(raw)+ref) * pow
			if raw == none {
				v = math.NaN()
			}
			dst[i] = v
			off += stride
		}
	}
	for i := fast; i < len(dst); i++ {
		raw, missing := t.s.read(t.g, i, col)
		dst[i] = f.Value(raw)
		if missing {
			dst[i] = math.NaN()
		}
	}
	return dst
}

// Raws puts the bits of column col into dst, which grows where it is too short, and returns it. Missing
// values are all bits on; Field.Missing tells whether a column can be missing at all. It panics where there is no such column.
func (t Table) Raws(col int, dst []uint64) []uint64 {
	dst = sized(dst, t.Rows())
	f := &t.Fields()[col]
	if t.s.d.Message.Compressed || f.Kind == Text || f.Width > 64 || f.Width == 0 {
		for i := range dst {
			dst[i] = 0
			if f.Kind != Text {
				dst[i], _ = t.s.read(t.g, i, col)
			}
		}
		return dst
	}
	b := t.s.d.data
	off := t.s.bit(t.g, 0, col)
	stride := t.g.stride
	fast := t.fast(off, f.Width)
	down := uint(64 - f.Width)
	for i := range dst[:fast] {
		dst[i] = load(b, off) >> down
		off += stride
	}
	for i := fast; i < len(dst); i++ {
		dst[i], _ = t.s.read(t.g, i, col)
	}
	return dst
}

// Missing returns the raw value that means missing, and whether the field can be missing at all.
func (f *Field) Missing() (raw uint64, can bool) { return f.mask, !f.noMissing }

// Text returns the text in a row of a text column, without the blanks that fill it up; "" where missing.
func (t Table) Text(col, row int) string {
	if t.Fields()[col].Kind != Text {
		return ""
	}
	if row < 0 || row >= t.Rows() {
		panic(fmt.Sprintf("bufr: row %d of %d", row, t.Rows()))
	}
	b, missing := t.s.octets(nil, t.g, row, col)
	if missing {
		return ""
	}
	return string(trim(b))
}

// fast returns how many rows, from the first, can be read with one load of eight octets.
func (t Table) fast(off int64, width int) int {
	if width > 57 {
		return 0
	}
	rows := int64(t.Rows())
	if t.g.stride == 0 {
		if off>>3+8 > int64(len(t.s.d.data)) {
			return 0
		}
		return int(rows)
	}
	// Row r is readable while (off + r·stride)/8 + 8 ≤ len.
	last := int64(len(t.s.d.data))*8 - 64 + 7 - off
	if last < 0 {
		return 0
	}
	return int(min(rows, last/t.g.stride+1))
}

// load returns 57 bits or more from bit off on, left-aligned.
func load(b []byte, off int64) uint64 {
	s := b[off>>3:]
	_ = s[7]
	return (uint64(s[7]) | uint64(s[6])<<8 | uint64(s[5])<<16 | uint64(s[4])<<24 |
		uint64(s[3])<<32 | uint64(s[2])<<40 | uint64(s[1])<<48 | uint64(s[0])<<56) << uint(off&7)
}

func sized[T any](dst []T, n int) []T {
	if cap(dst) < n {
		return make([]T, n)
	}
	return dst[:n]
}
