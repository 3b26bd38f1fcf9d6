package netcdf

import (
	"bytes"
	"fmt"
	"io"
	"testing"
)

// benchmarkDataset is a two-hour flight at 1 Hz: 40 double and 20 byte variables.
func benchmarkDataset(unlimited bool) *Dataset {
	const n = 7200
	d := &Dataset{Dimensions: []Dimension{{"time", n, unlimited}}, Attributes: Attributes{{"Conventions", "CF-1.11"}}}
	for k := range 60 {
		c := Column{Name: fmt.Sprintf("v%d", k), Dimensions: []string{"time"}, Attributes: Attributes{{"units", "K"}, {"long_name", "a column of the benchmark"}}}
		if k%3 == 2 {
			c.Values = make([]int8, n)
		} else {
			x := make([]float64, n)
			for i := range x {
				x[i] = float64(i*k) / 7
			}
			c.Values, c.NaNAsFill = x, true
			c.Attributes = append(c.Attributes, Attribute{"_FillValue", []float64{-9999}})
		}
		d.Columns = append(d.Columns, c)
	}
	return d
}

func BenchmarkWrite(b *testing.B) {
	for _, unlimited := range []bool{false, true} {
		b.Run(fmt.Sprintf("unlimited=%v", unlimited), func(b *testing.B) {
			d := benchmarkDataset(unlimited)
			size, err := d.Size()
			if err != nil {
				b.Fatal(err)
			}
			b.SetBytes(size)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := d.WriteTo(io.Discard); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkRead(b *testing.B) {
	for _, unlimited := range []bool{false, true} {
		file := written(b, benchmarkDataset(unlimited))
		f := opened(b, file)
		dst := make([][]float64, len(f.Variables))
		for i, v := range f.Variables {
			dst[i] = make([]float64, v.Len())
		}
		b.Run(fmt.Sprintf("open/unlimited=%v", unlimited), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Open(bytes.NewReader(file), int64(len(file))); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(fmt.Sprintf("together/unlimited=%v", unlimited), func(b *testing.B) {
			b.SetBytes(int64(len(file)))
			b.ReportAllocs()
			for b.Loop() {
				if err := f.Columns(f.Variables, dst); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(fmt.Sprintf("one by one/unlimited=%v", unlimited), func(b *testing.B) {
			b.SetBytes(int64(len(file)))
			b.ReportAllocs()
			for b.Loop() {
				for i, v := range f.Variables {
					if err := f.ReadFloat64(v, nil, nil, dst[i]); err != nil {
						b.Fatal(err)
					}
				}
			}
		})
	}
}
