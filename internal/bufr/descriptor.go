package bufr

import "fmt"

// Descriptor is an FM 94 descriptor F X Y packed into 16 bits as in section 3:
// F in 2 bits, X in 6, Y in 8. F 0 is an element, 1 a replication, 2 an operator,
// 3 a sequence.
type Descriptor uint16

// FXY packs f (0–3), x (0–63) and y (0–255); larger figures are cut to their bits.
func FXY(f, x, y int) Descriptor {
	return Descriptor(f&3<<14 | x&63<<8 | y&255)
}

// ParseDescriptor reads six decimal figures such as "012101" or "0 12 101".
func ParseDescriptor(s string) (Descriptor, error) {
	var figures [6]int
	n := 0
	for i := 0; i < len(s); i++ {
		if s[i] == ' ' || s[i] == '-' {
			continue
		}
		if s[i] < '0' || s[i] > '9' || n == 6 {
			n = -1
			break
		}
		figures[n] = int(s[i] - '0')
		n++
	}
	f, x := figures[0], figures[1]*10+figures[2]
	y := figures[3]*100 + figures[4]*10 + figures[5]
	if n != 6 || f > 3 || x > 63 || y > 255 {
		return 0, fmt.Errorf("%q is not a descriptor: write six figures F X Y, for example 012101", s)
	}
	return FXY(f, x, y), nil
}

// F returns the first part: 0 element, 1 replication, 2 operator, 3 sequence.
func (d Descriptor) F() int { return int(d >> 14) }

// X returns the class of an element, the count of descriptors of a replication or the number of an operator.
func (d Descriptor) X() int { return int(d >> 8 & 63) }

// Y returns the third part.
func (d Descriptor) Y() int { return int(d & 255) }

// String returns the six figures, for example "012101".
func (d Descriptor) String() string { return string(d.Append(nil)) }

// Append adds the six figures to b.
func (d Descriptor) Append(b []byte) []byte {
	x, y := d.X(), d.Y()
	return append(b, byte('0'+d.F()), byte('0'+x/10), byte('0'+x%10), byte('0'+y/100), byte('0'+y/10%10), byte('0'+y%10))
}
