package prelaunch

import "math"

// Chart is the predicted flight in km east and north of the release point, for drawing:
// distances and bearings from there are those of the geodesic, at the poles, too.
type Chart struct {
	Centre  Place        `json:"centre"` // the release point
	Ascent  [][2]float64 `json:"ascent_km"`
	Descent [][2]float64 `json:"descent_km"`
	Inner   [][2]float64 `json:"ellipse_68_km"` // closed
	Outer   [][2]float64 `json:"ellipse_95_km"`
	Burst   [2]float64   `json:"burst_km"`
	Landing [2]float64   `json:"landing_km"`
	Areas   []ChartArea  `json:"areas"`
}

// ChartArea is an area given by the user.
type ChartArea struct {
	Name   string         `json:"name"`
	Closed bool           `json:"closed"`
	Rings  [][][2]float64 `json:"rings_km"`
}

// Chart returns what a screen draws of a sheet that has a drift, nil for one without.
func (s *Sheet) Chart(areas []Area) *Chart {
	if s.Drift == nil {
		return nil
	}
	k := s.sketch(1, 1, 0)
	point := func(p Place) [2]float64 {
		distance, bearing := p.From(s.Place)
		sin, cos := math.Sincos(bearing * math.Pi / 180)
		x, y := distance*sin, distance*cos
		return [2]float64{math.Round(x/10) / 100, math.Round(y/10) / 100}
	}
	line := func(list []Place) [][2]float64 {
		out := make([][2]float64, len(list))
		for i, p := range list {
			out[i] = point(p)
		}
		return out
	}
	c := &Chart{Centre: s.Place, Ascent: line(k.ascent), Descent: line(k.fallen), Inner: line(k.inner), Outer: line(k.outer), Burst: point(s.Drift.Burst.Place), Landing: point(s.Drift.Landing.Place), Areas: []ChartArea{}}
	for i := range areas {
		a := ChartArea{Name: areas[i].Name, Closed: areas[i].Closed, Rings: [][][2]float64{}}
		for _, ring := range areas[i].Rings {
			a.Rings = append(a.Rings, line(ring))
		}
		c.Areas = append(c.Areas, a)
	}
	return c
}
