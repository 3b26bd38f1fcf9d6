package bufr

import "strconv"

// AppendDecimal adds n · 10^-scale to b, exactly, with scale figures after the point: the value as the
// message codes it, without a detour through binary fractions. Above scale 18 it is written with an exponent.
func AppendDecimal(b []byte, n int64, scale int) []byte {
	if scale <= 0 {
		b = appendInt(b, n)
		if n != 0 {
			for ; scale < 0; scale++ {
				b = append(b, '0')
			}
		}
		return b
	}
	if scale > 18 {
		b = appendInt(b, n)
		b = append(b, 'e')
		return strconv.AppendInt(b, -int64(scale), 10)
	}
	u := uint64(n)
	if n < 0 {
		b = append(b, '-')
		u = -u
	}
	var figures [24]byte
	i := len(figures)
	for written := 0; u > 0 || written <= scale; written++ {
		if written == scale {
			i--
			figures[i] = '.'
		}
		i--
		figures[i] = byte('0' + u%10)
		u /= 10
	}
	return append(b, figures[i:]...)
}

const pairs = "00010203040506070809101112131415161718192021222324252627282930313233343536373839404142434445464748495051525354555657585960616263646566676869707172737475767778798081828384858687888990919293949596979899"

// appendInt adds n to b.
func appendInt(b []byte, n int64) []byte {
	if n < 0 {
		b = append(b, '-')
		return appendUint(b, -uint64(n))
	}
	return appendUint(b, uint64(n))
}

func appendUint(b []byte, u uint64) []byte {
	if u < 10 {
		return append(b, byte('0'+u))
	}
	var figures [20]byte
	i := len(figures)
	for u >= 100 {
		p := u % 100 * 2
		u /= 100
		i -= 2
		figures[i], figures[i+1] = pairs[p], pairs[p+1]
	}
	if u >= 10 {
		i -= 2
		figures[i], figures[i+1] = pairs[2*u], pairs[2*u+1]
	} else {
		i--
		figures[i] = byte('0' + u)
	}
	return append(b, figures[i:]...)
}
