package export

import (
	"math"
	"slices"
	"strings"
	"time"

	"leadline/internal/netcdf"
	"leadline/internal/sounding"
)

// geometry is the discrete sampling geometry of a file (CF chapter 9).
type geometry struct {
	geometry    string   // "trajectory", "profile" or "" where no position is known
	coordinates []string // auxiliary and scalar coordinate variables
	vertical    string   // the one that is the vertical axis
	mapping     bool
}

// is tells whether a variable is one of the coordinates.
func (g *geometry) is(name string) bool { return slices.Contains(g.coordinates, name) }

// attributes returns what links a variable to its coordinates.
func (g *geometry) attributes(name string) []netcdf.Attribute {
	if g.is(name) {
		switch name {
		case sounding.Latitude.Info().Symbol:
			return []netcdf.Attribute{text("axis", "Y")}
		case sounding.Longitude.Info().Symbol:
			return []netcdf.Attribute{text("axis", "X")}
		case g.vertical:
			positive := "up"
			if name == sounding.Pressure.Info().Symbol {
				positive = "down"
			}
			return []netcdf.Attribute{text("axis", "Z"), text("positive", positive)}
		}
		return nil
	}
	out := g.link()
	if g.mapping {
		out = append(out, text("grid_mapping", "crs"))
	}
	return out
}

// link returns the coordinates attribute, which every variable along the flight carries.
func (g *geometry) link() []netcdf.Attribute {
	if len(g.coordinates) == 0 {
		return nil
	}
	return []netcdf.Attribute{text("coordinates", strings.Join(g.coordinates, " "))}
}

func holds(c *sounding.Columns, v sounding.Variable) bool {
	for _, x := range c.Values(v) {
		if !math.IsNaN(x) {
			return true
		}
	}
	return false
}

// vertical returns the variable that serves as the vertical coordinate.
func vertical(c *sounding.Columns) sounding.Variable {
	for _, v := range []sounding.Variable{sounding.HeightMSL, sounding.GeopotentialHeight, sounding.Pressure} {
		if holds(c, v) {
			return v
		}
	}
	return sounding.NoVariable
}

// geometry decides on the geometry of the whole flight and adds the variables that
// identify it: the trajectory or profile, its position where it has but one, the datum.
func (d *ncFile) geometry(c *sounding.Columns) geometry {
	g := geometry{}
	lat, lon := sounding.Latitude.Info().Symbol, sounding.Longitude.Info().Symbol
	track := holds(c, sounding.Latitude) && holds(c, sounding.Longitude)
	switch {
	case track:
		g = geometry{geometry: "trajectory", coordinates: []string{"time", lat, lon}, mapping: true}
	case d.place():
		g = geometry{geometry: "profile", coordinates: []string{"release_time", "release_lat", "release_lon", "time"}, mapping: true}
	default:
		g = geometry{coordinates: []string{"time"}}
	}
	if v := vertical(c); v != sounding.NoVariable {
		g.vertical = v.Info().Symbol
		g.coordinates = append(g.coordinates, g.vertical)
	}
	if g.geometry != "" {
		d.identity(g.geometry)
		d.Attributes = append(d.Attributes, text("featureType", g.geometry), text("cdm_data_type", strings.ToUpper(g.geometry[:1])+g.geometry[1:]))
	}
	d.datum()
	if !track {
		d.where(g.geometry == "profile")
	}
	return g
}

// place tells whether the launch record gives a position.
func (d *ncFile) place() bool {
	r := d.flight.Final.Record
	return r != nil && r.Site.Latitude.Set() && r.Site.Longitude.Set()
}

// position tells whether release has a position: the launch record's, or the first one
// of the ascent.
func (d *ncFile) position() bool {
	lat, _ := d.releasePosition()
	return !math.IsNaN(lat)
}

// releasePosition returns the launch record's position, else the first usable one from
// the release on, else NaN.
func (d *ncFile) releasePosition() (lat, lon float64) {
	f := d.flight.Final
	if d.place() {
		return f.Record.Site.Latitude.Value(), f.Record.Site.Longitude.Value()
	}
	lats, lons := f.Usable(sounding.Latitude), f.Usable(sounding.Longitude)
	from := 0
	if f.Events.Release.Found {
		from = f.Events.Release.Row
	}
	for i := from; i < len(lats) && i < len(lons); i++ {
		if !math.IsNaN(lats[i]) && !math.IsNaN(lons[i]) {
			return lats[i], lons[i]
		}
	}
	return math.NaN(), math.NaN()
}

// where adds release time and position as scalar coordinates.
func (d *ncFile) where(axes bool) {
	f := d.flight.Final
	axis := func(letter string, a ...netcdf.Attribute) []netcdf.Attribute {
		a = append(a, text("coverage_content_type", "coordinate"))
		if axes {
			a = append(a, text("axis", letter))
		}
		return a
	}
	if lat, lon := d.releasePosition(); !math.IsNaN(lat) {
		d.scalar("release_lat", lat, axis("Y", text("long_name", "latitude of the release point"), text("standard_name", "latitude"), text("units", "degrees_north"))...)
		d.scalar("release_lon", lon, axis("X", text("long_name", "longitude of the release point"), text("standard_name", "longitude"), text("units", "degrees_east"))...)
	}
	title := "time of release"
	if !f.Events.Release.Found {
		title = "first instant of the data, no release having been found"
	}
	d.scalar("release_time", 0, axis("T", text("long_name", title), text("standard_name", "time"), text("units", timeUnits(&f.Context)), text("calendar", "standard"))...)
}

// identity adds the variable that names the one trajectory or profile of the file.
func (d *ncFile) identity(kind string) {
	name := d.flight.name()
	d.Dimensions = append(d.Dimensions, netcdf.Dimension{Name: "name_length", Length: int64(len(name))})
	d.add(netcdf.Column{Name: kind, Dimensions: []string{"name_length"}, Values: name,
		Attributes: netcdf.Attributes{text("long_name", "name of the flight"), text("cf_role", kind+"_id")}})
}

// datum adds the grid mapping: satellites give positions on the WGS 84 ellipsoid. No
// geoid is named, since the source does not name the one its heights refer to.
func (d *ncFile) datum() {
	statement := "positions on the WGS 84 ellipsoid; altitude is above mean sea level by the geoid of the source, which is not named"
	r := d.flight.Final.Record
	a := netcdf.Attributes{text("long_name", "datum"), text("grid_mapping_name", "latitude_longitude"), text("reference_ellipsoid_name", "WGS 84"),
		{Name: "semi_major_axis", Value: []float64{6378137}}, {Name: "inverse_flattening", Value: []float64{298.257223563}},
		{Name: "longitude_of_prime_meridian", Value: []float64{0}}}
	if r != nil && r.Site.Undulation.Set() {
		a = append(a, netcdf.Attribute{Name: "geoid_undulation_at_site_m", Value: []float64{r.Site.Undulation.Value()}})
		statement += "; at the site the geoid lies geoid_undulation_at_site_m above the ellipsoid"
	}
	a = append(a, text("comment", statement))
	d.add(netcdf.Column{Name: "crs", Values: []int32{0}, Attributes: a})
}

// timeUnits returns the CF unit of times since the epoch, to the nanosecond.
func timeUnits(c *sounding.Context) string {
	return "seconds since " + c.Epoch.UTC().Format("2006-01-02 15:04:05.999999999")
}

// instant returns t as ISO 8601 with as many decimals as it needs.
func instant(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }
