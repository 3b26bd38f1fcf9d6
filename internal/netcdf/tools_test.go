package netcdf

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leadline/internal/sharedtest"
)

// cdlSix holds the six types of the older kinds: fixed, record, scalar and text
// variables of sizes that need padding.
const cdlSix = `netcdf out {
dimensions:
	level = 3 ;
	width = 5 ;
	time = UNLIMITED ; // (3 currently)
variables:
	byte flag(time, level) ;
		flag:flag_values = 1b, 2b, 3b, 4b, 9b ;
	char name(width) ;
	short packed(time) ;
		packed:scale_factor = 0.01 ;
		packed:_FillValue = -999s ;
	int count ;
		count:limits = -2147483648, 2147483647 ;
	float humidity(time) ;
		humidity:units = "%" ;
		humidity:valid_range = 0.f, 100.f ;
	double pressure(level) ;
		pressure:units = "hPa" ;
	char word(time, width) ;

// global attributes:
		:Conventions = "CF-1.11" ;
		:note = "température °C" ;
data:

 flag =
  1, 2, 3,
  4, 9, -127,
  127, -128, 0 ;

 name = "lake" ;

 packed = 1, _, -32768 ;

 count = -7 ;

 humidity = 0.1, NaNf, Infinityf ;

 pressure = 1013.25, -1e-300, 1.7976931348623157e+308 ;

 word =
  "ab",
  "",
  "abcde" ;
}
`

func datasetSix(kind Kind) *Dataset {
	return &Dataset{
		Kind:       kind,
		Dimensions: []Dimension{{Name: "level", Length: 3}, {Name: "width", Length: 5}, {Name: "time", Length: 3, Unlimited: true}},
		Attributes: Attributes{{"Conventions", "CF-1.11"}, {"note", "température °C"}},
		Columns: []Column{
			{Name: "flag", Dimensions: []string{"time", "level"}, Values: []int8{1, 2, 3, 4, 9, -127, 127, -128, 0}, Attributes: Attributes{{"flag_values", []int8{1, 2, 3, 4, 9}}}},
			{Name: "name", Dimensions: []string{"width"}, Values: "lake"},
			{Name: "packed", Dimensions: []string{"time"}, Values: []int16{1, -999, -32768}, Attributes: Attributes{{"scale_factor", []float64{0.01}}, {"_FillValue", []int16{-999}}}},
			{Name: "count", Values: []int32{-7}, Attributes: Attributes{{"limits", []int32{math.MinInt32, math.MaxInt32}}}},
			{Name: "humidity", Dimensions: []string{"time"}, Values: []float32{0.1, float32(math.NaN()), float32(math.Inf(1))}, Attributes: Attributes{{"units", "%"}, {"valid_range", []float32{0, 100}}}},
			{Name: "pressure", Dimensions: []string{"level"}, Values: []float64{1013.25, -1e-300, math.MaxFloat64}, Attributes: Attributes{{"units", "hPa"}}},
			{Name: "word", Dimensions: []string{"time", "width"}, Values: []string{"ab", "", "abcde"}},
		},
	}
}

// cdlEleven adds the types of CDF-5. No variable needs padding: the reference goes
// through nccopy, which leaves padding undefined.
const cdlEleven = `netcdf out {
dimensions:
	n = 4 ;
	two = 2 ;
	record = UNLIMITED ;
variables:
	ubyte a(n) ; a:x = 255ub ;
	ushort b(record, two) ; b:x = 65535us ;
	uint c(n) ; c:x = 4294967295u ;
	int64 d(record, n) ; d:x = -9223372036854775807ll ;
	uint64 e(n) ; e:x = 18446744073709551615ull ;
	byte f(record, n) ;
data:
 a = 0, 1, 254, 7 ;
 b = 0, 65534, 7, 8, 9, 10 ;
 c = 0, 1, 4294967294, 3 ;
 d = 0, 1, -1, 9223372036854775807, -9223372036854775807, 12, 3, 4, 5, 6, 7, 8 ;
 e = 0, 1, 18446744073709551615, 2 ;
 f = 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, -12 ;
}
`

func datasetEleven() *Dataset {
	return &Dataset{
		Dimensions: []Dimension{{Name: "n", Length: 4}, {Name: "two", Length: 2}, {Name: "record", Length: 3, Unlimited: true}},
		Columns: []Column{
			{Name: "a", Dimensions: []string{"n"}, Values: []uint8{0, 1, 254, 7}, Attributes: Attributes{{"x", []uint8{255}}}},
			{Name: "b", Dimensions: []string{"record", "two"}, Values: []uint16{0, 65534, 7, 8, 9, 10}, Attributes: Attributes{{"x", []uint16{65535}}}},
			{Name: "c", Dimensions: []string{"n"}, Values: []uint32{0, 1, 4294967294, 3}, Attributes: Attributes{{"x", []uint32{4294967295}}}},
			{Name: "d", Dimensions: []string{"record", "n"}, Values: []int64{0, 1, -1, math.MaxInt64, -math.MaxInt64, 12, 3, 4, 5, 6, 7, 8}, Attributes: Attributes{{"x", []int64{-math.MaxInt64}}}},
			{Name: "e", Dimensions: []string{"n"}, Values: []uint64{0, 1, math.MaxUint64, 2}, Attributes: Attributes{{"x", []uint64{math.MaxUint64}}}},
			{Name: "f", Dimensions: []string{"record", "n"}, Values: []int8{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, -12}},
		},
	}
}

// The same content written by us and by ncgen is the same file, byte for byte, in
// all three kinds.
func TestWriteEqualsNcgen(t *testing.T) {
	one := func(typ string, n int, values any, list string) (string, *Dataset) {
		cdl := fmt.Sprintf("netcdf out { dimensions: time = UNLIMITED ; variables: %s x(time) ; data: x = %s ; }", typ, list)
		return cdl, &Dataset{Dimensions: []Dimension{{"time", int64(n), true}}, Columns: []Column{{Name: "x", Dimensions: []string{"time"}, Values: values}}}
	}
	bytesCDL, bytesSet := one("byte", 5, []int8{1, 2, 3, 4, 5}, "1, 2, 3, 4, 5")
	shortsCDL, shortsSet := one("short", 3, []int16{1, 2, 3}, "1, 2, 3")
	for _, c := range []struct {
		name, cdl string
		set       *Dataset
		kinds     []Kind
	}{
		{"six types", cdlSix, datasetSix(0), []Kind{Classic, Offset64Bit, Data64Bit}},
		{"eleven types", cdlEleven, datasetEleven(), []Kind{Data64Bit}},
		{"one record variable of bytes", bytesCDL, bytesSet, []Kind{Classic, Offset64Bit, Data64Bit}},
		{"one record variable of shorts", shortsCDL, shortsSet, []Kind{Classic, Offset64Bit, Data64Bit}},
		{"nothing", "netcdf out { }", &Dataset{}, []Kind{Classic, Offset64Bit, Data64Bit}},
		{"no records", "netcdf out { dimensions: time = UNLIMITED ; n = 2 ; variables: short x(time) ; byte y(n) ; data: y = 1, 2 ; }", &Dataset{
			Dimensions: []Dimension{{"time", 0, true}, {"n", 2, false}},
			Columns:    []Column{{Name: "x", Dimensions: []string{"time"}, Values: []int16{}}, {Name: "y", Dimensions: []string{"n"}, Values: []int8{1, 2}}},
		}, []Kind{Classic, Offset64Bit, Data64Bit}},
	} {
		for _, kind := range c.kinds {
			t.Run(c.name+" "+kind.String(), func(t *testing.T) {
				reference := generate(t, kind.String(), c.cdl)
				if kind == Data64Bit && strings.Contains(c.cdl, "int64") {
					// ncgen 4.9.0 turns int64 into int in a cdf5 file; nccopy does not.
					reference = filepath.Join(t.TempDir(), "reference.nc")
					run(t, "nccopy", "-k", "cdf5", generate(t, "netCDF-4", c.cdl), reference)
				}
				c.set.Kind = kind
				ours := store(t, c.set)
				want, err := os.ReadFile(reference)
				if err != nil {
					t.Fatal(err)
				}
				got, err := os.ReadFile(ours)
				if err != nil {
					t.Fatal(err)
				}
				if c.name == "nothing" { // ncgen leaves a page of zeros behind such a header
					want = want[:len(got)]
				}
				if !bytes.Equal(got, want) {
					at := 0
					for at < min(len(got), len(want)) && got[at] == want[at] {
						at++
					}
					t.Errorf("%d bytes, ncgen made %d; first difference at byte %d", len(got), len(want), at)
				}
				if k := strings.TrimSpace(run(t, "ncdump", "-k", ours)); k != kind.String() {
					t.Errorf("ncdump -k says %q, wanted %q", k, kind)
				}
				if dump := run(t, "ncdump", "-n", "x", ours); dump != run(t, "ncdump", "-n", "x", reference) {
					t.Errorf("ncdump prints the two files differently:\n%s", dump)
				}
			})
		}
	}
}

// The CDL that ncdump makes of our file is the one it was modelled on.
func TestNcdumpPrintsOurFile(t *testing.T) {
	got := run(t, "ncdump", "-p", "9,17", "-n", "out", store(t, datasetSix(Classic)))
	wantHeader, _, _ := strings.Cut(cdlSix, "data:")
	gotHeader, gotValues, _ := strings.Cut(got, "data:")
	if gotHeader != wantHeader {
		t.Errorf("header by ncdump:\n%s\nwanted:\n%s", gotHeader, wantHeader)
	}
	for _, want := range []string{"1, 2, 3,\n  4, 9, -127,\n  127, -128, 0 ;", "name = \"lake\" ;", "packed = 1, _, -32768 ;", "count = -7 ;", "humidity = 0.100000001, NaNf, Infinityf ;", "pressure = 1013.25, -1e-300, 1.7976931348623157e+308 ;", "\"ab\",\n  \"\",\n  \"abcde\" ;"} {
		if !strings.Contains(gotValues, want) {
			t.Errorf("ncdump prints no %q in\n%s", want, gotValues)
		}
	}
}

// Files made by ncgen in all three kinds are read value by value.
func TestReadNcgenFiles(t *testing.T) {
	for _, c := range []struct {
		cdl   string
		kinds []Kind
		want  int
	}{{cdlSix, []Kind{Classic, Offset64Bit, Data64Bit}, 9 + 3 + 1 + 3 + 3}, {cdlEleven, []Kind{Data64Bit}, 4 + 6 + 4 + 12 + 4 + 12}} {
		for _, kind := range c.kinds {
			path := generate(t, kind.String(), strings.ReplaceAll(c.cdl, "\tint64 d", "\tdouble d"))
			if n := compareWithNcdump(t, path); n != c.want {
				t.Errorf("%s: compared %d values, wanted %d", kind, n, c.want)
			}
			f := openTest(t, path)
			if f.Kind != kind || f.Records != 3 {
				t.Errorf("kind %s with %d records, wanted %s with 3", f.Kind, f.Records, kind)
			}
		}
	}
	f := openTest(t, generate(t, "cdf5", cdlSix))
	if words, err := f.Texts(f.Variable("word")); err != nil || fmt.Sprint(words) != "[ab  abcde]" {
		t.Errorf("texts %q, %v", words, err)
	}
	if s, ok := f.Attributes.Text("note"); !ok || s != "température °C" {
		t.Errorf("note %q", s)
	}
	copied := filepath.Join(t.TempDir(), "copied.nc")
	run(t, "nccopy", "-k", "cdf5", generate(t, "netCDF-4", cdlEleven), copied)
	if n := compareWithNcdump(t, copied); n != 42 {
		t.Errorf("compared %d values, wanted 42", n)
	}
	big := openTest(t, copied)
	d := make([]int64, 12)
	if err := big.ReadInt64(big.Variable("d"), nil, nil, d); err != nil || d[3] != math.MaxInt64 || d[4] != -math.MaxInt64 {
		t.Errorf("int64 values %d, %v", d, err)
	}
	if err := big.ReadInt64(big.Variable("e"), nil, nil, make([]int64, 4)); err == nil {
		t.Error("a uint64 beyond the signed range was read as int64")
	}
}

// Every value of every variable of the open flights equals what ncdump prints.
func TestOpenFlightsEqualNcdump(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*.cdf"))
	if err != nil || len(files) == 0 {
		t.Skipf("skipped: no flights in ../shared/data/arm: %v", err)
	}
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			if n := compareWithNcdump(t, path); n < 10000 {
				t.Errorf("only %d values compared", n)
			}
			f := openTest(t, path)
			var vars []*Variable
			var together [][]float64
			for _, v := range f.Variables {
				if v.Type != Char {
					vars, together = append(vars, v), append(together, make([]float64, v.Len()))
				}
			}
			if err := f.Columns(vars, together); err != nil {
				t.Fatal(err)
			}
			for i, v := range vars {
				alone, err := f.Float64s(v)
				if err != nil {
					t.Fatal(err)
				}
				for j := range alone {
					if !same(alone[j], together[i][j]) {
						t.Fatalf("%s[%d]: %v alone, %v in one pass", v.Name, j, alone[j], together[i][j])
					}
				}
			}
			pressure := f.Variable("pres")
			if u, _ := pressure.Attributes.Text("units"); u != "hPa" {
				t.Errorf("units of pres are %q", u)
			}
		})
	}
}

// Header arithmetic beyond 2^31 and 2^32 bytes, checked by ncdump on a sparse file
// whose only written bytes are the header and the last variable.
func TestLargeOffsets(t *testing.T) {
	l := &layout{
		dimensions: []Dimension{{"a", 1 << 30, false}, {"two", 2, false}, {"time", 2, true}},
		variables: []definition{
			{name: "first", typ: Short, dimensions: []int{0}},  // 2 GiB
			{name: "second", typ: Short, dimensions: []int{0}}, // begins beyond 2^31
			{name: "third", typ: Double, dimensions: []int{2, 1}},
			{name: "fourth", typ: Byte, dimensions: []int{2}},
		},
	}
	if err := l.arrange(Classic); err == nil {
		t.Fatal("a variable of 2 GiB was put into a classic file")
	}
	if err := l.arrange(0); err != nil {
		t.Fatal(err)
	}
	if l.kind != Offset64Bit {
		t.Fatalf("kind %s", l.kind)
	}
	header := int64(len(l.header))
	if got, want := l.variables[2].begin, header+2*(2<<30); got != want {
		t.Errorf("third begins at %d, wanted %d", got, want)
	}
	if got, want := l.size, header+2*(2<<30)+2*(16+4); got != want {
		t.Errorf("size %d, wanted %d", got, want)
	}
	path := filepath.Join(t.TempDir(), "sparse.nc")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if err := file.Truncate(l.size); err != nil {
		t.Skipf("skipped: this file system makes no sparse file of %d bytes: %v", l.size, err)
	}
	if _, err := file.WriteAt(l.header, 0); err != nil {
		t.Fatal(err)
	}
	if _, err := file.WriteAt([]byte{0x40, 0x45}, l.fixedEnd+20); err != nil { // 42 as double, record 1
		t.Fatal(err)
	}
	if _, err := file.WriteAt([]byte{0x12, 0x34}, l.variables[1].begin+2*777); err != nil {
		t.Fatal(err)
	}
	f := openTest(t, path)
	got := make([]float64, 4)
	if err := f.ReadFloat64(f.Variable("third"), nil, nil, got); err != nil || got[2] != 42 || got[0] != 0 {
		t.Errorf("third is %v, %v", got, err)
	}
	if err := f.ReadFloat64(f.Variable("second"), []int64{776}, []int64{2}, got[:2]); err != nil || got[1] != 0x1234 {
		t.Errorf("second[776:778] is %v, %v", got[:2], err)
	}
	text := run(t, "ncdump", "-v", "third,fourth", path)
	if !strings.Contains(text, "third =\n  0, 0,\n  42, 0 ;") {
		t.Errorf("ncdump prints\n%s", text)
	}
	if k := strings.TrimSpace(run(t, "ncdump", "-k", path)); k != "64-bit offset" {
		t.Errorf("ncdump -k says %q", k)
	}
}
