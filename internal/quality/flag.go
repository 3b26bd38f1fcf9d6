// Package quality holds the primary quality flags of IOC Manuals and Guides 54,
// volume 3, the bit set of checks that fired beside them, and the one rule by
// which they roll up.
package quality

import "fmt"

// Flag is a primary quality flag (IOC 54:V3). The zero value is not a flag: it
// marks a sample nobody has looked at yet and must not leave a step.
type Flag uint8

// The five primary values.
const (
	Good         Flag = 1 // passed every check that was run on it
	NotEvaluated Flag = 2 // no check could be run, or none has been
	Questionable Flag = 3 // failed a non-critical check, or somebody doubts it
	Bad          Flag = 4 // failed a critical check, or withheld by a decision
	Missing      Flag = 9 // no value
)

// Flags lists the five values in rising order, as flag_values attributes need them.
var Flags = []Flag{Good, NotEvaluated, Questionable, Bad, Missing}

var words = map[Flag]string{
	Good: "good", NotEvaluated: "not_evaluated", Questionable: "questionable", Bad: "bad", Missing: "missing",
}

// String returns the flag's word as it is written into files ("not_evaluated").
func (f Flag) String() string {
	if w, ok := words[f]; ok {
		return w
	}
	return fmt.Sprintf("flag(%d)", uint8(f))
}

// ParseFlag reads a flag's word or its number.
func ParseFlag(s string) (Flag, error) {
	for f, w := range words {
		if s == w || s == fmt.Sprint(uint8(f)) {
			return f, nil
		}
	}
	return 0, fmt.Errorf("%q is no quality flag: want good, not_evaluated, questionable, bad or missing", s)
}

// rank orders the flags for the roll-up. IOC 54:V3 leaves the order open; ours is
// missing > bad > questionable > good > not evaluated: a sample is good as soon
// as one check has passed it and none has failed it.
var rank = [10]uint8{0: 0, NotEvaluated: 1, Good: 2, Questionable: 3, Bad: 4, Missing: 5}

// Worst is the roll-up of two flags: the one that stands higher in the order
// missing, bad, questionable, good, not evaluated. The zero value counts as
// nothing said.
func Worst(a, b Flag) Flag {
	if rank[b] > rank[a] {
		return b
	}
	return a
}
