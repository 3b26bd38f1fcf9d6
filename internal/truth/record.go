package truth

import (
	"bytes"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

func sheetVapour(sheet *sounding.InstrumentSheet) *vapourTable {
	f, err := humidity.ParseFormula(sheet.Humidity.Formula)
	if err != nil {
		return overWater
	}
	return calibrationVapour(f)
}

// operatorRecord returns the launch record as it should be and a copy for faults to spoil.
// Readings carry the scatter of good surface instruments; the declared release is when
// somebody remembered to press: within a few seconds.
func operatorRecord(s *Scenario, f *Flight, seed uint64) (right, written *sounding.LaunchRecord) {
	rnd := newStream(seed, "operator")
	t := &f.Truth
	k := max(0, min(int(t.Release/s.Interval), t.Len()-1))
	r := sounding.NewLaunchRecord()
	n := func(x, resolution float64) sounding.Number { return sounding.Number(quantise(x, resolution)) }
	r.Site = sounding.Site{
		Name: s.Site.Name, Kind: s.Site.Kind,
		Latitude: n(s.Site.Latitude, 1e-5), Longitude: n(s.Site.Longitude, 1e-5),
		Height: n(s.Site.Height, 0.1), Barometer: n(s.Site.Barometer, 0.1), Antenna: n(s.Site.Height+3.5, 0.1),
		Thermometer: n(s.Site.Height+2, 0.1), Undulation: n(s.Site.Undulation, 0.1),
	}
	r.Release.Declared = t.UTC(t.Release + rnd.between(-1, 4)).Round(time.Second)
	r.Release.Nominal = r.Release.Declared.Add(90 * time.Minute).Truncate(6 * time.Hour)
	if d := r.Release.Nominal.Sub(r.Release.Declared); d > 90*time.Minute || d < -90*time.Minute {
		r.Release.Nominal = r.Release.Declared.Add(30 * time.Minute).Truncate(time.Hour)
	}
	at := s.Site.Barometer - t.HeightMSL[k]
	rho := 100 * t.Pressure[k] * ventGas / t.Temperature[k]
	p := t.Pressure[k] - rho*standardG*at/100
	air, rh := t.Temperature[k], t.Humidity[k]
	speed, from := math.Hypot(t.WindU[k], t.WindV[k]), windFrom(t.WindU[k], t.WindV[k])
	// screen and mast: 2 m and 10 m, averages
	speed *= 1.25 * rnd.factor(0.1)
	r.Surface = sounding.Surface{
		Time:     t.UTC(t.Release - rnd.between(120, 480)).Round(time.Minute),
		Pressure: n(p+rnd.near(0, 0.12), 0.1), Temperature: n(air-zeroCelsius+rnd.near(0, 0.2), 0.1) + zeroCelsius,
		Humidity: n(math.Min(rh+rnd.near(0, 1.5), 100), 1), DewPoint: sounding.NotSet, SeaTemperature: sounding.NotSet,
		WindSpeed: n(speed, 0.1), WindDirection: n(math.Mod(from+rnd.near(0, 6)+360, 360), 10),
	}
	if r.Surface.WindDirection == 0 && r.Surface.WindSpeed > 0 {
		r.Surface.WindDirection = 360
	}
	// Ground check: radiosonde against references in a ventilated box indoors.
	room, damp := zeroCelsius+rnd.between(17, 25), rnd.between(25, 55)
	g := &r.GroundCheck
	g.Time = t.UTC(t.Release - rnd.between(1500, 2700)).Round(time.Minute)
	g.ReferencePressure, g.ReferenceTemperature, g.ReferenceHumidity = n(p+rnd.near(0, 0.1), 0.1), n(room-zeroCelsius, 0.1)+zeroCelsius, n(damp, 0.1)
	if s.Sheet.Pressure.Sensor {
		g.Pressure = n(p+f.Hidden.PressureOffset+rnd.near(0, 0.05), 0.01)
	}
	g.Temperature = n(room-zeroCelsius+f.Hidden.TemperatureOffset+rnd.near(0, 0.05), 0.01) + zeroCelsius
	near := func(j int) sounding.Number { return n(damp+f.Hidden.HumidityOffset[j]+rnd.near(0, 0.3), 0.1) }
	switch s.Sheet.Humidity.Sensors {
	case 1:
		g.Humidity = near(0)
	case 2:
		g.HumidityA, g.HumidityB = near(0), near(1)
	}
	g.Applied = "no"
	b := &s.Balloon
	r.Radiosonde = sounding.Radiosonde{Sheet: s.Sheet.Name, Serial: s.Serial, Frequency: n(400.5+0.1*math.Floor(rnd.between(0, 50)), 0.1), Mass: n(0.11, 0.001)}
	r.Balloon = sounding.Balloon{
		Mass: n(b.Mass, 0.001), Gas: b.Gas, GasAmount: sounding.NotSet, NozzleLift: n(b.NozzleLift, 0.001), String: n(b.String, 0.1), Parachute: "yes",
		Payload: n(b.Payload, 0.001), TargetAscentRate: 5,
	}
	r.Operator = s.Operator
	return r, r.Clone()
}

// RecordTOML writes a launch record as a file: items that are not set are left out.
func RecordTOML(r *sounding.LaunchRecord) []byte {
	tables := map[string][]string{}
	for _, f := range sounding.RecordFields {
		table, key, nested := strings.Cut(f.Path, ".")
		if !nested {
			table, key = "", f.Path
		}
		value := ""
		switch {
		case f.Number != nil:
			if x := *f.Number(r); x.Set() {
				value = strconv.FormatFloat(math.Round(x.Value()*1e6)/1e6, 'f', -1, 64)
			}
		case f.Text != nil:
			if x := *f.Text(r); x != "" {
				value = strconv.Quote(x)
			}
		default:
			if x := *f.Instant(r); !x.IsZero() {
				value = x.UTC().Format("2006-01-02T15:04:05.999Z")
			}
		}
		if value != "" {
			tables[table] = append(tables[table], key+" = "+value+"\n")
		}
	}
	names := make([]string, 0, len(tables))
	for n := range tables {
		names = append(names, n)
	}
	order := map[string]int{}
	for i, f := range sounding.RecordFields {
		table, _, nested := strings.Cut(f.Path, ".")
		if !nested {
			table = ""
		}
		if _, seen := order[table]; !seen {
			order[table] = i
		}
	}
	order[""] = -1 // TOML wants bare keys first
	sort.Slice(names, func(i, j int) bool { return order[names[i]] < order[names[j]] })
	var b bytes.Buffer
	for i, n := range names {
		if i > 0 {
			b.WriteByte('\n')
		}
		if n != "" {
			fmt.Fprintf(&b, "[%s]\n", n)
		}
		for _, l := range tables[n] {
			b.WriteString(l)
		}
	}
	return b.Bytes()
}

// RecordText returns the launch record's file, faults included.
func (f *Flight) RecordText() []byte { return RecordTOML(f.Record) }
