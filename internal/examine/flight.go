package examine

import (
	"math"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// Result is what one flight says about the path.
type Result struct {
	Case     Case
	Seed     uint64
	Verdict  string
	Reasons  []string
	Release  float64 // found minus true, s; NaN where none was found
	Burst    float64 // NaN where there was none, or none was found
	HasBurst bool
	Flagged  int // final samples of the ascent that are questionable or bad
	Samples  int // final samples of the ascent with a value
	Errors   []Errors
	Height   map[string]float64 // gpm off at 100 and 10 hPa
	Faults   []Detection
	Elapsed  time.Duration
	ByCheck  map[string]int // samples flagged, by check
	Failure  string         // error of the path, "" where it ran
	Said     map[string]int // findings above a note, and notes of checks that inform, by check
	Twin     Twin
	Layers   []Layer
}

// Detection is whether one injected fault was found.
type Detection struct {
	Name     string
	Mattered bool    // large enough on this flight to do harm
	Found    bool    // see detect
	Affected int     // samples of the product that the truth says are spoilt
	Marked   int     // of them flagged, missing, or corrected to within twice their uncertainty
	Right    int     // of them within twice their uncertainty, flagged or not
	Start    float64 // first flagged minus first affected, s; NaN where nothing was flagged or all is right
	End      float64
}

// Case is what a flight is about.
type Case struct {
	Climate truth.Climate
	Day     bool
	Fault   string  // "" clean
	Size    float64 // of the fault, 0: the catalogue's
}

// Name identifies a case in seeds and tables.
func (c Case) Name() string {
	s := string(c.Climate) + " night"
	if c.Day {
		s = string(c.Climate) + " day"
	}
	if c.Fault != "" {
		s += " " + c.Fault
	}
	return s
}

// Examine simulates flight n of a case, runs the path on its files and compares.
func Examine(c Case, purpose Purpose, n int, settings *workbench.Settings) (Result, error) {
	s, err := truth.Preset(c.Climate, c.Day)
	if err != nil {
		return Result{}, err
	}
	if c.Fault != "" {
		s.Faults = []truth.Fault{{Name: c.Fault, Size: c.Size}}
	}
	seed := Seed(purpose, c.Name(), n)
	flight, err := truth.Simulate(s, seed)
	if err != nil {
		return Result{}, err
	}
	r := Result{Case: c, Seed: seed, Release: math.NaN(), Burst: math.NaN(), Errors: newErrors(), Height: map[string]float64{}, ByCheck: map[string]int{}}
	var files []workbench.File
	for i := range flight.Receptions {
		files = append(files, workbench.File{Name: flight.Receptions[i].Name, Bytes: flight.Text(i)})
	}
	start := time.Now()
	outcomes, err := workbench.CheckWith(files, workbench.Request{Join: len(files) > 1, Record: workbench.File{Name: "launch.toml", Bytes: flight.RecordText()}}, settings)
	r.Elapsed = time.Since(start)
	if err != nil {
		r.Failure = err.Error()
		return r, nil
	}
	// A file that holds two flights gives two outcomes: ours is the longer one.
	best := outcomes[0]
	for _, o := range outcomes {
		if o.Final.Events.Ascent().Len() > best.Final.Events.Ascent().Len() {
			best = o
		}
	}
	r.compare(flight, best)
	if c.Fault == "" {
		r.Layers = layersOf(flight, best.Final)
		if r.Twin, err = twin(flight, best); err != nil {
			return Result{}, err
		}
		r.Said = map[string]int{}
		for _, finding := range best.Final.Findings {
			if finding.Severity > sounding.Note || informative[finding.Check] {
				r.Said[finding.Check.String()]++
			}
		}
	}
	if len(outcomes) > 1 {
		for k := range r.Faults {
			if r.Faults[k].Name == "earlier-flight-in-file" && math.Abs(r.Release) <= releaseGoal {
				r.Faults[k].Found = true // told apart
			}
		}
	}
	return r, nil
}

// compare fills the result from the outcome of a flight.
func (r *Result) compare(flight *truth.Flight, o *workbench.Outcome) {
	f := o.Final
	r.Verdict, r.Reasons = f.Verdict.Word, f.Verdict.Reasons
	if f.Events.Release.Found {
		r.Release = f.Events.Release.UTC.Sub(flight.Truth.UTC(flight.Truth.Release)).Seconds()
	}
	if r.HasBurst = !math.IsNaN(flight.Truth.Burst); r.HasBurst && f.Events.Burst.Found {
		r.Burst = f.Events.Burst.UTC.Sub(flight.Truth.UTC(flight.Truth.Burst)).Seconds()
	}
	frames := frameOf(flight, f)
	ascent := f.Events.Ascent()
	for _, v := range []sounding.Variable{sounding.Pressure, sounding.Temperature, sounding.Humidity, sounding.WindU, sounding.WindV, sounding.GeopotentialHeight} {
		s := f.Get(v)
		if s == nil {
			continue
		}
		for i := ascent.From; i < ascent.To; i++ {
			switch s.Flags[i] {
			case quality.Missing:
				continue
			case quality.Bad, quality.Questionable:
				r.Flagged++
				for _, c := range s.Tests[i].Checks() {
					r.ByCheck[v.String()+" "+c.String()]++
				}
			}
			r.Samples++
		}
	}
	r.measure(flight, f, frames, ascent)
	r.heights(flight, f, frames, ascent)
	for k := range flight.Injected {
		r.Faults = append(r.Faults, detect(flight, k, o, frames, r.Release))
	}
}

// frameOf returns the frame of the truth behind each row of the final profile, −1 where
// there is none: by source line, since ingest may have moved rows.
func frameOf(flight *truth.Flight, f *sounding.Final) []int {
	byLine := make([]map[int32]int32, len(flight.Receptions))
	for k := range flight.Receptions {
		rec := &flight.Receptions[k]
		byLine[k] = make(map[int32]int32, len(rec.Sample))
		for i, frame := range rec.Sample {
			byLine[k][rec.Columns.Line[i]] = frame
		}
	}
	out := make([]int, f.Len())
	for i := range out {
		out[i] = -1
		if k := int(f.Source[i]); k < len(byLine) {
			if frame, ok := byLine[k][f.Line[i]]; ok {
				out[i] = int(frame)
			}
		}
	}
	return out
}

// measure gathers differences from the truth over the ascent. A final value counts
// where its flag is good; a raw one where there is a value.
func (r *Result) measure(flight *truth.Flight, f *sounding.Final, frames []int, ascent sounding.Span) {
	k := 0
	for _, m := range measured {
		want := flight.Truth.Values(m.variable)
		if m.variable == sounding.GeopotentialHeight {
			want = flight.Truth.GeopotentialHeight
		}
		s := f.Get(m.variable)
		raw := rawOf(f, m.variable)
		for _, b := range m.bands {
			e := &r.Errors[k]
			k++
			if s == nil || want == nil {
				continue
			}
			for i := ascent.From; i < ascent.To; i++ {
				n := frames[i]
				if n < 0 || !b.in(&flight.Truth, n) {
					continue
				}
				if raw != nil && !math.IsNaN(raw[i]) {
					e.Raw.add(raw[i] - want[n])
				}
				if s.Flags[i] == quality.Good {
					d := s.Values[i] - want[n]
					e.Final.add(d)
					e.Final.state(d, s.Total(i))
				}
			}
		}
	}
}

// rawOf returns what a user without this program would take for v.
func rawOf(f *sounding.Final, v sounding.Variable) []float64 {
	switch v {
	case sounding.Humidity:
		if raw := f.Before.Values(sounding.Humidity); raw != nil {
			return raw
		}
		return unheated(f)
	case sounding.WindU:
		return f.Before.Values(sounding.VelocityEast)
	case sounding.WindV:
		return f.Before.Values(sounding.VelocityNorth)
	}
	return f.Before.Values(v)
}

// unheated returns on each row the reading of the sensor that has been off heating for
// longer: what a user would take who knows that they are heated in turns.
func unheated(f *sounding.Final) []float64 {
	a, b := f.Before.Values(sounding.HumidityA), f.Before.Values(sounding.HumidityB)
	ha, hb := f.Before.Values(sounding.HeatingA), f.Before.Values(sounding.HeatingB)
	if a == nil || b == nil || ha == nil || hb == nil {
		return a
	}
	out := make([]float64, len(a))
	lastA, lastB := math.Inf(-1), math.Inf(-1)
	for i := range out {
		if ha[i] > 0.5 {
			lastA = f.Time[i]
		}
		if hb[i] > 0.5 {
			lastB = f.Time[i]
		}
		out[i] = a[i]
		if lastB < lastA {
			out[i] = b[i]
		}
	}
	return out
}

// heights compares geopotential height on the rows nearest to 100 and 10 hPa.
func (r *Result) heights(flight *truth.Flight, f *sounding.Final, frames []int, ascent sounding.Span) {
	p, z := f.Get(sounding.Pressure), f.Get(sounding.GeopotentialHeight)
	if p == nil || z == nil {
		return
	}
	for name, level := range map[string]float64{"100 hPa": 100, "10 hPa": 10} {
		best := -1
		for i := ascent.From; i < ascent.To; i++ {
			if frames[i] < 0 || math.IsNaN(p.Values[i]) || math.IsNaN(z.Values[i]) || z.Flags[i] == quality.Bad {
				continue
			}
			if best < 0 || math.Abs(p.Values[i]-level) < math.Abs(p.Values[best]-level) {
				best = i
			}
		}
		if best >= 0 && math.Abs(p.Values[best]/level-1) < 0.02 {
			r.Height[name] = z.Values[best] - flight.Truth.GeopotentialHeight[frames[best]]
		}
	}
}
