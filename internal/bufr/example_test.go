package bufr_test

import (
	"bytes"
	"fmt"
	"io"
	"log"
	"math"

	"leadline/internal/bufr"
)

// Writes two levels of an invented sounding and reads them back as columns.
func Example() {
	var (
		pressure    = bufr.FXY(0, 7, 4)
		temperature = bufr.FXY(0, 12, 101)
		factor      = bufr.FXY(0, 31, 2)
	)
	e, err := bufr.NewEncoder(bufr.Header{
		Edition: 4, Centre: 255, Category: 2, SubCategory: 4, LocalSubCategory: 255, TableVersion: 36,
		Year: 2026, Month: 11, Day: 25, Hour: 12, Observed: true, Descriptors: []bufr.Descriptor{bufr.FXY(3, 9, 52)},
	}, nil)
	if err != nil {
		log.Fatal(err)
	}
	e.Code(bufr.FXY(0, 1, 1), 10)
	e.Code(bufr.FXY(0, 1, 2), 393)
	e.Text(bufr.FXY(0, 1, 11), "LAKE")
	e.MissingUntil(factor)
	e.Table(2,
		bufr.Column{Descriptor: pressure, Values: []float64{100000, 92500}},
		bufr.Column{Descriptor: temperature, Values: []float64{283.15, math.NaN()}})
	e.Table(0) // no wind shear
	e.EndSubset()
	message, err := e.Bytes()
	if err != nil {
		log.Fatal(err)
	}

	r := bufr.NewReader(bytes.NewReader(message))
	var d bufr.Data
	for {
		m, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			fmt.Println(err) // one damaged message; the next call goes on behind it
			continue
		}
		if err := d.Decode(m, nil); err != nil {
			fmt.Println(err)
			continue
		}
		for i := range d.Subsets() {
			s := d.Subset(i)
			fmt.Println(s.Text(bufr.FXY(0, 1, 11), 0), s.Number(bufr.FXY(0, 1, 2), 0))
			if levels, ok := s.TableWith(pressure, temperature); ok {
				fmt.Println(levels.Float64s(levels.Column(pressure, 0), nil))
				fmt.Println(levels.Float64s(levels.Column(temperature, 0), nil))
			}
		}
	}
	// Output:
	// LAKE 393
	// [100000 92500]
	// [283.15 NaN]
}
