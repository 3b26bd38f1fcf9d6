package plot

import "math"

// Barb draws a wind by the trade's convention: a shaft towards where the wind comes from,
// on it half barbs of 2.5 m/s, full ones of 5 m/s and pennants of 25 m/s, on the side of
// low pressure: left of the wind in the northern hemisphere, right in the southern. Below
// 1.25 m/s it is a circle. (WMO-No. 485, graphical representation, from memory.)
// u and v in m/s towards east and north.
func (c *Canvas) Barb(x, y, u, v float64, south bool) {
	speed := math.Hypot(u, v)
	if speed != speed {
		return
	}
	steps := int(math.Round(speed / 2.5))
	if steps == 0 {
		c.Circle("barb", x, y, 3)
		return
	}
	const shaft, feather, apart = 26, 9, 3.6
	tx, ty := -u/speed, v/speed // towards the tail, y downwards
	lx, ly := sideOf(tx, ty)
	if south {
		lx, ly = -lx, -ly
	}
	at := func(along, aside float64) (float64, float64) { return x + tx*along + lx*aside, y + ty*along + ly*aside }
	lines, full := c.path("barb"), [][3][2]float64(nil)
	lines.to(x, y)
	lines.to(at(shaft, 0))
	pos := float64(shaft)
	point := func(along, aside float64) [2]float64 { a, b := at(along, aside); return [2]float64{a, b} }
	for ; steps >= 10; steps -= 10 {
		full = append(full, [3][2]float64{point(pos, 0), point(pos, feather), point(pos-5, 0)})
		pos -= 6
	}
	if len(full) > 0 {
		pos -= 1
	}
	for ; steps >= 2; steps -= 2 {
		lines.down = false
		lines.to(at(pos, 0))
		lines.to(at(pos+3, feather))
		pos -= apart
	}
	if steps == 1 {
		if pos == shaft {
			pos -= apart // a lone half barb does not stand at the end, where it could pass for a full one
		}
		lines.down = false
		lines.to(at(pos, 0))
		lines.to(at(pos+1.5, feather/2))
	}
	lines.end()
	p := c.path("pennant")
	for _, t := range full {
		p.down = false
		for _, q := range t {
			p.to(q[0], q[1])
		}
		p.close()
	}
	p.end()
}

// sideOf returns the direction left of the wind on the screen (y downwards) for a shaft
// whose tail lies towards (tx, ty): the wind blows to (−tx, −ty), and left of a direction
// (a, b) lies (b, −a).
func sideOf(tx, ty float64) (float64, float64) { return -ty, tx }
