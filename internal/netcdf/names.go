package netcdf

import (
	"fmt"
	"unicode/utf8"
)

// longestName is the limit of the netCDF library (NC_MAX_NAME), in bytes.
const longestName = 256

// checkName applies the rules of the netCDF Users Guide ("Permitted characters in
// names"): UTF-8, first a letter, digit, underscore or non-ASCII character, no
// slash, no control character, no blank at the end.
func checkName(what, name string) error {
	bad := func(why string) error { return fmt.Errorf("%s %q: %s", what, name, why) }
	switch {
	case name == "":
		return fmt.Errorf("a %s has no name", what)
	case len(name) > longestName:
		return bad(fmt.Sprintf("the name has %d bytes, more than %d", len(name), longestName))
	case !utf8.ValidString(name):
		return bad("the name is not valid UTF-8")
	case name[len(name)-1] == ' ':
		return bad("the name ends with a blank")
	}
	if c := name[0]; c < 0x80 && !letter(c) && !digit(c) && c != '_' {
		return bad("the name must begin with a letter, a digit or an underscore")
	}
	for i := range len(name) {
		if c := name[i]; c == '/' || c < 0x20 || c == 0x7f {
			return bad(fmt.Sprintf("the name holds the character %q, which netCDF does not permit", c))
		}
	}
	return nil
}

// CheckCFName applies the recommendation of CF 2.3 for the names of variables,
// dimensions and attributes: a letter, then letters, digits and underscores.
func CheckCFName(name string) error {
	for i := range len(name) {
		if c := name[i]; !letter(c) && (i == 0 || !digit(c) && c != '_') {
			return fmt.Errorf("name %q: CF wants a letter, then letters, digits and underscores; character %d is %q", name, i+1, name[i])
		}
	}
	if name == "" {
		return fmt.Errorf("empty name: CF wants a letter, then letters, digits and underscores")
	}
	return nil
}

func letter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }
func digit(c byte) bool  { return c >= '0' && c <= '9' }
