// Package sun computes where the Sun stands in the sky of a balloon, for
// radiation corrections and for telling day from night at its height.
//
// Elevations are geometric: no refraction, because what matters at height is the
// direction the light comes from (Refraction gives what an observer on the ground
// would see besides). Angles are degrees, azimuth clockwise from true north,
// north and east positive. NaN in gives NaN out.
//
// Accuracy: the algorithm is that of NREL/TP-560-34302, ±0.0003°; taking UTC for
// UT1 adds up to 0.004° of hour angle.
package sun

import (
	"math"
	"time"
)

const (
	degree      = math.Pi / 180
	earthRadius = 6371e3 // m, mean radius: the horizon needs no better

	// eccentricitySquared of the WGS-84 ellipsoid, for the parallax only.
	eccentricitySquared = 0.00669437999014
)

// Position returns the geometric elevation and azimuth of the centre of the Sun
// in degrees at a time in seconds since 1970-01-01 UTC and a place in degrees.
func Position(unix, latitude, longitude float64) (elevation, azimuth float64) {
	if math.IsInf(unix, 0) {
		return math.NaN(), math.NaN()
	}
	return at(unix).seen().from(latitude, longitude)
}

// PositionAt is Position for a time.Time of any zone.
func PositionAt(at time.Time, latitude, longitude float64) (elevation, azimuth float64) {
	return Position(unixSeconds(at), latitude, longitude)
}

func unixSeconds(at time.Time) float64 {
	return float64(at.Unix()) + 1e-9*float64(at.Nanosecond())
}

// direction is where the Sun is above the turning Earth at one moment.
type direction struct {
	declination   float64 // rad
	greenwichHour float64 // Greenwich hour angle in rad, west positive
	parallax      float64 // rad, of an observer at the Earth's radius
}

func (e ephemeris) seen() direction {
	return direction{e.declination, e.sidereal - e.ascension, 8.794 * arcsecond / e.radius}
}

// from returns elevation and azimuth in degrees seen from a place in degrees.
func (d direction) from(latitude, longitude float64) (elevation, azimuth float64) {
	sinLat, cosLat := math.Sincos(latitude * degree)
	sinDec, cosDec := math.Sincos(d.declination)
	sinHour, cosHour := math.Sincos(d.greenwichHour + longitude*degree)
	east := -cosDec * sinHour
	north := sinDec*cosLat - cosDec*cosHour*sinLat
	up := sinDec*sinLat + cosDec*cosHour*cosLat
	// Take the observer's place off, in units of the Sun's distance. Its height
	// is left out: 40 km moves the Sun by 2e-5°.
	root := math.Sqrt(1 - eccentricitySquared*sinLat*sinLat)
	north += d.parallax * eccentricitySquared * sinLat * cosLat / root
	up -= d.parallax * root
	elevation = math.Atan2(up, math.Sqrt(east*east+north*north)) / degree
	azimuth = math.Atan2(east, north) / degree
	if azimuth < 0 {
		azimuth += 360
	}
	return elevation, azimuth
}

// Column writes the elevation and azimuth at each sample of a flight: seconds
// since release, latitude and longitude in degrees, with the release in seconds
// since 1970-01-01 UTC. The ephemeris is evaluated once in ten minutes of flight
// and interpolated (error below 1e-6°); the place is used at every sample. All
// slices have one length.
func Column(elevation, azimuth []float64, release float64, seconds, latitude, longitude []float64) {
	const interval = 600.0
	var start, now direction
	var hourRate, declinationRate float64
	block := math.Inf(-1)
	for i, s := range seconds {
		if math.IsNaN(s) || math.IsInf(s, 0) {
			elevation[i], azimuth[i] = math.NaN(), math.NaN()
			continue
		}
		if b := math.Floor(s/interval) * interval; b != block {
			block = b
			start = at(release + b).seen()
			end := at(release + b + interval).seen()
			hourRate = wrap(end.greenwichHour-start.greenwichHour) / interval
			declinationRate = (end.declination - start.declination) / interval
			now = start
		}
		now.declination = start.declination + declinationRate*(s-block)
		now.greenwichHour = start.greenwichHour + hourRate*(s-block)
		elevation[i], azimuth[i] = now.from(latitude[i], longitude[i])
	}
}

// HorizonDip returns the angle in degrees by which the sea horizon lies below the
// horizontal at a height in m above sea level, without refraction:
// arccos(R/(R+h)) with R = 6,371 km. 0 at and below sea level.
func HorizonDip(height float64) float64 {
	if height <= 0 {
		return 0
	}
	return math.Acos(earthRadius/(earthRadius+height)) / degree
}

// SunVisible reports whether the centre of the Sun, at a geometric elevation in
// degrees, stands above the sea horizon seen from a height in m above sea level.
// It is false where either is NaN.
func SunVisible(elevation, height float64) bool {
	return elevation > -HorizonDip(height)
}

// Refraction returns by how many degrees the Sun appears higher than its
// geometric elevation in degrees, for an observer at a pressure in hPa and a
// temperature in K (eq. 42 of NREL/TP-560-34302). 0 where the Sun's upper limb is
// below the refracted horizon.
func Refraction(elevation, pressure, temperature float64) float64 {
	if elevation < -(sunRadius + horizonRefraction) {
		return 0
	}
	return pressure / 1010 * 283 / temperature * 1.02 /
		(60 * math.Tan((elevation+10.3/(elevation+5.11))*degree))
}

const (
	sunRadius         = 0.26667 // degrees, mean semi-diameter
	horizonRefraction = 0.5667  // degrees at sea level
)
