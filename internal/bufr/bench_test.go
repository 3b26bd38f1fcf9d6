package bufr

import (
	"bytes"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/sharedtest"
)

// longMessage is the 5,230-level message of the shared folder.
func longMessage(b *testing.B) []byte {
	b.Helper()
	out, err := os.ReadFile(filepath.Join(sharedtest.Dir(b, "data/bufr"), "bufrconv_A_IUSC60RJTD050000_C_RJTD_20191105010145_42.bufr"))
	if err != nil {
		b.Fatal(err)
	}
	return out
}

// archive is a stream like those of archives: 420 short messages, the shared ones again and again with headings between.
func archive(b *testing.B) (stream []byte, messages int) {
	b.Helper()
	var all [][]byte
	for _, name := range sharedMessages(b) {
		content, err := os.ReadFile(name)
		if err != nil {
			b.Fatal(err)
		}
		r := NewBytesReader(content)
		for m, err := r.Next(); err == nil; m, err = r.Next() {
			if m.Length < 20000 {
				all = append(all, content[m.Offset:int(m.Offset)+m.Length])
			}
		}
	}
	for messages = range 420 {
		stream = append(stream, "\r\r\n001\r\r\nIUSC01 LAKE 251200\r\r\n"...)
		stream = append(stream, all[messages%len(all)]...)
	}
	return stream, 420
}

func columns(b *testing.B, d *Data, out [][]float64) (rows int) {
	for i := range d.Subsets() {
		s := d.Subset(i)
		for j := range s.segs {
			if !s.segs[j].table {
				continue
			}
			t := Table{s, &s.segs[j]}
			for k := range t.Fields() {
				out[k] = t.Float64s(k, out[k])
			}
			rows += t.Rows()
		}
	}
	return rows
}

func BenchmarkDecode(b *testing.B) {
	content := longMessage(b)
	out := make([][]float64, 64)
	var d Data
	b.SetBytes(int64(len(content)))
	b.ReportAllocs()
	rows := 0
	for b.Loop() {
		m, err := NewBytesReader(content).Next()
		if err != nil {
			b.Fatal(err)
		}
		if err := d.Decode(m, nil); err != nil {
			b.Fatal(err)
		}
		rows += columns(b, &d, out)
	}
	b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "levels/s")
}

// BenchmarkDecodeCold compiles the template anew each time, as a process that reads one message does.
func BenchmarkDecodeCold(b *testing.B) {
	content := longMessage(b)
	b.SetBytes(int64(len(content)))
	b.ReportAllocs()
	for b.Loop() {
		programs.m, programs.fields = nil, 0
		out := make([][]float64, 64)
		m, err := NewBytesReader(content).Next()
		if err != nil {
			b.Fatal(err)
		}
		d, err := Decode(m)
		if err != nil {
			b.Fatal(err)
		}
		columns(b, d, out)
	}
}

// BenchmarkBits is the limit: the same bits of the same message, taken by the same loads and shifts and added up,
// with no conversion, missing value or store.
func BenchmarkBits(b *testing.B) {
	content := longMessage(b)
	m, err := NewBytesReader(content).Next()
	if err != nil {
		b.Fatal(err)
	}
	d, err := Decode(m)
	if err != nil {
		b.Fatal(err)
	}
	t := d.Subset(0).Tables()[0]
	b.SetBytes(int64(len(content)))
	var sum uint64
	n := 0
	for b.Loop() {
		for col, f := range t.Fields() {
			off := t.s.bit(t.g, 0, col)
			down := uint(64 - f.Width)
			for range t.fast(off, f.Width) {
				sum += load(t.s.d.data, off) >> down
				off += t.g.stride
				n++
			}
		}
	}
	if sum == 0 {
		b.Error("no bits")
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "values/s")
}

func BenchmarkDecodeArchive(b *testing.B) {
	stream, want := archive(b)
	out := make([][]float64, 64)
	var d Data
	b.SetBytes(int64(len(stream)))
	b.ReportAllocs()
	rows := 0
	for b.Loop() {
		r := NewBytesReader(stream)
		n := 0
		for {
			m, err := r.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			if err := d.Decode(m, nil); err != nil {
				b.Fatal(err)
			}
			rows += columns(b, &d, out)
			n++
		}
		if n != want {
			b.Fatalf("%d messages, want %d", n, want)
		}
	}
	b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "levels/s")
}

func benchmarkInspect(b *testing.B, print func(*Inspector, io.Writer, *Data) error) {
	content := longMessage(b)
	var p Inspector
	var d Data
	b.SetBytes(int64(len(content)))
	b.ReportAllocs()
	for b.Loop() {
		m, err := NewBytesReader(content).Next()
		if err != nil {
			b.Fatal(err)
		}
		if err := d.Decode(m, nil); err != nil {
			b.Fatal(err)
		}
		if err := print(&p, io.Discard, &d); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkInspectText(b *testing.B) { benchmarkInspect(b, (*Inspector).Text) }
func BenchmarkInspectJSON(b *testing.B) { benchmarkInspect(b, (*Inspector).JSON) }

// BenchmarkEncode writes a message like the long one through the table interface.
func BenchmarkEncode(b *testing.B) {
	const levels = 5230
	h := header(4, false, FXY(3, 9, 52))
	r := rand.New(rand.NewPCG(1, 2))
	names := []Descriptor{FXY(0, 4, 86), FXY(0, 8, 42), FXY(0, 7, 4), FXY(0, 10, 9), FXY(0, 5, 15), FXY(0, 6, 15), FXY(0, 12, 101), FXY(0, 12, 103), FXY(0, 11, 1), FXY(0, 11, 2)}
	var columns []Column
	for _, d := range names {
		v := make([]float64, levels)
		for i := range v {
			v[i] = float64(i%89) + r.Float64() // within the range of every column
		}
		columns = append(columns, Column{d, v})
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		e, err := NewEncoder(h, nil)
		if err != nil {
			b.Fatal(err)
		}
		for f := e.Next(); f != nil && !e.cur.atFactor(); f = e.Next() {
			e.missing(f)
		}
		e.Table(levels, columns...)
		e.Table(0)
		e.EndSubset()
		out, err := e.Bytes()
		if err != nil {
			b.Fatal(err)
		}
		n = len(out)
	}
	b.SetBytes(int64(n))
	b.ReportMetric(float64(levels)*float64(b.N)/b.Elapsed().Seconds(), "levels/s")
}

// BenchmarkReencode writes the decoded long message again, value by value.
func BenchmarkReencode(b *testing.B) {
	content := longMessage(b)
	m, err := NewBytesReader(content).Next()
	if err != nil {
		b.Fatal(err)
	}
	d, err := Decode(m)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(content)))
	b.ReportAllocs()
	for b.Loop() {
		out, err := Reencode(d, false)
		if err != nil {
			b.Fatal(err)
		}
		if !bytes.Equal(out[len(out)-4:], []byte("7777")) {
			b.Fatal("no end")
		}
	}
}

// BenchmarkInspectArchive prints the stream of 420 messages as text.
func BenchmarkInspectArchive(b *testing.B) {
	stream, _ := archive(b)
	var p Inspector
	var d Data
	b.SetBytes(int64(len(stream)))
	b.ReportAllocs()
	for b.Loop() {
		r := NewBytesReader(stream)
		for {
			m, err := r.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			if err := d.Decode(m, nil); err != nil {
				b.Fatal(err)
			}
			if err := p.Text(io.Discard, &d); err != nil {
				b.Fatal(err)
			}
		}
	}
}
