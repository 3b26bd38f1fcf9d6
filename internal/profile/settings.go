package profile

import (
	_ "embed"
	"fmt"
	"math"

	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

// Settings are the choices behind the profiles; defaults and sources in settings.toml.
type Settings struct {
	AfterBurst float64 `toml:"after_burst_m" json:"after_burst_m"`
	GapS       float64 `toml:"gap_s" json:"gap_s"`
	GapHPa     float64 `toml:"gap_hpa" json:"gap_hpa"`
	WindowLnP  float64 `toml:"window_ln_p" json:"window_ln_p"`
	// House is the formula of dew points; the caller's, so that all profiles agree.
	House humidity.Formula `toml:"-" json:"-"`
}

// DefaultText is the shipped settings with the source of each.
//
//go:embed settings.toml
var DefaultText string

// Default returns the shipped settings.
func Default() *Settings {
	return sounding.ShippedSettings("profile settings", DefaultText, &Settings{House: humidity.HylandWexler})
}

// Validate returns an error that names the first setting that cannot be right.
func (s *Settings) Validate() error {
	if !(s.AfterBurst >= 0) || math.IsInf(s.AfterBurst, 0) {
		return fmt.Errorf("after_burst_m is %g: want 0 or more", s.AfterBurst)
	}
	for _, x := range []struct {
		key   string
		value float64
	}{{"gap_s", s.GapS}, {"gap_hpa", s.GapHPa}, {"window_ln_p", s.WindowLnP}} {
		if !(x.value > 0) || math.IsInf(x.value, 0) {
			return fmt.Errorf("%s is %g: want a number above 0", x.key, x.value)
		}
	}
	return nil
}
