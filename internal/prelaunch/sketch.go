package prelaunch

import "math"

// sketch places the predicted flight in a frame: north up, one scale for both directions.
type sketch struct {
	plane          plane
	width, height  float64
	centreX        float64 // m east of the release point, in the middle of the frame
	centreY        float64 // m north
	scale          float64 // m per unit of the frame
	outer, inner   []Place // 95 % and 68 %
	ascent, fallen []Place
}

func (s *Sheet) sketch(width, height, edge float64) *sketch {
	k := &sketch{plane: planeAt(s.Place), width: width, height: height, outer: s.Drift.Ellipse.Outline(true, 72), inner: s.Drift.Ellipse.Outline(false, 72)}
	x0, x1, y0, y1 := 0.0, 0.0, 0.0, 0.0
	grow := func(p Place) {
		x, y := k.plane.xy(p)
		x0, x1, y0, y1 = math.Min(x0, x), math.Max(x1, x), math.Min(y0, y), math.Max(y1, y)
	}
	for _, p := range k.outer {
		grow(p)
	}
	for i, p := range s.Drift.Track {
		grow(p.Place)
		if p.Phase == Ascent {
			k.ascent = append(k.ascent, p.Place)
		}
		if p.Phase == Descent || i+1 < len(s.Drift.Track) && s.Drift.Track[i+1].Phase == Descent {
			k.fallen = append(k.fallen, p.Place)
		}
	}
	k.scale = math.Max(math.Max((x1-x0)/(width-2*edge), (y1-y0)/(height-2*edge)), 1)
	k.centreX, k.centreY = (x0+x1)/2, (y0+y1)/2
	return k
}

// xy returns where a place stands, from the frame's upper left corner.
func (k *sketch) xy(p Place) (x, y float64) {
	x, y = k.plane.xy(p)
	return k.width/2 + (x-k.centreX)/k.scale, k.height/2 - (y-k.centreY)/k.scale
}

// step returns a round length in m, 1, 2 or 5 times a power of ten, at most a share of the width.
func (k *sketch) step(share float64) float64 {
	most := k.width * k.scale * share
	bar := math.Pow(10, math.Floor(math.Log10(most)))
	for _, f := range []float64{5, 2} {
		if bar*f <= most {
			return bar * f
		}
	}
	return bar
}
