package prelaunch

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"sync"
	"time"

	"leadline/internal/gas"
	"leadline/internal/sounding"
	"leadline/internal/units"
)

// Plan is what a plan file says besides the launch record: see docs/prepare.md.
type Plan struct {
	Zone string `toml:"time_zone"` // also read with the launch record
	Slot struct {
		Local    string   `toml:"local"`    // nominal hour as local wall time, instead of release.nominal_utc
		Extra    []string `toml:"extra"`    // further releases, RFC 3339; without a zone UTC
		Releases int      `toml:"releases"` // still to come in the campaign, this one included; for stock and gas
	} `toml:"slot"`
	Payload struct {
		Packages []Package `toml:"package"`
		Break    float64   `toml:"string_breaks_n"` // impact force that parts the suspension
	} `toml:"payload"`
	Fill struct {
		Purity    float64 `toml:"purity_pct"`
		AtRelease bool    `toml:"rate_at_release"`
		Free      float64 `toml:"free_lift_kg"`
		Weather   string  `toml:"weather"`
		Burst     float64 `toml:"burst_diameter_m"`
		BurstU    float64 `toml:"burst_diameter_u_m"`
		Table     string  `toml:"balloons"` // file with a table of the balloons in use
	} `toml:"fill"`
	Descent struct {
		Rate     float64  `toml:"fall_rate_m_s"` // near sea level
		Relative float64  `toml:"fall_rate_u_pct"`
		Ground   *float64 `toml:"landing_height_m_msl"`
	} `toml:"descent"`
	Wind struct {
		Profile string `toml:"profile"` // a forecast profile text
		Flight  string `toml:"flight"`  // source file of an earlier flight
	} `toml:"wind"`
	Flights struct {
		Files  []string `toml:"files"` // source files of this station's flights, for drag
		Purity float64  `toml:"purity_pct"`
	} `toml:"station_flights"`
	Areas struct {
		Files []string `toml:"files"`
	} `toml:"areas"`
	Cylinders []struct {
		Name        string    `toml:"name"`
		Gas         string    `toml:"gas"`
		WaterVolume float64   `toml:"water_volume_l"`
		Pressure    string    `toml:"gauge_pressure"` // "150 bar", above the air outside
		Temperature string    `toml:"temperature"`    // "12 °C"
		Count       *int      `toml:"count"`
		Read        time.Time `toml:"read_utc"` // when the gauge was read; flights since are taken off
	} `toml:"cylinder"`
	Stock       []Item      `toml:"stock"`
	ListFile    string      `toml:"launch_list"`
	Ticks       []Tick      `toml:"tick"`
	Contact     Contact     `toml:"contact"`
	Later       *laterCheck `toml:"second_check"`
	Declination float64     `toml:"declination_deg"`
	CompassWind *float64    `toml:"wind_compass_deg"` // surface wind direction as read from a compass
}

// laterCheck is a second comparison nearer to the release, in the units of its keys.
type laterCheck struct {
	ReferencePressure    *float64 `toml:"reference_pressure_hpa"`
	ReferenceTemperature *float64 `toml:"reference_temperature_k"`
	ReferenceHumidity    *float64 `toml:"reference_humidity_pct"`
	Pressure             *float64 `toml:"pressure_hpa"`
	Temperature          *float64 `toml:"temperature_k"`
	Humidity             *float64 `toml:"humidity_pct"`
	HumidityA            *float64 `toml:"humidity_a_pct"`
	HumidityB            *float64 `toml:"humidity_b_pct"`
}

func (l *laterCheck) groundCheck() *sounding.GroundCheck {
	if l == nil {
		return nil
	}
	n := func(x *float64) sounding.Number {
		if x == nil {
			return sounding.NotSet
		}
		return sounding.Number(*x)
	}
	return &sounding.GroundCheck{ReferencePressure: n(l.ReferencePressure), ReferenceTemperature: n(l.ReferenceTemperature), ReferenceHumidity: n(l.ReferenceHumidity),
		Pressure: n(l.Pressure), Temperature: n(l.Temperature), Humidity: n(l.Humidity), HumidityA: n(l.HumidityA), HumidityB: n(l.HumidityB)}
}

// planTables are the tables and keys of a plan file that are not the launch record's.
var planTables = map[string]bool{"slot": true, "payload": true, "fill": true, "descent": true, "wind": true, "station_flights": true, "areas": true,
	"cylinder": true, "stock": true, "tick": true, "contact": true, "second_check": true}

var planKeys = map[string]bool{"launch_list": true, "declination_deg": true, "wind_compass_deg": true}

var (
	tableHead = lazyPattern(`^\s*\[\[?\s*([A-Za-z0-9_-]+)[A-Za-z0-9_. -]*\]\]?\s*(#.*)?$`)
	bareKey   = lazyPattern(`^\s*([A-Za-z0-9_-]+)\s*=`)
)

// lazyPattern compiles a pattern when it is first used: every start of the program would pay for it.
func lazyPattern(text string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(text) })
}

// SplitPlan parts a plan file into the launch record's text and the plan's own. Both keep
// every line in its place (other lines are blank), so that errors name the true line. A
// top-level time_zone goes to both.
func SplitPlan(text []byte) (record, plan []byte) {
	lines := strings.Split(string(text), "\n")
	r, p := make([]string, len(lines)), make([]string, len(lines))
	table := ""
	for i, l := range lines {
		if m := tableHead().FindStringSubmatch(l); m != nil {
			table = m[1]
		}
		ours := planTables[table]
		if table == "" {
			if m := bareKey().FindStringSubmatch(l); m != nil {
				ours = planKeys[m[1]]
				if m[1] == "time_zone" {
					r[i] = l
					ours = true
				}
			}
		}
		if ours {
			p[i] = l
		} else {
			r[i] = l
		}
	}
	return []byte(strings.Join(r, "\n")), []byte(strings.Join(p, "\n"))
}

// ReadPlan reads the plan's own part of a plan file. Unknown keys are refused with their line.
func ReadPlan(name string, text []byte) (*Plan, error) {
	p := &Plan{}
	if err := sounding.DecodeTOML(name, text, p); err != nil {
		return nil, err
	}
	if len(p.Payload.Packages) > 50 || len(p.Cylinders) > 1000 || len(p.Stock) > 200 || len(p.Ticks) > 1000 {
		return nil, fmt.Errorf("%s: too many packages, cylinders, items of stock or ticks", name)
	}
	if p.Fill.Purity == 0 {
		p.Fill.Purity = 99
	}
	if !(p.Fill.Purity > 50 && p.Fill.Purity <= 100) {
		return nil, fmt.Errorf("%s: fill.purity_pct of %g: want above 50 and at most 100 %%", name, p.Fill.Purity)
	}
	for _, c := range []struct {
		key         string
		x, low, top float64
	}{
		{"fill.free_lift_kg", p.Fill.Free, 0, 50}, {"fill.burst_diameter_m", p.Fill.Burst, 0, 40}, {"fill.burst_diameter_u_m", p.Fill.BurstU, 0, 10},
		{"descent.fall_rate_m_s", p.Descent.Rate, 0, 60}, {"descent.fall_rate_u_pct", p.Descent.Relative, 0, 90},
		{"payload.string_breaks_n", p.Payload.Break, 0, 1e5}, {"declination_deg", p.Declination, -180, 180},
	} {
		if !(c.x >= c.low && c.x <= c.top) {
			return nil, fmt.Errorf("%s: %s of %g: want %g to %g", name, c.key, c.x, c.low, c.top)
		}
	}
	if p.Wind.Profile != "" && p.Wind.Flight != "" {
		return nil, fmt.Errorf("%s: wind.profile and wind.flight are both given: want one", name)
	}
	for i, g := range p.Payload.Packages {
		if !(g.Mass > 0 && g.Mass < 100) {
			return nil, fmt.Errorf("%s: payload.package %d (%s): mass_kg of %g: want above 0 and below 100 kg", name, i+1, g.Name, g.Mass)
		}
	}
	return p, nil
}

// cylinders returns the gas store; outside is the air pressure in hPa that gauges read from.
func (p *Plan) cylinders(outside float64) ([]gas.Cylinder, error) {
	var out []gas.Cylinder
	for i, c := range p.Cylinders {
		fail := func(err error) error { return fmt.Errorf("cylinder %d (%s): %w", i+1, c.Name, err) }
		kind, err := gas.ParseKind(c.Gas)
		if err != nil {
			return nil, fail(err)
		}
		gauge, err := units.Parse(c.Pressure, units.Pressure, "")
		if err != nil {
			return nil, fail(fmt.Errorf("gauge_pressure: %w", err))
		}
		temperature, err := units.Parse(c.Temperature, units.Temperature, "")
		if err != nil {
			return nil, fail(fmt.Errorf("temperature: %w", err))
		}
		count := 1
		if c.Count != nil {
			count = *c.Count
		}
		cylinder := gas.Cylinder{Name: c.Name, Kind: kind, WaterVolume: c.WaterVolume / 1000, Pressure: gauge + outside, Temperature: temperature, Count: count}
		if err := cylinder.Validate(); err != nil {
			return nil, err
		}
		out = append(out, cylinder)
	}
	return out, nil
}

// payload returns the mass below the balloon in kg: that of the packages, else the launch
// record's. packages is never empty.
func (p *Plan) payload(r *sounding.LaunchRecord) (packages []Package, mass float64, remark string, err error) {
	if len(p.Payload.Packages) == 0 {
		if !r.Balloon.Payload.Set() {
			return nil, 0, "", fmt.Errorf("the payload is not given: write balloon.payload_kg, or one [[payload.package]] for each thing tied on")
		}
		return []Package{{Name: "payload", Mass: r.Balloon.Payload.Value()}}, r.Balloon.Payload.Value(), "", nil
	}
	for _, g := range p.Payload.Packages {
		mass += g.Mass
	}
	mass = math.Round(1e6*mass) / 1e6 // the sum as a person would write it
	if r.Balloon.Payload.Set() && math.Abs(r.Balloon.Payload.Value()-mass) > 0.0005 {
		remark = fmt.Sprintf("the payload is given as %g kg and the packages add up to %g kg: the packages are taken", r.Balloon.Payload.Value(), mass)
	}
	return p.Payload.Packages, mass, remark, nil
}

// extras returns the further releases.
func (p *Plan) extras() ([]time.Time, error) {
	if len(p.Slot.Extra) > 1000 {
		return nil, fmt.Errorf("slot.extra: %d releases are more than 1,000", len(p.Slot.Extra))
	}
	var out []time.Time
next:
	for _, text := range p.Slot.Extra {
		text = strings.TrimSpace(text)
		if text == "" {
			continue
		}
		for _, layout := range []string{time.RFC3339, "2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02 15:04Z07:00"} {
			if t, err := time.Parse(layout, text); err == nil {
				out = append(out, t.UTC())
				continue next
			}
		}
		return nil, fmt.Errorf("slot.extra %q: want an instant in UTC such as 2031-06-03 15:00", text)
	}
	return out, nil
}

// NeedsFlights tells whether stock or gas is to be counted down from the logbook.
func (p *Plan) NeedsFlights() bool {
	for i := range p.Stock {
		if !p.Stock[i].Counted.IsZero() {
			return true
		}
	}
	for i := range p.Cylinders {
		if !p.Cylinders[i].Read.IsZero() {
			return true
		}
	}
	return false
}

// nominal returns the slot's hour.
func (p *Plan) nominal(r *sounding.LaunchRecord, zone *time.Location) (time.Time, error) {
	switch {
	case p.Slot.Local != "" && !r.Release.Nominal.IsZero():
		return time.Time{}, fmt.Errorf("slot.local and release.nominal_utc are both given: want one")
	case p.Slot.Local != "":
		return Local(p.Slot.Local, zone)
	case !r.Release.Nominal.IsZero():
		return r.Release.Nominal, nil
	}
	return time.Time{}, fmt.Errorf("the slot is not given: write release.nominal_utc, or slot.local with time_zone")
}
