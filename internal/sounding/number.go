package sounding

import (
	"math"
	"strconv"
)

// Number is a float64 whose NaN means "not set" or "missing" and is null in JSON.
type Number float64

// NotSet is the Number that holds no value.
var NotSet = Number(math.NaN())

// Set tells whether the number holds a value.
func (n Number) Set() bool { return !math.IsNaN(float64(n)) }

// Value returns the plain number, NaN where it is not set.
func (n Number) Value() float64 { return float64(n) }

// Or returns the number, or other where it is not set.
func (n Number) Or(other float64) float64 {
	if n.Set() {
		return float64(n)
	}
	return other
}

// MarshalJSON writes the shortest decimal that reads back the same; null where not set or infinite.
func (n Number) MarshalJSON() ([]byte, error) {
	f := float64(n)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, f, 'g', -1, 64), nil
}

// UnmarshalJSON reads a number or null.
func (n *Number) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = NotSet
		return nil
	}
	f, err := strconv.ParseFloat(string(b), 64)
	if err != nil {
		return err
	}
	*n = Number(f)
	return nil
}
