package hydrostatic

import (
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"leadline/internal/humidity"
	"leadline/internal/igra"
	"leadline/internal/sharedtest"
)

// Real soundings with quantities that another program has derived: the derived
// layout of the Integrated Global Radiosonde Archive, version 2 (NOAA/NCEI). It
// gives temperature and virtual temperature to 0.1 K, vapour pressure to 0.001 hPa
// and height to 1 gpm. The gas constant and gravity it uses are not known here, nor
// what it does where humidity is missing: heights are held to 2 gpm and 0.05 %
// (measured: 1 gpm in the lowest 10 km, 0.042 % at 34 km, ours the higher). That the archive takes saturation
// over water by a formula within 0.1 % of Bolton 1980 is found here, not documented.
func TestAgainstDerivedArchive(t *testing.T) {
	dir := sharedtest.Dir(t, "data/igra")
	names, err := filepath.Glob(filepath.Join(dir, "*-drvd.txt"))
	if err != nil || len(names) == 0 {
		t.Fatal("no derived soundings", err)
	}
	levels, tops := 0, 0
	worstHeight, worstVirtual := 0.0, 0.0
	for _, name := range names {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		for r := igra.NewDerivedReader(f); ; {
			s, err := r.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			var cut *igra.RecordError
			if errors.As(err, &cut) {
				t.Log(err)
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			p, temperature := s.PressureHPa.Values, s.TemperatureKelvin.Values
			e, es := s.VapourPressureHPa.Values, s.SaturationVapourPressureHPa.Values
			virtual, gpm := s.VirtualTemperatureKelvin.Values, s.CalculatedHeightGpm.Values

			for i := range p {
				// Saturation within what 0.05 K of rounding moves it.
				want := humidity.Bolton.OverWater(temperature[i])
				slack := 0.05*humidity.Bolton.SlopeOverWater(temperature[i]) + 0.001 + 0.0006/want
				if d := math.Abs(es[i]/want - 1); d > slack {
					t.Errorf("%v hPa, %.1f K: saturation %.3f hPa, archive %.3f", p[i], temperature[i], want, es[i])
				}
				tv := humidity.VirtualTemperature(temperature[i], e[i], p[i])
				if d := math.Abs(tv - virtual[i]); !math.IsNaN(d) {
					levels++
					worstVirtual = math.Max(worstVirtual, d)
				}
			}
			// Start where the archive's own heights start.
			first := 0
			for first < len(p) && (math.IsNaN(gpm[first]) || math.IsNaN(virtual[first])) {
				first++
			}
			if first == len(p) {
				continue
			}
			heights := make([]float64, len(p)-first)
			HeightsFromPressure(heights, p[first:], virtual[first:], gpm[first])
			for i, h := range heights {
				if d := math.Abs(h - gpm[first+i]); !math.IsNaN(d) && !math.IsNaN(virtual[first+i]) {
					tops++
					worstHeight = math.Max(worstHeight, d)
					if limit := 2 + 5e-4*(h-gpm[first]); d > limit {
						t.Errorf("%v hPa: %.1f gpm, archive %.0f, more than %.1f apart", p[first+i], h, gpm[first+i], limit)
					}
				}
			}
		}
	}
	t.Logf("%d levels with virtual temperature, largest difference %.3f K; %d heights, largest difference %.2f gpm",
		levels, worstVirtual, tops, worstHeight)
	if levels < 100 || tops < 100 {
		t.Errorf("only %d and %d levels compared", levels, tops)
	}
	// Two roundings of 0.05 K each, and 0.01 K for ε.
	if worstVirtual > 0.11 {
		t.Errorf("virtual temperature differs by %.3f K", worstVirtual)
	}
}
