package truth

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"leadline/internal/sounding"
)

// FaultInfo is one entry of the catalogue of faults.
type FaultInfo struct {
	Name  string
	Kind  string // "record", "values", "rows" or "balloon": what it spoils
	Title string // what goes wrong, in a few words
	Unit  string // of the size
	Size  float64
	needs func(*sounding.InstrumentSheet) string // "" or what the sheet must have
	// balloon changes the scenario or the balloon's plan before the flight.
	balloon func(s *Scenario, f *Fault, plan *flightPlan, rnd *stream)
	// apply spoils what was received or written.
	apply func(j *injection)
}

var catalogue []*FaultInfo

func register(list ...*FaultInfo) { catalogue = append(catalogue, list...) }

// Faults lists the catalogue by name.
func Faults() []FaultInfo {
	out := make([]FaultInfo, 0, len(catalogue))
	for _, f := range catalogue {
		out = append(out, *f)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

func faultByName(name string) (*FaultInfo, error) {
	for _, f := range catalogue {
		if f.Name == name {
			return f, nil
		}
	}
	var names []string
	for _, f := range Faults() {
		names = append(names, f.Name)
	}
	return nil, fmt.Errorf("fault %q is not in the catalogue: it holds %s", name, strings.Join(names, ", "))
}

// Suits returns nil where a fault can happen to a radiosonde of that sheet, else an
// error that says what it lacks.
func (f *FaultInfo) Suits(sheet *sounding.InstrumentSheet) error {
	if f.needs != nil {
		if missing := f.needs(sheet); missing != "" {
			return fmt.Errorf("fault %s needs %s, which instrument sheet %s does not have", f.Name, missing, sheet.Name)
		}
	}
	return nil
}

func needsBarometer(s *sounding.InstrumentSheet) string {
	if !s.Pressure.Sensor {
		return "a barometer"
	}
	return ""
}

func needsHumidity(s *sounding.InstrumentSheet) string {
	if s.Humidity.Sensors == 0 {
		return "a humidity sensor"
	}
	return ""
}

// injection is one fault at work on one flight.
type injection struct {
	f     *Flight
	fault *Fault
	rnd   *stream
	index int
	out   *Injected
}

// inject applies the faults in the order they were asked for.
func (f *Flight) inject(plan *flightPlan) {
	for i := range f.Receptions {
		f.Receptions[i] = f.Receptions[i].clone()
	}
	for i := range f.Scenario.Faults {
		fault := &f.Scenario.Faults[i]
		entry, err := faultByName(fault.Name)
		if err != nil {
			continue // Validate has refused it
		}
		f.Injected = append(f.Injected, Injected{Fault: *fault})
		j := &injection{f: f, fault: fault, rnd: newStream(f.mixed, "injected "+fault.Name), index: i, out: &f.Injected[i]}
		entry.apply(j)
		j.out.Fault = *fault
	}
}

func (j *injection) say(format string, args ...any) { j.out.Sentence = fmt.Sprintf(format, args...) }

// moment returns the start of the fault in s since the epoch: as asked for, else by
// chance between two shares of the ascent.
func (j *injection) moment(low, high float64) float64 {
	t := &j.f.Truth
	end := t.Burst
	if math.IsNaN(end) {
		end = t.Time[t.Len()-1]
	}
	draw := j.rnd.between(low, high)
	if j.fault.At == 0 {
		j.fault.At = math.Round(draw * (end - t.Release))
	}
	return t.Release + j.fault.At
}

// frame returns the first frame at or after an instant.
func (j *injection) frame(at float64) int {
	return min(max(0, int(math.Ceil(at/j.f.Scenario.Interval))), j.f.Truth.Len())
}

// change passes every value of v in [from, to) through g, in every receiver's file:
// the radiosonde itself is wrong. g depends on nothing but the frame and the value, so
// that all receivers hear the same.
func (j *injection) change(v sounding.Variable, from, to float64, g func(frame int, x float64) float64) {
	found := false
	for n := range j.f.Receptions {
		r := &j.f.Receptions[n]
		s := r.Columns.Get(v)
		if s == nil {
			continue
		}
		found = true
		for i, k := range r.Sample {
			if k < 0 || !(j.f.Truth.Time[k] >= from && j.f.Truth.Time[k] < to) {
				continue
			}
			x := g(int(k), s.Values[i])
			if x != s.Values[i] && !(math.IsNaN(x) && math.IsNaN(s.Values[i])) {
				s.Values[i] = x
				r.marks[i] |= 1 << j.index
			}
		}
	}
	if found {
		j.touches(v)
	}
}

func (j *injection) touches(v sounding.Variable) {
	for _, have := range j.out.Variables {
		if have == v {
			return
		}
	}
	j.out.Variables = append(j.out.Variables, v)
}

// resolution returns the step in which v is reported.
func (j *injection) resolution(v sounding.Variable) float64 {
	s := j.f.Scenario.Sheet
	switch v {
	case sounding.Pressure:
		return s.Pressure.Resolution
	case sounding.Temperature:
		return s.Temperature.Resolution
	case sounding.Humidity, sounding.HumidityA, sounding.HumidityB:
		return s.Humidity.Resolution
	case sounding.Latitude, sounding.Longitude:
		return 1e-6
	case sounding.HeightMSL, sounding.HeightEllipsoid, sounding.HumiditySensorTempA, sounding.HumiditySensorTempB:
		return 0.1
	}
	return 0.01
}

// add returns x + d as the radiosonde would report it.
func (j *injection) add(v sounding.Variable, x, d float64) float64 {
	r := j.resolution(v)
	switch v {
	case sounding.Temperature:
		return quantise(x-zeroCelsius+d, r) + zeroCelsius
	case sounding.Humidity, sounding.HumidityA, sounding.HumidityB:
		return math.Max(0, math.Min(quantise(x+d, r), 110))
	}
	return quantise(x+d, r)
}

// to returns y in place of x, as the radiosonde would report it.
func (j *injection) to(v sounding.Variable, y float64) float64 {
	switch v {
	case sounding.Temperature:
		return quantise(y-zeroCelsius, j.resolution(v)) + zeroCelsius
	case sounding.Humidity, sounding.HumidityA, sounding.HumidityB:
		return math.Max(0, math.Min(quantise(y, j.resolution(v)), 110))
	}
	return quantise(y, j.resolution(v))
}

// repeat replaces values of v in [from, to) by the last one before.
func (j *injection) repeat(v sounding.Variable, from, to float64) {
	for n := range j.f.Receptions {
		j.repeatIn(&j.f.Receptions[n], v, from, to)
	}
}

func (j *injection) repeatIn(r *Reception, v sounding.Variable, from, to float64) {
	s := r.Columns.Get(v)
	if s == nil {
		return
	}
	held := math.NaN()
	for i, k := range r.Sample {
		if k < 0 {
			continue
		}
		t := j.f.Truth.Time[k]
		switch {
		case t < from:
			held = s.Values[i]
		case t < to && !math.IsNaN(held):
			s.Values[i] = held
			r.marks[i] |= 1 << j.index
		}
	}
	j.touches(v)
}

// rows returns the rows of the first receiver with true time in [from, to).
func (j *injection) rows(from, to float64) (first, last int) {
	r := &j.f.Receptions[0]
	first, last = len(r.Sample), len(r.Sample)
	for i, k := range r.Sample {
		if k < 0 {
			continue
		}
		t := j.f.Truth.Time[k]
		if t >= from && i < first {
			first = i
		}
		if t >= to {
			last = i
			break
		}
	}
	return min(first, last), last
}

// lose takes rows [first, last) out of the first receiver's file.
func (j *injection) lose(first, last int) {
	r := &j.f.Receptions[0]
	lost := make([]bool, j.f.Truth.Len())
	var index []int
	for i, k := range r.Sample {
		if i >= first && i < last {
			if k >= 0 {
				lost[k] = true
			}
			continue
		}
		index = append(index, i)
	}
	r.gather(index)
	j.out.Lost = append(j.out.Lost, sounding.Spans(lost, 0)...)
}

// humiditySensors lists the humidity variables of the flight.
func (j *injection) humiditySensors() []sounding.Variable {
	if j.f.Scenario.Sheet.Humidity.Sensors == 2 {
		return []sounding.Variable{sounding.HumidityA, sounding.HumidityB}
	}
	return []sounding.Variable{sounding.Humidity}
}

// one picks one of the humidity sensors.
func (j *injection) one() sounding.Variable {
	all := j.humiditySensors()
	return all[min(int(j.rnd.uniform()*float64(len(all))), len(all)-1)]
}

// word returns the variable's label in lower case, for sentences.
func word(v sounding.Variable) string {
	label := v.Info().Label
	return strings.ToLower(label[:1]) + label[1:]
}
