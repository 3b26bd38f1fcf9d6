package prelaunch

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"math"
	"time"
)

func round(x float64, decimals int) float64 {
	f := math.Pow(10, float64(decimals))
	return math.Round(x*f) / f
}

func position(p Place) []float64 { return []float64{round(p.Longitude, 6), round(p.Latitude, 6)} }

type feature struct {
	Type       string         `json:"type"`
	Properties map[string]any `json:"properties"`
	Geometry   geometry       `json:"geometry"`
}

type geometry struct {
	Type        string `json:"type"`
	Coordinates any    `json:"coordinates"`
}

// GeoJSON returns a prediction as a feature collection (RFC 7946): the track up and down
// with heights, release, burst, landing, and the two ellipses. Longitudes of a track that
// crosses ±180° run on past it.
func (p *Prediction) GeoJSON(release time.Time) []byte {
	leg := func(phase Phase) [][]float64 {
		var c [][]float64
		last := math.NaN()
		for i, at := range p.Track {
			if at.Phase != phase && !(phase == Descent && i+1 < len(p.Track) && p.Track[i+1].Phase == Descent) {
				continue
			}
			q := position(at.Place)
			if !math.IsNaN(last) {
				q[0] = last + wrap(q[0]-last)
			}
			last = q[0]
			c = append(c, append(q, round(at.Height, 1)))
		}
		return c
	}
	at := func(x Point) string {
		return release.Add(time.Duration(x.Time * 1e9)).UTC().Format("2006-01-02T15:04:05Z")
	}
	point := func(name string, x Point) feature {
		return feature{"Feature", map[string]any{"name": name, "utc": at(x), "height_m_msl": round(x.Height, 0)}, geometry{"Point", append(position(x.Place), round(x.Height, 1))}}
	}
	ring := func(ninetyFive bool) [][][]float64 {
		outline := p.Ellipse.Outline(ninetyFive, 72)
		c := make([][]float64, len(outline))
		for i, q := range outline {
			// RFC 7946 wants outer rings anticlockwise.
			c[len(outline)-1-i] = position(q)
		}
		return [][][]float64{c}
	}
	var features []feature
	for _, l := range []struct {
		name  string
		phase Phase
	}{{"ascent", Ascent}, {"descent", Descent}} {
		if c := leg(l.phase); len(c) > 1 {
			features = append(features, feature{"Feature", map[string]any{"name": l.name, "wind": p.Wind}, geometry{"LineString", c}})
		}
	}
	features = append(features, point("release", p.Track[0]), point("burst", p.Burst), point("landing", p.Landing))
	for _, e := range []struct {
		percent      int
		ninetyFive   bool
		major, minor float64
	}{{68, false, p.Ellipse.Major68, p.Ellipse.Minor68}, {95, true, p.Ellipse.Major95, p.Ellipse.Minor95}} {
		features = append(features, feature{"Feature", map[string]any{"name": fmt.Sprintf("landing, %d %% of trials", e.percent), "percent": e.percent,
			"half_axes_m": []float64{round(e.major, 0), round(e.minor, 0)}, "bearing_deg": round(p.Ellipse.Bearing, 1)}, geometry{"Polygon", ring(e.ninetyFive)}})
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(map[string]any{"type": "FeatureCollection", "features": features}); err != nil {
		panic(err) // numbers and texts only
	}
	return b.Bytes()
}

// KML returns a prediction as KML 2.2 (OGC 07-147r2): track with heights, places, ellipses.
func (p *Prediction) KML(name string, release time.Time) []byte {
	var b bytes.Buffer
	text := func(s string) string {
		var t bytes.Buffer
		if err := xml.EscapeText(&t, []byte(s)); err != nil {
			panic(err) // a buffer takes everything
		}
		return t.String()
	}
	fmt.Fprintf(&b, "%s<kml xmlns=\"http://www.opengis.net/kml/2.2\">\n<Document>\n<name>%s</name>\n<description>%s</description>\n", xml.Header, text(name),
		text("Predicted from "+p.Wind+". Landing areas are estimates; airspace authority, site rules and trained practice decide."))
	b.WriteString("<Style id=\"up\"><LineStyle><color>ffb27200</color><width>2</width></LineStyle></Style>\n<Style id=\"down\"><LineStyle><color>ff005ed5</color><width>2</width></LineStyle></Style>\n<Style id=\"area\"><LineStyle><color>ff005ed5</color><width>1</width></LineStyle><PolyStyle><color>30005ed5</color></PolyStyle></Style>\n")
	for _, l := range []struct {
		name, style string
		phase       Phase
	}{{"ascent", "up", Ascent}, {"descent", "down", Descent}} {
		fmt.Fprintf(&b, "<Placemark><name>%s</name><styleUrl>#%s</styleUrl><LineString><altitudeMode>absolute</altitudeMode><coordinates>\n", l.name, l.style)
		for i, at := range p.Track {
			if at.Phase == l.phase || l.phase == Descent && i+1 < len(p.Track) && p.Track[i+1].Phase == Descent {
				fmt.Fprintf(&b, "%.6f,%.6f,%.1f\n", at.Longitude, at.Latitude, at.Height)
			}
		}
		b.WriteString("</coordinates></LineString></Placemark>\n")
	}
	for _, x := range []struct {
		name string
		at   Point
	}{{"release", p.Track[0]}, {"burst", p.Burst}, {"landing", p.Landing}} {
		fmt.Fprintf(&b, "<Placemark><name>%s</name><TimeStamp><when>%s</when></TimeStamp><Point><altitudeMode>absolute</altitudeMode><coordinates>%.6f,%.6f,%.1f</coordinates></Point></Placemark>\n",
			x.name, release.Add(time.Duration(x.at.Time*1e9)).UTC().Format("2006-01-02T15:04:05Z"), x.at.Longitude, x.at.Latitude, x.at.Height)
	}
	for _, ninetyFive := range []bool{false, true} {
		percent := 68
		if ninetyFive {
			percent = 95
		}
		fmt.Fprintf(&b, "<Placemark><name>landing, %d %% of trials</name><styleUrl>#area</styleUrl><Polygon><outerBoundaryIs><LinearRing><coordinates>\n", percent)
		outline := p.Ellipse.Outline(ninetyFive, 72)
		for i := range outline {
			q := outline[len(outline)-1-i]
			fmt.Fprintf(&b, "%.6f,%.6f,0\n", q.Longitude, q.Latitude)
		}
		b.WriteString("</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>\n")
	}
	b.WriteString("</Document>\n</kml>\n")
	return b.Bytes()
}
