package temp

import "math"

// sections reads tropopause, maximum wind and everything that begins with an
// indicator. 88999 and 77999 mean "none", unless data follow: then the writer
// meant 99.9 hPa (or 999 hPa, which a check will find).
func (b *body) sections() {
	for b.i < len(b.t) {
		g := b.t[b.i]
		switch {
		case isIndicator(g.text) && g.text != "21212":
			b.indicated()
		case g.text == "88999" && b.sectionAt(b.i+1):
			b.r.NoTropopause = true
			b.i++
		case g.text == "77999" && b.sectionAt(b.i+1):
			b.r.NoMaximumWind = true
			b.i++
		case len(g.text) == 5 && g.text[:2] == "88" && b.sectionAt(b.i):
			b.tropopause()
		case b.sectionAt(b.i):
			b.maximumWind()
		default:
			start := b.i
			for b.i++; b.i < len(b.t) && !b.sectionSurelyAt(b.i); b.i++ {
			}
			b.run(start, CodeGarbled, "no section can be read from these groups")
		}
	}
}

func (b *body) tropopause() {
	g := b.t[b.i]
	l := NewLevel(Tropopause)
	b.pressure(&l, g)
	b.i++
	n := 0
	switch {
	case isGroup(b.text(b.i)) && windShaped(b.text(b.i+1)) && b.sectionAt(b.i+2) && !isIndicator(b.text(b.i+1)):
		n = 2
	case b.sectionAt(b.i): // nothing follows, or the next section at once
	case isGroup(b.text(b.i)) && windShaped(b.text(b.i+1)) && !isIndicator(b.text(b.i+1)):
		n = 2
	case len(b.text(b.i)) > 0:
		n = 1
	}
	b.data(&l, g, n, false)
	b.r.add(g, l)
}

func (b *body) maximumWind() {
	g := b.t[b.i]
	l := NewLevel(MaximumWind)
	if g.text[0] == '6' {
		l.Kind = MaximumWindAtTop
	}
	b.pressure(&l, g)
	b.i++
	b.maximumWindData(&l, g)
}

// maximumWindData reads ddfff and, where it follows, 4vbvbvava.
func (b *body) maximumWindData(l *Level, g token) {
	if !windShaped(b.text(b.i)) || isIndicator(b.text(b.i)) && b.text(b.i) != "21212" {
		b.r.find(g, g.text, CodeMissing, "no wind group follows the maximum wind level")
	} else {
		b.wind(l, b.t[b.i])
		b.i++
	}
	// In Parts A and C 41414 is no section: it is a shear of 14 and 14.
	if s := b.text(b.i); isGroup(s) && s[0] == '4' {
		if v, ok := figures(s[1:3]); ok {
			l.ShearBelow = float64(v)
		}
		if v, ok := figures(s[3:5]); ok {
			l.ShearAbove = float64(v)
		}
		b.i++
	}
	b.r.add(g, *l)
}

// indicated reads 31313, 41414 and the regional and national sections.
func (b *body) indicated() {
	indicator := b.t[b.i]
	b.i++
	start := b.i
	for b.i < len(b.t) && (!isIndicator(b.t[b.i].text) || b.t[b.i].text < indicator.text) {
		// A regional group may look like an indicator; sections come in rising order.
		b.i++
	}
	groups := b.t[start:b.i]
	switch {
	case indicator.text == "31313":
		b.system(indicator, groups)
	case indicator.text == "41414":
		if len(groups) == 0 {
			b.r.find(indicator, indicator.text, CodeMissing, "no cloud group follows")
		}
		b.r.Cloud = texts(groups)
	default:
		if len(b.r.Texts) < maxFindings {
			b.r.Texts = append(b.r.Texts, Text{Indicator: indicator.text, Groups: texts(groups)})
		} else {
			b.r.find(indicator, indicator.text, CodeCut, "more than %d regional sections: this one is not kept", maxFindings)
		}
	}
}

func texts(t []token) []string {
	out := make([]string, 0, len(t))
	for _, g := range t {
		out = append(out, joined([]token{g}))
	}
	return out
}

// system reads srrarasasa 8GGgg 9snTwTwTw.
func (b *body) system(at token, t []token) {
	s := System{RadiationCorrection: -1, SondeType: -1, Tracking: -1, LaunchHour: -1, LaunchMinute: -1, SeaTemperatureCelsius: math.NaN()}
	if len(t) == 0 {
		b.r.find(at, at.text, CodeMissing, "no group follows")
		return
	}
	two := func(s string, to *int) bool {
		n, ok := figures(s)
		if ok {
			*to = n
		}
		return ok || allSolidus(s)
	}
	for i, g := range t {
		ok := isGroup(g.text)
		switch {
		case !ok:
		case i == 0 && (g.text[0] != '8' || len(t) > 1 && t[1].text[0] == '8'):
			ok = two(g.text[:1], &s.RadiationCorrection)
			ok = two(g.text[1:3], &s.SondeType) && ok
			ok = two(g.text[3:], &s.Tracking) && ok
		case g.text[0] == '8':
			ok = two(g.text[1:3], &s.LaunchHour) && two(g.text[3:], &s.LaunchMinute) && s.LaunchHour < 24 && s.LaunchMinute < 60
			if !ok {
				s.LaunchHour, s.LaunchMinute = -1, -1
			}
		case g.text[0] == '9' && (g.text[1] == '0' || g.text[1] == '1'):
			n, isNumber := figures(g.text[2:])
			if ok = isNumber || g.text[2:] == "///"; isNumber {
				s.SeaTemperatureCelsius = float64(n) / 10
				if g.text[1] == '1' && n != 0 {
					s.SeaTemperatureCelsius = -s.SeaTemperatureCelsius
				}
			}
		case g.text[0] == '9' && allSolidus(g.text[1:]):
		default:
			ok = false
		}
		if !ok {
			b.r.find(g, joined([]token{g}), CodeGarbled, "this group of section 31313 cannot be read")
		}
	}
	b.r.System = &s
}
