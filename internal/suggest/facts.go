package suggest

import (
	"math"
	"strings"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// facts is what the radiosonde says that the launch record says too. NaN where it says
// nothing.
type facts struct {
	o        *workbench.Outcome
	final    *sounding.Final
	raw      *sounding.Columns // as received, with flags of the checks
	released bool
	release  time.Time
	row      int // of the release
	ascent   sounding.Span

	barometer   bool    // its pressure is measured
	calibration float64 // hPa, standard uncertainty of the barometer
	usualHeight float64 // m
	day         bool

	pressure, msl, ellipsoid, latitude, longitude float64 // at rest, or first samples
	temperature, temperatureAloft                 float64
	usualTemperature                              float64
	windU, windV                                  float64 // mean of 15 to 60 s after release

	offset, uOffset float64 // hPa, barometer against satellite height aloft
	warm, uWarm     float64 // K, mean temperature against satellite height
	period          float64 // s, of the swing found

	record *sounding.LaunchRecord // as the hypotheses taken so far say it should be

	up    radiationPairs
	apart *difference
}

// held is how high above the release point a radiosonde is held before release, m; 0.12
// hPa a metre near the ground. Common practice, no source.
const held = 1.5

func factsOf(o *workbench.Outcome) *facts {
	n := math.NaN()
	f := &facts{o: o, final: o.Final, usualTemperature: 1.5, calibration: 0.6, usualHeight: usualReceiver,
		pressure: n, msl: n, ellipsoid: n, latitude: n, longitude: n, temperature: n, temperatureAloft: n,
		windU: n, windV: n, offset: n, uOffset: n, warm: n, uWarm: n, period: n}
	if o == nil || o.Final == nil || o.Checked == nil || o.Record == nil || o.Checked.Len() == 0 {
		return nil
	}
	f.raw, f.record = &o.Checked.Columns, o.Record
	ev := &o.Final.Events
	f.released = ev.Release.Found && ev.Release.Method != "declared"
	if !ev.Release.Found {
		return f
	}
	f.release, f.row, f.ascent = ev.Release.UTC, ev.Release.Row, ev.Ascent()
	if sheet := o.Final.Sheet; sheet != nil {
		f.barometer = sheet.Pressure.Sensor
		if sheet.Pressure.Calibration > 0 {
			f.calibration = sheet.Pressure.Calibration
		}
		if u := math.Hypot(sheet.Position.HeightBias, sheet.Position.Height); u > 0 {
			f.usualHeight = math.Max(u, usualReceiver)
		}
	} else {
		f.barometer = f.raw.Get(sounding.Pressure) != nil
	}
	if sun := f.final.Values(sounding.SolarElevation); sun != nil && f.row < len(sun) {
		f.day = sun[f.row] > 0
	}
	if f.day {
		f.usualTemperature = 2
	}
	if f.barometer {
		f.pressure = f.rest(sounding.Pressure) + 0.12*held
	}
	f.msl, f.ellipsoid = f.rest(sounding.HeightMSL)-held, f.rest(sounding.HeightEllipsoid)-held
	f.latitude, f.longitude = f.rest(sounding.Latitude), f.rest(sounding.Longitude)
	f.temperature = f.rest(sounding.Temperature)
	f.temperatureAloft = middle(f.raw.Usable(sounding.Temperature), f.between(5, 15))
	f.firstWind()
	f.hydrostatic()
	f.radiationPairs()
	for _, s := range f.final.Steps {
		for _, c := range s.Coefficients {
			if strings.HasPrefix(c.Name, "pendulum_period_ascent") {
				f.period = c.Value.Value()
			}
		}
	}
	return f
}

// between returns the rows from a to b s after release.
func (f *facts) between(a, b float64) sounding.Span {
	t, zero := f.raw.Time, f.final.Events.Release.Time.Value()
	s := sounding.Span{From: len(t), To: len(t)}
	for i := range t {
		if t[i]-zero >= a && i < s.From {
			s.From = i
		}
		if t[i]-zero > b {
			s.To = i
			break
		}
	}
	s.From = min(s.From, s.To)
	return s
}

// rest is the median of v over 90 s before release, or its first sample aloft where
// there are fewer than ten rows before it.
func (f *facts) rest(v sounding.Variable) float64 {
	x := f.raw.Values(v)
	if x == nil {
		return math.NaN()
	}
	switch v { // a heated sensor tells nothing
	case sounding.HumidityA, sounding.HumiditySensorTempA:
		x = f.unheated(x, sounding.HeatingA)
	case sounding.HumidityB, sounding.HumiditySensorTempB:
		x = f.unheated(x, sounding.HeatingB)
	}
	from := f.row
	zero := f.final.Events.Release.Time.Value()
	for from > 0 && zero-f.raw.Time[from-1] <= 90 {
		from--
	}
	s := sounding.Span{From: from, To: f.row}
	if n := count(x, s); n >= 10 {
		return middle(x, s)
	}
	for i := f.row; i < len(x) && f.raw.Time[i]-zero < 15; i++ {
		if !math.IsNaN(x[i]) {
			return x[i]
		}
	}
	return math.NaN()
}

// unheated is x without the rows on which its sensor is heated or still cools.
func (f *facts) unheated(x []float64, heating sounding.Variable) []float64 {
	if f.raw.Get(heating) == nil {
		return x
	}
	ok := f.measuring(heating)
	out := append([]float64(nil), x...)
	for i := range out {
		if !ok(i) {
			out[i] = math.NaN()
		}
	}
	return out
}

func count(x []float64, s sounding.Span) int {
	n := 0
	for i := s.From; i < s.To; i++ {
		if !math.IsNaN(x[i]) {
			n++
		}
	}
	return n
}

// firstWind is the mean velocity of the radiosonde from 15 to 60 s after release.
func (f *facts) firstWind() {
	u, v := f.raw.Usable(sounding.VelocityEast), f.raw.Usable(sounding.VelocityNorth)
	if u == nil || v == nil {
		u, v = f.raw.Usable(sounding.WindU), f.raw.Usable(sounding.WindV)
	}
	if u == nil || v == nil {
		return
	}
	s := f.between(15, 60)
	var su, sv, n float64
	for i := s.From; i < s.To; i++ {
		if !math.IsNaN(u[i] + v[i]) {
			su, sv, n = su+u[i], sv+v[i], n+1
		}
	}
	if n >= 5 {
		f.windU, f.windV = su/n, sv/n
	}
}
