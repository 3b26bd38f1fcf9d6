package message

import (
	"fmt"
	"math"
	"slices"

	"leadline/internal/earth"
	"leadline/internal/levels"
	"leadline/internal/sounding"
	"leadline/internal/temp"
)

// What PILOT gives significant and maximum winds by.
const (
	ByPressure = "pressure" // nnPPP, 77PPP
	ByAltitude = "altitude" // nHHHH, 7HHHH
)

// fixedAltitudes are regional altitudes by their step, m. 300: table 1-5 of NAVEDTRA 14270,
// module 2, for Region IV, which goes on above 100 hPa every 3,000 m (its print leaves
// 36,000 and 39,000 m out). 500: those of real bulletins of Region II.
var fixedAltitudes = map[int][]float64{
	300: {300, 600, 900, 1200, 1800, 2100, 2400, 2700, 3600, 4200, 4800, 6000, 7500, 9000, 10500, 15000,
		18000, 21000, 24000, 27000, 30000, 33000, 36000, 39000, 42000, 45000, 48000, 51000, 54000, 57000},
	500: {1000, 2000, 4000, 6000, 8000, 10000},
}

// encodePILOT writes Parts A to D of FM 32, 33 or 34 by the kind of site: the wind only.
// Standard levels are isobaric, group 44, where the flight has a pressure; else they are
// the altitudes of the standard atmosphere, group 55.
func encodePILOT(f *sounding.Final, set levels.Set, o *Options) (Encoded, error) {
	var n notes
	m, _, out, err := codeHead(f, o, &n)
	if err != nil {
		return Encoded{}, err
	}
	if m.Equipment == 0 {
		return Encoded{}, fmt.Errorf("the code wants a figure for the wind equipment: give \"0 02 003\" in the codes of the instrument sheet (7 is satellite navigation)")
	}
	hasPressure := len(set.Of(levels.SignificantWind)) > 0
	if o.Vertical == ByPressure && !hasPressure {
		return Encoded{}, fmt.Errorf("the flight has no winds with a pressure: report them by altitude")
	}
	m.ByAltitude = o.Vertical == ByAltitude || o.Vertical == "" && !hasPressure
	m.AltitudeStep = float64(o.FixedAltitudes)
	by := levels.ByAltitude(f, o.settings(), fixedAltitudes[o.FixedAltitudes])
	w := &pilotWriter{tempWriter{m: &m, n: &n, upto: o.Upto}}
	significant := set.Levels
	if m.ByAltitude {
		significant = by.Levels
	}
	if len(significant) == 0 {
		return Encoded{}, fmt.Errorf("the flight has no wind that can be placed: there is nothing to report")
	}
	standard := set.Of(levels.Standard)
	if !hasPressure {
		standard = by.Standard
	}
	if hasPressure {
		for _, l := range standard {
			if l.Pressure.Value() == 100 && l.Geopotential.Set() {
				m.HundredHPaAltitude = l.Geopotential.Value()
			}
		}
	}
	for i := range standard {
		if l := &standard[i]; l.Speed.Set() && w.due(l) {
			s := w.level(temp.Standard, l)
			s.PressureHPa, s.Approximate = math.Round(l.Pressure.Value()), !hasPressure
			m.Levels = append(m.Levels, s)
		}
	}
	for i := range by.Fixed {
		if w.due(&by.Fixed[i]) {
			m.Levels = append(m.Levels, w.level(temp.FixedAltitude, &by.Fixed[i]))
		}
	}
	if err := w.significant(significant); err != nil {
		return Encoded{}, err
	}
	parts, err := temp.Encode(m)
	if err != nil {
		return Encoded{}, err
	}
	w.summary()
	for i := range m.Levels {
		if m.Levels[i].Kind == temp.MaximumWind || m.Levels[i].Kind == temp.MaximumWindAtTop {
			out.MaximumWinds++
		}
	}
	out.Levels = len(m.Levels)
	if err := bulletins(&out, parts, &m, f, o); err != nil {
		return Encoded{}, err
	}
	out.Findings = n.list
	sounding.NumberIDs(out.Findings)
	return out, nil
}

// pilotWriter turns wind levels into those of the code.
type pilotWriter struct{ tempWriter }

// due tells whether a level belongs to a report up to a pressure. One without a pressure
// does by the altitude of the standard atmosphere.
func (w *pilotWriter) due(l *levels.Level) bool {
	p := l.Pressure.Value()
	if math.IsNaN(p) {
		_, p, _ = earth.StandardAtmosphere(l.Geopotential.Value())
	}
	return w.upto == 0 || p >= w.upto-1e-6
}

// significant fills surface, significant and maximum winds, rising.
func (w *pilotWriter) significant(list []levels.Level) error {
	// place is what the code's steps make of a level's place.
	place := func(l *temp.Level) float64 {
		switch p := l.PressureHPa; {
		case w.m.ByAltitude:
			return math.Round(l.HeightGpm / 10)
		case p*10 < 999.5:
			return math.Round(p * 10)
		default:
			return math.Round(p) * 10
		}
	}
	var winds, rising []temp.Level
	surface := false
	for i := range list {
		l := &list[i]
		if !w.due(l) || !w.m.ByAltitude && !(l.Pressure.Value() > 0.05) {
			continue
		}
		if l.Kind.Has(levels.Surface) {
			s := w.level(temp.Surface, l)
			if w.m.ByAltitude && s.HeightGpm < -4.9 {
				return fmt.Errorf("the surface is at %.0f gpm and the code has no altitudes below sea level: report the winds by pressure", s.HeightGpm)
			}
			s.HeightGpm = math.Max(s.HeightGpm, 0)
			w.m.Levels = append(w.m.Levels, s)
			surface = true
		}
		if l.Kind.Has(levels.MaximumWind) {
			kind := temp.MaximumWind
			if l.Kind.Has(levels.TopOfWind) {
				kind = temp.MaximumWindAtTop
			}
			winds = append(winds, w.level(kind, l))
		}
		if l.Kind&(levels.SignificantWind|levels.MissingWindBegins|levels.MissingWindEnds) == 0 || !l.Speed.Set() {
			continue
		}
		s := w.level(temp.SignificantWind, l)
		s.HeightGpm = math.Max(s.HeightGpm, 0)
		if k := len(rising); k > 0 && !rising[k-1].Gap && place(&rising[k-1]) == place(&s) {
			w.dropped++
		} else {
			rising = append(rising, s)
		}
		if l.Kind.Has(levels.MissingWindBegins) {
			gap := temp.NewLevel(temp.SignificantWind)
			gap.Gap = true
			rising = append(rising, gap)
		}
	}
	if !surface {
		return fmt.Errorf("the flight has no surface level: there is nothing to report")
	}
	for len(rising) > 0 && rising[len(rising)-1].Gap {
		rising = rising[:len(rising)-1]
	}
	// Strongest first; of equal ones the lowest, which is the order they are in.
	slices.SortStableFunc(winds, func(a, b temp.Level) int {
		switch {
		case a.WindSpeed > b.WindSpeed:
			return -1
		case a.WindSpeed < b.WindSpeed:
			return 1
		}
		return 0
	})
	w.m.Levels = append(append(w.m.Levels, winds...), rising...)
	return nil
}
