package correct_test

import (
	"math"
	"strings"
	"testing"

	"leadline/internal/correct"
	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
)

// without drops series from a checked flight.
func without(in *sounding.Checked, names ...sounding.Variable) *sounding.Checked {
	out := *in
	out.Series = nil
next:
	for _, s := range in.Series {
		for _, v := range names {
			if s.Variable == v {
				continue next
			}
		}
		out.Series = append(out.Series, s)
	}
	return &out
}

// rmsOf is the rms of a variable against the truth over the ascent where it is warmer than limit.
func rmsOf(f *flown, values []float64, limit float64) float64 {
	air, t := f.flight.TruthOf(sounding.Humidity), f.flight.TruthOf(sounding.Temperature)
	span := f.checked.Events.Ascent()
	sum, n := 0.0, 0
	for i := span.From + 30; i < span.To; i++ {
		if d := values[i] - air[i]; t[i] > limit && !math.IsNaN(d) {
			sum += d * d
			n++
		}
	}
	return math.Sqrt(sum / float64(n))
}

func run(t *testing.T, in *sounding.Checked, set *correct.Settings) correct.Result {
	t.Helper()
	r, err := correct.Run(in, set)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Columns.Validate(); err != nil {
		t.Fatal(err)
	}
	return r
}

func noteOf(r correct.Result, method string) string {
	for _, s := range r.Steps {
		if s.Method == method && s.Variable == sounding.Humidity {
			return s.Note
		}
	}
	return ""
}

// The heating state is found from its columns, from the elements' own temperatures,
// and from the readings alone; the merge is nearly as good each time.
func TestHeatingIsFoundThreeWays(t *testing.T) {
	f := fly(t, preset(t, truth.MidLatitudeSummer, false, "twin-humidity"), 21)
	own := []sounding.Variable{sounding.HumiditySensorTempA, sounding.HumiditySensorTempB}
	columns := []sounding.Variable{sounding.HeatingA, sounding.HeatingB}
	best := math.NaN()
	for _, c := range []struct {
		name  string
		in    *sounding.Checked
		how   string
		worse float64
	}{
		{"all columns", f.checked, "column", 1},
		{"no heating columns", without(f.checked, columns...), "element temperature", 1.25},
		{"no element temperatures", without(f.checked, own...), "column", 2},
		{"readings alone", without(f.checked, append(own, columns...)...), "readings", 2.5},
	} {
		r := run(t, c.in, correct.Default())
		rms := rmsOf(f, r.Columns.Values(sounding.Humidity), 233.15)
		t.Logf("%s: rms %.2f %%; %s", c.name, rms, noteOf(r, "twin-humidity-merge"))
		if !strings.Contains(noteOf(r, "twin-humidity-merge"), "found by "+c.how) {
			t.Errorf("%s: found otherwise than by %s: %s", c.name, c.how, noteOf(r, "twin-humidity-merge"))
		}
		if c.worse == 1 {
			best = math.Max(rms, 1)
		}
		if rms > c.worse*best && rms > 3 {
			t.Errorf("%s: rms %.2f %%, with all columns %.2f %%", c.name, rms, best)
		}
	}
}

// The merge is better than either sensor alone and than the mean of the two readings.
func TestMergeBeatsSensorsAndMean(t *testing.T) {
	var merged, better, averaged float64
	n := 0
	for k, s := range truth.Presets() {
		f := fly(t, s, uint64(700+k))
		m := rmsOf(f, f.columns.Values(sounding.Humidity), 233.15)
		single := math.Inf(1)
		for _, v := range []sounding.Variable{sounding.HumidityA, sounding.HumidityB} {
			set := correct.Default()
			set.SensorChoice = []sounding.SensorRuling{{Sensor: v, Span: sounding.Span{From: 0, To: f.checked.Len()}}}
			r := run(t, f.checked, set)
			single = math.Min(single, rmsOf(f, bridged(r.Columns.Values(sounding.Humidity)), 233.15))
		}
		merged += m * m
		better += single * single
		a := rmsOf(f, mean(f.checked.Values(sounding.HumidityA), f.checked.Values(sounding.HumidityB)), 233.15)
		averaged += a * a
		n++
	}
	m, b, a := math.Sqrt(merged/float64(n)), math.Sqrt(better/float64(n)), math.Sqrt(averaged/float64(n))
	t.Logf("warmer than −40 °C, %d flights: merge %.2f %%, better single sensor of each flight %.2f %%, mean of readings %.2f %%", n, m, b, a)
	if !(m < a/4) {
		t.Errorf("merge %.2f %%, mean of the readings %.2f %%", m, a)
	}
	if m > b*1.05 {
		t.Errorf("merge %.2f %%, the better sensor alone %.2f %%", m, b)
	}
}

// bridged fills what a sensor alone has to leave out while it is heated and recovers.
func bridged(x []float64) []float64 {
	out := append([]float64(nil), x...)
	last := -1
	for i, v := range x {
		if math.IsNaN(v) {
			continue
		}
		for j := last + 1; j < i; j++ {
			out[j] = v
			if last >= 0 {
				out[j] = x[last] + (v-x[last])*float64(j-last)/float64(i-last)
			}
		}
		last = i
	}
	return out
}

// A person's choice is followed on its rows and nowhere else.
func TestSensorChoice(t *testing.T) {
	f := fly(t, preset(t, truth.Marine, false, "twin-humidity"), 3)
	set := correct.Default()
	from := f.checked.Events.Release.Row + 800
	span := sounding.Span{From: from, To: from + 1000}
	set.SensorChoice = []sounding.SensorRuling{{Sensor: sounding.HumidityB, Span: span}}
	in := *f.checked
	in.Columns = in.Columns.With(broken(in.Columns, sounding.HumidityB, span, 12))
	r := run(t, &in, set)
	plain := run(t, &in, correct.Default())
	merged, b := r.Columns.Values(sounding.Humidity), r.Columns.Values(sounding.HumidityB)
	apart := 0
	for i := span.From; i < span.To; i++ {
		if d := merged[i] - b[i]; !math.IsNaN(d) && math.Abs(d) > 6.5 {
			apart++ // half of what parts the sensors, and no more, may stand between
		}
	}
	if apart > span.Len()/10 {
		t.Errorf("%d of %d ruled rows are not sensor B's", apart, span.Len())
	}
	// What parts the sensors is measured in blocks of minutes, so that a ruling shows a
	// little beyond its rows.
	for i := f.checked.Events.Release.Row; i < span.From-450; i++ {
		if merged[i] != plain.Columns.Values(sounding.Humidity)[i] {
			t.Fatalf("row %d before the ruled span changed", i)
		}
	}
}

// broken is a copy of a series with by added on a span.
func broken(c sounding.Columns, v sounding.Variable, span sounding.Span, by float64) sounding.Series {
	s := *c.Get(v)
	s.Values = append([]float64(nil), s.Values...)
	for i := span.From; i < span.To; i++ {
		s.Values[i] += by
	}
	return s
}

// A dead sensor is left out with a finding, and the other does the work.
func TestFailedSensor(t *testing.T) {
	f := fly(t, preset(t, truth.MidLatitudeWinter, false, "twin-humidity"), 4)
	for name, edit := range map[string]func(i int, x float64) float64{
		"stuck":   func(i int, x float64) float64 { return 41.5 },
		"missing": func(i int, x float64) float64 { return math.NaN() },
		"noisy":   func(i int, x float64) float64 { return x + 12*math.Sin(float64(i*i)) },
	} {
		in := *f.checked
		s := *in.Columns.Get(sounding.HumidityA)
		s.Values = append([]float64(nil), s.Values...)
		s.Flags = append([]quality.Flag(nil), s.Flags...)
		for i := range s.Values {
			if s.Values[i] = edit(i, s.Values[i]); math.IsNaN(s.Values[i]) {
				s.Flags[i] = quality.Missing
			}
		}
		in.Columns = in.Columns.With(s)
		r := run(t, &in, correct.Default())
		found := false
		for _, x := range r.Findings {
			found = found || x.Check == quality.TwinHumidity && x.Variable == sounding.HumidityA
		}
		if !found {
			t.Errorf("%s: no finding on sensor A: %v", name, r.Findings)
		}
		if rms := rmsOf(f, r.Columns.Values(sounding.Humidity), 233.15); rms > 4 {
			t.Errorf("%s: rms %.1f %% with sensor B alone", name, rms)
		}
	}
}

// Sensors that differ by more than the limit are reported with the amount, and the
// uncertainty is widened by half of it.
func TestDisagreementIsReported(t *testing.T) {
	f := fly(t, preset(t, truth.MidLatitudeSummer, false, "twin-humidity"), 8)
	in := *f.checked
	in.Columns = in.Columns.With(broken(in.Columns, sounding.HumidityA, sounding.Span{From: 0, To: in.Len()}, 8))
	r := run(t, &in, correct.Default())
	var hit *sounding.Finding
	for i := range r.Findings {
		if r.Findings[i].Check == quality.TwinHumidity {
			hit = &r.Findings[i]
			break
		}
	}
	if hit == nil {
		t.Fatal("sensors 8 % apart and no finding")
	}
	if m := hit.Measured.Value(); math.Abs(m-8) > 5 {
		t.Errorf("measured %.1f %%, 8 %% were added: %s", m, hit.Sentence)
	}
	i := hit.Spans[0].From + hit.Spans[0].Len()/2
	if u := r.Columns.Get(sounding.Humidity).Common[i]; u < 0.4*math.Abs(hit.Measured.Value()) {
		t.Errorf("uncertainty %.2f %% where the sensors are %.1f %% apart, want half of that at least", u, hit.Measured)
	}
}

// Two sensors without an instrument sheet: the moister reading, said so.
func TestTwoSensorsWithoutSheet(t *testing.T) {
	f := fly(t, preset(t, truth.Marine, true, "twin-humidity"), 3)
	in := *f.checked
	in.Sheet = nil
	r := run(t, &in, correct.Default())
	if rms := rmsOf(f, r.Columns.Values(sounding.Humidity), 233.15); rms > 6 {
		t.Errorf("rms %.1f %%", rms)
	}
}

// Wake spikes are taken down to a third at most, and a clean flight is left alone.
func TestWake(t *testing.T) {
	s := preset(t, truth.MidLatitudeSummer, true, "single-humidity")
	clean := fly(t, s, 31)
	for _, x := range clean.steps {
		if x.Method == "wake" {
			t.Errorf("a clean flight was corrected for wake: %s", x.Note)
		}
	}
	s.Faults = []truth.Fault{{Name: "wake-spikes"}}
	f := fly(t, s, 31)
	air, amount := f.flight.TruthOf(sounding.Temperature), f.flight.Amount(sounding.Temperature)
	raw, final := f.checked.Values(sounding.Temperature), f.columns.Values(sounding.Temperature)
	a, b, n := 0.0, 0.0, 0
	span := f.checked.Events.Ascent()
	for i := span.From; i < span.To; i++ {
		if math.Abs(amount[i]) > 0.2 {
			// The radiation error is taken off in both, by the corrected clean flight.
			rest := clean.checked.Values(sounding.Temperature)[i] - clean.columns.Values(sounding.Temperature)[i]
			a += math.Pow(raw[i]-rest-air[i], 2)
			b += math.Pow(final[i]-air[i], 2)
			n++
		}
	}
	if n == 0 {
		t.Fatal("the fault touched nothing")
	}
	t.Logf("%d disturbed samples: rms %.2f → %.2f K", n, math.Sqrt(a/float64(n)), math.Sqrt(b/float64(n)))
	if b > a/9*1.5 {
		t.Errorf("wake spikes: rms %.2f → %.2f K", math.Sqrt(a/float64(n)), math.Sqrt(b/float64(n)))
	}
}

// A sensor that the checks hold to be iced is left out where the other one counts: the
// merge follows the clean one.
func TestIcedSensorIsLeftOut(t *testing.T) {
	s := preset(t, truth.MidLatitudeWinter, false, "twin-humidity")
	s.Faults = []truth.Fault{{Name: "humidity-icing"}}
	f := fly(t, s, 12)
	in := *f.checked
	worst := map[string]float64{}
	for _, marked := range []bool{false, true} {
		touched := make([]bool, in.Len())
		for _, v := range []sounding.Variable{sounding.HumidityA, sounding.HumidityB} {
			amount := f.flight.Amount(v)
			x := *f.checked.Get(v)
			x.Flags = append([]quality.Flag(nil), x.Flags...)
			x.Tests = append([]quality.Bits(nil), x.Tests...)
			first, last := -1, -1
			for i, a := range amount {
				if math.Abs(a) > 3 {
					touched[i] = true
					if last = i; first < 0 {
						first = i
					}
				}
			}
			for i := max(first, 0); marked && i <= last; i++ {
				x.Flags[i], x.Tests[i] = quality.Questionable, quality.Icing.Bit()
			}
			in.Columns = in.Columns.With(x)
		}
		r := run(t, &in, correct.Default())
		h, air := r.Columns.Values(sounding.Humidity), f.flight.TruthOf(sounding.Humidity)
		span := in.Events.Ascent()
		sum, n := 0.0, 0
		for i := span.From; i < span.To; i++ {
			if d := h[i] - air[i]; touched[i] && !math.IsNaN(d) && f.flight.TruthOf(sounding.Temperature)[i] > 213 {
				sum += d * d
				n++
			}
		}
		if n == 0 {
			t.Fatal("the fault touched nothing")
		}
		worst[map[bool]string{false: "unmarked", true: "marked"}[marked]] = math.Sqrt(sum / float64(n))
	}
	t.Logf("rms where a sensor is iced: %.1f %% unknown, %.1f %% marked by the checks", worst["unmarked"], worst["marked"])
	// The instrument's own departures (time constant, k = 1 of 30 %) stay: what ice adds has to go.
	if worst["marked"] > 0.3*worst["unmarked"] {
		t.Errorf("rms where a sensor is iced: %.1f %% unknown, %.1f %% marked", worst["unmarked"], worst["marked"])
	}
}
