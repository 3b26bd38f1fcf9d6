package export

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"leadline/internal/netcdf"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
)

// scale is the factor from each unit we write to the canonical unit of the standard
// names (SI brochure, UDUNITS), by kind; a unit that stands in no kind is not convertible.
var sameKind = [][]string{
	{"Pa", "hPa"}, {"K"}, {"1", "%", "g kg-1"}, {"m"}, {"m s-1"}, {"degree"}, {"degree_north", "degrees_north", "degree"}, {"degree_east", "degrees_east", "degree"}, {"s"},
}

func convertible(a, b string) bool {
	for _, kind := range sameKind {
		if slices.Contains(kind, a) && slices.Contains(kind, b) {
			return true
		}
	}
	return false
}

// standardNames reads the canonical unit of each standard name from the table beside the
// repository (CF Standard Name Table, version 83).
func standardNames(t *testing.T) map[string]string {
	file, err := os.Open(sharedtest.Dir(t, "standards/cf_standard_names_sonde.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, r := range rows[1:] {
		out[r[0]] = r[1]
	}
	if len(out) < 50 {
		t.Fatalf("the table of standard names holds %d rows", len(out))
	}
	return out
}

// violations checks a file against rules of the CF conventions, each named by its section
// (CF 1.11), and returns what breaks them.
func violations(f *netcdf.File, names map[string]string) []string {
	var out []string
	fail := func(section, format string, args ...any) {
		out = append(out, "CF "+section+": "+fmt.Sprintf(format, args...))
	}
	dims := func(v *netcdf.Variable) []string {
		var d []string
		for _, i := range v.Dimensions {
			d = append(d, f.Dimensions[i].Name)
		}
		return d
	}
	subset := func(a, b *netcdf.Variable) bool {
		for _, d := range dims(a) {
			if !slices.Contains(dims(b), d) {
				return false
			}
		}
		return true
	}
	conventions, _ := f.Attributes.Text("Conventions")
	if !strings.Contains(conventions, "CF-1.") {
		fail("2.6.1", "Conventions is %q", conventions)
	}
	for _, need := range []string{"title", "history", "source", "references"} {
		if s, _ := f.Attributes.Text(need); s == "" {
			fail("2.6.2", "global attribute %s is missing", need)
		}
	}
	plain := regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*$`)
	roles := 0
	axes := map[string]int{}
	for _, v := range f.Variables {
		a := v.Attributes
		if !plain.MatchString(v.Name) {
			fail("2.3", "variable name %q", v.Name)
		}
		for _, x := range a {
			if !plain.MatchString(strings.TrimPrefix(x.Name, "_")) {
				fail("2.3", "%s: attribute name %q", v.Name, x.Name)
			}
		}
		values, err := f.Float64s(v)
		number := v.Type != netcdf.Char
		if number && err != nil {
			fail("2.2", "%s cannot be read: %v", v.Name, err)
		}
		coordinate := len(v.Dimensions) == 1 && dims(v)[0] == v.Name
		if coordinate {
			if _, has := a.Value("_FillValue"); has {
				fail("2.5.1", "coordinate variable %s has a _FillValue", v.Name)
			}
			for i := 2; i < len(values); i++ {
				if (values[i]-values[i-1])*(values[1]-values[0]) <= 0 {
					fail("1.3", "coordinate variable %s is not strictly monotonic at %d", v.Name, i)
					break
				}
			}
		}
		if _, has := a.Text("long_name"); !has && !strings.HasSuffix(v.Name, "_bounds") {
			fail("3.2", "%s has no long_name", v.Name)
		}
		flagged := false
		for _, n := range []string{"flag_values", "flag_masks"} {
			if x, has := a.Float64s(n); has {
				flagged = true
				meanings, _ := a.Text("flag_meanings")
				words := strings.Fields(meanings)
				if len(words) != len(x) {
					fail("3.5", "%s: %d %s, %d meanings", v.Name, len(x), n, len(words))
				}
				for _, w := range words {
					if !regexp.MustCompile(`^[A-Za-z0-9_\-.+@]+$`).MatchString(w) {
						fail("3.5", "%s: meaning %q", v.Name, w)
					}
				}
				raw, _ := a.Value(n)
				if kind := fmt.Sprintf("%T", raw); kind != map[netcdf.Type]string{netcdf.Byte: "[]int8", netcdf.Int: "[]int32"}[v.Type] {
					fail("3.5", "%s: %s is %s, the variable %v", v.Name, n, kind, v.Type)
				}
				all := int64(0)
				for _, m := range x {
					all |= int64(m)
				}
				for i, value := range values {
					if n == "flag_values" && !slices.Contains(x, value) || n == "flag_masks" && int64(value)&^all != 0 {
						fail("3.5", "%s[%d] = %g has no meaning", v.Name, i, value)
						break
					}
				}
			}
		}
		units, hasUnits := a.Text("units")
		if s, has := a.Text("standard_name"); has {
			words := strings.Fields(s)
			canonical, known := names[words[0]]
			if !known {
				fail("3.3", "%s: %s stands in no table", v.Name, words[0])
			}
			if len(words) > 1 && (len(words) > 2 || words[1] != "standard_error" && words[1] != "detection_minimum") {
				fail("3.3, App. C", "%s: modifier %q", v.Name, words[1:])
			}
			switch {
			case flagged, canonical == "":
			case !hasUnits:
				fail("3.1", "%s has no units", v.Name)
			case strings.Contains(units, " since "):
				if words[0] != "time" {
					fail("4.4", "%s has time units", v.Name)
				} else if _, err := v.TimeUnits(); err != nil {
					fail("4.4", "%s: %v", v.Name, err)
				}
			case !convertible(units, canonical):
				fail("3.1", "%s: %q is not convertible to %q", v.Name, units, canonical)
			}
			if hasUnits && units == "K" {
				want := "temperature: on_scale"
				if len(words) > 1 {
					want = "temperature: difference"
				}
				if m, _ := a.Text("units_metadata"); m != want {
					fail("3.1.2", "%s: units_metadata %q, want %q", v.Name, m, want)
				}
			}
			if slices.Contains([]string{"altitude", "air_pressure", "geopotential_height"}, words[0]) && len(words) == 1 {
				axis, _ := a.Text("axis")
				positive, _ := a.Text("positive")
				if axis == "Z" && positive != map[bool]string{true: "down", false: "up"}[words[0] == "air_pressure"] {
					fail("4.3", "%s: positive is %q", v.Name, positive)
				}
			}
		}
		if list, has := a.Text("ancillary_variables"); has {
			for _, n := range strings.Fields(list) {
				if other := f.Variable(n); other == nil {
					fail("3.4", "%s: ancillary variable %s does not exist", v.Name, n)
				} else if !subset(other, v) {
					fail("3.4", "%s: ancillary variable %s has other dimensions", v.Name, n)
				}
			}
		}
		if list, has := a.Text("coordinates"); has {
			for _, n := range strings.Fields(list) {
				if other := f.Variable(n); other == nil {
					fail("5", "%s: coordinate %s does not exist", v.Name, n)
				} else if !subset(other, v) {
					fail("5", "%s: coordinate %s has other dimensions", v.Name, n)
				}
				if n == v.Name {
					fail("5", "%s names itself as coordinate", v.Name)
				}
			}
		}
		if n, has := a.Text("grid_mapping"); has {
			other := f.Variable(n)
			if other == nil {
				fail("5.6", "%s: grid mapping %s does not exist", v.Name, n)
			} else if m, _ := other.Attributes.Text("grid_mapping_name"); m != "latitude_longitude" {
				fail("5.6, App. F", "%s: grid_mapping_name %q", n, m)
			}
		}
		if n, has := a.Text("bounds"); has {
			other := f.Variable(n)
			if other == nil || len(other.Shape) != len(v.Shape)+1 {
				fail("7.1", "%s: bounds %s", v.Name, n)
			} else if b, err := f.Float64s(other); err != nil || len(b) != 2*len(values) {
				fail("7.1", "%s: %d bounds for %d values", v.Name, len(b), len(values))
			} else {
				for i, x := range values {
					if (x-b[2*i])*(b[2*i+1]-x) < 0 {
						fail("7.1", "%s[%d] lies outside its bounds", v.Name, i)
						break
					}
				}
			}
		}
		if m, has := a.Text("cell_methods"); has {
			for _, d := range strings.Fields(m) {
				if name, is := strings.CutSuffix(d, ":"); is && !slices.Contains(dims(v), name) {
					fail("7.3", "%s: cell_methods of %s, which is no dimension of it", v.Name, name)
				}
			}
		}
		if role, has := a.Text("cf_role"); has {
			roles++
			feature, _ := f.Attributes.Text("featureType")
			if role != feature+"_id" {
				fail("9.5", "%s: cf_role %q in a file of featureType %q", v.Name, role, feature)
			}
		}
		if x, has := a.Text("axis"); has {
			axes[x]++
		}
	}
	if feature, has := f.Attributes.Text("featureType"); has {
		if feature != "trajectory" && feature != "profile" {
			fail("9.4", "featureType %q", feature)
		}
		if roles != 1 {
			fail("9.5", "%d variables with cf_role", roles)
		}
		for _, x := range []string{"T", "X", "Y", "Z"} {
			if axes[x] != 1 {
				fail("9.2", "%d variables with axis %s", axes[x], x)
			}
		}
		for _, v := range f.Variables {
			list, has := v.Attributes.Text("coordinates")
			if n, is := v.Attributes.Text("standard_name"); is && strings.HasPrefix(n, "air_temperature") && (!has || len(strings.Fields(list)) < 3) {
				fail("9.5", "%s has coordinates %q", v.Name, list)
			}
		}
	}
	return out
}

func open(t testing.TB, b []byte) *netcdf.File {
	t.Helper()
	f, err := netcdf.Open(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Every netCDF file of every kind of flight keeps the conventions.
func TestConventions(t *testing.T) {
	names := standardNames(t)
	for name, f := range flights() {
		files := map[string][]byte{"flight": written(t, f, NetCDF), "levels": written(t, f, NetCDFLevels)}
		for i := range f.Grids {
			files[fmt.Sprintf("grid by %s", f.Grids[i].By)] = written(t, f, gridWriter(&f.Grids[i]))
		}
		for kind, b := range files {
			for _, v := range violations(open(t, b), names) {
				t.Errorf("%s, %s: %s", name, kind, v)
			}
		}
	}
}

// The checker itself sees what is broken.
func TestConventionsAreChecked(t *testing.T) {
	names := standardNames(t)
	good := flights()["whole"]
	d := &ncFile{flight: good}
	d.profile()
	column := func(name string) *netcdf.Column {
		for i := range d.Columns {
			if d.Columns[i].Name == name {
				return &d.Columns[i]
			}
		}
		t.Fatalf("no column %s", name)
		return nil
	}
	set := func(c *netcdf.Column, name string, value any) {
		list := slices.Clone(c.Attributes)
		for i := range list {
			if list[i].Name == name {
				list[i].Value = value
				c.Attributes = list
				return
			}
		}
		c.Attributes = append(list, netcdf.Attribute{Name: name, Value: value})
	}
	for section, damage := range map[string]func(){
		"3.1":   func() { set(column("ta"), "units", "degC2") },
		"3.1.2": func() { set(column("ta"), "units_metadata", "temperature: difference") },
		"3.3":   func() { set(column("rh"), "standard_name", "moisture") },
		"3.4":   func() { set(column("p"), "ancillary_variables", "p_qc nothing") },
		"3.5":   func() { set(column("ta_qc"), "flag_meanings", "good bad") },
		"4.3":   func() { set(column("z"), "positive", "down") },
		"4.4":   func() { set(column("time"), "units", "seconds since release") },
		"5":     func() { set(column("u"), "coordinates", "time lat lon height") },
		"5.6":   func() { set(column("u"), "grid_mapping", "nowhere") },
		"9.5":   func() { set(column("trajectory"), "cf_role", "profile_id") },
		"9.2":   func() { set(column("lat"), "axis", "X") },
	} {
		d = &ncFile{flight: good}
		d.profile()
		damage()
		var b bytes.Buffer
		if _, err := d.WriteTo(&b); err != nil {
			t.Fatal(err)
		}
		found := violations(open(t, b.Bytes()), names)
		seen := false
		for _, v := range found {
			seen = seen || strings.HasPrefix(v, "CF "+section+":")
		}
		if !seen {
			t.Errorf("damage against CF %s was not seen: %v", section, found)
		}
	}
}

// Every standard name the variables have stands in the table with a convertible unit.
func TestVariablesHaveStandardNames(t *testing.T) {
	names := standardNames(t)
	for _, v := range sounding.Variables() {
		i := v.Info()
		if i.StandardName == "" {
			continue
		}
		if canonical, known := names[i.StandardName]; !known || !convertible(i.Unit, canonical) {
			t.Errorf("%v: %s in %q, the table has %q", v, i.StandardName, i.Unit, canonical)
		}
	}
}
