package truth

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"leadline/internal/sounding"
)

// Layout names one of the two text formats the simulated receivers write.
//
// Text (recipe demo-text) is UTF-8, commas, decimal points, LF:
//
//	lines 1–9    preamble, "Name: value":
//	             Lake basin sounding log
//	             Site: <name>
//	             Latitude: <degrees, 5 decimals, south negative>
//	             Longitude: <degrees, 5 decimals, west negative>
//	             Height: <m above sea level, 1 decimal> m
//	             Radiosonde: <serial>
//	             Sheet: <name of the instrument sheet>
//	             Receiver: <1 or 2>
//	             Started: 2026-01-14T23:02:00Z
//	line 10      empty
//	line 11      column names
//	line 12      units
//	line 13 …    one row a frame
//
// Columns, in this order, those the sheet has no sensor for left out:
//
//	time [UTC] 2026-01-14T23:02:07.0Z, frame [1], pressure [hPa], temperature [degC],
//	humidity [%] or humidity_a [%], humidity_b [%], heating_a [1], heating_b [1],
//	element_a [degC], element_b [degC], latitude [deg], longitude [deg],
//	height_msl [m] or height_ellipsoid [m], velocity_east [m/s], velocity_north [m/s],
//	velocity_up [m/s], satellites [1], battery [V], internal [degC], signal [dBm]
//
// A missing value is "-".
//
// Vehicle (recipe demo-vehicle) is Latin-1, semicolons, decimal commas, CRLF, local time:
//
//	lines 1–7    "Vehicle receiver;<1 or 2>", "Site;<name>", "Position;38°44,100'S;070°12,600'W",
//	             "Height;612,4;m", "Serial;<serial>;<sheet>", "Time zone;UTC-03:00", "Date;14.01.2026"
//	line 8       column names
//	line 9       units
//	line 10 …    rows
//
// Columns: Date [dd.mm.yyyy], Local time [hh:mm:ss,s], Frame, P [hPa], T [°C],
// U [%] or UA [%], UB [%], HA, HB, TA [°C], TB [°C], Lat [deg min], Lon [deg min]
// (38°44,0123'S), Alt [m], Speed [km/h], Course [deg] (the radiosonde's motion over
// ground, given as the wind it rides: direction it comes from), Climb [m/s], Sats,
// Battery [V], Tint [°C], Signal [dBm]. A missing value is "///".
type Layout uint8

// The layouts.
const (
	Text Layout = iota
	Vehicle
)

func (l Layout) firstLine() int {
	if l == Vehicle {
		return 10
	}
	return 13
}

// Recipe returns the name of the recipe that reads the layout.
func (l Layout) Recipe() string {
	if l == Vehicle {
		return "demo-vehicle"
	}
	return "demo-text"
}

func fileName(s *Scenario, receiver int) string {
	name := strings.ToLower(strings.Join(strings.Fields(s.Site.Name), "-")) + s.Release.UTC().Format("-20060102-1504")
	if receiver > 1 {
		name += "-receiver-" + strconv.Itoa(receiver)
	}
	if s.Layout == Vehicle {
		return name + ".csv"
	}
	return name + ".txt"
}

// textColumn is one column of a file: how it is called and how a value is written.
type textColumn struct {
	name, unit string
	variable   sounding.Variable
	decimals   int
	offset     float64 // taken off the value before writing
}

func decimals(resolution float64) int {
	if resolution <= 0 {
		return 3
	}
	return max(0, int(math.Ceil(-math.Log10(resolution)-1e-9)))
}

func (r *Reception) textColumns(sheet *sounding.InstrumentSheet, names map[sounding.Variable][2]string) []textColumn {
	rh := decimals(sheet.Humidity.Resolution)
	all := []textColumn{
		{variable: sounding.Frame},
		{variable: sounding.Pressure, decimals: decimals(sheet.Pressure.Resolution)},
		{variable: sounding.Temperature, decimals: decimals(sheet.Temperature.Resolution), offset: zeroCelsius},
		{variable: sounding.Humidity, decimals: rh},
		{variable: sounding.HumidityA, decimals: rh}, {variable: sounding.HumidityB, decimals: rh},
		{variable: sounding.HeatingA}, {variable: sounding.HeatingB},
		{variable: sounding.HumiditySensorTempA, decimals: 1, offset: zeroCelsius},
		{variable: sounding.HumiditySensorTempB, decimals: 1, offset: zeroCelsius},
		{variable: sounding.Latitude, decimals: 6}, {variable: sounding.Longitude, decimals: 6},
		{variable: sounding.HeightMSL, decimals: 1}, {variable: sounding.HeightEllipsoid, decimals: 1},
		{variable: sounding.VelocityEast, decimals: 2}, {variable: sounding.VelocityNorth, decimals: 2}, {variable: sounding.VelocityUp, decimals: 2},
		{variable: sounding.Satellites}, {variable: sounding.Battery, decimals: 2},
		{variable: sounding.InternalTemperature, decimals: 1, offset: zeroCelsius}, {variable: sounding.Signal},
	}
	var out []textColumn
	for _, c := range all {
		if r.Columns.Get(c.variable) != nil {
			n := names[c.variable]
			c.name, c.unit = n[0], n[1]
			out = append(out, c)
		}
	}
	return out
}

var textNames = map[sounding.Variable][2]string{
	sounding.Frame: {"frame", "1"}, sounding.Pressure: {"pressure", "hPa"}, sounding.Temperature: {"temperature", "degC"},
	sounding.Humidity: {"humidity", "%"}, sounding.HumidityA: {"humidity_a", "%"}, sounding.HumidityB: {"humidity_b", "%"},
	sounding.HeatingA: {"heating_a", "1"}, sounding.HeatingB: {"heating_b", "1"},
	sounding.HumiditySensorTempA: {"element_a", "degC"}, sounding.HumiditySensorTempB: {"element_b", "degC"},
	sounding.Latitude: {"latitude", "deg"}, sounding.Longitude: {"longitude", "deg"},
	sounding.HeightMSL: {"height_msl", "m"}, sounding.HeightEllipsoid: {"height_ellipsoid", "m"},
	sounding.VelocityEast: {"velocity_east", "m/s"}, sounding.VelocityNorth: {"velocity_north", "m/s"}, sounding.VelocityUp: {"velocity_up", "m/s"},
	sounding.Satellites: {"satellites", "1"}, sounding.Battery: {"battery", "V"}, sounding.InternalTemperature: {"internal", "degC"}, sounding.Signal: {"signal", "dBm"},
}

var vehicleNames = map[sounding.Variable][2]string{
	sounding.Frame: {"Frame", ""}, sounding.Pressure: {"P", "hPa"}, sounding.Temperature: {"T", "\xb0C"},
	sounding.Humidity: {"U", "%"}, sounding.HumidityA: {"UA", "%"}, sounding.HumidityB: {"UB", "%"},
	sounding.HeatingA: {"HA", ""}, sounding.HeatingB: {"HB", ""},
	sounding.HumiditySensorTempA: {"TA", "\xb0C"}, sounding.HumiditySensorTempB: {"TB", "\xb0C"},
	sounding.Latitude: {"Lat", "deg min"}, sounding.Longitude: {"Lon", "deg min"},
	sounding.HeightMSL: {"Alt", "m"}, sounding.HeightEllipsoid: {"Alt ell", "m"},
	sounding.VelocityEast: {"Speed", "km/h"}, sounding.VelocityNorth: {"Course", "deg"}, sounding.VelocityUp: {"Climb", "m/s"},
	sounding.Satellites: {"Sats", ""}, sounding.Battery: {"Battery", "V"}, sounding.InternalTemperature: {"Tint", "\xb0C"}, sounding.Signal: {"Signal", "dBm"},
}

// WriteText writes the file of one receiver, 0 the first.
func (f *Flight) WriteText(w io.Writer, receiver int) error {
	if receiver < 0 || receiver >= len(f.Receptions) {
		return fmt.Errorf("flight %q has %d receivers: there is no number %d", f.Scenario.Name, len(f.Receptions), receiver+1)
	}
	_, err := w.Write(f.Text(receiver))
	return err
}

// Text returns the bytes of the file of one receiver, 0 the first.
func (f *Flight) Text(receiver int) []byte {
	r := &f.Receptions[receiver]
	b := bytes.NewBuffer(make([]byte, 0, 4096+180*r.Columns.Len()))
	if r.Layout == Vehicle {
		f.writeVehicle(b, r, receiver)
	} else {
		f.writeText(b, r, receiver)
	}
	return b.Bytes()
}

func (f *Flight) writeText(b *bytes.Buffer, r *Reception, receiver int) {
	s := &f.Scenario
	fmt.Fprintf(b, "Lake basin sounding log\nSite: %s\nLatitude: %.5f\nLongitude: %.5f\nHeight: %.1f m\nRadiosonde: %s\nSheet: %s\nReceiver: %d\nStarted: %s\n\n",
		s.Site.Name, s.Site.Latitude, s.Site.Longitude, s.Site.Height, r.serial, s.Sheet.Name, receiver+1, f.firstStamp(r).Format("2006-01-02T15:04:05Z"))
	columns := r.textColumns(s.Sheet, textNames)
	heads, units := []string{"time"}, []string{"UTC"}
	for _, c := range columns {
		heads, units = append(heads, c.name), append(units, c.unit)
	}
	b.WriteString(strings.Join(heads, ",") + "\n" + strings.Join(units, ",") + "\n")
	values := make([][]float64, len(columns))
	for i, c := range columns {
		values[i] = r.Columns.Values(c.variable)
	}
	line := make([]byte, 0, 256)
	clock := newStamper(f.Truth.Epoch)
	r.eachLine(b, "\n", func(i int) []byte {
		line = clock.iso(line[:0], r.Columns.Time[i])
		for k := range columns {
			line = append(line, ',')
			line = appendValue(line, values[k][i]-columns[k].offset, columns[k].decimals, '.', "-")
		}
		return line
	})
}

func (f *Flight) writeVehicle(b *bytes.Buffer, r *Reception, receiver int) {
	s := &f.Scenario
	zone := int(s.Zone / time.Minute)
	sign := '+'
	if zone < 0 {
		sign = '-'
	}
	minutes := zone
	if minutes < 0 {
		minutes = -minutes
	}
	comma := func(x float64, d int) string { return strings.ReplaceAll(strconv.FormatFloat(x, 'f', d, 64), ".", ",") }
	fmt.Fprintf(b, "Vehicle receiver;%d\r\nSite;%s\r\nPosition;%s;%s\r\nHeight;%s;m\r\nSerial;%s;%s\r\nTime zone;UTC%c%02d:%02d\r\nDate;%s\r\n",
		receiver+1, s.Site.Name, appendMinutes(nil, s.Site.Latitude, 2, 3, "NS"), appendMinutes(nil, s.Site.Longitude, 3, 3, "EW"),
		comma(s.Site.Height, 1), r.serial, s.Sheet.Name, sign, minutes/60, minutes%60, f.firstStamp(r).Add(s.Zone).Format("02.01.2006"))
	columns := r.textColumns(s.Sheet, vehicleNames)
	heads, units := []string{"Date", "Local time"}, []string{"dd.mm.yyyy", "hh:mm:ss,s"}
	for _, c := range columns {
		heads, units = append(heads, c.name), append(units, c.unit)
	}
	b.WriteString(strings.Join(heads, ";") + "\r\n" + strings.Join(units, ";") + "\r\n")
	values := make([][]float64, len(columns))
	for i, c := range columns {
		values[i] = r.Columns.Values(c.variable)
	}
	east, north := r.Columns.Values(sounding.VelocityEast), r.Columns.Values(sounding.VelocityNorth)
	line := make([]byte, 0, 256)
	local := newStamper(f.Truth.Epoch.Add(s.Zone))
	r.eachLine(b, "\r\n", func(i int) []byte {
		line = local.european(line[:0], r.Columns.Time[i])
		for k := range columns {
			line = append(line, ';')
			x := values[k][i]
			switch v := columns[k].variable; {
			case math.IsNaN(x):
				line = append(line, "///"...)
			case v == sounding.Latitude:
				line = appendMinutes(line, x, 2, 4, "NS")
			case v == sounding.Longitude:
				line = appendMinutes(line, x, 3, 4, "EW")
			case v == sounding.VelocityEast:
				line = appendValue(line, 3.6*math.Hypot(east[i], north[i]), 1, ',', "///")
			case v == sounding.VelocityNorth:
				line = appendValue(line, windFrom(east[i], north[i]), 1, ',', "///")
			default:
				line = appendValue(line, x-columns[k].offset, columns[k].decimals, ',', "///")
			}
		}
		return line
	})
}

// eachLine writes the rows and, between them, the lines that cannot be read.
func (r *Reception) eachLine(b *bytes.Buffer, end string, row func(i int) []byte) {
	k := 0
	flush := func(i int) {
		for k < len(r.broken) && r.broken[k].row <= i {
			b.WriteString(r.broken[k].text)
			if !r.broken[k].open {
				b.WriteString(end)
			}
			k++
		}
	}
	for i := range r.Columns.Len() {
		flush(i)
		b.Write(row(i))
		b.WriteString(end)
	}
	flush(r.Columns.Len())
}

func (f *Flight) firstStamp(r *Reception) time.Time {
	if r.Columns.Len() == 0 {
		return f.Truth.Epoch
	}
	return f.Truth.UTC(r.Columns.Time[0])
}

// appendValue writes a number with that many decimals and decimal mark.
func appendValue(b []byte, x float64, decimals int, mark byte, missing string) []byte {
	if math.IsNaN(x) {
		return append(b, missing...)
	}
	n := len(b)
	b = strconv.AppendFloat(b, x, 'f', decimals, 64)
	if string(b[n:]) == "-0" || strings.HasPrefix(string(b[n:]), "-0.") && strings.Trim(string(b[n:]), "-0.") == "" {
		b = append(b[:n], b[n+1:]...)
	}
	if mark != '.' {
		for i := n; i < len(b); i++ {
			if b[i] == '.' {
				b[i] = mark
			}
		}
	}
	return b
}

// appendMinutes writes an angle as degrees and minutes with hemisphere, in Latin-1: 38°44,0123'S.
func appendMinutes(b []byte, angle float64, digits, decimals int, hemisphere string) []byte {
	h := hemisphere[0]
	if angle < 0 {
		h, angle = hemisphere[1], -angle
	}
	unit := math.Pow10(decimals)
	m := math.Round(angle * 60 * unit)
	degrees := math.Floor(m / (60 * unit))
	text := strconv.Itoa(int(degrees))
	for range digits - len(text) {
		b = append(b, '0')
	}
	b = append(b, text...)
	b = append(b, 0xb0)
	rest := (m - degrees*60*unit) / unit
	if rest < 10 {
		b = append(b, '0')
	}
	b = appendValue(b, rest, decimals, ',', "")
	return append(b, '\'', h)
}

// stamper writes instants quickly: the date is formatted once a day.
type stamper struct {
	epoch   time.Time
	day     int64
	iso8601 string
	numeric string
}

func newStamper(epoch time.Time) *stamper { return &stamper{epoch: epoch.UTC(), day: math.MinInt64} }

// split returns the date strings' state and the tenths of a second of the day.
func (s *stamper) split(seconds float64) int64 {
	t := s.epoch.Unix()*10 + int64(s.epoch.Nanosecond()/1e8) + int64(math.Round(seconds*10))
	day := t / 864000
	if t < 0 && t%864000 != 0 {
		day--
	}
	if day != s.day {
		d := time.Unix(day*86400, 0).UTC()
		s.day, s.iso8601, s.numeric = day, d.Format("2006-01-02"), d.Format("02.01.2006")
	}
	return t - day*864000
}

func appendClock(b []byte, tenths int64, mark byte) []byte {
	two := func(n int64) { b = append(b, byte('0'+n/10), byte('0'+n%10)) }
	two(tenths / 36000)
	b = append(b, ':')
	two(tenths / 600 % 60)
	b = append(b, ':')
	two(tenths / 10 % 60)
	return append(b, mark, byte('0'+tenths%10))
}

func (s *stamper) iso(b []byte, seconds float64) []byte {
	tenths := s.split(seconds)
	b = append(append(b, s.iso8601...), 'T')
	return append(appendClock(b, tenths, '.'), 'Z')
}

func (s *stamper) european(b []byte, seconds float64) []byte {
	tenths := s.split(seconds)
	b = append(append(b, s.numeric...), ';')
	return appendClock(b, tenths, ',')
}
