package export

import (
	"math"
	"strconv"

	"leadline/internal/sounding"
)

// Decimals returns how many decimals CSV files carry for a variable in its unit. They are
// a thousandth or less of the finest resolution in use: 0.001 hPa, 0.01 K, 0.01 %,
// 0.01 m/s, 0.1°, 10⁻⁶ degrees of latitude and longitude, 0.01 m (common practice; the
// finest of FM 94 template 3 09 057 is 0.1 Pa and 10⁻⁵ degrees).
func Decimals(v sounding.Variable) int {
	switch v {
	case sounding.Pressure, sounding.MixingRatio:
		return 6
	case sounding.Latitude, sounding.Longitude:
		return 9
	case sounding.WindDirection:
		return 4
	}
	return 5
}

// timeDecimals is the number of decimals of times in s.
const timeDecimals = 6

var powersOfTen = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

const digitPairs = "00010203040506070809101112131415161718192021222324252627282930313233343536373839" +
	"4041424344454647484950515253545556575859606162636465666768697071727374757677787980" +
	"81828384858687888990919293949596979899"

// appendDecimal appends x rounded to at most the given number of decimals (0 to 9),
// without trailing zeros; nothing for NaN. Numbers too large for that are written in full.
func appendDecimal(b []byte, x float64, decimals int) []byte {
	if x != x {
		return b
	}
	scaled := math.Abs(x) * powersOfTen[decimals]
	if !(scaled < 1<<52) {
		if math.Abs(x) < 1e15 {
			return strconv.AppendFloat(b, x, 'f', -1, 64)
		}
		return strconv.AppendFloat(b, x, 'g', -1, 64)
	}
	n := uint64(scaled + 0.5)
	if n == 0 {
		return append(b, '0')
	}
	for decimals > 0 && n%10 == 0 {
		n /= 10
		decimals--
	}
	if x < 0 {
		b = append(b, '-')
	}
	var buf [24]byte
	i := len(buf)
	for n >= 100 {
		q := n / 100
		p := (n - q*100) * 2
		i -= 2
		buf[i], buf[i+1] = digitPairs[p], digitPairs[p+1]
		n = q
	}
	if n >= 10 {
		i -= 2
		buf[i], buf[i+1] = digitPairs[n*2], digitPairs[n*2+1]
	} else {
		i--
		buf[i] = byte('0' + n)
	}
	digits := buf[i:]
	if decimals == 0 {
		return append(b, digits...)
	}
	if whole := len(digits) - decimals; whole > 0 {
		b = append(b, digits[:whole]...)
		b = append(b, '.')
		return append(b, digits[whole:]...)
	}
	b = append(b, '0', '.')
	for k := len(digits); k < decimals; k++ {
		b = append(b, '0')
	}
	return append(b, digits...)
}
