package sun

import "math"

// The Sun's apparent place by the algorithm of NREL/TP-560-34302 (Reda and
// Andreas, revised January 2008), whose authors state ±0.0003° for the years
// −2000 to 6000. Formula numbers below are those of the report.

// ephemeris holds the apparent place of the Sun's centre seen from the centre of
// the Earth at one moment; angles in rad.
type ephemeris struct {
	longitude   float64 // heliocentric longitude of the Earth L
	latitude    float64 // heliocentric latitude of the Earth B
	radius      float64 // distance in astronomical units
	nutation    float64 // in longitude, Δψ
	obliquity   float64 // true obliquity ε
	nodding     float64 // nutation in obliquity, Δε
	apparent    float64 // apparent longitude λ of the Sun
	ascension   float64 // right ascension α
	declination float64 // δ
	sidereal    float64 // apparent sidereal time at Greenwich ν
}

const julianEpoch = 2440587.5 // Julian day of 1970-01-01 00:00 UTC

// at returns the place at a time in seconds since 1970-01-01 UTC (taken for UT1,
// from which UTC is kept within 0.9 s: 0.004° of hour angle at worst).
func at(unix float64) ephemeris {
	return place(unix, deltaT(unix))
}

// place is at with a given difference TT − UT in seconds.
func place(unix, deltaT float64) ephemeris {
	day := (unix-946728000)/86400 + 0.0 // since J2000.0, UT
	century := day / 36525
	ephemerisCentury := (day + deltaT/86400) / 36525
	millennium := ephemerisCentury / 10

	var e ephemeris
	e.longitude = wrap(sumTerms(longitudeTerms, millennium)) // eq. 9–12
	e.latitude = sumTerms(latitudeTerms, millennium)
	e.radius = sumTerms(radiusTerms, millennium)
	e.nutation, e.nodding = nutation(ephemerisCentury)

	u := millennium / 10 // eq. 24
	mean := 84381.448 + u*(-4680.93+u*(-1.55+u*(1999.25+u*(-51.38+u*(-249.67+
		u*(-39.05+u*(7.12+u*(27.87+u*(5.79+u*2.45)))))))))
	e.obliquity = mean*arcsecond + e.nodding

	aberration := -20.4898 * arcsecond / e.radius                      // eq. 26
	e.apparent = wrap(e.longitude + math.Pi + e.nutation + aberration) // eq. 13, 27

	meanSidereal := 280.46061837 + 360.98564736629*day + // eq. 28
		century*century*(0.000387933-century/38710000)
	sinObl, cosObl := math.Sincos(e.obliquity)
	e.sidereal = wrap(math.Mod(meanSidereal, 360)*degree + e.nutation*cosObl) // eq. 29

	sinLon, cosLon := math.Sincos(e.apparent)
	sinLat, cosLat := math.Sincos(-e.latitude)                                 // eq. 14
	e.ascension = wrap(math.Atan2(sinLon*cosObl-sinLat/cosLat*sinObl, cosLon)) // eq. 30
	e.declination = math.Asin(sinLat*cosObl + cosLat*sinObl*sinLon)            // eq. 31
	return e
}

const arcsecond = degree / 3600

// wrap brings an angle into [0, 2π).
func wrap(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	return a
}

func sumTerms(powers [][]term, millennium float64) float64 {
	var total float64
	for k := len(powers) - 1; k >= 0; k-- {
		var sum float64
		for _, t := range powers[k] {
			sum += t.amplitude * math.Cos(t.phase+t.rate*millennium)
		}
		total = total*millennium + sum
	}
	return 1e-8 * total
}

// nutation returns Δψ and Δε in rad (eq. 15–23).
func nutation(c float64) (longitude, obliquity float64) {
	arguments := [5]float64{
		297.85036 + c*(445267.111480+c*(-0.0019142+c/189474)),
		357.52772 + c*(35999.050340+c*(-0.0001603-c/300000)),
		134.96298 + c*(477198.867398+c*(0.0086972+c/56250)),
		93.27191 + c*(483202.017538+c*(-0.0036825+c/327270)),
		125.04452 + c*(-1934.136261+c*(0.0020708+c/450000)),
	}
	for i := range arguments {
		arguments[i] = math.Mod(arguments[i], 360) * degree
	}
	for i := range nutationTerms {
		t := &nutationTerms[i]
		var a float64
		for k, m := range t.multiples {
			a += float64(m) * arguments[k]
		}
		sin, cos := math.Sincos(a)
		longitude += (t.sine + t.sineRate*c) * sin
		obliquity += (t.cosine + t.cosineRate*c) * cos
	}
	return 1e-4 * longitude * arcsecond, 1e-4 * obliquity * arcsecond
}

// deltaT returns TT − UT in seconds, from values at five to ten years' spacing
// (from memory, rounded to 0.1 s; 1 s wrong moves the Sun by 1e-5°) and constant
// outside them.
func deltaT(unix float64) float64 {
	year := 1970 + unix/(365.2425*86400)
	known := deltaTValues
	if !(year > known[0].year) {
		return known[0].seconds
	}
	for i := 1; i < len(known); i++ {
		if year <= known[i].year {
			a, b := known[i-1], known[i]
			return a.seconds + (b.seconds-a.seconds)*(year-a.year)/(b.year-a.year)
		}
	}
	return known[len(known)-1].seconds
}

var deltaTValues = []struct{ year, seconds float64 }{
	{1950, 29.1}, {1960, 33.2}, {1970, 40.2}, {1980, 50.5}, {1990, 56.9}, {2000, 63.8},
	{2005, 64.7}, {2010, 66.1}, {2015, 67.6}, {2020, 69.4}, {2025, 69.1},
}
