package bufr

import (
	"fmt"
	"math/bits"
	"slices"
)

// bitmap follows the operators 2 22 to 2 37: which elements the values after them refer to. Elements
// are numbered from 0 in the subset; operators and associated fields are not counted.
// Source: FM 94, regulations on backward reference and data present bit-maps (from memory; checked
// against ecCodes on messages with quality information).
type bitmap struct {
	anchor   int     // elements before the first operator that refers back, -1 where none is in force
	saved    []int32 // elements of the bitmap that 2 36 000 defined
	targets  []int32 // elements of the bitmap in force
	next     int     // of targets
	awaiting bool    // an operator waits for its bitmap
	defining bool    // the bitmap is to be saved
	quality  bool    // 2 22 000 is in force: elements of class 33 take the next target
	arena    []int32 // memory for the targets of all bitmaps of a message
}

func (m *bitmap) reset() { *m = bitmap{anchor: -1, arena: m.arena} }

// operator takes note of a special operator met after elements elements.
func (m *bitmap) operator(d Descriptor, elements int) error {
	switch d.X() {
	case 22, 23, 24, 25, 32:
		if m.anchor < 0 {
			m.anchor = elements
		}
		m.awaiting, m.defining, m.next, m.targets = true, false, 0, nil
		m.quality = d.X() == 22
	case 35:
		m.reset()
	case 36:
		if !m.awaiting {
			return fmt.Errorf("operator 236000 without an operator that refers back before it")
		}
		m.defining = true
	case 37:
		if d.Y() == 255 {
			m.saved = nil
			return nil
		}
		if m.saved == nil {
			return fmt.Errorf("operator 237000 uses a bit-map that operator 236000 has not defined")
		}
		m.targets, m.next, m.awaiting = m.saved, 0, false
	}
	return nil
}

// define takes a bitmap of n bits; present tells of each if it is 0 (the element is referred to).
func (m *bitmap) define(n int, present func(i int) bool) error {
	start, err := m.begin(n)
	if err != nil {
		return err
	}
	for i := range n {
		if present(i) {
			m.arena = append(m.arena, int32(m.anchor-n+i))
		}
	}
	m.end(start)
	return nil
}

// defineBits is define for n bits that stand side by side in b from bit off.
func (m *bitmap) defineBits(n int, b []byte, off int64) error {
	start, err := m.begin(n)
	if err != nil {
		return err
	}
	for i := 0; i < n; i += 32 {
		w := min(32, n-i)
		present := ^readBits(b, off+int64(i), w) << (64 - w) // the first bit stands highest
		for present != 0 {
			k := bits.LeadingZeros64(present)
			m.arena = append(m.arena, int32(m.anchor-n+i+k))
			present &^= 1 << (63 - k)
		}
	}
	m.end(start)
	return nil
}

// begin prepares for a bitmap of n bits and returns where its targets begin in the arena.
func (m *bitmap) begin(n int) (start int, err error) {
	m.awaiting = false
	if n > m.anchor {
		return 0, fmt.Errorf("a data present bit-map of %d bits refers back to %d elements", n, m.anchor)
	}
	m.arena = slices.Grow(m.arena, n)
	return len(m.arena), nil
}

// end puts the bitmap whose targets begin at start in force.
func (m *bitmap) end(start int) {
	m.targets = m.arena[start:len(m.arena):len(m.arena)]
	m.next = 0
	if m.defining {
		m.saved, m.defining = m.targets, false
	}
}

// take returns the next element referred to.
func (m *bitmap) take() (int32, bool) {
	if m.next >= len(m.targets) {
		return 0, false
	}
	m.next++
	return m.targets[m.next-1], true
}

// markerField is the field of a value that refers back to target through the operator of f.
func markerField(f, target *Field) (Field, error) {
	out := *target
	out.Operator = f.Descriptor
	out.node, out.at, out.refFrom, out.dynamic = f.node, 0, 0, true
	if out.Kind != Text && out.Width > 62 {
		return out, fmt.Errorf("a value of %d bits that refers back cannot be read", out.Width)
	}
	if f.Descriptor.X() == 25 && out.Kind != Text {
		// One bit more and a reference that allows negative differences: Table C, operator 2 25.
		out.Reference = -(1 << target.Width)
		out.Width++
	}
	out.noMissing = false
	out.finish()
	return out, nil
}

func isPresentBit(f *Field) bool { return f.Descriptor == FXY(0, 31, 31) && f.Width == 1 }
