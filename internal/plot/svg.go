package plot

import (
	"math"
	"strconv"
)

// svg collects the elements of one SVG picture. Points of a path are relative to the one
// before, which is shorter.
type svg struct {
	b     []byte
	id    string // prefix of identifiers within the picture
	clips int
	x, y  int64 // the pen, tenths
}

func newSVG(id string, width, height float64, title string) *svg {
	c := &svg{id: id, b: make([]byte, 0, 64<<10)}
	c.raw(`<svg class="chart" role="img" viewBox="0 0 `).number(width).raw(" ").number(height).raw(`" aria-label="`).escaped(title).raw(`">`)
	c.pattern()
	return c
}

// pattern defines the hatching.
func (c *svg) pattern() {
	c.raw(`<defs><pattern id="`).raw(c.id).raw(`-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0v6"/></pattern></defs>`)
}

// NewSVG starts a picture that is a file of its own: with style sheet and ground, widthMM
// wide where it is printed.
func NewSVG(width, height, widthMM float64, title string) *Canvas {
	c := &svg{id: "figure", b: make([]byte, 0, 64<<10)}
	c.raw(`<?xml version="1.0" encoding="UTF-8"?>` + "\n" + `<svg xmlns="http://www.w3.org/2000/svg" class="chart" role="img" width="`).number(widthMM).raw(`mm" height="`).number(widthMM * height / width)
	c.raw(`mm" viewBox="0 0 `).number(width).raw(" ").number(height).raw(`"><title>`).escaped(title).raw(`</title><style>`).escaped(Style).raw(`.chart rect.ground{fill:var(--paper)}</style>`)
	c.pattern()
	c.rect("ground", Frame{0, 0, width, height}, "")
	return &Canvas{c}
}

func (c *svg) finish() ([]byte, error) { return append(c.b, "</svg>"...), nil }

func (c *svg) raw(s string) *svg {
	c.b = append(c.b, s...)
	return c
}

// escaped appends a text with everything replaced that could end it or begin markup, and
// without control characters, which XML does not allow.
func (c *svg) escaped(s string) *svg {
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
func (c *svg) number(x float64) *svg {
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

func (c *svg) open(class string, clip *Frame) {
	if clip == nil {
		c.raw(`<g class="`).raw(class).raw(`">`)
		return
	}
	c.clips++
	name := c.id + "-c" + strconv.Itoa(c.clips)
	c.raw(`<clipPath id="`).raw(name).raw(`"><rect x="`).number(clip.X).raw(`" y="`).number(clip.Y).raw(`" width="`).number(clip.W).raw(`" height="`).number(clip.H).raw(`"/></clipPath>`)
	c.raw(`<g class="`).raw(class).raw(`" clip-path="url(#`).raw(name).raw(`)">`)
}

func (c *svg) close() { c.raw("</g>") }

func (c *svg) rect(class string, f Frame, title string) {
	c.raw(`<rect class="`).raw(class).raw(`" x="`).number(f.X).raw(`" y="`).number(f.Y).raw(`" width="`).number(f.W).raw(`" height="`).number(f.H)
	c.titled("rect", title)
}

func (c *svg) hatch(f Frame, title string) {
	c.raw(`<rect fill="url(#`).raw(c.id).raw(`-hatch)" x="`).number(f.X).raw(`" y="`).number(f.Y).raw(`" width="`).number(f.W).raw(`" height="`).number(f.H)
	c.titled("rect", title)
}

func (c *svg) titled(element, title string) {
	if title == "" {
		c.raw(`"/>`)
		return
	}
	c.raw(`"><title>`).escaped(title).raw("</title></").raw(element).raw(">")
}

func (c *svg) circle(class string, x, y, r float64) {
	c.raw(`<circle class="`).raw(class).raw(`" cx="`).number(x).raw(`" cy="`).number(y).raw(`" r="`).number(r).raw(`"/>`)
}

func (c *svg) text(class, anchor string, x, y float64, text string) {
	c.raw(`<text x="`).number(x).raw(`" y="`).number(y)
	if anchor != Left {
		c.raw(`" text-anchor="`).raw(anchor)
	}
	if class != "" {
		c.raw(`" class="`).raw(class)
	}
	c.raw(`">`).escaped(text).raw("</text>")
}

func (c *svg) begin(class string) { c.raw(`<path class="`).raw(class).raw(`" d="`) }

func (c *svg) move(x, y float64) {
	c.x, c.y = tenths(x), tenths(y)
	c.b = append(c.b, 'M')
	c.b = appendTenths(c.b, c.x)
	c.b = append(c.b, ' ')
	c.b = appendTenths(c.b, c.y)
}

func (c *svg) line(x, y float64) {
	tx, ty := tenths(x), tenths(y)
	b := c.b
	switch {
	case tx == c.x:
		b = append(b, 'v')
		b = appendTenths(b, ty-c.y)
	case ty == c.y:
		b = append(b, 'h')
		b = appendTenths(b, tx-c.x)
	default:
		b = append(b, 'l')
		b = appendTenths(b, tx-c.x)
		if ty >= c.y {
			b = append(b, ' ')
		}
		b = appendTenths(b, ty-c.y)
	}
	c.b, c.x, c.y = b, tx, ty
}

func (c *svg) lone(dot bool) {
	if dot {
		c.raw("h0") // round ends make a dot of it
		return
	}
	c.raw("m-1.5 0h3m-1.5 -1.5v3")
}

func (c *svg) loop(r float64) {
	for _, d := range [2]float64{2 * r, -2 * r} {
		c.raw("a").number(r).raw(" ").number(r).raw(" 0 1 0 ").number(d).raw(" 0")
	}
}

func (c *svg) shut() { c.raw("z") }
func (c *svg) end()  { c.raw(`"/>`) }
