package earth

import "math"

// WindFromUV returns the wind speed in m s⁻¹ and the direction in degrees the
// wind blows from, clockwise from true north, of an eastward component u and a
// northward component v. Direction is in (0, 360]: north is 360, and 0 is kept
// for calm (speed exactly zero), as in the international codes (WMO-No. 306,
// code table 0877). NaN in, NaN out.
func WindFromUV(u, v float64) (speed, direction float64) {
	speed = math.Hypot(u, v)
	if speed == 0 {
		return 0, 0
	}
	direction = math.Atan2(-u, -v) / degree
	if direction <= 0 {
		direction += 360
	}
	return speed, direction
}

// UVFromWind returns the eastward and northward components of a wind of a speed
// in m s⁻¹ from a direction in degrees. 0 and 360 both mean north; a speed of
// zero gives zero components whatever the direction, also where it is NaN.
func UVFromWind(speed, direction float64) (u, v float64) {
	if speed == 0 {
		return 0, 0
	}
	sin, cos := SinCosDegrees(direction)
	return -speed * sin, -speed * cos
}

// SinCosDegrees returns sine and cosine of an angle in degrees, exact at
// multiples of 90°.
func SinCosDegrees(angle float64) (sin, cos float64) {
	quarter := math.Round(angle / 90)
	rest := (angle - 90*quarter) * degree
	s, c := math.Sincos(rest)
	switch int64(math.Mod(quarter, 4)) & 3 {
	case 1:
		s, c = c, -s
	case 2:
		s, c = -s, -c
	case 3:
		s, c = -c, s
	}
	return s + 0, c + 0
}
