package humidity

// Refractivity holds the coefficients of N = k1 pd/T + k2 e/T + k3 e/T², with
// pressures in hPa and T in K.
type Refractivity struct{ Dry, Wet, WetSquared float64 }

var (
	// RefractivityITU is Recommendation ITU-R P.453, three-term form.
	RefractivityITU = Refractivity{77.6, 72, 3.75e5}
	// RefractivityTwoTerm is the compact form of the same Recommendation,
	// 77.6/T (p + 4810 e/T), good to 0.1 N near the ground.
	RefractivityTwoTerm = Refractivity{77.6, 77.6, 77.6 * 4810}
	// RefractivityRueger is the 'best average' of Rüeger 2002 (from memory).
	RefractivityRueger = Refractivity{77.6890, 71.2952, 375463}
	// RefractivityThayer is Thayer 1974 (Radio Sci. 9, 803).
	RefractivityThayer = Refractivity{77.6, 64.8, 3.776e5}
)

// At returns N, in millionths, of air at pressure p hPa with vapour pressure e hPa
// at t K.
func (c Refractivity) At(p, e, t float64) float64 {
	return (c.Dry*(p-e) + (c.Wet+c.WetSquared/t)*e) / t
}

// ModifiedRefractivity returns M = N + 0.157 h for a height h in m: the refractivity
// over a flat Earth (1e6 over the Earth's radius of 6,371 km). A layer in which M
// falls with height is a duct.
func ModifiedRefractivity(n, height float64) float64 { return n + 1e6/6.371e6*height }
