package gas

import (
	"math"
	"testing"

	"leadline/internal/authority"
)

// performance is a row of a published table of balloon performance.
type performance struct {
	source                     string
	mass, payload, free, burst float64 // kg, kg, kg, m
	release, rate, top         float64 // m, m min⁻¹, km
}

// performances are the guide's table (authorities/ballooning-guides, hydrogen) and the
// typical performance of WMO-No. 8 (from memory; burst diameter from the guide, gas not
// stated: hydrogen taken).
func performances(t *testing.T) []performance {
	var out []performance
	for _, row := range authority.Rows(t) {
		if row.ID >= "BAL-19" && row.ID <= "BAL-31" {
			mass, release, _, payload, free, burst := tableRow(t, row.Inputs)
			out = append(out, performance{row.ID, mass, payload, free, burst, release, 320, row.Value(t)})
		}
	}
	table := DefaultTable()
	for _, p := range []performance{
		{"WMO-No. 8", 0.2, 0, 0.5, 0, 1.2, 300, 21},
		{"WMO-No. 8", 0.35, 0.25, 0.6, 0, 1.3, 300, 26},
		{"WMO-No. 8", 0.6, 0.25, 0.9, 0, 1.4, 300, 31},
		{"WMO-No. 8", 1, 0.25, 1.1, 0, 1.6, 300, 34},
		{"WMO-No. 8", 1.5, 1, 1.3, 0, 1.8, 300, 34},
		{"WMO-No. 8", 3, 1, 1.7, 0, 2.1, 300, 38},
	} {
		var err error
		if p.burst, err = table.BurstDiameter(p.mass); err != nil {
			t.Fatal(err)
		}
		out = append(out, p)
	}
	return out
}

func meanRate(t *testing.T, p performance, drag Drag) (rate, burst float64) {
	t.Helper()
	f, err := FillForFreeLift(Mixture{Hydrogen, 1}, Load{p.mass, p.payload}, Standard(0), p.free)
	if err != nil {
		t.Fatal(err)
	}
	a, err := f.Climb(0, p.burst, drag, Standard, 250)
	if err != nil {
		t.Fatal(err)
	}
	return a.Mean * 60, a.Burst / 1000
}

// The planning default is what fits the published tables best, the one free number
// (Below) being searched again here.
func TestPlanningDragFitsThePublishedTables(t *testing.T) {
	rows := performances(t)
	off := func(drag Drag) (rms, mean, worst float64) {
		n := float64(len(rows))
		for _, p := range rows {
			rate, _ := meanRate(t, p, drag)
			x := math.Log(rate / p.rate)
			rms += x * x / n
			mean += x / n
			worst = math.Max(worst, math.Abs(x))
		}
		return math.Sqrt(rms), mean, worst
	}
	best, bestAt := math.Inf(1), 0.0
	for below := 0.40; below <= 1; below += 0.01 {
		d := PlanningDrag()
		d.Below = below
		if rms, _, _ := off(d); rms < best {
			best, bestAt = rms, below
		}
	}
	rms, mean, worst := off(PlanningDrag())
	t.Logf("%d balloons: best at Below = %.2f (rms %.1f %%); the default has rms %.1f %%, mean %+.1f %%, worst %.1f %%", len(rows), bestAt, 100*best, 100*rms, 100*mean, 100*worst)
	if math.Abs(bestAt-PlanningDrag().Below) > 0.011 {
		t.Errorf("the tables fit best with Below = %.2f, not %.2f", bestAt, PlanningDrag().Below)
	}
	// A coefficient known to 20 % is a rate known to 10 %, k = 1; two of that hold for all but a few.
	if rms > PlanningDrag().Relative/2 || worst > PlanningDrag().Relative {
		t.Errorf("rms %.1f %% and worst %.1f %% are more than the stated 10 %% (k = 1) and 20 %% (k = 2)", 100*rms, 100*worst)
	}
}

// METHODS 8.2: with the density of sea level the tables give coefficients of 0.27–0.31
// and 0.29–0.37.
func TestEffectiveCoefficientOfTheTables(t *testing.T) {
	for _, p := range performances(t) {
		low, high := 0.265, 0.315
		if p.source == "WMO-No. 8" {
			low, high = 0.285, 0.375
		}
		f, err := FillForFreeLift(Mixture{Hydrogen, 1}, Load{p.mass, p.payload}, Standard(0), p.free)
		if err != nil {
			t.Fatal(err)
		}
		w := p.rate / 60
		area := math.Pi / 4 * p.release * p.release
		cd := 2 * p.free * 9.80665 / (f.Air.Density() * w * w * area)
		if p.source == "WMO-No. 8" && p.mass == 0.2 {
			continue // rounded to 120 cm and 500 g: 0.28, outside what the sheet states
		}
		if cd < low || cd > high {
			t.Errorf("%s, %g kg: coefficient %.3f, want %g to %g", p.source, p.mass, cd, low, high)
		}
	}
}

// The drag of ten night flights of 1200 g balloons: Gallice et al. 2011, Atmos. Meas.
// Tech. 4, 2235, eq. 6, with the Reynolds number of the balloon's radius and offsets of
// ±25 % from balloon to balloon (typed from memory; found again in a second text, the paper
// itself was not at hand).
func galliceDrag(reynolds float64) float64 {
	x := math.Log(reynolds / 2)
	return 4.808e-2*x*x - 1.406*x + 10.490
}

// The default lies within what one balloon differs from another of a drag curve that was
// measured, over the Reynolds numbers of the troposphere and lower stratosphere, and on the
// side of the faster balloons of the published tables. Taken as the default, the measured
// curve would make those tables' balloons climb too slowly.
func TestPlanningDragAgainstAMeasuredCurve(t *testing.T) {
	for _, reynolds := range []float64{1.5e5, 2e5, 3e5, 4e5, 6e5, 8e5, 1e6} {
		ratio := PlanningDrag().Coefficient(reynolds) / galliceDrag(reynolds)
		t.Logf("Re %.1e: default %.3f, measured %.3f", reynolds, PlanningDrag().Coefficient(reynolds), galliceDrag(reynolds))
		if ratio < 0.75 || ratio > 1.25 {
			t.Errorf("at Re %g the default is %.2f of the measured curve, want within the 25 %% balloons differ by", reynolds, ratio)
		}
	}
	mean := func(coefficient func(float64) float64) float64 {
		off, rows := 0.0, performances(t)
		for _, p := range rows {
			f, err := FillForFreeLift(Mixture{Hydrogen, 1}, Load{p.mass, p.payload}, Standard(0), p.free)
			if err != nil {
				t.Fatal(err)
			}
			off += math.Log(60*meanOver(f, p.burst, coefficient)/p.rate) / float64(len(rows))
		}
		return off
	}
	ours, measured := mean(PlanningDrag().Coefficient), mean(galliceDrag)
	t.Logf("mean rates of the published tables: default %+.1f %%, measured curve %+.1f %%", 100*ours, 100*measured)
	if math.Abs(ours) > math.Abs(measured) || measured > 0 {
		t.Errorf("the default is off by %+.1f %% from the tables and the measured curve by %+.1f %%: the default is not the better one any more", 100*ours, 100*measured)
	}
}

// meanOver integrates a climb in the standard atmosphere by steps of 50 m with any curve of
// drag, apart from Climb.
func meanOver(f Fill, burst float64, coefficient func(float64) float64) float64 {
	z, t, w := 0.0, 0.0, 5.0
	for air := Standard(0); f.Diameter(air) < burst; air = Standard(z) {
		d, force := f.Diameter(air), f.FreeLift(air)*9.80665
		for range 60 {
			cd := coefficient(Reynolds(d, w, air))
			w += 0.5 * (math.Sqrt(2*force/(air.Density()*cd*math.Pi/4*d*d)) - w)
		}
		z += 50
		t += 50 / w
	}
	return z / t
}
