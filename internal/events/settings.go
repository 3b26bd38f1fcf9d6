package events

import (
	_ "embed"
	"fmt"

	"leadline/internal/sounding"
)

// Settings are the rules by which events are found; settings.toml holds the
// defaults with their sources.
type Settings struct {
	SmallestFlight float64 `toml:"smallest_flight_m"`
	ClimbRate      float64 `toml:"climb_rate_m_s"`
	ClimbTime      float64 `toml:"climb_time_s"`
	ClimbRise      float64 `toml:"climb_rise_m"`
	ClimbLater     float64 `toml:"climb_later_m"`
	FalseStart     float64 `toml:"false_start_m"`
	Carried        float64 `toml:"carried_m"`
	Agree          float64 `toml:"agree_s"`
	Doubt          float64 `toml:"doubt_s"`
	DeclaredReach  float64 `toml:"declared_reach_s"`
	FallRate       float64 `toml:"fall_rate_m_s"`
	FallTime       float64 `toml:"fall_time_s"`
	Fall           float64 `toml:"fall_m"`
	CompletePress  float64 `toml:"complete_hpa"`
	CompleteHeight float64 `toml:"complete_m"`
	Highest        float64 `toml:"highest_m"`
	BurstGap       float64 `toml:"burst_gap_s"`
	FloatRate      float64 `toml:"float_rate_m_s"`
	FloatTime      float64 `toml:"float_time_s"`
	DescentRate    float64 `toml:"descent_rate_m_s"`
	DescentTime    float64 `toml:"descent_time_s"`
	Landed         float64 `toml:"landed_m"`
	LandedTime     float64 `toml:"landed_time_s"`
}

// DefaultText is the shipped settings with a source beside each figure.
//
//go:embed settings.toml
var DefaultText string

// Default returns the shipped settings.
func Default() *Settings {
	return sounding.ShippedSettings("events settings", DefaultText, &Settings{})
}

// Read returns the settings in text laid over the shipped ones; name is what
// messages call the text. Unknown keys and figures that are not positive are errors.
func Read(name string, text []byte) (*Settings, error) {
	return sounding.ReadSettings(name, text, Default())
}

// Validate returns an error that names the first figure that cannot be used.
func (s *Settings) Validate() error {
	for _, f := range []struct {
		key   string
		value float64
	}{
		{"smallest_flight_m", s.SmallestFlight}, {"climb_rate_m_s", s.ClimbRate}, {"climb_time_s", s.ClimbTime},
		{"climb_rise_m", s.ClimbRise}, {"climb_later_m", s.ClimbLater}, {"false_start_m", s.FalseStart},
		{"carried_m", s.Carried}, {"agree_s", s.Agree}, {"doubt_s", s.Doubt}, {"declared_reach_s", s.DeclaredReach},
		{"fall_rate_m_s", s.FallRate}, {"fall_time_s", s.FallTime}, {"fall_m", s.Fall}, {"complete_hpa", s.CompletePress},
		{"complete_m", s.CompleteHeight}, {"highest_m", s.Highest}, {"burst_gap_s", s.BurstGap},
		{"float_rate_m_s", s.FloatRate}, {"float_time_s", s.FloatTime}, {"descent_rate_m_s", s.DescentRate},
		{"descent_time_s", s.DescentTime}, {"landed_m", s.Landed}, {"landed_time_s", s.LandedTime},
	} {
		if !(f.value > 0) || f.value > 1e9 {
			return fmt.Errorf("%s = %g: want a number above 0", f.key, f.value)
		}
	}
	return nil
}
