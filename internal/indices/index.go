package indices

import "leadline/internal/sounding"

// Index is one number read off the profile, or the reason why there is none.
type Index struct {
	Name        string          `json:"name"`  // "mixed_layer_cape"
	Label       string          `json:"label"` // in words
	Value       sounding.Number `json:"value"` // null where it is refused
	Unit        string          `json:"unit"`
	Uncertainty sounding.Number `json:"u"`                 // standard uncertainty, k = 1, all parts; null where it could not be computed
	Common      sounding.Number `json:"u_common"`          // its part from errors common to the whole flight, by linearisation
	Low         sounding.Number `json:"low_95"`            // 2.5 % and 97.5 % quantiles of the members
	High        sounding.Number `json:"high_95"`           //
	Share       sounding.Number `json:"share_defined"`     // share of the members that have a value: below 1 where, say, some have no LFC
	Convention  string          `json:"convention"`        // by what definition
	Profile     string          `json:"profile"`           // which profile it came from
	Refusal     string          `json:"refusal,omitempty"` // why there is no value
	Note        string          `json:"note,omitempty"`    // what to know about the value
}

// Inversion is a layer through which the temperature rises.
type Inversion struct {
	BasePressure  sounding.Number `json:"base_pressure_hpa"`
	TopPressure   sounding.Number `json:"top_pressure_hpa"`
	BaseHeight    sounding.Number `json:"base_height_m"` // above the release point
	TopHeight     sounding.Number `json:"top_height_m"`
	UBase         sounding.Number `json:"base_u_m"` // of both heights; the thickness of the layers searched is in it
	UTop          sounding.Number `json:"top_u_m"`
	BaseMSL       sounding.Number `json:"base_height_m_msl"`
	TopMSL        sounding.Number `json:"top_height_m_msl"`
	Strength      sounding.Number `json:"strength_k"` // rise of temperature from base to top
	UStrength     sounding.Number `json:"strength_u_k"`
	Surface       bool            `json:"from_surface"`
	HumidityFalls sounding.Number `json:"humidity_change_pct"` // relative humidity at the top minus that at the base
}

// Duct is a layer that traps radio waves: modified refractivity falls with height.
type Duct struct {
	Base        sounding.Number `json:"base_height_m"`          // of the duct above the release point: where M below equals M at the top, or the surface
	TrapBase    sounding.Number `json:"trapping_base_height_m"` // of the layer in which M falls
	Top         sounding.Number `json:"top_height_m"`
	UTop        sounding.Number `json:"top_u_m"`          // the thickness of the layers searched is in it
	Strength    sounding.Number `json:"strength_m_units"` // fall of M
	UStrength   sounding.Number `json:"strength_u_m_units"`
	Gradient    sounding.Number `json:"gradient_n_units_km"` // of N through the trapping layer
	FromSurface bool            `json:"from_surface"`
	Note        string          `json:"note,omitempty"` // where the humidity sensor is too slow for the layer
}

// Parcel is where a parcel of the indices starts from.
type Parcel struct {
	Name        string          `json:"name"` // "surface", "mixed layer", "most unstable"
	Pressure    sounding.Number `json:"pressure_hpa"`
	Temperature sounding.Number `json:"temperature_k"`
	Vapour      sounding.Number `json:"vapour_pressure_hpa"`
}

// Set is all indices of one profile of a flight.
type Set struct {
	Profile     string      `json:"profile"` // "ascent", "descent", "nominal", "merged"
	ProfileNote string      `json:"profile_note,omitempty"`
	Samples     int         `json:"samples"` // with a usable temperature
	Members     int         `json:"members"`
	Seed        uint64      `json:"seed"`
	Saturation  string      `json:"saturation"`              // house formula
	Sensor      string      `json:"humidity_sensor_formula"` // relative humidity to vapour pressure
	Constants   string      `json:"constants"`
	Indices     []Index     `json:"indices"`
	Parcels     []Parcel    `json:"parcels"` // that could be lifted
	Inversions  []Inversion `json:"inversions"`
	Ducts       []Duct      `json:"ducts"`
	Notes       []string    `json:"notes"` // what holds for many of them
}

// Get returns the index of that name, nil where there is none.
func (s *Set) Get(name string) *Index {
	for i := range s.Indices {
		if s.Indices[i].Name == name {
			return &s.Indices[i]
		}
	}
	return nil
}
