package prelaunch

import (
	"math"
	"time"

	"leadline/internal/constants"
	"leadline/internal/earth"
	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

// JudgeSurface looks at a surface observation for what cannot be, or is likelier a value
// in another unit, at another height, or another hour. release is zero where not known.
func JudgeSurface(site *sounding.Site, s *sounding.Surface, release time.Time, set *Settings) []Remark {
	r := remarks{about: "surface"}
	judgePressure(&r, site, s, set)
	lim := &set.Surface
	if t := s.Temperature.Value(); s.Temperature.Set() {
		switch {
		case t >= lim.LowestT && t <= lim.HighestT:
		case t > -70 && t < 60:
			r.say(Stop, "a surface temperature of %g K cannot be: was it typed in °C? That would be %.2f K", t, t+constants.ZeroCelsius)
		case t > 60 && t < 130:
			r.say(Stop, "a surface temperature of %g K cannot be: was it typed in °F? That would be %.2f K", t, (t-32)/1.8+constants.ZeroCelsius)
		default:
			c := t - constants.ZeroCelsius
			if f := (c-32)/1.8 + constants.ZeroCelsius; c > 0 && f >= lim.LowestT && f <= lim.HighestT {
				r.say(Stop, "a surface temperature of %.1f °C is out of range: was it read in °F? That would be %.1f °C", c, f-constants.ZeroCelsius)
			} else {
				r.say(Stop, "a surface temperature of %.1f °C is out of range", c)
			}
		}
	}
	if rh := s.Humidity.Value(); s.Humidity.Set() {
		switch {
		case rh < 0 || rh > 100.5:
			r.say(Stop, "a humidity of %g %% cannot be", rh)
		case rh > 0 && rh <= 1:
			r.say(Warning, "a humidity of %g %%: is it a share of 1? That would be %g %%", rh, 100*rh)
		}
	}
	if s.DewPoint.Set() && s.Temperature.Set() {
		t, d := s.Temperature.Value(), s.DewPoint.Value()
		switch {
		case d > t+lim.DewPointMargin:
			r.say(Stop, "the dew point of %.1f °C is above the temperature of %.1f °C: one of them is wrong, or they changed places", d-constants.ZeroCelsius, t-constants.ZeroCelsius)
		case s.Humidity.Set():
			if own := humidity.MurphyKoop.DewPointFromRelative(s.Humidity.Value(), t); math.Abs(own-d) > lim.DewPointAgree {
				r.say(Warning, "temperature and humidity give a dew point of %.1f °C, %.1f °C is given", own-constants.ZeroCelsius, d-constants.ZeroCelsius)
			}
		}
	}
	speed, direction := s.WindSpeed.Value(), s.WindDirection.Value()
	if s.WindSpeed.Set() {
		switch {
		case speed < 0:
			r.say(Stop, "a wind speed of %g m/s is below 0", speed)
		case speed > lim.WindUnit:
			r.say(Warning, "a wind of %g m/s: was it read in knots (%.1f m/s) or km/h (%.1f m/s)?", speed, speed*1852/3600, speed/3.6)
		case speed > lim.WindLimit:
			r.say(Warning, "a wind of %.1f m/s is above %g m/s: the site's own limit for a release by hand rules", speed, lim.WindLimit)
		}
		switch {
		case speed == 0 && s.WindDirection.Set() && direction != 0:
			r.say(Note, "calm, yet a direction of %.0f° is given: calm is written with direction 0", direction)
		case speed > 0 && !s.WindDirection.Set():
			r.say(Warning, "the wind has a speed and no direction")
		case speed > 0 && direction == 0:
			r.say(Note, "wind from 0°: north is written 360; 0 means calm")
		}
	}
	if s.WindDirection.Set() && !(direction >= 0 && direction <= 360) {
		r.say(Stop, "a wind direction of %g° cannot be: want 0 to 360°, from true north", direction)
	}
	if !s.Time.IsZero() && !release.IsZero() {
		if age := release.Sub(s.Time).Minutes(); age > lim.Age {
			r.say(Warning, "the surface observation is %.0f min older than the release: read it again at the release point", age)
		} else if age < -lim.Age {
			r.say(Warning, "the surface observation is dated %.0f min after the release: look at the clock and the zone", -age)
		}
	}
	return r.list
}

// judgePressure compares station pressure with that of the standard atmosphere at the
// barometer's height, as the sea-level pressure it would mean.
func judgePressure(r *remarks, site *sounding.Site, s *sounding.Surface, set *Settings) {
	height := site.Barometer
	if !height.Set() {
		height = site.Height
	}
	if !s.Pressure.Set() {
		r.say(Warning, "the surface pressure is not given: fill and heights need it")
		return
	}
	p := s.Pressure.Value()
	if !(p > 0) {
		r.say(Stop, "a surface pressure of %g hPa cannot be", p)
		return
	}
	if !height.Set() {
		r.say(Warning, "the height of barometer or release point is not given: the pressure of %g hPa cannot be checked against it", p)
		return
	}
	latitude := site.Latitude.Or(45)
	gpm := earth.GeopotentialHeight(height.Value(), latitude)
	_, standard, _ := earth.StandardAtmosphere(gpm)
	if math.IsNaN(standard) {
		r.say(Stop, "a height of %g m above sea level cannot be that of a site", height.Value())
		return
	}
	sea := p * 1013.25 / standard
	lim := &set.Surface
	if sea >= lim.LowestSea && sea <= lim.HighestSea {
		return
	}
	level := Warning
	if sea < lim.ImpossibleLow || sea > lim.ImpossibleHigh {
		level = Stop
	}
	for _, u := range []struct {
		name   string
		factor float64
	}{{"inHg", 33.863886}, {"mmHg", 1.33322387}, {"kPa", 10}, {"Pa", 0.01}} {
		if q := p * u.factor; math.Abs(q-standard) < lim.Unit {
			r.say(level, "a surface pressure of %g hPa does not fit a height of %.0f m, where the standard atmosphere has %.1f hPa: was it read in %s? That would be %.1f hPa", p, height.Value(), standard, u.name, q)
			return
		}
	}
	if p > lim.LowestSea && p < lim.HighestSea && standard < p-20 {
		r.say(level, "a surface pressure of %g hPa does not fit a height of %.0f m, where the standard atmosphere has %.1f hPa: was it reduced to sea level? Station pressure is wanted; otherwise the height is wrong", p, height.Value(), standard)
		return
	}
	r.say(level, "a surface pressure of %g hPa at %.0f m would be %.0f hPa at sea level: look at the pressure and the height", p, height.Value(), sea)
}
