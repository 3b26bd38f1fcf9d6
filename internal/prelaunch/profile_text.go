package prelaunch

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode"

	"leadline/internal/earth"
	"leadline/internal/units"
)

// maxProfile bounds a forecast profile file in bytes, and maxLevels its rows.
const (
	maxProfile = 4 << 20
	maxLevels  = 20000
)

// profileColumns are the columns of a forecast profile with their dimension.
var profileColumns = []struct{ name, dimension string }{
	{"height", units.Length}, {"geopotential_height", units.Length}, {"pressure", units.Pressure}, {"temperature", units.Temperature},
	{"wind_speed", units.Speed}, {"wind_direction", units.Angle}, {"wind_u", units.Speed}, {"wind_v", units.Speed},
}

// suffixes are how units are written at the end of a column's name.
var suffixes = map[string]string{
	"m": "m", "m_msl": "m", "gpm": "m", "ft": "ft", "ft_msl": "ft", "km": "km", "hpa": "hPa", "pa": "Pa", "k": "K", "c": "°C", "degc": "°C",
	"m_s": "m/s", "kt": "kt", "km_h": "km/h", "deg": "degrees",
}

// ReadProfile reads a wind profile from a text: lines that start with # are notes ("#
// valid_utc = 2031-06-03T23:30:00Z" sets the time), the first other line names the
// columns, each with its unit as "wind_speed_kt", and every further line is a level.
// Columns are parted by commas, semicolons, tabs or spaces. Needed are a height
// (height_m_msl, geopotential_height_gpm, or pressure_hpa alone) and a wind (speed and
// direction it blows from, or wind_u and wind_v). Levels may stand in either order. Empty
// and NaN fields are missing; a level without wind is left out. Heights from pressure alone
// are hydrostatic where every level has a temperature, else of the standard atmosphere.
// latitude in degrees turns geopotential into height. An error names line and column.
func ReadProfile(name string, text []byte, latitude float64) (*Profile, error) {
	if len(text) > maxProfile {
		return nil, fmt.Errorf("%s: %d bytes is more than a wind profile of %d MiB", name, len(text), maxProfile>>20)
	}
	p := &Profile{Source: name}
	var columns []column
	var rows []levelRow
	scan := bufio.NewScanner(bytes.NewReader(text))
	scan.Buffer(make([]byte, 0, 4096), 64<<10)
	line := 0
	for scan.Scan() {
		line++
		s := strings.TrimSpace(strings.TrimPrefix(scan.Text(), "\ufeff"))
		if s == "" {
			continue
		}
		if note, ok := strings.CutPrefix(s, "#"); ok {
			key, value, _ := strings.Cut(note, "=")
			switch strings.TrimSpace(key) {
			case "valid_utc":
				t, err := time.Parse(time.RFC3339, strings.TrimSpace(value))
				if err != nil {
					return nil, fmt.Errorf("%s: line %d: valid_utc %q: want 2031-06-03T23:30:00Z", name, line, strings.TrimSpace(value))
				}
				p.Valid = t.UTC()
			case "source":
				p.Source = strings.TrimSpace(value)
			}
			continue
		}
		fields := splitFields(s)
		if columns == nil {
			var err error
			if columns, err = readHeads(fields); err != nil {
				return nil, fmt.Errorf("%s: line %d: %w", name, line, err)
			}
			continue
		}
		if len(fields) != len(columns) {
			return nil, fmt.Errorf("%s: line %d has %d fields, the heads in the first line %d", name, line, len(fields), len(columns))
		}
		if len(rows) == maxLevels {
			return nil, fmt.Errorf("%s: line %d: more than %d levels: thin the profile out", name, line, maxLevels)
		}
		row := newLevelRow(line)
		for i, f := range fields {
			if columns[i].into < 0 || f == "" || strings.EqualFold(f, "nan") {
				continue
			}
			x, err := strconv.ParseFloat(f, 64)
			if err != nil || math.IsInf(x, 0) {
				return nil, fmt.Errorf("%s: line %d, column %s: %q is not a number; leave missing values empty or write nan", name, line, columns[i].head, f)
			}
			row.value[columns[i].into] = columns[i].unit.Inside(x)
		}
		rows = append(rows, row)
	}
	if err := scan.Err(); err != nil {
		return nil, fmt.Errorf("%s: line %d: %w", name, line+1, err)
	}
	if columns == nil {
		return nil, fmt.Errorf("%s: no line with column names: want such as height_m_msl,wind_speed_m_s,wind_direction_deg", name)
	}
	if err := p.fill(rows, columns, latitude); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return p, nil
}

// column is one column of the file: into is its place in profileColumns, −1 for one that
// is not used.
type column struct {
	head string
	into int
	unit *units.Unit
}

// levelRow is one line of values in profileColumns' order, NaN where missing.
type levelRow struct {
	line  int
	value [8]float64
}

func newLevelRow(line int) levelRow {
	r := levelRow{line: line}
	for i := range r.value {
		r.value[i] = math.NaN()
	}
	return r
}

// splitFields parts a line at ; or , or tabs, else at spaces.
func splitFields(s string) []string {
	for _, by := range []string{";", ",", "\t"} {
		if strings.Contains(s, by) {
			parts := strings.Split(s, by)
			for i := range parts {
				parts[i] = strings.TrimSpace(parts[i])
			}
			return parts
		}
	}
	return strings.FieldsFunc(s, unicode.IsSpace)
}

func readHeads(heads []string) ([]column, error) {
	out := make([]column, len(heads))
	seen := [8]bool{}
	for i, h := range heads {
		out[i] = column{head: h, into: -1}
		lower := strings.ToLower(h)
		best := ""
		for k, c := range profileColumns {
			// the longest name that fits: geopotential_height is not height
			if suffix, ok := strings.CutPrefix(lower, c.name+"_"); ok && len(c.name) > len(best) {
				word, known := suffixes[suffix]
				if !known {
					return nil, fmt.Errorf("column %q: the unit %q is not known: write for example %s", h, suffix, exampleHead(c.name))
				}
				u, err := units.Lookup(word, c.dimension)
				if err != nil {
					return nil, fmt.Errorf("column %q: %w", h, err)
				}
				best = c.name
				out[i].into, out[i].unit = k, u
			} else if lower == c.name {
				return nil, fmt.Errorf("column %q has no unit: write for example %s", h, exampleHead(c.name))
			}
		}
		if k := out[i].into; k >= 0 {
			if seen[k] {
				return nil, fmt.Errorf("column %q: there are two columns of that kind", h)
			}
			seen[k] = true
		}
	}
	switch {
	case !seen[0] && !seen[1] && !seen[2]:
		return nil, fmt.Errorf("no column for the height: want height_m_msl, geopotential_height_gpm or pressure_hpa")
	case !(seen[4] && seen[5]) && !(seen[6] && seen[7]):
		return nil, fmt.Errorf("no columns for the wind: want wind_speed_m_s and wind_direction_deg, or wind_u_m_s and wind_v_m_s")
	}
	return out, nil
}

func exampleHead(name string) string {
	return map[string]string{"height": "height_m_msl", "geopotential_height": "geopotential_height_gpm", "pressure": "pressure_hpa", "temperature": "temperature_k",
		"wind_speed": "wind_speed_m_s", "wind_direction": "wind_direction_deg", "wind_u": "wind_u_m_s", "wind_v": "wind_v_m_s"}[name]
}

// fill turns rows into levels.
func (p *Profile) fill(rows []levelRow, columns []column, latitude float64) error {
	kept := rows[:0:0]
	byPressure := true
	for _, r := range rows {
		v := &r.value
		if math.IsNaN(v[6]) || math.IsNaN(v[7]) {
			if d := v[5]; !math.IsNaN(d) && (d < 0 || d > 360) {
				return fmt.Errorf("line %d: wind direction of %g: want 0 to 360 degrees", r.line, d)
			}
			if v[4] < 0 {
				return fmt.Errorf("line %d: wind speed of %g m/s is below 0", r.line, v[4])
			}
			v[6], v[7] = earth.UVFromWind(v[4], v[5])
		}
		if math.IsNaN(v[6]) || math.IsNaN(v[7]) {
			continue
		}
		if math.IsNaN(v[0]) && !math.IsNaN(v[1]) {
			v[0] = earth.GeometricHeight(v[1], latitude)
		}
		if !math.IsNaN(v[0]) {
			byPressure = false
		}
		kept = append(kept, r)
	}
	if byPressure {
		if err := heightsFromPressure(kept, latitude); err != nil {
			return err
		}
	}
	present := kept[:0]
	for _, r := range kept {
		if !math.IsNaN(r.value[0]) {
			present = append(present, r)
		}
	}
	sort.SliceStable(present, func(i, j int) bool { return present[i].value[0] < present[j].value[0] })
	for i, r := range present {
		v := r.value
		if i > 0 && v[0] <= present[i-1].value[0] {
			return fmt.Errorf("lines %d and %d have one height of %.1f m: want each height once", present[i-1].line, r.line, v[0])
		}
		if !math.IsNaN(v[3]) && !(v[3] > 100 && v[3] < 350) {
			return fmt.Errorf("line %d: temperature of %.1f K: want 100 to 350 K; look at the unit in the column's name", r.line, v[3])
		}
		if !math.IsNaN(v[2]) && !(v[2] > 0 && v[2] < 1200) {
			return fmt.Errorf("line %d: pressure of %g hPa: want above 0 and below 1,200 hPa", r.line, v[2])
		}
		p.add(v[0], v[6], v[7], v[3], v[2])
	}
	if len(p.Height) < 2 {
		return fmt.Errorf("%d levels have a height and a wind: want at least 2", len(p.Height))
	}
	return p.Validate()
}

// heightsFromPressure gives levels heights from pressure. The lowest level stands where
// the standard atmosphere has its pressure.
func heightsFromPressure(rows []levelRow, latitude float64) error {
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].value[2] > rows[j].value[2] })
	warm := true
	for _, r := range rows {
		if !(r.value[2] > 0 && r.value[2] < 1200) {
			return fmt.Errorf("line %d: pressure of %g hPa: want above 0 and below 1,200 hPa", r.line, r.value[2])
		}
		warm = warm && r.value[3] > 100 && r.value[3] < 350
	}
	gpm := math.NaN()
	for i := range rows {
		v := &rows[i].value
		switch {
		case i == 0 || !warm:
			gpm = earth.StandardAltitude(v[2])
		default:
			below := rows[i-1].value
			gpm += 287.05 / earth.G0 * 0.5 * (below[3] + v[3]) * math.Log(below[2]/v[2])
		}
		v[0] = earth.GeometricHeight(gpm, latitude)
	}
	return nil
}
