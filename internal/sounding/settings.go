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
