package constants

import (
	"math"
	"testing"
)

// The values are those of the project's methods sheet, section 0, which gives
// them to fewer digits than the quotients here.
func TestDerivedConstants(t *testing.T) {
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		{"epsilon", Epsilon, 0.62198, 5e-6},
		{"Rv", Rv, 461.5, 0.02},
		{"cpd", Cpd, 1004.7, 0.03},
		// The sheet prints 287.0529, the value of the ICAO atmosphere with its
		// M = 28.964420; R* and M of 1976 give 287.0531.
		{"Rd from the molar constants of 1976", GasConstant1976 / MolarMassDryAir, 287.0531, 5e-5},
	} {
		if math.Abs(c.got-c.want) > c.tol {
			t.Errorf("%s = %.6f, want %.6f ± %g", c.name, c.got, c.want, c.tol)
		}
	}
	if rel := math.Abs(Rd/(GasConstant1976/MolarMassDryAir) - 1); rel > 1.1e-5 {
		t.Errorf("Rd differs from R*/Md of 1976 by %.2g, stated as 0.001 %%", rel)
	}
	if Version == "" {
		t.Error("the set of constants has no version to write into products")
	}
}
