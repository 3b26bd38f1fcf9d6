package wind

import (
	_ "embed"
	"fmt"

	"leadline/internal/sounding"
)

// Settings are the numbers the wind is made with; settings.toml holds the shipped
// ones with their sources.
type Settings struct {
	Source   Source   `toml:"source" json:"source"`
	Pendulum Pendulum `toml:"pendulum" json:"pendulum"`
	Filter   Filter   `toml:"filter" json:"filter"`
	Gap      Gap      `toml:"gap" json:"gap"`
	Surface  Surface  `toml:"surface" json:"surface"`
	Generic  Generic  `toml:"generic" json:"generic"`
}

// Source rules how positions become velocities.
type Source struct {
	PositionSpan float64 `toml:"position_span_s" json:"position_span_s"`
	LongestSpan  float64 `toml:"longest_span_s" json:"longest_span_s"`
}

// Pendulum rules the search for the string's swing.
type Pendulum struct {
	Window           float64 `toml:"window_s" json:"window_s"`
	Shortest         float64 `toml:"shortest_s" json:"shortest_s"`
	Longest          float64 `toml:"longest_s" json:"longest_s"`
	Significant      float64 `toml:"significant" json:"significant"`
	DeclaredFraction float64 `toml:"declared_fraction" json:"declared_fraction"`
	Smallest         float64 `toml:"smallest_m_s" json:"smallest_m_s"`
}

// Filter rules the low-pass.
type Filter struct {
	PeriodFactor       float64 `toml:"period_factor" json:"period_factor"`
	ShortestCutoff     float64 `toml:"shortest_cutoff_s" json:"shortest_cutoff_s"`
	LongestCutoff      float64 `toml:"longest_cutoff_s" json:"longest_cutoff_s"`
	DefaultCutoff      float64 `toml:"default_cutoff_s" json:"default_cutoff_s"`
	Attenuation        float64 `toml:"attenuation_db" json:"attenuation_db"`
	Representativeness float64 `toml:"representativeness" json:"representativeness"`
}

// Gap rules what is bridged.
type Gap struct {
	Bridge float64 `toml:"bridge_s" json:"bridge_s"`
}

// Surface rules the first minute.
type Surface struct {
	Blend      bool    `toml:"blend" json:"blend"`
	Unwound    float64 `toml:"unwound_s" json:"unwound_s"`
	Blended    float64 `toml:"blended_s" json:"blended_s"`
	Roughness  float64 `toml:"roughness_m" json:"roughness_m"`
	Anemometer float64 `toml:"anemometer_m" json:"anemometer_m"`
	Doubt      float64 `toml:"doubt_m_s" json:"doubt_m_s"`
	DoubtShare float64 `toml:"doubt_share" json:"doubt_share"`
	U          float64 `toml:"u_m_s" json:"u_m_s"`
}

// Generic is the budget where no instrument sheet says better.
type Generic struct {
	Noise float64 `toml:"noise_m_s" json:"noise_m_s"`
	U     float64 `toml:"u_m_s" json:"u_m_s"`
}

// DefaultText is the TOML text of the shipped settings, with the source of each number.
//
//go:embed settings.toml
var DefaultText string

// Default returns the shipped settings.
func Default() *Settings {
	return sounding.ShippedSettings("settings.toml of the wind", DefaultText, &Settings{})
}

// ReadSettings reads a whole settings text; unknown keys and values that cannot be
// right are refused. name is what messages call the text.
func ReadSettings(name string, text []byte) (*Settings, error) {
	return sounding.ReadSettings(name, text, &Settings{})
}

// Validate returns an error that names the first setting that cannot be right.
func (s *Settings) Validate() error {
	positive := []struct {
		name  string
		value float64
	}{
		{"source.position_span_s", s.Source.PositionSpan}, {"source.longest_span_s", s.Source.LongestSpan},
		{"pendulum.window_s", s.Pendulum.Window},
		{"pendulum.shortest_s", s.Pendulum.Shortest}, {"filter.shortest_cutoff_s", s.Filter.ShortestCutoff},
		{"filter.default_cutoff_s", s.Filter.DefaultCutoff}, {"surface.roughness_m", s.Surface.Roughness},
		{"surface.blended_s", s.Surface.Blended},
	}
	for _, p := range positive {
		if !(p.value > 0) {
			return fmt.Errorf("%s is %g: it must be above 0", p.name, p.value)
		}
	}
	switch {
	case !(s.Pendulum.Longest > s.Pendulum.Shortest):
		return fmt.Errorf("pendulum.longest_s is %g: it must be above shortest_s, %g", s.Pendulum.Longest, s.Pendulum.Shortest)
	case !(s.Filter.PeriodFactor > 1.2):
		return fmt.Errorf("filter.period_factor is %g: it must be above 1.2, or the pass band would hold the pendulum", s.Filter.PeriodFactor)
	case !(s.Filter.Attenuation >= 21 && s.Filter.Attenuation <= 120):
		return fmt.Errorf("filter.attenuation_db is %g: use 21 to 120", s.Filter.Attenuation)
	case s.Filter.LongestCutoff < s.Filter.ShortestCutoff:
		return fmt.Errorf("filter.longest_cutoff_s is %g: it must not be below shortest_cutoff_s, %g", s.Filter.LongestCutoff, s.Filter.ShortestCutoff)
	case s.Surface.Blended <= s.Surface.Unwound:
		return fmt.Errorf("surface.blended_s is %g: it must be above unwound_s, %g", s.Surface.Blended, s.Surface.Unwound)
	case !(s.Surface.Anemometer > s.Surface.Roughness):
		return fmt.Errorf("surface.anemometer_m is %g: it must be above roughness_m, %g", s.Surface.Anemometer, s.Surface.Roughness)
	}
	return nil
}
