package export

import (
	"fmt"
	"io"
	"strings"

	"leadline/internal/levels"
	"leadline/internal/netcdf"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// levelColumn is one quantity of the levels.
type levelColumn struct {
	variable sounding.Variable
	value    func(*levels.Level) sounding.Number
	u        func(*levels.Level) sounding.Number // total standard uncertainty; nil where levels carry none
}

var levelColumns = []levelColumn{
	{sounding.Pressure, func(l *levels.Level) sounding.Number { return l.Pressure }, nil},
	{sounding.GeopotentialHeight, func(l *levels.Level) sounding.Number { return l.Geopotential }, func(l *levels.Level) sounding.Number { return l.UGeopotential }},
	{sounding.HeightMSL, func(l *levels.Level) sounding.Number { return l.Height }, nil},
	{sounding.Temperature, func(l *levels.Level) sounding.Number { return l.Temperature }, func(l *levels.Level) sounding.Number { return l.UTemperature }},
	{sounding.DewPoint, func(l *levels.Level) sounding.Number { return l.DewPoint }, nil},
	{sounding.Humidity, func(l *levels.Level) sounding.Number { return l.Humidity }, func(l *levels.Level) sounding.Number { return l.UHumidity }},
	{sounding.WindDirection, func(l *levels.Level) sounding.Number { return l.Direction }, nil},
	{sounding.WindSpeed, func(l *levels.Level) sounding.Number { return l.Speed }, func(l *levels.Level) sounding.Number { return l.UWind }},
	{sounding.WindU, func(l *levels.Level) sounding.Number { return l.U }, nil},
	{sounding.WindV, func(l *levels.Level) sounding.Number { return l.V }, nil},
	{sounding.Latitude, func(l *levels.Level) sounding.Number { return l.Latitude }, nil},
	{sounding.Longitude, func(l *levels.Level) sounding.Number { return l.Longitude }, nil},
}

func (c *levelColumn) column(list []levels.Level, of func(*levels.Level) sounding.Number) []float64 {
	out := make([]float64, len(list))
	for i := range list {
		out[i] = of(&list[i]).Value()
	}
	return out
}

// LevelsCSV writes the levels, surface first: their kinds, values, uncertainties and flag.
func LevelsCSV(w io.Writer, f *Flight) error {
	list := f.Levels.Levels
	t := &csvTable{}
	profile := string(f.Final.ProfileKind())
	t.add(csvColumn{name: "profile", write: func(b []byte, _ int) []byte { return append(b, profile...) }})
	t.add(csvColumn{name: "kinds", write: func(b []byte, i int) []byte { return appendField(b, strings.Join(list[i].Kind.Words(), "; ")) }})
	for i := range levelColumns {
		c := &levelColumns[i]
		info := c.variable.Info()
		t.add(csvColumn{name: c.variable.Column(), unit: info.Unit, values: c.column(list, c.value), decimals: Decimals(c.variable)})
		if c.u != nil {
			t.add(csvColumn{name: info.Name + "_u_" + info.Suffix, unit: info.Unit, values: c.column(list, c.u), decimals: Decimals(c.variable)})
		}
	}
	flags, lines, times := make([]quality.Flag, len(list)), make([]int32, len(list)), make([]float64, len(list))
	for i, l := range list {
		flags[i], lines[i], times[i] = l.Flag, int32(l.Line), l.Time.Value()
	}
	t.add(csvColumn{name: "flag", unit: "1", flags: flags})
	t.add(csvColumn{name: "time_s", unit: "s", values: times, decimals: timeDecimals})
	t.add(csvColumn{name: "source_line", unit: "1", write: func(b []byte, i int) []byte {
		if lines[i] == 0 {
			return b // interpolated
		}
		return appendInteger(b, lines[i])
	}})
	return t.writeTo(w, len(list))
}

// levelKinds are the kinds in the order of their bits.
func levelKinds() (words []string, masks []int32) {
	for k := levels.Surface; k <= levels.Lowest && k != 0; k <<= 1 {
		words = append(words, strings.ReplaceAll(k.Words()[0], " ", "_"))
		masks = append(masks, int32(k))
	}
	return words, masks
}

// NetCDFLevels writes the levels as a CF profile at the position and time of release.
func NetCDFLevels(w io.Writer, f *Flight) error {
	list := f.Levels.Levels
	d := &ncFile{flight: f}
	const level = "level"
	d.Dimensions = append(d.Dimensions, netcdf.Dimension{Name: level, Length: int64(len(list)), Unlimited: len(list) == 0})
	d.global("Radiosonde levels")
	d.whichProfile()
	if f.Levels.Tropopauses != "" {
		d.Attributes = append(d.Attributes, text("tropopause_note", f.Levels.Tropopauses))
	}
	p := sounding.Pressure.Info().Symbol
	g := d.productGeometry(p, true)
	for i := range levelColumns {
		c := &levelColumns[i]
		info := c.variable.Info()
		a := describe(c.variable, info.Label, "physicalMeasurement")
		a = append(a, g.attributes(info.Symbol)...)
		if info.Symbol != p {
			ancillary := "flag"
			if c.u != nil {
				ancillary += " " + info.Symbol + "_u"
			}
			a = append(a, text("ancillary_variables", ancillary))
		}
		d.double(info.Symbol, level, c.column(list, c.value), a...)
		if c.u != nil {
			u := append([]netcdf.Attribute{text("long_name", "standard uncertainty of "+lower(info.Label)+", k = 1"), text("standard_name", info.StandardName+" standard_error")}, uncertaintyUnitsOf(c.variable)...)
			d.double(info.Symbol+"_u", level, c.column(list, c.u), append(u, g.link()...)...)
		}
	}
	words, masks := levelKinds()
	kinds, lines, flags, times := make([]int32, len(list)), make([]int32, len(list)), make([]uint8, len(list)), make([]float64, len(list))
	for i, l := range list {
		kinds[i], lines[i], flags[i], times[i] = int32(l.Kind), int32(l.Line), uint8(l.Flag), l.Time.Value()
	}
	d.double("time", level, times, text("long_name", "time since release"), text("standard_name", "time"), text("units", timeUnits(&f.Final.Context)), text("calendar", "standard"))
	d.add(netcdf.Column{Name: "kind", Dimensions: []string{level}, Values: kinds, Attributes: append(netcdf.Attributes{text("long_name", "why the level is reported"),
		{Name: "flag_masks", Value: masks}, text("flag_meanings", strings.Join(words, " "))}, g.link()...)})
	d.add(netcdf.Column{Name: "flag", Dimensions: []string{level}, Values: flags, Type: netcdf.Byte,
		Attributes: append(flagAttributes("worst quality of temperature, humidity and wind of the level", "aggregate_quality_flag"), g.link()...)})
	d.add(netcdf.Column{Name: "source_line", Dimensions: []string{level}, Values: lines, Attributes: append(netcdf.Attributes{
		text("long_name", "line of the row the level is, 0 where it is interpolated")}, g.link()...)})
	_, err := d.WriteTo(w)
	return err
}

// productGeometry makes the geometry of levels and grids: one profile at the position
// and time of release, with the drift as further coordinates. auxiliary says that the
// vertical is no coordinate variable (its dimension has another name).
func (d *ncFile) productGeometry(vertical string, auxiliary bool) geometry {
	g := geometry{}
	if d.position() {
		g = geometry{geometry: "profile", coordinates: []string{"release_time", "release_lat", "release_lon"}, mapping: true}
		d.identity("profile")
	}
	d.datum()
	d.where(g.geometry != "")
	g.vertical = vertical
	if auxiliary {
		g.coordinates = append(g.coordinates, vertical)
	}
	if g.geometry != "" {
		d.Attributes = append(d.Attributes, text("featureType", g.geometry), text("cdm_data_type", "Profile"))
	}
	return g
}

func gridUnit(g *levels.Grid) string {
	if g.By == "pressure" {
		return sounding.Pressure.Info().Unit
	}
	return sounding.HeightMSL.Info().Unit
}

// whichProfile says which profile of the flight the file is of.
func (d *ncFile) whichProfile() {
	d.Attributes = append(d.Attributes, text("profile", string(d.flight.Final.ProfileKind())))
	if note := d.flight.Final.Origin.Note; note != "" {
		d.Attributes = append(d.Attributes, text("profile_note", note))
	}
}

// gridLabel names a grid in file names: "10m", "1hpa".
func gridLabel(g *levels.Grid) string {
	return strings.ToLower(fmt.Sprintf("%g%s", g.Step, gridUnit(g)))
}
