package temp

import "math"

// labelAfter returns the level number that follows: 00, 11 to 99, then 11 again.
func labelAfter(label string) string {
	switch label {
	case "99":
		return "11"
	case "":
		return "00"
	}
	c := label[0] + 1
	return string([]byte{c, c})
}

// isLabel reports nnPPP with two equal figures and a pressure or solidi.
func isLabel(g string) bool {
	return isGroup(g) && g[0] == g[1] && g[0] != '/' && (isFigures(g[2:]) || g[2:] == "///")
}

func hasLabel(g, label string) bool { return isLabel(g) && g[:2] == label }

// significant reads TEMP Parts B and D.
func (b *body) significant() {
	if !b.endsSection(b.i) {
		b.numbered(SignificantTemperature)
	}
	for b.i < len(b.t) {
		g := b.t[b.i]
		switch {
		case g.text == "21212":
			b.i++
			if b.i == len(b.t) || b.endsSection(b.i) {
				b.r.find(g, g.text, CodeMissing, "no level follows")
				continue
			}
			b.numbered(SignificantWind)
		case isIndicator(g.text):
			b.indicated()
		default:
			start := b.i
			for b.i++; b.i < len(b.t) && !isIndicator(b.t[b.i].text); b.i++ {
			}
			b.run(start, CodeGarbled, "no section can be read from these groups")
		}
	}
}

// endsSection reports the end of the report or a section indicator at i.
func (b *body) endsSection(i int) bool {
	return i >= len(b.t) || isIndicator(b.t[i].text)
}

// labelFits reports that group i is the level with that number, or ends the section.
func (b *body) labelFits(i int, label string) bool {
	return b.endsSection(i) || hasLabel(b.text(i), label)
}

// numbered reads pairs of nnPPP and one data group to the end of the section.
func (b *body) numbered(kind Kind) {
	label := "00"
	if b.r.Part == 'D' {
		label = "11"
	}
	pressure, first := math.Inf(1), true
	// "nn/// /////" is a group of its own and must not be taken for an indicator.
	for b.i < len(b.t) {
		g := b.t[b.i]
		if b.endsSection(b.i) {
			return
		}
		if !hasLabel(g.text, label) {
			start := b.i
			if first && hasLabel(g.text, "11") && b.labelFits(b.i+2, "22") {
				b.r.find(g, g.text, CodeMissing, "the surface level 00 is missing before this group")
				label = "11"
				continue
			}
			found := false
			for j := b.i; j < len(b.t) && !found; j++ {
				if j > b.i && b.endsSection(j) {
					break
				}
				if next := b.text(j); isLabel(next) && j+1 < len(b.t) && next[:2] != "00" && b.labelFits(j+2, labelAfter(next[:2])) {
					b.i, label, found = j, next[:2], true
				}
			}
			switch {
			case found && b.i == start:
				b.r.find(g, g.text, CodeMissing, "level numbers jump to %s before this group", label)
			case found:
				b.run(start, CodeGarbled, "no level can be read from these groups")
			default:
				for b.i++; b.i < len(b.t) && !b.endsSection(b.i); b.i++ {
				}
				b.run(start, CodeGarbled, "no level can be read from these groups")
				return
			}
			continue
		}
		l := NewLevel(kind)
		l.Number = label
		b.pressure(&l, g)
		next := labelAfter(label)
		switch {
		case b.labelFits(b.i+2, next) && b.i+1 < len(b.t):
			b.one(&l, b.t[b.i+1])
			b.i += 2
		case b.labelFits(b.i+1, next) && (b.endsSection(b.i+1) || b.labelFits(b.i+3, labelAfter(next))):
			b.r.find(g, g.text, CodeMissing, "no data group follows")
			b.i++
		case isGroup(b.text(b.i + 1)):
			b.one(&l, b.t[b.i+1])
			b.i += 2
		default:
			b.r.find(b.t[b.i+1], joined(b.t[b.i+1:b.i+2]), CodeGarbled, "no data can be read from this group")
			b.i += 2
		}
		l.Gap = g.text[2:] == "///" && b.text(b.i-1) == "/////"
		if l.PressureHPa > pressure {
			b.r.find(g, g.text, CodeOrder, "the pressure rises from %g hPa to %g hPa", pressure, l.PressureHPa)
		}
		if !math.IsNaN(l.PressureHPa) {
			pressure = l.PressureHPa
		}
		b.r.add(g, l)
		label, first = next, false
	}
}

// one reads the data group of a significant level.
func (b *body) one(l *Level, g token) {
	if l.Kind == SignificantTemperature {
		b.temperature(l, g)
	} else {
		b.wind(l, g)
	}
}
