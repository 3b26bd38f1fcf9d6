// Package comparison lays one profile over another and takes differences, B minus A, by
// variable and by pressure layer. docs/methods/comparison.md states the rules.
//
// It is pure: columns in, differences and statistics out. Two versions of one flight have
// the same rows and are compared row by row. Two flights have no row in common: B is
// interpolated to the samples of A along one vertical axis, never beyond its ends and never
// across a gap.
package comparison

import (
	"fmt"
	"math"

	"leadline/internal/sounding"
)

// Axis is what two different flights are compared along.
type Axis string

// The axes.
const (
	ByPressure Axis = "pressure" // at equal pressure, straight lines in ln p
	ByHeight   Axis = "height"   // at equal height above mean sea level (geopotential height where there is none)
	ByTime     Axis = "time"     // at equal time since release
)

// ParseAxis reads an axis' name; "" is pressure.
func ParseAxis(s string) (Axis, error) {
	switch a := Axis(s); a {
	case "":
		return ByPressure, nil
	case ByPressure, ByHeight, ByTime:
		return a, nil
	}
	return "", fmt.Errorf("%q is no axis to compare along: want pressure, height or time", s)
}

// DefaultBounds are the bounds of the layers in hPa: standard levels of WMO-No. 306 FM 35,
// every second one where they lie close. A choice of this project.
func DefaultBounds() []float64 {
	return []float64{1100, 925, 850, 700, 500, 300, 200, 100, 50, 20, 10, 5}
}

// Options say how to compare.
type Options struct {
	Axis     Axis                // "" is pressure; of no account with SameRows
	SameRows bool                // both sides hold the same rows of the same source: nothing is interpolated
	Bounds   []float64           // of the layers, hPa, each smaller than the one before; nil: DefaultBounds
	Gap      float64             // s: B is not interpolated between samples farther apart; 0: DefaultGap
	Calm     float64             // m/s: directions are compared where both winds reach it; 0: DefaultCalm
	Only     []sounding.Variable // the variables wanted; nil: all that both have
}

// DefaultGap is the longest stretch B is interpolated over, s: as long as a gap of pressure,
// temperature and wind is bridged (check.gap.bridged_s). Where B is sampled more coarsely
// than half of it, twice its usual interval.
const DefaultGap = 30.0

// DefaultCalm is the wind below which a direction says nothing, m/s. A choice of this project.
const DefaultCalm = 1.0

// Validate returns an error that says which option cannot be.
func (o *Options) Validate() error {
	if _, err := ParseAxis(string(o.Axis)); err != nil {
		return err
	}
	if o.Bounds != nil && len(o.Bounds) < 2 {
		return fmt.Errorf("layers need two bounds or more, not %d", len(o.Bounds))
	}
	for i, p := range o.Bounds {
		if !(p > 0 && p <= 1200) {
			return fmt.Errorf("the bound %g hPa of a layer is not between 0 and 1200 hPa", p)
		}
		if i > 0 && !(p < o.Bounds[i-1]) {
			return fmt.Errorf("the bounds of the layers must fall: %g hPa follows %g hPa", p, o.Bounds[i-1])
		}
	}
	if o.Gap != 0 && !(o.Gap > 0 && o.Gap <= 3600) {
		return fmt.Errorf("a gap of %g s is not between 0 and 3600 s", o.Gap)
	}
	if o.Calm != 0 && !(o.Calm > 0 && o.Calm <= 20) {
		return fmt.Errorf("a calm of %g m/s is not between 0 and 20 m/s", o.Calm)
	}
	return nil
}

// Side is one of the two profiles.
type Side struct {
	Values *sounding.Columns // what is compared
	Raw    bool              // as received: whatever the flags say; otherwise bad samples are left out
	Place  *sounding.Columns // the final columns, which say where each sample lies; nil: Values
	Ascent sounding.Span     // rows of the profile
}

// Statistics are those of the differences of one variable in one layer, in its unit.
type Statistics struct {
	Bottom      sounding.Number `json:"bottom_hpa"` // null: of the whole profile
	Top         sounding.Number `json:"top_hpa"`
	N           int             `json:"n"`         // samples of A at which both have a valid value
	InA         int             `json:"n_a"`       // valid samples of A in the layer
	InB         int             `json:"n_b"`       // valid samples of B in the layer, by its own pressure
	Mean        sounding.Number `json:"mean"`      // of B minus A
	Deviation   sounding.Number `json:"deviation"` // standard deviation about the mean, divisor n − 1
	RMS         sounding.Number `json:"rms"`       // root mean square
	Largest     sounding.Number `json:"largest"`   // the difference farthest from zero, with its sign
	LargestHPa  sounding.Number `json:"largest_hpa"`
	LargestTime sounding.Number `json:"largest_s"` // of A's sample, since its release
	LargestRow  int             `json:"largest_row"`
}

// Variable is what was found for one variable.
type Variable struct {
	Variable sounding.Variable `json:"variable"`
	Label    string            `json:"label"`
	Unit     string            `json:"unit"`
	Whole    Statistics        `json:"whole"`
	Layers   []Statistics      `json:"layers"` // one for each pair of bounds, from the ground up

	// Differences are B minus A at each row of A, NaN where one of them has no valid value.
	Differences []float64 `json:"-"`
}

// Result is a comparison of two profiles.
type Result struct {
	SameRows  bool       `json:"same_rows"`
	Axis      Axis       `json:"axis"`  // "" with same rows
	Gap       float64    `json:"gap_s"` // that was used; 0 with same rows
	Rule      string     `json:"rule"`  // how values were brought together, in plain words
	Bounds    []float64  `json:"bounds_hpa"`
	Variables []Variable `json:"variables"` // that both have, in fixed order
	OnlyA     []string   `json:"only_a"`    // variables that B lacks
	OnlyB     []string   `json:"only_b"`
	Notes     []string   `json:"notes"`
}

// compared are the variables of a comparison, in order.
var compared = []sounding.Variable{
	sounding.Pressure, sounding.Temperature, sounding.DewPoint, sounding.Humidity, sounding.HumidityA, sounding.HumidityB,
	sounding.WindSpeed, sounding.WindDirection, sounding.WindU, sounding.WindV,
	sounding.HeightMSL, sounding.GeopotentialHeight, sounding.AscentRate,
}

// Compare returns B minus A. With SameRows both must hold the same number of rows.
func Compare(a, b Side, o Options) (*Result, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	o.Axis, _ = ParseAxis(string(o.Axis))
	if o.Bounds == nil {
		o.Bounds = DefaultBounds()
	}
	if o.Gap == 0 {
		o.Gap = DefaultGap
	}
	if o.Calm == 0 {
		o.Calm = DefaultCalm
	}
	x, y := newProfile(a), newProfile(b)
	r := &Result{SameRows: o.SameRows, Bounds: o.Bounds, Variables: []Variable{}, OnlyA: []string{}, OnlyB: []string{}, Notes: []string{}}
	var rows pairing
	if o.SameRows {
		if a.Values.Len() != b.Values.Len() {
			return nil, fmt.Errorf("the versions have %d and %d rows: they are not of one flight", a.Values.Len(), b.Values.Len())
		}
		rows = sameRows(x, y)
		r.Rule = "Both are versions of one flight: they are compared row by row on the ascent they share, and nothing is interpolated. Layers by the pressure of A, where it has none by that of B."
	} else {
		gap := math.Max(o.Gap, 2*y.interval())
		r.Axis, r.Gap = o.Axis, gap
		r.Rule = fmt.Sprintf("B is interpolated to the samples of A at equal %s, between neighbouring valid samples of B no farther apart than %g s and never beyond its ends. Both count on the ascent only, and only where they are higher than ever before. Layers by the pressure of A.", axisWords[o.Axis], gap)
		rows = along(x, y, o.Axis, gap)
		if !rows.possible {
			return nil, fmt.Errorf("the flights cannot be compared at equal %s: %s has none on its ascent", axisWords[o.Axis], rows.lacking)
		}
	}
	for _, v := range compared {
		if !wanted(o.Only, v) {
			continue
		}
		va, vb := x.valid(v), y.valid(v)
		switch {
		case va == nil && vb == nil:
			continue
		case vb == nil:
			r.OnlyA = append(r.OnlyA, v.Info().Label)
			continue
		case va == nil:
			r.OnlyB = append(r.OnlyB, v.Info().Label)
			continue
		}
		if !o.SameRows && (o.Axis == ByPressure && v == sounding.Pressure || o.Axis == ByHeight && v == x.heightIs) {
			continue // equal by construction
		}
		var d []float64
		switch v {
		case sounding.WindSpeed, sounding.WindDirection:
			d = rows.wind(x, y, v, va, vb, o.Calm)
		default:
			d = rows.differences(va, vb)
		}
		r.Variables = append(r.Variables, summed(v, d, va, vb, x, y, o))
	}
	if !o.SameRows && o.Axis == ByHeight && x.heightIs != y.heightIs {
		r.Notes = append(r.Notes, "One flight has geometric heights and the other geopotential ones: equal height is not quite the same place, by about 1 part in 500 at 10 km.")
	}
	if x.pressure == nil && y.pressure == nil {
		r.Notes = append(r.Notes, "Neither has a pressure, so that there are no layers.")
	}
	return r, nil
}

var axisWords = map[Axis]string{ByPressure: "pressure", ByHeight: "height", ByTime: "time since release"}

func wanted(only []sounding.Variable, v sounding.Variable) bool {
	if only == nil {
		return true
	}
	for _, w := range only {
		if w == v {
			return true
		}
	}
	return false
}
