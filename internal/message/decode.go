package message

import (
	"context"
	"encoding/json"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"leadline/internal/ingest"
	"leadline/internal/sounding"
)

// Decode prints every sounding of a source of messages or bulletins: who, where, when,
// what the head says, and the levels in the order of the flight. What could not be read
// is in the counts; an error means that the source as a whole could not.
func Decode(ctx context.Context, w io.Writer, name string, r io.Reader, asJSON bool, o ingest.Options) (Counts, error) {
	var c Counts
	m, err := ingest.NewMessageReader(ctx, name, r, o)
	if err != nil {
		return c, err
	}
	defer m.Close()
	p := printer{w: w, b: make([]byte, 0, bufferSize)}
	for {
		if err := ctx.Err(); err != nil {
			return c, err
		}
		raw, err := m.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return c, err
		}
		c.Soundings++
		c.Levels += raw.Len()
		if asJSON {
			err = p.json(raw)
		} else {
			err = p.text(raw)
		}
		if err != nil {
			return c, err
		}
	}
	c.Findings = m.Findings()
	if asJSON {
		if err := p.rest(c.Findings); err != nil {
			return c, err
		}
	}
	return c, p.flush()
}

// Counts say what a source held.
type Counts struct {
	Soundings, Levels int
	Findings          []sounding.Finding // about the source besides its soundings
}

// printer keeps its buffers between soundings.
type printer struct {
	w       io.Writer
	b       []byte
	columns []shown
	row     row
}

// bufferSize is the size of the buffer, which is handed on before it is full.
const (
	bufferSize  = 64 << 10
	largeBuffer = bufferSize - 4<<10
)

func (p *printer) flush() error {
	_, err := p.w.Write(p.b)
	p.b = p.b[:0]
	return err
}

// shown is one column of a printed sounding.
type shown struct {
	head, key string
	values    []float64
	decimals  int
	width     int
	offset    float64 // added, for °C
}

var printed = []struct {
	v         sounding.Variable
	head, key string
	decimals  int
	width     int
	offset    float64
}{
	{sounding.Pressure, "hPa", "pressure_hpa", 2, 8, 0},
	{sounding.GeopotentialHeight, "gpm", "geopotential_height_gpm", 1, 8, 0},
	{sounding.Temperature, "T °C", "temperature_k", 2, 7, -273.15},
	{sounding.DewPoint, "Td °C", "dew_point_k", 2, 7, -273.15},
	{sounding.Humidity, "RH %", "humidity_pct", 1, 6, 0},
	{sounding.WindDirection, "from", "wind_direction_deg", 0, 4, 0},
	{sounding.WindSpeed, "m/s", "wind_speed_m_s", 1, 6, 0},
	{sounding.Latitude, "north", "latitude_deg", 5, 10, 0},
	{sounding.Longitude, "east", "longitude_deg", 5, 11, 0},
}

// columnsOf returns what is printed of raw; the columns last until the next call.
func (p *printer) columnsOf(raw *sounding.Raw) (out []shown, significance, old []float64) {
	out = p.columns[:0]
	for _, c := range printed {
		if v := raw.Values(c.v); v != nil {
			out = append(out, shown{c.head, c.key, v, c.decimals, c.width, c.offset})
		}
	}
	for _, e := range raw.Extra {
		switch e.Name {
		case ingest.SignificanceExtra:
			significance = e.Values
		case ingest.OldSignificanceExtra:
			old = e.Values
		}
	}
	p.columns = out
	return out, significance, old
}

// since returns the instant that level times are counted from when they are printed.
func since(raw *sounding.Raw) time.Time {
	switch {
	case raw.Record != nil && !raw.Record.Release.Declared.IsZero():
		return raw.Record.Release.Declared
	case raw.Record != nil && !raw.Record.Release.Nominal.IsZero():
		return raw.Record.Release.Nominal
	}
	return raw.Sources[0].FirstUTC
}

func (p *printer) text(raw *sounding.Raw) error {
	b := p.b
	record := raw.Record
	s := record.Site
	b = append(b, "station "...)
	b = appendFirst(b, s.WMONumber, s.CallSign, s.WIGOS, "not given")
	if !record.Release.Declared.IsZero() {
		b = record.Release.Declared.AppendFormat(append(b, ", launch "...), "2006-01-02 15:04:05 UTC")
	}
	if !record.Release.Nominal.IsZero() {
		b = record.Release.Nominal.AppendFormat(append(b, ", nominal "...), "2006-01-02 15:04 UTC")
	}
	if s.Latitude.Set() && s.Longitude.Set() {
		b = strconv.AppendFloat(append(b, "\n  at "...), s.Latitude.Value(), 'f', -1, 64)
		b = strconv.AppendFloat(append(b, "° north, "...), s.Longitude.Value(), 'f', -1, 64)
		b = append(b, "° east"...)
		if s.Height.Set() {
			b = strconv.AppendFloat(append(b, ", "...), s.Height.Value(), 'f', -1, 64)
			b = append(b, " m"...)
		}
	}
	b = append(b, '\n')
	for _, h := range raw.Sources[0].Header {
		b = append(append(append(append(b, "  "...), plain(h.Name)...), ": "...), plain(h.Text)...)
		b = append(b, '\n')
	}
	for i := range raw.Findings {
		b = append(append(append(b, "  "...), raw.Findings[i].Severity.String()...), ": "...)
		b = append(append(b, plain(raw.Findings[i].Sentence)...), '\n')
	}
	columns, significance, old := p.columnsOf(raw)
	b = strconv.AppendInt(append(b, "  levels: "...), int64(raw.Len()), 10)
	b = append(b, "\n level    time s"...)
	for i := range columns {
		c := &columns[i]
		for n := c.width + 1 - utf8.RuneCountInString(c.head); n > 0; n-- {
			b = append(b, ' ')
		}
		b = append(b, c.head...)
	}
	if significance != nil || old != nil {
		b = append(b, "  significance"...)
	}
	b = append(b, '\n')
	shift := raw.Epoch.Sub(since(raw)).Seconds()
	r := &p.row
	r.begin(raw, columns, shift)
	for i := range raw.Time {
		b = r.append(b, i)
		if significance != nil && significance[i] > 0 {
			b = significanceWords(append(b, "  "...), int(significance[i]))
		} else if old != nil && old[i] > 0 {
			b = oldWords(append(b, "  "...), int(old[i]))
		}
		b = append(b, '\n')
		if len(b) > largeBuffer {
			p.b = b
			if err := p.flush(); err != nil {
				return err
			}
			b = p.b
		}
	}
	p.b = append(b, '\n')
	return nil
}

// oldWords appends the meanings of the bits of 0 08 001 (7 bits, bit 1 worth 64).
func oldWords(b []byte, bits int) []byte {
	first := true
	for i, word := range []string{"surface", "standard", "tropopause", "maximum wind", "significant temperature or humidity", "significant wind"} {
		if bits&(64>>i) == 0 {
			continue
		}
		if !first {
			b = append(b, ", "...)
		}
		b = append(b, word...)
		first = false
	}
	return b
}

func appendFirst(b []byte, list ...string) []byte {
	for _, s := range list {
		if s != "" {
			return append(b, plain(s)...)
		}
	}
	return b
}

// plain takes control characters out of text that came from a file.
func plain(s string) string {
	for i := 0; i < len(s); i++ {
		if s[i] < ' ' || s[i] == 0x7f {
			out := []byte(s)
			for k := range out {
				if out[k] < ' ' || out[k] == 0x7f {
					out[k] = '.'
				}
			}
			return string(out)
		}
	}
	return s
}

var powers = [...]float64{1, 10, 100, 1000, 1e4, 1e5, 1e6}

// appendFixed adds v with decimals figures after the point, set to the right in width
// characters; "-" where it is missing.
func appendFixed(b []byte, v float64, decimals, width int) []byte {
	at := len(b)
	if v != v || v > 1e9 || v < -1e9 {
		b = append(b, spaces[:max(width, 1)]...)
		b[len(b)-1] = '-'
		return b
	}
	negative := v < 0
	if negative {
		v = -v
	}
	n := uint64(v*powers[decimals] + 0.5)
	negative = negative && n != 0
	digits := 1
	for limit := uint64(10); n >= limit; limit *= 10 {
		digits++
	}
	if digits <= decimals {
		digits = decimals + 1
	}
	need := digits
	if decimals > 0 {
		need++
	}
	if negative {
		need++
	}
	b = append(b, spaces[:max(width, need)]...)
	k := len(b) - 1
	for i := 0; i < digits; i++ {
		if i == decimals && i > 0 {
			b[k] = '.'
			k--
		}
		q := n / 10
		b[k] = '0' + byte(n-q*10)
		n = q
		k--
	}
	if negative && k >= at {
		b[k] = '-'
	}
	return b
}

var spaces = strings.Repeat(" ", 32)

// json prints one sounding as one line: the launch record, the head, findings, and one
// array a column.
func (p *printer) json(raw *sounding.Raw) error {
	head, err := json.Marshal(struct {
		Source   string                 `json:"source"`
		Record   *sounding.LaunchRecord `json:"launch_record"`
		Head     []sounding.Item        `json:"head"`
		Findings []sounding.Finding     `json:"findings"`
		Levels   int                    `json:"levels"`
		Since    time.Time              `json:"times_since_utc"`
	}{raw.Sources[0].Name, raw.Record, raw.Sources[0].Header, raw.Findings, raw.Len(), since(raw)})
	if err != nil {
		return err
	}
	b := append(p.b, head[:len(head)-1]...)
	b = append(b, `,"columns":{"level":[`...)
	for i, l := range raw.Line {
		if i > 0 {
			b = append(b, ',')
		}
		b = strconv.AppendInt(b, int64(l), 10)
	}
	array := func(key string, values []float64, shift float64) {
		b = append(append(append(b, `],"`...), key...), `":[`...)
		for i, v := range values {
			if i > 0 {
				b = append(b, ',')
			}
			if math.IsNaN(v) {
				b = append(b, "null"...)
				continue
			}
			b = appendShort(b, v+shift)
		}
	}
	array("time_s", raw.Time, raw.Epoch.Sub(since(raw)).Seconds())
	columns, significance, old := p.columnsOf(raw)
	for i := range columns {
		array(columns[i].key, columns[i].values, 0)
	}
	if significance != nil {
		array("vertical_significance", significance, 0)
	}
	if old != nil {
		array("vertical_significance_0_08_001", old, 0)
	}
	p.b = append(b, "]}}\n"...)
	if len(p.b) > largeBuffer {
		return p.flush()
	}
	return nil
}

// appendShort adds v, which is coded in at most six decimals, without the zeros at the end.
func appendShort(b []byte, v float64) []byte {
	if math.Abs(v) > 1e9 {
		return strconv.AppendFloat(b, v, 'g', -1, 64)
	}
	at := len(b)
	b = appendFixed(b, v, 6, 0)
	for len(b) > at && b[len(b)-1] == '0' {
		b = b[:len(b)-1]
	}
	if b[len(b)-1] == '.' {
		b = b[:len(b)-1]
	}
	return b
}

// rest prints what is said about the source as one more line, where there is something.
func (p *printer) rest(findings []sounding.Finding) error {
	if len(findings) == 0 {
		return nil
	}
	line, err := json.Marshal(map[string]any{"source_findings": findings})
	if err != nil {
		return err
	}
	p.b = append(append(p.b, line...), '\n')
	return nil
}
