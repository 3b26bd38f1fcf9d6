package plot

import (
	"math"
	"strconv"
)

// Hodograph is the wind of a profile as the path of its arrow's head.
type Hodograph struct {
	U, V   []float64 // m/s towards east and north, NaN where not usable
	Height []float64 // km
	Marks  []float64 // heights to be marked, km, rising
	Strong float64   // up to this height the line is strong, above it thin; km
}

// DrawHodograph draws it into a square frame: circles of equal speed, north up.
func (c *Canvas) DrawHodograph(f Frame, h *Hodograph) {
	var ru, rv Range
	ru.Add(0)
	rv.Add(0)
	for i := range h.U {
		if h.U[i] == h.U[i] && h.V[i] == h.V[i] {
			ru.Add(h.U[i])
			rv.Add(h.V[i])
		}
	}
	side := math.Max(math.Max(ru.Max-ru.Min, rv.Max-rv.Min)*1.12, 10)
	midU, midV := (ru.Min+ru.Max)/2, (rv.Min+rv.Max)/2
	sx := Scale{midU - side/2, midU + side/2, f.X, f.X + f.W}
	sy := Scale{midV - side/2, midV + side/2, f.Y + f.H, f.Y}
	step := niceStep(side / 7)
	c.Open("rings", &f)
	far := math.Hypot(math.Max(-sx.Min, sx.Max), math.Max(-sy.Min, sy.Max))
	for r := step; r < far; r += step {
		c.Circle("ring", sx.At(0), sy.At(0), r/side*f.W)
	}
	c.Line("zero", sx.At(0), f.Y, sx.At(0), f.Y+f.H)
	c.Line("zero", f.X, sy.At(0), f.X+f.W, sy.At(0))
	c.Close()
	c.Rect("frame", f, "")
	for _, r := range sx.Ticks(step) {
		if x := sx.At(r); r != 0 && x > f.X+14 && x < f.X+f.W-14 {
			c.Text("tick halo", Middle, x, sy.At(0)+13, Number(math.Abs(r), step))
		}
	}
	for _, r := range sy.Ticks(step) {
		if y := sy.At(r); r != 0 && y > f.Y+12 && y < f.Y+f.H-12 {
			c.Text("tick halo", Right, sx.At(0)-4, y+4, Number(math.Abs(r), step))
		}
	}
	part := func(class string, keep func(z float64) bool) {
		x, y := make([]float64, len(h.U)), make([]float64, len(h.U))
		for i := range x {
			x[i], y[i] = math.NaN(), math.NaN()
			if keep(h.Height[i]) {
				x[i], y[i] = sx.At(h.U[i]), sy.At(h.V[i])
			}
		}
		c.Polyline(class, x, y)
	}
	c.Open("wd", &f)
	part("line thin", func(z float64) bool { return z >= h.Strong })
	part("line strong", func(z float64) bool { return z <= h.Strong })
	next := 0
	var named []Frame // where names of heights stand already
	for i := range h.U {
		for next < len(h.Marks) && h.Height[i] >= h.Marks[next] {
			if h.U[i] != h.U[i] || h.V[i] != h.V[i] {
				break
			}
			x, y := sx.At(h.U[i]), sy.At(h.V[i])
			if h.Height[i]-h.Marks[next] < 0.3 {
				c.Circle("height", x, y, 3)
				free := true
				for _, q := range named {
					free = free && math.Hypot(x-q.X, y-q.Y) > 15
				}
				if free {
					c.Text("halo", Left, x+5, y-4, strconv.FormatFloat(h.Marks[next], 'f', -1, 64))
					named = append(named, Frame{X: x, Y: y})
				}
			}
			next++
		}
	}
	c.Close()
}
