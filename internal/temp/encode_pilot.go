package temp

import (
	"fmt"
	"math"
)

// standardHundredHPa is the altitude of 100 hPa in the standard atmosphere, gpm.
const standardHundredHPa = 16180

// pilotLevels holds the levels of a PILOT report by section.
type pilotLevels struct {
	surface  Level
	standard map[float64]Level
	winds    []Level // maximum winds, in the order they are to stand
	fixed    []Level // rising
	wind     []Level // significant, the surface first
}

// encodePilot writes Parts A to D of FM 32, FM 33 or FM 34 (code form: Federal
// Meteorological Handbook No. 3, 1997, appendix E-I; docs/methods/pilot-code.md).
// Standard levels follow one another three to a group from the lowest that is given;
// those missing between are solidi. A level belongs to Parts C and D by its pressure,
// where it has none by the altitude of 100 hPa.
func encodePilot(m Message) (Parts, error) {
	s, err := preparePilot(m)
	if err != nil {
		return Parts{}, err
	}
	return writeParts(&m, func(w *writer) { w.pilotStandard(s) }, func(w *writer) { w.pilotSignificant(s) })
}

func preparePilot(m Message) (*pilotLevels, error) {
	if err := m.check(); err != nil {
		return nil, err
	}
	if m.Equipment < '0' || m.Equipment > '9' {
		return nil, fmt.Errorf("temp: the wind equipment figure a4 (table 0265) is not set; '8' is satellite navigation")
	}
	s := &pilotLevels{standard: map[float64]Level{}}
	surfaces := 0
	for i, l := range m.Levels {
		placed := l.PressureHPa
		if m.ByAltitude {
			placed = l.HeightGpm
		}
		if (l.Kind == Surface || l.Kind == SignificantWind || l.Kind == MaximumWind || l.Kind == MaximumWindAtTop) && !l.Gap && math.IsNaN(placed) {
			return nil, fmt.Errorf("temp: level %d (%v) has no %s", i+1, l.Kind, map[bool]string{true: "altitude", false: "pressure"}[m.ByAltitude])
		}
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
		case MaximumWind, MaximumWindAtTop:
			s.winds = append(s.winds, l)
		case FixedAltitude:
			step, z := m.AltitudeStep, l.HeightGpm
			if step != 300 && step != 500 {
				return nil, fmt.Errorf("temp: altitudes in steps of %v m: the code has steps of 300 m and of 500 m", step)
			}
			most := 99.0
			if step == 300 {
				most = 199
			}
			if n := z / step; n != math.Trunc(n) || !(n >= 1 && n <= most) {
				return nil, fmt.Errorf("temp: level %d: altitude %v m is not one to %v steps of %v m", i+1, z, most, step)
			}
			if n := len(s.fixed); n > 0 && s.fixed[n-1].HeightGpm >= z {
				return nil, fmt.Errorf("temp: level %d: fixed altitudes are not rising: %v m after %v m", i+1, z, s.fixed[n-1].HeightGpm)
			}
			s.fixed = append(s.fixed, l)
		case SignificantWind:
			s.wind = append(s.wind, l)
		default:
			return nil, fmt.Errorf("temp: level %d: %v has no place in this code", i+1, l.Kind)
		}
	}
	if surfaces != 1 {
		return nil, fmt.Errorf("temp: %d surface levels, exactly one is needed", surfaces)
	}
	if m.pilotAbove(s.surface) {
		return nil, fmt.Errorf("temp: the surface lies above 100 hPa")
	}
	surface := s.surface
	surface.Kind = SignificantWind
	if len(s.wind) == 0 || s.wind[0].PressureHPa != surface.PressureHPa && !m.ByAltitude || s.wind[0].HeightGpm != surface.HeightGpm && m.ByAltitude {
		s.wind = append([]Level{surface}, s.wind...)
	}
	last := math.Inf(-1)
	for _, l := range s.wind {
		if l.Gap {
			continue
		}
		up := l.HeightGpm
		if !m.ByAltitude {
			up = -l.PressureHPa
		}
		if up <= last {
			return nil, fmt.Errorf("temp: significant wind levels do not rise: %v hPa, %v gpm", l.PressureHPa, l.HeightGpm)
		}
		last = up
	}
	return s, nil
}

// pilotAbove reports a level of Parts C and D.
func (m *Message) pilotAbove(l Level) bool {
	switch {
	case !math.IsNaN(l.PressureHPa):
		return above(l.PressureHPa)
	case m.HundredHPaAltitude > 0:
		return l.HeightGpm > m.HundredHPaAltitude
	}
	return l.HeightGpm > standardHundredHPa
}

func (m *Message) pilotOnly(levels []Level, high bool) []Level {
	var out []Level
	up := false
	for _, l := range levels {
		if !l.Gap {
			up = m.pilotAbove(l)
		}
		if up == high {
			out = append(out, l)
		}
	}
	return out
}

// pilotStandard writes Parts A and C.
func (w *writer) pilotStandard(s *pilotLevels) {
	high := w.part == 'C'
	levels := standardLevels(w.part)
	bottom, top := len(levels), -1
	for k, st := range levels {
		if _, there := s.standard[st.pressureHPa]; there {
			bottom, top = min(bottom, k), k
		}
	}
	winds := w.m.pilotOnly(s.winds, high)
	if high && top < 0 && len(winds) == 0 {
		return
	}
	w.head(w.m.Equipment)
	at := func(k int) Level {
		l, there := s.standard[levels[k].pressureHPa]
		if !there {
			l = NewLevel(Standard)
			l.Approximate = k > bottom && s.standard[levels[bottom].pressureHPa].Approximate
		}
		return l
	}
	for k := bottom; k <= top; {
		n := 1
		for n < 3 && k+n <= top && at(k+n).Approximate == at(k).Approximate {
			n++
		}
		mark := "44"
		if at(k).Approximate {
			mark = "55"
		}
		w.group(fmt.Sprintf("%s%d%s", mark, n, levels[k].figures))
		for i := range n {
			w.wind(at(k + i))
		}
		k += n
	}
	for _, l := range winds {
		if w.m.ByAltitude {
			mark := "7"
			if l.Kind == MaximumWindAtTop {
				mark = "6"
			}
			w.maximumWindAt(l, mark+w.altitude(l))
		} else {
			w.maximumWind(l)
		}
	}
	if len(winds) == 0 {
		w.group("77999")
	}
}

// pilotSignificant writes Parts B and D.
func (w *writer) pilotSignificant(s *pilotLevels) {
	high := w.part == 'D'
	fixed, wind := w.m.pilotOnly(s.fixed, high), w.m.pilotOnly(s.wind, high)
	if high && len(fixed) == 0 && len(wind) == 0 {
		return
	}
	w.head(w.m.Equipment)
	steps := func(l Level) int { return int(roundHalfAway(l.HeightGpm / w.m.AltitudeStep)) }
	for i := 0; i < len(fixed); {
		tens := steps(fixed[i]) / 10
		mark, units := "9", ""
		switch {
		case w.m.AltitudeStep == 500:
			mark = "8"
		case tens >= 10:
			mark = "1"
		}
		first := i
		for ; i < len(fixed) && i < first+3 && steps(fixed[i])/10 == tens; i++ {
			units += fmt.Sprint(steps(fixed[i]) % 10)
		}
		w.group((mark + fmt.Sprint(tens%10) + units + "//")[:5])
		for _, l := range fixed[first:i] {
			w.wind(l)
		}
	}
	if len(wind) == 0 {
		return
	}
	w.group("21212")
	if !w.m.ByAltitude {
		w.numbered(wind, w.wind)
		return
	}
	label, last := byte('0'), ""
	if high {
		label = '1'
	}
	for _, l := range wind {
		g := string(label)
		if l.Gap {
			g, last = g+"////", ""
		} else {
			hhhh := w.altitude(l)
			if hhhh == last {
				w.fail(l, "two levels have the same altitude %s0 m after rounding; leave one out", hhhh)
			}
			g, last = g+hhhh, hhhh
		}
		w.group(g)
		w.wind(l)
		if label++; label > '9' {
			label = '1'
		}
	}
}

// altitude returns HHHH, tens of metres. 60 km and more would read as another group.
func (w *writer) altitude(l Level) string {
	n := roundHalfAway(l.HeightGpm / 10)
	if !(n >= 0 && n < 6000) {
		w.fail(l, "altitude %v gpm: the code holds 0 to 59990 m; give the levels by pressure", l.HeightGpm)
		return "////"
	}
	return fmt.Sprintf("%04.0f", n)
}
