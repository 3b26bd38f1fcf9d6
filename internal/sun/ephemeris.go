package sun

import "math"

// ephemeris is the low-precision theory of Meeus 1998 (Astronomical Algorithms,
// 2nd ed., chapters 12, 22 and 25), good to 0.01°.
func ephemeris(unix float64) place {
	days := (unix - 946728000) / 86400 // since J2000.0, UT
	t := (days + 69.0/86400) / 36525
	meanLongitude := 280.46646 + t*(36000.76983+t*0.0003032)
	anomaly := (357.52911 + t*(35999.05029-t*0.0001537)) * degree
	centre := (1.914602-t*(0.004817+t*0.000014))*math.Sin(anomaly) +
		(0.019993-t*0.000101)*math.Sin(2*anomaly) + 0.000289*math.Sin(3*anomaly)
	node := (125.04 - 1934.136*t) * degree
	longitude := (meanLongitude + centre - 0.00569 - 0.00478*math.Sin(node)) * degree
	obliquity := (23.439291 - t*0.0130042 + 0.00256*math.Cos(node)) * degree
	sinLon, cosLon := math.Sincos(longitude)
	sinObl, cosObl := math.Sincos(obliquity)
	sidereal := 280.46061837 + 360.98564736629*days - 0.00478*math.Sin(node)*cosObl
	ascension := math.Atan2(cosObl*sinLon, cosLon)
	return place{
		declination:   math.Asin(sinObl * sinLon),
		greenwichHour: math.Mod(sidereal, 360)*degree - ascension,
	}
}
