package temp

import (
	"fmt"
	"math"
)

// Form is the code form of a report.
type Form uint8

const (
	// Land is FM 35 TEMP, TTAA and so on.
	Land Form = iota + 1
	// Ship is FM 36 TEMP SHIP, UUAA.
	Ship
	// Drop is FM 37 TEMP DROP, XXAA.
	Drop
	// Mobile is FM 38 TEMP MOBIL, IIAA.
	Mobile
	// PilotLand is FM 32 PILOT, PPAA.
	PilotLand
	// PilotShip is FM 33 PILOT SHIP, QQAA.
	PilotShip
	// PilotMobile is FM 34 PILOT MOBIL, EEAA.
	PilotMobile
)

var forms = [...]struct{ letters, name string }{
	Land: {"TT", "FM 35 TEMP"}, Ship: {"UU", "FM 36 TEMP SHIP"}, Drop: {"XX", "FM 37 TEMP DROP"}, Mobile: {"II", "FM 38 TEMP MOBIL"},
	PilotLand: {"PP", "FM 32 PILOT"}, PilotShip: {"QQ", "FM 33 PILOT SHIP"}, PilotMobile: {"EE", "FM 34 PILOT MOBIL"},
}

// String returns number and name of the form.
func (f Form) String() string {
	if f == 0 || int(f) >= len(forms) {
		return fmt.Sprintf("form %d", uint8(f))
	}
	return forms[f].name
}

// IsPilot reports a form that carries wind only.
func (f Form) IsPilot() bool { return f >= PilotLand }

func (f Form) hasCallSign() bool {
	return f == Ship || f == Mobile || f == PilotShip || f == PilotMobile
}
func (f Form) hasPosition() bool { return f.hasCallSign() || f == Drop }

// Part is 'A', 'B', 'C' or 'D'.
type Part byte

// String returns the letter.
func (p Part) String() string { return string(rune(p)) }

// aboveHundred reports the parts for pressures below 100 hPa, where PPP is in tenths of hPa.
func (p Part) aboveHundred() bool { return p == 'C' || p == 'D' }

// Unit is the unit of all wind speeds of a report.
type Unit uint8

const (
	// UnitUnknown: the day group is unreadable, so speeds have no unit.
	UnitUnknown Unit = iota
	// MetersASecond: day coded 01 to 31.
	MetersASecond
	// Knots: day coded 51 to 81.
	Knots
)

// String returns m/s, kt or unknown.
func (u Unit) String() string {
	switch u {
	case MetersASecond:
		return "m/s"
	case Knots:
		return "kt"
	}
	return "unknown"
}

// MetersASecond returns a speed of this unit in m/s; NaN where the unit is unknown.
// One knot is 1852 m an hour, exactly.
func (u Unit) MetersASecond(speed float64) float64 {
	switch u {
	case MetersASecond:
		return speed
	case Knots:
		return speed * 1852 / 3600
	}
	return math.NaN()
}

// FromMetersASecond is the inverse of [Unit.MetersASecond].
func (u Unit) FromMetersASecond(speed float64) float64 {
	switch u {
	case MetersASecond:
		return speed
	case Knots:
		return speed * 3600 / 1852
	}
	return math.NaN()
}

// Kind says which section a level comes from.
type Kind uint8

const (
	// Surface: 99PPP.
	Surface Kind = iota + 1
	// Standard isobaric level: PPhhh in TEMP, 44 or 55 in PILOT.
	Standard
	// Tropopause: 88PPP.
	Tropopause
	// MaximumWind: 77PPP, in PILOT also 7HHHH.
	MaximumWind
	// MaximumWindAtTop is a maximum at the top of the wind sounding: 66PPP, 6HHHH.
	MaximumWindAtTop
	// SignificantTemperature: section 5, temperature and humidity; 00 is the surface.
	SignificantTemperature
	// SignificantWind: section 21212; 00 is the surface.
	SignificantWind
	// FixedAltitude is a regional altitude level of PILOT Parts B and D.
	FixedAltitude
)

var kindNames = [...]string{Surface: "surface", Standard: "standard", Tropopause: "tropopause", MaximumWind: "maximum wind",
	MaximumWindAtTop: "maximum wind at the top", SignificantTemperature: "significant temperature",
	SignificantWind: "significant wind", FixedAltitude: "fixed altitude"}

// String returns the kind in words.
func (k Kind) String() string {
	if k == 0 || int(k) >= len(kindNames) {
		return fmt.Sprintf("kind %d", uint8(k))
	}
	return kindNames[k]
}

// Level is one level of a report. What a section does not carry, and what is
// coded as missing, is NaN.
type Level struct {
	Kind Kind
	// Number is the level number of sections 5 and 6: 00, 11 to 99, 11 and so on;
	// a single figure where PILOT gives altitudes. Empty elsewhere, ignored by Encode.
	Number string
	// Gap marks "nn/// /////": no data between the levels before and after it.
	Gap         bool
	PressureHPa float64
	// HeightGpm is the geopotential height above mean sea level; in PILOT altitudes
	// as coded, in steps of 10, 300 or 500 m.
	HeightGpm              float64
	TemperatureCelsius     float64
	DewPointDepression     float64 // K
	WindDirectionDegrees   float64 // from which it blows; 360 is north, 0 only for calm
	WindSpeed              float64 // in the wind unit of the report
	ShearBelow, ShearAbove float64 // amount of the vector difference to 1 km below and above, same unit
	// Approximate: PILOT 55, where the standard level stands for an altitude near it.
	Approximate bool
	// Line and Column of the first group; 0 in levels that were not read.
	Line, Column int
}

// NewLevel returns a level with every value missing.
func NewLevel(kind Kind) Level {
	n := math.NaN()
	return Level{Kind: kind, PressureHPa: n, HeightGpm: n, TemperatureCelsius: n, DewPointDepression: n,
		WindDirectionDegrees: n, WindSpeed: n, ShearBelow: n, ShearAbove: n}
}

// System is section 7, 31313. Figures are those of the code tables, -1 where missing.
type System struct {
	RadiationCorrection int // table 3849, as BUFR 0 02 013
	SondeType           int // table 3685, two figures
	Tracking            int // table 3872, as BUFR 0 02 014
	// LaunchHour and LaunchMinute are UTC; -1 where missing.
	LaunchHour, LaunchMinute int
	SeaTemperatureCelsius    float64
}

// Text is a section kept as it stands: 51515 to 69696, regional and national.
type Text struct {
	Indicator string // for example 51515
	Groups    []string
}

// Finding is one thing that is wrong with the text.
type Finding struct {
	Line, Column int    // of the first group concerned, from 1
	Group        string // the groups as they stand, shortened
	Code         string // one of the Code constants
	Text         string // one sentence
}

// String returns place, group and sentence.
func (f Finding) String() string {
	return fmt.Sprintf("line %d, column %d: %q: %s", f.Line, f.Column, f.Group, f.Text)
}

// Codes of findings.
const (
	CodeGarbled   = "garbled"    // a group that is no group, or a figure that the code table does not have
	CodeMissing   = "missing"    // a group or level that ought to be there is not
	CodeOrder     = "order"      // levels out of order
	CodeIndicator = "indicator"  // the wind indicator figure disagrees with the groups that follow
	CodePosition  = "position"   // Marsden square and latitude or longitude disagree
	CodeAmbiguous = "ambiguous"  // read one way, but another is possible
	CodeCut       = "cut"        // the text goes beyond a limit and was not read to its end
	CodeStray     = "stray text" // groups outside any report
)

const maxFindings = 100

// findings is a bounded list.
type findings struct {
	// Findings lists what is wrong with the text, at most 100 entries; FindingCount counts all.
	Findings     []Finding
	FindingCount int
}

func (f *findings) find(at token, group, code, format string, args ...any) {
	f.FindingCount++
	if len(f.Findings) < maxFindings {
		f.Findings = append(f.Findings, Finding{Line: at.line, Column: at.column, Group: group, Code: code, Text: fmt.Sprintf(format, args...)})
	}
}

// Report is one part of one station's sounding.
type Report struct {
	Form         Form
	Part         Part
	Line, Column int // of the first group
	Day, Hour    int // UTC; -1 where unreadable
	WindUnit     Unit
	// Indicator is the last figure of the day group: Id (table 1734) in TEMP Parts
	// A and C, a4 (table 0265) elsewhere; '/' where no wind was measured, 0 where unreadable.
	Indicator byte
	// Station is the five-figure station number, or the call sign; empty for Drop.
	Station string
	// Position of ship, mobile station or dropsonde; NaN elsewhere. North and east positive.
	LatitudeDegrees, LongitudeDegrees float64
	// ElevationMeters of a mobile station, with the figure of table 1845 for its
	// confidence (1 excellent to 4 poor; 5 to 8 the same for feet in the text).
	ElevationMeters     float64
	ElevationConfidence int
	// Nil: the report says NIL.
	Nil bool
	// Closed: the report ended with "=".
	Closed bool
	Levels []Level
	// NoTropopause and NoMaximumWind: 88999 and 77999 stand in the text.
	NoTropopause, NoMaximumWind bool
	System                      *System
	Cloud                       []string // the group after 41414, as it stands
	Texts                       []Text
	findings
}

// Level bounds: a report with more is read no further.
const maxLevels = 1000

func (r *Report) add(at token, l Level) bool {
	if len(r.Levels) >= maxLevels {
		if len(r.Levels) == maxLevels && (r.FindingCount == 0 || r.Findings[len(r.Findings)-1].Code != CodeCut) {
			r.find(at, at.text, CodeCut, "more than %d levels in one report: the rest is not read", maxLevels)
		}
		return false
	}
	l.Line, l.Column = at.line, at.column
	r.Levels = append(r.Levels, l)
	return true
}
