package ingest

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/units"
)

// captures takes header items and launch record items out of preamble and comment
// lines.
type captures struct {
	recipes  []CaptureRecipe
	patterns []*regexp.Regexp
	items    []sounding.Item
	record   *sounding.LaunchRecord // nil until something was captured
	sources  clockSources
	held     []heldInstant // instants that may wait for a date
	findings []sounding.Finding
	done     map[string]bool
}

type heldInstant struct {
	field sounding.RecordField
	c     *CaptureRecipe
	text  string
	line  int
}

func newCaptures(r *Recipe) (*captures, error) {
	c := &captures{recipes: r.Captures, done: map[string]bool{}}
	for i := range r.Captures {
		re, err := regexp.Compile(r.Captures[i].Pattern)
		if err != nil {
			return nil, fmt.Errorf("capture %d: %w", i+1, err)
		}
		c.patterns = append(c.patterns, re)
	}
	for _, k := range r.Record {
		if err := SetField(c.launch(), k.Field, k.Value); err != nil {
			return nil, err
		}
	}
	return c, nil
}

func (c *captures) launch() *sounding.LaunchRecord {
	if c.record == nil {
		c.record = sounding.NewLaunchRecord()
	}
	return c.record
}

// line looks at one line of the preamble or one comment.
func (c *captures) line(text string, number int) {
	if len(text) > 4096 {
		text = strings.ToValidUTF8(text[:4096], "")
	}
	for i, re := range c.patterns {
		m := re.FindStringSubmatch(text)
		if len(m) < 2 {
			continue
		}
		recipe := &c.recipes[i]
		value, name := "", recipe.Name
		named := false
		for g, group := range re.SubexpNames() {
			switch group {
			case "value":
				value, named = m[g], true
			case "name":
				name = m[g]
			}
		}
		if !named {
			value = m[1]
		}
		value = strings.TrimSpace(value)
		if name == "" {
			name = recipe.Field
		}
		if name == "" {
			name = fmt.Sprintf("capture_%d", i+1)
		}
		if len(c.items) < maxItems {
			c.items = append(c.items, sounding.Item{Name: shown(name), Text: clean(value), Line: number})
		}
		c.set(recipe, value, number)
	}
}

// clean is a captured text without control characters, of at most 1000 bytes.
func clean(s string) string {
	if len(s) > 1000 {
		s = strings.ToValidUTF8(s[:1000], "")
	}
	return strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0x7f || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
}

func (c *captures) set(recipe *CaptureRecipe, value string, line int) {
	field := recipe.Field
	if field == "" || c.done[field] || isMissingToken([]byte(value)) && field != "site.name" {
		return
	}
	switch field {
	case "time.date":
		c.sources.date, c.sources.dateForm = value, recipe.Layout
		c.done[field] = true
		return
	case "time.zone":
		c.sources.clockZone = value
		c.done[field] = true
		return
	case "time.base":
		c.sources.base, c.sources.layout, c.sources.zone = value, recipe.Layout, recipe.Zone
		c.done[field] = true
		return
	}
	f, ok := sounding.FieldByPath(field)
	if !ok {
		return
	}
	c.done[field] = true
	switch {
	case f.Instant != nil:
		c.held = append(c.held, heldInstant{f, recipe, value, line})
		return
	case f.Text != nil:
		*f.Text(c.launch()) = clean(value)
	case f.Number != nil:
		unit := recipe.Unit
		if unit == "" {
			unit = units.Inner(f.Dimension).Name
		}
		x, err := units.Parse(value, f.Dimension, unit)
		if err != nil {
			c.unreadable(f, value, line, err)
			return
		}
		*f.Number(c.launch()) = sounding.Number(x)
	}
	c.record.Lines[field] = line
}

func (c *captures) unreadable(f sounding.RecordField, value string, line int, err error) {
	n := lineFinding(quality.Syntax, sounding.Note, line, line)
	n.Field = f.Path
	n.Sentence = fmt.Sprintf("line %d: %s %q could not be read: %v", line, f.Label, shown(value), err)
	c.findings = append(c.findings, n)
}

// finish reads the instants, once the date is known.
func (c *captures) finish() {
	for _, h := range c.held {
		t, err := readInstant(h.text, h.c.Layout, h.c.Zone, c.sources.date, c.sources.dateForm)
		if err != nil {
			c.unreadable(h.field, h.text, h.line, err)
			continue
		}
		*h.field.Instant(c.launch()) = t
		c.record.Lines[h.field.Path] = h.line
	}
	c.held = nil
	if c.record != nil {
		c.sources.declared = c.record.Release.Declared
		if c.sources.declared.IsZero() {
			c.sources.declared = time.Time{}
		}
	}
}
