package api

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"net/http"
	"strconv"
	"time"

	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/hydrostatic"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// The columns of a flight travel as one block of bytes, so that a browser can lay typed
// arrays over it without reading numbers one by one:
//
//	"LLC1"   4 bytes
//	length   uint32, little-endian: bytes of the header
//	header   JSON (ColumnsHeader), filled with spaces to a multiple of 8
//	columns  little-endian, each beginning on a multiple of 8 after the header
//
// Values are float32 (float64 for time and positions), NaN where missing; flags are
// uint8; lines are int32.
const columnsMagic = "LLC1"

// ColumnsHeader describes the block.
type ColumnsHeader struct {
	Rows     int      `json:"rows"`
	Revision int      `json:"revision"`
	Zero     string   `json:"zero_utc"` // instant of time_s = 0, to the nanosecond: rows are told apart by it
	Columns  []Column `json:"columns"`
}

// Column is one column of the block.
type Column struct {
	Name   string `json:"name"`   // a variable, or time, line, ice_saturation, barometer_minus_satellite
	Part   string `json:"part"`   // raw, raw_flag, final, flag, u; "" for those that have no stages
	Type   string `json:"type"`   // f4, f8, u1, i4
	Offset int    `json:"offset"` // bytes after the header; two columns that are equal share one
}

func (s *server) columns(w http.ResponseWriter, r *http.Request) {
	o, revision, err := s.bench.Open(r.Context(), r.PathValue("id"))
	if err != nil {
		s.failed(w, err)
		return
	}
	s.sendColumns(w, o, revision)
}

func (s *server) sendColumns(w http.ResponseWriter, o *workbench.Outcome, revision int) {
	b, err := encodeColumns(o, revision)
	if err != nil {
		s.failed(w, err)
		return
	}
	s.sendBlock(w, b)
}

func (s *server) sendBlock(w http.ResponseWriter, b []byte) {
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Length", strconv.Itoa(len(b)))
	s.write(w, b)
}

// block collects columns and their places.
type block struct {
	rows    int
	columns []Column
	size    int
	fill    []func(b []byte)
}

var widths = map[string]int{"f4": 4, "f8": 8, "u1": 1, "i4": 4}

func (b *block) add(name, part, kind string, fill func([]byte)) int {
	at := b.size
	b.columns = append(b.columns, Column{name, part, kind, at})
	size := b.rows * widths[kind]
	b.fill = append(b.fill, func(bytes []byte) { fill(bytes[at : at+size]) })
	b.size += (size + 7) &^ 7
	return at
}

func (b *block) floats(name, part string, wide bool, x []float64) int {
	if wide {
		return b.add(name, part, "f8", func(to []byte) {
			for i, v := range x {
				binary.LittleEndian.PutUint64(to[8*i:], math.Float64bits(v))
			}
		})
	}
	return b.add(name, part, "f4", func(to []byte) {
		for i, v := range x {
			binary.LittleEndian.PutUint32(to[4*i:], math.Float32bits(float32(v)))
		}
	})
}

func (b *block) flags(name, part string, x []quality.Flag) {
	b.add(name, part, "u1", func(to []byte) {
		for i, v := range x {
			to[i] = byte(v)
		}
	})
}

func encodeColumns(o *workbench.Outcome, revision int) ([]byte, error) {
	f := o.Final
	b := &block{rows: f.Len()}
	b.floats("time", "", true, f.Time)
	b.add("line", "", "i4", func(to []byte) {
		for i, v := range f.Line {
			binary.LittleEndian.PutUint32(to[4*i:], uint32(v))
		}
	})
	for _, v := range sounding.Variables() {
		last, before := f.Get(v), f.Before.Get(v)
		wide := v == sounding.Latitude || v == sounding.Longitude
		at := -1
		if last != nil {
			at = b.floats(v.String(), "final", wide, last.Values)
			if last.Flags != nil {
				b.flags(v.String(), "flag", last.Flags)
			}
			if last.Independent != nil || last.Common != nil {
				b.add(v.String(), "u", "f4", func(to []byte) {
					for i := range last.Values {
						binary.LittleEndian.PutUint32(to[4*i:], math.Float32bits(float32(last.Total(i))))
					}
				})
			}
		}
		if before == nil {
			continue
		}
		if last != nil && equal(last.Values, before.Values) {
			kind := "f4"
			if wide {
				kind = "f8"
			}
			b.columns = append(b.columns, Column{v.String(), "raw", kind, at})
		} else {
			b.floats(v.String(), "raw", wide, before.Values)
		}
		if before.Flags != nil {
			b.flags(v.String(), "raw_flag", before.Flags)
		}
	}
	if td := dewPointAsReceived(f); td != nil {
		b.floats(sounding.DewPoint.String(), "raw", false, td)
	}
	if ice := iceSaturation(f); ice != nil {
		b.floats("ice_saturation", "", false, ice)
	}
	if d := barometerMinusSatellite(f); d != nil {
		b.floats("barometer_minus_satellite", "", false, d)
	}
	header, err := json.Marshal(ColumnsHeader{Rows: b.rows, Revision: revision, Zero: f.Epoch.UTC().Format(time.RFC3339Nano), Columns: b.columns})
	if err != nil {
		return nil, err
	}
	return b.bytes(header), nil
}

// bytes puts a header before the columns.
func (b *block) bytes(header []byte) []byte {
	header = append(header, bytes.Repeat([]byte{' '}, (8-len(header)%8)%8)...)
	out := make([]byte, 8+len(header)+b.size)
	copy(out, columnsMagic)
	binary.LittleEndian.PutUint32(out[4:], uint32(len(header)))
	copy(out[8:], header)
	for _, fill := range b.fill {
		fill(out[8+len(header):])
	}
	return out
}

func equal(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] && !(math.IsNaN(a[i]) && math.IsNaN(b[i])) {
			return false
		}
	}
	return true
}

// dewPointAsReceived is the dew point in K of temperature and humidity as they were received.
// NaN where one is missing or the humidity is not above zero; nil where the dew point itself
// was received, or no humidity was: two alternately heated sensors have no humidity in
// common before they are merged.
func dewPointAsReceived(f *sounding.Final) []float64 {
	values := func(v sounding.Variable) []float64 {
		if s := f.Before.Get(v); s != nil {
			return s.Values
		}
		return nil
	}
	t := values(sounding.Temperature)
	if t == nil || values(sounding.DewPoint) != nil {
		return nil
	}
	u := values(sounding.Humidity)
	if u == nil {
		return nil
	}
	formula := humidity.MurphyKoop
	e, out := make([]float64, len(t)), make([]float64, len(t))
	formula.OverWaterColumn(e, t)
	for i := range e {
		e[i] *= u[i] / 100
		if !(e[i] > 0) {
			e[i] = math.NaN()
		}
	}
	formula.DewPointColumn(out, e)
	return out
}

// iceSaturation is the relative humidity over liquid water, in %, of air saturated over
// ice at the final temperature; NaN above freezing and where the temperature is missing
// or bad. nil where the flight has no temperature.
func iceSaturation(f *sounding.Final) []float64 {
	t := f.Usable(sounding.Temperature)
	if t == nil {
		return nil
	}
	formula := humidity.MurphyKoop
	water, ice := make([]float64, len(t)), make([]float64, len(t))
	formula.OverWaterColumn(water, t)
	formula.OverIceColumn(ice, t)
	const freezing = 273.15
	for i := range ice {
		if t[i] < freezing {
			ice[i] *= 100 / water[i]
		} else {
			ice[i] = math.NaN()
		}
	}
	return ice
}

// barometerMinusSatellite is the height above mean sea level that the barometer's own
// pressure gives by hydrostatics from the first sample after release, minus the satellite
// height, in m: the shape by which a pressure offset, a gain or a mistyped station height
// is told (docs/methods/barometer-height.md). nil where the flight has no barometer, no
// satellite height or no temperature.
func barometerMinusSatellite(f *sounding.Final) []float64 {
	p, z := f.Before.Usable(sounding.Pressure), f.Usable(sounding.HeightMSL)
	t := f.Usable(sounding.VirtualTemperature)
	if t == nil {
		t = f.Usable(sounding.Temperature)
	}
	if p == nil || z == nil || t == nil || !f.Events.Release.Found || f.Sheet != nil && !f.Sheet.Pressure.Sensor {
		return nil
	}
	if f.Before.Get(sounding.HeightMSL) == nil && f.Before.Get(sounding.HeightEllipsoid) == nil {
		return nil
	}
	latitude := 45.0
	if x := f.Record.Site.Latitude; x.Set() {
		latitude = x.Value()
	}
	scale := earth.HeightScaleAt(latitude)
	var rows []int
	var ps, ts []float64
	for i := f.Events.Release.Row; i < f.Len(); i++ {
		if p[i] > 0 && !math.IsNaN(t[i]) && !math.IsNaN(z[i]) {
			rows, ps, ts = append(rows, i), append(ps, p[i]), append(ts, t[i])
		}
	}
	if len(rows) < 2 {
		return nil
	}
	heights := make([]float64, len(ps))
	hydrostatic.HeightsFromPressure(heights, ps, ts, scale.Geopotential(z[rows[0]]))
	out := make([]float64, f.Len())
	for i := range out {
		out[i] = math.NaN()
	}
	for k, i := range rows {
		out[i] = scale.Geometric(heights[k]) - z[i]
	}
	return out
}
