package truth

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/sounding"
)

// How a simulated reception ends.
const (
	UntilLost    = ""        // the signal is lost low on the descent, as usual
	UntilLanding = "landing" // received to the ground and at rest for Rest seconds
	UntilBurst   = "burst"   // cut off half a minute after the burst
)

// Site is where a balloon is released.
type Site struct {
	Name       string
	Kind       string  // fixed, mobile or ship
	Latitude   float64 // degrees north
	Longitude  float64 // degrees east
	Height     float64 // m above mean sea level, of the release point
	Barometer  float64 // m above mean sea level, of the station barometer
	Undulation float64 // m, geoid above the ellipsoid
}

// Balloon is what is filled and tied on.
type Balloon struct {
	Mass       float64 // kg, empty
	Payload    float64 // kg, radiosonde, string, unwinder and parachute
	NozzleLift float64 // kg
	Gas        string  // hydrogen or helium
	String     float64 // m
	Parachute  float64 // m s⁻¹, fall rate it is made for at 1.2 kg m⁻³
	Burst      float64 // m, burst diameter; 0 takes the maker-independent table with its scatter
}

// Fault asks for one entry of the catalogue in one flight.
type Fault struct {
	Name string
	Size float64 // in the unit Faults gives; 0 takes the default
	At   float64 // s after release where it begins; 0 lets the seed choose
}

// Scenario is everything about a flight that is not chance.
type Scenario struct {
	Name     string
	Climate  Climate
	Site     Site
	Release  time.Time // true instant of release, to 0.01 s
	Jitter   float64   // s; the seed moves the release by up to this much later
	Sheet    *sounding.InstrumentSheet
	Serial   string
	Balloon  Balloon
	Interval float64 // s between frames
	Before   float64 // s of reception before release
	Until    string  // one of the Until words
	Rest     float64 // s received at rest after landing
	Layout   Layout  // of the first receiver's file
	Second   bool    // a second receiver writes a file of its own
	Exact    bool    // the instrument is exactly its sheet: no hidden departures, no calibration error (for tests of formulas)
	Faults   []Fault
	Zone     time.Duration // of the vehicle's local time, east of UTC
	Operator string
}

// Preset returns a plain flight of a climate by day or by night: its own invented
// site, a twin-humidity radiosonde under an 800 g balloon, 1 Hz, ten minutes on the ground.
func Preset(c Climate, day bool) (Scenario, error) {
	sheet, err := c.sheet()
	if err != nil {
		return Scenario{}, err
	}
	instrument, _, err := sounding.ShippedSheet("twin-humidity")
	if err != nil {
		return Scenario{}, err
	}
	when, word := 0.0, "night"
	if day {
		when, word = 12, "day"
	}
	// Local solar midnight or noon, moved to whole minutes.
	utc := math.Mod(when-sheet.longitude/15+24, 24)
	release := time.Date(2026, time.Month(sheet.month), 14, 0, 0, 0, 0, time.UTC).Add(time.Duration(math.Round(utc*60)) * time.Minute).Add(17 * time.Second)
	return Scenario{
		Name:    string(c) + ", " + word,
		Climate: c,
		Site: Site{
			Name: "simulated " + string(c), Kind: "fixed",
			Latitude: sheet.latitude, Longitude: sheet.longitude, Height: sheet.height, Barometer: sheet.height + 1.2, Undulation: 21.4,
		},
		Release: release, Sheet: instrument, Serial: "T2600001",
		Balloon:  Balloon{Mass: 0.8, Payload: 0.45, NozzleLift: 1.35, Gas: "helium", String: instrument.String, Parachute: 4.5},
		Interval: 1, Before: 600, Jitter: 1, Layout: Text,
	}, nil
}

// Presets lists the plain flight of every climate, by day and by night.
func Presets() []Scenario {
	var out []Scenario
	for _, c := range Climates() {
		for _, day := range []bool{true, false} {
			s, err := Preset(c, day)
			if err != nil {
				panic(err) // a climate or sheet the package itself ships
			}
			out = append(out, s)
		}
	}
	return out
}

// Validate returns an error that names the first item that cannot be simulated.
func (s *Scenario) Validate() error {
	b := &s.Balloon
	if _, err := s.Climate.sheet(); err != nil {
		return fmt.Errorf("scenario %q: %w", s.Name, err)
	}
	bad := func(what string, v float64, unit, want string) error {
		return fmt.Errorf("scenario %q: %s of %g %s: want %s", s.Name, what, v, unit, want)
	}
	in := func(v, low, high float64) bool { return v >= low && v <= high }
	switch {
	case s.Sheet == nil:
		return fmt.Errorf("scenario %q has no instrument sheet: take one from sounding.ShippedSheet or a file", s.Name)
	case s.Release.IsZero():
		return fmt.Errorf("scenario %q has no release instant", s.Name)
	case !in(s.Site.Latitude, -89, 89):
		return bad("latitude", s.Site.Latitude, "degrees", "−89 to 89")
	case !in(s.Site.Longitude, -180, 180):
		return bad("longitude", s.Site.Longitude, "degrees", "−180 to 180")
	case !in(s.Site.Height, -400, 5500):
		return bad("height", s.Site.Height, "m", "−400 to 5,500 m")
	case b.Gas != "hydrogen" && b.Gas != "helium":
		return fmt.Errorf("scenario %q: gas %q: want hydrogen or helium", s.Name, b.Gas)
	case !in(b.Mass, 0.01, 4):
		return bad("balloon mass", b.Mass, "kg", "0.01 to 4 kg")
	case !in(b.Payload, 0.02, 10):
		return bad("payload", b.Payload, "kg", "0.02 to 10 kg")
	case !(b.NozzleLift > b.Payload):
		return bad("nozzle lift", b.NozzleLift, "kg", fmt.Sprintf("more than the payload of %g kg", b.Payload))
	case !in(b.String, 1, 100):
		return bad("string", b.String, "m", "1 to 100 m")
	case !in(b.Parachute, 1, 30):
		return bad("parachute fall rate", b.Parachute, "m/s", "1 to 30 m/s")
	case !in(s.Interval, 0.5, 10):
		return bad("interval", s.Interval, "s", "0.5 to 10 s")
	case !in(s.Before, 0, 7200):
		return bad("time before release", s.Before, "s", "0 to 7,200 s")
	case !in(s.Jitter, 0, 3600):
		return bad("jitter of the release", s.Jitter, "s", "0 to 3,600 s")
	case !in(s.Rest, 0, 7200):
		return bad("rest after landing", s.Rest, "s", "0 to 7,200 s")
	case s.Until != UntilLost && s.Until != UntilLanding && s.Until != UntilBurst:
		return fmt.Errorf("scenario %q: until %q: want %q, %q or nothing", s.Name, s.Until, UntilLanding, UntilBurst)
	}
	for _, f := range s.Faults {
		entry, err := faultByName(f.Name)
		if err == nil {
			err = entry.Suits(s.Sheet)
		}
		if err != nil {
			return fmt.Errorf("scenario %q: %w", s.Name, err)
		}
	}
	if len(s.Faults) > 64 {
		return fmt.Errorf("scenario %q: %d faults: want at most 64", s.Name, len(s.Faults))
	}
	return nil
}
