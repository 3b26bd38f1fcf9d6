package correct_test

import (
	"math"
	"testing"

	"leadline/internal/correct"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

func recoveryIn(r correct.Result) (tau float64, origin string) {
	for _, s := range r.Steps {
		if s.Method != "twin-humidity-merge" {
			continue
		}
		for _, c := range s.Coefficients {
			if c.Name == "recovery_time_constant" {
				return c.Value.Value(), c.Source
			}
		}
	}
	return math.NaN(), ""
}

// Elements without a thermometer: how fast they cool is found in the readings of each
// flight, near what the simulator's own elements do, which are up to a fifth off their
// sheet; and a sheet that is wrong by half does not spoil the merge.
func TestRecoveryIsFittedWhereElementsHaveNoThermometer(t *testing.T) {
	own := []sounding.Variable{sounding.HumiditySensorTempA, sounding.HumiditySensorTempB}
	var off, n float64
	for k, s := range truth.Presets() {
		f := fly(t, s, uint64(900+k))
		bare := without(f.checked, own...)
		tau, origin := recoveryIn(run(t, bare, correct.Default()))
		t.Logf("%s: %.2f s by %s", s.Name, tau, origin)
		if measured, by := recoveryIn(run(t, f.checked, correct.Default())); by != "sheet" || measured != f.checked.Sheet.Humidity.Heating.Recovery {
			t.Errorf("%s: elements with thermometers took %.2f s by %s", s.Name, measured, by)
		}
		if origin != "fitted" {
			continue // too cold or too dry at all heights with a recovery
		}
		truth := f.checked.Sheet.Humidity.Heating.Recovery * f.flight.Hidden.ThermalRecovery
		t.Logf("  its elements: %.2f s", truth)
		off += math.Abs(math.Log(tau / truth))
		n++

		wrong := *bare
		sheet := *bare.Sheet
		sheet.Humidity.Heating.Recovery *= 2
		wrong.Sheet = &sheet
		again, origin := recoveryIn(run(t, &wrong, correct.Default()))
		if origin != "fitted" || math.Abs(again/tau-1) > 1e-9 {
			t.Errorf("%s: with another figure in the sheet %.2f s by %s, want %.2f s", s.Name, again, origin, tau)
		}
	}
	if n < 6 {
		t.Errorf("only %.0f of 14 flights could be fitted", n)
	}
	mean := math.Exp(off/n) - 1
	t.Logf("fitted time constants are %.0f %% off those of the elements on average", 100*mean)
	if mean > 0.15 {
		t.Errorf("fitted time constants are %.0f %% off those of the elements, want 15 %% at most", 100*mean)
	}
}
