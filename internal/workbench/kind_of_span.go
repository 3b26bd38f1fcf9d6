package workbench

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"leadline/internal/quality"
	"leadline/internal/sounding"
)

// SpanKind says which samples of a flight a decision for many flights is about: those
// that findings of one kind cover, those inside ranges, or those inside ranges that such
// findings cover. It is resolved to instants once, when the effect is computed: see
// docs/decisions/group-decisions.md.
type SpanKind struct {
	Check     string              `json:"check,omitempty"`     // findings of this check; "" any
	About     sounding.Variable   `json:"about"`               // findings about this variable; none: about any
	Severity  sounding.Severity   `json:"severity"`            // findings of at least this severity
	Where     []Range             `json:"where,omitempty"`     // only inside all of these
	Variables []sounding.Variable `json:"variables,omitempty"` // ruled on; empty: each finding's own
}

// Range is where a quantity of the final profile lies between two values, both held. An
// end that is not set is open. A sample without that quantity is outside.
type Range struct {
	Of   string          `json:"of"` // "time" (s since release) or the name of a variable
	From sounding.Number `json:"from"`
	To   sounding.Number `json:"to"` // in the unit of Of inside leadline; From and To may come in either order
}

// UnmarshalJSON reads a range; an end that is left out is open.
func (r *Range) UnmarshalJSON(b []byte) error {
	type plain Range
	p := plain{From: sounding.NotSet, To: sounding.NotSet}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields() // a misspelt end must not become an open one
	if err := d.Decode(&p); err != nil {
		return err
	}
	*r = Range(p)
	return nil
}

// rangeOfTime is the one quantity of a range that is no variable.
const rangeOfTime = "time"

// byFindings tells whether findings take part in the kind.
func (k *SpanKind) byFindings() bool { return k.Check != "" || k.About != sounding.NoVariable }

// Validate returns an error that says what is missing from the kind.
func (k *SpanKind) Validate() error {
	if k.Check != "" {
		if _, err := quality.ParseCheck(k.Check); err != nil {
			return err
		}
	}
	if k.Severity > sounding.Bad {
		return fmt.Errorf("%s: want note, questionable or bad", k.Severity)
	}
	for _, r := range k.Where {
		if r.Of != rangeOfTime {
			if v, err := sounding.ParseVariable(r.Of); err != nil || v == sounding.NoVariable {
				return fmt.Errorf("a range of %q: want time or the name of a variable such as pressure or height_msl", r.Of)
			}
		}
		if !r.From.Set() && !r.To.Set() {
			return fmt.Errorf("the range of %s has no end: give at least one", r.Of)
		}
		if math.IsInf(r.From.Value(), 0) || math.IsInf(r.To.Value(), 0) {
			return fmt.Errorf("the range of %s: leave an end out where it is open", r.Of)
		}
	}
	if !k.byFindings() {
		if len(k.Where) == 0 {
			return fmt.Errorf("which kind of span? name a check or the variable of findings, or a range")
		}
		if len(k.Variables) == 0 {
			return fmt.Errorf("which variables? a range alone does not say")
		}
	}
	if slices.Contains(k.Variables, sounding.NoVariable) {
		return fmt.Errorf("none is no variable to rule on")
	}
	return nil
}

// Words says the kind in one line: "spike, at least questionable, of temperature, where pressure_hpa 100 to 300".
func (k *SpanKind) Words() string {
	var parts []string
	if k.byFindings() {
		what := k.Check
		if what == "" {
			what = "any check"
		}
		parts = append(parts, "every span of "+what)
		if k.About != sounding.NoVariable {
			parts[0] += " about " + k.About.String()
		}
		if k.Severity == sounding.Bad {
			parts = append(parts, "bad")
		} else {
			parts = append(parts, "at least "+k.Severity.String())
		}
	} else {
		parts = append(parts, "every sample")
	}
	for _, r := range k.Where {
		column := r.Of + "_s"
		if v, err := sounding.ParseVariable(r.Of); err == nil {
			column = v.Column()
		}
		lo, hi := r.ends()
		switch {
		case math.IsInf(lo, -1):
			parts = append(parts, fmt.Sprintf("where %s is at most %s", column, short(hi)))
		case math.IsInf(hi, 1):
			parts = append(parts, fmt.Sprintf("where %s is at least %s", column, short(lo)))
		default:
			parts = append(parts, fmt.Sprintf("where %s is %s to %s", column, short(lo), short(hi)))
		}
	}
	if len(k.Variables) > 0 {
		names := make([]string, len(k.Variables))
		for i, v := range k.Variables {
			names[i] = v.String()
		}
		parts = append(parts, "of "+strings.Join(names, " and "))
	}
	return strings.Join(parts, ", ")
}

func short(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }

// ends returns the lower and the upper end, infinite where it is open.
func (r Range) ends() (lo, hi float64) {
	lo, hi = r.From.Or(math.Inf(-1)), r.To.Or(math.Inf(1))
	if r.From.Set() && r.To.Set() && lo > hi {
		lo, hi = hi, lo
	}
	return lo, hi
}

// pickedSpans are the stretches of one flight that a decision of a group is about.
type pickedSpans struct {
	variables []sounding.Variable
	spans     []sounding.Interval
	samples   int // of the variables, that hold a value
}

// pick returns the stretches of a flight that are of the kind and that a flag would be
// set on: where flag is questionable, samples that are bad already are left out. One
// entry a variable, or one in all where the kind names the variables. Empty with the
// reason where there is nothing of the kind.
func (k *SpanKind) pick(o *Outcome, flag quality.Flag) (list []pickedSpans, why string) {
	f := o.Final
	inside := k.inside(f)
	var rows map[sounding.Variable][]bool
	wholeRows := 0
	mark := func(v sounding.Variable, s sounding.Span) {
		if rows[v] == nil {
			if rows == nil {
				rows = map[sounding.Variable][]bool{}
			}
			rows[v] = make([]bool, f.Len())
		}
		for i := max(0, s.From); i < min(s.To, f.Len()); i++ {
			if inside == nil || inside[i] {
				rows[v][i] = true
			}
		}
	}
	if k.byFindings() {
		found := 0
		for i := range f.Findings {
			finding := &f.Findings[i]
			if k.Check != "" && finding.Check.String() != k.Check || finding.Severity < k.Severity || finding.State == "dismissed" || len(finding.Spans) == 0 {
				continue
			}
			if k.About != sounding.NoVariable && !about(*finding, k.About) {
				continue
			}
			own := k.Variables
			if len(own) == 0 {
				own = []sounding.Variable{ruledAs(finding.Variable)}
			}
			if own[0] == sounding.NoVariable {
				wholeRows++
				continue
			}
			found++
			for _, s := range finding.Spans {
				for _, v := range own {
					mark(v, s)
				}
			}
		}
		if found == 0 {
			if wholeRows > 0 {
				return nil, "its findings of this kind are about whole rows: say which variables are meant"
			}
			return nil, "it has no such finding"
		}
	} else {
		for _, v := range k.Variables {
			mark(v, sounding.Span{From: 0, To: f.Len()})
		}
	}
	absent := []string{}
	for _, v := range sounding.Variables() {
		mask := rows[v]
		if mask == nil {
			continue
		}
		s := f.Get(v)
		if s == nil || s.Flags == nil {
			absent = append(absent, v.String())
			continue
		}
		samples := 0
		for i := range mask {
			mask[i] = mask[i] && !math.IsNaN(s.Values[i]) && !(flag == quality.Questionable && s.Flags[i] == quality.Bad)
			if mask[i] {
				samples++
			}
		}
		if samples == 0 {
			continue
		}
		p := pickedSpans{variables: []sounding.Variable{v}, samples: samples}
		for _, run := range sounding.Spans(mask, 0) {
			p.spans = append(p.spans, sounding.Interval{From: instant(f, run.From), To: instant(f, run.To-1)})
		}
		list = append(list, p)
	}
	switch {
	case len(list) > 0:
		return list, ""
	case len(absent) > 0:
		return nil, "it has no " + strings.Join(absent, ", ") + " to rule on"
	case flag == quality.Questionable:
		return nil, "it has no sample of this kind that is not bad already"
	}
	return nil, "it has no sample of this kind"
}

// ruledAs is the variable that a ruling on the samples of v names: all of the wind is one.
func ruledAs(v sounding.Variable) sounding.Variable {
	if slices.Contains(reach(sounding.WindSpeed), v) {
		return sounding.WindSpeed
	}
	return v
}

func instant(f *sounding.Final, row int) time.Time {
	return f.UTC(f.Time[row]).Round(time.Millisecond)
}

// inside returns the rows that lie in every range; nil where there is no range.
func (k *SpanKind) inside(f *sounding.Final) []bool {
	if len(k.Where) == 0 {
		return nil
	}
	mask := make([]bool, f.Len())
	for i := range mask {
		mask[i] = true
	}
	for _, r := range k.Where {
		values := f.Time
		if r.Of != rangeOfTime {
			v, _ := sounding.ParseVariable(r.Of)
			values = f.Values(v)
		}
		lo, hi := r.ends()
		for i := range mask {
			mask[i] = mask[i] && i < len(values) && values[i] >= lo && values[i] <= hi
		}
	}
	return mask
}
