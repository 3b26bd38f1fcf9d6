package earth

import "math"

// Displacement returns the eastward and northward metres from a first to a
// second position (degrees, degrees, metres above the ellipsoid), measured at
// their mean height: at 30 km a degree is 0.47 % longer than on the ground, and
// a wind that ignores it is 0.47 % too slow. The metric is that of the meridian
// and prime-vertical radii at the middle latitude; for steps of 1 to 60 s it
// stays within 1 mm of the geodesic between the points. Poleward of 70° the
// chord is projected on the middle point's east and north instead, so a balloon
// that crosses the pole keeps a finite wind. Longitudes may cross ±180°.
//
// A NaN latitude or height gives NaN for both; a NaN longitude may leave north.
func Displacement(lat1, lon1, height1, lat2, lon2, height2 float64) (east, north float64) {
	middle := 0.5 * (lat1 + lat2)
	if math.Abs(middle) > polarMetric {
		return polarDisplacement(lat1, lon1, height1, lat2, lon2, height2)
	}
	sin, cos := math.Sincos(middle * degree)
	height := 0.5 * (height1 + height2)
	w2 := 1 - EccentricitySquared*sin*sin
	primeVertical := SemiMajorAxis / math.Sqrt(w2)
	meridian := primeVertical * (1 - EccentricitySquared) / w2
	north = (meridian + height) * (lat2 - lat1) * degree
	east = (primeVertical + height) * cos * longitudeDifference(lon1, lon2) * degree
	return east, north
}

// polarMetric is the latitude in degrees where the middle-latitude metric, whose
// error grows with the square of the tangent of latitude, gives way to the chord.
const polarMetric = 70

// DisplacementColumn writes Displacement from each sample to the sample `step`
// rows later into east[i] and north[i]; the last step rows are NaN. All slices
// have one length.
func DisplacementColumn(east, north, lat, lon, height []float64, step int) {
	n := len(lat)
	for i := range n {
		if j := i + step; j < n {
			east[i], north[i] = Displacement(lat[i], lon[i], height[i], lat[j], lon[j], height[j])
		} else {
			east[i], north[i] = math.NaN(), math.NaN()
		}
	}
}

// polarDisplacement projects the straight chord between the points, both taken
// at the mean height, on the east and north directions halfway between them.
func polarDisplacement(lat1, lon1, height1, lat2, lon2, height2 float64) (east, north float64) {
	height := 0.5 * (height1 + height2)
	x1, y1, z1 := Cartesian(lat1, lon1, height)
	x2, y2, z2 := Cartesian(lat2, lon2, height)
	mx, my, mz := x1+x2, y1+y2, z1+z2
	lon := math.Atan2(my, mx)
	// The geodetic latitude of the middle from its geocentric direction.
	sin := math.Sin(0.5 * (lat1 + lat2) * degree)
	primeVertical := SemiMajorAxis / math.Sqrt(1-EccentricitySquared*sin*sin)
	lat := math.Atan2(mz, math.Hypot(mx, my)*(1-EccentricitySquared*primeVertical/(primeVertical+height)))
	sinLat, cosLat := math.Sincos(lat)
	sinLon, cosLon := math.Sincos(lon)
	dx, dy, dz := x2-x1, y2-y1, z2-z1
	east = -sinLon*dx + cosLon*dy
	north = -sinLat*cosLon*dx - sinLat*sinLon*dy + cosLat*dz
	return east, north
}

// Cartesian returns the Earth-centred, Earth-fixed coordinates in metres of a
// point in degrees, degrees and metres above the ellipsoid.
func Cartesian(lat, lon, heightEllipsoid float64) (x, y, z float64) {
	sinLat, cosLat := SinCosDegrees(lat)
	sinLon, cosLon := SinCosDegrees(lon)
	primeVertical := SemiMajorAxis / math.Sqrt(1-EccentricitySquared*sinLat*sinLat)
	x = (primeVertical + heightEllipsoid) * cosLat * cosLon
	y = (primeVertical + heightEllipsoid) * cosLat * sinLon
	z = (primeVertical*(1-EccentricitySquared) + heightEllipsoid) * sinLat
	return x, y, z
}

// longitudeDifference returns lon2 − lon1 in [−180, 180].
func longitudeDifference(lon1, lon2 float64) float64 {
	d := lon2 - lon1
	if d < -180 || d > 180 {
		d = math.Remainder(d, 360)
	}
	return d
}
