package plot

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The lines stand where they are said to: dry adiabats by Poisson's equation, mixing
// ratios by Bolton 1980, equation 10, pseudo-adiabats through their temperature at 1000
// hPa (their course is tested in package parcel).
func TestDiagramLines(t *testing.T) {
	c := New("d", 700, 700, "x")
	f := Frame{0, 0, 600, 600}
	c.DrawThermodynamic(f, &Thermodynamic{})
	svg := c.Bytes()
	s := &skew{f, -40}
	near := func(class string, kelvin, hpa float64) float64 {
		x, y := s.at(kelvin, hpa)
		best := math.Inf(1)
		for _, l := range pathsOf(t, svg, class) {
			for k := 1; k < len(l); k++ {
				best = math.Min(best, distance(x, y, l[k-1], l[k]))
			}
		}
		return best
	}
	for _, p := range []float64{1000, 700, 300, 150} {
		if d := near("dry", 300*math.Pow(p/1000, 2.0/7), p); d > 0.5 {
			t.Errorf("no dry adiabat of 300 K within %.2f units at %g hPa", d, p)
		}
		if d := near("isotherm", zeroC-40, p); d > 0.2 {
			t.Errorf("no isotherm of −40 °C within %.2f units at %g hPa", d, p)
		}
	}
	for _, celsius := range []float64{-20, 12, 28} {
		if d := near("moist", celsius+zeroC, 1000); d > 0.5 {
			t.Errorf("no pseudo-adiabat through %g °C at 1000 hPa within %.2f units", celsius, d)
		}
	}
	for _, r := range []float64{1, 8} {
		// Bolton 1980, equation 10, solved for the temperature.
		e := r / 1000 * 700 / (0.62198 + r/1000)
		l := math.Log(e / 6.112)
		if d := near("ratio", 243.5*l/(17.67-l)+zeroC, 700); d > 0.5 {
			t.Errorf("no line of %g g/kg at 700 hPa within %.2f units", r, d)
		}
	}
}

func parse(t *testing.T, svg []byte) []xml.StartElement {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(string(svg)))
	var out []xml.StartElement
	for {
		token, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatalf("%v in %s", err, svg)
		}
		if e, is := token.(xml.StartElement); is {
			out = append(out, e.Copy())
		}
	}
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// points returns the absolute points of a path of M, l, h, v.
func points(t *testing.T, d string) [][2]float64 {
	t.Helper()
	var out [][2]float64
	x, y := 0.0, 0.0
	for _, part := range regexp.MustCompile(`[MLlhvmz][^MLlhvmz]*`).FindAllString(d, -1) {
		var n []float64
		for _, s := range regexp.MustCompile(`-?(\d+\.?\d*|\.\d+)`).FindAllString(part[1:], -1) {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatalf("%q in %q", s, d)
			}
			n = append(n, v)
		}
		switch {
		case part[0] == 'z' && len(n) == 0:
			continue
		case (part[0] == 'M' || part[0] == 'L') && len(n) == 2:
			x, y = n[0], n[1]
		case (part[0] == 'l' || part[0] == 'm') && len(n) == 2:
			x, y = x+n[0], y+n[1]
		case part[0] == 'h' && len(n) == 1:
			x += n[0]
		case part[0] == 'v' && len(n) == 1:
			y += n[0]
		default:
			t.Fatalf("path part %q", part)
		}
		out = append(out, [2]float64{x, y})
	}
	return out
}

func pathsOf(t *testing.T, svg []byte, class string) [][][2]float64 {
	t.Helper()
	var out [][][2]float64
	for _, e := range parse(t, svg) {
		if e.Name.Local == "path" && attribute(e, "class") == class {
			out = append(out, points(t, attribute(e, "d")))
		}
	}
	return out
}

func draw(x []float64, state []State) []byte {
	c := New("t", 200, 400, "test")
	y := make([]float64, len(x))
	for i := range y {
		y[i] = float64(i)
	}
	f := Frame{0, 0, 200, 400}
	c.Draw(f, Scale{0, 100, 0, 200}, Scale{0, float64(max(1, len(x)-1)), 400, 0}, y, &Curve{Class: "t", X: x, State: state})
	return c.Bytes()
}

// One wild sample among 7,200 is drawn to where it is, up and down; the picture stays small.
func TestSpikesSurvive(t *testing.T) {
	x := make([]float64, 7200)
	for i := range x {
		x[i] = 50 + math.Sin(float64(i)/900)
	}
	x[1234], x[5678] = 90, 12.5
	svg := draw(x, nil)
	lines := pathsOf(t, svg, "line")
	if len(lines) != 1 {
		t.Fatalf("%d lines", len(lines))
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range lines[0] {
		lo, hi = math.Min(lo, p[0]), math.Max(hi, p[0])
	}
	if math.Abs(hi-180) > 0.11 || math.Abs(lo-25) > 0.11 {
		t.Errorf("the line reaches from %g to %g, want 25 to 180", lo, hi)
	}
	if len(svg) > 8000 {
		t.Errorf("%d bytes for a smooth curve", len(svg))
	}
	for i := range x {
		x[i] = 50 + 10*math.Sin(float64(i)*1e4) // noise
	}
	if n := len(draw(x, nil)); n > 24000 {
		t.Errorf("%d bytes for a noisy curve", n)
	}
}

// The thinned line is nowhere farther than a pixel from the whole one.
func TestThinningKeepsTheLine(t *testing.T) {
	x := make([]float64, 3000)
	for i := range x {
		x[i] = 50 + 30*math.Sin(float64(i)/200) + 3*math.Sin(float64(i)/3)
	}
	line := pathsOf(t, draw(x, nil), "line")[0]
	for i := range x {
		px, py := 2*x[i], 400-float64(i)/2999*400
		near := math.Inf(1)
		for k := 1; k < len(line); k++ {
			near = math.Min(near, distance(px, py, line[k-1], line[k]))
		}
		if near > 1 {
			t.Fatalf("sample %d lies %.2f pixels from the line", i, near)
		}
	}
}

func distance(x, y float64, a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	w := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		w = math.Max(0, math.Min(1, ((x-a[0])*dx+(y-a[1])*dy)/l))
	}
	return math.Hypot(x-a[0]-w*dx, y-a[1]-w*dy)
}

// Flags are told by shape: dotted line and open dots, crosses and a gap, a gap with ticks.
func TestFlagsHaveShapes(t *testing.T) {
	n := 400
	x, state := make([]float64, n), make([]State, n)
	for i := range x {
		x[i] = 50
		switch {
		case i >= 100 && i < 150:
			state[i] = Doubtful
		case i >= 200 && i < 250:
			state[i] = Bad
		case i >= 300 && i < 350:
			x[i], state[i] = math.NaN(), Absent
		}
	}
	svg := draw(x, state)
	row := func(i int) float64 { return 400 - float64(i)/float64(n-1)*400 }
	covered := func(lines [][][2]float64, y float64) bool {
		// Stretches begin with M; points of one path are joined here by nearness, which is
		// enough since every row of pixels has a point.
		for _, l := range lines {
			for _, p := range l {
				if math.Abs(p[1]-y) < 1.5 {
					return true
				}
			}
		}
		return false
	}
	plain, dotted := pathsOf(t, svg, "line"), pathsOf(t, svg, "line dotted")
	for _, c := range []struct {
		row           int
		plain, dotted bool
	}{{50, true, false}, {125, false, true}, {225, false, false}, {325, false, false}, {380, true, false}} {
		if got := covered(plain, row(c.row)); got != c.plain {
			t.Errorf("row %d: line %v, want %v", c.row, got, c.plain)
		}
		if got := covered(dotted, row(c.row)); got != c.dotted {
			t.Errorf("row %d: dotted line %v, want %v", c.row, got, c.dotted)
		}
	}
	if !covered(pathsOf(t, svg, "cross"), row(225)) {
		t.Error("bad samples have no cross")
	}
	gaps := pathsOf(t, svg, "gap")
	if len(gaps) != 1 || len(gaps[0]) != 4 || math.Abs(gaps[0][0][1]-row(299)) > 0.2 || math.Abs(gaps[0][2][1]-row(350)) > 0.2 {
		t.Errorf("ticks at the ends of the gap are %v", gaps)
	}
	if !strings.Contains(string(svg), `class="dot"`) {
		t.Error("questionable samples have no open dots")
	}
}

// What cannot be drawn does not break the picture.
func TestOddCurves(t *testing.T) {
	nan := math.NaN()
	for name, x := range map[string][]float64{"none": {}, "one": {50}, "all missing": {nan, nan, nan}, "alone": {nan, 50, nan}, "infinite": {50, math.Inf(1), math.Inf(-1), 50}, "huge": {1e300, -1e300, 50}} {
		svg := string(draw(x, make([]State, len(x))))
		parse(t, []byte(svg))
		for _, bad := range []string{"NaN", "Inf", "e+"} {
			if strings.Contains(svg, bad) {
				t.Errorf("%s: %s in %s", name, bad, svg)
			}
		}
		if name == "one" && !strings.Contains(svg, "M100 ") {
			t.Errorf("a single sample is not drawn: %s", svg)
		}
	}
	c := New("a", 100, 100, "x")
	c.DrawHodograph(Frame{0, 0, 100, 100}, &Hodograph{})
	c.DrawTrack(Frame{0, 0, 100, 100}, &Track{Top: -1})
	c.DrawThermodynamic(Frame{0, 0, 100, 100}, &Thermodynamic{})
	if svg := string(c.Bytes()); strings.Contains(svg, "NaN") {
		t.Error("empty charts hold NaN")
	} else {
		parse(t, []byte(svg))
	}
}

func TestTextsAreEscaped(t *testing.T) {
	c := New("e", 10, 10, `a"<b>&'`)
	c.Text("", Left, 1, 1, "</text><script>alert(1)</script>\x00\x1b")
	c.Rect("r", Frame{0, 0, 1, 1}, `"><svg onload="x">`)
	svg := c.Bytes()
	if strings.Contains(string(svg), "<script") || strings.Contains(string(svg), "<svg onload") {
		t.Errorf("markup got through: %s", svg)
	}
	parse(t, svg)
}

// Barbs by the convention: count of half barbs, full ones and pennants; the tail towards
// where the wind comes from; the feathers towards low pressure.
func TestBarb(t *testing.T) {
	for _, x := range []struct {
		speed          float64
		half, full     int
		pennants, calm int
	}{{0.4, 0, 0, 0, 1}, {1.2, 0, 0, 0, 1}, {2.5, 1, 0, 0, 0}, {5, 0, 1, 0, 0}, {7.4, 1, 1, 0, 0}, {20, 0, 4, 0, 0}, {25, 0, 0, 1, 0}, {32.5, 1, 1, 1, 0}, {77.5, 1, 0, 3, 0}} {
		c := New("b", 100, 100, "x")
		c.Barb(50, 50, x.speed, 0, false)
		svg := c.Bytes()
		half, full, pennants := 0, 0, 0
		for _, p := range pathsOf(t, svg, "barb") {
			for k := 2; k+1 < len(p); k += 2 {
				if l := math.Hypot(p[k+1][0]-p[k][0], p[k+1][1]-p[k][1]); l < 7 {
					half++
				} else {
					full++
				}
			}
		}
		for _, p := range pathsOf(t, svg, "pennant") {
			pennants += len(p) / 3
		}
		if calm := strings.Count(string(svg), "<circle"); half != x.half || full != x.full || pennants != x.pennants || calm != x.calm {
			t.Errorf("%g m/s: %d half, %d full, %d pennants, %d calm; want %d, %d, %d, %d", x.speed, half, full, pennants, calm, x.half, x.full, x.pennants, x.calm)
		}
	}
	for _, x := range []struct {
		u, v         float64
		south        bool
		tail, aside  [2]float64 // directions on the screen, y downwards
		descriptions string
	}{
		{10, 0, false, [2]float64{-1, 0}, [2]float64{0, -1}, "from the west, low pressure in the north"},
		{0, 10, false, [2]float64{0, 1}, [2]float64{-1, 0}, "from the south, low pressure in the west"},
		{10, 0, true, [2]float64{-1, 0}, [2]float64{0, 1}, "from the west in the southern hemisphere, low pressure in the south"},
		{0, -10, true, [2]float64{0, -1}, [2]float64{-1, 0}, "from the north in the southern hemisphere, low pressure in the west"},
	} {
		c := New("b", 100, 100, "x")
		c.Barb(50, 50, x.u, x.v, x.south)
		p := pathsOf(t, c.Bytes(), "barb")[0]
		tail := [2]float64{p[1][0] - p[0][0], p[1][1] - p[0][1]}
		feather := [2]float64{p[3][0] - p[2][0], p[3][1] - p[2][1]}
		if dot := tail[0]*x.tail[0] + tail[1]*x.tail[1]; dot < 25 {
			t.Errorf("%s: the tail lies towards %v", x.descriptions, tail)
		}
		if dot := feather[0]*x.aside[0] + feather[1]*x.aside[1]; dot < 8 {
			t.Errorf("%s: the feathers lie towards %v", x.descriptions, feather)
		}
	}
}

func TestNice(t *testing.T) {
	for _, x := range []struct {
		min, max   float64
		parts      int
		lo, hi, st float64
	}{{0.3, 28.7, 16, 0, 30, 2}, {-73, 22, 6, -80, 40, 20}, {0, 0, 4, 0, 0, 0}, {math.NaN(), 3, 4, 0, 1, 0.25}, {5, 5, 4, 4.6, 5.4, 0.2}} {
		s, step := Nice(x.min, x.max, x.parts, 0, 100)
		if !(s.Max > s.Min) || !(step > 0) {
			t.Errorf("%g to %g: scale %v step %g", x.min, x.max, s, step)
		}
		if x.st > 0 && (math.Abs(s.Min-x.lo) > 1e-9 || math.Abs(s.Max-x.hi) > 1e-9 || math.Abs(step-x.st) > 1e-9) {
			t.Errorf("%g to %g: %g to %g by %g, want %g to %g by %g", x.min, x.max, s.Min, s.Max, step, x.lo, x.hi, x.st)
		}
		if n := len(s.Ticks(step)); n < 2 || n > 3*x.parts+3 {
			t.Errorf("%g to %g: %d ticks", x.min, x.max, n)
		}
	}
	for _, x := range []struct {
		v, step float64
		want    string
	}{{-5, 5, "−5"}, {0, 0.25, "0.00"}, {2.5, 2.5, "2.5"}, {-0.0000001, 1, "0"}, {1000, 100, "1000"}} {
		if got := Number(x.v, x.step); got != x.want {
			t.Errorf("Number(%g, %g) = %q, want %q", x.v, x.step, got, x.want)
		}
	}
}

func TestTenths(t *testing.T) {
	for x, want := range map[float64]string{0: "0", 0.04: "0", 0.1: ".1", -0.1: "-.1", 1: "1", -12.34: "-12.3", 1e300: "100000", -1e300: "-100000", math.NaN(): "0", 9.96: "10"} {
		if got := string(appendTenths(nil, tenths(x))); got != want {
			t.Errorf("%g is %q, want %q", x, got, want)
		}
	}
}

// The skewed diagram: isobars are level, pressure falls upwards by its logarithm, an
// isotherm leans right, and temperature grows to the right.
func TestSkew(t *testing.T) {
	s := &skew{Frame{0, 0, 600, 600}, -40}
	x1, y1 := s.at(zeroC, 1000)
	x2, y2 := s.at(zeroC-30, 1000)
	if y1 != y2 || math.Abs((x1-x2)-30.0/wide*600) > 1e-9 {
		t.Errorf("30 K at 1000 hPa are %g wide", x1-x2)
	}
	_, yb := s.at(zeroC, bottomHPa)
	_, yt := s.at(zeroC, topHPa)
	if math.Abs(yb-600) > 1e-9 || math.Abs(yt) > 1e-9 {
		t.Errorf("bottom %g and top %g, want 600 and 0", yb, yt)
	}
	_, ym := s.at(zeroC, math.Sqrt(bottomHPa*topHPa))
	if math.Abs(ym-300) > 1e-9 {
		t.Errorf("the geometric mean of the ends lies at %g, want 300", ym)
	}
	if x3, _ := s.at(zeroC, 500); !(x3 > x1) {
		t.Error("isotherms do not lean right")
	}
	for _, d := range []*Thermodynamic{{Pressure: []float64{1000, 200}, Temperature: []float64{300, 195}}, {Pressure: []float64{1010, 850, 300}, Temperature: []float64{228, 240, 215}}} {
		left := d.leftEdge()
		s := &skew{Frame{0, 0, 600, 600}, left}
		for i := range d.Pressure {
			if x, _ := s.at(d.Temperature[i], d.Pressure[i]); x < 0 || x > 600 {
				t.Errorf("%g K at %g hPa lies outside: left edge %g", d.Temperature[i], d.Pressure[i], left)
			}
		}
	}
}

func BenchmarkDraw(b *testing.B) {
	x := make([]float64, 7200)
	for i := range x {
		x[i] = 50 + 10*math.Sin(float64(i)*1e4)
	}
	b.ReportAllocs()
	for b.Loop() {
		draw(x, nil)
	}
}

func ExampleNumber() {
	fmt.Println(Number(-42.5, 0.5))
	// Output: −42.5
}
