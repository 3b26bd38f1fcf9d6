package ingest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"leadline/internal/netcdf"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/units"
)

// maxSpooled is the largest netCDF file that is held in memory, where the source is
// packed or a stream; a plain file on disk is read where it lies.
const maxSpooled = 256 << 20

// sizedReaderAt is a source that can be read at any place: a file or bytes in memory.
type sizedReaderAt interface {
	io.ReaderAt
	io.Seeker
}

// openNetCDF opens the classic file in a source, or nccopy's copy of a netCDF-4 one.
func openNetCDF(ctx context.Context, src *opened) (*netcdf.File, func() error, error) {
	var r io.ReaderAt
	var size int64
	nothing := func() error { return nil }
	if direct, ok := src.received.r.(sizedReaderAt); ok && src.packed == "" {
		// The place is put back, because the bytes are still to be counted and hashed.
		here, err := direct.Seek(0, io.SeekCurrent)
		if err != nil {
			return nil, nothing, err
		}
		if size, err = direct.Seek(0, io.SeekEnd); err != nil {
			return nil, nothing, err
		}
		if _, err = direct.Seek(here, io.SeekStart); err != nil {
			return nil, nothing, err
		}
		r = direct
	} else {
		spool, err := io.ReadAll(io.LimitReader(src, maxSpooled+1))
		if err != nil {
			return nil, nothing, err
		}
		if len(spool) > maxSpooled {
			return nil, nothing, fmt.Errorf("more than %d MiB of netCDF in a packed or streamed source: unpack it to a file", maxSpooled>>20)
		}
		if src.cut != nil {
			return nil, nothing, fmt.Errorf("the %s data end early: %w", src.packed, src.cut)
		}
		r, size = bytes.NewReader(spool), int64(len(spool))
	}
	if size == 0 {
		return nil, nothing, fmt.Errorf("%w: the source is empty", ErrNoRows)
	}
	f, err := netcdf.Open(r, size)
	if errors.Is(err, netcdf.ErrHDF5) {
		o, err := netcdf.ConvertClassicReader(ctx, r, size, netcdf.ConvertLimits{})
		if err != nil {
			return nil, nothing, err
		}
		return o.File, o.Close, nil
	}
	return f, nothing, err
}

// cfReader reads one netCDF file.
type cfReader struct {
	f        *netcdf.File
	recipe   *Recipe
	options  Options
	name     string
	time     *netcdf.Variable
	findings []sounding.Finding
	record   *sounding.LaunchRecord
	header   []sounding.Item
}

// readNetCDF reads the soundings of a netCDF file: one along the dimension of the
// time variable, or one for each index of the first of its two dimensions.
func readNetCDF(ctx context.Context, name string, src *opened, recipe *Recipe, o Options) ([]*table, error) {
	f, closeFile, err := openNetCDF(ctx, src)
	if err != nil {
		return nil, err
	}
	defer func() { _ = closeFile() }() // the copy was only read; a failed removal loses nothing
	r := &cfReader{f: f, recipe: recipe, options: o, name: name}
	if r.time, err = r.timeVariable(); err != nil {
		return nil, err
	}
	if n := len(r.time.Shape); n == 0 || n > 2 {
		return nil, fmt.Errorf("time variable %s has %d dimensions: want one (a sounding) or two (soundings by samples)", r.time.Name, n)
	}
	soundings, rows := int64(1), r.time.Shape[len(r.time.Shape)-1]
	if len(r.time.Shape) == 2 {
		soundings = r.time.Shape[0]
	}
	if rows == 0 || soundings == 0 {
		return nil, fmt.Errorf("%w: time variable %s has no values", ErrNoRows, r.time.Name)
	}
	if soundings > maxSoundings {
		return nil, fmt.Errorf("%d soundings in one file, more than %d: split it", soundings, maxSoundings)
	}
	if rows > int64(o.rows()) {
		return nil, fmt.Errorf("%d rows, more than %d: more than one flight can have; split the file, or raise the limit", rows, o.rows())
	}
	if n := int64(len(f.Variables)); n*rows > maxValues || n > maxColumns*4 {
		return nil, fmt.Errorf("%d variables of %d rows: more than one flight can have; split the file", n, rows)
	}
	r.describe()
	var out []*table
	var first error
	for i := range soundings {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		t, err := r.table(i, rows)
		if err != nil {
			if !errors.Is(err, ErrNoRows) || soundings == 1 {
				return nil, err
			}
			if first == nil {
				first = err
			}
			continue
		}
		out = append(out, t)
	}
	if len(out) == 0 {
		return nil, first
	}
	return out, nil
}

func attribute(v *netcdf.Variable, name string) string {
	s, _ := v.Attributes.Text(name)
	return strings.TrimSpace(s)
}

// timeVariable finds the variable that gives the time of each row.
func (r *cfReader) timeVariable() (*netcdf.Variable, error) {
	if name := r.recipe.Time.Column; name != "" {
		v := r.f.Variable(name)
		if v == nil || v.Type == netcdf.Char {
			return nil, fmt.Errorf("the time variable %q of the recipe is not in the file, which has %s", name, r.variables())
		}
		return v, nil
	}
	for _, is := range []func(v *netcdf.Variable) bool{
		func(v *netcdf.Variable) bool { return attribute(v, "standard_name") == "time" },
		func(v *netcdf.Variable) bool {
			return strings.EqualFold(v.Name, "time") && since(attribute(v, "units"))
		},
		func(v *netcdf.Variable) bool {
			return attribute(v, "axis") == "T" && since(attribute(v, "units"))
		},
		func(v *netcdf.Variable) bool { return since(attribute(v, "units")) },
		func(v *netcdf.Variable) bool { return strings.EqualFold(v.Name, "time") },
	} {
		for _, v := range r.f.Variables {
			if v.Type != netcdf.Char && len(v.Shape) > 0 && is(v) {
				return v, nil
			}
		}
	}
	return nil, fmt.Errorf("no variable gives the time of the rows (standard_name time, or units such as \"seconds since 2031-06-03 00:00:00\"): name it in a recipe by time.column; the file has %s", r.variables())
}

func (r *cfReader) variables() string {
	var out []string
	for i, v := range r.f.Variables {
		if i == 40 {
			out = append(out, "…")
			break
		}
		out = append(out, shown(v.Name))
	}
	if len(out) == 0 {
		return "no variables"
	}
	return strings.Join(out, ", ")
}

func since(text string) bool { return strings.Contains(strings.ToLower(text), " since ") }

// parseSince reads CF time units (CF conventions 4.4): "seconds since 2019-01-01
// 00:00:00 0:00". Months and years are refused, as they are no fixed length.
func parseSince(text string) (*units.Unit, time.Time, error) {
	low := strings.ToLower(text)
	i := strings.Index(low, " since ")
	bad := func(why string) (*units.Unit, time.Time, error) {
		return nil, time.Time{}, fmt.Errorf("time units %q: %s", shown(text), why)
	}
	if i < 0 {
		return bad("want a form such as \"seconds since 2031-06-03 00:00:00\"")
	}
	u, err := units.Lookup(text[:i], units.Time)
	if err != nil {
		return bad(err.Error())
	}
	rest := strings.TrimSpace(text[i+len(" since "):])
	if k := strings.IndexAny(rest, "Tt"); k > 0 && k+1 < len(rest) && rest[k-1] >= '0' && rest[k-1] <= '9' && rest[k+1] >= '0' && rest[k+1] <= '9' {
		rest = rest[:k] + " " + rest[k+1:]
	}
	parts := strings.Fields(rest)
	if len(parts) == 0 {
		return bad("no date")
	}
	var v [6]float64
	v[1], v[2] = 1, 1
	date := strings.Split(parts[0], "-")
	if len(date) != 3 {
		return bad("no date of year-month-day")
	}
	for k, d := range date {
		x, ok := parseNumber([]byte(d), '.')
		if !ok || x < 0 || x != math.Trunc(x) {
			return bad("no date of year-month-day")
		}
		v[k] = x
	}
	offset := 0.0
	for k, p := range parts[1:] {
		upper := strings.ToUpper(p)
		zone := ""
		if k == 0 {
			if j := strings.IndexAny(p, "Zz+-Uu"); j >= 0 {
				p, zone = p[:j], strings.ToUpper(p[j:])
			}
			for m, d := range strings.Split(p, ":") {
				x, ok := parseNumber([]byte(d), '.')
				if m > 2 || !ok || x < 0 || x >= 61 {
					return bad("no time of hour:minute:second")
				}
				v[3+m] = x
			}
		} else {
			zone = upper
		}
		switch zone {
		case "", "Z", "UTC", "GMT", "+0:00", "0:00", "-0:00", "00:00", "+00", "0":
		default:
			sign := 1.0
			switch zone[0] {
			case '-':
				sign = -1
				zone = zone[1:]
			case '+':
				zone = zone[1:]
			}
			h, m, ok := strings.Cut(zone, ":")
			hours, ok1 := parseNumber([]byte(h), '.')
			minutes := 0.0
			ok2 := true
			if ok {
				minutes, ok2 = parseNumber([]byte(m), '.')
			} else if len(h) == 4 {
				hours, minutes = math.Trunc(hours/100), math.Mod(hours, 100)
			}
			if !ok1 || !ok2 || hours > 15 || minutes >= 60 {
				return bad("no zone in " + shown(zone))
			}
			offset = sign * (hours*3600 + minutes*60)
		}
	}
	if v[0] > 2300 || v[0] < 1 || v[1] < 1 || v[1] > 12 || v[2] < 1 || int(v[2]) > daysIn(int(v[0]), int(v[1])) || v[3] > 24 || v[4] > 59 {
		return bad("no such date")
	}
	whole := math.Floor(v[5])
	t := time.Date(int(v[0]), time.Month(int(v[1])), int(v[2]), int(v[3]), int(v[4]), int(whole), int(math.Round((v[5]-whole)*1e9)), time.UTC)
	return u, t.Add(-time.Duration(offset) * time.Second), nil
}

// describe keeps the global attributes and takes launch record items from them.
func (r *cfReader) describe() {
	for _, a := range r.f.Attributes {
		if len(r.header) == maxItems {
			break
		}
		if s, ok := r.f.Attributes.Text(a.Name); ok {
			r.header = append(r.header, sounding.Item{Name: clean(a.Name), Text: clean(strings.TrimSpace(s))})
		} else if x, ok := r.f.Attributes.Float64(a.Name); ok {
			r.header = append(r.header, sounding.Item{Name: clean(a.Name), Text: formatShort(x)})
		}
	}
	set := func(a *AttributeRecipe, text string, x float64, unit string) {
		f, ok := sounding.FieldByPath(a.Field)
		if !ok {
			return
		}
		launch := func() *sounding.LaunchRecord {
			if r.record == nil {
				r.record = sounding.NewLaunchRecord()
			}
			return r.record
		}
		var err error
		switch {
		case f.Number != nil:
			if a.Unit != "" && unit == "" {
				unit = a.Unit
			}
			if unit == "" {
				unit = units.Inner(f.Dimension).Name
			}
			if text != "" {
				if x, err = units.Parse(text, f.Dimension, unit); err != nil {
					break
				}
			} else {
				var u *units.Unit
				if u, err = units.Lookup(unit, f.Dimension); err != nil {
					break
				}
				x = u.Inside(x)
			}
			if !math.IsNaN(x) {
				*f.Number(launch()) = sounding.Number(x)
			}
		case f.Instant != nil:
			var t time.Time
			if t, err = readInstant(text, a.Layout, "", "", ""); err == nil {
				*f.Instant(launch()) = t
			}
		default:
			if text == "" {
				text = formatShort(x)
			}
			var word string
			if word, err = wordOf(f.Path, text); err == nil {
				*f.Text(launch()) = word
			}
		}
		if err != nil {
			n := lineFinding(quality.Syntax, sounding.Note, 0, 0)
			n.Field = f.Path
			n.Sentence = fmt.Sprintf("%s of the file's attributes could not be read: %v", f.Label, err)
			r.findings = append(r.findings, n)
		}
	}
	for i := range r.recipe.Attributes {
		a := &r.recipe.Attributes[i]
		done := false
		for _, name := range a.Names {
			if s, ok := r.f.Attributes.Text(name); ok {
				s = strings.TrimSpace(s)
				if !isMissingToken([]byte(s)) && !missingNumber(s) {
					set(a, s, math.NaN(), "")
					done = true
				}
			} else if x, ok := r.f.Attributes.Float64(name); ok && !contains(r.recipe.Text.Missing, formatShort(x)) {
				set(a, "", x, "")
				done = true
			}
			if done {
				break
			}
		}
		if done {
			continue
		}
		for _, v := range r.f.Variables {
			if v.Len() != 1 || v.Type == netcdf.Char || len(v.Shape) > 0 && v.Record {
				continue
			}
			if !(a.StandardName != "" && attribute(v, "standard_name") == a.StandardName || contains(a.Names, v.Name)) {
				continue
			}
			x := []float64{0}
			if err := r.f.Packed(v, nil, nil, x); err == nil && !math.IsNaN(x[0]) {
				set(a, "", x[0], attribute(v, "units"))
				break
			}
		}
	}
	for _, c := range r.recipe.Record {
		if r.record == nil {
			r.record = sounding.NewLaunchRecord()
		}
		_ = SetField(r.record, c.Field, c.Value) // was checked with the recipe
	}
}

// missingNumber tells whether an attribute's text is one of the numbers archives
// write for "none".
func missingNumber(s string) bool {
	x, ok := parseNumber([]byte(s), '.')
	return ok && (x == -9999 || x == -999 || x == -32768 || x == -99999)
}

// table reads sounding number i of the file.
func (r *cfReader) table(i, rows int64) (*table, error) {
	start, count := []int64(nil), []int64(nil)
	if len(r.time.Shape) == 2 {
		start, count = []int64{i, 0}, []int64{1, rows}
	}
	t := &table{header: r.header, record: r.record.Clone(), jumpLimit: r.recipe.Time.JumpLimit}
	t.findings = append(t.findings, r.findings...)
	clock, err := r.times(t, start, count, rows)
	if err != nil {
		return nil, err
	}
	kept := make([]int, 0, rows)
	for k, x := range clock {
		if math.IsNaN(x) || math.IsInf(x, 0) || math.Abs(x) > 1e11 {
			t.problems.row(k+1, 0, r.time.Name, "", "the record has no time")
			continue
		}
		kept = append(kept, k)
	}
	if len(kept) == 0 {
		return nil, fmt.Errorf("%w: none of %d values of time variable %s is set", ErrNoRows, rows, r.time.Name)
	}
	if len(kept) == int(rows) {
		kept = nil
	}
	take := func(x []float64) []float64 {
		if kept == nil {
			return x
		}
		return pick(x, kept)
	}
	t.time = take(clock)
	t.line = make([]int32, len(t.time))
	for k := range t.line {
		t.line[k] = int32(k + 1)
		if kept != nil {
			t.line[k] = int32(kept[k] + 1)
		}
	}
	given := map[*netcdf.Variable]bool{r.time: true}
	for _, d := range r.recipe.Drop {
		if v := r.f.Variable(d); v != nil {
			given[v] = true
		}
	}
	taken := map[sounding.Variable]bool{}
	for k := range r.recipe.Columns {
		c := &r.recipe.Columns[k]
		if c.Variable != sounding.NoVariable && taken[c.Variable] {
			continue
		}
		v, u, why := r.match(c, given)
		if v == nil {
			if !c.Optional {
				return nil, fmt.Errorf("column %s (%v): %s; set optional = true where it may be absent", c.label(), c.Variable, why)
			}
			if why != "" {
				f := lineFinding(quality.Syntax, sounding.Note, 0, 0)
				f.Variable = c.Variable
				f.Sentence = why
				t.findings = append(t.findings, f)
			}
			continue
		}
		x, err := r.values(v, start, count, rows, t)
		if err != nil {
			return nil, err
		}
		given[v] = true
		r.tokens(c, x)
		if c.Variable == sounding.NoVariable {
			name := c.Extra
			if name == "" {
				name = v.Name
			}
			t.extra = append(t.extra, sounding.Extra{Name: clean(name), Unit: clean(attribute(v, "units")), Values: take(x)})
			continue
		}
		taken[c.Variable] = true
		var odd suspects
		if c.Variable != sounding.Latitude && c.Variable != sounding.Longitude { // named as positions that cannot be
			for k, y := range x {
				if y < -90 || y > 998 {
					odd.look(c.Variable, y, k+1)
				}
			}
		}
		t.findings = append(t.findings, odd.findings(c.Variable, v.Name)...)
		scale := c.Scale
		if scale == 0 {
			scale = 1
		}
		if !u.Identity() || scale != 1 {
			for k := range x {
				x[k] = u.Inside(x[k] * scale)
			}
		}
		positions(v.Name, c.Variable, x, t)
		infinite(v.Name, c.Variable, x, t)
		t.series = append(t.series, sounding.Series{Variable: c.Variable, Values: take(x)})
	}
	if len(t.series) == 0 {
		return nil, fmt.Errorf("%w: none of the variables is one that the recipe knows; the file has %s", ErrNoRows, r.variables())
	}
	if !r.recipe.OnlyColumns {
		if err := r.extras(t, given, start, count, rows, take, kept); err != nil {
			return nil, err
		}
	}
	if kept != nil {
		// Rows of problems are counted among those that are kept.
		now := make(map[int]int, len(kept))
		for k, old := range kept {
			now[old] = k
		}
		values := t.problems.values[:0]
		for _, p := range t.problems.values {
			if k, ok := now[p.row]; ok {
				p.row = k
				values = append(values, p)
			}
		}
		t.problems.values = values
		for _, m := range t.problems.moreValues {
			rows := m.rows[:0]
			for _, old := range m.rows {
				if k, ok := now[old]; ok {
					rows = append(rows, k)
				}
			}
			m.rows = rows
		}
	}
	return t, nil
}

// times reads the time variable into seconds since t.day.
func (r *cfReader) times(t *table, start, count []int64, rows int64) ([]float64, error) {
	x := make([]float64, rows)
	if err := r.f.Packed(r.time, start, count, x); err != nil {
		return nil, err
	}
	text := attribute(r.time, "units")
	switch cal := strings.ToLower(attribute(r.time, "calendar")); cal {
	case "", "standard", "gregorian", "proleptic_gregorian", "julian", "utc", "none":
		if cal == "julian" || cal == "none" {
			return nil, fmt.Errorf("time variable %s: calendar %q is not that of observations", r.time.Name, cal)
		}
	default:
		return nil, fmt.Errorf("time variable %s: calendar %q is not that of observations", r.time.Name, shown(cal))
	}
	var u *units.Unit
	var base time.Time
	var err error
	if since(text) {
		u, base, err = parseSince(text)
	} else {
		if r.recipe.Time.Unit != "" {
			text = r.recipe.Time.Unit
		}
		if u, err = timeUnit(text); err == nil {
			s := clockSources{name: r.name, options: r.options}
			if r.record != nil {
				s.declared = r.record.Release.Declared
			}
			base, err = findBase(&r.recipe.Time, s)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("time variable %s: %w", r.time.Name, err)
	}
	var seconds float64
	t.day, seconds = dayOf(base)
	for k := range x {
		x[k] = seconds + u.Inside(x[k])
	}
	return x, nil
}

// fits tells whether a variable has a value for each row.
func (r *cfReader) fits(v *netcdf.Variable) bool {
	if len(v.Dimensions) != len(r.time.Dimensions) {
		return false
	}
	for i, d := range v.Dimensions {
		if d != r.time.Dimensions[i] {
			return false
		}
	}
	return v.Type != netcdf.Char
}

// match finds the variable a recipe's column means: by standard name, then by name,
// then by long name, and among equals the one whose unit can be converted. why says
// why a variable that was found cannot be used, or that there is none.
func (r *cfReader) match(c *ColumnRecipe, given map[*netcdf.Variable]bool) (*netcdf.Variable, *units.Unit, string) {
	names := c.names()
	var ways []func(v *netcdf.Variable) bool
	if c.StandardName != "" {
		// Of several with one standard name the one with a known name is meant.
		ways = append(ways, func(v *netcdf.Variable) bool {
			return attribute(v, "standard_name") == c.StandardName && contains(names, v.Name)
		})
	}
	if len(names) > 0 {
		ways = append(ways, func(v *netcdf.Variable) bool { return contains(names, v.Name) && r.standard(v, c) })
	}
	if c.StandardName != "" {
		ways = append(ways, func(v *netcdf.Variable) bool { return attribute(v, "standard_name") == c.StandardName })
	}
	fold := func(list []string, s string) bool {
		for _, n := range list {
			if strings.EqualFold(n, s) {
				return true
			}
		}
		return false
	}
	if len(names) > 0 {
		ways = append(ways, func(v *netcdf.Variable) bool { return fold(names, v.Name) && r.standard(v, c) })
	}
	if len(c.LongNames) > 0 {
		ways = append(ways, func(v *netcdf.Variable) bool { return fold(c.LongNames, attribute(v, "long_name")) })
	}
	if c.Number > 0 && c.Number <= len(r.f.Variables) {
		want := r.f.Variables[c.Number-1]
		ways = append(ways, func(v *netcdf.Variable) bool { return v == want })
	}
	why := ""
	for _, is := range ways {
		for _, v := range r.f.Variables {
			if given[v] || !is(v) {
				continue
			}
			if !r.fits(v) {
				if why == "" && len(v.Shape) > 0 {
					why = fmt.Sprintf("variable %s looks like %v but does not have one number for each time", shown(v.Name), c.Variable)
				}
				continue
			}
			dimension := units.None
			if c.Variable != sounding.NoVariable {
				dimension = c.Variable.Info().Dimension
			}
			text := c.Unit
			if text == "" {
				text = attribute(v, "units")
			}
			if text == "" && dimension != units.None {
				why = fmt.Sprintf("variable %s looks like %v but says no unit: name its unit in a recipe", shown(v.Name), c.Variable)
				continue
			}
			u, err := units.Lookup(text, dimension)
			if err != nil {
				why = fmt.Sprintf("variable %s looks like %v: %v", shown(v.Name), c.Variable, err)
				continue
			}
			return v, u, ""
		}
	}
	if why == "" && !c.Optional {
		why = "not in the file, which has " + r.variables()
	}
	return nil, nil, why
}

// standard tells whether the standard name of a variable, if it has one, does not
// speak against the column.
func (r *cfReader) standard(v *netcdf.Variable, c *ColumnRecipe) bool {
	s := attribute(v, "standard_name")
	return s == "" || c.StandardName == "" || s == c.StandardName
}

// values reads one variable, unpacked.
func (r *cfReader) values(v *netcdf.Variable, start, count []int64, rows int64, t *table) ([]float64, error) {
	x := make([]float64, rows)
	if _, err := v.Packing(); err != nil {
		f := lineFinding(quality.Syntax, sounding.Note, 0, 0)
		f.Sentence = fmt.Sprintf("%v: its numbers are taken as they are stored", err)
		t.findings = append(t.findings, f)
		return x, r.f.ReadFloat64(v, start, count, x)
	}
	return x, r.f.Packed(v, start, count, x)
}

// tokens applies the numbers a recipe calls missing.
func (r *cfReader) tokens(c *ColumnRecipe, x []float64) {
	for _, list := range [2][]string{r.recipe.Text.Missing, c.Missing} {
		for _, m := range list {
			token, ok := parseNumber([]byte(m), '.')
			if !ok {
				continue
			}
			for k := range x {
				if x[k] == token {
					x[k] = math.NaN()
				}
			}
		}
	}
}

// positions brings longitudes to -180 to 180 and makes numbers that cannot be a
// position missing, with a finding.
func positions(name string, v sounding.Variable, x []float64, t *table) {
	if v != sounding.Latitude && v != sounding.Longitude {
		return
	}
	limit := 90.0
	if v == sounding.Longitude {
		limit = 180
	}
	for k := range x {
		if v == sounding.Longitude && x[k] > 180 && x[k] <= 360 {
			x[k] -= 360
		}
		if math.Abs(x[k]) > limit {
			t.problems.value(k, k+1, 0, name, v, formatShort(x[k]), "of "+shown(name)+" cannot be a "+v.String())
			x[k] = math.NaN()
		}
	}
}

// infinite makes infinite values missing, with a finding.
func infinite(name string, variable sounding.Variable, x []float64, t *table) {
	for k := range x {
		if math.IsInf(x[k], 0) {
			t.problems.value(k, k+1, 0, name, variable, "infinity", "of "+shown(name)+" is no value")
			x[k] = math.NaN()
		}
	}
}

// extras keeps every other variable that has a value for each row.
func (r *cfReader) extras(t *table, given map[*netcdf.Variable]bool, start, count []int64, rows int64, take func([]float64) []float64, kept []int) error {
	for _, v := range r.f.Variables {
		if given[v] || len(t.extra) >= maxColumns {
			continue
		}
		e := sounding.Extra{Name: clean(v.Name), Unit: clean(attribute(v, "units"))}
		switch {
		case r.fits(v):
			x, err := r.values(v, start, count, rows, t)
			if err != nil {
				return err
			}
			e.Values = take(x)
		case v.Type == netcdf.Char && len(r.time.Shape) == 1 && len(v.Shape) == 2 && v.Dimensions[0] == r.time.Dimensions[0] && v.Shape[1] <= maxText:
			texts, err := r.f.Texts(v)
			if err != nil {
				return err
			}
			for k := range texts {
				texts[k] = clean(texts[k])
			}
			if kept != nil {
				texts = pick(texts, kept)
			}
			e.Text = texts
		default:
			continue
		}
		t.extra = append(t.extra, e)
	}
	return nil
}
