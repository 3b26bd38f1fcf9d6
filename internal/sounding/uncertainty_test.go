package sounding

import (
	"math"
	"testing"

	"leadline/internal/authority"
)

// Rows UNC-01 to UNC-04 of authorities/jcgm-100.
func TestUncertaintyAgainstAuthorities(t *testing.T) {
	authority.Run(t, "sounding", func(t *testing.T, row authority.Row) {
		switch row.ID {
		case "UNC-01":
			row.Check(t, Quadrature(0.10, 0.15))
		case "UNC-02": // the sum of two fully correlated values is twice the mean of two common parts
			row.Check(t, 2*MeanUncertainty(nil, []float64{0.10, 0.15}))
		case "UNC-03":
			independent, common := make([]float64, 9), make([]float64, 9)
			for i := range independent {
				independent[i], common[i] = 0.3, 0.1
			}
			row.Check(t, MeanUncertainty(independent, common))
		case "UNC-04":
			row.Check(t, Agreement(20.0, 0.15, 20.5, 0.20))
		default:
			t.Fatalf("row %s is claimed for sounding but not run", row.ID)
		}
	})
}

func TestUnknownUncertaintyStaysUnknown(t *testing.T) {
	if u := Quadrature(math.NaN(), math.NaN()); !math.IsNaN(u) {
		t.Errorf("two unknown parts give %g", u)
	}
	if u := Quadrature(math.NaN(), 0.2); u != 0.2 {
		t.Errorf("one unknown part gives %g, want the other", u)
	}
	if u := MeanUncertainty(nil, nil); !math.IsNaN(u) {
		t.Errorf("no sample gives %g", u)
	}
}
