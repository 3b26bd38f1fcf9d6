package sounding

import (
	"slices"
	"time"
)

// LaunchRecord is what the operator knows about one flight. Numbers that were not
// given are NotSet, texts "", instants zero: nothing is ever invented.
type LaunchRecord struct {
	Site        Site           `json:"site"`
	Release     ReleasePlan    `json:"release"`
	Surface     Surface        `json:"surface"`
	GroundCheck GroundCheck    `json:"ground_check"`
	Radiosonde  Radiosonde     `json:"radiosonde"`
	Balloon     Balloon        `json:"balloon"`
	Operator    string         `json:"operator"`
	Notes       string         `json:"notes"`
	Ticks       []Tick         `json:"tick,omitempty"` // steps of the launch list that were done, in the list's order
	Lines       map[string]int `json:"-"`              // line of each item in the file it was read from, by field path
}

// Tick is a step of the launch list done: when, by whom, and what was to be said of it.
type Tick struct {
	Step string    `json:"step" toml:"step"`           // id of the step on the site's list
	Text string    `json:"text,omitempty" toml:"text"` // the step in words, as the list had them then
	At   time.Time `json:"at_utc" toml:"at_utc"`
	Who  string    `json:"who" toml:"who"`
	Note string    `json:"note,omitempty" toml:"note"`
}

// Site is where the balloon was released. Four heights are four different things.
type Site struct {
	Name        string `json:"name"`       // as the campaign calls it
	Kind        string `json:"kind"`       // fixed, mobile or ship; "" not given
	WMONumber   string `json:"wmo_number"` // five figures, "" where there is none
	WIGOS       string `json:"wigos"`      // 0-xxxxx-0-xxxxx
	CallSign    string `json:"call_sign"`  // of a ship or mobile station
	Latitude    Number `json:"latitude_deg"`
	Longitude   Number `json:"longitude_deg"`
	Height      Number `json:"height_m_msl"`           // of the release point
	Barometer   Number `json:"barometer_height_m_msl"` // of the station barometer
	Antenna     Number `json:"antenna_height_m_msl"`   // of the receiving antenna
	Thermometer Number `json:"thermometer_height_m_msl"`
	Undulation  Number `json:"geoid_undulation_m"` // geoid above the ellipsoid there
}

// ReleasePlan is the slot and the declared instant of release.
type ReleasePlan struct {
	Nominal  time.Time `json:"nominal_utc,omitzero"`  // 00, 06, 12, 18 UTC or another agreed hour
	Declared time.Time `json:"declared_utc,omitzero"` // as somebody pressed or wrote it
}

// Surface is the surface observation at the release point.
type Surface struct {
	Time           time.Time `json:"time_utc,omitzero"`
	Pressure       Number    `json:"pressure_hpa"` // at the height of Site.Barometer, or of the release point where that is not given
	Temperature    Number    `json:"temperature_k"`
	Humidity       Number    `json:"humidity_pct"`
	DewPoint       Number    `json:"dew_point_k"`
	WindSpeed      Number    `json:"wind_speed_m_s"`
	WindDirection  Number    `json:"wind_direction_deg"`
	SeaTemperature Number    `json:"sea_temperature_k"` // of the water a ship or coastal station stands in
	CloudCode      string    `json:"cloud_code"`        // NhCLhCMCH
	WeatherNote    string    `json:"weather_note"`
}

// GroundCheck holds reference and radiosonde readings before release.
type GroundCheck struct {
	Time                 time.Time `json:"time_utc,omitzero"`
	ReferencePressure    Number    `json:"reference_pressure_hpa"`
	ReferenceTemperature Number    `json:"reference_temperature_k"`
	ReferenceHumidity    Number    `json:"reference_humidity_pct"`
	Pressure             Number    `json:"pressure_hpa"`
	Temperature          Number    `json:"temperature_k"`
	Humidity             Number    `json:"humidity_pct"`
	HumidityA            Number    `json:"humidity_a_pct"`
	HumidityB            Number    `json:"humidity_b_pct"`
	Applied              string    `json:"applied"`          // yes: the source's values already contain it; no: they do not; "" not given
	Result               string    `json:"result,omitempty"` // what the comparison said before the release, in words: "reject: temperature reads …"
	Ruling               string    `json:"ruling,omitempty"` // accept or reject, by a person; "" none
	RuledBy              string    `json:"ruled_by,omitempty"`
	RulingReason         string    `json:"ruling_reason,omitempty"`
}

// Radiosonde is the instrument that flew.
type Radiosonde struct {
	Sheet     string `json:"sheet"` // name of the instrument sheet
	Serial    string `json:"serial"`
	Frequency Number `json:"frequency_mhz"`
	Mass      Number `json:"mass_kg"`
}

// Balloon is what carried it.
type Balloon struct {
	Mass             Number `json:"mass_kg"`
	Gas              string `json:"gas"` // hydrogen or helium
	GasAmount        Number `json:"gas_amount_kg"`
	NozzleLift       Number `json:"nozzle_lift_kg"`
	String           Number `json:"string_m"`
	Parachute        string `json:"parachute"`  // yes or no
	Payload          Number `json:"payload_kg"` // everything below the balloon
	TargetAscentRate Number `json:"target_ascent_rate_m_s"`
}

// NewLaunchRecord returns a record in which nothing is set.
func NewLaunchRecord() *LaunchRecord {
	r := &LaunchRecord{Lines: map[string]int{}}
	for _, f := range RecordFields {
		if f.Number != nil {
			*f.Number(r) = NotSet
		}
	}
	return r
}

// Clone returns a copy that shares nothing.
func (r *LaunchRecord) Clone() *LaunchRecord {
	if r == nil {
		return nil
	}
	c := *r
	c.Lines = make(map[string]int, len(r.Lines))
	for k, v := range r.Lines {
		c.Lines[k] = v
	}
	c.Ticks = slices.Clone(r.Ticks)
	return &c
}

// RecordField describes one item of the launch record: the one table that reading,
// validation, decisions and screens use. Exactly one of Number, Text and Instant is set.
type RecordField struct {
	Path      string // table and key in TOML and JSON: "surface.pressure_hpa"
	Label     string // "surface pressure"
	Dimension string // kind of unit a value may carry: "pressure", "temperature", …; "" for texts and instants
	Number    func(*LaunchRecord) *Number
	Text      func(*LaunchRecord) *string
	Instant   func(*LaunchRecord) *time.Time
}

func number(path, label, dimension string, f func(*LaunchRecord) *Number) RecordField {
	return RecordField{Path: path, Label: label, Dimension: dimension, Number: f}
}

func text(path, label string, f func(*LaunchRecord) *string) RecordField {
	return RecordField{Path: path, Label: label, Text: f}
}

func instant(path, label string, f func(*LaunchRecord) *time.Time) RecordField {
	return RecordField{Path: path, Label: label, Instant: f}
}

// RecordFields lists every item in the order of a launch record file.
var RecordFields = []RecordField{
	text("site.name", "site", func(r *LaunchRecord) *string { return &r.Site.Name }),
	text("site.kind", "kind of site", func(r *LaunchRecord) *string { return &r.Site.Kind }),
	text("site.wmo_number", "WMO station number", func(r *LaunchRecord) *string { return &r.Site.WMONumber }),
	text("site.wigos", "WIGOS station identifier", func(r *LaunchRecord) *string { return &r.Site.WIGOS }),
	text("site.call_sign", "call sign", func(r *LaunchRecord) *string { return &r.Site.CallSign }),
	number("site.latitude_deg", "latitude", "latitude", func(r *LaunchRecord) *Number { return &r.Site.Latitude }),
	number("site.longitude_deg", "longitude", "longitude", func(r *LaunchRecord) *Number { return &r.Site.Longitude }),
	number("site.height_m_msl", "height of the release point", "length", func(r *LaunchRecord) *Number { return &r.Site.Height }),
	number("site.barometer_height_m_msl", "height of the barometer", "length", func(r *LaunchRecord) *Number { return &r.Site.Barometer }),
	number("site.antenna_height_m_msl", "height of the antenna", "length", func(r *LaunchRecord) *Number { return &r.Site.Antenna }),
	number("site.thermometer_height_m_msl", "height of the thermometer", "length", func(r *LaunchRecord) *Number { return &r.Site.Thermometer }),
	number("site.geoid_undulation_m", "geoid undulation", "length", func(r *LaunchRecord) *Number { return &r.Site.Undulation }),
	instant("release.nominal_utc", "nominal hour", func(r *LaunchRecord) *time.Time { return &r.Release.Nominal }),
	instant("release.declared_utc", "declared release", func(r *LaunchRecord) *time.Time { return &r.Release.Declared }),
	instant("surface.time_utc", "time of the surface observation", func(r *LaunchRecord) *time.Time { return &r.Surface.Time }),
	number("surface.pressure_hpa", "surface pressure", "pressure", func(r *LaunchRecord) *Number { return &r.Surface.Pressure }),
	number("surface.temperature_k", "surface temperature", "temperature", func(r *LaunchRecord) *Number { return &r.Surface.Temperature }),
	number("surface.humidity_pct", "surface humidity", "humidity", func(r *LaunchRecord) *Number { return &r.Surface.Humidity }),
	number("surface.dew_point_k", "surface dew point", "temperature", func(r *LaunchRecord) *Number { return &r.Surface.DewPoint }),
	number("surface.wind_speed_m_s", "surface wind speed", "speed", func(r *LaunchRecord) *Number { return &r.Surface.WindSpeed }),
	number("surface.wind_direction_deg", "surface wind direction", "angle", func(r *LaunchRecord) *Number { return &r.Surface.WindDirection }),
	number("surface.sea_temperature_k", "sea temperature", "temperature", func(r *LaunchRecord) *Number { return &r.Surface.SeaTemperature }),
	text("surface.cloud_code", "cloud group", func(r *LaunchRecord) *string { return &r.Surface.CloudCode }),
	text("surface.weather_note", "weather", func(r *LaunchRecord) *string { return &r.Surface.WeatherNote }),
	instant("ground_check.time_utc", "time of the ground check", func(r *LaunchRecord) *time.Time { return &r.GroundCheck.Time }),
	number("ground_check.reference_pressure_hpa", "reference pressure", "pressure", func(r *LaunchRecord) *Number { return &r.GroundCheck.ReferencePressure }),
	number("ground_check.reference_temperature_k", "reference temperature", "temperature", func(r *LaunchRecord) *Number { return &r.GroundCheck.ReferenceTemperature }),
	number("ground_check.reference_humidity_pct", "reference humidity", "humidity", func(r *LaunchRecord) *Number { return &r.GroundCheck.ReferenceHumidity }),
	number("ground_check.pressure_hpa", "radiosonde pressure at ground check", "pressure", func(r *LaunchRecord) *Number { return &r.GroundCheck.Pressure }),
	number("ground_check.temperature_k", "radiosonde temperature at ground check", "temperature", func(r *LaunchRecord) *Number { return &r.GroundCheck.Temperature }),
	number("ground_check.humidity_pct", "radiosonde humidity at ground check", "humidity", func(r *LaunchRecord) *Number { return &r.GroundCheck.Humidity }),
	number("ground_check.humidity_a_pct", "humidity sensor A at ground check", "humidity", func(r *LaunchRecord) *Number { return &r.GroundCheck.HumidityA }),
	number("ground_check.humidity_b_pct", "humidity sensor B at ground check", "humidity", func(r *LaunchRecord) *Number { return &r.GroundCheck.HumidityB }),
	text("ground_check.applied", "ground check applied by the source", func(r *LaunchRecord) *string { return &r.GroundCheck.Applied }),
	text("ground_check.result", "result of the ground check", func(r *LaunchRecord) *string { return &r.GroundCheck.Result }),
	text("ground_check.ruling", "ruling on the radiosonde", func(r *LaunchRecord) *string { return &r.GroundCheck.Ruling }),
	text("ground_check.ruled_by", "ruled by", func(r *LaunchRecord) *string { return &r.GroundCheck.RuledBy }),
	text("ground_check.ruling_reason", "reason of the ruling", func(r *LaunchRecord) *string { return &r.GroundCheck.RulingReason }),
	text("radiosonde.sheet", "instrument sheet", func(r *LaunchRecord) *string { return &r.Radiosonde.Sheet }),
	text("radiosonde.serial", "serial number", func(r *LaunchRecord) *string { return &r.Radiosonde.Serial }),
	number("radiosonde.frequency_mhz", "frequency", "frequency", func(r *LaunchRecord) *Number { return &r.Radiosonde.Frequency }),
	number("radiosonde.mass_kg", "radiosonde mass", "mass", func(r *LaunchRecord) *Number { return &r.Radiosonde.Mass }),
	number("balloon.mass_kg", "balloon mass", "mass", func(r *LaunchRecord) *Number { return &r.Balloon.Mass }),
	text("balloon.gas", "gas", func(r *LaunchRecord) *string { return &r.Balloon.Gas }),
	number("balloon.gas_amount_kg", "amount of gas", "mass", func(r *LaunchRecord) *Number { return &r.Balloon.GasAmount }),
	number("balloon.nozzle_lift_kg", "nozzle lift", "mass", func(r *LaunchRecord) *Number { return &r.Balloon.NozzleLift }),
	number("balloon.string_m", "string length", "length", func(r *LaunchRecord) *Number { return &r.Balloon.String }),
	text("balloon.parachute", "parachute", func(r *LaunchRecord) *string { return &r.Balloon.Parachute }),
	number("balloon.payload_kg", "payload mass", "mass", func(r *LaunchRecord) *Number { return &r.Balloon.Payload }),
	number("balloon.target_ascent_rate_m_s", "target ascent rate", "speed", func(r *LaunchRecord) *Number { return &r.Balloon.TargetAscentRate }),
	text("operator", "operator", func(r *LaunchRecord) *string { return &r.Operator }),
	text("notes", "notes", func(r *LaunchRecord) *string { return &r.Notes }),
}

// FieldByPath returns the item with that path.
func FieldByPath(path string) (RecordField, bool) {
	for _, f := range RecordFields {
		if f.Path == path {
			return f, true
		}
	}
	return RecordField{}, false
}
