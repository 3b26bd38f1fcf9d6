package prelaunch

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"leadline/internal/gas"
	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

// example is the shipped plan's content as Prepare gets it.
func example(t testing.TB) Inputs {
	t.Helper()
	_, text := SplitPlan([]byte(ExamplePlan))
	plan, err := ReadPlan("example.toml", text)
	if err != nil {
		t.Fatal(err)
	}
	r := sounding.NewLaunchRecord()
	r.Operator = "A. Operator"
	r.Site.Name, r.Site.Latitude, r.Site.Longitude, r.Site.Height, r.Site.Barometer = "North pier", 46.21022, 6.14533, 431.2, 433
	r.Release.Nominal = utc("2031-06-04T00:00:00Z")
	r.Surface = sounding.Surface{Time: utc("2031-06-03T23:05:00Z"), Pressure: 965.4, Temperature: 290.45, Humidity: 61, DewPoint: sounding.NotSet, WindSpeed: 2.06, WindDirection: 250}
	r.GroundCheck = goodCheck()
	r.GroundCheck.Time = utc("2031-06-03T22:55:00Z")
	r.Radiosonde.Serial = "T3100042"
	r.Balloon = sounding.Balloon{Mass: 0.8, Gas: "helium", NozzleLift: sounding.NotSet, String: 30, Parachute: "yes", Payload: sounding.NotSet, TargetAscentRate: 5}
	return Inputs{Record: r, Plan: plan, Wind: steady(9, -4), Zone: zone(t, "Europe/Zurich"), Formula: humidity.MurphyKoop}
}

func TestPrepare(t *testing.T) {
	in := example(t)
	s, err := Prepare(in)
	if err != nil {
		t.Fatal(err)
	}
	if s.Word != Ready {
		t.Errorf("%s:\n%s", s.Word, texts(s.Remarks))
	}
	f := s.Fill
	if m := f.MeanRate.Value.Value(); math.Abs(m-5) > 0.01 {
		t.Errorf("mean rate %.3f m/s, wanted 5", m)
	}
	// Nozzle, free and gross lift differ by the masses.
	if d := f.NozzleLift.Value - f.FreeLift.Value - 0.23; math.Abs(float64(d)) > 1e-9 {
		t.Errorf("nozzle less free lift is off by %g kg", float64(d))
	}
	// What the desk decided goes with the flight.
	r := s.Record
	if r.Balloon.Payload != 0.23 || math.Abs(r.Balloon.NozzleLift.Value()-f.NozzleLift.Value.Value()) > 0.0005 || !r.Release.Nominal.Equal(s.Slot.Nominal) {
		t.Errorf("launch record %+v", r.Balloon)
	}
	if in.Record.Balloon.NozzleLift.Set() || in.Record.Balloon.Payload.Set() {
		t.Error("the caller's launch record was changed")
	}
	if s.Store == nil || s.Store.Fills < 20 || s.Store.Fills > 32 {
		t.Errorf("gas store %+v", s.Store)
	}
	// A volume on another way: gross lift over the density difference of moist air and gas.
	e := 0.61 * humidity.HylandWexler.OverWater(290.45)
	p := 965.4 * math.Exp(9.80665*1.8*1.16/96540) // 1.8 m lower than the barometer
	rho := 100 * (p - 0.37802*e) * 28.9644e-3 / (8.314462618 * 290.45)
	rhoGas := 100 * p * (0.99*4.0026e-3 + 0.01*28.9644e-3) / (8.314462618 * 290.45)
	if v := f.GrossLift.Value.Value() / (rho - rhoGas); math.Abs(v/f.Volume.Value.Value()-1) > 2e-4 {
		t.Errorf("volume %.4f m³, by hand %.4f", f.Volume.Value.Value(), v)
	}
	again, err := Prepare(example(t))
	if err != nil {
		t.Fatal(err)
	}
	a, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(again)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Error("two preparations differ")
	}
	var page bytes.Buffer
	if err := s.HTML(&page, nil, "0"); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Launch sheet · North pier", "nozzle lift", "<svg", "aircraft looked and listened for", "authority", "T3100042"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// The uncertainties of a fill against brute force: 4,000 fills with every input drawn.
func TestFillUncertaintyAgainstMonteCarlo(t *testing.T) {
	set := Default()
	air := gas.MoistAir(965, 290, 60)
	in := FillInput{Gas: gas.Mixture{Kind: gas.Helium, Purity: 0.99}, Load: gas.Load{Balloon: 0.8, Payload: 0.3}, Air: air, Humidity: 60, Ground: 400, Latitude: 46,
		Rate: 5, Weather: gas.Allowance{Word: "none"}, Drag: gas.PlanningDrag(), BurstDiameter: 7, BurstU: 0.4, Atmosphere: Calm().Atmosphere(air, 400, 46)}
	p, err := PlanFill(in, set)
	if err != nil {
		t.Fatal(err)
	}
	random := newRandom(3)
	var volume, mean []float64
	for range 4000 {
		x := in
		x.Air.Pressure += set.Fill.Pressure * random.normal()
		x.Air.Temperature += set.Fill.Temperature * random.normal()
		x.Air.Vapour += set.Fill.Humidity / 100 * gas.MoistAir(1000, 290, 100).Vapour * random.normal()
		x.Gas.Purity = math.Min(1, x.Gas.Purity+set.Fill.Purity/100*random.normal())
		x.Load.Balloon *= 1 + set.Fill.Balloon*random.normal()
		x.Load.Payload += set.Fill.Payload * random.normal()
		x.Drag = x.Drag.Scaled(1 + x.Drag.Relative*0.5*random.normal()) // half: a fifth is past linear
		f, err := gas.FillForNozzleLift(x.Gas, x.Load, x.Air, p.NozzleLift.Value.Value()+set.Fill.Lift*random.normal())
		if err != nil {
			t.Fatal(err)
		}
		volume = append(volume, f.Volume(x.Air))
		if len(mean) < 600 {
			c, err := f.Climb(400, 7+0.4*random.normal(), x.Drag, x.Atmosphere, 500)
			if err != nil {
				t.Fatal(err)
			}
			mean = append(mean, c.Mean)
		}
	}
	_, sd := meanAnd(volume)
	if u := p.Volume.U.Value(); math.Abs(u/sd-1) > 0.05 {
		t.Errorf("volume ± %.4f m³, drawn ± %.4f", u, sd)
	}
	// Drag is half of what the plan has, everything else as in the plan.
	_, sd = meanAnd(mean)
	half := in
	half.Drag.Relative /= 2
	if p, err = PlanFill(half, set); err != nil {
		t.Fatal(err)
	}
	if u := p.MeanRate.U.Value(); math.Abs(u/sd-1) > 0.12 {
		t.Errorf("mean rate ± %.3f m/s, drawn ± %.3f", u, sd)
	}
}

func TestPrepareSaysWhatIsMissingOrWrong(t *testing.T) {
	n := sounding.NotSet
	for name, c := range map[string]struct {
		change func(*Inputs)
		want   string
	}{
		"latitude":  {func(in *Inputs) { in.Record.Site.Latitude = n }, "site.latitude_deg is not given"},
		"pressure":  {func(in *Inputs) { in.Record.Surface.Pressure = n }, "surface.pressure_hpa is not given"},
		"unit":      {func(in *Inputs) { in.Record.Surface.Pressure = 28.5 }, "inHg"},
		"slot":      {func(in *Inputs) { in.Record.Release.Nominal = in.Record.Release.Declared }, "the slot is not given"},
		"two slots": {func(in *Inputs) { in.Plan.Slot.Local = "2031-06-04 02:00" }, "both given"},
		"gas":       {func(in *Inputs) { in.Record.Balloon.Gas = "" }, "no gas"},
		"payload":   {func(in *Inputs) { in.Plan.Payload.Packages = nil }, "payload is not given"},
		"two aims":  {func(in *Inputs) { in.Plan.Fill.Free = 0.7; in.Record.Balloon.NozzleLift = 1 }, ""},
		"balloon":   {func(in *Inputs) { in.Record.Balloon.Mass = 9 }, "give the burst diameter"},
		"weather":   {func(in *Inputs) { in.Plan.Fill.Weather = "hail" }, "light-rain"},
		"extra":     {func(in *Inputs) { in.Plan.Slot.Extra = []string{"tomorrow"} }, "slot.extra"},
		"cylinder":  {func(in *Inputs) { in.Plan.Cylinders[0].Pressure = "180" }, "gauge_pressure"},
		"water":     {func(in *Inputs) { in.Plan.Cylinders[0].WaterVolume = 0.05 }, "50 litres"},
	} {
		in := example(t)
		c.change(&in)
		_, err := Prepare(in)
		if c.want == "" {
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	for name, c := range map[string]struct {
		change func(*Inputs)
		word   string
		want   string
	}{
		"no wind":     {func(in *Inputs) { in.Wind = nil }, Look, "says nothing"},
		"bad sonde":   {func(in *Inputs) { in.Record.GroundCheck.Temperature = 295 }, Halt, "reject"},
		"hydrogen":    {func(in *Inputs) { in.Record.Balloon.Gas = "hydrogen"; in.Plan.Cylinders = nil }, Look, "hydrogen: burns"},
		"other gas":   {func(in *Inputs) { in.Record.Balloon.Gas = "hydrogen" }, Halt, "not enough gas"},
		"rain":        {func(in *Inputs) { in.Plan.Fill.Weather = "rain" }, Ready, "0.25 kg of free lift are added for rain"},
		"stock":       {func(in *Inputs) { in.Plan.Stock[0].Used = 40 }, Halt, "none left"},
		"two sums":    {func(in *Inputs) { in.Record.Balloon.Payload = 0.5 }, Look, "add up to 0.23 kg"},
		"no humidity": {func(in *Inputs) { in.Record.Surface.Humidity = n }, Ready, "dry air is taken"},
		"late":        {func(in *Inputs) { in.Record.Release.Declared = utc("2031-06-04T00:20:00Z") }, Look, "later than the window"},
		"heavy load":  {func(in *Inputs) { in.Plan.Payload.Packages[0].Mass = 40 }, Look, "more than half its burst diameter"},
		"no chute":    {func(in *Inputs) { in.Record.Balloon.Parachute = "no" }, Ready, ""},
	} {
		in := example(t)
		c.change(&in)
		s, err := Prepare(in)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if s.Word != c.word || !strings.Contains(texts(s.Remarks), c.want) {
			t.Errorf("%s: %s\n%swant %s, %q", name, s.Word, texts(s.Remarks), c.word, c.want)
		}
	}
}

func TestPlanTexts(t *testing.T) {
	record, plan := SplitPlan([]byte(ExamplePlan))
	if !strings.Contains(string(record), "pressure_hpa = 965.4") || strings.Contains(string(record), "purity_pct") || strings.Contains(string(plan), "965.4") ||
		!strings.Contains(string(plan), "purity_pct") || !strings.Contains(string(plan), "time_zone") || !strings.Contains(string(record), "time_zone") {
		t.Error("the plan is parted wrongly")
	}
	for text, want := range map[string]string{
		"\n\n[fill]\npurty_pct = 99":               "line 4, column 1: unknown key",
		"[fill]\npurity_pct = 0.99":                "above 50",
		"[fill]\nfree_lift_kg = 600.0":             "fill.free_lift_kg",
		"[wind]\nprofile='a'\nflight='b'":          "want one",
		"[[payload.package]]\nname='x'\nmass_kg=0": "package 1 (x)",
	} {
		if _, err := ReadPlan("plan.toml", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func BenchmarkPrepare(b *testing.B) {
	in := example(b)
	for b.Loop() {
		if _, err := Prepare(in); err != nil {
			b.Fatal(err)
		}
	}
}
