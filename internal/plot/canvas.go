package plot

import "math"

// Canvas is what charts are drawn on: one picture, as SVG or as PNG. The drawing code
// sees no difference.
type Canvas struct{ s sheet }

// sheet is what a canvas draws with. Coordinates are user units, y downwards; classes
// are those of Style.
type sheet interface {
	open(class string, clip *Frame)
	close()
	rect(class string, f Frame, title string)
	hatch(f Frame, title string)
	circle(class string, x, y, r float64)
	text(class, anchor string, x, y float64, text string)

	begin(class string) // a path; its points follow
	move(x, y float64)
	line(x, y float64)
	lone(dot bool)  // a point that was moved to and from which no line went: a small cross, or a dot
	loop(r float64) // a circle whose leftmost point was moved to
	shut()          // back to where the last move went
	end()           // of the path
	finish() ([]byte, error)
}

// New starts a picture for a page, as SVG without a style sheet of its own. id must be
// unique within the page; title says in one sentence what is to be seen, for those who
// cannot see it.
func New(id string, width, height float64, title string) *Canvas {
	return &Canvas{newSVG(id, width, height, title)}
}

// Bytes ends the picture and returns it. A picture of New or NewSVG has no error.
func (c *Canvas) Bytes() []byte {
	b, err := c.s.finish()
	if err != nil {
		return nil
	}
	return b
}

// Finish ends the picture and returns it.
func (c *Canvas) Finish() ([]byte, error) { return c.s.finish() }

// Open starts a group of a class, clipped to a frame where one is given.
func (c *Canvas) Open(class string, clip *Frame) { c.s.open(class, clip) }

// Close ends the group.
func (c *Canvas) Close() { c.s.close() }

// Line draws one straight line.
func (c *Canvas) Line(class string, x1, y1, x2, y2 float64) {
	c.s.begin(class)
	c.s.move(x1, y1)
	c.s.line(x2, y2)
	c.s.end()
}

// Rect draws a rectangle with an optional title that browsers show at the cursor.
func (c *Canvas) Rect(class string, f Frame, title string) { c.s.rect(class, f, title) }

// Hatch fills a rectangle with the hatching of what is withheld.
func (c *Canvas) Hatch(f Frame, title string) { c.s.hatch(f, title) }

// Circle draws a circle.
func (c *Canvas) Circle(class string, x, y, r float64) { c.s.circle(class, x, y, r) }

// Anchors of a text.
const (
	Left   = "start"
	Middle = "middle"
	Right  = "end"
)

// Text writes a text at its baseline.
func (c *Canvas) Text(class, anchor string, x, y float64, text string) {
	c.s.text(class, anchor, x, y, text)
}

// path draws points as one path; a NaN lifts the pen.
type path struct {
	c       *Canvas
	x, y    int64 // last point, tenths
	down    bool
	alone   bool // the pen has drawn one point since it was put down
	started bool
	dots    bool // a point that stands alone is a dot
	class   string
}

func (c *Canvas) path(class string) *path { return &path{c: c, class: class} }

func (p *path) to(x, y float64) {
	if x != x || y != y {
		p.lift()
		return
	}
	tx, ty := tenths(x), tenths(y)
	if !p.started {
		p.c.s.begin(p.class)
		p.started = true
	}
	switch {
	case !p.down:
		p.alone = true
		p.c.s.move(x, y)
	case tx == p.x && ty == p.y:
		return
	default:
		p.alone = false
		p.c.s.line(x, y)
	}
	p.x, p.y, p.down = tx, ty, true
}

// lift ends a stretch.
func (p *path) lift() {
	if p.down && p.alone {
		p.c.s.lone(p.dots)
	}
	p.down, p.alone = false, false
}

func (p *path) close() {
	if p.started {
		p.c.s.shut()
		p.down, p.alone = false, false
	}
}

func (p *path) end() {
	p.lift()
	if p.started {
		p.c.s.end()
	}
}

// Polyline draws points of a two-dimensional track, leaving out those nearer than a
// pixel to the last one drawn. A NaN breaks it.
func (c *Canvas) Polyline(class string, x, y []float64) {
	p := c.path(class)
	lastX, lastY := math.NaN(), math.NaN()
	for i := range x {
		if x[i] != x[i] || y[i] != y[i] {
			p.to(math.NaN(), 0)
			lastX = math.NaN()
			continue
		}
		if math.Abs(x[i]-lastX) < 0.8 && math.Abs(y[i]-lastY) < 0.8 && i < len(x)-1 {
			continue
		}
		p.to(x[i], y[i])
		lastX, lastY = x[i], y[i]
	}
	p.end()
}
