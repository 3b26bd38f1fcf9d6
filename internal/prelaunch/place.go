package prelaunch

import (
	"fmt"
	"math"

	"leadline/internal/earth"
)

// Place is a point on the ellipsoid in degrees.
type Place struct {
	Latitude  float64 `json:"latitude_deg"`
	Longitude float64 `json:"longitude_deg"`
}

// From returns the distance in m and the true bearing in degrees of a place seen from another.
func (p Place) From(origin Place) (distance, bearing float64) {
	distance, bearing, _ = earth.Inverse(origin.Latitude, origin.Longitude, p.Latitude, p.Longitude)
	return distance, bearing
}

var compass = [...]string{"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"}

// CompassPoint returns the point of sixteen nearest to a bearing in degrees.
func CompassPoint(bearing float64) string {
	if math.IsNaN(bearing) {
		return "–"
	}
	return compass[int(math.Floor(math.Mod(bearing+360+11.25, 360)/22.5))%16]
}

// TrueBearing returns the true bearing in degrees, in (0, 360], of a compass reading at a
// place with a magnetic declination in degrees, east positive. North is 360.
func TrueBearing(reading, declination float64) float64 {
	b := math.Mod(reading+declination, 360)
	if b <= 0 {
		b += 360
	}
	return b
}

// Words says where a place is seen from another: "42.3 km ENE (071°)".
func (p Place) Words(origin Place) string {
	d, b := p.From(origin)
	return fmt.Sprintf("%.1f km %s (%03.0f°)", d/1000, CompassPoint(b), math.Mod(math.Round(b), 360))
}

// metric turns metres into degrees at a latitude and height, on WGS-84.
type metric struct{ perNorth, perEast float64 }

// metricAt returns degrees of latitude and longitude per metre north and east.
func metricAt(latitude, height float64) metric {
	s, c := math.Sincos(latitude * math.Pi / 180)
	w := 1 - earth.EccentricitySquared*s*s
	normal := earth.SemiMajorAxis / math.Sqrt(w)
	meridian := normal * (1 - earth.EccentricitySquared) / w
	const degrees = 180 / math.Pi
	return metric{degrees / (meridian + height), degrees / ((normal + height) * math.Max(c, 1e-6))}
}

// wrap brings a longitude into [−180, 180].
func wrap(longitude float64) float64 {
	if longitude > 180 {
		return longitude - 360
	}
	if longitude < -180 {
		return longitude + 360
	}
	return longitude
}
