package truth

import (
	"math"
	"time"
)

const radian = math.Pi / 180

// sunElevation returns the geometric elevation of the sun's centre in degrees by the
// low-precision formulas of the Astronomical Almanac (section C; coefficients from
// memory), good to 0.02° between 1950 and 2050.
func sunElevation(at time.Time, latitude, longitude float64) float64 {
	n := float64(at.UnixNano()-j2000) / 86400e9
	mean := 280.460 + 0.9856474*n
	anomaly := (357.528 + 0.9856003*n) * radian
	ecliptic := (mean + 1.915*math.Sin(anomaly) + 0.020*math.Sin(2*anomaly)) * radian
	obliquity := (23.439 - 4e-7*n) * radian
	sinE, cosE := math.Sincos(ecliptic)
	ascension := math.Atan2(math.Cos(obliquity)*sinE, cosE)
	declination := math.Asin(math.Sin(obliquity) * sinE)
	// Greenwich mean sidereal time in degrees, n in days from 2000-01-01 12:00.
	sidereal := 280.46062 + 360.98564737*n
	hour := (math.Mod(sidereal+longitude, 360))*radian - ascension
	lat := latitude * radian
	return math.Asin(math.Sin(lat)*math.Sin(declination)+math.Cos(lat)*math.Cos(declination)*math.Cos(hour)) / radian
}

// j2000 is 2000-01-01 12:00 UTC in Unix nanoseconds.
var j2000 = time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC).UnixNano()
