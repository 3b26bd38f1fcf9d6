// Package units holds the closed table of units that sources and launch records
// may use, and reads numbers that carry one. Each dimension has one unit inside
// leadline (s, hPa, K, %, m, m s⁻¹, degrees, MHz, kg); everything else is converted
// on the way in. A unit that is not in the table is refused by name, together
// with those that are known: nothing is ever taken for something similar.
package units

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"sync"
)

// Dimensions, as sounding.VariableInfo and sounding.RecordField call them.
const (
	Pressure    = "pressure"    // hPa
	Temperature = "temperature" // K
	Humidity    = "humidity"    // %
	Length      = "length"      // m, or gpm where the variable says so
	Speed       = "speed"       // m s-1
	Angle       = "angle"       // degrees
	Latitude    = "latitude"    // degrees north
	Longitude   = "longitude"   // degrees east
	Frequency   = "frequency"   // MHz
	Mass        = "mass"        // kg
	Time        = "time"        // s
	None        = "none"        // plain numbers
)

// Unit converts numbers of one unit to the unit inside leadline:
// inside = (x + before) · multiply / divide + after. Division is kept apart from
// multiplication so that 101325 Pa is exactly 1013.25 hPa.
type Unit struct {
	Name                            string // as the table spells it: "inHg"
	Dimension                       string
	before, multiply, divide, after float64
	minutes                         bool // DDMM.m: degrees and minutes run together
	identity                        bool
}

// Inside converts x to the unit inside leadline; NaN stays NaN. Of degrees and
// minutes run together (4612.5) minutes of 60 and more give NaN.
func (u *Unit) Inside(x float64) float64 {
	if u.identity {
		return x
	}
	if u.minutes {
		whole := math.Trunc(x / 100)
		rest := math.Abs(x - whole*100)
		if rest >= 60 {
			return math.NaN()
		}
		return math.Copysign(math.Abs(whole)+rest/60, x)
	}
	return (x+u.before)*u.multiply/u.divide + u.after
}

// Outside converts x from the unit inside leadline to u; NaN stays NaN.
func (u *Unit) Outside(x float64) float64 {
	if u.identity {
		return x
	}
	if u.minutes {
		whole := math.Trunc(x)
		return math.Copysign(math.Abs(whole)*100+math.Abs(x-whole)*60, x)
	}
	return (x-u.after)*u.divide/u.multiply - u.before
}

// Identity tells whether u is the unit inside leadline itself.
func (u *Unit) Identity() bool { return u.identity }

// entry is one row of the table: a unit with all its spellings. The first spelling is its name.
type entry struct {
	dimension             string
	spellings             string // parted by |
	before, multiply, div float64
	after                 float64
	minutes               bool
}

// Sources of the factors: foot 0.3048 m, knot 1852/3600 m/s, statute mile 1609.344 m:
// exact by definition (NIST Special Publication 811, 2008, appendix B). Millimetre of
// mercury, conventional: 133.322387415 Pa, and the inch of it 25.4 times that (the
// same, B.8 gives 1.333224e+02 and 3.386389e+03). 0 °C = 273.15 K, °F = 9/5 °C + 32.
// The geopotential metre is not a metre of height; both are plain numbers here and
// the variable says which it is.
var table = []entry{
	{dimension: Pressure, spellings: "hPa|hectopascal|hectopascals|mb|mbar|millibar|millibars|mbars"},
	{dimension: Pressure, spellings: "Pa|pascal|pascals|N m-2", multiply: 1, div: 100},
	{dimension: Pressure, spellings: "kPa|kilopascal|kilopascals", multiply: 10},
	{dimension: Pressure, spellings: "bar|bars", multiply: 1000},
	{dimension: Pressure, spellings: "inHg|in Hg|in.Hg|inchHg|inch Hg|inches Hg|inches of mercury|\"Hg", multiply: 25.4 * 133.322387415, div: 100},
	{dimension: Pressure, spellings: "mmHg|mm Hg|millimetres of mercury|millimeters of mercury|torr", multiply: 133.322387415, div: 100},

	{dimension: Temperature, spellings: "K|kelvin|kelvins|degK|deg K|°K|deg_K|degree_kelvin|degrees_kelvin"},
	{dimension: Temperature, spellings: "°C|C|degC|deg C|deg_C|deg. C|celsius|degree_C|degrees_C|degree C|degrees C|degree_celsius|degrees_celsius|degree celsius|degrees celsius|deg celsius|℃|ºC|centigrade|oC", after: 273.15},
	{dimension: Temperature, spellings: "°F|F|degF|deg F|deg_F|fahrenheit|degree_F|degrees_F|degree_fahrenheit|degrees fahrenheit|ºF", before: -32, multiply: 5, div: 9, after: 273.15},

	{dimension: Humidity, spellings: "%|percent|per cent|pct|% RH|%RH|RH%|% U"},
	{dimension: Humidity, spellings: "1|fraction|frac|0-1|dimensionless", multiply: 100},

	{dimension: Length, spellings: "m|metre|metres|meter|meters|mtr|m MSL|m amsl|m asl|m AGL|m above mean sea level|meters above mean sea level|metres above mean sea level|m_msl"},
	{dimension: Length, spellings: "gpm|geopotential metre|geopotential metres|geopotential meter|geopotential meters"},
	{dimension: Length, spellings: "km|kilometre|kilometres|kilometer|kilometers", multiply: 1000},
	{dimension: Length, spellings: "ft|foot|feet", multiply: 0.3048},
	{dimension: Length, spellings: "dam|dagpm|gpdam|decametre|decametres|decameter|decameters", multiply: 10},
	{dimension: Length, spellings: "cm|centimetre|centimetres|centimeter|centimeters", multiply: 1, div: 100},

	{dimension: Speed, spellings: "m s-1|m/s|ms-1|m s^-1|m.s-1|m s**-1|mps|m/sec|meters/second|metres/second|meter/second|metres per second|meters per second|m s⁻¹"},
	{dimension: Speed, spellings: "kt|kts|kn|knot|knots", multiply: 1852, div: 3600},
	{dimension: Speed, spellings: "km/h|km h-1|kmh|kph|kmh-1|km/hr|kilometres per hour|kilometers per hour", multiply: 1000, div: 3600},
	{dimension: Speed, spellings: "mph|mi/h|miles per hour|statute mph", multiply: 1609.344, div: 3600},
	{dimension: Speed, spellings: "ft/min|fpm|ft min-1|feet per minute", multiply: 0.3048, div: 60},
	{dimension: Speed, spellings: "m/min|m min-1|metres per minute|meters per minute", multiply: 1, div: 60},
	{dimension: Speed, spellings: "ft/s|ft s-1|fps|feet per second", multiply: 0.3048},
	{dimension: Speed, spellings: "cm/s|cm s-1", multiply: 1, div: 100},

	{dimension: Angle, spellings: "degree|deg|degrees|°|º|degree_true|degrees_true|deg true|degT|arc_degree|angular_degree"},
	{dimension: Angle, spellings: "rad|radian|radians", multiply: 180, div: math.Pi},
	{dimension: Angle, spellings: "tens of degrees|deka-degree|dekadegree", multiply: 10},
	{dimension: Angle, spellings: "gon|grad|grade", multiply: 9, div: 10},

	{dimension: Latitude, spellings: "degrees_north|degree_north|degree_N|degrees_N|degreeN|degreesN|deg N|degN|°N|ºN|N|deg|degree|degrees|°|º|decimal degrees|dd"},
	{dimension: Latitude, spellings: "rad|radian|radians", multiply: 180, div: math.Pi},
	{dimension: Latitude, spellings: "deg-min|DDMM.m|ddmm.mm|ddmm.mmm|ddmm.mmmm|ddmm|degmin|deg min", minutes: true},

	{dimension: Longitude, spellings: "degrees_east|degree_east|degree_E|degrees_E|degreeE|degreesE|deg E|degE|°E|ºE|E|deg|degree|degrees|°|º|decimal degrees|dd"},
	{dimension: Longitude, spellings: "rad|radian|radians", multiply: 180, div: math.Pi},
	{dimension: Longitude, spellings: "deg-min|DDDMM.m|dddmm.mm|dddmm.mmm|dddmm.mmmm|dddmm|DDMM.m|degmin|deg min", minutes: true},

	{dimension: Frequency, spellings: "MHz|megahertz"},
	{dimension: Frequency, spellings: "kHz|kilohertz", multiply: 1, div: 1000},
	{dimension: Frequency, spellings: "Hz|hertz", multiply: 1, div: 1e6},
	{dimension: Frequency, spellings: "GHz|gigahertz", multiply: 1000},

	{dimension: Mass, spellings: "kg|kilogram|kilograms|kgf"},
	{dimension: Mass, spellings: "g|gram|grams|gr|gramme|grammes", multiply: 1, div: 1000},
	{dimension: Mass, spellings: "lb|lbs|pound|pounds", multiply: 0.45359237},
	{dimension: Mass, spellings: "oz|ounce|ounces", multiply: 0.028349523125},

	{dimension: Time, spellings: "s|sec|secs|second|seconds"},
	{dimension: Time, spellings: "ms|msec|millisecond|milliseconds", multiply: 1, div: 1000},
	{dimension: Time, spellings: "min|mins|minute|minutes", multiply: 60},
	{dimension: Time, spellings: "h|hr|hrs|hour|hours", multiply: 3600},
	{dimension: Time, spellings: "d|day|days", multiply: 86400},
}

// lookup holds the table as it is asked: index maps dimension and folded spelling to the
// unit; names lists the units of a dimension in the order of the table.
type lookup struct {
	index map[string]map[string]*Unit
	names map[string][]string
}

// known is built when it is first needed, so that a short command does not pay for it.
var known = sync.OnceValue(build)

func build() lookup {
	index, names := map[string]map[string]*Unit{}, map[string][]string{}
	for _, e := range table {
		spellings := strings.Split(e.spellings, "|")
		u := &Unit{Name: spellings[0], Dimension: e.dimension, before: e.before, multiply: e.multiply, divide: e.div, after: e.after, minutes: e.minutes}
		u.identity = u.before == 0 && u.multiply == 0 && u.divide == 0 && u.after == 0 && !u.minutes
		if u.multiply == 0 {
			u.multiply = 1
		}
		if u.divide == 0 {
			u.divide = 1
		}
		if index[e.dimension] == nil {
			index[e.dimension] = map[string]*Unit{}
		}
		for _, s := range spellings {
			index[e.dimension][fold(s)] = u
		}
		names[e.dimension] = append(names[e.dimension], u.Name)
	}
	return lookup{index, names}
}

// spelling brings characters that mean the same together.
var spelling = strings.NewReplacer("º", "°", "˚", "°", "−", "-", "⁻¹", "-1", "·", " ", " / ", "/")

// fold brings spellings that differ only in case, blanks, or the character used for
// the degree sign and the minus of exponents together.
func fold(s string) string {
	s = strings.ToLower(strings.Join(strings.Fields(s), " "))
	return spelling.Replace(s)
}

// Dimensions lists the dimensions that have units, sorted.
func Dimensions() []string {
	out := make([]string, 0, len(known().names))
	for d := range known().names {
		out = append(out, d)
	}
	sort.Strings(out)
	return out
}

// Known lists the units of a dimension; the first is the one inside leadline. It is
// nil for "none" and for a dimension that does not exist.
func Known(dimension string) []string { return append([]string(nil), known().names[dimension]...) }

// UnknownError says that a unit is not in the table.
type UnknownError struct {
	Unit, Dimension string
}

// Error names the unit, what it was wanted for and what is known.
func (e *UnknownError) Error() string {
	if len(known().names[e.Dimension]) == 0 {
		return fmt.Sprintf("unit %q: this is a plain number and takes no unit", e.Unit)
	}
	return fmt.Sprintf("unit %q is not known for %s: known are %s", e.Unit, e.Dimension, strings.Join(known().names[e.Dimension], ", "))
}

var plain = &Unit{Name: "1", Dimension: None, multiply: 1, divide: 1, identity: true}

// Lookup finds the unit of that name in a dimension; upper and lower case are one,
// as are the usual spellings ("mb", "millibar", "hPa"). Dimensions "none" and ""
// take any unit as it is. The error is an *UnknownError.
func Lookup(name, dimension string) (*Unit, error) {
	if dimension == None || dimension == "" {
		return plain, nil
	}
	if u := known().index[dimension][fold(name)]; u != nil {
		return u, nil
	}
	return nil, &UnknownError{Unit: name, Dimension: dimension}
}

// Inner returns the unit a dimension has inside leadline.
func Inner(dimension string) *Unit {
	if n := known().names[dimension]; len(n) > 0 {
		return known().index[dimension][fold(n[0])]
	}
	return plain
}
