package ingest

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"leadline/internal/bufr"
	"leadline/internal/constants"
	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Elements of FM 94 that a report is made of.
var (
	eBlock, eNumber     = bufr.FXY(0, 1, 1), bufr.FXY(0, 1, 2)
	eFlightNumber       = bufr.FXY(0, 1, 6)
	eCallSign           = bufr.FXY(0, 1, 11)
	eSerial, eObserver  = bufr.FXY(0, 1, 81), bufr.FXY(0, 1, 95)
	eSeries, eIssuer    = bufr.FXY(0, 1, 125), bufr.FXY(0, 1, 126)
	eIssue, eLocal      = bufr.FXY(0, 1, 127), bufr.FXY(0, 1, 128)
	eFrequency          = bufr.FXY(0, 2, 67)
	eBalloonMass        = bufr.FXY(0, 2, 82)
	eGas, eTrain        = bufr.FXY(0, 2, 84), bufr.FXY(0, 2, 86)
	eGasAmount          = bufr.FXY(0, 2, 85)
	eSeaTemperature     = bufr.FXY(0, 22, 43)
	eConfiguration      = bufr.FXY(0, 2, 16)
	eTimeSignificance   = bufr.FXY(0, 8, 21)
	eCoordinates        = bufr.FXY(0, 8, 91)
	eLatitude           = bufr.FXY(0, 5, 1)
	eLatitudeCoarse     = bufr.FXY(0, 5, 2)
	eLongitude          = bufr.FXY(0, 6, 1)
	eLongitudeCoarse    = bufr.FXY(0, 6, 2)
	eStationHeight      = bufr.FXY(0, 7, 1)
	eReleaseHeight      = bufr.FXY(0, 7, 7)
	eGroundHeight       = bufr.FXY(0, 7, 30)
	eBarometerHeight    = bufr.FXY(0, 7, 31)
	eCloudAmount        = bufr.FXY(0, 20, 11)
	eCloudBase          = bufr.FXY(0, 20, 13)
	eCloudType          = bufr.FXY(0, 20, 12)
	eSince              = bufr.FXY(0, 4, 86)
	eSignificance       = bufr.FXY(0, 8, 42)
	eOldSignificance    = bufr.FXY(0, 8, 1)
	ePressure           = bufr.FXY(0, 7, 4)
	eGeopotentialHeight = bufr.FXY(0, 10, 9)
	eHeightCoordinate   = bufr.FXY(0, 7, 9)
	eGeopotential       = bufr.FXY(0, 10, 3)
	eHeight             = bufr.FXY(0, 7, 2)
	eLatitudeShift      = bufr.FXY(0, 5, 15)
	eLongitudeShift     = bufr.FXY(0, 6, 15)
	eTemperature        = bufr.FXY(0, 12, 101)
	eTemperatureCoarse  = bufr.FXY(0, 12, 1)
	eDewPoint           = bufr.FXY(0, 12, 103)
	eDewPointCoarse     = bufr.FXY(0, 12, 3)
	eHumidity           = bufr.FXY(0, 13, 9)
	eHumidityCoarse     = bufr.FXY(0, 13, 3)
	eDirection          = bufr.FXY(0, 11, 1)
	eSpeed              = bufr.FXY(0, 11, 2)
	eShearBelow         = bufr.FXY(0, 11, 61)
	eShearAbove         = bufr.FXY(0, 11, 62)
)

// headElements are the elements outside the levels that are kept as they stand, with
// the meaning of code figures in general words. Those of the launch record are filled
// in as well.
var headElements = []bufr.Descriptor{
	eBlock, eNumber, eCallSign, eFlightNumber, eSeries, eIssuer, eIssue, eLocal,
	bufr.FXY(0, 2, 11), bufr.FXY(0, 2, 12), bufr.FXY(0, 2, 13), bufr.FXY(0, 2, 14), bufr.FXY(0, 2, 3),
	eSerial, bufr.FXY(0, 1, 82), bufr.FXY(0, 1, 83), eObserver, bufr.FXY(0, 2, 15), eConfiguration, bufr.FXY(0, 2, 17),
	bufr.FXY(0, 2, 66), eFrequency, bufr.FXY(0, 2, 80), bufr.FXY(0, 2, 81), eBalloonMass, bufr.FXY(0, 2, 83), eGas,
	eGasAmount, eTrain, bufr.FXY(0, 2, 95), bufr.FXY(0, 2, 96), bufr.FXY(0, 2, 97), bufr.FXY(0, 2, 103),
	bufr.FXY(0, 2, 191), bufr.FXY(0, 25, 61), bufr.FXY(0, 35, 35), eTimeSignificance,
	eLatitude, eLatitudeCoarse, eLongitude, eLongitudeCoarse, eStationHeight, eGroundHeight, eBarometerHeight, eReleaseHeight,
	bufr.FXY(0, 33, 24), eCloudAmount, eCloudBase, eSeaTemperature,
}

// Bits of 0 08 042 and 0 08 001 that mark the surface.
const (
	surfaceBit    = 1 << 17
	oldSurfaceBit = 1 << 6
)

// SignificanceExtra is the name of the extra column that holds the bits of 0 08 042,
// extended vertical sounding significance, of each level; bit 1 is worth 131072.
const SignificanceExtra = "vertical_significance"

// OldSignificanceExtra is the same for 0 08 001 of older reports; bit 1 is worth 64.
const OldSignificanceExtra = "vertical_significance_0_08_001"

// levelTable returns the block of levels of a report.
func levelTable(tables []bufr.Table) (bufr.Table, bool) {
	var best bufr.Table
	found := false
	has := func(t bufr.Table, list ...bufr.Descriptor) bool {
		for _, d := range list {
			if t.Column(d, 0) >= 0 {
				return true
			}
		}
		return false
	}
	for _, t := range tables {
		if t.Rows() == 0 || found && t.Rows() <= best.Rows() {
			continue
		}
		if has(t, ePressure, eHeightCoordinate, eGeopotentialHeight, eGeopotential, eHeight) && has(t, eTemperature, eTemperatureCoarse, eDirection, eSpeed) {
			best, found = t, true
		}
	}
	return best, found
}

// report turns one data subset into a table.
func (b *bufrReports) report(s bufr.Subset) (*table, error) {
	b.tables = s.AppendTables(b.tables[:0])
	levels, ok := levelTable(b.tables)
	if !ok {
		return nil, fmt.Errorf("it has no levels with a pressure or height and a temperature or wind")
	}
	n := levels.Rows()
	if n > b.maxRows {
		return nil, fmt.Errorf("%d levels, more than %d", n, b.maxRows)
	}
	m, h := b.message, b.head
	h.read(s)
	t := b.memory.newTable()
	t.update = m.Update
	t.line = b.memory.rowNumbers(n)
	for i := range t.line {
		t.line[i] = int32(i + 1)
	}
	column := func(list ...bufr.Descriptor) []float64 {
		for _, d := range list {
			if c := levels.Column(d, 0); c >= 0 {
				return levels.Float64s(c, b.memory.floats(n)[:0])
			}
		}
		return nil
	}
	h.begin()
	h.message(b.number, b.subset, m, b.heading)
	start, descent, err := t.bufrHead(h, m)
	if err != nil {
		return nil, err
	}
	l := &reportLevels{elapsed: column(eSince), pressure: scaled(column(ePressure), 100), height: column(eGeopotentialHeight, eHeightCoordinate)}
	if l.height == nil {
		if l.height = scaled(column(eGeopotential), constants.G0); l.height == nil {
			l.height = column(eHeight)
		}
	}
	none := func(x *[]float64) {
		if *x == nil {
			*x = b.memory.floats(n)
			for i := range *x {
				(*x)[i] = math.NaN()
			}
		}
	}
	temperature, dew, humidity := column(eTemperature, eTemperatureCoarse), column(eDewPoint, eDewPointCoarse), column(eHumidity, eHumidityCoarse)
	direction, speed := column(eDirection), column(eSpeed)
	significance, old := column(eSignificance), column(eOldSignificance)
	none(&l.elapsed)
	none(&l.pressure)
	none(&l.height)
	l.surface, l.measured = b.memory.bools(n), b.memory.bools(n)
	here := func(x []float64, i int) bool { return x != nil && !math.IsNaN(x[i]) }
	surface := -1
	for i := range n {
		l.surface[i] = here(significance, i) && int(significance[i])&surfaceBit != 0 || here(old, i) && int(old[i])&oldSurfaceBit != 0
		l.measured[i] = here(temperature, i) || here(dew, i) || here(humidity, i) || here(direction, i) || here(speed, i)
		if l.surface[i] && surface < 0 {
			surface = i
		}
	}
	shifts := [2][]float64{column(eLatitudeShift), column(eLongitudeShift)}
	latitude, longitude := h.first(eLatitude, eLatitudeCoarse), h.first(eLongitude, eLongitudeCoarse)
	t.addColumn(sounding.Pressure, l.pressure)
	t.addColumn(sounding.Temperature, temperature)
	t.addColumn(sounding.Humidity, humidity)
	t.addColumn(sounding.DewPoint, dew)
	t.addColumn(sounding.WindSpeed, speed)
	t.addColumn(sounding.WindDirection, direction)
	t.addColumn(sounding.Latitude, shifted(shifts[0], latitude))
	t.addColumn(sounding.Longitude, shifted(shifts[1], longitude))
	t.addColumn(sounding.GeopotentialHeight, l.height)
	if len(t.series) == 0 {
		return nil, fmt.Errorf("it has no value on any level")
	}
	for _, e := range [...]struct {
		name, unit string
		values     []float64
	}{{SignificanceExtra, "1", significance}, {OldSignificanceExtra, "1", old}, {"wind_shear_below", "m/s", column(eShearBelow)}, {"wind_shear_above", "m/s", column(eShearAbove)}} {
		if anyValue(e.values) {
			t.extra = append(t.extra, sounding.Extra{Name: e.name, Unit: e.unit, Values: e.values})
		}
	}
	if !b.bare {
		t.extra = append(t.extra, qualityExtras(s, levels)...)
		t.humidityFromDewPoint()
	}
	if surface >= 0 && !descent {
		t.surface(surface, l, temperature, dew, humidity, direction, speed)
	}
	t.shearHeader(b.tables, levels)
	station := stationOf(t.record)
	t.name = t.header[0].Text
	if !b.bare && station != "" && !start.IsZero() {
		t.key = fmt.Sprintf("%s %s %v %d", station, start.Format(time.RFC3339), descent, templateOf(m))
	}
	if n := b.data.Unread(); n > 0 {
		f := lineFinding(quality.Syntax, sounding.Questionable, 0, 0)
		f.Measured, f.Unit = sounding.Number(n), "octets"
		f.Sentence = fmt.Sprintf("%d octets of the message are described by nothing: a count in it may be wrong, and the sounding not whole", n)
		t.findings = append(t.findings, f)
	}
	t.place(start, l)
	if len(t.time) == 0 {
		return nil, fmt.Errorf("no level has a time, a pressure or a height")
	}
	return t, nil
}

// addColumn takes values as they are, where there are any.
func (t *table) addColumn(v sounding.Variable, values []float64) {
	if anyValue(values) {
		t.series = append(t.series, sounding.Series{Variable: v, Values: values})
	}
}

func anyValue(x []float64) bool {
	for _, v := range x {
		if !math.IsNaN(v) {
			return true
		}
	}
	return false
}

// scaled divides in place.
func scaled(x []float64, by float64) []float64 {
	for i := range x {
		x[i] /= by
	}
	return x
}

// shifted returns displacements as places; nil where there is none. Longitudes stay
// between -180 and 180.
func shifted(x []float64, from float64) []float64 {
	if math.IsNaN(from) {
		return nil
	}
	for i := range x {
		x[i] = math.Round((x[i]+from)*1e6) / 1e6
		if x[i] > 180 {
			x[i] -= 360
		} else if x[i] < -180 {
			x[i] += 360
		}
	}
	return x
}

// first returns the first of the elements that has a value.
func (h *reportHead) first(list ...bufr.Descriptor) float64 {
	for _, d := range list {
		if v := h.number(d); !math.IsNaN(v) {
			return v
		}
	}
	return math.NaN()
}

// templateOf returns the sequence of the report, the first of category 3 09.
func templateOf(m *bufr.Message) bufr.Descriptor {
	for _, d := range m.Descriptors {
		if d.F() == 3 && d.X() == 9 {
			return d
		}
	}
	if len(m.Descriptors) > 0 {
		return m.Descriptors[0]
	}
	return 0
}

// bufrHead fills the launch record and the header from the elements outside the levels,
// and returns the instant that times count from. descent says that this is the start of
// a descent.
func (t *table) bufrHead(h *reportHead, m *bufr.Message) (start time.Time, descent bool, err error) {
	r := t.record
	for i := range h.items {
		it := &h.items[i]
		if it.Field != nil && !it.Missing && it.Field.Descriptor.X() != 4 {
			h.words(it)
		}
	}
	for i := 0; h.has(eCloudType); i++ { // low, middle and high clouds
		it, ok := h.s.Find(eCloudType, i)
		if !ok {
			break
		}
		if !it.Missing {
			h.words(&it)
		}
	}
	t.header = h.appendHeader(t.header)
	number := func(to *sounding.Number, v float64) {
		if !math.IsNaN(v) {
			*to = sounding.Number(v)
		}
	}
	whole := func(d bufr.Descriptor) int {
		v := h.number(d)
		if math.IsNaN(v) {
			return -1
		}
		return int(v)
	}
	if block, station := whole(eBlock), whole(eNumber); block >= 0 && station >= 0 {
		r.Site.WMONumber = fmt.Sprintf("%02d%03d", block, station)
	}
	r.Site.CallSign = h.text(eCallSign)
	if r.Site.CallSign == "" {
		r.Site.CallSign = h.text(eFlightNumber)
	}
	if series, local := whole(eSeries), h.text(eLocal); series >= 0 && local != "" {
		r.Site.WIGOS = fmt.Sprintf("%d-%d-%d-%s", series, max(whole(eIssuer), 0), max(whole(eIssue), 0), local)
	}
	descent = whole(eCoordinates) == 2
	drop := false
	if m.Edition >= 4 {
		switch m.SubCategory {
		case 1, 4, 104:
			r.Site.Kind = "fixed"
		case 2, 5, 105:
			r.Site.Kind = "ship"
		case 3, 6, 106:
			r.Site.Kind = "mobile"
		case 7:
			drop = true
		case 14, 15, 16, 114, 115, 116:
			r.Site.Kind = [...]string{"fixed", "ship", "mobile"}[m.SubCategory%10-4]
			descent = true
		}
	}
	if r.Site.Kind == "" && r.Site.WMONumber != "" {
		r.Site.Kind = "fixed"
	}
	if !descent && !drop {
		number(&r.Site.Latitude, h.first(eLatitude, eLatitudeCoarse))
		number(&r.Site.Longitude, h.first(eLongitude, eLongitudeCoarse))
		number(&r.Site.Height, h.first(eReleaseHeight, eGroundHeight, eStationHeight))
		number(&r.Site.Barometer, h.number(eBarometerHeight))
	}
	r.Radiosonde.Serial = h.text(eSerial)
	r.Operator = h.text(eObserver)
	number(&r.Radiosonde.Frequency, h.number(eFrequency)/1e6)
	number(&r.Balloon.Mass, h.number(eBalloonMass))
	number(&r.Balloon.String, h.number(eTrain))
	switch whole(eGas) {
	case 0:
		r.Balloon.Gas = "hydrogen"
	case 1:
		r.Balloon.Gas = "helium"
	}
	if c := whole(eConfiguration); c >= 0 {
		r.Balloon.Parachute = "no"
		if c&4 != 0 {
			r.Balloon.Parachute = "yes"
		}
	}
	number(&r.Balloon.GasAmount, h.number(eGasAmount))
	r.Surface.CloudCode = cloudCode(h)
	number(&r.Surface.SeaTemperature, h.number(eSeaTemperature))
	clock := make([]int, 6)
	for i := range clock {
		clock[i] = whole(bufr.FXY(0, 4, 1+i))
	}
	typical := instantOf(m.Year, m.Month, m.Day, m.Hour, m.Minute, m.Second)
	seconds := clock[5] >= 0
	for i := 3; i < 6; i++ {
		clock[i] = max(clock[i], 0)
	}
	start = instantOf(clock[0], clock[1], clock[2], clock[3], clock[4], clock[5])
	switch significance := whole(eTimeSignificance); {
	case start.IsZero() && typical.IsZero():
		return start, descent, fmt.Errorf("neither the report nor its header has a date that exists")
	case start.IsZero():
		start = typical
		r.Release.Nominal = typical
		t.countsFrom("the report has no time of launch", start)
	case significance == 18 && !descent: // launch time
		r.Release.Declared = start
		if !seconds {
			t.countsFrom("the report gives the launch without seconds", start)
		}
		if !typical.IsZero() && typical.Minute() == 0 && typical.Second() == 0 && math.Abs(typical.Sub(start).Hours()) <= 6 {
			r.Release.Nominal = typical
		}
	case descent:
		if !typical.IsZero() && typical.Minute() == 0 && math.Abs(typical.Sub(start).Hours()) <= 8 {
			r.Release.Nominal = typical
		}
	default:
		// Older reports give one time and do not say which. A full hour is the nominal one.
		if start.Minute() == 0 {
			r.Release.Nominal = start
			t.countsFrom("the report gives a full hour and does not say that it is the launch", start)
		} else {
			r.Release.Declared = start
		}
	}
	return start, descent, nil
}

// countsFrom says that the instant of launch is not known to the second.
func (t *table) countsFrom(why string, start time.Time) {
	f := timeOrder(sounding.Note, fmt.Sprintf("%s: times count from %s", why, start.Format("2006-01-02 15:04 UTC")))
	f.Field = "release.declared_utc"
	t.findings = append(t.findings, f)
}

// instantOf returns an instant, zero where there is no such day or time.
func instantOf(year, month, day, hour, minute, second int) time.Time {
	at := time.Date(year, time.Month(month), day, hour, minute, second, 0, time.UTC)
	if year < 1900 || at.Month() != time.Month(month) || at.Day() != day || hour > 24 || minute > 59 || second > 60 || hour < 0 {
		return time.Time{}
	}
	return at
}

// appendDecimal adds an item's value as it is coded.
func appendDecimal(b []byte, it *bufr.Item) []byte {
	if it.Field.Kind != bufr.Number {
		return strconv.AppendUint(b, it.Raw, 10)
	}
	return bufr.AppendDecimal(b, int64(it.Raw)+it.Field.Reference, it.Field.Scale)
}

// stationOf returns what identifies the station of a record.
func stationOf(r *sounding.LaunchRecord) string {
	switch {
	case r.Site.WMONumber != "":
		return r.Site.WMONumber
	case r.Site.CallSign != "":
		return r.Site.CallSign
	}
	return r.Site.WIGOS
}

// surface fills the surface observation of the record from level i. A barometer height
// is kept only where the level's pressure is that of the barometer.
func (t *table) surface(i int, l *reportLevels, temperature, dew, humidity, direction, speed []float64) {
	o := &t.record.Surface
	set := func(to *sounding.Number, x []float64) {
		if x != nil && !math.IsNaN(x[i]) {
			*to = sounding.Number(x[i])
		}
	}
	set(&o.Pressure, l.pressure)
	set(&o.Temperature, temperature)
	set(&o.DewPoint, dew)
	set(&o.Humidity, humidity)
	set(&o.WindDirection, direction)
	set(&o.WindSpeed, speed)
	if b := t.record.Site.Barometer.Value(); math.Abs(l.height[i]-b) > 1 {
		t.record.Site.Barometer = sounding.NotSet
	}
}

// shearHeader keeps the wind shear of maximum winds, which older and newer templates
// give in a list of its own.
func (t *table) shearHeader(tables []bufr.Table, levels bufr.Table) {
	for _, x := range tables {
		below, above, p := x.Column(eShearBelow, 0), x.Column(eShearAbove, 0), x.Column(ePressure, 0)
		if x.First() == levels.First() || below < 0 || above < 0 || p < 0 {
			continue
		}
		b, a, at := x.Float64s(below, nil), x.Float64s(above, nil), x.Float64s(p, nil)
		for i := range at {
			if i == ungrouped {
				break
			}
			text := func(v float64) string {
				if math.IsNaN(v) {
					return "missing"
				}
				return strconv.FormatFloat(v, 'f', -1, 64) + " m/s"
			}
			t.header = append(t.header, sounding.Item{Name: "wind shear at " + strconv.FormatFloat(at[i]/100, 'f', -1, 64) + " hPa", Text: text(b[i]) + " in the 1 km below, " + text(a[i]) + " above", Line: i + 1})
		}
	}
}
