package prelaunch

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"leadline/internal/earth"
	"leadline/internal/gas"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// plainFlight is an 800 g balloon with helium at a place in degrees, planned for 5 m/s.
func plainFlight(t testing.TB, start Place, ground float64) (*Flight, gas.Atmosphere) {
	t.Helper()
	air := gas.Standard(ground)
	f, err := gas.FillForMeanRate(gas.Mixture{Kind: gas.Helium, Purity: 0.99}, gas.Load{Balloon: 0.8, Payload: 0.3}, air, 5, ground, 7, gas.PlanningDrag(), gas.Standard)
	if err != nil {
		t.Fatal(err)
	}
	return &Flight{Release: utc("2026-06-03T23:30:00Z"), Start: start, Ground: ground, Landing: ground, Fill: f, Drag: gas.PlanningDrag(), Burst: 7, Fall: gas.WithParachute()}, gas.Standard
}

func steady(u, v float64) *Profile {
	p := Calm()
	p.Source = "steady"
	p.U, p.V = []float64{u, u}, []float64{v, v}
	return p
}

func predict(t testing.TB, f *Flight, wind *Profile, air gas.Atmosphere) *Prediction {
	t.Helper()
	set := Default()
	set.Drift.Trials = 200
	p, err := Predict(f, State{}, wind, air, DoubtOf(f, gas.DefaultTable(), set), set)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// In a steady wind the drift is wind × time, along a geodesic near the ground's metric: the
// balloon's own height stretches its way over ground by z/R, 0.25 % on average here.
func TestDriftInASteadyWind(t *testing.T) {
	for _, start := range []Place{{46, 6}, {-35, 179.9}, {0, 0}, {78, 15}} {
		f, air := plainFlight(t, start, 400)
		p := predict(t, f, steady(10, 0), air)
		want := 10 * p.Landing.Time
		if ratio := p.Distance / want; ratio > 1 || ratio < 0.9955 {
			t.Errorf("from %v: %.1f km, wind × time is %.1f km", start, p.Distance/1000, want/1000)
		}
		if math.Abs(p.Bearing-90) > 6 {
			t.Errorf("from %v: bearing %.1f°", start, p.Bearing)
		}
		if f.Release.IsZero() || p.Track[0].Place != start || p.Track[len(p.Track)-1] != p.Landing {
			t.Error("the track does not run from the release to the landing")
		}
		// each step against the geodesic, with the distance scaled to the height
		var worstStep float64
		for i := 1; i < len(p.Track); i++ {
			a, b := p.Track[i-1], p.Track[i]
			d, _ := b.Place.From(a.Place)
			h := (a.Height + b.Height) / 2
			worstStep = math.Max(worstStep, math.Abs(d*(1+h/6371000)-10*(b.Time-a.Time)))
		}
		if worstStep > 2 {
			t.Errorf("from %v: a step is off by %.2f m", start, worstStep)
		}
	}
}

// Rising and falling at known rates in standard air: the fall from 30 km under a parachute
// of 5 m/s against the integral of dz/v by fine steps.
func TestTimesOfFlight(t *testing.T) {
	f, air := plainFlight(t, Place{46, 6}, 0)
	p := predict(t, f, steady(0, 0), air)
	var fall float64
	for z := 0.5; z < p.Burst.Height; z++ {
		fall += 1 / f.Fall.At(gas.Standard(earth.GeopotentialHeight(z, 46)).Density())
	}
	if got := p.Landing.Time - p.Burst.Time; math.Abs(got/fall-1) > 0.002 {
		t.Errorf("falls for %.1f s, want %.1f", got, fall)
	}
	climb, err := f.Fill.Climb(0, 7, f.Drag, gas.Standard, 100)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(p.Burst.Time/climb.Time-1) > 0.005 {
		t.Errorf("climbs for %.0f s, gas says %.0f", p.Burst.Time, climb.Time)
	}
	if mean := p.Burst.Height / p.Burst.Time; math.Abs(mean-5) > 0.03 {
		t.Errorf("mean rate %.3f m/s, planned 5", mean)
	}
	// METHODS 8.4: burst height ± 1.5 km.
	if u := p.BurstAt.U.Value(); u < 1200 || u > 1800 {
		t.Errorf("burst height ± %.0f m, want about 1,500", u)
	}
}

// METHODS 8.4: 15–30 km 1σ in jet conditions.
func TestSpreadInAJet(t *testing.T) {
	f, air := plainFlight(t, Place{46, 6}, 0)
	p := predict(t, f, &Profile{Source: "jet", Height: []float64{0, 10000, 16000, 40000}, U: []float64{3, 45, 15, 15}, V: []float64{0, 0, 0, 0},
		Temperature: []float64{nan, nan, nan, nan}, Pressure: []float64{nan, nan, nan, nan}}, air)
	if s := p.Ellipse.Major68 / 1.51; s < 10000 || s > 30000 { // 1.51σ holds 68 % of two dimensions
		t.Errorf("1σ along the jet is %.1f km, want 10–30", s/1000)
	}
	if math.Abs(p.Ellipse.Bearing-90) > 25 {
		t.Errorf("the long axis lies at %.0f°, the jet blows towards 90°", p.Ellipse.Bearing)
	}
	of68, of95 := p.Ellipse.Within(p.Landing.Place)
	if of68 > 1 || of95 > 1 {
		t.Error("the predicted landing lies outside its own ellipse")
	}
	in := 0
	for _, x := range p.Trials {
		if r, _ := p.Ellipse.Within(x); r <= 1 {
			in++
		}
	}
	if in < 134 || in > 138 {
		t.Errorf("%d of 200 trials in the 68 %% ellipse", in)
	}
	for _, q := range p.Ellipse.Outline(true, 16) {
		if _, r := p.Ellipse.Within(q); math.Abs(r-1) > 0.01 {
			t.Errorf("outline lies at %.3f of the ellipse", r)
		}
	}
}

var nan = math.NaN()

func TestPredictionsAreTheSameEveryTimeAndChangeNothing(t *testing.T) {
	f, air := plainFlight(t, Place{46, 6}, 0)
	wind := steady(8, -3)
	before := slices.Clone(wind.U)
	a, b := predict(t, f, wind, air), predict(t, f, wind, air)
	if !bytes.Equal(a.GeoJSON(f.Release), b.GeoJSON(f.Release)) || !slices.Equal(a.Trials, b.Trials) {
		t.Error("two runs differ")
	}
	if !slices.Equal(before, wind.U) {
		t.Error("the wind profile was changed")
	}
}

func TestPredictionsThatCannotBe(t *testing.T) {
	f, air := plainFlight(t, Place{46, 6}, 0)
	set := Default()
	d := DoubtOf(f, gas.DefaultTable(), set)
	for name, c := range map[string]func(*Flight, *Profile){
		"release point": func(f *Flight, _ *Profile) { f.Start.Latitude = 90 },
		"fall":          func(f *Flight, _ *Profile) { f.Fall.Rate = 0 },
		"levels":        func(_ *Flight, p *Profile) { p.Height, p.U, p.V = p.Height[:1], p.U[:1], p.V[:1] },
		"rise":          func(_ *Flight, p *Profile) { p.Height = []float64{100, 100} },
		"unit":          func(_ *Flight, p *Profile) { p.U = []float64{1, 900} },
		"larger":        func(f *Flight, _ *Profile) { f.Burst = 1 },
	} {
		g, w := *f, steady(3, 3)
		c(&g, w)
		if _, err := Predict(&g, State{}, w, air, d, set); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	// A profile that ends low or is old is used, and said.
	w := steady(3, 3)
	w.Height, w.Valid = []float64{900, 12000}, f.Release.Add(-9*time.Hour)
	p, err := Predict(f, State{}, w, air, d, set)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"ends at 12.0 km", "begins 900 m", "9 h from the release"} {
		if !strings.Contains(texts(p.Remarks), want) {
			t.Errorf("no %q in\n%s", want, texts(p.Remarks))
		}
	}
}

// In flight: with the wind measured half way up the landing is known much better than
// before, and after the burst better still. Simulated flights, a forecast 6 m/s wrong.
func TestUpdateInFlight(t *testing.T) {
	set := Default()
	set.Drift.Trials = 200
	var plan, half, late []float64
	for _, x := range many(t, scenario(t, truth.MidLatitudeSummer, 1.35), 501, 509) {
		tr := x.truth
		r := int(tr.Release / (tr.Time[1] - tr.Time[0]))
		last := tr.Len() - 1
		landing := Place{tr.Latitude[last], tr.Longitude[last]}
		f := &Flight{Start: Place{tr.Latitude[r], tr.Longitude[r]}, Ground: tr.HeightMSL[r], Landing: tr.HeightMSL[last], Fill: x.fill, Drag: gas.PlanningDrag().Scaled(0.8), Burst: 7, Fall: gas.Fall{Rate: 4.4, Relative: 0.08}}
		forecast := x.columnOf()
		for i := range forecast.U {
			forecast.U[i] += 6
		}
		air := forecast.Atmosphere(x.fill.Air, f.Ground, f.Start.Latitude)
		d := DoubtOf(f, gas.DefaultTable(), set)
		p, err := Predict(f, State{}, forecast, air, d, set)
		if err != nil {
			t.Fatal(err)
		}
		off := func(p *Prediction) float64 {
			m, _ := landing.From(p.Landing.Place)
			return m / 1000
		}
		plan = append(plan, off(p))
		seen := func(until float64) *Measured {
			m := &Measured{}
			for i := r; tr.Time[i] < until; i++ {
				m.Time = append(m.Time, tr.Time[i]-tr.Release)
				m.Height = append(m.Height, tr.HeightMSL[i])
				m.U, m.V = append(m.U, tr.WindU[i]), append(m.V, tr.WindV[i])
				m.Latitude, m.Longitude = append(m.Latitude, tr.Latitude[i]), append(m.Longitude, tr.Longitude[i])
			}
			return m
		}
		q, err := Update(f, seen(tr.Release+(tr.Burst-tr.Release)/2), forecast, air, d, set)
		if err != nil {
			t.Fatal(err)
		}
		half = append(half, off(q))
		if q.Ellipse.Major95 > p.Ellipse.Major95 {
			t.Errorf("half way up the ellipse has grown from %.1f to %.1f km", p.Ellipse.Major95/1000, q.Ellipse.Major95/1000)
		}
		q, err = Update(f, seen(tr.Burst+300), forecast, air, d, set)
		if err != nil {
			t.Fatal(err)
		}
		if q.Track[0].Phase != Descent || q.Landing.Time < tr.Burst-tr.Release {
			t.Error("five minutes after the burst the flight is not seen to fall")
		}
		late = append(late, off(q))
	}
	a, _ := meanAnd(plan)
	b, _ := meanAnd(half)
	c, _ := meanAnd(late)
	t.Logf("landing missed by %.1f km from the plan, %.1f km half way up, %.1f km after the burst", a, b, c)
	if !(b < a*0.75 && c < a*0.25) {
		t.Error("the updates do not come nearer to the landing")
	}
	if _, err := Update(&Flight{}, &Measured{}, Calm(), gas.Standard, Doubt{}, set); err == nil || !strings.Contains(err.Error(), "a minute") {
		t.Errorf("no data: %v", err)
	}
}

func TestExportsCanBeRead(t *testing.T) {
	f, air := plainFlight(t, Place{-35, 179.6}, 0)
	p := predict(t, f, steady(25, 5), air)
	var c struct {
		Type     string
		Features []struct {
			Properties map[string]any
			Geometry   struct {
				Type        string
				Coordinates json.RawMessage
			}
		}
	}
	if err := json.Unmarshal(p.GeoJSON(f.Release), &c); err != nil {
		t.Fatal(err)
	}
	kinds := ""
	for _, x := range c.Features {
		kinds += x.Geometry.Type + " "
	}
	if c.Type != "FeatureCollection" || kinds != "LineString LineString Point Point Point Polygon Polygon " {
		t.Errorf("%s: %s", c.Type, kinds)
	}
	// The track crosses 180° and its longitudes run on.
	var line [][3]float64
	if err := json.Unmarshal(c.Features[1].Geometry.Coordinates, &line); err != nil {
		t.Fatal(err)
	}
	for i := 1; i < len(line); i++ {
		if math.Abs(line[i][0]-line[i-1][0]) > 1 {
			t.Errorf("longitude jumps from %g to %g", line[i-1][0], line[i][0])
			break
		}
	}
	// A polygon of ours comes back through our reader, and holds the landing.
	areas, err := ReadAreas("x", p.GeoJSON(f.Release))
	if err != nil {
		t.Fatal(err)
	}
	if a := areas[len(areas)-1]; !a.Closed || !a.Inside(p.Landing.Place) {
		t.Error("the 95 % ellipse does not hold the landing")
	}
	d := xml.NewDecoder(bytes.NewReader(p.KML(`A & <B>`, f.Release)))
	n := 0
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if s, ok := token.(xml.StartElement); ok && s.Name.Local == "Placemark" {
			n++
		}
	}
	if n != 7 {
		t.Errorf("%d placemarks in the KML, want 7", n)
	}
}

func TestAreas(t *testing.T) {
	// A square of 0.2° with a hole of 0.1° around 46 N 6 E, and a ridge east of it.
	text := `{"type":"FeatureCollection","features":[
	 {"type":"Feature","properties":{"name":"lake","unknown":[1]},"geometry":{"type":"Polygon","coordinates":[[[5.9,45.9],[6.1,45.9],[6.1,46.1],[5.9,46.1],[5.9,45.9]],[[5.95,45.95],[6.05,45.95],[6.05,46.05],[5.95,46.05],[5.95,45.95]]]}},
	 {"type":"Feature","properties":{"name":"ridge","kind":"line-of-sight","crest_m_msl":1500},"geometry":{"type":"LineString","coordinates":[[6.2,45.5],[6.2,46.5]]}},
	 {"type":"Feature","properties":null,"geometry":{"type":"MultiPolygon","coordinates":[[[[7,45],[8,45],[8,46],[7,45]]],[[[9,45],[9.5,45],[9.5,46],[9,45]]]]}},
	 {"type":"Feature","properties":{},"geometry":null},
	 {"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[1,2]}}]}`
	areas, err := ReadAreas("areas.geojson", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	if len(areas) != 4 || areas[0].Name != "lake" || areas[2].Name != "area 3" {
		t.Fatalf("%d areas: %+v", len(areas), areas)
	}
	lake := &areas[0]
	for _, c := range []struct {
		p      Place
		inside bool
		m      float64
	}{{Place{46, 5.92}, true, 0}, {Place{46, 6}, false, 0.05 * 77466}, {Place{46.2, 6}, false, 0.1 * 111150}} {
		// lengths of a degree at 46°: 77.466 km of longitude, 111.15 km of latitude (WGS-84)
		if lake.Inside(c.p) != c.inside || math.Abs(lake.Distance(c.p)-c.m) > 0.002*c.m {
			t.Errorf("%v: inside %v, %.0f m, want %v, %.0f m", c.p, lake.Inside(c.p), lake.Distance(c.p), c.inside, c.m)
		}
	}
	f, air := plainFlight(t, Place{46, 6}, 400)
	p := predict(t, f, steady(6, 0), air)
	watch, said := WatchAreas(areas, p, f.Start, 405, Default())
	ridge := watch[1]
	// The landing lies about 55 km east; the ridge 15.5 km east with 1,500 m hides what is
	// below 405 + (1500−405)·55/15.5 less the curvature's part.
	d := p.Distance
	want := 405 + (1500-405)*d/15493 + (d-15493)*d/(2*radioEarth)
	if math.Abs(ridge.Height-want) > 400 {
		t.Errorf("hidden below %.0f m, want about %.0f m", ridge.Height, want)
	}
	if !strings.Contains(texts(said), "ridge hides the radiosonde") {
		t.Error(texts(said))
	}
	calm := predict(t, f, steady(0.5, 0), air)
	_, said = WatchAreas([]Area{{Name: "town", Kind: KeepOut, Closed: true, Rings: [][]Place{{{45.5, 5.5}, {45.5, 6.5}, {46.5, 6.5}, {46.5, 5.5}, {45.5, 5.5}}}}}, calm, f.Start, 405, Default())
	if worst(said) != Stop {
		t.Errorf("a landing inside a keep-out area does not stop:\n%s", texts(said))
	}
	if h := RadioHorizon(200e3, 405, 400); math.Abs(h-400-math.Pow(200e3-math.Sqrt(2*radioEarth*5), 2)/(2*radioEarth)) > 1 || RadioHorizon(1000, 405, 400) != 400 {
		t.Errorf("radio horizon %g", h)
	}
	for text, want := range map[string]string{
		"":                    "not GeoJSON",
		"[]":                  "not GeoJSON",
		`{"type":"Topology"}`: "no GeoJSON type",
		`{"type":"FeatureCollection","features":[]}`:                          "no polygon",
		`{"type":"LineString","coordinates":[[46.2,206.1],[46.3,6.2]]}`:       "longitude first",
		`{"type":"LineString","coordinates":[[6.2,46.1]]}`:                    "1 points",
		`{"type":"Polygon","coordinates":[[[6,46],[7,46],[6,46]]]}`:           "3 points",
		`{"type":"Polygon","coordinates":[[6,46]]}`:                           "coordinates",
		`{"type":"Feature","properties":{"kind":"town"},"geometry":null}`:     "keep-out or line-of-sight",
		`{"type":"Feature","properties":{"crest_m_msl":1e9},"geometry":null}`: "crest_m_msl",
		`{"type":"Feature","properties":{"name":5},"geometry":null}`:          "want a text",
	} {
		if _, err := ReadAreas("x.geojson", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
}

func TestLastSeen(t *testing.T) {
	f, air := plainFlight(t, Place{46, 6}, 0)
	set := Default()
	set.Drift.Trials = 200
	d := DoubtOf(f, gas.DefaultTable(), set)
	last := Point{Time: 8000, Place: Place{46.1, 6.4}, Height: 3000}
	p, err := LastSeen(f, last, steady(10, 0), air, d, set)
	if err != nil {
		t.Fatal(err)
	}
	// 3 km at some 5.4 m/s in 10 m/s: about 5.6 km east
	if m, b := p.Landing.Place.From(last.Place); m < 5000 || m > 6200 || math.Abs(b-90) > 1 {
		t.Errorf("lands %.0f m at %.0f°", m, b)
	}
	if p.Ellipse.Major95 > 5000 {
		t.Errorf("spread %.0f m", p.Ellipse.Major95)
	}
	last.Height = -1
	if _, err := LastSeen(f, last, steady(10, 0), air, d, set); err == nil {
		t.Error("a position below the ground was followed")
	}
}

func BenchmarkPredict(b *testing.B) {
	f, air := plainFlight(b, Place{46, 6}, 0)
	set := Default()
	d := DoubtOf(f, gas.DefaultTable(), set)
	d.Known = sounding.NotSet
	for b.Loop() {
		if _, err := Predict(f, State{}, steady(10, 3), air, d, set); err != nil {
			b.Fatal(err)
		}
	}
}
