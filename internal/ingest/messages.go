package ingest

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"path"
	"strings"

	"leadline/internal/bufr"
	"leadline/internal/sounding"
)

// MessageReader takes the soundings of messages or bulletins one by one, in bounded
// memory and without what sources of a logbook need besides: sums and the quality
// information of messages. Nothing is left out but
// what cannot be read: a report up to 100 hPa and the full one both come.
type MessageReader struct {
	format string
	name   string
	close  func()
	bufr   *bufrReports
	tables []*table // of bulletins
	left   []sounding.Finding
}

// NewMessageReader looks at the first 64 KiB of r, packed or not, and finds out which
// of the two formats it is. name serves the month of bulletins; see Options.Date.
func NewMessageReader(ctx context.Context, name string, r io.Reader, o Options) (*MessageReader, error) {
	name = path.Base(strings.ReplaceAll(name, "\\", "/"))
	m := &MessageReader{name: name, close: func() {}}
	head, plain, messages, err := m.begin(r)
	if err != nil {
		m.close()
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	switch {
	case isBUFR(head):
		m.format, m.bufr = FormatBUFR, newBUFRReports(messages, o.rows())
		m.bufr.bare, m.bufr.memory = true, &memory{}
	case isBulletin(head):
		m.format = FormatTEMP
		groups, left, err := joinBulletins(ctx, plain)
		if err != nil {
			m.close()
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		m.left = left
		reference, err := bulletinDay(name, &TimeRecipe{}, o)
		if err != nil {
			m.close()
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		for _, g := range groups {
			t, err := g.table(reference)
			if err != nil {
				m.left = append(m.left, leftReport(g, err))
				continue
			}
			m.tables = append(m.tables, t)
		}
	default:
		m.close()
		return nil, fmt.Errorf("%s: %w: neither a BUFR message nor a TEMP or PILOT report stands in its first 64 KiB", name, ErrNoRows)
	}
	return m, nil
}

// inMemory is the size up to which a source that tells its length is read at once.
const inMemory = 8 << 20

// begin takes the packing off and returns the first bytes, and readers of the whole.
func (m *MessageReader) begin(r io.Reader) (head []byte, plain io.Reader, messages *bufr.Reader, err error) {
	if l, ok := r.(interface{ Len() int }); ok && l.Len() <= inMemory {
		content := make([]byte, l.Len())
		if _, err := io.ReadFull(r, content); err != nil {
			return nil, nil, nil, err
		}
		if !isPacked(content) {
			return content[:min(len(content), 64<<10)], bytes.NewReader(content), bufr.NewBytesReader(content), nil
		}
		r = bytes.NewReader(content)
	}
	b := bufio.NewReaderSize(r, 64<<10)
	if magic, _ := b.Peek(4); isPacked(magic) {
		src, err := open(b)
		if err != nil {
			return nil, nil, nil, err
		}
		m.close = func() { src.close() }
		b = bufio.NewReaderSize(src, 64<<10)
	}
	head, err = b.Peek(64 << 10)
	if err == io.EOF {
		err = nil
	}
	return head, b, bufr.NewReader(b), err
}

// isPacked tells whether bytes begin like gzip or zstd.
func isPacked(b []byte) bool {
	return len(b) >= 4 && (b[0] == 0x1f && b[1] == 0x8b || string(b[:4]) == "\x28\xb5\x2f\xfd")
}

// Format returns bufr or temp.
func (m *MessageReader) Format() string { return m.format }

// Next returns the next sounding, io.EOF after the last. It lasts until the next call.
func (m *MessageReader) Next() (*sounding.Raw, error) {
	var t *table
	if m.bufr != nil {
		var err error
		m.bufr.memory.again()
		if t, err = m.bufr.next(); err != nil {
			return nil, err
		}
	} else {
		if len(m.tables) == 0 {
			return nil, io.EOF
		}
		t, m.tables = m.tables[0], m.tables[1:]
	}
	return t.raw(sounding.Source{Name: m.name, Recipe: m.format})
}

// Findings returns what was said so far about the source besides its soundings.
func (m *MessageReader) Findings() []sounding.Finding {
	if m.bufr != nil {
		return m.bufr.findings()
	}
	return m.left
}

// Close ends reading.
func (m *MessageReader) Close() { m.close() }
