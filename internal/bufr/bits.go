package bufr

import "encoding/binary"

// readBits returns w bits (at most 64) of b that begin at bit off. The caller has checked that they are there.
func readBits(b []byte, off int64, w int) uint64 {
	i := int(off >> 3)
	shift := uint(off & 7)
	if i+8 <= len(b) && int(shift)+w <= 64 {
		if w == 0 {
			return 0
		}
		return binary.BigEndian.Uint64(b[i:]) << shift >> (64 - uint(w))
	}
	return readBitsSlow(b, off, w)
}

func readBitsSlow(b []byte, off int64, w int) uint64 {
	var v uint64
	for w > 0 {
		have := 8 - int(off&7)
		take := min(have, w)
		octet := uint64(b[off>>3]) & (1<<have - 1)
		v = v<<take | octet>>(have-take)
		off += int64(take)
		w -= take
	}
	return v
}

// appendOctets adds n octets of b that begin at bit off to dst.
func appendOctets(dst, b []byte, off int64, n int) []byte {
	i := int(off >> 3)
	shift := uint(off & 7)
	if shift == 0 {
		return append(dst, b[i:i+n]...)
	}
	for k := range n {
		dst = append(dst, b[i+k]<<shift|b[i+k+1]>>(8-shift))
	}
	return dst
}

// allOnes reports whether n octets of b from bit off have all bits on.
func allOnes(b []byte, off int64, n int) bool {
	for w := 8 * n; w > 0; w -= 64 {
		k := min(w, 64)
		if readBits(b, off, k) != 1<<k-1 && k < 64 || k == 64 && readBits(b, off, 64) != ^uint64(0) {
			return false
		}
		off += int64(k)
	}
	return true
}

// bitWriter gathers bits into octets, most significant first.
type bitWriter struct {
	buf []byte
	acc uint64 // the lowest n bits are pending
	n   int    // below 32 between calls of write
}

// write adds the lowest w bits of v, w at most 64.
func (b *bitWriter) write(v uint64, w int) {
	if w > 32 {
		b.write(v>>32, w-32)
		w = 32
		v &= 1<<32 - 1
	}
	v &= 1<<uint(w) - 1
	b.acc = b.acc<<uint(w) | v
	b.n += w
	if b.n >= 32 {
		b.n -= 32
		b.buf = binary.BigEndian.AppendUint32(b.buf, uint32(b.acc>>uint(b.n)))
	}
}

func (b *bitWriter) writeOctets(s []byte) {
	for _, c := range s {
		b.write(uint64(c), 8)
	}
}

// bytes pads with zero bits to a whole octet and returns all.
func (b *bitWriter) bytes() []byte {
	for b.n > 0 {
		if b.n < 8 {
			b.acc <<= uint(8 - b.n)
			b.n = 8
		}
		b.n -= 8
		b.buf = append(b.buf, byte(b.acc>>uint(b.n)))
	}
	return b.buf
}
