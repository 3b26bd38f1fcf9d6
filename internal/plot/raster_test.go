package plot

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"strings"
	"testing"
)

// Every rule of the style sheet is one the raster understands: else the two pictures of a
// figure would differ.
func TestRasterKnowsTheStyle(t *testing.T) {
	known := map[string]bool{"fill": true, "stroke": true, "stroke-width": true, "stroke-dasharray": true, "stroke-linecap": true, "stroke-linejoin": true,
		"opacity": true, "font": true, "font-size": true, "font-weight": true, "font-variant-numeric": true, "paint-order": true, "display": true, "width": true, "height": true}
	s := parseStyle(Style)
	if len(s.rules) < 40 || len(s.root) < 8 {
		t.Fatalf("%d rules, %d properties", len(s.rules), len(s.root))
	}
	for name, v := range s.root {
		if c, err := parseColour(v); err != nil || c.A == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, r := range s.rules {
		for _, e := range r.entries {
			if !known[e[0]] && !strings.HasPrefix(e[0], "--") {
				t.Errorf("property %s is not known", e[0])
			}
			if e[0] == "fill" || e[0] == "stroke" {
				if v := resolve(e[1], map[string]string{"--c": "#000000", "--paper": "#000000", "--ink": "#000000", "--grey": "#000000", "--line": "#000000", "--t": "#000000", "--td": "#000000", "--ha": "#000000"}); v != "none" {
					if _, err := parseColour(v); err != nil {
						t.Errorf("%s: %v", e[1], err)
					}
				}
			}
		}
	}
	// Temperature vermilion, dew point blue (Okabe and Ito), as a browser cascades them.
	chart := node{"svg", []string{"chart"}}
	if l := s.of([]node{chart, {"g", []string{"curve", "t", "strong"}}, {"path", []string{"line"}}}); l.stroke != (color.NRGBA{0xD5, 0x5E, 0, 255}) || l.width != 1.8 || l.fill.A != 0 || !l.round {
		t.Errorf("temperature: %+v", l)
	}
	if l := s.of([]node{chart, {"text", []string{"tick", "halo"}}}); l.fill != (color.NRGBA{0x62, 0x62, 0x5d, 255}) || l.stroke != (color.NRGBA{0xfb, 0xfb, 0xf9, 255}) || l.width != 3 || l.size != 12 {
		t.Errorf("number: %+v", l)
	}
	if l := s.of([]node{chart, {"path", []string{"moist"}}}); len(l.dashes) != 2 || l.opacity != 0.55 {
		t.Errorf("pseudo-adiabat: %+v", l)
	}
}

func decoded(t *testing.T, c *Canvas) (image.Image, []byte) {
	t.Helper()
	b, err := c.Finish()
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return img, b
}

// ink is how much of a pixel is not paper, 0 to 1, by its green, for strokes of ink.
func ink(img image.Image, x, y int) float64 {
	_, g, _, _ := img.At(x, y).RGBA()
	return (0xfb - float64(g>>8)) / (0xfb - 0x1d)
}

// A line's ink is its width times its length, at any angle, to a twentieth: distance stands
// for the exact area of a pixel covered.
func TestStrokeCoversItsWidth(t *testing.T) {
	for _, angle := range []float64{0, 17, 45, 90, 133} {
		c, err := NewPNG(200, 200, 200, 25.4)
		if err != nil {
			t.Fatal(err)
		}
		sin, cos := math.Sincos(angle * math.Pi / 180)
		c.Line("mark", 100.25-40*cos, 100.4-40*sin, 100.25+40*cos, 100.4+40*sin) // 1.6 wide, ends cut
		img, _ := decoded(t, c)
		sum := 0.0
		for y := range 200 {
			for x := range 200 {
				sum += ink(img, x, y)
			}
		}
		if want := 1.6 * 80; math.Abs(sum-want) > 0.05*want {
			t.Errorf("%g°: %.1f pixels of ink, want %.1f", angle, sum, want)
		}
	}
	// A path that turns back over itself is no darker.
	c, _ := NewPNG(100, 100, 100, 25.4)
	c.Polyline("mark", []float64{20, 80, 20, 80}, []float64{50, 50, 50, 50})
	img, _ := decoded(t, c)
	if a, b := ink(img, 50, 49), ink(img, 50, 50); math.Abs(a-0.8) > 0.02 || math.Abs(b-0.8) > 0.02 {
		t.Errorf("%.2f and %.2f of two rows, want 0.8", a, b)
	}
}

// The figure says how large it is (PNG specification, third edition, 11.3.4.3, pHYs), and
// both formats hold the same picture at any size.
func TestPictureSizes(t *testing.T) {
	d := &Thermodynamic{Pressure: []float64{1000, 700, 500, 300, 150}, Temperature: []float64{300, 280, 263, 235, 205}, DewPoint: []float64{295, 270, 240, 220, 190},
		Winds: []Wind{{850, 10, 5}, {500, 30, -4}}, Marks: []Mark{{600, "0 °C"}}, Parcels: []Path{{[]float64{1000, 500}, []float64{300, 265}}}}
	h := &Hodograph{U: []float64{0, 5, math.NaN(), 20}, V: []float64{1, -5, 3, 4}, Height: []float64{0.1, 1, 2, 3}, Marks: []float64{1, 3}, Strong: 12}
	for _, dpi := range []float64{72, 150, 300} {
		c, err := NewPNG(640, 640, 85, dpi)
		if err != nil {
			t.Fatal(err)
		}
		c.DrawThermodynamic(Frame{40, 24, 540, 576}, d)
		c.DrawHodograph(Frame{60, 40, 120, 120}, h)
		c.Hatch(Frame{300, 300, 60, 40}, "")
		c.Text("head", Left, 40, 18, "−12.5 °C, m s⁻¹, κ, unknown \u25b3")
		img, b := decoded(t, c)
		if want := int(math.Round(85 / 25.4 * dpi)); img.Bounds().Dx() != want || img.Bounds().Dy() != want {
			t.Errorf("%g dpi: %v, want %d pixels", dpi, img.Bounds(), want)
		}
		at := bytes.Index(b, []byte("pHYs"))
		if at < 0 || binary.BigEndian.Uint32(b[at+4:]) != uint32(math.Round(dpi/0.0254)) || b[at+12] != 1 {
			t.Errorf("%g dpi: resolution is not in the file", dpi)
		}
		colours := map[color.Color]int{}
		for y := range img.Bounds().Dy() {
			for x := range img.Bounds().Dx() {
				colours[img.At(x, y)]++
			}
		}
		for _, want := range []color.RGBA{{0xD5, 0x5E, 0, 255}, {0, 0x72, 0xB2, 255}, {0xAA, 0x44, 0x99, 255}} {
			if colours[want] == 0 && dpi > 100 {
				t.Errorf("%g dpi: no pixel of %v", dpi, want)
			}
		}
	}
	s := NewSVG(640, 640, 85, "a & b")
	s.DrawThermodynamic(Frame{40, 24, 540, 576}, d)
	s.DrawHodograph(Frame{60, 40, 120, 120}, h)
	text, err := s.Finish()
	if err != nil || !bytes.Contains(text, []byte(`width="85mm" height="85mm"`)) || !bytes.Contains(text, []byte("xmlns=")) {
		t.Errorf("%.200s", text)
	}
	decoder := xml.NewDecoder(bytes.NewReader(text))
	for {
		if _, err := decoder.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, x := range [][2]float64{{0, 300}, {170, 0}, {-1, 300}, {math.NaN(), 300}, {1e6, 300}, {1, 72}} {
		if _, err := NewPNG(640, 640, x[0], x[1]); err == nil {
			t.Errorf("%g mm at %g dpi: no error", x[0], x[1])
		}
	}
}

// The letters that figures need are in the font; an unknown one is a question mark.
func TestLetters(t *testing.T) {
	for _, c := range "°−±–·²⁻¹ θκ0123456789" {
		if c == ' ' {
			continue
		}
		pieces, width := outline(regular(), string(c), 20)
		unknown, _ := outline(regular(), "?", 20)
		if len(pieces) == 0 || !(width > 1) || len(pieces) == len(unknown) && pieces[0].points[0] == unknown[0].points[0] {
			t.Errorf("%c is not in the font", c)
		}
	}
	a, w1 := outline(regular(), "1", 20)
	_, w7 := outline(regular(), "7", 20)
	if w1 != w7 || len(a) == 0 {
		t.Errorf("figures are %g and %g wide: numbers would not stand under each other", w1, w7)
	}
}

// Odd numbers draw nothing and end.
func TestRasterOdd(t *testing.T) {
	c, err := NewPNG(100, 100, 100, 25.4)
	if err != nil {
		t.Fatal(err)
	}
	inf, nan := math.Inf(1), math.NaN()
	c.Polyline("line dash", []float64{nan, -1e9, 1e9, inf, 5}, []float64{1, -1e9, 1e9, 3, 5})
	c.Circle("ring", 50, 50, 1e6)
	c.Circle("ring", nan, 50, 4)
	c.Text("halo", Middle, nan, inf, "x")
	c.Rect("frame", Frame{-1e9, -1e9, 2e9, 2e9}, "")
	c.Open("ink", &Frame{200, 200, 10, 10})
	c.Line("line", 0, 0, 100, 100)
	c.Close()
	decoded(t, c)
}

func BenchmarkPNG(b *testing.B) {
	for b.Loop() {
		c, err := NewPNG(640, 640, 170, 300)
		if err != nil {
			b.Fatal(err)
		}
		c.DrawThermodynamic(Frame{40, 24, 540, 576}, &Thermodynamic{Pressure: []float64{1000, 150}, Temperature: []float64{300, 205}})
		if _, err := c.Finish(); err != nil {
			b.Fatal(err)
		}
	}
}
