package plot

import (
	"math"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The letters of a PNG: the Go fonts, which carry degree, minus and raised figures.
var regular, bold = typeface(goregular.TTF), typeface(gobold.TTF)

func typeface(data []byte) func() *sfnt.Font {
	return sync.OnceValue(func() *sfnt.Font {
		f, err := sfnt.Parse(data)
		if err != nil {
			panic(err) // the font is part of the program; a test draws with it
		}
		return f
	})
}

// glyphUnit is how finely outlines are asked for: pixels per em, scaled afterwards.
const glyphUnit = 256

// outline returns the letters of a text as pieces in pixels with its baseline at 0, 0, and
// its width.
func outline(f *sfnt.Font, text string, size float64) (pieces []piece, width float64) {
	var b sfnt.Buffer
	k := size / glyphUnit / 64
	var last sfnt.GlyphIndex
	for i, c := range text {
		g, err := f.GlyphIndex(&b, c)
		if err != nil || g == 0 {
			g, _ = f.GlyphIndex(&b, '?')
		}
		if i > 0 {
			if kern, err := f.Kern(&b, last, g, fixed.I(glyphUnit), font.HintingNone); err == nil {
				width += float64(kern) * k
			}
		}
		segments, err := f.LoadGlyph(&b, g, fixed.I(glyphUnit), nil)
		if err == nil {
			pieces = append(pieces, flatten(segments, k, width)...)
		}
		if advance, err := f.GlyphAdvance(&b, g, fixed.I(glyphUnit), font.HintingNone); err == nil {
			width += float64(advance) * k
		}
		last = g
	}
	return pieces, width
}

// flatten turns an outline's curves into short lines.
func flatten(segments sfnt.Segments, k, dx float64) (pieces []piece) {
	at := func(p fixed.Point26_6) point { return point{float64(p.X)*k + dx, float64(p.Y) * k} }
	for _, s := range segments {
		if s.Op == sfnt.SegmentOpMoveTo {
			pieces = append(pieces, piece{points: []point{at(s.Args[0])}, closed: true})
			continue
		}
		if len(pieces) == 0 {
			continue
		}
		p := &pieces[len(pieces)-1]
		from := p.points[len(p.points)-1]
		const parts = 6
		switch s.Op {
		case sfnt.SegmentOpLineTo:
			p.points = append(p.points, at(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			c, to := at(s.Args[0]), at(s.Args[1])
			for i := 1; i <= parts; i++ {
				t := float64(i) / parts
				a, b, d := (1-t)*(1-t), 2*t*(1-t), t*t
				p.points = append(p.points, point{a*from.x + b*c.x + d*to.x, a*from.y + b*c.y + d*to.y})
			}
		case sfnt.SegmentOpCubeTo:
			c1, c2, to := at(s.Args[0]), at(s.Args[1]), at(s.Args[2])
			for i := 1; i <= parts; i++ {
				t := float64(i) / parts
				u := 1 - t
				a, b, c, d := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
				p.points = append(p.points, point{a*from.x + b*c1.x + c*c2.x + d*to.x, a*from.y + b*c1.y + c*c2.y + d*to.y})
			}
		}
	}
	return pieces
}

func (r *raster) text(class, anchor string, x, y float64, text string) {
	l := r.look("text", class)
	f := regular()
	if l.bold {
		f = bold()
	}
	pieces, width := outline(f, text, l.size*r.scale)
	left, base := far(x)*r.scale, far(y)*r.scale
	switch anchor {
	case Middle:
		left -= width / 2
	case Right:
		left -= width
	}
	// Numbers stand on whole pixels: sharper feet.
	base = math.Round(base)
	for i := range pieces {
		for k := range pieces[i].points {
			pieces[i].points[k].x += left
			pieces[i].points[k].y += base
		}
	}
	if l.stroke.A > 0 {
		r.stroke(l.stroke, l.opacity, look{width: l.width, round: true}, pieces)
	}
	r.fill(l.fill, l.opacity, pieces)
}
