package message

import (
	"fmt"
	"math"
	"slices"
	"time"

	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/levels"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// column is one quantity of the levels of a report.
type column int

const (
	cTime column = iota // s since the start of the report
	cBits
	cPressure // hPa
	cHeight   // gpm
	cNorth    // degrees from the start
	cEast
	cTemperature // K
	cDewPoint    // K
	cHumidity    // %
	cDirection   // degrees, 360 north, 0 only with speed 0
	cSpeed       // m/s
	cBelow       // m/s, maximum winds only
	cAbove
	numColumns
)

// writtenLevels are the levels of one report by falling pressure.
type writtenLevels struct {
	start               time.Time // whole second
	latitude, longitude float64   // of the start, degrees; NaN not known
	height              float64   // of the start, m
	rows                [][numColumns]float64
}

// col returns a column scaled.
func (w *writtenLevels) col(c column, factor float64) []float64 {
	out := make([]float64, len(w.rows))
	for i := range w.rows {
		out[i] = w.rows[i][c] * factor
	}
	return out
}

// chosenLevels picks and merges the levels of the report: those of the set, and between
// them rows for resolution.
func chosenLevels(f *sounding.Final, set levels.Set, o *Options, n *notes) (*writtenLevels, error) {
	if o.Template.descent() {
		return descentLevels(f, o, n)
	}
	if !f.Events.Release.Found {
		return nil, fmt.Errorf("the flight has no release: there is nothing to report")
	}
	w := &writtenLevels{start: f.Epoch.UTC().Round(time.Second)}
	r := f.Record
	w.latitude, w.longitude, w.height = math.NaN(), math.NaN(), math.NaN()
	if r != nil {
		w.latitude, w.longitude, w.height = r.Site.Latitude.Value(), r.Site.Longitude.Value(), r.Site.Height.Value()
	}
	if math.IsNaN(w.latitude) || math.IsNaN(w.longitude) {
		span := f.Events.Ascent()
		w.latitude, w.longitude = firstPosition(f, span)
		if !math.IsNaN(w.latitude) {
			n.say(sounding.Note, "site.latitude_deg", "the launch record gives no position: that of the radiosonde at release is used")
		}
	}
	v := &view{f: f, start: w.start, epoch: f.Epoch, latitude: w.latitude, longitude: w.longitude}
	v.open()
	w.rows = v.rows(set, o)
	return w, w.check(o, n)
}

// descentLevels reports the way down: rows after the burst in the order of falling
// pressure, so from the ground up. The level rules are applied to the descent turned
// around in time.
func descentLevels(f *sounding.Final, o *Options, n *notes) (*writtenLevels, error) {
	span := f.Events.Descent()
	if span.Len() < 2 {
		return nil, fmt.Errorf("the flight has no descent: template %s is for the way down", o.Template)
	}
	back, last := turnedAround(f, span)
	set, _ := levels.Find(back, o.settings())
	for i := range set.Levels {
		set.Levels[i].Kind &^= levels.Surface // the last sample is above the ground
	}
	w := &writtenLevels{start: f.UTC(f.Time[span.From]).Round(time.Second), height: math.NaN()}
	w.latitude, w.longitude = firstPosition(f, span)
	if z := f.Get(sounding.HeightMSL); z != nil && usable(z, span.From) {
		w.height = z.Values[span.From]
	}
	// A time t of the turned flight is the time last - t since release.
	v := &view{f: back, start: w.start, epoch: f.Epoch, latitude: w.latitude, longitude: w.longitude, turned: true, last: last}
	v.open()
	w.rows = v.rows(set, o)
	return w, w.check(o, n)
}

// turnedAround returns the rows of a descent as a flight that goes up: last row first,
// times counted backwards from last.
func turnedAround(f *sounding.Final, span sounding.Span) (*sounding.Final, float64) {
	last := f.Time[span.To-1]
	out := &sounding.Final{Context: f.Context}
	reverse := func(x []float64) []float64 {
		if x == nil {
			return nil
		}
		y := slices.Clone(x[span.From:span.To])
		slices.Reverse(y)
		return y
	}
	out.Time = reverse(f.Time)
	for i := range out.Time {
		out.Time[i] = last - out.Time[i]
	}
	out.Line = slices.Clone(f.Line[span.From:span.To])
	slices.Reverse(out.Line)
	out.Source = slices.Clone(f.Source[span.From:span.To])
	for _, s := range f.Series {
		x := sounding.Series{Variable: s.Variable, Values: reverse(s.Values), Independent: reverse(s.Independent), Common: reverse(s.Common)}
		if s.Flags != nil {
			x.Flags = slices.Clone(s.Flags[span.From:span.To])
			slices.Reverse(x.Flags)
		}
		out.Series = append(out.Series, x)
	}
	out.Events = sounding.Events{Release: sounding.Event{Found: true}, Phases: []sounding.PhaseSpan{{Phase: sounding.Ascending, Span: sounding.Span{From: 0, To: span.Len()}}}}
	return out, last
}

func usable(s *sounding.Series, i int) bool {
	if math.IsNaN(s.Values[i]) {
		return false
	}
	return s.Flags == nil || s.Flags[i] != quality.Bad && s.Flags[i] != quality.Missing
}

func firstPosition(f *sounding.Final, span sounding.Span) (latitude, longitude float64) {
	a, b := f.Get(sounding.Latitude), f.Get(sounding.Longitude)
	if a == nil || b == nil {
		return math.NaN(), math.NaN()
	}
	for i := span.From; i < span.To; i++ {
		if usable(a, i) && usable(b, i) {
			return a.Values[i], b.Values[i]
		}
	}
	return math.NaN(), math.NaN()
}

// view reads levels off a flight, turned around or not.
type view struct {
	f                   *sounding.Final
	epoch, start        time.Time
	latitude, longitude float64
	turned              bool
	last                float64

	series [sounding.NumVariables]*sounding.Series
}

func (v *view) open() {
	for i := range v.f.Series {
		v.series[v.f.Series[i].Variable] = &v.f.Series[i]
	}
}

func (v *view) value(x sounding.Variable, row int) float64 {
	if s := v.series[x]; s != nil && usable(s, row) {
		return s.Values[row]
	}
	return math.NaN()
}

// seconds turns a time of the columns into s since the start of the report.
func (v *view) seconds(t float64) float64 {
	if v.turned {
		t = v.last - t
	}
	return t + v.epoch.Sub(v.start).Seconds()
}

// sample is a row for resolution.
func (v *view) sample(row int) (r [numColumns]float64) {
	r[cTime], r[cBits] = v.seconds(v.f.Time[row]), 0
	r[cPressure], r[cHeight] = v.value(sounding.Pressure, row), v.value(sounding.GeopotentialHeight, row)
	r[cTemperature], r[cDewPoint], r[cHumidity] = v.value(sounding.Temperature, row), v.value(sounding.DewPoint, row), v.value(sounding.Humidity, row)
	a, b := v.value(sounding.WindU, row), v.value(sounding.WindV, row)
	if math.IsNaN(a) || math.IsNaN(b) {
		r[cSpeed], r[cDirection] = v.value(sounding.WindSpeed, row), v.value(sounding.WindDirection, row)
	} else {
		r[cSpeed], r[cDirection] = earth.WindFromUV(a, b)
	}
	v.place(&r, v.value(sounding.Latitude, row), v.value(sounding.Longitude, row))
	r[cBelow], r[cAbove] = math.NaN(), math.NaN()
	return r
}

// level is a level of the rules.
func (v *view) level(l *levels.Level) (r [numColumns]float64) {
	r[cTime], r[cBits] = v.seconds(l.Time.Value()), float64(SignificanceBits(l.Kind))
	r[cPressure], r[cHeight] = l.Pressure.Value(), l.Geopotential.Value()
	r[cTemperature], r[cDewPoint], r[cHumidity] = l.Temperature.Value(), l.DewPoint.Value(), l.Humidity.Value()
	r[cSpeed], r[cDirection] = l.Speed.Value(), l.Direction.Value()
	v.place(&r, l.Latitude.Value(), l.Longitude.Value())
	r[cBelow], r[cAbove] = l.ShearBelow.Value(), l.ShearAbove.Value()
	return r
}

// place fills displacements and what follows from other columns.
func (v *view) place(r *[numColumns]float64, latitude, longitude float64) {
	r[cNorth] = latitude - v.latitude
	r[cEast] = math.Remainder(longitude-v.longitude, 360)
	if math.IsNaN(r[cDewPoint]) && r[cHumidity] > 0 && !math.IsNaN(r[cTemperature]) {
		r[cDewPoint] = humidity.HylandWexler.DewPointFromRelative(r[cHumidity], r[cTemperature])
	}
	r[cDirection], r[cSpeed] = codedWind(r[cDirection], r[cSpeed])
}

// codedWind follows the note of Table B on wind: calm is 0 and 0, a wind has 1 to 360.
func codedWind(direction, speed float64) (float64, float64) {
	if math.IsNaN(direction) || math.IsNaN(speed) {
		return direction, speed
	}
	speed = math.Round(speed*10) / 10
	if speed == 0 {
		return 0, 0
	}
	if direction = math.Round(direction); direction == 0 {
		direction = 360
	}
	return direction, speed
}

// rows merges the levels of the set with every so many seconds a sample.
func (v *view) rows(set levels.Set, o *Options) [][numColumns]float64 {
	keep := func(p float64) bool { return p > 0 && (o.Upto == 0 || p >= o.Upto-1e-6) }
	var out [][numColumns]float64
	k := 0
	next := func() {
		if l := &set.Levels[k]; keep(l.Pressure.Value()) {
			out = append(out, v.level(l))
		}
		k++
	}
	if o.Every > 0 {
		profile := levels.NewProfile(v.f, o.settings())
		due := math.Inf(-1)
		// A level and a sample that would be coded with one pressure are one level.
		const same = 0.005
		for i, row := range profile.Rows {
			p := v.f.Get(sounding.Pressure).Values[row]
			for k < len(set.Levels) && set.Levels[k].Pressure.Value() > p+same {
				next()
			}
			t := profile.Time[i]
			if t < due-0.05 {
				continue
			}
			if math.IsInf(due, -1) {
				due = t
			}
			for due <= t+0.05 {
				due += o.Every
			}
			if k < len(set.Levels) && set.Levels[k].Pressure.Value() >= p-same {
				continue // the level stands for the sample
			}
			if keep(p) {
				out = append(out, v.sample(row))
			}
		}
	}
	for k < len(set.Levels) {
		next()
	}
	return out
}

// check refuses what makes no report.
func (w *writtenLevels) check(o *Options, n *notes) error {
	switch {
	case len(w.rows) == 0:
		return fmt.Errorf("the flight has no level with a usable pressure: there is nothing to report")
	case len(w.rows) > maxLevels:
		return fmt.Errorf("%d levels, a message holds %d: give a longer spacing", len(w.rows), maxLevels)
	}
	if top := w.rows[len(w.rows)-1][cPressure]; o.Upto > 0 && top > o.Upto+0.5 {
		n.say(sounding.Note, "", "the sounding ends at %.1f hPa, below %g hPa: only the full report is due", top, o.Upto)
	}
	return nil
}

// maxLevels is what 0 31 002 holds, its all-ones pattern left out.
const maxLevels = 65534
