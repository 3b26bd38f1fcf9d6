package prelaunch

import (
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"leadline/internal/gas"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// flown is one simulated flight that was followed to the ground, thinned to what the
// tests need: the ascent is averaged over a minute.
type flown struct {
	truth   *truth.Truth
	balloon truth.Balloon
	fill    gas.Fill
	seen    gas.Observed
	burst   float64 // m, diameter it grew to by the true air around it
	fall    float64 // m/s near the ground, by the density law
}

// scenario is a plain flight of a climate whose nozzle lift in kg is given.
func scenario(t testing.TB, c truth.Climate, nozzle float64) truth.Scenario {
	t.Helper()
	s, err := truth.Preset(c, true)
	if err != nil {
		t.Fatal(err)
	}
	s.Before, s.Interval, s.Until, s.Rest = 20, 4, truth.UntilLanding, 20
	s.Balloon.NozzleLift = nozzle
	s.Balloon.String = 30
	return s
}

func fly(t testing.TB, s truth.Scenario, seed uint64) flown {
	t.Helper()
	f, err := truth.Simulate(s, seed)
	if err != nil {
		t.Fatal(err)
	}
	x := flown{truth: &f.Truth, balloon: s.Balloon}
	tr := &f.Truth
	air := func(i int) gas.Air {
		return gas.Air{Pressure: tr.Pressure[i], Temperature: tr.Temperature[i], Vapour: tr.VapourPressure[i]}
	}
	release := int(tr.Release / s.Interval)
	kind, err := gas.ParseKind(s.Balloon.Gas)
	if err != nil {
		t.Fatal(err)
	}
	x.fill, err = gas.FillForNozzleLift(gas.Mixture{Kind: kind, Purity: 1}, gas.Load{Balloon: s.Balloon.Mass, Payload: s.Balloon.Payload}, air(release), s.Balloon.NozzleLift)
	if err != nil {
		t.Fatal(err)
	}
	x.seen.Fill = x.fill
	step := int(60 / s.Interval)
	top := int(tr.Burst / s.Interval)
	for i := release + step; i+step < top; i += step {
		x.seen.Air = append(x.seen.Air, air(i+step/2))
		x.seen.Rate = append(x.seen.Rate, (tr.HeightMSL[i+step]-tr.HeightMSL[i])/60)
	}
	x.burst = x.fill.Diameter(air(top))
	var sum, n float64
	for i := top + int(120/s.Interval); i < tr.Len() && tr.Phase[i] == sounding.Descending; i++ {
		if w := tr.AscentRate[i]; w < -1 {
			sum += -w * math.Sqrt(air(i).Density()/gas.Reference)
			n++
		}
	}
	x.fall = sum / n
	return x
}

// many flies seeds from..to of a scenario on two cores.
func many(t testing.TB, s truth.Scenario, from, to uint64) []flown {
	t.Helper()
	out := make([]flown, to-from)
	var wait sync.WaitGroup
	next := make(chan uint64)
	for range 2 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for seed := range next {
				out[seed-from] = fly(t, s, seed)
			}
		}()
	}
	for seed := from; seed < to; seed++ {
		next <- seed
	}
	close(next)
	wait.Wait()
	return out
}

func (x *flown) meanRate() float64 {
	tr := x.truth
	k := int(tr.Burst / (tr.Time[1] - tr.Time[0]))
	r := int(tr.Release / (tr.Time[1] - tr.Time[0]))
	return (tr.HeightMSL[k] - tr.HeightMSL[r]) / (tr.Burst - tr.Release)
}

// columnOf is the true air of a flight's ascent as a profile.
func (x *flown) columnOf() *Profile {
	tr := x.truth
	p := &Profile{Source: "truth"}
	for i := range tr.Len() {
		if tr.Phase[i] != sounding.Ascending {
			continue
		}
		if n := len(p.Height); n == 0 || tr.HeightMSL[i] > p.Height[n-1]+40 {
			p.add(tr.HeightMSL[i], tr.WindU[i], tr.WindV[i], tr.Temperature[i], tr.Pressure[i])
		}
	}
	return p
}

func meanAnd(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, math.Sqrt(sd)
}

// A station fits drag to flights it has made, plans the next fills for a target rate, and
// flies them: the loop closes within 5 % (issue: must show).
func TestFillToAscentRateClosesWithTheSimulator(t *testing.T) {
	for _, climate := range []truth.Climate{truth.MidLatitudeSummer, truth.Climates()[0], truth.Climates()[3]} {
		past := many(t, scenario(t, climate, 1.35), 1, 17)
		var seen []gas.Observed
		var bursts []float64
		for i := range past {
			seen = append(seen, past[i].seen)
			bursts = append(bursts, past[i].burst)
		}
		drag, err := gas.FitDrag(seen)
		if err != nil {
			t.Fatal(err)
		}
		burst, _ := meanAnd(bursts)
		for _, target := range []float64{4.5, 5.5} {
			var ratio, byDefault []float64
			// The desk plans from one surface observation and the last flight's air.
			x := &past[0]
			ground := x.truth.HeightMSL[0]
			air := x.columnOf().Atmosphere(x.fill.Air, ground, x.truth.Latitude[0])
			fill, err := gas.FillForMeanRate(x.fill.Gas, x.fill.Load, x.fill.Air, target, ground, burst, drag, air)
			if err != nil {
				t.Fatal(err)
			}
			plain, err := fill.Climb(ground, burst, gas.PlanningDrag(), air, 250)
			if err != nil {
				t.Fatal(err)
			}
			for _, y := range many(t, scenario(t, climate, math.Round(1000*fill.NozzleLift())/1000), 101, 125) {
				ratio = append(ratio, y.meanRate()/target)
				byDefault = append(byDefault, y.meanRate()/plain.Mean)
			}
			m, sd := meanAnd(ratio)
			d, _ := meanAnd(byDefault)
			t.Logf("%s, target %g m/s: nozzle lift %.3f kg; flown/planned %.3f ± %.3f over %d flights (planning default: %.3f)", climate, target, fill.NozzleLift(), m, sd, len(ratio), d)
			if math.Abs(m-1) > 0.05 {
				t.Errorf("%s, %g m/s: flights climb at %.3f of the target, want within 5 %%", climate, target, m)
			}
			if math.Abs(d-1) > 2*gas.PlanningDrag().Relative/2 {
				t.Errorf("%s, %g m/s: the planning default is off by more than its two standard uncertainties: %.3f", climate, target, d)
			}
			if sd > 2*drag.Relative/2+0.02 {
				t.Errorf("%s: flights spread by %.3f, the fit says %.3f", climate, sd, drag.Relative/2)
			}
		}
	}
}

// The ellipse holds the true landing of 68 and 95 % of simulated flights (issue: must
// show). The forecast is the true wind with an error whose size and depth are those
// stated, drawn here by another construction (a sum of waves) than in Predict.
func TestEllipseHoldsTheLanding(t *testing.T) {
	climate := truth.MidLatitudeSummer
	past := many(t, scenario(t, climate, 1.35), 1, 25)
	var seen []gas.Observed
	var bursts, falls []float64
	for i := range past {
		seen, bursts, falls = append(seen, past[i].seen), append(bursts, past[i].burst), append(falls, past[i].fall)
	}
	drag, err := gas.FitDrag(seen)
	if err != nil {
		t.Fatal(err)
	}
	burst, uBurst := meanAnd(bursts)
	fall, uFall := meanAnd(falls)
	t.Logf("station's own: drag %+v, burst %.2f ± %.2f m, fall %.2f ± %.2f m/s", drag, burst, uBurst, fall, uFall)
	set := Default()
	set.Drift.Trials, set.Drift.Step = 400, 200
	in68, in95, n := 0, 0, 0
	var distances, scaled []float64
	for _, x := range many(t, scenario(t, climate, 1.35), 201, 351) {
		tr := x.truth
		random := rand.New(rand.NewPCG(uint64(n), 77))
		doubt := Doubt{Rate: drag.Relative / 2, BurstDiameter: uBurst / burst, Fall: uFall / fall, WindLow: 2, WindHigh: 4, WindDepth: 2500,
			Known: sounding.NotSet, WindKnown: sounding.NotSet}
		forecast := x.columnOf()
		ground := tr.HeightMSL[0]
		addError(forecast, &doubt, ground, random)
		last := tr.Len() - 1
		r := int(tr.Release / (tr.Time[1] - tr.Time[0]))
		f := &Flight{Start: Place{tr.Latitude[r], tr.Longitude[r]}, Ground: tr.HeightMSL[r], Landing: tr.HeightMSL[last], Fill: x.fill, Drag: drag, Burst: burst, Fall: gas.Fall{Rate: fall, Relative: uFall / fall}}
		air := forecast.Atmosphere(x.fill.Air, f.Ground, f.Start.Latitude)
		p, err := Predict(f, State{}, forecast, air, doubt, set)
		if err != nil {
			t.Fatal(err)
		}
		landing := Place{tr.Latitude[last], tr.Longitude[last]}
		of68, of95 := p.Ellipse.Within(landing)
		n++
		if of68 <= 1 {
			in68++
		}
		if of95 <= 1 {
			in95++
		}
		d, _ := landing.From(p.Landing.Place)
		distances = append(distances, d/1000)
		scaled = append(scaled, p.Ellipse.Major95/1000)
	}
	share := func(k int) float64 { return float64(k) / float64(n) }
	md, _ := meanAnd(distances)
	ms, _ := meanAnd(scaled)
	t.Logf("%d flights: %.1f %% within the 68 %% ellipse, %.1f %% within the 95 %% ellipse; misses %.1f km, 95 %% half-axis %.1f km on average", n, 100*share(in68), 100*share(in95), md, ms)
	for _, c := range []struct {
		want float64
		got  int
	}{{0.68, in68}, {0.95, in95}} {
		// sampling error of n trials, three standard deviations
		if u := math.Sqrt(c.want * (1 - c.want) / float64(n)); math.Abs(share(c.got)-c.want) > 3*u {
			t.Errorf("%.1f %% within the %.0f %% ellipse, want within 3 × %.1f %%", 100*share(c.got), 100*c.want, 100*u)
		}
	}
}

// addError adds to a profile an error of the stated size whose likeness falls as
// exp(−Δz/depth): random waves with the spectrum of that likeness (Cauchy-distributed
// wave numbers).
func addError(p *Profile, d *Doubt, ground float64, random *rand.Rand) {
	const waves = 200
	for _, x := range [][]float64{p.U, p.V} {
		k, phase := make([]float64, waves), make([]float64, waves)
		for i := range k {
			k[i] = math.Tan(math.Pi*(random.Float64()-0.5)) / d.WindDepth
			phase[i] = 2 * math.Pi * random.Float64()
		}
		for i, z := range p.Height {
			e := 0.0
			for j := range k {
				e += math.Cos(k[j]*z + phase[j])
			}
			x[i] += d.wind(z, ground) * e * math.Sqrt(2.0/waves)
		}
	}
}
