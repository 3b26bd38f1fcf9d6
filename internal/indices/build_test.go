package indices

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/earth"
	"leadline/internal/netcdf"
	"leadline/internal/quality"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// columns are an ascent: s, hPa, K, %, m, m s⁻¹; NaN is missing, nil is absent.
type columns struct{ time, p, t, rh, z, u, v []float64 }

// sizes are standard uncertainties: independent and common part.
type sizes struct{ t, rh, p, z, wind [2]float64 }

var usual = sizes{t: [2]float64{0.05, 0.15}, rh: [2]float64{0.5, 2}, p: [2]float64{0.05, 0.3}, z: [2]float64{1, 3}, wind: [2]float64{0.2, 0.1}}

// flight makes a final flight of columns whose every row is part of the ascent.
func (c columns) flight(u sizes) *sounding.Final {
	n := len(c.p)
	f := &sounding.Final{FlightName: "test"}
	f.Time, f.Line, f.Source = c.time, make([]int32, n), make([]uint8, n)
	if f.Time == nil {
		f.Time = make([]float64, n)
		for i := range f.Time {
			f.Time[i] = float64(i)
		}
	}
	add := func(variable sounding.Variable, values []float64, u [2]float64) {
		if values == nil {
			return
		}
		s := sounding.Series{Variable: variable, Values: values, Flags: make([]quality.Flag, n), Independent: make([]float64, n), Common: make([]float64, n)}
		for i, x := range values {
			s.Flags[i], s.Independent[i], s.Common[i] = quality.Good, u[0], u[1]
			if math.IsNaN(x) {
				s.Flags[i] = quality.Missing
			}
		}
		f.Series = append(f.Series, s)
	}
	add(sounding.Pressure, c.p, u.p)
	add(sounding.Temperature, c.t, u.t)
	add(sounding.Humidity, c.rh, u.rh)
	add(sounding.HeightMSL, c.z, u.z)
	add(sounding.GeopotentialHeight, c.z, u.z)
	add(sounding.WindU, c.u, u.wind)
	add(sounding.WindV, c.v, u.wind)
	f.Events = sounding.Events{Release: sounding.Event{Found: n > 0}, Phases: []sounding.PhaseSpan{{Phase: sounding.Ascending, Span: sounding.Span{From: 0, To: n}}}}
	f.Sheet = &sounding.InstrumentSheet{Name: "test"}
	f.Sheet.Humidity.Formula = "hyland-wexler"
	return f
}

// every keeps every step-th row.
func (c columns) every(step int) columns {
	thin := func(x []float64) []float64 {
		var out []float64
		for i := 0; i < len(x); i += step {
			out = append(out, x[i])
		}
		return out
	}
	return columns{thin(c.time), thin(c.p), thin(c.t), thin(c.rh), thin(c.z), thin(c.u), thin(c.v)}
}

// clone copies the columns.
func (c columns) clone() columns { return c.every(1) }

// simulated is the true ascent of a simulated flight of a climate: no instrument error.
func simulated(t testing.TB, climate truth.Climate, seed uint64) columns {
	t.Helper()
	s, err := truth.Preset(climate, climate != truth.PolarNight)
	if err != nil {
		t.Fatal(err)
	}
	flight, err := truth.Simulate(s, seed)
	if err != nil {
		t.Fatal(err)
	}
	var c columns
	x := &flight.Truth
	for i, phase := range x.Phase {
		if phase != sounding.Ascending {
			continue
		}
		c.time, c.p, c.t = append(c.time, x.Time[i]), append(c.p, x.Pressure[i]), append(c.t, x.Temperature[i])
		c.rh, c.z = append(c.rh, x.Humidity[i]), append(c.z, x.HeightMSL[i])
		c.u, c.v = append(c.u, x.WindU[i]), append(c.v, x.WindV[i])
	}
	if len(c.p) < 1000 {
		t.Fatalf("only %d rows of ascent", len(c.p))
	}
	return c
}

// archive reads the flights of an open archive of netCDF files: at 1 or 2 s, ascent only.
func archive(t testing.TB) map[string]columns {
	t.Helper()
	names, err := filepath.Glob(filepath.Join(sharedtest.Dir(t, "data/arm"), "*.cdf"))
	if err != nil || len(names) == 0 {
		t.Fatal("no flights", err)
	}
	out := map[string]columns{}
	for _, name := range names {
		file, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		info, err := file.Stat()
		if err != nil {
			t.Fatal(err)
		}
		f, err := netcdf.Open(file, info.Size())
		if err != nil {
			t.Fatal(err)
		}
		read := func(variable string) []float64 {
			for _, v := range f.Variables {
				if v.Name == variable {
					x, err := f.Float64s(v)
					if err != nil {
						t.Fatal(err)
					}
					for i := range x {
						if x[i] < -9000 {
							x[i] = math.NaN()
						}
					}
					return x
				}
			}
			t.Fatalf("%s: no %s", name, variable)
			return nil
		}
		c := columns{time: read("time_offset"), p: read("pres"), t: read("tdry"), rh: read("rh"), z: read("alt")}
		speed, direction := read("wspd"), read("deg")
		c.u, c.v = make([]float64, len(c.p)), make([]float64, len(c.p))
		for i := range c.p {
			c.t[i] += kelvin
			c.u[i], c.v[i] = earth.UVFromWind(speed[i], direction[i])
		}
		out[filepath.Base(name)] = c
		file.Close()
	}
	return out
}

// standard is the standard atmosphere every step m with a relative humidity.
func standard(bottom, top, step float64, rh func(z float64) float64) columns {
	var c columns
	for z := bottom; z <= top; z += step {
		t, p, _ := earth.StandardAtmosphere(z)
		c.time, c.p, c.t, c.z = append(c.time, (z-bottom)/5), append(c.p, p), append(c.t, t), append(c.z, z)
		c.rh, c.u, c.v = append(c.rh, rh(z)), append(c.u, 3+z/1000), append(c.v, -2+z/3000)
	}
	return c
}
