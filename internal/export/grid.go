package export

import (
	"io"

	"leadline/internal/levels"
	"leadline/internal/netcdf"
	"leadline/internal/sounding"
)

// axisOf returns the variable a grid runs along.
func axisOf(g *levels.Grid) sounding.Variable {
	if g.By == "pressure" {
		return sounding.Pressure
	}
	return sounding.HeightMSL
}

// GridCSV writes a grid: its coordinate, then value, flag and standard uncertainty of
// each variable, and the number of samples in each cell (0 where it is interpolated).
func GridCSV(w io.Writer, f *Flight, g *levels.Grid) error {
	axis := axisOf(g)
	t := &csvTable{}
	t.add(csvColumn{name: axis.Column(), unit: axis.Info().Unit, values: g.Coordinate, decimals: Decimals(axis)})
	profile := string(f.Final.ProfileKind())
	t.add(csvColumn{name: "profile", write: func(b []byte, _ int) []byte { return append(b, profile...) }})
	samples := make([]int32, len(g.Samples))
	for i, n := range g.Samples {
		samples[i] = int32(n)
	}
	t.add(csvColumn{name: "samples", unit: "1", integers: samples})
	for i := range g.Variables {
		v := &g.Variables[i]
		info := v.Variable.Info()
		if v.Variable == axis {
			continue
		}
		t.add(csvColumn{name: v.Variable.Column(), unit: info.Unit, values: v.Values, decimals: Decimals(v.Variable)})
		t.add(csvColumn{name: info.Name + "_flag", unit: "1", flags: v.Flags})
		t.add(csvColumn{name: info.Name + "_u_" + info.Suffix, unit: uncertaintyUnitsOf(v.Variable)[0].Value.(string), values: v.Uncertainty, decimals: Decimals(v.Variable)})
	}
	return t.writeTo(w, len(g.Coordinate))
}

// NetCDFGrid writes a grid as a CF profile on a coordinate variable with bounds.
func NetCDFGrid(w io.Writer, f *Flight, g *levels.Grid) error {
	d := &ncFile{flight: f}
	axis := axisOf(g)
	info := axis.Info()
	n := len(g.Coordinate)
	d.Dimensions = append(d.Dimensions, netcdf.Dimension{Name: info.Symbol, Length: int64(n), Unlimited: n == 0}, netcdf.Dimension{Name: "bounds", Length: 2})
	d.global("Radiosonde profile on a regular grid by " + g.By)
	d.whichProfile()
	d.Attributes = append(d.Attributes, text("grid_rule", g.Rule))
	geo := d.productGeometry(info.Symbol, false)
	positive := "up"
	if axis == sounding.Pressure {
		positive = "down"
	}
	a := append(describe(axis, info.Label, "coordinate"), text("axis", "Z"), text("positive", positive), text("bounds", info.Symbol+"_bounds"))
	d.add(netcdf.Column{Name: info.Symbol, Dimensions: []string{info.Symbol}, Attributes: a, Values: g.Coordinate})
	bounds := make([]float64, 2*n)
	half := g.Step / 2
	if axis == sounding.Pressure {
		half = -half
	}
	for i, c := range g.Coordinate {
		bounds[2*i], bounds[2*i+1] = c-half, c+half
	}
	d.add(netcdf.Column{Name: info.Symbol + "_bounds", Dimensions: []string{info.Symbol, "bounds"}, Values: bounds})
	samples := make([]int32, n)
	for i, s := range g.Samples {
		samples[i] = int32(s)
	}
	d.add(netcdf.Column{Name: "samples", Dimensions: []string{info.Symbol}, Values: samples, Attributes: append(netcdf.Attributes{
		text("long_name", "samples averaged in the cell, 0 where the value is interpolated"), text("units", "1")}, geo.link()...)})
	for i := range g.Variables {
		v := &g.Variables[i]
		if v.Variable == axis {
			continue
		}
		vi := v.Variable.Info()
		a := describe(v.Variable, vi.Label, "physicalMeasurement")
		a = append(a, text("cell_methods", info.Symbol+": mean"), text("ancillary_variables", vi.Symbol+"_qc "+vi.Symbol+"_u"))
		a = append(a, geo.attributes(vi.Symbol)...)
		d.double(vi.Symbol, info.Symbol, v.Values, a...)
		flags := make([]uint8, n)
		for k, x := range v.Flags {
			flags[k] = uint8(x)
		}
		d.add(netcdf.Column{Name: vi.Symbol + "_qc", Dimensions: []string{info.Symbol}, Values: flags, Type: netcdf.Byte,
			Attributes: append(flagAttributes("worst quality of the samples behind "+lower(vi.Label), "aggregate_quality_flag"), geo.link()...)})
		u := []netcdf.Attribute{text("long_name", "standard uncertainty of "+lower(vi.Label)+", k = 1")}
		if vi.StandardName != "" {
			u = append(u, text("standard_name", vi.StandardName+" standard_error"))
		}
		u = append(append(u, uncertaintyUnitsOf(v.Variable)...), geo.link()...)
		d.double(vi.Symbol+"_u", info.Symbol, v.Uncertainty, u...)
	}
	_, err := d.WriteTo(w)
	return err
}
