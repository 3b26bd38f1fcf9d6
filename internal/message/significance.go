package message

import (
	"math/bits"

	"leadline/internal/levels"
)

// Bits of flag table 0 08 042, extended vertical sounding significance; bit 1 is the
// most significant of 18 (WMO Manual on Codes, volume I.2, code and flag tables).
const (
	surfaceBit = 1 << (18 - 1 - iota)
	standardBit
	tropopauseBit
	maximumWindBit
	significantTemperatureBit
	significantHumidityBit
	significantWindBit
	missingTemperatureBeginsBit
	missingTemperatureEndsBit
	missingHumidityBeginsBit
	missingHumidityEndsBit
	missingWindBeginsBit
	missingWindEndsBit
	topOfWindBit
	regionalBit
	freezingBit
	byHeightBit
)

var kindBits = []struct {
	kind levels.Kind
	bit  int
	word string
}{
	{levels.Surface, surfaceBit, "surface"}, {levels.Standard, standardBit, "standard"}, {levels.Tropopause, tropopauseBit, "tropopause"},
	{levels.MaximumWind, maximumWindBit, "maximum wind"}, {levels.SignificantTemperature, significantTemperatureBit, "significant temperature"},
	{levels.SignificantHumidity, significantHumidityBit, "significant humidity"}, {levels.SignificantWind, significantWindBit, "significant wind"},
	{levels.MissingTemperatureBegins, missingTemperatureBeginsBit, "missing temperature begins"}, {levels.MissingTemperatureEnds, missingTemperatureEndsBit, "missing temperature ends"},
	{levels.MissingHumidityBegins, missingHumidityBeginsBit, "missing humidity begins"}, {levels.MissingHumidityEnds, missingHumidityEndsBit, "missing humidity ends"},
	{levels.MissingWindBegins, missingWindBeginsBit, "missing wind begins"}, {levels.MissingWindEnds, missingWindEndsBit, "missing wind ends"},
	{levels.TopOfWind, topOfWindBit, "top of wind"}, {0, regionalBit, "regional"}, {levels.Freezing, freezingBit, "freezing"}, {0, byHeightBit, "by height"},
}

// SignificanceBits returns the bits of 0 08 042 for a kind of level. The top of the
// sounding has none of its own.
func SignificanceBits(k levels.Kind) int {
	bits := 0
	for _, b := range kindBits {
		if b.kind != 0 && k.Has(b.kind) {
			bits |= b.bit
		}
	}
	return bits
}

// significanceWords appends the meanings of the lower 18 bits, separated by ", ".
func significanceWords(b []byte, set int) []byte {
	first := true
	for rest := uint32(set) & (surfaceBit<<1 - 1) &^ 1; rest != 0; {
		highest := bits.Len32(rest) - 1
		rest &^= 1 << highest
		if !first {
			b = append(b, ", "...)
		}
		b = append(b, kindBits[17-highest].word...)
		first = false
	}
	return b
}
