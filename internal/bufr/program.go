package bufr

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
)

// Field is one place in a template: the element with the width, scale and reference that hold
// there after operators.
type Field struct {
	Element
	// Operator is the descriptor that made the field where it is not an element of its own:
	// 2 04 YYY for an associated field, 2 05 YYY for inserted text, 2 23 255 … for a value that
	// refers back through a bitmap (Element then describes the element referred to); else 0.
	Operator  Descriptor
	noMissing bool // all bits on is a value: class 31 and fields of one bit
	dynamic   bool // made while decoding; no template place of its own
	node      int32
	at        int32  // bits from the start of the program's fields up to here
	refFrom   int32  // 1 + index of the field whose value replaces Reference, 0 where none
	mask      uint64 // all bits on, for fields of at most 64 bits
	pow       float64
}

// Value converts raw bits to the value in the field's unit: the double nearest to the exact decimal.
func (f *Field) Value(raw uint64) float64 {
	v := float64(int64(raw) + f.Reference)
	if f.Scale > 0 {
		return v / f.pow
	}
	return v * f.pow
}

// Limits returns the least and the greatest value the field can hold; the pattern that means missing is left out.
func (f *Field) Limits() (least, greatest float64) {
	top := f.mask
	if !f.noMissing {
		top--
	}
	return f.Value(0), f.Value(top)
}

// Title returns the name of the element, with what the operator makes of it where one does.
func (f *Field) Title() string {
	if f.Kind == Associated {
		return "Associated field of: " + f.Name
	}
	if f.dynamic {
		switch f.Operator.X() {
		case 23:
			return "Substituted value of: " + f.Name
		case 24:
			return "First-order statistic of: " + f.Name
		case 25:
			return "Difference statistic of: " + f.Name
		case 32:
			return "Replaced or retained value of: " + f.Name
		}
	}
	return f.Name
}

// finish fills what follows from the element.
func (f *Field) finish() {
	f.pow = math.Pow10(max(f.Scale, -f.Scale))
	f.mask = math.MaxUint64
	if f.Width < 64 {
		f.mask = 1<<f.Width - 1
	}
	// Associated fields with all bits on are a figure of the meaning that 0 31 021 gives them.
	if f.Descriptor.F() == 0 && f.Descriptor.X() == 31 || f.Width == 1 || f.Kind == Associated {
		f.noMissing = true
	}
}

type opKind uint8

const (
	opRun     opKind = iota // fields first … last, one after the other
	opFlat                  // the same fields, repeated; each repetition has the same number of bits
	opLoop                  // operations up to end, repeated
	opEnd                   // end of the innermost loop
	opSpecial               // operator that acts while decoding: field first is its Operator field
	opMarker                // 2 23 255 …: the next element of the bitmap once more
)

// op is one step of a program. A delayed replication has its factor in the data right before the
// repeated part: the field factor. n counts where factor is negative.
type op struct {
	kind        opKind
	first, last int32 // fields [first, last)
	factor      int32
	n           int32
	end         int32 // opLoop: index of its opEnd
	bits        int64 // of one repetition (opRun, opFlat)
	elements    int32 // fields that bitmaps can refer to, in one repetition
	repeat      bool  // 0 31 011, 0 31 012: the data stand there once and count n times
}

type node struct {
	parent     int32
	descriptor Descriptor
	unrolled   bool // a replication written out: it has no row at run time
}

// Program is a descriptor list compiled against tables: a flat list of fields and steps with bit
// offsets worked out. Programs do not change and may be used from several goroutines.
type Program struct {
	Tables      Tables
	Descriptors []Descriptor
	fields      []Field
	ops         []op
	nodes       []node
	bits        int64 // of a subset without compression, where all are equal; else -1
	bitmaps     bool  // some operator 2 22 … 2 37 occurs
	references  bool  // some operator 2 03 occurs
}

// Limits that keep a hostile section 3 from taking memory.
const (
	maxFields = 1 << 16
	maxDepth  = 32
	maxUnroll = 512
)

// Fields returns the fields of the template in order; a replicated part stands there once. The caller must not change them.
func (p *Program) Fields() []Field { return p.fields }

// Path returns the sequences that lead to field i and the field itself, "309052/303054/012101".
func (p *Program) Path(i int) string {
	return p.path(&p.fields[i], nil)
}

// path writes the way to a field; rows, innermost first, number the replications on the way. Without rows the replications are left out.
func (p *Program) path(f *Field, rows []int) string {
	var parts []string
	d := f.Descriptor
	if f.Operator != 0 {
		d = f.Operator
	}
	parts = append(parts, d.String())
	for n := f.node; n >= 0; n = p.nodes[n].parent {
		at := p.nodes[n]
		if at.descriptor.F() != 1 {
			parts = append(parts, at.descriptor.String())
			continue
		}
		if at.unrolled || len(rows) == 0 {
			continue
		}
		parts = append(parts, fmt.Sprintf("%s[%d]", at.descriptor, rows[0]+1))
		rows = rows[1:]
	}
	slices.Reverse(parts)
	return strings.Join(parts, "/")
}

// CompileError says which descriptor of a template cannot be used, and why.
type CompileError struct {
	Path    string // from the template down
	Problem string
}

func (e *CompileError) Error() string { return e.Path + ": " + e.Problem }

var programs struct {
	sync.Mutex
	m      map[uint64][]*Program
	fields int
}

// Compile turns a descriptor list into a program. Programs are kept, so that compiling the same list
// again costs a look-up. Errors are of type *CompileError.
func Compile(t Tables, descriptors []Descriptor) (*Program, error) {
	h := uint64(14695981039346656037) ^ uint64(t.version)<<8 ^ uint64(t.space)
	for _, d := range descriptors {
		h = (h ^ uint64(d)) * 1099511628211
	}
	programs.Lock()
	for _, p := range programs.m[h] {
		if p.Tables == t && slices.Equal(p.Descriptors, descriptors) {
			programs.Unlock()
			return p, nil
		}
	}
	programs.Unlock()
	if len(descriptors) > maxFields {
		return nil, &CompileError{descriptors[0].String(), fmt.Sprintf("section 3 has %d descriptors; at most %d are read", len(descriptors), maxFields)}
	}
	c := compiler{p: &Program{Tables: t, Descriptors: slices.Clone(descriptors)}, run: -1}
	if err := c.list(descriptors, -1, 0); err != nil {
		return nil, err
	}
	p := c.p
	p.bits = 0
	for i := range p.ops {
		o := &p.ops[i]
		switch {
		case o.kind == opRun:
			p.bits += o.bits
		case o.kind == opFlat && o.factor < 0:
			p.bits += o.bits * int64(o.n)
		default:
			p.bits = -1
		}
		if p.bits < 0 || p.bits > 1<<31 {
			p.bits = -1
			break
		}
	}
	if p.references {
		p.bits = -1
	}
	programs.Lock()
	defer programs.Unlock()
	// Bounded: a stream of ever new templates must not fill memory.
	if programs.m == nil || programs.fields > 4*maxFields {
		programs.m, programs.fields = map[uint64][]*Program{}, 0
	}
	programs.m[h] = append(programs.m[h], p)
	programs.fields += len(p.fields) + len(p.nodes) + len(p.ops) + len(descriptors) + 16
	return p, nil
}

// state is what operators leave behind for the elements that follow.
type state struct {
	width, scale int // 2 01, 2 02
	increase     int // 2 07
	octets       int // 2 08
	associated   [8]uint8
	depth        int // of associated
	references   int // generation of new reference values, 0 none
	defining     int // 2 03: bits of a new reference value
	local        int // 2 06: bits of the next element, 0 none
	absent       int // 2 21: elements still to come
}

type compiler struct {
	p     *Program
	st    state
	run   int // index of the opRun being filled, -1 none
	loops int
	at    int64
	// refs are the new reference values in force: descriptor and its NewReference field.
	refs        []reference
	generations int
}

type reference struct {
	d     Descriptor
	field int32
}

func (c *compiler) fail(d Descriptor, parent int32, format string, args ...any) error {
	f := Field{Element: Element{Descriptor: d}, node: parent}
	return &CompileError{c.p.path(&f, nil), fmt.Sprintf(format, args...)}
}

func (c *compiler) list(list []Descriptor, parent int32, depth int) error {
	if depth > maxDepth {
		return c.fail(0, parent, "sequences are nested more than %d deep", maxDepth)
	}
	for i := 0; i < len(list); i++ {
		d := list[i]
		if c.st.local > 0 && d.F() != 0 {
			return c.fail(d, parent, "operator 2 06 must stand right before an element")
		}
		switch d.F() {
		case 0:
			if err := c.element(d, parent); err != nil {
				return err
			}
		case 1:
			used, err := c.replication(list[i:], parent, depth)
			if err != nil {
				return err
			}
			i += used
		case 2:
			if err := c.operator(d, parent); err != nil {
				return err
			}
		case 3:
			members, ok := c.p.Tables.Sequence(d)
			if !ok {
				return c.fail(d, parent, "%s", c.unknown(d, "sequence", atSequences, 12))
			}
			n, err := c.node(d, parent)
			if err != nil {
				return err
			}
			if err := c.list(members, n, depth+1); err != nil {
				return err
			}
		}
	}
	return nil
}

func (c *compiler) unknown(d Descriptor, what string, sec, size int) string {
	if v := knownVersions(sec, size, d); v != "" {
		return fmt.Sprintf("%s %s is not in master table version %d: %s", what, d, c.p.Tables.Version(), v)
	}
	if d.Y() >= 192 || d.X() >= 48 {
		return fmt.Sprintf("%s %s is a local one that no table here defines: give the originating centre's definition as a local table", what, d)
	}
	return fmt.Sprintf("%s %s is in no table here, the newest is version %d", what, d, NewestVersion())
}

func (c *compiler) node(d Descriptor, parent int32) (int32, error) {
	if len(c.p.nodes) >= maxFields {
		return 0, c.fail(d, parent, "the template has more than %d sequences and replications", maxFields)
	}
	c.p.nodes = append(c.p.nodes, node{parent: parent, descriptor: d})
	return int32(len(c.p.nodes) - 1), nil
}

func (c *compiler) element(d Descriptor, parent int32) error {
	if c.st.defining > 0 {
		e, ok := c.p.Tables.Element(d)
		if !ok {
			return c.fail(d, parent, "%s", c.unknown(d, "element", atElements, 16))
		}
		e.Kind, e.Width, e.Scale, e.Reference = NewReference, c.st.defining, 0, 0
		if err := c.emit(Field{Element: e, Operator: FXY(2, 3, c.st.defining), node: parent, noMissing: true}); err != nil {
			return err
		}
		c.refs = append(c.refs, reference{d, int32(len(c.p.fields) - 1)})
		c.generations++
		c.st.references = c.generations
		return nil
	}
	e, ok := c.p.Tables.Element(d)
	f := Field{node: parent}
	if w := c.st.local; w > 0 {
		c.st.local = 0
		if !ok || e.Width != w {
			e = Element{Descriptor: d, Kind: Local, Width: w, Name: "Local element", Unit: "unknown"}
			f.Operator = FXY(2, 6, w)
			f.Element = e
			return c.withAssociated(f)
		}
	} else if !ok {
		return c.fail(d, parent, "%s", c.unknown(d, "element", atElements, 16))
	}
	class := d.X()
	if c.st.absent > 0 {
		c.st.absent--
		if class == 0 || class > 9 && class != 31 {
			e.Kind, e.Width = Absent, 0
			f.Element = e
			return c.emit(f)
		}
	}
	switch {
	case e.Kind == Text:
		if c.st.octets > 0 {
			e.Width = 8 * c.st.octets
		}
	case e.Kind == Number && class != 31:
		for _, r := range c.refs {
			if r.d == d {
				f.refFrom = r.field + 1
			}
		}
		e.Width += c.st.width
		e.Scale += c.st.scale
		if y := c.st.increase; y > 0 {
			e.Width += (10*y + 2) / 3
			e.Scale += y
			for ; y > 0 && e.Reference != 0; y-- {
				if e.Reference > math.MaxInt64/100 || e.Reference < math.MinInt64/100 {
					return c.fail(d, parent, "operator 2 07 makes the reference value too large")
				}
				e.Reference *= 10
			}
		}
	}
	if e.Width <= 0 || e.Kind != Text && e.Width > 64 || e.Kind == Text && e.Width%8 != 0 {
		return c.fail(d, parent, "a width of %d bits after operators cannot be read", e.Width)
	}
	if e.Scale > 300 || e.Scale < -300 {
		return c.fail(d, parent, "a scale of %d after operators cannot be read", e.Scale)
	}
	f.Element = e
	if class == 31 {
		return c.emit(f)
	}
	return c.withAssociated(f)
}

// withAssociated emits the associated field that operator 2 04 puts before f, then f.
func (c *compiler) withAssociated(f Field) error {
	w := 0
	for _, a := range c.st.associated[:c.st.depth] {
		w += int(a)
	}
	if w > 64 {
		return c.fail(f.Descriptor, f.node, "associated fields of %d bits cannot be read", w)
	}
	if w > 0 {
		a := Field{Element: Element{Descriptor: f.Descriptor, Kind: Associated, Width: w, Name: f.Name, Unit: "Associated"}, Operator: FXY(2, 4, min(w, 255)), node: f.node}
		if err := c.emit(a); err != nil {
			return err
		}
	}
	return c.emit(f)
}

// emit appends a field to the run being filled, or begins one.
func (c *compiler) emit(f Field) error {
	if len(c.p.fields) >= maxFields {
		return c.fail(f.Descriptor, f.node, "the template has more than %d fields", maxFields)
	}
	f.finish()
	f.at = int32(c.at)
	c.at += int64(f.Width)
	if c.at > math.MaxInt32 {
		return c.fail(f.Descriptor, f.node, "the template is longer than a message can be")
	}
	n := int32(len(c.p.fields))
	c.p.fields = append(c.p.fields, f)
	if c.run < 0 {
		c.run = len(c.p.ops)
		c.p.ops = append(c.p.ops, op{kind: opRun, first: n, last: n, factor: -1})
	}
	o := &c.p.ops[c.run]
	o.last++
	o.bits += int64(f.Width)
	if f.Kind != Associated && f.Kind != NewReference {
		o.elements++
	}
	return nil
}

// special appends an operator that acts while decoding.
func (c *compiler) special(d Descriptor, parent int32, kind opKind) error {
	if len(c.p.fields) >= maxFields {
		return c.fail(d, parent, "the template has more than %d fields", maxFields)
	}
	c.p.bitmaps = true
	c.run = -1
	n := int32(len(c.p.fields))
	f := Field{Element: Element{Descriptor: d, Kind: Operator, Name: operatorNames[d.X()], Unit: "Operator"}, Operator: d, node: parent, at: int32(c.at)}
	c.p.fields = append(c.p.fields, f)
	c.p.ops = append(c.p.ops, op{kind: kind, first: n, last: n + 1, factor: -1})
	return nil
}

var operatorNames = map[int]string{
	22: "Quality information follows", 23: "Substituted values follow", 24: "First-order statistics follow",
	25: "Difference statistics follow", 32: "Replaced or retained values follow", 35: "Cancel backward reference",
	36: "Define data present bit-map", 37: "Use or cancel defined data present bit-map",
	41: "Define event", 42: "Define conditioning event", 43: "Categorical forecast values follow",
}

func (c *compiler) operator(d Descriptor, parent int32) error {
	y := d.Y()
	if c.st.defining > 0 && d.X() != 3 {
		return c.fail(d, parent, "only elements may stand between 2 03 %03d and 2 03 255", c.st.defining)
	}
	change := func() int {
		if y == 0 {
			return 0
		}
		return y - 128
	}
	switch d.X() {
	case 1:
		c.st.width = change()
	case 2:
		c.st.scale = change()
	case 3:
		switch {
		case y == 0:
			c.refs, c.st.references, c.st.defining = nil, 0, 0
		case y == 255:
			c.st.defining = 0
		case y > 64:
			return c.fail(d, parent, "reference values of %d bits cannot be read", y)
		case c.loops > 0:
			return c.fail(d, parent, "new reference values inside a replication are not carried")
		default:
			c.st.defining = y
			c.p.references = true
			c.run = -1
		}
	case 4:
		if y == 0 {
			if c.st.depth > 0 {
				c.st.depth--
				c.st.associated[c.st.depth] = 0
			}
		} else if c.st.depth == len(c.st.associated) {
			return c.fail(d, parent, "associated fields are nested more than %d deep", len(c.st.associated))
		} else {
			c.st.associated[c.st.depth] = uint8(y)
			c.st.depth++
		}
	case 5:
		if y == 0 {
			return nil
		}
		return c.emit(Field{Element: Element{Descriptor: d, Kind: Text, Width: 8 * y, Name: "Inserted text", Unit: "CCITT IA5"}, Operator: d, node: parent})
	case 6:
		if y == 0 {
			return c.fail(d, parent, "a local element of no bits cannot be skipped")
		}
		c.st.local = y
	case 7:
		c.st.increase = y
	case 8:
		c.st.octets = y
	case 21:
		c.st.absent = y
	case 22, 35, 36, 41, 42, 43:
		if y == 255 && d.X() >= 41 {
			y = 0
		}
		if y != 0 {
			return c.fail(d, parent, "operator %s is not defined", d)
		}
		return c.special(d, parent, opSpecial)
	case 23, 24, 25, 32, 37:
		switch {
		case y == 0 || y == 255 && d.X() == 37:
			return c.special(d, parent, opSpecial)
		case y == 255:
			return c.special(d, parent, opMarker)
		}
		return c.fail(d, parent, "operator %s is not defined", d)
	default:
		return c.fail(d, parent, "operator %s is not carried", d)
	}
	return nil
}

// replication compiles the replication at list[0] and returns how many further descriptors belong to it.
func (c *compiler) replication(list []Descriptor, parent int32, depth int) (used int, err error) {
	d := list[0]
	x, y := d.X(), d.Y()
	if x == 0 {
		return 0, c.fail(d, parent, "a replication of no descriptors")
	}
	if c.st.defining > 0 {
		return 0, c.fail(d, parent, "a replication inside the definition of reference values")
	}
	o := op{kind: opLoop, factor: -1, n: int32(y)}
	used = x
	body := list[1:]
	if y == 0 {
		if len(body) == 0 {
			return 0, c.fail(d, parent, "a delayed replication without its factor")
		}
		f := body[0]
		switch f {
		case FXY(0, 31, 0), FXY(0, 31, 1), FXY(0, 31, 2):
		case FXY(0, 31, 11), FXY(0, 31, 12):
			o.repeat = true
		default:
			return 0, c.fail(d, parent, "%s is no replication factor", f)
		}
		// The factor is a field of its own before the operation; emit adds it to a run, from which it is taken again.
		e, ok := c.p.Tables.Element(f)
		if !ok {
			return 0, c.fail(f, parent, "%s", c.unknown(f, "element", atElements, 16))
		}
		if e.Width > 16 {
			return 0, c.fail(f, parent, "a replication factor of %d bits cannot be read", e.Width)
		}
		c.run = -1
		if err := c.emit(Field{Element: e, node: parent}); err != nil {
			return 0, err
		}
		c.p.ops = c.p.ops[:len(c.p.ops)-1]
		c.run = -1
		o.factor = int32(len(c.p.fields) - 1)
		body = body[1:]
		used++
	}
	if len(body) < x {
		return 0, c.fail(d, parent, "the replication covers %d descriptors and %d follow", x, len(body))
	}
	body = body[:x]
	n, err := c.node(d, parent)
	if err != nil {
		return 0, err
	}
	before, beforeRun, beforeOps, beforeFields := c.st, c.run, len(c.p.ops), len(c.p.fields)
	c.run = -1
	c.p.ops = append(c.p.ops, o)
	c.loops++
	err = c.list(body, n, depth+1)
	c.loops--
	if err != nil {
		return 0, err
	}
	c.run = -1
	if c.st != before {
		return 0, c.fail(d, parent, "an operator opened inside the replication is not closed there")
	}
	inside := c.p.ops[beforeOps+1:]
	fields := len(c.p.fields) - beforeFields
	switch {
	case len(inside) == 0:
		// Operators only. A delayed factor is still in the data.
		o.kind, o.first, o.last = opFlat, int32(len(c.p.fields)), int32(len(c.p.fields))
		c.p.ops = append(c.p.ops[:beforeOps], o)
		if o.factor < 0 {
			c.p.ops = c.p.ops[:beforeOps]
			c.run = beforeRun
		}
	case len(inside) == 1 && inside[0].kind == opRun && o.factor < 0 && (y == 1 || c.loops > 0 && y*fields <= maxUnroll):
		// A short fixed replication inside a loop: written out, so that the loop stays a flat one.
		if len(c.p.fields)+(y-1)*fields > maxFields {
			return 0, c.fail(d, parent, "the template has more than %d fields", maxFields)
		}
		c.p.nodes[n].unrolled = true
		b := inside[0]
		for k := 1; k < y; k++ {
			for _, f := range c.p.fields[beforeFields : beforeFields+fields] {
				f.at += int32(b.bits) * int32(k)
				c.p.fields = append(c.p.fields, f)
			}
		}
		c.at += b.bits * int64(y-1)
		if c.at > math.MaxInt32 {
			return 0, c.fail(d, parent, "the template is longer than a message can be")
		}
		b.last, b.bits, b.elements = b.first+int32(y*fields), b.bits*int64(y), b.elements*int32(y)
		c.p.ops, c.run = append(c.p.ops[:beforeOps], b), beforeOps
		if beforeRun >= 0 {
			r := &c.p.ops[beforeRun]
			r.last, r.bits, r.elements = b.last, r.bits+b.bits, r.elements+b.elements
			c.p.ops, c.run = c.p.ops[:beforeOps], beforeRun
		}
	case len(inside) == 1 && inside[0].kind == opRun:
		b := inside[0]
		o.kind, o.first, o.last, o.bits, o.elements = opFlat, b.first, b.last, b.bits, b.elements
		c.p.ops = append(c.p.ops[:beforeOps], o)
	default:
		c.p.ops[beforeOps].end = int32(len(c.p.ops))
		c.p.ops = append(c.p.ops, op{kind: opEnd, factor: -1})
	}
	return used, nil
}
