package report

import (
	"html/template"
	"math"

	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/hydrostatic"
	"leadline/internal/levels"
	"leadline/internal/plot"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

const zeroC = 273.15

// Measures of the figure of profiles.
const (
	figureWidth  = 1140
	figureHeight = 640
	panelTop     = 44
	panelHeight  = 540
)

// panel is one column of the figure.
type panel struct {
	width  float64
	heads  []head
	unit   string
	scale  func(from, to float64) (plot.Scale, float64)
	curves []*plot.Curve
	empty  string
	zero   bool
	sides  []sounding.Variable // whose withheld stretches are hatched
}

// head is a word of a panel's title in the colour of its curve.
type head struct{ class, text string }

// profiles draws the figure of linked profiles.
func (p *profile) profiles(table *levels.Set) []byte {
	title := "Profiles of the flight against " + p.axis
	c := plot.New("profiles", figureWidth, figureHeight, title)
	if p.span.Len() == 0 || !some(p.y) {
		c.Text("", plot.Middle, figureWidth/2, figureHeight/2, "There is no row to draw.")
		return c.Bytes()
	}
	var r plot.Range
	for _, y := range p.y {
		r.Add(y)
	}
	if r.Max-r.Min < 0.1 {
		r.Min, r.Max = r.Min-0.5, r.Max+0.5
	}
	sy, stepY := plot.Nice(r.Min, r.Max, 16, panelTop+panelHeight, panelTop)
	sy.Min, sy.Max = r.Min-(r.Max-r.Min)*0.01, r.Max+(r.Max-r.Min)*0.01
	panels := p.panels()
	const gap, left = 21.0, 44.0
	x := left
	c.Text("unit", plot.Left, 4, 30, p.unit)
	for k := range panels {
		q := &panels[k]
		f := plot.Frame{X: x, Y: panelTop, W: q.width, H: panelHeight}
		sx, stepX := q.scale(f.X, f.X+f.W)
		c.Axes(f, sx, stepX, sy, stepY, k == 0)
		hx := f.X
		for _, h := range q.heads {
			c.Text(h.class+" head", plot.Left, hx, 30, h.text)
			hx += 7.4*float64(len([]rune(h.text))) + 10
		}
		c.Text("unit", plot.Right, f.X+f.W, panelTop+panelHeight+32, q.unit)
		if q.zero {
			c.Line("zero-line", sx.At(0), f.Y, sx.At(0), f.Y+f.H)
		}
		for _, v := range q.sides {
			p.withheld(c, f, sy, v)
		}
		shown := false
		for _, k := range q.curves {
			if k != nil {
				c.Draw(f, sx, sy, p.y, k)
				shown = true
			}
		}
		if !shown {
			c.Text("unit", plot.Middle, f.X+f.W/2, f.Y+f.H/2, q.empty)
		}
		x += q.width + gap
	}
	p.levelLines(c, sy, left, x-gap, table)
	p.lanes(c, x, sy)
	c.Text("unit", plot.Left, left, figureHeight-6, "vertical: "+p.axis+", "+p.unit)
	return c.Bytes()
}

func (p *profile) panels() []panel {
	nice := func(r plot.Range, parts int) func(float64, float64) (plot.Scale, float64) {
		return func(from, to float64) (plot.Scale, float64) { return plot.Nice(r.Min, r.Max, parts, from, to) }
	}
	fixed := func(lo, hi, step float64) func(float64, float64) (plot.Scale, float64) {
		return func(from, to float64) (plot.Scale, float64) {
			return plot.Scale{Min: lo, Max: hi, From: from, To: to}, step
		}
	}
	t, td := p.curve(sounding.Temperature, "t", zeroC, true), p.curve(sounding.DewPoint, "td", zeroC, true)
	rawT, rawTd := p.received(sounding.Temperature, zeroC), p.received(sounding.DewPoint, zeroC)

	rh := p.curve(sounding.Humidity, "td", 0, true)
	a, b := p.curve(sounding.HumidityA, "ha dash thin", 0, false), p.curve(sounding.HumidityB, "hb dashdot thin", 0, false)
	p.unheated(a, sounding.HumidityA)
	p.unheated(b, sounding.HumidityB)
	var ice *plot.Curve
	if x := p.iceSaturation(); x != nil {
		ice = &plot.Curve{Class: "ink thin dotted-ice", X: x}
	}
	rawRH := p.received(sounding.Humidity, 0)
	top := 100.0
	for _, k := range []*plot.Curve{rh, a, b} {
		if r := rangeOf([]*plot.Curve{k}); r.Seen && r.Max > top {
			top = math.Min(140, r.Max)
		}
	}
	if rh == nil && a == nil && b == nil && rawRH == nil {
		ice = nil
	}
	speed, rawSpeed := p.curve(sounding.WindSpeed, "wd", 0, true), p.received(sounding.WindSpeed, 0)
	rt := rangeOf([]*plot.Curve{t, td}, rawT, rawTd)
	if !rt.Seen {
		rt = plot.Range{Min: -60, Max: 20, Seen: true}
	}
	rs := rangeOf([]*plot.Curve{speed}, rawSpeed)
	if !rs.Seen {
		rs.Add(20)
	}
	rs.Add(0)
	rs.Min = 0
	direction := p.curve(sounding.WindDirection, "wd", 0, false)
	if direction != nil {
		direction.Dots = true
	}
	w := p.curve(sounding.AscentRate, "ink", 0, false)
	rw := rangeOf([]*plot.Curve{w})
	rw.Add(0)
	if !rw.Seen || rw.Max-rw.Min < 1 {
		rw.Add(6)
	}
	check, checkEmpty := p.barometerMinusSatellite()
	rc := rangeOf([]*plot.Curve{check})
	far := math.Max(10, math.Max(math.Abs(rc.Min), math.Abs(rc.Max)))
	rc = plot.Range{Min: -far, Max: far, Seen: true}

	humidityHeads := []head{}
	if rh != nil {
		humidityHeads = append(humidityHeads, head{"td", "humidity"})
	}
	if a != nil {
		humidityHeads = append(humidityHeads, head{"ha", "A"})
	}
	if b != nil {
		humidityHeads = append(humidityHeads, head{"hb", "B"})
	}
	if ice != nil {
		humidityHeads = append(humidityHeads, head{"ink", "ice"})
	}
	if len(humidityHeads) == 0 {
		humidityHeads = []head{{"td", "humidity"}}
	}
	temperatureHeads := []head{{"t", "temperature"}}
	if td != nil {
		temperatureHeads = append(temperatureHeads, head{"td", "dew point"})
	}
	return []panel{
		{width: 232, heads: append(temperatureHeads, head{"raw", "received"}), unit: "°C", scale: nice(rt, 5),
			curves: []*plot.Curve{rawTd, rawT, td, t}, empty: "no temperature", sides: []sounding.Variable{sounding.Temperature}},
		{width: 186, heads: humidityHeads, unit: "%", scale: fixed(0, top, 25), curves: []*plot.Curve{ice, rawRH, a, b, rh}, empty: "no humidity",
			sides: []sounding.Variable{sounding.Humidity, sounding.HumidityA, sounding.HumidityB}},
		{width: 140, heads: []head{{"wd", "wind speed"}}, unit: "m/s", scale: nice(rs, 4), curves: []*plot.Curve{rawSpeed, speed}, empty: "no wind", sides: []sounding.Variable{sounding.WindSpeed}},
		{width: 112, heads: []head{{"wd", "direction"}}, unit: "°", scale: fixed(0, 360, 120), curves: []*plot.Curve{direction}, empty: "no wind", sides: []sounding.Variable{sounding.WindDirection}},
		{width: 92, heads: []head{{"ink", "ascent rate"}}, unit: "m/s", scale: nice(rw, 3), curves: []*plot.Curve{w}, empty: "no height", zero: true},
		{width: 100, heads: []head{{"ink", "p minus z"}}, unit: "m", scale: nice(rc, 2), curves: []*plot.Curve{check}, empty: checkEmpty, zero: true},
	}
}

// unheated takes the samples of a humidity sensor out of its curve that were read while it
// was hot: they keep their value in the files but have no uncertainty as a humidity, which
// is how they are told (docs/methods/twin-humidity-merge.md).
func (p *profile) unheated(k *plot.Curve, v sounding.Variable) {
	s := p.f.Get(v)
	if k == nil || s == nil || s.Independent == nil && s.Common == nil {
		return
	}
	known := 0
	for i := range k.X {
		if u := s.Total(p.span.From + i); u == u {
			known++
		}
	}
	if known == 0 {
		return
	}
	for i := range k.X {
		if u := s.Total(p.span.From + i); u != u && k.State[i] != plot.Bad {
			k.X[i] = math.NaN()
		}
	}
	k.NoTicks = true
}

// barometerMinusSatellite is the height computed hydrostatically from the measured
// pressure minus the satellite height, both as received where they are there, in m.
func (p *profile) barometerMinusSatellite() (*plot.Curve, string) {
	before := p.f.Before
	if before == nil {
		before = &p.f.Columns
	}
	pressure, z := p.values(before, sounding.Pressure), p.values(before, sounding.HeightMSL)
	if z == nil {
		z = p.values(&p.f.Columns, sounding.HeightMSL)
	}
	t, rh := p.usable(sounding.Temperature), p.usable(sounding.Humidity)
	switch {
	case pressure == nil || !some(pressure):
		return nil, "no barometer"
	case z == nil || !some(z):
		return nil, "no satellite height"
	case t == nil || !some(t):
		return nil, "not computable"
	}
	latitude := 45.0
	if lat := p.usable(sounding.Latitude); some(lat) {
		for _, v := range lat {
			if v == v {
				latitude = v
				break
			}
		}
	} else if p.f.Record != nil && p.f.Record.Site.Latitude.Set() {
		latitude = p.f.Record.Site.Latitude.Value()
	}
	scale := earth.HeightScaleAt(latitude)
	good := append([]float64(nil), pressure...)
	if s := before.Get(sounding.Pressure); s != nil {
		for i := range good {
			if flagOf(s, p.span.From+i) == quality.Bad {
				good[i] = math.NaN()
			}
		}
	}
	virtual := make([]float64, len(t))
	first := -1
	for i := range t {
		virtual[i] = t[i]
		if rh != nil && rh[i] == rh[i] && good[i] == good[i] {
			virtual[i] = humidity.VirtualTemperature(t[i], humidity.HylandWexler.FromRelative(rh[i], t[i]), good[i])
		}
		if first < 0 && good[i] > 0 && virtual[i] == virtual[i] && z[i] == z[i] {
			first = i
		}
	}
	if first < 0 {
		return nil, "not computable"
	}
	heights := make([]float64, len(t)-first)
	hydrostatic.HeightsFromPressure(heights, good[first:], virtual[first:], scale.Geopotential(z[first]))
	k := &plot.Curve{Class: "ink thin", X: make([]float64, len(t))}
	for i := range k.X {
		k.X[i] = math.NaN()
		if i >= first {
			k.X[i] = scale.Geometric(heights[i-first]) - z[i]
		}
	}
	if !some(k.X) {
		return nil, "not computable"
	}
	return k, ""
}

// withheld hatches the stretches of a panel whose variable a person withheld.
func (p *profile) withheld(c *plot.Canvas, f plot.Frame, sy plot.Scale, v sounding.Variable) {
	s := p.f.Get(v)
	if s == nil || s.Tests == nil {
		return
	}
	mask := make([]bool, p.span.Len())
	for i := range mask {
		mask[i] = s.Tests[p.span.From+i].Has(quality.Decision) && flagOf(s, p.span.From+i) == quality.Bad
	}
	for _, g := range sounding.Spans(mask, 5) {
		if lo, hi, ok := p.extent(g, sy); ok {
			c.Hatch(plot.Frame{X: f.X, Y: lo, W: f.W, H: math.Max(2, hi-lo)}, v.Info().Label+" withheld by a decision")
		}
	}
}

// extent returns the coordinates of the highest and lowest row of a span of the profile.
func (p *profile) extent(g sounding.Span, sy plot.Scale) (lo, hi float64, ok bool) {
	var r plot.Range
	for i := max(0, g.From); i < min(g.To, len(p.y)); i++ {
		r.Add(sy.At(p.y[i]))
	}
	return r.Min, r.Max, r.Seen
}

// levelLines draws tropopauses across all panels.
func (p *profile) levelLines(c *plot.Canvas, sy plot.Scale, from, to float64, table *levels.Set) {
	if p.unit != "km" || p.axis != "height above mean sea level" {
		return
	}
	for i, l := range table.Of(levels.Tropopause) {
		if !l.Height.Set() || i > 1 {
			continue
		}
		y := sy.At(l.Height.Value() / 1000)
		c.Line("level", from, y, to, y)
		c.Text("halo", plot.Right, from+228, y-4, "tropopause")
	}
}

// laneVariables are the lanes of findings, in order.
var laneNames = []string{"p", "T", "U", "W", "z", "all"}

// laneOf returns the lane of a variable.
func laneOf(v sounding.Variable) int {
	switch v {
	case sounding.Pressure:
		return 0
	case sounding.Temperature, sounding.VirtualTemperature, sounding.PotentialTemperature:
		return 1
	case sounding.Humidity, sounding.HumidityA, sounding.HumidityB, sounding.DewPoint, sounding.MixingRatio, sounding.HumiditySensorTempA, sounding.HumiditySensorTempB, sounding.HeatingA, sounding.HeatingB:
		return 2
	case sounding.WindSpeed, sounding.WindDirection, sounding.WindU, sounding.WindV, sounding.VelocityEast, sounding.VelocityNorth:
		return 3
	case sounding.Latitude, sounding.Longitude, sounding.HeightMSL, sounding.HeightEllipsoid, sounding.GeopotentialHeight, sounding.AscentRate, sounding.VelocityUp, sounding.Satellites:
		return 4
	}
	return 5
}

// mostLaneMarks bounds the marks of the lanes: beyond it there is no room to see them.
const mostLaneMarks = 2000

// lanes draws where findings are, a thin column a group of variables.
func (p *profile) lanes(c *plot.Canvas, x float64, sy plot.Scale) {
	const width, gap = 15.0, 3.0
	c.Text("head", plot.Left, x, 30, "findings")
	for i, name := range laneNames {
		f := plot.Frame{X: x + float64(i)*(width+gap), Y: panelTop, W: width, H: panelHeight}
		c.Rect("frame", f, "")
		c.Text("tick", plot.Middle, f.X+width/2, panelTop+panelHeight+15, name)
	}
	drawn := 0
	for severity := sounding.Note; severity <= sounding.Bad; severity++ {
		for i := range p.f.Findings {
			g := &p.f.Findings[i]
			if g.Severity != severity || g.State == "dismissed" {
				continue
			}
			fx := x + float64(laneOf(g.Variable))*(width+gap)
			for _, s := range g.Spans {
				lo, hi, ok := p.extent(sounding.Span{From: s.From - p.span.From, To: s.To - p.span.From}, sy)
				if !ok || drawn >= mostLaneMarks {
					continue
				}
				drawn++
				mid := (lo + hi) / 2
				high := math.Max(hi-lo, 5)
				m := plot.Frame{X: fx + 2, Y: mid - high/2, W: width - 4, H: high}
				c.Rect("lane-"+severity.String(), m, g.Sentence)
				if severity == sounding.Bad && high >= 9 {
					cx := fx + width/2
					c.Line("lane-cross", cx-3, mid-3, cx+3, mid+3)
					c.Line("lane-cross", cx-3, mid+3, cx+3, mid-3)
				}
			}
		}
	}
}

// diagram draws the thermodynamic diagram; the note says what it leaves out, or why there
// is none.
func (p *profile) diagram(table *levels.Set) (template.HTML, string) {
	pressure, t := p.usable(sounding.Pressure), p.values(&p.f.Columns, sounding.Temperature)
	switch {
	case !some(pressure):
		return "", "No thermodynamic diagram: the flight has no usable pressure."
	case t == nil || !some(t):
		return "", "No thermodynamic diagram: the flight has no temperature."
	}
	const width, height = 640.0, 640.0
	c := plot.New("diagram", width, height, diagramTitle)
	f := plot.Frame{X: 38, Y: 24, W: width - 38 - 66, H: height - 24 - 40}
	c.Text("unit", plot.Left, 2, 16, "hPa")
	c.DrawThermodynamic(f, p.thermodynamic(table))
	c.Text("unit", plot.Right, f.X+f.W, height-6, "°C")
	return template.HTML(c.Bytes()), "Profile: " + string(p.f.ProfileKind()) + ". " + diagramKey + " The diagram ends at 100 hPa."
}

const (
	diagramTitle = "Thermodynamic diagram: temperature and dew point against the logarithm of pressure, isotherms leaning right"
	diagramKey   = "Dry adiabats every 20 K (solid), pseudo-adiabats every 8 K of wet-bulb potential temperature (dashed), mixing ratio in g/kg (dotted). " +
		"Wind barbs: half 2.5, full 5, pennant 25 m/s."
)

// thermodynamic is what the diagram shows of a flight with pressure and temperature.
func (p *profile) thermodynamic(table *levels.Set) *plot.Thermodynamic {
	pressure, t := p.usable(sounding.Pressure), p.values(&p.f.Columns, sounding.Temperature)
	d := &plot.Thermodynamic{Pressure: pressure, Temperature: t, StateT: p.states(p.f.Get(sounding.Temperature))}
	if s := p.f.Get(sounding.DewPoint); s != nil && some(s.Values[p.span.From:p.span.To]) {
		d.DewPoint, d.StateTd = s.Values[p.span.From:p.span.To], p.states(s)
	}
	if r := p.f.Record; r != nil && r.Site.Latitude.Set() {
		d.South = r.Site.Latitude < 0
	} else if lat := p.usable(sounding.Latitude); some(lat) {
		d.South = firstOf(lat) < 0
	}
	d.Winds = p.barbs(pressure)
	for _, m := range []struct {
		kind levels.Kind
		text string
	}{{levels.Freezing, "0 °C"}, {levels.Tropopause, "tropopause"}} {
		if l := table.Of(m.kind); len(l) > 0 {
			d.Marks = append(d.Marks, plot.Mark{Pressure: l[0].Pressure.Value(), Text: m.text})
		}
	}
	return d
}

func firstOf(x []float64) float64 {
	for _, v := range x {
		if v == v {
			return v
		}
	}
	return math.NaN()
}

// barbs picks the winds of the column: the usable sample nearest to every 25th part of
// the diagram's height.
func (p *profile) barbs(pressure []float64) []plot.Wind {
	u, v := p.usable(sounding.WindU), p.usable(sounding.WindV)
	if u == nil || v == nil {
		return nil
	}
	const n = 25
	bottom, top := math.Log(1050), math.Log(100)
	var best [n]int
	var off [n]float64
	for i := range best {
		best[i] = -1
	}
	for i := range pressure {
		if !(pressure[i] > 0) || u[i] != u[i] || v[i] != v[i] {
			continue
		}
		x := (bottom - math.Log(pressure[i])) / (bottom - top) * n
		k := int(math.Floor(x))
		if k < 0 || k >= n {
			continue
		}
		if d := math.Abs(x - float64(k) - 0.5); best[k] < 0 || d < off[k] {
			best[k], off[k] = i, d
		}
	}
	var out []plot.Wind
	for _, i := range best {
		if i >= 0 {
			out = append(out, plot.Wind{Pressure: pressure[i], U: u[i], V: v[i]})
		}
	}
	return out
}

func (p *profile) hodograph() []byte {
	u, v := p.usable(sounding.WindU), p.usable(sounding.WindV)
	if p.unit != "km" || !some(u) || !some(v) {
		return nil
	}
	const side = 350.0
	c := plot.New("hodograph", side+20, side+36, "Hodograph: wind vectors by height, circles of equal speed")
	c.Text("wd head", plot.Left, 10, 16, "hodograph, "+string(p.f.ProfileKind()))
	c.Text("unit", plot.Right, side+10, 16, "m/s · heights in km")
	c.DrawHodograph(plot.Frame{X: 10, Y: 24, W: side, H: side}, p.winds(u, v))
	return c.Bytes()
}

func (p *profile) winds(u, v []float64) *plot.Hodograph {
	return &plot.Hodograph{U: u, V: v, Height: p.y, Strong: 12, Marks: []float64{1, 3, 6, 9, 12, 16, 20, 25, 30}}
}

// track draws the whole flight from release on, descent included.
func (p *profile) track() []byte {
	f := p.f
	lat, lon := f.Usable(sounding.Latitude), f.Usable(sounding.Longitude)
	from := 0
	if f.Events.Release.Found {
		from = min(f.Events.Release.Row, f.Len())
	}
	if lat == nil || lon == nil || !some(lat[from:]) || !some(lon[from:]) {
		return nil
	}
	lat, lon = lat[from:], lon[from:]
	t := &plot.Track{Top: -1, East: make([]float64, len(lat)), North: make([]float64, len(lat))}
	lat0, lon0 := math.NaN(), math.NaN()
	for i := range lat {
		t.East[i], t.North[i] = math.NaN(), math.NaN()
		if lat[i] != lat[i] || lon[i] != lon[i] {
			continue
		}
		if lat0 != lat0 {
			lat0, lon0 = lat[i], lon[i]
		}
		e, n := earth.Displacement(lat0, lon0, 0, lat[i], lon[i], 0)
		t.East[i], t.North[i] = e/1000, n/1000
	}
	switch ev := &f.Events; {
	case ev.Burst.Found:
		t.Top, t.TopText = ev.Burst.Row-from, "burst"
	case ev.Top.Found:
		t.Top, t.TopText = ev.Top.Row-from, "top"
	}
	t.Landed = f.Events.Landing.Found
	t.Start = "release"
	if !f.Events.Release.Found {
		t.Start = "first data"
	}
	const width, height = 370.0, 330.0
	c := plot.New("track", width, height, "Map of the track, km east and north of the release point")
	c.Text("head", plot.Left, 40, 16, "track")
	c.Text("unit", plot.Right, width-10, 16, "km east and north of release")
	c.DrawTrack(plot.Frame{X: 40, Y: 24, W: width - 50, H: height - 24 - 24}, t)
	return c.Bytes()
}
