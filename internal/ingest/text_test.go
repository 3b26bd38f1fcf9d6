package ingest

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding/unicode"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

func recipeOf(t testing.TB, text string) *Recipe {
	t.Helper()
	r, err := ReadRecipe("test.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// plainRecipe reads "time;p;t;u" with an ISO stamp.
const plainRecipe = `name = "plain"
format = "text"
[text]
delimiter = ";"
comment = ["#"]
missing = ["-9999", "miss"]
[preamble]
header = true
[time]
kind = "utc"
column = "time"
[[column]]
name = "p"
variable = "pressure"
unit = "hPa"
[[column]]
name = "t"
variable = "temperature"
unit = "°C"
optional = true
[[column]]
name = "u"
variable = "humidity"
unit = "%"
optional = true
`

func readText1(t testing.TB, recipe, text string, o Options) (*sounding.Raw, error) {
	t.Helper()
	return Read(context.Background(), "source.txt", strings.NewReader(text), recipeOf(t, recipe), o)
}

func mustRead(t testing.TB, recipe, text string, o Options) *sounding.Raw {
	t.Helper()
	raw, err := readText1(t, recipe, text, o)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func equal(t *testing.T, what string, got, want []float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %v, want %v", what, got, want)
		return
	}
	for i := range got {
		if math.IsNaN(got[i]) != math.IsNaN(want[i]) || math.Abs(got[i]-want[i]) > 1e-9 {
			t.Errorf("%s: %v, want %v", what, got, want)
			return
		}
	}
}

var nan = math.NaN()

const plainRows = "time;p;t;u\n2031-06-03T23:04:11Z;968.4;17.3;61\n2031-06-03T23:04:12Z;968.1;17.2;61.5\n"

func TestPlainText(t *testing.T) {
	raw := mustRead(t, plainRecipe, plainRows, Options{})
	if want := time.Date(2031, 6, 3, 0, 0, 0, 0, time.UTC); !raw.Epoch.Equal(want) {
		t.Errorf("epoch %v, want %v", raw.Epoch, want)
	}
	equal(t, "time", raw.Time, []float64{83051, 83052})
	equal(t, "pressure", raw.Values(sounding.Pressure), []float64{968.4, 968.1})
	equal(t, "temperature", raw.Values(sounding.Temperature), []float64{290.45, 290.35})
	if raw.Line[0] != 2 || raw.Line[1] != 3 {
		t.Errorf("lines %v", raw.Line)
	}
	s := raw.Sources[0]
	sum := sha256.Sum256([]byte(plainRows))
	if s.SHA256 != hex.EncodeToString(sum[:]) || s.Bytes != int64(len(plainRows)) || s.Rows != 2 || s.Unread != 0 || s.Name != "source.txt" {
		t.Errorf("source %+v", s)
	}
	if len(raw.Findings) != 0 {
		t.Errorf("findings %v", raw.Findings)
	}
	if !strings.HasPrefix(s.Recipe, "plain ") {
		t.Errorf("recipe %q", s.Recipe)
	}
}

// The same rows in other encodings, line ends and packings.
func TestEncodingsLineEndsAndPackings(t *testing.T) {
	utf16 := func(e unicode.Endianness, b unicode.BOMPolicy) string {
		s, err := unicode.UTF16(e, b).NewEncoder().String(plainRows)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	gz := func(s string) string {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		if _, err := z.Write([]byte(s)); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	zst := func(s string) string {
		z, err := zstd.NewWriter(nil)
		if err != nil {
			t.Fatal(err)
		}
		return string(z.EncodeAll([]byte(s), nil))
	}
	for name, text := range map[string]string{
		"utf-8 with mark":      "\xef\xbb\xbf" + plainRows,
		"crlf":                 strings.ReplaceAll(plainRows, "\n", "\r\n"),
		"cr alone":             strings.ReplaceAll(plainRows, "\n", "\r"),
		"cr cr lf":             strings.ReplaceAll(plainRows, "\n", "\r\r\n"),
		"utf-16le with mark":   utf16(unicode.LittleEndian, unicode.UseBOM),
		"utf-16be with mark":   utf16(unicode.BigEndian, unicode.UseBOM),
		"utf-16le no mark":     utf16(unicode.LittleEndian, unicode.IgnoreBOM),
		"utf-16be no mark":     utf16(unicode.BigEndian, unicode.IgnoreBOM),
		"gzip":                 gz(plainRows),
		"two gzip members":     gz(plainRows[:40]) + gz(plainRows[40:]),
		"zstd":                 zst(plainRows),
		"gzip of utf-16":       gz(utf16(unicode.LittleEndian, unicode.UseBOM)),
		"no end of last line":  strings.TrimSuffix(plainRows, "\n"),
		"blank lines":          strings.ReplaceAll(plainRows, "\n", "\n\n"),
		"comments":             "# one\n" + strings.ReplaceAll(plainRows, "\n", "\n# x;y\n"),
		"control-Z at the end": plainRows + "\x1a",
		"quotes":               strings.ReplaceAll(plainRows, "968.4", "\"968.4\""),
		"blanks around":        strings.ReplaceAll(plainRows, ";", " ;  "),
		"empty fields behind":  strings.ReplaceAll(plainRows, "\n", ";;\n"),
	} {
		t.Run(name, func(t *testing.T) {
			raw := mustRead(t, plainRecipe, text, Options{})
			equal(t, "pressure", raw.Values(sounding.Pressure), []float64{968.4, 968.1})
			equal(t, "humidity", raw.Values(sounding.Humidity), []float64{61, 61.5})
			equal(t, "time", raw.Time, []float64{83051, 83052})
			sum := sha256.Sum256([]byte(text))
			if raw.Sources[0].SHA256 != hex.EncodeToString(sum[:]) {
				t.Error("the SHA-256 is not that of the bytes as received")
			}
			if len(raw.Findings) != 0 {
				t.Errorf("finding: %s", raw.Findings[0].Sentence)
			}
		})
	}
}

// A recipe that names an encoding of single bytes reads a copy saved as UTF-16 without a
// mark, and never takes single bytes for UTF-16.
func TestNamedEncoding(t *testing.T) {
	wide, err := unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM).NewEncoder().String(plainRows)
	if err != nil {
		t.Fatal(err)
	}
	for _, named := range []string{"utf-8", "latin-1"} {
		recipe := strings.Replace(plainRecipe, "[text]\n", "[text]\nencoding = \""+named+"\"\n", 1)
		if recipe == plainRecipe {
			t.Fatal("the recipe has no [text]")
		}
		for _, text := range []string{plainRows, wide} {
			raw := mustRead(t, recipe, text, Options{})
			equal(t, named, raw.Values(sounding.Pressure), []float64{968.4, 968.1})
		}
	}
}

// Sources that cannot be used: each refusal says why, and there is no half result.
func TestRefusals(t *testing.T) {
	bomb := func() string {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		line := []byte(strings.Repeat("0", 1<<20))
		for range 80 {
			if _, err := z.Write(line); err != nil {
				t.Fatal(err)
			}
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	random := make([]byte, 20000)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range random {
		random[i] = byte(r.Uint32())
	}
	for _, c := range []struct{ name, text, words string }{
		{"empty", "", "the source is empty"},
		{"header only", "time;p;t;u\n", "ends after its header"},
		{"header and blank lines", "time;p;t;u\n\n\n", "ends after its header"},
		{"binary", string(random), "column"},
		{"no column", "zeit;p\n2031-06-03T23:04:11Z;968.4\n", "\"time\" is not in the source"},
		{"a column lacks", "time;q\n2031-06-03T23:04:11Z;968.4\n", "\"p\" (pressure) is not in the source"},
		{"column twice", "time;p;p\n2031-06-03T23:04:11Z;968.4;3\n", "stands twice, as 2 and 3"},
		{"no row reads", "time;p;t;u\nx;y;z;w\n1;2;3;4\n", "none of 2 rows could be read; the first, line 2, column 1 (time): the time does not fit"},
		{"bomb", bomb(), "decompression bomb"},
		{"broken gzip", "\x1f\x8b\x08\x00junk", "cannot be unpacked"},
		{"broken zstd", "\x28\xb5\x2f\xfdjunk", "cannot be unpacked"},
	} {
		t.Run(c.name, func(t *testing.T) {
			raw, err := readText1(t, plainRecipe, c.text, Options{})
			if err == nil || raw != nil {
				t.Fatalf("read %v", raw)
			}
			if !strings.Contains(err.Error(), c.words) || !strings.HasPrefix(err.Error(), "source.txt: ") {
				t.Errorf("error %q does not say %q", err, c.words)
			}
		})
	}
	t.Run("binary without header", func(t *testing.T) {
		_, err := readText1(t, strings.Replace(strings.ReplaceAll(plainRecipe, `name = "p"`, "number = 2"), "header = true", "header = false", 1), string(random), Options{})
		if err == nil {
			t.Fatal("read binary data")
		}
	})
	t.Run("too many rows", func(t *testing.T) {
		_, err := readText1(t, plainRecipe, plainRows+plainRows[11:], Options{MaxRows: 3})
		if err == nil || !strings.Contains(err.Error(), "more than 3 rows") {
			t.Error(err)
		}
	})
	t.Run("context", func(t *testing.T) {
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		_, err := Read(ctx, "x", strings.NewReader(plainRows+strings.Repeat("2031-06-03T23:04:12Z;968.1;17.2;61.5\n", 5000)), recipeOf(t, plainRecipe), Options{})
		if !errors.Is(err, context.Canceled) {
			t.Error(err)
		}
	})
}

// Values and rows that cannot be read: what is kept, what is missing, what is said.
func TestUnreadableIsNamed(t *testing.T) {
	at := func(s int) string { return fmt.Sprintf("2031-06-03T23:04:%02dZ", s) }
	for _, c := range []struct {
		name     string
		rows     []string
		pressure []float64
		unread   int
		words    []string // of findings, in order
	}{
		{"word in a column", []string{at(1) + ";1000;20;50", at(2) + ";abc;20;50"}, []float64{1000, nan}, 0, []string{`line 3, column 2 (p): "abc" is no number; the value is missing, the rest of the row is kept`}},
		{"missing tokens", []string{at(1) + ";-9999;20;50", at(2) + ";miss;20;50", at(3) + ";;20;50", at(4) + ";//;20;50", at(5) + ";NaN;20;50", at(6) + ";-9999.00;20;50", at(7) + ";0;20;50"}, []float64{nan, nan, nan, nan, nan, nan, 0}, 0, nil},
		{"a token the recipe does not name", []string{at(1) + ";1000;20;50", at(2) + ";-999;20;50", at(3) + ";-999;20;50"}, []float64{1000, -999, -999}, 0, []string{`column p holds -999 in 2 rows (lines 3 to 4), which cannot be a pressure: if it stands for "no value", name it under missing`}},
		{"huge numbers", []string{at(1) + ";1e300;20;50", at(2) + ";1e999;20;50", at(3) + ";123456789012345678901234567890;20;50"}, []float64{1e300, nan, 123456789012345678901234567890}, 0, []string{`"1e999" is no number`}},
		{"infinity and hex", []string{at(1) + ";1000;20;50", at(2) + ";inf;20;50", at(3) + ";0x1p4;20;50", at(4) + ";1_000;20;50"}, []float64{1000, nan, nan, nan}, 0, []string{`"inf"`, `"0x1p4"`, `"1_000"`}},
		{"decimal comma", []string{at(1) + ";1000;20;50", at(2) + ";999,5;20;50"}, []float64{1000, nan}, 0, []string{"has the other decimal sign"}},
		{"zero bytes", []string{at(1) + ";1000;20;50", at(2) + ";\x00\x00;20;50"}, []float64{1000, nan}, 0, []string{`"··" is no number`}},
		{"short row kept", []string{at(1) + ";1000;20;50", at(2) + ";999", at(3) + ";998;20;50"}, []float64{1000, 999, 998}, 0, []string{"line 3 has 2 of 4 fields"}},
		{"long row left out", []string{at(1) + ";1000;20;50", at(2) + ";999;20;50;7;8", at(3) + ";998;20;50"}, []float64{1000, 998}, 1, []string{`line 3 could not be read: 6 fields, 4 expected`}},
		{"time does not read", []string{at(1) + ";1000;20;50", "25:99;999;20;50"}, []float64{1000}, 1, []string{`line 3, column 1 (time) could not be read: the time does not fit ("25:99"); the row is left out`}},
		{"header again", []string{at(1) + ";1000;20;50", "time;p;t;u", at(2) + ";999;20;50"}, []float64{1000, 999}, 1, []string{"the header again"}},
		{"no value is a number", []string{at(1) + ";1000;20;50", at(2) + ";a;b;c"}, []float64{1000}, 1, []string{"none of its values is a number"}},
		{"escape characters", []string{at(1) + ";1000;20;50", "\x1b[31m<script>;\u202e;x;y"}, []float64{1000}, 1, []string{`("·[31m<script>")`}},
		{"one row", []string{at(1) + ";1000;20;50"}, []float64{1000}, 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			raw := mustRead(t, plainRecipe, "time;p;t;u\n"+strings.Join(c.rows, "\n")+"\n", Options{})
			equal(t, "pressure", raw.Values(sounding.Pressure), c.pressure)
			if raw.Sources[0].Unread != c.unread {
				t.Errorf("%d rows unread, want %d", raw.Sources[0].Unread, c.unread)
			}
			if len(raw.Findings) != len(c.words) {
				t.Fatalf("%d findings, want %d: %v", len(raw.Findings), len(c.words), raw.Findings)
			}
			for i, w := range c.words {
				f := raw.Findings[i]
				if f.Check != quality.Syntax || !strings.Contains(f.Sentence, w) || f.FirstLine == 0 || f.ID == "" {
					t.Errorf("finding %+v, want %q", f, w)
				}
			}
		})
	}
}

// Many broken rows: the first twenty by name, the rest counted, in bounded findings.
func TestManyBrokenRowsAreGrouped(t *testing.T) {
	var b strings.Builder
	b.WriteString("time;p;t;u\n")
	for i := range 3000 {
		switch {
		case i%3 == 1:
			b.WriteString("garbage\n")
		case i%3 == 2:
			fmt.Fprintf(&b, "2031-06-03T23:%02d:%02dZ;oops;20;50\n", i/60, i%60)
		default:
			fmt.Fprintf(&b, "2031-06-03T23:%02d:%02dZ;1000;20;50\n", i/60, i%60)
		}
	}
	raw := mustRead(t, plainRecipe, b.String(), Options{})
	if raw.Sources[0].Unread != 1000 || raw.Len() != 2000 {
		t.Fatalf("%d unread, %d rows", raw.Sources[0].Unread, raw.Len())
	}
	if len(raw.Findings) != 2 {
		t.Fatalf("%d findings, want one of the rows and one of the values: %+v", len(raw.Findings), raw.Findings)
	}
	rows, values := raw.Findings[0], raw.Findings[1]
	if want := "1000 rows could not be read and are left out: lines 3, 6, 9, 12, 15, 18, 21, 24, 27, 30, 33 and others up to 3000; line 3: 1 field, 4 expected (\"garbage\")"; rows.Sentence != want || rows.Measured != 1000 {
		t.Errorf("%v rows: %s\nwant %s", rows.Measured, rows.Sentence, want)
	}
	if !strings.HasPrefix(values.Sentence, "1000 values of column p could not be read and are missing: lines 4, 7, ") || !strings.HasSuffix(values.Sentence, `; line 4, column 2 (p): "oops" is no number; the value is missing, the rest of the row is kept`) ||
		values.Variable != sounding.Pressure || values.Measured != 1000 || len(values.Spans) != 1000 {
		t.Errorf("%d spans, %+v", len(values.Spans), values.Sentence)
	}
	ids := map[string]bool{}
	for _, f := range raw.Findings {
		if ids[f.ID] {
			t.Errorf("id %s twice", f.ID)
		}
		ids[f.ID] = true
	}
}

func TestLastLineCutOff(t *testing.T) {
	base := plainRows + "2031-06-03T23:04:13Z;967.8;17.1;62.5\n"
	for _, c := range []struct {
		name, last         string
		pressure, humidity []float64
		words              string
	}{
		{"within a field", "2031-06-03T23:04:14Z;967.5;1", []float64{968.4, 968.1, 967.8, 967.5}, []float64{61, 61.5, 62.5, nan}, `cut off after 3 of 4 fields: its last field "1"`},
		{"within the time", "2031-06-03T23", []float64{968.4, 968.1, 967.8}, []float64{61, 61.5, 62.5}, "cut off within its time"},
		{"before the first value", "2031-06-03T23:04:14Z;9", []float64{968.4, 968.1, 967.8}, []float64{61, 61.5, 62.5}, "cut off before its first value"},
		{"within the last figures", "2031-06-03T23:04:14Z;967.5;17.0;62.", []float64{968.4, 968.1, 967.8, 967.5}, []float64{61, 61.5, 62.5, nan}, "fewer decimals than the row before"},
		{"whole", "2031-06-03T23:04:14Z;967.5;17.0;62.9", []float64{968.4, 968.1, 967.8, 967.5}, []float64{61, 61.5, 62.5, 62.9}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			raw := mustRead(t, plainRecipe, base+c.last, Options{})
			equal(t, "pressure", raw.Values(sounding.Pressure), c.pressure)
			equal(t, "humidity", raw.Values(sounding.Humidity), c.humidity)
			if c.words == "" {
				if len(raw.Findings) != 0 {
					t.Errorf("finding: %s", raw.Findings[0].Sentence)
				}
				return
			}
			if len(raw.Findings) != 1 || !strings.Contains(raw.Findings[0].Sentence, c.words) {
				t.Errorf("findings %v, want %q", raw.Findings, c.words)
			}
		})
	}
	t.Run("packed data end early", func(t *testing.T) {
		var packed bytes.Buffer
		z := gzip.NewWriter(&packed)
		var text strings.Builder
		text.WriteString("time;p;t;u\n")
		r := rand.New(rand.NewPCG(7, 7))
		for i := range 3000 {
			fmt.Fprintf(&text, "2031-06-03T23:%02d:%02dZ;%.2f;17.3;61\n", i/60, i%60, 900+100*r.Float64())
		}
		if _, err := z.Write([]byte(text.String())); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		half := packed.Bytes()[:packed.Len()/2]
		raw := mustRead(t, plainRecipe, string(half), Options{})
		sum := sha256.Sum256(half)
		if raw.Sources[0].SHA256 != hex.EncodeToString(sum[:]) {
			t.Error("SHA-256 is not that of the bytes as received")
		}
		found := false
		for _, f := range raw.Findings {
			found = found || strings.Contains(f.Sentence, "gzip data end early")
		}
		if !found || raw.Len() < 500 {
			t.Errorf("%d rows, findings %v", raw.Len(), raw.Findings)
		}
	})
}

func TestLongLines(t *testing.T) {
	long := strings.Repeat("9", maxLine+100)
	raw := mustRead(t, plainRecipe, plainRows+long+"\n2031-06-03T23:04:13Z;967.8;17.1;62\n", Options{})
	equal(t, "pressure", raw.Values(sounding.Pressure), []float64{968.4, 968.1, 967.8})
	if raw.Line[2] != 5 || raw.Sources[0].Unread != 1 || !strings.Contains(raw.Findings[0].Sentence, "longer than") {
		t.Errorf("lines %v, findings %v", raw.Line, raw.Findings)
	}
}

// All bases of time.
func TestTimeBases(t *testing.T) {
	recipe := func(time, rest string) string {
		return "name = \"t\"\nformat = \"text\"\n[text]\ndelimiter = \";\"\ncomment = [\"#\"]\n[preamble]\nheader = true\n[time]\n" + time + rest + "\n[[column]]\nname = \"p\"\nvariable = \"pressure\"\nunit = \"hPa\"\n"
	}
	day := func(s string) time.Time {
		d, err := time.Parse(time.DateOnly, s)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	for _, c := range []struct {
		name, time, rest, head string
		rows                   []string
		options                Options
		first, last            string
		err                    error
	}{
		{name: "time of day past midnight", time: "kind = \"time-of-day\"\ncolumn = \"t\"", rows: []string{"23:59:58", "23:59:59", "00:00:00", "00:00:01"}, options: Options{Date: day("2031-06-03")}, first: "2031-06-03T23:59:58Z", last: "2031-06-04T00:00:01Z"},
		{name: "time of day without a date", time: "kind = \"time-of-day\"\ncolumn = \"t\"", rows: []string{"23:59:58"}, err: ErrNoDate},
		{name: "date in the name", time: "kind = \"time-of-day\"\ncolumn = \"t\"\ndate_from_name = '(\\d{8})'", rows: []string{"12:00:00", "12:00:01"}, first: "2031-06-05T12:00:00Z", last: "2031-06-05T12:00:01Z"},
		{name: "date of the nominal hour in the name", time: "kind = \"time-of-day\"\ncolumn = \"t\"\ndate_from_name = '(\\d{8})'", rows: []string{"23:04:11", "00:04:12"}, options: Options{Near: day("2031-06-05")}, first: "2031-06-04T23:04:11Z", last: "2031-06-05T00:04:12Z"},
		{name: "day of a nominal hour", time: "kind = \"time-of-day\"\ncolumn = \"t\"", rows: []string{"23:04:11", "00:04:12"}, options: Options{Near: day("2031-06-04")}, first: "2031-06-03T23:04:11Z", last: "2031-06-04T00:04:12Z"},
		{name: "the source's own start before the record's", time: "kind = \"elapsed\"\ncolumn = \"t\"", rest: "\n[[capture]]\npattern = '^# start (.+)$'\nfield = \"time.base\"", head: "# start 2031-06-03 23:04:11\n", rows: []string{"0", "10"}, options: Options{Declared: day("2031-06-01")}, first: "2031-06-03T23:04:11Z", last: "2031-06-03T23:04:21Z"},
		{name: "the record's declared release", time: "kind = \"elapsed\"\ncolumn = \"t\"", rows: []string{"0", "10"}, options: Options{Declared: day("2031-06-03")}, first: "2031-06-03T00:00:00Z", last: "2031-06-03T00:00:10Z"},
		{name: "date in the header", time: "kind = \"time-of-day\"\ncolumn = \"t\"", rest: "\n[[capture]]\npattern = '^# day (\\S+)'\nfield = \"time.date\"\nlayout = \"DD.MM.YYYY\"", head: "# day 05.06.2031\n", rows: []string{"12:00:00.5", "12:00:01.5"}, first: "2031-06-05T12:00:00.5Z", last: "2031-06-05T12:00:01.5Z"},
		{name: "date of the declared release", time: "kind = \"time-of-day\"\ncolumn = \"t\"", rest: "\n[[capture]]\npattern = '^# release (\\S+)'\nfield = \"release.declared_utc\"", head: "# release 2031-06-04T00:10:00Z\n", rows: []string{"23:50:00", "00:20:00"}, first: "2031-06-03T23:50:00Z", last: "2031-06-04T00:20:00Z"},
		{name: "local time", time: "kind = \"local\"\ncolumn = \"t\"\nzone = \"Europe/Zurich\"", rows: []string{"2031-06-03 23:04:11", "2031-06-03 23:04:12"}, first: "2031-06-03T21:04:11Z", last: "2031-06-03T21:04:12Z"},
		{name: "local time of day", time: "kind = \"time-of-day\"\ncolumn = \"t\"\nzone = \"America/St_Johns\"", rows: []string{"23:04:11", "00:04:12"}, options: Options{Date: day("2031-01-03")}, first: "2031-01-04T02:34:11Z", last: "2031-01-04T03:34:12Z"},
		{name: "clock set back in flight", time: "kind = \"local\"\ncolumn = \"t\"\nzone = \"Europe/Zurich\"", rows: []string{"2031-10-26 02:59:58", "2031-10-26 02:59:59", "2031-10-26 02:00:00", "2031-10-26 02:00:01"}, first: "2031-10-26T00:59:58Z", last: "2031-10-26T01:00:01Z"},
		{name: "clock put forward in flight", time: "kind = \"local\"\ncolumn = \"t\"\nzone = \"Europe/Zurich\"", rows: []string{"2031-03-30 01:59:59", "2031-03-30 03:00:00"}, first: "2031-03-30T00:59:59Z", last: "2031-03-30T01:00:00Z"},
		{name: "stamps with an offset", time: "kind = \"utc\"\ncolumn = \"t\"\nlayout = \"YYYY-MM-DDThh:mm:ssZZ\"", rows: []string{"2031-06-03T23:04:11+02:00", "2031-06-03T23:04:12+02:00"}, first: "2031-06-03T21:04:11Z", last: "2031-06-03T21:04:12Z"},
		{name: "day of year", time: "kind = \"utc\"\ncolumn = \"t\"\nlayout = \"YYYY DDD hh:mm:ss\"", rows: []string{"2031 154 23:04:11", "2031 155 00:00:00"}, first: "2031-06-03T23:04:11Z", last: "2031-06-04T00:00:00Z"},
		{name: "month name, half days", time: "kind = \"utc\"\ncolumn = \"t\"\nlayout = \"MON DD YYYY hh:mm:ss AM\"", rows: []string{"Jun 3 2031 11:59:59 AM", "Jun 3 2031 12:00:00 PM", "Jun 3 2031 1:00:00 pm"}, first: "2031-06-03T11:59:59Z", last: "2031-06-03T13:00:00Z"},
		{name: "end of the day and leap second", time: "kind = \"utc\"\ncolumn = \"t\"", rows: []string{"2031-06-30 23:59:60", "2031-06-30 24:00:00"}, first: "2031-07-01T00:00:00Z", last: "2031-07-01T00:00:00Z"},
		{name: "elapsed seconds", time: "kind = \"elapsed\"\ncolumn = \"t\"\nbase = \"2031-06-03T23:04:11Z\"", rows: []string{"-1.5", "0", "3600.25"}, first: "2031-06-03T23:04:09.5Z", last: "2031-06-04T00:04:11.25Z"},
		{name: "elapsed minutes", time: "kind = \"elapsed\"\ncolumn = \"t\"\nunit = \"min\"", options: Options{Base: day("2031-06-03")}, rows: []string{"0", "1.5"}, first: "2031-06-03T00:00:00Z", last: "2031-06-03T00:01:30Z"},
		{name: "elapsed mm:ss", time: "kind = \"elapsed\"\ncolumn = \"t\"\nunit = \"mm:ss\"", options: Options{Base: day("2031-06-03")}, rows: []string{"00:00", "119:59.5", "1:59:59.75"}, first: "2031-06-03T00:00:00Z", last: "2031-06-03T01:59:59.75Z"},
		{name: "elapsed without a start", time: "kind = \"elapsed\"\ncolumn = \"t\"", rows: []string{"0"}, err: ErrNoBase},
		{name: "start in the header", time: "kind = \"elapsed\"\ncolumn = \"t\"", rest: "\n[[capture]]\npattern = '^# start (.+)$'\nfield = \"time.base\"\nzone = \"Europe/Zurich\"", head: "# start 2031-06-04 01:04:11\n", rows: []string{"0", "10"}, first: "2031-06-03T23:04:11Z", last: "2031-06-03T23:04:21Z"},
		{name: "zone in the header", time: "kind = \"local\"\ncolumn = \"t\"", rest: "\n[[capture]]\npattern = '^# zone (\\S+)$'\nfield = \"time.zone\"", head: "# zone UTC-03:00\n", rows: []string{"2031-06-03 20:04:11", "2031-06-03 20:04:12"}, first: "2031-06-03T23:04:11Z", last: "2031-06-03T23:04:12Z"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var b strings.Builder
			b.WriteString(c.head + "t;p\n")
			for i, r := range c.rows {
				fmt.Fprintf(&b, "%s;%d\n", r, 1000-i)
			}
			raw, err := Read(context.Background(), "log_20310605.txt", strings.NewReader(b.String()), recipeOf(t, recipe(c.time, c.rest)), c.options)
			if c.err != nil {
				if !errors.Is(err, c.err) {
					t.Fatalf("error %v, want %v", err, c.err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if f, l := raw.Sources[0].FirstUTC.Format(time.RFC3339Nano), raw.Sources[0].LastUTC.Format(time.RFC3339Nano); f != c.first || l != c.last {
				t.Errorf("%s to %s, want %s to %s", f, l, c.first, c.last)
			}
			if raw.Epoch.Hour() != 0 || raw.Time[0] < 0 || raw.Time[0] >= 86400 {
				t.Errorf("epoch %v, first time %g", raw.Epoch, raw.Time[0])
			}
		})
	}
}

// Units from the recipe, a unit row, the header; an unknown one is refused by name.
func TestUnitsOfColumns(t *testing.T) {
	recipe := func(units string, column string) string {
		return "name = \"t\"\nformat = \"text\"\n[text]\ndelimiter = \",\"\n[preamble]\nheader = true\n" + units + "[time]\nkind = \"utc\"\ncolumn = \"t\"\n[[column]]\nname = \"P\"\nvariable = \"pressure\"\n" + column
	}
	for _, c := range []struct {
		name, recipe, text string
		want               float64
		err                string
	}{
		{"recipe", recipe("", "unit = \"Pa\""), "t,P\n2031-06-03 00:00:00,96840\n", 968.4, ""},
		{"header", recipe("", ""), "t,P [Pa]\n2031-06-03 00:00:00,96840\n", 968.4, ""},
		{"unit row", recipe("units = true\n", ""), "t,P\n-,(inHg)\n2031-06-03 00:00:00,29.92\n", 1013.207481, ""},
		{"the recipe stands above the header", recipe("", "unit = \"hPa\""), "t,P [Pa]\n2031-06-03 00:00:00,968.4\n", 968.4, ""},
		{"none", recipe("", ""), "t,P\n2031-06-03 00:00:00,96840\n", 0, "no unit is given by the recipe, a unit row or the header"},
		{"unknown", recipe("", ""), "t,P [furlong]\n2031-06-03 00:00:00,96840\n", 0, "unit \"furlong\" is not known for pressure: known are hPa"},
		{"scale", recipe("", "unit = \"hPa\"\nscale = 0.1"), "t,P\n2031-06-03 00:00:00,9684\n", 968.4, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			raw, err := readText1(t, c.recipe, c.text, Options{})
			if c.err != "" {
				if err == nil || !strings.Contains(err.Error(), c.err) {
					t.Errorf("error %v, want %q", err, c.err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if got := raw.Values(sounding.Pressure)[0]; math.Abs(got-c.want) > 1e-6 {
				t.Errorf("%g hPa, want %g", got, c.want)
			}
		})
	}
}

func TestFixedColumnsPositionsAndExtras(t *testing.T) {
	const recipe = `name = "fixed"
format = "text"
drop = ["noise"]
[text]
delimiter = "fixed"
decimal = ","
encoding = "latin-1"
[preamble]
lines = 2
[time]
kind = "time-of-day"
column = "clock"
date = "2031-06-03"
[[column]]
name = "clock"
start = 1
width = 8
[[column]]
name = "p"
start = 10
width = 7
variable = "pressure"
unit = "hPa"
[[column]]
name = "lat"
start = 18
width = 11
variable = "latitude"
unit = "deg-min"
[[column]]
name = "status"
start = 30
width = 6
extra = "status"
`
	text := "Log of the pier \xb0\n--------\n23:04:11  968,40 46\xb012,613'N  ok\n23:04:12  968,10 46\xb012,620'N  lost\n23:04:13  967,80 46\xb0xx,620'N  007\n"
	raw := mustRead(t, recipe, text, Options{})
	equal(t, "pressure", raw.Values(sounding.Pressure), []float64{968.4, 968.1, 967.8})
	equal(t, "latitude", raw.Values(sounding.Latitude), []float64{46 + 12.613/60, 46 + 12.62/60, nan})
	if len(raw.Extra) != 1 || fmt.Sprint(raw.Extra[0].Text) != "[ok lost 007]" {
		t.Errorf("extras %v", raw.Extra)
	}
	if len(raw.Findings) != 1 || !strings.Contains(raw.Findings[0].Sentence, "46°xx,620'N") {
		t.Errorf("findings %v", raw.Findings)
	}
}

func TestHemisphereColumnsAndRanges(t *testing.T) {
	const recipe = `name = "h"
format = "text"
[text]
delimiter = ","
[preamble]
header = true
[time]
kind = "utc"
column = "t"
[[column]]
name = "lat"
variable = "latitude"
unit = "deg-min"
hemisphere = "ns"
[[column]]
name = "lon"
variable = "longitude"
unit = "deg"
`
	raw := mustRead(t, recipe, "t,lat,ns,lon,n\n2031-06-03 00:00:00,4612.5,S,353.5,1\n2031-06-03 00:00:01,4612.5,N,-9999,2\n2031-06-03 00:00:02,4662.5,N,10,3\n2031-06-03 00:00:03,4612.5,Q,10,x\n", Options{})
	equal(t, "latitude", raw.Values(sounding.Latitude), []float64{-(46 + 12.5/60), 46 + 12.5/60, nan, nan})
	equal(t, "longitude", raw.Values(sounding.Longitude), []float64{-6.5, nan, 10, 10})
	if len(raw.Findings) != 3 {
		t.Errorf("findings %v", raw.Findings)
	}
	if len(raw.Extra) != 1 || raw.Extra[0].Name != "n" || fmt.Sprint(raw.Extra[0].Text) != "[1 2 3 x]" {
		t.Errorf("extras %v", raw.Extra)
	}
}

// The fast way to read a number gives the same float64 as strconv, always.
func TestParseNumberIsExact(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	check := func(s string) {
		want, err := strconv.ParseFloat(s, 64)
		got, ok := parseNumber([]byte(s), '.')
		if ok != (err == nil) || ok && (got != want || math.Signbit(got) != math.Signbit(want)) {
			t.Fatalf("%q: %v %t, strconv has %v %v", s, got, ok, want, err)
		}
		comma, ok2 := parseNumber([]byte(strings.Replace(s, ".", ",", 1)), ',')
		if ok2 != ok || ok && comma != got {
			t.Fatalf("%q with a comma: %v", s, comma)
		}
	}
	for range 200_000 {
		switch r.IntN(4) {
		case 0:
			check(strconv.FormatFloat(math.Float64frombits(r.Uint64()&^(0x7ff<<52)|uint64(r.IntN(0x7ff))<<52), 'g', -1, 64))
		case 1:
			check(strconv.FormatFloat(r.NormFloat64()*1000, 'f', r.IntN(20), 64))
		case 2:
			check(fmt.Sprintf("%d.%d", r.Int64N(1<<40), r.Uint64()))
		case 3:
			check(fmt.Sprintf("%d.%de%d", r.IntN(1000), r.IntN(1000), r.IntN(700)-350))
		}
	}
	for _, s := range []string{"", "-", "+", ".", "e5", "1e", "1e+", "1.2.3", "--1", "1-", "0x10", "inf", "nan", "1_0", " 1", "1 ", "١"} {
		if x, ok := parseNumber([]byte(s), '.'); ok {
			t.Errorf("%q was read as %g", s, x)
		}
	}
	for _, s := range []string{"0", "-0", "+5", "5.", ".5", "-.5", "00012", "0.000000000000000000000000001", "9007199254740993", "1e22", "1e23", "123456789012345678e-30"} {
		check(s)
	}
}

func flight(rows, columns int) string {
	var b strings.Builder
	b.WriteString("time;frame;p;t;ua;ub;ha;hb;ta;tb;lat;lon;h;ve;vn;vu\n")
	r := rand.New(rand.NewPCG(9, 9))
	at := time.Date(2031, 6, 3, 23, 4, 11, 0, time.UTC)
	for i := range rows {
		p := 1000 * math.Exp(-float64(i)*5/7400)
		fmt.Fprintf(&b, "%s;%d;%.2f;%.2f;%.1f;%.1f;%d;%d;%.1f;%.1f;%.6f;%.6f;%.1f;%.2f;%.2f;%.2f\n", at.Add(time.Duration(i)*time.Second).Format("2006-01-02T15:04:05.0Z"), i, p, 15-0.0065*float64(i)*5, 60*r.Float64(), 60*r.Float64(), i/10%2, 1-i/10%2, 20*r.Float64(), 20*r.Float64(), 46.2+float64(i)*1e-5, 6.1+float64(i)*1e-5, 400+5*float64(i), 10*r.NormFloat64(), 10*r.NormFloat64(), 5.0)
	}
	return b.String()
}

const flightRecipe = `name = "flight"
format = "text"
[text]
delimiter = ";"
[preamble]
header = true
[time]
kind = "utc"
column = "time"
layout = "YYYY-MM-DDThh:mm:ssZZ"
` + "[[column]]\nname=\"frame\"\nvariable=\"frame\"\n[[column]]\nname=\"p\"\nvariable=\"pressure\"\nunit=\"hPa\"\n[[column]]\nname=\"t\"\nvariable=\"temperature\"\nunit=\"C\"\n[[column]]\nname=\"ua\"\nvariable=\"humidity_a\"\nunit=\"%\"\n[[column]]\nname=\"ub\"\nvariable=\"humidity_b\"\nunit=\"%\"\n[[column]]\nname=\"ha\"\nvariable=\"heating_a\"\n[[column]]\nname=\"hb\"\nvariable=\"heating_b\"\n[[column]]\nname=\"ta\"\nvariable=\"humidity_sensor_temperature_a\"\nunit=\"C\"\n[[column]]\nname=\"tb\"\nvariable=\"humidity_sensor_temperature_b\"\nunit=\"C\"\n[[column]]\nname=\"lat\"\nvariable=\"latitude\"\nunit=\"deg\"\n[[column]]\nname=\"lon\"\nvariable=\"longitude\"\nunit=\"deg\"\n[[column]]\nname=\"h\"\nvariable=\"height_ellipsoid\"\nunit=\"m\"\n[[column]]\nname=\"ve\"\nvariable=\"velocity_east\"\nunit=\"m/s\"\n[[column]]\nname=\"vn\"\nvariable=\"velocity_north\"\nunit=\"m/s\"\n[[column]]\nname=\"vu\"\nvariable=\"velocity_up\"\nunit=\"m/s\"\n"

// BenchmarkReadText reads a flight of 7,200 rows and 16 columns.
func BenchmarkReadText(b *testing.B) {
	text := flight(7200, 16)
	recipe := recipeOf(b, flightRecipe)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(context.Background(), "f.txt", strings.NewReader(text), recipe, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// Nothing but disorder: times and places that jump from row to row come out in order,
// and at a cost that does not grow with the square of the rows (else this hangs).
func TestDisorderStaysCheap(t *testing.T) {
	const n = 200_000
	r := rand.New(rand.NewPCG(4, 4))
	in := &table{day: 20000, time: make([]float64, n), line: make([]int32, n)}
	p, lat, lon := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		in.time[i], in.line[i] = float64(r.IntN(86400)), int32(i+1)
		p[i], lat[i], lon[i] = 500+float64(i%2)*400, float64(i%2)*40, float64(i%2)*40
	}
	in.series = []sounding.Series{{Variable: sounding.Pressure, Values: p}, {Variable: sounding.Latitude, Values: lat}, {Variable: sounding.Longitude, Values: lon}}
	raw, err := in.raw(sounding.Source{Name: "x"})
	if err != nil {
		t.Fatal(err)
	}
	otherRadiosonde(raw)
	Split(raw)
	sound(t, raw)
}
