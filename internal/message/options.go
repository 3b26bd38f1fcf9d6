package message

import (
	"fmt"
	"math"
	"strings"
	"time"

	"leadline/internal/bufr"
	"leadline/internal/levels"
	"leadline/internal/sounding"
	"leadline/internal/temp"
)

// Template is what a message is written as.
type Template string

// The templates.
const (
	BUFR309052 Template = "309052" // TEMP, TEMP SHIP, TEMP MOBIL
	BUFR309053 Template = "309053" // dropsonde
	BUFR309055 Template = "309055" // by height, with relative humidity
	BUFR309056 Template = "309056" // descent of a radiosonde
	BUFR309057 Template = "309057" // as 309052, with instrument metadata and finer pressure and height
	TEMP       Template = "temp"   // FM 35, 36, 38 Parts A to D
	PILOT      Template = "pilot"  // FM 32, 33, 34 Parts A to D, wind only
)

// Templates lists them in the order of help texts.
var Templates = []Template{BUFR309057, BUFR309052, BUFR309055, BUFR309056, BUFR309053, TEMP, PILOT}

// ParseTemplate reads a template's name: 309057, 3 09 057, temp or pilot.
func ParseTemplate(s string) (Template, error) {
	t := Template(strings.ToLower(strings.ReplaceAll(s, " ", "")))
	var names []string
	for _, known := range Templates {
		if t == known {
			return t, nil
		}
		names = append(names, string(known))
	}
	return "", fmt.Errorf("template %q is not known: want one of %s", s, strings.Join(names, ", "))
}

// descent tells whether the report is of the way down.
func (t Template) descent() bool { return t == BUFR309056 || t == BUFR309053 }

func (t Template) descriptor() bufr.Descriptor {
	d, _ := bufr.ParseDescriptor(string(t))
	return d
}

// Options say how a flight becomes a message. The zero value with a Template is a full
// report of the significant and standard levels.
type Options struct {
	Template Template
	// Upto is the lowest pressure reported, hPa: 100 for the report that is due when
	// 100 hPa is reached. 0 is the whole sounding.
	Upto float64
	// Every is the spacing of levels for resolution, s, between the significant ones:
	// 1 or 2 for a high-resolution report. 0 reports standard and significant levels only.
	Every float64
	// Correction is the update sequence number: 0 original, 1, 2 … corrected versions.
	Correction int
	// Heading is the abbreviated heading the message is put under, day, time and sequel
	// being filled in; nil leaves it out. For TEMP and PILOT the letters T1T2 follow from the part.
	Heading *temp.Heading
	// Created is when the message is made, for its file name; zero is the end of the data.
	Created time.Time
	// Centre and SubCentre are figures of common code tables C-11 and C-12; 0 is missing.
	Centre, SubCentre int
	// GroundHeight is the height of the station's ground, m above mean sea level, for
	// 0 07 030; nil is missing. The launch record knows the release point only.
	GroundHeight *float64
	// Ascension is the running number of the ascent, 0 01 082; 0 is missing. Release says
	// which release within the period it was, 0 01 083; 0 is missing.
	Ascension, Release int
	// Software names and numbers the program, at most 12 characters, for 0 25 061.
	Software string
	// WindUnit of TEMP and PILOT; not set is m/s.
	WindUnit temp.Unit
	// Vertical of PILOT is ByPressure or ByAltitude; empty is by pressure where the flight
	// has one.
	Vertical string
	// FixedAltitudes of PILOT are the regional altitudes that are reported besides the
	// significant winds: 300 for those of Region IV in steps of 300 m, 500 for the six in
	// steps of 500 m up to 10 km that bulletins of Region II carry, 0 for none.
	FixedAltitudes int
	// Settings of the level rules, for descents and for picking the ascent; nil is the
	// shipped ones.
	Settings *levels.Settings
}

func (o *Options) settings() *levels.Settings {
	if o.Settings != nil {
		return o.Settings
	}
	return levels.Default()
}

// Validate returns an error that names the first option that makes no sense.
func (o *Options) Validate() error {
	if _, err := ParseTemplate(string(o.Template)); err != nil {
		return err
	}
	switch {
	case !(o.Upto >= 0) || math.IsInf(o.Upto, 0):
		return fmt.Errorf("reporting up to %v hPa makes no sense: want a pressure above 0, such as 100", o.Upto)
	case !(o.Every >= 0) || math.IsInf(o.Every, 0):
		return fmt.Errorf("levels every %v s make no sense: want 1 or 2, or 0 for standard and significant levels only", o.Every)
	case o.Vertical != "" && o.Vertical != ByPressure && o.Vertical != ByAltitude:
		return fmt.Errorf("winds by %q make no sense: want %s or %s", o.Vertical, ByPressure, ByAltitude)
	case o.FixedAltitudes != 0 && fixedAltitudes[o.FixedAltitudes] == nil:
		return fmt.Errorf("fixed altitudes in steps of %d m: the code has steps of 300 m and of 500 m, 0 is none", o.FixedAltitudes)
	case o.Correction < 0 || o.Correction > 254:
		return fmt.Errorf("correction %d is not 0 (original) to 254", o.Correction)
	case o.Centre < 0 || o.Centre > 65534 || o.SubCentre < 0 || o.SubCentre > 65534:
		return fmt.Errorf("centre %d, sub-centre %d: want figures of code tables C-11 and C-12, 0 to 65534", o.Centre, o.SubCentre)
	}
	return nil
}

// Encoded is a message ready to be sent.
type Encoded struct {
	// Bytes of the message, under its heading where one was given; bulletins are text.
	Bytes []byte
	// FileName is by the WMO's general rules where there is a heading, else of the flight's name.
	FileName string
	// Levels and MaximumWinds are how many were written.
	Levels, MaximumWinds int
	Nominal              time.Time
	// Findings say what could not be coded and is missing, and what was taken for granted.
	Findings []sounding.Finding
}
