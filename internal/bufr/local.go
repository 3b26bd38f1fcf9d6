package bufr

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// ReadLocalTables reads the definitions of a centre's local elements and sequences from lines of comma-separated values:
//
//	# comment
//	element,012230,number,1,0,12,K,Temperature of the battery
//	sequence,363200,001001 012230
//
// An element has descriptor, kind (number, code, flag or text), scale, reference, width in bits, unit and name; a sequence
// its descriptor and its members. An error names the line, and nothing is returned then.
func ReadLocalTables(r io.Reader) (*LocalTables, error) {
	in := csv.NewReader(r)
	in.Comment, in.FieldsPerRecord, in.ReuseRecord = '#', -1, true
	t := &LocalTables{Elements: map[Descriptor]Element{}, Sequences: map[Descriptor][]Descriptor{}}
	for {
		f, err := in.Read()
		if err == io.EOF {
			return t, nil
		}
		if err != nil {
			return nil, fmt.Errorf("local tables: %w", err)
		}
		line, _ := in.FieldPos(0)
		if err := t.add(f); err != nil {
			return nil, fmt.Errorf("local tables line %d: %w", line, err)
		}
		if len(t.Elements)+len(t.Sequences) > maxFields {
			return nil, fmt.Errorf("local tables line %d: more than %d definitions", line, maxFields)
		}
	}
}

func (t *LocalTables) add(f []string) error {
	if len(f) < 3 || f[0] != "element" && f[0] != "sequence" {
		return fmt.Errorf("begin with element or sequence, a descriptor and a definition, not %q", strings.Join(f, ","))
	}
	d, err := ParseDescriptor(f[1])
	if err != nil {
		return err
	}
	if f[0] == "sequence" {
		if d.F() != 3 {
			return fmt.Errorf("%s is no sequence: it begins with 3", d)
		}
		var members []Descriptor
		for _, word := range strings.Fields(strings.Join(f[2:], " ")) {
			m, err := ParseDescriptor(word)
			if err != nil {
				return err
			}
			members = append(members, m)
		}
		if len(members) == 0 {
			return fmt.Errorf("sequence %s has no descriptors", d)
		}
		t.Sequences[d] = members
		return nil
	}
	if d.F() != 0 || d == 0 {
		return fmt.Errorf("%s is no element: it begins with 0", d)
	}
	if len(f) != 8 {
		return fmt.Errorf("an element needs 8 fields (element, descriptor, kind, scale, reference, width, unit, name), not %d", len(f))
	}
	e := Element{Descriptor: d, Unit: f[6], Name: f[7], Kind: 255}
	for _, k := range []Kind{Number, Code, Flag, Text} {
		if f[2] == k.String() {
			e.Kind = k
		}
	}
	if e.Kind == 255 {
		return fmt.Errorf("kind %s: write number, code, flag or text", f[2])
	}
	if e.Scale, err = strconv.Atoi(f[3]); err != nil || e.Scale < -30 || e.Scale > 30 {
		return fmt.Errorf("scale %s: write a whole number from -30 to 30", f[3])
	}
	if e.Reference, err = strconv.ParseInt(f[4], 10, 40); err != nil {
		return fmt.Errorf("reference %s: write a whole number", f[4])
	}
	limit := 64
	if e.Kind == Text {
		limit = 2040
	}
	if e.Width, err = strconv.Atoi(f[5]); err != nil || e.Width < 1 || e.Width > limit || e.Kind == Text && e.Width%8 != 0 {
		return fmt.Errorf("width of %s bits: write 1 to %d, for a text whole octets", f[5], limit)
	}
	t.Elements[d] = e
	return nil
}
