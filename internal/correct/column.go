package correct

import (
	"math"

	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

// column is the air between release and landing as the hydrostatic equation sees
// it: the rows of ascent and descent one after the other, with the surface before
// them where it is known.
type column struct {
	rows    []int32
	surface bool      // index 0 is the surface observation, index k+1 is rows[k]
	virtual []float64 // K; NaN where temperature is missing
	meanU   float64   // common uncertainty of the mean virtual temperature, K
	assumed int       // rows whose humidity was assumed
	base    float64   // gpm of the release point; NaN where not known
	p0      float64   // hPa at the release point; NaN where not known
}

// assumedHumidity stands in for a missing humidity when virtual temperatures are
// made: half of saturation errs by at most a few tenths of a kelvin below 0 °C.
const assumedHumidity = 50.0

// saturationAt is the saturation vapour pressure in hPa at row i, whose usable
// temperature is t; it is computed once.
func (f *flight) saturationAt(i int, t float64) float64 {
	if f.saturation == nil {
		f.saturation = f.filled(f.n, 0)
	}
	if f.saturation[i] == 0 {
		f.saturation[i] = f.vapour.OverWater(t)
	}
	return f.saturation[i]
}

// airColumn returns the column of the flight, nil where there is no temperature. Its
// virtual temperatures are made with the pressures as they stand when it is first
// asked for: what the pressure corrections change after that moves them by less than
// 0.01 K.
func (f *flight) airColumn() *column {
	if f.air == nil {
		f.air = f.newColumn()
	}
	return f.air
}

func (f *flight) newColumn() *column {
	p := f.filled(f.n, math.NaN())
	for _, l := range f.legs {
		scatter(p, l.pressure, l.rows)
	}
	c := &column{base: math.NaN(), p0: math.NaN()}
	for _, l := range f.legs {
		c.rows = append(c.rows, l.rows...)
	}
	if len(c.rows) == 0 || !f.has(sounding.Temperature) {
		return nil
	}
	temperature := f.gather(f.usable(sounding.Temperature), c.rows)
	if none(temperature) {
		return nil
	}
	rh := f.filled(len(c.rows), math.NaN())
	if f.has(sounding.Humidity) {
		rh = f.gather(f.usable(sounding.Humidity), c.rows)
		if !none(rh) {
			rh = f.interpolated(f.gather(f.time, c.rows), rh)
		}
	}
	c.virtual = f.column(len(c.rows))
	for k, i := range c.rows {
		t, h := temperature[k], rh[k]
		if !present(h) {
			h = assumedHumidity
			if t < 233.15 {
				h = 0
			}
			c.assumed++
		}
		c.virtual[k] = t
		if t > 203.15 { // below, vapour adds less than 0.01 K
			c.virtual[k] = humidity.VirtualTemperature(t, 0.01*max(0, h)*f.saturationAt(int(i), t), p[i])
		}
	}
	sum, count := 0.0, 0
	if u := f.now[sounding.Temperature].common; u != nil {
		for k, i := range c.rows {
			if present(temperature[k]) {
				sum += u[i]
				count++
			}
		}
	}
	if count > 0 {
		c.meanU = sum / float64(count)
	}
	if p0, z0 := f.trustedSurfacePressure(); present(z0) && len(f.legs) > 0 && !f.legs[0].descent {
		c.base = f.geopotentialOf([]float64{z0})[0]
		if present(p0) {
			c.p0, c.surface = p0, true
			t := firstPresent(c.virtual)
			if r := f.in.Record; r.Surface.Temperature.Set() && f.surfaceTrusted("surface.temperature_k") {
				t = r.Surface.Temperature.Value()
				if r.Surface.Humidity.Set() {
					t = humidity.VirtualTemperature(t, 0.01*r.Surface.Humidity.Value()*f.vapour.OverWater(t), p0)
				}
				if math.Abs(t-firstPresent(c.virtual)) > 15 {
					t = firstPresent(c.virtual)
				}
			}
			with := f.column(len(c.rows) + 1)
			with[0] = t
			copy(with[1:], c.virtual)
			c.virtual = with
		}
	}
	return c
}

// withSurface puts v before the values of the column's rows where the surface is known.
func (f *flight) withSurface(c *column, v float64, x []float64) []float64 {
	if !c.surface {
		return f.gather(x, c.rows)
	}
	y := f.column(len(c.rows) + 1)
	y[0] = v
	for k, i := range c.rows {
		y[k+1] = x[i]
	}
	return y
}

// without takes the surface off again.
func (c *column) without(x []float64) []float64 {
	if c.surface {
		return x[1:]
	}
	return x
}
