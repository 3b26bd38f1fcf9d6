package bufr

import (
	"fmt"
	"strings"
)

// Error says what is wrong with a message, where, and what to do.
type Error struct {
	Offset  int64  // byte of the stream, counted from 0
	Bit     int    // bit of that byte, 0 the most significant; 0 where bytes are enough
	Path    string // descriptors from the template down, "309052/303054[17]/012101"; "" outside section 4
	Problem string
	Hint    string // "" where there is nothing to add
}

func (e *Error) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "byte %d", e.Offset)
	if e.Bit > 0 {
		fmt.Fprintf(&b, " bit %d", e.Bit)
	}
	if e.Path != "" {
		fmt.Fprintf(&b, " (%s)", e.Path)
	}
	b.WriteString(": ")
	b.WriteString(e.Problem)
	if e.Hint != "" {
		b.WriteString("; ")
		b.WriteString(e.Hint)
	}
	return b.String()
}
