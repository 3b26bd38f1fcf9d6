package plot

import "math"

// State says how a sample is drawn.
type State uint8

// The states.
const (
	Plain    State = iota // line
	Doubtful              // dotted line and open dots
	Bad                   // gap with crosses
	Absent                // gap with a tick at each end
)

// Curve is one variable of a panel.
type Curve struct {
	Class string    // colour, and further classes such as "dash"
	X     []float64 // NaN where missing
	State []State   // nil: plain where there is a value
	Half  []float64 // half width of the uncertainty band, NaN or nil where there is none
	Dots  bool      // points instead of a line: for directions, which jump

	NoTicks bool // gaps are of the curve's nature and get no ticks
}

func (k *Curve) state(i int) State {
	switch {
	case k.X[i] != k.X[i]:
		return Absent
	case k.State == nil:
		return Plain
	}
	return k.State[i]
}

// Draw draws a curve with x on sx and the vertical coordinate y on sy, the coordinate of
// each sample being given. The frame clips it.
func (c *Canvas) Draw(f Frame, sx, sy Scale, y []float64, k *Curve) {
	c.Open("curve "+k.Class, &f)
	c.band(sx, sy, y, k)
	switch {
	case k.Dots:
		c.points(sx, sy, y, k)
	default:
		c.run("line", sx, sy, y, k, Plain)
		if k.State != nil {
			c.run("line dotted", sx, sy, y, k, Doubtful)
		}
	}
	if k.State != nil {
		c.marks(sx, sy, y, k)
		if !k.NoTicks {
			c.gaps(sx, sy, y, k)
		}
	}
	c.Close()
}

// bucket collects the samples of one row of pixels.
type bucket struct {
	row           int
	n             int
	min, max      float64
	minY, maxY    float64
	minAt, maxAt  int
	first, last   float64
	firstY, lastY float64
}

func (b *bucket) add(x, y float64, row int) {
	if b.n == 0 {
		*b = bucket{row: row, min: x, max: x, minY: y, maxY: y, first: x, firstY: y}
	}
	if x < b.min {
		b.min, b.minY, b.minAt = x, y, b.n
	}
	if x > b.max {
		b.max, b.maxY, b.maxAt = x, y, b.n
	}
	b.last, b.lastY = x, y
	b.n++
}

// flat is the width in pixels below which one point stands for a whole row.
const flat = 0.5

func (b *bucket) flush(p *path) {
	switch {
	case b.n == 0:
		return
	case b.n == 1 || b.max-b.min < flat:
		p.to((b.min+b.max)/2, (b.firstY+b.lastY)/2)
	default:
		p.to(b.first, b.firstY)
		if b.minAt < b.maxAt {
			p.to(b.min, b.minY)
			p.to(b.max, b.maxY)
		} else {
			p.to(b.max, b.maxY)
			p.to(b.min, b.minY)
		}
		p.to(b.last, b.lastY)
	}
	b.n = 0
}

// run draws the stretches of one state as a line. A doubtful stretch reaches to the plain
// samples beside it, so that the line stays whole.
func (c *Canvas) run(class string, sx, sy Scale, y []float64, k *Curve, state State) {
	p := c.path(class)
	var b bucket
	joined := func(i int) bool {
		return state == Doubtful && i >= 0 && i < len(k.X) && k.state(i) == Plain
	}
	for i := range k.X {
		s := k.state(i)
		take := s == state || joined(i) && (i+1 < len(k.X) && k.state(i+1) == Doubtful || i > 0 && k.state(i-1) == Doubtful)
		py := sy.At(y[i])
		if !take || py != py {
			b.flush(p)
			p.lift()
			continue
		}
		px, row := sx.Inside(k.X[i]), int(math.Floor(py))
		if b.n > 0 && row != b.row {
			b.flush(p)
		}
		b.add(px, py, row)
	}
	b.flush(p)
	p.end()
}

// points draws one dot for each pixel that holds a plain or doubtful sample.
func (c *Canvas) points(sx, sy Scale, y []float64, k *Curve) {
	p := c.path("points")
	p.dots = true
	lastX, lastY := math.NaN(), math.NaN()
	for i := range k.X {
		if s := k.state(i); s != Plain && s != Doubtful {
			continue
		}
		px, py := sx.Inside(k.X[i]), sy.At(y[i])
		if py != py || math.Abs(px-lastX) < 1.2 && math.Abs(py-lastY) < 1.2 {
			continue
		}
		p.lift()
		p.to(px, py)
		lastX, lastY = px, py
	}
	p.end()
}

// band fills x ± Half, row of pixels by row, broken where there is none.
func (c *Canvas) band(sx, sy Scale, y []float64, k *Curve) {
	if k.Half == nil {
		return
	}
	var lo, hi, rows []float64
	flush := func() {
		if len(rows) > 1 {
			p := c.path("band")
			for i := range rows {
				p.to(lo[i], rows[i])
			}
			for i := len(rows) - 1; i >= 0; i-- {
				p.to(hi[i], rows[i])
			}
			p.close()
			p.end()
		}
		lo, hi, rows = lo[:0], hi[:0], rows[:0]
	}
	const tall = 3 // pixels of one step of the band's edge
	last := math.MinInt
	for i := range k.X {
		s := k.state(i)
		py, h := sy.At(y[i]), k.Half[i]
		if s == Bad || s == Absent || py != py || h != h {
			flush()
			last = math.MinInt
			continue
		}
		a, b := sx.Inside(k.X[i]-h), sx.Inside(k.X[i]+h)
		if a > b {
			a, b = b, a
		}
		if row := int(math.Floor(py / tall)); row != last || len(rows) == 0 {
			lo, hi, rows = append(lo, a), append(hi, b), append(rows, py)
			last = row
			continue
		}
		n := len(rows) - 1
		lo[n], hi[n] = math.Min(lo[n], a), math.Max(hi[n], b)
	}
	flush()
}

// marks draws open dots on doubtful samples and crosses on bad ones, one for every few
// pixels.
func (c *Canvas) marks(sx, sy Scale, y []float64, k *Curve) {
	const apart, half = 9, 2.4
	dots, crosses := c.path("dot"), []Frame(nil)
	last := [2]float64{math.NaN(), math.NaN()}
	for i := range k.X {
		s := k.state(i)
		if s != Doubtful && s != Bad {
			continue
		}
		px, py := sx.Inside(k.X[i]), sy.At(y[i])
		at := &last[s-Doubtful]
		if py != py || math.Abs(py-*at) < apart {
			continue
		}
		*at = py
		if s == Doubtful {
			circle(dots, px, py, half)
		} else {
			crosses = append(crosses, Frame{px, py, half, half})
		}
	}
	dots.end()
	p := c.path("cross")
	for _, x := range crosses {
		cross(p, x.X, x.Y, half)
	}
	p.end()
}

func circle(p *path, x, y, r float64) {
	p.down = false
	p.to(x-r, y)
	p.c.s.loop(r)
	p.down, p.alone = false, false
}

func cross(p *path, x, y, half float64) {
	p.down = false
	p.to(x-half, y-half)
	p.to(x+half, y+half)
	p.down = false
	p.to(x-half, y+half)
	p.to(x+half, y-half)
	p.down = false
}

// gaps draws a tick at both ends of a stretch without values, where it is at least two
// pixels tall.
func (c *Canvas) gaps(sx, sy Scale, y []float64, k *Curve) {
	const half = 4
	p := c.path("gap")
	last := -1
	for i := range k.X {
		if k.state(i) == Absent || y[i] != y[i] {
			continue
		}
		if last >= 0 && i > last+1 && math.Abs(sy.At(y[i])-sy.At(y[last])) >= 2 {
			for _, j := range [2]int{last, i} {
				px, py := sx.Inside(k.X[j]), sy.At(y[j])
				p.down = false
				p.to(px-half, py)
				p.to(px+half, py)
			}
		}
		last = i
	}
	p.end()
}

// Axes draws the frame of a panel: grid lines and numbers of both axes. left says whether
// the vertical numbers are written.
func (c *Canvas) Axes(f Frame, sx Scale, stepX float64, sy Scale, stepY float64, left bool) {
	p := c.path("grid")
	for _, v := range sx.Ticks(stepX) {
		p.down = false
		p.to(sx.At(v), f.Y)
		p.to(sx.At(v), f.Y+f.H)
	}
	for _, v := range sy.Ticks(stepY) {
		p.down = false
		p.to(f.X, sy.At(v))
		p.to(f.X+f.W, sy.At(v))
	}
	p.end()
	c.Rect("frame", f, "")
	for _, v := range sx.Ticks(stepX) {
		// Numbers at the ends stay under their panel, off those of the next one.
		x, anchor := sx.At(v), Middle
		switch {
		case x < f.X+5:
			x, anchor = f.X-3, Left
		case x > f.X+f.W-5:
			x, anchor = f.X+f.W+3, Right
		}
		c.Text("tick", anchor, x, f.Y+f.H+15, Number(v, stepX))
	}
	if left {
		for _, v := range sy.Ticks(stepY) {
			c.Text("tick", Right, f.X-6, sy.At(v)+4, Number(v, stepY))
		}
	}
}
