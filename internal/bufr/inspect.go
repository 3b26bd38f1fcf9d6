package bufr

import (
	"io"
	"strconv"
)

// Inspector prints messages element by element. It keeps its buffers between messages; its zero value is ready.
//
// Text: a head for the message, then one line a value: its position in the subset, the repetition of the innermost
// replication in brackets, the descriptor, raw value in decimal, value at the coded resolution with its unit, the bits,
// the name, and in words what a code figure or the flags that are on mean. From the second repetition on, bits and
// name, which are those of the first, are left out unless Full is set.
//
// JSON: one object a message with the figures of its head; "fields", the places of the template with descriptor, name,
// unit, bits, scale and reference; and "subsets", an array of values each. A value has its index, the row where it is
// repeated, the number of its field (counted from 0), raw bits, value, and where known the meaning and the index of
// the value it qualifies. Missing is null.
type Inspector struct {
	Full bool // text: bits and name on every line

	out   []byte
	w     io.Writer
	err   error
	place []place
	text  []byte
}

// place is what is the same for every value of a field, rendered once.
type place struct {
	ready      bool
	head       []byte // before the raw value
	long, tail []byte // after the value: in the first repetition, in the others
	missing    []byte
	hasMeaning bool
	cached     bool // raw and its rendering are those of the value before
	raw        uint64
	rendered   []byte
	meaning    []byte
}

const flushAt = 1 << 16

// Text prints d to w as text.
func (p *Inspector) Text(w io.Writer, d *Data) error { return p.print(w, d, false) }

// JSON prints d to w as one JSON object and a line end.
func (p *Inspector) JSON(w io.Writer, d *Data) error { return p.print(w, d, true) }

func (p *Inspector) print(w io.Writer, d *Data, json bool) error {
	p.w, p.err, p.out = w, nil, p.out[:0]
	if cap(p.out) == 0 {
		p.out = make([]byte, 0, flushAt+8192)
	}
	if cap(p.place) < len(d.fields) {
		p.place = make([]place, len(d.fields))
	}
	p.place = p.place[:len(d.fields)]
	for i := range p.place {
		p.place[i].ready = false
	}
	if json {
		p.jsonHead(d)
	} else {
		p.textHead(d)
	}
	for i := range d.Subsets() {
		if json && i > 0 {
			p.out = append(p.out, ',')
		}
		p.subset(d, i, json)
		if p.err != nil {
			return p.err
		}
	}
	if json {
		p.out = append(p.out, "]}\n"...)
	}
	p.flush()
	return p.err
}

func (p *Inspector) flush() {
	if p.err == nil && len(p.out) > 0 {
		_, p.err = p.w.Write(p.out)
	}
	p.out = p.out[:0]
}

func (p *Inspector) textHead(d *Data) {
	m := d.Message
	b := p.out
	if !m.Before.Empty() {
		b = append(b, "skipped "...)
		b = append(b, m.Before.String()...)
		b = append(b, '\n')
	}
	line := func(name string, v int) {
		b = append(b, "  "...)
		b = append(b, name...)
		b = append(b, ' ')
		b = appendInt(b, int64(v))
	}
	b = append(b, "message at byte "...)
	b = strconv.AppendInt(b, m.Offset, 10)
	line("octets", m.Length)
	line("edition", m.Edition)
	b = append(b, '\n')
	line("centre", m.Centre)
	line("sub-centre", m.SubCentre)
	line("update", m.Update)
	line("category", m.Category)
	line("sub-category", m.SubCategory)
	line("local sub-category", m.LocalSubCategory)
	b = append(b, '\n')
	line("master table", m.MasterTable)
	line("version", m.TableVersion)
	line("read with version", d.Program.Tables.Version())
	line("local version", m.LocalVersion)
	b = append(b, "\n  typical time "...)
	b = appendTime(b, &m.Header)
	line("subsets", m.Subsets)
	line("observed", boolInt(m.Observed))
	line("compressed", boolInt(m.Compressed))
	b = append(b, "\n  descriptors"...)
	for _, x := range m.Descriptors {
		b = append(b, ' ')
		b = x.Append(b)
	}
	if n := d.Unread(); n > 0 {
		b = append(b, '\n')
		line("octets at the end of section 4 that no descriptor describes:", n)
	}
	p.out = append(b, '\n')
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

func appendTime(b []byte, h *Header) []byte {
	two := func(v int) {
		if v < 10 {
			b = append(b, '0')
		}
		b = appendInt(b, int64(v))
	}
	b = appendInt(b, int64(h.Year))
	b = append(b, '-')
	two(h.Month)
	b = append(b, '-')
	two(h.Day)
	b = append(b, 'T')
	two(h.Hour)
	b = append(b, ':')
	two(h.Minute)
	b = append(b, ':')
	two(h.Second)
	return append(b, 'Z')
}

func (p *Inspector) jsonHead(d *Data) {
	m := d.Message
	b := append(p.out, `{"offset_byte":`...)
	b = strconv.AppendInt(b, m.Offset, 10)
	number := func(name string, v int) {
		b = append(b, `,"`...)
		b = append(b, name...)
		b = append(b, `":`...)
		b = appendInt(b, int64(v))
	}
	number("length_bytes", m.Length)
	number("edition", m.Edition)
	number("master_table", m.MasterTable)
	number("centre", m.Centre)
	number("sub_centre", m.SubCentre)
	number("update", m.Update)
	number("category", m.Category)
	number("sub_category", m.SubCategory)
	number("local_sub_category", m.LocalSubCategory)
	number("table_version", m.TableVersion)
	number("table_version_used", d.Program.Tables.Version())
	number("local_version", m.LocalVersion)
	b = append(b, `,"typical_time":"`...)
	b = appendTime(b, &m.Header)
	b = append(b, '"')
	number("subset_count", m.Subsets)
	number("unread_bytes", d.Unread())
	b = append(b, `,"observed":`...)
	b = strconv.AppendBool(b, m.Observed)
	b = append(b, `,"compressed":`...)
	b = strconv.AppendBool(b, m.Compressed)
	b = append(b, `,"descriptors":[`...)
	for i, x := range m.Descriptors {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(b, '"')
		b = x.Append(b)
		b = append(b, '"')
	}
	b = append(b, ']')
	if !m.Before.Empty() {
		b = append(b, `,"skipped":`...)
		b = appendJSONString(b, []byte(m.Before.String()))
	}
	b = append(b, `,"fields":[`...)
	for i := range d.fields {
		f := &d.fields[i]
		if i > 0 {
			b = append(b, ',')
		}
		b = append(b, "\n{\"descriptor\":\""...)
		b = f.shown().Append(b)
		b = append(b, '"')
		if f.Operator != 0 && f.Operator != f.Descriptor {
			b = append(b, `,"of":"`...)
			b = f.Descriptor.Append(b)
			b = append(b, '"')
		}
		b = append(b, `,"name":`...)
		b = appendJSONString(b, []byte(f.Title()))
		b = append(b, `,"unit":`...)
		b = appendJSONString(b, []byte(f.Unit))
		b = append(b, `,"kind":"`...)
		b = append(b, f.Kind.String()...)
		b = append(b, '"')
		number("bits", f.Width)
		number("scale", f.Scale)
		b = append(b, `,"reference":`...)
		b = appendInt(b, f.Reference)
		b = append(b, '}')
	}
	p.out = append(b, `],"subsets":[`...)
}

// shown is the descriptor under which a field is printed: the operator's where an operator made it.
func (f *Field) shown() Descriptor {
	if f.Operator != 0 {
		return f.Operator
	}
	return f.Descriptor
}

func (p *Inspector) subset(d *Data, index int, json bool) {
	s := d.Subset(index)
	if json {
		p.out = append(p.out, '[')
	} else {
		b := append(p.out, "subset "...)
		b = appendInt(b, int64(index+1))
		b = append(b, " of "...)
		b = appendInt(b, int64(d.Subsets()))
		p.out = append(b, '\n')
	}
	uses, at := s.bitmapUses()
	var use bitmapUse
	next := 0
	for i := range s.segs {
		g := &s.segs[i]
		for len(uses) > 0 && int(uses[0].segment)-at <= i {
			use, uses, next = uses[0], uses[1:], 0
		}
		position := int(g.item)
		row := -1
		if g.loop >= 0 {
			row = int(d.loops[g.loop].row)
		}
		fields := d.fields[g.first : g.first+g.fields]
		for rep := range int(g.count) {
			if g.table {
				row = rep
			}
			for col := range fields {
				f := &fields[col]
				target := -1
				switch {
				case f.Kind == Associated:
					target = position + 1
				case next < len(use.targets) && (f.dynamic || use.quality && f.Descriptor.X() == 33 && f.Kind != Operator):
					target = s.itemOf(int(use.targets[next]))
					next++
				}
				p.value(&s, g, rep, col, position, row, target, json)
				position++
			}
			if len(p.out) >= flushAt {
				if p.flush(); p.err != nil {
					return
				}
			}
		}
	}
	if json {
		p.out = append(p.out, ']')
	}
}

func (p *Inspector) value(s *Subset, g *segment, rep, col, index, row, target int, json bool) {
	k := int(g.first) + col
	f := &s.d.fields[k]
	pl := &p.place[k]
	if !pl.ready {
		pl.prepare(f, k, json)
	}
	b := p.out
	if json {
		if index > 0 {
			b = append(b, ',')
		}
		b = append(b, "\n{\"index\":"...)
		b = appendUint(b, uint64(index+1))
		if row >= 0 {
			b = append(b, `,"row":`...)
			b = appendUint(b, uint64(row+1))
		}
	} else {
		b = appendAligned(b, uint64(index+1))
		if row >= 0 {
			b = append(b, '[')
			b = appendUint(b, uint64(row+1))
			b = append(b, ']')
		}
	}
	b = append(b, pl.head...)
	var meaning []byte
	switch {
	case f.Kind == Operator:
	case f.Kind == Text:
		t, missing := s.octets(p.text[:0], g, rep, col)
		p.text = t
		switch {
		case missing:
			b = append(b, pl.missing...)
		case json:
			b = append(b, `,"value":`...)
			b = appendJSONString(b, trim(t))
		default:
			b = strconv.AppendQuoteToASCII(b, string(trim(t)))
		}
	default:
		raw, missing := s.read(g, rep, col)
		switch {
		case missing:
			b = append(b, pl.missing...)
		case pl.cached && raw == pl.raw:
			b = append(b, pl.rendered...)
			meaning = pl.meaning
		default:
			start := len(b)
			b = render(b, f, raw, json)
			if pl.hasMeaning {
				pl.cached, pl.raw = true, raw
				pl.rendered = append(pl.rendered[:0], b[start:]...)
				pl.meaning = appendMeaning(pl.meaning[:0], f.Descriptor, f.Kind, f.Width, raw)
				meaning = pl.meaning
			}
		}
	}
	if json {
		if len(meaning) > 0 {
			b = append(b, `,"meaning":`...)
			b = appendJSONString(b, meaning)
		}
		if target >= 0 {
			b = append(b, `,"qualifies":`...)
			b = appendUint(b, uint64(target+1))
		}
		p.out = append(b, '}')
		return
	}
	if row <= 0 || p.Full {
		b = append(b, pl.long...)
	} else {
		b = append(b, pl.tail...)
	}
	if len(meaning) > 0 {
		b = append(b, "  = "...)
		b = append(b, meaning...)
	}
	if target >= 0 {
		b = append(b, "  of "...)
		b = appendUint(b, uint64(target+1))
	}
	p.out = append(b, '\n')
}

// prepare renders what all values of field k have in common.
func (pl *place) prepare(f *Field, k int, json bool) {
	pl.ready, pl.cached, pl.hasMeaning = true, false, f.Kind == Code || f.Kind == Flag
	pl.missing, pl.long, pl.tail = pl.missing[:0], pl.long[:0], pl.tail[:0]
	b := pl.head[:0]
	if json {
		b = append(b, `,"field":`...)
		pl.head = appendUint(b, uint64(k))
		if f.Kind != Text {
			pl.missing = append(pl.missing, `,"raw":null`...)
		}
		pl.missing = append(pl.missing, `,"value":null`...)
		return
	}
	b = append(b, ' ')
	b = f.shown().Append(b)
	pl.head = append(b, "  "...)
	pl.missing = append(pl.missing, "missing"...)
	b = pl.tail
	switch f.Kind {
	case Number:
		if f.Unit != "Numeric" {
			b = append(b, ' ')
			b = append(b, f.Unit...)
		}
	}
	pl.tail = b
	b = append(pl.long, pl.tail...)
	if f.Kind != Operator {
		b = append(b, "  ("...)
		b = appendUint(b, uint64(f.Width))
		b = append(b, " bits"...)
		if f.Kind != Number || f.Unit == "Numeric" {
			b = append(b, ", "...)
			b = append(b, f.Unit...)
		}
		b = append(b, ") "...)
	}
	pl.long = append(b, f.Title()...)
}

func render(b []byte, f *Field, raw uint64, json bool) []byte {
	if json {
		b = append(b, `,"raw":`...)
		b = appendUint(b, raw)
		b = append(b, `,"value":`...)
	} else {
		b = appendUint(b, raw)
		b = append(b, "  "...)
	}
	switch f.Kind {
	case Local:
		if json {
			return append(b, "null"...)
		}
		return append(b, "unknown"...)
	case NewReference:
		return appendInt(b, signed(raw, f.Width))
	}
	if f.Scale == 0 {
		return appendInt(b, int64(raw)+f.Reference)
	}
	return AppendDecimal(b, int64(raw)+f.Reference, f.Scale)
}

// appendAligned adds n in seven characters or more, and a blank.
func appendAligned(b []byte, n uint64) []byte {
	if n >= 10000000 {
		return append(appendUint(b, n), ' ')
	}
	a := [8]byte{' ', ' ', ' ', ' ', ' ', ' ', ' ', ' '}
	i := 6
	for ; n >= 100; n /= 100 {
		p := n % 100 * 2
		a[i-1], a[i] = pairs[p], pairs[p+1]
		i -= 2
	}
	if a[i] = byte('0' + n%10); n >= 10 {
		a[i-1] = byte('0' + n/10)
	}
	return append(b, a[:]...)
}

// appendJSONString adds s in quotes; octets that are no printable ASCII are written as \u00XX.
func appendJSONString(b, s []byte) []byte {
	b = append(b, '"')
	for _, c := range s {
		switch {
		case c == '"' || c == '\\':
			b = append(b, '\\', c)
		case c < ' ' || c > '~':
			const hex = "0123456789abcdef"
			b = append(b, `\u00`...)
			b = append(b, hex[c>>4], hex[c&15])
		default:
			b = append(b, c)
		}
	}
	return append(b, '"')
}
