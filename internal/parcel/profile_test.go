package parcel

import (
	"math"
	"testing"

	"leadline/internal/constants"
	"leadline/internal/humidity"
)

func close(t *testing.T, what string, got, want, margin float64) {
	t.Helper()
	if !(math.Abs(got-want) <= margin) {
		t.Errorf("%s: %.9g, want %.9g ± %g", what, got, want, margin)
	}
}

func TestWindAtAndMeans(t *testing.T) {
	z, u, v := []float64{0, 100, 300}, []float64{0, 10, 30}, []float64{1, 1, 1}
	for h, want := range map[float64]float64{0: 0, 50: 5, 100: 10, 200: 20, 300: 30} {
		close(t, "u", WindAt(z, u, v, h).U, want, 1e-12)
	}
	for _, h := range []float64{-1, 300.1, math.NaN()} {
		if x := WindAt(z, u, v, h); !math.IsNaN(x.U) {
			t.Errorf("wind at %g m: %v", h, x)
		}
	}
	if x := WindAt(nil, nil, nil, 0); !math.IsNaN(x.U) {
		t.Error("wind of no levels")
	}
	// u = z/10: the mean over a layer is that of its middle, wherever its ends lie.
	for _, layer := range [][2]float64{{0, 300}, {10, 20}, {50, 250}, {100, 300}, {0, 100}} {
		close(t, "mean", MeanWind(z, u, v, layer[0], layer[1]).U, (layer[0]+layer[1])/20, 1e-12)
	}
	if x := MeanWind(z, u, v, 0, 400); !math.IsNaN(x.U) {
		t.Error("a mean over a layer the profile does not hold")
	}
}

// A hodograph that is a straight line has no helicity for a storm on it, and for a storm
// beside it the distance times the length.
func TestHelicityOfStraightHodograph(t *testing.T) {
	var z, u, v []float64
	for h := 0.0; h <= 7000; h += 100 {
		z, u, v = append(z, h), append(u, 5*h/1000), append(v, 0)
	}
	close(t, "on it", StormRelativeHelicity(z, u, v, 0, 3000, Vector{10, 0}), 0, 1e-9)
	right, left, mean := StormMotion(z, u, v)
	close(t, "mean u", mean.U, 15, 1e-9)
	// Westerly shear: the right mover deviates to the south.
	close(t, "right v", right.V, -7.5, 1e-9)
	close(t, "left v", left.V, 7.5, 1e-9)
	close(t, "right u", right.U, 15, 1e-9)
	close(t, "right mover", StormRelativeHelicity(z, u, v, 0, 3000, right), 15*7.5, 1e-9)
	close(t, "left mover", StormRelativeHelicity(z, u, v, 0, 3000, left), -15*7.5, 1e-9)
	// Means of 0 to 6 km and 0 to 0.5 km: 15 and 1.25 m/s.
	close(t, "shear term", BulkRichardsonShear(z, u, v), 0.5*13.75*13.75, 1e-9)
	for i := range u {
		u[i] = 4
	}
	right, left, mean = StormMotion(z, u, v)
	if right != mean || left != mean || mean.U != 4 {
		t.Errorf("without shear: %v %v %v", right, left, mean)
	}
}

func TestRises(t *testing.T) {
	for _, c := range []struct {
		x    []float64
		want []Span
	}{
		{nil, nil},
		{[]float64{5}, nil},
		{[]float64{5, 4, 3}, nil},
		{[]float64{1, 3}, []Span{{0, 1}}},
		{[]float64{5, 4, 6, 5, 3}, []Span{{1, 2}}},
		{[]float64{5, 4, 4.5, 4.4, 6, 5}, []Span{{1, 4}}},         // a ripple of 0.1 inside
		{[]float64{5, 4, 5.5, 5, 6.5, 4}, []Span{{1, 2}, {3, 4}}}, // a fall of 0.5 is no ripple
		{[]float64{5, 4, 4.9, 3, 2}, nil},                         // too weak
		{[]float64{1, 1, 3, 3, 1}, []Span{{1, 2}}},                // tightest layer of equal values
		{[]float64{2, 2.2, 1.9, 3.5}, []Span{{2, 3}}},             // a ripple below the base
		{[]float64{math.NaN(), 1, 3}, nil},
	} {
		got := Rises(nil, c.x, 1, 0.3)
		if len(got) != len(c.want) {
			t.Errorf("%v: %v, want %v", c.x, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%v: %v, want %v", c.x, got, c.want)
			}
		}
	}
}

func TestBoundaryLayerEdges(t *testing.T) {
	z := []float64{0, 100, 200, 300}
	calm := make([]float64, 4)
	// Without wind any stability ends it, and none at all never does.
	close(t, "calm and stable", BoundaryLayerRichardson(z, []float64{300, 300, 301, 302}, calm, calm, 0.25), 200, 0)
	for what, got := range map[string]float64{
		"neutral":           BoundaryLayerRichardson(z, []float64{300, 300, 300, 300}, calm, calm, 0.25),
		"unstable":          BoundaryLayerRichardson(z, []float64{300, 299, 298, 297}, calm, calm, 0.25),
		"nothing":           BoundaryLayerRichardson(nil, nil, nil, nil, 0.25),
		"parcel, nothing":   BoundaryLayerParcel(nil, nil, 0),
		"parcel, unstable":  BoundaryLayerParcel(z, []float64{300, 299, 298, 297}, 0),
		"parcel, with more": BoundaryLayerParcel(z, []float64{300, 299, 300, 301}, 2),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s: %g", what, got)
		}
	}
	close(t, "parcel", BoundaryLayerParcel(z, []float64{300, 299, 299, 301}, 0), 250, 1e-9)
	close(t, "parcel with excess", BoundaryLayerParcel(z, []float64{300, 299, 299, 301}, 0.5), 275, 1e-9)
	close(t, "stable from the ground", BoundaryLayerParcel(z, []float64{300, 301, 302, 303}, 0), 0, 1e-9)
}

func TestMeltingLevels(t *testing.T) {
	lnp := []float64{math.Log(1000), math.Log(900), math.Log(800), math.Log(700)}
	p := []float64{1000, 900, 800, 700}
	for _, c := range []struct {
		t    []float64
		want float64
	}{
		{[]float64{275.15, 274.15, 272.15, 270}, 0.5 * (math.Log(900) + math.Log(800))},
		{[]float64{273.15, 270, 265, 260}, math.Log(1000)},
		{[]float64{270, 275.15, 271.15, 260}, 0.5 * (math.Log(900) + math.Log(800))}, // frost below, a warm nose above
		{[]float64{270, 265, 260, 255}, nan},
		{[]float64{290, 285, 280, 275}, nan},
	} {
		got := FreezingLevel(lnp, c.t)
		if math.IsNaN(c.want) != math.IsNaN(got) {
			t.Errorf("%v: %g", c.t, math.Exp(got))
		} else if !math.IsNaN(got) {
			close(t, "freezing level", got, c.want, 1e-12)
		}
	}
	// Saturated: the wet bulb is the temperature. Dry: it lies lower, and WetBulb agrees.
	k := []float64{279.15, 276.15, 271.15, 265}
	e := make([]float64, 4)
	for i := range e {
		e[i] = wexler.At(k[i])
	}
	close(t, "saturated", wexler.WetBulbZero(lnp, p, k, e), FreezingLevel(lnp, k), 0.002)
	for i := range e {
		e[i] *= 0.3
	}
	x := wexler.WetBulbZero(lnp, p, k, e)
	w := (math.Log(1000) - x) / (math.Log(1000) - math.Log(900))
	close(t, "wet bulb there", wexler.WetBulb(math.Exp(x), k[0]+w*(k[1]-k[0]), e[0]+w*(e[1]-e[0])), zero, 0.05)
	if got := FreezingLevel(nil, nil); !math.IsNaN(got) {
		t.Error("no levels freeze")
	}
}

func TestMixedStart(t *testing.T) {
	var p, k, e []float64
	for x := 1000.0; x >= 850; x -= 7 {
		p = append(p, x)
		k = append(k, 300*Exner(x))
		e = append(e, humidity.PressureFromMixingRatio(0.010, x))
	}
	// Well mixed air mixes to itself.
	s, ok := MixedStart(p, k, e, 100)
	if !ok {
		t.Fatal("not mixed")
	}
	close(t, "pressure", s.Pressure, 1000, 0)
	close(t, "temperature", s.Temperature, 300, 1e-9)
	close(t, "vapour", s.Vapour, humidity.PressureFromMixingRatio(0.010, 1000), 1e-9)
	for what, depth := range map[string]float64{"too deep": 200, "nothing": 0, "deeper than the air": 1100} {
		if _, ok := MixedStart(p, k, e, depth); ok {
			t.Error(what)
		}
	}
	if _, ok := MixedStart(p[:1], k[:1], e[:1], 100); ok {
		t.Error("one level")
	}
	if MostUnstable(nil, nil, nil, 300) != -1 || LeastEquivalent(nil, nil, nil, 300) != -1 {
		t.Error("no level is one")
	}
}

// Precipitable water stops where it is told, between levels too: q linear in ln p there.
func TestPrecipitableWaterTop(t *testing.T) {
	p := []float64{1000, 900, 800}
	e := make([]float64, 3)
	for i := range e {
		e[i] = humidity.PressureFromMixingRatio(humidity.MixingRatioFromSpecific(0.010), p[i])
	}
	perHPa := 0.010 * 100 / constants.G0
	close(t, "to 850 hPa", PrecipitableWater(p, e, 850), 150*perHPa, 1e-9)
	close(t, "to 900 hPa", PrecipitableWater(p, e, 900), 100*perHPa, 1e-9)
	close(t, "beyond the column", PrecipitableWater(p, e, 100), 200*perHPa, 1e-9)
	close(t, "no level", PrecipitableWater(nil, nil, 100), 0, 0)
}

// Levels put in between change nothing where the air is a straight line already, and the
// energy of coarse levels is then that of fine ones.
func TestRefinedLevels(t *testing.T) {
	build := func(step float64) (lnp, p, k, tv []float64) {
		for x := math.Log(1000); x >= math.Log(150)-1e-9; x -= step {
			t := 303 - 95*(math.Log(1000)-x)/math.Log(1000.0/150)
			lnp, p, k, tv = append(lnp, x), append(p, math.Exp(x)), append(k, t), append(tv, t)
		}
		return lnp, p, k, tv
	}
	whole := math.Log(1000.0/150) / 8
	var energies [3]Energy
	for i, c := range []struct{ step, refine float64 }{{whole, 0.005}, {whole / 400, 0}, {whole, 0}} {
		lnp, p, k, tv := build(c.step)
		var a Ascent
		var b Buoyancy
		if !a.Lift(wexler, Start{1000, 303, 0.7 * wexler.At(303)}, 100, FallsOut) {
			t.Fatal("cannot be lifted")
		}
		b.Ascend(&a, lnp, p, k, tv, c.refine)
		for j := 1; j < len(b.LnP); j++ {
			if !(b.LnP[j] < b.LnP[j-1]) {
				t.Fatalf("levels %d and %d do not fall", j-1, j)
			}
		}
		energies[i] = b.Energy(Virtual, Rule{Smallest: 1})
	}
	close(t, "CAPE", energies[0].Cape, energies[1].Cape, 0.0005*energies[1].Cape)
	close(t, "CIN", energies[0].Cin, energies[1].Cin, 0.05)
	if d := math.Abs(energies[2].Cape - energies[1].Cape); d < 5 {
		t.Errorf("without levels between, CAPE should be off: %.2f", d)
	}
}

// A parcel still buoyant at the top says so, and a start between levels is compared there.
func TestOpenTopAndStartBetweenLevels(t *testing.T) {
	lnp := []float64{math.Log(1000), math.Log(800), math.Log(600), math.Log(400)}
	p := []float64{1000, 800, 600, 400}
	k := []float64{300, 285, 265, 240}
	var a Ascent
	var b Buoyancy
	if !a.Lift(wexler, Start{900, 297, 0.9 * wexler.At(297)}, 100, FallsOut) {
		t.Fatal("cannot be lifted")
	}
	b.Ascend(&a, lnp, p, k, k, 0.005)
	close(t, "first level", b.LnP[0], math.Log(900), 1e-12)
	e := b.Energy(Temperature, Rule{Smallest: 1})
	if !e.Open || !math.IsNaN(e.Neutral) || !(e.Cape > 0) {
		t.Errorf("%+v", e)
	}
	b.Ascend(&a, lnp[:1], p[:1], k[:1], k[:1], 0.005)
	if e := b.Energy(Virtual, Rule{}); !math.IsNaN(e.FreeConvection) || e.Cape != 0 {
		t.Errorf("no level above the start: %+v", e)
	}
	for what, s := range map[string]Start{"no vapour": {900, 290, 0}, "missing": {nan, 290, 5}, "all vapour": {900, 290, 900}, "infinite": {900, math.Inf(1), 5}} {
		if a.Lift(wexler, s, 100, FallsOut) {
			t.Error(what)
		}
	}
}

// Layers with little between them are one, and little layers are none.
func TestLayersJoinAndDrop(t *testing.T) {
	profile := func(values ...float64) *Buoyancy {
		b := &Buoyancy{lnLCL: math.Log(1000)}
		for i, v := range values {
			b.LnP, b.Virtual, b.Temperature = append(b.LnP, math.Log(1000)-0.1*float64(i)), append(b.Virtual, v), append(b.Temperature, v)
		}
		return b
	}
	// Triangles of ±2 K over 0.1 in ln p hold 57 J/kg in two of them.
	deep := profile(-1, 2, 2, -2, 2, 2, -1)
	if e := deep.Energy(Virtual, Rule{Smallest: 1}); e.Layers != 2 {
		t.Errorf("%d layers, want 2", e.Layers)
	}
	if e := deep.Energy(Virtual, Rule{Smallest: 40}); e.Layers != 1 {
		t.Errorf("%d layers where less than 40 J/kg separate them, want 1", e.Layers)
	}
	shallow := profile(-1, 0.01, -1, 2, 2, -1)
	e := shallow.Energy(Virtual, Rule{Layer: Lowest, Smallest: 1})
	if e.Layers != 1 || e.FreeConvection > math.Log(1000)-0.2 {
		t.Errorf("a layer of 0.1 J/kg counts: %+v", e)
	}
	if e := profile(-1, -1, -1).Energy(Virtual, Rule{Smallest: 1}); e.Layers != 0 || e.Cape != 0 || !math.IsNaN(e.Cin) {
		t.Errorf("nowhere buoyant: %+v", e)
	}
	// All of it: layers and what lies between add up.
	parts := profile(-1, 2, 2, -3, 2, 2, 2, -1)
	low, whole := parts.Energy(Virtual, Rule{Layer: Lowest, Smallest: 1}), parts.Energy(Virtual, Rule{Layer: Whole, Smallest: 1})
	high := parts.Energy(Virtual, Rule{Layer: Highest, Smallest: 1})
	close(t, "whole", whole.Cape, low.Cape+high.Cape, 1e-9)
	if whole.FreeConvection != low.FreeConvection || whole.Neutral != high.Neutral {
		t.Error("the whole is not from the lowest to the highest")
	}
}

// A downdraft of saturated air in a moist-adiabatic atmosphere of its own temperature has
// no energy but that of the drier air around it being virtually colder.
func TestDowndraft(t *testing.T) {
	var lnp, p, k, tv, e []float64
	for x := 1000.0; x >= 500; x -= 5 {
		p, lnp = append(p, x), append(lnp, math.Log(x))
	}
	k = make([]float64, len(p))
	wexler.PseudoAdiabat(k, p, 1000, 290)
	for i := range p {
		e = append(e, wexler.At(k[i]))
		tv = append(tv, humidity.VirtualTemperature(k[i], e[i], p[i]))
	}
	var d Descent
	close(t, "its own adiabat", wexler.Downdraft(lnp, p, k, tv, e, 60, &d), 0, 0.05)
	// 2 K warmer surroundings, virtually: Rd · 2 K · ln(1000/700).
	for i := range tv {
		tv[i] += 2
	}
	got := wexler.Downdraft(lnp, p, k, tv, e, 60, &d)
	close(t, "in air 2 K warmer", got, constants.Rd*2*math.Log(1000.0/700), 0.05)
	close(t, "from the ground", wexler.Downdraft(lnp, p, k, tv, e, 0, &d), 0, 0)
}
