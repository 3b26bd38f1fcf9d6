package suggest

import (
	"leadline/internal/sounding"
)

// Strength says how far to trust a suggestion.
type Strength string

// The strengths, in falling order.
const (
	Strong   Strength = "strong"   // explains much, no rival comes near, and the path agrees when it is tried
	Likely   Strength = "likely"   // no rival comes near, but it rests on little or was not tried
	Possible Strength = "possible" // another simple error explains the same: look before deciding
)

// Evidence is one residual with what the hypothesis makes of it.
type Evidence struct {
	Residual string          `json:"residual"` // what is compared with what
	Before   sounding.Number `json:"before"`
	After    sounding.Number `json:"after"`
	Usual    sounding.Number `json:"usual"` // standard deviation on a flight without error
	Unit     string          `json:"unit"`
}

// Trial is what the path says with the decisions of a suggestion.
type Trial struct {
	Verdict [2]string `json:"verdict"`       // word before and after
	Gone    []string  `json:"findings_gone"` // sentences of findings above a note that are gone or settled
	New     []string  `json:"findings_new"`  // sentences of findings above a note that appear
}

// Suggestion is one named hypothesis with the decisions that would put it right. It
// never takes effect by itself.
type Suggestion struct {
	Name      string              `json:"name"`     // "surface-pressure-mistyped": one of Names
	Sentence  string              `json:"sentence"` // what is wrong, by which figures, and what would be decided
	Strength  Strength            `json:"strength"`
	Gain      float64             `json:"gain"`              // −2 ln of the odds of no error against this one
	Margin    sounding.Number     `json:"margin"`            // gain over that of the best rival; null where there is none
	Rival     string              `json:"rival,omitempty"`   // name of the rival that comes near
	Flights   []int               `json:"flights,omitempty"` // of Across: indices of the outcomes it is about
	Decisions []sounding.Decision `json:"decisions"`         // one hypothesis may need several; for Across those of the first flight
	ByFlight  []FlightDecisions   `json:"by_flight,omitempty"`
	Evidence  []Evidence          `json:"evidence"`
	Trial     *Trial              `json:"trial,omitempty"` // null where it was not tried
}

// FlightDecisions are the decisions of an Across suggestion for one flight.
type FlightDecisions struct {
	Flight    int                 `json:"flight"` // index into the outcomes given
	Decisions []sounding.Decision `json:"decisions"`
}

// Names of the hypotheses, each described in docs/methods/suggestions.md.
const (
	SurfacePressureMistyped = "surface-pressure-mistyped"
	SurfacePressureUnit     = "surface-pressure-unit"
	SurfacePressureReduced  = "surface-pressure-reduced-to-sea-level"
	SurfacePressureWrong    = "surface-pressure-wrong"
	ReferencePressureWrong  = "reference-pressure-wrong"
	BarometerHeightWrong    = "station-barometer-height-wrong"
	StationHeightWrong      = "station-height-wrong"
	StationHeightUnit       = "station-height-unit"
	SatelliteHeightOffset   = "satellite-height-offset"
	SatelliteHeightDatum    = "satellite-height-datum"
	SurfaceTemperatureUnit  = "surface-temperature-unit"
	SurfaceTemperatureTyped = "surface-temperature-mistyped"
	SurfaceWindUnit         = "surface-wind-unit"
	LongitudeSign           = "longitude-sign"
	LatitudeSign            = "latitude-sign"
	PositionWrong           = "site-position-wrong"
	DeclaredReleaseWrong    = "declared-release-wrong"
	LocalTime               = "local-time-as-utc"
	DateWrong               = "date-wrong"
	BarometerOffset         = "barometer-offset"
	BarometerDrift          = "barometer-drift"
	ThermometerOffset       = "thermometer-offset"
	ThermometerStep         = "thermometer-step"
	RadiationTwice          = "radiation-corrected-twice"
	HumiditySensorBad       = "humidity-sensor-bad"
	HumidityBad             = "humidity-bad"
	HumidityDry             = "humidity-reads-dry"
	BadElement              = "bad-element"
	ReleaseMoved            = "release-moved"
	BurstMoved              = "burst-moved"
	StringLength            = "string-length-wrong"
)

// Names lists all hypotheses in the order of the page.
var Names = []string{
	DeclaredReleaseWrong, LocalTime, DateWrong, ReleaseMoved, BurstMoved,
	SurfacePressureMistyped, SurfacePressureUnit, SurfacePressureReduced, SurfacePressureWrong, ReferencePressureWrong,
	BarometerHeightWrong, StationHeightWrong, StationHeightUnit, SatelliteHeightOffset, SatelliteHeightDatum,
	SurfaceTemperatureUnit, SurfaceTemperatureTyped, SurfaceWindUnit, LongitudeSign, LatitudeSign, PositionWrong,
	BarometerOffset, BarometerDrift, ThermometerOffset, ThermometerStep, RadiationTwice,
	HumiditySensorBad, HumidityBad, HumidityDry, BadElement, StringLength,
}
