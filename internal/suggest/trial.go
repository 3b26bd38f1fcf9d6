package suggest

import (
	"fmt"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// mostRuns bounds how often For runs the path for one flight.
const mostRuns = 8

// For returns the suggestions for a flight, the best first, each tried: the path is run
// again with its decisions, at most eight times a flight, and a correction that makes
// matters worse is dropped. It never changes o and stores nothing; nil where nothing
// speaks for an error.
func For(o *workbench.Outcome) []Suggestion {
	list := ForQuick(o)
	var out []Suggestion
	for i, s := range list {
		if i < mostRuns && o.Inputs.Raw != nil {
			t, worse := try(o, s.Decisions)
			if worse && mends(&s) {
				continue // withheld samples may cost a verdict and be right
			}
			s.Trial = t
			if s.Strength == Strong && t != nil && mends(&s) && len(t.Gone) == 0 {
				s.Strength = Likely // it settles nothing that the checks said
			}
		} else if s.Strength == Strong {
			s.Strength = Likely
		}
		out = append(out, s)
	}
	rank(out)
	return out
}

// mends tells whether a suggestion corrects the record or moves an event, so that
// findings should go; withheld samples keep theirs.
func mends(s *Suggestion) bool {
	for _, d := range s.Decisions {
		switch d.Action {
		case sounding.ActCorrectRecord, sounding.ActSetRelease, sounding.ActSetBurst, sounding.ActAccept:
			return true
		}
	}
	return false
}

var verdictOrder = map[string]int{sounding.Accept: 0, sounding.Look: 1, sounding.Refuse: 2}

// try runs the path with decisions added and compares. worse tells that the verdict
// falls or that more findings appear than go; a path that cannot be run tells nothing.
func try(o *workbench.Outcome, decisions []sounding.Decision) (t *Trial, worse bool) {
	in := o.Inputs
	in.Decisions = append(append([]sounding.Decision(nil), in.Decisions...), numbered(decisions)...)
	after, err := workbench.Run(in)
	if err != nil {
		return nil, true
	}
	t = &Trial{Verdict: [2]string{o.Final.Verdict.Word, after.Final.Verdict.Word}}
	t.Gone, t.New = open(o.Final.Findings, after.Final.Findings), open(after.Final.Findings, o.Final.Findings)
	worse = verdictOrder[t.Verdict[1]] > verdictOrder[t.Verdict[0]] || len(t.New) > len(t.Gone)
	return t, worse
}

func numbered(list []sounding.Decision) []sounding.Decision {
	out := append([]sounding.Decision(nil), list...)
	for i := range out {
		if out[i].ID == "" {
			out[i].ID = fmt.Sprintf("suggested-%d", i+1)
		}
	}
	return out
}

// open lists sentences of findings of a above a note that nobody has settled and that b
// does not have.
func open(a, b []sounding.Finding) []string {
	have := map[string]bool{}
	for _, x := range b {
		if x.Severity > sounding.Note && x.State == "" {
			have[x.ID] = true
		}
	}
	var out []string
	for _, x := range a {
		if x.Severity > sounding.Note && x.State == "" && !have[x.ID] {
			out = append(out, x.Sentence)
		}
	}
	return out
}
