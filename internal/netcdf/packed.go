package netcdf

import (
	"fmt"
	"math"
)

// Packing is how the stored numbers of a variable stand for values (CF 2.5.1 and
// 8.1): value = stored*Scale + Offset, and no value where stored is one of Missing.
type Packing struct {
	Missing []float64 // _FillValue (or the type's default one) and missing_value, as stored
	Scale   float64   // scale_factor, 1 if not given
	Offset  float64   // add_offset, 0 if not given

	// ValidMin and ValidMax are valid_min, valid_max or valid_range as stored, NaN
	// where not given. They are not applied: a measured value outside them is a
	// finding for a check, not a value to lose while reading.
	ValidMin, ValidMax float64

	Unsigned bool // _Unsigned = "true": the signed integer type holds an unsigned one
}

// Packing reads the attributes that say how v is packed. It refuses attributes
// that cannot be meant: a scale that is not one finite number other than zero, a
// valid_range that is not two numbers. Text in place of a missing_value is passed
// over, as it cannot equal a number.
func (v *Variable) Packing() (Packing, error) {
	p := Packing{Scale: 1, ValidMin: math.NaN(), ValidMax: math.NaN()}
	if v.Type == Char {
		return p, fmt.Errorf("variable %s is text, which cannot be packed", v.Name)
	}
	if s, ok := v.Attributes.Text("_Unsigned"); ok && (s == "true" || s == "True" || s == "TRUE") {
		p.Unsigned = v.Type == Byte || v.Type == Short || v.Type == Int
	}
	fill, hasFill := v.Attributes.Float64s("_FillValue")
	switch {
	case hasFill:
		p.Missing = append(p.Missing, fill...)
	case v.Type == Float:
		p.Missing = append(p.Missing, float64(math.Float32frombits(uint32(v.Type.defaultFill()))))
	case v.Type == Double:
		p.Missing = append(p.Missing, math.Float64frombits(v.Type.defaultFill()))
	case v.Type.size() > 1: // all values of a byte are in use (Users Guide, "Fill values")
		var raw [8]byte
		bits := v.Type.defaultFill()
		size := int(v.Type.size())
		for i := range size {
			raw[i] = byte(bits >> (8 * (size - 1 - i)))
		}
		var x [1]float64
		decodeFloat64(v.Type, x[:], raw[:], size)
		p.Missing = append(p.Missing, x[0])
	}
	if missing, ok := v.Attributes.Float64s("missing_value"); ok {
		p.Missing = append(p.Missing, missing...)
	}
	for i, m := range p.Missing {
		switch {
		case v.Type == Float:
			p.Missing[i] = float64(float32(m)) // an attribute of type double still means the single value
		case p.Unsigned && m < 0:
			p.Missing[i] = m + p.wrap(v.Type)
		}
	}
	for _, one := range []struct {
		name string
		to   *float64
	}{{"scale_factor", &p.Scale}, {"add_offset", &p.Offset}, {"valid_min", &p.ValidMin}, {"valid_max", &p.ValidMax}} {
		got, ok := v.Attributes.Float64s(one.name)
		if !ok {
			continue
		}
		if len(got) != 1 {
			return p, fmt.Errorf("variable %s: attribute %s has %d values, wanted one", v.Name, one.name, len(got))
		}
		*one.to = got[0]
	}
	if p.Scale == 0 || math.IsNaN(p.Scale) || math.IsInf(p.Scale, 0) || math.IsNaN(p.Offset) || math.IsInf(p.Offset, 0) {
		return p, fmt.Errorf("variable %s: scale_factor %g and add_offset %g cannot be meant", v.Name, p.Scale, p.Offset)
	}
	if r, ok := v.Attributes.Float64s("valid_range"); ok {
		if len(r) != 2 {
			return p, fmt.Errorf("variable %s: attribute valid_range has %d values, wanted two", v.Name, len(r))
		}
		p.ValidMin, p.ValidMax = r[0], r[1]
	}
	return p, nil
}

// wrap returns the step between a signed integer type and its unsigned reading.
func (p Packing) wrap(t Type) float64 { return math.Ldexp(1, int(8*t.size())) }

// Unpack turns stored values of type t into values, in place; missing ones and
// NaN become NaN.
func (p Packing) Unpack(t Type, x []float64) {
	if p.Unsigned {
		w := p.wrap(t)
		for i := range x {
			if x[i] < 0 {
				x[i] += w
			}
		}
	}
	for _, m := range p.Missing {
		for i := range x {
			if x[i] == m {
				x[i] = math.NaN()
			}
		}
	}
	if p.Scale != 1 || p.Offset != 0 {
		for i := range x {
			x[i] = float64(x[i]*p.Scale) + p.Offset
		}
	}
}

// Packed is ReadFloat64 with CF unpacking: scale_factor and add_offset applied,
// NaN for _FillValue (given or default) and missing_value. valid_range is left to
// the caller; see Packing.
func (f *File) Packed(v *Variable, start, count []int64, dst []float64) error {
	p, err := v.Packing()
	if err != nil {
		return err
	}
	if err := f.ReadFloat64(v, start, count, dst); err != nil {
		return err
	}
	p.Unpack(v.Type, dst)
	return nil
}

// PackedColumns is Columns with CF unpacking; see Packed.
func (f *File) PackedColumns(vars []*Variable, dst [][]float64) error {
	packings := make([]Packing, len(vars))
	for i, v := range vars {
		var err error
		if packings[i], err = v.Packing(); err != nil {
			return err
		}
	}
	if err := f.Columns(vars, dst); err != nil {
		return err
	}
	for i, v := range vars {
		packings[i].Unpack(v.Type, dst[i])
	}
	return nil
}
