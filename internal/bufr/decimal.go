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
	switch {
	case u < 10:
		return append(b, byte('0'+u))
	case u < 100:
		return append(b, pairs[2*u], pairs[2*u+1])
	case u < 1000:
		p := u % 100 * 2
		return append(b, byte('0'+u/100), pairs[p], pairs[p+1])
	case u < 10000:
		return appendFour(b, u)
	}
	return appendFour(appendUint(b, u/10000), u%10000)
}

// appendFour adds the four figures of u, below 10,000.
func appendFour(b []byte, u uint64) []byte {
	p, q := u/100*2, u%100*2
	return append(b, pairs[p], pairs[p+1], pairs[q], pairs[q+1])
}
