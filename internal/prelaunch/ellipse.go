package prelaunch

import (
	"math"
	"slices"

	"leadline/internal/earth"
)

// Ellipse is where landings are expected: the ellipses of the trials' covariance that
// hold 68 % and 95 % of the trials.
type Ellipse struct {
	Centre  Place   `json:"centre"`
	Bearing float64 `json:"major_axis_bearing_deg"` // 0–180
	Major68 float64 `json:"major_68_m"`             // half-axes
	Minor68 float64 `json:"minor_68_m"`
	Major95 float64 `json:"major_95_m"`
	Minor95 float64 `json:"minor_95_m"`
}

// newEllipse fits the ellipse to places that lie within some hundreds of kilometres.
func newEllipse(places []Place) Ellipse {
	n := len(places)
	origin := places[0]
	east, north := make([]float64, n), make([]float64, n)
	var e0, n0 float64
	for i, p := range places {
		d, b := p.From(origin)
		s, c := earth.SinCosDegrees(b)
		east[i], north[i] = d*s, d*c
		e0 += east[i] / float64(n)
		n0 += north[i] / float64(n)
	}
	var see, snn, sen float64
	for i := range east {
		e, m := east[i]-e0, north[i]-n0
		see += e * e / float64(n-1)
		snn += m * m / float64(n-1)
		sen += e * m / float64(n-1)
	}
	// Eigenvalues and the direction of the larger one.
	half, diff := (see+snn)/2, math.Hypot((see-snn)/2, sen)
	major, minor := math.Sqrt(math.Max(half+diff, 1)), math.Sqrt(math.Max(half-diff, 1))
	bearing := math.Mod(0.5*math.Atan2(2*sen, snn-see)*180/math.Pi+180, 180)
	out := Ellipse{Bearing: bearing}
	distance := math.Hypot(e0, n0)
	out.Centre.Latitude, out.Centre.Longitude, _ = earth.Direct(origin.Latitude, origin.Longitude, math.Atan2(e0, n0)*180/math.Pi, distance)
	s, c := earth.SinCosDegrees(bearing)
	r := make([]float64, n)
	for i := range east {
		e, m := east[i]-e0, north[i]-n0
		r[i] = math.Hypot((e*s+m*c)/major, (e*c-m*s)/minor)
	}
	slices.Sort(r)
	at := func(q float64) float64 { return r[min(n-1, int(math.Ceil(q*float64(n))))] }
	out.Major68, out.Minor68 = major*at(0.68), minor*at(0.68)
	out.Major95, out.Minor95 = major*at(0.95), minor*at(0.95)
	return out
}

// Within returns how far out a place lies in units of the 68 % and the 95 % ellipse: at
// most 1 is inside.
func (e *Ellipse) Within(p Place) (of68, of95 float64) {
	d, b := p.From(e.Centre)
	s, c := earth.SinCosDegrees(b - e.Bearing)
	along, across := d*c, d*s
	return math.Hypot(along/e.Major68, across/e.Minor68), math.Hypot(along/e.Major95, across/e.Minor95)
}

// Outline returns n places along the 68 % or the 95 % ellipse, clockwise and closed.
func (e *Ellipse) Outline(ninetyFive bool, n int) []Place {
	major, minor := e.Major68, e.Minor68
	if ninetyFive {
		major, minor = e.Major95, e.Minor95
	}
	out := make([]Place, n+1)
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		along, across := major*c, minor*s
		out[i].Latitude, out[i].Longitude, _ = earth.Direct(e.Centre.Latitude, e.Centre.Longitude, e.Bearing+math.Atan2(across, along)*180/math.Pi, math.Hypot(along, across))
	}
	out[n] = out[0]
	return out
}
