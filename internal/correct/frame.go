package correct

import (
	"math"

	"leadline/internal/constants"
	"leadline/internal/earth"
	"leadline/internal/hydrostatic"
	"leadline/internal/sounding"
	"leadline/internal/sun"
)

// provisional gives every leg the pressure, height, ascent rate, ventilation, air
// density and solar elevation the corrections are computed with. Raw values are good
// enough for that: 1 K or 1 % of pressure changes a correction by less than 1 % of it.
func (f *flight) provisional() {
	f.heights = f.in.Values(sounding.HeightMSL)
	if f.heights == nil {
		f.heights = f.in.Values(sounding.GeopotentialHeight)
	}
	for _, l := range f.legs {
		n := l.len()
		temperature := f.interpolated(l.time, f.usableIn(sounding.Temperature, l))
		pressure := f.usableIn(sounding.Pressure, l)
		height := f.usableIn(sounding.HeightMSL, l)
		if none(height) {
			height = f.usableIn(sounding.HeightEllipsoid, l)
		}
		if none(height) {
			height = f.usableIn(sounding.GeopotentialHeight, l)
		}
		if none(temperature) {
			temperature = standardTemperatures(height, pressure)
		}
		if none(pressure) && !none(height) {
			pressure = f.column(n)
			hydrostatic.PressureFromHeights(pressure, height, temperature, f.basePressure(height))
		}
		if none(height) && !none(pressure) {
			height = f.column(n)
			hydrostatic.HeightsFromPressure(height, pressure, temperature, f.baseHeight(pressure))
		}
		l.pressure, l.height = f.interpolated(l.time, pressure), f.interpolated(l.time, height)
		_, l.rate = f.localLine(l.time, height, f.set.General.AscentWindow, f.set.General.LongestBreak)
		l.ventilation, l.density = f.column(n), f.column(n)
		rate := f.interpolated(l.time, l.rate)
		for i := range n {
			w := rate[i]
			if !present(w) {
				w = 5
			}
			l.ventilation[i] = hypot(w, f.set.General.VentilationFloor)
			l.density[i] = 100 * l.pressure[i] / (constants.Rd * temperature[i])
		}
		f.solar(l)
	}
}

func none(x []float64) bool {
	for _, v := range x {
		if present(v) {
			return false
		}
	}
	return true
}

// standardTemperatures stands in where a flight has no thermometer at all.
func standardTemperatures(height, pressure []float64) []float64 {
	out := make([]float64, len(height))
	for i := range out {
		h := height[i]
		if !present(h) {
			h = earth.StandardAltitude(pressure[i])
		}
		out[i], _, _ = earth.StandardAtmosphere(h)
	}
	return out
}

// basePressure is the pressure at the first height: the record's, else that of the
// standard atmosphere, which is good enough for densities and radiation tables.
func (f *flight) basePressure(height []float64) float64 {
	first := firstPresent(height)
	if p, h := f.surfacePressure(); present(p) && math.Abs(first-h) < 500 {
		return p * math.Exp(-(first-h)/8000)
	}
	_, p, _ := earth.StandardAtmosphere(first)
	return p
}

func (f *flight) baseHeight(pressure []float64) float64 {
	if f.in.Record != nil && f.in.Record.Site.Height.Set() {
		return f.in.Record.Site.Height.Value()
	}
	return earth.StandardAltitude(firstPresent(pressure))
}

func firstPresent(x []float64) float64 {
	for _, v := range x {
		if present(v) {
			return v
		}
	}
	return math.NaN()
}

// solar fills in the Sun's elevation at the balloon and how much of it is seen
// above the horizon of that height. The sky is computed every half minute and
// interpolated between: 30 s move the Sun by 0.13°.
func (f *flight) solar(l *leg) {
	n := l.len()
	l.elevation, l.sunlit = f.filled(n, math.NaN()), f.filled(n, math.NaN())
	l.excess = f.filled(n, 0)
	lat, lon := f.interpolated(l.time, f.usableIn(sounding.Latitude, l)), f.interpolated(l.time, f.usableIn(sounding.Longitude, l))
	if none(lat) || none(lon) {
		if f.in.Record == nil || !f.in.Record.Site.Latitude.Set() || !f.in.Record.Site.Longitude.Set() {
			return
		}
		fill(lat, f.in.Record.Site.Latitude.Value())
		fill(lon, f.in.Record.Site.Longitude.Value())
	}
	if f.in.Epoch.IsZero() {
		return
	}
	epoch := float64(f.in.Epoch.Unix()) + 1e-9*float64(f.in.Epoch.Nanosecond())
	const every = 30.0
	var nodes []int32
	for i := range n {
		if i == 0 || i == n-1 || l.time[i+1]-l.time[nodes[len(nodes)-1]] > every {
			nodes = append(nodes, int32(i))
		}
	}
	elevation, azimuth := f.column(len(nodes)), f.column(len(nodes))
	sun.Column(elevation, azimuth, epoch, f.gather(l.time, nodes), f.gather(lat, nodes), f.gather(lon, nodes))
	scatter(l.elevation, elevation, nodes)
	for k := 1; k < len(nodes); k++ {
		a, b := nodes[k-1], nodes[k]
		slope := (elevation[k] - elevation[k-1]) / (l.time[b] - l.time[a])
		for j := a + 1; j < b; j++ {
			l.elevation[j] = elevation[k-1] + slope*(l.time[j]-l.time[a])
		}
	}
	width := f.set.Radiation.Twilight
	for i, e := range l.elevation {
		h := l.height[i]
		if !present(h) {
			h = 0
		}
		// In full view half the width above the dipped horizon, gone half below it.
		l.sunlit[i] = min(1, max(0, (e+sun.HorizonDip(h))/width+0.5))
	}
}

// localLine returns the value and slope at each sample of the straight line fitted
// to the present samples within half of it in time, in windows that shrink towards
// the ends so that they stay symmetric, and never across a break in the rows longer
// than longest. NaN where fewer than two samples remain.
func (f *scratch) localLine(t, x []float64, half, longest float64) (value, slope []float64) {
	n := len(t)
	value, slope = f.column(n), f.column(n)
	for from := 0; from < n; {
		to := from + 1
		for to < n && t[to]-t[to-1] <= longest {
			to++
		}
		localLineIn(t[from:to], x[from:to], value[from:to], slope[from:to], half)
		from = to
	}
	return value, slope
}

func localLineIn(t, x, value, slope []float64, half float64) {
	n := len(t)
	x0, t0 := firstPresent(x), t[0]
	if !present(x0) {
		fill(value, math.NaN())
		fill(slope, math.NaN())
		return
	}
	var s, st, sx, stt, stx float64
	low, high := 0, 0 // samples low ≤ i < high are in the sums
	move := func(i int, sign float64) {
		if v := x[i] - x0; present(v) {
			d := t[i] - t0
			s += sign
			st += sign * d
			sx += sign * v
			stt += sign * d * d
			stx += sign * d * v
		}
	}
	for i := range n {
		reach := min(half, max(min(t[i]-t[0], t[n-1]-t[i]), min(half, 2)))
		for high < n && t[high] <= t[i]+reach {
			move(high, 1)
			high++
		}
		for high > 0 && t[high-1] > t[i]+reach {
			high--
			move(high, -1)
		}
		for low < n && t[low] < t[i]-reach {
			move(low, -1)
			low++
		}
		for low > 0 && t[low-1] >= t[i]-reach {
			low--
			move(low, 1)
		}
		value[i], slope[i] = math.NaN(), math.NaN()
		if s < 1.5 {
			continue
		}
		spread := stt - st*st/s
		if !(spread > 1e-9*stt && spread > 0) {
			continue
		}
		slope[i] = (stx - st*sx/s) / spread
		value[i] = x0 + sx/s + slope[i]*(t[i]-t0-st/s)
	}
}
