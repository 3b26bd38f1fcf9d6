package sun

import (
	"math"
	"testing"
	"time"

	"leadline/internal/authority"
)

// The worked example of NREL/TP-560-34302, table A5.1: every quantity of it that
// this package computes, at the tolerance of the row.
func TestAuthority(t *testing.T) {
	const (
		latitude, longitude = 39.742476, -105.1786
		pressure            = 820.0      // hPa
		temperature         = 273.0 + 11 // K, with the report's 273
	)
	local := time.FixedZone("UTC-7", -7*3600)
	when := time.Date(2003, 10, 17, 12, 30, 30, 0, local)
	unix := unixSeconds(when)
	e := place(unix, 67)
	elevation, azimuth := e.seen().from(latitude, longitude)
	zenith := 90 - elevation - Refraction(elevation, pressure, temperature)
	hours := func(at time.Time) float64 {
		at = at.In(local)
		return float64(at.Hour()) + float64(at.Minute())/60 + (float64(at.Second())+1e-9*float64(at.Nanosecond()))/3600
	}
	day := RiseTransitSet(when, latitude, longitude)

	// Topocentric right ascension, declination and hour angle back from the
	// horizontal direction, by spherical trigonometry.
	sinLat, cosLat := math.Sincos(latitude * degree)
	sinEl, cosEl := math.Sincos(elevation * degree)
	sinAz, cosAz := math.Sincos(azimuth * degree)
	declination := math.Asin(sinEl*sinLat + cosEl*cosAz*cosLat)
	hour := math.Atan2(-cosEl*sinAz, sinEl*cosLat-cosEl*cosAz*sinLat)
	ascension := wrap(e.sidereal + longitude*degree - hour)

	// Incidence on a surface of 30° slope turned 10° to the east of south.
	incidence := math.Acos(math.Cos(zenith*degree)*math.Cos(30*degree) +
		math.Sin(30*degree)*math.Sin(zenith*degree)*math.Cos((azimuth-180+10)*degree))

	answers := map[string]float64{
		"SUN-01": julianEpoch + unix/86400,
		"SUN-02": ascension / degree,
		"SUN-03": declination / degree,
		"SUN-04": hour / degree,
		"SUN-05": zenith,
		"SUN-06": azimuth,
		"SUN-07": incidence / degree,
		"SUN-08": hours(day.Rise),
		"SUN-09": hours(day.Transit),
		"SUN-10": hours(day.Set),
		"SUN-11": e.longitude / degree,
		"SUN-12": e.latitude / degree,
		"SUN-13": e.radius,
		"SUN-14": e.nutation / degree,
		"SUN-15": e.nodding / degree,
		"SUN-16": e.obliquity / degree,
		"SUN-17": e.apparent / degree,
		"SUN-18": e.ascension / degree,
		"SUN-19": e.declination / degree,
		"SUN-20": HorizonDip(30e3),
		"SUN-21": HorizonDip(10e3),
	}
	authority.Run(t, "sun", func(t *testing.T, row authority.Row) {
		got, ok := answers[row.ID]
		if !ok {
			t.Fatalf("no answer for %s", row.ID)
		}
		row.Check(t, got)
	})
}
