package suggest

import (
	"fmt"
	"math"
	"os"
	"sort"
	"strconv"
	"testing"
	"time"

	"leadline/internal/examine"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// slip spoils the launch record of a clean flight in a way the catalogue of faults does
// not hold.
type slip struct {
	name  string
	want  []string
	field string // item whose right value must come back, "" where the name is enough
	near  float64
	do    func(*sounding.LaunchRecord) bool // false where it changes nothing here
}

var slips = []slip{
	{"two figures of the surface pressure exchanged", []string{SurfacePressureMistyped}, "surface.pressure_hpa", 1, func(r *sounding.LaunchRecord) bool {
		p := r.Surface.Pressure.Value()
		tens, ones := math.Mod(math.Floor(p/10), 10), math.Mod(math.Floor(p), 10)
		r.Surface.Pressure += sounding.Number(9 * (ones - tens))
		return math.Abs(ones-tens) >= 1
	}},
	{"surface pressure 100 hPa off", []string{SurfacePressureMistyped}, "surface.pressure_hpa", 1, func(r *sounding.LaunchRecord) bool { r.Surface.Pressure -= 100; return true }},
	{"surface pressure in mmHg", []string{SurfacePressureUnit}, "surface.pressure_hpa", 1, func(r *sounding.LaunchRecord) bool {
		r.Surface.Pressure = sounding.Number(round(r.Surface.Pressure.Value()*0.750062, 1))
		return true
	}},
	{"surface pressure reduced to sea level", []string{SurfacePressureReduced}, "surface.pressure_hpa", 3, func(r *sounding.LaunchRecord) bool {
		z := r.Site.Barometer.Value()
		r.Surface.Pressure = sounding.Number(round(r.Surface.Pressure.Value()*math.Exp(z/(29.27*(r.Surface.Temperature.Value()+0.00325*z))), 1))
		return z > 100
	}},
	{"station height in feet", []string{StationHeightUnit}, "site.height_m_msl", 5, func(r *sounding.LaunchRecord) bool {
		z := r.Site.Height
		r.Site.Height = sounding.Number(round(z.Value()/0.3048, 0))
		return z > 150
	}},
	{"surface temperature 10 K off", []string{SurfaceTemperatureTyped}, "surface.temperature_k", 1.5, func(r *sounding.LaunchRecord) bool { r.Surface.Temperature += 10; return true }},
	{"sign of the surface temperature lost", []string{SurfaceTemperatureTyped}, "surface.temperature_k", 1.5, func(r *sounding.LaunchRecord) bool {
		c := r.Surface.Temperature.Value() - zeroCelsius
		r.Surface.Temperature = sounding.Number(zeroCelsius - c)
		return math.Abs(c) > 8
	}},
	{"surface wind in km/h", []string{SurfaceWindUnit}, "surface.wind_speed_m_s", 1, func(r *sounding.LaunchRecord) bool {
		r.Surface.WindSpeed = sounding.Number(round(r.Surface.WindSpeed.Value()*3.6, 1))
		return true
	}},
	{"date one day early, everywhere", []string{DateWrong}, "release.declared_utc", 30, func(r *sounding.LaunchRecord) bool {
		for _, at := range []*time.Time{&r.Release.Declared, &r.Surface.Time, &r.GroundCheck.Time} {
			*at = at.Add(-24 * time.Hour)
		}
		return true
	}},
	{"latitude and longitude exchanged", []string{PositionWrong}, "site.latitude_deg", 0.01, func(r *sounding.LaunchRecord) bool {
		r.Site.Latitude, r.Site.Longitude = r.Site.Longitude, r.Site.Latitude
		return math.Abs(r.Site.Latitude.Value()) <= 90
	}},
	{"longitude one degree off", []string{PositionWrong}, "site.longitude_deg", 0.01, func(r *sounding.LaunchRecord) bool { r.Site.Longitude++; return true }},
	{"reference pressure of the ground check 10 hPa off", []string{ReferencePressureWrong}, "ground_check.reference_pressure_hpa", 1, func(r *sounding.LaunchRecord) bool { r.GroundCheck.ReferencePressure += 10; return true }},
}

// rightNames are the hypotheses that name a fault of the simulator.
var rightNames = map[string][]string{
	"surface-pressure-typo":     {SurfacePressureMistyped},
	"surface-pressure-unit":     {SurfacePressureUnit},
	"surface-temperature-unit":  {SurfaceTemperatureUnit},
	"surface-wind-unit":         {SurfaceWindUnit},
	"station-height-wrong":      {StationHeightWrong},
	"longitude-sign":            {LongitudeSign},
	"latitude-sign":             {LatitudeSign},
	"declared-release-late":     {DeclaredReleaseWrong},
	"local-time-as-UTC":         {LocalTime},
	"date-wrong":                {DateWrong},
	"string-length-wrong":       {StringLength},
	"pressure-offset":           {BarometerOffset},
	"pressure-drift":            {BarometerDrift},
	"height-offset":             {SatelliteHeightOffset},
	"temperature-offset":        {ThermometerOffset},
	"temperature-step":          {ThermometerStep},
	"radiation-corrected-twice": {RadiationTwice},
	"humidity-icing":            {HumiditySensorBad},
	"humidity-sensor-failed":    {HumiditySensorBad},
	"humidity-sensors-disagree": {HumiditySensorBad},
	"humidity-clamped":          {HumidityBad},
	"humidity-dry-bias":         {HumidityDry},
	"superadiabatic":            {BadElement},
	"gps-jump":                  {BadElement},
	"wind-repeated":             {BadElement},
}

// flightOf simulates flight n of a case and runs the path; change may spoil the record.
func flightOf(c examine.Case, purpose examine.Purpose, n int, change func(*sounding.LaunchRecord) bool) (*truth.Flight, *workbench.Outcome, bool, error) {
	s, err := truth.Preset(c.Climate, c.Day)
	if err != nil {
		return nil, nil, false, err
	}
	if c.Fault != "" {
		s.Faults = []truth.Fault{{Name: c.Fault}}
	}
	flight, err := truth.Simulate(s, examine.Seed(purpose, c.Name(), n))
	if err != nil {
		return nil, nil, false, err
	}
	if change != nil && !change(flight.Record) {
		return flight, nil, false, nil
	}
	var files []workbench.File
	for i := range flight.Receptions {
		files = append(files, workbench.File{Name: flight.Receptions[i].Name, Bytes: flight.Text(i)})
	}
	out, err := workbench.Check(files, workbench.Request{Join: len(files) > 1, Record: workbench.File{Name: "launch.toml", Bytes: flight.RecordText()}})
	if err != nil {
		return nil, nil, false, err
	}
	best := out[0] // a file may hold two flights
	for _, o := range out {
		if o.Final.Len() > best.Final.Len() {
			best = o
		}
	}
	return flight, best, true, nil
}

// right tells whether a suggestion names the fault: by its name, by the value it would
// put into the record, by the sensor it would use, by the rows it would withhold.
func right(s *Suggestion, flight *truth.Flight, o *workbench.Outcome, names []string, field string, near float64) bool {
	named := false
	for _, n := range names {
		named = named || n == s.Name || n == StationHeightWrong && s.Name == StationHeightUnit && field == ""
	}
	if !named {
		return false
	}
	if field == "" && len(flight.Injected) > 0 {
		field = flight.Injected[0].Field
		near = map[string]float64{"surface.pressure_hpa": 1, "site.height_m_msl": 25, "surface.temperature_k": 1.5, "surface.wind_speed_m_s": 1,
			"site.longitude_deg": 0.01, "site.latitude_deg": 0.01, "release.declared_utc": 300, "balloon.string_m": 6}[field]
	}
	for _, d := range s.Decisions {
		switch {
		case d.Action == sounding.ActCorrectRecord && d.Field == field:
			f, _ := sounding.FieldByPath(field)
			if f.Instant != nil {
				at, err := time.Parse(time.RFC3339, d.Value)
				return err == nil && math.Abs(at.Sub(*f.Instant(flight.True)).Seconds()) <= near
			}
			x, err := strconv.ParseFloat(d.Value, 64)
			return err == nil && math.Abs(x-f.Number(flight.True).Value()) <= near
		case d.Action == sounding.ActChooseSensor:
			good := map[string]sounding.Variable{"a": sounding.HumidityA, "b": sounding.HumidityB}[d.Value]
			for _, v := range flight.Injected[0].Variables {
				if v == good {
					return false
				}
			}
		case d.Action == sounding.ActExclude && s.Name == BadElement:
			// At least half of the rows withheld are spoilt.
			spoilt := map[int32]bool{}
			for _, span := range flight.Injected[0].Rows {
				for i := span.From; i < span.To; i++ {
					spoilt[flight.Receptions[0].Columns.Line[i]] = true
				}
			}
			n, hit := 0, 0
			for i, t := range o.Final.Time {
				if at := o.Final.UTC(t); !at.Before(d.From.Add(-time.Millisecond)) && !at.After(d.To.Add(time.Millisecond)) {
					n++
					if spoilt[o.Final.Line[i]] {
						hit++
					}
				}
			}
			return n > 0 && 2*hit >= n
		}
	}
	return field == "" || len(s.Decisions) == 0 || s.Decisions[0].Action != sounding.ActCorrectRecord
}

// tally is the skill for one fault.
type tally struct {
	fault                        string
	flights, first, among, wrong int
	quiet                        int // nothing suggested
}

type setup struct {
	purpose  examine.Purpose
	from, to int
	quick    bool
}

func (u setup) suggestions(o *workbench.Outcome) []Suggestion {
	if u.quick {
		return ForQuick(o)
	}
	return For(o)
}

// measure counts, over every climate by day and by night.
func (u setup) measure(t *testing.T, fault string, names []string, field string, near float64, change func(*sounding.LaunchRecord) bool) tally {
	t.Helper()
	out := tally{fault: fault}
	inCatalogue := fault
	if change != nil {
		inCatalogue, out.fault = "", fault
	}
	for _, c := range truth.Climates() {
		for _, day := range []bool{true, false} {
			for n := u.from; n < u.to; n++ {
				flight, o, ok, err := flightOf(examine.Case{Climate: c, Day: day, Fault: inCatalogue}, u.purpose, n, change)
				if err != nil {
					t.Fatal(err)
				}
				if !ok {
					continue
				}
				out.flights++
				list := u.suggestions(o)
				among := false
				for i := range list {
					among = among || right(&list[i], flight, o, names, field, near)
				}
				switch {
				case len(list) == 0:
					out.quiet++
				case right(&list[0], flight, o, names, field, near):
					out.first++
				default:
					out.wrong++
				}
				if among {
					out.among++
				}
			}
		}
	}
	return out
}

// TestTableOfSkill prints the table of docs/methods/suggestions.md when asked to:
// SUGGEST_TABLE is the number of flights for each fault, climate and time of day.
func TestTableOfSkill(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("SUGGEST_TABLE"))
	if n == 0 {
		t.Skip("set SUGGEST_TABLE to the number of flights a case")
	}
	u := setup{purpose: examine.Reporting, to: n}
	if os.Getenv("SUGGEST_TUNING") != "" {
		u.purpose = examine.Tuning
	}
	row := func(x tally) {
		pct := func(k int) string { return fmt.Sprintf("%.0f", 100*float64(k)/float64(max(1, x.flights))) }
		fmt.Printf("| %s | %d | %s | %s | %s | %s |\n", x.fault, x.flights, pct(x.first), pct(x.among), pct(x.wrong), pct(x.quiet))
	}
	clean := u
	clean.to = 8 * n
	x := clean.measure(t, "", nil, "", 0, nil)
	fmt.Printf("clean: %d flights, %d with a suggestion\n", x.flights, x.wrong)
	var named, other []string
	for _, f := range truth.Faults() {
		if rightNames[f.Name] != nil {
			named = append(named, f.Name)
		} else {
			other = append(other, f.Name)
		}
	}
	sort.Strings(named)
	for _, f := range named {
		row(u.measure(t, f, rightNames[f], "", 0, nil))
	}
	for _, s := range slips {
		row(u.measure(t, s.name, s.want, s.field, s.near, s.do))
	}
	if os.Getenv("SUGGEST_OTHER") != "" {
		for _, f := range other {
			row(u.measure(t, f, nil, "", 0, nil))
		}
	}
}

// TestTableAcross prints the table for the flights of a site together: SUGGEST_ACROSS is
// the number of groups of eight flights for each climate.
func TestTableAcross(t *testing.T) {
	groups, _ := strconv.Atoi(os.Getenv("SUGGEST_ACROSS"))
	if groups == 0 {
		t.Skip("set SUGGEST_ACROSS to the number of groups a climate")
	}
	for _, c := range []struct {
		fault truth.Fault
		want  string
	}{{truth.Fault{}, ""}, {truth.Fault{Name: "station-height-wrong", Size: 12}, StationHeightWrong}, {truth.Fault{Name: "surface-wind-unit"}, SurfaceWindUnit}} {
		for _, size := range []int{4, 8} {
			right, wrong, all := 0, 0, 0
			for _, climate := range truth.Climates() {
				for g := range groups {
					var list []*workbench.Outcome
					for k := range size {
						s, err := truth.Preset(climate, k%2 == 0)
						if err != nil {
							t.Fatal(err)
						}
						if c.fault.Name != "" {
							s.Faults = []truth.Fault{c.fault}
						}
						flight, err := truth.Simulate(s, examine.Seed(examine.Reporting, "across "+s.Name, 100*g+k))
						if err != nil {
							t.Fatal(err)
						}
						out, err := workbench.Check([]workbench.File{{Name: flight.Receptions[0].Name, Bytes: flight.Text(0)}}, workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: flight.RecordText()}})
						if err != nil {
							t.Fatal(err)
						}
						list = append(list, out[0])
					}
					all++
					for _, s := range Across(list) {
						if s.Name == c.want {
							right++
						} else {
							wrong++
						}
					}
				}
			}
			fmt.Printf("| %s %g | %d | %d | %.0f %% | %.0f %% |\n", c.fault.Name, c.fault.Size, size, all, 100*float64(right)/float64(all), 100*float64(wrong)/float64(all))
		}
	}
}
