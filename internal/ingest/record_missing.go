package ingest

import (
	"fmt"

	"leadline/internal/sounding"
)

// MissingItems names what a launch record does not give and what follows from that;
// nothing is ever put in its place. sheet may be nil.
func MissingItems(r *sounding.LaunchRecord, sheet *sounding.InstrumentSheet) []sounding.Finding {
	var out []sounding.Finding
	miss := func(severity sounding.Severity, path, consequence string) {
		f, ok := sounding.FieldByPath(path)
		if !ok {
			return
		}
		if f.Number != nil && f.Number(r).Set() || f.Text != nil && *f.Text(r) != "" || f.Instant != nil && !f.Instant(r).IsZero() {
			return
		}
		out = append(out, fieldFinding(&f, r, severity, fmt.Sprintf("%s is not given: %s", f.Label, consequence)))
	}
	miss(sounding.Note, "site.name", "files and messages will have no station")
	miss(sounding.Questionable, "site.latitude_deg", "gravity, the sun and messages use the track's first position, where there is one")
	miss(sounding.Questionable, "site.longitude_deg", "the sun and messages use the track's first position, where there is one")
	miss(sounding.Questionable, "site.height_m_msl", "heights cannot be tied to the ground")
	miss(sounding.Note, "release.declared_utc", "the release found in the data cannot be compared with it")
	severity := sounding.Note
	pressure := "the first pressures cannot be compared with a station barometer"
	if sheet != nil && !sheet.Pressure.Sensor {
		severity = sounding.Questionable
		pressure = "this radiosonde has no barometer, so pressure has nothing to start from"
	}
	miss(severity, "surface.pressure_hpa", pressure)
	miss(sounding.Note, "surface.temperature_k", "the first temperatures cannot be compared with the surface observation")
	if !r.Surface.DewPoint.Set() {
		miss(sounding.Note, "surface.humidity_pct", "the first humidities cannot be compared with the surface observation")
	}
	miss(sounding.Note, "surface.wind_speed_m_s", "the profile's first wind has no surface observation")
	if !(r.Surface.WindSpeed.Set() && r.Surface.WindSpeed == 0) {
		miss(sounding.Note, "surface.wind_direction_deg", "the profile's first wind has no surface observation")
	}
	miss(sounding.Note, "radiosonde.sheet", "corrections that need the instrument sheet cannot be made")
	miss(sounding.Note, "radiosonde.serial", "the flight cannot be tied to a radiosonde or its batch")
	if sheet == nil || sheet.String == 0 {
		miss(sounding.Note, "balloon.string_m", "the pendulum period cannot be compared with the string")
	}
	g := &r.GroundCheck
	if !g.ReferenceTemperature.Set() && !g.ReferencePressure.Set() && !g.ReferenceHumidity.Set() {
		miss(sounding.Note, "ground_check.reference_temperature_k", "there is no ground check to compare with")
	} else {
		miss(sounding.Note, "ground_check.applied", "whether the source's values already contain the ground check is not known")
	}
	return out
}
