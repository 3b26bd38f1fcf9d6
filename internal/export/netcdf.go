package export

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"strings"

	"leadline/internal/netcdf"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Conventions of the netCDF files. CF 1.11 is the first with units_metadata.
const Conventions = "CF-1.11, ACDD-1.3"

// fill is netCDF's own default fill value for doubles.
const fill = 9.969209968386869e36

// checksInFirst is the number of checks that the first mask variable holds: the bits of
// a 32-bit integer without its sign, which classic files have nothing wider than. The
// rest go into a second variable, written where one of them fired.
const checksInFirst = 31

// ncFile collects the parts of one file.
type ncFile struct {
	netcdf.Dataset
	flight *Flight
}

func text(name, value string) netcdf.Attribute { return netcdf.Attribute{Name: name, Value: value} }

// add adds a column.
func (d *ncFile) add(c netcdf.Column) { d.Columns = append(d.Columns, c) }

// double adds a column of float64; NaN becomes the fill value.
func (d *ncFile) double(name, dimension string, values []float64, attributes ...netcdf.Attribute) {
	attributes = append([]netcdf.Attribute{{Name: "_FillValue", Value: []float64{fill}}}, attributes...)
	d.add(netcdf.Column{Name: name, Dimensions: []string{dimension}, Attributes: attributes, Values: values, NaNAsFill: true})
}

// scalar adds one number, left out where it is not set.
func (d *ncFile) scalar(name string, value float64, attributes ...netcdf.Attribute) {
	if !math.IsNaN(value) {
		d.add(netcdf.Column{Name: name, Attributes: attributes, Values: []float64{value}})
	}
}

// document adds a text of any length with a dimension of its own.
func (d *ncFile) document(name, longName, value string) {
	if value == "" {
		return
	}
	dimension := name + "_length"
	d.Dimensions = append(d.Dimensions, netcdf.Dimension{Name: dimension, Length: int64(len(value))})
	d.add(netcdf.Column{Name: name, Dimensions: []string{dimension}, Values: value,
		Attributes: netcdf.Attributes{text("long_name", longName), text("coverage_content_type", "auxiliaryInformation")}})
}

// unitsOf returns the unit attributes of a variable's values.
func unitsOf(v sounding.Variable) []netcdf.Attribute {
	out := []netcdf.Attribute{text("units", v.Info().Unit)}
	if v.Info().Dimension == "temperature" {
		out = append(out, text("units_metadata", "temperature: on_scale"))
	}
	return out
}

// uncertaintyUnitsOf returns those of its uncertainty: a difference of two values.
func uncertaintyUnitsOf(v sounding.Variable) []netcdf.Attribute {
	unit := v.Info().Unit
	if v == sounding.Latitude || v == sounding.Longitude {
		unit = "degree"
	}
	out := []netcdf.Attribute{text("units", unit)}
	if v.Info().Dimension == "temperature" {
		out = append(out, text("units_metadata", "temperature: difference"))
	}
	return out
}

// remark returns what a reader has to know about a variable beyond its names.
func remark(v sounding.Variable) string {
	switch v {
	case sounding.Humidity, sounding.HumidityA, sounding.HumidityB:
		return "relative to saturation over liquid water at all temperatures"
	case sounding.DewPoint:
		return "over liquid water at all temperatures"
	case sounding.WindDirection:
		return "direction the wind blows from; north is 360, 0 is calm"
	case sounding.AscentRate, sounding.VelocityUp:
		return "of the balloon, not of the air"
	case sounding.HeightMSL:
		return "geometric, above mean sea level"
	case sounding.HeightEllipsoid:
		return "above the WGS 84 ellipsoid"
	case sounding.GeopotentialHeight:
		return "in geopotential metres"
	}
	return ""
}

// describe returns names, units and remark of a variable's values; kind is the ACDD
// coverage content type.
func describe(v sounding.Variable, longName, kind string) netcdf.Attributes {
	i := v.Info()
	out := netcdf.Attributes{text("long_name", longName)}
	if i.StandardName != "" {
		out = append(out, text("standard_name", i.StandardName))
	}
	out = append(out, unitsOf(v)...)
	out = append(out, text("coverage_content_type", kind))
	if r := remark(v); r != "" {
		out = append(out, text("comment", r))
	}
	return out
}

func flagAttributes(longName, standardName string) netcdf.Attributes {
	values, words := make([]int8, len(quality.Flags)), make([]string, len(quality.Flags))
	for i, f := range quality.Flags {
		values[i], words[i] = int8(f), f.String()
	}
	return netcdf.Attributes{text("long_name", longName), text("standard_name", standardName),
		{Name: "flag_values", Value: values}, text("flag_meanings", strings.Join(words, " ")),
		text("coverage_content_type", "qualityInformation"),
		text("references", "IOC Manuals and Guides 54, volume 3, primary flags; roll-up: missing, bad, questionable, good, not evaluated")}
}

func flagBytes(s *sounding.Series) []uint8 {
	out := make([]uint8, len(s.Values))
	for i := range out {
		out[i] = uint8(flagAt(s, i))
	}
	return out
}

// split returns the two mask columns of a set of checks; the second is nil where none of
// its checks fired.
func split(tests []quality.Bits) (first, second []int32) {
	first = make([]int32, len(tests))
	for i, b := range tests {
		first[i] = int32(b & (1<<checksInFirst - 1))
		if rest := b >> checksInFirst; rest != 0 {
			if second == nil {
				second = make([]int32, len(tests))
			}
			second[i] = int32(rest)
		}
	}
	return first, second
}

func maskAttributes(longName string, checks []quality.Check) netcdf.Attributes {
	masks, words := make([]int32, len(checks)), make([]string, len(checks))
	for i, c := range checks {
		masks[i], words[i] = 1<<i, c.String()
	}
	return netcdf.Attributes{text("long_name", longName), text("standard_name", "quality_flag"),
		{Name: "flag_masks", Value: masks}, text("flag_meanings", strings.Join(words, " ")),
		text("coverage_content_type", "qualityInformation")}
}

// NetCDF writes the whole flight, every row of every series, as a classic netCDF file:
// a CF trajectory where the flight has positions, else a CF profile at the launch
// record's position.
func NetCDF(w io.Writer, f *Flight) error {
	d := &ncFile{flight: f}
	d.profile()
	_, err := d.WriteTo(w)
	return err
}

const obs = "obs"

func (d *ncFile) profile() {
	f := d.flight.Final
	n := f.Len()
	d.Dimensions = append(d.Dimensions, netcdf.Dimension{Name: obs, Length: int64(n), Unlimited: n == 0})
	coordinates := d.geometry(&f.Columns)
	d.global("Radiosonde flight")

	timeAttributes := []netcdf.Attribute{text("long_name", "time since release"), text("standard_name", "time"), text("units", timeUnits(&f.Context)),
		text("calendar", "standard"), text("coverage_content_type", "coordinate")}
	if coordinates.geometry == "trajectory" {
		timeAttributes = append(timeAttributes, text("axis", "T"))
	}
	if !f.Events.Release.Found {
		timeAttributes[0] = text("long_name", "time since the first instant of the data, no release having been found")
	}
	d.add(netcdf.Column{Name: "time", Dimensions: []string{obs}, Attributes: timeAttributes, Values: f.Time})

	for _, s := range series(&f.Columns) {
		d.finalSeries(s, coordinates)
	}
	if f.Before != nil {
		for _, s := range series(f.Before) {
			if s.Variable.Info().Profile {
				d.rawSeries(s, coordinates)
			}
		}
	}
	d.extras(coordinates)
	row := func(name string, values any, kind netcdf.Type, a ...netcdf.Attribute) {
		a = append(append(a, text("coverage_content_type", "auxiliaryInformation")), coordinates.link()...)
		d.add(netcdf.Column{Name: name, Dimensions: []string{obs}, Values: values, Type: kind, Attributes: a})
	}
	row("phase", phases(f), netcdf.Byte, text("long_name", "phase of the flight"), netcdf.Attribute{Name: "flag_values", Value: []int8{0, 1, 2, 3, 4}},
		text("flag_meanings", "before_release ascent float descent landed"))
	row("source_index", indices(f.Source), netcdf.Short, text("long_name", "source of the row, counted from 1: see the attributes source_1_name and following"))
	row("source_line", f.Line, netcdf.Int, text("long_name", "line of the row in its source, counted from 1 (record number in binary sources)"))
	d.documents()
}

func indices(source []uint8) []int16 {
	out := make([]int16, len(source))
	for i, s := range source {
		out[i] = int16(s) + 1
	}
	return out
}

// finalSeries adds a variable with its flags, checks and uncertainties.
func (d *ncFile) finalSeries(s *sounding.Series, c geometry) {
	v := s.Variable
	info := v.Info()
	name := info.Symbol
	kind := "physicalMeasurement"
	if c.is(name) {
		kind = "coordinate"
	}
	attributes := describe(v, info.Label, kind)
	attributes = append(attributes, c.attributes(name)...)
	ancillary := []string{name + "_qc"}
	extra := []netcdf.Column{{Name: name + "_qc", Values: flagBytes(s), Type: netcdf.Byte,
		Attributes: flagAttributes("quality of "+lower(info.Label), "aggregate_quality_flag")}}
	if info.Profile && s.Tests != nil {
		first, second := split(s.Tests)
		all := quality.Checks()
		ancillary = append(ancillary, name+"_checks")
		extra = append(extra, netcdf.Column{Name: name + "_checks", Values: first,
			Attributes: maskAttributes("checks that fired on "+lower(info.Label), all[:checksInFirst])})
		if second != nil {
			ancillary = append(ancillary, name+"_checks_2")
			extra = append(extra, netcdf.Column{Name: name + "_checks_2", Values: second,
				Attributes: maskAttributes("further checks that fired on "+lower(info.Label), all[checksInFirst:])})
		}
	}
	uncertainty := func(suffix, longName, standardName string, values []float64) {
		a := netcdf.Attributes{{Name: "_FillValue", Value: []float64{fill}}, text("long_name", longName+" of "+lower(info.Label)+", k = 1")}
		if standardName != "" {
			a = append(a, text("standard_name", standardName))
		}
		a = append(a, uncertaintyUnitsOf(v)...)
		a = append(a, text("coverage_content_type", "qualityInformation"))
		ancillary = append(ancillary, name+suffix)
		extra = append(extra, netcdf.Column{Name: name + suffix, Values: values, NaNAsFill: true, Attributes: a})
	}
	if s.Independent != nil || s.Common != nil {
		standard := ""
		if info.StandardName != "" {
			standard = info.StandardName + " standard_error"
		}
		total := make([]float64, len(s.Values))
		for i := range total {
			total[i] = s.Total(i)
		}
		uncertainty("_u", "standard uncertainty", standard, total)
		if s.Independent != nil {
			uncertainty("_u_independent", "part that is independent between samples of the standard uncertainty", "", s.Independent)
		}
		if s.Common != nil {
			uncertainty("_u_common", "part that is common to the flight of the standard uncertainty", "", s.Common)
		}
	}
	attributes = append(attributes, text("ancillary_variables", strings.Join(ancillary, " ")))
	d.double(name, obs, s.Values, attributes...)
	for _, e := range extra {
		e.Dimensions = []string{obs}
		e.Attributes = append(e.Attributes, c.link()...)
		d.add(e)
	}
}

// rawSeries adds a variable as the source gives it, with the flags of the first checks.
func (d *ncFile) rawSeries(s *sounding.Series, c geometry) {
	info := s.Variable.Info()
	name := info.Symbol + "_raw"
	attributes := describe(s.Variable, info.Label+" as received", "physicalMeasurement")
	attributes = append(attributes, c.attributes(name)...)
	if s.Flags != nil {
		attributes = append(attributes, text("ancillary_variables", name+"_qc"))
	}
	d.double(name, obs, s.Values, attributes...)
	if s.Flags != nil {
		d.add(netcdf.Column{Name: name + "_qc", Dimensions: []string{obs}, Values: flagBytes(s), Type: netcdf.Byte,
			Attributes: append(flagAttributes("quality of "+lower(info.Label)+" as received", "aggregate_quality_flag"), c.link()...)})
	}
}

// longestText is the longest text of an extra column that is kept, in bytes.
const longestText = 64

// extras adds the columns of the source that are none of the known variables. Their
// units are given as the source writes them, which may be no unit at all.
func (d *ncFile) extras(c geometry) {
	f := d.flight.Final
	used := map[string]bool{}
	for _, col := range d.Columns {
		used[col.Name] = true
	}
	for _, e := range f.Extra {
		name := "extra_" + word(e.Name)
		for used[name] {
			name += "_"
		}
		used[name] = true
		attributes := netcdf.Attributes{text("long_name", "column of the source: "+e.Name), text("coverage_content_type", "auxiliaryInformation")}
		if e.Unit != "" {
			attributes = append(attributes, text("source_units", e.Unit))
		}
		switch {
		case len(e.Values) == f.Len() && e.Text == nil:
			d.double(name, obs, e.Values, append(attributes, c.attributes(name)...)...)
		case len(e.Text) == f.Len() && f.Len() > 0: // texts have no place on a map: coordinates only
			longest, texts := 1, make([]string, len(e.Text))
			for i, t := range e.Text {
				texts[i] = cut(t, longestText)
				longest = max(longest, len(texts[i]))
			}
			dimension := name + "_length"
			d.Dimensions = append(d.Dimensions, netcdf.Dimension{Name: dimension, Length: int64(longest)})
			d.add(netcdf.Column{Name: name, Dimensions: []string{obs, dimension}, Values: texts, Attributes: append(attributes, c.link()...)})
		}
	}
}

// cut returns at most n bytes of s, ending between characters.
func cut(s string, n int) string {
	if len(s) <= n {
		return s
	}
	for n > 0 && s[n]&0xc0 == 0x80 {
		n--
	}
	return s[:n]
}

// word keeps ASCII letters, digits and underscores.
func word(s string) string {
	s = strings.Trim(strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9':
			return r
		}
		return '_'
	}, s), "_")
	if s == "" {
		return "column"
	}
	return cut(s, 100)
}

// documents adds findings, corrections, decisions, check runs, launch record and sheet
// as JSON texts.
func (d *ncFile) documents() {
	r := newReport(d.flight)
	for _, x := range []struct {
		name, title string
		value       any
	}{
		{"findings", "findings of the checks, JSON", r.Findings},
		{"corrections", "what was changed, in order, JSON", r.Corrections},
		{"decisions", "decisions by persons, JSON", r.Decisions},
		{"check_runs", "checks that ran and those that could not, JSON", r.Checks},
		{"launch_record", "what the operator knew, JSON", r.Record},
		{"instrument_sheet", "description of the radiosonde type, JSON", r.Sheet},
		{"levels", "levels read off the profile, JSON", r.Levels},
	} {
		if b := compact(x.value); b != "null" {
			d.document(x.name+"_json", x.title, b)
		}
	}
}

// compact returns v as JSON in one line.
func compact(v any) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return "null"
	}
	return strings.TrimSuffix(b.String(), "\n")
}

func lower(s string) string {
	if s == "" || s[0] < 'A' || s[0] > 'Z' {
		return s
	}
	return string(s[0]-'A'+'a') + s[1:]
}
