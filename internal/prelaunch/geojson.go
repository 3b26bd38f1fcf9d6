package prelaunch

import (
	"encoding/json"
	"fmt"
	"math"
)

// Bounds of a file of areas.
const (
	maxGeoJSON  = 16 << 20
	maxAreas    = 5000
	maxVertices = 500000
)

// Area is one shape a user has drawn: what is to be kept out of, or what limits the line
// of sight of the receiver.
type Area struct {
	Name   string
	Kind   string    // KeepOut or LineOfSight
	Closed bool      // polygon; else a line
	Rings  [][]Place // a polygon's outer ring and holes, or one line
	Crest  float64   // m above mean sea level, of a line of sight; NaN where not given
}

// Kinds of area.
const (
	KeepOut     = "keep-out"
	LineOfSight = "line-of-sight"
)

// geoObject is what is read of a GeoJSON object (RFC 7946).
type geoObject struct {
	Type        string                     `json:"type"`
	Features    []json.RawMessage          `json:"features"`
	Geometry    json.RawMessage            `json:"geometry"`
	Geometries  []json.RawMessage          `json:"geometries"`
	Coordinates json.RawMessage            `json:"coordinates"`
	Properties  map[string]json.RawMessage `json:"properties"`
}

// ReadAreas reads GeoJSON (RFC 7946): Polygon, MultiPolygon, LineString and
// MultiLineString, alone, in features, or in collections. Of the properties "name", "kind"
// ("keep-out", which is the default, or "line-of-sight") and "crest_m_msl" are used. An
// error says which feature is wrong; there is no half result.
func ReadAreas(name string, text []byte) ([]Area, error) {
	if len(text) > maxGeoJSON {
		return nil, fmt.Errorf("%s: %d bytes is more than areas of %d MiB", name, len(text), maxGeoJSON>>20)
	}
	r := areaReader{}
	if err := r.object(text, 0); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(r.areas) == 0 {
		return nil, fmt.Errorf("%s: no polygon and no line in it: want GeoJSON with Polygon, MultiPolygon or LineString", name)
	}
	return r.areas, nil
}

type areaReader struct {
	areas    []Area
	vertices int
	features int
	current  Area
}

func (r *areaReader) object(text json.RawMessage, depth int) error {
	if depth > 8 {
		return fmt.Errorf("collections are nested deeper than 8")
	}
	var o geoObject
	if err := json.Unmarshal(text, &o); err != nil {
		return fmt.Errorf("not GeoJSON: %w", err)
	}
	switch o.Type {
	case "FeatureCollection":
		for _, f := range o.Features {
			if err := r.object(f, depth+1); err != nil {
				return err
			}
		}
		return nil
	case "Feature":
		r.features++
		r.current = Area{Kind: KeepOut, Crest: math.NaN()}
		if err := r.properties(o.Properties); err != nil {
			return fmt.Errorf("feature %d: %w", r.features, err)
		}
		if len(o.Geometry) == 0 || string(o.Geometry) == "null" {
			return nil
		}
		if err := r.object(o.Geometry, depth+1); err != nil {
			return fmt.Errorf("feature %d: %w", r.features, err)
		}
		return nil
	case "GeometryCollection":
		for _, g := range o.Geometries {
			if err := r.object(g, depth+1); err != nil {
				return err
			}
		}
		return nil
	}
	if r.features == 0 {
		r.current = Area{Kind: KeepOut, Crest: math.NaN()}
	}
	switch o.Type {
	case "Polygon":
		var c [][][]float64
		return r.shape(o.Coordinates, &c, func() error { return r.add(c, true) })
	case "MultiPolygon":
		var c [][][][]float64
		return r.shape(o.Coordinates, &c, func() error {
			for _, polygon := range c {
				if err := r.add(polygon, true); err != nil {
					return err
				}
			}
			return nil
		})
	case "LineString":
		var c [][]float64
		return r.shape(o.Coordinates, &c, func() error { return r.add([][][]float64{c}, false) })
	case "MultiLineString":
		var c [][][]float64
		return r.shape(o.Coordinates, &c, func() error {
			for _, line := range c {
				if err := r.add([][][]float64{line}, false); err != nil {
					return err
				}
			}
			return nil
		})
	case "Point", "MultiPoint":
		return nil
	}
	return fmt.Errorf("type %q is no GeoJSON type of RFC 7946", o.Type)
}

func (r *areaReader) properties(p map[string]json.RawMessage) error {
	text := func(key string, into *string) error {
		if raw, ok := p[key]; ok && string(raw) != "null" {
			if err := json.Unmarshal(raw, into); err != nil {
				return fmt.Errorf("property %q: want a text", key)
			}
		}
		return nil
	}
	if err := text("name", &r.current.Name); err != nil {
		return err
	}
	if err := text("kind", &r.current.Kind); err != nil {
		return err
	}
	if k := r.current.Kind; k != KeepOut && k != LineOfSight {
		return fmt.Errorf("kind %q: want keep-out or line-of-sight", k)
	}
	if raw, ok := p["crest_m_msl"]; ok && string(raw) != "null" {
		if err := json.Unmarshal(raw, &r.current.Crest); err != nil || !(r.current.Crest > -1000 && r.current.Crest < 10000) {
			return fmt.Errorf("property \"crest_m_msl\": want a height of −1,000 to 10,000 m")
		}
	}
	return nil
}

func (r *areaReader) shape(raw json.RawMessage, into any, add func() error) error {
	if err := json.Unmarshal(raw, into); err != nil {
		return fmt.Errorf("coordinates: %w", err)
	}
	return add()
}

func (r *areaReader) add(rings [][][]float64, closed bool) error {
	if len(r.areas) == maxAreas {
		return fmt.Errorf("more than %d areas", maxAreas)
	}
	a := r.current
	a.Closed = closed
	if a.Name == "" {
		a.Name = fmt.Sprintf("area %d", len(r.areas)+1)
	}
	for _, ring := range rings {
		r.vertices += len(ring)
		if r.vertices > maxVertices {
			return fmt.Errorf("more than %d points: simplify the shapes", maxVertices)
		}
		if closed && len(ring) < 4 || len(ring) < 2 {
			return fmt.Errorf("%q has a ring of %d points: a polygon wants 4 with the first repeated, a line 2", a.Name, len(ring))
		}
		places := make([]Place, len(ring))
		for i, c := range ring {
			if len(c) < 2 || !(math.Abs(c[0]) <= 360) || !(math.Abs(c[1]) <= 90) {
				return fmt.Errorf("%q, point %d: want [longitude, latitude] in degrees, longitude first", a.Name, i+1)
			}
			places[i] = Place{Latitude: c[1], Longitude: wrap(c[0])}
		}
		if closed && places[0] != places[len(places)-1] {
			places = append(places, places[0])
		}
		a.Rings = append(a.Rings, places)
	}
	if len(a.Rings) == 0 {
		return fmt.Errorf("%q has no points", a.Name)
	}
	r.areas = append(r.areas, a)
	return nil
}

// plane is a flat map in m about an origin, good to a part in a thousand within 200 km.
type plane struct {
	origin Place
	m      metric
}

func planeAt(origin Place) plane { return plane{origin, metricAt(origin.Latitude, 0)} }

func (l plane) xy(p Place) (x, y float64) {
	return wrap(p.Longitude-l.origin.Longitude) / l.m.perEast, (p.Latitude - l.origin.Latitude) / l.m.perNorth
}

// Inside tells whether a place lies within a polygon, holes excepted.
func (a *Area) Inside(p Place) bool {
	if !a.Closed {
		return false
	}
	l := planeAt(p)
	odd := false
	for _, ring := range a.Rings {
		for i := 1; i < len(ring); i++ {
			x1, y1 := l.xy(ring[i-1])
			x2, y2 := l.xy(ring[i])
			if (y1 > 0) != (y2 > 0) && x1+(x2-x1)*(-y1)/(y2-y1) > 0 {
				odd = !odd
			}
		}
	}
	return odd
}

// Distance returns the distance in m from a place to the area's edge or line, 0 inside.
func (a *Area) Distance(p Place) float64 {
	if a.Inside(p) {
		return 0
	}
	l := planeAt(p)
	best := math.Inf(1)
	for _, ring := range a.Rings {
		for i := 1; i < len(ring); i++ {
			x1, y1 := l.xy(ring[i-1])
			x2, y2 := l.xy(ring[i])
			dx, dy := x2-x1, y2-y1
			t := 0.0
			if q := dx*dx + dy*dy; q > 0 {
				t = math.Max(0, math.Min(1, -(x1*dx+y1*dy)/q))
			}
			best = math.Min(best, math.Hypot(x1+t*dx, y1+t*dy))
		}
	}
	return best
}

// crossing returns how far along the line from p to q (0–1) the area's edge is first
// crossed; ok is false where it is not.
func (a *Area) crossing(p, q Place) (at float64, ok bool) {
	l := planeAt(p)
	qx, qy := l.xy(q)
	at = 2
	for _, ring := range a.Rings {
		for i := 1; i < len(ring); i++ {
			x1, y1 := l.xy(ring[i-1])
			x2, y2 := l.xy(ring[i])
			dx, dy := x2-x1, y2-y1
			det := qx*dy - qy*dx
			if det == 0 {
				continue
			}
			t := (x1*dy - y1*dx) / det
			s := (x1*qy - y1*qx) / det
			if t >= 0 && t <= 1 && s >= 0 && s <= 1 {
				at = math.Min(at, t)
			}
		}
	}
	return at, at <= 1
}

// Watch is what a prediction means for one area.
type Watch struct {
	Name     string  `json:"name"`
	Kind     string  `json:"kind"`
	Share    float64 `json:"landing_share_pct"` // of the trials that land in a polygon
	Distance float64 `json:"distance_m"`        // from the predicted landing
	Height   float64 `json:"lost_below_m_msl"`  // line of sight: height on the descent below which the radiosonde is hidden; 0 for none
	Words    string  `json:"words"`
}

// WatchAreas says for each area what a prediction means: the share of landings in
// keep-out areas and how near the others are; for lines of sight, from which height on
// the descent the straight line from the antenna (height in m above mean sea level at the
// release point) to the radiosonde passes below the crest, with the Earth taken 4/3 as
// large, as radio sees it (ITU-R P.452; from memory).
func WatchAreas(areas []Area, p *Prediction, site Place, antenna float64, set *Settings) ([]Watch, []Remark) {
	r := remarks{about: "drift"}
	var out []Watch
	for i := range areas {
		a := &areas[i]
		w := Watch{Name: a.Name, Kind: a.Kind, Distance: a.Distance(p.Landing.Place)}
		switch a.Kind {
		case KeepOut:
			inside, near := 0, 0
			for _, t := range p.Trials {
				switch d := a.Distance(t); {
				case d == 0 && a.Closed:
					inside++
				case d < set.Drift.Near:
					near++
				}
			}
			n := float64(len(p.Trials))
			w.Share = 100 * float64(inside) / n
			km := w.Distance / 1000
			switch {
			case a.Closed && w.Distance == 0:
				w.Words = fmt.Sprintf("the predicted landing lies inside %s; %.0f %% of the trials land there", a.Name, w.Share)
				r.say(Stop, "%s: choose another time, balloon or rate, or ask whose area it is", w.Words)
			case inside > 0:
				w.Words = fmt.Sprintf("%.1f %% of the trials land inside %s, %.1f km from the predicted landing", w.Share, a.Name, km)
				level := Warning
				if w.Share < 0.5 {
					level = Note
				}
				r.say(level, "%s", w.Words)
			case float64(near) > 0.05*n:
				w.Words = fmt.Sprintf("%.0f %% of the trials land within %.0f m of %s, %.1f km from the predicted landing", 100*float64(near)/n, set.Drift.Near, a.Name, km)
				r.say(Warning, "%s", w.Words)
			default:
				w.Words = fmt.Sprintf("%s is %.1f km from the predicted landing", a.Name, km)
			}
		case LineOfSight:
			w.Height = hiddenBelow(a, p, site, antenna)
			switch {
			case math.IsNaN(a.Crest):
				w.Words = fmt.Sprintf("%s has no crest_m_msl: what it hides is not known", a.Name)
				r.say(Note, "%s", w.Words)
			case w.Height > 0:
				w.Words = fmt.Sprintf("%s hides the radiosonde below about %.0f m on the descent", a.Name, w.Height)
				r.say(Note, "%s: the last positions may be lost there", w.Words)
			default:
				w.Words = fmt.Sprintf("%s hides nothing of the predicted track", a.Name)
			}
		}
		out = append(out, w)
	}
	return out, r.list
}

const radioEarth = 4.0 / 3 * 6371000

// hiddenBelow returns the greatest height of the descent whose line of sight passes below
// the crest, 0 where none does.
func hiddenBelow(a *Area, p *Prediction, site Place, antenna float64) float64 {
	if math.IsNaN(a.Crest) {
		return 0
	}
	hidden := 0.0
	for _, point := range p.Track {
		if point.Phase != Descent {
			continue
		}
		at, ok := a.crossing(site, point.Place)
		if !ok {
			continue
		}
		d, _ := point.Place.From(site)
		// The ray's height over the curved Earth at the crossing.
		ray := antenna + at*(point.Height-antenna) - at*(1-at)*d*d/(2*radioEarth)
		if ray < a.Crest {
			hidden = math.Max(hidden, point.Height)
		}
	}
	return hidden
}

// RadioHorizon returns the lowest height in m above mean sea level at which a radiosonde at
// a distance in m is above the horizon of a smooth Earth, for an antenna at a height in
// m above mean sea level and ground of a height in m between: straight rays over an Earth 4/3 as large.
func RadioHorizon(distance, antenna, ground float64) float64 {
	own := math.Sqrt(2 * radioEarth * math.Max(antenna-ground, 0))
	if distance <= own {
		return ground
	}
	rest := distance - own
	return ground + rest*rest/(2*radioEarth)
}
