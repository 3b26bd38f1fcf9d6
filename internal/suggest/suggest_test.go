package suggest

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"

	"leadline/internal/examine"
	"leadline/internal/hydrostatic"
	"leadline/internal/ingest"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

func setField(r *sounding.LaunchRecord, d sounding.Decision) error {
	return ingest.SetField(r, d.Field, d.Value)
}

// valid checks that a suggestion can be shown and stored.
func valid(t *testing.T, s Suggestion) {
	t.Helper()
	known := false
	for _, n := range Names {
		known = known || n == s.Name
	}
	if !known || s.Sentence == "" || len(s.Decisions) == 0 || len(s.Evidence) == 0 {
		t.Errorf("suggestion %q is incomplete: %+v", s.Name, s)
	}
	if s.Strength == Possible && s.Rival == "" && s.Name != HumidityDry && s.Name != BarometerHeightWrong {
		t.Errorf("%s is only possible but names no rival", s.Name)
	}
	for _, d := range s.Decisions {
		if err := d.Validate(); err != nil {
			t.Errorf("%s: %v", s.Name, err)
		}
		if d.ID != "" || d.Who != "" {
			t.Errorf("%s: a suggested decision carries %q by %q: nobody has made it", s.Name, d.ID, d.Who)
		}
		if d.Action == sounding.ActCorrectRecord {
			if err := ingest.SetField(sounding.NewLaunchRecord(), d.Field, d.Value); err != nil {
				t.Errorf("%s: %v", s.Name, err)
			}
		}
	}
	if _, err := json.Marshal(s); err != nil {
		t.Errorf("%s: %v", s.Name, err)
	}
}

func TestNothingToLookAt(t *testing.T) {
	if ForQuick(nil) != nil || ForQuick(&workbench.Outcome{}) != nil || Across(nil) != nil || Across([]*workbench.Outcome{nil, {}}) != nil {
		t.Error("suggestions were made of nothing")
	}
	alone := sounding.NewLaunchRecord()
	alone.Surface.Pressure = 29.9
	o, err := workbench.Run(workbench.Inputs{Raw: &sounding.Raw{}, Record: alone})
	if err != nil {
		t.Fatal(err)
	}
	if s := For(o); s != nil {
		t.Errorf("a record without a flight: %v", brief(s))
	}
}

// METHODS 2.1 and 2.4 (from the hypsometric equation): 1 K over 1000 to 10 hPa is
// 135 gpm; a pressure 1 hPa too high at 10 hPa and 226 K is 660 m.
func TestBasisOfHeightDifference(t *testing.T) {
	x := &difference{p: []float64{1000, 10}, virtual: []float64{226, 226}, row: []int{0, 1}, d: make([]float64, 2)}
	b := x.basis(0)
	if got := b[2][1]; math.Abs(got-135) > 0.5 {
		t.Errorf("1 K to 10 hPa is %.1f gpm, want 135", got)
	}
	if got := b[1][1] - hydrostatic.HeightPerPressure(1000, 226); math.Abs(got+660) > 3 {
		t.Errorf("1 hPa at 10 hPa is %.1f gpm, want −660", got)
	}
}

func TestFitFindsWhatWasPutIn(t *testing.T) {
	x := &difference{}
	for i := range 800 {
		p := 1000 * math.Exp(-float64(i)/800*math.Log(100))
		x.p, x.virtual, x.row = append(x.p, p), append(x.virtual, 240), append(x.row, i)
		x.d, x.u = append(x.d, 0), append(x.u, 6)
	}
	b := x.basis(0)
	for i := range x.d {
		x.d[i] = 2*b[0][i] + 1.3*b[1][i] - 0.8*b[2][i] + 4*math.Sin(float64(i))
	}
	x.d[200] += 5000 // one wild row
	got, u := fit3(x.d, x.u, b, [3]float64{6, 3, 3})
	if math.Abs(got[1]-1.3) > 3*u[1] || math.Abs(got[2]+0.8) > 3*u[2] || !(u[1] < 0.1) || !(u[2] < 0.5) {
		t.Errorf("fit %.2f ± %.2f hPa, %.2f ± %.2f K; want 1.3 and −0.8", got[1], u[1], got[2], u[2])
	}
}

func TestMistyped(t *testing.T) {
	for _, c := range []struct{ typed, meant float64 }{
		{1015.8, 1005.8}, {1008.2, 998.2}, {910.3, 1010.3}, {952.4, 925.4}, {101.32, 1013.2}, {9324, 932.4}, {93.4, 932.4}, {-12.5, 12.5}, {0, 10},
	} {
		found := false
		for _, m := range mistyped(c.typed) {
			found = found || math.Abs(m.value-c.meant) < 1e-9
		}
		// A figure left out is not restored, only a doubled one.
		if want := c.typed != 93.4; found != want {
			t.Errorf("mistyped(%g) holds %g: %v, want %v", c.typed, c.meant, found, want)
		}
	}
	if mistyped(math.NaN()) != nil {
		t.Error("candidates for a number that is not there")
	}
}

func TestLossIsBounded(t *testing.T) {
	last := -1.0
	for x := 0.0; x < 1e6; x = x*1.5 + 0.1 {
		l := loss(x)
		if l < last || l > 28 || math.Abs(l-loss(-x)) > 1e-12 {
			t.Fatalf("loss(%g) = %g after %g", x, l, last)
		}
		last = l
	}
	if l := loss(2); math.Abs(l-4) > 1e-4 {
		t.Errorf("loss(2) = %g, want 4", l)
	}
}

func flightWith(t *testing.T, climate truth.Climate, day bool, fault string) (*truth.Flight, *workbench.Outcome) {
	t.Helper()
	f, o, _, err := flightOf(examine.Case{Climate: climate, Day: day, Fault: fault}, examine.Tuning, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	return f, o
}

// The whole loop: a mistyped surface pressure is named, its decision applied by the
// path as it stands, and what the checks said is gone. Nothing changes before.
func TestDecisionMendsTheFlight(t *testing.T) {
	flight, o := flightWith(t, truth.MidLatitudeWinter, true, "surface-pressure-typo")
	before, _ := json.Marshal(o.Record)
	raw := append([]float64(nil), o.Checked.Values(sounding.Pressure)...)
	list := For(o)
	if len(list) == 0 || list[0].Name != SurfacePressureMistyped || list[0].Strength != Strong {
		t.Fatalf("got %v", brief(list))
	}
	after, _ := json.Marshal(o.Record)
	if string(before) != string(after) || !reflect.DeepEqual(raw, o.Checked.Values(sounding.Pressure)) || len(o.Inputs.Decisions) != 0 {
		t.Error("the outcome was changed by looking at it")
	}
	s := list[0]
	valid(t, s)
	if s.Trial == nil || len(s.Trial.Gone) == 0 || len(s.Trial.New) != 0 {
		t.Errorf("trial %+v: want findings gone and none new", s.Trial)
	}
	in := o.Inputs
	in.Decisions = numbered(s.Decisions)
	mended, err := workbench.Run(in)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := mended.Record.Surface.Pressure, flight.True.Surface.Pressure; math.Abs(got.Value()-want.Value()) > 0.051 {
		t.Errorf("surface pressure %.1f hPa after the decision, want %.1f", got, want)
	}
	if again := For(mended); len(again) != 0 {
		t.Errorf("still suggested: %v", brief(again))
	}
}

func TestSameInputSameSuggestions(t *testing.T) {
	_, o := flightWith(t, truth.Tropical, false, "humidity-icing")
	a, _ := json.Marshal(For(o))
	b, _ := json.Marshal(For(o))
	if string(a) != string(b) || len(a) < 10 {
		t.Errorf("two runs differ:\n%s\n%s", a, b)
	}
}

// A constant error of the satellite height and one of the station height leave the same
// residuals in a single flight: both are named, neither as certain.
func TestHeightsCannotBeToldApartInOneFlight(t *testing.T) {
	for _, fault := range []string{"height-offset", "station-height-wrong"} {
		_, o := flightWith(t, truth.Desert, true, fault)
		got := map[string]Suggestion{}
		for _, s := range ForQuick(o) {
			got[s.Name] = s
			valid(t, s)
		}
		for _, n := range []string{StationHeightWrong, SatelliteHeightOffset} {
			if s, ok := got[n]; !ok || s.Strength != Possible || s.Rival == "" {
				t.Errorf("%s: %s is %q with rival %q; want possible with a rival", fault, n, s.Strength, s.Rival)
			}
		}
	}
}

// Twelve metres on every flight of a vehicle are too little to see in one flight with a
// receiver good to 8 m; together they are proposed once, for each place it stood at.
func TestVehicleHeightAcross(t *testing.T) {
	plan, err := truth.Campaign(1)
	if err != nil {
		t.Fatal(err)
	}
	var all []*workbench.Outcome
	var vehicle []int
	var wanted []float64
	for i := range plan {
		if plan[i].Scenario.Layout != truth.Vehicle || plan[i].NoData {
			continue
		}
		files, err := plan[i].Files()
		if err != nil {
			t.Fatal(err)
		}
		flight, err := plan[i].Fly()
		if err != nil {
			t.Fatal(err)
		}
		out, err := workbench.Check([]workbench.File{{Name: files[0].Name, Bytes: files[0].Bytes}}, workbench.Request{Record: workbench.File{Name: "launch.toml", Bytes: files[len(files)-1].Bytes}})
		if err != nil {
			t.Fatal(err)
		}
		vehicle = append(vehicle, len(all))
		all, wanted = append(all, out[0]), append(wanted, flight.True.Site.Height.Value())
	}
	list := Across(all)
	if len(list) != 1 || list[0].Name != StationHeightWrong || !reflect.DeepEqual(list[0].Flights, vehicle) {
		t.Fatalf("got %v", brief(list))
	}
	for k, d := range list[0].ByFlight {
		r := all[d.Flight].Record.Clone()
		for _, x := range d.Decisions {
			if err := x.Validate(); err != nil {
				t.Error(err)
			}
			if err := setField(r, x); err != nil {
				t.Error(err)
			}
		}
		// Five receivers good to 8 m: 3.6 m, twice that.
		if got := r.Site.Height.Value(); math.Abs(got-wanted[k]) > 7.2 {
			t.Errorf("flight %d: %.1f m, want %.1f", d.Flight, got, wanted[k])
		}
	}
}

// Thresholds on reporting seeds, seven flights a fault; the table of the page has more.
func TestSkill(t *testing.T) {
	if testing.Short() {
		t.Skip("simulates some 200 flights")
	}
	sevens := func(fault string, names []string) tally {
		out := tally{fault: fault}
		for k, c := range truth.Climates() {
			flight, o, _, err := flightOf(examine.Case{Climate: c, Day: k%2 == 0, Fault: fault}, examine.Reporting, 100, nil)
			if err != nil {
				t.Fatal(err)
			}
			list := ForQuick(o)
			out.flights++
			for _, s := range list {
				valid(t, s)
			}
			if len(list) > 0 {
				if right(&list[0], flight, o, names, "", 0) {
					out.first++
				} else {
					out.wrong++
				}
			}
		}
		return out
	}
	for fault, least := range map[string]int{
		"surface-pressure-typo": 7, "surface-pressure-unit": 7, "surface-temperature-unit": 6, "station-height-wrong": 6,
		"longitude-sign": 7, "latitude-sign": 7, "declared-release-late": 7, "local-time-as-UTC": 7, "date-wrong": 7,
		"string-length-wrong": 6, "pressure-offset": 5, "pressure-drift": 6, "temperature-offset": 6, "temperature-step": 6,
		"humidity-icing": 5, "humidity-sensor-failed": 5, "humidity-sensors-disagree": 4, "gps-jump": 5, "wind-repeated": 6,
	} {
		if x := sevens(fault, rightNames[fault]); x.first < least {
			t.Errorf("%s: right first in %d of %d flights, wrong first in %d: want at least %d right", fault, x.first, x.flights, x.wrong, least)
		}
	}
	for _, quiet := range []string{"", "telemetry-gap", "slow-leak", "early-burst"} {
		if x := sevens(quiet, nil); x.wrong > 0 {
			t.Errorf("%q: %d of %d flights have a suggestion, want none", quiet, x.wrong, x.flights)
		}
	}
}

func BenchmarkForQuick(b *testing.B) {
	_, o, _, err := flightOf(examine.Case{Climate: truth.Marine, Day: true}, examine.Tuning, 0, nil)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		ForQuick(o)
	}
}

func BenchmarkFor(b *testing.B) {
	_, o, _, err := flightOf(examine.Case{Climate: truth.Marine, Day: true, Fault: "surface-pressure-typo"}, examine.Tuning, 0, nil)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		For(o)
	}
}
