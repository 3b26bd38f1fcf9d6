package indices

import (
	_ "embed"
	"fmt"
	"strings"

	"leadline/internal/humidity"
	"leadline/internal/parcel"
	"leadline/internal/sounding"
)

// Settings are the choices behind the indices; defaults and sources in settings.toml.
type Settings struct {
	GapS            float64          `toml:"gap_s" json:"gap_s"`
	GapHPa          float64          `toml:"gap_hpa" json:"gap_hpa"`
	GapM            float64          `toml:"gap_m" json:"gap_m"`
	Surface         string           `toml:"surface" json:"surface"`
	Saturation      humidity.Formula `toml:"saturation" json:"saturation"`
	DryAboveVirtual float64          `toml:"dry_above_virtual_k" json:"dry_above_virtual_k"`
	MixedLayer      float64          `toml:"mixed_layer_hpa" json:"mixed_layer_hpa"`
	MostUnstable    float64          `toml:"most_unstable_hpa" json:"most_unstable_hpa"`
	UnstableMean    float64          `toml:"most_unstable_mean_hpa" json:"most_unstable_mean_hpa"`
	Condensate      string           `toml:"condensate" json:"condensate"`
	Layer           string           `toml:"layer" json:"layer"`
	Smallest        float64          `toml:"smallest_j_kg" json:"smallest_j_kg"`
	Refine          float64          `toml:"refine_ln_p" json:"refine_ln_p"`
	ScanTop         float64          `toml:"scan_top_hpa" json:"scan_top_hpa"`
	Downdraft       float64          `toml:"downdraft_hpa" json:"downdraft_hpa"`
	WaterTop        float64          `toml:"water_top_hpa" json:"water_top_hpa"`
	WaterMissing    float64          `toml:"water_missing_share" json:"water_missing_share"`
	LayerLnP        float64          `toml:"layer_ln_p" json:"layer_ln_p"`
	Inversion       float64          `toml:"inversion_k" json:"inversion_k"`
	InversionRipple float64          `toml:"inversion_ripple_k" json:"inversion_ripple_k"`
	InversionTop    float64          `toml:"inversion_top_hpa" json:"inversion_top_hpa"`
	CriticalNumber  float64          `toml:"critical_richardson" json:"critical_richardson"`
	BoundaryLowest  float64          `toml:"boundary_lowest_m" json:"boundary_lowest_m"`
	BoundaryExcess  float64          `toml:"boundary_excess_k" json:"boundary_excess_k"`
	Duct            float64          `toml:"duct_m_units" json:"duct_m_units"`
	DuctRipple      float64          `toml:"duct_ripple_m_units" json:"duct_ripple_m_units"`
	DuctTop         float64          `toml:"duct_top_m" json:"duct_top_m"`
	StabilityLayer  float64          `toml:"stability_layer_m" json:"stability_layer_m"`
	Members         int              `toml:"members" json:"members"`
	Seed            uint64           `toml:"seed" json:"seed"`
}

// DefaultText is the shipped settings with the source of each.
//
//go:embed settings.toml
var DefaultText string

// Default returns the shipped settings.
func Default() *Settings {
	return sounding.ShippedSettings("indices settings", DefaultText, &Settings{})
}

var layerWords = map[string]parcel.Layer{"largest": parcel.Largest, "lowest": parcel.Lowest, "highest": parcel.Highest, "whole": parcel.Whole}
var condensateWords = map[string]parcel.Condensate{"falls out": parcel.FallsOut, "stays": parcel.Stays}

// Validate returns an error that names the first setting that cannot be right.
func (s *Settings) Validate() error {
	positive := func(name string, v float64) error {
		if !(v > 0) {
			return fmt.Errorf("indices settings: %s = %g: want a number above 0", name, v)
		}
		return nil
	}
	for _, x := range []struct {
		name  string
		value float64
	}{
		{"gap_s", s.GapS}, {"gap_hpa", s.GapHPa}, {"gap_m", s.GapM}, {"mixed_layer_hpa", s.MixedLayer}, {"most_unstable_hpa", s.MostUnstable},
		{"refine_ln_p", s.Refine}, {"scan_top_hpa", s.ScanTop}, {"downdraft_hpa", s.Downdraft}, {"water_top_hpa", s.WaterTop}, {"layer_ln_p", s.LayerLnP},
		{"inversion_k", s.Inversion}, {"inversion_ripple_k", s.InversionRipple}, {"inversion_top_hpa", s.InversionTop}, {"critical_richardson", s.CriticalNumber},
		{"duct_m_units", s.Duct}, {"duct_ripple_m_units", s.DuctRipple}, {"duct_top_m", s.DuctTop}, {"stability_layer_m", s.StabilityLayer},
	} {
		if err := positive(x.name, x.value); err != nil {
			return err
		}
	}
	switch {
	case s.LayerLnP < 1e-4 || s.Refine < 1e-4:
		return fmt.Errorf("indices settings: layer_ln_p = %g, refine_ln_p = %g: want 0.0001 or more", s.LayerLnP, s.Refine)
	case s.Surface != "flight" && s.Surface != "record":
		return fmt.Errorf("indices settings: surface = %q: want flight or record", s.Surface)
	case !(s.UnstableMean >= 0 && s.UnstableMean <= s.MostUnstable):
		return fmt.Errorf("indices settings: most_unstable_mean_hpa = %g: want 0 to most_unstable_hpa = %g", s.UnstableMean, s.MostUnstable)
	case s.Smallest < 0 || s.DryAboveVirtual < 0 || s.WaterMissing < 0 || s.BoundaryLowest < 0:
		return fmt.Errorf("indices settings: smallest_j_kg, dry_above_virtual_k, water_missing_share and boundary_lowest_m must not be negative")
	case parcel.SaturationBy(s.Saturation) == nil || s.Saturation == humidity.IAPWS:
		return fmt.Errorf("indices settings: saturation = %q: want a formula that holds for supercooled water, such as hyland-wexler", s.Saturation)
	case s.Members < 0 || s.Members == 1 || s.Members > 100000:
		return fmt.Errorf("indices settings: members = %d: want 0 or 2 to 100000", s.Members)
	}
	if _, ok := layerWords[s.Layer]; !ok {
		return fmt.Errorf("indices settings: layer = %q: want one of largest, lowest, highest, whole", s.Layer)
	}
	if _, ok := condensateWords[s.Condensate]; !ok {
		return fmt.Errorf("indices settings: condensate = %q: want %s", s.Condensate, strings.Join([]string{"falls out", "stays"}, " or "))
	}
	return nil
}
