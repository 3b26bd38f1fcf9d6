package sun

import (
	"math"
	"testing"
	"time"
)

// The interpolated column against the ephemeris of every sample, over a three-hour
// flight that starts before release and drifts across the date line.
func TestColumnAgainstPosition(t *testing.T) {
	release := unixSeconds(time.Date(2024, 3, 20, 23, 50, 0, 0, time.UTC))
	const n = 2000
	seconds, lat, lon := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range seconds {
		seconds[i] = -900 + 6*float64(i)
		lat[i] = 60 + 0.001*float64(i)
		lon[i] = 179.5 + 0.001*float64(i)
	}
	seconds[77], lat[78], lon[79] = math.NaN(), math.NaN(), math.NaN()
	elevation, azimuth := make([]float64, n), make([]float64, n)
	Column(elevation, azimuth, release, seconds, lat, lon)
	worst := 0.0
	for i := range seconds {
		if i >= 77 && i <= 79 {
			if !math.IsNaN(elevation[i]) || !math.IsNaN(azimuth[i]) {
				t.Errorf("row %d: %g, %g without time or place", i, elevation[i], azimuth[i])
			}
			continue
		}
		e, a := Position(release+seconds[i], lat[i], lon[i])
		worst = math.Max(worst, math.Abs(e-elevation[i]))
		worst = math.Max(worst, math.Abs(math.Remainder(a-azimuth[i], 360)))
	}
	if worst > 1e-6 {
		t.Errorf("largest difference %.2g°, stated as 1e-6°", worst)
	}
}

// Facts of the calendar: the declination at solstice is the obliquity, at equinox
// zero; the Sun is in the zenith of the place that then has it on its meridian.
// Moments of the 2024 equinox and solstice from memory (20 March 03:06, 20 June
// 20:51 UTC), which fix the declination to about 0.0005° and better.
func TestSeasons(t *testing.T) {
	equinox := at(unixSeconds(time.Date(2024, 3, 20, 3, 6, 0, 0, time.UTC)))
	if d := equinox.declination / degree; math.Abs(d) > 0.001 {
		t.Errorf("declination at the equinox %.5f°", d)
	}
	solstice := at(unixSeconds(time.Date(2024, 6, 20, 20, 51, 0, 0, time.UTC)))
	if d := (solstice.declination - solstice.obliquity) / degree; math.Abs(d) > 2e-4 {
		t.Errorf("declination at the solstice is %.5f° short of the obliquity", d)
	}
	e := equinox.seen()
	elevation, _ := e.from(e.declination/degree, -e.greenwichHour/degree)
	if math.Abs(elevation-90) > 0.01 {
		t.Errorf("the Sun stands at %.4f° where it should be in the zenith", elevation)
	}
}

// Morning east, evening west, noon south in the north and north in the south.
func TestQuarters(t *testing.T) {
	for _, c := range []struct {
		lat         float64
		hour        int
		low, high   float64
		description string
	}{
		{47, 6, 60, 120, "morning in the east"}, {47, 12, 170, 190, "noon in the south"}, {47, 18, 240, 300, "evening in the west"},
		{-47, 12, 350, 370, "noon in the north of the southern hemisphere"},
	} {
		_, azimuth := PositionAt(time.Date(2025, 3, 21, c.hour, 0, 0, 0, time.UTC), c.lat, 0)
		if c.high > 360 && azimuth < 180 {
			azimuth += 360
		}
		if azimuth < c.low || azimuth > c.high {
			t.Errorf("%s: azimuth %.1f°", c.description, azimuth)
		}
	}
	zone := time.FixedZone("UTC+13", 13*3600)
	local := time.Date(2025, 1, 1, 2, 0, 0, 0, zone)
	a1, b1 := PositionAt(local, 10, 20)
	a2, b2 := PositionAt(local.UTC(), 10, 20)
	if a1 != a2 || b1 != b2 {
		t.Error("the same moment in another zone gives another Sun")
	}
}

func TestHorizonAtHeight(t *testing.T) {
	if HorizonDip(-5) != 0 || HorizonDip(0) != 0 {
		t.Error("the horizon dips below sea level")
	}
	if !math.IsNaN(HorizonDip(math.NaN())) {
		t.Error("an unknown height has a horizon")
	}
	if !SunVisible(-5, 30e3) || SunVisible(-5, 10e3) || SunVisible(-0.1, 0) || !SunVisible(0.1, 0) {
		t.Error("five degrees below the horizontal the Sun is seen from 30 km but not from 10 km")
	}
	if SunVisible(math.NaN(), 30e3) || SunVisible(10, math.NaN()) {
		t.Error("the unknown is not visible")
	}
}

func TestPolarDayAndNight(t *testing.T) {
	summer := RiseTransitSet(time.Date(2025, 6, 21, 0, 0, 0, 0, time.UTC), 78, 15)
	if !summer.AlwaysUp || summer.AlwaysDown || !summer.Rise.IsZero() || !summer.Set.IsZero() || summer.Transit.IsZero() {
		t.Errorf("midsummer at 78° N: %+v", summer)
	}
	winter := RiseTransitSet(time.Date(2025, 12, 21, 0, 0, 0, 0, time.UTC), 78, 15)
	if !winter.AlwaysDown || winter.AlwaysUp {
		t.Errorf("midwinter at 78° N: %+v", winter)
	}
	if d := RiseTransitSet(time.Date(2025, 6, 21, 0, 0, 0, 0, time.UTC), math.NaN(), 15); !d.Transit.IsZero() || d.AlwaysUp || d.AlwaysDown {
		t.Errorf("no place: %+v", d)
	}
	// Far from Greenwich the day is that of the place.
	day := RiseTransitSet(time.Date(2025, 9, 10, 0, 0, 0, 0, time.UTC), -20, 175)
	if noon := day.Transit; noon.Sub(time.Date(2025, 9, 10, 0, 20, 0, 0, time.UTC)).Abs() > 20*time.Minute {
		t.Errorf("noon at 175° E is %v", noon)
	}
	if !day.Rise.Before(day.Transit) || !day.Transit.Before(day.Set) {
		t.Errorf("%v, %v, %v are out of order", day.Rise, day.Transit, day.Set)
	}
}

func TestNoTimeNoSun(t *testing.T) {
	for _, unix := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if e, a := Position(unix, 10, 20); !math.IsNaN(e) || !math.IsNaN(a) {
			t.Errorf("at %g: %g, %g", unix, e, a)
		}
	}
}

func BenchmarkColumn(b *testing.B) {
	const n = 7200
	seconds, lat, lon := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range seconds {
		seconds[i], lat[i], lon[i] = float64(i), 47+1e-5*float64(i), 8+3e-5*float64(i)
	}
	elevation, azimuth := make([]float64, n), make([]float64, n)
	b.ReportAllocs()
	for b.Loop() {
		Column(elevation, azimuth, 1.7e9, seconds, lat, lon)
	}
}

func BenchmarkPosition(b *testing.B) {
	for b.Loop() {
		Position(1.7e9, 47, 8)
	}
}
