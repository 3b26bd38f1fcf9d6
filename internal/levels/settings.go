package levels

import (
	_ "embed"
	"fmt"
	"math"

	"leadline/internal/sounding"
)

// Settings are the limits of the level rules; defaults and sources in settings.toml.
type Settings struct {
	GapS             float64 `toml:"gap_s" json:"gap_s"`
	GapHPa           float64 `toml:"gap_hpa" json:"gap_hpa"`
	TropopauseLayer  float64 `toml:"tropopause_layer_m" json:"tropopause_layer_m"`
	TropopauseLapse  float64 `toml:"tropopause_lapse_k_km" json:"tropopause_lapse_k_km"`
	TropopauseDepth  float64 `toml:"tropopause_depth_m" json:"tropopause_depth_m"`
	TropopauseAgain  float64 `toml:"tropopause_again_k_km" json:"tropopause_again_k_km"`
	TropopauseAgainM float64 `toml:"tropopause_again_m" json:"tropopause_again_m"`
	TropopauseLowest float64 `toml:"tropopause_lowest_hpa" json:"tropopause_lowest_hpa"`
	SignificantT     float64 `toml:"significant_t_k" json:"significant_t_k"`
	SignificantTHigh float64 `toml:"significant_t_high_k" json:"significant_t_high_k"`
	SignificantSplit float64 `toml:"significant_split_hpa" json:"significant_split_hpa"`
	SignificantRH    float64 `toml:"significant_rh_pct" json:"significant_rh_pct"`
	InversionHPa     float64 `toml:"inversion_hpa" json:"inversion_hpa"`
	InversionT       float64 `toml:"inversion_t_k" json:"inversion_t_k"`
	InversionRH      float64 `toml:"inversion_rh_pct" json:"inversion_rh_pct"`
	Direction        float64 `toml:"significant_direction_deg" json:"significant_direction_deg"`
	Speed            float64 `toml:"significant_speed_m_s" json:"significant_speed_m_s"`
	MaximumWind      float64 `toml:"maximum_wind_m_s" json:"maximum_wind_m_s"`
	MaximumWindAbove float64 `toml:"maximum_wind_above_hpa" json:"maximum_wind_above_hpa"`
	MaximumWindRise  float64 `toml:"maximum_wind_rise_m_s" json:"maximum_wind_rise_m_s"`
	ShearLayer       float64 `toml:"shear_layer_m" json:"shear_layer_m"`
	HeightStep       float64 `toml:"height_step_m" json:"height_step_m"`
	PressureStep     float64 `toml:"pressure_step_hpa" json:"pressure_step_hpa"`
	GridAverage      bool    `toml:"grid_average" json:"grid_average"`
}

// DefaultText is the shipped settings with the source of each.
//
//go:embed settings.toml
var DefaultText string

// Default returns the shipped settings.
func Default() *Settings {
	return sounding.ShippedSettings("levels settings", DefaultText, &Settings{})
}

// Validate returns an error that names the first limit that cannot be right.
func (s *Settings) Validate() error {
	for _, x := range []struct {
		key   string
		value float64
	}{
		{"gap_s", s.GapS}, {"gap_hpa", s.GapHPa}, {"tropopause_layer_m", s.TropopauseLayer}, {"tropopause_depth_m", s.TropopauseDepth},
		{"tropopause_again_m", s.TropopauseAgainM}, {"tropopause_lowest_hpa", s.TropopauseLowest}, {"significant_t_k", s.SignificantT},
		{"significant_t_high_k", s.SignificantTHigh}, {"significant_split_hpa", s.SignificantSplit}, {"significant_rh_pct", s.SignificantRH},
		{"inversion_hpa", s.InversionHPa}, {"inversion_t_k", s.InversionT}, {"inversion_rh_pct", s.InversionRH},
		{"significant_direction_deg", s.Direction}, {"significant_speed_m_s", s.Speed}, {"maximum_wind_m_s", s.MaximumWind},
		{"maximum_wind_above_hpa", s.MaximumWindAbove}, {"maximum_wind_rise_m_s", s.MaximumWindRise}, {"shear_layer_m", s.ShearLayer},
		{"height_step_m", s.HeightStep}, {"pressure_step_hpa", s.PressureStep},
	} {
		if !(x.value > 0) || math.IsInf(x.value, 0) {
			return fmt.Errorf("%s is %g: want a number above 0", x.key, x.value)
		}
	}
	return nil
}
