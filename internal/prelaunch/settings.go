package prelaunch

import (
	_ "embed"
	"fmt"
	"reflect"

	"leadline/internal/sounding"
)

// Settings are the limits and assumptions of the launch desk; defaults and sources in settings.toml.
type Settings struct {
	Release struct {
		Earliest float64 `toml:"earliest_min" json:"earliest_min"`
		Best     float64 `toml:"best_min" json:"best_min"`
		Latest   float64 `toml:"latest_min" json:"latest_min"`
	} `toml:"release" json:"release"`
	GroundCheck GroundCheckLimits `toml:"ground_check" json:"ground_check"`
	Surface     struct {
		LowestSea      float64 `toml:"lowest_sea_level_hpa" json:"lowest_sea_level_hpa"`
		HighestSea     float64 `toml:"highest_sea_level_hpa" json:"highest_sea_level_hpa"`
		ImpossibleLow  float64 `toml:"impossible_low_hpa" json:"impossible_low_hpa"`
		ImpossibleHigh float64 `toml:"impossible_high_hpa" json:"impossible_high_hpa"`
		Unit           float64 `toml:"unit_hpa" json:"unit_hpa"`
		LowestT        float64 `toml:"lowest_temperature_k" json:"lowest_temperature_k"`
		HighestT       float64 `toml:"highest_temperature_k" json:"highest_temperature_k"`
		DewPointMargin float64 `toml:"dew_point_margin_k" json:"dew_point_margin_k"`
		DewPointAgree  float64 `toml:"dew_point_agree_k" json:"dew_point_agree_k"`
		Age            float64 `toml:"age_min" json:"age_min"`
		WindLimit      float64 `toml:"wind_limit_m_s" json:"wind_limit_m_s"`
		WindUnit       float64 `toml:"wind_unit_m_s" json:"wind_unit_m_s"`
	} `toml:"surface" json:"surface"`
	Fill struct {
		Pressure    float64 `toml:"u_pressure_hpa" json:"u_pressure_hpa"`
		Temperature float64 `toml:"u_temperature_k" json:"u_temperature_k"`
		Humidity    float64 `toml:"u_humidity_pct" json:"u_humidity_pct"`
		Purity      float64 `toml:"u_purity_pct" json:"u_purity_pct"`
		Lift        float64 `toml:"u_lift_kg" json:"u_lift_kg"`
		Balloon     float64 `toml:"u_balloon_share" json:"u_balloon_share"`
		Payload     float64 `toml:"u_payload_kg" json:"u_payload_kg"`
		LargestFree float64 `toml:"largest_free_lift_share" json:"largest_free_lift_share"`
	} `toml:"fill" json:"fill"`
	GasStore struct {
		Leave       float64 `toml:"leave_hpa" json:"leave_hpa"`
		Pressure    float64 `toml:"u_pressure_hpa" json:"u_pressure_hpa"`
		Temperature float64 `toml:"u_temperature_k" json:"u_temperature_k"`
		Spare       int     `toml:"spare_fills" json:"spare_fills"`
	} `toml:"gas_store" json:"gas_store"`
	Drift struct {
		Trials    int     `toml:"trials" json:"trials"`
		Seed      uint64  `toml:"seed" json:"seed"`
		Step      float64 `toml:"step_m" json:"step_m"`
		Rate      float64 `toml:"u_rate" json:"u_rate"`
		Burst     float64 `toml:"u_burst_m" json:"u_burst_m"`
		WindLow   float64 `toml:"u_wind_low_m_s" json:"u_wind_low_m_s"`
		WindHigh  float64 `toml:"u_wind_high_m_s" json:"u_wind_high_m_s"`
		WindDepth float64 `toml:"wind_depth_m" json:"wind_depth_m"`
		Near      float64 `toml:"near_m" json:"near_m"`
	} `toml:"drift" json:"drift"`
}

// GroundCheckLimits are the limits a radiosonde is accepted by.
type GroundCheckLimits struct {
	Temperature float64 `toml:"temperature_k" json:"temperature_k"`
	Pressure    float64 `toml:"pressure_hpa" json:"pressure_hpa"`
	Humidity    float64 `toml:"humidity_pct" json:"humidity_pct"`
	Pair        float64 `toml:"pair_pct" json:"pair_pct"`
	Age         float64 `toml:"age_min" json:"age_min"`
	WarnAge     float64 `toml:"warn_age_min" json:"warn_age_min"`
	DriftShare  float64 `toml:"drift_share" json:"drift_share"`
	Spread      float64 `toml:"spread_k" json:"spread_k"`
}

// DefaultText is the shipped settings with the source of each.
//
//go:embed settings.toml
var DefaultText string

// Default returns the shipped settings.
func Default() *Settings {
	return sounding.ShippedSettings("settings.toml of the launch desk", DefaultText, &Settings{})
}

// ReadSettings reads a settings text; unknown keys and values that cannot be right are
// refused. name is what messages call it.
func ReadSettings(name string, text []byte) (*Settings, error) {
	return sounding.ReadSettings(name, text, &Settings{})
}

// Validate names the first setting that cannot be right.
func (s *Settings) Validate() error {
	if !(s.Release.Earliest >= s.Release.Best && s.Release.Best >= s.Release.Latest) {
		return fmt.Errorf("release: earliest_min %g, best_min %g, latest_min %g: want minutes before the hour, falling", s.Release.Earliest, s.Release.Best, s.Release.Latest)
	}
	if s.Drift.Trials < 100 || s.Drift.Trials > 100000 {
		return fmt.Errorf("drift.trials is %d: want 100 to 100,000", s.Drift.Trials)
	}
	if !(s.Drift.Step >= 10 && s.Drift.Step <= 500) {
		return fmt.Errorf("drift.step_m is %g: want 10 to 500 m", s.Drift.Step)
	}
	if !(s.Drift.WindDepth > 0) {
		return fmt.Errorf("drift.wind_depth_m is %g: want more than 0", s.Drift.WindDepth)
	}
	// every other number is a limit or an uncertainty: finite and not negative
	return walk("", reflect.ValueOf(s).Elem())
}

func walk(path string, v reflect.Value) error {
	if v.Kind() == reflect.Struct {
		for i := range v.NumField() {
			name := v.Type().Field(i).Tag.Get("toml")
			if path != "" {
				name = path + "." + name
			}
			if err := walk(name, v.Field(i)); err != nil {
				return err
			}
		}
		return nil
	}
	if v.Kind() == reflect.Float64 && (!(v.Float() >= 0) || v.Float() > 1e6) {
		return fmt.Errorf("%s is %g: want 0 to 1,000,000", path, v.Float())
	}
	return nil
}
