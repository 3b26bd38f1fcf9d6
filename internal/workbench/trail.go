package workbench

import (
	"math"
	"slices"
	"sort"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// Trail is how one sample of one variable came to its final value.
type Trail struct {
	Variable    sounding.Variable   `json:"variable"`
	Unit        string              `json:"unit"`
	Row         int                 `json:"row"`
	Source      string              `json:"source"`
	SHA256      string              `json:"sha256"`
	Line        int                 `json:"line"`
	Time        sounding.Number     `json:"time_s"`
	UTC         string              `json:"utc"`
	Height      sounding.Number     `json:"height_m_msl"`
	Raw         sounding.Number     `json:"raw"` // as the source says, in leadline's unit; null where the variable is derived
	RawFlag     quality.Flag        `json:"raw_flag"`
	Entries     []TrailEntry        `json:"steps"`
	Final       sounding.Number     `json:"final"`
	Flag        quality.Flag        `json:"flag"`
	FlagWord    string              `json:"flag_word"`
	Tests       []string            `json:"checks"`  // that fired on it
	Passed      []string            `json:"passed"`  // that ran over it and did not fire
	NotRun      []sounding.CheckRun `json:"not_run"` // that could not run, with the reason
	Independent sounding.Number     `json:"u_independent"`
	Common      sounding.Number     `json:"u_common"`
	Total       sounding.Number     `json:"u"`
	Findings    []sounding.Finding  `json:"findings"`  // that cover it
	Decisions   []sounding.Decision `json:"decisions"` // in force, that cover it
	MethodSet   string              `json:"method_set"`
}

// TrailEntry is one step of a trail.
type TrailEntry struct {
	Method       string                 `json:"method"`
	Kind         sounding.StepKind      `json:"kind"`
	Change       sounding.Number        `json:"change"` // null where there was no value before
	Value        sounding.Number        `json:"value"`
	U            sounding.Number        `json:"u"`
	Note         string                 `json:"note"`
	Coefficients []sounding.Coefficient `json:"coefficients,omitempty"`
}

// Trail returns the trail of v at the row nearest to t (s since release); ok is false
// where the flight has no rows or v appears in no stage of it.
func (o *Outcome) Trail(v sounding.Variable, t float64) (trail Trail, ok bool) {
	f := o.Final
	row := nearestRow(f.Time, t)
	if row < 0 {
		return Trail{}, false
	}
	trail = Trail{Variable: v, Unit: v.Info().Unit, Row: row, Line: int(f.Line[row]), Time: sounding.Number(f.Time[row]),
		UTC: f.UTC(f.Time[row]).Format("2006-01-02T15:04:05.000Z"), Height: at(f.Values(sounding.HeightMSL), row),
		Raw: sounding.NotSet, Final: sounding.NotSet, Independent: sounding.NotSet, Common: sounding.NotSet, Total: sounding.NotSet, MethodSet: f.MethodSet}
	if k := int(f.Source[row]); k < len(f.Sources) {
		trail.Source, trail.SHA256 = f.Sources[k].Name, f.Sources[k].SHA256
	}
	before := sounding.NotSet
	if s := f.Before.Get(v); s != nil {
		trail.Raw, trail.RawFlag = sounding.Number(s.Values[row]), s.Flags[row]
		before, ok = trail.Raw, true
	}
	for i := range f.Steps {
		st := &f.Steps[i]
		if st.Variable != v {
			continue
		}
		ok = true
		value := at(st.Values, row)
		change := sounding.Number(value.Value() - before.Value())
		trail.Entries = append(trail.Entries, TrailEntry{Method: st.Method, Kind: st.Kind, Change: change, Value: value,
			U: sounding.Number(sounding.Quadrature(at(st.Independent, row).Value(), at(st.Common, row).Value())), Note: st.Note, Coefficients: st.Coefficients})
		before = value
	}
	if s := f.Get(v); s != nil {
		ok = true
		trail.Final, trail.Flag = sounding.Number(s.Values[row]), s.Flags[row]
		trail.Independent, trail.Common, trail.Total = at(s.Independent, row), at(s.Common, row), sounding.Number(s.Total(row))
		for _, c := range s.Tests[row].Checks() {
			trail.Tests = append(trail.Tests, c.String())
		}
	}
	trail.FlagWord = trail.Flag.String()
	if trail.Flag == 0 {
		trail.FlagWord = "not part of the final profile"
	}
	fired := map[quality.Check]bool{}
	for _, finding := range f.Findings {
		if !about(finding, v) {
			continue
		}
		for _, s := range finding.Spans {
			if s.Contains(row) {
				trail.Findings = append(trail.Findings, finding)
				fired[finding.Check] = true
				break
			}
		}
	}
	passed := map[string]bool{}
	for _, run := range f.Runs {
		if run.Variable != v {
			continue
		}
		if !run.Ran {
			trail.NotRun = append(trail.NotRun, run)
			continue
		}
		covered := run.Covered == nil
		for _, s := range run.Covered {
			covered = covered || s.Contains(row)
		}
		if covered && !fired[run.Check] {
			passed[run.Check.String()] = true
		}
	}
	for name := range passed {
		trail.Passed = append(trail.Passed, name)
	}
	sort.Strings(trail.Passed)
	for _, d := range inForce(f.Decisions) {
		if covers(d, v, f.UTC(f.Time[row])) {
			trail.Decisions = append(trail.Decisions, d)
		}
	}
	return trail, ok
}

// about tells whether a finding speaks of v: of v itself, of every variable of its rows,
// or of what v is made from.
func about(f sounding.Finding, v sounding.Variable) bool {
	if f.Variable == v || f.Variable == sounding.NoVariable {
		return true
	}
	for _, r := range reach(f.Variable) {
		if r == v {
			return true
		}
	}
	return v == sounding.Humidity && (f.Variable == sounding.HumidityA || f.Variable == sounding.HumidityB)
}

func covers(d sounding.Decision, v sounding.Variable, t time.Time) bool {
	if list := d.Intervals(); len(list) > 0 && !slices.ContainsFunc(list, func(s sounding.Interval) bool {
		return !t.Before(s.From.Add(-time.Millisecond)) && !t.After(s.To.Add(time.Millisecond))
	}) {
		return false
	}
	switch d.Action {
	case sounding.ActChooseSensor:
		return v == sounding.Humidity || v == sounding.DewPoint || v == sounding.MixingRatio
	case sounding.ActExclude, sounding.ActRestore, sounding.ActFlag:
		for _, named := range d.Variables {
			for _, r := range reach(named) {
				if r == v {
					return true
				}
			}
		}
		return false
	case sounding.ActSetRelease, sounding.ActSetBurst, sounding.ActCorrectRecord, sounding.ActChooseSheet, sounding.ActChooseSettings:
		return true
	}
	return false
}

func at(values []float64, row int) sounding.Number {
	if row >= len(values) {
		return sounding.NotSet
	}
	return sounding.Number(values[row])
}

// nearestRow returns the row whose time is nearest to t, -1 where there is none.
func nearestRow(times []float64, t float64) int {
	if len(times) == 0 || math.IsNaN(t) {
		return -1
	}
	i := sort.SearchFloat64s(times, t)
	switch {
	case i == len(times):
		return i - 1
	case i > 0 && t-times[i-1] <= times[i]-t:
		return i - 1
	}
	return i
}
