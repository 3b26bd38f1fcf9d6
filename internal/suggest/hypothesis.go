package suggest

import (
	"math"
	"sort"

	"leadline/internal/sounding"
)

// hypothesis is one simple error and what would put it right.
type hypothesis struct {
	name      string
	price     float64
	change    func(*world)
	decisions []sounding.Decision
	sentence  string
	kind      string  // hypotheses of one kind are variants, not rivals; "" stands for the name
	value     float64 // of the item in question, for variants of one kind that may contradict
	near      float64 // values of one kind that differ by less say the same
}

// Limits of the choice, in units of −2 ln of odds (our proposal; docs/methods/suggestions.md).
const (
	leastGain   = 6.0  // odds of 20 to 1 that something is wrong
	leastMargin = 5.0  // odds of 12 to 1 over the best rival of another name
	strongGain  = 12.0 // odds of 400 to 1
	explained   = 4.0  // a residual counts as explained where its cost falls by more
	fits        = 3.0  // standard deviations within which the residual that started it must come
	mostChosen  = 6    // hypotheses of one flight
)

// scored is a hypothesis against the world as it stands.
type scored struct {
	hypothesis
	gain     float64
	after    [residuals]residual
	explains [residuals]bool
}

func (f *facts) score(h hypothesis, base *world, before *[residuals]residual, beforeCost float64) (scored, bool) {
	w := *base
	h.change(&w)
	s := scored{hypothesis: h, after: f.residuals(&w)}
	s.gain = beforeCost - cost(&s.after) - h.price
	any := false
	for i := range before {
		b, a := before[i], s.after[i]
		if math.IsNaN(b.value) || math.IsNaN(a.value) {
			continue
		}
		if loss(b.value/b.usual)-loss(a.value/a.usual) > explained {
			if math.Abs(a.value/a.usual) > fits {
				return s, false // it helps, but leaves the residual unusual
			}
			s.explains[i], any = true, true
		}
	}
	return s, any && s.gain >= leastGain
}

// contradicts tells whether two hypotheses cannot both be meant: they are of different
// kinds, or give one item different values.
func contradicts(a, b *hypothesis) bool {
	if a.kind != b.kind || a.kind == "" {
		return a.name != b.name
	}
	return math.Abs(a.value-b.value) > math.Max(a.near, b.near)
}

func overlap(a, b *[residuals]bool) bool {
	for i := range a {
		if a[i] && b[i] {
			return true
		}
	}
	return false
}

// choose picks hypotheses one after the other: the one that explains most beyond its
// price, then what explains what is left. A rival of another name that comes near is
// kept beside it and both are marked as possible only.
func (f *facts) choose() []Suggestion {
	base := world{record: *f.o.Record}
	var out []Suggestion
	for range mostChosen {
		before := f.residuals(&base)
		beforeCost := cost(&before)
		var good []scored
		for _, h := range f.hypotheses(&base) {
			if s, ok := f.score(h, &base, &before, beforeCost); ok {
				good = append(good, s)
			}
		}
		if len(good) == 0 {
			break
		}
		sort.SliceStable(good, func(i, j int) bool { return good[i].gain > good[j].gain })
		best := good[0]
		s := f.suggestion(&best, &before)
		s.Strength = Likely
		if best.gain >= strongGain {
			s.Strength = Strong
		}
		var rival *scored
		for i := range good[1:] {
			r := &good[1+i]
			if contradicts(&r.hypothesis, &best.hypothesis) && overlap(&r.explains, &best.explains) && (rival == nil || r.gain > rival.gain) {
				rival = r
			}
		}
		var beside *Suggestion
		if rival != nil {
			s.Margin = sounding.Number(round(best.gain-rival.gain, 1))
			if best.gain-rival.gain < leastMargin {
				s.Strength, s.Rival = Possible, rival.name
				r := f.suggestion(rival, &before)
				r.Strength, r.Rival, r.Margin = Possible, best.name, -s.Margin
				beside = &r
			}
		}
		out = append(out, s)
		if beside != nil {
			out = append(out, *beside)
		}
		best.change(&base)
		f.record = &base.record
	}
	return out
}

func (f *facts) suggestion(s *scored, before *[residuals]residual) Suggestion {
	out := Suggestion{Name: s.name, Sentence: s.sentence, Gain: round(s.gain, 1), Margin: sounding.NotSet, Decisions: s.decisions}
	for i, yes := range s.explains {
		if yes {
			w := residualWords[i]
			digits := 1
			if w.unit == "hPa" || w.unit == "K" {
				digits = 2
			}
			out.Evidence = append(out.Evidence, Evidence{Residual: w.words, Unit: w.unit, Usual: sounding.Number(round(s.after[i].usual, 2)),
				Before: sounding.Number(round(before[i].value, digits)), After: sounding.Number(round(s.after[i].value, digits))})
		}
	}
	return out
}

func round(x float64, digits int) float64 {
	k := math.Pow(10, float64(digits))
	return math.Round(x*k) / k
}

// hypotheses lists every simple error that could be behind what is left in a world.
func (f *facts) hypotheses(w *world) []hypothesis {
	var out []hypothesis
	out = append(out, f.surfacePressure(w)...)
	out = append(out, f.stationHeight(w)...)
	out = append(out, f.satelliteHeight(w)...)
	out = append(out, f.barometerOffset(w)...)
	out = append(out, f.surfaceTemperature(w)...)
	out = append(out, f.thermometer(w)...)
	out = append(out, f.surfaceWind(w)...)
	out = append(out, f.position(w)...)
	out = append(out, f.instants(w)...)
	out = append(out, f.sameClock(w)...)
	out = append(out, f.stringLength(w)...)
	return out
}

// correct is a decision on one item of the launch record.
func correct(field, value, reason string) sounding.Decision {
	return sounding.Decision{Action: sounding.ActCorrectRecord, Field: field, Value: value, Reason: reason}
}
