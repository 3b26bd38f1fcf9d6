package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// maxText bounds what Parse looks at: no number with its unit is longer.
const maxText = 200

// Parse reads a number with or without a unit ("29.92 inHg", "-3,5 °C", "46 12.5 N",
// "1013.2") and returns it in the unit inside leadline. defaultUnit is taken where
// the text has none; with defaultUnit "" such a text is refused. A decimal comma is
// read as such unless three digits follow it, which could be thousands: that is
// refused with both readings. NaN only together with an error.
func Parse(text, dimension, defaultUnit string) (float64, error) {
	if len(text) > maxText {
		return math.NaN(), fmt.Errorf("a text of %d characters is no %s", len(text), quantity(dimension))
	}
	t := strings.TrimSpace(text)
	if dimension == Latitude || dimension == Longitude {
		if x, err, read := position(t, dimension); read {
			return x, err
		}
	}
	number, rest := split(t)
	if number == "" {
		return math.NaN(), fmt.Errorf("%q is no %s: want a number with its unit, such as %q", text, quantity(dimension), example(dimension))
	}
	if i := strings.IndexByte(number, ','); i >= 0 {
		if strings.Contains(number, ".") || strings.Count(number, ",") > 1 || len(strings.TrimLeft(number[i+1:], "0123456789")) == 0 && len(number)-i-1 == 3 {
			return math.NaN(), fmt.Errorf("%q can be read in two ways because of its comma: write %s or %s", text, strings.ReplaceAll(number, ",", ""), strings.ReplaceAll(number, ",", "."))
		}
		number = strings.Replace(number, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsInf(x, 0) {
		return math.NaN(), fmt.Errorf("%q is no number", text)
	}
	name := rest
	if name == "" {
		name = defaultUnit
	}
	if name == "" && dimension != None && dimension != "" {
		return math.NaN(), fmt.Errorf("%q has no unit: write it with one, such as %q", text, example(dimension))
	}
	if rest != "" && (dimension == None || dimension == "") {
		return math.NaN(), &UnknownError{Unit: rest, Dimension: dimension}
	}
	u, err := Lookup(name, dimension)
	if err != nil {
		return math.NaN(), err
	}
	x = u.Inside(x)
	if math.IsNaN(x) {
		return math.NaN(), fmt.Errorf("%q has 60 minutes or more", text)
	}
	return checkPosition(x, text, dimension)
}

// ParsePosition reads a latitude or longitude with a hemisphere or with degrees,
// minutes and seconds ("46 12.5 N", "4612.5N", "46°12'30\"N", "N46.208"), in degrees
// north or east. A plain decimal number is degrees. Used on fields of a source.
func ParsePosition(text, dimension string) (float64, error) { return Parse(text, dimension, "deg") }

// split parts the number at the start of a text from what follows.
func split(t string) (number, rest string) {
	i := 0
	if i < len(t) && (t[i] == '+' || t[i] == '-') {
		i++
	} else if strings.HasPrefix(t, "−") {
		t = "-" + t[len("−"):]
		i++
	}
	digits := false
	for i < len(t) && (t[i] >= '0' && t[i] <= '9' || t[i] == '.' || t[i] == ',') {
		digits = digits || t[i] >= '0' && t[i] <= '9'
		i++
	}
	if !digits {
		return "", t
	}
	if i < len(t) && (t[i] == 'e' || t[i] == 'E') {
		j := i + 1
		if j < len(t) && (t[j] == '+' || t[j] == '-') {
			j++
		}
		k := j
		for k < len(t) && t[k] >= '0' && t[k] <= '9' {
			k++
		}
		if k > j {
			i = k
		}
	}
	return t[:i], strings.TrimSpace(t[i:])
}

// position reads the forms that only angles of position have. read is false where
// the text is a plain number with or without a unit from the table.
func position(t, dimension string) (x float64, err error, read bool) {
	bad := func(format string, args ...any) (float64, error, bool) {
		return math.NaN(), fmt.Errorf("%q: "+format, append([]any{t}, args...)...), true
	}
	body, sign, hemisphere := t, 1.0, byte(0)
	if n := len(body); n > 1 {
		last, first := upper(body[n-1]), upper(body[0])
		switch {
		case isHemisphere(last) && !letterBefore(body[:n-1]):
			hemisphere, body = last, strings.TrimSpace(body[:n-1])
		case isHemisphere(first) && !letterBefore(body[1:2]):
			hemisphere, body = first, strings.TrimSpace(body[1:])
		}
	}
	// Cut the body into its numbers; anything but signs, digits, points, blanks and the
	// marks of degrees, minutes and seconds means that a unit follows.
	var parts [4]string
	n, marked := 0, false
	for i := 0; i < len(body); {
		r, size := utf8.DecodeRuneInString(body[i:])
		switch {
		case r >= '0' && r <= '9' || r == '.' || r == ',' || (r == '-' || r == '+' || r == '−') && i == 0:
			j := i + size
			for j < len(body) && (body[j] >= '0' && body[j] <= '9' || body[j] == '.' || body[j] == ',') {
				j++
			}
			if n == 3 {
				return bad("has more than degrees, minutes and seconds")
			}
			parts[n] = strings.Replace(strings.Replace(body[i:j], ",", ".", 1), "−", "-", 1)
			n++
			i = j
		case r == ' ' || r == '\u00a0' || r == ':':
			i += size
			marked = marked || r == ':'
		case r == '°' || r == 'º' || r == '˚' || r == '\'' || r == '′' || r == '’' || r == '"' || r == '″' || r == '”':
			marked = true
			i += size
		case n > 0 && wordAt(body[i:]):
			marked = true
			i += 3
		default:
			if hemisphere == 0 {
				return 0, nil, false
			}
			return bad("is no %s", dimension)
		}
	}
	if hemisphere == 0 && n < 2 && !marked || n == 0 {
		if n == 0 {
			return bad("is no %s: want a form such as %s", dimension, example(dimension))
		}
		return 0, nil, false
	}
	if strings.HasPrefix(parts[0], "-") {
		sign, parts[0] = -1, parts[0][1:]
	} else {
		parts[0] = strings.TrimPrefix(parts[0], "+")
	}
	switch hemisphere {
	case 'S', 'W':
		if sign < 0 {
			return bad("has a minus and the hemisphere %c: give one of them", hemisphere)
		}
		sign = -1
	case 'N', 'E':
		if sign < 0 {
			return bad("has a minus and the hemisphere %c: give one of them", hemisphere)
		}
	}
	if hemisphere != 0 && (hemisphere == 'N' || hemisphere == 'S') != (dimension == Latitude) {
		return bad("hemisphere %c does not belong to a %s", hemisphere, dimension)
	}
	var v [3]float64
	for i := range n {
		v[i], err = strconv.ParseFloat(parts[i], 64)
		if err != nil || math.IsInf(v[i], 0) {
			return bad("is no %s", dimension)
		}
		if i > 0 && v[i] >= 60 {
			return bad("has 60 minutes or seconds or more")
		}
		if i < n-1 && v[i] != math.Trunc(v[i]) {
			return bad("has a fraction before its last part")
		}
	}
	limit := 180.0
	if dimension == Latitude {
		limit = 90
	}
	if n == 1 && hemisphere != 0 && v[0] > limit {
		// 4612.5N: degrees and minutes run together.
		whole := math.Trunc(v[0] / 100)
		minutes := v[0] - whole*100
		if minutes >= 60 || whole > limit {
			return bad("is beyond %g degrees, and no degrees and minutes either", limit)
		}
		v[0], v[1] = whole, minutes
	}
	x, err = checkPosition(sign*(v[0]+v[1]/60+v[2]/3600), t, dimension)
	return x, err, true
}

func checkPosition(x float64, text, dimension string) (float64, error) {
	switch {
	case dimension == Latitude && math.Abs(x) > 90:
		return math.NaN(), fmt.Errorf("%q: a latitude lies between -90 and 90 degrees", text)
	case dimension == Longitude && (x < -180 || x > 360):
		return math.NaN(), fmt.Errorf("%q: a longitude lies between -180 and 180 degrees", text)
	case dimension == Longitude && x > 180:
		return x - 360, nil
	}
	return x, nil
}

// wordAt tells whether the text begins with the word deg or min.
func wordAt(s string) bool {
	if len(s) < 3 || len(s) > 3 && letterBefore(s[3:4]) {
		return false
	}
	w := strings.ToLower(s[:3])
	return w == "deg" || w == "min"
}

func upper(c byte) byte {
	if c >= 'a' && c <= 'z' {
		return c - 32
	}
	return c
}

func isHemisphere(c byte) bool { return c == 'N' || c == 'S' || c == 'E' || c == 'W' }

// letterBefore tells whether the text ends in a letter or an underscore, so that
// the hemisphere letter belongs to a word ("degrees_E", "degree").
func letterBefore(s string) bool {
	c := upper(s[len(s)-1])
	return c >= 'A' && c <= 'Z' || c == '_'
}

func quantity(dimension string) string {
	if dimension == None || dimension == "" {
		return "number"
	}
	return dimension
}

func example(dimension string) string {
	switch dimension {
	case Pressure:
		return "1013.2 hPa"
	case Temperature:
		return "15.2 °C"
	case Humidity:
		return "64 %"
	case Length:
		return "412 m"
	case Speed:
		return "5.2 m/s"
	case Angle:
		return "270 deg"
	case Latitude:
		return "46 12.5 N"
	case Longitude:
		return "6 8.8 E"
	case Frequency:
		return "403.5 MHz"
	case Mass:
		return "350 g"
	case Time:
		return "12 s"
	}
	return "12.5"
}
