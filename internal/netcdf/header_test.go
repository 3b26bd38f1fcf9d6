package netcdf

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"
)

// fileBytes puts a header together by hand: uint32, uint64, int8 to text.
func fileBytes(parts ...any) []byte {
	var b []byte
	for _, p := range parts {
		switch p := p.(type) {
		case int:
			b = binary.BigEndian.AppendUint32(b, uint32(p))
		case int64:
			b = binary.BigEndian.AppendUint64(b, uint64(p))
		case uint64:
			b = binary.BigEndian.AppendUint64(b, p)
		case string:
			b = append(b, p...)
		}
	}
	return b
}

// name4 and name8 are a name with its length, in the older kinds and in CDF-5.
func name4(s string) string {
	return string(fileBytes(len(s), s+strings.Repeat("\x00", (4-len(s)%4)%4)))
}
func name8(s string) string {
	return string(fileBytes(int64(len(s)), s+strings.Repeat("\x00", (4-len(s)%4)%4)))
}

const absent = "\x00\x00\x00\x00\x00\x00\x00\x00"

// Counts that lie are refused at the byte where they stand, without the memory
// they ask for.
func TestLyingHeader(t *testing.T) {
	const huge = math.MaxInt32
	const far = int64(math.MaxInt64)
	absent8 := string(fileBytes(0, int64(0)))
	oneVariable := func(shape string, typ int, begin int) string {
		return string(fileBytes(tagVariable, 1, name4("x"), shape, absent, typ, 4, begin))
	}
	for name, c := range map[string]struct {
		file []byte
		at   int64
		want string
	}{
		"empty":                      {nil, 0, "CDF"},
		"three bytes":                {[]byte("CDF"), 0, "CDF"},
		"another file":               {[]byte("time,pressure\n"), 0, "not a netCDF file"},
		"version 3":                  {fileBytes("CDF\x03", 0, absent, absent, absent), 0, "version 1, 2 or 5"},
		"cut in the number":          {[]byte("CDF\x01\x00\x00"), 4, "number of records"},
		"wrong tag":                  {fileBytes("CDF\x01", 0, 7, 1, absent, absent), 8, "tag"},
		"absent with a count":        {fileBytes("CDF\x01", 0, 0, 1, absent, absent), 8, "tag"},
		"2^31 dimensions":            {fileBytes("CDF\x01", 0, tagDimension, huge, absent, absent), 12, "dimensions"},
		"60000 dimensions":           {fileBytes("CDF\x01", 0, tagDimension, 60000, absent, absent), 12, "dimensions"},
		"2^63 dimensions":            {fileBytes("CDF\x05", int64(0), tagDimension, far, absent8, absent8), 16, "dimensions"},
		"negative count":             {fileBytes("CDF\x05", int64(0), tagDimension, uint64(math.MaxUint64), absent8, absent8), 16, "negative"},
		"negative records":           {fileBytes("CDF\x05", uint64(math.MaxUint64-1), absent8, absent8, absent8), 4, "negative"},
		"long name":                  {fileBytes("CDF\x01", 0, tagDimension, 1, huge, "time", 0, absent, absent), 16, "name of a dimension"},
		"name of 2^63 bytes":         {fileBytes("CDF\x05", int64(0), tagDimension, int64(1), far, "time", int64(0), absent8, absent8), 24, "name of a dimension"},
		"empty name":                 {fileBytes("CDF\x01", 0, tagDimension, 1, 0, 0, 0, absent, absent), 16, "name of a dimension"},
		"two unlimited":              {fileBytes("CDF\x01", 0, tagDimension, 2, name4("a"), 0, name4("b"), 0, absent, absent), 36, "one unlimited"},
		"dimension twice":            {fileBytes("CDF\x01", 0, tagDimension, 2, name4("a"), 1, name4("a"), 1, absent, absent), 28, "twice"},
		"long attribute":             {fileBytes("CDF\x01", 0, absent, tagAttribute, 1, name4("a"), int(Double), huge, absent), 36, "length of attribute a"},
		"attribute of 2^63 values":   {fileBytes("CDF\x05", int64(0), absent8, tagAttribute, int64(1), name8("a"), int(Double), far, absent8), 52, "length of attribute a"},
		"attribute of type 7":        {fileBytes("CDF\x01", 0, absent, tagAttribute, 1, name4("a"), int(UByte), 1, 0, absent), 32, "type of attribute"},
		"attribute of type 12":       {fileBytes("CDF\x05", int64(0), absent8, tagAttribute, int64(1), name8("a"), 12, int64(0), absent8), 48, "type of attribute"},
		"attribute twice":            {fileBytes("CDF\x01", 0, absent, tagAttribute, 2, name4("a"), int(Int), 1, 5, name4("a"), int(Int), 1, 5, absent), 44, "twice"},
		"2^31 dimensions of x":       {fileBytes("CDF\x01", 0, absent, absent, oneVariable(string(fileBytes(huge)), int(Int), 80), 0, 0, 0, 0), 40, "dimensions of x"},
		"unknown dimension":          {fileBytes("CDF\x01", 0, absent, absent, oneVariable(string(fileBytes(1, 0)), int(Int), 76), 0), 44, "dimension of x below 0"},
		"type 0":                     {fileBytes("CDF\x01", 0, absent, absent, oneVariable(string(fileBytes(0)), 0, 64), 0), 52, "type of x"},
		"offset inside the header":   {fileBytes("CDF\x01", 0, absent, absent, oneVariable(string(fileBytes(0)), int(Int), 60), 0), 60, "header's end"},
		"offset behind the file":     {fileBytes("CDF\x01", 0, absent, absent, oneVariable(string(fileBytes(0)), int(Int), huge), 0), huge, "file's at byte 68"},
		"value cut":                  {fileBytes("CDF\x01", 0, absent, absent, oneVariable(string(fileBytes(0)), int(Double), 64), 0), 64, "8 bytes of variable x"},
		"length 2^31":                {fileBytes("CDF\x01", 0, tagDimension, 1, name4("n"), huge, absent, oneVariable(string(fileBytes(1, 0)), int(Double), 80), 0), 80, "variable x"},
		"size beyond 2^63":           {fileBytes("CDF\x01", 0, tagDimension, 1, name4("n"), huge, absent, oneVariable(string(fileBytes(3, 0, 0, 0)), int(Double), 88), 0), 0, "below 2^63"},
		"2^31 records":               {fileBytes("CDF\x01", huge, tagDimension, 1, name4("n"), 0, absent, oneVariable(string(fileBytes(1, 0)), int(Int), 80), 0), 4, "has room for 1 in 84 bytes"},
		"2^63 records":               {fileBytes("CDF\x05", far, tagDimension, int64(1), name8("n"), int64(0), absent8, tagVariable, int64(1), name8("x"), int64(1), int64(0), absent8, int(Int), int64(4), int64(152), 0), 4, "number of records"},
		"unlimited dimension second": {fileBytes("CDF\x01", 0, tagDimension, 2, name4("n"), 2, name4("t"), 0, absent, oneVariable(string(fileBytes(2, 0, 1)), int(Int), 96), 0), 0, "first dimension of x"},
	} {
		t.Run(name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			f, err := Open(bytes.NewReader(c.file), int64(len(c.file)))
			runtime.ReadMemStats(&after)
			var bad *FormatError
			if !errors.As(err, &bad) || f != nil {
				t.Fatalf("file %v, error %v", f, err)
			}
			if !strings.Contains(err.Error(), c.want) || c.at != 0 && bad.Offset != c.at {
				t.Errorf("%v; wanted byte %d and %q", err, c.at, c.want)
			}
			if n := after.TotalAlloc - before.TotalAlloc; n > 1<<20 {
				t.Errorf("%d bytes were allocated for a file of %d", n, len(c.file))
			}
		})
	}
}

// A file that ends early at any byte is refused, or, where only padding is
// missing, read the same.
func TestCutFile(t *testing.T) {
	for _, kind := range []Kind{Classic, Offset64Bit, Data64Bit} {
		whole := written(t, datasetSix(kind))
		for n := range len(whole) {
			f, err := Open(bytes.NewReader(whole[:n]), int64(n))
			missing := len(whole) - n
			if err == nil && missing > 3 { // word ends with three bytes of padding
				t.Errorf("%s: cut by %d bytes and still opened with %d variables", kind, missing, len(f.Variables))
			}
			if err != nil && missing <= 3 {
				t.Errorf("%s: only padding is missing: %v", kind, err)
			}
		}
	}
}

// Of a file that was cut off, the whole records can be had, and how many are lost.
func TestOpenCut(t *testing.T) {
	whole := written(t, datasetSix(Classic))
	const record = 4 + 4 + 4 + 8 // flag, packed, humidity, word, each padded
	for cut, lost := range map[int]int64{0: 0, 3: 0, 4: 1, record + 3: 1, record + 4: 2, 2 * record: 2} {
		f, n, err := OpenCut(bytes.NewReader(whole), int64(len(whole)-cut))
		if err != nil || n != lost || f.Records != 3-lost {
			t.Fatalf("without %d bytes: %d lost, wanted %d, %v", cut, n, lost, err)
		}
		if x, err := f.Float64s(f.Variable("humidity")); err != nil || int64(len(x)) != 3-lost || x[0] != float64(float32(0.1)) {
			t.Errorf("without %d bytes: %v, %v", cut, x, err)
		}
	}
	for _, cut := range []int{2*record + 4, 3 * record, 3*record + 1, len(whole) - 50} {
		if f, _, err := OpenCut(bytes.NewReader(whole), int64(len(whole)-cut)); err == nil || f != nil {
			t.Errorf("without %d bytes it was opened", cut)
		}
	}
}

// A header that leaves the number of records open (all bits set) is read with as
// many as the file holds.
func TestStreamingRecords(t *testing.T) {
	for _, kind := range []Kind{Classic, Data64Bit} {
		b := written(t, datasetSix(kind))
		width := 4
		if kind == Data64Bit {
			width = 8
		}
		for i := range width {
			b[4+i] = 0xff
		}
		const record = 4 + 4 + 4 + 8 // flag, packed, humidity, word, each padded
		for cut, want := range map[int]int64{0: 3, 3: 3, 4: 2, record: 2, record + 3: 2, 2 * record: 1, 3 * record: 0} {
			f, err := Open(bytes.NewReader(b), int64(len(b)-cut))
			if err != nil {
				t.Errorf("%s without %d bytes: %v", kind, cut, err)
				continue
			}
			if f.Records != want || f.Variable("humidity").Len() != want || f.Dimensions[2].Length != want {
				t.Errorf("%s without %d bytes: %d records, wanted %d", kind, cut, f.Records, want)
			}
		}
	}
}

// Edge shapes: no variable, no record, scalars of each type.
func TestEmptyAndScalar(t *testing.T) {
	f := opened(t, written(t, &Dataset{}))
	if len(f.Variables)+len(f.Dimensions)+len(f.Attributes) != 0 {
		t.Errorf("an empty file holds %v", f)
	}
	f = opened(t, written(t, &Dataset{Dimensions: []Dimension{{"time", 0, true}, {"w", 4, false}}, Columns: []Column{
		{Name: "x", Dimensions: []string{"time"}, Values: []float64{}},
		{Name: "s", Dimensions: []string{"time", "w"}, Values: []string{}},
		{Name: "pi", Values: []float64{math.Pi}},
		{Name: "c", Values: "q"},
	}}))
	if x, err := f.Float64s(f.Variable("x")); err != nil || len(x) != 0 {
		t.Errorf("no records: %v, %v", x, err)
	}
	if s, err := f.Texts(f.Variable("s")); err != nil || len(s) != 0 {
		t.Errorf("no records of text: %q, %v", s, err)
	}
	if x, err := f.Float64s(f.Variable("pi")); err != nil || len(x) != 1 || x[0] != math.Pi {
		t.Errorf("scalar: %v, %v", x, err)
	}
	if s, err := f.Texts(f.Variable("c")); err != nil || len(s) != 1 || s[0] != "q" {
		t.Errorf("scalar text: %q, %v", s, err)
	}
}

// Sizes around the alignment of 4 bytes, as text and as bytes, fixed and in records.
func TestSizesAroundPadding(t *testing.T) {
	for n := 1; n <= 9; n++ {
		text := "abcdefghi"[:n]
		d := &Dataset{
			Dimensions: []Dimension{{"n", int64(n), false}, {"time", 2, true}},
			Attributes: Attributes{{text, text}},
			Columns: []Column{
				{Name: "a" + text, Dimensions: []string{"n"}, Values: text, Attributes: Attributes{{"t", text}}},
				{Name: "b", Dimensions: []string{"time", "n"}, Values: []string{text, text}},
				{Name: "c", Dimensions: []string{"time"}, Values: []int16{7, -7}},
			},
		}
		f := opened(t, written(t, d))
		if s, err := f.Texts(f.Variable("a" + text)); err != nil || len(s) != 1 || s[0] != text {
			t.Errorf("%d: %q, %v", n, s, err)
		}
		if s, err := f.Texts(f.Variable("b")); err != nil || len(s) != 2 || s[0] != text || s[1] != text {
			t.Errorf("%d: %q, %v", n, s, err)
		}
		if c, err := f.Float64s(f.Variable("c")); err != nil || c[0] != 7 || c[1] != -7 {
			t.Errorf("%d: %v, %v", n, c, err)
		}
		if s, ok := f.Attributes.Text(text); !ok || s != text {
			t.Errorf("%d: attribute %q", n, s)
		}
	}
}

// The kind follows need: types, then sizes.
func TestKindByNeed(t *testing.T) {
	big := func(n int64, typ Type, variables int) *layout {
		l := &layout{dimensions: []Dimension{{"n", n, false}}}
		for range variables {
			l.variables = append(l.variables, definition{name: "x", typ: typ, dimensions: []int{0}})
		}
		return l
	}
	for name, c := range map[string]struct {
		l    *layout
		want Kind
	}{
		"small":                      {big(10, Double, 2), Classic},
		"just below 2 GiB":           {big(math.MaxInt32-3, Byte, 1), Classic},
		"one dimension too long":     {big(math.MaxInt32-2, Byte, 1), Data64Bit},
		"second offset beyond 2^31":  {big(1<<30, Byte, 3), Offset64Bit},
		"variable of 2 GiB":          {big(1<<28, Double, 1), Offset64Bit},
		"variable of 4 GiB":          {big(1<<29, Double, 1), Data64Bit},
		"unsigned":                   {big(10, UShort, 1), Data64Bit},
		"largest variable of CDF-2":  {big(1<<29-1, Double, 1), Offset64Bit},
		"far beyond 2^32, many":      {big(1<<28, Double, 100), Offset64Bit},
		"attribute that needs CDF-5": {&layout{attributes: Attributes{{"a", []int64{1}}}}, Data64Bit},
	} {
		if err := c.l.arrange(0); err != nil || c.l.kind != c.want {
			t.Errorf("%s: %s, wanted %s, %v", name, c.l.kind, c.want, err)
		}
	}
	// Offsets are the sums of the padded sizes, also beyond 2^32.
	l := big(1<<28+1, Short, 20)
	if err := l.arrange(0); err != nil {
		t.Fatal(err)
	}
	for i, v := range l.variables {
		if want := int64(len(l.header)) + int64(i)*(2*(1<<28)+4); v.begin != want {
			t.Errorf("variable %d begins at %d, wanted %d", i, v.begin, want)
		}
	}
	if err := big(math.MaxInt64/8, Double, 2).arrange(0); err == nil {
		t.Error("a file beyond 2^63 bytes was laid out")
	}
}

// brokenReader fails behind a byte.
type brokenReader struct {
	b    []byte
	from int64
}

func (r brokenReader) ReadAt(p []byte, off int64) (int, error) {
	if off+int64(len(p)) > r.from {
		return 0, errDisk
	}
	return bytes.NewReader(r.b).ReadAt(p, off)
}

// An error of the disk is passed on as such; a file that shrinks while it is read
// is a format error.
func TestReadErrors(t *testing.T) {
	b := written(t, datasetSix(Classic))
	if _, err := Open(brokenReader{b, 0}, int64(len(b))); !errors.Is(err, errDisk) {
		t.Errorf("open: %v", err)
	}
	f := opened(t, b)
	f.r = brokenReader{b, 0}
	if x, err := f.Float64s(f.Variable("pressure")); !errors.Is(err, errDisk) || x != nil {
		t.Errorf("read: %v, %v", x, err)
	}
	f.r = bytes.NewReader(b[:len(b)-30])
	var bad *FormatError
	if _, err := f.Float64s(f.Variable("humidity")); !errors.As(err, &bad) {
		t.Errorf("shrunk: %v", err)
	}
	if _, err := Open(bytes.NewReader(b[:100]), int64(len(b))); !errors.As(err, &bad) || bad.Offset != 100 {
		t.Errorf("size lies: %v", err)
	}
}

func TestChoiceRefuses(t *testing.T) {
	f := opened(t, written(t, datasetSix(Classic)))
	flag := f.Variable("flag")
	x := make([]float64, 9)
	for _, c := range [][2][]int64{
		{{0}, {1}}, {{-1, 0}, {1, 1}}, {{4, 0}, {1, 1}}, {{0, 0}, {4, 1}}, {{0, 2}, {1, 2}}, {{0, 0}, {-1, 1}},
		{{math.MaxInt64, 0}, {1, 1}}, {{1, 0}, {math.MaxInt64, 1}}, {nil, {3, 2}},
	} {
		if err := f.ReadFloat64(flag, c[0], c[1], x); err == nil {
			t.Errorf("start %d count %d was read", c[0], c[1])
		}
	}
	if err := f.ReadFloat64(f.Variable("name"), nil, nil, x[:5]); err == nil {
		t.Error("text was read as numbers")
	}
	if err := f.ReadInt64(f.Variable("humidity"), nil, nil, make([]int64, 3)); err == nil {
		t.Error("floats were read as integers")
	}
	if err := f.ReadBytes(f.Variable("count"), nil, nil, make([]byte, 4)); err == nil {
		t.Error("integers were read as bytes")
	}
	if _, err := f.Texts(flag); err == nil {
		t.Error("bytes were read as text")
	}
	if err := f.Columns([]*Variable{flag}, [][]float64{x[:3]}); err == nil {
		t.Error("a column of the wrong length was filled")
	}
	if err := f.Columns([]*Variable{flag}, nil); err == nil {
		t.Error("no column was filled")
	}
}

func TestSniff(t *testing.T) {
	hdf := "\x89HDF\r\n\x1a\n"
	for content, want := range map[string]Kind{
		"": 0, "CDF": 0, "CDF\x01....": Classic, "CDF\x02....": Offset64Bit, "CDF\x05....": Data64Bit, "CDF\x04....": 0,
		hdf: HDF5, strings.Repeat(" ", 512) + hdf: HDF5, strings.Repeat(" ", 2048) + hdf: HDF5, strings.Repeat(" ", 100) + hdf: 0,
	} {
		if got := Sniff(strings.NewReader(content), int64(len(content))); got != want {
			t.Errorf("%.20q: %s, wanted %s", content, got, want)
		}
	}
	_, err := Open(strings.NewReader(hdf), 8)
	if !errors.Is(err, ErrHDF5) || !strings.Contains(err.Error(), "netcdf-bin") {
		t.Errorf("HDF5: %v", err)
	}
	if _, err := Open(io.NewSectionReader(strings.NewReader("CDF"), 0, 3), 3); errors.Is(err, ErrHDF5) {
		t.Error("a short file was taken for HDF5")
	}
}
