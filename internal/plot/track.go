package plot

import "math"

// Track is the way of a balloon over the ground.
type Track struct {
	East, North []float64 // km from the release point, NaN where lost
	Top         int       // sample of the highest point; below 0 where there is none
	TopText     string    // what happened there: "burst", "top"
	Start       string    // what happened at the first sample: "release"
	Landed      bool      // the last sample is on the ground
}

// DrawTrack draws a map in km with one scale for both directions, north up.
func (c *Canvas) DrawTrack(f Frame, t *Track) {
	var re, rn Range
	re.Add(0)
	rn.Add(0)
	last := -1
	for i := range t.East {
		if t.East[i] == t.East[i] && t.North[i] == t.North[i] {
			re.Add(t.East[i])
			rn.Add(t.North[i])
			last = i
		}
	}
	per := math.Max(math.Max((re.Max-re.Min)/f.W, (rn.Max-rn.Min)/f.H)*1.25, 0.5/f.W) // km in one unit
	midE, midN := (re.Min+re.Max)/2, (rn.Min+rn.Max)/2
	sx := Scale{midE - per*f.W/2, midE + per*f.W/2, f.X, f.X + f.W}
	sy := Scale{midN - per*f.H/2, midN + per*f.H/2, f.Y + f.H, f.Y}
	step := niceStep(per * math.Min(f.W, f.H) / 4)
	c.Axes(f, sx, step, sy, step, true)
	c.Open("ink", &f)
	up, down := len(t.East), len(t.East)
	if t.Top >= 0 {
		up = min(t.Top+1, len(t.East))
	}
	project := func(from, to int) (x, y []float64) {
		for i := from; i < to; i++ {
			x, y = append(x, sx.At(t.East[i])), append(y, sy.At(t.North[i]))
		}
		return x, y
	}
	x, y := project(0, up)
	c.Polyline("line strong", x, y)
	x, y = project(max(0, up-1), down)
	c.Polyline("line thin dash", x, y)
	c.Close()
	label := func(px, py float64, text string) {
		anchor, dx := Left, 8.0
		if px > f.X+f.W*0.7 {
			anchor, dx = Right, -8
		}
		dy := -7.0
		if py < f.Y+20 {
			dy = 15
		}
		c.Text("halo", anchor, px+dx, py+dy, text)
	}
	rx, ry := sx.At(0), sy.At(0)
	c.Circle("place", rx, ry, 4.5)
	label(rx, ry, t.Start)
	if t.Top >= 0 && t.Top < len(t.East) && t.East[t.Top] == t.East[t.Top] {
		bx, by := sx.At(t.East[t.Top]), sy.At(t.North[t.Top])
		p := c.path("burst")
		cross(p, bx, by, 5)
		p.end()
		label(bx, by, t.TopText)
	}
	if last >= 0 && last != t.Top {
		lx, ly := sx.At(t.East[last]), sy.At(t.North[last])
		c.Rect("place", Frame{lx - 4, ly - 4, 8, 8}, "")
		text := "last data"
		if t.Landed {
			text = "landing"
		}
		dy := 0.0
		if t.Top >= 0 && t.Top < len(t.East) && math.Abs(ly-sy.At(t.North[t.Top])) < 16 || math.Hypot(lx-rx, ly-ry) < 60 && math.Abs(ly-ry) < 16 {
			dy = 24 // below the mark: the name of the place beside it stands above
		}
		label(lx, ly+dy, text)
	}
	// North arrow and scale bar.
	ax, ay := f.X+f.W-16, f.Y+14
	p := c.path("north")
	p.to(ax, ay)
	p.to(ax-5, ay+16)
	p.to(ax, ay+12)
	p.to(ax+5, ay+16)
	p.close()
	p.end()
	c.Text("tick halo", Middle, ax, ay+30, "N")
	bar := niceStep(per * f.W / 6)
	bx, by := f.X+12, f.Y+f.H-12
	c.Line("scale-bar", bx, by, bx+bar/per, by)
	c.Text("tick halo", Left, bx+bar/per+6, by+4, Number(bar, bar)+" km")
}
