package plot

import (
	"math"
	"strconv"
)

// Canvas collects the elements of one SVG picture.
type Canvas struct {
	b      []byte
	id     string // prefix of identifiers within the picture
	clips  int
	width  float64
	height float64
}

// New starts a picture. id must be unique within the page it goes into; title says in one
// sentence what is to be seen, for those who cannot see it.
func New(id string, width, height float64, title string) *Canvas {
	c := &Canvas{id: id, width: width, height: height, b: make([]byte, 0, 64<<10)}
	c.raw(`<svg class="chart" role="img" viewBox="0 0 `).number(width).raw(" ").number(height).raw(`" aria-label="`).escaped(title).raw(`">`)
	c.raw(`<defs><pattern id="`).raw(id).raw(`-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0v6"/></pattern></defs>`)
	return c
}

// Bytes ends the picture and returns it.
func (c *Canvas) Bytes() []byte { return append(c.b, "</svg>"...) }

func (c *Canvas) raw(s string) *Canvas {
	c.b = append(c.b, s...)
	return c
}

// escaped appends a text with everything replaced that could end it or begin markup, and
// without control characters, which XML does not allow.
func (c *Canvas) escaped(s string) *Canvas {
	for _, r := range s {
		switch {
		case r == '&':
			c.b = append(c.b, "&amp;"...)
		case r == '<':
			c.b = append(c.b, "&lt;"...)
		case r == '>':
			c.b = append(c.b, "&gt;"...)
		case r == '"':
			c.b = append(c.b, "&#34;"...)
		case r == '\'':
			c.b = append(c.b, "&#39;"...)
		case r < ' ' || r == 0x7f:
			c.b = append(c.b, ' ')
		default:
			c.b = append(c.b, string(r)...)
		}
	}
	return c
}

// farthest is where coordinates end; what lies farther out is off every picture.
const farthest = 1e5

// number appends a coordinate to a tenth.
func (c *Canvas) number(x float64) *Canvas {
	c.b = appendTenths(c.b, tenths(x))
	return c
}

func tenths(x float64) int64 {
	switch {
	case x != x:
		return 0
	case x > farthest:
		return farthest * 10
	case x < -farthest:
		return -farthest * 10
	}
	return int64(math.Round(x * 10))
}

func appendTenths(b []byte, n int64) []byte {
	if n < 0 {
		b = append(b, '-')
		n = -n
	}
	if n >= 10 || n == 0 {
		b = strconv.AppendInt(b, n/10, 10)
	}
	if n%10 != 0 {
		b = append(b, '.', byte('0'+n%10))
	}
	return b
}

// Open starts a group of a class, clipped to a frame where one is given.
func (c *Canvas) Open(class string, clip *Frame) {
	if clip == nil {
		c.raw(`<g class="`).raw(class).raw(`">`)
		return
	}
	c.clips++
	name := c.id + "-c" + strconv.Itoa(c.clips)
	c.raw(`<clipPath id="`).raw(name).raw(`"><rect x="`).number(clip.X).raw(`" y="`).number(clip.Y).raw(`" width="`).number(clip.W).raw(`" height="`).number(clip.H).raw(`"/></clipPath>`)
	c.raw(`<g class="`).raw(class).raw(`" clip-path="url(#`).raw(name).raw(`)">`)
}

// Close ends the group.
func (c *Canvas) Close() { c.raw("</g>") }

// Line draws one straight line.
func (c *Canvas) Line(class string, x1, y1, x2, y2 float64) {
	c.raw(`<path class="`).raw(class).raw(`" d="M`).number(x1).raw(" ").number(y1).raw("L").number(x2).raw(" ").number(y2).raw(`"/>`)
}

// Rect draws a rectangle with an optional title that browsers show at the cursor.
func (c *Canvas) Rect(class string, f Frame, title string) {
	c.raw(`<rect class="`).raw(class).raw(`" x="`).number(f.X).raw(`" y="`).number(f.Y).raw(`" width="`).number(f.W).raw(`" height="`).number(f.H)
	c.titled("rect", title)
}

// Hatch fills a rectangle with the hatching of what is withheld.
func (c *Canvas) Hatch(f Frame, title string) {
	c.raw(`<rect fill="url(#`).raw(c.id).raw(`-hatch)" x="`).number(f.X).raw(`" y="`).number(f.Y).raw(`" width="`).number(f.W).raw(`" height="`).number(f.H)
	c.titled("rect", title)
}

func (c *Canvas) titled(element, title string) {
	if title == "" {
		c.raw(`"/>`)
		return
	}
	c.raw(`"><title>`).escaped(title).raw("</title></").raw(element).raw(">")
}

// Circle draws a circle.
func (c *Canvas) Circle(class string, x, y, r float64) {
	c.raw(`<circle class="`).raw(class).raw(`" cx="`).number(x).raw(`" cy="`).number(y).raw(`" r="`).number(r).raw(`"/>`)
}

// Anchors of a text.
const (
	Left   = "start"
	Middle = "middle"
	Right  = "end"
)

// Text writes a text at its baseline.
func (c *Canvas) Text(class, anchor string, x, y float64, text string) {
	c.raw(`<text x="`).number(x).raw(`" y="`).number(y)
	if anchor != Left {
		c.raw(`" text-anchor="`).raw(anchor)
	}
	if class != "" {
		c.raw(`" class="`).raw(class)
	}
	c.raw(`">`).escaped(text).raw("</text>")
}

// path writes points as one path; a NaN lifts the pen. Points are relative to the one
// before, which is shorter.
type path struct {
	c       *Canvas
	x, y    int64
	down    bool
	alone   bool // the pen has drawn one point since it was put down
	started bool
	lone    string // what is drawn for a point that stands alone
	class   string
}

func (c *Canvas) path(class string) *path {
	return &path{c: c, class: class, lone: "m-1.5 0h3m-1.5 -1.5v3"}
}

func (p *path) to(x, y float64) {
	if x != x || y != y {
		p.lift()
		return
	}
	tx, ty := tenths(x), tenths(y)
	b := p.c.b
	if !p.started {
		b = append(append(append(b, `<path class="`...), p.class...), `" d="`...)
		p.started = true
	}
	switch {
	case !p.down:
		p.alone = true
		b = append(b, 'M')
		b = appendTenths(b, tx)
		b = append(b, ' ')
		b = appendTenths(b, ty)
	case tx == p.x && ty == p.y:
		p.c.b = b
		return
	case tx == p.x:
		b = append(b, 'v')
		b = appendTenths(b, ty-p.y)
	case ty == p.y:
		b = append(b, 'h')
		b = appendTenths(b, tx-p.x)
	default:
		b = append(b, 'l')
		b = appendTenths(b, tx-p.x)
		if ty >= p.y {
			b = append(b, ' ')
		}
		b = appendTenths(b, ty-p.y)
	}
	if p.down {
		p.alone = false
	}
	p.c.b, p.x, p.y, p.down = b, tx, ty, true
}

// lift ends a stretch. A point that stands alone becomes a small cross, or what lone says.
func (p *path) lift() {
	if p.down && p.alone {
		p.c.raw(p.lone)
	}
	p.down, p.alone = false, false
}

func (p *path) close() {
	if p.started {
		p.c.raw("z")
		p.down, p.alone = false, false
	}
}

func (p *path) end() {
	p.lift()
	if p.started {
		p.c.raw(`"/>`)
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
