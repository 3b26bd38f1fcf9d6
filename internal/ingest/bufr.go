package ingest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"

	"leadline/internal/bufr"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// FormatBUFR is a stream of WMO FM 94 BUFR messages.
const FormatBUFR = "bufr"

// readBUFR reads every upper-air report of a stream of messages. A message that is
// damaged, cut or cannot be read gives a finding and no sounding: never part of one.
func readBUFR(ctx context.Context, src io.Reader, recipe *Recipe, o Options) ([]*table, error) {
	r := newBUFRReports(bufr.NewReader(src), o.rows())
	var out []*table
	seen := 0
	for {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		t, err := r.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		seen++
		if !o.Nominal.IsZero() && !t.record.Release.Nominal.Equal(o.Nominal) {
			continue
		}
		if err := setRecord(t, recipe); err != nil {
			return nil, err
		}
		out = append(out, t)
		if len(out) > maxSoundings && o.Sounding == 0 {
			return nil, fmt.Errorf("more than %d soundings in the source: choose one by its nominal hour or number, or split it", maxSoundings)
		}
		if o.Sounding > 0 && o.Nominal.IsZero() && len(out) > 64*maxSoundings {
			return nil, fmt.Errorf("more than %d soundings in the source: split it", 64*maxSoundings)
		}
	}
	if len(out) == 0 {
		switch {
		case seen > 0:
			return nil, fmt.Errorf("%w: none of %d reports is of %s", ErrNoRows, seen, o.Nominal.UTC().Format("2006-01-02 15 UTC"))
		case len(r.left) > 0:
			return nil, fmt.Errorf("%w: %s", ErrNoRows, r.left[0].Sentence)
		}
		return nil, fmt.Errorf("%w: the source holds no upper-air report in BUFR", ErrNoRows)
	}
	out = withoutEarlierReports(out)
	out[0].findings = append(out[0].findings, r.findings()...)
	return out, nil
}

// setRecord sets the launch record items that the recipe holds for every source.
func setRecord(t *table, recipe *Recipe) error {
	for _, c := range recipe.Record {
		if err := SetField(t.record, c.Field, c.Value); err != nil {
			return fmt.Errorf("recipe %s: %w", recipe.Name, err)
		}
	}
	return nil
}

// bufrReports takes the upper-air reports of a stream one by one.
type bufrReports struct {
	r       *bufr.Reader
	data    bufr.Data
	message *bufr.Message // nil before the first
	number  int           // of the message in the stream, from 1
	subset  int           // next of data
	maxRows int
	bare    bool    // leave out the quality information beside the values
	memory  *memory // of columns, used again for every report; nil gives each its own
	tables  []bufr.Table
	heading string // of the bulletin the message stands in
	program *bufr.Program
	head    *reportHead
	heads   map[*bufr.Program]*reportHead
	left    []sounding.Finding
	more    int // findings beyond those kept
}

func newBUFRReports(r *bufr.Reader, maxRows int) *bufrReports {
	return &bufrReports{r: r, maxRows: maxRows, heads: map[*bufr.Program]*reportHead{}}
}

// leave says that a message or part of the stream is left out.
func (b *bufrReports) leave(severity sounding.Severity, format string, args ...any) {
	if len(b.left) >= ungrouped {
		b.more++
		return
	}
	f := lineFinding(quality.Syntax, severity, b.number, b.number)
	f.Sentence = fmt.Sprintf(format, args...)
	b.left = append(b.left, f)
}

// findings returns what was said about the stream so far.
func (b *bufrReports) findings() []sounding.Finding {
	out := b.left
	if b.more > 0 {
		f := lineFinding(quality.Syntax, sounding.Note, 0, 0)
		f.Measured, f.Unit = sounding.Number(b.more), "messages"
		f.Sentence = fmt.Sprintf("%d more messages or parts of the stream are left out", b.more)
		out = append(out, f)
	}
	return out
}

// next returns the next report, io.EOF after the last; any other error is the source's.
func (b *bufrReports) next() (*table, error) {
	for {
		if b.message == nil || b.subset >= b.data.Subsets() {
			if err := b.nextMessage(); err != nil {
				return nil, err
			}
		}
		s := b.data.Subset(b.subset)
		b.subset++
		t, err := b.report(s)
		if err != nil {
			b.leave(sounding.Note, "message %d, report %d of %d is left out: %v", b.number, b.subset, b.data.Subsets(), err)
			continue
		}
		return t, nil
	}
}

// nextMessage goes on to the next message that can be decoded and is of upper air.
func (b *bufrReports) nextMessage() error {
	for {
		m, err := b.r.Next()
		if err == io.EOF {
			if gap := b.r.Trailing(); !gap.Empty() && !gap.OnlyHeading() {
				b.leave(sounding.Note, "after the last message: %s", gap.String())
			}
			return io.EOF
		}
		b.number++
		var damaged *bufr.Error
		if errors.As(err, &damaged) {
			b.leave(sounding.Questionable, "message %d is left out whole: %v", b.number, err)
			continue
		}
		if err != nil {
			return err
		}
		if !m.Before.Empty() && !m.Before.OnlyHeading() {
			b.leave(sounding.Note, "before message %d: %s", b.number, m.Before.String())
		}
		if m.Category != verticalSoundings {
			b.leave(sounding.Note, "message %d is left out: its data category is %d, not %d (vertical soundings)", b.number, m.Category, verticalSoundings)
			continue
		}
		if err := b.data.Decode(m, nil); err != nil {
			b.leave(sounding.Questionable, "message %d is left out whole: %v", b.number, err)
			continue
		}
		b.message, b.subset, b.heading = m, 0, m.Before.Heading
		if b.program != b.data.Program {
			b.program = b.data.Program
			b.head = b.heads[b.program]
			if b.head == nil {
				if len(b.heads) >= 64 {
					clear(b.heads) // a stream that changes its template with every message
				}
				b.head = newReportHead(b.program)
				b.heads[b.program] = b.head
			}
		}
		if b.data.Subsets() == 0 {
			continue
		}
		return nil
	}
}

const verticalSoundings = 2 // Table A

// withoutEarlierReports leaves out reports that a later one of the same sounding holds:
// the report up to 100 hPa before the full one, and the report before its correction.
func withoutEarlierReports(all []*table) []*table {
	byKey := map[string][]int{}
	gone := make([]bool, len(all))
	for i, t := range all {
		k := t.key
		if k == "" {
			continue
		}
		for _, j := range byKey[k] {
			if gone[j] {
				continue
			}
			earlier, later := j, i
			if all[j].update > t.update || all[j].update == t.update && len(all[j].time) > len(t.time) {
				earlier, later = i, j
			}
			if all[later].update <= all[earlier].update && !holds(all[later], all[earlier]) {
				continue
			}
			gone[earlier] = true
			f := lineFinding(quality.Sources, sounding.Note, 0, 0)
			f.Sentence = fmt.Sprintf("an earlier report of this sounding (%s, update %d, %d levels) is left out", all[earlier].name, all[earlier].update, len(all[earlier].time))
			all[later].findings = append(all[later].findings, f)
			if earlier == i {
				break
			}
		}
		byKey[k] = append(byKey[k], i)
	}
	out := all[:0:0]
	for i, t := range all {
		if !gone[i] {
			out = append(out, t)
		}
	}
	return out
}

// holds tells whether every pressure of b is also one of a.
func holds(a, b *table) bool {
	pa, pb := a.values(sounding.Pressure), b.values(sounding.Pressure)
	if pa == nil || pb == nil {
		return false
	}
	sorted := append([]float64(nil), pa...)
	sort.Float64s(sorted)
	for _, p := range pb {
		if math.IsNaN(p) {
			continue
		}
		if k := sort.SearchFloat64s(sorted, p-0.005); k == len(sorted) || sorted[k] > p+0.005 {
			return false
		}
	}
	return true
}

// values returns the values of v, nil where the table has none.
func (t *table) values(v sounding.Variable) []float64 {
	for i := range t.series {
		if t.series[i].Variable == v {
			return t.series[i].Values
		}
	}
	return nil
}

// isBUFR tells whether a message begins in the head: the four letters with an edition
// behind them, not the word in a text.
func isBUFR(head []byte) bool {
	for from := 0; ; {
		k := bytes.Index(head[from:], []byte("BUFR"))
		if k < 0 {
			return false
		}
		k += from
		if k+8 <= len(head) && head[k+7] >= 2 && head[k+7] <= 4 {
			return true
		}
		from = k + 4
	}
}
