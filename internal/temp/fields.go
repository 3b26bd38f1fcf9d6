package temp

import (
	"math"
)

// standardLevel is a row of the table of standard isobaric levels.
type standardLevel struct {
	pressureHPa  float64
	figures      string // PP
	heightGpm    float64
	heightUnit   float64 // gpm of one unit of hhh
	windFigure   byte    // Id when this is the highest level with wind
	windSharesUp bool    // the next level up has the same Id
}

// Heights: ICAO standard atmosphere, rounded to whole metres. Id: table 1734.
var (
	standardA = []standardLevel{
		{1000, "00", 111, 1, '0', false}, {925, "92", 762, 1, '9', false}, {850, "85", 1457, 1, '8', false}, {700, "70", 3012, 1, '7', false},
		{500, "50", 5574, 10, '5', false}, {400, "40", 7185, 10, '4', false}, {300, "30", 9164, 10, '3', false},
		{250, "25", 10363, 10, '2', true}, {200, "20", 11784, 10, '2', false},
		{150, "15", 13608, 10, '1', true}, {100, "10", 16180, 10, '1', false},
	}
	standardC = []standardLevel{
		{70, "70", 18442, 10, '7', false}, {50, "50", 20576, 10, '5', false}, {30, "30", 23849, 10, '3', false},
		{20, "20", 26481, 10, '2', false}, {10, "10", 31055, 10, '1', false},
	}
)

func standardLevels(p Part) []standardLevel {
	if p.aboveHundred() {
		return standardC
	}
	return standardA
}

// isGroup reports five characters, each a figure or a solidus.
func isGroup(g string) bool {
	if len(g) != 5 {
		return false
	}
	for i := range 5 {
		if c := g[i]; c != '/' && (c < '0' || c > '9') {
			return false
		}
	}
	return true
}

// figures reads decimal figures; false where anything else stands there.
func figures(s string) (int, bool) {
	n := 0
	for i := range len(s) {
		c := s[i] - '0'
		if c > 9 {
			return 0, false
		}
		n = n*10 + int(c)
	}
	return n, len(s) > 0 && len(s) < 9
}

func allSolidus(s string) bool {
	for i := range len(s) {
		if s[i] != '/' {
			return false
		}
	}
	return true
}

// windShaped reports a group that can be ddfff: direction 00 to 36 or //.
func windShaped(g string) bool {
	if !isGroup(g) {
		return false
	}
	d, ok := figures(g[:2])
	return ok && d <= 36 || g[:2] == "//"
}

// decodePressure reads PPP. ok is false where it is neither figures nor solidi.
func decodePressure(ppp string, tenths bool) (hpa float64, ok bool) {
	if allSolidus(ppp) {
		return math.NaN(), true
	}
	n, ok := figures(ppp)
	switch {
	case !ok:
		return math.NaN(), false
	case tenths:
		return float64(n) / 10, n > 0
	case n < 100:
		n += 1000
	}
	return float64(n), true
}

// decodeTemperature reads TTTaDD: temperature by table 3931, depression by 0777.
func decodeTemperature(g string) (celsius, depression float64, ok bool) {
	celsius, depression, ok = math.NaN(), math.NaN(), isGroup(g)
	if !ok {
		return
	}
	if n, isNumber := figures(g[:3]); isNumber {
		celsius = float64(n) / 10
		if n%2 == 1 {
			celsius = -celsius
		}
	} else if !allSolidus(g[:3]) {
		ok = false
	}
	if n, isNumber := figures(g[3:]); isNumber {
		switch {
		case n <= 50:
			depression = float64(n) / 10
		case n >= 56:
			depression = float64(n - 50)
		default: // 51 to 55 are not used
			ok = false
		}
	} else if g[3:] != "//" {
		ok = false
	}
	return
}

// decodeWind reads ddfff. A direction that ends in 5 adds 500 to the speed.
func decodeWind(g string) (degrees, speed float64, ok bool) {
	degrees, speed, ok = math.NaN(), math.NaN(), isGroup(g)
	if !ok {
		return
	}
	five := 0
	if n, isNumber := figures(g[2:]); isNumber {
		if n >= 500 {
			n -= 500
			five = 5
		}
		speed = float64(n)
	} else if g[2:] != "///" {
		ok = false
	}
	if n, isNumber := figures(g[:2]); isNumber {
		d := n*10 + five
		switch {
		case d > 360:
			ok = false
		case d == 0 && speed != 0:
			degrees = 360 // north is 36 by the rules, but 00 is in use
		default:
			degrees = float64(d)
		}
	} else if g[:2] != "//" {
		ok = false
	}
	if !ok {
		degrees, speed = math.NaN(), math.NaN()
	}
	return
}

// decodeHeight reads hhh of a standard level: the value nearest to the standard
// atmosphere among those the three figures can mean. expected is the height that
// the level below and the temperatures give, NaN where there is none; it decides
// where the standard atmosphere is about equally far from two.
func decodeHeight(hhh string, s standardLevel, expected float64) (gpm float64, ok bool) {
	if allSolidus(hhh) {
		return math.NaN(), true
	}
	n, ok := figures(hhh)
	if !ok {
		return math.NaN(), false
	}
	if s.pressureHPa == 1000 {
		if n >= 500 {
			n = 500 - n
		}
		return float64(n), true
	}
	window := 1000 * s.heightUnit
	nearest := func(reference float64) float64 {
		h := float64(n) * s.heightUnit
		return h + window*math.Round((reference-h)/window)
	}
	gpm = nearest(s.heightGpm)
	if math.Abs(gpm-s.heightGpm) > 0.35*window && !math.IsNaN(expected) {
		gpm = nearest(expected)
	}
	return gpm, true
}

// roundHalfAway rounds after adding a hair, so that a decimal half that binary
// holds a little short of itself (0.15, 5.45) is still rounded away from zero.
func roundHalfAway(v float64) float64 {
	return math.Round(v + math.Copysign(1e-9, v))
}
