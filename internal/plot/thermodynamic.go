package plot

import (
	"math"
	"strconv"
	"sync"

	"leadline/internal/humidity"
	"leadline/internal/parcel"
)

// saturation is the formula of the diagram's lines: simple, and the usual one for
// adiabats (Bolton 1980, equation 10).
var saturation = sync.OnceValue(func() *parcel.Saturation { return parcel.SaturationBy(humidity.Bolton) })

// Thermodynamic is a profile to be drawn on a skewed diagram: temperature against the
// logarithm of pressure, isotherms leaning to the right. Columns have one length.
type Thermodynamic struct {
	Pressure    []float64 // hPa
	Temperature []float64 // K
	DewPoint    []float64 // K; nil where there is none
	StateT      []State
	StateTd     []State
	Winds       []Wind
	Marks       []Mark // levels named at the right edge
	Parcels     []Path // lifted parcels, drawn dashed
	South       bool   // barbs of the southern hemisphere
}

// Path is a line of temperatures in K at pressures in hPa.
type Path struct{ Pressure, Temperature []float64 }

// Wind is the wind at a pressure, u and v in m/s towards east and north.
type Wind struct{ Pressure, U, V float64 }

// Mark names a pressure.
type Mark struct {
	Pressure float64
	Text     string
}

// The diagram's limits in hPa, and by how many K an isotherm leans to the right per unit
// of ln p: 45° in the usual shape of the diagram.
const (
	bottomHPa = 1050
	topHPa    = 100
	lean      = 36
	wide      = 84 // K from left to right at the bottom
	zeroC     = 273.15
)

// skew holds the two axes of a diagram.
type skew struct {
	f    Frame
	left float64 // °C at the bottom left
}

func (s *skew) at(t, p float64) (x, y float64) {
	up := math.Log(bottomHPa / p)
	y = s.f.Y + s.f.H*(1-up/math.Log(bottomHPa/float64(topHPa)))
	x = s.f.X + s.f.W*((t-zeroC)-s.left+lean*up-lean*math.Log(bottomHPa/1000.0))/wide
	return x, y
}

// leftEdge picks the temperature at the bottom left so that the profile is inside, in
// steps of 10 °C, −40 °C where that does.
func (d *Thermodynamic) leftEdge() float64 {
	left := -40.0
	var r Range
	for i, t := range d.Temperature {
		if p := d.Pressure[i]; p >= topHPa && p <= bottomHPa && (d.StateT == nil || d.StateT[i] == Plain) {
			r.Add(t - zeroC + lean*math.Log(1000/p))
		}
	}
	for r.Seen && r.Min < left+4 && r.Max < left+wide-14 {
		left -= 10
	}
	for r.Seen && r.Max > left+wide-4 && r.Min > left+14 {
		left += 10
	}
	return left
}

// pressures returns 41 pressures from one to another, even in ln p.
func pressures(from, to float64) []float64 {
	out := make([]float64, 41)
	for i := range out {
		out[i] = from * math.Pow(to/from, float64(i)/float64(len(out)-1))
	}
	return out
}

var isobars = []float64{1000, 925, 850, 700, 600, 500, 400, 300, 250, 200, 150, 100}

// DrawThermodynamic draws the diagram with its lines and the profile into a frame. Wind
// barbs stand in a column right of it, 56 units wide.
func (c *Canvas) DrawThermodynamic(f Frame, d *Thermodynamic) {
	s := &skew{f, d.leftEdge()}
	line := func(class string, pressures []float64, fill func(t, p []float64)) {
		t := make([]float64, len(pressures))
		fill(t, pressures)
		p := c.path(class)
		for i, hpa := range pressures {
			p.to(s.at(t[i], hpa))
		}
		p.end()
	}
	c.Open("lines", &f)
	for k := -150.0; k <= 60; k += 10 {
		t := k + zeroC
		x1, y1 := s.at(t, bottomHPa)
		x2, y2 := s.at(t, topHPa)
		class := "isotherm"
		if k == 0 {
			class = "isotherm zero"
		}
		c.Line(class, x1, y1, x2, y2)
	}
	whole, lower := pressures(bottomHPa, topHPa), pressures(bottomHPa, 500)
	for theta := 220.0; theta <= 460; theta += 20 {
		line("dry", whole, func(t, p []float64) { parcel.DryAdiabat(t, p, theta) })
	}
	for t := -20.0; t <= 36; t += 8 {
		line("moist", pressures(bottomHPa, 200), func(dst, p []float64) { saturation().PseudoAdiabat(dst, p, 1000, t+zeroC) })
	}
	ratios := []float64{0.2, 0.5, 1, 2, 4, 8, 16, 30}
	for _, r := range ratios {
		line("ratio", lower, func(t, p []float64) { saturation().MixingRatioLine(t, p, r/1000) })
	}
	c.Close()
	for _, p := range isobars {
		_, y := s.at(zeroC, p)
		c.Line("isobar", f.X, y, f.X+f.W, y)
		if p != 925 {
			c.Text("tick", Right, f.X-6, y+4, strconv.Itoa(int(p)))
		}
	}
	for _, r := range ratios {
		t := []float64{0}
		saturation().MixingRatioLine(t, []float64{500}, r/1000)
		if x, y := s.at(t[0], 500); x > f.X+6 && x < f.X+f.W-12 {
			c.Text("ratio-name", Middle, x, y-4, strconv.FormatFloat(r, 'f', -1, 64))
		}
	}
	for k := -150.0; k <= 60; k += 10 {
		if x, _ := s.at(k+zeroC, bottomHPa); x > f.X+4 && x < f.X+f.W-4 {
			c.Text("tick", Middle, x, f.Y+f.H+15, Number(k, 10))
		}
		if x, _ := s.at(k+zeroC, topHPa); x > f.X+8 && x < f.X+f.W-8 {
			c.Text("tick", Middle, x, f.Y-5, Number(k, 10))
		}
	}
	c.Rect("frame", f, "")
	for _, m := range d.Marks {
		if m.Pressure >= topHPa && m.Pressure <= bottomHPa {
			_, y := s.at(zeroC, m.Pressure)
			c.Line("mark", f.X+f.W-14, y, f.X+f.W, y)
			c.Text("mark-name", Right, f.X+f.W-17, y+4, m.Text)
		}
	}
	c.Open("ink", &f)
	for _, q := range d.Parcels {
		p := c.path("line dash")
		for i, hpa := range q.Pressure {
			if hpa >= topHPa*0.98 && hpa <= bottomHPa*1.02 {
				p.to(s.at(q.Temperature[i], hpa))
			}
		}
		p.end()
	}
	c.Close()
	if d.DewPoint != nil {
		c.skewed(s, d.Pressure, d.DewPoint, d.StateTd, "td")
	}
	c.skewed(s, d.Pressure, d.Temperature, d.StateT, "t")
	c.Open("wd", nil)
	x := f.X + f.W + 30
	c.Line("barb-staff", x, f.Y, x, f.Y+f.H)
	for _, w := range d.Winds {
		if w.Pressure >= topHPa && w.Pressure <= bottomHPa {
			_, y := s.at(zeroC, w.Pressure)
			c.Barb(x, y, w.U, w.V, d.South)
		}
	}
	c.Close()
}

// skewed draws one temperature by the rules of curves, its x moved by the skew.
func (c *Canvas) skewed(s *skew, pressure, t []float64, state []State, class string) {
	n := len(t)
	x, y := make([]float64, n), make([]float64, n)
	for i := range t {
		x[i], y[i] = math.NaN(), math.NaN()
		if p := pressure[i]; p >= topHPa*0.98 && p <= bottomHPa*1.02 {
			x[i], y[i] = s.at(t[i], p)
		}
	}
	same := Scale{Min: s.f.X, Max: s.f.X + s.f.W, From: s.f.X, To: s.f.X + s.f.W}
	down := Scale{Min: s.f.Y, Max: s.f.Y + s.f.H, From: s.f.Y, To: s.f.Y + s.f.H}
	c.Draw(s.f, same, down, y, &Curve{Class: class + " strong", X: x, State: state})
}
