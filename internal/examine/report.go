package examine

import (
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"sort"
	"sync"

	"leadline/internal/sounding"
	"leadline/internal/truth"
	"leadline/internal/workbench"
)

// Plan says what is examined.
type Plan struct {
	Purpose  Purpose
	Clean    int // clean flights per climate and time of day
	Faulty   int // flights per fault, climate and time of day
	Climates []truth.Climate
	Faults   []string  // nil: the whole catalogue
	Sizes    []float64 // factors on each fault's size; one flight a size, climate and time of day
	Settings *workbench.Settings
	Progress func(done, total int)
	Stop     <-chan struct{} // closed: no further flight is begun and Run returns ErrStopped; nil: never
}

// ErrStopped is what Run returns where it was stopped before its last flight.
var ErrStopped = errors.New("stopped before the last flight: nothing is reported")

// Report is the skill over all flights of a plan.
type Report struct {
	MethodSet  string          `json:"method_set"`
	Purpose    string          `json:"purpose"` // tuning or reporting
	Flights    int             `json:"flights"`
	Failures   []string        `json:"failures"` // flights the path could not run
	Clean      CleanSkill      `json:"clean"`
	Events     EventSkill      `json:"events"`
	Errors     []ErrorRow      `json:"errors"`
	Heights    []HeightRow     `json:"heights"`
	Faults     []FaultRow      `json:"faults"`
	Sizes      []SizeRow       `json:"sizes,omitempty"`
	Twin       TwinRow         `json:"twin_humidity"`
	Resolution []ResolutionRow `json:"resolution"`
	Goals      []Goal          `json:"goals"`
	Seconds    float64         `json:"path_seconds_per_flight"` // text in, outcome out, median
}

// CleanSkill says how often flights without a fault are called faulty.
type CleanSkill struct {
	Flights    int            `json:"flights"`
	NotAccept  int            `json:"not_accepted"`
	Reasons    map[string]int `json:"reasons"` // of clean flights that are not accepted
	FlaggedPct float64        `json:"flagged_pct"`
	ByCheck    map[string]int `json:"flagged_by_check"`
	Samples    int            `json:"samples"`
}

// EventSkill is the error of release and burst in s, over clean flights.
type EventSkill struct {
	ReleaseMedian sounding.Number `json:"release_median_s"` // of the absolute error
	Release95     sounding.Number `json:"release_p95_s"`
	Burst95       sounding.Number `json:"burst_p95_s"`
	ReleaseMissed int             `json:"release_missed"`
	BurstMissed   int             `json:"burst_missed"`
}

// ErrorRow is one line of the table of errors, over clean flights.
type ErrorRow struct {
	Variable    sounding.Variable `json:"variable"`
	Unit        string            `json:"unit"`
	Time        string            `json:"time"` // day or night
	Band        string            `json:"band"`
	RawRMS      sounding.Number   `json:"raw_rms"`
	RawBias     sounding.Number   `json:"raw_bias"`
	FinalRMS    sounding.Number   `json:"final_rms"`
	FinalU      sounding.Number   `json:"final_rms_u"` // standard error of the final rms, from the scatter between flights
	FinalBias   sounding.Number   `json:"final_bias"`
	CoveragePct sounding.Number   `json:"coverage_pct"`
	Samples     int               `json:"samples"`
}

// HeightRow is the root mean square error of geopotential height at a level.
type HeightRow struct {
	Level string          `json:"level"`
	RMS   sounding.Number `json:"rms_gpm"`
	N     int             `json:"flights"`
}

// FaultRow is one line of the table of faults.
//
// Found, Affected and Marked count flights on which the fault is large enough to
// matter. Chance is the share of clean flights on which the checks that answer the
// fault speak as loudly without it.
type FaultRow struct {
	Fault     string          `json:"fault"`
	Size      float64         `json:"size"`
	Unit      string          `json:"unit"`
	Flights   int             `json:"flights"`
	Mattered  int             `json:"mattered"`
	Found     int             `json:"found"`
	ByChance  sounding.Number `json:"by_chance"`
	Affected  int             `json:"affected_samples"`
	Marked    int             `json:"marked_samples"`
	StartP90  sounding.Number `json:"start_off_p90_s"`
	EndP90    sounding.Number `json:"end_off_p90_s"`
	NotAccept int             `json:"not_accepted"`
}

// Run examines a plan with one worker a processor.
func Run(p Plan) (*Report, error) {
	if p.Settings == nil {
		p.Settings = workbench.DefaultSettings()
	}
	if p.Climates == nil {
		p.Climates = truth.Climates()
	}
	if p.Faults == nil {
		for _, f := range truth.Faults() {
			p.Faults = append(p.Faults, f.Name)
		}
	}
	type job struct {
		c Case
		n int
	}
	var jobs []job
	for _, climate := range p.Climates {
		for _, day := range []bool{true, false} {
			for n := range p.Clean {
				jobs = append(jobs, job{Case{Climate: climate, Day: day}, n})
			}
			for _, fault := range p.Faults {
				for n := range p.Faulty {
					jobs = append(jobs, job{Case{Climate: climate, Day: day, Fault: fault}, n})
				}
				for _, factor := range p.Sizes {
					if f := info(fault); f != nil && sized(f) {
						jobs = append(jobs, job{Case{Climate: climate, Day: day, Fault: fault, Size: factor * f.Size}, sizedFrom})
					}
				}
			}
		}
	}
	results := make([]Result, len(jobs))
	errs := make([]error, len(jobs))
	next := make(chan int)
	var wait sync.WaitGroup
	var mu sync.Mutex
	done := 0
	for range max(1, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for i := range next {
				results[i], errs[i] = Examine(jobs[i].c, p.Purpose, jobs[i].n, p.Settings)
				mu.Lock()
				done++
				if p.Progress != nil {
					p.Progress(done, len(jobs))
				}
				mu.Unlock()
			}
		})
	}
	stopped := false
	for i := 0; i < len(jobs) && !stopped; i++ {
		select {
		case next <- i:
		case <-p.Stop:
			stopped = true
		}
	}
	close(next)
	wait.Wait()
	if stopped {
		return nil, ErrStopped
	}
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return gather(results, p), nil
}

// sizedFrom is the number of the flight that is flown with every size of a fault: far
// from those of the main table, so that the two say something independent.
const sizedFrom = 1 << 20

// info returns the catalogue's entry of a fault, nil where there is none.
func info(name string) *truth.FaultInfo {
	for _, f := range truth.Faults() {
		if f.Name == name {
			return &f
		}
	}
	return nil
}

// gather makes the report from results in their fixed order.
func gather(results []Result, p Plan) *Report {
	r := &Report{Purpose: "tuning", Flights: len(results), Failures: []string{}, MethodSet: workbench.MethodSet(p.Settings, nil)}
	if p.Purpose == Reporting {
		r.Purpose = "reporting"
	}
	r.Clean = CleanSkill{Reasons: map[string]int{}, ByCheck: map[string]int{}}
	var release, burst, seconds []float64
	type key struct {
		variable sounding.Variable
		day      bool
		band     string
	}
	errorsBy := map[key]*Errors{}
	perFlight := map[key][]float64{} // mean square final error of each flight
	heights := map[string][]float64{}
	faults := map[string]*FaultRow{}
	starts, ends := map[string][]float64{}, map[string][]float64{}
	flagged := 0
	for i := range results {
		x := &results[i]
		if x.Failure != "" {
			r.Failures = append(r.Failures, fmt.Sprintf("%s, seed %d: %s", x.Case.Name(), x.Seed, x.Failure))
		} else {
			seconds = append(seconds, x.Elapsed.Seconds())
		}
		if x.Case.Size != 0 {
			continue
		}
		if x.Case.Fault != "" {
			row := faults[x.Case.Fault]
			if row == nil {
				row = &FaultRow{Fault: x.Case.Fault}
				if f := info(row.Fault); f != nil {
					row.Size, row.Unit = f.Size, f.Unit
				}
				faults[x.Case.Fault] = row
			}
			row.Flights++
			if x.Verdict != sounding.Accept {
				row.NotAccept++
			}
			if x.Failure != "" {
				continue
			}
			for _, d := range x.Faults {
				if !d.Mattered {
					break
				}
				row.Mattered++
				if d.Found || x.Verdict == sounding.Refuse {
					row.Found++
				}
				row.Affected += d.Affected
				row.Marked += d.Marked
				if !math.IsNaN(d.Start) {
					starts[row.Fault] = append(starts[row.Fault], math.Abs(d.Start))
				}
				if !math.IsNaN(d.End) {
					ends[row.Fault] = append(ends[row.Fault], math.Abs(d.End))
				}
				break // one fault a flight
			}
			continue
		}
		r.Clean.Flights++
		if x.Failure != "" {
			continue
		}
		if x.Verdict != sounding.Accept {
			r.Clean.NotAccept++
			for _, reason := range x.Reasons {
				r.Clean.Reasons[reason]++
			}
		}
		flagged += x.Flagged
		r.Clean.Samples += x.Samples
		for c, n := range x.ByCheck {
			r.Clean.ByCheck[c] += n
		}
		if math.IsNaN(x.Release) {
			r.Events.ReleaseMissed++
		} else {
			release = append(release, math.Abs(x.Release))
		}
		if x.HasBurst {
			if math.IsNaN(x.Burst) {
				r.Events.BurstMissed++
			} else {
				burst = append(burst, math.Abs(x.Burst))
			}
		}
		for _, e := range x.Errors {
			k := key{e.Variable, x.Case.Day, e.Band}
			if errorsBy[k] == nil {
				errorsBy[k] = &Errors{Variable: e.Variable, Band: e.Band}
			}
			errorsBy[k].Raw.merge(e.Raw)
			errorsBy[k].Final.merge(e.Final)
			if e.Final.N > 0 {
				perFlight[k] = append(perFlight[k], e.Final.Square/float64(e.Final.N))
			}
		}
		for level, d := range x.Height {
			heights[level] = append(heights[level], d)
		}
	}
	if r.Clean.Samples > 0 {
		r.Clean.FlaggedPct = 100 * float64(flagged) / float64(r.Clean.Samples)
	}
	r.Events.ReleaseMedian, r.Events.Release95 = quantile(release, 0.5), quantile(release, 0.95)
	r.Events.Burst95 = quantile(burst, 0.95)
	r.Seconds = quantile(seconds, 0.5).Value()
	for _, m := range measured {
		for _, b := range m.bands {
			for _, day := range []bool{true, false} {
				e := errorsBy[key{m.variable, day, b.name}]
				if e == nil {
					continue
				}
				word := "night"
				if day {
					word = "day"
				}
				r.Errors = append(r.Errors, ErrorRow{Variable: m.variable, Unit: m.variable.Info().Unit, Time: word, Band: b.name,
					RawRMS: sounding.Number(e.Raw.RMS()), RawBias: sounding.Number(e.Raw.Bias()), FinalRMS: sounding.Number(e.Final.RMS()), FinalU: rmsError(perFlight[key{m.variable, day, b.name}]),
					FinalBias: sounding.Number(e.Final.Bias()), CoveragePct: sounding.Number(100 * e.Final.Coverage()), Samples: e.Final.N})
			}
		}
	}
	for _, level := range []string{"100 hPa", "10 hPa"} {
		var m Moments
		for _, d := range heights[level] {
			m.add(d)
		}
		r.Heights = append(r.Heights, HeightRow{level, sounding.Number(m.RMS()), m.N})
	}
	for name, row := range faults {
		row.StartP90, row.EndP90 = quantile(starts[name], 0.9), quantile(ends[name], 0.9)
		r.Faults = append(r.Faults, *row)
	}
	sort.Slice(r.Faults, func(i, j int) bool { return r.Faults[i].Fault < r.Faults[j].Fault })
	for i := range r.Faults {
		r.Faults[i].ByChance = byChance(results, r.Faults[i].Fault)
	}
	r.Sizes, r.Twin, r.Resolution = sizes(results), twins(results), resolutions(results)
	r.Goals = r.goals()
	return r
}

// byChance returns the share of clean flights on which the checks that answer a fault
// speak without it.
func byChance(results []Result, fault string) sounding.Number {
	flights, spoken := 0, 0
	for i := range results {
		x := &results[i]
		if x.Case.Fault != "" || x.Failure != "" {
			continue
		}
		flights++
		for _, check := range answers[fault] {
			if x.Said[check.String()] > 0 {
				spoken++
				break
			}
		}
	}
	if flights == 0 {
		return sounding.NotSet
	}
	return sounding.Number(float64(spoken) / float64(flights))
}

// rmsError returns the standard error of a root mean square from the mean squares of
// the flights it was made of.
func rmsError(squares []float64) sounding.Number {
	var m, v Moments
	for _, x := range squares {
		m.add(x)
	}
	for _, x := range squares {
		v.add(x - m.Bias())
	}
	if m.N < 2 || !(m.Bias() > 0) {
		return sounding.NotSet
	}
	return sounding.Number(v.RMS() / math.Sqrt(float64(m.N-1)) / (2 * math.Sqrt(m.Bias())))
}

func quantile(list []float64, q float64) sounding.Number {
	if len(list) == 0 {
		return sounding.NotSet
	}
	s := append([]float64(nil), list...)
	sort.Float64s(s)
	return sounding.Number(s[min(len(s)-1, int(q*float64(len(s))))])
}

func decimals(x sounding.Number, d int) string {
	if !x.Set() {
		return "–"
	}
	return fmt.Sprintf("%.*f", d, x.Value())
}

// Text writes the report as Markdown tables.
func (r *Report) Text(w io.Writer) {
	n := decimals
	fmt.Fprintf(w, "%d simulated flights on %s seeds, method set %s, %.0f ms a flight (text in, outcome out, median).\n\n", r.Flights, r.Purpose, r.MethodSet, 1000*r.Seconds)
	missed := 0
	for _, g := range r.Goals {
		if !g.Met {
			missed++
		}
	}
	if len(r.Goals) > 0 {
		fmt.Fprintf(w, "%d of %d goals met.\n\n| goal | wanted | got | |\n|---|---|---|---|\n", len(r.Goals)-missed, len(r.Goals))
		for _, g := range r.Goals {
			word := "met"
			if !g.Met {
				word = "**missed**"
			}
			fmt.Fprintf(w, "| %s | %s %s | %s | %s |\n", g.Name, g.Want, g.Unit, n(g.Got, 3), word)
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintf(w, "Clean flights: %d; not accepted %d; flagged %.3f %% of %d samples.\n", r.Clean.Flights, r.Clean.NotAccept, r.Clean.FlaggedPct, r.Clean.Samples)
	for _, m := range []struct {
		title string
		count map[string]int
	}{{"reasons", r.Clean.Reasons}, {"flags by check", r.Clean.ByCheck}} {
		keys := make([]string, 0, len(m.count))
		for k := range m.count {
			keys = append(keys, k)
		}
		sort.Slice(keys, func(i, j int) bool {
			if m.count[keys[i]] != m.count[keys[j]] {
				return m.count[keys[i]] > m.count[keys[j]]
			}
			return keys[i] < keys[j]
		})
		for i, k := range keys {
			if i == 12 {
				fmt.Fprintf(w, "- … %d more %s\n", len(keys)-12, m.title)
				break
			}
			fmt.Fprintf(w, "- %s: %d × %s\n", m.title, m.count[k], k)
		}
	}
	fmt.Fprintf(w, "\nRelease: median %s s, 95 %% within %s s, missed %d. Burst: 95 %% within %s s, missed %d.\n", n(r.Events.ReleaseMedian, 2), n(r.Events.Release95, 2), r.Events.ReleaseMissed, n(r.Events.Burst95, 2), r.Events.BurstMissed)
	fmt.Fprintf(w, "\n| variable | | band | raw rms | raw bias | final rms | final bias | within 2 u | samples |\n|---|---|---|---|---|---|---|---|---|\n")
	for _, e := range r.Errors {
		fmt.Fprintf(w, "| %s, %s | %s | %s | %s | %s | %s | %s | %s %% | %d |\n", e.Variable, e.Unit, e.Time, e.Band, n(e.RawRMS, 3), n(e.RawBias, 3), n(e.FinalRMS, 3), n(e.FinalBias, 3), n(e.CoveragePct, 1), e.Samples)
	}
	fmt.Fprintln(w)
	for _, h := range r.Heights {
		fmt.Fprintf(w, "Geopotential height at %s: rms %s gpm over %d flights.\n", h.Level, n(h.RMS, 1), h.N)
	}
	if len(r.Faults) > 0 {
		fmt.Fprintf(w, "\n| fault | size | flights | it matters on | found | said on clean flights | affected samples marked or right | start off, 90 %% | end off, 90 %% | not accepted |\n|---|---|---|---|---|---|---|---|---|---|\n")
		for _, f := range r.Faults {
			share := "–"
			if f.Affected > 0 {
				share = fmt.Sprintf("%.2f", float64(f.Marked)/float64(f.Affected))
			}
			found := "–"
			if f.Mattered > 0 {
				found = fmt.Sprintf("%.2f", float64(f.Found)/float64(f.Mattered))
			}
			fmt.Fprintf(w, "| %s | %.4g %s | %d | %d | %s | %s | %s | %s s | %s s | %d |\n", f.Fault, f.Size, f.Unit, f.Flights, f.Mattered, found, n(f.ByChance, 2), share, n(f.StartP90, 0), n(f.EndP90, 0), f.NotAccept)
		}
	}
	if t := r.Twin; t.Flights > 0 {
		fmt.Fprintf(w, "\nTwo humidity sensors, %d flights, %d samples warmer than −70 °C on which all have a value: rms of the merge %s %%, of the better single sensor %s %% (chosen with hindsight), "+
			"of the plain average of both corrected %s %%, of the plain average of both readings %s %%. The merge is nearer than the better sensor on %d flights. Rows with a usable value: merge %d, better sensor alone %d.\n",
			t.Flights, t.Samples, n(t.Merged, 2), n(t.Better, 2), n(t.Mean, 2), n(t.Raw, 2), t.Wins, t.RowsBoth, t.RowsAlone)
	}
	if len(r.Resolution) > 0 {
		fmt.Fprintf(w, "\n| effective resolution | layer | median | |\n|---|---|---|---|\n")
		for _, x := range r.Resolution {
			fmt.Fprintf(w, "| %s | %s | %s s | %s m |\n", x.Variable, x.Band, n(x.Seconds, 1), n(x.Metres, 0))
		}
	}
	if len(r.Sizes) > 0 {
		fmt.Fprintf(w, "\n| fault | found from | share found by size |\n|---|---|---|\n")
		for _, x := range r.Sizes {
			from := "not at any of these"
			if x.From.Set() {
				from = fmt.Sprintf("%.3g %s", x.From.Value(), x.Unit)
			}
			list := ""
			for i, s := range x.Sizes {
				if i > 0 {
					list += ", "
				}
				list += fmt.Sprintf("%.3g: %.2f", s.Size, float64(s.Found)/float64(s.Flights))
			}
			fmt.Fprintf(w, "| %s | %s | %s |\n", x.Fault, from, list)
		}
	}
	for _, f := range r.Failures {
		fmt.Fprintf(w, "\nnot run: %s", f)
	}
}
