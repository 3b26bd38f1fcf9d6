package message_test

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"

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
