package message

import (
	"fmt"
	"math"
	"slices"
	"time"

	"leadline/internal/bufr"
	"leadline/internal/earth"
	"leadline/internal/levels"
	"leadline/internal/sounding"
	"leadline/internal/temp"
)

// encodeTEMP writes Parts A to D of FM 35, 36 or 38 by the kind of site.
func encodeTEMP(f *sounding.Final, set levels.Set, o *Options) (Encoded, error) {
	var n notes
	m, start, out, err := codeHead(f, o, &n)
	if err != nil {
		return Encoded{}, err
	}
	m.System = systemOf(f, start)
	if f.Record != nil {
		m.Cloud = f.Record.Surface.CloudCode
		m.System.SeaTemperatureCelsius = f.Record.Surface.SeaTemperature.Value() - 273.15
	}
	w := tempWriter{m: &m, n: &n, upto: o.Upto}
	if err := w.levels(set); err != nil {
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

// codeHead begins a report in the figure codes: identification, place, time, equipment.
func codeHead(f *sounding.Final, o *Options, n *notes) (temp.Message, time.Time, Encoded, error) {
	fail := func(format string, args ...any) (temp.Message, time.Time, Encoded, error) {
		return temp.Message{}, time.Time{}, Encoded{}, fmt.Errorf(format, args...)
	}
	if !f.Events.Release.Found {
		return fail("the flight has no release: there is nothing to report")
	}
	start := f.Epoch.UTC().Round(time.Second)
	out := Encoded{Nominal: nominalHour(f, start, n)}
	r := f.Record
	if r == nil {
		r = sounding.NewLaunchRecord()
	}
	m := temp.Message{Day: out.Nominal.Day(), Hour: out.Nominal.Hour(), WindUnit: o.WindUnit, LatitudeDegrees: r.Site.Latitude.Value(), LongitudeDegrees: r.Site.Longitude.Value(), ElevationMeters: math.NaN()}
	if m.WindUnit == temp.UnitUnknown {
		m.WindUnit = temp.MetersASecond
	}
	forms := map[string]temp.Form{"ship": temp.Ship, "mobile": temp.Mobile, "": temp.Land}
	if o.Template == PILOT {
		forms = map[string]temp.Form{"ship": temp.PilotShip, "mobile": temp.PilotMobile, "": temp.PilotLand}
	}
	switch r.Site.Kind {
	case "ship":
		m.Form, m.Station = forms["ship"], r.Site.CallSign
	case "mobile":
		m.Form, m.Station = forms["mobile"], r.Site.CallSign
		if z := r.Site.Height.Value(); z >= 0 && z <= 9999 {
			m.ElevationMeters, m.ElevationConfidence = z, 2 // good: within 10 m
		}
	default:
		m.Form, m.Station = forms[""], r.Site.WMONumber
	}
	if m.Station == "" {
		return fail("%v needs a station: give site.wmo_number of a fixed station, or site.kind and site.call_sign of a ship or mobile one", m.Form)
	}
	if m.Form != forms[""] && (math.IsNaN(m.LatitudeDegrees) || math.IsNaN(m.LongitudeDegrees)) {
		return fail("%v needs a position: give site.latitude_deg and site.longitude_deg", m.Form)
	}
	if a4, ok := windEquipment[codeOf(f.Sheet, bufr.FXY(0, 2, 3), 15)]; ok {
		m.Equipment = a4
	}
	return m, start, out, nil
}

// bulletins puts the parts that are due under their headings, if any, and names the file.
func bulletins(out *Encoded, parts temp.Parts, m *temp.Message, f *sounding.Final, o *Options) error {
	texts := []struct {
		part temp.Part
		text string
	}{{'A', parts.A}, {'B', parts.B}, {'C', parts.C}, {'D', parts.D}}
	for _, p := range texts {
		if p.text == "" || o.Upto >= 100 && p.part > 'B' {
			continue
		}
		if o.Heading == nil {
			out.Bytes = append(out.Bytes, p.text...)
			continue
		}
		h, err := headingOf(o, out.Nominal)
		if err != nil {
			return err
		}
		letters, err := temp.DesignatorLetters(m.Form, p.part)
		if err != nil {
			return err
		}
		if len(h.Designator) == 6 {
			h.Designator = h.Designator[2:]
		}
		h.Designator = letters + h.Designator
		bulletin, err := temp.FormatBulletin(h, p.text)
		if err != nil {
			return fmt.Errorf("heading: %w", err)
		}
		if out.FileName == "" {
			if out.FileName, err = bulletinName(h, f, o, "txt"); err != nil {
				return err
			}
		}
		out.Bytes = append(out.Bytes, bulletin...)
	}
	if out.FileName == "" {
		out.FileName = plainName(f, o, "txt")
	}
	return nil
}

// windEquipment turns figures of 0 02 003 into a4 (code table 0265), which has figure 4
// for a pressure element that failed and so counts on from there.
var windEquipment = map[int]byte{0: '0', 1: '1', 2: '2', 3: '3', 14: '4', 4: '5', 5: '6', 6: '7', 7: '8'}

// codeOf returns a code figure of the instrument sheet, -1 where it is missing.
func codeOf(s *sounding.InstrumentSheet, d bufr.Descriptor, missing int) int {
	if s == nil {
		return -1
	}
	for key, v := range s.Codes {
		if k, err := bufr.ParseDescriptor(key); err == nil && k == d && v != missing && v >= 0 {
			return v
		}
	}
	return -1
}

// systemOf fills section 31313. Figures above what the code holds are missing.
func systemOf(f *sounding.Final, start time.Time) *temp.System {
	upTo := func(v, top int) int {
		if v > top {
			return -1
		}
		return v
	}
	at := start.Round(time.Minute)
	return &temp.System{
		RadiationCorrection: upTo(codeOf(f.Sheet, bufr.FXY(0, 2, 13), 15), 9),
		SondeType:           upTo(codeOf(f.Sheet, bufr.FXY(0, 2, 11), 255), 99),
		Tracking:            upTo(codeOf(f.Sheet, bufr.FXY(0, 2, 14), 127), 99),
		LaunchHour:          at.Hour(), LaunchMinute: at.Minute(), SeaTemperatureCelsius: math.NaN(),
	}
}

// tempWriter turns levels into those of the figure code.
type tempWriter struct {
	m       *temp.Message
	n       *notes
	upto    float64
	misfits int
	first   string
	dropped int
}

func (w *tempWriter) misfit(format string, args ...any) float64 {
	if w.misfits == 0 {
		w.first = fmt.Sprintf(format, args...)
	}
	w.misfits++
	return math.NaN()
}

func (w *tempWriter) summary() {
	if w.misfits > 0 {
		w.n.say(sounding.Questionable, "", "%d values do not fit the code and are missing there (first: %s)", w.misfits, w.first)
	}
	if w.dropped > 0 {
		w.n.say(sounding.Note, "", "%d significant levels fall on the level before in the code's steps and are left out", w.dropped)
	}
}

// level returns a level of the code with everything that it can hold.
func (w *tempWriter) level(kind temp.Kind, l *levels.Level) temp.Level {
	out := temp.NewLevel(kind)
	out.PressureHPa = l.Pressure.Value()
	out.HeightGpm = l.Geopotential.Value()
	if t := l.Temperature.Value() - 273.15; math.Abs(t) < 99.9 {
		out.TemperatureCelsius = t
	} else if !math.IsNaN(t) {
		out.TemperatureCelsius = w.misfit("%.1f °C at %.1f hPa", t, out.PressureHPa)
	}
	if d := l.Temperature.Value() - l.DewPoint.Value(); !math.IsNaN(d) {
		out.DewPointDepression = math.Max(0, d)
	}
	speed := w.m.WindUnit.FromMetersASecond(l.Speed.Value())
	if speed > 499.4 {
		speed = w.misfit("%.0f %v at %.1f hPa", speed, w.m.WindUnit, out.PressureHPa)
	}
	if d := l.Direction.Value(); !math.IsNaN(speed) && !math.IsNaN(d) {
		out.WindSpeed, out.WindDirectionDegrees = speed, d
	}
	for _, s := range []struct {
		to   *float64
		from sounding.Number
	}{{&out.ShearBelow, l.ShearBelow}, {&out.ShearAbove, l.ShearAbove}} {
		v := w.m.WindUnit.FromMetersASecond(s.from.Value())
		if v > 99.4 {
			v = w.misfit("wind difference of %.0f %v at %.1f hPa", v, w.m.WindUnit, out.PressureHPa)
		}
		*s.to = v
	}
	return out
}

// levels fills the message from the set.
func (w *tempWriter) levels(set levels.Set) error {
	const codeUnits = 100 // levels below 100 hPa are written in tenths
	step := func(p float64) float64 {
		if p*10 < codeUnits*10-0.5 {
			return math.Round(p * 10)
		}
		return math.Round(p) * 10
	}
	var winds []temp.Level
	var lists [2][]temp.Level // significant temperature, significant wind
	surface := false
	for i := range set.Levels {
		l := &set.Levels[i]
		p := l.Pressure.Value()
		if !(p > 0.05) || w.upto > 0 && p < w.upto-1e-6 {
			continue
		}
		if l.Kind.Has(levels.Surface) {
			if p < 100 || p >= 1099.5 {
				return fmt.Errorf("surface pressure %.1f hPa cannot be written: the code holds 100 to 1099 hPa", p)
			}
			w.m.Levels = append(w.m.Levels, w.level(temp.Surface, l))
			surface = true
		}
		if l.Kind.Has(levels.Standard) {
			s := w.level(temp.Standard, l)
			s.PressureHPa = math.Round(p)
			limit := 800.0
			if p <= 500 {
				limit = 2500
			}
			if h := earth.StandardAltitude(p); math.Abs(s.HeightGpm-h) > limit || p == 1000 && math.Abs(s.HeightGpm) > 499 {
				s.HeightGpm = w.misfit("height of %.0f gpm at %.0f hPa", s.HeightGpm, p)
			}
			w.m.Levels = append(w.m.Levels, s)
		}
		if l.Kind.Has(levels.Tropopause) {
			w.m.Levels = append(w.m.Levels, w.level(temp.Tropopause, l))
		}
		if l.Kind.Has(levels.MaximumWind) {
			kind := temp.MaximumWind
			if l.Kind.Has(levels.TopOfWind) {
				kind = temp.MaximumWindAtTop
			}
			winds = append(winds, w.level(kind, l))
		}
		for k, list := range []struct {
			kind         temp.Kind
			when, begins levels.Kind
		}{
			{temp.SignificantTemperature, levels.SignificantTemperature | levels.SignificantHumidity | levels.MissingTemperatureBegins | levels.MissingTemperatureEnds, levels.MissingTemperatureBegins},
			{temp.SignificantWind, levels.SignificantWind | levels.MissingWindBegins | levels.MissingWindEnds, levels.MissingWindBegins},
		} {
			if l.Kind&list.when == 0 {
				continue
			}
			s := w.level(list.kind, l)
			if k == 0 && math.IsNaN(s.TemperatureCelsius) || k == 1 && math.IsNaN(s.WindSpeed) {
				continue
			}
			to := &lists[k]
			if n := len(*to); n > 0 && step((*to)[n-1].PressureHPa) == step(p) && !(*to)[n-1].Gap {
				w.dropped++
			} else {
				*to = append(*to, s)
			}
			if l.Kind.Has(list.begins) {
				gap := temp.NewLevel(list.kind)
				gap.Gap = true
				*to = append(*to, gap)
			}
		}
	}
	if !surface {
		return fmt.Errorf("the flight has no surface level: there is nothing to report")
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
	w.m.Levels = append(w.m.Levels, winds...)
	for _, list := range lists {
		for len(list) > 0 && list[len(list)-1].Gap {
			list = list[:len(list)-1]
		}
		w.m.Levels = append(w.m.Levels, list...)
	}
	if w.m.Equipment == 0 {
		for i := range w.m.Levels {
			if !math.IsNaN(w.m.Levels[i].WindSpeed) {
				return fmt.Errorf("the code wants a figure for the wind equipment: give \"0 02 003\" in the codes of the instrument sheet (7 is satellite navigation)")
			}
		}
	}
	return nil
}
