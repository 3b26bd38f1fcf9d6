package bufr

import (
	"io"
	"strconv"
)

// Inspector prints messages element by element. It keeps its buffers between messages; its zero value is ready.
//
// Text: a head for the message, then for each value one line with its position in the subset, the
// repetition of the innermost replication in brackets, the descriptor, name, unit, bits, raw value in
// decimal, value at the coded resolution, and in words what a code figure or the flags that are on mean.
//
// JSON: one object a message with the head's figures and "values", an array with one object a value.
type Inspector struct {
	out   []byte
	w     io.Writer
	err   error
	place []place
	text  []byte
}

// place is what is the same for every value of a field, printed once.
type place struct {
	field      *Field
	head, tail []byte
	cached     bool // raw and its rendering are those of the value before
	raw        uint64
	rendered   []byte
	missing    []byte
	hasMeaning bool
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
		p.place[i].field = nil
	}
	if json {
		p.jsonHead(d)
	} else {
		p.textHead(d)
	}
	for i := range d.Subsets() {
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
	number("subsets", m.Subsets)
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
	p.out = append(b, `,"values":[`...)
}

func (p *Inspector) subset(d *Data, index int, json bool) {
	s := d.Subset(index)
	b := p.out
	if !json {
		b = append(b, "subset "...)
		b = appendInt(b, int64(index+1))
		b = append(b, " of "...)
		b = appendInt(b, int64(d.Subsets()))
		b = append(b, '\n')
	}
	p.out = b
	if d.Program.bitmaps {
		for it := range s.Items() {
			p.value(&s, it.g, it.rep, it.col, it.Index, it.Target, json)
			if p.err != nil {
				return
			}
		}
		return
	}
	for i := range s.segs {
		g := &s.segs[i]
		index := int(g.item)
		for rep := range int(g.count) {
			for col := range int(g.fields) {
				p.value(&s, g, rep, col, index, -1, json)
				index++
			}
			if p.err != nil {
				return
			}
		}
	}
}

func (p *Inspector) value(s *Subset, g *segment, rep, col, index, target int, json bool) {
	k := int(g.first) + col
	f := &s.d.fields[k]
	pl := &p.place[k]
	if pl.field != f {
		p.prepare(pl, f, json)
	}
	if len(p.out) >= flushAt {
		p.flush()
	}
	row := -1
	if g.table {
		row = rep
	} else if g.loop >= 0 {
		row = int(s.d.loops[g.loop].row)
	}
	b := p.out
	if json {
		if b = append(b, '\n'); index > 0 || s.index > 0 {
			b[len(b)-1] = ','
			b = append(b, '\n')
		}
		b = append(b, `{"subset":`...)
		b = appendInt(b, int64(s.index+1))
		b = append(b, `,"index":`...)
		b = appendInt(b, int64(index+1))
		if row >= 0 {
			b = append(b, `,"row":`...)
			b = appendInt(b, int64(row+1))
		}
		if target >= 0 {
			b = append(b, `,"qualifies":`...)
			b = appendInt(b, int64(target+1))
		}
	} else {
		start := len(b)
		b = padLeft(appendInt(b, int64(index+1)), start, 7)
		start = len(b)
		if row >= 0 {
			b = append(b, " ["...)
			b = appendInt(b, int64(row+1))
			b = append(b, ']')
		}
		b = padRight(b, start, 9)
	}
	b = append(b, pl.head...)
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
			b = append(b, "           - "...)
			b = strconv.AppendQuote(b, string(trim(t)))
		}
	default:
		raw, missing := s.read(g, rep, col)
		switch {
		case missing:
			b = append(b, pl.missing...)
		case pl.cached && raw == pl.raw:
			b = append(b, pl.rendered...)
		default:
			start := len(b)
			b = pl.render(b, f, raw, json)
			if pl.hasMeaning {
				pl.cached, pl.raw = true, raw
				pl.rendered = append(pl.rendered[:0], b[start:]...)
			}
		}
	}
	if !json && target >= 0 {
		b = append(b, "  qualifies "...)
		b = appendInt(b, int64(target+1))
	}
	p.out = append(b, pl.tail...)
}

// prepare renders what all values of a field have in common.
func (p *Inspector) prepare(pl *place, f *Field, json bool) {
	*pl = place{field: f, head: pl.head[:0], missing: pl.missing[:0], rendered: pl.rendered[:0], hasMeaning: f.Kind == Code || f.Kind == Flag}
	d := f.Descriptor
	if f.Operator != 0 {
		d = f.Operator
	}
	b := pl.head
	if json {
		b = append(b, `,"descriptor":"`...)
		b = d.Append(b)
		b = append(b, '"')
		if f.Operator != 0 && f.Operator != f.Descriptor {
			b = append(b, `,"of":"`...)
			b = f.Descriptor.Append(b)
			b = append(b, '"')
		}
		b = append(b, `,"name":`...)
		b = appendJSONString(b, []byte(f.Name))
		b = append(b, `,"unit":`...)
		b = appendJSONString(b, []byte(f.Unit))
		b = append(b, `,"bits":`...)
		pl.head = appendInt(b, int64(f.Width))
		pl.missing = append(pl.missing, `,"raw":null,"value":null`...)
		if f.Kind == Text {
			pl.missing = append(pl.missing[:0], `,"value":null`...)
		}
		pl.tail = []byte("}")
		return
	}
	b = d.Append(b)
	b = append(b, "  "...)
	start := len(b)
	b = append(b, f.Name...)
	b = padRight(b, start, 46)
	start = len(b)
	b = append(b, "  "...)
	b = append(b, f.Unit...)
	b = padRight(b, start, 13)
	start = len(b)
	b = append(b, ' ')
	b = appendInt(b, int64(f.Width))
	b = padLeft(b, start, 5)
	pl.head = append(b, ' ')
	if f.Kind == Operator {
		for len(pl.head) > 0 && pl.head[len(pl.head)-1] != ' ' {
			pl.head = pl.head[:len(pl.head)-1]
		}
	}
	pl.missing = append(pl.missing, "           - missing"...)
	pl.tail = []byte("\n")
}

func (pl *place) render(b []byte, f *Field, raw uint64, json bool) []byte {
	if json {
		b = append(b, `,"raw":`...)
		b = appendUint(b, raw)
		b = append(b, `,"value":`...)
	} else {
		start := len(b)
		b = append(b, ' ')
		b = appendUint(b, raw)
		b = padLeft(b, start, 12)
		b = append(b, ' ')
	}
	switch f.Kind {
	case Local:
		if json {
			b = append(b, "null"...)
		} else {
			b = append(b, "unknown"...)
		}
	case NewReference:
		b = appendInt(b, signed(raw, f.Width))
	default:
		b = AppendDecimal(b, int64(raw)+f.Reference, f.Scale)
	}
	if !pl.hasMeaning {
		return b
	}
	start := len(b)
	if json {
		m := appendMeaning(nil, f.Descriptor, f.Kind, f.Width, raw)
		if len(m) > 0 {
			b = append(b, `,"meaning":`...)
			b = appendJSONString(b, m)
		}
		return b
	}
	b = append(b, "  "...)
	if b = appendMeaning(b, f.Descriptor, f.Kind, f.Width, raw); len(b) == start+2 {
		b = b[:start]
	}
	return b
}

const blanks = "                                                                "

// padLeft moves what follows start to the right, to width characters.
func padLeft(b []byte, start, width int) []byte {
	n := width - (len(b) - start)
	if n <= 0 {
		return b
	}
	b = append(b, blanks[:n]...)
	copy(b[start+n:], b[start:])
	copy(b[start:start+n], blanks)
	return b
}

func padRight(b []byte, start, width int) []byte {
	if n := width - (len(b) - start); n > 0 {
		b = append(b, blanks[:n]...)
	}
	return b
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
