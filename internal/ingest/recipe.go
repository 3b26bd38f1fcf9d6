package ingest

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"sort"
	"strings"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/units"
)

// Formats of a source.
const (
	FormatText   = "text"
	FormatNetCDF = "netcdf"
	FormatIGRA   = "igra"
)

// Recipe describes how to read one kind of source. It is read from TOML, where
// unknown keys are refused; docs/recipes.md explains each key.
type Recipe struct {
	Name        string            `toml:"name"`
	Title       string            `toml:"title"`
	Format      string            `toml:"format"` // text, netcdf, igra, bufr or temp
	Text        TextRecipe        `toml:"text"`
	Preamble    PreambleRecipe    `toml:"preamble"`
	Time        TimeRecipe        `toml:"time"`
	Captures    []CaptureRecipe   `toml:"capture"`
	Columns     []ColumnRecipe    `toml:"column"`
	Attributes  []AttributeRecipe `toml:"attribute"` // netCDF: global attributes and scalar variables for the launch record
	Record      []ConstantRecipe  `toml:"record"`    // launch record items that hold for every source of this kind
	Recognise   []string          `toml:"recognise"` // regular expressions that each match one of the first 60 lines of such a source
	OnlyColumns bool              `toml:"only_columns"`
	Drop        []string          `toml:"drop"` // columns that are not kept, not even as extras

	sha string
}

// TextRecipe says how lines are cut into fields.
type TextRecipe struct {
	Delimiter string   `toml:"delimiter"` // one character, "tab", "whitespace" (default) or "fixed"
	Decimal   string   `toml:"decimal"`   // "." (default) or ","
	Encoding  string   `toml:"encoding"`  // auto (default), utf-8, latin-1, utf-16le, utf-16be
	Comment   []string `toml:"comment"`   // lines that begin so are comments
	Missing   []string `toml:"missing"`   // tokens for "no value"; numbers are compared as numbers, before any conversion
	Quote     string   `toml:"quote"`     // character around fields; "" none
	Serial    string   `toml:"serial"`    // column that holds the serial number of the radiosonde
}

// PreambleRecipe says what stands before the data rows.
type PreambleRecipe struct {
	Lines     int    `toml:"lines"`      // number of lines before the header row, or before the data
	Until     string `toml:"until"`      // regular expression of the last line of the preamble
	Header    bool   `toml:"header"`     // the next line names the columns
	HeaderRow string `toml:"header_row"` // regular expression of the line that names the columns, instead of lines and until
	Units     bool   `toml:"units"`      // the line after the header gives units
	SkipAfter int    `toml:"skip_after"` // lines between header or units and the data
}

// TimeRecipe says what the clock of the source means.
type TimeRecipe struct {
	Kind         string   `toml:"kind"`           // utc, local, time-of-day or elapsed
	Column       string   `toml:"column"`         // one column by name or number, or:
	Columns      []string `toml:"columns"`        // several, joined by one blank
	Layout       string   `toml:"layout"`         // of the joined text: "YYYY-MM-DD hh:mm:ss"; "" is auto
	Zone         string   `toml:"zone"`           // IANA name, for local and time-of-day
	Unit         string   `toml:"unit"`           // of elapsed: s (default), ms, min, h, mm:ss or hh:mm:ss
	Base         string   `toml:"base"`           // of elapsed: RFC 3339 instant, where it is the same for every source
	Date         string   `toml:"date"`           // of time-of-day: YYYY-MM-DD, where it is the same for every source
	DateFromName string   `toml:"date_from_name"` // regular expression on the source's name; its groups are joined and read by date_layout
	DateLayout   string   `toml:"date_layout"`    // default YYYYMMDD
	JumpLimit    float64  `toml:"jump_limit_s"`   // forward steps above this are looked at as clock jumps; default 60
}

// CaptureRecipe takes a text out of preamble and comment lines.
type CaptureRecipe struct {
	Pattern string `toml:"pattern"` // regular expression; group "value" or the first group is the text, group "name" the item's name
	Name    string `toml:"name"`    // name of the header item
	Field   string `toml:"field"`   // launch record item to fill, or time.date, time.base, time.zone
	Unit    string `toml:"unit"`    // of a number without one
	Layout  string `toml:"layout"`  // of an instant or date
	Zone    string `toml:"zone"`    // IANA zone of an instant without one; default UTC
}

// ColumnRecipe ties one column of the source to a variable.
type ColumnRecipe struct {
	Name         string            `toml:"name"`  // header text, with or without its unit in brackets
	Names        []string          `toml:"names"` // alternatives
	StandardName string            `toml:"standard_name"`
	LongNames    []string          `toml:"long_names"` // netCDF long_name, compared without case
	Number       int               `toml:"number"`     // counted from 1
	Start        int               `toml:"start"`      // first character, counted from 1, of fixed columns
	Width        int               `toml:"width"`      // characters
	Variable     sounding.Variable `toml:"variable"`   // what it is, or:
	Extra        string            `toml:"extra"`      // kept under this name
	Unit         string            `toml:"unit"`       // "" takes it from the unit row, the header text or the attribute
	Hemisphere   string            `toml:"hemisphere"` // column that holds N, S, E or W
	Scale        float64           `toml:"scale"`      // the stored number is multiplied by this first; 0 is not set
	Optional     bool              `toml:"optional"`   // the source may lack it
	Missing      []string          `toml:"missing"`    // tokens of this column alone, in addition
}

// AttributeRecipe fills a launch record item from a global attribute or a scalar
// variable of a netCDF file.
type AttributeRecipe struct {
	Names        []string `toml:"names"`         // of the attribute or the variable
	StandardName string   `toml:"standard_name"` // of the variable
	Field        string   `toml:"field"`
	Unit         string   `toml:"unit"` // of a number without one
	Layout       string   `toml:"layout"`
}

// ConstantRecipe sets a launch record item.
type ConstantRecipe struct {
	Field string `toml:"field"`
	Value string `toml:"value"`
}

// ReadRecipe reads a recipe from TOML and checks it; name is what messages call it.
func ReadRecipe(name string, text []byte) (*Recipe, error) {
	r := &Recipe{}
	if len(text) > 1<<20 {
		return nil, fmt.Errorf("%s: %d bytes is more than a recipe of 1 MiB", name, len(text))
	}
	if err := sounding.DecodeTOML(name, text, r); err != nil {
		return nil, err
	}
	if err := r.Validate(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	sum := sha256.Sum256(text)
	r.sha = hex.EncodeToString(sum[:])
	return r, nil
}

// Identity returns name and SHA-256 of the recipe, as Source.Recipe holds it.
func (r *Recipe) Identity() string {
	if r.sha == "" {
		return r.Name
	}
	return r.Name + " " + r.sha
}

// timeKinds are the bases of time.
var timeKinds = []string{"utc", "local", "time-of-day", "elapsed"}

var encodings = []string{"auto", "utf-8", "latin-1", "utf-16le", "utf-16be"}

// Validate returns all errors of the recipe together, in the order of the file.
func (r *Recipe) Validate() error {
	var errs []error
	add := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	pattern := func(key, text string) {
		if text == "" {
			return
		}
		if _, err := regexp.Compile(text); err != nil {
			add("%s is no regular expression: %v", key, err)
		}
	}
	zone := func(key, name string) {
		if name == "" {
			return
		}
		if _, err := loadZone(name); err != nil {
			add("%s: %v", key, err)
		}
	}
	layout := func(key, text string, needDate bool) {
		if text == "" {
			return
		}
		if l, err := compileLayout(text); err != nil {
			add("%s: %v", key, err)
		} else if needDate && !l.hasDate {
			add("%s %q has no full date", key, text)
		}
	}
	if r.Name == "" {
		add("name is missing")
	}
	switch r.Format {
	case FormatText, FormatNetCDF, FormatIGRA, FormatBUFR, FormatTEMP:
	case "":
		add("format is missing: want %s", formatWords)
	default:
		add("format %q is not known: want %s", r.Format, formatWords)
	}
	if _, err := delimiterOf(r.Text.Delimiter); err != nil {
		add("text.delimiter: %v", err)
	}
	switch r.Text.Decimal {
	case "", ".", ",":
	default:
		add("text.decimal %q: want \".\" or \",\"", r.Text.Decimal)
	}
	if r.Text.Decimal == "," && r.Text.Delimiter == "," {
		add("text.delimiter and text.decimal are both a comma")
	}
	if e := r.Text.Encoding; e != "" && !contains(encodings, e) {
		add("text.encoding %q: want one of %s", e, strings.Join(encodings, ", "))
	}
	if len(r.Text.Quote) > 1 {
		add("text.quote %q: want one character or none", r.Text.Quote)
	}
	if r.Preamble.Lines < 0 || r.Preamble.SkipAfter < 0 {
		add("preamble.lines and preamble.skip_after cannot be negative")
	}
	for i, p := range r.Recognise {
		pattern(fmt.Sprintf("recognise %d", i+1), p)
	}
	pattern("preamble.until", r.Preamble.Until)
	pattern("preamble.header_row", r.Preamble.HeaderRow)
	if r.Preamble.HeaderRow != "" && (r.Preamble.Until != "" || r.Preamble.Lines > 0) {
		add("preamble.header_row stands instead of lines and until: give one of them")
	}
	pattern("time.date_from_name", r.Time.DateFromName)
	zone("time.zone", r.Time.Zone)
	if r.Time.Kind != "" && !contains(timeKinds, r.Time.Kind) {
		add("time.kind %q: want one of %s", r.Time.Kind, strings.Join(timeKinds, ", "))
	}
	if r.Format == FormatText {
		if r.Time.Kind == "" {
			add("time.kind is missing: want one of %s", strings.Join(timeKinds, ", "))
		}
		if (r.Time.Column == "") == (len(r.Time.Columns) == 0) {
			add("time.column or time.columns must name where the time stands")
		}
	}
	captured := false
	for _, c := range r.Captures {
		captured = captured || c.Field == "time.zone"
	}
	if r.Time.Kind == "local" && r.Time.Zone == "" && !captured {
		add("time.zone is missing: local time needs an IANA zone such as Europe/Zurich, or a capture of time.zone")
	}
	if r.Time.Kind == "utc" || r.Time.Kind == "local" {
		layout("time.layout", r.Time.Layout, true)
	} else {
		layout("time.layout", r.Time.Layout, false)
	}
	layout("time.date_layout", r.Time.DateLayout, true)
	if r.Time.Kind == "elapsed" {
		if _, ok := elapsedUnits[r.Time.Unit]; !ok {
			if _, err := units.Lookup(r.Time.Unit, units.Time); err != nil {
				add("time.unit: %v, and mm:ss, hh:mm:ss", err)
			}
		}
	}
	if r.Time.Base != "" {
		if _, err := time.Parse(time.RFC3339Nano, r.Time.Base); err != nil {
			add("time.base %q: want an instant such as 2031-06-03T23:04:11Z", r.Time.Base)
		}
	}
	if r.Time.Date != "" {
		if _, err := time.Parse(time.DateOnly, r.Time.Date); err != nil {
			add("time.date %q: want a date such as 2031-06-03", r.Time.Date)
		}
	}
	if r.Time.JumpLimit < 0 {
		add("time.jump_limit_s cannot be negative")
	}
	for i, c := range r.Captures {
		key := fmt.Sprintf("capture %d", i+1)
		if c.Pattern == "" {
			add("%s: pattern is missing", key)
		}
		pattern(key+": pattern", c.Pattern)
		if re, err := regexp.Compile(c.Pattern); err == nil && c.Pattern != "" && re.NumSubexp() == 0 {
			add("%s: pattern has no group ( ) for the text to take", key)
		}
		zone(key+": zone", c.Zone)
		f, known := sounding.FieldByPath(c.Field)
		switch {
		case c.Field == "" || c.Field == "time.base" || c.Field == "time.zone":
			layout(key+": layout", c.Layout, false)
		case c.Field == "time.date":
			layout(key+": layout", c.Layout, true)
		case !known:
			add("%s: %q is no item of the launch record: %s", key, c.Field, nearestField(c.Field))
		case f.Instant != nil:
			layout(key+": layout", c.Layout, true)
		case f.Number != nil && c.Unit != "":
			if _, err := units.Lookup(c.Unit, f.Dimension); err != nil {
				add("%s: %v", key, err)
			}
		}
	}
	seen := map[sounding.Variable]int{}
	for i := range r.Columns {
		c := &r.Columns[i]
		key := fmt.Sprintf("column %d", i+1)
		ways := 0
		if c.Name != "" || len(c.Names) > 0 || c.StandardName != "" || len(c.LongNames) > 0 {
			ways++
		}
		if c.Number != 0 {
			ways++
		}
		if c.Start != 0 {
			ways++
		}
		if ways == 0 || c.Number < 0 || c.Start < 0 || c.Width < 0 {
			add("%s: want name, names, number, or start and width", key)
		}
		if (c.Start > 0) != (c.Width > 0) {
			add("%s: start and width belong together", key)
		}
		if c.Start > 1<<20 || c.Width > 1<<20 || c.Number > maxColumns {
			add("%s: beyond what a line can hold", key)
		}
		if (c.StandardName != "" || len(c.LongNames) > 0) && r.Format != FormatNetCDF {
			add("%s: standard_name and long_names are for netCDF", key)
		}
		if c.Variable != sounding.NoVariable && c.Extra != "" {
			add("%s: variable and extra exclude each other", key)
		}
		if c.Variable != sounding.NoVariable {
			if before := seen[c.Variable]; before > 0 && r.Format == FormatText {
				add("%s: %v is already column %d", key, c.Variable, before)
			}
			seen[c.Variable] = i + 1
			if c.Unit != "" {
				if _, err := units.Lookup(c.Unit, c.Variable.Info().Dimension); err != nil {
					add("%s: %v", key, err)
				}
			}
		}
	}
	for i, c := range r.Attributes {
		f, known := sounding.FieldByPath(c.Field)
		switch {
		case !known:
			add("attribute %d: %q is no item of the launch record: %s", i+1, c.Field, nearestField(c.Field))
		case len(c.Names) == 0 && c.StandardName == "":
			add("attribute %d: want names or standard_name", i+1)
		case f.Number != nil && c.Unit != "":
			if _, err := units.Lookup(c.Unit, f.Dimension); err != nil {
				add("attribute %d: %v", i+1, err)
			}
		case f.Instant != nil:
			layout(fmt.Sprintf("attribute %d: layout", i+1), c.Layout, true)
		}
	}
	for i, c := range r.Record {
		if err := SetField(sounding.NewLaunchRecord(), c.Field, c.Value); err != nil {
			add("record %d: %v", i+1, err)
		}
	}
	return errors.Join(errs...)
}

// names returns all header texts the column may stand under.
func (c *ColumnRecipe) names() []string {
	if c.Name == "" {
		return c.Names
	}
	return append([]string{c.Name}, c.Names...)
}

// label says which column is meant, for messages.
func (c *ColumnRecipe) label() string {
	switch {
	case c.Name != "" || len(c.Names) > 0:
		return fmt.Sprintf("%q", c.names()[0])
	case c.Number > 0:
		return fmt.Sprintf("number %d", c.Number)
	case c.Start > 0:
		return fmt.Sprintf("at character %d", c.Start)
	case c.StandardName != "":
		return c.StandardName
	}
	return c.Variable.String()
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

//go:embed recipes/*.toml
var recipeFiles embed.FS

// ShippedRecipes lists the names of the recipes that come with leadline.
func ShippedRecipes() []string {
	entries, err := fs.ReadDir(recipeFiles, "recipes")
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), path.Ext(e.Name())))
	}
	sort.Strings(names)
	return names
}

// ShippedRecipe returns the recipe of that name and its TOML text.
func ShippedRecipe(name string) (*Recipe, []byte, error) {
	text, err := recipeFiles.ReadFile("recipes/" + name + ".toml")
	if err != nil {
		return nil, nil, fmt.Errorf("no recipe is called %q: shipped are %s; give a file to use your own, or let one be guessed from the source", name, strings.Join(ShippedRecipes(), ", "))
	}
	r, err := ReadRecipe(name+".toml", text)
	return r, text, err
}
