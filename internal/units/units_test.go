package units

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// Factors against NIST Special Publication 811 (2008), appendix B.8 (from memory of
// its table: inch of mercury, conventional 3.386389e+03 Pa; millimetre of mercury,
// conventional 1.333224e+02 Pa; foot 3.048e-01 m; knot 5.144444e-01 m/s; mile per
// hour 4.4704e-01 m/s; pound 4.5359237e-01 kg). Temperatures by definition.
func TestConversionsAgainstNISTSP811(t *testing.T) {
	for _, c := range []struct {
		unit, dimension string
		x, want         float64
		digits          float64 // relative tolerance: half of the last printed digit
	}{
		{"inHg", Pressure, 1, 33.86389, 2e-7},
		{"mmHg", Pressure, 1, 1.333224, 4e-7},
		{"Pa", Pressure, 101325, 1013.25, 0},
		{"kPa", Pressure, 101.325, 1013.25, 1e-15},
		{"mb", Pressure, 850, 850, 0},
		{"ft", Length, 1, 0.3048, 0},
		{"km", Length, 31.2, 31200, 0},
		{"dam", Length, 558, 5580, 0},
		{"gpm", Length, 5574, 5574, 0},
		{"kt", Speed, 1, 0.5144444, 1e-7},
		{"km/h", Speed, 36, 10, 0},
		{"mph", Speed, 1, 0.44704, 1e-15},
		{"°C", Temperature, -90, 183.15, 1e-15},
		{"°F", Temperature, 212, 373.15, 1e-15},
		{"degF", Temperature, -40, 233.15, 1e-15},
		{"K", Temperature, 273.15, 273.15, 0},
		{"fraction", Humidity, 0.64, 64, 0},
		{"1", Humidity, 1, 100, 0},
		{"rad", Angle, math.Pi, 180, 0},
		{"g", Mass, 350, 0.35, 0},
		{"lb", Mass, 1, 0.45359237, 0},
		{"kHz", Frequency, 403500, 403.5, 0},
		{"min", Time, 2, 120, 0},
		{"deg-min", Latitude, 4612.5, 46 + 12.5/60, 1e-15},
		{"deg-min", Longitude, -608.8, -(6 + 8.8/60), 1e-14},
	} {
		u, err := Lookup(c.unit, c.dimension)
		if err != nil {
			t.Error(err)
			continue
		}
		if got := u.Inside(c.x); math.Abs(got-c.want) > c.digits*math.Abs(c.want) {
			t.Errorf("%g %s is %.10g, want %.10g", c.x, c.unit, got, c.want)
		}
		if back := u.Outside(u.Inside(c.x)); math.Abs(back-c.x) > 1e-13*math.Abs(c.x) {
			t.Errorf("%g %s there and back is %.17g", c.x, c.unit, back)
		}
	}
}

func TestEverySpellingFindsItsOwnUnit(t *testing.T) {
	for _, e := range table {
		names := strings.Split(e.spellings, "|")
		for _, s := range names {
			u, err := Lookup(strings.ToUpper(s), e.dimension)
			if err != nil || u.Name != names[0] {
				t.Errorf("%s: %q gives %v, %v; want %s: one spelling stands twice", e.dimension, s, u, err, names[0])
			}
		}
	}
	for _, d := range Dimensions() {
		if u := Inner(d); !u.Identity() {
			t.Errorf("the first unit of %s, %s, is not the one inside", d, u.Name)
		}
	}
}

func TestUnknownUnitIsRefusedByName(t *testing.T) {
	_, err := Lookup("furlong", Length)
	var unknown *UnknownError
	if !errors.As(err, &unknown) || unknown.Unit != "furlong" {
		t.Fatalf("got %v", err)
	}
	for _, want := range []string{"furlong", "length", "m, gpm, km, ft, dam"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q does not name %q", err, want)
		}
	}
	if _, err := Lookup("hPa", Temperature); err == nil {
		t.Error("hPa was taken for a temperature")
	}
}

func TestParse(t *testing.T) {
	for _, c := range []struct {
		text, dimension, unit string
		want                  float64
	}{
		{"29.92 inHg", Pressure, "hPa", 29.92 * 33.86388640341},
		{"1013.2", Pressure, "hPa", 1013.2},
		{" 1013,2 mbar ", Pressure, "", 1013.2},
		{"1.0132e3 hPa", Pressure, "", 1013.2},
		{"-3,5 °C", Temperature, "", 269.65},
		{"−3.5°C", Temperature, "", 269.65},
		{"70F", Temperature, "K", (70-32)*5/9. + 273.15},
		{"64%", Humidity, "", 64},
		{"350 g", Mass, "kg", 0.35},
		{"0", Length, "m", 0},
		{"46 12.5 N", Latitude, "deg", 46 + 12.5/60},
		{"4612.5N", Latitude, "deg", 46 + 12.5/60},
		{"46°12.5'N", Latitude, "deg", 46 + 12.5/60},
		{"46°12'30\"S", Latitude, "deg", -(46 + 12.5/60)},
		{"N 46° 12,5'", Latitude, "deg", 46 + 12.5/60},
		{"46.208 N", Latitude, "deg", 46.208},
		{"46.208", Latitude, "deg", 46.208},
		{"-46.208 degrees_north", Latitude, "deg", -46.208},
		{"46.2 deg N", Latitude, "", 46.2},
		{"46 deg 12.5 min N", Latitude, "", 46 + 12.5/60},
		{"46:12:30N", Latitude, "", 46 + 12.5/60},
		{"-46 12.5", Latitude, "", -(46 + 12.5/60)},
		{"00608.8W", Longitude, "deg", -(6 + 8.8/60)},
		{"6 8.8 E", Longitude, "deg", 6 + 8.8/60},
		{"353.5", Longitude, "deg", -6.5},
		{"6.5 degrees_E", Longitude, "deg", 6.5},
		{"-0 30 S", Latitude, "deg", math.NaN()},
		{"0 30 S", Latitude, "deg", -0.5},
		{"46 60 N", Latitude, "deg", math.NaN()},
		{"46 12 E", Latitude, "deg", math.NaN()},
		{"95 N", Latitude, "deg", math.NaN()},
		{"1,013 hPa", Pressure, "", math.NaN()},
		{"1013.2", Pressure, "", math.NaN()},
		{"1013.2 parsec", Pressure, "hPa", math.NaN()},
		{"", Pressure, "hPa", math.NaN()},
		{"hPa", Pressure, "hPa", math.NaN()},
		{"nan", Pressure, "hPa", math.NaN()},
		{"1e999", Pressure, "hPa", math.NaN()},
		{"12 hPa", None, "", math.NaN()},
	} {
		got, err := Parse(c.text, c.dimension, c.unit)
		if math.IsNaN(c.want) {
			if err == nil || !math.IsNaN(got) {
				t.Errorf("%q as %s: got %g, want a refusal", c.text, c.dimension, got)
			}
			continue
		}
		if err != nil || math.Abs(got-c.want) > 1e-12*math.Max(1, math.Abs(c.want)) {
			t.Errorf("%q as %s: got %.15g, %v; want %.15g", c.text, c.dimension, got, err, c.want)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"29.92 inHg", "46 12.5 N", "4612.5N", "46°12'30\"S", "-3,5 °C", "\xff", "1e9 m"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, d := range append(Dimensions(), None) {
			x, err := Parse(s, d, "")
			if err != nil && !math.IsNaN(x) {
				t.Fatalf("%q as %s: %g together with %v", s, d, x, err)
			}
			if err == nil && (math.IsNaN(x) || d == Latitude && math.Abs(x) > 90 || d == Longitude && math.Abs(x) > 180) {
				t.Fatalf("%q as %s: %g without an error", s, d, x)
			}
		}
	})
}
