package suggest

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"leadline/internal/sounding"
	"leadline/internal/workbench"
)

// Limits of what many flights say together (our proposal).
const (
	fewestFlights  = 3
	priceShared    = 5.0 // one error of a site's record, met in every flight of it
	leastHeight    = 5.0 // m that are worth a decision for many flights
	leastPressure  = 0.6 // hPa
	acrossMajority = 0.6 // share of the flights that must speak for it
)

// Across returns what the flights of a site say together: an error of the record that
// repeats from flight to flight is proposed once for all, with the decisions for each
// flight in ByFlight. Outcomes may be of several sites; nil entries are skipped. No
// path is run.
func Across(outcomes []*workbench.Outcome) []Suggestion {
	sites := map[string][]int{}
	all := make([]*facts, len(outcomes))
	for i, o := range outcomes {
		if o == nil {
			continue
		}
		f := factsOf(o)
		if f == nil || !o.Final.Events.Release.Found {
			continue
		}
		all[i] = f
		sites[siteOf(o)] = append(sites[siteOf(o)], i)
	}
	names := make([]string, 0, len(sites))
	for n := range sites {
		names = append(names, n)
	}
	sort.Strings(names)
	var out []Suggestion
	for _, n := range names {
		list := sites[n]
		if len(list) < 2 {
			continue
		}
		group := make([]*facts, len(list))
		for k, i := range list {
			group[k] = all[i]
		}
		s := sharedHypotheses(n, list, group)
		s = append(s, sharedHeight(n, list, group)...)
		s = append(s, sharedPressure(n, list, group)...)
		out = append(out, oneAnItem(s)...)
	}
	return out
}

// siteOf is what flights are grouped by: the site's name, else its position as given.
func siteOf(o *workbench.Outcome) string {
	if n := strings.TrimSpace(o.Record.Site.Name); n != "" {
		return n
	}
	la, lo := o.Record.Site.Latitude, o.Record.Site.Longitude
	if la.Set() && lo.Set() {
		return fmt.Sprintf("site at %.2f°, %.2f°", la.Value(), lo.Value())
	}
	return "unnamed site"
}

// together makes the suggestion of a hypothesis that several flights share.
func together(site, name, words string, gain float64, list []int, decisions [][]sounding.Decision, e Evidence) Suggestion {
	s := Suggestion{Name: name, Gain: round(gain, 1), Margin: sounding.NotSet, Strength: Likely, Evidence: []Evidence{e},
		Sentence: fmt.Sprintf("%d flights of %s: %s", len(list), site, words)}
	if gain >= strongGain {
		s.Strength = Strong
	}
	for k, i := range list {
		s.Flights = append(s.Flights, i)
		s.ByFlight = append(s.ByFlight, FlightDecisions{Flight: i, Decisions: decisions[k]})
	}
	s.Decisions = decisions[0]
	return s
}

// sharedHeight: the height of the site is off by the same in every flight, wherever a
// mobile site stood. Several radiosondes cannot share the error of one receiver.
func sharedHeight(site string, list []int, group []*facts) []Suggestion {
	var off, usual []float64
	var which []int
	for k, f := range group {
		r := f.residuals(&world{record: *f.o.Record})
		if v := r[rHeight].value; !math.IsNaN(v) && math.Abs(v) < 500 {
			off, usual, which = append(off, v), append(usual, r[rHeight].usual), append(which, k)
		}
	}
	m, gain := shared(off, usual)
	if math.Abs(m) < leastHeight || gain-priceShared < leastGain {
		return nil
	}
	d := math.Round(m)
	words := fmt.Sprintf("the release point is given %.0f m too high in every one: the radiosondes stand %+.1f ± %.1f m from it before release", -d, m, mean(usual)/math.Sqrt(float64(len(off))))
	if d > 0 {
		words = fmt.Sprintf("the release point is given %.0f m too low in every one: the radiosondes stand %+.1f ± %.1f m from it before release", d, m, mean(usual)/math.Sqrt(float64(len(off))))
	}
	var flights []int
	var decisions [][]sounding.Decision
	for _, k := range which {
		flights = append(flights, list[k])
		decisions = append(decisions, heightsMoved(group[k].o.Record, d, fmt.Sprintf("heights of %s are off by %.0f m in %d flights", site, -d, len(which))))
	}
	return []Suggestion{together(site, StationHeightWrong, words, gain-priceShared, flights, decisions,
		Evidence{Residual: residualWords[rHeight].words + ", mean", Before: sounding.Number(round(m, 1)), After: sounding.Number(round(m-d, 1)), Usual: sounding.Number(round(mean(usual)/math.Sqrt(float64(len(off))), 1)), Unit: "m"})}
}

// sharedPressure: the surface pressure is off by the same in every flight: the station
// barometer stands at another height than the record says, or is off.
func sharedPressure(site string, list []int, group []*facts) []Suggestion {
	var off, usual []float64
	var which []int
	for k, f := range group {
		r := f.residuals(&world{record: *f.o.Record})
		if v := r[rPressure].value; !math.IsNaN(v) && math.Abs(v) < 20 && !math.IsNaN(f.offset) && f.o.Record.Site.Barometer.Set() {
			off, usual, which = append(off, v), append(usual, r[rPressure].usual), append(which, k)
		}
	}
	m, gain := shared(off, usual)
	if math.Abs(m) < leastPressure || gain-priceShared < leastGain {
		return nil
	}
	p := group[which[0]].o.Record.Surface.Pressure.Value()
	d := math.Round(m / p * 29.27 * 285)
	words := fmt.Sprintf("the surface pressure is %+.1f hPa from every radiosonde: the station barometer stands %.0f m from the height given, or is off by that", -m, d)
	var flights []int
	var decisions [][]sounding.Decision
	for _, k := range which {
		flights = append(flights, list[k])
		decisions = append(decisions, []sounding.Decision{correct("site.barometer_height_m_msl", decimal(group[k].o.Record.Site.Barometer.Value()+d, 1), fmt.Sprintf("surface pressure of %s is off by %+.1f hPa in %d flights", site, -m, len(which)))})
	}
	s := together(site, BarometerHeightWrong, words, gain-priceShared, flights, decisions,
		Evidence{Residual: residualWords[rPressure].words + ", mean", Before: sounding.Number(round(m, 2)), After: 0, Usual: sounding.Number(round(mean(usual)/math.Sqrt(float64(len(off))), 2)), Unit: "hPa"})
	s.Strength = Possible // an offset of the station barometer looks the same
	return []Suggestion{s}
}

// shared is the mean of residuals, in their own uncertainty, and by how much −2 ln of
// the likelihood falls where it is taken off; the mean of the middle half where one
// flight in three may be another matter.
func shared(x, usual []float64) (m, gain float64) {
	if len(x) < fewestFlights {
		return 0, math.Inf(-1)
	}
	sorted := append([]float64(nil), x...)
	sort.Float64s(sorted)
	cut := len(sorted) / 4
	m = mean(sorted[cut : len(sorted)-cut])
	same := 0
	for i := range x {
		gain += loss(x[i]/usual[i]) - loss((x[i]-m)/usual[i])
		if math.Signbit(x[i]) == math.Signbit(m) {
			same++
		}
	}
	if float64(same) < acrossMajority*float64(len(x)) {
		return m, math.Inf(-1)
	}
	return m, gain
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / math.Max(float64(len(x)), 1)
}

// sharedHypotheses: one simple error of the record, of one kind and one size, in
// several flights: a sign, a unit, hours from UTC.
func sharedHypotheses(site string, list []int, group []*facts) []Suggestion {
	type vote struct {
		flights   []int
		decisions [][]sounding.Decision
		gain      float64 // without price
		counted   int     // flights that could speak
		example   scored
		before    residual
	}
	votes := map[string]*vote{}
	var order []string
	for k, f := range group {
		base := world{record: *f.o.Record}
		before := f.residuals(&base)
		cost0 := cost(&before)
		best := map[string]scored{}
		for _, h := range f.hypotheses(&base) {
			key := sharedKey(&h, f)
			if key == "" {
				continue
			}
			s, _ := f.score(h, &base, &before, cost0)
			s.gain += h.price
			if old, have := best[key]; !have || s.gain > old.gain {
				best[key] = s
			}
		}
		keys := make([]string, 0, len(best))
		for key := range best {
			keys = append(keys, key)
		}
		sort.Strings(keys)
		for _, key := range keys {
			s := best[key]
			v := votes[key]
			if v == nil {
				v = &vote{}
				votes[key] = v
				order = append(order, key)
			}
			v.gain += s.gain
			v.counted++
			if s.gain > 0.5 {
				if len(v.flights) == 0 || s.gain > v.example.gain {
					v.example = s
					v.before = firstExplained(&before, &s)
				}
				v.flights = append(v.flights, list[k])
				v.decisions = append(v.decisions, s.decisions)
			}
		}
	}
	var out []Suggestion
	for _, key := range order {
		v := votes[key]
		wind := strings.HasPrefix(key, SurfaceWindUnit)
		switch {
		case len(v.flights) < 2:
			continue
		case wind && (len(v.flights) < fewestFlights || float64(len(v.flights)) < acrossMajority*float64(v.counted)):
			continue
		case !wind && v.example.gain-v.example.price < leastGain:
			continue // no flight shows it clearly
		}
		gain := v.gain - priceShared
		if wind {
			gain -= priceWind - priceShared
		} else if float64(len(v.flights)) < acrossMajority*float64(v.counted) {
			// Some flights only: those alone count.
			gain = v.example.gain - priceShared
		}
		if gain < leastGain {
			continue
		}
		name, _, _ := strings.Cut(key, "|")
		one := &v.example
		e := Evidence{Residual: "−2 ln of the odds of no error, in the clearest of them", Before: sounding.Number(round(one.gain, 1)), After: 0, Usual: sounding.NotSet, Unit: "1"}
		for i, yes := range one.explains {
			if yes {
				e = Evidence{Residual: residualWords[i].words + ", in the clearest of them", Unit: residualWords[i].unit,
					Before: sounding.Number(round(v.before.value, 1)), After: sounding.Number(round(one.after[i].value, 1)), Usual: sounding.Number(round(one.after[i].usual, 2))}
				break
			}
		}
		s := together(site, name, one.sentence+" (the clearest of them)", gain, v.flights, v.decisions, e)
		out = append(out, s)
	}
	return out
}

// oneAnItem keeps, for each item of the record, the suggestion that explains most; a
// height that fits as feet gives way to the plain one unless it is clearly better.
func oneAnItem(list []Suggestion) []Suggestion {
	weight := func(s *Suggestion) float64 {
		if s.Name == StationHeightUnit {
			return s.Gain - leastMargin
		}
		return s.Gain
	}
	sort.SliceStable(list, func(i, j int) bool { return weight(&list[i]) > weight(&list[j]) })
	seen := map[string]bool{}
	var kept []Suggestion
	for _, s := range list {
		if item := s.Decisions[0].Field; !seen[item] {
			seen[item] = true
			kept = append(kept, s)
		}
	}
	rank(kept)
	return kept
}

func firstExplained(before *[residuals]residual, s *scored) residual {
	for i, yes := range s.explains {
		if yes {
			return before[i]
		}
	}
	return residual{math.NaN(), math.NaN()}
}

// sharedKey names an error that may repeat from flight to flight: its name and size, ""
// for those of a single flight.
func sharedKey(h *hypothesis, f *facts) string {
	switch h.name {
	case LongitudeSign, LatitudeSign, SurfacePressureUnit, SurfaceTemperatureUnit, StationHeightUnit, SurfacePressureReduced:
		return h.name + "|" + h.decisions[0].Reason
	case SurfaceWindUnit, LocalTime:
		return h.name + "|" + h.decisions[0].Reason
	}
	return ""
}
