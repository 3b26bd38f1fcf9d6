package gas

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"math"
	"sort"

	"github.com/pelletier/go-toml/v2"
)

// Balloon is one row of a table of balloons.
type Balloon struct {
	Mass  float64 `toml:"mass_kg" json:"mass_kg"`
	Burst float64 `toml:"burst_diameter_m" json:"burst_diameter_m"`
}

// Table is a user's table of one make of balloons: burst diameters by mass, and the
// spread of the burst diameter as the half-width within which nearly all burst.
type Table struct {
	Name     string    `toml:"name" json:"name"`
	Source   string    `toml:"source" json:"source"`
	Spread   float64   `toml:"spread_pct" json:"spread_pct"` // ± %, limits of a uniform distribution
	Balloons []Balloon `toml:"balloon" json:"balloons"`
}

// DefaultTableText is the shipped table of generic latex balloons.
//
//go:embed balloons.toml
var DefaultTableText string

// DefaultTable returns the shipped table.
func DefaultTable() *Table {
	t, err := ReadTable("balloons.toml", []byte(DefaultTableText))
	if err != nil {
		panic(err) // the embedded text is part of the program; a test reads it
	}
	return t
}

// ReadTable reads a table of balloons. The error says where the text is wrong.
func ReadTable(name string, text []byte) (*Table, error) {
	t := &Table{}
	d := toml.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(t); err != nil {
		var strict *toml.StrictMissingError
		var syntax *toml.DecodeError
		switch {
		case errors.As(err, &strict) && len(strict.Errors) > 0:
			row, col := strict.Errors[0].Position()
			return nil, fmt.Errorf("%s: line %d, column %d: unknown key: want name, source, spread_pct and [[balloon]] with mass_kg and burst_diameter_m", name, row, col)
		case errors.As(err, &syntax):
			row, col := syntax.Position()
			return nil, fmt.Errorf("%s: line %d, column %d: %v", name, row, col, syntax)
		}
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if len(t.Balloons) == 0 {
		return nil, fmt.Errorf("%s: no [[balloon]]: want at least one with mass_kg and burst_diameter_m", name)
	}
	if !(t.Spread >= 0 && t.Spread <= 50) {
		return nil, fmt.Errorf("%s: spread_pct of %g: want 0 to 50", name, t.Spread)
	}
	sort.SliceStable(t.Balloons, func(i, j int) bool { return t.Balloons[i].Mass < t.Balloons[j].Mass })
	for i, b := range t.Balloons {
		switch {
		case !(b.Mass > 0.005 && b.Mass < 20):
			return nil, fmt.Errorf("%s: balloon %d: mass_kg of %g: want 0.005 to 20 kg (the unit is kg)", name, i+1, b.Mass)
		case !(b.Burst > 0.3 && b.Burst < 40):
			return nil, fmt.Errorf("%s: balloon of %g kg: burst_diameter_m of %g: want 0.3 to 40 m", name, b.Mass, b.Burst)
		case i > 0 && b.Mass == t.Balloons[i-1].Mass:
			return nil, fmt.Errorf("%s: balloon of %g kg stands twice", name, b.Mass)
		}
	}
	return t, nil
}

// BurstDiameter returns the burst diameter in m of a balloon of a mass in kg,
// interpolated between the rows of the table in the logarithm of both. It returns an
// error outside them: a table does not say how other sizes behave.
func (t *Table) BurstDiameter(mass float64) (float64, error) {
	b := t.Balloons
	last := len(b) - 1
	if !(mass >= 0.98*b[0].Mass && mass <= 1.02*b[last].Mass) {
		return nan, fmt.Errorf("the table %q holds balloons of %g to %g kg, not %g kg: give the burst diameter, or a table that has it", t.Name, b[0].Mass, b[last].Mass, mass)
	}
	if last == 0 || mass <= b[0].Mass {
		return b[0].Burst, nil
	}
	i := sort.Search(last, func(i int) bool { return b[i].Mass >= mass })
	if i == 0 {
		i = 1
	}
	x := math.Log(math.Min(mass, b[last].Mass)/b[i-1].Mass) / math.Log(b[i].Mass/b[i-1].Mass)
	return b[i-1].Burst * math.Pow(b[i].Burst/b[i-1].Burst, x), nil
}

// SpreadUncertainty returns the standard uncertainty of a burst diameter in m: the limits
// of the table as a uniform distribution, half-width over √3 (JCGM 100:2008, 4.3.7).
func (t *Table) SpreadUncertainty(diameter float64) float64 {
	return diameter * t.Spread / 100 / math.Sqrt(3)
}

// BurstHeight returns the geopotential height in gpm at which a fill has grown to a
// diameter in m: where T/p is that of the release times the ratio of the volumes, by
// bisection between the ground and 45 km. It returns an error where the balloon would
// burst at once or never.
func (f Fill) BurstHeight(diameter, ground float64, atmosphere Atmosphere) (float64, error) {
	const top = 45000
	if d := f.Diameter(f.Air); !(diameter > d) {
		return nan, fmt.Errorf("the fill has a diameter of %.2f m and the balloon bursts at %.2f m: take less gas or a larger balloon", d, diameter)
	}
	want := SphereVolume(diameter)
	low, high := ground, float64(top)
	if !(f.Volume(atmosphere(high)) > want) {
		return nan, fmt.Errorf("the balloon would not reach its burst diameter of %.2f m below 45 km: look at the fill and the diameter", diameter)
	}
	for range 60 {
		middle := (low + high) / 2
		if f.Volume(atmosphere(middle)) < want {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2, nil
}

// Level is one height of an ascent.
type Level struct {
	Height float64 // gpm
	Time   float64 // s since release
	Air    Air
	Climber
}

// Ascent is a climb from release to burst.
type Ascent struct {
	Levels   []Level
	Burst    float64 // gpm
	Pressure float64 // hPa at the burst
	Time     float64 // s from release to burst
	Mean     float64 // m s⁻¹ over the whole climb
}

// Climb follows a fill up to its burst diameter in steps of at most step gpm. It returns
// an error where the balloon does not rise all the way: too little gas.
func (f Fill) Climb(ground, diameter float64, drag Drag, atmosphere Atmosphere, step float64) (Ascent, error) {
	a := Ascent{}
	var err error
	if a.Burst, err = f.BurstHeight(diameter, ground, atmosphere); err != nil {
		return a, err
	}
	n := max(1, int(math.Ceil((a.Burst-ground)/step)))
	dz := (a.Burst - ground) / float64(n)
	a.Levels = make([]Level, n+1)
	rate := 0.0
	for i := range a.Levels {
		l := &a.Levels[i]
		l.Height = ground + float64(i)*dz
		l.Air = atmosphere(l.Height)
		if i == 0 {
			l.Air = f.Air
		}
		l.Climber = f.Rate(l.Air, drag, rate)
		if math.IsNaN(l.Rate) {
			return a, fmt.Errorf("at %.0f gpm the balloon has a free lift of %.3f kg and does not rise: fill more gas", l.Height, f.FreeLift(l.Air))
		}
		if i > 0 {
			l.Time = a.Levels[i-1].Time + dz*0.5*(1/rate+1/l.Rate)
		}
		rate = l.Rate
	}
	last := &a.Levels[n]
	a.Pressure, a.Time = last.Air.Pressure, last.Time
	a.Mean = (a.Burst - ground) / a.Time
	return a, nil
}

// FillForMeanRate returns the fill whose mean rate of climb from release to burst is rate
// in m s⁻¹, to 0.1 %. It returns an error where no fill of this balloon does it: more
// gas climbs faster but bursts lower.
func FillForMeanRate(gas Mixture, load Load, air Air, rate, ground, diameter float64, drag Drag, atmosphere Atmosphere) (Fill, error) {
	return solve(gas, load, air, rate, func(f Fill) (float64, error) {
		a, err := f.Climb(ground, diameter, drag, atmosphere, 500)
		return a.Mean, err
	})
}

// FillForReleaseRate returns the fill whose rate of climb at the release point is rate in
// m s⁻¹.
func FillForReleaseRate(gas Mixture, load Load, air Air, rate float64, drag Drag) (Fill, error) {
	return solve(gas, load, air, rate, func(f Fill) (float64, error) { return f.Rate(air, drag, rate).Rate, nil })
}

// solve finds the free lift with a given rate, by bisection in its logarithm.
func solve(gas Mixture, load Load, air Air, rate float64, of func(Fill) (float64, error)) (Fill, error) {
	if !(rate > 0.3 && rate < 20) {
		return Fill{}, fmt.Errorf("rate of climb of %g m/s: want 0.3 to 20 m/s", rate)
	}
	total := load.Balloon + load.Payload
	low, high := math.Log(0.005*total), math.Log(30*total)
	var f Fill
	var err error
	reached := false
	for range 28 {
		middle := (low + high) / 2
		if f, err = FillForFreeLift(gas, load, air, math.Exp(middle)); err != nil {
			return f, err
		}
		got, err := of(f)
		if err != nil || got > rate {
			// a fill that bursts at once is too large as well
			high = middle
			reached = reached || err == nil
		} else {
			low = middle
		}
	}
	if !reached {
		return f, fmt.Errorf("no fill of a %g kg balloon lifts %g kg at %g m/s before it bursts: take a larger balloon, less load or a lower rate", load.Balloon, load.Payload, rate)
	}
	return f, nil
}
