package ingest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path"
	"strings"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// table is what a format reader hands on: rows in the order of the source.
type table struct {
	day       int64 // of time 0, days since 1970-01-01
	time      []float64
	line      []int32
	series    []sounding.Series
	extra     []sounding.Extra
	header    []sounding.Item
	record    *sounding.LaunchRecord
	problems  problems
	findings  []sounding.Finding
	jumpLimit float64 // s; 0 is the default
	name      string  // of messages: which one it is, for people
	key       string  // of messages: station, launch and template; "" not known
	update    int     // of messages: update sequence number
	memory    *memory // of streams of messages, else nil
}

// Read reads a source that holds one sounding; name is the source's name without
// its folder, r its bytes as received, packed with gzip or zstd or not. The error is
// ErrSeveral where the source holds more than one, and says how to choose. There is
// no Raw with an error.
func Read(ctx context.Context, name string, r io.Reader, recipe *Recipe, o Options) (*sounding.Raw, error) {
	all, err := ReadAll(ctx, name, r, recipe, o)
	if err != nil {
		return nil, err
	}
	if len(all) > 1 {
		var list []string
		for i, raw := range all {
			if i == 10 {
				list = append(list, "…")
				break
			}
			list = append(list, fmt.Sprintf("%d: %s, %d rows", i+1, raw.Sources[0].FirstUTC.Format("2006-01-02 15:04 UTC"), raw.Len()))
		}
		return nil, fmt.Errorf("%s: %w: the source holds %d; choose one by its number or nominal hour (%s)", name, ErrSeveral, len(all), strings.Join(list, "; "))
	}
	return all[0], nil
}

// ReadAll reads every sounding of a source; see Read.
func ReadAll(ctx context.Context, name string, r io.Reader, recipe *Recipe, o Options) ([]*sounding.Raw, error) {
	name = path.Base(strings.ReplaceAll(name, "\\", "/"))
	raws, err := readAll(ctx, name, r, recipe, o)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return raws, nil
}

func readAll(ctx context.Context, name string, r io.Reader, recipe *Recipe, o Options) ([]*sounding.Raw, error) {
	if recipe == nil {
		return nil, errors.New("no recipe: give one, or let one be guessed from the source")
	}
	src, err := open(r)
	if err != nil {
		return nil, err
	}
	defer func() { src.close() }()
	var tables []*table
	switch recipe.Format {
	case FormatText:
		t, err := readText(ctx, name, src, recipe, o)
		if err != nil {
			return nil, err
		}
		tables = []*table{t}
	case FormatNetCDF:
		if tables, err = readNetCDF(ctx, name, src, recipe, o); err != nil {
			return nil, err
		}
	case FormatIGRA:
		if tables, err = readIGRA(ctx, src, recipe, o); err != nil {
			return nil, err
		}
	case FormatBUFR:
		if tables, err = readBUFR(ctx, src, recipe, o); err != nil {
			return nil, err
		}
	case FormatTEMP:
		if tables, err = readTEMP(ctx, name, src, recipe, o); err != nil {
			return nil, err
		}
	default:
		return nil, fmt.Errorf("recipe %s: format %q is not known: want %s", recipe.Name, recipe.Format, formatWords)
	}
	// Whatever was not needed still belongs to the bytes as received.
	if _, err := io.Copy(io.Discard, src.received); err != nil {
		return nil, err
	}
	source := sounding.Source{Name: name, SHA256: src.sha(), Bytes: src.received.n, Recipe: recipe.Identity()}
	var raws []*sounding.Raw
	for _, t := range tables {
		raw, err := t.raw(source)
		if err != nil {
			return nil, err
		}
		if recipe.Format == FormatIGRA || recipe.Format == FormatBUFR || recipe.Format == FormatTEMP {
			raws = append(raws, raw)
			continue
		}
		if strange := otherRadiosonde(raw); len(strange) > 0 {
			raw.Findings = append(raw.Findings, strange...)
			located(raw, raw.Findings)
			sounding.NumberIDs(raw.Findings)
			// Another radiosonde's rows must not look like a landing.
			raws = append(raws, raw)
			continue
		}
		raws = append(raws, Split(raw)...)
	}
	if o.Sounding > 0 {
		if o.Sounding > len(raws) {
			return nil, fmt.Errorf("sounding %d was asked for, the source holds %d", o.Sounding, len(raws))
		}
		raws = raws[o.Sounding-1 : o.Sounding]
	}
	return raws, nil
}

// raw puts the rows in order and makes Raw of them.
func (t *table) raw(source sounding.Source) (*sounding.Raw, error) {
	o := orderRows(t)
	n := len(o.time)
	shift := math.Floor(o.time[0]/daySeconds) * daySeconds
	for i := range o.time {
		o.time[i] -= shift
	}
	epoch := time.Unix(t.day*daySeconds+int64(shift), 0).UTC()
	if y := epoch.Year(); y < 1800 || y > 2300 {
		return nil, fmt.Errorf("the first row would be of the year %d: look at the time of the recipe", y)
	}
	source.Rows, source.Unread, source.Header = n, t.problems.unread(), t.header
	source.FirstUTC, source.LastUTC = instant(epoch, o.time[0]), instant(epoch, o.time[n-1])
	raw := t.memory.newRaw(source)
	raw.Epoch, raw.Record = epoch, t.record
	raw.Columns = sounding.Columns{Time: o.time, Line: t.line, Source: t.memory.onlySource(n), Series: t.series, Extra: t.extra}
	if o.moved != nil {
		raw.Columns = permuted(&raw.Columns, o.order)
		raw.Columns.Time = o.time
	}
	if o.original != nil {
		for i := range o.original {
			o.original[i] -= shift
		}
		raw.Extra = append(raw.Extra[:len(raw.Extra):len(raw.Extra)], sounding.Extra{Name: SourceTimeColumn, Unit: "s", Values: o.original})
	}
	if raw.Findings = t.problems.findings(o.moved); len(raw.Findings)+len(o.findings) > 0 {
		raw.Findings = append(append(raw.Findings, t.findings...), o.findings...)
	} else if len(t.findings) > 0 {
		raw.Findings = t.findings
	}
	located(raw, raw.Findings)
	sounding.NumberIDs(raw.Findings)
	if err := raw.Columns.Validate(); err != nil {
		return nil, err
	}
	return raw, nil
}

// SourceTimeColumn is the name of the extra column that keeps the source's own times
// where rows were given others; s since the epoch, in the order of the rows.
const SourceTimeColumn = "source_time_s"

func instant(epoch time.Time, t float64) time.Time {
	return epoch.Add(time.Duration(math.Round(t*1e6)) * time.Microsecond)
}

// located fills in times and heights of findings that have rows, and the lines and
// identity of all.
func located(raw *sounding.Raw, findings []sounding.Finding) {
	heights := raw.Values(sounding.HeightMSL)
	for i := range findings {
		if findings[i].ID != "" {
			continue
		}
		f := sounding.Locate(findings[i], &raw.Columns, heights, raw.Epoch)
		if len(f.Spans) == 0 && f.FirstLine > 0 && f.Field == "" {
			f.ID = fmt.Sprintf("%s.%s.line-%d", f.Check, f.Variable, f.FirstLine)
		}
		findings[i] = f
	}
}

// permuted returns the columns with row order[i] in place i.
func permuted(c *sounding.Columns, order []int) sounding.Columns {
	out := sounding.Columns{Time: pick(c.Time, order), Line: pick(c.Line, order), Source: pick(c.Source, order)}
	for _, s := range c.Series {
		out.Series = append(out.Series, sounding.Series{Variable: s.Variable, Values: pick(s.Values, order)})
	}
	for _, e := range c.Extra {
		e.Values, e.Text = pick(e.Values, order), pick(e.Text, order)
		out.Extra = append(out.Extra, e)
	}
	return out
}

func pick[T any](values []T, order []int) []T {
	if values == nil {
		return nil
	}
	out := make([]T, len(order))
	for i, k := range order {
		out[i] = values[k]
	}
	return out
}

// timeOrder is a finding about rows of the source's time.
func timeOrder(severity sounding.Severity, sentence string, spans ...sounding.Span) sounding.Finding {
	f := lineFinding(quality.TimeOrder, severity, 0, 0)
	f.Sentence, f.Spans = sentence, spans
	return f
}
