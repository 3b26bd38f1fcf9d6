package quality

import (
	"fmt"
	"math/bits"
	"strings"
)

// Check identifies one quality test. Its number is the bit that marks the
// samples it fired on, in memory and in exported files, so the list below is
// only ever appended to.
type Check uint8

// The checks, in the order of their bits.
const (
	Syntax                Check = iota // a row or value that could not be read
	TimeOrder                          // time repeats, runs backwards or jumps
	Gap                                // a gap in the rows or in one variable
	Gross                              // outside what the atmosphere or the sensor allows at that height
	Spike                              // a lone sample far from its neighbours
	Step                               // a sudden lasting change
	Stuck                              // the same value again and again
	Clamped                            // a pile-up at the end of a sensor's range
	Superadiabatic                     // potential temperature falls with height
	BarometerHeight                    // barometer against satellite height
	Baseline                           // pre-release samples and first samples against the surface observation
	Ascent                             // ascent rate: slow, floating, falling, implausible
	WindShear                          // implausible shear
	WindRepeat                         // the same wind again and again
	HumidityRange                      // below 0 or above saturation
	IceSaturation                      // far above saturation over ice, or stuck at it
	StratosphericHumidity              // humidity the sensor cannot measure there
	TwinHumidity                       // the two humidity sensors disagree
	ReleaseTime                        // declared and found release disagree
	Burst                              // early, late or unseen burst
	LaunchRecord                       // an item of the launch record is missing or cannot be right
	Sources                            // several sources, overlaps, another radiosonde, known bytes
	Pendulum                           // string pendulum in the wind, against the declared string
	Evaporation                        // evaporative cooling after cloud
	Icing                              // ice or water on a humidity sensor
	Wake                               // balloon wake and body spikes in temperature
	Lag                                // time lag too long to be undone
	Radiation                          // sun on the sensors
	GroundCheck                        // reference and radiosonde readings before release
	Position                           // satellite position: lost, jumping, too few satellites
	Decision                           // withheld, flagged or restored by a person
	Derived                            // what it was computed from is not good
	Hydrostatic                        // heights and thicknesses do not agree
	Telemetry                          // frame counter, checksum, battery
	checkCount
)

var checkNames = [checkCount]string{
	"syntax", "time-order", "gap", "gross", "spike", "step", "stuck", "clamped", "superadiabatic",
	"barometer-height", "baseline", "ascent", "wind-shear", "wind-repeat", "humidity-range", "ice-saturation",
	"stratospheric-humidity", "twin-humidity", "release-time", "burst", "launch-record", "sources", "pendulum",
	"evaporation", "icing", "wake", "lag", "radiation", "ground-check", "position", "decision", "derived",
	"hydrostatic", "telemetry",
}

// Checks lists all checks in the order of their bits.
func Checks() []Check {
	all := make([]Check, checkCount)
	for i := range all {
		all[i] = Check(i)
	}
	return all
}

// String returns the check's name, which is also the name of its page in docs/methods.
func (c Check) String() string {
	if c < checkCount {
		return checkNames[c]
	}
	return fmt.Sprintf("check(%d)", uint8(c))
}

// ParseCheck reads a check's name.
func ParseCheck(s string) (Check, error) {
	for i, n := range checkNames {
		if n == s {
			return Check(i), nil
		}
	}
	return 0, fmt.Errorf("%q is no check: want one of %s", s, strings.Join(checkNames[:], ", "))
}

// MarshalText writes the check's name.
func (c Check) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads the check's name.
func (c *Check) UnmarshalText(b []byte) (err error) { *c, err = ParseCheck(string(b)); return err }

// Bits is the set of checks that fired on a sample.
type Bits uint64

// Bit returns the set that holds c alone.
func (c Check) Bit() Bits { return 1 << c }

// Has tells whether c is in the set.
func (b Bits) Has(c Check) bool { return b&c.Bit() != 0 }

// Checks lists the members in the order of their bits.
func (b Bits) Checks() []Check {
	var out []Check
	for b != 0 {
		i := bits.TrailingZeros64(uint64(b))
		out = append(out, Check(i))
		b &^= 1 << i
	}
	return out
}
