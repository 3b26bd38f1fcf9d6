package temp

import (
	"math"
	"strings"
)

// parse splits the groups of a bulletin into reports and reads each.
func (b *Bulletin) parse(t tokenList, pilot *pilotHabit) {
	var form Form
	var part Part
	for i := 0; i < len(t); {
		if t[i].text == "=" {
			i++
			continue
		}
		first := t[i]
		f, p, isStart := startOf(first.text)
		switch {
		case isStart:
			form, part = f, p
			i++
		case form != 0 && t[i-1].text == "=" && isDateGroup(first.text) && i+1 < len(t) && isGroup(t[i+1].text):
			// Several reports under one start group: each after "=" begins with the day group.
			b.find(first, first.text, CodeMissing, "the report does not begin with a group such as TTAA; taken as %v Part %v like the one before", form, part)
		default:
			start := i
			for i < len(t) && t[i].text != "=" {
				if _, _, isStart := startOf(t[i].text); isStart {
					break
				}
				i++
			}
			if i-start != 1 || !strings.EqualFold(t[start].text, "NIL") {
				b.find(first, joined(t[start:i]), CodeStray, "%d group(s) outside any report", i-start)
			}
			continue
		}
		end := i
		for end < len(t) && t[end].text != "=" {
			if _, _, isStart := startOf(t[end].text); isStart {
				break
			}
			end++
		}
		b.Reports = append(b.Reports, parseReport(form, part, first, t[i:end], end < len(t) && t[end].text == "=", pilot))
		i = end
	}
}

func parseReport(f Form, p Part, first token, t []token, closed bool, pilot *pilotHabit) Report {
	n := math.NaN()
	r := Report{Form: f, Part: p, Line: first.line, Column: first.column, Day: -1, Hour: -1, Closed: closed,
		LatitudeDegrees: n, LongitudeDegrees: n, ElevationMeters: n}
	t = r.head(first, t)
	if r.Nil {
		return r
	}
	if len(t) == 0 {
		r.find(first, first.text, CodeMissing, "the report ends after its head")
		return r
	}
	b := body{r: &r, t: t, pilot: pilot}
	switch {
	case f.IsPilot() && (p == 'A' || p == 'C'):
		b.pilotStandard()
	case f.IsPilot():
		b.pilotSignificant()
	case p == 'A' || p == 'C':
		b.standard()
	default:
		b.significant()
	}
	return r
}

// isDateGroup reports YYGGId: five places, the first four figures or solidi.
func isDateGroup(g string) bool {
	if !isGroup(g) {
		return false
	}
	day, ok := figures(g[:2])
	hour, okHour := figures(g[2:4])
	return ok && okHour && hour < 24 && (day >= 1 && day <= 31 || day >= 51 && day <= 81)
}

// head reads the groups before the first level and returns those after.
func (r *Report) head(first token, t []token) []token {
	for i := range t {
		if i < 8 && strings.EqualFold(t[i].text, "NIL") {
			r.Nil = true
			t = t[:i]
			break
		}
	}
	take := func(what string) (token, bool) {
		if len(t) == 0 {
			if !r.Nil {
				r.find(first, first.text, CodeMissing, "the report ends before its %s", what)
			}
			return token{}, false
		}
		g := t[0]
		t = t[1:]
		return g, true
	}
	if r.Form.hasCallSign() {
		if len(t) > 1 && isDateGroup(t[0].text) && !isDateGroup(t[1].text) {
			r.find(t[0], t[0].text, CodeMissing, "no call sign before the day group")
		} else if g, ok := take("call sign"); ok {
			r.Station = strings.ToValidUTF8(g.text, "?")
			if len(r.Station) > 12 || !isUpperOrFigures(r.Station) {
				r.find(g, joined([]token{g}), CodeGarbled, "the call sign is not capital letters and figures")
				r.Station = shorten(r.Station)
			}
		}
	}
	if g, ok := take("day group"); ok {
		r.date(g)
	}
	if !r.Form.hasPosition() {
		if g, ok := take("station number"); ok {
			r.Station = shorten(g.text)
			if len(g.text) != 5 || !isFigures(g.text) {
				r.find(g, joined([]token{g}), CodeGarbled, "the station number is not five figures")
			}
		}
		return t
	}
	if r.Nil && len(t) == 0 {
		return t
	}
	latitude, ok1 := take("latitude group")
	longitude, ok2 := take("longitude group")
	square, ok3 := take("Marsden square group")
	if ok1 && ok2 && ok3 {
		r.position(latitude, longitude, square)
	}
	if r.Form == Mobile || r.Form == PilotMobile {
		if g, ok := take("elevation group"); ok {
			r.elevation(g)
		}
	}
	return t
}

func (r *Report) date(g token) {
	if len(g.text) != 5 {
		r.find(g, joined([]token{g}), CodeGarbled, "the day group is not five characters: day, hour and wind unit are unknown")
		return
	}
	day, ok := figures(g.text[:2])
	switch {
	case ok && day >= 1 && day <= 31:
		r.Day, r.WindUnit = day, MetersASecond
	case ok && day >= 51 && day <= 81:
		r.Day, r.WindUnit = day-50, Knots
	default:
		r.find(g, joined([]token{g}), CodeGarbled, "%q is neither 01 to 31 (wind in m/s) nor 51 to 81 (knots): day and wind unit are unknown", g.text[:2])
	}
	if hour, ok := figures(g.text[2:4]); ok && hour < 24 {
		r.Hour = hour
	} else {
		r.find(g, joined([]token{g}), CodeGarbled, "%q is no hour from 00 to 23", g.text[2:4])
	}
	if c := g.text[4]; c == '/' || c >= '0' && c <= '9' {
		r.Indicator = c
	} else {
		r.find(g, joined([]token{g}), CodeGarbled, "the indicator figure %q is neither figure nor solidus", g.text[4:])
	}
}

// body reads the sections of one report.
type body struct {
	r     *Report
	t     []token
	i     int
	pilot *pilotHabit
}

func (b *body) text(i int) string {
	if i >= 0 && i < len(b.t) {
		return b.t[i].text
	}
	return ""
}

// run notes the groups from start to b.i as one finding.
func (b *body) run(start int, code, format string, args ...any) {
	b.r.find(b.t[start], joined(b.t[start:b.i]), code, format, args...)
}

func (b *body) temperature(l *Level, g token) {
	var ok bool
	if l.TemperatureCelsius, l.DewPointDepression, ok = decodeTemperature(g.text); !ok {
		b.r.find(g, joined([]token{g}), CodeGarbled, "no temperature and dew-point depression can be read from this group")
	}
}

func (b *body) wind(l *Level, g token) {
	var ok bool
	if l.WindDirectionDegrees, l.WindSpeed, ok = decodeWind(g.text); !ok {
		b.r.find(g, joined([]token{g}), CodeGarbled, "no wind can be read from this group")
	}
}

func (b *body) pressure(l *Level, g token) {
	var ok bool
	if l.PressureHPa, ok = decodePressure(g.text[2:], b.r.Part.aboveHundred()); !ok {
		b.r.find(g, joined([]token{g}), CodeGarbled, "no pressure can be read from %q", g.text[2:])
	}
}
