// Package sun computes where the Sun stands in the sky of a balloon, for
// radiation corrections and for telling day from night at its height.
//
// Elevations are geometric: no refraction, because what matters at height is the
// direction the light comes from. Angles are degrees, azimuth clockwise from true
// north, north and east positive. NaN in gives NaN out.
package sun

import (
	"math"
	"time"
)

const (
	degree      = math.Pi / 180
	earthRadius = 6371e3 // m, mean radius: the horizon needs no better
)

// Position returns the geometric elevation and azimuth of the centre of the Sun
// in degrees at a time in seconds since 1970-01-01 UTC and a place in degrees.
func Position(unix, latitude, longitude float64) (elevation, azimuth float64) {
	e := ephemeris(unix)
	return e.from(latitude, longitude)
}

// PositionAt is Position for a time.Time of any zone.
func PositionAt(at time.Time, latitude, longitude float64) (elevation, azimuth float64) {
	return Position(unixSeconds(at), latitude, longitude)
}

func unixSeconds(at time.Time) float64 {
	return float64(at.Unix()) + 1e-9*float64(at.Nanosecond())
}

// place is where the Sun is above the Earth at one moment.
type place struct {
	declination   float64 // rad
	greenwichHour float64 // Greenwich hour angle, rad, west positive
}

func (p place) from(latitude, longitude float64) (elevation, azimuth float64) {
	sinDec, cosDec := math.Sincos(p.declination)
	return toHorizon(sinDec, cosDec, p.greenwichHour, latitude, longitude)
}

func toHorizon(sinDec, cosDec, greenwichHour, latitude, longitude float64) (elevation, azimuth float64) {
	sinLat, cosLat := math.Sincos(latitude * degree)
	sinHour, cosHour := math.Sincos(greenwichHour + longitude*degree)
	east := -cosDec * sinHour
	north := sinDec*cosLat - cosDec*cosHour*sinLat
	up := sinDec*sinLat + cosDec*cosHour*cosLat
	// Parallax lowers the Sun by 8.794″ times the cosine of its elevation.
	horizontal := math.Hypot(east, north)
	elevation = math.Atan2(up, horizontal)/degree - parallax*horizontal
	azimuth = math.Atan2(east, north) / degree
	if azimuth < 0 {
		azimuth += 360
	}
	return elevation, azimuth
}

const parallax = 8.794 / 3600 // degrees at one astronomical unit

// Column writes the elevation and azimuth at each sample of a flight: seconds
// since release, latitude and longitude, with the release in seconds since
// 1970-01-01 UTC. The ephemeris is evaluated once in ten minutes of flight and
// interpolated between (error below 1e-6°); the place is used at every sample.
func Column(elevation, azimuth []float64, release float64, seconds, latitude, longitude []float64) {
	const interval = 600.0
	var start, end place
	var hourRate, decRate float64
	block := math.Inf(-1)
	for i, s := range seconds {
		if math.IsNaN(s) || math.IsInf(s, 0) {
			elevation[i], azimuth[i] = math.NaN(), math.NaN()
			continue
		}
		if b := math.Floor(s/interval) * interval; b != block {
			block = b
			start, end = ephemeris(release+b), ephemeris(release+b+interval)
			hourRate = math.Mod(end.greenwichHour-start.greenwichHour+4*math.Pi, 2*math.Pi) / interval
			decRate = (end.declination - start.declination) / interval
		}
		dt := s - block
		sinDec, cosDec := math.Sincos(start.declination + decRate*dt)
		elevation[i], azimuth[i] = toHorizon(sinDec, cosDec, start.greenwichHour+hourRate*dt, latitude[i], longitude[i])
	}
}

// HorizonDip returns the angle in degrees by which the horizon lies below the
// horizontal at a height in m above sea level, without refraction:
// arccos(R/(R+h)) with R = 6,371 km. 0 at and below sea level.
func HorizonDip(height float64) float64 {
	if height <= 0 {
		return 0
	}
	return math.Acos(earthRadius/(earthRadius+height)) / degree
}

// SunVisible reports whether the centre of the Sun stands above the sea horizon
// seen from a height in m above sea level. It is false where either is NaN.
func SunVisible(elevation, height float64) bool {
	return elevation > -HorizonDip(height)
}
