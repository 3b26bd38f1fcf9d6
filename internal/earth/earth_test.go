package earth

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Directions of the four quarters and the two conventions, calm 0 and north 360
// (WMO-No. 306, code table 0877).
func TestWindConventions(t *testing.T) {
	for _, c := range []struct{ u, v, speed, direction float64 }{
		{0, 0, 0, 0},
		{0, -5, 5, 360},
		{math.Copysign(0, -1), -5, 5, 360},
		{1e-300, -5, 5, 360},
		{-5, 0, 5, 90},
		{0, 5, 5, 180},
		{5, 0, 5, 270},
		{5, -5, math.Sqrt(50), 315},
	} {
		speed, direction := WindFromUV(c.u, c.v)
		if math.Abs(speed-c.speed) > 1e-12 || math.Abs(direction-c.direction) > 1e-12 {
			t.Errorf("u %g v %g: %g from %g, want %g from %g", c.u, c.v, speed, direction, c.speed, c.direction)
		}
	}
	if u, v := UVFromWind(0, math.NaN()); u != 0 || v != 0 {
		t.Errorf("calm without direction is u %g, v %g", u, v)
	}
	if u, v := UVFromWind(7, 360); u != 0 || v != -7 {
		t.Errorf("7 m/s from north is u %g, v %g", u, v)
	}
	if speed, direction := WindFromUV(math.NaN(), 1); !math.IsNaN(speed) || !math.IsNaN(direction) {
		t.Errorf("missing u gives %g from %g", speed, direction)
	}
	rapid.Check(t, func(t *rapid.T) {
		speed := rapid.Float64Range(1e-3, 200).Draw(t, "speed")
		direction := rapid.Float64Range(0, 720).Draw(t, "direction")
		s, d := WindFromUV(UVFromWind(speed, direction))
		if math.Abs(s-speed) > 1e-12*speed || math.Abs(math.Remainder(d-direction, 360)) > 1e-10 || !(d > 0 && d <= 360) {
			t.Fatalf("%g from %g comes back as %g from %g", speed, direction, s, d)
		}
	})
}

// The local metric is compared with the geodesic (tested against GeographicLib)
// for steps up to 60 s at 50 m/s, and with the straight chord of Earth-centred
// coordinates at height.
func TestDisplacementAgainstGeodesic(t *testing.T) {
	worst := 0.0
	for lat := -87.9; lat <= 87.9; lat += 2.93 {
		for azimuth := 0.0; azimuth < 360; azimuth += 20 {
			for _, length := range []float64{1, 50, 600, 3000} {
				lat2, lon2, _ := Direct(lat, 179.99, azimuth, length)
				_, _, middle := Direct(lat, 179.99, azimuth, length/2)
				east, north := Displacement(lat, 179.99, 0, lat2, lon2, 0)
				sin, cos := SinCosDegrees(middle)
				worst = math.Max(worst, math.Hypot(east-length*sin, north-length*cos))
			}
		}
	}
	if worst > 1e-3 {
		t.Errorf("largest difference from the geodesic %.2g m, stated as 1 mm", worst)
	}
	t.Logf("largest difference from the geodesic over 3 km: %.2g m", worst)
}

func TestDisplacementKnowsHeight(t *testing.T) {
	const h = 30000
	for _, lat := range []float64{-75, 0, 52.21} {
		lat2, lon2 := lat+0.0003, 14.1203
		east, north := Displacement(lat, 14.12, h, lat2, lon2, h)
		x1, y1, z1 := Cartesian(lat, 14.12, h)
		x2, y2, z2 := Cartesian(lat2, lon2, h)
		chord := math.Hypot(math.Hypot(x2-x1, y2-y1), z2-z1)
		if d := math.Abs(math.Hypot(east, north) - chord); d > 1e-6 {
			t.Errorf("at %g°, 30 km: %.7f m, chord %.7f m", lat, math.Hypot(east, north), chord)
		}
	}
	// The methods sheet, section 3.1: 30 km stretches distances by 0.47 %.
	e0, _ := Displacement(45, 0, 0, 45, 0.001, 0)
	e30, _ := Displacement(45, 0, h, 45, 0.001, h)
	if stretch := e30/e0 - 1; math.Abs(stretch-0.0047) > 5e-5 {
		t.Errorf("30 km stretches a distance by %.4f, want 0.0047", stretch)
	}
}

// A balloon that crosses the pole at 10 m/s keeps that speed.
func TestDisplacementAcrossThePole(t *testing.T) {
	for _, offset := range []float64{0, 3, 40} { // m beside the pole
		for k := -300; k < 300; k++ {
			position := func(k int) (lat, lon float64) {
				x, y := offset, 10*float64(k)
				lat, _, _ = Direct(90, 0, 0, math.Hypot(x, y))
				return lat, math.Atan2(y, x) / degree
			}
			lat1, lon1 := position(k)
			lat2, lon2 := position(k + 1)
			east, north := Displacement(lat1, lon1, 20000, lat2, lon2, 20000)
			want := 10 * (1 + 20000/6.4e6)
			if d := math.Abs(math.Hypot(east, north) - want); d > 0.01 {
				t.Fatalf("%g m beside the pole, step %d: %.4f m, want %.4f", offset, k, math.Hypot(east, north), want)
			}
		}
	}
}

func TestDisplacementColumnEndsMissing(t *testing.T) {
	lat := []float64{50, 50.001, math.NaN(), 50.003}
	lon := []float64{10, 10, 10, 10}
	h := []float64{0, 0, 0, 0}
	east, north := make([]float64, 4), make([]float64, 4)
	DisplacementColumn(east, north, lat, lon, h, 1)
	if !(north[0] > 111 && north[0] < 112) || east[0] != 0 {
		t.Errorf("first step %g east, %g north", east[0], north[0])
	}
	for i := 1; i < 4; i++ {
		if !math.IsNaN(north[i]) {
			t.Errorf("row %d has %g m without two positions", i, north[i])
		}
	}
}

func TestGeodesicsRefuseWhatIsNoPlace(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, p := range [][4]float64{{91, 0, 0, 0}, {0, 0, -90.1, 0}, {nan, 0, 0, 0}, {0, nan, 0, 0}, {0, 0, 0, inf}} {
		if d, _, _ := Inverse(p[0], p[1], p[2], p[3]); !math.IsNaN(d) {
			t.Errorf("%v: distance %g m, want missing", p, d)
		}
	}
	for _, p := range [][4]float64{{91, 0, 0, 1}, {nan, 0, 0, 1}, {0, inf, 0, 1}, {0, 0, nan, 1}, {0, 0, 0, inf}} {
		if lat, _, _ := Direct(p[0], p[1], p[2], p[3]); !math.IsNaN(lat) {
			t.Errorf("%v: latitude %g, want missing", p, lat)
		}
	}
	if d, a1, a2 := Inverse(12, 34, 12, 34+360); d != 0 || a1 != 0 || a2 != 0 {
		t.Errorf("a point and itself: %g m, azimuths %g and %g", d, a1, a2)
	}
}

func TestSinCosDegreesIsExactAtQuarters(t *testing.T) {
	for k := -12; k <= 12; k++ {
		sin, cos := SinCosDegrees(float64(90 * k))
		wantSin := []float64{0, 1, 0, -1}[((k%4)+4)%4]
		wantCos := []float64{1, 0, -1, 0}[((k%4)+4)%4]
		if sin != wantSin || cos != wantCos {
			t.Errorf("%d°: %g, %g", 90*k, sin, cos)
		}
	}
	for a := -1000.0; a < 1000; a += 7.3 {
		sin, cos := SinCosDegrees(a)
		if math.Abs(sin-math.Sin(a*degree)) > 1e-14 || math.Abs(cos-math.Cos(a*degree)) > 1e-14 {
			t.Errorf("%g°: %g, %g", a, sin, cos)
		}
	}
}

func BenchmarkDisplacementColumn(b *testing.B) {
	const n = 7200
	lat, lon, h := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range lat {
		lat[i], lon[i], h[i] = 47+1e-5*float64(i), 8+3e-5*float64(i), 5*float64(i)
	}
	east, north := make([]float64, n), make([]float64, n)
	b.ReportAllocs()
	for b.Loop() {
		DisplacementColumn(east, north, lat, lon, h, 1)
	}
}

func BenchmarkInverse(b *testing.B) {
	for b.Loop() {
		Inverse(47.1, 8.2, 48.3, 10.9)
	}
}

func BenchmarkGeopotentialColumn(b *testing.B) {
	const n = 7200
	z := make([]float64, n)
	for i := range z {
		z[i] = 5 * float64(i)
	}
	b.ReportAllocs()
	for b.Loop() {
		for i, v := range z {
			z[i] = GeometricHeight(GeopotentialHeight(v, 47), 47)
		}
	}
}
