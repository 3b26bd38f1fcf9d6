package prelaunch

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/gas"
)

// RecoveryState says what became of a radiosonde.
type RecoveryState string

// The states of a radiosonde that has come down.
const (
	Down     RecoveryState = "down"     // landed or lost from sight, not found
	Found    RecoveryState = "found"    // somebody has it
	Returned RecoveryState = "returned" // back at the site
	GivenUp  RecoveryState = "given up" // not looked for any more
)

// Recovery is one entry of the log of found and returned radiosondes. Entries are added,
// never changed: the last one of a serial holds.
type Recovery struct {
	Serial   string        `json:"serial" toml:"serial"`
	Flight   string        `json:"flight" toml:"flight"`
	State    RecoveryState `json:"state" toml:"state"`
	At       time.Time     `json:"at_utc" toml:"at_utc"`
	Who      string        `json:"who" toml:"who"` // who wrote the entry
	Place    *Place        `json:"place,omitempty" toml:"place"`
	Finder   string        `json:"finder,omitempty" toml:"finder"` // only with their consent
	Note     string        `json:"note,omitempty" toml:"note"`
	Expected *Ellipse      `json:"expected,omitempty" toml:"-"`
}

// Validate names the first item that cannot be.
func (r *Recovery) Validate() error {
	switch {
	case r.Serial == "" && r.Flight == "":
		return fmt.Errorf("a recovery entry names no serial number and no flight")
	case r.State != Down && r.State != Found && r.State != Returned && r.State != GivenUp:
		return fmt.Errorf("recovery state %q: want down, found, returned or given up", r.State)
	case r.At.IsZero():
		return fmt.Errorf("the recovery entry of %s has no time", r.Serial)
	case r.Who == "":
		return fmt.Errorf("the recovery entry of %s says not who wrote it", r.Serial)
	case r.Place != nil && !(math.Abs(r.Place.Latitude) <= 90 && math.Abs(r.Place.Longitude) <= 180):
		return fmt.Errorf("the recovery entry of %s has the place %g, %g: want degrees north and east", r.Serial, r.Place.Latitude, r.Place.Longitude)
	}
	return nil
}

// LastSeen predicts the landing from the last received position on the descent: the rest
// of the fall through a wind profile, with its spread.
func LastSeen(f *Flight, last Point, wind *Profile, air gas.Atmosphere, d Doubt, set *Settings) (*Prediction, error) {
	if !(last.Height > f.Landing) {
		return nil, fmt.Errorf("the last position is at %.0f m, not above the ground at %.0f m: look there", last.Height, f.Landing)
	}
	return Predict(f, State{InFlight: true, Time: last.Time, Place: last.Place, Height: last.Height, Descending: true}, wind, air, d, set)
}
