package message_test

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/bufr"
	"leadline/internal/ingest"
	"leadline/internal/message"
	"leadline/internal/sharedtest"
)

func longMessage(b *testing.B) []byte {
	b.Helper()
	out, err := os.ReadFile(filepath.Join(sharedtest.Dir(b, "data/bufr"), "bufrconv_A_IUSC60RJTD050000_C_RJTD_20191105010145_42.bufr"))
	if err != nil {
		b.Fatal(err)
	}
	return out
}

// BenchmarkDecode prints the levels of the 5,230-level message of the shared folder.
func BenchmarkDecode(b *testing.B) {
	content := longMessage(b)
	b.SetBytes(int64(len(content)))
	b.ReportAllocs()
	levels := 0
	for b.Loop() {
		c, err := message.Decode(context.Background(), io.Discard, "m.bufr", bytes.NewReader(content), false, ingest.Options{})
		if err != nil {
			b.Fatal(err)
		}
		levels += c.Levels
	}
	b.ReportMetric(float64(levels)/b.Elapsed().Seconds(), "levels/s")
}

func BenchmarkInspect(b *testing.B) {
	content := longMessage(b)
	b.SetBytes(int64(len(content)))
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := message.Inspect(context.Background(), io.Discard, bytes.NewReader(content), false, false); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkEncode writes a simulated flight as a high-resolution 3 09 057.
func BenchmarkEncode(b *testing.B) {
	o := flown(b)
	b.ReportAllocs()
	levels, size := 0, 0
	for b.Loop() {
		m, err := message.Encode(o.Final, o.Levels, message.Options{Template: message.BUFR309057, Every: 1})
		if err != nil {
			b.Fatal(err)
		}
		levels += m.Levels
		size = len(m.Bytes)
	}
	b.SetBytes(int64(size))
	b.ReportMetric(float64(levels)/b.Elapsed().Seconds(), "levels/s")
}

// archive is a stream of 420 short messages, those of the shared folder again and again
// with headings between.
func archive(b *testing.B) []byte {
	b.Helper()
	names, err := filepath.Glob(filepath.Join(sharedtest.Dir(b, "data/bufr"), "*.bufr"))
	if err != nil {
		b.Fatal(err)
	}
	var all [][]byte
	for _, name := range names {
		content, err := os.ReadFile(name)
		if err != nil {
			b.Fatal(err)
		}
		r := bufr.NewBytesReader(content)
		for m, err := r.Next(); err == nil; m, err = r.Next() {
			if m.Length < 20000 {
				all = append(all, content[m.Offset:int(m.Offset)+m.Length])
			}
		}
	}
	var out []byte
	for i := range 420 {
		out = append(out, "\r\r\n001\r\r\nIUSC01 LAKE 251200\r\r\n"...)
		out = append(out, all[i%len(all)]...)
	}
	return out
}

// BenchmarkDecodeArchive prints the levels of the 420 messages.
func BenchmarkDecodeArchive(b *testing.B) {
	content := archive(b)
	b.SetBytes(int64(len(content)))
	b.ReportAllocs()
	levels := 0
	for b.Loop() {
		c, err := message.Decode(context.Background(), io.Discard, "m.bufr", bytes.NewReader(content), false, ingest.Options{})
		if err != nil {
			b.Fatal(err)
		}
		levels += c.Levels
	}
	b.ReportMetric(float64(levels)/b.Elapsed().Seconds(), "levels/s")
}
