package ingest

import (
	"fmt"
	"math"
	"sort"
	"time"

	"leadline/internal/sounding"
	"leadline/internal/units"
)

// Limits of ValidateRecord (own choices unless a source stands beside; docs/methods/launch-record.md).
const (
	placeLimit    = 5.0   // km between given and received position
	heightLimit   = 30.0  // m between given and received height above mean sea level
	undulationMax = 110.0 // m, largest geoid undulation (from memory: EGM2008 -107 to +86 m)
	pressureLimit = 5.0   // hPa between surface observation and first samples
	warmthLimit   = 15.0  // K between surface observation and first samples
	releaseLimit  = 900.0 // s between declared release and what the data show
)

// recordCheck collects findings about one record.
type recordCheck struct {
	r   *sounding.LaunchRecord
	raw *sounding.Raw
	out []sounding.Finding
}

func (c *recordCheck) say(path string, severity sounding.Severity, measured, limit float64, unit, format string, args ...any) {
	f, ok := sounding.FieldByPath(path)
	if !ok {
		return
	}
	n := fieldFinding(&f, c.r, severity, fmt.Sprintf(format, args...))
	n.Measured, n.Limit, n.Unit = sounding.Number(measured), sounding.Number(limit), unit
	c.out = append(c.out, n)
}

// ValidateRecord compares a launch record with itself and with the first samples of
// the flight; raw may be nil. Each finding names the item, what was measured, the
// limit and, where one alternative explains the difference, what was probably meant.
// Nothing is changed: a decision correct-record does that.
func ValidateRecord(r *sounding.LaunchRecord, raw *sounding.Raw) []sounding.Finding {
	c := &recordCheck{r: r, raw: raw}
	first := startOf(raw)
	c.position(first)
	c.height(first)
	c.pressure(first)
	c.temperatures(first)
	c.humidity(first)
	c.wind()
	c.times(first)
	c.identity()
	c.masses()
	sounding.NumberIDs(c.out)
	return c.out
}

// start is what the first samples of a flight say; NaN where they say nothing.
type start struct {
	latitude, longitude                   float64
	msl, ellipsoid, pressure, temperature float64
	humidity                              float64
	release                               float64 // s since the epoch, of the first row that leaves the ground
	seen                                  bool    // the ground was seen before it left
	firstRow, lastRow                     float64 // times
}

func startOf(raw *sounding.Raw) start {
	n := math.NaN()
	s := start{n, n, n, n, n, n, n, n, false, n, n}
	if raw == nil || raw.Len() == 0 {
		return s
	}
	s.firstRow, s.lastRow = raw.Time[0], raw.Time[raw.Len()-1]
	s.release, s.seen = leaving(raw)
	head := raw.Len()
	if s.seen {
		for i, t := range raw.Time {
			if t >= s.release {
				head = max(i, 1)
				break
			}
		}
	} else {
		head = min(head, 10)
	}
	if isReport(raw) {
		head = 1 // the next level may be far above
	}
	middle := func(v sounding.Variable) float64 {
		x := raw.Values(v)
		if x == nil {
			return n
		}
		// The last half hour before the release, or the first ten rows.
		var list []float64
		for i := range x[:head] {
			if !math.IsNaN(x[i]) && (!s.seen || raw.Time[i] >= s.release-1800) {
				list = append(list, x[i])
			}
		}
		if len(list) == 0 {
			return n
		}
		sort.Float64s(list)
		return list[len(list)/2]
	}
	s.latitude, s.longitude = middle(sounding.Latitude), middle(sounding.Longitude)
	s.msl, s.ellipsoid = middle(sounding.HeightMSL), middle(sounding.HeightEllipsoid)
	s.pressure, s.temperature = middle(sounding.Pressure), middle(sounding.Temperature)
	for _, v := range []sounding.Variable{sounding.Humidity, sounding.HumidityA, sounding.HumidityB} {
		if s.humidity = middle(v); !math.IsNaN(s.humidity) {
			break
		}
	}
	return s
}

// leaving finds coarsely when the balloon left the ground: the last row near the
// starting height before a climb of 300 m. seen is false where the first rows climb already.
func leaving(raw *sounding.Raw) (at float64, seen bool) {
	h := heightsOf(&raw.Columns)
	if h == nil {
		return math.NaN(), false
	}
	ground, top := lowest(h), -1
	for i, x := range h {
		if x > ground+300 {
			top = i
			break
		}
	}
	if top < 0 {
		return math.NaN(), false
	}
	for i := top; i >= 0; i-- {
		if h[i] < ground+15 {
			return raw.Time[i], i > 5
		}
	}
	return raw.Time[0], false
}

func (c *recordCheck) position(s start) {
	lat, lon := c.r.Site.Latitude, c.r.Site.Longitude
	if !lat.Set() || !lon.Set() || math.IsNaN(s.latitude) || math.IsNaN(s.longitude) {
		return
	}
	la, lo := lat.Value(), lon.Value()
	d := kilometres(la, lo, s.latitude, s.longitude)
	if d <= placeLimit {
		return
	}
	minutes := func(x float64) float64 { // 46.125 typed for 46° 12.5'
		whole := math.Trunc(x)
		return whole + (x-whole)*100/60
	}
	for _, a := range []struct {
		path, words string
		lat, lon    float64
	}{
		{"site.latitude_deg", "the sign of the latitude looks wrong", -la, lo},
		{"site.longitude_deg", "the sign of the longitude looks wrong", la, -lo},
		{"site.latitude_deg", "the signs of latitude and longitude look wrong", -la, -lo},
		{"site.latitude_deg", "latitude and longitude look exchanged", lo, la},
		{"site.latitude_deg", "degrees and minutes look typed as decimal degrees", minutes(la), minutes(lo)},
	} {
		if k := kilometres(a.lat, a.lon, s.latitude, s.longitude); k <= placeLimit && k < d/4 {
			c.say(a.path, sounding.Bad, d, placeLimit, "km", "the site is given as %.4f, %.4f and the radiosonde was at %.4f, %.4f before release, %.0f km away (limit %.0f km): %s; %.4f, %.4f would be %.1f km away", la, lo, s.latitude, s.longitude, d, placeLimit, a.words, a.lat, a.lon, k)
			return
		}
	}
	c.say("site.latitude_deg", sounding.Questionable, d, placeLimit, "km", "the site is given as %.4f, %.4f and the radiosonde was at %.4f, %.4f before release, %.1f km away (limit %.0f km): another site, or a figure mistyped", la, lo, s.latitude, s.longitude, d, placeLimit)
}

func (c *recordCheck) height(s start) {
	h := c.r.Site.Height
	if !h.Set() {
		return
	}
	got, limit, kind := s.msl, heightLimit, "above mean sea level"
	if math.IsNaN(got) {
		if math.IsNaN(s.ellipsoid) {
			return
		}
		got, kind = s.ellipsoid, "above the ellipsoid"
		if u := c.r.Site.Undulation; u.Set() {
			got, kind = got-u.Value(), "above the ellipsoid less the undulation"
		} else {
			limit += undulationMax
		}
	}
	up := limit
	if !s.seen {
		up += 500 // the ground was not seen: the first sample may be on its way
	}
	d := got - h.Value()
	if d >= -limit && d <= up {
		return
	}
	near := func(x float64) bool { return got-x >= -limit && got-x <= up }
	words := "one of them belongs to another place, or a figure is mistyped"
	severity := sounding.Questionable
	switch feet := h.Value() * 0.3048; {
	case near(feet) && math.Abs(got-feet) < math.Abs(d)/3:
		words = fmt.Sprintf("it looks typed in feet: %.0f ft are %.1f m", h.Value(), feet)
		severity = sounding.Bad
	case near(h.Value()/0.3048) && math.Abs(got-h.Value()/0.3048) < math.Abs(d)/3:
		words = fmt.Sprintf("it looks converted from feet twice: %.1f m", h.Value()/0.3048)
		severity = sounding.Bad
	case near(h.Value()*10) && h.Value() != 0 || near(h.Value()/10):
		words = "it looks wrong by a factor of ten"
		severity = sounding.Bad
	case near(-h.Value()):
		words = "its sign looks wrong"
		severity = sounding.Bad
	}
	c.say("site.height_m_msl", severity, d, limit, "m", "the radiosonde was %.1f m %s before release and the release point is given as %.1f m, a difference of %.1f m (limit %.0f m): %s", got, kind, h.Value(), d, limit, words)
}

// typedPressure finds the unit in which a number that should be hPa was typed, so
// that it comes within reach of want.
func typedPressure(x, want, reach float64) (unit string, meant float64, ok bool) {
	for _, name := range []string{"inHg", "mmHg", "kPa", "Pa", "bar"} {
		u, err := units.Lookup(name, units.Pressure)
		if err != nil {
			continue
		}
		if v := u.Inside(x); math.Abs(v-want) <= reach {
			return name, v, true
		}
	}
	return "", 0, false
}

func (c *recordCheck) pressure(s start) {
	height := c.r.Site.Height
	barometer := c.r.Site.Barometer.Or(height.Value())
	expected, reach, source := s.pressure, pressureLimit, "the radiosonde's first pressure"
	switch {
	case !math.IsNaN(expected):
		if height.Set() && !math.IsNaN(barometer) {
			// To the height of the barometer, 8.4 m for each hPa near the ground.
			expected *= math.Exp(-(barometer - height.Value()) / 8430)
		}
		if !s.seen {
			reach += 0.06 * expected // the first sample may be 500 m up
		}
	case height.Set():
		expected, reach, source = 1013.25*math.Pow(1-height.Value()/44330.77, 5.25588), 60, "the standard atmosphere at that height"
	default:
		expected, reach, source = 950, 170, "any station from the sea to 2500 m"
	}
	compare := func(path string, n sounding.Number, reach float64) {
		if !n.Set() {
			return
		}
		x := n.Value()
		d := x - expected
		if math.Abs(d) <= reach {
			return
		}
		if unit, meant, ok := typedPressure(x, expected, reach); ok {
			c.say(path, sounding.Bad, d, reach, "hPa", "%s is given as %s hPa where %s has %.1f hPa (limit %.1f hPa): it looks typed in %s, %s %s are %.1f hPa", c.label(path), formatShort(x), source, expected, reach, unit, formatShort(x), unit, meant)
			return
		}
		if height.Set() && barometer > 20 {
			t := c.r.Surface.Temperature.Or(288.15-0.0065*barometer) + 0.0065*barometer/2
			sea := expected * math.Exp(9.80665*barometer/(287.05*t))
			if math.Abs(x-sea) <= math.Max(reach, 0.02*(sea-expected)) && math.Abs(x-sea) < math.Abs(d)/2 {
				c.say(path, sounding.Bad, d, reach, "hPa", "%s is given as %s hPa where %s has %.1f hPa (limit %.1f hPa): it looks reduced to sea level, which would be about %.1f hPa; the pressure at the station is wanted", c.label(path), formatShort(x), source, expected, reach, sea)
				return
			}
		}
		if math.IsNaN(s.pressure) && x > 500 && x < 1080 && source[0] == 'a' {
			return // a high station: nothing to compare with
		}
		c.say(path, sounding.Questionable, d, reach, "hPa", "%s is given as %s hPa where %s has %.1f hPa, a difference of %.1f hPa (limit %.1f hPa): a figure mistyped, another place, or a barometer far off", c.label(path), formatShort(x), source, expected, d, reach)
	}
	compare("surface.pressure_hpa", c.r.Surface.Pressure, reach)
	if !c.r.Surface.Pressure.Set() || math.Abs(c.r.Surface.Pressure.Value()-expected) <= reach {
		// The ground check is made indoors at the station, hours before at the most.
		compare("ground_check.reference_pressure_hpa", c.r.GroundCheck.ReferencePressure, reach+10)
	}
	g := &c.r.GroundCheck
	if g.Pressure.Set() && g.ReferencePressure.Set() {
		if d := g.Pressure.Value() - g.ReferencePressure.Value(); math.Abs(d) > 20 {
			words := "one of them is mistyped"
			if unit, meant, ok := typedPressure(g.Pressure.Value(), g.ReferencePressure.Value(), 20); ok {
				words = fmt.Sprintf("it looks typed in %s: %.1f hPa", unit, meant)
			}
			c.say("ground_check.pressure_hpa", sounding.Questionable, d, 20, "hPa", "radiosonde and reference pressure at the ground check differ by %.1f hPa (limit 20 hPa): %s", d, words)
		}
	}
}

func (c *recordCheck) label(path string) string {
	f, _ := sounding.FieldByPath(path)
	return f.Label
}

func (c *recordCheck) temperatures(s start) {
	for _, path := range []string{"surface.temperature_k", "surface.dew_point_k", "surface.sea_temperature_k", "ground_check.reference_temperature_k", "ground_check.temperature_k"} {
		f, _ := sounding.FieldByPath(path)
		n := *f.Number(c.r)
		if !n.Set() {
			continue
		}
		x := n.Value()
		type reading struct {
			words string
			meant float64
		}
		readings := []reading{
			{"°C typed as K", x + 273.15},
			{"°F typed as K", (x-32)*5/9 + 273.15},
			{"°F typed as °C", (x-273.15-32)*5/9 + 273.15},
			{"K typed as °C", x - 273.15},
		}
		outdoor := path == "surface.temperature_k"
		possible := func(t float64) bool {
			if path == "surface.dew_point_k" {
				return t > 200 && t < 309 // highest dew points 35 °C (from memory)
			}
			if path == "surface.sea_temperature_k" {
				return t > 270 && t < 310 // sea water freezes near -2 °C; shallow seas reach 36 °C (from memory)
			}
			return t > 183 && t < 331 // -89.2 °C and 56.7 °C, the records at the ground (WMO archive of weather extremes, from memory)
		}
		inside := path == "ground_check.reference_temperature_k" || path == "ground_check.temperature_k"
		compared := !math.IsNaN(s.temperature) && outdoor
		if possible(x) && !(compared && math.Abs(x-s.temperature) > warmthLimit) && !(inside && x < 223) {
			continue
		}
		words := "no unit explains it"
		meant := math.NaN()
		for _, a := range readings {
			if !possible(a.meant) {
				continue
			}
			if compared && math.Abs(a.meant-s.temperature) > warmthLimit {
				continue
			}
			if math.IsNaN(meant) {
				words, meant = fmt.Sprintf("it looks like %s, then %.1f °C are meant", a.words, a.meant-273.15), a.meant
			}
		}
		severity := sounding.Bad
		switch {
		case !possible(x):
			c.say(path, severity, x, sounding.NotSet.Value(), "K", "%s is given as %.2f K (%.1f °C), which cannot be: %s", f.Label, x, x-273.15, words)
		default:
			if math.IsNaN(meant) {
				severity = sounding.Questionable
			}
			c.say(path, severity, x-s.temperature, warmthLimit, "K", "%s is given as %.1f °C where the radiosonde had %.1f °C before release, a difference of %.1f K (limit %.0f K): %s", f.Label, x-273.15, s.temperature-273.15, x-s.temperature, warmthLimit, words)
		}
	}
	if t, d := c.r.Surface.Temperature, c.r.Surface.DewPoint; t.Set() && d.Set() && d.Value() > t.Value()+0.1 && t.Value() > 183 {
		c.say("surface.dew_point_k", sounding.Bad, d.Value()-t.Value(), 0.1, "K", "the dew point, %.1f °C, lies %.1f K above the temperature, %.1f °C (limit 0.1 K): the two look exchanged, or one is mistyped", d.Value()-273.15, d.Value()-t.Value(), t.Value()-273.15)
	}
}

func (c *recordCheck) humidity(s start) {
	for _, path := range []string{"surface.humidity_pct", "ground_check.reference_humidity_pct", "ground_check.humidity_pct", "ground_check.humidity_a_pct", "ground_check.humidity_b_pct"} {
		f, _ := sounding.FieldByPath(path)
		n := *f.Number(c.r)
		if !n.Set() {
			continue
		}
		x := n.Value()
		switch {
		case x < -5 || x > 110:
			c.say(path, sounding.Bad, x, 110, "%", "%s is given as %s %%, which cannot be (limits -5 %% and 110 %%): a figure mistyped or another quantity", f.Label, formatShort(x))
		case x > 0 && x <= 1 && (path == "surface.humidity_pct" && !(s.humidity < 8)):
			c.say(path, sounding.Questionable, x, 1, "%", "%s is given as %s %%: it looks like a fraction, then %.0f %% are meant", f.Label, formatShort(x), x*100)
		}
	}
}

func (c *recordCheck) wind() {
	if d := c.r.Surface.WindDirection; d.Set() && (d < 0 || d > 360) {
		c.say("surface.wind_direction_deg", sounding.Bad, d.Value(), 360, "degree", "the wind direction is given as %s degrees (limits 0 and 360)", formatShort(d.Value()))
	}
	if w := c.r.Surface.WindSpeed; w.Set() && (w < 0 || w > 60) {
		c.say("surface.wind_speed_m_s", sounding.Bad, w.Value(), 60, "m s-1", "the wind speed is given as %s m/s (limits 0 and 60 m/s): no balloon is released in that; look at its unit", formatShort(w.Value()))
	}
}

func (c *recordCheck) times(s start) {
	declared := c.r.Release.Declared
	if !declared.IsZero() && c.raw != nil && !math.IsNaN(s.firstRow) {
		at := s.release
		what := "the balloon leaves the ground"
		if math.IsNaN(at) || !s.seen {
			at, what = s.firstRow, "the data begin"
		}
		d := declared.Sub(c.raw.Epoch).Seconds() - at
		limit := releaseLimit
		late := !s.seen && d < 0 // a receiver that started late
		inside := d >= -limit && d <= limit
		if !inside {
			half := math.Round(d / 1800)
			rest := d - half*1800
			found := instant(c.raw.Epoch, at)
			switch {
			case math.Abs(rest) <= 300 && math.Abs(half) >= 1 && math.Abs(half) <= 28:
				c.say("release.declared_utc", sounding.Bad, d, limit, "s", "release is declared for %s and %s at %s, %s different to within %.0f s (limit %.0f s): it looks like local time typed as UTC", stampOf(declared), what, stampOf(found), hoursWords(half/2), math.Abs(rest), limit)
			case math.Abs(d-daySeconds*math.Round(d/daySeconds)) <= limit && math.Abs(d) > daySeconds/2:
				c.say("release.declared_utc", sounding.Bad, d, limit, "s", "release is declared for %s and %s at %s: the time fits, the date does not", stampOf(declared), what, stampOf(found))
			case late && -d < 3600:
			default:
				c.say("release.declared_utc", sounding.Questionable, d, limit, "s", "release is declared for %s and %s at %s, %.0f s apart (limit %.0f s)", stampOf(declared), what, stampOf(found), math.Abs(d), limit)
			}
		}
	}
	if nominal := c.r.Release.Nominal; !nominal.IsZero() && !declared.IsZero() {
		if d := declared.Sub(nominal).Seconds(); math.Abs(d) > 3*3600 {
			c.say("release.nominal_utc", sounding.Questionable, d, 3*3600, "s", "release is declared for %s, %.1f h from the nominal hour %s (limit 3 h): local time, or another slot", stampOf(declared), math.Abs(d)/3600, stampOf(nominal))
		}
	}
	if t := c.r.Surface.Time; !t.IsZero() && !declared.IsZero() {
		if d := t.Sub(declared).Seconds(); math.Abs(d) > 5400 {
			half := math.Round(d / 1800)
			words := "it is too old to compare with"
			if math.Abs(d-half*1800) <= 900 && d > 0 || math.Abs(half) <= 28 && math.Abs(d-half*1800) <= 600 {
				words = "it looks like local time typed as UTC"
			}
			c.say("surface.time_utc", sounding.Questionable, d, 5400, "s", "the surface observation is of %s, %s from the declared release %s (limit 1.5 h): %s", stampOf(t), hoursWords(math.Round(d/360)/10), stampOf(declared), words)
		}
	}
}

func stampOf(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05Z") }

func hoursWords(h float64) string { return fmt.Sprintf("%s h", formatShort(math.Abs(h))) }

func (c *recordCheck) identity() {
	if n := c.r.Site.WMONumber; n != "" && !figures(n, 5) {
		c.say("site.wmo_number", sounding.Questionable, sounding.NotSet.Value(), 5, "", "the WMO station number %q has not five figures", shown(n))
	}
	if w := c.r.Site.WIGOS; w != "" && !wigos(w) {
		c.say("site.wigos", sounding.Questionable, sounding.NotSet.Value(), sounding.NotSet.Value(), "", "the WIGOS identifier %q has not the form 0-20000-0-00000", shown(w))
	}
	if f := c.r.Radiosonde.Frequency; f.Set() && !(f >= 400 && f <= 406.1 || f >= 1668.4 && f <= 1700) {
		// Radio Regulations of ITU, allocations to meteorological aids (from memory).
		c.say("radiosonde.frequency_mhz", sounding.Note, f.Value(), sounding.NotSet.Value(), "MHz", "the frequency %s MHz lies outside the bands of meteorological aids, 400.15 to 406 and 1668.4 to 1700 MHz", formatShort(f.Value()))
	}
	if c.raw != nil && c.raw.Record != nil {
		if a, b := c.r.Radiosonde.Serial, c.raw.Record.Radiosonde.Serial; a != "" && b != "" && a != b {
			c.say("radiosonde.serial", sounding.Questionable, sounding.NotSet.Value(), sounding.NotSet.Value(), "", "the launch record names radiosonde %s, the source %s: the record may belong to another flight", shown(a), shown(b))
		}
	}
}

func figures(s string, n int) bool {
	if len(s) != n {
		return false
	}
	for _, c := range []byte(s) {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

// wigos tells whether a text has the four parts of a WIGOS station identifier
// (WMO-No. 1160: series, issuer, issue number, local identifier).
func wigos(s string) bool {
	parts := []string{""}
	for _, r := range s {
		if r == '-' && len(parts) < 4 {
			parts = append(parts, "")
			continue
		}
		parts[len(parts)-1] += string(r)
	}
	if len(parts) != 4 || parts[0] != "0" || len(parts[3]) == 0 || len(parts[3]) > 16 {
		return false
	}
	for _, p := range parts[1:3] {
		if len(p) == 0 || len(p) > 5 || !figures(p, len(p)) {
			return false
		}
	}
	for _, c := range []byte(parts[3]) {
		if !(c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z') {
			return false
		}
	}
	return true
}

func (c *recordCheck) masses() {
	for _, m := range []struct {
		path  string
		limit float64
	}{{"radiosonde.mass_kg", 3}, {"balloon.mass_kg", 10}, {"balloon.gas_amount_kg", 10}, {"balloon.nozzle_lift_kg", 20}, {"balloon.payload_kg", 20}} {
		f, _ := sounding.FieldByPath(m.path)
		n := *f.Number(c.r)
		if !n.Set() || n >= 0 && n.Value() <= m.limit {
			continue
		}
		words := "a figure mistyped"
		if x := n.Value() / 1000; n > 0 && x <= m.limit {
			words = fmt.Sprintf("it looks typed in grams: %s kg", formatShort(x))
		}
		c.say(m.path, sounding.Bad, n.Value(), m.limit, "kg", "%s is given as %s kg (limits 0 and %s kg): %s", f.Label, formatShort(n.Value()), formatShort(m.limit), words)
	}
	if s := c.r.Balloon.String; s.Set() && (s < 0 || s > 120) {
		c.say("balloon.string_m", sounding.Questionable, s.Value(), 120, "m", "the string is given as %s m (limits 0 and 120 m)", formatShort(s.Value()))
	}
	if w := c.r.Balloon.TargetAscentRate; w.Set() && (w < 1 || w > 12) {
		words := "a figure mistyped"
		if w >= 60 && w <= 720 {
			words = fmt.Sprintf("it looks typed in m/min: %.1f m/s", w.Value()/60)
		}
		c.say("balloon.target_ascent_rate_m_s", sounding.Questionable, w.Value(), 12, "m s-1", "the target ascent rate is given as %s m/s (limits 1 and 12 m/s): %s", formatShort(w.Value()), words)
	}
}
