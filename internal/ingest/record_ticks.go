package ingest

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"leadline/internal/sounding"
)

// tickTable is the table of a launch record that holds one step of the launch list done.
const tickTable = "tick"

// maxTicks bounds the ticks of one launch record.
const maxTicks = 1000

// ticksOf reads the list of ticks of a launch record; lines are where each begins, or one
// where the list does. A tick
// names its step, its instant and who made it; a wrong one is an error that says which.
func ticksOf(value any, lines ...int) ([]sounding.Tick, error) {
	if value == nil {
		return nil, nil
	}
	line := 1
	if len(lines) > 0 {
		line = max(lines[0], 1)
	}
	list, ok := value.([]any)
	if !ok {
		return nil, fmt.Errorf("line %d: %s is one table: write [[tick]] with two brackets for each step that was ticked", line, tickTable)
	}
	if len(list) > maxTicks {
		return nil, fmt.Errorf("line %d: %d ticks are more than the %d a launch record may have", line, len(list), maxTicks)
	}
	out := make([]sounding.Tick, 0, len(list))
	for i, v := range list {
		if i < len(lines) {
			line = lines[i]
		}
		wrong := func(format string, args ...any) error {
			return fmt.Errorf("line %d: tick %d: %s", line, i+1, fmt.Sprintf(format, args...))
		}
		row, ok := v.(map[string]any)
		if !ok {
			return nil, wrong("want a table with step, at_utc and who")
		}
		var t sounding.Tick
		for key, v := range row {
			if key == "at_utc" {
				switch v := v.(type) {
				case time.Time:
					t.At = v.UTC()
				case toml.LocalDateTime:
					t.At = v.AsTime(time.UTC)
				case string:
					at, err := parseInstant(v, time.UTC)
					if err != nil {
						return nil, wrong("at_utc: %v", err)
					}
					t.At = at.UTC()
				default:
					return nil, wrong("at_utc: want an instant such as 2031-06-03T22:41:00Z")
				}
				if y := t.At.Year(); y < 1900 || y > 2200 {
					return nil, wrong("at_utc: the year %d cannot be meant", y)
				}
				continue
			}
			into := map[string]*string{"step": &t.Step, "text": &t.Text, "who": &t.Who, "note": &t.Note}[key]
			if into == nil {
				return nil, wrong("unknown key %q: want step, text, at_utc, who or note", shown(key))
			}
			text, ok := v.(string)
			if !ok {
				return nil, wrong("%s: want a text", key)
			}
			if len(text) > maxRecordText {
				return nil, wrong("%s: %d bytes, more than %d", key, len(text), maxRecordText)
			}
			*into = clean(strings.TrimSpace(text))
		}
		if t.Step == "" {
			return nil, wrong("it names no step")
		}
		out = append(out, t)
	}
	return out, nil
}

// writeTicks writes ticks as TOML tables.
func writeTicks(b *bytes.Buffer, ticks []sounding.Tick) {
	for _, t := range ticks {
		fmt.Fprintf(b, "\n[[%s]]\nstep = %s\n", tickTable, tomlText(t.Step))
		if t.Text != "" {
			fmt.Fprintf(b, "text = %s\n", tomlText(t.Text))
		}
		if !t.At.IsZero() {
			fmt.Fprintf(b, "at_utc = %s\n", t.At.UTC().Format("2006-01-02T15:04:05.999999999Z"))
		}
		if t.Who != "" {
			fmt.Fprintf(b, "who = %s\n", tomlText(t.Who))
		}
		if t.Note != "" {
			fmt.Fprintf(b, "note = %s\n", tomlText(t.Note))
		}
	}
}
