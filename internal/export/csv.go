package export

import (
	"io"
	"strings"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// csvColumn is one column of a table of numbers.
type csvColumn struct {
	name, unit string
	values     []float64
	decimals   int
	flags      []quality.Flag // instead of values
	integers   []int32        // instead of values
	write      func(b []byte, row int) []byte
}

// csvTable writes two head rows, names and units, and then the rows. A field that is
// missing is empty.
type csvTable struct{ columns []csvColumn }

func (t *csvTable) add(c csvColumn) { t.columns = append(t.columns, c) }

const csvBuffer = 64 << 10

func (t *csvTable) writeTo(w io.Writer, rows int) error {
	b := make([]byte, 0, csvBuffer+16<<10)
	for i, c := range t.columns {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendField(b, c.name)
	}
	b = append(b, '\n')
	for i, c := range t.columns {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendField(b, c.unit)
	}
	b = append(b, '\n')
	for row := 0; row < rows; row++ {
		for i := range t.columns {
			c := &t.columns[i]
			if i > 0 {
				b = append(b, ',')
			}
			switch {
			case c.values != nil:
				b = appendDecimal(b, c.values[row], c.decimals)
			case c.flags != nil:
				b = append(b, '0'+byte(c.flags[row]))
			case c.integers != nil:
				b = appendInteger(b, c.integers[row])
			case c.write != nil:
				b = c.write(b, row)
			}
		}
		b = append(b, '\n')
		if len(b) >= csvBuffer {
			if _, err := w.Write(b); err != nil {
				return err
			}
			b = b[:0]
		}
	}
	_, err := w.Write(b)
	return err
}

func appendInteger(b []byte, n int32) []byte { return appendDecimal(b, float64(n), 0) }

// appendField quotes a text where the format asks for it (RFC 4180).
func appendField(b []byte, s string) []byte {
	if !strings.ContainsAny(s, ",\"\r\n") {
		return append(b, s...)
	}
	b = append(b, '"')
	b = append(b, strings.ReplaceAll(s, `"`, `""`)...)
	return append(b, '"')
}

// flagsOf returns flags in which nothing stays unsaid.
func flagsOf(s *sounding.Series) []quality.Flag {
	out := make([]quality.Flag, len(s.Values))
	for i := range out {
		out[i] = flagAt(s, i)
	}
	return out
}

// CSV writes every row of the flight. The first row names the columns, the second gives
// their units. For a variable such as temperature: temperature_k, temperature_flag (IOC
// 54:V3), temperature_u_k and its parts temperature_u_independent_k and
// temperature_u_common_k (standard uncertainty, k = 1), temperature_raw_k as received. The
// last column names the checks that fired, "temperature:spike humidity:icing".
// What stands beside the profile (findings, corrections, sources) is in the JSON report.
func CSV(w io.Writer, f *Flight) error {
	final := f.Final
	n := final.Len()
	t := &csvTable{}
	t.add(csvColumn{name: "time_utc", unit: "UTC", write: stamps(&final.Columns, final.Epoch)})
	t.add(csvColumn{name: "time_s", unit: "s", values: final.Time, decimals: timeDecimals})
	phase := phases(final)
	t.add(csvColumn{name: "phase", unit: "", write: func(b []byte, i int) []byte { return append(b, sounding.Phase(phase[i]).String()...) }})
	t.add(csvColumn{name: "source", unit: "1", write: func(b []byte, i int) []byte { return appendInteger(b, int32(final.Source[i])+1) }})
	t.add(csvColumn{name: "source_line", unit: "1", integers: final.Line})
	var tested []*sounding.Series
	for _, s := range series(&final.Columns) {
		v := s.Variable
		i := v.Info()
		decimals := Decimals(v)
		t.add(csvColumn{name: v.Column(), unit: i.Unit, values: s.Values, decimals: decimals})
		if !i.Profile {
			continue
		}
		t.add(csvColumn{name: i.Name + "_flag", unit: "1", flags: flagsOf(s)})
		total := s.Total
		unit := uncertaintyUnitsOf(v)[0].Value.(string)
		t.add(csvColumn{name: i.Name + "_u_" + i.Suffix, unit: unit, write: func(b []byte, row int) []byte { return appendDecimal(b, total(row), decimals) }})
		t.add(csvColumn{name: i.Name + "_u_independent_" + i.Suffix, unit: unit, values: s.Independent, decimals: decimals})
		t.add(csvColumn{name: i.Name + "_u_common_" + i.Suffix, unit: unit, values: s.Common, decimals: decimals})
		if raw := f.before(v); raw != nil && len(raw.Values) == n {
			t.add(csvColumn{name: i.Name + "_raw_" + i.Suffix, unit: i.Unit, values: raw.Values, decimals: decimals})
		}
		if s.Tests != nil {
			tested = append(tested, s)
		}
	}
	t.add(csvColumn{name: "checks", unit: "", write: func(b []byte, row int) []byte {
		start := len(b)
		for _, s := range tested {
			if s.Tests[row] == 0 {
				continue
			}
			for _, c := range s.Tests[row].Checks() {
				if len(b) > start {
					b = append(b, ' ')
				}
				b = append(append(append(b, s.Variable.Info().Name...), ':'), c.String()...)
			}
		}
		return b
	}})
	return t.writeTo(w, n)
}

// stamps returns a writer of the instant of each row, to the millisecond.
func stamps(c *sounding.Columns, epoch time.Time) func([]byte, int) []byte {
	context := sounding.Context{Epoch: epoch}
	day := int64(-1 << 62)
	date := ""
	return func(b []byte, row int) []byte {
		t := c.Time[row]
		if !(t > -1e9 && t < 1e9) {
			return b
		}
		ms := context.UTC(t).Round(time.Millisecond).UnixMilli()
		const perDay = 86400000
		d := ms / perDay
		if ms%perDay < 0 {
			d--
		}
		if d != day {
			day, date = d, time.UnixMilli(d*perDay).UTC().Format("2006-01-02T")
		}
		r := ms - d*perDay
		two := func(b []byte, n int64) []byte { return append(b, byte('0'+n/10), byte('0'+n%10)) }
		b = append(b, date...)
		b = append(two(b, r/3600000), ':')
		b = append(two(b, r/60000%60), ':')
		b = append(two(b, r/1000%60), '.', byte('0'+r/100%10))
		return append(two(b, r%100), 'Z')
	}
}
