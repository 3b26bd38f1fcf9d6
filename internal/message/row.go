package message

import "leadline/internal/sounding"

// row writes the lines of a table of levels: a blank line is copied whole, then the
// figures are set into it from the right. A value too wide for its column falls back to
// a line that gives way.
type row struct {
	raw   *sounding.Raw
	shift float64 // added to times
	cells []cell
	blank []byte
}

// cell is a column with the place where its figures end.
type cell struct {
	shown
	start, end int
	power      float64
}

// Widths of level number and time.
const (
	numberWidth = 6
	timeWidth   = 10
)

// begin prepares for the levels of raw.
func (r *row) begin(raw *sounding.Raw, columns []shown, shift float64) {
	*r = row{raw: raw, shift: shift, cells: r.cells[:0], blank: r.blank[:0]}
	at := numberWidth + timeWidth
	for _, c := range columns {
		r.cells = append(r.cells, cell{shown: c, start: at + 1, end: at + 1 + c.width, power: powers[c.decimals]})
		at += 1 + c.width
	}
	for range at {
		r.blank = append(r.blank, ' ')
	}
}

// append adds the line of level i, without its end.
func (r *row) append(b []byte, i int) []byte {
	at := len(b)
	b = append(b, r.blank...)
	line := b[at:]
	ok := set(line, 0, numberWidth, float64(r.raw.Line[i]), 1, 0) && set(line, numberWidth, numberWidth+timeWidth, r.raw.Time[i]+r.shift, 10, 1)
	for k := range r.cells {
		c := &r.cells[k]
		if !ok {
			break
		}
		ok = set(line, c.start, c.end, c.values[i]+c.offset, c.power, c.decimals)
	}
	if ok {
		return b
	}
	b = appendFixed(b[:at], float64(r.raw.Line[i]), 0, numberWidth)
	b = appendFixed(b, r.raw.Time[i]+r.shift, 1, timeWidth)
	for k := range r.cells {
		c := &r.cells[k]
		b = appendFixed(append(b, ' '), c.values[i]+c.offset, c.decimals, c.width)
	}
	return b
}

const pairs = "00010203040506070809101112131415161718192021222324252627282930313233343536373839404142434445464748495051525354555657585960616263646566676869707172737475767778798081828384858687888990919293949596979899"

// set writes v with decimals figures after the point so that it ends before end; false
// where it needs room before start.
func set(line []byte, start, end int, v, power float64, decimals int) bool {
	if v != v {
		line[end-1] = '-'
		return true
	}
	negative := v < 0
	if negative {
		v = -v
	}
	if v > 1e9 {
		return false
	}
	if v = v*power + 0.5; v >= 1<<32 {
		return false
	}
	n := uint32(v)
	negative = negative && n != 0
	k := end
	for ; decimals >= 2; decimals -= 2 {
		q := n / 100
		two := (n - q*100) * 2
		n = q
		k -= 2
		line[k], line[k+1] = pairs[two], pairs[two+1]
	}
	if decimals == 1 {
		q := n / 10
		k--
		line[k] = '0' + byte(n-q*10)
		n = q
	}
	if power > 1 {
		k--
		line[k] = '.'
	}
	for n >= 100 {
		if k < start+2 {
			return false
		}
		q := n / 100
		two := (n - q*100) * 2
		n = q
		k -= 2
		line[k], line[k+1] = pairs[two], pairs[two+1]
	}
	if k < start+3 { // two figures and a sign
		need := 1
		if n >= 10 {
			need++
		}
		if negative {
			need++
		}
		if k-need < start {
			return false
		}
	}
	if n >= 10 {
		k -= 2
		line[k], line[k+1] = pairs[n*2], pairs[n*2+1]
	} else {
		k--
		line[k] = '0' + byte(n)
	}
	if negative {
		line[k-1] = '-'
	}
	return true
}
