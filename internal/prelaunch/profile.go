package prelaunch

import (
	"fmt"
	"math"
	"time"

	"leadline/internal/constants"
	"leadline/internal/earth"
	"leadline/internal/gas"
	"leadline/internal/sounding"
)

// Profile is the wind over a site against height, with temperature and pressure where
// they are known. All slices have one length; heights rise strictly.
type Profile struct {
	Source      string    // what it is, for people: "forecast of …", "flight of …"
	Valid       time.Time // zero where not said
	Height      []float64 // m above mean sea level
	U, V        []float64 // m s⁻¹ towards east and north, never NaN
	Temperature []float64 // K, NaN where missing
	Pressure    []float64 // hPa, NaN where missing
}

// Validate names the first thing that cannot be right.
func (p *Profile) Validate() error {
	n := len(p.Height)
	if n < 2 {
		return fmt.Errorf("the wind profile has %d levels: want at least 2", n)
	}
	for i := range n {
		switch {
		case !(p.Height[i] >= -500 && p.Height[i] <= 80000):
			return fmt.Errorf("the wind profile has a height of %g m at level %d: want −500 to 80,000 m", p.Height[i], i+1)
		case i > 0 && !(p.Height[i] > p.Height[i-1]):
			return fmt.Errorf("the wind profile does not rise from level %d (%g m) to %d (%g m)", i, p.Height[i-1], i+1, p.Height[i])
		case !(math.Hypot(p.U[i], p.V[i]) <= 200):
			return fmt.Errorf("the wind profile has %.0f m/s at %.0f m: want at most 200 m/s; look at the unit", math.Hypot(p.U[i], p.V[i]), p.Height[i])
		}
	}
	return nil
}

// Top returns the highest level in m.
func (p *Profile) Top() float64 { return p.Height[len(p.Height)-1] }

// WindAt returns the wind at a height in m, linear in its components; the ends hold on.
func (p *Profile) WindAt(z float64) (u, v float64) {
	i, f := p.find(z)
	return p.U[i] + f*(p.U[i+1]-p.U[i]), p.V[i] + f*(p.V[i+1]-p.V[i])
}

// find returns the level below z and the share of the way to the next, 0–1.
func (p *Profile) find(z float64) (int, float64) {
	low, high := 0, len(p.Height)-1
	for high-low > 1 {
		if m := (low + high) / 2; p.Height[m] <= z {
			low = m
		} else {
			high = m
		}
	}
	f := (z - p.Height[low]) / (p.Height[low+1] - p.Height[low])
	return low, math.Max(0, math.Min(1, f))
}

// Calm is a profile without wind.
func Calm() *Profile {
	n := math.NaN()
	return &Profile{Source: "no wind profile: calm", Height: []float64{0, 40000}, U: []float64{0, 0}, V: []float64{0, 0}, Temperature: []float64{n, n}, Pressure: []float64{n, n}}
}

// layerDepth is the depth in m that samples of a flight are averaged over.
const layerDepth = 100.0

// FromFlight makes a profile of the ascent of a final flight: means over layers of 100 m
// of the samples that are not bad. It returns an error where there are fewer than ten.
func FromFlight(f *sounding.Final) (*Profile, error) {
	span := f.Events.Ascent()
	z, u, v := f.Usable(sounding.HeightMSL), f.Usable(sounding.WindU), f.Usable(sounding.WindV)
	if z == nil || u == nil || v == nil {
		return nil, fmt.Errorf("flight %s has no height or no wind: it gives no wind profile", f.FlightName)
	}
	t, pr := f.Usable(sounding.Temperature), f.Usable(sounding.Pressure)
	type sum struct{ z, u, v, n, t, nt, lnp, np float64 }
	layers := map[int]*sum{}
	low, high := math.MaxInt, math.MinInt
	for i := span.From; i < span.To; i++ {
		if math.IsNaN(z[i]) || math.IsNaN(u[i]) || math.IsNaN(v[i]) {
			continue
		}
		k := int(math.Floor(z[i] / layerDepth))
		s := layers[k]
		if s == nil {
			s = &sum{}
			layers[k] = s
		}
		low, high = min(low, k), max(high, k)
		s.z, s.u, s.v, s.n = s.z+z[i], s.u+u[i], s.v+v[i], s.n+1
		if t != nil && !math.IsNaN(t[i]) {
			s.t, s.nt = s.t+t[i], s.nt+1
		}
		if pr != nil && pr[i] > 0 {
			s.lnp, s.np = s.lnp+math.Log(pr[i]), s.np+1
		}
	}
	p := &Profile{Source: "flight " + f.FlightName, Valid: f.Events.Release.UTC}
	for k := low; k <= high; k++ {
		s := layers[k]
		if s == nil {
			continue
		}
		p.add(s.z/s.n, s.u/s.n, s.v/s.n, s.t/s.nt, math.Exp(s.lnp/s.np)) // 0/0 is NaN: missing
	}
	if len(p.Height) < 10 {
		return nil, fmt.Errorf("flight %s has wind in %d layers of 100 m: want at least 10", f.FlightName, len(p.Height))
	}
	return p, p.Validate()
}

func (p *Profile) add(z, u, v, t, pressure float64) {
	p.Height, p.U, p.V = append(p.Height, z), append(p.U, u), append(p.V, v)
	p.Temperature, p.Pressure = append(p.Temperature, t), append(p.Pressure, pressure)
}

// Atmosphere returns the air over a site: where the profile has temperature, that and the
// pressure by hydrostatics from the surface; elsewhere the US Standard Atmosphere 1976,
// joined so that pressure has no step. surface is the air at a ground height in m; the
// latitude in degrees turns heights into geopotential.
func (p *Profile) Atmosphere(surface gas.Air, ground, latitude float64) gas.Atmosphere {
	const step, top = 100.0, 48000.0
	scale := earth.HeightScaleAt(latitude)
	base := scale.Geopotential(ground)
	n := int((top-base)/step) + 1
	temperature, lnp := make([]float64, n), make([]float64, n)
	for i := range temperature {
		gpm := base + float64(i)*step
		temperature[i], _, _ = earth.StandardAtmosphere(gpm)
		if z := scale.Geometric(gpm); p != nil && z <= p.Top() && z >= p.Height[0] {
			k, f := p.find(z)
			if t := p.Temperature[k] + f*(p.Temperature[k+1]-p.Temperature[k]); !math.IsNaN(t) {
				temperature[i] = t
			}
		}
	}
	if !math.IsNaN(surface.Temperature) {
		temperature[0] = surface.Temperature
	}
	lnp[0] = math.Log(surface.Pressure)
	for i := 1; i < n; i++ {
		lnp[i] = lnp[i-1] - constants.G0*step/constants.Rd*0.5*(1/temperature[i-1]+1/temperature[i])
	}
	return func(gpm float64) gas.Air {
		x := (gpm - base) / step
		i := max(0, min(int(math.Floor(x)), n-2))
		f := x - float64(i)
		if f < -20 || f > 21 || math.IsNaN(f) {
			return gas.Air{Pressure: math.NaN(), Temperature: math.NaN()}
		}
		return gas.Air{Pressure: math.Exp(lnp[i] + f*(lnp[i+1]-lnp[i])), Temperature: temperature[i] + f*(temperature[i+1]-temperature[i])}
	}
}

// ObservedOf makes what gas.FitDrag needs of a final flight whose launch record holds
// balloon, gas, nozzle lift and payload: means over a minute of its climb from one minute
// after release. The fill is taken at the surface observation, or the first samples.
// purity is the share of the lifting gas, 0–1.
func ObservedOf(f *sounding.Final, purity float64) (gas.Observed, error) {
	var o gas.Observed
	if f.Record == nil {
		return o, fmt.Errorf("flight %s has no launch record, so its fill is not known", f.FlightName)
	}
	b := &f.Record.Balloon
	kind, err := gas.ParseKind(b.Gas)
	if err != nil {
		return o, fmt.Errorf("flight %s: %w", f.FlightName, err)
	}
	if !b.Mass.Set() || !b.NozzleLift.Set() || !b.Payload.Set() {
		return o, fmt.Errorf("flight %s: the launch record lacks balloon mass, nozzle lift or payload mass", f.FlightName)
	}
	span := f.Events.Ascent()
	z, t, p := f.Usable(sounding.HeightMSL), f.Usable(sounding.Temperature), f.Usable(sounding.Pressure)
	if z == nil || t == nil || p == nil {
		return o, fmt.Errorf("flight %s has no height, temperature and pressure along its climb", f.FlightName)
	}
	s := &f.Record.Surface
	at := gas.MoistAir(s.Pressure.Value(), s.Temperature.Value(), s.Humidity.Value())
	for i := span.From; i < span.To && (math.IsNaN(at.Pressure) || math.IsNaN(at.Temperature)); i++ {
		if p[i] > 0 && t[i] > 0 {
			at = gas.Air{Pressure: p[i], Temperature: t[i]}
		}
	}
	if o.Fill, err = gas.FillForNozzleLift(gas.Mixture{Kind: kind, Purity: purity}, gas.Load{Balloon: b.Mass.Value(), Payload: b.Payload.Value()}, at, b.NozzleLift.Value()); err != nil {
		return o, fmt.Errorf("flight %s: %w", f.FlightName, err)
	}
	const minute = 60.0
	from := -1
	for i := span.From; i < span.To; i++ {
		if math.IsNaN(z[i]) || math.IsNaN(t[i]) || math.IsNaN(p[i]) || f.Time[i] < minute {
			continue
		}
		if from < 0 {
			from = i
			continue
		}
		dt := f.Time[i] - f.Time[from]
		if dt < minute {
			continue
		}
		if dt < 2*minute {
			m := (t[i] + t[from]) / 2
			o.Air = append(o.Air, gas.Air{Pressure: math.Sqrt(p[i] * p[from]), Temperature: m})
			o.Rate = append(o.Rate, (z[i]-z[from])/dt)
		}
		from = i
	}
	return o, nil
}
