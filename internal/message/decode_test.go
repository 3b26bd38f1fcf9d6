package message_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"leadline/internal/ingest"
	"leadline/internal/message"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
)

func decoded(t *testing.T, name string, r io.Reader, asJSON bool) (string, message.Counts) {
	t.Helper()
	var out bytes.Buffer
	c, err := message.Decode(context.Background(), &out, name, r, asJSON, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return out.String(), c
}

// The counts of the shared messages are those of the folder's README, in text and JSON,
// read at once, byte by byte, and packed.
func TestDecodeCounts(t *testing.T) {
	dir := sharedtest.Dir(t, "data/bufr")
	for name, want := range map[string]struct{ soundings, levels int }{
		"bufrconv_A_IUSC60RJTD050000_C_RJTD_20191105010145_42.bufr": {1, 5230},
		"bufrconv_A_IUSN01BABJ290000_C_RJTD_20191029025504_87.bufr": {12, 819},
		"pybufrkit_pilo_91.bufr":                                    {17, 0},
		"pybufrkit_IUSK73_AMMC_040000.bufr":                         {1, 0},
		"bufrconv_A_IUJN30BABJ121800_C_RJTD_20191112180000.bufr":    {7, 0},
		"../tac/A_USCI01BABJ290000_C_RJTD_20191029010631_14.txt":    {12, 0},
		"../tac/A_UGCI30BABJ121800_C_RJTD_20191112193217_52.txt":    {7, 0},
		"../tac/A_USJP01RJTD050000_C_RJTD_20191105012317_50.txt":    {7, 0},
	} {
		content, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		base := filepath.Base(name)
		text, c := decoded(t, base, bytes.NewReader(content), false)
		if c.Soundings != want.soundings || want.levels > 0 && c.Levels != want.levels || strings.Count(text, "station ") < want.soundings {
			t.Errorf("%s: %d soundings, %d levels, want %d, %d", name, c.Soundings, c.Levels, want.soundings, want.levels)
		}
		if slow, _ := decoded(t, base, iotest.OneByteReader(bytes.NewReader(content)), false); slow != text {
			t.Errorf("%s: read byte by byte it looks different", name)
		}
		var packed bytes.Buffer
		z := gzip.NewWriter(&packed)
		z.Write(content)
		z.Close()
		if unpacked, _ := decoded(t, base, &packed, false); unpacked != text {
			t.Errorf("%s: packed it looks different", name)
		}
		lines, _ := decoded(t, base, bytes.NewReader(content), true)
		n := 0
		for _, line := range strings.Split(strings.TrimSpace(lines), "\n") {
			var x struct {
				Levels  int                          `json:"levels"`
				Columns map[string][]sounding.Number `json:"columns"`
			}
			if err := json.Unmarshal([]byte(line), &x); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if x.Columns == nil {
				continue // what is said about the source
			}
			for key, column := range x.Columns {
				if len(column) != x.Levels {
					t.Errorf("%s: column %s has %d values for %d levels", name, key, len(column), x.Levels)
				}
			}
			n++
		}
		if n != want.soundings {
			t.Errorf("%s: %d JSON lines, want %d", name, n, want.soundings)
		}
	}
}

// JSON gives the values that the reader gives, to the six decimals it prints.
func TestDecodeJSONValues(t *testing.T) {
	name := filepath.Join(sharedtest.Dir(t, "data/bufr"), "pdbufr_temp_hires.bufr")
	content, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	raw := read(t, content)[0]
	text, _ := decoded(t, "x.bufr", bytes.NewReader(content), true)
	var x struct {
		Since   time.Time                    `json:"times_since_utc"`
		Columns map[string][]sounding.Number `json:"columns"`
		Record  *sounding.LaunchRecord       `json:"launch_record"`
	}
	if err := json.Unmarshal([]byte(strings.SplitN(text, "\n", 2)[0]), &x); err != nil {
		t.Fatal(err)
	}
	if x.Record.Site.WMONumber != "10954" || !x.Since.Equal(raw.Record.Release.Declared) {
		t.Errorf("station %q, times since %v", x.Record.Site.WMONumber, x.Since)
	}
	for key, v := range map[string]sounding.Variable{"pressure_hpa": sounding.Pressure, "temperature_k": sounding.Temperature, "dew_point_k": sounding.DewPoint, "wind_speed_m_s": sounding.WindSpeed,
		"wind_direction_deg": sounding.WindDirection, "geopotential_height_gpm": sounding.GeopotentialHeight, "latitude_deg": sounding.Latitude, "longitude_deg": sounding.Longitude} {
		for i, want := range raw.Values(v) {
			if got := x.Columns[key][i].Value(); !(math.Abs(got-want) < 1e-6) && !(math.IsNaN(got) && math.IsNaN(want)) {
				t.Fatalf("%s of level %d is %v, want %v", key, i, got, want)
			}
		}
	}
}

// Damage is named and the rest shown; what is no message is refused with a reason.
func TestDecodeAndInspectDamaged(t *testing.T) {
	content, err := os.ReadFile(filepath.Join(sharedtest.Dir(t, "data/bufr"), "pybufrkit_btem_109.bufr"))
	if err != nil {
		t.Fatal(err)
	}
	stream := append(append([]byte("rubbish"), content[:200]...), content...)
	_, c := decoded(t, "x.bufr", bytes.NewReader(stream), false)
	if c.Soundings != 1 || len(c.Findings) == 0 {
		t.Errorf("%d soundings, findings %v", c.Soundings, c.Findings)
	}
	n, problems, err := message.Inspect(context.Background(), io.Discard, bytes.NewReader(stream), false, false)
	if n != 1 || len(problems) == 0 || err != nil {
		t.Errorf("%d messages, problems %v, %v", n, problems, err)
	}
	for _, text := range []string{"", "the word BUFR in a text", "time,pressure\n1,2\n"} {
		if _, err := message.Decode(context.Background(), io.Discard, "x", strings.NewReader(text), false, ingest.Options{}); err == nil {
			t.Errorf("%q is decoded", text)
		}
	}
	if n, problems, err := message.Inspect(context.Background(), io.Discard, strings.NewReader(""), false, false); n != 0 || len(problems) == 0 || err != nil {
		t.Errorf("nothing: %d messages, %v, %v", n, problems, err)
	}
	done, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := message.Decode(done, io.Discard, "x.bufr", bytes.NewReader(content), false, ingest.Options{}); err == nil {
		t.Error("a cancelled context changes nothing")
	}
}
