package temp

import (
	"fmt"
	"math"
	"strings"
)

// Message is what Encode writes.
type Message struct {
	Form Form // every one but Drop
	// Station is the five-figure station number of a fixed land station, else the call sign.
	Station string
	// Position, for ships and mobile stations: north and east positive.
	LatitudeDegrees, LongitudeDegrees float64
	// Elevation, for mobile stations, with 1 (excellent) to 4 (poor) of table 1845. NaN where unknown.
	ElevationMeters     float64
	ElevationConfidence int
	Day, Hour           int // UTC
	// WindUnit is the unit of all speeds in Levels and of the report.
	WindUnit Unit
	// Equipment is a4 of table 0265: '0' pressure instrument and wind equipment,
	// '3' radar, '8' satellite navigation and so on. Not needed without wind.
	Equipment byte
	// Levels: one Surface; Standard, SignificantTemperature and SignificantWind by
	// falling pressure; Tropopause and MaximumWind in the order they are to stand.
	// The surface need not be repeated among the significant levels. The standard
	// levels 7, 5, 3, 2 and 1 hPa have no figures in this code and are left out.
	Levels []Level
	System *System // 31313, written in every part; nil leaves the section out. Not in PILOT
	Cloud  string  // the five figures NhCLhCMCH, written in Part B; empty leaves the section out. Not in PILOT
	// ByAltitude, in PILOT, gives significant levels and maximum winds by altitude, nHHHH
	// and 7HHHH, and not by pressure, nnPPP and 77PPP.
	ByAltitude bool
	// AltitudeStep, in PILOT, is the step of the FixedAltitude levels: 300 m (group 9 or 1)
	// or 500 m (group 8).
	AltitudeStep float64
	// HundredHPaAltitude, in PILOT, is the altitude of 100 hPa, gpm, by which levels without
	// a pressure go to Parts A and B or C and D; 0 is that of the standard atmosphere, 16180.
	HundredHPaAltitude float64
}

// Parts are the four parts of a report, each ending in "=" and a line feed, in
// lines of at most 69 characters. C and D are empty where nothing lies above 100 hPa.
type Parts struct{ A, B, C, D string }

// MaxLineLength is the length of the longest line that is written.
const MaxLineLength = 69

// Encode writes Parts A to D. It rounds to the steps of the code (0.2 K, 0.1 K or
// 1 K of depression, 5 degrees, 1 unit of speed, 1 gpm or 10 gpm, 1 hPa or 0.1 hPa)
// and fails, naming the level, where a value cannot be written.
func Encode(m Message) (Parts, error) {
	if m.Form.IsPilot() {
		return encodePilot(m)
	}
	e, err := prepare(m)
	if err != nil {
		return Parts{}, err
	}
	return writeParts(&m, func(w *writer) { w.standardPart(e) }, func(w *writer) { w.significantPart(e) })
}

// writeParts writes Parts A and C by standard and Parts B and D by significant.
func writeParts(m *Message, standard, significant func(*writer)) (Parts, error) {
	var out Parts
	for _, p := range []struct {
		part Part
		to   *string
	}{{'A', &out.A}, {'B', &out.B}, {'C', &out.C}, {'D', &out.D}} {
		w := &writer{m: m, part: p.part}
		if p.part == 'A' || p.part == 'C' {
			standard(w)
		} else {
			significant(w)
		}
		if w.err != nil {
			return Parts{}, w.err
		}
		*p.to = w.text()
	}
	return out, nil
}

// EncodeNil writes a part that says NIL: the sounding was due and there is none.
// Of the message it needs form, station, day and hour; the position stays out.
func EncodeNil(m Message, p Part) (string, error) {
	if m.WindUnit == UnitUnknown {
		m.WindUnit = MetersASecond
	}
	if err := m.check(); err != nil {
		return "", err
	}
	if p < 'A' || p > 'D' {
		return "", fmt.Errorf("temp: no part %q: A to D", rune(p))
	}
	w := &writer{m: &m, part: p}
	w.group(forms[m.Form].letters + string([]byte{byte(p), byte(p)}))
	if m.Form.hasCallSign() {
		w.group(m.Station)
	}
	w.group(m.dayGroup('/'))
	if !m.Form.hasCallSign() {
		w.group(m.Station)
	}
	w.group("NIL")
	return w.text(), nil
}

// FormatBulletin returns heading and reports as one bulletin text.
func FormatBulletin(h Heading, reports ...string) (string, error) {
	line, err := h.Format()
	if err != nil {
		return "", err
	}
	return line + "\n" + strings.Join(reports, ""), nil
}

func (m *Message) check() error {
	switch {
	case m.Form == 0 || m.Form == Drop || m.Form > PilotMobile:
		return fmt.Errorf("temp: %v is not written: TEMP, TEMP SHIP, TEMP MOBIL, PILOT, PILOT SHIP and PILOT MOBIL are", m.Form)
	case !m.Form.hasCallSign() && (len(m.Station) != 5 || !isFigures(m.Station)):
		return fmt.Errorf("temp: station %q is not five figures", shorten(m.Station))
	case m.Form.hasCallSign() && (len(m.Station) < 3 || len(m.Station) > 7 || !isUpperOrFigures(m.Station) || isDateGroup(m.Station)):
		return fmt.Errorf("temp: call sign %q is not three to seven capital letters and figures; an unnamed ship is SHIP", shorten(m.Station))
	case m.Day < 1 || m.Day > 31:
		return fmt.Errorf("temp: day %d is not 1 to 31", m.Day)
	case m.Hour < 0 || m.Hour > 23:
		return fmt.Errorf("temp: hour %d is not 0 to 23", m.Hour)
	case m.WindUnit != MetersASecond && m.WindUnit != Knots:
		return fmt.Errorf("temp: the wind unit is not set: m/s or knots")
	}
	return nil
}

func (m *Message) dayGroup(figure byte) string {
	day := m.Day
	if m.WindUnit == Knots {
		day += 50
	}
	return fmt.Sprintf("%02d%02d%c", day, m.Hour, figure)
}

// sorted holds the levels by section.
type sorted struct {
	surface     Level
	standard    map[float64]Level
	tropopauses []Level
	winds       []Level // maximum winds
	temperature []Level // significant, the surface first
	wind        []Level
	hasWind     bool
}

func prepare(m Message) (*sorted, error) {
	if err := m.check(); err != nil {
		return nil, err
	}
	s := &sorted{standard: map[float64]Level{}}
	surfaces := 0
	for i, l := range m.Levels {
		if l.Kind != SignificantWind && l.Kind != SignificantTemperature || !l.Gap {
			if !(l.PressureHPa > 0 && roundHalfAway(l.PressureHPa) <= 1099) {
				return nil, fmt.Errorf("temp: level %d (%v): pressure %v hPa is not between 0 and 1099 hPa", i+1, l.Kind, l.PressureHPa)
			}
		}
		s.hasWind = s.hasWind || !math.IsNaN(l.WindSpeed)
		switch l.Kind {
		case Surface:
			surfaces++
			s.surface = l
		case Standard:
			switch l.PressureHPa {
			case 7, 5, 3, 2, 1:
				continue
			}
			if _, twice := s.standard[l.PressureHPa]; twice {
				return nil, fmt.Errorf("temp: level %d: the standard level %v hPa stands twice", i+1, l.PressureHPa)
			}
			if !isStandard(l.PressureHPa) {
				return nil, fmt.Errorf("temp: level %d: %v hPa is no standard level of this code", i+1, l.PressureHPa)
			}
			s.standard[l.PressureHPa] = l
		case Tropopause:
			s.tropopauses = append(s.tropopauses, l)
		case MaximumWind, MaximumWindAtTop:
			s.winds = append(s.winds, l)
		case SignificantTemperature:
			s.temperature = append(s.temperature, l)
		case SignificantWind:
			s.wind = append(s.wind, l)
		default:
			return nil, fmt.Errorf("temp: level %d: %v has no place in this code", i+1, l.Kind)
		}
	}
	if surfaces != 1 {
		return nil, fmt.Errorf("temp: %d surface levels, exactly one is needed", surfaces)
	}
	if p := s.surface.PressureHPa; p < 100 {
		return nil, fmt.Errorf("temp: surface pressure %v hPa is below 100 hPa", p)
	}
	if s.hasWind && (m.Equipment < '0' || m.Equipment > '9') {
		return nil, fmt.Errorf("temp: the wind equipment figure a4 (table 0265) is not set; '8' is satellite navigation")
	}
	if m.Cloud != "" && !isGroup(m.Cloud) {
		return nil, fmt.Errorf("temp: cloud group %q is not five figures or solidi", shorten(m.Cloud))
	}
	for _, list := range []*[]Level{&s.temperature, &s.wind} {
		if len(*list) > 0 && (*list)[0].PressureHPa != s.surface.PressureHPa {
			surface := s.surface
			surface.Kind = (*list)[0].Kind
			*list = append([]Level{surface}, *list...)
		}
		last := math.Inf(1)
		for _, l := range *list {
			if l.PressureHPa >= last {
				return nil, fmt.Errorf("temp: %v levels are not by falling pressure: %v hPa after %v hPa", l.Kind, l.PressureHPa, last)
			}
			if !l.Gap {
				last = l.PressureHPa
			}
		}
	}
	return s, nil
}

func isStandard(hpa float64) bool {
	for _, list := range [][]standardLevel{standardA, standardC} {
		for _, l := range list {
			if l.pressureHPa == hpa {
				return true
			}
		}
	}
	return false
}

// above reports a pressure that goes to Parts C and D: below 100 hPa in the
// tenths in which those parts give it.
func above(hpa float64) bool { return roundHalfAway(hpa*10) < 1000 }

// writer collects the groups of one part. The first error stays.
type writer struct {
	m      *Message
	part   Part
	groups []string
	err    error
}

func (w *writer) group(g string) { w.groups = append(w.groups, g) }

func (w *writer) fail(l Level, format string, args ...any) {
	if w.err == nil {
		w.err = fmt.Errorf("temp: part %v, %v level at %v hPa: %s", w.part, l.Kind, l.PressureHPa, fmt.Sprintf(format, args...))
	}
}

// text breaks the groups into lines.
func (w *writer) text() string {
	if len(w.groups) == 0 {
		return ""
	}
	var b strings.Builder
	length := 0
	for i, g := range w.groups {
		if i == len(w.groups)-1 {
			g += "="
		}
		switch {
		case i == 0:
		case length+1+len(g) > MaxLineLength:
			b.WriteByte('\n')
			length = 0
		default:
			b.WriteByte(' ')
			length++
		}
		b.WriteString(g)
		length += len(g)
	}
	b.WriteByte('\n')
	return b.String()
}

func (w *writer) head(figure byte) {
	w.group(forms[w.m.Form].letters + string([]byte{byte(w.part), byte(w.part)}))
	if !w.m.Form.hasCallSign() {
		w.group(w.m.dayGroup(figure))
		w.group(w.m.Station)
		return
	}
	w.group(w.m.Station)
	w.group(w.m.dayGroup(figure))
	la, lo := w.m.LatitudeDegrees, w.m.LongitudeDegrees
	if !(math.Abs(la) <= 90 && math.Abs(lo) <= 180) {
		if w.err == nil {
			w.err = fmt.Errorf("temp: position %v, %v degrees is not on the globe", la, lo)
		}
		return
	}
	a, o := int(roundHalfAway(math.Abs(la)*10)), int(roundHalfAway(math.Abs(lo)*10))
	south, west := la < 0 && a > 0, lo < 0 && o > 0
	quadrant := map[[2]bool]int{{false, false}: 1, {true, false}: 3, {true, true}: 5, {false, true}: 7}[[2]bool{south, west}]
	w.group(fmt.Sprintf("99%03d", a))
	w.group(fmt.Sprintf("%d%04d", quadrant, o))
	m, ua, uo := marsdenSquare(a/10, o/10, south, west)
	w.group(fmt.Sprintf("%03d%d%d", m, ua, uo))
	if w.m.Form == Mobile || w.m.Form == PilotMobile {
		switch h := roundHalfAway(w.m.ElevationMeters); {
		case math.IsNaN(h):
			w.group("/////")
		case h < 0 || h > 9999 || w.m.ElevationConfidence < 1 || w.m.ElevationConfidence > 4:
			if w.err == nil {
				w.err = fmt.Errorf("temp: elevation %v m with confidence figure %d: the code holds 0 to 9999 m and 1 to 4", w.m.ElevationMeters, w.m.ElevationConfidence)
			}
		default:
			w.group(fmt.Sprintf("%04.0f%d", h, w.m.ElevationConfidence))
		}
	}
}

func (w *writer) standardPart(s *sorted) {
	high := w.part == 'C'
	levels := standardLevels(w.part)
	top, windTop := -1, -1
	for k, st := range levels {
		if l, there := s.standard[st.pressureHPa]; there {
			top = k
			if !math.IsNaN(l.WindSpeed) && !math.IsNaN(l.WindDirectionDegrees) {
				windTop = k
			}
		}
	}
	figure := byte('/')
	if windTop >= 0 {
		figure = levels[windTop].windFigure
		if levels[windTop].windSharesUp {
			windTop++ // the reader expects wind groups on both levels of figure 2 or 1
		}
	}
	tropopauses, winds := only(s.tropopauses, high), only(s.winds, high)
	if high && top < 0 && len(tropopauses) == 0 && len(winds) == 0 {
		return
	}
	w.head(figure)
	if !high {
		w.group("99" + w.pressure(s.surface))
		w.temperature(s.surface)
		w.wind(s.surface)
	}
	for k := 0; k <= top; k++ {
		l, there := s.standard[levels[k].pressureHPa]
		if !there {
			l = NewLevel(Standard)
		}
		w.group(levels[k].figures + w.height(l, levels[k]))
		w.temperature(l)
		if k <= windTop {
			w.wind(l)
		}
	}
	for _, l := range tropopauses {
		w.group("88" + w.notNone(l))
		w.temperature(l)
		w.wind(l)
	}
	if len(tropopauses) == 0 {
		w.group("88999")
	}
	for _, l := range winds {
		w.maximumWind(l)
	}
	if len(winds) == 0 {
		w.group("77999")
	}
	w.system()
}

// only returns the levels below 100 hPa, or the others.
func only(levels []Level, high bool) []Level {
	var out []Level
	for _, l := range levels {
		if above(l.PressureHPa) == high {
			out = append(out, l)
		}
	}
	return out
}

func (w *writer) significantPart(s *sorted) {
	high := w.part == 'D'
	temperature, wind := split(s.temperature, high), split(s.wind, high)
	if !high && len(temperature) == 0 {
		surface := s.surface
		surface.Kind = SignificantTemperature
		temperature = []Level{surface}
	}
	if high && len(temperature) == 0 && len(wind) == 0 {
		return
	}
	figure := w.m.Equipment
	if !s.hasWind {
		figure = '/'
	}
	w.head(figure)
	w.numbered(temperature, w.temperature)
	if len(wind) > 0 {
		w.group("21212")
		w.numbered(wind, w.wind)
	}
	w.system()
	if !high && w.m.Cloud != "" {
		w.group("41414")
		w.group(w.m.Cloud)
	}
}

// split returns the levels of Part D, or those of Part B. A gap goes with the level before it.
func split(levels []Level, high bool) []Level {
	var out []Level
	up := false
	for _, l := range levels {
		if !l.Gap {
			up = above(l.PressureHPa)
		}
		if up == high {
			out = append(out, l)
		}
	}
	return out
}

func (w *writer) numbered(levels []Level, data func(Level)) {
	label := "00"
	if w.part == 'D' {
		label = "11"
	}
	last := ""
	for _, l := range levels {
		if l.Gap {
			w.group(label + "///")
			w.group("/////")
			label, last = labelAfter(label), ""
			continue
		}
		ppp := w.pressure(l)
		if ppp == last {
			w.fail(l, "two levels have the same pressure %s after rounding; leave one out", ppp)
		}
		w.group(label + ppp)
		data(l)
		label, last = labelAfter(label), ppp
	}
}

// pressure returns PPP.
func (w *writer) pressure(l Level) string {
	if w.part.aboveHundred() {
		n := int(roundHalfAway(l.PressureHPa * 10))
		if n < 1 {
			w.fail(l, "pressure %v hPa is less than the code's smallest step, 0.1 hPa", l.PressureHPa)
		}
		return fmt.Sprintf("%03d", n)
	}
	return fmt.Sprintf("%03d", int(roundHalfAway(l.PressureHPa))%1000)
}

// notNone returns PPP of a tropopause or maximum wind. 99.9 hPa is written as
// 99.8 hPa, because 88999 and 77999 mean that there is none.
func (w *writer) notNone(l Level) string {
	if ppp := w.pressure(l); ppp != "999" {
		return ppp
	}
	return "998"
}

// temperature writes TTTaDD.
func (w *writer) temperature(l Level) {
	ttt, dd := "///", "//"
	if t := l.TemperatureCelsius; !math.IsNaN(t) {
		tenths := int(roundHalfAway(math.Abs(t) * 10))
		if tenths > 999 || math.IsInf(t, 0) {
			w.fail(l, "temperature %v °C is beyond the code's 99.9 °C", t)
			return
		}
		// The last figure holds even tenths and the sign: odd is below zero.
		tenths -= tenths % 2
		if t < 0 && roundHalfAway(math.Abs(t)*10) > 0 {
			tenths++
		}
		ttt = fmt.Sprintf("%03d", tenths)
	}
	if d := l.DewPointDepression; !math.IsNaN(d) && ttt != "///" {
		tenths := roundHalfAway(d * 10)
		switch {
		case tenths < 0 || math.IsInf(d, 0):
			w.fail(l, "dew-point depression %v K is below zero or no number", d)
			return
		case tenths <= 50:
			dd = fmt.Sprintf("%02.0f", tenths)
		default:
			whole := roundHalfAway(d)
			if whole <= 5 {
				dd = "50" // 51 to 55 are not used
			} else {
				dd = fmt.Sprintf("%02.0f", 50+math.Min(whole, 49))
			}
		}
	}
	w.group(ttt + dd)
}

// wind writes ddfff.
func (w *writer) wind(l Level) {
	d, s := l.WindDirectionDegrees, l.WindSpeed
	if math.IsNaN(d) || math.IsNaN(s) {
		w.group("/////")
		return
	}
	speed := roundHalfAway(s)
	if speed < 0 || speed > 499 || d < 0 || d > 360 {
		w.fail(l, "wind from %v degrees at %v %v: the code holds 0 to 360 and 0 to 499", d, s, w.m.WindUnit)
		return
	}
	if speed == 0 {
		w.group("00000")
		return
	}
	steps := int(roundHalfAway(d / 5))
	if steps == 0 || steps > 72 {
		steps = 72
	}
	// 365 cannot arise: 72 steps are 360. A direction of 5 is 00 and 500 more.
	w.group(fmt.Sprintf("%02d%03.0f", steps/2, speed+float64(steps%2)*500))
}

// height returns hhh.
func (w *writer) height(l Level, s standardLevel) string {
	z := l.HeightGpm
	if math.IsNaN(z) {
		return "///"
	}
	limit := 800.0
	if s.heightUnit > 1 {
		limit = 2500
	}
	units := int(roundHalfAway(z / s.heightUnit))
	if s.pressureHPa == 1000 {
		if units < -499 || units > 499 {
			w.fail(l, "height %v gpm: the code holds -499 to 499 gpm at 1000 hPa", z)
			return "///"
		}
		if units < 0 {
			units = 500 - units
		}
		return fmt.Sprintf("%03d", units)
	}
	if !(math.Abs(z-s.heightGpm) <= limit) {
		w.fail(l, "height %v gpm is more than %v gpm from the %v gpm of the standard atmosphere, so its three figures would be read as another height", z, limit, s.heightGpm)
		return "///"
	}
	return fmt.Sprintf("%03d", units%1000)
}

// maximumWind writes 77PPP or 66PPP, ddfff and 4vbvbvava.
func (w *writer) maximumWind(l Level) {
	mark := "77"
	if l.Kind == MaximumWindAtTop {
		mark = "66"
	}
	w.maximumWindAt(l, mark+w.notNone(l))
}

// maximumWindAt writes the level group that is given, ddfff and 4vbvbvava.
func (w *writer) maximumWindAt(l Level, level string) {
	w.group(level)
	w.wind(l)
	if math.IsNaN(l.ShearBelow) && math.IsNaN(l.ShearAbove) {
		return
	}
	g := "4"
	for _, v := range []float64{l.ShearBelow, l.ShearAbove} {
		switch n := roundHalfAway(v); {
		case math.IsNaN(n):
			g += "//"
		case n < 0 || n > 99:
			w.fail(l, "wind difference %v %v to 1 km below or above: the code holds 0 to 99", v, w.m.WindUnit)
		default:
			g += fmt.Sprintf("%02.0f", n)
		}
	}
	w.group(g)
}

// system writes 31313 srrarasasa 8GGgg 9snTwTwTw.
func (w *writer) system() {
	s := w.m.System
	if s == nil {
		return
	}
	field := func(n, width, top int, what string) string {
		if n == -1 {
			return strings.Repeat("/", width)
		}
		if (n < 0 || n > top) && w.err == nil {
			w.err = fmt.Errorf("temp: section 31313: %s %d is not 0 to %d (-1 where missing)", what, n, top)
		}
		return fmt.Sprintf("%0*d", width, n)
	}
	w.group("31313")
	w.group(field(s.RadiationCorrection, 1, 9, "radiation correction figure") + field(s.SondeType, 2, 99, "sonde type figure") + field(s.Tracking, 2, 99, "tracking figure"))
	w.group("8" + field(s.LaunchHour, 2, 23, "launch hour") + field(s.LaunchMinute, 2, 59, "launch minute"))
	if t := s.SeaTemperatureCelsius; !math.IsNaN(t) {
		tenths := roundHalfAway(math.Abs(t) * 10)
		if tenths > 999 {
			if w.err == nil {
				w.err = fmt.Errorf("temp: section 31313: sea temperature %v °C is beyond the code's 99.9 °C", t)
			}
			return
		}
		figure := 0
		if t < 0 && tenths > 0 {
			figure = 1
		}
		w.group(fmt.Sprintf("9%d%03.0f", figure, tenths))
	}
}
