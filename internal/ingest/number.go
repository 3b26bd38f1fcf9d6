package ingest

import (
	"math"
	"strconv"
)

// powers are the powers of ten that a float64 holds exactly.
var powers = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// parseNumber reads a plain decimal number: sign, digits, point, exponent, nothing
// else. The result is the nearest float64. Up to 15 digits with a power of ten up
// to 22 one multiplication or division of exact numbers gives it (Clinger 1990,
// "How to read floating point numbers accurately", the exact case); the rest goes
// to strconv. ok is false for anything else, and for numbers beyond float64.
func parseNumber(b []byte, point byte) (x float64, ok bool) {
	i, n := 0, len(b)
	if n == 0 {
		return math.NaN(), false
	}
	negative := b[0] == '-'
	if negative || b[0] == '+' {
		i++
	}
	var mantissa uint64
	digits, scale := 0, 0
	any, exact := false, true
	for ; i < n; i++ {
		d := b[i] - '0'
		if d > 9 {
			break
		}
		any = true
		if digits < 19 {
			mantissa = mantissa*10 + uint64(d)
			if mantissa > 0 {
				digits++
			}
		} else {
			exact = false
		}
	}
	if i < n && b[i] == point {
		for i++; i < n; i++ {
			d := b[i] - '0'
			if d > 9 {
				break
			}
			any = true
			if digits < 19 {
				mantissa = mantissa*10 + uint64(d)
				if mantissa > 0 {
					digits++
				}
				scale--
			} else {
				exact = false
			}
		}
	}
	if !any {
		return math.NaN(), false
	}
	if i < n && (b[i] == 'e' || b[i] == 'E') {
		i++
		down := false
		if i < n && (b[i] == '-' || b[i] == '+') {
			down = b[i] == '-'
			i++
		}
		e, seen := 0, false
		for ; i < n; i++ {
			d := b[i] - '0'
			if d > 9 {
				break
			}
			seen = true
			if e < 10000 {
				e = e*10 + int(d)
			}
		}
		if !seen {
			return math.NaN(), false
		}
		if down {
			e = -e
		}
		scale += e
	}
	if i != n {
		return math.NaN(), false
	}
	if exact && mantissa < 1<<53 && scale >= -22 && scale <= 22 {
		x = float64(mantissa)
		if scale < 0 {
			x /= powers[-scale]
		} else {
			x *= powers[scale]
		}
		if negative {
			x = -x
		}
		return x, true
	}
	s := string(b)
	if point != '.' {
		c := append([]byte(nil), b...)
		for k := range c {
			if c[k] == point {
				c[k] = '.'
			}
		}
		s = string(c)
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(x, 0) {
		return math.NaN(), false
	}
	return x, true
}
