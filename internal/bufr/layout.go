package bufr

import "fmt"

// layout runs a program over the bits of a message and notes where the fields stand. It reads only
// replication factors, bitmaps and new reference values (and, in compressed messages, the counts that
// tell how long each element is).
type layout struct {
	d      *Data
	bits   int64 // in the data
	off    int64
	subset int
	first  int // segment of the subset
	item   int
	elem   int
	free   int // items met so far that take no bits
	loop   int32
	map_   bitmap
}

func (x *layout) message() error {
	d := x.d
	m := d.Message
	p := d.Program
	if m.Subsets == 0 {
		return nil
	}
	if m.Compressed {
		if err := x.run(); err != nil {
			return err
		}
		return nil
	}
	if p.bits > 0 && !p.bitmaps {
		// All subsets are alike: one layout serves all.
		if total := p.bits * int64(m.Subsets); total > x.bits {
			return x.fail(nil, fmt.Sprintf("%d subsets of %d bits need more than the %d octets of section 4", m.Subsets, p.bits, len(m.Data)))
		}
		d.stride = p.bits
		return x.run()
	}
	for x.subset = range m.Subsets {
		d.starts = append(d.starts, int32(len(d.segs)))
		if p.bitmaps {
			d.uses = append(d.uses, int32(len(d.bitmaps)))
		}
		if p.references {
			// Each subset brings its own reference values: its fields are copies.
			if m.Subsets > 1 {
				return x.fail(nil, "new reference values (operator 2 03) in an uncompressed message of several subsets are not carried")
			}
		}
		before := x.off
		if err := x.run(); err != nil {
			return err
		}
		if x.off == before {
			if x.free++; x.free > maxFree {
				return x.fail(nil, "the message has too many subsets that take no bits")
			}
		}
	}
	d.starts = append(d.starts, int32(len(d.segs)))
	if p.bitmaps {
		d.uses = append(d.uses, int32(len(d.bitmaps)))
	}
	return nil
}

// fail makes an error at the present bit. g, which may be nil, is a segment whose first field is the place.
func (x *layout) fail(g *segment, problem string) error {
	d := x.d
	off := min(x.off, x.bits)
	e := &Error{Offset: d.Message.DataOffset + off/8, Bit: int(off % 8), Problem: problem, Hint: "the message is damaged or does not follow its descriptors"}
	if g != nil {
		e.Path = d.path(g, &d.fields[g.first], max(int(g.count)-1, 0))
	}
	if d.Message.Subsets > 1 && !d.Message.Compressed {
		e.Problem = fmt.Sprintf("subset %d: %s", x.subset+1, problem)
	}
	return e
}

func (x *layout) run() error {
	x.first, x.item, x.elem, x.loop = len(x.d.segs), 0, 0, -1
	x.map_.reset()
	if x.d.Message.Compressed && x.d.Program.bitmaps {
		x.d.uses = append(x.d.uses, 0)
	}
	return x.ops(0, len(x.d.Program.ops))
}

func (x *layout) ops(pc, end int) error {
	p := x.d.Program
	for ; pc < end; pc++ {
		o := &p.ops[pc]
		count := int(o.n)
		if o.factor >= 0 {
			g := segment{first: o.factor, fields: 1, count: 1, elements: 1, loop: x.loop}
			at := x.off
			if err := x.add(g, int64(p.fields[o.factor].Width)); err != nil {
				return err
			}
			n, err := x.factor(&g, at)
			if err != nil {
				return err
			}
			count = n
		}
		switch o.kind {
		case opRun:
			g := segment{first: o.first, fields: o.last - o.first, count: 1, elements: o.elements, loop: x.loop}
			if err := x.add(g, o.bits); err != nil {
				return err
			}
		case opFlat:
			if o.first == o.last {
				continue
			}
			g := segment{first: o.first, fields: o.last - o.first, count: int32(count), elements: o.elements, loop: x.loop, table: true}
			bits := o.bits
			if o.repeat {
				if err := x.spend(count * int(g.fields)); err != nil {
					return err
				}
				if err := x.repeated(g, bits); err != nil {
					return err
				}
				continue
			}
			if bits == 0 {
				if err := x.spend(count * int(g.fields)); err != nil {
					return err
				}
			}
			if err := x.add(g, bits); err != nil {
				return err
			}
		case opLoop:
			parent := x.loop
			start := x.off
			for row := range count {
				if len(x.d.loops) >= maxSegments {
					return x.fail(nil, fmt.Sprintf("more than %d repetitions of parts that differ in length", maxSegments))
				}
				x.d.loops = append(x.d.loops, loop{parent, int32(row)})
				x.loop = int32(len(x.d.loops) - 1)
				if o.repeat {
					x.off = start
				}
				if err := x.ops(pc+1, int(o.end)); err != nil {
					return err
				}
			}
			x.loop = parent
			pc = int(o.end)
		case opSpecial:
			g := segment{first: o.first, fields: 1, count: 1, loop: x.loop}
			if err := x.add(g, 0); err != nil {
				return err
			}
			if err := x.map_.operator(p.fields[o.first].Descriptor, x.elem); err != nil {
				return x.fail(&g, err.Error())
			}
			if !x.map_.awaiting {
				x.use()
			}
		case opMarker:
			if err := x.marker(o); err != nil {
				return err
			}
		}
	}
	return nil
}

// spend accounts for items that take no bits, so that a short message cannot stand for endless work.
func (x *layout) spend(n int) error {
	if x.free += n; x.free > maxFree {
		return x.fail(nil, fmt.Sprintf("the message repeats more than %d values that stand in it once or not at all", maxFree))
	}
	return nil
}

// use notes that the bitmap in force holds for the segments that follow.
func (x *layout) use() {
	x.d.bitmaps = append(x.d.bitmaps, bitmapUse{int32(len(x.d.segs)), x.map_.quality, x.map_.targets})
}

// add appends a segment whose repetitions have bits bits, and moves on behind it.
func (x *layout) add(g segment, bits int64) error {
	d := x.d
	if len(d.segs) >= maxSegments {
		return x.fail(&g, fmt.Sprintf("the message has more than %d parts that differ in length", maxSegments))
	}
	g.item, g.element = int32(x.item), int32(x.elem)
	start := x.off
	if d.Message.Compressed {
		g.off, g.stride = int64(len(d.pos)), int64(g.fields)
		if err := x.compressed(&g, int(g.count)); err != nil {
			return err
		}
	} else {
		g.off, g.stride = x.off, bits
		if total := bits * int64(g.count); total > x.bits-x.off {
			what := fmt.Sprintf("%s needs %d bits", d.fields[g.first].Descriptor, total)
			if g.table {
				what = fmt.Sprintf("%d repetitions of %d bits need %d bits", g.count, bits, total)
				g.count = int32((x.bits-x.off)/bits) + 1 // the first that is not there
			}
			return x.fail(&g, fmt.Sprintf("%s and %d are left", what, x.bits-x.off))
		}
		x.off += bits * int64(g.count)
	}
	return x.append(g, start)
}

// repeated is add for a block whose data stand in the message once.
func (x *layout) repeated(g segment, bits int64) error {
	d := x.d
	g.item, g.element = int32(x.item), int32(x.elem)
	start := x.off
	if d.Message.Compressed {
		g.off = int64(len(d.pos))
		if g.count > 0 {
			if err := x.compressed(&g, 1); err != nil {
				return err
			}
		}
	} else if g.off = x.off; g.count > 0 {
		if bits > x.bits-x.off {
			return x.fail(&g, fmt.Sprintf("a repetition of %d bits and %d are left", bits, x.bits-x.off))
		}
		x.off += bits
	}
	return x.append(g, start)
}

func (x *layout) append(g segment, start int64) error {
	d := x.d
	items, elems := int64(x.item)+int64(g.fields)*int64(g.count), int64(x.elem)+int64(g.elements)*int64(g.count)
	if items > 1<<30 {
		return x.fail(&g, "the subset has more than 2^30 values")
	}
	d.segs = append(d.segs, g)
	x.item, x.elem = int(items), int(elems)
	p := d.Program
	if p.references && !g.table {
		if err := x.references(&g, start); err != nil {
			return err
		}
	}
	if p.bitmaps && x.map_.awaiting {
		return x.bitmap(&g)
	}
	return nil
}

// copyFields makes fields the message's own, before they change.
func (d *Data) copyFields() {
	if !d.copied {
		d.own = append(d.own[:0], d.fields...)
		d.fields, d.copied = d.own, true
	}
}

// compressed notes the position of each field of n repetitions.
func (x *layout) compressed(g *segment, n int) error {
	d := x.d
	subsets := int64(d.Message.Subsets)
	fields := d.fields[g.first : g.first+g.fields]
	for rep := range n {
		for i := range fields {
			f := &fields[i]
			if len(d.pos) >= maxPositions {
				return x.fail(g, fmt.Sprintf("a compressed message of more than %d values in a subset", maxPositions))
			}
			d.pos = append(d.pos, uint32(x.off))
			if f.Kind == Operator || f.Width == 0 {
				if err := x.spend(1); err != nil {
					return err
				}
				continue
			}
			left := x.bits - x.off - int64(f.Width) - 6
			if left >= 0 {
				k := int64(readBits(d.data, x.off+int64(f.Width), 6))
				if f.Kind == Text {
					k *= 8
				}
				if k*subsets <= left {
					x.off += int64(f.Width) + 6 + k*subsets
					continue
				}
			}
			e := *g
			e.first, e.count = g.first+int32(i), int32(rep+1)
			return x.fail(&e, fmt.Sprintf("%s of %d subsets reaches beyond the end of section 4", f.Descriptor, subsets))
		}
	}
	return nil
}

// factor reads a replication factor that stands at bit at.
func (x *layout) factor(g *segment, at int64) (int, error) {
	f := &x.d.fields[g.first]
	n := int(readBits(x.d.data, at, f.Width))
	if !x.d.Message.Compressed {
		return n, nil
	}
	add, err := x.common(g, at)
	return n + int(add), err
}

// common returns what a compressed field adds to its least value, which must be the same for all subsets.
func (x *layout) common(g *segment, at int64) (uint64, error) {
	f := &x.d.fields[g.first]
	k := int(readBits(x.d.data, at+int64(f.Width), 6))
	if k == 0 {
		return 0, nil
	}
	at += int64(f.Width) + 6
	add := readBits(x.d.data, at, k)
	for i := 1; i < x.d.Message.Subsets; i++ {
		if readBits(x.d.data, at+int64(i*k), k) != add {
			return 0, x.fail(g, fmt.Sprintf("%s differs between the subsets of a compressed message", f.Descriptor))
		}
	}
	if k > 16 || add >= 1<<16 {
		return 0, x.fail(g, fmt.Sprintf("%s is too large", f.Descriptor))
	}
	return add, nil
}

// references takes over new reference values among the fields of g, which starts at bit start.
func (x *layout) references(g *segment, start int64) error {
	d := x.d
	for i := range int(g.fields) {
		k := int(g.first) + i
		f := d.fields[k]
		if f.Kind != NewReference {
			continue
		}
		at := start + int64(f.at-d.fields[g.first].at)
		if d.Message.Compressed {
			at = int64(d.pos[g.off+int64(i)])
			if n := readBits(d.data, at+int64(f.Width), 6); n != 0 {
				return x.fail(g, "a new reference value differs between the subsets of a compressed message")
			}
		}
		value := signed(readBits(d.data, at, f.Width), f.Width)
		d.copyFields()
		for j := range d.fields {
			if d.fields[j].refFrom == int32(k)+1 {
				d.fields[j].Reference = value
			}
		}
	}
	return nil
}

// signed reads a number whose leading bit is its sign and the others its amount, as operator 2 03 has it.
func signed(raw uint64, width int) int64 {
	if raw>>(width-1) == 1 {
		return -int64(raw &^ (1 << (width - 1)))
	}
	return int64(raw)
}

// bitmap takes the data present bits of g, where an operator waits for them.
func (x *layout) bitmap(g *segment) error {
	d := x.d
	fields := d.fields[g.first : g.first+g.fields]
	from, n := -1, 0
	for i := range fields {
		if isPresentBit(&fields[i]) {
			if from < 0 {
				from = i
			}
			n++
		}
	}
	if n == 0 {
		return nil
	}
	if !(n == len(fields) || g.count == 1) {
		return x.fail(g, "data present bits mixed with other elements in a replication are not carried")
	}
	s := Subset{d: d, segs: d.segs[x.first:]}
	if d.Message.Compressed {
		for i := range int64(g.count) * int64(n) {
			if readBits(d.data, int64(d.pos[g.off+int64(from)+i])+1, 6) != 0 {
				return x.fail(g, "the data present bit-map differs between the subsets of a compressed message")
			}
		}
	}
	if n*int(g.count) > x.elem {
		return x.fail(g, fmt.Sprintf("a data present bit-map of %d bits after %d elements", n*int(g.count), x.elem))
	}
	if err := x.spend(n * int(g.count)); err != nil {
		return err
	}
	var err error
	if total := n * int(g.count); !d.Message.Compressed && n == len(fields) && (g.count == 1 || g.stride == int64(n)) {
		// The usual case: nothing but the bits, side by side.
		err = x.map_.defineBits(total, d.data, s.bit(g, 0, 0))
	} else {
		err = x.map_.define(total, func(i int) bool {
			raw, _ := s.read(g, i/n, from+i%n)
			return raw == 0
		})
	}
	if err != nil {
		return x.fail(g, err.Error())
	}
	x.use()
	return nil
}

// marker adds the field of a value that refers back.
func (x *layout) marker(o *op) error {
	d := x.d
	f := &d.fields[o.first]
	g := segment{first: o.first, fields: 1, count: 1, elements: 1, loop: x.loop}
	e, ok := x.map_.take()
	if !ok {
		return x.fail(&g, fmt.Sprintf("%s has no element left in the data present bit-map", f.Descriptor))
	}
	segs := d.segs[x.first:]
	target := segmentOf(segs, int(e))
	_, col := locate(d.fields, target, int(e))
	made, err := markerField(f, &d.fields[int(target.first)+col])
	if err != nil {
		return x.fail(&g, err.Error())
	}
	d.copyFields()
	if len(d.fields) > 2*maxFields {
		return x.fail(&g, fmt.Sprintf("more than %d values refer back", maxFields))
	}
	d.own = append(d.own, made)
	d.fields = d.own
	g.first = int32(len(d.fields) - 1)
	return x.add(g, int64(made.Width))
}
