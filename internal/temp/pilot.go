package temp

import "math"

// pilotStandard reads PILOT Parts A and C: 44nPP or 55nPP, each with n winds at
// standard levels that follow one another, then the maximum wind.
func (b *body) pilotStandard() {
	levels := standardLevels(b.r.Part)
	for b.i < len(b.t) && (b.text(b.i)[0] == '4' || b.text(b.i)[:1] == "5") && !isIndicator(b.text(b.i)) {
		g := b.t[b.i]
		b.i++
		k, n := -1, 0
		if isGroup(g.text) && (g.text[:2] == "44" || g.text[:2] == "55") {
			for i, s := range levels {
				if s.figures == g.text[3:] {
					k = i
				}
			}
			n = int(g.text[2] - '0')
		}
		if k < 0 || n < 1 || n > 3 {
			for b.i < len(b.t) && windShaped(b.text(b.i)) {
				b.i++
			}
			b.r.find(g, joined(b.t[b.i-1:b.i]), CodeGarbled, "%q is no 44nPP or 55nPP group of standard levels: the winds after it have no level", joined([]token{g}))
			continue
		}
		for range n {
			if !windShaped(b.text(b.i)) {
				b.r.find(g, g.text, CodeMissing, "%d wind groups ought to follow, there are fewer", n)
				if b.i < len(b.t) && !b.pilotSectionAt(b.i) {
					b.r.find(b.t[b.i], joined(b.t[b.i:b.i+1]), CodeGarbled, "no wind can be read from this group")
					b.i++
					k++
					continue
				}
				break
			}
			if k >= len(levels) {
				b.r.find(b.t[b.i], b.text(b.i), CodeGarbled, "there is no standard level for this wind")
				b.i++
				continue
			}
			l := NewLevel(Standard)
			l.PressureHPa, l.Approximate = levels[k].pressureHPa, g.text[0] == '5'
			b.wind(&l, b.t[b.i])
			b.r.add(b.t[b.i], l)
			b.i++
			k++
		}
	}
	for b.i < len(b.t) {
		g := b.t[b.i]
		switch {
		case isIndicator(g.text):
			b.indicated()
		case g.text == "77999":
			b.r.NoMaximumWind = true
			b.i++
		case isGroup(g.text) && (g.text[0] == '7' || g.text[0] == '6'):
			l := NewLevel(MaximumWind)
			if g.text[0] == '6' {
				l.Kind = MaximumWindAtTop
			}
			// 77PPP and 66PPP give a pressure, 7HHHH and 6HHHH an altitude in tens of
			// metres; 60 km and more do not occur, so the second figure tells.
			if g.text[1] == g.text[0] {
				b.pressure(&l, g)
			} else if n, ok := figures(g.text[1:]); ok {
				l.HeightGpm = float64(n) * 10
			}
			b.i++
			b.maximumWindData(&l, g)
		default:
			start := b.i
			for b.i++; b.i < len(b.t) && !b.pilotSectionAt(b.i); b.i++ {
			}
			b.run(start, CodeGarbled, "no section can be read from these groups")
		}
	}
}

// pilotSectionAt reports a group that is no wind: the start of another section.
func (b *body) pilotSectionAt(i int) bool {
	g := b.text(i)
	return i >= len(b.t) || isIndicator(g) || isGroup(g) && g[0] >= '4' && g[0] <= '7'
}

// pilotSignificant reads PILOT Parts B and D: fixed regional altitudes, then
// significant levels after 21212.
//
// Fixed altitudes are 9tuuu in steps of 300 m, 8tuuu in steps of 500 m: t the tens
// of the number of steps, each u the unit for one of the winds that follow, "/"
// where there are fewer than three. 1tuuu goes on from 100 steps of 300 m. The
// step of 500 m is confirmed by a real bulletin, the others are from memory.
func (b *body) pilotSignificant() {
	for b.i < len(b.t) {
		g := b.t[b.i]
		switch {
		case g.text == "21212":
			b.i++
			b.pilotNumbered()
		case isIndicator(g.text):
			b.indicated()
		case isGroup(g.text) && (g.text[0] == '9' || g.text[0] == '8' || g.text[0] == '1') && g.text[1] != '/' && g.text[2] != '/':
			b.fixedAltitudes()
		default:
			start := b.i
			for b.i++; b.i < len(b.t) && !isIndicator(b.text(b.i)) && !(isGroup(b.text(b.i)) && b.text(b.i)[0] >= '8'); b.i++ {
			}
			b.run(start, CodeGarbled, "no section can be read from these groups")
		}
	}
}

func (b *body) fixedAltitudes() {
	g := b.t[b.i]
	b.i++
	step, tens := 300.0, int(g.text[1]-'0')
	switch g.text[0] {
	case '8':
		step = 500
	case '1':
		tens += 10
	}
	for _, u := range []byte(g.text[2:]) {
		if u == '/' {
			continue
		}
		if !windShaped(b.text(b.i)) || b.text(b.i) == "21212" {
			b.r.find(g, g.text, CodeMissing, "fewer wind groups follow than altitudes are given")
			return
		}
		l := NewLevel(FixedAltitude)
		if steps := tens*10 + int(u-'0'); steps == 0 {
			l.Kind = Surface
		} else {
			l.HeightGpm = float64(steps) * step
		}
		b.wind(&l, b.t[b.i])
		b.r.add(b.t[b.i], l)
		b.i++
	}
}

// pilotHabit remembers how the last Part B that could be told gave its significant winds:
// Part D of the same sounding does the same.
type pilotHabit struct {
	station    string
	day, hour  int
	byAltitude bool
}

// Altitudes that can stand in Parts B and D: those of 100 hPa lie between 14 and 17.5 km.
const (
	highestInB = 18_000
	lowestInD  = 14_000
	highestInD = 60_000
)

// pilotNumbered reads the significant winds, which are given either by pressure,
// nnPPP, or by altitude in tens of metres, nHHHH. The numbers tell: one figure
// counted up, or two equal ones; where both are possible, falling pressure or
// rising altitude that the part can hold does, and then Part B of the same sounding.
func (b *body) pilotNumbered() {
	start := b.i
	for b.i < len(b.t) && !(isIndicator(b.text(b.i)) && b.text(b.i) != "21212") {
		b.i++
	}
	t := b.t[start:b.i]
	if len(t) == 0 {
		b.r.find(b.t[start-1], "21212", CodeMissing, "no level follows")
		return
	}
	// fits counts the level groups that agree with one reading.
	fits := func(width int) (agree, levels int) {
		expected := byte('0')
		if b.r.Part == 'D' {
			expected = '1'
		}
		last := math.Inf(1)
		if width == 1 {
			last = -1
		}
		for i := 0; i < len(t); i += 2 {
			g := t[i].text
			levels++
			ok := isGroup(g) && g[0] == expected && (width == 1 || g[1] == expected)
			if ok {
				if n, isNumber := figures(g[width:]); isNumber && width == 1 {
					z := float64(n) * 10
					ok = z > last && z <= highestInD
					if b.r.Part == 'D' {
						ok = ok && z >= lowestInD
					} else {
						ok = ok && z <= highestInB
					}
					last = z
				} else if isNumber {
					p, _ := decodePressure(g[2:], b.r.Part.aboveHundred())
					ok = p < last
					last = p
				}
			}
			if ok {
				agree++
			}
			if expected++; expected > '9' {
				expected = '1'
			}
		}
		return agree, levels
	}
	byAltitude, levels := fits(1)
	byPressure, _ := fits(2)
	switch habit := (pilotHabit{b.r.Station, b.r.Day, b.r.Hour, byAltitude > byPressure}); {
	case byAltitude != byPressure:
		*b.pilot = habit
	case habit.station == b.pilot.station && habit.day == b.pilot.day && habit.hour == b.pilot.hour:
		if b.pilot.byAltitude {
			byAltitude++
		}
	default:
		b.r.find(t[0], joined(t), CodeAmbiguous, "these levels can be pressures or altitudes: taken as pressures")
	}
	if max(byAltitude, byPressure) < levels {
		b.r.find(t[0], joined(t), CodeOrder, "level numbers or heights are out of order: %d of %d levels fit", max(byAltitude, byPressure), levels)
	}
	for i := 0; i < len(t); i += 2 {
		g := t[i]
		if !isGroup(g.text) || g.text[0] == '/' {
			b.r.find(g, joined([]token{g}), CodeGarbled, "no level can be read from this group")
			continue
		}
		l := NewLevel(SignificantWind)
		if byAltitude > byPressure {
			l.Number = g.text[:1]
			if n, ok := figures(g.text[1:]); ok {
				l.HeightGpm = float64(n) * 10
			} else if g.text[1:] != "////" {
				b.r.find(g, g.text, CodeGarbled, "no altitude can be read from this group")
			}
			l.Gap = g.text[1:] == "////"
		} else {
			l.Number = g.text[:2]
			b.pressure(&l, g)
			l.Gap = g.text[2:] == "///"
		}
		if i+1 == len(t) {
			b.r.find(g, g.text, CodeMissing, "no wind group follows")
			l.Gap = false
		} else {
			b.wind(&l, t[i+1])
			l.Gap = l.Gap && t[i+1].text == "/////"
		}
		b.r.add(g, l)
	}
}
