package follow

import (
	_ "embed"
	"fmt"

	"leadline/internal/sounding"
)

// Settings are the limits of alarms and of the end of a flight; settings.toml holds the
// defaults with their reasons.
type Settings struct {
	NoData          float64 `toml:"no_data_s"`
	NoDataClear     float64 `toml:"no_data_clear_s"`
	Satellites      float64 `toml:"satellites_least"`
	SatellitesAfter float64 `toml:"satellites_s"`
	SatellitesClear float64 `toml:"satellites_clear_s"`
	SlowShare       float64 `toml:"slow_share"`
	SlowClearShare  float64 `toml:"slow_clear_share"`
	Slow            float64 `toml:"slow_m_s"`
	SlowClear       float64 `toml:"slow_clear_m_s"`
	SlowWindow      float64 `toml:"slow_window_s"`
	SlowAfter       float64 `toml:"slow_after_s"`
	EarlyPressure   float64 `toml:"early_hpa"`
	EarlyShare      float64 `toml:"early_share"`
	WrongTime       float64 `toml:"wrong_time_s"`
	WrongTimeClear  float64 `toml:"wrong_time_clear_s"`
	WrongTimeAfter  float64 `toml:"wrong_time_after_s"`
	EndLanded       float64 `toml:"end_landed_s"`
	EndSilence      float64 `toml:"end_silence_min"`
	MessagePressure float64 `toml:"message_hpa"`
	MessageBeyond   float64 `toml:"message_beyond_hpa"`
	Recompute       float64 `toml:"recompute_s"`
	RecomputeShare  float64 `toml:"recompute_share"`
}

// DefaultText is the shipped settings with a reason beside each figure.
//
//go:embed settings.toml
var DefaultText string

// Default returns the shipped settings.
func Default() *Settings {
	return sounding.ShippedSettings("follow settings", DefaultText, &Settings{})
}

// ReadSettings returns the settings in text laid over the shipped ones; name is what
// messages call the text. Unknown keys and figures that cannot be used are errors.
func ReadSettings(name string, text []byte) (*Settings, error) {
	return sounding.ReadSettings(name, text, Default())
}

// Validate returns an error that names the first limit that cannot be used.
func (s *Settings) Validate() error {
	for _, f := range []struct {
		key         string
		value, most float64
	}{
		{"no_data_s", s.NoData, 3600}, {"no_data_clear_s", s.NoDataClear, 600}, {"satellites_least", s.Satellites, 20},
		{"satellites_s", s.SatellitesAfter, 3600}, {"satellites_clear_s", s.SatellitesClear, 600},
		{"slow_share", s.SlowShare, 1}, {"slow_clear_share", s.SlowClearShare, 1}, {"slow_m_s", s.Slow, 10}, {"slow_clear_m_s", s.SlowClear, 10},
		{"slow_window_s", s.SlowWindow, 1800}, {"slow_after_s", s.SlowAfter, 7200}, {"early_hpa", s.EarlyPressure, 1100}, {"early_share", s.EarlyShare, 1},
		{"wrong_time_s", s.WrongTime, 86400}, {"wrong_time_clear_s", s.WrongTimeClear, 86400}, {"wrong_time_after_s", s.WrongTimeAfter, 600},
		{"end_landed_s", s.EndLanded, 7200}, {"end_silence_min", s.EndSilence, 1440}, {"message_hpa", s.MessagePressure, 1100},
		{"message_beyond_hpa", s.MessageBeyond, 50}, {"recompute_s", s.Recompute, 60}, {"recompute_share", s.RecomputeShare, 1},
	} {
		if !(f.value > 0 && f.value <= f.most) {
			return fmt.Errorf("%s = %g: want a number above 0 and at most %g", f.key, f.value, f.most)
		}
	}
	switch {
	case s.SlowClearShare < s.SlowShare || s.SlowClear < s.Slow:
		return fmt.Errorf("a slow ascent would be over before it began: want slow_clear_share and slow_clear_m_s at or above the limits")
	case s.WrongTimeClear > s.WrongTime:
		return fmt.Errorf("wrong_time_clear_s = %g: want at most wrong_time_s, %g", s.WrongTimeClear, s.WrongTime)
	}
	return nil
}
