package earth

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Symmetry and the way there and back, on any pair of points and on the awkward
// ones; this needs no tool.
func TestGeodesicsThereAndBack(t *testing.T) {
	latitude := rapid.OneOf(
		rapid.Float64Range(-90, 90),
		rapid.SampledFrom([]float64{-90, 90, 0, math.Copysign(0, -1), 1e-300, -5e-324, 1e-9, 89.9999999999, -89.9999999999, 45, -45}))
	longitude := rapid.OneOf(
		rapid.Float64Range(-180, 180),
		rapid.SampledFrom([]float64{-180, 180, 0, 1e-300, 179.9999999, 179.5, 179.3967, 90, 540, -1e6}))
	rapid.Check(t, func(t *rapid.T) {
		lat1, lat2 := latitude.Draw(t, "lat1"), latitude.Draw(t, "lat2")
		lon1, lon2 := longitude.Draw(t, "lon1"), longitude.Draw(t, "lon2")
		there, a1, a2 := Inverse(lat1, lon1, lat2, lon2)
		back, b1, b2 := Inverse(lat2, lon2, lat1, lon1)
		// Half the meridian ellipse is the longest there is.
		if !(there >= 0 && there <= 20003931.4586255) || math.Abs(there-back) > 1e-7 {
			t.Fatalf("%.9f m there, %.9f m back", there, back)
		}
		for _, a := range []float64{a1, a2, b1, b2} {
			if !(a >= 0 && a < 360) {
				t.Fatalf("azimuth %g", a)
			}
		}
		lat, lon, _ := Direct(lat1, lon1, a1, there)
		if miss, _, _ := Inverse(lat, lon, lat2, lon2); !(miss < 2e-6) {
			t.Fatalf("%.9f m at %.9f° leads %.3g m past the second point", there, a1, miss)
		}
		if !(math.Abs(lat) <= 90 && math.Abs(lon) <= 180) {
			t.Fatalf("a place at %g, %g", lat, lon)
		}
	})
}
