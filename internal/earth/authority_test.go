package earth

import (
	"math"
	"strings"
	"testing"

	"leadline/internal/authority"
)

// degreesMinutes reads "37 57 03.72030" as degrees, minutes and seconds.
func degreesMinutes(d, m, s float64) float64 { return d + m/60 + s/3600 }

// Published and computed check values; the source of each stands in its row.
func TestAuthority(t *testing.T) {
	answers := map[string]func(t *testing.T, row authority.Row){
		"HGT-04": func(t *testing.T, r authority.Row) { r.Check(t, GravityBarometry(r.Input(t, "lat"))) },
		"HGT-05": func(t *testing.T, r authority.Row) { r.Check(t, GravitySmithsonian(r.Input(t, "lat"))) },
		"GEO-01": func(t *testing.T, r authority.Row) {
			d, _, _ := Inverse(-41.32, 174.81, 40.96, -5.50)
			r.Check(t, d)
		},
		"GEO-02": func(t *testing.T, r authority.Row) {
			lat, _, _ := Direct(-32.06, 115.74, 225, 20000e3)
			r.Check(t, lat)
		},
		"GEO-03": func(t *testing.T, r authority.Row) {
			_, lon, _ := Direct(-32.06, 115.74, 225, 20000e3)
			r.Check(t, lon)
		},
		"GEO-04": func(t *testing.T, r authority.Row) {
			lat, _, _ := Direct(40, 0, 30, 10000e3)
			r.Check(t, lat)
		},
		"GEO-05": func(t *testing.T, r authority.Row) {
			_, lon, _ := Direct(40, 0, 30, 10000e3)
			r.Check(t, lon)
		},
		"GEO-06": func(t *testing.T, r authority.Row) {
			_, _, azimuth := Direct(40, 0, 30, 10000e3)
			r.Check(t, azimuth)
		},
		// The manual's ellipsoid is GRS-80; its flattening differs from that of
		// WGS-84 by 1.6e-11, less than 1 µm on this line.
		"GEO-07": func(t *testing.T, r authority.Row) {
			d, _, _ := flindersBuninyong()
			r.Check(t, d)
		},
		"GEO-08": func(t *testing.T, r authority.Row) {
			_, azimuth, _ := flindersBuninyong()
			r.Check(t, azimuth)
		},
		"GEO-09": func(t *testing.T, r authority.Row) {
			d, _, _ := Inverse(52.2100, 14.1200, 52.2101, 14.1202)
			r.Check(t, d)
		},
		"GEO-10": func(t *testing.T, r authority.Row) {
			_, azimuth, _ := Inverse(52.2100, 14.1200, 52.2101, 14.1202)
			r.Check(t, azimuth)
		},
		"GEO-11": func(t *testing.T, r authority.Row) {
			lat, lon, _ := Direct(52.21, 14.12, 45, 150e3)
			r.CheckAll(t, lat, lon)
		},
		"GEO-12": func(t *testing.T, r authority.Row) {
			x, y, z := Cartesian(52.21, 14.12, 112)
			r.CheckAll(t, x, y, z)
		},
		"WND-01": func(t *testing.T, r authority.Row) {
			u, v := UVFromWind(10, 225)
			r.CheckAll(t, u, v)
		},
		"WND-02": func(t *testing.T, r authority.Row) {
			speed, direction := WindFromUV(r.Input(t, "u"), r.Input(t, "v"))
			r.CheckAll(t, speed, direction)
		},
		"WND-03": func(t *testing.T, r authority.Row) {
			east, north := Displacement(52.2100, 14.1200, 0, 52.2101, 14.1202, 0)
			speed, direction := WindFromUV(east, north)
			r.CheckAll(t, speed, direction)
		},
		"ATM-57": func(t *testing.T, r authority.Row) { r.Check(t, DynamicViscosity(r.Input(t, "T"))) },
	}
	authority.Run(t, "earth", func(t *testing.T, row authority.Row) {
		if answer, ok := answers[row.ID]; ok {
			answer(t, row)
			return
		}
		switch {
		case strings.HasPrefix(row.Quantity, "normal gravity"):
			row.Check(t, Gravity(row.Input(t, "lat"), 0))
		case strings.HasPrefix(row.Quantity, "geopotential height from geometric"):
			row.Check(t, GeopotentialHeight(row.Input(t, "Z"), row.Input(t, "lat")))
		case strings.HasPrefix(row.Quantity, "geopotential height, US Std"):
			row.Check(t, StandardGeopotentialHeight(row.Input(t, "Z")))
		case strings.HasPrefix(row.Quantity, "gravity in US Std"):
			// g0 (r0/(r0+Z))², the definition of that atmosphere
			ratio := StandardEarthRadius / (StandardEarthRadius + row.Input(t, "Z"))
			row.Check(t, G0*ratio*ratio)
		case strings.HasPrefix(row.Quantity, "pressure altitude"):
			row.Check(t, StandardAltitude(row.Input(t, "p")))
		case strings.HasPrefix(row.Quantity, "US Std Atm 1976"):
			gpm := 0.0
			if row.HasInput("H") {
				gpm = row.Input(t, "H")
			} else {
				gpm = StandardGeopotentialHeight(row.Input(t, "Z"))
			}
			temperature, pressure, density := StandardAtmosphere(gpm)
			switch row.Unit {
			case "K":
				row.Check(t, temperature)
			case "hPa":
				row.Check(t, pressure)
			case "Pa":
				row.Check(t, 100*pressure)
			case "kg/m3":
				row.Check(t, density)
			default:
				t.Fatalf("no answer in %q", row.Unit)
			}
		default:
			t.Fatalf("no answer for %s", row.ID)
		}
	})
}

func flindersBuninyong() (distance, azimuth1, azimuth2 float64) {
	return Inverse(
		-degreesMinutes(37, 57, 3.72030), degreesMinutes(144, 25, 29.52440),
		-degreesMinutes(37, 39, 10.15610), degreesMinutes(143, 55, 35.38390))
}

func TestStandardAtmosphereReturns(t *testing.T) {
	for gpm := standardBottom; gpm <= standardTop; gpm += 137 {
		_, p, _ := StandardAtmosphere(gpm)
		if got := StandardAltitude(p); !(math.Abs(got-gpm) < 1e-6) {
			t.Errorf("%g gpm comes back as %.9f", gpm, got)
		}
	}
	for _, gpm := range []float64{-5001, 84853, math.NaN(), math.Inf(1)} {
		if temperature, p, rho := StandardAtmosphere(gpm); !math.IsNaN(temperature) || !math.IsNaN(p) || !math.IsNaN(rho) {
			t.Errorf("%g gpm: %g K, %g hPa, %g kg/m3; want missing", gpm, temperature, p, rho)
		}
	}
	for _, p := range []float64{0, -1, 1e-3, 3000, math.NaN(), math.Inf(1)} {
		if gpm := StandardAltitude(p); !math.IsNaN(gpm) {
			t.Errorf("%g hPa is at %g gpm, want missing", p, gpm)
		}
	}
}
