package prelaunch

import (
	"math"
	"strings"
	"testing"
	"time"

	"leadline/internal/humidity"
	"leadline/internal/sounding"
)

func goodCheck() sounding.GroundCheck {
	return sounding.GroundCheck{Time: utc("2026-06-03T23:00:00Z"), ReferencePressure: 965.3, ReferenceTemperature: 293, ReferenceHumidity: 48,
		Pressure: 965.8, Temperature: 293.1, Humidity: sounding.NotSet, HumidityA: 48.9, HumidityB: 47.6}
}

func texts(list []Remark) string {
	var b strings.Builder
	for _, r := range list {
		b.WriteString(r.Level.String() + " " + r.Text + "\n")
	}
	return b.String()
}

func TestGroundCheck(t *testing.T) {
	release := utc("2026-06-03T23:15:00Z")
	n := sounding.NotSet
	for name, c := range map[string]struct {
		change func(*sounding.GroundCheck)
		word   string
		want   string // in the reason or a remark
	}{
		"good":             {func(*sounding.GroundCheck) {}, Accepted, "4 quantities"},
		"temperature":      {func(g *sounding.GroundCheck) { g.Temperature = 293.7 }, Rejected, "temperature reads +0.70 K"},
		"at the limit":     {func(g *sounding.GroundCheck) { g.Temperature = 293.5 }, Accepted, ""},
		"pressure":         {func(g *sounding.GroundCheck) { g.Pressure = 967.5 }, Rejected, "pressure reads +2.20 hPa"},
		"sensor B":         {func(g *sounding.GroundCheck) { g.HumidityB = 40 }, Rejected, "humidity sensor B"},
		"sensors apart":    {func(g *sounding.GroundCheck) { g.HumidityA, g.HumidityB = 49.5, 46 }, Accepted, "A and B differ by +3.5 %"},
		"one sensor":       {func(g *sounding.GroundCheck) { g.HumidityB = n }, Accepted, "only one of two"},
		"no barometer":     {func(g *sounding.GroundCheck) { g.Pressure = n }, Accepted, "pressure is not compared"},
		"no humidity":      {func(g *sounding.GroundCheck) { g.HumidityA, g.HumidityB = n, n }, Incomplete, "humidity"},
		"nothing":          {func(g *sounding.GroundCheck) { *g = sounding.NewLaunchRecord().GroundCheck }, Incomplete, "no quantity"},
		"old":              {func(g *sounding.GroundCheck) { g.Time = release.Add(-2 * time.Hour) }, Accepted, "120 min old"},
		"in the future":    {func(g *sounding.GroundCheck) { g.Time = release.Add(time.Hour) }, Accepted, "60 min after the release"},
		"warm radiosonde":  {func(g *sounding.GroundCheck) { g.Temperature = 296 }, Rejected, "not be ventilated"},
		"single humidity":  {func(g *sounding.GroundCheck) { g.Humidity, g.HumidityA, g.HumidityB = 49, n, n }, Accepted, "3 quantities"},
		"reference absent": {func(g *sounding.GroundCheck) { g.ReferenceTemperature = n }, Incomplete, "reference is missing"},
	} {
		g := goodCheck()
		c.change(&g)
		got := EvaluateGroundCheck(&g, nil, release, humidity.MurphyKoop, Default().GroundCheck)
		if got.Word != c.word || !strings.Contains(got.Reason+texts(got.Remarks), c.want) {
			t.Errorf("%s: %s: %s\n%s", name, got.Word, got.Reason, texts(got.Remarks))
		}
		if (got.Word == Rejected) != (worst(got.Remarks) == Stop) {
			t.Errorf("%s: a rejected radiosonde stops the release, and only that", name)
		}
	}
}

func TestGroundCheckRulings(t *testing.T) {
	for name, c := range map[string]struct {
		warm               float64
		ruling, by, reason string
		word, force        string
		level              Level
		want               string
	}{
		"no ruling":            {0, "", "", "", Accepted, Accepted, Note, ""},
		"agreed":               {0, "accept", "A", "", Accepted, Accepted, Note, ""},
		"reject, no ruling":    {0.7, "", "", "", Rejected, Rejected, Stop, "reject: temperature reads +0.80 K"},
		"overruled":            {0.7, "accept", "A. Operator", "the last one", Rejected, Accepted, Warning, "ruled accept by A. Operator: the last one"},
		"overruled, no reason": {0.7, "accept", "A. Operator", " ", Rejected, Rejected, Stop, "a name and a reason are wanted"},
		"overruled, no name":   {0.7, "accept", "", "the last one", Rejected, Rejected, Stop, "a name and a reason are wanted"},
		"ruled unfit":          {0, "reject", "A. Operator", "cracked boom", Accepted, Rejected, Stop, "ruled reject by A. Operator: cracked boom: take another"},
	} {
		g := goodCheck()
		g.Temperature += sounding.Number(c.warm)
		g.Ruling, g.RuledBy, g.RulingReason = c.ruling, c.by, c.reason
		got := EvaluateGroundCheck(&g, nil, utc("2026-06-03T23:15:00Z"), humidity.MurphyKoop, Default().GroundCheck)
		if got.Word != c.word || got.InForce != c.force || worst(got.Remarks) != c.level || !strings.Contains(texts(got.Remarks), c.want) {
			t.Errorf("%s: %s, in force %s, %s:\n%s", name, got.Word, got.InForce, worst(got.Remarks), texts(got.Remarks))
		}
		if !strings.HasPrefix(got.Words(), c.word+": ") {
			t.Errorf("%s: the record would say %q", name, got.Words())
		}
	}
}

// A sensor 1 K warmer than the reference reads lower humidity although both are right:
// 48 % at 293.0 K is 45.1 % at 294.0 K (about 6 % of value per K; METHODS 4.11).
func TestGroundCheckComparesHumidityAtTheSensor(t *testing.T) {
	g := goodCheck()
	g.Temperature = 294
	got := referenceHumidity(&g, humidity.MurphyKoop).Value()
	e := 48 * humidity.HylandWexler.OverWater(293) / humidity.HylandWexler.OverWater(294) // another formula
	if math.Abs(got-45.1) > 0.1 || math.Abs(got-e) > 0.05 {
		t.Errorf("%.2f %%, want 45.1", got)
	}
}

func TestGroundCheckDrift(t *testing.T) {
	g, later := goodCheck(), goodCheck()
	later.ReferencePressure, later.Pressure = 964.0, 965.6 // +0.5 has become +1.6 hPa
	got := EvaluateGroundCheck(&g, &later, time.Time{}, humidity.MurphyKoop, Default().GroundCheck)
	if !strings.Contains(texts(got.Remarks), "pressure has moved by +1.10 hPa") || strings.Contains(texts(got.Remarks), "temperature has moved") {
		t.Error(texts(got.Remarks))
	}
}

func TestSurface(t *testing.T) {
	n := sounding.NotSet
	site := sounding.NewLaunchRecord().Site
	site.Latitude, site.Height = 46, 431
	good := sounding.Surface{Time: utc("2026-06-03T23:10:00Z"), Pressure: 965, Temperature: 290.4, Humidity: 61, DewPoint: n, WindSpeed: 3, WindDirection: 250}
	release := utc("2026-06-03T23:15:00Z")
	if list := JudgeSurface(&site, &good, release, Default()); len(list) != 0 {
		t.Errorf("a good observation is remarked on:\n%s", texts(list))
	}
	for name, c := range map[string]struct {
		change func(*sounding.Site, *sounding.Surface)
		level  Level
		want   string
	}{
		"inches of mercury":  {func(_ *sounding.Site, s *sounding.Surface) { s.Pressure = 28.5 }, Stop, "read in inHg? That would be 965.1 hPa"},
		"mm of mercury":      {func(_ *sounding.Site, s *sounding.Surface) { s.Pressure = 724 }, Stop, "mmHg"},
		"kilopascal":         {func(_ *sounding.Site, s *sounding.Surface) { s.Pressure = 96.5 }, Stop, "kPa"},
		"pascal":             {func(_ *sounding.Site, s *sounding.Surface) { s.Pressure = 96500 }, Stop, "in Pa"},
		"sea level":          {func(_ *sounding.Site, s *sounding.Surface) { s.Pressure = 1016 }, Warning, "reduced to sea level"},
		"height wrong":       {func(z *sounding.Site, _ *sounding.Surface) { z.Height = 4310 }, Stop, "reduced to sea level"},
		"height in feet":     {func(z *sounding.Site, _ *sounding.Surface) { z.Height = 1414 }, Stop, "height is wrong"},
		"typing error":       {func(_ *sounding.Site, s *sounding.Surface) { s.Pressure = 865 }, Warning, "at sea level"},
		"no pressure":        {func(_ *sounding.Site, s *sounding.Surface) { s.Pressure = n }, Warning, "not given"},
		"no height":          {func(z *sounding.Site, _ *sounding.Surface) { z.Height = n }, Warning, "cannot be checked"},
		"celsius as kelvin":  {func(_ *sounding.Site, s *sounding.Surface) { s.Temperature = 17.3 }, Stop, "typed in °C? That would be 290.45 K"},
		"fahrenheit as K":    {func(_ *sounding.Site, s *sounding.Surface) { s.Temperature = 63 }, Stop, "typed in °F"},
		"fahrenheit as °C":   {func(_ *sounding.Site, s *sounding.Surface) { s.Temperature = 273.15 + 63 }, Stop, "read in °F? That would be 17.2 °C"},
		"dew point above":    {func(_ *sounding.Site, s *sounding.Surface) { s.DewPoint = 292 }, Stop, "above the temperature"},
		"dew point disagree": {func(_ *sounding.Site, s *sounding.Surface) { s.DewPoint = 288 }, Warning, "give a dew point of 9.7"},
		"dew point agrees":   {func(_ *sounding.Site, s *sounding.Surface) { s.DewPoint = 282.9 }, Note, ""},
		"humidity as share":  {func(_ *sounding.Site, s *sounding.Surface) { s.Humidity = 0.61 }, Warning, "61 %"},
		"humidity above 100": {func(_ *sounding.Site, s *sounding.Surface) { s.Humidity = 110 }, Stop, "cannot be"},
		"wind in knots":      {func(_ *sounding.Site, s *sounding.Surface) { s.WindSpeed = 30 }, Warning, "knots (15.4 m/s)"},
		"windy":              {func(_ *sounding.Site, s *sounding.Surface) { s.WindSpeed = 12 }, Warning, "site's own limit"},
		"calm":               {func(_ *sounding.Site, s *sounding.Surface) { s.WindSpeed, s.WindDirection = 0, 0 }, Note, ""},
		"calm, direction":    {func(_ *sounding.Site, s *sounding.Surface) { s.WindSpeed = 0 }, Note, "calm is written with direction 0"},
		"north as 0":         {func(_ *sounding.Site, s *sounding.Surface) { s.WindDirection = 0 }, Note, "north is written 360"},
		"no direction":       {func(_ *sounding.Site, s *sounding.Surface) { s.WindDirection = n }, Warning, "no direction"},
		"direction 400":      {func(_ *sounding.Site, s *sounding.Surface) { s.WindDirection = 400 }, Stop, "cannot be"},
		"old":                {func(_ *sounding.Site, s *sounding.Surface) { s.Time = s.Time.Add(-time.Hour) }, Warning, "65 min older"},
	} {
		z, s := site, good
		c.change(&z, &s)
		list := JudgeSurface(&z, &s, release, Default())
		if worst(list) != c.level || !strings.Contains(texts(list), c.want) || c.want == "" && len(list) > 0 {
			t.Errorf("%s:\n%swant %s %q", name, texts(list), c.level, c.want)
		}
	}
}

// Classes of ICAO Annex 2 and 14 CFR 101.1(a)(4) (STANDARDS G, read in stored text).
func TestAirspaceClasses(t *testing.T) {
	for name, c := range map[string]struct {
		packages []Package
		rope     float64
		class    string
		us       bool
	}{
		"single radiosonde":     {[]Package{{"radiosonde", 0.11, 30}, {"parachute", 0.1, 0}}, 115, "light", false},
		"just below 4 kg":       {[]Package{{"a", 1.99, 0}, {"b", 1.99, 0}}, 100, "light", false},
		"two of 2.2 kg":         {[]Package{{"a", 2.2, 400}, {"b", 2.2, 400}}, 100, "medium", false},
		"two of 2.9 kg, spread": {[]Package{{"a", 2.9, 400}, {"b", 2.9, 400}}, 100, "medium", true}, // 12 lb are 5.44 kg
		"6 kg":                  {[]Package{{"a", 2, 400}, {"b", 2, 400}, {"c", 2, 400}}, 100, "heavy", true},
		"a package of 3 kg":     {[]Package{{"a", 3, 900}}, 100, "heavy", true}, // 6.6 lb
		"dense, 13 g/cm² not":   {[]Package{{"a", 2, 2000 / 13.0}}, 100, "light", false},
		"dense, above":          {[]Package{{"a", 2.1, 150}}, 100, "heavy", true}, // 14 g/cm²; 4.6 lb and 3.2 oz/in²
		"strong rope":           {[]Package{{"a", 0.2, 30}}, 230, "heavy", true},  // 50 lb are 222 N
		"rope between":          {[]Package{{"a", 0.2, 30}}, 225, "light", true},
	} {
		a := ClassOf(c.packages, c.rope)
		if a.Class != c.class || a.US101 != c.us {
			t.Errorf("%s: %s (%s), US %v (%s)", name, a.Class, a.Because, a.US101, a.US101Why)
		}
		if a.Defer == "" || !strings.Contains(a.Defer, "authority") {
			t.Errorf("%s does not defer to the authority", name)
		}
	}
	if a := ClassOf([]Package{{"a", 2.5, 0}}, 100); worst(a.Remarks) != Warning {
		t.Error("a heavy body without its smallest face is not warned of")
	}
}

func TestStock(t *testing.T) {
	items := []Item{{Name: "radiosondes", Had: 40, Used: 21}, {Name: "strings", Had: 20, Used: 20, PerUse: 1}, {Name: "balloons", Had: 30, Used: 20, PerUse: 1}, {Name: "lights", Had: 3, Used: 4, PerUse: 1}}
	got := texts(JudgeStock(items, 12))
	for _, want := range []string{"stop strings: none left", "balloons: 10 left, 12 needed for 12 releases to come: 2 short", "lights: 4 used of 3"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in\n%s", want, got)
		}
	}
	if strings.Contains(got, "radiosondes") {
		t.Error("19 radiosondes last for 12 releases")
	}
	for fills, want := range map[int]Level{0: Stop, 5: Warning, 11: Warning, 12: Note} {
		if l := worst(JudgeStore(fills, 10, 3, 0.2, Default())); l != want {
			t.Errorf("%d fills: %s, want %s", fills, l, want)
		}
	}
}

func TestLaunchList(t *testing.T) {
	l := DefaultList()
	// The usual cautions stand beside the step they belong to (issue: launch list).
	cautions := map[string]string{"authority": "authority", "static": "ignition", "obstacles": "overhead line", "cylinder": "regulator", "sky": "near", "vents": "suffocates", "unwinder": "hand"}
	for _, s := range l.Steps {
		if want, ok := cautions[s.ID]; ok && !strings.Contains(s.Caution, want) {
			t.Errorf("%s: caution %q", s.ID, s.Caution)
		}
		delete(cautions, s.ID)
	}
	if len(cautions) > 0 {
		t.Errorf("steps are missing: %v", cautions)
	}
	day, _ := l.For(false, false, nil)
	all, _ := l.For(true, true, nil)
	if len(day) != len(l.Steps)-2 || len(all) != len(l.Steps) {
		t.Errorf("%d steps by day with helium, %d by night with hydrogen, of %d", len(day), len(all), len(l.Steps))
	}
	at := utc("2026-06-03T23:10:00Z")
	done, said := l.For(true, false, []Tick{{Step: "neck", At: at, Who: "A. Operator"}, {Step: "nosuch", At: at, Who: "B"}, {Step: "sky", At: at}, {Step: "fill", Who: "B"}})
	n := 0
	for _, d := range done {
		if d.Tick != nil {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d ticks count, want the one with name and time", n)
	}
	for _, want := range []string{"nosuch", "no name", "no time", "not ticked"} {
		if !strings.Contains(texts(said), want) {
			t.Errorf("no %q in\n%s", want, texts(said))
		}
	}
	for text, want := range map[string]string{
		"": "0 steps", "[[step]]\nid='a b'\nwhen='fill'\ntext='x'": "without spaces", "[[step]]\nid='a'\nwhen='later'\ntext='x'": "want before",
		"[[step]]\nid='a'\nwhen='fill'\ntext='x'\n[[step]]\nid='a'\nwhen='fill'\ntext='x'": "twice", "[[step]]\nid='a'\nwhen='fill'": "no text",
		"[[step]]\nid='a'\nwhen='fill'\ntext='x'\nonly='snow'": "hydrogen or night", "x = 1": "unknown key",
	} {
		if _, err := ReadList("mine.toml", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestLabelAndRecovery(t *testing.T) {
	l := Label(Contact{Name: "Lake basin campaign", Phone: "+00 1"}, "T3100042", utc("2031-06-03T23:30:00Z"), "North pier")
	for _, want := range []string{"HARMLESS", "T3100042", "3 June 2031", "+00 1", "power line"} {
		if !strings.Contains(l, want) {
			t.Errorf("the label lacks %q:\n%s", want, l)
		}
	}
	if l := Label(Contact{}, "", time.Time{}, ""); !strings.Contains(l, "are not given yet") {
		t.Error("a label without contact does not say so")
	}
	r := Recovery{Serial: "T3100042", State: Found, At: utc("2031-06-05T10:00:00Z"), Who: "A. Operator", Place: &Place{46, 6}}
	if err := r.Validate(); err != nil {
		t.Error(err)
	}
	for _, change := range []func(*Recovery){func(r *Recovery) { r.Serial = "" }, func(r *Recovery) { r.State = "gone" }, func(r *Recovery) { r.Who = "" }, func(r *Recovery) { r.At = time.Time{} }, func(r *Recovery) { r.Place = &Place{460, 6} }} {
		x := r
		change(&x)
		if x.Validate() == nil {
			t.Errorf("taken: %+v", x)
		}
	}
}

func TestSettings(t *testing.T) {
	for text, want := range map[string]string{
		"[release]\nbest_min = 60.0\nearliest_min = 45.0":                            "falling",
		"[drift]\ntrials = 5":                                                        "trials",
		"[drift]\ntrials = 500\nstep_m = 2000.0":                                     "step_m",
		"[drift]\ntrials = 500\nstep_m = 100.0\nwind_depth_m = 100.0\nu_rate = -1.0": "drift.u_rate",
		"[fil]": "unknown key",
	} {
		if _, err := ReadSettings("mine.toml", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// Opening stock minus the flights of the logbook since it was counted.
func TestStockIsCountedDownFromTheLogbook(t *testing.T) {
	day := func(d int) time.Time { return time.Date(2031, 6, d, 23, 30, 0, 0, time.UTC) }
	flights := []Flown{{"North pier", day(1)}, {"North pier", day(3)}, {"north pier ", day(4)}, {"North pier", day(5)}, {"Reed bay", day(5)}, {"North pier", time.Time{}}}
	items := []Item{
		{Name: "radiosondes", Had: 20, Used: 1, Counted: day(2)},                 // 3 flown
		{Name: "strings", Had: 10, PerUse: 2, Counted: day(3)},                   // 2 flights of 2
		{Name: "lights", Had: 9, Used: 4},                                        // counted by hand
		{Name: "balloons", Had: 3, PerUse: 1, Counted: day(3).Add(-time.Second)}, // none left
	}
	got, said := CountDown(items, flights, "North pier")
	for i, want := range []struct{ flown, left int }{{3, 16}, {4, 6}, {0, 5}, {3, 0}} {
		if got[i].Flown != want.flown || got[i].Left() != want.left {
			t.Errorf("%s: %d flown, %d left, want %+v", got[i].Name, got[i].Flown, got[i].Left(), want)
		}
	}
	if items[0].Flown != 0 {
		t.Error("the caller's items were changed")
	}
	if !strings.Contains(texts(said), "1 flights of this site have neither release nor nominal hour") {
		t.Error(texts(said))
	}
	if all := texts(JudgeStock(got, 17)); !strings.Contains(all, "radiosondes: 16 left, 17 needed for 17 releases to come: 1 short") || !strings.Contains(all, "stop balloons: none left") {
		t.Error(all)
	}
	if w := got[0].Words(); w != "3 flown since 2031-06-02 23:30 UTC, 1 used otherwise, 16 left" {
		t.Error(w)
	}
	if _, said := CountDown(items, flights, " "); !strings.Contains(texts(said), "the site has no name") {
		t.Error(texts(said))
	}
}

// Gauges that were read some flights ago: their fills are taken off.
func TestGasIsCountedDownFromTheLogbook(t *testing.T) {
	read := "read_utc = 2031-06-01T00:00:00Z\n"
	fills := func(plan string, flights []Flown) (int, string) {
		t.Helper()
		in := planned(t, plan)
		in.Flown = flights
		s, err := Prepare(in)
		if err != nil {
			t.Fatal(err)
		}
		return s.Store.Fills, texts(s.Remarks)
	}
	flights := []Flown{{"North pier", utc("2031-06-02T23:30:00Z")}, {"North pier", utc("2031-06-01T23:30:00Z")}, {"North pier", utc("2031-05-30T23:30:00Z")}}
	before, _ := fills(ExamplePlan, flights)
	marked := strings.Replace(ExamplePlan, "gauge_pressure = \"180 bar\"\n", "gauge_pressure = \"180 bar\"\n"+read, 1)
	after, said := fills(marked, flights)
	if before-after != 2 || !strings.Contains(said, "2 flights since the gauges were read on 2031-06-01 00:00 UTC are taken off") {
		t.Errorf("%d fills, %d after two flights\n%s", before, after, said)
	}
	var many []Flown
	for range 100 {
		many = append(many, flights[0])
	}
	if none, said := fills(marked, many); none != 0 || !strings.Contains(said, "not enough gas for one balloon") {
		t.Errorf("%d fills after a hundred flights\n%s", none, said)
	}
}

func TestExtraReleases(t *testing.T) {
	in := planned(t, strings.Replace(ExamplePlan, "releases = 12", "releases = 12\nextra = [\"2031-06-04 15:00\", \"2031-06-04T18:00:00+02:00\", \"\"]", 1))
	s, err := Prepare(in)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Extra) != 2 || !s.Extra[0].Nominal.Equal(utc("2031-06-04T15:00:00Z")) || !s.Extra[1].Nominal.Equal(utc("2031-06-04T16:00:00Z")) || !s.Extra[0].Extra {
		t.Errorf("%+v", s.Extra)
	}
	in.Plan.Slot.Extra = []string{"tea time"}
	if _, err := Prepare(in); err == nil || !strings.Contains(err.Error(), `"tea time"`) {
		t.Error(err)
	}
}

// planned is the example with the plan's part of another text.
func planned(t *testing.T, text string) Inputs {
	t.Helper()
	in := example(t)
	_, own := SplitPlan([]byte(text))
	plan, err := ReadPlan("plan.toml", own)
	if err != nil {
		t.Fatal(err)
	}
	in.Plan = plan
	return in
}
