package suggest

import (
	"math"
	"time"

	"leadline/internal/earth"
	"leadline/internal/sounding"
	"leadline/internal/wind"
)

// The residuals: each compares two things that should agree.
const (
	rPressure = iota
	rReference
	rStandard
	rHeight
	rEllipsoid
	rBarometer
	rAntenna
	rThermometer
	rOffset
	rGround
	rTemperature
	rGroundTemperature
	rWarm
	rPosition
	rDeclared
	rSurfaceTime
	rGroundTime
	rNominal
	rWind
	rString
	residuals
)

var residualWords = [residuals]struct{ words, unit string }{
	rPressure:          {"barometer at rest, less its offset aloft, minus surface pressure", "hPa"},
	rReference:         {"reference pressure of the ground check minus surface pressure", "hPa"},
	rStandard:          {"surface pressure minus the standard atmosphere at the station height", "hPa"},
	rHeight:            {"satellite height at rest minus height of the release point", "m"},
	rEllipsoid:         {"height above the ellipsoid less the undulation minus satellite height", "m"},
	rBarometer:         {"height of the station barometer minus height of the release point", "m"},
	rAntenna:           {"height of the antenna minus height of the release point", "m"},
	rThermometer:       {"height of the thermometer minus height of the release point", "m"},
	rOffset:            {"barometer against satellite height aloft", "hPa"},
	rGround:            {"radiosonde minus reference pressure at the ground check", "hPa"},
	rTemperature:       {"thermometer at rest minus surface temperature", "K"},
	rGroundTemperature: {"radiosonde minus reference temperature at the ground check", "K"},
	rWarm:              {"mean temperature against satellite height", "K"},
	rPosition:          {"site from the first satellite positions", "km"},
	rDeclared:          {"declared minus found release", "s"},
	rSurfaceTime:       {"surface observation outside 90 min before to 15 min after release", "min"},
	rGroundTime:        {"ground check outside 6 h before release", "min"},
	rNominal:           {"declared release outside 3 h of the nominal hour", "min"},
	rWind:              {"logarithm of surface wind over usual share of the wind of the first minute", "%"},
	rString:            {"swing found over that of the declared string, in per cent", "%"},
}

// residual is one comparison: its value and its usual standard deviation; NaN where it
// cannot be made.
type residual struct{ value, usual float64 }

// world is what a hypothesis says: the record as it should be, and what to take off
// what the radiosonde said.
type world struct {
	record         sounding.LaunchRecord
	pressure       float64 // hPa the barometer reads too high aloft
	pressureGround float64 // the same at the ground
	height         float64 // m that the height called above mean sea level is too high
	ellipsoid      float64 // the same for the height above the ellipsoid
	warm           float64 // K the thermometer reads too high
}

// usual sizes, standard deviations on flights without error. Where nothing stands beside
// they were measured on clean simulated flights of tuning seeds (docs/methods/suggestions.md).
const (
	usualSurfacePressure = 0.3  // hPa, of a surface observation
	usualReference       = 1.0  // hPa: another room, up to an hour earlier
	usualStandard        = 14.0 // hPa: weather
	usualReceiver        = 8.0  // m
	usualBetween         = 3.0  // m, between two heights of one receiver
	usualMast            = 15.0 // m, between heights at one station
	usualWarm            = 0.35 // K
	usualPlace           = 0.6  // km
	usualPress           = 15.0 // s
	usualSwing           = 6.0  // %
	usualWind            = 30.0 // %
	usualShear           = 0.6  // −ln of surface wind over the wind of the first minute
)

// loss is −2 ln of the likelihood of x standard deviations, with a floor for blunders,
// so that no residual counts beyond all measure.
func loss(x float64) float64 {
	const floor = 1e-6
	return -2 * math.Log((math.Exp(-x*x/2)+floor)/(1+floor))
}

func cost(list *[residuals]residual) float64 {
	sum := 0.0
	for _, r := range list {
		if !math.IsNaN(r.value) && r.usual > 0 {
			sum += loss(r.value / r.usual)
		}
	}
	return sum
}

// outside is how far x lies outside [low, high].
func outside(x, low, high float64) float64 {
	switch {
	case x < low:
		return x - low
	case x > high:
		return x - high
	}
	return 0
}

func minutes(a, b time.Time) float64 { return a.Sub(b).Minutes() }

// residuals compares everything with everything in a world.
func (f *facts) residuals(w *world) [residuals]residual {
	var out [residuals]residual
	for i := range out {
		out[i].value = math.NaN()
	}
	set := func(i int, value, usual float64) { out[i] = residual{value, usual} }
	r := &w.record
	site := r.Site.Height.Value()
	barometer := r.Site.Barometer.Or(site)
	temperature := r.Surface.Temperature.Or(288)
	if !(temperature > 200 && temperature < 330) {
		temperature = 288
	}
	scale := 29.27 * temperature // m
	up := barometer - site
	if math.IsNaN(up) || math.Abs(up) > 200 {
		up = 0
	}
	p := r.Surface.Pressure.Value()
	carried := p * math.Exp(up/scale) // to the release point
	calibration := f.calibration
	if !math.IsNaN(f.offset) {
		set(rPressure, f.pressure-f.offset-carried-(w.pressureGround-w.pressure), math.Hypot(math.Hypot(usualSurfacePressure, 0.5*calibration), f.uOffset))
		set(rOffset, f.offset-w.pressure, math.Hypot(calibration, f.uOffset))
	} else {
		set(rPressure, f.pressure-w.pressureGround-carried, math.Hypot(usualSurfacePressure, calibration))
	}
	g := &r.GroundCheck
	set(rReference, g.ReferencePressure.Value()-p, usualReference)
	if d := g.Pressure.Value() - g.ReferencePressure.Value(); f.barometer && !math.IsNaN(d) {
		// An offset may have come after the ground check.
		if math.Abs(d-w.pressureGround) < math.Abs(d) {
			d -= w.pressureGround
		}
		set(rGround, d, math.Hypot(calibration, 0.2))
	}
	if !math.IsNaN(barometer) && barometer > -500 && barometer < 9000 {
		_, standard, _ := earth.StandardAtmosphere(barometer)
		x := p
		if math.IsNaN(x) {
			x = f.pressure - w.pressureGround
		}
		set(rStandard, x-standard, usualStandard)
	}
	msl := f.msl - w.height
	set(rHeight, msl-site, f.usualHeight)
	above := f.ellipsoid - w.ellipsoid - r.Site.Undulation.Value()
	if !math.IsNaN(f.msl) {
		set(rEllipsoid, above-msl, usualBetween)
	} else {
		set(rHeight, above-site, f.usualHeight)
	}
	set(rBarometer, r.Site.Barometer.Value()-site, usualMast)
	set(rAntenna, r.Site.Antenna.Value()-site, usualMast)
	set(rThermometer, r.Site.Thermometer.Value()-site, usualMast)
	// A barometer that drifts bends the difference in ways a constant cannot follow.
	set(rWarm, f.warm-w.warm, math.Hypot(math.Hypot(usualWarm, f.uWarm), 0.4*math.Abs(w.pressure-w.pressureGround)))
	set(rTemperature, nearest(r.Surface.Temperature.Value()+w.warm, f.temperature, f.temperatureAloft), f.usualTemperature)
	if d := g.Temperature.Value() - g.ReferenceTemperature.Value(); !math.IsNaN(d) {
		if math.Abs(d-w.warm) < math.Abs(d) {
			d -= w.warm
		}
		set(rGroundTemperature, d, 0.4)
	}
	if la, lo := r.Site.Latitude.Value(), r.Site.Longitude.Value(); math.Abs(la) <= 90 && math.Abs(lo) <= 360 {
		set(rPosition, kilometres(la, lo, f.latitude, f.longitude), usualPlace)
	}
	if f.released {
		if d := r.Release.Declared; !d.IsZero() {
			set(rDeclared, d.Sub(f.release).Seconds(), usualPress)
		}
		if t := r.Surface.Time; !t.IsZero() {
			set(rSurfaceTime, outside(minutes(t, f.release), -90, 15), 10)
		}
		if t := g.Time; !t.IsZero() {
			set(rGroundTime, outside(minutes(t, f.release), -360, 2), 10)
		}
	}
	if d, n := r.Release.Declared, r.Release.Nominal; !d.IsZero() && !n.IsZero() {
		set(rNominal, outside(minutes(d, n), -180, 180), 20)
	}
	if s, d := r.Surface.WindSpeed.Value(), r.Surface.WindDirection.Value(); s > 0.5 && !math.IsNaN(d+f.windU) {
		aloft, from := earth.WindFromUV(f.windU, f.windV)
		if turn := math.Abs(math.Remainder(d-from, 360)); aloft > 2.5 && turn < 50 {
			set(rWind, 100*(math.Log(s/aloft)+usualShear), usualWind)
		}
	}
	if l := r.Balloon.String.Value(); l > 0 && f.period > 0 {
		set(rString, 100*math.Log(f.period/wind.PendulumPeriod(l)), usualSwing)
	}
	return out
}

// nearest is that of two values minus x which is smaller; a radiosonde may come out of
// a warm vehicle, and the first samples aloft may be through an inversion.
func nearest(x, a, b float64) float64 {
	a, b = a-x, b-x
	if math.IsNaN(a) || math.Abs(b) < math.Abs(a) {
		return b
	}
	return a
}

// kilometres is the distance on a sphere, enough to tell one place from another.
func kilometres(lat1, lon1, lat2, lon2 float64) float64 {
	const radian = math.Pi / 180
	a := math.Sin((lat2 - lat1) * radian / 2)
	b := math.Sin((lon2 - lon1) * radian / 2)
	x := a*a + math.Cos(lat1*radian)*math.Cos(lat2*radian)*b*b
	return 2 * 6371 * math.Asin(math.Sqrt(math.Min(1, x)))
}
