package ingest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"path"
	"sort"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/units"
)

// maxRecord bounds a launch record file, in bytes.
const maxRecord = 1 << 20

// entry is one item of a launch record file.
type entry struct {
	path  string
	value any // string, float64, bool, time.Time, toml.LocalDateTime, toml.LocalDate or toml.LocalTime
	line  int
}

// ReadRecord reads a launch record from TOML or JSON; name is what messages call it.
// Numbers stand in the unit their key names, or are texts with their unit ("29.92
// inHg", "46 12.5 N"); keys are the paths of sounding.RecordFields, also without
// their unit or with another one; instants are UTC or carry a zone, or are local to
// the zone that time_zone names. Unknown keys and values that cannot be read are
// refused, all of them in one error, each with its line. There is no record with an
// error. Findings are about what was read in one of two possible ways.
func ReadRecord(name string, text []byte) (*sounding.LaunchRecord, []sounding.Finding, error) {
	name = path.Base(strings.ReplaceAll(name, "\\", "/"))
	if len(text) > maxRecord {
		return nil, nil, fmt.Errorf("%s: %d bytes is more than a launch record of %d MiB", name, len(text), maxRecord>>20)
	}
	encoding, mark := sniffEncoding(text)
	plain, err := io.ReadAll(decoded(bytes.NewReader(text), encoding, mark))
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	if encoding == "latin-1" {
		plain = []byte(textOf(plain, true))
	}
	var entries []entry
	var ticks []sounding.Tick
	if trimmed := bytes.TrimLeft(plain, " \t\r\n"); len(trimmed) > 0 && trimmed[0] == '{' {
		entries, ticks, err = jsonEntries(plain)
	} else {
		entries, ticks, err = tomlEntries(plain)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	r := sounding.NewLaunchRecord()
	r.Ticks = ticks
	var errs []error
	var zone *time.Location
	zoneName := ""
	for _, e := range entries {
		if e.path != "time_zone" {
			continue
		}
		s, ok := e.value.(string)
		if !ok {
			errs = append(errs, fmt.Errorf("%s: line %d: time_zone: want an IANA name such as \"Europe/Zurich\"", name, e.line))
			continue
		}
		if zone, err = loadZone(s); err != nil {
			errs = append(errs, fmt.Errorf("%s: line %d: time_zone: %w", name, e.line, err))
		}
		zoneName = s
	}
	var findings []sounding.Finding
	for _, e := range entries {
		if e.path == "time_zone" {
			continue
		}
		f, unit, ok := fieldOf(e.path)
		if !ok {
			errs = append(errs, fmt.Errorf("%s: line %d: unknown key %q: %s", name, e.line, shown(e.path), nearestField(e.path)))
			continue
		}
		if before := r.Lines[f.Path]; before > 0 {
			errs = append(errs, fmt.Errorf("%s: line %d: %s is given already in line %d", name, e.line, f.Path, before))
			continue
		}
		note, err := setValue(r, &f, unit, e, zone, zoneName)
		if err != nil {
			errs = append(errs, fmt.Errorf("%s: line %d: %s: %w", name, e.line, e.path, err))
			continue
		}
		r.Lines[f.Path] = e.line
		if note != "" {
			findings = append(findings, fieldFinding(&f, r, sounding.Note, note))
		}
	}
	if len(errs) > 0 {
		if len(errs) > 30 {
			errs = append(errs[:30], fmt.Errorf("%s: and %d more items that cannot be read", name, len(errs)-30))
		}
		return nil, nil, errors.Join(errs...)
	}
	sounding.NumberIDs(findings)
	return r, findings, nil
}

// setValue sets one item; note is a sentence where the value had two readings.
func setValue(r *sounding.LaunchRecord, f *sounding.RecordField, unit string, e entry, zone *time.Location, zoneName string) (note string, err error) {
	switch {
	case f.Number != nil:
		var x float64
		switch v := e.value.(type) {
		case float64:
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return "", errors.New("not a number: leave the item out where it is not known")
			}
			if unit == "" {
				return "", fmt.Errorf("%s has no unit: write it as a text with its unit, or under the key %s", formatShort(v), f.Path)
			}
			u, err := units.Lookup(unit, f.Dimension)
			if err != nil {
				return "", err
			}
			x = u.Inside(v)
		case string:
			if strings.TrimSpace(v) == "" {
				return "", nil
			}
			if x, err = units.Parse(v, f.Dimension, unit); err != nil {
				return "", err
			}
		default:
			return "", fmt.Errorf("want a number or a text with its unit, such as %q", exampleOf(f))
		}
		if f.Dimension == units.Latitude && math.Abs(x) > 90 {
			return "", fmt.Errorf("%s is no latitude: it lies between -90 and 90 degrees", formatShort(x))
		}
		if f.Dimension == units.Longitude {
			if x > 180 && x <= 360 {
				x -= 360
			}
			if math.Abs(x) > 180 {
				return "", fmt.Errorf("%s is no longitude: it lies between -180 and 180 degrees", formatShort(x))
			}
		}
		*f.Number(r) = sounding.Number(x)
	case f.Instant != nil:
		utcKey := strings.HasSuffix(e.path, "_utc")
		in := zone
		if utcKey {
			in = time.UTC
		}
		var t time.Time
		switch v := e.value.(type) {
		case time.Time:
			t = v.UTC()
		case toml.LocalDateTime:
			if in == nil {
				return "", fmt.Errorf("%s has no zone: end it in Z for UTC or in an offset such as +02:00, or give time_zone", v)
			}
			t = v.AsTime(in).UTC()
			note = localNote(v.String(), utcKey, zone, zoneName, t)
		case string:
			if strings.TrimSpace(v) == "" {
				return "", nil
			}
			if t, err = parseInstant(v, in); err != nil {
				return "", err
			}
			if _, err := parseInstant(v, nil); err != nil {
				note = localNote(v, utcKey, zone, zoneName, t)
			}
		default:
			return "", errors.New("want an instant with date, time and zone, such as 2031-06-03T23:04:11Z")
		}
		if y := t.Year(); y < 1900 || y > 2200 {
			return "", fmt.Errorf("the year %d cannot be meant", y)
		}
		*f.Instant(r) = t
	default:
		text := ""
		switch v := e.value.(type) {
		case string:
			text = strings.TrimSpace(v)
		case bool:
			text = "no"
			if v {
				text = "yes"
			}
		case float64:
			text = formatShort(v)
			if f.Path == "site.wmo_number" && v >= 0 && v < 1e5 && v == math.Trunc(v) {
				text = fmt.Sprintf("%05d", int(v))
			}
			if v == math.Trunc(v) && math.Abs(v) < 1e15 && f.Path != "site.wmo_number" {
				text = fmt.Sprintf("%d", int64(v))
			}
		default:
			return "", errors.New("want a text")
		}
		if len(text) > maxRecordText {
			return "", fmt.Errorf("%d bytes, more than %d", len(text), maxRecordText)
		}
		if f.Path == "notes" {
			// Lines of a note are kept.
			var lines []string
			for _, l := range strings.Split(text, "\n") {
				lines = append(lines, clean(l))
			}
			*f.Text(r) = strings.Join(lines, "\n")
			return "", nil
		}
		word, err := wordOf(f.Path, text)
		if err != nil {
			return "", err
		}
		*f.Text(r) = word
	}
	return note, nil
}

// localNote says how an instant without a zone was read.
func localNote(text string, utcKey bool, zone *time.Location, zoneName string, t time.Time) string {
	switch {
	case utcKey && zone != nil && zone != time.UTC:
		return fmt.Sprintf("%s has no zone and its key says UTC, while time_zone is %s: it is read as UTC; end it in Z to say so, or take _utc off the key where it is local", text, zoneName)
	case utcKey:
		return ""
	}
	local := t.In(zone)
	for _, d := range []time.Duration{-time.Hour, time.Hour} {
		if other := t.Add(d).In(zone); other.Hour() == local.Hour() && other.Minute() == local.Minute() && other.Day() == local.Day() {
			return fmt.Sprintf("%s stands twice in %s, where the clock is set back: it is read as %s; write it with its offset to be sure", text, zoneName, t.Format("2006-01-02T15:04:05Z"))
		}
	}
	return ""
}

func exampleOf(f *sounding.RecordField) string {
	switch f.Dimension {
	case units.Pressure:
		return "1013.2 hPa"
	case units.Temperature:
		return "15.2 °C"
	case units.Humidity:
		return "64 %"
	case units.Latitude:
		return "46 12.5 N"
	case units.Longitude:
		return "6 8.8 E"
	case units.Speed:
		return "5 m/s"
	case units.Mass:
		return "350 g"
	case units.Frequency:
		return "403.5 MHz"
	case units.Angle:
		return "270 deg"
	}
	return "412 m"
}

// fieldFinding is a finding about an item of the launch record.
func fieldFinding(f *sounding.RecordField, r *sounding.LaunchRecord, severity sounding.Severity, sentence string) sounding.Finding {
	line := 0
	if r != nil {
		line = r.Lines[f.Path]
	}
	n := lineFinding(quality.LaunchRecord, severity, line, line)
	n.Field = f.Path
	n.ID = fmt.Sprintf("%s.%s.%s", n.Check, n.Variable, f.Path)
	n.Sentence = sentence
	return n
}

// tomlEntries flattens a TOML text. Values come from the decoder, lines from its parser.
func tomlEntries(text []byte) ([]entry, []sounding.Tick, error) {
	var root map[string]any
	if err := toml.Unmarshal(text, &root); err != nil {
		var d *toml.DecodeError
		if errors.As(err, &d) {
			row, column := d.Position()
			return nil, nil, fmt.Errorf("line %d, column %d: %v", row, column, d)
		}
		return nil, nil, err
	}
	lines := map[string]int{}
	var p unstable.Parser
	p.Reset(text)
	table := ""
	var tickLines []int
	for p.NextExpression() {
		e := p.Expression()
		var key []string
		line := 0
		for k := e.Key(); k.Next(); {
			n := k.Node()
			key = append(key, string(n.Data))
			if line == 0 {
				line = p.Shape(n.Raw).Start.Line
			}
		}
		full := strings.Join(key, ".")
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = full
			lines[full] = line
			if full == tickTable {
				tickLines = append(tickLines, line)
			}
		case unstable.KeyValue:
			if table != "" {
				full = table + "." + full
			}
			lines[full] = line
		}
	}
	ticks, err := ticksOf(root[tickTable], tickLines...)
	if err != nil {
		return nil, nil, err
	}
	delete(root, tickTable)
	var out []entry
	if err := flatten("", root, lines, 0, &out); err != nil {
		return nil, nil, err
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].line != out[j].line {
			return out[i].line < out[j].line
		}
		return out[i].path < out[j].path
	})
	return out, ticks, nil
}

// flatten walks nested tables into entries.
func flatten(prefix string, table map[string]any, lines map[string]int, line int, out *[]entry) error {
	keys := make([]string, 0, len(table))
	for k := range table {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		full := k
		if prefix != "" {
			full = prefix + "." + k
		}
		at := line
		if l := lines[full]; l > 0 {
			at = l
		}
		switch v := table[k].(type) {
		case map[string]any:
			if strings.Count(full, ".") > 3 {
				return fmt.Errorf("line %d: tables are nested deeper than a launch record has them", at)
			}
			if err := flatten(full, v, lines, at, out); err != nil {
				return err
			}
		case int64:
			*out = append(*out, entry{full, float64(v), max(at, 1)})
		default:
			*out = append(*out, entry{full, v, max(at, 1)})
		}
	}
	return nil
}

// jsonEntries flattens a JSON text.
func jsonEntries(text []byte) ([]entry, []sounding.Tick, error) {
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	line := func() int {
		at := min(int(d.InputOffset()), len(text))
		return 1 + bytes.Count(text[:at], []byte{'\n'})
	}
	wrong := func(err error) error {
		var s *json.SyntaxError
		if errors.As(err, &s) {
			return fmt.Errorf("line %d: %v", 1+bytes.Count(text[:min(int(s.Offset), len(text))], []byte{'\n'}), err)
		}
		if err == io.EOF || err == io.ErrUnexpectedEOF {
			return fmt.Errorf("line %d: the file ends too early", line())
		}
		return fmt.Errorf("line %d: %w", line(), err)
	}
	var out []entry
	var ticks []sounding.Tick
	seen := map[string]bool{}
	var object func(prefix string, depth int) error
	object = func(prefix string, depth int) error {
		if depth > 4 {
			return fmt.Errorf("line %d: objects are nested deeper than a launch record has them", line())
		}
		for d.More() {
			k, err := d.Token()
			if err != nil {
				return wrong(err)
			}
			key, _ := k.(string)
			if prefix != "" {
				key = prefix + "." + key
			}
			if seen[key] {
				return fmt.Errorf("line %d: %s stands twice", line(), shown(key))
			}
			seen[key] = true
			if len(seen) > 1000 {
				return fmt.Errorf("line %d: more items than a launch record has", line())
			}
			at := line()
			if key == tickTable {
				var list any
				if err := d.Decode(&list); err != nil {
					return wrong(err)
				}
				if ticks, err = ticksOf(list, at); err != nil {
					return err
				}
				continue
			}
			v, err := d.Token()
			if err != nil {
				return wrong(err)
			}
			switch v := v.(type) {
			case json.Delim:
				if v != '{' {
					return fmt.Errorf("line %d: %s is a list: want one value", at, shown(key))
				}
				if err := object(key, depth+1); err != nil {
					return err
				}
			case json.Number:
				x, err := v.Float64()
				if err != nil {
					return fmt.Errorf("line %d: %s: %s is no number", at, shown(key), shown(v.String()))
				}
				out = append(out, entry{key, x, at})
			case nil: // null is "not set"
			default:
				out = append(out, entry{key, v, at})
			}
		}
		if _, err := d.Token(); err != nil {
			return wrong(err)
		}
		return nil
	}
	if _, err := d.Token(); err != nil {
		return nil, nil, wrong(err)
	}
	if err := object("", 0); err != nil {
		return nil, nil, err
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, nil, fmt.Errorf("line %d: something follows the launch record", line())
	}
	return out, ticks, nil
}

// WriteRecord writes a launch record as TOML for editing: every item in the order of
// sounding.RecordFields, those that are not set commented out, then the ticks of the
// launch list. ReadRecord gives the same record back.
func WriteRecord(r *sounding.LaunchRecord) []byte {
	var b bytes.Buffer
	b.WriteString("# Launch record. Numbers are in the unit at the end of their key; a text may carry its\n# own unit, as \"29.92 inHg\" or \"46 12.5 N\". Leave out, or leave commented, what is not known.\n")
	table := ""
	write := func(f *sounding.RecordField) {
		key := f.Path
		if t, k, ok := strings.Cut(f.Path, "."); ok {
			if t != table {
				table = t
				fmt.Fprintf(&b, "\n[%s]\n", t)
			}
			key = k
		}
		switch {
		case f.Number != nil:
			if x := *f.Number(r); x.Set() {
				fmt.Fprintf(&b, "%s = %s\n", key, tomlFloat(x.Value()))
				return
			}
			fmt.Fprintf(&b, "# %s = \"%s\"  # %s\n", key, exampleOf(f), f.Label)
		case f.Instant != nil:
			if t := *f.Instant(r); !t.IsZero() {
				fmt.Fprintf(&b, "%s = %s\n", key, t.UTC().Format("2006-01-02T15:04:05.999999999Z"))
				return
			}
			fmt.Fprintf(&b, "# %s = 2031-06-03T23:04:11Z  # %s\n", key, f.Label)
		default:
			if s := *f.Text(r); s != "" {
				fmt.Fprintf(&b, "%s = %s\n", key, tomlText(s))
				return
			}
			hint := ""
			if list := choices[f.Path]; list != nil {
				hint = strings.Join(list, " or ")
			}
			fmt.Fprintf(&b, "# %s = \"%s\"  # %s\n", key, hint, f.Label)
		}
	}
	// TOML wants keys without a table first.
	for _, bare := range []bool{true, false} {
		for i := range sounding.RecordFields {
			if f := &sounding.RecordFields[i]; strings.Contains(f.Path, ".") != bare {
				write(f)
			}
		}
	}
	writeTicks(&b, r.Ticks)
	return b.Bytes()
}

func tomlFloat(x float64) string {
	s := formatShort(x)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s
}

// tomlText quotes a text as a TOML basic string.
func tomlText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString("\\n")
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, "\\u%04X", r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
