package prelaunch

import (
	"math"
	"strings"
	"testing"

	"leadline/internal/earth"
	"leadline/internal/gas"
)

func TestReadProfile(t *testing.T) {
	for name, text := range map[string]string{
		"commas":       "# valid_utc = 2026-06-03T23:00:00Z\n# source = our model\nheight_m_msl,wind_speed_kt,wind_direction_deg\n1000,20,270\n500,10,180\n\n1500,nan,\n2000,40,360\n",
		"semicolons":   "height_m_msl; wind_u_m_s; wind_v_m_s; cloud\r\n500;0;5.14444;x\r\n1000;10.28889;0;y\r\n2000;0;-20.57778;\r\n",
		"spaces":       "\ufeffheight_km   wind_speed_km_h wind_direction_deg\n 0.5 18.52 180\n 1 37.04 270\n 2 74.08 360\n",
		"geopotential": "geopotential_height_gpm\twind_speed_m_s\twind_direction_deg\n499.94\t5.14444\t180\n999.8\t10.28889\t270\n1999.5\t20.57778\t0\n",
	} {
		p, err := ReadProfile("wind.txt", []byte(text), 46)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(p.Height) != 3 {
			t.Errorf("%s: %d levels", name, len(p.Height))
			continue
		}
		for i, want := range [][3]float64{{500, 0, 5.14444}, {1000, 10.28889, 0}, {2000, 0, -20.57778}} {
			if math.Abs(p.Height[i]-want[0]) > 1 || math.Abs(p.U[i]-want[1]) > 1e-4 || math.Abs(p.V[i]-want[2]) > 1e-4 {
				t.Errorf("%s, level %d: %.1f m %.4f %.4f, want %v", name, i, p.Height[i], p.U[i], p.V[i], want)
			}
		}
		if u, v := p.WindAt(750); math.Abs(u-5.1444) > 0.02 || math.Abs(v-2.5722) > 0.02 {
			t.Errorf("%s: wind between levels %g %g", name, u, v)
		}
		if u, _ := p.WindAt(9000); math.Abs(u) > 1e-9 {
			t.Errorf("%s: the wind above the top is %g, want that of the top", name, u)
		}
	}
	p, err := ReadProfile("wind.txt", []byte("# valid_utc = 2026-06-03T23:00:00Z\n# source = our model\npressure_hpa,wind_u_m_s,wind_v_m_s\n500,1,2\n850,3,4\n"), 46)
	if err != nil {
		t.Fatal(err)
	}
	// standard_levels.csv: 850 hPa at 1,457 gpm, 500 hPa at 5,574 gpm
	if math.Abs(earth.GeopotentialHeight(p.Height[0], 46)-1457) > 1 || math.Abs(earth.GeopotentialHeight(p.Height[1], 46)-5574) > 1 || p.Source != "our model" || p.Valid.Hour() != 23 {
		t.Errorf("%+v", p)
	}
	for text, want := range map[string]string{
		"":                                      "no line with column names",
		"1,2,3\n":                               "no column for the height",
		"height_m_msl,wind_speed_m_s\n":         "no columns for the wind",
		"height,wind_u_m_s,wind_v_m_s\n":        "has no unit",
		"height_fathom,wind_u_m_s,wind_v_m_s\n": "\"fathom\" is not known",
		"height_m_msl,height_ft,wind_u_m_s,wind_v_m_s\n":                           "two columns",
		"height_m_msl,wind_u_m_s,wind_v_m_s\n1,2\n":                                "line 2 has 2 fields",
		"height_m_msl,wind_u_m_s,wind_v_m_s\n1,x,3\n":                              "line 2, column wind_u_m_s: \"x\"",
		"height_m_msl,wind_u_m_s,wind_v_m_s\n1,2,3\n":                              "1 levels",
		"height_m_msl,wind_u_m_s,wind_v_m_s\n1,2,3\n1,2,3\n":                       "lines 2 and 3",
		"height_m_msl,wind_u_m_s,wind_v_m_s\n1,2,3\n100,2000,3\n":                  "look at the unit",
		"height_m_msl,wind_speed_m_s,wind_direction_deg\n1,2,999\n":                "wind direction of 999",
		"height_m_msl,wind_speed_m_s,wind_direction_deg\n1,-2,90\n":                "below 0",
		"height_m_msl,wind_u_m_s,wind_v_m_s,temperature_k\n1,2,3,15\n200,2,3,14\n": "temperature of 15.0 K",
		"# valid_utc = today\nheight_m_msl,wind_u_m_s,wind_v_m_s\n":                "valid_utc",
		"pressure_hpa,wind_u_m_s,wind_v_m_s\n-5,2,3\n":                             "pressure of -5",
	} {
		if _, err := ReadProfile("wind.txt", []byte(text), 46); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// The air over a site: the standard atmosphere comes back where it is put in, also through
// a profile that holds its temperatures.
func TestAtmosphereOverASite(t *testing.T) {
	surface := gas.Standard(300)
	for name, p := range map[string]*Profile{"no temperature": Calm(), "standard temperatures": func() *Profile {
		p := &Profile{}
		for z := 300.0; z < 36000; z += 250 {
			p.add(z, 0, 0, gas.Standard(earth.GeopotentialHeight(z, 46)).Temperature, nan)
		}
		return p
	}()} {
		air := p.Atmosphere(surface, earth.GeometricHeight(300, 46), 46)
		for _, gpm := range []float64{300, 5000, 11000, 20000, 30000, 35000} {
			got, want := air(gpm), gas.Standard(gpm)
			if math.Abs(got.Pressure/want.Pressure-1) > 0.002 || math.Abs(got.Temperature-want.Temperature) > 0.7 {
				t.Errorf("%s, %g gpm: %+v, want %+v", name, gpm, got, want)
			}
		}
	}
}

func FuzzReadProfile(f *testing.F) {
	for _, s := range []string{"height_m_msl,wind_speed_kt,wind_direction_deg\n1000,20,270\n500,10,180\n", "pressure_hpa;temperature_c;wind_u_m_s;wind_v_m_s\n1000;15;1;2\n500;-20;3;4\n", "# valid_utc = 2026-06-03T23:00:00Z\nheight_ft wind_u_m_s wind_v_m_s\n1 2 3\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := ReadProfile("x", text, 46)
		if (p == nil) == (err == nil) {
			t.Fatal("a profile and an error, or neither")
		}
		if err == nil {
			if e := p.Validate(); e != nil {
				t.Fatal(e)
			}
			p.WindAt(12345)
		}
	})
}

func FuzzReadAreas(f *testing.F) {
	f.Add([]byte(`{"type":"Feature","properties":{"name":"a","kind":"line-of-sight","crest_m_msl":5},"geometry":{"type":"LineString","coordinates":[[6,45],[6,46]]}}`))
	f.Add([]byte(`{"type":"GeometryCollection","geometries":[{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		areas, err := ReadAreas("x", text)
		if err != nil && areas != nil {
			t.Fatal("half a result")
		}
		for i := range areas {
			if d := areas[i].Distance(Place{46, 6}); math.IsNaN(d) || d < 0 {
				t.Fatalf("distance %g", d)
			}
		}
	})
}

func FuzzPlan(f *testing.F) {
	f.Add([]byte(ExamplePlan))
	f.Add([]byte("[slot]\nlocal = '2026-01-01 00:00'\n[[tick]]\nstep='x'\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		record, plan := SplitPlan(text)
		if strings.Count(string(record), "\n") != strings.Count(string(text), "\n") || strings.Count(string(plan), "\n") != strings.Count(string(text), "\n") {
			t.Fatal("a line was lost")
		}
		if p, err := ReadPlan("x", plan); err != nil && p != nil {
			t.Fatal("half a result")
		}
	})
}
