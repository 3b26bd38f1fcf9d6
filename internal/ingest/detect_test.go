package ingest

import (
	"bytes"
	"compress/gzip"
	"testing"
)

func TestDetect(t *testing.T) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write([]byte("Vehicle receiver;1\r\nSite;x\r\n"))
	z.Close()
	for name, c := range map[string]struct {
		bytes []byte
		want  string
	}{
		"demo text":       {[]byte("Lake basin sounding log\nSite: x\n"), "demo-text"},
		"with mark":       {[]byte("\xef\xbb\xbfLake basin sounding log\r\n"), "demo-text"},
		"vehicle, packed": {packed.Bytes(), "demo-vehicle"},
		"own csv":         {[]byte("time_utc,time_s,source_line,pressure_hpa\n"), "leadline-csv"},
		"classic netCDF":  {append([]byte("CDF\x01"), make([]byte, 60)...), "cf"},
		"other text":      {[]byte("a,b,c\n1,2,3\n"), ""},
		"nothing":         {nil, ""},
		"bad gzip":        {[]byte{0x1f, 0x8b, 0, 0}, ""},
	} {
		got, ok := Detect(c.bytes)
		if got != c.want || ok != (c.want != "") {
			t.Errorf("%s: %q, %v, want %q", name, got, ok, c.want)
		}
	}
}
