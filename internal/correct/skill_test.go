package correct_test

import (
	"fmt"
	"math"
	"os"
	"sort"
	"strings"
	"testing"

	"leadline/internal/correct"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/wind"
)

// flown is one simulated flight with its known answer, its events taken from the
// truth so that only corrections and wind are judged here.
type flown struct {
	name    string
	flight  *truth.Flight
	checked *sounding.Checked
	columns sounding.Columns
	blown   sounding.Columns
	steps   []sounding.Step
}

func fly(t testing.TB, s truth.Scenario, seed uint64) *flown {
	t.Helper()
	f, err := truth.Simulate(s, seed)
	if err != nil {
		t.Fatal(err)
	}
	c := f.Receptions[0].Columns
	times := make([]float64, c.Len())
	for i, x := range c.Time {
		times[i] = x - f.Truth.Release
	}
	c.Time = times
	var runs []sounding.CheckRun
	for i := range c.Series {
		runs = append(runs, sounding.CheckRun{Check: quality.Gross, Variable: c.Series[i].Variable, Ran: true})
	}
	c = c.Flagged(sounding.Report{Runs: runs})
	ev := sounding.Events{Release: sounding.Event{Found: true, Time: 0}}
	for i := 0; i < len(times); {
		at := func(i int) sounding.Phase {
			switch x := times[i]; {
			case x < 0:
				return sounding.BeforeRelease
			case !(x > f.Truth.Burst-f.Truth.Release):
				return sounding.Ascending
			default:
				return sounding.Descending
			}
		}
		j := i
		for j < len(times) && at(j) == at(i) {
			j++
		}
		ev.Phases = append(ev.Phases, sounding.PhaseSpan{Phase: at(i), Span: sounding.Span{From: i, To: j}})
		if at(i) == sounding.Ascending {
			ev.Release.Row = i
		}
		i = j
	}
	in := &sounding.Checked{Context: sounding.Context{Epoch: f.Truth.UTC(f.Truth.Release), Events: ev, Record: f.Record, Sheet: s.Sheet}, Columns: c}
	r, err := correct.Run(in, correct.Default())
	if err != nil {
		t.Fatal(err)
	}
	w, err := wind.Run(&in.Context, &r.Columns, wind.Default())
	if err != nil {
		t.Fatal(err)
	}
	return &flown{name: s.Name, flight: f, checked: in, columns: r.Columns, blown: w.Columns, steps: append(r.Steps, w.Steps...)}
}

// tally gathers errors of one kind of sample.
type tally struct {
	n           int
	sum, square float64
	raw, rawN   float64
	covered     int
	u           float64
}

func (a *tally) add(err, raw, u float64) {
	if math.IsNaN(err) {
		return
	}
	a.n++
	a.sum += err
	a.square += err * err
	if !math.IsNaN(raw) {
		a.raw += raw * raw
		a.rawN++
	}
	if math.Abs(err) < 2*u {
		a.covered++
	}
	a.u += u * u
}

func (a *tally) rms() float64      { return math.Sqrt(a.square / float64(a.n)) }
func (a *tally) rawRMS() float64   { return math.Sqrt(a.raw / a.rawN) }
func (a *tally) bias() float64     { return a.sum / float64(a.n) }
func (a *tally) coverage() float64 { return 100 * float64(a.covered) / float64(a.n) }
func (a *tally) meanU() float64    { return math.Sqrt(a.u / float64(a.n)) }

// band names the group a sample belongs to.
func band(v sounding.Variable, day bool, p, t float64) string {
	light := "night"
	if day {
		light = "day"
	}
	switch v {
	case sounding.Humidity, sounding.HumidityA, sounding.HumidityB, sounding.DewPoint:
		switch {
		case t > 233.15:
			return "> -40 C " + light
		case t > 203.15:
			return "-40..-70 C " + light
		}
		return "< -70 C " + light
	}
	switch {
	case p > 300:
		return "below 300 hPa " + light
	case p > 100:
		return "300-100 hPa " + light
	case p > 30:
		return "100-30 hPa " + light
	}
	return "above 30 hPa " + light
}

var judged = []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.HumidityA, sounding.HumidityB, sounding.Humidity, sounding.WindU, sounding.WindV, sounding.GeopotentialHeight, sounding.HeightMSL}

// judge adds a flight's errors to the tallies.
func judge(f *flown, into map[string]*tally, leg sounding.Phase) {
	day := strings.HasSuffix(f.name, "day")
	pTrue, tTrue := f.flight.TruthOf(sounding.Pressure), f.flight.TruthOf(sounding.Temperature)
	for _, v := range judged {
		s, truthValues := f.blown.Get(v), f.flight.TruthOf(v)
		if s == nil || truthValues == nil {
			continue
		}
		raw := f.checked.Values(v)
		switch v {
		case sounding.WindU:
			raw = f.checked.Values(sounding.VelocityEast)
		case sounding.WindV:
			raw = f.checked.Values(sounding.VelocityNorth)
		case sounding.Humidity:
			if raw == nil {
				raw = mean(f.checked.Values(sounding.HumidityA), f.checked.Values(sounding.HumidityB))
			}
		}
		for _, p := range f.checked.Events.Phases {
			if p.Phase != leg {
				continue
			}
			for i := p.From; i < p.To; i++ {
				if math.IsNaN(s.Total(i)) {
					continue // a heated element
				}
				r := math.NaN()
				if raw != nil {
					r = raw[i] - truthValues[i]
				}
				name := fmt.Sprintf("%-20v %s", v, band(v, day, pTrue[i], tTrue[i]))
				if into[name] == nil {
					into[name] = &tally{}
				}
				into[name].add(s.Values[i]-truthValues[i], r, s.Total(i))
			}
		}
	}
}

func mean(a, b []float64) []float64 {
	if a == nil || b == nil {
		return nil
	}
	out := make([]float64, len(a))
	for i := range a {
		out[i] = 0.5 * (a[i] + b[i])
	}
	return out
}

// report flies every climate by day and night and gathers errors of ascent and descent.
func report(t testing.TB, sheetName string, first, seeds int) (up, down map[string]*tally) {
	t.Helper()
	sheet, _, err := sounding.ShippedSheet(sheetName)
	if err != nil {
		t.Fatal(err)
	}
	up, down = map[string]*tally{}, map[string]*tally{}
	for k, s := range truth.Presets() {
		s.Sheet = sheet
		for seed := range seeds {
			f := fly(t, s, uint64(first+1000*k+seed))
			judge(f, up, sounding.Ascending)
			judge(f, down, sounding.Descending)
		}
	}
	return up, down
}

// pooled joins the tallies of a variable whose band contains one of the words.
func pooled(m map[string]*tally, v sounding.Variable, words ...string) *tally {
	out := &tally{}
	for k, a := range m {
		if !strings.HasPrefix(k, fmt.Sprintf("%-20v ", v)) {
			continue
		}
		for _, w := range words {
			if strings.Contains(k, w) {
				out.n += a.n
				out.sum += a.sum
				out.square += a.square
				out.raw += a.raw
				out.rawN += a.rawN
				out.covered += a.covered
				out.u += a.u
				break
			}
		}
	}
	return out
}

// Errors against simulated truth stay below what is promised for all climates, by day
// and night (the figures wanted of the whole program, and held here by corrections and
// wind alone, with events known). SKILL_SEEDS makes it a longer run, SKILL_PRINT=1
// prints every band. docs/methods/uncertainty.md holds the last figures.
func TestSkillAgainstTruth(t *testing.T) {
	seeds := 2
	if s := os.Getenv("SKILL_SEEDS"); s != "" {
		if _, err := fmt.Sscan(s, &seeds); err != nil {
			t.Fatal(err)
		}
	}
	below, above := []string{"below 300", "300-100"}, []string{"100-30", "above 30"}
	for _, sheet := range sounding.ShippedSheets() {
		up, down := report(t, sheet, 300000, seeds)
		for _, c := range []struct {
			v       sounding.Variable
			words   []string
			largest float64 // rms
		}{
			{sounding.Temperature, below, 0.15},
			{sounding.Temperature, above, 0.30},
			{sounding.Humidity, []string{"> -40"}, 3},
			{sounding.Humidity, []string{"-40..-70"}, 5},
			{sounding.WindU, append(below, above...), 0.35}, // vector 0.5
			{sounding.WindV, append(below, above...), 0.35},
			{sounding.GeopotentialHeight, below, 10},
			{sounding.GeopotentialHeight, above, 30},
			{sounding.Pressure, below, 0.5},
		} {
			a := pooled(up, c.v, c.words...)
			t.Logf("%-16s %-20v %-22s rms %6.3f → %6.3f  u %6.3f  coverage %5.1f %%", sheet, c.v, c.words[0], a.rawRMS(), a.rms(), a.meanU(), a.coverage())
			if a.n == 0 || !(a.rms() <= c.largest) {
				t.Errorf("%s: %v %v: rms %.3f, want %.3f at most", sheet, c.v, c.words, a.rms(), c.largest)
			}
			// Flights share their calibration errors, so that few flights scatter: the
			// limits are wider than the 93 to 97 % that many flights are held to.
			if a.coverage() < 88 {
				t.Errorf("%s: %v %v: only %.1f %% of errors are within 2 u", sheet, c.v, c.words, a.coverage())
			}
		}
		if os.Getenv("SKILL_PRINT") == "" {
			continue
		}
		for _, leg := range []struct {
			name string
			m    map[string]*tally
		}{{"ascent", up}, {"descent", down}} {
			for _, k := range sortedKeys(leg.m) {
				a := leg.m[k]
				t.Logf("%s %s  %-45s n %7d  rms %8.3f → %7.3f  bias %+7.3f  u %7.3f  coverage %5.1f %%", sheet, leg.name, k, a.n, a.rawRMS(), a.rms(), a.bias(), a.meanU(), a.coverage())
			}
		}
	}
}

func sortedKeys(m map[string]*tally) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// In strong gradients the error of humidity is at least halved against the raw reading
// of a single sensor: within 20 s of where the true humidity changes by more than 1 %
// in a second, between −10 and −60 °C, where lag is what matters.
func TestStrongHumidityGradients(t *testing.T) {
	var raw, final float64
	n := 0
	for k, s := range truth.Presets() {
		s.Sheet, _, _ = sounding.ShippedSheet("single-humidity")
		f := fly(t, s, uint64(400000+k))
		air, cold := f.flight.TruthOf(sounding.Humidity), f.flight.TruthOf(sounding.Temperature)
		before, after := f.checked.Values(sounding.Humidity), f.columns.Values(sounding.Humidity)
		span := f.checked.Events.Ascent()
		near := make([]bool, len(air))
		for i := span.From + 1; i < span.To; i++ {
			if math.Abs(air[i]-air[i-1]) > 1 && cold[i] > 213 && cold[i] < 263 {
				for j := max(span.From, i-20); j < min(span.To, i+21); j++ {
					near[j] = true
				}
			}
		}
		for i, x := range near {
			if x && !math.IsNaN(after[i]) && !math.IsNaN(before[i]) {
				raw += math.Pow(before[i]-air[i], 2)
				final += math.Pow(after[i]-air[i], 2)
				n++
			}
		}
	}
	if n < 200 {
		t.Fatalf("only %d samples in strong gradients", n)
	}
	a, b := math.Sqrt(raw/float64(n)), math.Sqrt(final/float64(n))
	t.Logf("%d samples in strong gradients: rms %.1f → %.1f %%", n, a, b)
	if b > 0.5*a {
		t.Errorf("strong gradients: rms %.1f → %.1f %%, want half at most", a, b)
	}
}
