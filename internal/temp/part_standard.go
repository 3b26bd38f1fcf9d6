package temp

import "math"

// standard reads TEMP Parts A and C: surface, standard levels, tropopause,
// maximum wind and what follows.
func (b *body) standard() {
	after := -1
	if b.r.Part == 'A' {
		after = b.surface()
	}
	b.standardFrom(after)
	b.sections()
	b.checkIndicator()
}

// levelAt returns the index of the standard level that group i may begin, which
// must lie above the level after; -1 where it is none.
func (b *body) levelAt(i, after int) int {
	g := b.text(i)
	if len(g) != 5 || !isGroup(g) {
		return -1
	}
	levels := standardLevels(b.r.Part)
	for k := after + 1; k < len(levels); k++ {
		if levels[k].figures == g[:2] {
			if _, ok := decodeHeight(g[2:], levels[k], math.NaN()); ok {
				return k
			}
		}
	}
	return -1
}

// sectionAt reports that group i may begin a later section, or is the end.
func (b *body) sectionAt(i int) bool {
	if i >= len(b.t) {
		return true
	}
	g := b.t[i].text
	if isIndicator(g) && g != "21212" {
		return true
	}
	if len(g) != 5 || g[:2] != "88" && g[:2] != "77" && g[:2] != "66" {
		return false
	}
	return isFigures(g[2:]) || g[2:] == "///"
}

// sectionSurelyAt asks more than sectionAt: 88, 77 and 66 are also temperatures of
// the upper air, so what follows must fit as well.
func (b *body) sectionSurelyAt(i int) bool {
	if !b.sectionAt(i) {
		return false
	}
	g := b.text(i)
	if i >= len(b.t) || isIndicator(g) {
		return true
	}
	if g[2:] == "999" && g[:2] != "66" {
		return b.sectionAt(i + 1)
	}
	if g[:2] == "88" {
		return isGroup(b.text(i+1)) && (b.sectionAt(i+2) || windShaped(b.text(i+2)) && b.sectionAt(i+3))
	}
	return windShaped(b.text(i+1)) && (b.sectionAt(i+2) || len(b.text(i+2)) == 5 && b.text(i + 2)[0] == '4' && b.sectionAt(i+3))
}

// dataGroups returns how many groups follow the level group i before the next
// level or section: 2 with wind, 1 without, 0 for none; -1 where nothing fits.
// after is the index of that level, expected what the indicator figure promises.
func (b *body) dataGroups(i, after, expected int) int {
	for pass := range 4 {
		adjacent, shaped := pass%2 == 0, pass < 2
		for _, n := range [3]int{expected, 3 - expected, 0} {
			next := i + 1 + n
			if next > len(b.t) || n == 0 && pass > 0 {
				continue
			}
			if shaped && (n >= 1 && !isGroup(b.text(i+1)) || n == 2 && !windShaped(b.text(i+2))) {
				continue
			}
			if b.sectionAt(next) {
				return n
			}
			if k := b.levelAt(next, after); k == after+1 || k > after && !adjacent {
				return n
			}
		}
	}
	return -1
}

// windExpected returns 2 where the indicator figure promises a wind group at
// level k, else 1.
func (b *body) windExpected(k int) int {
	levels := standardLevels(b.r.Part)
	top := -1
	for n, s := range levels {
		if s.windFigure == b.r.Indicator {
			top = n
		}
	}
	if k <= top || b.r.Indicator == 0 {
		return 2
	}
	return 1
}

// surface reads 99PPP TTTaDD ddfff and returns the index of the standard level
// before the first that is expected.
func (b *body) surface() int {
	g := b.t[0]
	if len(g.text) != 5 || g.text[:2] != "99" || !isGroup(g.text) {
		b.r.find(g, joined([]token{g}), CodeMissing, "the surface group 99PPP ought to stand here")
		// A garbled surface group still has its two companions.
		if b.levelAt(3, -1) >= 0 && b.levelAt(0, -1) < 0 {
			l := NewLevel(Surface)
			b.temperature(&l, b.t[1])
			b.wind(&l, b.t[2])
			b.r.add(g, l)
			b.i = 3
		}
		return -1
	}
	l := NewLevel(Surface)
	b.pressure(&l, g)
	// Levels below the ground are given by most, left out by some: the first one
	// expected is 1000 hPa or the first above the surface.
	after := -1
	first := b.firstAbove(l.PressureHPa)
	n := -1
	for _, want := range [3]int{2, 1, 0} {
		for _, try := range [2]int{-1, first - 1} {
			next := 1 + want
			fits := want < 1 || isGroup(b.text(1))
			fits = fits && (want < 2 || windShaped(b.text(2)))
			if k := b.levelAt(next, try); fits && n < 0 && next <= len(b.t) && (k >= 0 && k == try+1 || b.sectionAt(next)) {
				n, after = want, try
			}
		}
	}
	if n < 0 {
		n = b.dataGroups(0, -1, 2)
	}
	b.i = 1
	b.data(&l, g, n, true)
	b.r.add(g, l)
	return after
}

func (b *body) firstAbove(hpa float64) int {
	for k, s := range standardA {
		if s.pressureHPa <= hpa {
			return k
		}
	}
	return 0
}

// data reads n data groups (-1: as many as are shaped so) at b.i into l.
func (b *body) data(l *Level, at token, n int, windPromised bool) {
	switch n {
	case 0:
		b.r.find(at, at.text, CodeMissing, "no temperature group and no wind group follow")
		return
	case 1:
		g := b.t[b.i]
		b.i++
		if windPromised && windShaped(g.text) && !allSolidus(g.text) {
			b.r.find(g, g.text, CodeAmbiguous, "one of temperature and wind is missing and this group could be either: it is not used")
			return
		}
		b.temperature(l, g)
		if windPromised {
			b.r.find(at, at.text, CodeMissing, "no wind group follows, though the head promises one")
		}
		return
	case 2:
		b.temperature(l, b.t[b.i])
		b.wind(l, b.t[b.i+1])
		b.i += 2
		return
	}
	if b.i < len(b.t) && isGroup(b.text(b.i)) {
		b.temperature(l, b.t[b.i])
		b.i++
		if b.i < len(b.t) && windPromised && windShaped(b.text(b.i)) {
			b.wind(l, b.t[b.i])
			b.i++
		}
	}
}

// standardFrom reads standard levels from b.i on, the first one above index after.
func (b *body) standardFrom(after int) {
	levels := standardLevels(b.r.Part)
	below := NewLevel(Standard) // the level read before, for the height of the next
	for b.i < len(b.t) && !b.sectionAt(b.i) {
		g := b.t[b.i]
		k := b.levelAt(b.i, after)
		if k < 0 {
			// A garbled level group between the level before and the one after next
			// still has its data.
			if n := b.garbledLevel(after); n > 0 {
				b.r.find(g, joined([]token{g}), CodeGarbled, "this stands where the %g hPa group ought to: its height is lost", levels[after+1].pressureHPa)
				after++
				l := NewLevel(Standard)
				l.PressureHPa = levels[after].pressureHPa
				b.i++
				b.data(&l, g, n, b.windExpected(after) == 2 && !levels[max(after-1, 0)].windSharesUp)
				below = l
				b.r.add(g, l)
				continue
			}
			start := b.i
			for b.i++; b.i < len(b.t); b.i++ {
				if b.sectionSurelyAt(b.i) {
					break
				}
				if k := b.levelAt(b.i, after); k >= 0 && b.dataGroups(b.i, k, b.windExpected(k)) > 0 {
					break
				}
			}
			b.run(start, CodeGarbled, "no standard level can be read from these groups")
			continue
		}
		if after >= 0 && k > after+1 {
			b.r.find(g, g.text, CodeMissing, "the %g hPa level is missing before this group", levels[after+1].pressureHPa)
		}
		l := NewLevel(Standard)
		l.PressureHPa = levels[k].pressureHPa
		expected := b.windExpected(k)
		n := b.dataGroups(b.i, k, expected)
		b.i++
		// Figures 2 and 1 stand for two levels; whether the upper has wind cannot be told from them.
		promised := expected == 2 && b.r.Indicator != 0 && !(k > 0 && levels[k-1].windSharesUp)
		b.data(&l, g, n, promised)
		l.HeightGpm, _ = decodeHeight(g.text[2:], levels[k], thickness(below, l))
		below = l
		after = k
		b.r.add(g, l)
	}
}

// garbledLevel returns the number of data groups of the level after+1 where the
// group at b.i is no level group but the one two or three places on begins level
// after+2; 0 otherwise.
func (b *body) garbledLevel(after int) int {
	if after < 0 || after+2 >= len(standardLevels(b.r.Part)) {
		return 0
	}
	for _, n := range [2]int{b.windExpected(after + 1), 3 - b.windExpected(after+1)} {
		if isGroup(b.text(b.i+1)) && (n == 1 || windShaped(b.text(b.i+2))) && b.levelAt(b.i+1+n, after) == after+2 {
			return n
		}
	}
	return 0
}

// thickness returns the height of level l by the thickness of the layer above
// the level below it, NaN where a value is missing.
func thickness(below, l Level) float64 {
	// 29.27 m/K is R/g of dry air.
	mean := 273.15 + (below.TemperatureCelsius+l.TemperatureCelsius)/2
	return below.HeightGpm + 29.27*mean*math.Log(below.PressureHPa/l.PressureHPa)
}

// checkIndicator compares Id with the highest standard level that has wind.
func (b *body) checkIndicator() {
	if b.r.Indicator == 0 || len(b.r.Levels) == 0 {
		return
	}
	levels := standardLevels(b.r.Part)
	highest := byte('/')
	for _, l := range b.r.Levels {
		for _, s := range levels {
			if l.Kind == Standard && l.PressureHPa == s.pressureHPa && !math.IsNaN(l.WindSpeed) {
				highest = s.windFigure
			}
		}
	}
	if highest != b.r.Indicator {
		b.r.find(token{line: b.r.Line, column: b.r.Column}, string(b.r.Indicator), CodeIndicator,
			"the head gives %q for the highest standard level with wind, the groups give %q", b.r.Indicator, highest)
	}
}
