package sounding

import (
	"bytes"
	"errors"
	"fmt"

	"github.com/pelletier/go-toml/v2"
)

// DecodeTOML reads TOML into a struct and refuses keys it does not know, saying
// where: name is what the user calls the text ("settings", a file name).
func DecodeTOML(name string, text []byte, into any) error {
	d := toml.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	err := d.Decode(into)
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		row, col := strict.Errors[0].Position()
		return fmt.Errorf("%s: line %d, column %d: unknown key %q: check its spelling", name, row, col, dotted(strict.Errors[0].Key()))
	}
	var syntax *toml.DecodeError
	if errors.As(err, &syntax) {
		row, col := syntax.Position()
		return fmt.Errorf("%s: line %d, column %d: %v", name, row, col, syntax)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// Settings are the limits of one package, which can say what is wrong with them.
type Settings interface{ Validate() error }

// ReadSettings reads a settings text over what s holds, so that keys which are not given
// keep their values, and validates the whole: new settings for a whole text, the shipped ones
// for a user's. Unknown keys and values that cannot be right are errors that begin with name,
// which is what the user calls the text; then nothing is returned.
func ReadSettings[S Settings](name string, text []byte, s S) (S, error) {
	var none S
	if err := DecodeTOML(name, text, s); err != nil {
		return none, err
	}
	if err := s.Validate(); err != nil {
		return none, fmt.Errorf("%s: %w", name, err)
	}
	return s, nil
}

// ShippedSettings reads a settings text that is part of the program over what s holds. It
// panics where the text cannot be read, which a test of each package would find.
func ShippedSettings[S Settings](name, text string, s S) S {
	s, err := ReadSettings(name, []byte(text), s)
	if err != nil {
		panic(err)
	}
	return s
}

func dotted(key []string) string {
	out := ""
	for i, k := range key {
		if i > 0 {
			out += "."
		}
		out += k
	}
	return out
}
