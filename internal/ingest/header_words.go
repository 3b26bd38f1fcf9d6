package ingest

import (
	"strings"
	"sync"

	"leadline/internal/sounding"
	"leadline/internal/units"
)

// headWords ties words of column heads, in common forms and some languages, to
// variables. Keys are folded by foldHead.
var headWords = map[sounding.Variable]string{
	sounding.Pressure:            "p pres press pressure air_pressure pressure_hpa p_hpa druck luftdruck pression presion pressione prs baro pp",
	sounding.Temperature:         "t ta temp temperature air_temperature tdry dry_bulb tair temp_c temperatur lufttemperatur temperatura tt t_air air_temp",
	sounding.Humidity:            "rh u uu rel_hum humidity relative_humidity hum relhum hur feuchte relative_feuchte rf humidite humedad umidita rh_merged rhum",
	sounding.HumidityA:           "rh_a rha ua u_a humidity_a rh1 u1 rh_1 humidity_1 hum1",
	sounding.HumidityB:           "rh_b rhb ub u_b humidity_b rh2 u2 rh_2 humidity_2 hum2",
	sounding.DewPoint:            "td dp dewp dewpt dew dewpoint dew_point dew_point_temperature tdew taupunkt point_de_rosee dwpt tdp",
	sounding.WindSpeed:           "ws wspd ff speed wind_speed windspeed wspeed spd windgeschwindigkeit vitesse_vent wnd_spd fff",
	sounding.WindDirection:       "wd wdir dd dir direction wind_direction winddir wind_dir windrichtung direction_vent wnd_dir ddd",
	sounding.WindU:               "u_wind uwind u_wnd wind_u eastward_wind u_component ucomp uwnd u_ms",
	sounding.WindV:               "v_wind vwind v_wnd wind_v northward_wind v_component vcomp vwnd v v_ms",
	sounding.VelocityEast:        "ve vel_e velocity_east v_east vx east_velocity",
	sounding.VelocityNorth:       "vn vel_n velocity_north v_north vy north_velocity",
	sounding.VelocityUp:          "vu vel_u velocity_up v_up vz up_velocity vertical_velocity",
	sounding.AscentRate:          "w asc ascent ascent_rate climb climb_rate rise_rate steigrate asc_rate asrate vario",
	sounding.Latitude:            "lat latitude breite geographische_breite latitud gps_lat breitengrad",
	sounding.Longitude:           "lon long lng longitude laenge geographische_laenge longitud gps_lon laengengrad",
	sounding.HeightMSL:           "alt altitude z height hgt height_msl alt_msl hoehe hohe elevation msl heightmsl height_asl gps_alt_msl altitude_msl altitud haut",
	sounding.HeightEllipsoid:     "h_ell ell_height height_ellipsoid ellipsoid_height alt_ell wgs84_height hae gps_alt gps_height alt_wgs84",
	sounding.GeopotentialHeight:  "gph gpm geopot geopotential geopotential_height gpheight geo_height geop zg",
	sounding.HeatingA:            "heat_a heating_a ha heater_a heat1",
	sounding.HeatingB:            "heat_b heating_b hb heater_b heat2",
	sounding.HumiditySensorTempA: "t_rh_a tu_a element_a humidity_sensor_temperature_a",
	sounding.HumiditySensorTempB: "t_rh_b tu_b element_b humidity_sensor_temperature_b",
	sounding.InternalTemperature: "t_int tint internal internal_temperature board_temp t_board",
	sounding.Satellites:          "sat sats nsat nsats satellites num_sat numsv n_sat gps_sats",
	sounding.Signal:              "sig signal rssi level snr signal_strength",
	sounding.Battery:             "bat batt battery vbat ubat battery_v voltage batterie",
	sounding.Frame:               "frame frame_no frameno frame_number packet pkt counter fr nr_frame",
}

// Words of time columns.
const (
	wordsStamp   = "time datetime date_time timestamp utc time_utc utc_time utc_datetime zeit datum_zeit gps_time time_stamp"
	wordsDate    = "date datum day utc_date fecha jour"
	wordsClock   = "time utc utc_time clock uhrzeit zeit hms hh_mm_ss hora heure time_utc local_time lokalzeit ortszeit local time_local gps_time"
	wordsElapsed = "elapsed t_s time_s s sec secs seconds elapsed_s elapsed_time time_elapsed flight_time flugzeit min minutes since_release time t elapsed_min dt time_sec timesec"
)

var headIndex = sync.OnceValue(func() map[string]sounding.Variable {
	index := map[string]sounding.Variable{}
	for _, v := range sounding.Variables() {
		for _, w := range strings.Fields(headWords[v]) {
			index[w] = v
		}
		index[v.String()] = v
		index[v.Column()] = v
	}
	return index
})

// foldHead brings a column head to lower case letters, figures and single
// underscores.
func foldHead(s string) string {
	s = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "é", "e", "è", "e", "ß", "ss", "ô", "o", "ó", "o", "í", "i", "à", "a").Replace(strings.ToLower(s))
	out := make([]byte, 0, len(s))
	for _, c := range []byte(s) {
		if c >= 'a' && c <= 'z' || c >= '0' && c <= '9' {
			out = append(out, c)
		} else if n := len(out); n > 0 && out[n-1] != '_' {
			out = append(out, '_')
		}
	}
	return strings.Trim(string(out), "_")
}

// unitTails are units at the end of a head without brackets: "Temp_degC", "P/hPa".
var unitTails = []struct{ tail, unit string }{
	{"_hpa", "hPa"}, {"_mbar", "mbar"}, {"_mb", "mb"}, {"_kpa", "kPa"}, {"_pa", "Pa"}, {"_inhg", "inHg"}, {"_mmhg", "mmHg"},
	{"_degc", "°C"}, {"_deg_c", "°C"}, {"_celsius", "°C"}, {"_c", "°C"}, {"_degf", "°F"}, {"_f", "°F"}, {"_kelvin", "K"}, {"_k", "K"},
	{"_percent", "%"}, {"_pct", "%"}, {"_m_s", "m/s"}, {"_ms", "m/s"}, {"_mps", "m/s"}, {"_knots", "kt"}, {"_kts", "kt"}, {"_kt", "kt"}, {"_kn", "kt"}, {"_km_h", "km/h"}, {"_kmh", "km/h"},
	{"_feet", "ft"}, {"_ft", "ft"}, {"_km", "km"}, {"_gpm", "gpm"}, {"_m", "m"}, {"_deg", "deg"}, {"_rad", "rad"}, {"_v", "V"},
}

// headOf reads a column head: the variable its words mean (NoVariable where they
// mean none) and the unit it names.
func headOf(head string) (v sounding.Variable, name, unit string) {
	name, unit = headUnit(head)
	if unit == "" {
		// "P/hPa", "T in °C"
		for _, sep := range []string{" in ", "/", ","} {
			if i := strings.LastIndex(name, sep); i > 0 {
				if tail := strings.TrimSpace(name[i+len(sep):]); knownUnit(tail) {
					return headIndex()[foldHead(name[:i])], head, tail
				}
			}
		}
	}
	folded := foldHead(name)
	if v, ok := headIndex()[folded]; ok {
		return v, name, unit
	}
	for _, t := range unitTails {
		if base, ok := strings.CutSuffix(folded, t.tail); ok {
			if v, ok := headIndex()[base]; ok {
				if unit == "" {
					unit = t.unit
				}
				return v, name, unit
			}
		}
	}
	return sounding.NoVariable, name, unit
}

// knownUnit tells whether a word is a unit of any dimension.
func knownUnit(s string) bool {
	for _, d := range units.Dimensions() {
		if _, err := units.Lookup(s, d); err == nil {
			return true
		}
	}
	return false
}

func among(words, folded string) bool {
	for _, w := range strings.Fields(words) {
		if w == folded {
			return true
		}
	}
	return false
}
