package netcdf

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/sharedtest"
)

// readAll opens a file and reads every variable in each way. It fails the test if
// an error comes with a result or an open file cannot be read.
func readAll(t testing.TB, b []byte) (opened bool) {
	f, err := Open(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		if f != nil {
			t.Fatalf("an error with a file: %v", err)
		}
		var bad *FormatError
		if !errors.As(err, &bad) {
			t.Fatalf("not a format error: %v", err)
		}
		if bad.Want == "" || bad.Got == "" || bad.Offset < 0 {
			t.Fatalf("incomplete error: %#v", bad)
		}
		return false
	}
	budget := int64(64 << 20) // many variables may share bytes of a damaged file
	for _, v := range f.Variables {
		if v.Len()*v.Type.size() > int64(len(b)) {
			t.Fatalf("%s has %d values in a file of %d bytes", v.Name, v.Len(), len(b))
		}
		if budget -= 8 * v.Len(); budget < 0 {
			break
		}
		if v.Type == Char {
			if _, err := f.Texts(v); err != nil {
				t.Fatal(err)
			}
			continue
		}
		x, err := f.Float64s(v)
		if err != nil {
			t.Fatal(err)
		}
		if p, err := v.Packing(); err == nil {
			p.Unpack(v.Type, x)
		}
		if err := f.Columns([]*Variable{v}, [][]float64{x}); err != nil {
			t.Fatal(err)
		}
		_, _ = v.TimeUnits()
	}
	return true
}

func FuzzOpen(f *testing.F) {
	for _, kind := range []Kind{Classic, Offset64Bit, Data64Bit} {
		b := written(f, datasetSix(kind))
		f.Add(b)
		streaming := bytes.Clone(b)
		copy(streaming[4:], "\xff\xff\xff\xff")
		f.Add(streaming)
	}
	f.Add(written(f, datasetEleven()))
	f.Add(written(f, &Dataset{}))
	f.Add(written(f, &Dataset{Dimensions: []Dimension{{"time", 5, true}}, Columns: []Column{{Name: "x", Dimensions: []string{"time"}, Values: []int8{1, 2, 3, 4, 5}}}}))
	f.Fuzz(func(t *testing.T, b []byte) {
		if !readAll(t, b) {
			return
		}
		// What opens can be written again from its parts and reads the same.
		g := opened(t, b)
		if len(g.Variables) > 50 || len(b) > 1<<16 {
			return
		}
		d := &Dataset{Kind: g.Kind, Dimensions: g.Dimensions, Attributes: g.Attributes}
		for _, v := range g.Variables {
			values, err := storedValues(g, v)
			if err != nil {
				t.Fatal(err)
			}
			c := Column{Name: v.Name, Attributes: v.Attributes, Values: values}
			for _, id := range v.Dimensions {
				c.Dimensions = append(c.Dimensions, g.Dimensions[id].Name)
			}
			d.Columns = append(d.Columns, c)
		}
		var out bytes.Buffer
		if _, err := d.WriteTo(&out); err != nil {
			return // names and fill values are held to stricter rules when writing
		}
		h := opened(t, out.Bytes())
		for i, v := range h.Variables {
			values, err := storedValues(h, v)
			if err != nil {
				t.Fatal(err)
			}
			again := attributeBytes(values)
			if before := attributeBytes(d.Columns[i].Values); !bytes.Equal(again, before) {
				t.Fatalf("%s: %x became %x", v.Name, before, again)
			}
		}
	})
}

func attributeBytes(values any) []byte {
	b, _ := appendAttributeValue(nil, values)
	return b
}

func FuzzParseTimeUnits(f *testing.F) {
	for _, s := range []string{"seconds since 2006-01-19 05:03:00 0:00", "days since 1970-1-1", "hours since 1990-01-01T00:00:00Z", "s since 2019-01-01 00:00:00.25 -06:30"} {
		f.Add(s, "standard", 1.5)
		f.Add(s, "utc", 1e9)
	}
	f.Fuzz(func(t *testing.T, units, calendar string, x float64) {
		u, err := ParseTimeUnits(units, calendar)
		if err != nil {
			return
		}
		at, ok := u.Time(x)
		if !ok {
			return
		}
		// Seconds there and back agree to the float64 step of the larger number or a
		// nanosecond; in the calendar utc a moment in a leap second has no own time.
		if back := u.Since(at); !(absolute(back-x)*u.UnitInS <= 2e-9+absolute(x*u.UnitInS)*1e-15) && !(u.LeapCounts && absolute(back-x)*u.UnitInS <= 1.000001) {
			t.Fatalf("%q %q: %v became %s and %v", units, calendar, x, at, back)
		}
	})
}

func absolute(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

// Open flights with single bytes changed, numbers enlarged and ends cut off give a
// file that can be read whole or a clear error.
func TestMutatedFlights(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*.cdf"))
	if err != nil || len(files) == 0 {
		t.Skipf("skipped: no flights in ../shared/data/arm: %v", err)
	}
	refused, tried := 0, 0
	for k, path := range files {
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		f := opened(t, whole)
		header := len(whole)
		for _, v := range f.Variables {
			header = min(header, int(v.begin))
		}
		if !readAll(t, whole) {
			t.Fatalf("%s cannot be read", path)
		}
		b := bytes.Clone(whole)
		for i := k % 7; i < header; i += 41 { // spread over the header, other bytes for each file
			for _, x := range []byte{0, 1, 0x7f, 0xff, whole[i] ^ 0x10} {
				b[i] = x
				tried++
				if f, err := Open(bytes.NewReader(b), int64(len(b))); err != nil {
					refused++
					if f != nil {
						t.Fatal("an error with a file")
					}
				} else if i%8 == k%8 {
					readAll(t, b)
				}
			}
			b[i] = whole[i]
		}
		for n := 0; n < len(whole); n += 1 + len(whole)/97 {
			tried++
			if readAll(t, whole[:n]) {
				t.Errorf("%s cut at byte %d was opened", filepath.Base(path), n)
			}
			refused++
		}
	}
	if refused < tried/20 || tried < 1000 {
		t.Errorf("%d of %d damaged files were refused", refused, tried)
	}
	t.Logf("%d of %d damaged files were refused, the others read", refused, tried)
}
