package truth

import (
	"math"
	"time"

	"leadline/internal/sounding"
)

// Faults of the launch record: what somebody wrote. The radiosonde's data stay as they are.
func init() {
	register(
		&FaultInfo{Name: "declared-release-late", Kind: "record", Title: "the release was declared late", Unit: "s", Size: 130, apply: func(j *injection) {
			r := j.f.Record
			r.Release.Declared = r.Release.Declared.Add(time.Duration(math.Round(j.fault.Size)) * time.Second)
			j.out.Field = "release.declared_utc"
			j.say("declared release %.0f s after the true one", r.Release.Declared.Sub(j.f.Truth.UTC(j.f.Truth.Release)).Seconds())
		}},
		&FaultInfo{Name: "surface-pressure-typo", Kind: "record", Title: "the surface pressure is mistyped", Unit: "hPa", Size: 10, apply: func(j *injection) {
			j.number("surface.pressure_hpa", func(x float64) float64 { return quantise(x+j.fault.Size, 0.1) })
			j.say("surface pressure written %.1f hPa too high", j.fault.Size)
		}},
		&FaultInfo{Name: "surface-pressure-unit", Kind: "record", Title: "the surface pressure is in inches of mercury, written as hPa", Unit: "factor", Size: 0.0295300, apply: func(j *injection) {
			j.number("surface.pressure_hpa", func(x float64) float64 { return quantise(x*j.fault.Size, 0.01) })
			j.say("surface pressure written in inches of mercury as if it were hPa")
		}},
		&FaultInfo{Name: "surface-temperature-unit", Kind: "record", Title: "the surface temperature is in °F, converted as °C", Unit: "1", Size: 1, apply: func(j *injection) {
			j.number("surface.temperature_k", func(x float64) float64 { return quantise((x-zeroCelsius)*1.8+32, 0.1) + zeroCelsius })
			j.say("surface temperature read in degrees Fahrenheit and written as degrees Celsius")
		}},
		&FaultInfo{Name: "surface-wind-unit", Kind: "record", Title: "the surface wind is in knots, written as m/s", Unit: "factor", Size: 1.94384, apply: func(j *injection) {
			j.number("surface.wind_speed_m_s", func(x float64) float64 { return quantise(x*j.fault.Size, 0.1) })
			j.say("surface wind speed written in knots as if it were m/s")
		}},
		&FaultInfo{Name: "station-height-wrong", Kind: "record", Title: "the station height is wrong", Unit: "m", Size: 60, apply: func(j *injection) {
			for _, path := range []string{"site.height_m_msl", "site.barometer_height_m_msl", "site.antenna_height_m_msl", "site.thermometer_height_m_msl"} {
				j.number(path, func(x float64) float64 { return quantise(x+j.fault.Size, 0.1) })
			}
			j.out.Field = "site.height_m_msl"
			j.say("all heights of the site written %.0f m too high", j.fault.Size)
		}},
		&FaultInfo{Name: "longitude-sign", Kind: "record", Title: "the sign of the longitude is wrong", Unit: "1", Size: 1, apply: func(j *injection) {
			j.number("site.longitude_deg", func(x float64) float64 { return -x })
			j.say("longitude of the site written with the wrong sign")
		}},
		&FaultInfo{Name: "latitude-sign", Kind: "record", Title: "the sign of the latitude is wrong", Unit: "1", Size: 1, apply: func(j *injection) {
			j.number("site.latitude_deg", func(x float64) float64 { return -x })
			j.say("latitude of the site written with the wrong sign")
		}},
		&FaultInfo{Name: "local-time-as-UTC", Kind: "record", Title: "local time is written as UTC", Unit: "h", Size: 3, apply: func(j *injection) {
			shift := time.Duration(math.Round(j.fault.Size*60)) * time.Minute
			r := j.f.Record
			for _, at := range []*time.Time{&r.Release.Declared, &r.Surface.Time, &r.GroundCheck.Time} {
				if !at.IsZero() {
					*at = at.Add(shift)
				}
			}
			j.out.Field = "release.declared_utc"
			j.say("declared release, surface observation and ground check written in local time, %+.1f h from UTC", j.fault.Size)
		}},
		&FaultInfo{Name: "string-length-wrong", Kind: "record", Title: "the string length is wrong", Unit: "m", Size: 30, apply: func(j *injection) {
			j.number("balloon.string_m", func(x float64) float64 { return quantise(x+j.fault.Size, 0.1) })
			j.say("string written %.0f m longer than it was", j.fault.Size)
		}},
	)
}

// number changes one item of the launch record.
func (j *injection) number(path string, g func(x float64) float64) {
	field, ok := sounding.FieldByPath(path)
	if !ok || field.Number == nil {
		panic("no number in the launch record is called " + path)
	}
	if x := field.Number(j.f.Record); x.Set() { // never invented
		*x = sounding.Number(g(x.Value()))
	}
	j.out.Field = path
}
