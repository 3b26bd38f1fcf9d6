package correct

import (
	_ "embed"
	"fmt"

	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

// Settings are the numbers the corrections work with; settings.toml holds the
// shipped ones with their sources. Units stand in the keys.
type Settings struct {
	General               General               `toml:"general" json:"general"`
	Surface               Surface               `toml:"surface" json:"surface"`
	Wake                  Wake                  `toml:"wake" json:"wake"`
	TemperatureLag        Smoothing             `toml:"temperature_lag" json:"temperature_lag"`
	Radiation             Radiation             `toml:"radiation" json:"radiation"`
	HumidityLag           Smoothing             `toml:"humidity_lag" json:"humidity_lag"`
	HumidityRadiation     HumidityRadiation     `toml:"humidity_radiation" json:"humidity_radiation"`
	TwinHumidity          TwinHumidity          `toml:"twin_humidity" json:"twin_humidity"`
	StratosphericHumidity StratosphericHumidity `toml:"stratospheric_humidity" json:"stratospheric_humidity"`
	Barometer             Barometer             `toml:"barometer" json:"barometer"`
	Pressure              Pressure              `toml:"pressure" json:"pressure"`
	Height                Height                `toml:"height" json:"height"`
	Generic               Generic               `toml:"generic" json:"generic"`

	// SensorChoice holds the decisions on which humidity sensor to use; it is given
	// by the caller for one flight and is no setting.
	SensorChoice []sounding.SensorRuling `toml:"-" json:"-"`
}

// General is common to several corrections.
type General struct {
	Formula          humidity.Formula `toml:"formula" json:"formula"`
	LongestBreak     float64          `toml:"longest_break_s" json:"longest_break_s"`
	VentilationFloor float64          `toml:"ventilation_floor_m_s" json:"ventilation_floor_m_s"`
	AscentWindow     float64          `toml:"ascent_window_s" json:"ascent_window_s"`
}

// Surface rules the splice of the surface observation.
type Surface struct {
	Splice           bool    `toml:"splice" json:"splice"`
	PressureLimit    float64 `toml:"pressure_limit_hpa" json:"pressure_limit_hpa"`
	TemperatureLimit float64 `toml:"temperature_limit_k" json:"temperature_limit_k"`
	HumidityLimit    float64 `toml:"humidity_limit_pct" json:"humidity_limit_pct"`
	TemperatureU     float64 `toml:"temperature_u_k" json:"temperature_u_k"`
	HumidityU        float64 `toml:"humidity_u_pct" json:"humidity_u_pct"`
	PressureU        float64 `toml:"pressure_u_hpa" json:"pressure_u_hpa"`
	HeightU          float64 `toml:"height_u_m" json:"height_u_m"`
}

// Wake rules the removal of wake and body spikes from temperature.
type Wake struct {
	Above         float64 `toml:"above_m" json:"above_m"`
	Window        float64 `toml:"window_s" json:"window_s"`
	Smallest      float64 `toml:"smallest_k" json:"smallest_k"`
	SmallestShare float64 `toml:"smallest_share" json:"smallest_share"`
}

// Smoothing bounds the regularisation of a lag inversion.
type Smoothing struct {
	Smallest           float64 `toml:"smallest_s" json:"smallest_s"`
	Low                float64 `toml:"smoothing_low" json:"smoothing_low"`
	High               float64 `toml:"smoothing_high" json:"smoothing_high"`
	Taper              float64 `toml:"taper_fraction" json:"taper_fraction"`
	EdgePasses         int     `toml:"edge_passes" json:"edge_passes"`
	Representativeness float64 `toml:"representativeness" json:"representativeness"`
	ShortestShare      float64 `toml:"shortest_share" json:"shortest_share"`
	Hysteresis         float64 `toml:"hysteresis_pct" json:"hysteresis_pct"`
	Margin             float64 `toml:"margin_pct" json:"margin_pct"`
}

// Radiation rules the radiation correction of temperature.
type Radiation struct {
	Twilight      float64 `toml:"twilight_deg" json:"twilight_deg"`
	CloudShare    float64 `toml:"cloud_share" json:"cloud_share"`
	CloudU        float64 `toml:"cloud_u_fraction" json:"cloud_u_fraction"`
	CloudHumidity float64 `toml:"cloud_humidity_pct" json:"cloud_humidity_pct"`
}

// HumidityRadiation rules the dry bias correction.
type HumidityRadiation struct {
	Smallest float64 `toml:"smallest_k" json:"smallest_k"`
}

// TwinHumidity rules the merge of two alternately heated sensors.
type TwinHumidity struct {
	DisagreementWarm float64 `toml:"disagreement_warm_pct" json:"disagreement_warm_pct"`
	DisagreementCold float64 `toml:"disagreement_cold_pct" json:"disagreement_cold_pct"`
	WarmAbove        float64 `toml:"warm_above_k" json:"warm_above_k"`
	CrossFade        float64 `toml:"cross_fade_s" json:"cross_fade_s"`
	Residual         float64 `toml:"residual_k" json:"residual_k"`
	MeasuredResidual float64 `toml:"measured_residual_k" json:"measured_residual_k"`
	ExcessU          float64 `toml:"excess_u_fraction" json:"excess_u_fraction"`
	Bridge           float64 `toml:"bridge_s" json:"bridge_s"`
	SquareWave       float64 `toml:"square_wave_pct" json:"square_wave_pct"`
	FailNoiseRatio   float64 `toml:"fail_noise_ratio" json:"fail_noise_ratio"`
	Stuck            float64 `toml:"stuck_s" json:"stuck_s"`
}

// StratosphericHumidity rules the uncertainty of humidity beyond the sensor's limit.
type StratosphericHumidity struct {
	BeyondU float64 `toml:"beyond_u_fraction" json:"beyond_u_fraction"`
}

// Barometer rules the fit of a constant pressure offset.
type Barometer struct {
	CorrectOffset bool    `toml:"correct_offset" json:"correct_offset"`
	FitAbove      float64 `toml:"fit_above_hpa" json:"fit_above_hpa"`
	DriftShare    float64 `toml:"drift_share" json:"drift_share"`
	GroundShare   float64 `toml:"ground_share" json:"ground_share"`
	Fewest        float64 `toml:"fewest_s" json:"fewest_s"`
	Significant   float64 `toml:"significant_u" json:"significant_u"`
	Largest       float64 `toml:"largest_hpa" json:"largest_hpa"`
}

// Pressure rules the hand-over from barometer to satellite height.
type Pressure struct {
	HandOverFrom float64 `toml:"hand_over_from_hpa" json:"hand_over_from_hpa"`
	HandOverTo   float64 `toml:"hand_over_to_hpa" json:"hand_over_to_hpa"`
	Agree        float64 `toml:"agree_u" json:"agree_u"`
}

// Height rules satellite heights.
type Height struct {
	Smooth            float64 `toml:"smooth_s" json:"smooth_s"`
	Anchor            bool    `toml:"anchor" json:"anchor"`
	AnchorRows        int     `toml:"anchor_rows" json:"anchor_rows"`
	AnchorLimit       float64 `toml:"anchor_limit_m" json:"anchor_limit_m"`
	UnknownDatumLimit float64 `toml:"unknown_datum_limit_m" json:"unknown_datum_limit_m"`
	DriftShare        float64 `toml:"drift_share" json:"drift_share"`
	Persistence       float64 `toml:"persistence_s" json:"persistence_s"`
}

// Generic is the uncertainty budget where there is no instrument sheet.
type Generic struct {
	TemperatureNoise float64 `toml:"temperature_noise_k" json:"temperature_noise_k"`
	TemperatureU     float64 `toml:"temperature_u_k" json:"temperature_u_k"`
	HumidityNoise    float64 `toml:"humidity_noise_pct" json:"humidity_noise_pct"`
	HumidityU        float64 `toml:"humidity_u_pct" json:"humidity_u_pct"`
	PressureNoise    float64 `toml:"pressure_noise_hpa" json:"pressure_noise_hpa"`
	PressureU        float64 `toml:"pressure_u_hpa" json:"pressure_u_hpa"`
	HeightNoise      float64 `toml:"height_noise_m" json:"height_noise_m"`
	HeightU          float64 `toml:"height_u_m" json:"height_u_m"`
}

// DefaultText is the TOML text of the shipped settings, with the source of each number.
//
//go:embed settings.toml
var DefaultText string

// Default returns the shipped settings.
func Default() *Settings {
	return sounding.ShippedSettings("settings.toml of the corrections", DefaultText, &Settings{})
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
		{"general.longest_break_s", s.General.LongestBreak},
		{"general.ventilation_floor_m_s", s.General.VentilationFloor},
		{"general.ascent_window_s", s.General.AscentWindow},
		{"temperature_lag.smoothing_low", s.TemperatureLag.Low},
		{"temperature_lag.smoothing_high", s.TemperatureLag.High},
		{"humidity_lag.smoothing_low", s.HumidityLag.Low},
		{"humidity_lag.smoothing_high", s.HumidityLag.High},
		{"radiation.twilight_deg", s.Radiation.Twilight},
		{"twin_humidity.residual_k", s.TwinHumidity.Residual},
		{"wake.window_s", s.Wake.Window},
		{"pressure.hand_over_from_hpa", s.Pressure.HandOverFrom},
		{"pressure.hand_over_to_hpa", s.Pressure.HandOverTo},
		{"barometer.fit_above_hpa", s.Barometer.FitAbove},
		{"height.smooth_s", s.Height.Smooth},
	}
	for _, p := range positive {
		if !(p.value > 0) {
			return fmt.Errorf("%s is %g: it must be above 0", p.name, p.value)
		}
	}
	switch {
	case s.General.Formula == humidity.NoFormula:
		return fmt.Errorf("general.formula is not set: name a saturation formula, such as hyland-wexler")
	case !(s.Pressure.HandOverTo < s.Pressure.HandOverFrom):
		return fmt.Errorf("pressure.hand_over_to_hpa is %g: it must be below hand_over_from_hpa, %g", s.Pressure.HandOverTo, s.Pressure.HandOverFrom)
	case !(s.Radiation.CloudShare >= 0 && s.Radiation.CloudShare <= 1):
		return fmt.Errorf("radiation.cloud_share is %g: it must lie between 0 and 1", s.Radiation.CloudShare)
	case s.TemperatureLag.High < s.TemperatureLag.Low || s.HumidityLag.High < s.HumidityLag.Low:
		return fmt.Errorf("smoothing_high must not be below smoothing_low")
	case !(s.HumidityLag.Taper > 0 && s.HumidityLag.Taper < 1):
		return fmt.Errorf("humidity_lag.taper_fraction is %g: it must lie between 0 and 1", s.HumidityLag.Taper)
	case s.HumidityLag.EdgePasses < 0 || s.HumidityLag.EdgePasses > 10:
		return fmt.Errorf("humidity_lag.edge_passes is %d: it must lie between 0 and 10", s.HumidityLag.EdgePasses)
	}
	return nil
}
