package sounding

import "fmt"

// Variable names one quantity along a flight.
type Variable uint8

// The variables, with their unit inside leadline.
const (
	NoVariable           Variable = iota
	Pressure                      // hPa
	Temperature                   // K
	Humidity                      // % over liquid water; merged, where there are two sensors
	HumidityA                     // % over liquid water, first of two sensors
	HumidityB                     // % over liquid water, second of two sensors
	DewPoint                      // K, over liquid water
	WindSpeed                     // m s⁻¹
	WindDirection                 // degrees the wind blows from, north 360, calm 0
	WindU                         // m s⁻¹ towards east
	WindV                         // m s⁻¹ towards north
	VelocityEast                  // m s⁻¹ of the radiosonde by satellite, towards east
	VelocityNorth                 // m s⁻¹ of the radiosonde by satellite, towards north
	VelocityUp                    // m s⁻¹ of the radiosonde by satellite, upwards
	Latitude                      // degrees north
	Longitude                     // degrees east
	HeightMSL                     // m above mean sea level, geometric
	HeightEllipsoid               // m above the WGS-84 ellipsoid
	GeopotentialHeight            // gpm
	AscentRate                    // m s⁻¹
	HeatingA                      // 1 while humidity sensor A is heated, 0 while not
	HeatingB                      // 1 while humidity sensor B is heated, 0 while not
	HumiditySensorTempA           // K, temperature of humidity element A
	HumiditySensorTempB           // K, temperature of humidity element B
	InternalTemperature           // K, inside the radiosonde's body
	Satellites                    // number used in the fix
	Signal                        // as received, dB or dBm or receiver units
	Battery                       // V
	Frame                         // telemetry frame counter
	SolarElevation                // degrees, geometric, at the balloon
	VirtualTemperature            // K
	MixingRatio                   // g kg⁻¹
	PotentialTemperature          // K
	NumVariables
)

// VariableInfo says what a variable is called and measured in.
type VariableInfo struct {
	Name         string // name in recipes, settings, JSON, columns: "temperature"
	Symbol       string // short name in files: "ta"
	Label        string // on screens: "Temperature"
	Unit         string // UDUNITS text of the unit inside leadline: "K"
	Suffix       string // appended to Name in column heads: "temperature_k"
	StandardName string // CF standard name, "" where the table has none
	Dimension    string // kind of unit for conversions: "temperature", "pressure", …
	Profile      bool   // part of the profile that is checked, corrected and exported with flag and uncertainty
}

var variables = [NumVariables]VariableInfo{
	NoVariable:           {Name: "none"},
	Pressure:             {"pressure", "p", "Pressure", "hPa", "hpa", "air_pressure", "pressure", true},
	Temperature:          {"temperature", "ta", "Temperature", "K", "k", "air_temperature", "temperature", true},
	Humidity:             {"humidity", "rh", "Relative humidity", "%", "pct", "relative_humidity", "humidity", true},
	HumidityA:            {"humidity_a", "rh_a", "Humidity sensor A", "%", "pct", "relative_humidity", "humidity", true},
	HumidityB:            {"humidity_b", "rh_b", "Humidity sensor B", "%", "pct", "relative_humidity", "humidity", true},
	DewPoint:             {"dew_point", "td", "Dew point", "K", "k", "dew_point_temperature", "temperature", true},
	WindSpeed:            {"wind_speed", "wspd", "Wind speed", "m s-1", "m_s", "wind_speed", "speed", true},
	WindDirection:        {"wind_direction", "wdir", "Wind direction", "degree", "deg", "wind_from_direction", "angle", true},
	WindU:                {"wind_u", "u", "Wind towards east", "m s-1", "m_s", "eastward_wind", "speed", true},
	WindV:                {"wind_v", "v", "Wind towards north", "m s-1", "m_s", "northward_wind", "speed", true},
	VelocityEast:         {"velocity_east", "ve", "Radiosonde velocity east", "m s-1", "m_s", "", "speed", false},
	VelocityNorth:        {"velocity_north", "vn", "Radiosonde velocity north", "m s-1", "m_s", "", "speed", false},
	VelocityUp:           {"velocity_up", "vu", "Radiosonde velocity up", "m s-1", "m_s", "", "speed", false},
	Latitude:             {"latitude", "lat", "Latitude", "degrees_north", "deg", "latitude", "latitude", true},
	Longitude:            {"longitude", "lon", "Longitude", "degrees_east", "deg", "longitude", "longitude", true},
	HeightMSL:            {"height_msl", "z", "Height above mean sea level", "m", "m", "altitude", "length", true},
	HeightEllipsoid:      {"height_ellipsoid", "h_ell", "Height above the ellipsoid", "m", "m", "height_above_reference_ellipsoid", "length", true},
	GeopotentialHeight:   {"geopotential_height", "gph", "Geopotential height", "m", "gpm", "geopotential_height", "length", true},
	AscentRate:           {"ascent_rate", "w", "Ascent rate", "m s-1", "m_s", "", "speed", true},
	HeatingA:             {"heating_a", "heat_a", "Heating of humidity sensor A", "1", "", "", "none", false},
	HeatingB:             {"heating_b", "heat_b", "Heating of humidity sensor B", "1", "", "", "none", false},
	HumiditySensorTempA:  {"humidity_sensor_temperature_a", "t_rh_a", "Temperature of humidity sensor A", "K", "k", "", "temperature", false},
	HumiditySensorTempB:  {"humidity_sensor_temperature_b", "t_rh_b", "Temperature of humidity sensor B", "K", "k", "", "temperature", false},
	InternalTemperature:  {"internal_temperature", "t_int", "Internal temperature", "K", "k", "", "temperature", false},
	Satellites:           {"satellites", "nsat", "Satellites used", "1", "", "", "none", false},
	Signal:               {"signal", "sig", "Signal", "1", "", "", "none", false},
	Battery:              {"battery", "ubat", "Battery", "V", "v", "", "none", false},
	Frame:                {"frame", "frame", "Frame counter", "1", "", "", "none", false},
	SolarElevation:       {"solar_elevation", "sun", "Solar elevation", "degree", "deg", "solar_elevation_angle", "angle", false},
	VirtualTemperature:   {"virtual_temperature", "tv", "Virtual temperature", "K", "k", "virtual_temperature", "temperature", false},
	MixingRatio:          {"mixing_ratio", "mr", "Mixing ratio", "g kg-1", "g_kg", "humidity_mixing_ratio", "none", false},
	PotentialTemperature: {"potential_temperature", "theta", "Potential temperature", "K", "k", "air_potential_temperature", "temperature", false},
}

// Info returns what v is called and measured in.
func (v Variable) Info() VariableInfo {
	if v < NumVariables {
		return variables[v]
	}
	return VariableInfo{Name: fmt.Sprintf("variable(%d)", uint8(v))}
}

// String returns the name used in recipes, settings and JSON.
func (v Variable) String() string { return v.Info().Name }

// Column returns the head of the variable's column in text files: its name and unit.
func (v Variable) Column() string {
	i := v.Info()
	if i.Suffix == "" {
		return i.Name
	}
	return i.Name + "_" + i.Suffix
}

// Variables lists all variables but NoVariable, in their fixed order.
func Variables() []Variable {
	out := make([]Variable, 0, NumVariables-1)
	for v := NoVariable + 1; v < NumVariables; v++ {
		out = append(out, v)
	}
	return out
}

// ParseVariable reads a variable's name ("temperature").
func ParseVariable(s string) (Variable, error) {
	for v := NoVariable; v < NumVariables; v++ {
		if variables[v].Name == s {
			return v, nil
		}
	}
	return NoVariable, fmt.Errorf("%q is no variable leadline knows", s)
}

// MarshalText writes the variable's name.
func (v Variable) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// UnmarshalText reads the variable's name.
func (v *Variable) UnmarshalText(b []byte) (err error) {
	*v, err = ParseVariable(string(b))
	return err
}
