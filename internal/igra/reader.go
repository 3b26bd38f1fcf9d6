package igra

import (
	"bytes"
	"fmt"
	"io"
	"math"
)

// Sounding is one sounding of the main layout. All slices have one entry a level,
// in the order of the file.
type Sounding struct {
	Header
	// PressureSource and OtherSource are the archive's codes for where the levels
	// with and without pressure came from.
	PressureSource, OtherSource string
	// LatitudeDegrees and LongitudeDegrees, north and east positive. Both NaN with
	// Moving set for a moving station without position.
	LatitudeDegrees, LongitudeDegrees float64
	Moving                            bool

	// MajorType: 1 standard pressure level, 2 other pressure level, 3 level without pressure.
	MajorType []uint8
	// MinorType: 1 surface, 2 tropopause, 0 other.
	MinorType []uint8

	ElapsedSeconds         Column // s since release
	PressureHPa            Column
	HeightGpm              Column
	TemperatureCelsius     Column
	HumidityPercent        Column // relative humidity, where reported as such
	DepressionKelvin       Column // dew-point depression
	WindDirectionDegrees   Column // from which it blows, clockwise from north
	WindSpeedMetersASecond Column

	// PressureFlags, HeightFlags and TemperatureFlags are the archive's climatology
	// marks: ' ' not checked, 'A' within the first tier of limits, 'B' within both,
	// '?' for anything else (listed in Problems).
	PressureFlags, HeightFlags, TemperatureFlags []byte
}

// Reader reads the soundings of a file of the main layout one after the other.
type Reader struct{ lines lines }

// NewReader returns a Reader. It reads ahead by at most 64 KiB.
func NewReader(r io.Reader) *Reader { return &Reader{lines: newLines(r)} }

var mainSpecial = special{missing: -9999, removed: -8888}

// Next returns the next sounding, io.EOF after the last. A *RecordError says that
// one sounding was left out, and Next may be called again; any other error is
// from the underlying reader and stays.
func (r *Reader) Next() (Sounding, error) {
	text, err := r.lines.header()
	if err != nil {
		return Sounding{}, err
	}
	s, err := parseMainHeader(text, r.lines.number)
	if err != nil {
		r.lines.skip()
		return Sounding{}, err
	}
	// Room for what is promised, but never more than a first instalment of it
	// before the lines are seen.
	s.grow(min(s.Levels, 256))
	for i := range s.Levels {
		text, err := r.lines.level(&s.Header, i, mainLevelWidth)
		if err != nil {
			return Sounding{}, err
		}
		if err := s.appendLevel(text, r.lines.number); err != nil {
			r.lines.skip()
			return Sounding{}, err
		}
	}
	return s, nil
}

func parseMainHeader(line []byte, number int) (Sounding, error) {
	var s Sounding
	h, err := parseHeader(line, number)
	if err != nil {
		return s, err
	}
	s.Header = h
	if w := len(bytes.TrimRight(line, " ")); w < mainHeaderWidth || w >= derivedHeaderWidth {
		hint := "the header is cut; this sounding is left out"
		if w >= derivedHeaderWidth {
			hint = "this is the derived layout: read it as such"
		}
		return s, &RecordError{Line: number, Reason: fmt.Sprintf("the header has %d characters, expected %d", w, mainHeaderWidth), Hint: hint}
	}
	s.PressureSource = readable(fieldPressureSource.of(line))
	s.OtherSource = readable(fieldOtherSource.of(line))
	latitude, _ := s.value(line, number, fieldLatitude, special{missing: -988888}, 1e4)
	longitude, _ := s.value(line, number, fieldLongitude, special{missing: -9988888}, 1e4)
	moving := bytes.Equal(bytes.TrimSpace(fieldLatitude.of(line)), []byte("-988888"))
	for _, c := range []struct {
		span
		degrees, limit float64
	}{{fieldLatitude, latitude, 90}, {fieldLongitude, longitude, 180}} {
		if math.Abs(c.degrees) > c.limit {
			s.problem(number, c.span, c.of(line))
			latitude, longitude = math.NaN(), math.NaN()
		}
	}
	s.LatitudeDegrees, s.LongitudeDegrees, s.Moving = latitude, longitude, moving
	return s, nil
}

func (s *Sounding) columns() [8]*Column {
	return [8]*Column{&s.ElapsedSeconds, &s.PressureHPa, &s.HeightGpm, &s.TemperatureCelsius,
		&s.HumidityPercent, &s.DepressionKelvin, &s.WindDirectionDegrees, &s.WindSpeedMetersASecond}
}

// grow gives all columns room for n levels from three allocations.
func (s *Sounding) grow(n int) {
	columns := s.columns()
	values := make([]float64, len(columns)*n)
	marks := make([]Mark, len(columns)*n)
	for i, c := range columns {
		c.Values = values[i*n : i*n : (i+1)*n]
		c.Marks = marks[i*n : i*n : (i+1)*n]
	}
	small := make([]byte, 5*n)
	for i, b := range []*[]byte{&s.MajorType, &s.MinorType, &s.PressureFlags, &s.HeightFlags, &s.TemperatureFlags} {
		*b = small[i*n : i*n : (i+1)*n]
	}
}

// mainNumbers gives field and divisor in the order of Sounding.columns.
var mainNumbers = [8]struct {
	span
	divisor float64
}{
	{fieldElapsed, 1}, {fieldPressure, 100}, {fieldHeight, 1}, {fieldTemperature, 10},
	{fieldHumidity, 10}, {fieldDepression, 10}, {fieldWindDirection, 1}, {fieldWindSpeed, 10},
}

func (s *Sounding) appendLevel(line []byte, number int) error {
	major, minor := line[fieldMajorType.first-1], line[fieldMinorType.first-1]
	if major < '1' || major > '3' || minor < '0' || minor > '2' {
		return &RecordError{Line: number, Column: 1, Reason: fmt.Sprintf("level type %q, expected 1 to 3 and 0 to 2", line[:2]),
			Hint: "the columns have shifted or this is no level line; this sounding is left out"}
	}
	s.MajorType = append(s.MajorType, major-'0')
	s.MinorType = append(s.MinorType, minor-'0')
	for i, c := range s.columns() {
		f := &mainNumbers[i]
		v, mark := s.value(line, number, f.span, mainSpecial, f.divisor)
		if i == 0 && mark == Present {
			// ETIME is MMMSS: whole minutes, then seconds.
			minutes, seconds := math.Trunc(v/100), math.Mod(v, 100)
			if v < 0 || seconds > 59 {
				s.problem(number, f.span, f.of(line))
				v, mark = math.NaN(), Unreadable
			} else {
				v = minutes*60 + seconds
			}
		}
		c.Values = append(c.Values, v)
		c.Marks = append(c.Marks, mark)
	}
	s.PressureFlags = append(s.PressureFlags, s.climatologyFlag(line, number, fieldPressureFlag))
	s.HeightFlags = append(s.HeightFlags, s.climatologyFlag(line, number, fieldHeightFlag))
	s.TemperatureFlags = append(s.TemperatureFlags, s.climatologyFlag(line, number, fieldTemperatureFlag))
	return nil
}

func (s *Sounding) climatologyFlag(line []byte, number int, f span) byte {
	c := line[f.first-1]
	if c != ' ' && c != 'A' && c != 'B' {
		s.problem(number, f, f.of(line))
		return '?'
	}
	return c
}
