package indices

import (
	"errors"
	"io"
	"math"
	"os"
	"testing"

	"leadline/internal/igra"
	"leadline/internal/sharedtest"
)

// Real soundings with indices another program has derived: the derived layout of the
// Integrated Global Radiosonde Archive, version 2 (NOAA/NCEI). It prints pressures to
// 0.01 hPa, heights to 1 m, indices to 1 K and 1 J kg⁻¹. Its conventions are not documented
// here; that its water column ends at 500 hPa, its mixed layer is the parcel method's and
// its energy is by virtual temperature is found by this comparison. Its lifted and
// Showalter indices are 0.9 to 1.9 K above ours, and are not compared.
func TestAgainstDerivedArchive(t *testing.T) {
	f, err := os.Open(sharedtest.Dir(t, "data/igra/USM00070026-drvd.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	set := quick()
	// Levels of a coarse archive are no gaps, and the archive counts every buoyant layer.
	set.GapHPa, set.GapS, set.GapM, set.Smallest, set.WaterTop = 200, math.Inf(1), 5000, 0.001, 500
	compared := 0
	for r := igra.NewDerivedReader(f); ; {
		s, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		var broken *igra.RecordError
		if errors.As(err, &broken) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		var c columns
		for i := range s.PressureHPa.Values {
			c.p, c.t, c.z = append(c.p, s.PressureHPa.Values[i]), append(c.t, s.TemperatureKelvin.Values[i]), append(c.z, s.CalculatedHeightGpm.Values[i])
			c.rh = append(c.rh, 100*s.VapourPressureHPa.Values[i]/s.SaturationVapourPressureHPa.Values[i])
			c.u, c.v = append(c.u, s.EastwardWindMetersASecond.Values[i]), append(c.v, s.NorthwardWindMetersASecond.Values[i])
		}
		flight := c.flight(usual)
		flight.Sheet.Humidity.Formula = "bolton" // found by the test of package hydrostatic
		x := Find(flight, nil, set)
		near := func(name string, archive, margin float64) {
			if math.IsNaN(archive) {
				return
			}
			compared++
			if got := value(t, &x, name); !(math.Abs(got-archive) <= margin) {
				t.Errorf("%s: %.2f, archive %.2f ± %g", name, got, archive, margin)
			}
		}
		// Temperatures are to 0.1 K and vapour to 0.001 hPa in what is read here.
		near("surface_lcl_pressure", s.CondensationLevelPressureHPa, 0.3)
		near("surface_lcl_height", s.CondensationLevelHeightMeters, 2)
		if s.AvailableEnergyJoulesAKilogram >= 1 {
			// With less, the parcel is hardly warmer anywhere, and the rounding to 0.1 K moves the crossing by hPa.
			near("surface_lfc_pressure", s.FreeConvectionLevelPressureHPa, 0.5)
		}
		near("surface_el_pressure", s.NeutralBuoyancyLevelPressureHPa, 0.5)
		near("surface_cape", s.AvailableEnergyJoulesAKilogram, 0.6)
		near("surface_cin", s.InhibitionJoulesAKilogram, 0.6)
		near("k_index", s.KIndexCelsius, 0.7)
		near("total_totals", s.TotalTotalsIndexKelvin, 0.7)
		near("precipitable_water", s.PrecipitableWaterMillimeters, 0.1)
		near("freezing_level_pressure", s.FreezingLevelPressureHPa, 1.5)
		if x.Get("boundary_layer_parcel").Refusal == "" {
			near("boundary_layer_parcel", s.MixedLayerHeightMeters, 2)
		}
	}
	if compared < 15 {
		t.Errorf("only %d values compared", compared)
	}
	t.Logf("%d values", compared)
}
