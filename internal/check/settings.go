package check

import (
	_ "embed"
	"fmt"
	"math"
	"reflect"

	"leadline/internal/sounding"
)

// Settings are the limits of the checks, one table a check; settings.toml holds the
// defaults with their sources.
type Settings struct {
	TimeOrder       TimeOrderSettings       `toml:"time-order" json:"time-order"`
	Gap             GapSettings             `toml:"gap" json:"gap"`
	Gross           GrossSettings           `toml:"gross" json:"gross"`
	Spike           SpikeSettings           `toml:"spike" json:"spike"`
	Step            StepSettings            `toml:"step" json:"step"`
	Stuck           StuckSettings           `toml:"stuck" json:"stuck"`
	Clamped         ClampedSettings         `toml:"clamped" json:"clamped"`
	Superadiabatic  SuperadiabaticSettings  `toml:"superadiabatic" json:"superadiabatic"`
	BarometerHeight BarometerHeightSettings `toml:"barometer-height" json:"barometer-height"`
	Baseline        BaselineSettings        `toml:"baseline" json:"baseline"`
	Ascent          AscentSettings          `toml:"ascent" json:"ascent"`
	WindShear       WindShearSettings       `toml:"wind-shear" json:"wind-shear"`
	WindRepeat      WindRepeatSettings      `toml:"wind-repeat" json:"wind-repeat"`
	HumidityRange   HumidityRangeSettings   `toml:"humidity-range" json:"humidity-range"`
	IceSaturation   IceSaturationSettings   `toml:"ice-saturation" json:"ice-saturation"`
	Stratosphere    StratosphereSettings    `toml:"stratospheric-humidity" json:"stratospheric-humidity"`
	TwinHumidity    TwinHumiditySettings    `toml:"twin-humidity" json:"twin-humidity"`
	Icing           IcingSettings           `toml:"icing" json:"icing"`
	Evaporation     EvaporationSettings     `toml:"evaporation" json:"evaporation"`
	GroundCheck     GroundCheckSettings     `toml:"ground-check" json:"ground-check"`
	Position        PositionSettings        `toml:"position" json:"position"`
	Telemetry       TelemetrySettings       `toml:"telemetry" json:"telemetry"`
}

// The tables: units stand in the keys, meanings beside the defaults in settings.toml.
type (
	TimeOrderSettings struct {
		Jump     float64 `toml:"jump_s"`
		JumpRate float64 `toml:"jump_rate_m_s"`
	}
	GapSettings struct {
		Short     float64 `toml:"short_s"`
		Bridged   float64 `toml:"bridged_s"`
		Long      float64 `toml:"long_s"`
		LongDepth float64 `toml:"long_m"`
		Lost      float64 `toml:"lost_pct"`
		Chosen    float64 `toml:"chosen_s"`
	}
	GrossSettings struct {
		Level            []float64 `toml:"level_hpa"`
		Coldest          []float64 `toml:"coldest_c"`
		Warmest          []float64 `toml:"warmest_c"`
		Lowest           []float64 `toml:"lowest_m"`
		Highest          []float64 `toml:"highest_m"`
		Fastest          []float64 `toml:"fastest_kt"`
		MarginK          float64   `toml:"margin_k"`
		MarginM          float64   `toml:"margin_m"`
		PlateauHeight    float64   `toml:"plateau_above_m"`
		PlateauK         float64   `toml:"plateau_margin_k"`
		PlateauM         float64   `toml:"plateau_margin_m"`
		PolarMargin      float64   `toml:"polar_margin_k"`
		TropicalColdest  float64   `toml:"tropical_coldest_c"`
		HighestPressure  float64   `toml:"highest_pressure_hpa"`
		ColdestAbsolute  float64   `toml:"coldest_absolute_c"`
		WarmestAbsolute  float64   `toml:"warmest_absolute_c"`
		BelowSite        float64   `toml:"below_site_m"`
		HighestAbsolute  float64   `toml:"highest_absolute_m"`
		FastestAbsolute  float64   `toml:"fast_m_s"`
		FastQuestionable float64   `toml:"fast_doubt_m_s"`
		StandsOut        float64   `toml:"stands_out_k"`
		Agree            float64   `toml:"agree_s"`
	}
	SpikeSettings struct {
		Window           float64 `toml:"window_s"`
		K                float64 `toml:"k"`
		Temperature      float64 `toml:"temperature_k"`
		Humidity         float64 `toml:"humidity_pct"`
		Wind             float64 `toml:"wind_m_s"`
		Pressure         float64 `toml:"pressure_hpa"`
		PressureFraction float64 `toml:"pressure_fraction"`
		Height           float64 `toml:"height_m"`
		Surely           float64 `toml:"surely"`
		PairedK          float64 `toml:"paired_k"`
		PairedHumidity   float64 `toml:"paired_pct"`
	}
	StepSettings struct {
		Temperature       float64 `toml:"temperature_k"`
		Humidity          float64 `toml:"humidity_pct"`
		Wind              float64 `toml:"wind_m_s"`
		Pressure          float64 `toml:"pressure_hpa"`
		PressureFraction  float64 `toml:"pressure_fraction"`
		Height            float64 `toml:"height_m"`
		PairedHumidity    float64 `toml:"paired_pct"`
		TemperatureCoarse float64 `toml:"temperature_coarse_k"`
		Excursion         float64 `toml:"excursion_s"`
	}
	StuckSettings struct {
		Temperature     float64 `toml:"temperature_s"`
		TemperatureFall float64 `toml:"temperature_fall_hpa"`
		TemperatureRise float64 `toml:"temperature_rise_m"`
		Humidity        float64 `toml:"humidity_s"`
		HumidityChange  float64 `toml:"humidity_change_k"`
		Dry             float64 `toml:"dry_pct"`
		Pressure        float64 `toml:"pressure_s"`
		PressureSteps   float64 `toml:"pressure_steps"`
		PressureFall    float64 `toml:"pressure_fall_hpa"`
		Height          float64 `toml:"height_s"`
		HeightRise      float64 `toml:"height_rise_m"`
	}
	ClampedSettings struct {
		Least        float64 `toml:"least_s"`
		Top          float64 `toml:"top_pct"`
		Long         float64 `toml:"long_s"`
		Change       float64 `toml:"change_k"`
		Stratosphere float64 `toml:"stratosphere_hpa"`
	}
	SuperadiabaticSettings struct {
		Limit       float64 `toml:"limit_k"`
		AboveGround float64 `toml:"above_ground_hpa"`
		NearGround  float64 `toml:"near_ground_k"`
		Surface     float64 `toml:"surface_m"`
		Block       float64 `toml:"block_s"`
		Noise       float64 `toml:"noise_k"`
	}
	BarometerHeightSettings struct {
		Low           float64 `toml:"u_low_m"`
		At20          float64 `toml:"u_20km_m"`
		At30          float64 `toml:"u_30km_m"`
		K             float64 `toml:"k"`
		Least         float64 `toml:"least_s"`
		PressureNoise float64 `toml:"pressure_noise_hpa"`
		Step          float64 `toml:"step_m"`
		Noise         float64 `toml:"noise_m"`
	}
	BaselineSettings struct {
		SurfaceHumidity float64 `toml:"surface_humidity_u_pct"`
		K               float64 `toml:"k"`
		Before          float64 `toml:"before_s"`
		LeastSamples    int     `toml:"least_samples"`
		After           float64 `toml:"after_s"`
		Night           float64 `toml:"night_k"`
		Day             float64 `toml:"day_k"`
		Pressure        float64 `toml:"pressure_hpa"`

		SurfacePressure float64 `toml:"surface_pressure_u_hpa"`
		Humidity        float64 `toml:"humidity_pct"`
		FirstHumidity   float64 `toml:"first_humidity_pct"`
		First           float64 `toml:"first_k"`
		Height          float64 `toml:"height_m"`
		Wind            float64 `toml:"wind_m_s"`
		WindFraction    float64 `toml:"wind_fraction"`
	}
	AscentSettings struct {
		Slow      float64 `toml:"slow_m_s"`
		SlowDepth float64 `toml:"slow_m"`
		Fast      float64 `toml:"fast_m_s"`
		Fastest   float64 `toml:"fastest_m_s"`
		Change    float64 `toml:"change_m_s"`
		Smooth    float64 `toml:"smooth_s"`
	}
	WindShearSettings struct {
		Shear       float64 `toml:"per_s"`
		Depth       float64 `toml:"depth_m"`
		Below       float64 `toml:"below_m"`
		AboveFactor float64 `toml:"above_factor"`
		Mean        float64 `toml:"mean_s"`
		Turn        float64 `toml:"turn_m_s"`
	}
	WindRepeatSettings struct {
		Hold   float64 `toml:"hold_s"`
		Rows   int     `toml:"rows"`
		Coarse float64 `toml:"coarse_s"`
	}
	HumidityRangeSettings struct {
		Margin   float64 `toml:"margin_pct"`
		BadAbove float64 `toml:"bad_above_pct"`
		BadBelow float64 `toml:"bad_below_pct"`
	}
	IceSaturationSettings struct {
		Limit float64 `toml:"limit_pct"`
		Bad   float64 `toml:"bad_pct"`
		Least float64 `toml:"least_s"`
	}
	StratosphereSettings struct {
		PPMV  float64 `toml:"ppmv"`
		Above float64 `toml:"above_hpa"`
		Block float64 `toml:"block_s"`
	}
	TwinHumiditySettings struct {
		Warm      float64 `toml:"warm_pct"`
		Cold      float64 `toml:"cold_pct"`
		WarmAbove float64 `toml:"warm_above_c"`
		Doubt     float64 `toml:"doubt"`
		Sheet     float64 `toml:"sheet_u"`
		Swaps     int     `toml:"swaps"`
		Least     float64 `toml:"least_s"`
		Noisy     float64 `toml:"noisy"`
	}
	IcingSettings struct {
		Lowest            float64 `toml:"lowest_pct"`
		Highest           float64 `toml:"highest_pct"`
		Least             float64 `toml:"least_s"`
		Spread            float64 `toml:"spread_pct"`
		Stratosphere      float64 `toml:"stratosphere_pct"`
		StratosphereDepth float64 `toml:"stratosphere_m"`
	}
	EvaporationSettings struct {
		Surely   float64 `toml:"surely_k"`
		Wet      float64 `toml:"wet_pct"`
		Dries    float64 `toml:"dries_pct"`
		Within   float64 `toml:"within_m"`
		Begins   float64 `toml:"begins_s"`
		Falls    float64 `toml:"falls_s"`
		Remains  float64 `toml:"remains_k"`
		Shortest float64 `toml:"shortest_s"`
		Lacks    float64 `toml:"lacks_k"`
		Lapse    float64 `toml:"lapse_k_km"`
		Drop     float64 `toml:"drop_k"`
		Recovery float64 `toml:"recovery_s"`
		Margin   float64 `toml:"margin_k"`
	}
	GroundCheckSettings struct {
		Temperature float64 `toml:"temperature_k"`
		Pressure    float64 `toml:"pressure_hpa"`
		Humidity    float64 `toml:"humidity_pct"`
		Reference   float64 `toml:"reference_humidity_u_pct"`
		Refuse      float64 `toml:"refuse"`
		Age         float64 `toml:"age_s"`
	}
	PositionSettings struct {
		Fewest int     `toml:"fewest"`
		Frozen float64 `toml:"frozen_s"`
		Speed  float64 `toml:"speed_m_s"`
		Jump   float64 `toml:"jump_m"`
		Back   float64 `toml:"back_s"`
	}
	TelemetrySettings struct {
		Lost        float64 `toml:"lost_pct"`
		HoldRows    int     `toml:"hold_rows"`
		BatteryDrop float64 `toml:"battery_drop_pct"`
	}
)

// DefaultText is the shipped settings with a source beside each figure.
//
//go:embed settings.toml
var DefaultText string

// Default returns the shipped settings.
func Default() *Settings {
	return sounding.ShippedSettings("check settings", DefaultText, &Settings{})
}

// Read returns the settings in text laid over the shipped ones; name is what
// messages call the text. Unknown keys and figures that cannot be used are errors.
func Read(name string, text []byte) (*Settings, error) {
	return sounding.ReadSettings(name, text, Default())
}

// Validate returns an error that names the first figure that cannot be used: one
// that is not finite, or windows of the gross check that do not fit together.
func (s *Settings) Validate() error {
	tables := reflect.ValueOf(s).Elem()
	for i := range tables.NumField() {
		table := tables.Field(i)
		for j := range table.NumField() {
			key := tables.Type().Field(i).Tag.Get("toml") + "." + table.Type().Field(j).Tag.Get("toml")
			switch v := table.Field(j); v.Kind() {
			case reflect.Float64:
				if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
					return fmt.Errorf("%s = %g: want a number", key, x)
				}
			case reflect.Int:
				if v.Int() < 0 {
					return fmt.Errorf("%s = %d: want 0 or more", key, v.Int())
				}
			case reflect.Slice:
				if n := len(s.Gross.Level); v.Len() != n || n < 2 {
					return fmt.Errorf("%s has %d figures for %d levels: want as many, and at least 2", key, v.Len(), n)
				}
			}
		}
	}
	for i, p := range s.Gross.Level {
		if !(p > 0) || i > 0 && !(p < s.Gross.Level[i-1]) {
			return fmt.Errorf("gross.level_hpa must fall and stay above 0")
		}
	}
	return nil
}
