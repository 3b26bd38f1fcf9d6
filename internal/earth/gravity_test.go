package earth

import (
	"math"
	"testing"
)

// normalPotential is the closed form of the gravity potential of the level
// ellipsoid in m² s⁻² (Heiskanen and Moritz 1967, eq. 2-62), with the defining
// constants of WGS-84 (NIMA TR8350.2, table 3.1): independent of Somigliana's
// formula and of any expansion in height.
func normalPotential(lat, h float64) float64 {
	const (
		gm    = 3.986004418e14
		omega = 7292115e-11
		a, b  = SemiMajorAxis, SemiMinorAxis
	)
	e := math.Sqrt(a*a - b*b)
	q := func(u float64) float64 {
		// ½[(1 + 3u²/E²) atan(E/u) − 3u/E] as a series in E/u
		x := e / u
		sum, power := 0.0, x
		for k := range 40 {
			n := float64(2*k + 1)
			sum += power * (1/n - 3/(n+2))
			power *= -x * x
		}
		return 0.5 * sum
	}
	sin, cos := SinCosDegrees(lat)
	n := a / math.Sqrt(1-EccentricitySquared*sin*sin)
	r, z := (n+h)*cos, (n*(1-EccentricitySquared)+h)*sin
	t := r*r + z*z - e*e
	u := math.Sqrt(0.5 * t * (1 + math.Sqrt(1+4*e*e*z*z/(t*t))))
	sin2, cos2 := z*z/(u*u), r*r/(u*u+e*e)
	return gm/e*math.Atan(e/u) + 0.5*omega*omega*a*a*q(u)/q(b)*(sin2-1.0/3) + 0.5*omega*omega*(u*u+e*e)*cos2
}

func TestGeopotentialHeightAgainstNormalPotential(t *testing.T) {
	worst := 0.0
	for lat := -90.0; lat <= 90; lat += 7.5 {
		for h := -400.0; h <= 40000; h += 400 {
			want := (normalPotential(lat, 0) - normalPotential(lat, h)) / G0
			got := GeopotentialHeight(h, lat)
			worst = math.Max(worst, math.Abs(got-want))
			if back := GeometricHeight(got, lat); math.Abs(back-h) > 1e-7 {
				t.Errorf("%g m at %g° comes back as %.9f m", h, lat, back)
			}
		}
	}
	if worst > 0.02 {
		t.Errorf("largest difference %.4f gpm, stated as 0.02 gpm", worst)
	}
	t.Logf("largest difference from the closed form up to 40 km: %.4f gpm", worst)
}

func TestGravityAgainstNormalPotential(t *testing.T) {
	worst := 0.0
	for lat := -90.0; lat <= 90; lat += 7.5 {
		for h := 0.0; h <= 40000; h += 1000 {
			const step = 20.0
			want := (normalPotential(lat, h-step) - normalPotential(lat, h+step)) / (2 * step)
			worst = math.Max(worst, math.Abs(Gravity(lat, h)-want))
		}
	}
	if worst > 1.1e-5 {
		t.Errorf("largest difference %.2g m s⁻², stated as 1.1e-5", worst)
	}
}

// An unknown undulation must not pass for a height above the sea.
func TestUnknownUndulationStaysUnknown(t *testing.T) {
	if h := HeightAboveSeaLevel(120, math.NaN()); !math.IsNaN(h) {
		t.Errorf("height %g m without an undulation", h)
	}
	if h := HeightAboveSeaLevel(HeightAboveEllipsoid(120, 46.5), 46.5); h != 120 {
		t.Errorf("120 m comes back as %g m", h)
	}
}
