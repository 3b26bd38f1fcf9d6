package workbench_test

import (
	"bytes"
	"context"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"leadline/internal/humidity"
	"leadline/internal/ingest"
	"leadline/internal/quality"
	"leadline/internal/sharedtest"
	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// openFlights reads the open flights that stand beside the repository and runs the path
// on each. Their own archive made their altitude, dew point and winds: an authority
// that knows nothing of this program.
func openFlights(t *testing.T) map[string]*workbench.Outcome {
	t.Helper()
	dir := sharedtest.Dir(t, "data/arm")
	paths, err := filepath.Glob(filepath.Join(dir, "*.cdf"))
	if err != nil || len(paths) < 13 {
		t.Fatalf("%d open flights, %v", len(paths), err)
	}
	sort.Strings(paths)
	out := map[string]*workbench.Outcome{}
	for _, path := range paths {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Base(path)
		all, err := workbench.Check([]workbench.File{{Name: name, Bytes: b}}, workbench.Request{})
		if err != nil || len(all) != 1 {
			t.Errorf("%s: %d flights, %v", name, len(all), err)
			continue
		}
		if err := all[0].Final.Validate(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		out[name] = all[0]
	}
	return out
}

func TestOpenFlightsGoThroughThePath(t *testing.T) {
	for name, o := range openFlights(t) {
		f := o.Final
		if !f.Events.Release.Found || len(f.Summary) < 2 || f.Verdict.Word == "" {
			t.Errorf("%s: release %v, summary %q, verdict %q", name, f.Events.Release.Found, f.Summary, f.Verdict.Word)
		}
		// Of flights that lost their humidity or temperature, the summary or the reasons
		// say so. What each lost stands in the table of files beside them.
		said := strings.ToLower(strings.Join(f.Summary, " ") + strings.Join(f.Verdict.Reasons, " "))
		for v, word := range map[sounding.Variable]string{sounding.Temperature: "temperature", sounding.Humidity: "humidity"} {
			missing, rows := 0, 0
			raw := f.Before.Values(v)
			span := f.Events.Ascent()
			for i := span.From; i < span.To && raw != nil; i++ {
				rows++
				if math.IsNaN(raw[i]) {
					missing++
				}
			}
			if raw != nil && missing > rows/2 && !strings.Contains(said, word) {
				t.Errorf("%s: %d of %d %s are missing and nobody says so: %s", name, missing, rows, word, said)
			}
			if raw != nil && missing > rows/2 && f.Verdict.Word == sounding.Accept {
				t.Errorf("%s: accepted without %s", name, word)
			}
		}
	}
}

// Temperatures far below −80 °C occur at the tropical tropopause and are air, not error.
// The coldest of these flights has −88.9 °C; below −90 °C see the gross check's own test.
func TestColdTropicalTropopausesAreValid(t *testing.T) {
	cold := 0
	for name, o := range openFlights(t) {
		s := o.Final.Get(sounding.Temperature)
		if s == nil {
			continue
		}
		for i, v := range s.Values {
			if v < 188.15 {
				cold++
				if s.Flags[i] == quality.Bad || s.Flags[i] == quality.Questionable {
					t.Errorf("%s row %d: %.1f K is %v by %v", name, i, v, s.Flags[i], s.Tests[i].Checks())
				}
			}
		}
	}
	if cold < 20 {
		t.Errorf("only %d samples below −85 °C: the test proves little", cold)
	}
}

// Geopotential height from pressure, temperature and humidity against the altitude the
// archive gives, which it computed hydrostatically itself and which therefore is a
// geopotential height: within 20 m at 100 hPa where the flight has its humidity.
func TestHydrostaticHeightAgreesWithTheArchive(t *testing.T) {
	compared := 0
	for name, o := range openFlights(t) {
		f := o.Final
		p, gph, alt, rh := f.Before.Values(sounding.Pressure), f.Get(sounding.GeopotentialHeight), f.Before.Values(sounding.HeightMSL), f.Before.Values(sounding.Humidity)
		if gph == nil || alt == nil || rh == nil {
			continue
		}
		have := 0
		for _, x := range rh {
			if !math.IsNaN(x) {
				have++
			}
		}
		best := -1
		for i := range p {
			if !math.IsNaN(p[i]) && !math.IsNaN(alt[i]) && !math.IsNaN(gph.Values[i]) && (best < 0 || math.Abs(p[i]-100) < math.Abs(p[best]-100)) {
				best = i
			}
		}
		if have < len(rh)/2 || best < 0 || math.Abs(p[best]-100) > 1 {
			continue
		}
		if off := gph.Values[best] - alt[best]; math.Abs(off) > 20 {
			t.Errorf("%s: hydrostatic height is %+.1f gpm off the archive's altitude at %.1f hPa", name, off, p[best])
		}
		// Read as a geometric height it would be 40 to 90 m off there: that it is
		// geopotential is found in the data and said.
		said := false
		for _, x := range f.Findings {
			said = said || x.Check == quality.BarometerHeight && strings.Contains(x.Sentence, "geopotential height")
		}
		if !said {
			t.Errorf("%s: nobody says that the archive's altitude is a geopotential height", name)
		}
		compared++
	}
	if compared < 6 {
		t.Errorf("only %d flights could be compared", compared)
	}
}

// Relative humidity recomputed from the archive's dew point and temperature, which are
// given to 0.1 K, humidity to 1 %. Whether the archive rounds or cuts is not known, so one
// step of humidity and one of temperature (d ln e/dT ≤ 0.085 K⁻¹ above −30 °C) are allowed.
func TestHumidityAgreesWithTheArchivesDewPoint(t *testing.T) {
	compared, off := 0, 0
	for _, o := range openFlights(t) {
		b := o.Final.Before
		temperature, dew, rh := b.Values(sounding.Temperature), b.Values(sounding.DewPoint), b.Values(sounding.Humidity)
		if dew == nil || rh == nil {
			continue
		}
		for i := range rh {
			if math.IsNaN(rh[i]) || math.IsNaN(dew[i]) || math.IsNaN(temperature[i]) || temperature[i] < 243.15 || rh[i] < 5 {
				continue
			}
			got := 100 * humidity.HylandWexler.OverWater(dew[i]) / humidity.HylandWexler.OverWater(temperature[i])
			allowed := 1 + 0.1*0.085*got
			compared++
			if math.Abs(got-rh[i]) > allowed {
				off++
			}
		}
	}
	if compared < 5000 {
		t.Fatalf("only %d samples could be compared", compared)
	}
	if share := float64(off) / float64(compared); share > 0.001 {
		t.Errorf("%.2f %% of %d recomputed humidities disagree", 100*share, compared)
	}
}

// Winds from the archive's speed and direction agree with its components, and survive
// the path where they were already filtered.
func TestReportedWindsAreKept(t *testing.T) {
	for name, o := range openFlights(t) {
		f := o.Final
		speed, final := f.Before.Values(sounding.WindSpeed), f.Get(sounding.WindSpeed)
		if speed == nil || final == nil {
			continue
		}
		span := f.Events.Ascent()
		n, sum := 0, 0.0
		for i := span.From; i < span.To; i++ {
			if !math.IsNaN(speed[i]) && !math.IsNaN(final.Values[i]) && f.Time[i] > 120 {
				n++
				sum += (final.Values[i] - speed[i]) * (final.Values[i] - speed[i])
			}
		}
		if rms := math.Sqrt(sum / float64(n)); n > 100 && rms > 0.5 {
			t.Errorf("%s: final wind speed differs from the reported one by %.2f m/s rms", name, rms)
		}
	}
}

// netCDF-4 goes through netCDF's own converter; the outcome is that of the classic file.
func TestNetCDF4GivesTheSameFlight(t *testing.T) {
	nccopy := sharedtest.Tool(t, "nccopy", "netcdf-bin")
	dir := sharedtest.Dir(t, "data/arm")
	paths, _ := filepath.Glob(filepath.Join(dir, "*.cdf"))
	b, err := os.ReadFile(paths[0])
	if err != nil {
		t.Fatal(err)
	}
	four := filepath.Join(t.TempDir(), "four.nc")
	if out, err := exec.Command(nccopy, "-k", "nc4", paths[0], four).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	c, err := os.ReadFile(four)
	if err != nil {
		t.Fatal(err)
	}
	recipe, _, err := ingest.ShippedRecipe("cf")
	if err != nil {
		t.Fatal(err)
	}
	classic, err := ingest.Read(context.Background(), "a.nc", bytes.NewReader(b), recipe, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	converted, err := ingest.Read(context.Background(), "a.nc", bytes.NewReader(c), recipe, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if classic.Len() != converted.Len() || len(classic.Series) != len(converted.Series) || !bytes.Equal(snapshot(&classic.Columns), snapshot(&converted.Columns)) {
		t.Errorf("%d rows of %d series became %d rows of %d series", classic.Len(), len(classic.Series), converted.Len(), len(converted.Series))
	}
}
