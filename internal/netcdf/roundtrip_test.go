package netcdf

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// written returns the bytes of a file.
func written(t interface{ Fatal(...any) }, d *Dataset) []byte {
	var b bytes.Buffer
	if _, err := d.WriteTo(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func opened(t interface{ Fatal(...any) }, b []byte) *File {
	f, err := Open(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// drawValues draws n values of one of the types that a column can have.
func drawValues(t *rapid.T, typ Type, n int) any {
	switch typ {
	case Byte:
		return rapid.SliceOfN(rapid.Int8(), n, n).Draw(t, "values")
	case UByte:
		return rapid.SliceOfN(rapid.Uint8(), n, n).Draw(t, "values")
	case Short:
		return rapid.SliceOfN(rapid.Int16(), n, n).Draw(t, "values")
	case UShort:
		return rapid.SliceOfN(rapid.Uint16(), n, n).Draw(t, "values")
	case Int:
		return rapid.SliceOfN(rapid.Int32(), n, n).Draw(t, "values")
	case UInt:
		return rapid.SliceOfN(rapid.Uint32(), n, n).Draw(t, "values")
	case Int64:
		return rapid.SliceOfN(rapid.Int64(), n, n).Draw(t, "values")
	case UInt64:
		return rapid.SliceOfN(rapid.Uint64(), n, n).Draw(t, "values")
	case Float:
		return rapid.SliceOfN(rapid.Float32(), n, n).Draw(t, "values")
	case Double:
		return rapid.SliceOfN(rapid.Float64(), n, n).Draw(t, "values")
	}
	return string(rapid.SliceOfN(rapid.Byte(), n, n).Draw(t, "values"))
}

func drawAttributes(t *rapid.T, highest Type) Attributes {
	var list Attributes
	for i := range rapid.IntRange(0, 3).Draw(t, "attributes") {
		typ := Type(rapid.IntRange(int(Byte), int(highest)).Draw(t, "attribute type"))
		list = append(list, Attribute{fmt.Sprintf("attribute_%d", i), drawValues(t, typ, rapid.IntRange(0, 5).Draw(t, "length"))})
	}
	return list
}

func drawDataset(t *rapid.T) *Dataset {
	d := &Dataset{Kind: rapid.SampledFrom([]Kind{0, Classic, Offset64Bit, Data64Bit}).Draw(t, "kind")}
	highest := UInt64
	if d.Kind == Classic || d.Kind == Offset64Bit {
		highest = Double
	}
	d.Attributes = drawAttributes(t, highest)
	unlimited := -1
	for i := range rapid.IntRange(0, 4).Draw(t, "dimensions") {
		dim := Dimension{Name: fmt.Sprintf("höhe_%d", i), Length: int64(rapid.IntRange(1, 6).Draw(t, "length"))}
		if unlimited < 0 && rapid.Bool().Draw(t, "unlimited") {
			unlimited, dim.Unlimited = i, true
			dim.Length = int64(rapid.IntRange(0, 9).Draw(t, "records"))
		}
		d.Dimensions = append(d.Dimensions, dim)
	}
	for i := range rapid.IntRange(0, 5).Draw(t, "variables") {
		c := Column{Name: fmt.Sprintf("v%d", i), Attributes: drawAttributes(t, highest)}
		n := int64(1)
		for _, dim := range d.Dimensions {
			if !rapid.Bool().Draw(t, "has dimension") || dim.Unlimited {
				continue
			}
			c.Dimensions = append(c.Dimensions, dim.Name)
			n *= dim.Length
		}
		if unlimited >= 0 && rapid.Bool().Draw(t, "record variable") {
			c.Dimensions = append([]string{d.Dimensions[unlimited].Name}, c.Dimensions...)
			n *= d.Dimensions[unlimited].Length
		}
		c.Values = drawValues(t, Type(rapid.IntRange(int(Byte), int(highest)).Draw(t, "type")), int(n))
		d.Columns = append(d.Columns, c)
	}
	return d
}

// storedValues reads a whole variable as the type that a column has.
func storedValues(f *File, v *Variable) (any, error) {
	raw := make([]byte, v.Len()*v.Type.size())
	at := 0
	err := f.walk(v, nil, nil, v.Len(), func(_ int64, b []byte, stride, n int) {
		for i := range n {
			at += copy(raw[at:at+int(v.Type.size())], b[i*stride:])
		}
	})
	return attributeValue(v.Type, raw, int(v.Len())), err
}

// What is written is read back the same: names, kinds, attributes, values, bit by
// bit, and the file is as long as Size says and the same when written again.
func TestRoundTrip(t *testing.T) {
	bits := cmp.Options{
		cmp.Transformer("bits", math.Float64bits),
		cmp.Transformer("bits32", math.Float32bits),
	}
	rapid.Check(t, func(t *rapid.T) {
		d := drawDataset(t)
		b := written(t, d)
		if again := written(t, d); !bytes.Equal(b, again) {
			t.Fatal("two runs gave different bytes")
		}
		if n, err := d.Size(); err != nil || n != int64(len(b)) {
			t.Fatalf("Size gives %d, %v for %d bytes", n, err, len(b))
		}
		f := opened(t, b)
		if d.Kind != 0 && f.Kind != d.Kind {
			t.Fatalf("kind %s, wanted %s", f.Kind, d.Kind)
		}
		if diff := cmp.Diff(d.Dimensions, f.Dimensions); diff != "" {
			t.Fatal(diff)
		}
		if diff := cmp.Diff(d.Attributes, f.Attributes, bits); diff != "" {
			t.Fatal(diff)
		}
		if len(f.Variables) != len(d.Columns) {
			t.Fatalf("%d variables, wanted %d", len(f.Variables), len(d.Columns))
		}
		for i, c := range d.Columns {
			v := f.Variables[i]
			var names []string
			for _, id := range v.Dimensions {
				names = append(names, f.Dimensions[id].Name)
			}
			if v.Name != c.Name || f.Variable(c.Name) != v || !cmp.Equal(names, c.Dimensions) {
				t.Fatalf("variable %s%v, wanted %s%v", v.Name, names, c.Name, c.Dimensions)
			}
			if diff := cmp.Diff(c.Attributes, v.Attributes, bits); diff != "" {
				t.Fatal(diff)
			}
			got, err := storedValues(f, v)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.Values, got, bits); diff != "" {
				t.Fatal(diff)
			}
			checkHyperslab(t, f, v)
		}
	})
}

// checkHyperslab compares a piece of a variable with the same piece of the whole.
func checkHyperslab(t *rapid.T, f *File, v *Variable) {
	if v.Type == Char {
		return
	}
	whole, err := f.Float64s(v)
	if err != nil {
		t.Fatal(err)
	}
	start, count := make([]int64, len(v.Shape)), make([]int64, len(v.Shape))
	total := int64(1)
	for a, n := range v.Shape {
		start[a] = rapid.Int64Range(0, n).Draw(t, "start")
		count[a] = rapid.Int64Range(0, n-start[a]).Draw(t, "count")
		total *= count[a]
	}
	piece := make([]float64, total)
	if err := f.ReadFloat64(v, start, count, piece); err != nil {
		t.Fatal(err)
	}
	for i := range piece {
		rest, at, step := int64(i), int64(0), int64(1)
		for a := len(v.Shape) - 1; a >= 0; a-- {
			at += (start[a] + rest%count[a]) * step
			rest /= count[a]
			step *= v.Shape[a]
		}
		if !same(piece[i], whole[at]) {
			t.Fatalf("%s from %d count %d: value %d is %v, wanted %v", v.Name, start, count, i, piece[i], whole[at])
		}
	}
}

// Files larger than the buffers: one record variable (no padding), many record
// variables, long records, fixed variables, read whole, in pieces and in one pass.
func TestRoundTripBeyondBuffers(t *testing.T) {
	const records = 100_003
	ramp := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = float64(i) * 1.25
		}
		return x
	}
	bytesOf := func(n int) []int8 {
		x := make([]int8, n)
		for i := range x {
			x[i] = int8(i * 7)
		}
		return x
	}
	unlimited := Dimension{"time", records, true}
	for name, d := range map[string]*Dataset{
		"one record variable": {Dimensions: []Dimension{unlimited}, Columns: []Column{{Name: "x", Dimensions: []string{"time"}, Values: bytesOf(records)}}},
		"three record variables": {Dimensions: []Dimension{unlimited, {"w", 3, false}}, Columns: []Column{
			{Name: "x", Dimensions: []string{"time"}, Values: bytesOf(records)},
			{Name: "y", Dimensions: []string{"time"}, Values: ramp(records)},
			{Name: "z", Dimensions: []string{"time", "w"}, Values: bytesOf(3 * records)}}},
		"long records": {Dimensions: []Dimension{{"time", 3, true}, {"w", 70_001, false}}, Columns: []Column{
			{Name: "x", Dimensions: []string{"time", "w"}, Values: bytesOf(3 * 70_001)},
			{Name: "y", Dimensions: []string{"time", "w"}, Values: ramp(3 * 70_001)},
			{Name: "z", Dimensions: []string{"time"}, Values: ramp(3)}}},
		"fixed": {Dimensions: []Dimension{{"n", 300_001, false}}, Columns: []Column{
			{Name: "x", Dimensions: []string{"n"}, Values: ramp(300_001)},
			{Name: "y", Dimensions: []string{"n"}, Values: bytesOf(300_001)}}},
	} {
		t.Run(name, func(t *testing.T) {
			f := opened(t, written(t, d))
			together := make([][]float64, len(f.Variables))
			for i, v := range f.Variables {
				together[i] = make([]float64, v.Len())
			}
			if err := f.Columns(f.Variables, together); err != nil {
				t.Fatal(err)
			}
			for i, v := range f.Variables {
				got, err := f.Float64s(v)
				if err != nil {
					t.Fatal(err)
				}
				want, ok := Attributes{{"x", d.Columns[i].Values}}.Float64s("x")
				if !ok || !cmp.Equal(got, want) || !cmp.Equal(together[i], want) {
					t.Errorf("%s differs", v.Name)
				}
				if len(v.Shape) == 2 { // one value of each row
					column := make([]float64, v.Shape[0])
					if err := f.ReadFloat64(v, []int64{0, 2}, []int64{v.Shape[0], 1}, column); err != nil {
						t.Fatal(err)
					}
					for r, x := range column {
						if x != want[int64(r)*v.Shape[1]+2] {
							t.Fatalf("%s[%d, 2] is %v", v.Name, r, x)
						}
					}
				}
			}
		})
	}
}

func TestNaNAsFillAndNarrowing(t *testing.T) {
	nan := math.NaN()
	values := []float64{1.1, nan, 3}
	d := &Dataset{
		Dimensions: []Dimension{{"time", 3, true}},
		Columns: []Column{
			{Name: "double", Dimensions: []string{"time"}, Values: values, NaNAsFill: true, Attributes: Attributes{{"_FillValue", []float64{-999.9}}}},
			{Name: "single", Dimensions: []string{"time"}, Values: values, Type: Float, NaNAsFill: true, Attributes: Attributes{{"_FillValue", []float32{-9999}}}},
			{Name: "kept", Dimensions: []string{"time"}, Values: values},
			{Name: "flag", Dimensions: []string{"time"}, Values: []uint8{1, 4, 9}, Type: Byte},
		},
	}
	b := written(t, d)
	f := opened(t, b)
	if f.Kind != Classic {
		t.Errorf("kind %s: flags up to 127 must fit in a classic file", f.Kind)
	}
	if !math.IsNaN(values[1]) {
		t.Error("the caller's values were changed")
	}
	for name, want := range map[string][2][]float64{
		"double": {{1.1, -999.9, 3}, {1.1, nan, 3}},
		"single": {{float64(float32(1.1)), -9999, 3}, {float64(float32(1.1)), nan, 3}},
		"kept":   {{1.1, nan, 3}, {1.1, nan, 3}},
		"flag":   {{1, 4, 9}, {1, 4, 9}},
	} {
		v := f.Variable(name)
		stored, packed := make([]float64, 3), make([]float64, 3)
		if err := f.ReadFloat64(v, nil, nil, stored); err != nil {
			t.Fatal(err)
		}
		if err := f.Packed(v, nil, nil, packed); err != nil {
			t.Fatal(err)
		}
		for i := range stored {
			if !same(stored[i], want[0][i]) || !same(packed[i], want[1][i]) {
				t.Errorf("%s: stored %v, unpacked %v, wanted %v", name, stored, packed, want)
				break
			}
		}
	}
}

// failingWriter takes some bytes, then fails.
type failingWriter struct{ left int }

func (w *failingWriter) Write(p []byte) (int, error) {
	if len(p) > w.left {
		return w.left, errDisk
	}
	w.left -= len(p)
	return len(p), nil
}

var errDisk = fmt.Errorf("disk full")

func TestWriteError(t *testing.T) {
	d := datasetSix(Classic)
	if n, err := d.WriteTo(&failingWriter{left: 100}); err != errDisk || n != 100 {
		t.Errorf("%d bytes, %v", n, err)
	}
}

// What cannot be written is refused, with a reason, before the first byte.
func TestWriteRefuses(t *testing.T) {
	x := Column{Name: "x", Values: []int8{1}}
	n := Dimension{"n", 2, false}
	long := make([]byte, 257)
	for i := range long {
		long[i] = 'a'
	}
	for name, d := range map[string]*Dataset{
		"no name":                {Columns: []Column{{Values: []int8{1}}}},
		"slash":                  {Columns: []Column{{Name: "a/b", Values: []int8{1}}}},
		"blank at the end":       {Columns: []Column{{Name: "a ", Values: []int8{1}}}},
		"control character":      {Columns: []Column{{Name: "a\tb", Values: []int8{1}}}},
		"begins with minus":      {Columns: []Column{{Name: "-a", Values: []int8{1}}}},
		"not UTF-8":              {Columns: []Column{{Name: "a\xff", Values: []int8{1}}}},
		"name too long":          {Columns: []Column{{Name: string(long), Values: []int8{1}}}},
		"twice":                  {Columns: []Column{x, x}},
		"same after NFC":         {Columns: []Column{{Name: "\u00e9", Values: []int8{1}}, {Name: "e\u0301", Values: []int8{1}}}},
		"dimension twice":        {Dimensions: []Dimension{n, n}},
		"dimension of length 0":  {Dimensions: []Dimension{{"n", 0, false}}},
		"negative length":        {Dimensions: []Dimension{{"n", -1, false}}},
		"two unlimited":          {Dimensions: []Dimension{{"n", 1, true}, {"m", 1, true}}},
		"unlimited not first":    {Dimensions: []Dimension{{"n", 2, true}, {"m", 1, false}}, Columns: []Column{{Name: "x", Dimensions: []string{"m", "n"}, Values: []int8{1, 2}}}},
		"unknown dimension":      {Columns: []Column{{Name: "x", Dimensions: []string{"n"}, Values: []int8{1}}}},
		"too few values":         {Dimensions: []Dimension{n}, Columns: []Column{{Name: "x", Dimensions: []string{"n"}, Values: []int8{1}}}},
		"too much text":          {Dimensions: []Dimension{n}, Columns: []Column{{Name: "x", Dimensions: []string{"n"}, Values: "abc"}}},
		"texts too long":         {Dimensions: []Dimension{n, {"w", 3, false}}, Columns: []Column{{Name: "x", Dimensions: []string{"n", "w"}, Values: []string{"abc", "abcd"}}}},
		"too few texts":          {Dimensions: []Dimension{n, {"w", 3, false}}, Columns: []Column{{Name: "x", Dimensions: []string{"n", "w"}, Values: []string{"abc"}}}},
		"no values":              {Columns: []Column{{Name: "x"}}},
		"values of int":          {Columns: []Column{{Name: "x", Values: []int{1}}}},
		"type does not fit":      {Columns: []Column{{Name: "x", Values: []float64{1}, Type: Int}}},
		"byte above 127":         {Columns: []Column{{Name: "x", Values: []uint8{128}, Type: Byte}}},
		"float too large":        {Columns: []Column{{Name: "x", Values: []float64{1e39}, Type: Float}}},
		"int64 in classic":       {Kind: Classic, Columns: []Column{{Name: "x", Values: []int64{1}}}},
		"uint attribute in CDF2": {Kind: Offset64Bit, Attributes: Attributes{{"a", []uint32{1}}}},
		"kind netCDF-4":          {Kind: HDF5},
		"attribute of int":       {Attributes: Attributes{{"a", 1}}},
		"attribute twice":        {Attributes: Attributes{{"a", "x"}, {"a", "y"}}},
		"fill of another type":   {Columns: []Column{{Name: "x", Values: []float32{1}, Attributes: Attributes{{"_FillValue", []float64{1}}}}}},
		"two fills":              {Columns: []Column{{Name: "x", Values: []float32{1}, Attributes: Attributes{{"_FillValue", []float32{1, 2}}}}}},
		"NaN without fill":       {Columns: []Column{{Name: "x", Values: []float64{1}, NaNAsFill: true}}},
		"dimension beyond 2^31":  {Kind: Classic, Dimensions: []Dimension{{"n", 1 << 31, false}}},
		"size beyond 2^63":       {Dimensions: []Dimension{{"n", math.MaxInt64, false}, n}, Columns: []Column{{Name: "x", Dimensions: []string{"n", "n"}, Values: []int8{}}}},
	} {
		var b bytes.Buffer
		if k, err := d.WriteTo(&b); err == nil || k != 0 || b.Len() != 0 {
			t.Errorf("%s: wrote %d bytes, error %v", name, k, err)
		}
	}
	for _, name := range []string{"é", "_x", "2m_temperature", "a b", "気温", "a.b@c+d-e"} {
		if _, err := (&Dataset{Columns: []Column{{Name: name, Values: []int8{1}}}}).WriteTo(&bytes.Buffer{}); err != nil {
			t.Error(err)
		}
	}
}

// Decomposed names are stored in the normal form and found in either.
func TestNamesInEitherForm(t *testing.T) {
	f := opened(t, written(t, &Dataset{Columns: []Column{{Name: "ho\u0308he", Values: []int8{1}}}}))
	if f.Variables[0].Name != "h\u00f6he" || f.Variable("ho\u0308he") == nil || f.Variable("h\u00f6he") == nil {
		t.Errorf("stored as %q", f.Variables[0].Name)
	}
	if f.Variable("x") != nil {
		t.Error("found a variable that is not there")
	}
}

func TestCheckCFName(t *testing.T) {
	for name, ok := range map[string]bool{"air_temperature": true, "T2": true, "": false, "2m": false, "_x": false, "a-b": false, "höhe": false} {
		if err := CheckCFName(name); (err == nil) != ok {
			t.Errorf("%q: %v", name, err)
		}
	}
}
