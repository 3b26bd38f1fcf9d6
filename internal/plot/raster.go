package plot

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"

	"golang.org/x/image/vector"
)

// MostPixels is the largest width or height of a PNG.
const MostPixels = 12000

// NewPNG starts a picture of width × height user units that is widthMM wide where it is
// printed, at dpi pixels per inch, on the paper of Style. An error says why a picture of
// that size cannot be.
func NewPNG(width, height, widthMM, dpi float64) (*Canvas, error) {
	scale := widthMM / 25.4 * dpi / width
	w, h := int(math.Round(width*scale)), int(math.Round(height*scale))
	if !(widthMM > 0 && dpi > 0) || w < 50 || h < 50 || w > MostPixels || h > MostPixels {
		return nil, fmt.Errorf("a picture %g mm wide at %g dpi: want 50 to %d pixels on each side", widthMM, dpi, MostPixels)
	}
	r := &raster{img: image.NewRGBA(image.Rect(0, 0, w, h)), scale: scale, dpi: dpi, nodes: []node{{"svg", []string{"chart"}}}, looks: map[string]look{}, mask: make([]uint8, w*h)}
	paper, err := parseColour(chartStyle().root["--paper"])
	if err != nil {
		return nil, err
	}
	for i := 0; i < len(r.img.Pix); i += 4 {
		r.img.Pix[i], r.img.Pix[i+1], r.img.Pix[i+2], r.img.Pix[i+3] = paper.R, paper.G, paper.B, 255
	}
	r.clips = []image.Rectangle{r.img.Bounds()}
	return &Canvas{r}, nil
}

type point struct{ x, y float64 }

// raster draws into pixels. Strokes are drawn by distance: how much of a pixel a line
// covers follows from how far the pixel's middle is from the line, the nearest piece of
// the path counting, so joints are round and nothing is drawn twice. Areas and letters
// are filled by their outlines.
type raster struct {
	img        *image.RGBA
	mask       []uint8 // of the stroke at hand
	dirty      image.Rectangle
	scale, dpi float64
	nodes      []node
	looks      map[string]look
	clips      []image.Rectangle
	filler     vector.Rasterizer

	class  string
	pieces []piece
}

// piece is a stretch of a path, in pixels.
type piece struct {
	points []point
	closed bool
}

func (r *raster) look(element, class string) look {
	var key strings.Builder
	for _, n := range r.nodes[1:] {
		key.WriteString(strings.Join(n.classes, " "))
		key.WriteByte('/')
	}
	key.WriteString(element + "." + class)
	if l, ok := r.looks[key.String()]; ok {
		return l
	}
	l := chartStyle().of(append(append([]node(nil), r.nodes...), node{element, strings.Fields(class)}))
	r.looks[key.String()] = l
	return l
}

func (r *raster) clip() image.Rectangle { return r.clips[len(r.clips)-1] }

func (r *raster) open(class string, clip *Frame) {
	r.nodes = append(r.nodes, node{"g", strings.Fields(class)})
	c := r.clip()
	if clip != nil {
		s := r.scale
		c = c.Intersect(image.Rect(int(math.Round(clip.X*s)), int(math.Round(clip.Y*s)), int(math.Round((clip.X+clip.W)*s)), int(math.Round((clip.Y+clip.H)*s))))
	}
	r.clips = append(r.clips, c)
}

func (r *raster) close() {
	r.nodes, r.clips = r.nodes[:len(r.nodes)-1], r.clips[:len(r.clips)-1]
}

func (r *raster) begin(class string) { r.class, r.pieces = class, r.pieces[:0] }

// far keeps coordinates where they can be counted.
func far(x float64) float64 { return math.Max(-farthest, math.Min(farthest, x)) }

func (r *raster) move(x, y float64) {
	r.pieces = append(r.pieces, piece{points: []point{{far(x) * r.scale, far(y) * r.scale}}})
}

func (r *raster) line(x, y float64) {
	if len(r.pieces) == 0 {
		r.move(x, y)
		return
	}
	p := &r.pieces[len(r.pieces)-1]
	p.points = append(p.points, point{far(x) * r.scale, far(y) * r.scale})
}

func (r *raster) lone(dot bool) {
	p := &r.pieces[len(r.pieces)-1]
	at := p.points[0]
	if dot {
		p.points = append(p.points, at)
		return
	}
	d := 1.5 * r.scale
	p.points = []point{{at.x - d, at.y}, {at.x + d, at.y}}
	r.pieces = append(r.pieces, piece{points: []point{{at.x, at.y - d}, {at.x, at.y + d}}})
}

func (r *raster) loop(radius float64) {
	p := &r.pieces[len(r.pieces)-1]
	at := p.points[0]
	p.points, p.closed = ring(at.x+radius*r.scale, at.y, radius*r.scale), true
}

func ring(x, y, radius float64) []point {
	n := max(12, int(4*math.Sqrt(radius)*math.Pi))
	out := make([]point, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out[i] = point{x + radius*cos, y + radius*sin}
	}
	return out
}

func (r *raster) shut() {
	if len(r.pieces) > 0 {
		r.pieces[len(r.pieces)-1].closed = true
	}
}

func (r *raster) end() { r.paint(r.look("path", r.class), r.pieces) }

func (r *raster) rect(class string, f Frame, _ string) {
	s := r.scale
	r.paint(r.look("rect", class), []piece{{[]point{{f.X * s, f.Y * s}, {(f.X + f.W) * s, f.Y * s}, {(f.X + f.W) * s, (f.Y + f.H) * s}, {f.X * s, (f.Y + f.H) * s}}, true}})
}

func (r *raster) circle(class string, x, y, radius float64) {
	r.paint(r.look("circle", class), []piece{{ring(x*r.scale, y*r.scale, radius*r.scale), true}})
}

// hatch draws lines of 45° six units apart.
func (r *raster) hatch(f Frame, title string) {
	r.open("", &f)
	r.begin("hatch")
	step := 6 * math.Sqrt2
	for d := math.Floor((f.X-f.Y-f.H)/step) * step; d < f.X+f.W-f.Y; d += step {
		r.move(f.Y+d, f.Y)
		r.line(f.Y+f.H+d, f.Y+f.H)
	}
	r.end()
	r.close()
}

// paint fills and strokes.
func (r *raster) paint(l look, pieces []piece) {
	if l.fill.A > 0 {
		r.fill(l.fill, l.opacity, pieces)
	}
	if l.stroke.A > 0 {
		r.stroke(l.stroke, l.opacity, l, pieces)
	}
}

// fill fills the insides of the pieces.
func (r *raster) fill(c color.NRGBA, opacity float64, pieces []piece) {
	lo, hi := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, p := range pieces {
		for _, q := range p.points {
			lo.x, lo.y, hi.x, hi.y = math.Min(lo.x, q.x), math.Min(lo.y, q.y), math.Max(hi.x, q.x), math.Max(hi.y, q.y)
		}
	}
	if !(lo.x <= hi.x) {
		return
	}
	box := image.Rect(int(math.Floor(lo.x)), int(math.Floor(lo.y)), int(math.Ceil(hi.x))+1, int(math.Ceil(hi.y))+1).Intersect(r.clip())
	if box.Empty() {
		return
	}
	r.filler.Reset(box.Dx(), box.Dy())
	at := func(q point) (float32, float32) {
		// Held near the box: the filler counts in 32 bits.
		x := math.Max(-1e4, math.Min(2e4, q.x-float64(box.Min.X)))
		y := math.Max(-1e4, math.Min(2e4, q.y-float64(box.Min.Y)))
		return float32(x), float32(y)
	}
	for _, p := range pieces {
		if len(p.points) < 3 {
			continue
		}
		r.filler.MoveTo(at(p.points[0]))
		for _, q := range p.points[1:] {
			r.filler.LineTo(at(q))
		}
		r.filler.ClosePath()
	}
	c.A = uint8(math.Round(opacity * 255))
	r.filler.Draw(r.img, box, image.NewUniform(c), image.Point{})
}

// stroke draws along the pieces.
func (r *raster) stroke(c color.NRGBA, opacity float64, l look, pieces []piece) {
	half := 0.5 * l.width * r.scale
	r.dirty = image.Rectangle{}
	for _, p := range pieces {
		points := p.points
		if p.closed && len(points) > 0 {
			points = append(append(make([]point, 0, len(points)+1), points...), points[0])
		}
		if len(l.dashes) == 0 {
			r.along(points, half, l.round, p.closed)
			continue
		}
		for _, d := range dashed(points, l.dashes, r.scale) {
			r.along(d, half, l.round, false)
		}
	}
	r.blend(c, opacity)
}

// along marks what a line through the points covers.
func (r *raster) along(points []point, half float64, round, closed bool) {
	for i := 0; i+1 < len(points); i++ {
		first, last := i == 0 && !closed, i+2 == len(points) && !closed
		r.segment(points[i], points[i+1], half, first && !round, last && !round)
	}
}

// segment marks a pixel by how far its middle is from the line between a and b. Ends are
// round but where they are said to be cut.
func (r *raster) segment(a, b point, half float64, cutA, cutB bool) {
	clip := r.clip()
	reach := half + 1
	dx, dy := b.x-a.x, b.y-a.y
	length := math.Hypot(dx, dy)
	top, bottom := math.Floor(math.Min(a.y, b.y)-reach), math.Ceil(math.Max(a.y, b.y)+reach)
	y0, y1 := max(clip.Min.Y, int(math.Max(top, -1))), min(clip.Max.Y, int(math.Min(bottom, MostPixels))+1)
	ux, uy := 1.0, 0.0
	if length > 0 {
		ux, uy = dx/length, dy/length
	}
	for y := y0; y < y1; y++ {
		py := float64(y) + 0.5
		// The stretch of the row that can be near the line.
		left, right := math.Min(a.x, b.x)-reach, math.Max(a.x, b.x)+reach
		if math.Abs(uy) > 1e-9 {
			mid := a.x + (py-a.y)*ux/uy
			wide := reach / math.Abs(uy)
			left, right = math.Max(left, mid-wide), math.Min(right, mid+wide)
		}
		x0, x1 := max(clip.Min.X, int(math.Max(math.Floor(left), -1))), min(clip.Max.X, int(math.Min(math.Ceil(right), MostPixels))+1)
		if x0 >= x1 {
			continue
		}
		row := y * r.img.Rect.Dx()
		for x := x0; x < x1; x++ {
			px := float64(x) + 0.5
			t := (px-a.x)*ux + (py-a.y)*uy
			cover := 1.0
			d := 0.0
			switch {
			case t < 0:
				if cutA {
					cover = math.Max(0, 0.5+t)
					d = math.Abs((py-a.y)*ux - (px-a.x)*uy)
				} else {
					d = math.Hypot(px-a.x, py-a.y)
				}
			case t > length:
				if cutB {
					cover = math.Max(0, 0.5+length-t)
					d = math.Abs((py-a.y)*ux - (px-a.x)*uy)
				} else {
					d = math.Hypot(px-b.x, py-b.y)
				}
			default:
				d = math.Abs((py-a.y)*ux - (px-a.x)*uy)
				if cutA {
					cover = math.Min(cover, 0.5+t)
				}
				if cutB {
					cover = math.Min(cover, 0.5+length-t)
				}
			}
			// Covered from d − half to d + half; a pixel reaches half a pixel to either side.
			cover *= math.Max(0, math.Min(d+0.5, half)-math.Max(d-0.5, -half))
			if v := uint8(math.Round(255 * math.Min(1, cover))); v > r.mask[row+x] {
				r.mask[row+x] = v
			}
		}
		r.dirty = r.dirty.Union(image.Rect(x0, y, x1, y+1))
	}
}

// blend puts the marked stroke on the picture and clears the mask.
func (r *raster) blend(c color.NRGBA, opacity float64) {
	w := r.img.Rect.Dx()
	share := int(math.Round(opacity * 256))
	for y := r.dirty.Min.Y; y < r.dirty.Max.Y; y++ {
		for x := r.dirty.Min.X; x < r.dirty.Max.X; x++ {
			m := r.mask[y*w+x]
			if m == 0 {
				continue
			}
			r.mask[y*w+x] = 0
			a := int(m) * share // of 255 · 256
			i := 4 * (y*w + x)
			for k, v := range [3]uint8{c.R, c.G, c.B} {
				r.img.Pix[i+k] = uint8((int(r.img.Pix[i+k])*(255*256-a) + int(v)*a + 255*128) / (255 * 256))
			}
		}
	}
}

// dashed cuts a line into dashes.
func dashed(points []point, pattern []float64, scale float64) [][]point {
	total := 0.0
	for _, d := range pattern {
		total += d
	}
	if !(total*scale > 0.5) {
		return [][]point{points}
	}
	if len(pattern)%2 == 1 {
		pattern = append(append([]float64(nil), pattern...), pattern...)
	}
	var out [][]point
	k, left := 0, pattern[0]*scale
	var current []point
	if len(points) > 0 {
		current = []point{points[0]}
	}
	for i := 0; i+1 < len(points); i++ {
		a, b := points[i], points[i+1]
		length := math.Hypot(b.x-a.x, b.y-a.y)
		if length > 4*farthest {
			continue
		}
		done := 0.0
		for length-done > left {
			done += left
			w := done / length
			q := point{a.x + w*(b.x-a.x), a.y + w*(b.y-a.y)}
			if k%2 == 0 {
				out = append(out, append(current, q))
			}
			k = (k + 1) % len(pattern)
			left, current = pattern[k]*scale, []point{q}
			if left <= 0 {
				left = 1e-6
			}
		}
		left -= length - done
		if k%2 == 0 {
			current = append(current, b)
		}
	}
	if k%2 == 0 && len(current) > 1 {
		out = append(out, current)
	}
	return out
}

// finish encodes the picture with its resolution (PNG specification, chunk pHYs), so that
// a word processor sets it in its size.
func (r *raster) finish() ([]byte, error) {
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, r.img); err != nil {
		return nil, err
	}
	const head = 8 + 25 // signature and IHDR
	per := uint32(math.Round(r.dpi / 0.0254))
	chunk := []byte("pHYs")
	chunk = binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(chunk, per), per)
	chunk = append(chunk, 1) // metre
	out := append(make([]byte, 0, b.Len()+21), b.Bytes()[:head]...)
	out = binary.BigEndian.AppendUint32(out, uint32(len(chunk)-4))
	out = append(out, chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	return append(out, b.Bytes()[head:]...), nil
}
