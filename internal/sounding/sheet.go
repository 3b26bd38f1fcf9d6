package sounding

import (
	"embed"
	"fmt"
	"io/fs"
	"path"
	"sort"
	"strings"
)

// InstrumentSheet describes one type of radiosonde. It is read from TOML; every
// number has its source in a comment beside it.
type InstrumentSheet struct {
	Name        string           `toml:"name" json:"name"`
	Title       string           `toml:"title" json:"title"`
	Applied     []string         `toml:"applied" json:"applied"` // corrections the source's values already contain: "radiation", "humidity-lag", "humidity-radiation", "temperature-lag", "wind-filter"
	Temperature TemperatureSheet `toml:"temperature" json:"temperature"`
	Humidity    HumiditySheet    `toml:"humidity" json:"humidity"`
	Pressure    PressureSheet    `toml:"pressure" json:"pressure"`
	Position    PositionSheet    `toml:"position" json:"position"`
	Wind        WindSheet        `toml:"wind" json:"wind"`
	String      float64          `toml:"string_m" json:"string_m"` // usual string length where the launch record gives none; 0 not known
	Codes       map[string]int   `toml:"codes" json:"codes"`       // WMO code figures for messages, by descriptor: "0 02 097"
}

// TemperatureSheet describes the temperature sensor.
type TemperatureSheet struct {
	Resolution   float64        `toml:"resolution_k" json:"resolution_k"`
	Noise        float64        `toml:"noise_k" json:"noise_k"`                                 // independent, k = 1
	Calibration  float64        `toml:"calibration_u_k" json:"calibration_u_k"`                 // common, k = 1
	TimeConstant float64        `toml:"time_constant_s" json:"time_constant_s"`                 // at Density and Ventilation
	Density      float64        `toml:"reference_density_kg_m3" json:"reference_density_kg_m3"` // of the time constant
	Ventilation  float64        `toml:"reference_ventilation_m_s" json:"reference_ventilation_m_s"`
	Exponent     float64        `toml:"ventilation_exponent" json:"ventilation_exponent"` // τ ∝ (ρ v)^−n
	LagRelative  float64        `toml:"time_constant_u_fraction" json:"time_constant_u_fraction"`
	Radiation    RadiationSheet `toml:"radiation" json:"radiation"`
}

// RadiationSheet is the error of a sunlit temperature sensor as a table over solar
// elevation and pressure at a reference ventilation.
type RadiationSheet struct {
	Elevation   []float64   `toml:"elevation_deg" json:"elevation_deg"` // rising
	Pressure    []float64   `toml:"pressure_hpa" json:"pressure_hpa"`   // falling
	Error       [][]float64 `toml:"error_k" json:"error_k"`             // [elevation][pressure], reading minus air
	Night       []float64   `toml:"night_k" json:"night_k"`             // [pressure], reading minus air in the dark
	Ventilation float64     `toml:"reference_ventilation_m_s" json:"reference_ventilation_m_s"`
	Exponent    float64     `toml:"ventilation_exponent" json:"ventilation_exponent"` // error ∝ v^−n
	Relative    float64     `toml:"u_fraction" json:"u_fraction"`                     // common part of the uncertainty, share of the correction
	Floor       float64     `toml:"u_floor_k" json:"u_floor_k"`
}

// HumiditySheet describes the humidity sensor or the pair of them.
type HumiditySheet struct {
	Sensors       int          `toml:"sensors" json:"sensors"` // 0 none, 1, or 2 alternately heated
	Formula       string       `toml:"formula" json:"formula"` // saturation vapour pressure of the calibration, over liquid water
	Resolution    float64      `toml:"resolution_pct" json:"resolution_pct"`
	Noise         float64      `toml:"noise_pct" json:"noise_pct"`
	Calibration   float64      `toml:"calibration_u_pct" json:"calibration_u_pct"`
	Dry           float64      `toml:"calibration_dry_u_pct" json:"calibration_dry_u_pct"`   // of dry air, growing to Calibration at DryBelow; 0 where no better than the rest
	ColdExtra     float64      `toml:"calibration_cold_u_pct" json:"calibration_cold_u_pct"` // added in quadrature below −40 °C
	LagPolynomial []float64    `toml:"time_constant_ln_s" json:"time_constant_ln_s"`         // ln τ = c0 + c1 t + c2 t² …, t in °C of the element
	LagRelative   float64      `toml:"time_constant_u_fraction" json:"time_constant_u_fraction"`
	LagLongest    float64      `toml:"longest_corrected_s" json:"longest_corrected_s"` // beyond it the lag is not undone
	SolarFactor   float64      `toml:"solar_factor" json:"solar_factor"`               // element warmer than air by this times the radiation error of temperature
	SolarRelative float64      `toml:"solar_u_fraction" json:"solar_u_fraction"`
	Coldest       float64      `toml:"coldest_k" json:"coldest_k"` // below it the sensor has no useful sensitivity
	Heating       HeatingSheet `toml:"heating" json:"heating"`
}

// DryBelow is the humidity in % below which HumiditySheet.Dry counts: from there to dry
// air the calibration uncertainty goes from one to the other on a straight line.
const DryBelow = 20.0

// HeatingSheet is the cycle of two alternately heated sensors.
type HeatingSheet struct {
	Cycle       float64 `toml:"cycle_s" json:"cycle_s"`                                   // from one heating of a sensor to its next; 0 not heated
	Heated      float64 `toml:"heated_s" json:"heated_s"`                                 // of each cycle
	Recovery    float64 `toml:"recovery_time_constant_s" json:"recovery_time_constant_s"` // thermal, at 1.2 kg m⁻³ and 5 m s⁻¹
	Exponent    float64 `toml:"ventilation_exponent" json:"ventilation_exponent"`
	Excess      float64 `toml:"heated_excess_k" json:"heated_excess_k"` // element above air while heated, near the ground
	StopsBelowK float64 `toml:"stops_below_k" json:"stops_below_k"`     // heating stops below this air temperature; 0 never
}

// PressureSheet describes the barometer, or says that there is none.
type PressureSheet struct {
	Sensor      bool    `toml:"sensor" json:"sensor"`
	Resolution  float64 `toml:"resolution_hpa" json:"resolution_hpa"`
	Noise       float64 `toml:"noise_hpa" json:"noise_hpa"`
	Calibration float64 `toml:"calibration_u_hpa" json:"calibration_u_hpa"` // common
}

// PositionSheet describes the satellite receiver.
type PositionSheet struct {
	Datum      string  `toml:"height_datum" json:"height_datum"` // "msl" or "ellipsoid": what the reported altitude is above
	Height     float64 `toml:"height_noise_m" json:"height_noise_m"`
	HeightBias float64 `toml:"height_u_m" json:"height_u_m"` // common
	Horizontal float64 `toml:"horizontal_noise_m" json:"horizontal_noise_m"`
	Fewest     int     `toml:"fewest_satellites" json:"fewest_satellites"`
}

// WindSheet says where the wind comes from.
type WindSheet struct {
	From  string  `toml:"from" json:"from"` // "position", "velocity" or "reported"; the first one the source has is used where it is not given
	Noise float64 `toml:"noise_m_s" json:"noise_m_s"`
	Floor float64 `toml:"u_floor_m_s" json:"u_floor_m_s"`
}

// Contains tells whether the source's values already contain a correction.
func (s *InstrumentSheet) Contains(correction string) bool {
	for _, a := range s.Applied {
		if a == correction {
			return true
		}
	}
	return false
}

// Validate returns an error that names the first item that cannot be right.
func (s *InstrumentSheet) Validate() error {
	r := &s.Temperature.Radiation
	switch {
	case s.Name == "":
		return fmt.Errorf("instrument sheet: it has no name")
	case s.Humidity.Sensors < 0 || s.Humidity.Sensors > 2:
		return fmt.Errorf("instrument sheet %s: %d humidity sensors: want 0, 1 or 2", s.Name, s.Humidity.Sensors)
	case s.Temperature.TimeConstant < 0 || s.Temperature.Noise < 0 || s.Temperature.Calibration < 0:
		return fmt.Errorf("instrument sheet %s: temperature has a negative time constant or uncertainty", s.Name)
	case s.Position.Datum != "" && s.Position.Datum != "msl" && s.Position.Datum != "ellipsoid":
		return fmt.Errorf("instrument sheet %s: height_datum %q: want msl or ellipsoid", s.Name, s.Position.Datum)
	case s.Wind.From != "" && s.Wind.From != "position" && s.Wind.From != "velocity" && s.Wind.From != "reported":
		return fmt.Errorf("instrument sheet %s: wind from %q: want position, velocity or reported", s.Name, s.Wind.From)
	case len(r.Error) != len(r.Elevation):
		return fmt.Errorf("instrument sheet %s: radiation table has %d rows for %d elevations", s.Name, len(r.Error), len(r.Elevation))
	case len(r.Night) != 0 && len(r.Night) != len(r.Pressure):
		return fmt.Errorf("instrument sheet %s: night_k has %d values for %d pressures", s.Name, len(r.Night), len(r.Pressure))
	}
	for i, row := range r.Error {
		if len(row) != len(r.Pressure) {
			return fmt.Errorf("instrument sheet %s: radiation row %d has %d values for %d pressures", s.Name, i+1, len(row), len(r.Pressure))
		}
		if i > 0 && !(r.Elevation[i] > r.Elevation[i-1]) {
			return fmt.Errorf("instrument sheet %s: elevation_deg must rise", s.Name)
		}
	}
	for i := 1; i < len(r.Pressure); i++ {
		if !(r.Pressure[i] < r.Pressure[i-1]) {
			return fmt.Errorf("instrument sheet %s: pressure_hpa must fall", s.Name)
		}
	}
	return nil
}

//go:embed sheets/*.toml
var sheetFiles embed.FS

// ReadSheet reads an instrument sheet from TOML; name is what messages call it.
func ReadSheet(name string, text []byte) (*InstrumentSheet, error) {
	s := &InstrumentSheet{}
	if err := DecodeTOML(name, text, s); err != nil {
		return nil, err
	}
	if err := s.Validate(); err != nil {
		return nil, err
	}
	return s, nil
}

// ShippedSheet returns the generic sheet of that name and its TOML text.
func ShippedSheet(name string) (*InstrumentSheet, []byte, error) {
	text, err := sheetFiles.ReadFile("sheets/" + name + ".toml")
	if err != nil {
		return nil, nil, fmt.Errorf("no instrument sheet is called %q: shipped are %s; give a file to use your own", name, strings.Join(ShippedSheets(), ", "))
	}
	s, err := ReadSheet(name+".toml", text)
	return s, text, err
}

// ShippedSheets lists the names of the generic sheets.
func ShippedSheets() []string {
	entries, err := fs.ReadDir(sheetFiles, "sheets")
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), path.Ext(e.Name())))
	}
	sort.Strings(names)
	return names
}
