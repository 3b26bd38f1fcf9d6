package temp

import "math"

// marsdenSquare returns the number of the 10-degree square and the unit figures
// of latitude and longitude, from whole degrees (towards zero) and hemispheres.
//
// Squares count westward from the Greenwich meridian, 36 a band: 1 to 288 from
// the equator to 80° north, 901 to 936 beyond; 300 to 623 from the equator to the
// south pole. From memory.
func marsdenSquare(latitude, longitude int, south, west bool) (square, unitLatitude, unitLongitude int) {
	band := min(latitude/10, 8)
	column := 35 - min(longitude/10, 17)
	if west {
		column = min(longitude/10, 18)
	}
	switch {
	case south:
		square = 300 + 36*band + column
	case band == 8:
		square = 901 + column
	default:
		square = 1 + 36*band + column
	}
	return square, latitude % 10, longitude % 10
}

// position reads 99LaLaLa QcLoLoLoLo MMMULaULo.
func (r *Report) position(latitude, longitude, square token) {
	la, okLa := 0, false
	if len(latitude.text) == 5 && latitude.text[:2] == "99" {
		la, okLa = figures(latitude.text[2:])
	}
	if !okLa || la > 900 {
		r.find(latitude, joined([]token{latitude}), CodeGarbled, "no latitude can be read from this group, expected 99 and tenths of a degree up to 900")
		okLa = false
	}
	lo, okLo := 0, false
	quadrant := byte(0)
	if len(longitude.text) == 5 {
		quadrant = longitude.text[0]
		lo, okLo = figures(longitude.text[1:])
	}
	if !okLo || lo > 1800 || quadrant != '1' && quadrant != '3' && quadrant != '5' && quadrant != '7' {
		r.find(longitude, joined([]token{longitude}), CodeGarbled, "no longitude can be read from this group, expected 1, 3, 5 or 7 and tenths of a degree up to 1800")
		okLo = false
	}
	if !okLa || !okLo {
		return
	}
	south := quadrant == '3' || quadrant == '5'
	west := quadrant == '5' || quadrant == '7'
	r.LatitudeDegrees = math.Copysign(float64(la)/10, sign(south))
	r.LongitudeDegrees = math.Copysign(float64(lo)/10, sign(west))
	m, a, o := marsdenSquare(la/10, lo/10, south, west)
	if n, ok := figures(square.text); !ok || len(square.text) != 5 {
		r.find(square, joined([]token{square}), CodeGarbled, "the Marsden square group is not five figures")
	} else if n != m*100+a*10+o {
		r.find(square, square.text, CodePosition, "the Marsden square group does not fit the position %.1f, %.1f degrees, which lies in %03d%d%d", r.LatitudeDegrees, r.LongitudeDegrees, m, a, o)
	}
}

func sign(negative bool) float64 {
	if negative {
		return -1
	}
	return 1
}

// elevation reads h0h0h0h0im of a mobile station.
func (r *Report) elevation(g token) {
	if allSolidus(g.text) {
		return
	}
	n, ok := figures(g.text)
	im := n % 10
	if !ok || len(g.text) != 5 || im == 0 || im == 9 {
		r.find(g, joined([]token{g}), CodeGarbled, "no elevation can be read from this group, expected four figures and 1 to 8")
		return
	}
	r.ElevationMeters, r.ElevationConfidence = float64(n/10), im
	if im >= 5 {
		r.ElevationMeters *= 0.3048
	}
}
