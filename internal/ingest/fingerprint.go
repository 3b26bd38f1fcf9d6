package ingest

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"math"

	"leadline/internal/sounding"
)

// Fingerprint is a key of what a flight holds, whatever its source is called and
// however it is packed or written: the SHA-256 of the rows' instants (0.1 s),
// pressures (0.1 hPa), heights (m), temperatures and humidities (0.1). Two flights
// with one key are the same; a source that was cut or went on has another.
func Fingerprint(raw *sounding.Raw) string {
	h := sha256.New()
	row := make([]byte, 0, 64)
	day := raw.Epoch.Unix()
	first := func(list ...sounding.Variable) []float64 {
		for _, v := range list {
			if x := raw.Values(v); x != nil {
				return x
			}
		}
		return nil
	}
	columns := [][]float64{
		raw.Values(sounding.Pressure),
		first(sounding.HeightMSL, sounding.HeightEllipsoid, sounding.GeopotentialHeight),
		raw.Values(sounding.Temperature),
		first(sounding.Humidity, sounding.HumidityA, sounding.HumidityB),
	}
	scale := [...]float64{10, 1, 10, 10}
	for i, t := range raw.Time {
		row = binary.BigEndian.AppendUint64(row[:0], uint64(day*10+int64(rounded(t*10))))
		for k, c := range columns {
			x := math.NaN()
			if c != nil {
				x = c[i]
			}
			if math.IsNaN(x) || math.Abs(x) > 1e9 {
				row = append(row, 0xff)
				continue
			}
			row = append(row, 1)
			row = binary.BigEndian.AppendUint32(row, uint32(int32(rounded(x*scale[k]))))
		}
		h.Write(row)
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// rounded rounds halves up, with a thousandth to spare: a number that ends in 5 gives
// the same whether it was written as text or as a single-precision number.
func rounded(x float64) float64 { return math.Floor(x + 0.501) }
