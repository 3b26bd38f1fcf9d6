package levels

import (
	"math"

	"leadline/internal/earth"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Kind says why a level is reported; several may hold at once.
type Kind uint32

// The kinds of level.
const (
	Surface Kind = 1 << iota
	Standard
	Tropopause
	MaximumWind
	SignificantTemperature
	SignificantHumidity
	SignificantWind
	Freezing
	MissingTemperatureBegins
	MissingTemperatureEnds
	MissingHumidityBegins
	MissingHumidityEnds
	MissingWindBegins
	MissingWindEnds
	TopOfWind
	Top
	Lowest // of a profile that does not begin at the surface
)

var kindWords = []string{
	"surface", "standard", "tropopause", "maximum wind", "significant temperature", "significant humidity", "significant wind", "freezing",
	"missing temperature begins", "missing temperature ends", "missing humidity begins", "missing humidity ends",
	"missing wind begins", "missing wind ends", "top of wind", "top", "lowest",
}

// Words lists the kind in words.
func (k Kind) Words() []string {
	out := []string{}
	for i, w := range kindWords {
		if k&(1<<i) != 0 {
			out = append(out, w)
		}
	}
	return out
}

// Has tells whether all of other's bits are set.
func (k Kind) Has(other Kind) bool { return k&other == other }

// Level is one pressure level. Values that are not known are not set.
type Level struct {
	Profile       sounding.ProfileKind `json:"profile"` // which profile of the flight it was read off
	Kind          Kind                 `json:"-"`
	Words         []string             `json:"kinds"`
	Row           int                  `json:"row"`  // row of the flight the level is, -1 where it is interpolated
	Line          int                  `json:"line"` // its source line, 0 where it is interpolated
	Time          sounding.Number      `json:"time_s"`
	Pressure      sounding.Number      `json:"pressure_hpa"`
	Geopotential  sounding.Number      `json:"geopotential_height_gpm"`
	Height        sounding.Number      `json:"height_m_msl"`
	Temperature   sounding.Number      `json:"temperature_k"`
	DewPoint      sounding.Number      `json:"dew_point_k"`
	Humidity      sounding.Number      `json:"humidity_pct"`
	Direction     sounding.Number      `json:"wind_direction_deg"`
	Speed         sounding.Number      `json:"wind_speed_m_s"`
	U             sounding.Number      `json:"wind_u_m_s"`
	V             sounding.Number      `json:"wind_v_m_s"`
	Latitude      sounding.Number      `json:"latitude_deg"`
	Longitude     sounding.Number      `json:"longitude_deg"`
	UTemperature  sounding.Number      `json:"temperature_u_k"` // standard uncertainties, k = 1
	UHumidity     sounding.Number      `json:"humidity_u_pct"`
	UWind         sounding.Number      `json:"wind_u_total_m_s"`
	UGeopotential sounding.Number      `json:"geopotential_height_u_gpm"`
	Flag          quality.Flag         `json:"flag"`            // worst of temperature, humidity and wind that are present
	ShearBelow    sounding.Number      `json:"shear_below_m_s"` // maximum winds: vector difference to 1 km below
	ShearAbove    sounding.Number      `json:"shear_above_m_s"`
}

// Set is everything the level rules found, surface first, pressure falling.
type Set struct {
	Levels      []Level `json:"levels"`
	ColdPoint   *Level  `json:"cold_point,omitempty"`
	Tropopauses string  `json:"tropopause_note"` // what was found, or why it could not be

	Profile     sounding.ProfileKind `json:"profile"` // which profile of the flight they were read off
	ProfileNote string               `json:"profile_note,omitempty"`
}

// Of returns the levels that have all bits of k, in their order.
func (s *Set) Of(k Kind) []Level {
	var out []Level
	for _, l := range s.Levels {
		if l.Kind.Has(k) {
			out = append(out, l)
		}
	}
	return out
}

// level makes the level at lnp of the profile; sample is its sample or -1.
func (p *Profile) level(lnp float64, sample int, kind Kind, lines []int32) Level {
	l := Level{Profile: p.kind, Kind: kind, Row: -1, ShearBelow: sounding.NotSet, ShearAbove: sounding.NotSet}
	if sample >= 0 {
		l.Row, l.Line = p.Rows[sample], int(lines[p.Rows[sample]])
		lnp = p.LnP[sample]
	}
	n := func(q int) (sounding.Number, sounding.Number, quality.Flag) {
		v, u, f := p.at(q, lnp)
		return sounding.Number(v), sounding.Number(u), f
	}
	l.Time = sounding.Number(p.timeAt(lnp))
	l.Pressure = sounding.Number(math.Exp(lnp))
	if sample >= 0 {
		l.Pressure = sounding.Number(p.Value[qP][sample])
	}
	var fT, fH, fW quality.Flag
	l.Geopotential, l.UGeopotential, _ = n(qGPH)
	l.Height, _, _ = n(qZ)
	l.Temperature, l.UTemperature, fT = n(qT)
	l.Humidity, l.UHumidity, fH = n(qRH)
	l.DewPoint, _, _ = n(qTd)
	l.Latitude, _, _ = n(qLat)
	l.Longitude, _, _ = n(qLon)
	u, uu, fu := n(qU)
	v, uv, fv := n(qV)
	fW = quality.Worst(fu, fv)
	l.Direction, l.Speed, l.U, l.V, l.UWind = sounding.NotSet, sounding.NotSet, sounding.NotSet, sounding.NotSet, sounding.NotSet
	if u.Set() && v.Set() {
		l.U, l.V = u, v
		l.UWind = sounding.Number(math.Hypot(uu.Value(), uv.Value()))
		speed, direction := earth.WindFromUV(u.Value(), v.Value())
		l.Speed, l.Direction = sounding.Number(speed), sounding.Number(direction)
	}
	for _, f := range []struct {
		n sounding.Number
		f quality.Flag
	}{{l.Temperature, fT}, {l.Humidity, fH}, {l.U, fW}} {
		if f.n.Set() {
			l.Flag = quality.Worst(l.Flag, f.f)
		}
	}
	if l.Flag == 0 {
		l.Flag = quality.Missing
	}
	return l
}
